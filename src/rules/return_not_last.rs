#![doc = include_str!("return_not_last.md")]

use super::{Bench, Family, Judgement, Rule, words};
use crate::circuit::{Battery, Circuit, PartId, Polarity};
use crate::finding::{Check, Outcome, Severity};
use crate::guide::{Guide, Step, Target};
use crate::source::Span;

/// The rule.
pub const RULE: Rule = Rule {
    id: "return-not-last",
    family: Family::Words,
    title: "an order of work that does not take the battery's return off first and put it back last",
    worst: Severity::Query,
    sources: &["tm-10-3930-671-24", "bgr-147"],
    page: include_str!("return_not_last.md"),
    judge,
};

/// Verbs that part a connection, as steps command them.
const PART: &[&str] = &[
    "disconnect",
    "disconnecting",
    "unbolt",
    "undo",
    "remove",
    "unclamp",
    "detach",
    "unscrew",
    "loosen",
    "slacken",
    "unfasten",
    "unclip",
    "separate",
];
/// Verbs that part a connection only with `off`.
const PART_OFF: &[&str] = &["take", "taking", "lift", "pull", "slip", "slide", "comes", "goes", "leads"];
/// Verbs that make one.
const MAKE: &[&str] = &[
    "connect",
    "connecting",
    "reconnect",
    "bolt",
    "refit",
    "attach",
    "reattach",
    "fasten",
    "tighten",
    "join",
    "fix",
    "fit",
    "screw",
    "replace",
    "refasten",
    "wire",
];
/// Verbs that make one only with `on` or `back`.
const MAKE_ON: &[&str] = &["put", "goes", "go", "comes", "clamp", "slip", "push", "place"];
/// The side that is joined to engine and body.
const RETURN: &[&str] = &["negative", "minus", "return", "returns", "earth", "earthed", "earths", "ground", "grounded"];
/// The other side.
const POSITIVE: &[&str] = &["positive", "plus"];
/// What says that the battery's own end is meant.
const AT_BATTERY: &[&str] = &["battery", "batteries", "post", "posts", "terminal", "terminals", "clamp"];

/// A word of a step that matters here.
#[derive(Clone, Debug, PartialEq)]
enum Token {
    Parts,
    Makes,
    Return,
    Positive,
    AtBattery,
    Battery(PartId),
    /// A run that ends at this battery's negative post.
    ReturnRun(PartId),
    PositiveRun,
}

/// A sentence of a step, as what matters of it.
#[derive(Clone, Debug)]
struct Sentence {
    step: usize,
    at: Span,
    tokens: Vec<Token>,
}

impl Sentence {
    fn has(&self, token: &Token) -> bool {
        self.tokens.contains(token)
    }
    fn first(&self, what: impl Fn(&Token) -> bool) -> Option<usize> {
        self.tokens.iter().position(what)
    }
    fn last(&self, what: impl Fn(&Token) -> bool) -> Option<usize> {
        self.tokens.iter().rposition(what)
    }
}

fn is_return(token: &Token) -> bool {
    matches!(token, Token::Return | Token::ReturnRun(_))
}
fn is_positive(token: &Token) -> bool {
    matches!(token, Token::Positive | Token::PositiveRun)
}
fn is_work(token: &Token) -> bool {
    matches!(token, Token::Parts | Token::Makes)
}

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let batteries: Vec<(PartId, &Battery)> = bench.circuit.batteries().collect();
    if batteries.is_empty() {
        judgement.not_applicable(RULE.id, "", "there is no battery");
        return;
    }
    let said: Vec<Sentence> =
        bench.guide.text.steps().flat_map(|step| sentences(bench.guide, bench.circuit, step)).collect();
    let order = Order { bench, said: &said };
    order.off_first(judgement, batteries[0].0);
    for (id, _) in &batteries {
        order.on_last(judgement, *id, batteries.len() == 1);
    }
}

/// Where the return is taken off: which sentence, and which of its words names the return.
fn taken_off(said: &[Sentence]) -> Option<(usize, usize)> {
    said.iter().enumerate().find_map(|(i, s)| {
        let at = s.first(is_return)?;
        s.has(&Token::Parts).then_some((i, at))
    })
}

/// Whether a sentence puts on a battery's return.
fn puts_on(s: &Sentence, battery: PartId, only: bool) -> bool {
    let its_run = s.has(&Token::ReturnRun(battery));
    let named = s.has(&Token::Battery(battery)) || only;
    s.has(&Token::Makes) && (its_run || named && s.has(&Token::Return))
}

/// Which sentence puts a battery's return on for the last time.
fn put_on(said: &[Sentence], battery: PartId, only: bool) -> Option<usize> {
    let mine = |s: &Sentence| puts_on(s, battery, only);
    // A return bolted to its load is not yet a battery put back on: words that name the battery's end come first.
    let at_battery = |s: &Sentence| s.has(&Token::Battery(battery)) || s.has(&Token::AtBattery);
    said.iter().rposition(|s| mine(s) && at_battery(s)).or_else(|| said.iter().rposition(mine))
}

/// The steps at which the batteries' returns come off and go on, as far as the text tells.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct OffAndOn {
    /// The step that takes the first return off.
    pub off: Option<usize>,
    /// Of each battery, in the author's order, the step that puts its return on at the battery, and any later ones that put it
    /// on once more. Empty where none does.
    pub on: Vec<(PartId, Vec<usize>)>,
}

/// Reads from the steps where the returns come off and go on. Where the words tell nothing (another language), the links do:
/// the first step that links a battery's return, and the last one.
pub fn off_and_on(guide: &Guide, circuit: &Circuit) -> OffAndOn {
    let said: Vec<Sentence> = guide.text.steps().flat_map(|step| sentences(guide, circuit, step)).collect();
    let batteries: Vec<PartId> = circuit.batteries().map(|(id, _)| id).collect();
    let linked = |battery: Option<PartId>| {
        said.iter()
            .filter(move |s| {
                s.first(|t| matches!(t, Token::ReturnRun(b) if battery.is_none_or(|own| own == *b))).is_some()
            })
            .map(|s| s.step)
    };
    let off = taken_off(&said).map(|(i, _)| said[i].step).or_else(|| linked(None).next());
    let only = batteries.len() == 1;
    let on = |battery: PartId| {
        let by_words: Vec<usize> = match put_on(&said, battery, only) {
            Some(first) => said[first..].iter().filter(|s| puts_on(s, battery, only)).map(|s| s.step).collect(),
            None => Vec::new(),
        };
        if !by_words.is_empty() {
            return (battery, by_words);
        }
        let last = linked(Some(battery)).next_back().filter(|last| off.is_some_and(|off| off < *last));
        (battery, last.into_iter().collect())
    };
    OffAndOn { off, on: batteries.iter().map(|battery| on(*battery)).collect() }
}

struct Order<'a> {
    bench: &'a Bench<'a>,
    said: &'a [Sentence],
}

impl Order<'_> {
    /// The return comes off before anything is done to the positive side.
    fn off_first(&self, judgement: &mut Judgement, battery: PartId) {
        let off = taken_off(self.said);
        let live = self.said.iter().enumerate().find_map(|(i, s)| {
            let at = s.first(is_positive)?;
            s.tokens.iter().any(is_work).then_some((i, at))
        });
        let name = &self.bench.circuit.part(battery).name;
        let (message, at) = match (off, live) {
            (None, _) => (
                Some(format!("no step takes the return side (negative) of `{name}` off before the work")),
                self.bench.part_span(battery),
            ),
            (Some(off), Some(live)) if live < off => (
                Some(format!(
                    "step {} works on the positive side before step {} takes the return side (negative) off: a spanner that bridges to the body burns",
                    self.said[live.0].step, self.said[off.0].step
                )),
                self.said[live.0].at,
            ),
            (Some(off), _) => (None, self.said[off.0].at),
        };
        self.row(
            judgement,
            name,
            "before the work",
            off.map_or("never off".into(), |(i, _)| format!("off in step {}", self.said[i].step)),
            "the return side off first",
            message,
            at,
            "begin the work with a step such as “Take the negative lead off [the battery](part:…) first, then the positive one”",
        );
    }

    /// A battery's return goes on after everything on the positive side.
    fn on_last(&self, judgement: &mut Judgement, battery: PartId, only: bool) {
        let name = &self.bench.circuit.part(battery).name;
        let on = put_on(self.said, battery, only);
        let (message, at) = match on {
            None => (
                Some(format!("no step puts the return side (negative) of `{name}` on at the end of the work")),
                self.bench.part_span(battery),
            ),
            Some(i) => {
                let own = &self.said[i];
                let after_within =
                    own.last(is_positive).zip(own.last(is_return)).is_some_and(|(positive, back)| positive > back);
                let later = self.said[i + 1..]
                    .iter()
                    .find(|s| s.has(&Token::Makes) && s.tokens.iter().any(is_positive))
                    .or(after_within.then_some(own));
                let message = later.map(|later| {
                    format!(
                        "step {} works on the positive side after step {} has put the return side (negative) of `{name}` on: everything is live by then",
                        later.step, own.step
                    )
                });
                (message, later.map_or(own.at, |s| s.at))
            }
        };
        self.row(
            judgement,
            name,
            "at the end of the work",
            on.map_or("never on".into(), |i| format!("on in step {}", self.said[i].step)),
            "the return side on last",
            message,
            at,
            "end the work with a step such as “Bolt [the main return](run:…) to the negative post of [the battery](part:…), last of all”",
        );
    }

    #[allow(clippy::too_many_arguments, reason = "one row, said in one place")]
    fn row(
        &self,
        judgement: &mut Judgement,
        subject: &str,
        case: &str,
        value: String,
        limit: &str,
        message: Option<String>,
        at: Span,
        advice: &str,
    ) {
        judgement.say(
            self.bench,
            Check {
                rule: RULE.id,
                subject: subject.to_string(),
                case: case.to_string(),
                value: words(&value),
                limit: words(limit),
                margin: String::new(),
                outcome: if message.is_some() { Outcome::Found(Severity::Query) } else { Outcome::Passes },
                sources: RULE.sources.to_vec(),
            },
            at,
            || message.unwrap_or_default(),
            || vec![advice.to_string()],
        );
    }
}

/// A step, sentence by sentence, as what matters of each.
fn sentences(guide: &Guide, circuit: &Circuit, step: &Step) -> Vec<Sentence> {
    let text = guide.file.at(step.at);
    let mut found = Vec::new();
    let mut start = 0;
    let bytes = text.as_bytes();
    for (i, c) in text.char_indices() {
        let ends = matches!(c, '.' | '!' | '?' | ';') && bytes.get(i + 1).is_none_or(u8::is_ascii_whitespace);
        if ends || i + c.len_utf8() == text.len() {
            let span = Span::new(step.at.start + start, step.at.start + i + c.len_utf8());
            found.push(Sentence { step: step.number, at: step.at, tokens: tokens(guide, circuit, step, span) });
            start = i + c.len_utf8();
        }
    }
    found
}

/// What matters in a stretch of a step, in order.
fn tokens(guide: &Guide, circuit: &Circuit, step: &Step, span: Span) -> Vec<Token> {
    let file = &guide.file;
    let mut links: Vec<_> = step.links.iter().filter(|l| span.start <= l.at.start && l.at.start < span.end).collect();
    links.sort_by_key(|l| l.at.start);
    let mut all = Vec::new();
    let mut from = span.start;
    for link in links {
        plain(file.at(Span::new(from, link.at.start.max(from))), &mut all);
        all.extend(linked(circuit, &link.target).into_iter().map(Piece::Token));
        from = link.at.end.max(from);
    }
    plain(file.at(Span::new(from, span.end.max(from))), &mut all);
    let says = |word: &str| all.iter().any(|p| matches!(p, Piece::Word(w) if w == word));
    let (off, on) = (says("off"), says("on") || says("back"));
    all.iter()
        .filter_map(|piece| match piece {
            Piece::Token(token) => Some(token.clone()),
            Piece::Word(word) => token(word, off, on),
        })
        .collect()
}

enum Piece {
    Word(String),
    Token(Token),
}

fn plain(text: &str, all: &mut Vec<Piece>) {
    let words = text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty());
    all.extend(words.map(|w| Piece::Word(w.to_lowercase())));
}

fn token(word: &str, off: bool, on: bool) -> Option<Token> {
    let is = |list: &[&str]| list.contains(&word);
    if is(PART) || off && is(PART_OFF) {
        Some(Token::Parts)
    } else if is(MAKE) || on && is(MAKE_ON) {
        Some(Token::Makes)
    } else if is(RETURN) {
        Some(Token::Return)
    } else if is(POSITIVE) {
        Some(Token::Positive)
    } else if is(AT_BATTERY) {
        Some(Token::AtBattery)
    } else {
        None
    }
}

fn linked(circuit: &Circuit, target: &Target) -> Vec<Token> {
    match target {
        Target::Part(name) => circuit
            .batteries()
            .map(|(id, _)| id)
            .filter(|id| circuit.part(*id).name == *name)
            .map(Token::Battery)
            .collect(),
        Target::Run(name) => {
            let Some(id) = circuit.run_named(name) else { return Vec::new() };
            let run = circuit.run(id);
            let returns: Vec<Token> = circuit
                .batteries()
                .filter(|(_, b)| run.from == b.negative || run.to == b.negative)
                .map(|(battery, _)| Token::ReturnRun(battery))
                .collect();
            if returns.is_empty() && run.polarity == Polarity::Positive { vec![Token::PositiveRun] } else { returns }
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, changed, finds, mended, one};

    /// The page's mended guide with other steps.
    fn with(steps: &str) -> Vec<(Severity, String)> {
        let text = mended("return-not-last");
        let head = text.find("\n1. ").map(|i| &text[..i]).unwrap();
        finds("return-not-last", &format!("{head}\n{steps}"))
    }
    fn asked() -> Vec<(Severity, String)> {
        one(Severity::Query, "battery")
    }

    #[test]
    fn orders_of_work() {
        // After D-1 of the workshop rules: [negative off, …, positive on, negative on] passes.
        let good = [
            "1. Disconnect the battery: negative first, then positive.\n2. Fit it all.\n3. Connect the positive, then the negative.\n",
            "1. Take the minus clamp off [the battery](part:battery).\n2. Bolt [the lead](run:lead) to the plus post.\n3. Put [the return](run:return) back on the post.\n",
            "1. Undo [the return](run:return).\n2. Lay [the feed](run:feed).\n3. Bolt [the return](run:return) to [the pump](part:pump). Tape its battery end over.\n4. Fit [the lead](run:lead).\n5. Bolt [the return](run:return) to the minus post, last of all.\n6. Run the pump and measure across [the feed](run:feed).\n",
        ];
        for steps in good {
            assert_eq!(with(steps), [], "{steps}");
        }
        let bad = [
            // Positive off first.
            "1. Disconnect the positive, then the negative.\n2. Connect the positive, then the negative.\n",
            "1. Unbolt [the lead](run:lead).\n2. Take the negative off.\n3. Connect the negative last.\n",
            // Negative on before positive.
            "1. Disconnect the negative.\n2. Connect the negative, then the positive.\n",
            "1. Disconnect the negative.\n2. Bolt [the return](run:return) to the minus post.\n3. Bolt [the lead](run:lead) to the plus post.\n",
            // A return bolted to its load is not the battery's own end.
            "1. Disconnect the negative.\n2. Bolt [the return](run:return) to the negative post of [the battery](part:battery).\n3. Connect [the lead](run:lead).\n4. Bolt [the return](run:return) to [the pump](part:pump).\n",
            // Never off, never on.
            "1. Connect the positive, then the negative.\n",
            "1. Disconnect the negative.\n2. Fit [the pump](part:pump).\n",
        ];
        for steps in bad {
            assert_eq!(with(steps), asked(), "{steps}");
        }
        assert_eq!(with("1. Go fishing.\n"), [asked(), asked()].concat());
        assert_eq!(with("Nothing to do.\n"), [asked(), asked()].concat());
    }

    #[test]
    fn switching_things_off_is_not_taking_them_off() {
        let steps = "1. Switch the negative isolator off.\n2. Unbolt the positive.\n3. Connect the negative last.\n";
        assert_eq!(with(steps), asked());
    }

    #[test]
    fn each_of_two_batteries_must_be_put_on_last() {
        let second = "  second:\n    is: battery\n    in: load\n    chemistry: agm\n    capacity: 60 Ah\n    mass: 18 kg\n  post: {is: post";
        let two = changed(
            VAN,
            &[
                ("  post: {is: post", second),
                (
                    "runs:\n",
                    "runs:\n  second-lead: {from: second+, to: post, size: 35 mm², length: 0.5 m}\n  second-return: {from: second-, to: body@load, size: 35 mm², length: 0.5 m}\n",
                ),
                (
                    "8. Connect the battery's positive post, and last of all its negative post: the main return.",
                    "8. Connect the positive post of [the battery](part:battery), and last of all its negative post.",
                ),
            ],
        );
        assert_eq!(finds("return-not-last", &two), one(Severity::Query, "second"));
        let both = changed(
            &two,
            &[(
                "8. Connect the positive",
                "8. Connect the positive post of [the second](part:second), then its negative post.\n9. Connect the positive",
            )],
        );
        // The first one is live while the second one's positive is worked on.
        assert_eq!(finds("return-not-last", &both), one(Severity::Query, "second"));
        let right = changed(
            &two,
            &[(
                "8. Connect the positive post of [the battery](part:battery), and last of all its negative post.",
                "8. Connect both positive posts.\n9. Bolt [the second return](run:second-return) to the negative post of [the second](part:second).\n10. Bolt [the load bond](run:load-bond) to the negative post of [the battery](part:battery).",
            )],
        );
        assert_eq!(finds("return-not-last", &right), []);
    }
}
