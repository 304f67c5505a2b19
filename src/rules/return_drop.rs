#![doc = include_str!("return_drop.md")]

use super::{Bench, Bound, Comparison, Family, Judgement, Rule, case_words, over_body};
use crate::finding::Severity;
use crate::handbook::limits;
use crate::quantity::{Show, Voltage};
use crate::study::{Joints, Warmth};

/// The rule.
pub const RULE: Rule = Rule {
    id: "return-drop",
    family: Family::Running,
    title: "the voltage lost between a cranking starter's case and the battery's negative post",
    worst: Severity::Unsafe,
    sources: &["tm-5-3895-382-24", "tm-5-3820-256-24-4"],
    page: include_str!("return_drop.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let hard = limits::starting_return(bench.circuit.nominal);
    let good = limits::starting_return_good(bench.circuit.nominal);
    for (_, state, study) in bench.states().filter(|(_, state, _)| state.cranks()) {
        for (id, starter) in bench.starters() {
            let charge = study.main_charge();
            let drop = |joints| {
                over_body(study.at(Warmth::Cool, joints, charge), |_, solved| {
                    let battery = bench.leading_battery(solved).map(|(_, b)| b.negative);
                    battery.map_or(0.0, |negative| solved.between(starter.negative, negative).in_volts())
                })
            };
            let (Some((low, high)), Some((_, worst))) = (drop(Joints::Best), drop(Joints::Worst)) else { continue };
            let name = &bench.circuit.part(id).name;
            // Unsafe takes the body's better end; a verdict that only the worse end brings asks for a measurement.
            let only_at_worse_end = low <= hard.value.in_volts() && hard.value.in_volts() < high;
            let value = Voltage::volts(if only_at_worse_end { high } else { low.max(0.0) });
            let comparison = |value, limit, joints, severity, source| Comparison {
                rule: RULE.id,
                subject: name.clone(),
                at: bench.part_span(id),
                case: format!("{}, {}", state.label, case_words(Warmth::Cool, joints)),
                value,
                limit,
                bound: Bound::AtMost,
                severity,
                sources: vec![source],
            };
            let severity = if only_at_worse_end { Severity::Query } else { Severity::Unsafe };
            let within_hard = judgement.compare(
                bench,
                comparison(value, hard.value, Joints::Best, severity, hard.source),
                || format!("`{name}` loses {} in its return while cranking; the limit is {}", value.show(), hard.value.show()),
                || {
                    if only_at_worse_end {
                        vec!["measure the body's resistance between the zones and give it as `between:` on the body".into()]
                    } else {
                        vec!["give the starter a return cable straight to the battery's negative post, as thick as its feed".into()]
                    }
                },
            );
            if within_hard {
                judgement.compare(
                    bench,
                    comparison(Voltage::volts(worst), good.value, Joints::Worst, Severity::Note, good.source),
                    || {
                        format!(
                            "with its worst joints `{name}` loses {} in its return while cranking; good practice is {}",
                            Voltage::volts(worst).show(),
                            good.value.show()
                        )
                    },
                    || {
                        vec![
                            "keep every joint of the return clean and tight, and measure it as the readings say".into(),
                        ]
                    },
                );
            }
        }
    }
}
