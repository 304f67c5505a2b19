#![doc = include_str!("feed_drop.md")]

use super::drops::{Held, Spread, thicker_between};
use super::{Bench, Bound, Family, Judgement, Rule};
use crate::circuit::Activity;
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
                        let (_, b) = bench.leading_battery(solved)?;
                        let too_much = Voltage::volts(lost(solved)) - limit.value;
                        thicker_between(bench, solved, starter.positive, b.positive, too_much)
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

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{changed, check_rule, finds, mended, one, tripping};

    /// The page's mended guide with a measured feed and starter's current.
    fn guide(current: &str, feed: &str) -> String {
        changed(
            &mended("feed-drop"),
            &[
                ("current: 300 A", &format!("current: {current}")),
                ("length: 0.9 m", &format!("length: 0.9 m, resistance: {feed}")),
            ],
        )
    }

    #[test]
    fn half_a_volt_passes_and_a_hair_more_is_unsafe() {
        // US Army TM 5-3895-382-24, Table 30: 0.5 V at 12 V.
        assert_eq!(finds("feed-drop", &guide("250 A", "2 mΩ")), []);
        assert_eq!(finds("feed-drop", &guide("250 A", "2.001 mΩ")), one(Severity::Unsafe, "starter"));
    }

    #[test]
    fn the_limit_doubles_at_24_volts() {
        let at_24 = |feed: &str| changed(&guide("250 A", feed), &[("system: 12 V", "system: 24 V")]);
        assert_eq!(finds("feed-drop", &at_24("4 mΩ")), []);
        assert_eq!(finds("feed-drop", &at_24("4.002 mΩ")), one(Severity::Unsafe, "starter"));
    }

    #[test]
    fn what_only_bad_joints_bring_is_asked_about() {
        // 25 mm²: 0.78 mΩ/m (IEC 60228); 2.1 m is 1.638 mΩ, with joints 1.738 at best and 2.038 at worst.
        let guide = changed(
            &mended("feed-drop"),
            &[("current: 300 A", "current: 250 A"), ("size: 70 mm², length: 0.9 m", "size: 25 mm², length: 2.1 m")],
        );
        assert_eq!(finds("feed-drop", &guide), one(Severity::Query, "starter"));
    }

    #[test]
    fn advice_names_a_size_and_what_it_would_lose() {
        let found = check_rule("feed-drop", &tripping("feed-drop")).findings;
        // 300 A through 2.6 m of 25 mm² is 0.608 V, 0.638 V with two joints; 35 mm² (0.554 mΩ/m) saves 0.176 V.
        assert_eq!(found[0].advice[0], "`starter-feed` alone loses 0.638 V of it: in 35 mm² it would lose 0.462 V");
    }
}
