#![doc = include_str!("load_drop.md")]

use petgraph::unionfind::UnionFind;

use super::drops::{Held, Spread, joined, leading_source, source_terminals, thicker_between};
use super::{Bench, Bound, Family, Judgement, Rule};
use crate::circuit::{Activity, Kind, NodeId, PartId};
use crate::finding::Severity;
use crate::handbook::limits;
use crate::quantity::{Current, Power, Ratio, Show};
use crate::study::{Joints, Solution, Warmth};

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

/// Something that is fed: a load, or a charger's input.
#[derive(Clone, Copy)]
struct Fed {
    id: PartId,
    positive: NodeId,
    negative: NodeId,
    steady: bool,
    is_charger: bool,
}

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (i, part) in bench.circuit.parts.iter().enumerate() {
        let id = PartId(i);
        let fed = match &part.kind {
            Kind::Load(load) if load.intermittent => {
                let why = "it works for short times: its voltage at full pull and its heat are judged instead";
                judgement.not_applicable(RULE.id, &part.name, why);
                continue;
            }
            Kind::Load(load) => {
                let (positive, negative, steady) = (load.positive, load.negative, load.needs_steady);
                Fed { id, positive, negative, steady, is_charger: false }
            }
            Kind::Charger(charger) => {
                let Some((positive, negative)) = charger.input else { continue };
                Fed { id, positive, negative, steady: false, is_charger: true }
            }
            _ => continue,
        };
        let Some(worst) = worst(bench, fed) else { continue };
        let name = &part.name;
        let hard = limits::feeding();
        let held = Held {
            rule: RULE.id,
            subject: name,
            at: bench.part_span(id),
            state: worst.when,
            warmth: Warmth::Running,
            spread: worst.spread,
            figure: Ratio::of,
            limit: hard,
            bound: Bound::AtMost,
            says: &|lost: Ratio| {
                let volts = bench.circuit.nominal * lost.in_ones();
                format!("`{name}` gets {} ({}) less than its source gives", volts.show(), lost.show())
            },
            mend: &|| worst.mend(bench, fed, hard.value),
        };
        if held.hard(bench, judgement) && fed.steady {
            let steady = limits::feeding_steady();
            let mend = || worst.mend(bench, fed, steady.value);
            Held { limit: steady, mend: &mend, ..held }.soft(bench, judgement, Severity::Query);
        }
    }
}

/// The worst of every case in which something is fed.
struct Worst<'b> {
    spread: Spread,
    when: &'b str,
    /// With the best joints, for advice.
    solved: &'b Solution,
    source: Option<PartId>,
}

impl Worst<'_> {
    fn mend(&self, bench: &Bench<'_>, fed: Fed, limit: Ratio) -> Vec<String> {
        let too_much = bench.circuit.nominal * (self.spread.worst - limit.in_ones());
        let terminals = self.source.and_then(|s| source_terminals(bench.circuit, s));
        let thicker = terminals.into_iter().flat_map(|(positive, negative)| {
            // Either side may be the one to thicken: half of what is too much from each.
            let half = too_much / 2.0;
            let feed = thicker_between(bench, self.solved, fed.positive, positive, half);
            feed.into_iter().chain(thicker_between(bench, self.solved, fed.negative, negative, half))
        });
        let otherwise = "use a shorter way, or a return cable in place of the body".to_string();
        thicker.chain([otherwise]).collect()
    }
}

/// The worst of every state in which it is on, and of everything on together.
fn worst<'b>(bench: &Bench<'b>, fed: Fed) -> Option<Worst<'b>> {
    let circuit = bench.circuit;
    let source = |groups: &UnionFind<usize>, solved: &Solution| leading_source(circuit, groups, solved, fed.positive);
    let share = |groups: &UnionFind<usize>, solved: &Solution| {
        // The source's own terminals: what stands before a charger is another circuit's.
        source(groups, solved).and_then(|s| source_terminals(circuit, s)).map_or(0.0, |(positive, negative)| {
            (solved.between(positive, negative) - solved.between(fed.positive, fed.negative)) / circuit.nominal
        })
    };
    let mut found: Option<Worst<'b>> = None;
    let mut take = |spread: Option<Spread>, solved: Option<&'b Solution>, groups: &UnionFind<usize>, when: &'b str| {
        if let (Some(spread), Some(solved)) = (spread, solved)
            && found.as_ref().is_none_or(|worst| spread.worst > worst.spread.worst)
        {
            found = Some(Worst { spread, when, solved, source: source(groups, solved) });
        }
    };
    for (_, state, study) in bench.states() {
        let others = bench.loads().any(|(other, l)| l.intermittent && is_on(state.parts[other.0]));
        let on = is_on(state.parts[fed.id.0]) || fed.is_charger && state.parts[fed.id.0] == Activity::Running;
        if !on || state.cranks() || others {
            continue;
        }
        // Filling a battery at full output is judged for heat, not for drop; but a charger's own input is at its
        // worst when it gives all it can.
        let charge = if fed.is_charger { study.main_charge() } else { study.settled_charge() };
        let groups = joined(circuit, &state.parts);
        let spread = Spread::of(study, Warmth::Running, charge, |solved| share(&groups, solved));
        take(spread, Spread::kindest_solution(study, Warmth::Running, charge), &groups, &state.label);
    }
    if let Some(together) = bench.study.together.as_ref().filter(|t| is_on(t.parts[fed.id.0])) {
        let groups = joined(circuit, &together.parts);
        let spread =
            Spread::over(together.at(Joints::Best), together.at(Joints::Worst), |solved| share(&groups, solved));
        let solved = together.at(Joints::Best).find_map(|c| c.solution.as_ref().ok());
        take(spread, solved, &groups, TOGETHER);
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

    #[test]
    fn a_charger_s_input_is_judged_at_its_full_output() {
        // 20 A at 14.4 V over 85 % are about 27 A at 12.6 V: 45 mΩ out and back take 1.2 V.
        let guide = |mohm: f64| {
            changed(
                &mended("load-drop"),
                &[
                    (
                        "  pump: {is: load, in: locker, rating: 15 A, can-overload: false, covers: true}",
                        "  pump: {is: charger, kind: dc-dc, in: locker, output: 20 A, covers: true}\n  second:\n    is: battery\n    in: locker\n    chemistry: agm\n    capacity: 60 Ah",
                    ),
                    (
                        "to: pump+, size: 6 mm², length: 2.5 m",
                        &format!("to: pump.in+, size: 6 mm², length: 2.5 m, resistance: {mohm:.5} mΩ"),
                    ),
                    ("from: pump-, to: battery-", "from: pump.in-, to: battery-"),
                    (
                        "states:",
                        "  out: {from: pump.out+, to: second+, size: 6 mm², length: 0.3 m}\n  back: {from: pump.out-, to: second-, size: 6 mm², length: 0.3 m}\nstates:",
                    ),
                    ("pumping: {pump: 15 A}", "pumping: {pump: running}"),
                ],
            )
        };
        let edge = edge("load-drop", Severity::Unsafe, guide, 5.0, 28.0);
        assert_edge_at(&edge, 0.1);
        assert_eq!(edge.1.subject, "pump");
    }

    #[test]
    fn advice_names_what_a_thicker_run_would_lose() {
        let found = check_rule("load-drop", &tripping("load-drop")).findings;
        assert!(found[0].advice[0].starts_with("`feed` alone loses 1.14 V of it: in "), "{:?}", found[0].advice);
        assert!(found[0].advice[1].starts_with("`return` alone loses "), "{:?}", found[0].advice);
    }
}
