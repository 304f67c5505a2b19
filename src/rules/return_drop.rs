#![doc = include_str!("return_drop.md")]

use super::drops::{Held, Spread, heaviest, thicker};
use super::{Bench, Bound, Family, Judgement, Rule};
use crate::circuit::{Activity, Polarity};
use crate::finding::Severity;
use crate::handbook::limits;
use crate::quantity::{Show, Voltage};
use crate::study::{Solution, Warmth};

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
        for (id, starter) in bench.starters().filter(|(id, _)| state.parts[id.0] == Activity::Cranking) {
            let lost = |solved: &Solution| {
                let battery = bench.leading_battery(solved).map(|(_, b)| b.negative);
                battery.map_or(0.0, |negative| solved.between(starter.negative, negative).in_volts())
            };
            let charge = study.main_charge();
            let Some(spread) = Spread::of(study, Warmth::Cool, charge, lost) else { continue };
            let name = &bench.circuit.part(id).name;
            let held = Held {
                rule: RULE.id,
                subject: name,
                at: bench.part_span(id),
                state: &state.label,
                warmth: Warmth::Cool,
                spread,
                figure: Voltage::volts,
                limit: hard,
                bound: Bound::AtMost,
                says: &|lost: Voltage| format!("`{name}` loses {} in its return while cranking", lost.show()),
                mend: &|| {
                    let cable =
                        "give the starter a return cable straight to the battery's negative post, as thick as its feed";
                    let thicker = Spread::kindest_solution(study, Warmth::Cool, charge).and_then(|solved| {
                        let (run, _) = heaviest(bench, solved, Polarity::Negative)?;
                        thicker(bench, solved, run, Voltage::volts(lost(solved)) - hard.value)
                    });
                    std::iter::once(cable.to_string()).chain(thicker).collect()
                },
            };
            if held.hard(bench, judgement) {
                let clean = || {
                    vec!["keep every joint of the return clean and tight, and measure it as the readings say".into()]
                };
                Held { limit: good, mend: &clean, ..held }.soft(bench, judgement, Severity::Note);
            }
        }
    }
}
