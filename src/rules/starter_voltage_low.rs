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
            let why =
                "the guide names no coldest start: add `coldest: −10 °C`, or whatever yours is, to have it judged";
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
