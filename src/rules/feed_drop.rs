#![doc = include_str!("feed_drop.md")]

use super::drops::{Held, Spread, heaviest, thicker};
use super::{Bench, Bound, Family, Judgement, Rule};
use crate::circuit::{Activity, Polarity};
use crate::finding::Severity;
use crate::handbook::limits;
use crate::quantity::{Show, Voltage};
use crate::study::{Solution, Warmth};

/// The rule.
pub const RULE: Rule = Rule {
    id: "feed-drop",
    family: Family::Running,
    title: "the voltage lost between the battery's positive post and a cranking starter's stud",
    worst: Severity::Unsafe,
    sources: &["tm-5-3895-382-24"],
    page: include_str!("feed_drop.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let limit = limits::starting_feed(bench.circuit.nominal);
    for (_, state, study) in bench.states().filter(|(_, state, _)| state.cranks()) {
        for (id, starter) in bench.starters().filter(|(id, _)| state.parts[id.0] == Activity::Cranking) {
            let lost = |solved: &Solution| {
                let battery = bench.leading_battery(solved).map(|(_, b)| b.positive);
                battery.map_or(0.0, |positive| solved.between(positive, starter.positive).in_volts())
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
                limit,
                bound: Bound::AtMost,
                says: &|lost: Voltage| format!("`{name}` loses {} in its feed while cranking", lost.show()),
                mend: &|| {
                    let thicker = Spread::kindest_solution(study, Warmth::Cool, charge).and_then(|solved| {
                        let (run, _) = heaviest(bench, solved, Polarity::Positive)?;
                        thicker(bench, solved, run, Voltage::volts(lost(solved)) - limit.value)
                    });
                    thicker
                        .into_iter()
                        .chain(["shorten the feed, or take it past fewer devices and joints".into()])
                        .collect()
                },
            };
            held.hard(bench, judgement);
        }
    }
}
