#![doc = include_str!("figure_mismatch.md")]

use super::{Bench, Family, Judgement, Rule, words};
use crate::circuit::{Activity, Kind, PartId, Run};
use crate::finding::{Check, Outcome, Severity};
use crate::guide::{Step, Target};
use crate::quantity::{CableSize, Show};
use crate::source::{Placed, Span};

/// The rule.
pub const RULE: Rule = Rule {
    id: "figure-mismatch",
    family: Family::Words,
    title: "a size, voltage, current or capacity typed in a step that the linked part or run does not have",
    worst: Severity::Query,
    sources: &["judgement"],
    page: include_str!("figure_mismatch.md"),
    judge,
};

/// Figures nearer than this are the same one, rounded for reading.
const ROUNDING: f64 = 0.005;

/// What kind of figure stands in a text.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Figure {
    Size(CableSize),
    Volts(f64),
    Amps(f64),
    AmpHours(f64),
}

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for step in bench.guide.text.steps() {
        for piece in &step.pieces {
            for found in figures(&piece.value) {
                // An escape or an entity makes the words shorter than what stands in the file: then the whole piece is shown.
                let as_written = piece.value.len() == piece.at.end.saturating_sub(piece.at.start);
                let at = if as_written {
                    Span::new(piece.at.start + found.at.start, piece.at.start + found.at.end)
                } else {
                    piece.at
                };
                one(bench, judgement, step, found.value, &piece.value[found.at.start..found.at.end], at);
            }
        }
    }
}

/// Holds one figure against what its step links.
fn one(bench: &Bench<'_>, judgement: &mut Judgement, step: &Step, figure: Figure, typed: &str, at: Span) {
    let mut names = Vec::new();
    let mut known: Vec<(Figure, String)> = Vec::new();
    for link in &step.links {
        let (name, own) = match &link.target {
            Target::Run(name) => {
                let Some(id) = bench.circuit.run_named(name) else { continue };
                (name, of_run(bench.circuit.run(id)))
            }
            Target::Part(name) => {
                let Some(id) = bench.circuit.part_named(name) else { continue };
                (name, of_part(bench, id))
            }
        };
        let own: Vec<_> = own.into_iter().filter(|(f, _)| same_kind(*f, figure)).collect();
        if !own.is_empty() && !names.contains(&name.as_str()) {
            names.push(name.as_str());
            known.extend(own);
        }
    }
    // Nothing that the step links has a figure of this kind: there is nothing to hold it against.
    let Some(first) = names.first() else { return };
    let of_the_guide = match figure {
        Figure::Volts(v) => voltages(bench).any(|known| near(v, known)),
        _ => false,
    };
    let matches = of_the_guide || known.iter().any(|(k, _)| same(*k, figure));
    let shown: Vec<String> = known.iter().map(|(k, _)| show(*k)).collect();
    judgement.say(
        bench,
        Check {
            rule: RULE.id,
            subject: (*first).to_string(),
            case: format!("step {}", step.number),
            value: words(typed),
            limit: words(&shown.join(", ")),
            margin: String::new(),
            outcome: if matches { Outcome::Passes } else { Outcome::Found(Severity::Query) },
            sources: RULE.sources.to_vec(),
        },
        at,
        || {
            let who = names.iter().map(|n| format!("`{n}`")).collect::<Vec<_>>().join(", ");
            format!("step {} says {typed}, but {who} has {}", step.number, shown.join(", "))
        },
        || {
            let value = known.iter().find(|(_, path)| bench.guide.value(path).is_some());
            let follow = value.map(|(_, path)| {
                format!("write `<value:{path}>` in place of the figure, so that it follows the circuit")
            });
            follow
                .into_iter()
                .chain(["or, if it belongs to something else, put it in a step of its own".into()])
                .collect()
        },
    );
}

fn show(figure: Figure) -> String {
    use crate::quantity::{Charge, Current, Voltage};
    match figure {
        Figure::Size(size) => size.show(),
        Figure::Volts(v) => Voltage::volts(v).show(),
        Figure::Amps(a) => Current::amps(a).show(),
        Figure::AmpHours(ah) => Charge::amp_hours(ah).show(),
    }
}

fn same_kind(a: Figure, b: Figure) -> bool {
    std::mem::discriminant(&a) == std::mem::discriminant(&b)
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= ROUNDING * a.abs().max(b.abs())
}

fn same(a: Figure, b: Figure) -> bool {
    match (a, b) {
        (Figure::Size(CableSize::Awg(a)), Figure::Size(CableSize::Awg(b))) => a == b,
        (Figure::Size(a), Figure::Size(b)) => near(a.section().in_mm2(), b.section().in_mm2()),
        (Figure::Volts(a), Figure::Volts(b))
        | (Figure::Amps(a), Figure::Amps(b))
        | (Figure::AmpHours(a), Figure::AmpHours(b)) => near(a, b),
        _ => false,
    }
}

/// Voltages that any step may name: the system's, that of one unit of a pair, and what the sources are set to.
fn voltages<'b>(bench: &Bench<'b>) -> impl Iterator<Item = f64> + use<'b> {
    let circuit = bench.circuit;
    let set = circuit.parts.iter().filter_map(|p| match &p.kind {
        Kind::Alternator(a) => Some(a.set_point.in_volts()),
        Kind::Charger(c) => Some(c.set_point.in_volts()),
        _ => None,
    });
    [circuit.nominal.in_volts(), 12.0].into_iter().chain(set)
}

/// A run's figures, each with the path of its value.
fn of_run(run: &Run) -> Vec<(Figure, String)> {
    let path = format!("runs.{}.size", run.name);
    let mut all = vec![(Figure::Size(run.size), path.clone())];
    if (run.section.in_mm2() - run.size.section().in_mm2()).abs() > 1e-9 {
        all.push((Figure::Size(CableSize::Metric(run.section.in_mm2())), path));
    }
    all
}

/// A part's figures, each with the path of its value.
fn of_part(bench: &Bench<'_>, id: PartId) -> Vec<(Figure, String)> {
    let circuit = bench.circuit;
    let part = circuit.part(id);
    let path = |key: &str| format!("parts.{}.{key}", part.name);
    let mut all = Vec::new();
    let mut amps = |current: Option<crate::quantity::Current>, key: &str| {
        all.extend(current.map(|c| (Figure::Amps(c.in_amps()), path(key))));
    };
    let mut volts = None;
    let mut hours = None;
    match &part.kind {
        Kind::Battery(b) => {
            amps(b.cold_cranking.map(|c| c.current), "cold-cranking");
            amps(b.discharge_continuous, "discharge.continuous");
            amps(b.discharge_peak.map(|p| p.0), "discharge.peak.current");
            amps(b.charge_max, "charge.max");
            volts = Some((circuit.nominal, "system".to_string()));
            hours = Some(b.capacity);
        }
        Kind::Protector(d) => {
            amps(Some(d.rating), "rating");
            amps(d.breaks, "breaks");
            volts = d.volts.map(|v| (v, path("volts")));
        }
        Kind::Switch(s) => {
            amps(s.rating, "rating");
            volts = s.volts.map(|v| (v, path("volts")));
        }
        Kind::Stud(s) => amps(s.rating, "rating"),
        Kind::Load(l) => {
            amps(l.rating, "rating");
            amps(l.inrush.map(|i| i.0), "inrush.current");
        }
        Kind::Charger(c) => {
            amps(Some(c.limit), "output");
            volts = Some((c.set_point, path("set-point")));
        }
        Kind::Starter(s) => {
            amps(Some(s.cranking.0), "cranking.current");
            amps(s.inrush.map(|i| i.0), "inrush.current");
        }
        Kind::Alternator(a) => {
            amps(Some(a.output), "output");
            volts = Some((a.set_point, path("set-point")));
        }
        Kind::Engine(_) | Kind::Body(_) => {}
    }
    for state in &circuit.states {
        if let Activity::Takes(current) = state.parts[id.0] {
            all.push((Figure::Amps(current.in_amps()), format!("states.{}.{}", state.name, part.name)));
        }
    }
    all.extend(volts.map(|(v, path)| (Figure::Volts(v.in_volts()), path)));
    all.extend(hours.map(|h| (Figure::AmpHours(h.in_amp_hours()), path("capacity"))));
    all
}

/// What a number of a unit is.
type Make = fn(f64) -> Figure;

/// Units that count, longest first, so that `mm²` is not read as a spanner's `mm` nor `Ah` as `A`.
const UNITS: &[(&str, Make)] = &[
    ("square millimetres", |n| Figure::Size(CableSize::Metric(n))),
    ("square millimeters", |n| Figure::Size(CableSize::Metric(n))),
    ("ampere-hours", Figure::AmpHours),
    ("amp-hours", Figure::AmpHours),
    ("amp hours", Figure::AmpHours),
    ("amperes", Figure::Amps),
    ("ampere", Figure::Amps),
    ("sq mm", |n| Figure::Size(CableSize::Metric(n))),
    ("volts", Figure::Volts),
    ("volt", Figure::Volts),
    ("amps", Figure::Amps),
    ("amp", Figure::Amps),
    ("mm^2", |n| Figure::Size(CableSize::Metric(n))),
    ("mm²", |n| Figure::Size(CableSize::Metric(n))),
    ("mm2", |n| Figure::Size(CableSize::Metric(n))),
    ("kA", |n| Figure::Amps(n * 1e3)),
    ("Ah", Figure::AmpHours),
    ("V", Figure::Volts),
    ("A", Figure::Amps),
];

/// Every figure of a text that counts, with its place in bytes.
fn figures(text: &str) -> Vec<Placed<Figure>> {
    let mut found: Vec<Placed<Figure>> = Vec::new();
    let mut from = 0;
    while let Some(start) = text[from..].find(|c: char| c.is_ascii_digit()).map(|i| from + i) {
        let length = text[start..].find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(text.len() - start);
        // A full stop ends a sentence, not a number.
        let number = text[start..start + length].trim_end_matches('.');
        let end = start + number.len();
        from = end;
        let before = text[..start].chars().next_back();
        // A number that no part has, however long it is written.
        if number.len() > 12 {
            continue;
        }
        if before.is_some_and(|c| c.is_alphanumeric() || matches!(c, '.' | '/' | '_')) {
            continue;
        }
        let (zeros, end) = if text[end..].starts_with("/0") { (true, end + 2) } else { (false, end) };
        from = end;
        if let Some((figure, span)) = gauge(text, start, end, number, zeros).or_else(|| {
            let (figure, length) = unit(&text[end..], number.parse().ok()?).filter(|_| !zeros)?;
            Some((figure, Span::new(start, end + length)))
        }) {
            from = span.end.max(end);
            found.push(Placed::new(figure, span));
        }
    }
    found
}

/// `4 AWG`, `1/0 AWG`, `AWG 4`, `4 gauge`.
fn gauge(text: &str, start: usize, end: usize, number: &str, zeros: bool) -> Option<(Figure, Span)> {
    let number: i8 = number.parse().ok()?;
    let size = CableSize::Awg(if zeros { 1i8.checked_sub(number)? } else { number });
    let after = text[end..].trim_start_matches([' ', '\u{a0}', '\u{202f}', '-']);
    for word in ["AWG", "awg", "gauge"] {
        if let Some(rest) = after.strip_prefix(word)
            && !rest.starts_with(char::is_alphanumeric)
        {
            return Some((Figure::Size(size), Span::new(start, text.len() - rest.len())));
        }
    }
    let before = text[..start].trim_end_matches([' ', '\u{a0}']);
    before.ends_with("AWG").then(|| (Figure::Size(size), Span::new(before.len() - 3, end)))
}

/// A unit right after a number, and how many bytes it takes with the gap before it.
fn unit(after: &str, number: f64) -> Option<(Figure, usize)> {
    let rest = after.trim_start_matches([' ', '\u{a0}', '\u{202f}']);
    // `12-volt`, but never `3 - A`.
    let rest = if rest.len() == after.len() { rest.strip_prefix('-').unwrap_or(rest) } else { rest };
    UNITS.iter().find_map(|(unit, make)| {
        let left = rest.strip_prefix(unit)?;
        let ends = !left.starts_with(|c: char| c.is_alphanumeric() || matches!(c, '²' | '³'));
        ends.then(|| (make(number), after.len() - left.len()))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::testing::{changed, check_rule, finds, mended, one, tripping};

    fn read(text: &str) -> Vec<Figure> {
        figures(text).into_iter().map(|f| f.value).collect()
    }

    #[test]
    fn figures_that_count_are_read() {
        use Figure::{AmpHours, Amps, Size, Volts};
        let metric = |n| Size(CableSize::Metric(n));
        assert_eq!(read("Cut 50 mm² cable"), [metric(50.0)]);
        assert_eq!(read("50mm2, 16 mm^2 and 2.5 sq mm."), [metric(50.0), metric(16.0), metric(2.5)]);
        assert_eq!(read("1/0 AWG, 4 AWG, AWG 6 and 10 gauge"), [0, 4, 6, 10].map(|n| Size(CableSize::Awg(n))));
        assert_eq!(read("a 12-volt 60 Ah battery behind a 150 A breaker"), [Volts(12.0), AmpHours(60.0), Amps(150.0)]);
        assert_eq!(read("breaks 5 kA at 14.4 V."), [Amps(5000.0), Volts(14.4)]);
        assert_eq!(read("100 amps, 10 amperes, 20 amp-hours"), [Amps(100.0), Amps(10.0), AmpHours(20.0)]);
    }

    #[test]
    fn figures_that_do_not_count_are_left_alone() {
        let long = format!("{} A and {} mm²", "9".repeat(400), "9".repeat(13));
        assert_eq!(read(&long), []);
        let none = "a 13 mm spanner, M8 bolts, 20 cm², 3 mm plate, 0.3 mV, 20 mA, step 4. A lug. 4 Vents, 2 Ampules, 5 mm³, 10 mΩ, B2 A";
        assert_eq!(read(none), []);
    }

    #[test]
    fn places_are_those_of_figure_and_unit() {
        let text = "use 50 mm² here";
        let found = figures(text);
        assert_eq!(&text[found[0].at.start..found[0].at.end], "50 mm²");
        let text = "AWG 4 it is";
        let found = figures(text);
        assert_eq!(&text[found[0].at.start..found[0].at.end], "AWG 4");
    }

    fn with(words: &str) -> Vec<(Severity, String)> {
        finds("figure-mismatch", &changed(&mended("figure-mismatch"), &[(" of <value:runs.feed.size>", words)]))
    }

    #[test]
    fn a_size_of_a_linked_run_passes_and_any_other_asks() {
        assert_eq!(with(" of 6 mm²"), []);
        assert_eq!(with(" of 6.1 mm²"), one(Severity::Query, "feed"));
        assert_eq!(with(" of 10 AWG"), one(Severity::Query, "feed"));
        // 10 AWG is 5.26 mm²: near is not the same.
        assert_eq!(with(" with a 13 mm spanner"), []);
    }

    #[test]
    fn figures_of_linked_parts() {
        // The same step links the fuse of 30 A, 32 V and 6 kA, and the pump of 15 A.
        for fits in [", 15 A", ", 30 A", ", 6 kA", ", 12 V", ", 32 V"] {
            assert_eq!(with(fits), [], "{fits}");
        }
        assert_eq!(with(", 20 A").len(), 1);
        assert_eq!(with(", 24 V").len(), 1);
        // Nothing linked in it has a capacity.
        assert_eq!(with(", 200 Ah"), []);
    }

    #[test]
    fn a_finding_points_at_the_figure_and_offers_the_value() {
        let text = tripping("figure-mismatch");
        let found = check_rule("figure-mismatch", &text).findings;
        assert_eq!(&text[found[0].place.span.start..found[0].place.span.end], "10 mm²");
        assert!(found[0].advice[0].contains("<value:runs.feed.size>"), "{:?}", found[0].advice);
    }
}
