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
