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

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, changed, finds, mended, one};

    #[test]
    fn each_kind_is_missed_when_no_state_has_it() {
        assert_eq!(finds("never-on", VAN), []);
        let parked = changed(
            VAN,
            &[("  starting: {starter: cranking, panel: 15 A}\n  charging: {alternator: running, panel: 45 A}\n", "")],
        );
        assert_eq!(
            finds("never-on", &parked),
            [(Severity::Query, "starter".into()), (Severity::Query, "alternator".into())]
        );
    }

    #[test]
    fn the_boundary_is_nothing_at_all() {
        let with = |doing: &str| {
            finds("never-on", &changed(&mended("never-on"), &[("pump: 15 A}", &format!("pump: {doing}}}"))]))
        };
        assert_eq!(with("1 mA"), []);
        assert_eq!(with("1 mW"), []);
        assert_eq!(with("0 A"), one(Severity::Query, "pump"));
        assert_eq!(with("0 W"), one(Severity::Query, "pump"));
    }
}
