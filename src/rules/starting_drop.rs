#![doc = include_str!("starting_drop.md")]

use super::drops::{Held, Spread};
use super::{Bench, Bound, Family, Judgement, Rule};
use crate::circuit::Activity;
use crate::finding::Severity;
use crate::handbook::limits;
use crate::quantity::{Show, Voltage};
use crate::study::{Solution, Warmth};

/// The rule.
pub const RULE: Rule = Rule {
    id: "starting-drop",
    family: Family::Running,
    title: "the voltage lost between battery and cranking starter, feed and return together",
    worst: Severity::Query,
    sources: &["ac43-13-1b-11-6", "sae-j541"],
    page: include_str!("starting_drop.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (_, state, study) in bench.states().filter(|(_, state, _)| state.cranks()) {
        for (id, starter) in bench.starters().filter(|(id, _)| state.parts[id.0] == Activity::Cranking) {
            let lost = |solved: &Solution| {
                bench.leading_battery(solved).map_or(0.0, |(_, b)| {
                    let given = solved.between(b.positive, b.negative);
                    (given - solved.between(starter.positive, starter.negative)).in_volts()
                })
            };
            let Some(spread) = Spread::of(study, Warmth::Cool, study.main_charge(), lost) else { continue };
            let name = &bench.circuit.part(id).name;
            let held = Held {
                rule: RULE.id,
                subject: name,
                at: bench.part_span(id),
                state: &state.label,
                warmth: Warmth::Cool,
                spread,
                figure: Voltage::volts,
                limit: limits::starting_both(bench.circuit.nominal),
                bound: Bound::AtMost,
                says: &|lost: Voltage| {
                    format!("`{name}` loses {} in feed and return together while cranking", lost.show())
                },
                mend: &|| {
                    vec!["look at the rows of feed-drop and return-drop: thicken the side that loses most".into()]
                },
            };
            if held.soft(bench, judgement, Severity::Query) {
                let by_current = limits::starting_by_current(bench.circuit.nominal, starter.cranking.0);
                Held { limit: by_current, ..held }.soft(bench, judgement, Severity::Note);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{changed, finds, one, tripping};

    fn guide(each: &str) -> String {
        changed(
            &tripping("starting-drop"),
            &[
                ("current: 300 A", "current: 250 A"),
                ("bolted-to: engine", "bolted-to: engine, bolt-resistance: 0.2 mΩ"),
                ("length: 2.3 m", &format!("length: 2.3 m, resistance: {each}")),
                ("length: 2.2 m", &format!("length: 2.2 m, resistance: {each}")),
            ],
        )
    }

    #[test]
    fn one_volt_passes_and_a_hair_more_asks() {
        // 250 A through 4 mΩ. AC 43.13-1B Table 11-6, from memory: 1 V intermittent at 14 V.
        assert_eq!(finds("starting-drop", &guide("1.9 mΩ")), one(Severity::Note, "starter"));
        assert_eq!(finds("starting-drop", &guide("1.901 mΩ")), one(Severity::Query, "starter"));
    }

    #[test]
    fn two_milliohms_pass_without_a_note() {
        // SAE J541: 0.2 V per 100 A; 250 A allow 0.500 V (reference, conductors.md section 9).
        assert_eq!(finds("starting-drop", &guide("0.9 mΩ")), []);
        assert_eq!(finds("starting-drop", &guide("0.901 mΩ")), one(Severity::Note, "starter"));
    }
}
