//! Makes a [`Guide`] of a file.
//!
//! [`super::tree`] has found where everything stands, [`super::check`] has said what does not fit
//! the table of keys; what is left here is to pick the values up, and to hold those against each
//! other that say the same thing twice.

use indexmap::IndexMap;

use super::check::{self, Names, date, number, split_terminal, time_range, zone_pair};
use super::fault::{BAD_VALUE, DISAGREEMENT, Faults, MISSING_KEY, UNKNOWN_KEY, UNKNOWN_NAME, nearest, one_of};
use super::keys::{self, Key, Named, Table, Takes, Written};
use super::tree::{self, Entries, Node, Value};
use super::*;
use crate::finding::Finding;
use crate::quantity::{Readable, Show};

/// Reads a guide. Everything that is wrong with it is found in one go.
///
/// There is no guide when its circuit could not be read in full, since half a circuit would be
/// judged wrongly. Faults elsewhere (the title, the text, a variant) leave a guide whose circuit can
/// be judged; the findings stop its publication all the same.
pub fn read(file: SourceFile, slug: &str) -> (Option<Guide>, Vec<Finding>) {
    let file = &file;
    let mut faults = Faults::of(file);
    let guide = tree::split(file, &mut faults).and_then(|halves| {
        let root = tree::parse(file, halves.front_matter, &mut faults);
        let names = root.as_ref().map(Names::of).unwrap_or_default();
        let guide = root.and_then(|root| front_matter(file, slug, root, &mut faults));
        let text = text::read(file, halves.text, slug, &names, guide.as_ref(), &mut faults);
        guide.map(|guide| Guide { text, ..guide })
    });
    let mut found = faults.found;
    found.sort_by_key(|f| f.place.span.start);
    (guide, found)
}

/// The parts of front matter that the circuit is made of: a fault in one of them leaves no guide.
const CIRCUIT: &[&str] = &["vehicle", "system", "coldest", "zones", "parts", "every-run", "runs", "states"];

fn front_matter(file: &SourceFile, slug: &str, root: Node, faults: &mut Faults<'_>) -> Option<Guide> {
    let names = Names::of(&root);
    let before = faults.found.len();
    let broken_tree = before > 0;
    check::check(&root, &keys::GUIDE, &names, faults);
    agree(&root, faults);
    let entries = root.entries()?;
    let circuit_at = |f: &Finding| {
        CIRCUIT.iter().any(|key| {
            entries.get(*key).is_some_and(|(key, node)| {
                key.at.start <= f.place.span.start && f.place.span.start < node.at.end.max(key.at.end)
            })
        })
    };
    if broken_tree || faults.found[before..].iter().any(circuit_at) {
        return None;
    }
    let fill = Fill::of(&root)?;
    let stand_in = |key: &str, text: &str| fill.text(key).unwrap_or(Placed::new(text.to_owned(), Span::default()));
    let vehicle = fill.map("vehicle")?;
    let guide = Guide {
        file: file.clone(),
        slug: slug.to_owned(),
        title: stand_in("title", slug),
        summary: stand_in("summary", ""),
        written: fill.date("written").unwrap_or(Placed::new(jiff::civil::Date::default(), Span::default())),
        by: fill.text("by"),
        standing: standing(&fill),
        vehicle: Vehicle {
            at: vehicle.at,
            kind: vehicle.word("kind")?,
            body: vehicle.word("body")?,
            drive: vehicle.word("drive")?,
        },
        system: fill.quantity("system")?,
        coldest: fill.quantity("coldest"),
        time_needed: fill.text("time-needed"),
        tools: fill.texts("tools"),
        skill: fill.text("skill"),
        subjects: fill.texts("subjects"),
        zones: every(fill.map("zones")?, zone)?,
        parts: every(fill.map("parts")?, part)?,
        runs: {
            let defaults = fill.map("every-run");
            every(fill.map("runs")?, |at, own| run(at, own, defaults.as_ref()))?
        },
        states: every(fill.map("states")?, state)?,
        claims: fill.map("endurance").map(endurance).unwrap_or_default(),
        variants: fill.map("variants").map(variants).unwrap_or_default(),
        answers: fill.maps("answers").into_iter().filter_map(answer).collect(),
        record: fill.map("record").and_then(record),
        changes: fill.maps("changes").into_iter().filter_map(change).collect(),
        text: Text::default(),
        front_matter: Node { at: root.at, value: Value::Empty },
    };
    Some(Guide { front_matter: root, ..guide })
}

/// Picks values out of a mapping that was checked. Whatever cannot be picked up was reported.
#[derive(Clone, Copy)]
pub(super) struct Fill<'a> {
    pub(super) entries: &'a Entries,
    pub(super) at: Span,
}

impl<'a> Fill<'a> {
    pub(super) fn of(node: &'a Node) -> Option<Fill<'a>> {
        node.entries().map(|entries| Fill { entries, at: node.at })
    }

    pub(super) fn node(&self, key: &str) -> Option<&'a Node> {
        self.entries.get(key).map(|(_, node)| node)
    }

    pub(super) fn scalar<T>(&self, key: &str, read: impl FnOnce(&str) -> Option<T>) -> Option<Placed<T>> {
        let node = self.node(key)?;
        Some(Placed::new(read(node.text()?)?, node.at))
    }

    pub(super) fn text(&self, key: &str) -> Option<Placed<String>> {
        self.scalar(key, |text| Some(text.trim().to_owned()).filter(|t| !t.is_empty()))
    }

    pub(super) fn date(&self, key: &str) -> Option<Placed<jiff::civil::Date>> {
        self.scalar(key, |text| date(text).ok())
    }

    pub(super) fn flag(&self, key: &str) -> Option<Placed<bool>> {
        self.scalar(key, |text| text.parse().ok())
    }

    pub(super) fn is_true(&self, key: &str) -> bool {
        self.flag(key).is_some_and(|flag| flag.value)
    }

    pub(super) fn quantity<T: Written>(&self, key: &str) -> Option<Placed<T>> {
        self.scalar(key, |text| T::read(text).ok())
    }

    pub(super) fn word<W: Choice>(&self, key: &str) -> Option<Placed<W>> {
        self.scalar(key, W::from_word)
    }

    pub(super) fn map(&self, key: &str) -> Option<Fill<'a>> {
        Fill::of(self.node(key)?)
    }

    /// A list's items; a single value is a list of one.
    pub(super) fn items(&self, key: &str) -> &'a [Node] {
        match self.node(key) {
            Some(Node { value: Value::List(items), .. }) => items,
            Some(node) => std::slice::from_ref(node),
            None => &[],
        }
    }

    pub(super) fn texts(&self, key: &str) -> Vec<Placed<String>> {
        self.items(key).iter().filter_map(|n| Some(Placed::new(n.text()?.trim().to_owned(), n.at))).collect()
    }

    pub(super) fn words<W: Choice>(&self, key: &str) -> Vec<Placed<W>> {
        self.items(key).iter().filter_map(|n| Some(Placed::new(W::from_word(n.text()?)?, n.at))).collect()
    }

    pub(super) fn maps(&self, key: &str) -> Vec<Fill<'a>> {
        self.items(key).iter().filter_map(Fill::of).collect()
    }
}

/// Everything under a mapping of names; nothing when one of them is not whole.
fn every<'a, T>(names: Fill<'a>, read: impl Fn(Span, Fill<'a>) -> Option<T>) -> Option<IndexMap<String, T>> {
    names.entries.iter().map(|(name, (key, node))| Some((name.clone(), read(key.at, Fill::of(node)?)?))).collect()
}

fn standing(fill: &Fill<'_>) -> Standing {
    if let Some(withdrawn) = fill.map("standing").and_then(|s| s.map("withdrawn")) {
        let (on, reason, remedy) = (withdrawn.date("dated"), withdrawn.text("reason"), withdrawn.text("remedy"));
        if let (Some(on), Some(reason), Some(remedy)) = (on, reason, remedy) {
            return Standing::Withdrawn { on, reason, remedy };
        }
    }
    match fill.text("standing") {
        Some(word) if word.value == "working" => Standing::Working,
        _ => Standing::Published,
    }
}

fn zone(at: Span, fill: Fill<'_>) -> Option<Zone> {
    Some(Zone {
        at,
        label: fill.text("label")?,
        ambient: fill.quantity("ambient"),
        engine_space: fill.is_true("engine-space"),
        occupied: fill.is_true("occupied"),
        holds: fill.words("holds"),
    })
}

fn part(at: Span, fill: Fill<'_>) -> Option<Part> {
    let is = fill.text("is")?;
    Some(Part {
        at,
        kind: part_kind(&is, &fill)?,
        is_at: is.at,
        zone: fill.text("in"),
        label: fill.text("label"),
        bolted_to: fill.text("bolted-to"),
        bolt_resistance: fill.quantity("bolt-resistance"),
        covers: fill.flag("covers"),
        stud: fill.quantity("stud"),
        mass: fill.quantity("mass"),
        from_vent: fill.quantity("from-vent"),
        side: fill.word("side"),
        height: fill.text("height"),
        existing: fill.is_true("existing"),
    })
}

fn part_kind(is: &str, fill: &Fill<'_>) -> Option<PartKind> {
    Some(match is {
        "battery" => PartKind::Battery(Box::new(battery(fill)?)),
        "breaker" => PartKind::Breaker(protector(fill)?),
        "fuse" => PartKind::Fuse(protector(fill)?),
        "isolator" => PartKind::Isolator(switch(fill)),
        "relay" => PartKind::Relay(switch(fill)),
        "post" => PartKind::Post,
        "busbar" => PartKind::Busbar(Busbar { rating: fill.quantity("rating"), section: fill.quantity("section") }),
        "connector" => PartKind::Connector(switch(fill)),
        "panel" => PartKind::Panel(load(fill)),
        "load" => PartKind::Load(load(fill)),
        "winch" => PartKind::Winch(load(fill)),
        "inverter" => PartKind::Inverter(load(fill)),
        "charger" => PartKind::Charger(Charger {
            kind: fill.word("kind")?,
            output: fill.quantity("output")?,
            set_point: fill.quantity("set-point"),
            efficiency: fill.quantity("efficiency"),
        }),
        "starter" => PartKind::Starter(Starter { cranking: surge(&fill.map("cranking")?)?, inrush: inrush(fill) }),
        "alternator" => PartKind::Alternator(Alternator {
            output: fill.quantity("output")?,
            set_point: fill.quantity("set-point"),
            control: fill.word("control"),
            self_limiting: fill.flag("self-limiting"),
        }),
        "engine" => PartKind::Engine,
        "body" => PartKind::Body(Body { between: fill.map("between").map(between).unwrap_or_default() }),
        _ => return None,
    })
}

fn battery(fill: &Fill<'_>) -> Option<Battery> {
    Some(Battery {
        chemistry: fill.word("chemistry")?,
        capacity: fill.quantity("capacity")?,
        cold_cranking: fill.quantity("cold-cranking"),
        internal_resistance: fill.quantity("internal-resistance"),
        short_circuit_resistance: fill.quantity("short-circuit-resistance"),
        discharge: fill.map("discharge").and_then(|d| {
            let peak = d.map("peak").and_then(|p| surge(&p)).map(|s| (s.current, s.lasts));
            Some(Discharge { continuous: d.quantity("continuous")?, peak })
        }),
        charge_max: fill.map("charge").and_then(|c| c.quantity("max")),
        cold_charge_cutoff: fill.quantity("cold-charge-cutoff"),
        housing: fill.map("housing").and_then(housing),
        hold_down: fill.map("hold-down").and_then(hold_down),
    })
}

fn housing(fill: Fill<'_>) -> Option<Housing> {
    Some(Housing {
        at: fill.at,
        box_kind: fill.word("box")?,
        vent: fill.map("vent").and_then(|vent| {
            Some(Vent {
                at: vent.at,
                kind: vent.word("kind")?,
                to: vent.text("to")?.map(|to| if to == "outside" { VentTo::Outside } else { VentTo::Zone(to) }),
                inlet: vent.quantity("inlet"),
                outlet: vent.quantity("outlet"),
            })
        }),
        covers: fill.flag("covers"),
        tray: fill.flag("tray"),
    })
}

fn hold_down(fill: Fill<'_>) -> Option<HoldDown> {
    Some(HoldDown {
        at: fill.at,
        kind: fill.word("kind")?,
        bolts: fill.scalar("bolts", |text| text.parse().ok()),
        thread: fill.quantity("thread"),
        grade: fill.scalar("grade", number),
        plate: fill.map("plate").and_then(|p| Some((p.quantity("area")?, p.quantity("thickness")?))),
        into: fill.text("into"),
    })
}

fn protector(fill: &Fill<'_>) -> Option<Protector> {
    Some(Protector {
        rating: fill.quantity("rating")?,
        volts: fill.quantity("volts"),
        breaks: fill.quantity("breaks"),
        opens: fill.map("opens").map(|o| opens(&o)).unwrap_or_default(),
        form: fill.text("form"),
        resets_itself: fill.text("resets").map(|word| word.map(|w| w == "automatic")),
        resistance: fill.quantity("resistance"),
        reachable: fill.flag("reachable"),
    })
}

/// A maker's opening points, least current first.
fn opens(fill: &Fill<'_>) -> Vec<OpeningPoint> {
    let mut points: Vec<OpeningPoint> = fill
        .entries
        .values()
        .filter_map(|(key, node)| {
            let (least, most) = time_range(node.text()?).ok()?;
            let at = Span::new(key.at.start, node.at.end);
            Some(OpeningPoint { at, of_rating: Ratio::read(key).ok()?, least, most })
        })
        .collect();
    points.sort_by(|a, b| a.of_rating.si().total_cmp(&b.of_rating.si()));
    points
}

fn switch(fill: &Fill<'_>) -> Switch {
    Switch {
        rating: fill.quantity("rating"),
        volts: fill.quantity("volts"),
        resistance: fill.quantity("resistance"),
        reachable: fill.flag("reachable"),
    }
}

fn load(fill: &Fill<'_>) -> Load {
    Load {
        nature: fill.word("takes"),
        rating: fill.quantity("rating"),
        power: fill.quantity("power"),
        inrush: inrush(fill),
        needs_steady: fill.text("needs").is_some_and(|word| word.value == "steady"),
        can_overload: fill.flag("can-overload"),
        intermittent: fill.is_true("intermittent"),
        mains: fill.is_true("mains"),
    }
}

fn inrush(fill: &Fill<'_>) -> Option<Surge> {
    fill.map("inrush").and_then(|f| surge(&f))
}

fn surge(fill: &Fill<'_>) -> Option<Surge> {
    Some(Surge { current: fill.quantity("current")?, lasts: fill.quantity("for")? })
}

fn between(fill: Fill<'_>) -> Vec<BodyMeasured> {
    let one = |(key, node): &(Placed<String>, Node)| {
        let (from, to) = zone_pair(key)?;
        let resistance = Placed::new(Resistance::read(node.text()?).ok()?, node.at);
        Some(BodyMeasured { at: key.at, from: from.to_owned(), to: to.to_owned(), resistance })
    };
    fill.entries.values().filter_map(one).collect()
}

/// A run, with what `every-run` says of it where it says nothing itself.
fn run(at: Span, own: Fill<'_>, defaults: Option<&Fill<'_>>) -> Option<Run> {
    let strap = own.is_true("strap");
    // A bare strap has no insulation and lies in nothing, whatever cables do.
    let cable = if strap { None } else { defaults };
    let laid: Vec<Laid> = own.map("laid").map(laid).unwrap_or_default();
    Some(Run {
        at,
        from: own.text("from")?,
        to: own.text("to")?,
        size: own.quantity("size")?,
        section: own.quantity("section"),
        length: own.quantity("length").or_else(|| {
            let whole: Length = laid.iter().map(|l| l.length.value).sum();
            own.node("laid").filter(|_| !laid.is_empty()).map(|n| Placed::new(whole, n.at))
        })?,
        laid,
        metal: own.word("metal").or_else(|| defaults?.word("metal")),
        insulation: own.word("insulation").or_else(|| cable?.word("insulation")),
        rated: own.quantity("rated").or_else(|| cable?.quantity("rated")),
        covering: own.word("covering").or_else(|| cable?.word("covering")),
        strap,
        resistance: own.quantity("resistance"),
        joint_resistance: own.quantity("joints").or_else(|| defaults?.quantity("joints")),
        colour: own.text("colour"),
        bundled_with: own.texts("bundled-with"),
        edge_guards: own.flag("edge-guards").or_else(|| defaults?.flag("edge-guards")),
        supports: own.quantity("supports").or_else(|| defaults?.quantity("supports")),
        bend: own.quantity("bend"),
        outside_diameter: own.quantity("outside-diameter"),
        lugs: lugs(own.map("lugs"), defaults.and_then(|d| d.map("lugs"))),
        side: own.word("side"),
        height: own.text("height"),
        existing: own.is_true("existing"),
    })
}

fn laid(fill: Fill<'_>) -> Vec<Laid> {
    let one = |(key, node): &(Placed<String>, Node)| {
        Some(Laid { zone: key.clone(), length: Placed::new(Length::read(node.text()?).ok()?, node.at) })
    };
    fill.entries.values().filter_map(one).collect()
}

fn lugs(own: Option<Fill<'_>>, defaults: Option<Fill<'_>>) -> Option<Lugs> {
    own.or(defaults)?;
    let fixing = |f: Option<Fill<'_>>| f?.word("fixing");
    let size = |f: Option<Fill<'_>>| f?.quantity("size");
    let hole = |f: Option<Fill<'_>>, key| f?.quantity(key);
    Some(Lugs {
        fixing: fixing(own).or_else(|| fixing(defaults)),
        size: size(own).or_else(|| size(defaults)),
        from_hole: hole(own, "from-hole").or_else(|| hole(defaults, "from-hole")),
        to_hole: hole(own, "to-hole").or_else(|| hole(defaults, "to-hole")),
    })
}

/// The keys of a state that name no part.
const STATE_WORDS: [&str; 3] = ["label", "for", "every"];

fn state(at: Span, fill: Fill<'_>) -> Option<State> {
    let doing = fill.entries.iter().filter(|(name, _)| !STATE_WORDS.contains(&name.as_str()));
    let parts = doing.map(|(name, (key, node))| {
        let activity = Placed::new(check::activity(node.text()?).ok()?, node.at);
        Some((name.clone(), Doing { at: key.at, activity }))
    });
    Some(State {
        at,
        label: fill.text("label"),
        lasts: fill.quantity("for"),
        every: fill.quantity("every"),
        parts: parts.collect::<Option<_>>()?,
    })
}

fn endurance(fill: Fill<'_>) -> Vec<EnduranceClaim> {
    let one = |(key, node): &(Placed<String>, Node)| {
        let lasts = Placed::new(Duration::read(node.text()?).ok()?, node.at);
        Some(EnduranceClaim { at: key.at, state: key.clone(), lasts })
    };
    fill.entries.values().filter_map(one).collect()
}

fn variants(fill: Fill<'_>) -> IndexMap<String, Variant> {
    let one = |(name, (key, node)): (&String, &(Placed<String>, Node))| {
        let fill = Fill::of(node)?;
        let variant = Variant {
            at: key.at,
            title: fill.text("title")?,
            change: fill.node("change")?.clone(),
            trips: fill.map("claim").map(|claim| claim.texts("trips")).unwrap_or_default(),
            why: fill.text("why"),
        };
        Some((name.clone(), variant))
    };
    fill.entries.iter().filter_map(one).collect()
}

fn answer(fill: Fill<'_>) -> Option<Answer> {
    Some(Answer {
        at: fill.at,
        rule: fill.text("rule")?,
        about: fill.text("about"),
        reason: fill.text("reason")?,
        by: fill.text("by")?,
        until: fill.date("until")?,
    })
}

fn record(fill: Fill<'_>) -> Option<Record> {
    Some(Record { at: fill.at, by: fill.text("by")?, dated: fill.date("dated")?, digest: fill.text("digest")? })
}

fn change(fill: Fill<'_>) -> Option<Change> {
    Some(Change { dated: fill.date("dated")?, what: fill.text("what")? })
}

/// How far `length` may be from the sum of `laid`: half a centimetre, or half a per cent.
const LENGTHS_AGREE: (f64, f64) = (0.005, 0.005);

/// Values that say the same thing twice, or that make sense only together.
fn agree(root: &Node, faults: &mut Faults<'_>) {
    let Some(fill) = Fill::of(root) else { return };
    if let Some(system) = fill.quantity::<Voltage>("system")
        && !SYSTEMS.contains(&system.in_volts())
    {
        faults.add(
            BAD_VALUE,
            system.at,
            "",
            format!("A {} system is not one that can be checked.", system.show()),
            "Write `12 V` or `24 V`, the nominal voltage.",
        );
    }
    for (name, key, part) in things(&fill, "parts") {
        part_agrees(name, key, &part, faults);
    }
    for (name, key, run) in things(&fill, "runs") {
        run_agrees(name, key, &run, faults);
    }
    for (name, _, state) in things(&fill, "states") {
        state_agrees(name, &state, faults);
    }
}

/// Nominal voltages that can be checked.
const SYSTEMS: [f64; 2] = [12.0, 24.0];

/// Things under a mapping of names, as far as they are mappings.
fn things<'a>(fill: &Fill<'a>, key: &str) -> impl Iterator<Item = (&'a str, Span, Fill<'a>)> {
    let entries = fill.map(key).map(|f| f.entries);
    entries
        .into_iter()
        .flat_map(|e| e.iter())
        .filter_map(|(name, (key, node))| Some((name.as_str(), key.at, Fill::of(node)?)))
}

fn part_agrees(name: &str, key: Span, part: &Fill<'_>, faults: &mut Faults<'_>) {
    let is = part.text("is");
    let is = is.as_ref().map(|is| is.value.as_str());
    match (is, part.node("in")) {
        (Some("body"), Some(node)) => faults.add(
            UNKNOWN_KEY,
            node.at,
            name,
            format!("The part `{name}` is the body, and that is in every zone."),
            "Take `in` away; say `body@ZONE` where something is bolted to it.",
        ),
        (Some("body"), None) | (None, _) | (_, Some(_)) => {}
        (Some(_), None) => {
            let zone = "`in:` and the zone where it is";
            faults.add(MISSING_KEY, key, name, format!("The part `{name}` has no `in`."), format!("Add {zone}."));
        }
    }
    if let Some(bolted) = part.text("bolted-to")
        && split_terminal(&bolted).0 == name
    {
        faults.add(
            BAD_VALUE,
            bolted.at,
            name,
            format!("The part `{name}` cannot be bolted to itself."),
            "Name the part, or the `body@ZONE`, that carries it.",
        );
    }
    if let Some(opens) = part.map("opens") {
        opening_agrees(name, &opens, faults);
    }
}

/// More current never takes longer.
fn opening_agrees(name: &str, fill: &Fill<'_>, faults: &mut Faults<'_>) {
    for pair in opens(fill).windows(2) {
        let [fewer, more] = pair else { continue };
        let (low, high) = (fewer.of_rating.show(), more.of_rating.show());
        if fewer.of_rating == more.of_rating {
            faults.add(
                DISAGREEMENT,
                more.at,
                name,
                format!("`opens` of the part `{name}` gives two times for {high}."),
                "Keep one of the two.",
            );
        } else if more.least > fewer.least || more.most > fewer.most {
            faults.add(
                DISAGREEMENT,
                more.at,
                name,
                format!("By `opens`, the part `{name}` takes longer to open at {high} than at {low}."),
                "Compare both points with the maker's sheet: more current opens it sooner.",
            );
        }
    }
}

fn run_agrees(name: &str, key: Span, run: &Fill<'_>, faults: &mut Faults<'_>) {
    let length = run.quantity::<Length>("length");
    let lying = run.map("laid").map(laid).unwrap_or_default();
    if run.node("length").is_none() && run.node("laid").is_none() {
        faults.add(
            MISSING_KEY,
            key,
            name,
            format!("The run `{name}` has no length."),
            "Add `length: 0.3 m` if it lies in one zone, or `laid: {load: 0.6 m, cab: 3.0 m}` if it passes through more.",
        );
    }
    if let Some(length) = length
        && !lying.is_empty()
    {
        let whole: Length = lying.iter().map(|l| l.length.value).sum();
        let (metres, share) = LENGTHS_AGREE;
        if (whole - length.value).abs().in_metres() > metres.max(share * whole.in_metres()) {
            faults.add(
                DISAGREEMENT,
                length.at,
                name,
                format!(
                    "The run `{name}` is {} long by `length`, and {} by `laid`.",
                    length.value.show(),
                    whole.show()
                ),
                "Correct the wrong one, or take `length` away: `laid` is enough.",
            );
        }
    }
    if let (Some(from), Some(to)) = (run.text("from"), run.text("to"))
        && from.value == to.value
    {
        faults.add(
            BAD_VALUE,
            to.at,
            name,
            format!("The run `{name}` starts and ends at the same terminal, `{}`.", to.value),
            "Name the terminal at its other end.",
        );
    }
    for other in run.texts("bundled-with") {
        if other.value == name {
            faults.add(
                BAD_VALUE,
                other.at,
                name,
                format!("The run `{name}` cannot be in a bundle with itself."),
                "Name the other runs of the bundle.",
            );
        }
    }
}

fn state_agrees(name: &str, state: &Fill<'_>, faults: &mut Faults<'_>) {
    let lasts = state.quantity::<Duration>("for");
    let Some(every) = state.quantity::<Duration>("every") else { return };
    match lasts {
        None => faults.add(
            MISSING_KEY,
            every.at,
            name,
            format!("The state `{name}` says how often it comes, and not how long it lasts."),
            "Add `for:` with the time that it is on in each cycle.",
        ),
        Some(lasts) if lasts.value > every.value => faults.add(
            DISAGREEMENT,
            every.at,
            name,
            format!(
                "The state `{name}` lasts {}, which is longer than its whole cycle of {}.",
                lasts.value.show(),
                every.value.show()
            ),
            "`every:` is the time from one start to the next: on and off together.",
        ),
        Some(_) => {}
    }
}

impl Guide {
    /// The guide with a variant's change laid over it, and the findings of reading it.
    ///
    /// Mappings merge, anything else replaces, `none` takes away. A run that is taken away leaves
    /// the bundles it was in, a part that is taken away leaves the states. The text stays that of
    /// the guide.
    pub fn variant(&self, name: &str) -> (Option<Guide>, Vec<Finding>) {
        let mut faults = Faults::of(&self.file);
        let Some(variant) = self.variants.get(name) else { return (None, Vec::new()) };
        let mut root = self.front_matter.clone();
        if let Value::Map(entries) = &mut root.value {
            for not_tried in ["variants", "answers", "record", "changes", "endurance"] {
                entries.shift_remove(not_tried);
            }
        }
        lay_over(&mut root, &variant.change, Some(&keys::GUIDE), name, &mut faults);
        prune(&mut root, &Names::of(&self.front_matter));
        let mut guide = None;
        if faults.found.is_empty() {
            guide = front_matter(&self.file, &self.slug, root, &mut faults);
            // What is wrong with the guide itself was said when it was read.
            let mut own = Faults::of(&self.file);
            check::check(&self.front_matter, &keys::GUIDE, &Names::of(&self.front_matter), &mut own);
            agree(&self.front_matter, &mut own);
            faults.found.retain(|f| !own.found.contains(f));
        }
        let guide = guide.filter(|_| faults.found.is_empty());
        let guide = guide.map(|guide| Guide { text: self.text.clone(), title: variant.title.clone(), ..guide });
        (guide, faults.found)
    }
}

/// Lays a change over a tree, along the table of keys: `none` takes away, but stays a word where it is one.
fn lay_over(node: &mut Node, change: &Node, table: Option<&'static Table>, variant: &str, faults: &mut Faults<'_>) {
    let (Value::Map(old), Value::Map(new)) = (&mut node.value, &change.value) else {
        *node = change.clone();
        return;
    };
    for (name, (key, value)) in new {
        let takes = table.and_then(|t| takes_of(t, name));
        let is_word = matches!(takes, Some(Takes::Word(words)) if words.contains(&"none"));
        if value.text() == Some("none") && !is_word {
            if old.shift_remove(name).is_none() {
                let advice = match nearest(name, old.keys().map(String::as_str)) {
                    Some(near) => format!("Did you mean `{near}`?"),
                    None => format!("What can be taken away here: {}.", one_of(old.keys().map(String::as_str))),
                };
                faults.add(
                    UNKNOWN_NAME,
                    key.at,
                    variant,
                    format!("The variant `{variant}` takes `{name}` away, which is not there."),
                    advice,
                );
            }
            continue;
        }
        let below = match takes {
            Some(Takes::Map(table) | Takes::WordOrMap(_, table)) => Some(*table),
            _ => None,
        };
        // What lies in which zone is a list in order: a new one replaces the old.
        let replaces = name == "laid" || name == "opens";
        match old.get_mut(name) {
            Some((_, node)) if !replaces => lay_over(node, value, below, variant, faults),
            Some((_, node)) => *node = value.clone(),
            None => {
                old.insert(name.clone(), (key.clone(), value.clone()));
            }
        }
    }
}

/// What a key of a table takes, whichever case it belongs to.
pub(super) fn takes_of(table: &'static Table, name: &str) -> Option<&'static Takes> {
    let cases = table.cases.iter().flat_map(|c| c.of.iter().flat_map(|(_, keys)| keys.iter()));
    let key: Option<&Key> = table.keys.iter().chain(cases).find(|k| k.name == name);
    key.map(|k| k.takes).or(table.others.as_ref().map(|o| o.takes))
}

/// Takes the names of runs and parts that a change took away out of bundles and states.
fn prune(root: &mut Node, before: &Names) {
    let after = Names::of(root);
    let gone = |named: Named, name: &str| before.has(named, name) && !after.has(named, name);
    let Value::Map(entries) = &mut root.value else { return };
    if let Some((_, Node { value: Value::Map(states), .. })) = entries.get_mut("states") {
        for (_, state) in states.values_mut() {
            if let Value::Map(parts) = &mut state.value {
                parts.retain(|part, _| !gone(Named::Part, part));
            }
        }
    }
    if let Some((_, Node { value: Value::Map(runs), .. })) = entries.get_mut("runs") {
        for (_, run) in runs.values_mut() {
            let Value::Map(keys) = &mut run.value else { continue };
            let Some((_, bundle)) = keys.get_mut("bundled-with") else { continue };
            let empty = match &mut bundle.value {
                Value::List(items) => {
                    items.retain(|n| !n.text().is_some_and(|run| gone(Named::Run, run)));
                    items.is_empty()
                }
                Value::Scalar(run) => gone(Named::Run, run),
                _ => false,
            };
            if empty {
                keys.shift_remove("bundled-with");
            }
        }
    }
}
