//! What the words of a step tell of. Every word looked for stands here, in English and in German; another language adds its own
//! to the same lists. Links and the order of the work come first; these only say more.

use crate::guide::{Guide, Step};
use crate::source::Span;

/// What a step does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Act {
    /// Reads, looks at, checks.
    Look,
    /// Cuts a cable to length.
    Cut,
    /// Drills, or fixes something to the vehicle with screws or bolts.
    Fix,
    /// Lays a cable.
    Lay,
    /// Lifts.
    Lift,
    /// Sets something in its place.
    SetDown,
    /// Parts a connection, or opens a device.
    Open,
    /// Closes a device, or switches something on.
    Close,
    /// Starts an engine, or cranks it.
    Start,
    /// Feels joints by hand.
    Feel,
    /// Takes readings.
    Measure,
    /// Names a fuse without saying which.
    Fuse,
    /// Speaks of a battery's post.
    Post,
    /// Speaks of what holds a battery down.
    HoldDown,
    /// Shrinks a sleeve or solders: hot air or a flame.
    Heat,
    /// Says before anything else that the engine, or everything, is off.
    Stopped,
}

/// Words that tell of an act wherever they stand.
const ANYWHERE: &[(Act, &[&str])] = &[
    (
        Act::Fix,
        &[
            "drill",
            "drilled",
            "bohren",
            "bohre",
            "bohrung",
            "bohrungen",
            "anbohren",
            "aufbohren",
            "vorbohren",
            "anschrauben",
            "festschrauben",
            "verschrauben",
            "befestigen",
            "montieren",
            "nieten",
        ],
    ),
    // In German the command of a sentence may be its last word.
    (Act::Look, &["ansehen", "nachsehen", "durchlesen", "nachlesen"]),
    (Act::Cut, &["ablängen", "zuschneiden", "kürzen"]),
    (Act::SetDown, &["hineinstellen", "hineinsetzen", "einsetzen", "absetzen"]),
    (
        Act::Open,
        &["abklemmen", "abschrauben", "abnehmen", "abziehen", "abtrennen", "trennen", "lösen", "öffnen", "ausbauen"],
    ),
    (Act::Close, &["einschalten", "zuschalten", "schließen", "einstecken"]),
    (
        Act::Lay,
        &[
            "conduit",
            "grommet",
            "grommets",
            "pull",
            "clip",
            "clipped",
            "lay",
            "schutzrohr",
            "tülle",
            "tüllen",
            "verlegen",
            "verlege",
            "durchziehen",
            "einziehen",
            "durchführen",
            "leerrohr",
            "wellrohr",
            "kabelkanal",
            "schelle",
            "schellen",
            "kabelschellen",
        ],
    ),
    (
        Act::Lift,
        &[
            "lift",
            "carry",
            "hebe",
            "heben",
            "trage",
            "tragen",
            "herausheben",
            "ausheben",
            "anheben",
            "einheben",
            "hochheben",
            "herausnehmen",
            "heraustragen",
        ],
    ),
    (
        Act::Start,
        &[
            "start",
            "starting",
            "crank",
            "cranking",
            "cranks",
            "idle",
            "running",
            "anlassen",
            "starten",
            "starte",
            "startet",
            "anlasser",
            "leerlauf",
            "standgas",
            "durchdrehen",
            "laufen",
            "läuft",
            "laufendem",
            "laufender",
        ],
    ),
    (Act::Feel, &["feel", "fühle", "fühlen", "befühlen", "abtasten", "anfassen"]),
    (
        Act::Heat,
        &[
            "shrink",
            "solder",
            "flame",
            "schrumpfen",
            "aufschrumpfen",
            "einschrumpfen",
            "schrumpfschlauch",
            "heißluft",
            "heißluftgebläse",
            "heißluftpistole",
            "löten",
            "flamme",
        ],
    ),
    (
        Act::Measure,
        &[
            "reading",
            "readings",
            "meter",
            "messgerät",
            "stromzange",
            "measure",
            "messen",
            "miss",
            "messung",
            "messungen",
            "messwerte",
            "messwert",
            "nachmessen",
            "durchmessen",
            "ablesen",
        ],
    ),
    (Act::Fuse, &["fuse", "fuses", "sicherung", "sicherungen"]),
    (Act::Post, &["post", "posts", "terminal", "terminals", "pol", "pole", "minuspol", "pluspol"]),
    (
        Act::HoldDown,
        &[
            "frame",
            "tray",
            "rahmen",
            "haltebügel",
            "haltewinkel",
            "halterung",
            "niederhalter",
            "batteriewanne",
            "wanne",
        ],
    ),
];

/// Words that tell of an act as the command with which a sentence begins.
const COMMANDS: &[(Act, &[&str])] = &[
    (
        Act::Look,
        &["read", "look", "see", "check", "follow", "compare", "lies", "lesen", "sieh", "ansehen", "prüfe", "prüfen"],
    ),
    (Act::Cut, &["cut", "schneide", "kürze"]),
    (Act::Heat, &["sleeve", "schrumpfe", "löte"]),
    (
        Act::Fix,
        &[
            "bolt",
            "fix",
            "fit",
            "screw",
            "mount",
            "fasten",
            "hold",
            "schraube",
            "befestige",
            "montiere",
            "setze",
            "niete",
            "halte",
        ],
    ),
    (Act::Lay, &["pull", "ziehe"]),
    (Act::SetDown, &["set", "stelle"]),
    (
        Act::Open,
        &[
            "open",
            "disconnect",
            "unbolt",
            "undo",
            "take",
            "remove",
            "öffne",
            "löse",
            "nimm",
            "trenne",
            "klemme",
            "ziehe",
        ],
    ),
    (Act::Close, &["close", "join", "switch", "raise", "boil", "schließe", "schalte", "stecke"]),
];

/// A step's own words, without those of its links to the circuit: sentence by sentence, in small letters.
pub(super) fn own_words(guide: &Guide, step: &Step) -> Vec<Vec<String>> {
    let mut text = String::new();
    let mut from = step.at.start;
    let mut links: Vec<Span> = step.links.iter().map(|link| link.at).collect();
    links.sort_by_key(|at| at.start);
    for at in links.into_iter().chain([Span::new(step.at.end, step.at.end)]) {
        if from < at.start {
            text.push_str(guide.file.at(Span::new(from, at.start)));
        }
        text.push_str(" \u{1} "); // a link: something stands here, and ends no sentence
        from = at.end.max(from);
    }
    let ends = |c: char| matches!(c, '.' | '!' | '?' | ';' | ':');
    let words = |sentence: &str| {
        let all = sentence.split(|c: char| !c.is_alphanumeric() && c != '\u{1}').filter(|word| !word.is_empty());
        all.map(str::to_lowercase).collect::<Vec<_>>()
    };
    text.split(ends).map(words).filter(|sentence| !sentence.is_empty()).collect()
}

/// What a step's sentences tell of, each act once.
pub(super) fn of(sentences: &[Vec<String>]) -> Vec<Act> {
    let mut all = Vec::new();
    for sentence in sentences {
        for (act, list) in ANYWHERE {
            let told = |(i, word): (usize, &String)| {
                let is_name =
                    word == "start" && sentence.get(i + 1).is_some_and(|next| NAMED_START.contains(&next.as_str()));
                list.contains(&word.as_str()) && !is_name
            };
            if sentence.iter().enumerate().any(told) {
                all.push(*act);
            }
        }
        // “In the yard, close …” and “… , and lift it out” have their command after a comma; the first and those after `and` are seen.
        let joined = |word: &str| ["and", "then", "und", "dann"].contains(&word);
        for (i, word) in sentence.iter().enumerate() {
            if i == 0 || joined(&sentence[i - 1]) {
                all.extend(COMMANDS.iter().filter(|(_, list)| list.contains(&word.as_str())).map(|(act, _)| *act));
            }
        }
    }
    let off = |pair: &[String]| {
        let [what, how] = pair else { return false };
        STOPPED.iter().any(|(of, words)| of == what && words.contains(&how.as_str()))
    };
    if sentences.first().is_some_and(|sentence| sentence.windows(2).any(off)) {
        all.push(Act::Stopped);
    }
    all.sort_unstable();
    all.dedup();
    all
}

/// What is off, and the words that say so, side by side.
const STOPPED: &[(&str, &[&str])] = &[
    ("engine", &["off", "stopped"]),
    ("everything", &["off"]),
    ("all", &["off"]),
    ("motor", &["aus", "steht"]),
    ("alles", &["aus"]),
];

/// What follows `start` where it is part of a name: the start battery is no engine that starts.
const NAMED_START: &[&str] = &["battery", "batteries", "signal", "return", "bond", "post"];

/// What each kind of part is called where a step does not link it.
const CALLED: &[(&str, &[&str])] = &[
    ("battery", &["battery", "batterie", "starterbatterie", "bordbatterie", "zweitbatterie"]),
    ("winch", &["winch", "winde", "seilwinde"]),
    ("inverter", &["inverter", "wechselrichter"]),
    ("charger", &["charger", "ladegerät"]),
    ("starter", &["starter", "anlasser"]),
    ("isolator", &["isolator", "trennschalter"]),
];

/// Whether a word calls a part of a kind.
pub(super) fn names(word: &str, kind: &str) -> bool {
    CALLED.iter().any(|(called, list)| *called == kind && list.contains(&word))
}

/// Words in a load's name that say that it moves a boat.
pub(super) const DRIVES: &[&str] =
    &["motor", "propeller", "thruster", "outboard", "bugstrahlruder", "antrieb", "elektromotor"];
/// Words in a load's name that say that it lifts something heavy.
pub(super) const LIFTS: &[&str] =
    &["lift", "hoist", "platform", "ramp", "crane", "ladebordwand", "hebebühne", "bühne", "kran"];

/// Whether a part's name holds one of these words.
pub(super) fn holds(name: &str, words: &[&str]) -> bool {
    name.split(|c: char| !c.is_alphanumeric()).any(|word| words.contains(&word.to_lowercase().as_str()))
}
