#![doc = include_str!("never_on.md")]

use super::{Bench, Family, Judgement, Rule, words};
use crate::circuit::{Activity, Kind, PartId};
use crate::finding::{Check, Outcome, Severity};

/// The rule.
pub const RULE: Rule = Rule {
    id: "never-on",
    family: Family::Running,
    title: "a load or source that no state switches on, so that nothing about it was judged",
    worst: Severity::Query,
    sources: &["judgement"],
    page: include_str!("never_on.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (i, part) in bench.circuit.parts.iter().enumerate() {
        let write = match part.kind {
            Kind::Load(_) => "15 A",
            Kind::Starter(_) => "cranking",
            Kind::Alternator(_) | Kind::Charger(_) => "running",
            _ => continue,
        };
        let on = bench.circuit.states.iter().find(|s| {
            !matches!(s.parts[i], Activity::Idle | Activity::Open)
                && s.parts[i] != Activity::Takes(crate::quantity::Current::zero())
                && s.parts[i] != Activity::Power(crate::quantity::Power::zero())
        });
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: part.name.clone(),
                case: on.map(|s| s.label.clone()).unwrap_or_default(),
                value: words(if on.is_some() { "on" } else { "never on" }),
                limit: words("on in some state"),
                margin: String::new(),
                outcome: if on.is_some() { Outcome::Passes } else { Outcome::Found(Severity::Query) },
                sources: RULE.sources.to_vec(),
            },
            bench.part_span(PartId(i)),
            || {
                format!(
                    "no state switches `{}` on, so that its voltage and its cables' heat were not judged",
                    part.name
                )
            },
            || vec![format!("add it to the state in which it works: `{}: {write}`", part.name)],
        );
    }
}
