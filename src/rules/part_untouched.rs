#![doc = include_str!("part_untouched.md")]

use std::collections::BTreeSet;

use super::{Bench, Family, Judgement, Rule, words};
use crate::circuit::{PartId, RunId};
use crate::finding::{Check, Outcome, Severity};
use crate::guide::Target;
use crate::source::Span;

/// The rule.
pub const RULE: Rule = Rule {
    id: "part-untouched",
    family: Family::Words,
    title: "a part that no step of the work touches",
    worst: Severity::Query,
    sources: &["judgement"],
    page: include_str!("part_untouched.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let touched: BTreeSet<&Target> = bench.guide.text.steps().flat_map(|s| &s.links).map(|l| &l.target).collect();
    for (i, part) in bench.circuit.parts.iter().enumerate() {
        let there = touched.contains(&Target::Part(part.name.clone()));
        row(bench, judgement, &part.name, "part", there, Severity::Query, bench.part_span(PartId(i)));
    }
    for (i, run) in bench.circuit.runs.iter().enumerate() {
        let there = touched.contains(&Target::Run(run.name.clone()));
        row(bench, judgement, &run.name, "run", there, Severity::Note, bench.run_span(RunId(i)));
    }
}

fn row(
    bench: &Bench<'_>,
    judgement: &mut Judgement,
    name: &str,
    kind: &str,
    there: bool,
    severity: Severity,
    at: Span,
) {
    judgement.say(
        bench,
        Check {
            rule: RULE.id,
            subject: name.to_string(),
            case: String::new(),
            value: words(if there { "in a step" } else { "in no step" }),
            limit: words("in some step"),
            margin: String::new(),
            outcome: if there { Outcome::Passes } else { Outcome::Found(severity) },
            sources: RULE.sources.to_vec(),
        },
        at,
        || format!("no step touches `{name}`: a reader is never told to fit it or to look at it, and its cautions stand at no step"),
        || vec![format!("link it in the step that fits it or looks at it: `[{}]({kind}:{name})`", name.replace('-', " "))],
    );
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{changed, finds, mended, one};

    #[test]
    fn a_part_is_asked_about_and_a_run_is_noted() {
        let without = changed(
            &mended("part-untouched"),
            &[("[the lead](run:lead)", "the lead"), ("[the pump](part:pump)", "the pump")],
        );
        assert_eq!(
            finds("part-untouched", &without),
            [(Severity::Query, "pump".into()), (Severity::Note, "lead".into())]
        );
    }

    #[test]
    fn a_link_outside_the_steps_does_not_touch() {
        let text = changed(
            &mended("part-untouched"),
            &[
                ("[the pump](part:pump)", "the pump"),
                ("---\n1. Take", "---\nThis is [the pump](part:pump).\n\n1. Take"),
            ],
        );
        assert_eq!(finds("part-untouched", &text), one(Severity::Query, "pump"));
    }

    #[test]
    fn a_guide_without_steps_touches_nothing() {
        let text = mended("part-untouched");
        let head = text.find("\n1. ").map(|i| &text[..i]).unwrap();
        let queries = finds("part-untouched", &format!("{head}\nNo steps.\n"));
        assert_eq!(queries.iter().filter(|f| f.0 == Severity::Query).count(), 3);
    }
}
