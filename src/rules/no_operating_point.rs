#![doc = include_str!("no_operating_point.md")]

use super::{Bench, Family, Judgement, Rule, words};
use crate::finding::{Check, Outcome, Severity};
use crate::study::{Charge, Warmth};

/// The rule.
pub const RULE: Rule = Rule {
    id: "no-operating-point",
    family: Family::Running,
    title: "a state whose loads ask for more than the circuit can bring",
    worst: Severity::Unsafe,
    sources: &["physics"],
    page: include_str!("no_operating_point.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (id, state, study) in bench.states() {
        let mut always = false;
        let mut sometimes = false;
        for warmth in [Warmth::Cool, Warmth::Running, Warmth::Cold] {
            for charge in [Charge::None, Charge::Bulk, Charge::Lowered] {
                let here = || study.cases.iter().filter(|c| c.corner.warmth == warmth && c.corner.charge == charge);
                let failed = here().filter(|c| c.solution.is_err()).count();
                // Joints and an unmeasured body are a guess: only what fails on all of them fails the guide.
                always |= failed > 0 && failed == here().count();
                sometimes |= failed > 0;
            }
        }
        let outcome = match (always, sometimes) {
            (true, _) => Outcome::Found(Severity::Unsafe),
            (false, true) => Outcome::Found(Severity::Query),
            (false, false) => Outcome::Passes,
        };
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: state.name.clone(),
                case: state.label.clone(),
                value: words(if sometimes { "none" } else { "found" }),
                limit: words("a voltage at which every load gets what it asks"),
                margin: String::new(),
                outcome,
                sources: RULE.sources.to_vec(),
            },
            bench.state_span(id),
            || {
                let how = if always { "" } else { "with joints or body at their worst, " };
                format!(
                    "{how}there is no voltage at which the loads of `{}` get what they ask: it collapses when they are switched on",
                    state.name
                )
            },
            || {
                vec![
                    "use thicker or shorter cables to the load that asks most power".into(),
                    "or a battery with less resistance, or less load in this state".into(),
                ]
            },
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{changed, finds, mended, one};

    #[test]
    fn the_edge_is_a_quarter_of_volts_squared_over_ohms() {
        // Worked: 12.6 V behind 20 mΩ (everything measured) gives at most 12.6²/0.08 = 1984.5 W; with the battery
        // half charged, 12.2 V: 1860.5 W.
        let guide = |watts: f64| {
            changed(
                &mended("no-operating-point"),
                &[
                    ("cold-cranking: 500 A EN", "internal-resistance: 5 mΩ"),
                    ("covers: true}\n  inverter:", "covers: true, resistance: 1 mΩ}\n  inverter:"),
                    ("label: Open locker", "label: Open locker, ambient: 20 °C"),
                    ("size: 6 mm², length: 0.3 m", "size: 120 mm², length: 0.3 m, resistance: 2 mΩ"),
                    ("size: 6 mm², length: 2.5 m", "size: 120 mm², length: 2.5 m, resistance: 6 mΩ"),
                    ("size: 6 mm², length: 2.7 m", "size: 120 mm², length: 2.7 m, resistance: 6 mΩ"),
                    ("inverter: 180 W}", &format!("inverter: {watts:.3} W, for: 1 s}}")),
                ],
            )
        };
        assert_eq!(finds("no-operating-point", &guide(1855.0)), []);
        assert_eq!(finds("no-operating-point", &guide(1862.0)), one(Severity::Unsafe, "working"));
    }

    #[test]
    fn what_only_bad_joints_bring_is_asked_about() {
        // Joints of 0.2 in place of 0.05 mΩ add 0.9 mΩ to a loop of about 17 mΩ: five parts in a hundred of the power.
        let guide = |watts: f64| {
            changed(
                &mended("no-operating-point"),
                &[
                    ("cold-cranking: 500 A EN", "internal-resistance: 5 mΩ"),
                    ("covers: true}\n  inverter:", "covers: true, resistance: 1 mΩ}\n  inverter:"),
                    ("size: 6 mm², length: 0.3 m", "size: 16 mm², length: 0.3 m"),
                    ("size: 6 mm², length: 2.5 m", "size: 16 mm², length: 2.5 m"),
                    ("size: 6 mm², length: 2.7 m", "size: 16 mm², length: 2.7 m"),
                    ("inverter: 180 W}", &format!("inverter: {watts:.3} W, for: 1 s}}")),
                ],
            )
        };
        let seen: Vec<_> = (0..60).map(|i| finds("no-operating-point", &guide(1800.0 + 20.0 * f64::from(i)))).collect();
        assert!(seen.contains(&one(Severity::Query, "working")), "{seen:?}");
    }
}
