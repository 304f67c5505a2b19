#![doc = include_str!("tap_unprotected.md")]

use super::placement::{From, part_names, placement, placement_advice};
use super::{Bench, Family, Judgement, Measured, Rule};
use crate::circuit::{Kind, RunId};
use crate::finding::{Check, Figure, Outcome, Severity};
use crate::guide::Covering;
use crate::handbook::limits;
use crate::quantity::{Current, Show};

/// The rule.
pub const RULE: Rule = Rule {
    id: "tap-unprotected",
    family: Family::Protection,
    title: "whether every smaller cable that leaves a larger one has a device that protects it",
    worst: Severity::Unsafe,
    sources: &["cfr46-111-50-5", "cfr33-183-455"],
    page: include_str!("tap_unprotected.md"),
    judge,
};

/// What a reduction's own device makes of it.
enum Own {
    /// None along it.
    Missing,
    /// Too large for it, or perhaps too far.
    Device(Severity, String, Vec<String>),
    /// Small enough and near enough.
    Protects(String),
}

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (r, run) in bench.circuit.runs.iter().enumerate() {
        let id = RunId(r);
        let Some(reduction) = bench.study.supply.span(id).and_then(|s| s.reduction.as_ref()) else { continue };
        // Where no device comes before it at all, its own placement is judged by `device-too-far`, and the
        // lack of one by `run-unprotected`.
        let (Some(arrives), Some(iz)) = (reduction.arrives, run.iz) else { continue };
        let larger = bench.circuit.run(reduction.larger);
        let upstream = part_names(bench, &reduction.upstream);
        let own = own_device(bench, id, iz);
        let upstream_severity = by_rating(arrives, iz);
        // The one upstream protects it already, or its own does; else the lesser of the two faults is the fault.
        let (severity, value, margin) = match (&upstream_severity, &own) {
            (None, _) => (None, arrives.figure(), format!("{} to spare, by {upstream}", (iz - arrives).show())),
            (_, Own::Protects(how)) => (None, arrives.figure(), how.clone()),
            (Some(upstream), Own::Device(own, ..)) => (Some(*upstream.min(own)), arrives.figure(), over(arrives, iz)),
            (Some(upstream), Own::Missing) => (Some(*upstream), arrives.figure(), over(arrives, iz)),
        };
        let name = &run.name;
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: name.clone(),
                case: format!("{} leaves {} of `{}`", run.size.show(), larger.size.show(), larger.name),
                value,
                limit: iz_figure(iz),
                margin,
                outcome: severity.map_or(Outcome::Passes, Outcome::Found),
                sources: vec!["cfr46-111-50-5", "cfr33-183-455"],
            },
            bench.run_span(id),
            || {
                let start = format!(
                    "`{name}` ({}) leaves `{}` ({}), to which {} can come past {upstream}; it may carry {}",
                    run.size.show(),
                    larger.name,
                    larger.size.show(),
                    arrives.show(),
                    iz.show()
                );
                match &own {
                    Own::Device(_, fault, _) => format!("{start}, and {fault}"),
                    _ => format!("{start}, and it has no device of its own"),
                }
            },
            || {
                let mut advice = match &own {
                    Own::Device(_, _, advice) => advice.clone(),
                    _ => vec![format!(
                        "give `{name}` a fuse of its own, rated at most {}, within {} of `{}`, or within {} if covered all the way",
                        iz.show(),
                        limits::placed_bare().value.show(),
                        bench.circuit.part(bench.circuit.node(reduction.at).part).name,
                        limits::placed_covered().value.show()
                    )],
                };
                advice.push(format!("or use {} all along, as `{}` is", larger.size.show(), larger.name));
                advice
            },
        );
    }
}

/// In ≤ Iz passes; up to 150 % is a query; above is unsafe.
fn by_rating(rating: Current, iz: Current) -> Option<Severity> {
    if rating <= iz {
        None
    } else if rating <= iz * limits::rating_over_allowable().value.in_ones() {
        Some(Severity::Query)
    } else {
        Some(Severity::Unsafe)
    }
}

fn over(arrives: Current, iz: Current) -> String {
    format!("{} over", (arrives - iz).show())
}

fn iz_figure(iz: Current) -> Figure {
    iz.figure()
}

fn own_device(bench: &Bench<'_>, id: RunId, iz: Current) -> Own {
    let run = bench.circuit.run(id);
    let Some(reduction) = bench.study.supply.span(id).and_then(|s| s.reduction.as_ref()) else { return Own::Missing };
    let Some((device, length, covered)) = reduction.own else { return Own::Missing };
    let part = bench.circuit.part(device);
    let Kind::Protector(protector) = &part.kind else { return Own::Missing };
    let name = &part.name;
    if let Some(severity) = by_rating(protector.rating, iz) {
        return Own::Device(
            severity,
            format!("its own `{name}` is rated {}", protector.rating.show()),
            vec![format!("rate `{name}` at most {}", iz.show())],
        );
    }
    let placed = placement(From::Other, length, covered);
    match placed.severity {
        None => Own::Protects(format!("by its own `{name}`, {} along it", length.show())),
        Some(severity) => {
            let bare = if run.covering == Covering::None { vec![id] } else { Vec::new() };
            let origin = &bench.circuit.part(bench.circuit.node(reduction.at).part).name;
            Own::Device(
                severity,
                format!(
                    "its own `{name}` sits {} along it, where {} is the limit",
                    length.show(),
                    if placed.past_covered { limits::placed_covered() } else { limits::placed_bare() }.value.show()
                ),
                placement_advice(bench, From::Other, name, origin, &bare),
            )
        }
    }
}

/// Whether this rule has judged a run's rating, so that `device-above-cable` need not say it again: a reduction
/// without a device of its own.
pub(super) fn judges(bench: &Bench<'_>, id: RunId) -> bool {
    bench
        .study
        .supply
        .span(id)
        .and_then(|s| s.reduction.as_ref())
        .is_some_and(|r| r.arrives.is_some() && r.own.is_none())
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::{Query, Unsafe};
    use crate::rules::testing::{VAN, finds};

    const ID: &str = "tap-unprotected";

    /// A main feed behind one breaker, and a smaller tap off its post.
    fn tapped(main: &str, tap: &str, own: Option<(&str, &str)>) -> Vec<(crate::finding::Severity, String)> {
        let (part, runs) = match own {
            Some((rating, length)) => (
                format!("  own: {{is: fuse, in: box, rating: {rating}}}\n"),
                format!(
                    "  tap: {{from: post, to: own, {tap}, {length}}}\n  lamp-feed: {{from: own, to: lamp+, {tap}, length: 3 m}}\n"
                ),
            ),
            None => (String::new(), format!("  tap: {{from: post, to: lamp+, {tap}, length: 3 m}}\n")),
        };
        finds(
            ID,
            &format!(
                "---\ntitle: A tap\nsummary: Its figures are invented.\nwritten: 2026-11-25\n\
                 vehicle: {{kind: van, body: steel, drive: diesel}}\nsystem: 12 V\nzones:\n  box: {{label: Box, ambient: 30 °C}}\nparts:\n  \
                 battery: {{is: battery, in: box, chemistry: agm, capacity: 90 Ah}}\n  \
                 breaker: {{is: breaker, in: box, rating: {main}}}\n  post: {{is: post, in: box}}\n{part}  \
                 panel: {{is: panel, in: box}}\n  lamp: {{is: load, in: box}}\n\
                 every-run: {{metal: copper, insulation: xlpe, rated: 105 °C}}\nruns:\n  \
                 lead: {{from: battery+, to: breaker, size: 35 mm², length: 0.1 m}}\n  \
                 main: {{from: breaker, to: post, size: 35 mm², length: 0.5 m}}\n  \
                 panel-feed: {{from: post, to: panel+, size: 35 mm², length: 2 m}}\n{runs}  \
                 panel-return: {{from: panel-, to: battery-, size: 35 mm², length: 2 m}}\n  \
                 lamp-return: {{from: lamp-, to: battery-, size: 6 mm², length: 2 m}}\nstates:\n  work: {{lamp: 5 A}}\n---\n"
            ),
        )
    }

    /// 100 A main feeding a 20 A wire with no device: fail. Source: 46 CFR 111.50-5(a)(3); 16 AWG at 75 °C is 15 A,
    /// 14 AWG 20 A (33 CFR 183.425 Table 5).
    #[test]
    fn a_20_amp_wire_on_a_100_amp_main() {
        let wire = "size: 14 AWG, rated: 75 °C";
        assert_eq!(tapped("100 A", wire, None), [(Unsafe, "tap".into())]);
        assert_eq!(tapped("20 A", wire, None), []);
        assert_eq!(tapped("30 A", wire, None), [(Query, "tap".into())]);
        assert_eq!(tapped("31 A", wire, None), [(Unsafe, "tap".into())]);
    }

    #[test]
    fn its_own_device_within_the_placement_limits_counts() {
        let wire = "size: 14 AWG, rated: 75 °C";
        assert_eq!(tapped("100 A", wire, Some(("20 A", "length: 178 mm"))), []);
        assert_eq!(tapped("100 A", wire, Some(("20 A", "length: 179 mm"))), [(Query, "tap".into())]);
        assert_eq!(tapped("100 A", wire, Some(("20 A", "covering: conduit, length: 1.02 m"))), []);
        assert_eq!(
            tapped("100 A", wire, Some(("20 A", "covering: conduit, length: 1.03 m"))),
            [(Unsafe, "tap".into())]
        );
        // A fuse of its own that is larger than the wire is none.
        assert_eq!(tapped("100 A", wire, Some(("40 A", "length: 0.1 m"))), [(Unsafe, "tap".into())]);
        assert_eq!(tapped("100 A", wire, Some(("30 A", "length: 0.1 m"))), [(Query, "tap".into())]);
    }

    #[test]
    fn a_tap_that_the_main_device_already_protects_needs_none() {
        // 35 mm² counts as 2 AWG; the fuse lead's 195 A in 40 °C air stands under the 150 A breaker.
        assert_eq!(finds(ID, VAN), []);
        // 16 mm² counts as 6 AWG, 120 A.
        assert_eq!(tapped("120 A", "size: 16 mm²", None), []);
        assert_eq!(tapped("121 A", "size: 16 mm²", None), [(Query, "tap".into())]);
    }
}
