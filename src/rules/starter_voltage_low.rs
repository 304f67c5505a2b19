#![doc = include_str!("starter_voltage_low.md")]

use super::drops::{Held, Spread};
use super::{Bench, Bound, Family, Judgement, Rule};
use crate::circuit::Activity;
use crate::finding::Severity;
use crate::handbook::limits;
use crate::quantity::{Show, Voltage};
use crate::study::{Solution, Warmth};

/// The rule.
pub const RULE: Rule = Rule {
    id: "starter-voltage-low",
    family: Family::Running,
    title: "the voltage at a starter's terminals on the coldest start",
    worst: Severity::Query,
    sources: &["judgement"],
    page: include_str!("starter_voltage_low.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let Some(coldest) = bench.circuit.coldest else {
        for (id, _) in bench.starters() {
            let why = "not judged: the guide gives no coldest temperature (`coldest`)";
            judgement.not_applicable(RULE.id, &bench.circuit.part(id).name, why);
        }
        return;
    };
    for (_, state, study) in bench.states().filter(|(_, state, _)| state.cranks()) {
        for (id, starter) in bench.starters().filter(|(id, _)| state.parts[id.0] == Activity::Cranking) {
            // More is worse: the voltage below nothing.
            let across = |solved: &Solution| -solved.between(starter.positive, starter.negative).in_volts();
            let Some(spread) = Spread::of(study, Warmth::Cold, study.main_charge(), across) else { continue };
            let name = &bench.circuit.part(id).name;
            Held {
                rule: RULE.id,
                subject: name,
                at: bench.part_span(id),
                state: &state.label,
                warmth: Warmth::Cold,
                spread,
                figure: |below| Voltage::volts(-below),
                limit: limits::starter_voltage(bench.circuit.nominal),
                bound: Bound::AtLeast,
                says: &|across: Voltage| {
                    format!("`{name}` has {} at its terminals when cranked at {}", across.show(), coldest.show_both())
                },
                mend: &|| {
                    vec![
                        "take a battery with more cold-cranking current".into(),
                        "thicken or shorten feed and return: every volt saved there reaches the starter".into(),
                    ]
                },
            }
            .soft(bench, judgement, Severity::Query);
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, changed, check_rule, finds, mended, one};

    fn guide(internal: &str) -> String {
        // At 20 °C, so that no resistance moves: 12.6 V less 200 A through 23 mΩ is 8.0 V.
        changed(
            &mended("starter-voltage-low"),
            &[
                ("coldest: −18 °C", "coldest: 20 °C"),
                ("cold-cranking: 700 A EN", &format!("internal-resistance: {internal}")),
                ("current: 300 A", "current: 200 A"),
                ("  body: {is: body}\n", ""),
                ("  body-bond: {from: battery-, to: body@bay, size: 25 mm², length: 0.3 m}\n", ""),
                ("  engine-strap: {from: engine, to: body@bay, size: 25 mm², length: 0.4 m, strap: true}\n", ""),
                (" and\n   [the bond](run:body-bond)", ""),
                (
                    ", and bolt [the strap](run:engine-strap) between\n   [engine](part:engine) and [body](part:body)",
                    " on [the engine](part:engine)",
                ),
                ("bolted-to: engine", "bolted-to: engine, bolt-resistance: 0.2 mΩ"),
                ("length: 0.9 m", "length: 0.9 m, resistance: 1.4 mΩ"),
                ("length: 0.8 m", "length: 0.8 m, resistance: 1.4 mΩ"),
            ],
        )
    }

    #[test]
    fn eight_volts_pass_and_a_hair_less_asks() {
        assert_eq!(finds("starter-voltage-low", &guide("20 mΩ")), []);
        assert_eq!(finds("starter-voltage-low", &guide("20.01 mΩ")), one(Severity::Query, "starter"));
    }

    #[test]
    fn without_a_coldest_start_nothing_is_judged_and_that_is_said() {
        let judged = check_rule("starter-voltage-low", VAN);
        assert_eq!(judged.findings, []);
        assert_eq!(judged.checks[0].outcome, crate::finding::Outcome::NotApplicable);
    }
}
