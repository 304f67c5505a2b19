#![doc = include_str!("load_drop.md")]

use super::drops::{Held, Spread, joined, leading_source, source_terminals};
use super::{Bench, Bound, Family, Judgement, Rule};
use crate::circuit::{Activity, Load, PartId};
use crate::finding::Severity;
use crate::handbook::limits;
use crate::quantity::{Current, Power, Ratio, Show};
use crate::study::{Charge, Joints, Solution, Warmth};

/// The rule.
pub const RULE: Rule = Rule {
    id: "load-drop",
    family: Family::Running,
    title: "the voltage lost between source and load, out and back, with everything on that runs for long",
    worst: Severity::Unsafe,
    sources: &["iso-10133", "iso-10133-steady"],
    page: include_str!("load_drop.md"),
    judge,
};

/// How the case with everything on is called.
const TOGETHER: &str = "everything on that runs for long";

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (id, load) in bench.loads() {
        let name = &bench.circuit.part(id).name;
        if load.intermittent {
            judgement.not_applicable(
                RULE.id,
                name,
                "it works for short times: its voltage at full pull and its heat are judged instead",
            );
            continue;
        }
        let Some((spread, when)) = worst(bench, id, load) else { continue };
        let held = Held {
            rule: RULE.id,
            subject: name,
            at: bench.part_span(id),
            state: when,
            warmth: Warmth::Running,
            spread,
            figure: Ratio::of,
            limit: limits::feeding(),
            bound: Bound::AtMost,
            says: &|lost: Ratio| {
                let volts = bench.circuit.nominal * lost.in_ones();
                format!("`{name}` gets {} ({}) less than its source gives", volts.show(), lost.show())
            },
            mend: &|| {
                vec![
                    "use a thicker cable out and back, or a shorter way, or a return cable in place of the body".into(),
                ]
            },
        };
        if held.hard(bench, judgement) && load.needs_steady {
            Held { limit: limits::feeding_steady(), ..held }.soft(bench, judgement, Severity::Query);
        }
    }
}

/// The worst of every state in which the load is on, and of everything on together.
fn worst<'b>(bench: &Bench<'b>, id: PartId, load: &Load) -> Option<(Spread, &'b str)> {
    let circuit = bench.circuit;
    let share = |doing: &[Activity]| {
        let groups = joined(circuit, doing);
        move |solved: &Solution| {
            // The source's own terminals: a load across a charger is another circuit's.
            let source =
                leading_source(circuit, &groups, solved, load.positive).and_then(|s| source_terminals(circuit, s));
            source.map_or(0.0, |(positive, negative)| {
                (solved.between(positive, negative) - solved.between(load.positive, load.negative)) / circuit.nominal
            })
        }
    };
    let mut found: Option<(Spread, &'b str)> = None;
    let mut take = |spread: Option<Spread>, when: &'b str| {
        if let Some(spread) = spread
            && found.is_none_or(|(worst, _)| spread.worst > worst.worst)
        {
            found = Some((spread, when));
        }
    };
    for (_, state, study) in bench.states() {
        let others = bench.loads().any(|(other, l)| l.intermittent && is_on(state.parts[other.0]));
        if !is_on(state.parts[id.0]) || state.cranks() || others {
            continue;
        }
        // Charging at full output is judged for heat, not for drop.
        let charge = if study.main_charge() == Charge::Bulk { Charge::Tail } else { Charge::None };
        take(Spread::of(study, Warmth::Running, charge, &share(&state.parts)), &state.label);
    }
    if let Some(together) = bench.study.together.as_ref().filter(|t| is_on(t.parts[id.0])) {
        let measure = share(&together.parts);
        take(Spread::over(together.at(Joints::Best), together.at(Joints::Worst), &measure), TOGETHER);
    }
    found
}

/// Whether a load takes anything.
fn is_on(doing: Activity) -> bool {
    match doing {
        Activity::Takes(current) => current > Current::zero(),
        Activity::Power(watts) => watts > Power::zero(),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{assert_edge_at, changed, check_rule, edge, found, mended, tripping};

    #[test]
    fn the_edge_is_a_tenth_of_nominal() {
        // ISO 10133: 10 % of nominal. A measured pair, so that no joint is guessed.
        let guide = |mohm: f64| {
            changed(
                &mended("load-drop"),
                &[
                    ("length: 2.5 m", &format!("length: 2.5 m, resistance: {mohm:.5} mΩ")),
                    ("length: 2.7 m", &format!("length: 2.7 m, resistance: {mohm:.5} mΩ")),
                ],
            )
        };
        assert_edge_at(&edge("load-drop", Severity::Unsafe, guide, 20.0, 60.0), 0.1);
    }

    #[test]
    fn the_edge_of_a_steady_load_is_three_hundredths() {
        // ISO 10133, 4.7-4.8: 3 % for panel mains, navigation lights, blowers.
        let guide = |mohm: f64| {
            changed(
                &mended("load-drop"),
                &[
                    ("can-overload: false", "can-overload: false, needs: steady"),
                    ("length: 2.5 m", &format!("length: 2.5 m, resistance: {mohm:.5} mΩ")),
                    ("length: 2.7 m", &format!("length: 2.7 m, resistance: {mohm:.5} mΩ")),
                ],
            )
        };
        assert_edge_at(&edge("load-drop", Severity::Query, guide, 2.0, 20.0), 0.03);
    }

    #[test]
    fn everything_on_together_is_judged_though_no_state_says_so() {
        // Two pumps on one thin pair, each alone within 10 % and both together not.
        let two = changed(
            &mended("load-drop"),
            &[
                (
                    "  pump: {is",
                    "  far-post: {is: post, in: locker, covers: true}\n  near-post: {is: post, in: locker, covers: true}\n  second: {is: load, in: locker, rating: 15 A, covers: true}\n  pump: {is",
                ),
                (
                    "to: pump+, size: 6 mm², length: 2.5 m",
                    "to: far-post, size: 6 mm², length: 2.5 m, resistance: 30 mΩ",
                ),
                (
                    "from: pump-, to: battery-, size: 6 mm², length: 2.7 m}",
                    "from: near-post, to: battery-, size: 6 mm², length: 2.7 m, resistance: 30 mΩ}\n  a: {from: far-post, to: pump+, size: 6 mm², length: 0.1 m}\n  b: {from: near-post, to: pump-, size: 6 mm², length: 0.1 m}\n  c: {from: far-post, to: second+, size: 6 mm², length: 0.1 m}\n  d: {from: near-post, to: second-, size: 6 mm², length: 0.1 m}",
                ),
                ("pumping: {pump: 15 A}", "pumping: {pump: 15 A}\n  other: {second: 15 A}"),
            ],
        );
        let judged = check_rule("load-drop", &two);
        assert_eq!(found(&judged, "load-drop"), [(Severity::Unsafe, "second"), (Severity::Unsafe, "pump")]);
        assert!(judged.findings.iter().all(|f| f.value.as_ref().is_some_and(|v| v.si > 0.1)));
        assert!(judged.checks[0].case.contains("everything on"), "{}", judged.checks[0].case);
    }

    #[test]
    fn a_winch_is_not_held_to_it() {
        let judged = check_rule("load-drop", &tripping("working-voltage-low"));
        assert_eq!(judged.findings, []);
        assert_eq!(judged.checks[0].outcome, crate::finding::Outcome::NotApplicable);
    }
}
