#![doc = include_str!("working_voltage_low.md")]

use super::drops::{Held, Spread, thicker_between};
use super::{Bench, Bound, Family, Judgement, Rule};
use crate::circuit::Activity;
use crate::finding::Severity;
use crate::handbook::limits;
use crate::quantity::{Show, Voltage};
use crate::study::{Charge, Solution, Warmth};

/// The rule.
pub const RULE: Rule = Rule {
    id: "working-voltage-low",
    family: Family::Running,
    title: "the voltage at a winch or another load that works for short times, while it works",
    worst: Severity::Query,
    sources: &["judgement"],
    page: include_str!("working_voltage_low.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (id, load) in bench.loads().filter(|(_, load)| load.intermittent) {
        let across = |solved: &Solution| -solved.between(load.positive, load.negative).in_volts();
        let mut worst: Option<(Spread, &str, Option<&Solution>)> = None;
        for (_, state, study) in bench.states() {
            if !matches!(state.parts[id.0], Activity::Takes(_) | Activity::Power(_)) {
                continue;
            }
            for charge in [study.main_charge(), Charge::Lowered] {
                if let Some(spread) = Spread::of(study, Warmth::Running, charge, across)
                    && worst.is_none_or(|(w, _, _)| spread.worst > w.worst)
                {
                    worst = Some((spread, &state.label, Spread::kindest_solution(study, Warmth::Running, charge)));
                }
            }
        }
        let Some((spread, state, solved)) = worst else { continue };
        let name = &bench.circuit.part(id).name;
        Held {
            rule: RULE.id,
            subject: name,
            at: bench.part_span(id),
            state,
            warmth: Warmth::Running,
            spread,
            figure: |below| Voltage::volts(-below),
            limit: limits::intermittent_voltage(bench.circuit.nominal),
            bound: Bound::AtLeast,
            says: &|across: Voltage| format!("`{name}` has {} at its terminals while it works", across.show()),
            mend: &|| {
                let least = limits::intermittent_voltage(bench.circuit.nominal).value;
                let half = (least - Voltage::volts(-spread.worst)) / 2.0;
                let thicker = solved.into_iter().flat_map(|solved| {
                    let battery = bench.leading_battery(solved).map(|(_, b)| (b.positive, b.negative));
                    battery.into_iter().flat_map(move |(positive, negative)| {
                        let feed = thicker_between(bench, solved, load.positive, positive, half);
                        feed.into_iter().chain(thicker_between(bench, solved, load.negative, negative, half))
                    })
                });
                let otherwise = [
                    "shorten its feed and return, or take a battery with less resistance".to_string(),
                    "let it work only with the engine running, and say so in the state: `alternator: running`"
                        .to_string(),
                ];
                thicker.chain(otherwise).collect()
            },
        }
        .soft(bench, judgement, Severity::Query);
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, assert_edge_at, changed, check_rule, edge, mended};

    #[test]
    fn the_edge_is_nine_volts() {
        let guide = |mohm: f64| {
            changed(
                &mended("working-voltage-low"),
                &[
                    ("length: 2.5 m", &format!("length: 2.5 m, resistance: {mohm:.5} mΩ")),
                    ("length: 2.7 m", &format!("length: 2.7 m, resistance: {mohm:.5} mΩ")),
                ],
            )
        };
        assert_edge_at(&edge("working-voltage-low", Severity::Query, guide, 1.0, 20.0), 9.0);
        let at_24 = |mohm: f64| changed(&guide(mohm), &[("system: 12 V", "system: 24 V")]);
        assert_edge_at(&edge("working-voltage-low", Severity::Query, at_24, 1.0, 60.0), 18.0);
    }

    #[test]
    fn a_load_that_works_for_long_is_not_judged() {
        assert_eq!(check_rule("working-voltage-low", VAN).checks, []);
    }
}
