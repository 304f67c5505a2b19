#![doc = include_str!("return_drop.md")]

use super::drops::{Held, Spread, thicker_between};
use super::{Bench, Bound, Family, Judgement, Rule};
use crate::circuit::Activity;
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
                        let (_, b) = bench.leading_battery(solved)?;
                        let too_much = Voltage::volts(lost(solved)) - hard.value;
                        thicker_between(bench, solved, starter.negative, b.negative, too_much)
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

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, changed, finds, mended, one};

    fn guide(returns: &str) -> String {
        // No body: everything comes home through the one cable and the starter's bolt.
        let without = changed(
            &mended("return-drop"),
            &[
                ("  body: {is: body}\n", ""),
                ("  body-bond: {from: battery-, to: body@bay, size: 25 mm², length: 0.3 m}\n", ""),
                ("  engine-strap: {from: engine, to: body@bay, size: 25 mm², length: 0.4 m, strap: true}\n", ""),
                (" and\n   [the bond](run:body-bond)", ""),
                (
                    ", and bolt [the strap](run:engine-strap) between\n   [engine](part:engine) and [body](part:body)",
                    " on [the engine](part:engine)",
                ),
                ("bolted-to: engine", "bolted-to: engine, bolt-resistance: 0.2 mΩ"),
                ("current: 300 A", "current: 250 A"),
            ],
        );
        changed(&without, &[("length: 0.8 m", &format!("length: 0.8 m, resistance: {returns}"))])
    }

    #[test]
    fn seven_tenths_of_a_volt_pass_and_a_hair_more_is_unsafe() {
        // US Army TM 5-3895-382-24, Table 30: 0.7 V at 12 V; 250 A through 2.8 mΩ.
        assert_eq!(finds("return-drop", &guide("2.6 mΩ")), one(Severity::Note, "starter"));
        assert_eq!(finds("return-drop", &guide("2.601 mΩ")), one(Severity::Unsafe, "starter"));
    }

    #[test]
    fn the_note_begins_over_two_tenths() {
        // US Army TM 5-3820-256-24-4: 0.2 V on the ground side.
        assert_eq!(finds("return-drop", &guide("0.6 mΩ")), []);
        assert_eq!(finds("return-drop", &guide("0.601 mΩ")), one(Severity::Note, "starter"));
    }

    #[test]
    fn a_body_that_nobody_measured_is_asked_about_and_one_measured_is_not() {
        let unmeasured = |body: &str| {
            changed(
                VAN,
                &[
                    (
                        "  main-return: {from: battery-, to: engine, size: 70 mm², covering: conduit, laid: {load: 0.6 m, cab: 3.0 m, bay: 1.1 m}}\n",
                        "",
                    ),
                    ("[main return](run:main-return)", "main return"),
                    ("between: {load to bay: 5.5 mΩ}", body),
                    ("{is: body, ", "{is: body"),
                ],
            )
        };
        // From 0.5 mΩ end to end to 5 mΩ: 140 A through the bad end is 0.7 V by itself.
        assert_eq!(finds("return-drop", &unmeasured("")), one(Severity::Query, "starter"));
        let measured = unmeasured(", between: {load to bay: 5.5 mΩ}");
        assert_eq!(finds("return-drop", &measured), one(Severity::Unsafe, "starter"));
        let good = unmeasured(", between: {load to bay: 1 mΩ}");
        assert_eq!(finds("return-drop", &good), one(Severity::Note, "starter"));
    }

    #[test]
    fn the_van_s_variant_trips_this_rule() {
        let without = changed(
            VAN,
            &[
                (
                    "  main-return: {from: battery-, to: engine, size: 70 mm², covering: conduit, laid: {load: 0.6 m, cab: 3.0 m, bay: 1.1 m}}\n",
                    "",
                ),
                ("[main return](run:main-return)", "main return"),
            ],
        );
        assert_eq!(finds("return-drop", &without), one(Severity::Unsafe, "starter"));
    }
}
