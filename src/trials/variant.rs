//! Variants: trials shown beside the guide's own circuit, say with the wrong return.
//!
//! A variant claims which rules it trips, at least. The numbers are asked: a claim that they
//! contradict stops the build, for the page would teach something that is not so.

use super::judge_changed;
use crate::circuit::{Circuit, wire};
use crate::finding::{Finding, Place, Severity};
use crate::guide::{Guide, Variant};
use crate::rules::limits::Limits;
use crate::rules::{self, Judgement};
use crate::source::Span;
use crate::study::Study;

/// Faults that variants can have, with a one-line gloss each.
pub const FAULTS: &[(&str, &str)] = &[
    ("variant-claim-false", "a variant claims to trip a rule, and its numbers do not"),
    ("variant-claim-unknown", "a variant claims to trip a rule that there is not"),
];

/// One variant, tried.
#[derive(Clone, Debug)]
pub struct VariantTrial {
    /// Its key.
    pub name: String,
    /// For people.
    pub title: String,
    /// What the reader should learn from it.
    pub why: Option<String>,
    /// Its guide: the front matter with the change laid over it.
    pub guide: Guide,
    /// Its circuit.
    pub circuit: Circuit,
    /// Its numbers.
    pub study: Study,
    /// What the rules say of it.
    pub judgement: Judgement,
    /// Rules that it claims to trip.
    pub claimed: Vec<String>,
}

impl VariantTrial {
    /// Whether a rule finds it unsafe or asks about it.
    pub fn trips(&self, rule: &str) -> bool {
        self.judgement.findings.iter().any(|f| f.rule == rule && f.severity >= Severity::Query)
    }
}

/// Tries every variant of a guide. One that cannot be read or wired is left out, with its findings.
pub fn variants(guide: &Guide, limits: &Limits) -> (Vec<VariantTrial>, Vec<Finding>) {
    let mut findings = Vec::new();
    let mut trials = Vec::new();
    for (name, variant) in &guide.variants {
        let (changed, found) = guide.variant(name);
        findings.extend(found);
        let Some(changed) = changed else { continue };
        let (circuit, found) = wire(&changed);
        // A part that only the variant leaves loose has no place of its own: point at the variant.
        findings.extend(found.into_iter().map(|f| at_variant(guide, variant, name, f)));
        let Some(circuit) = circuit else { continue };
        let (study, judgement) = judge_changed(&changed, &circuit, limits);
        let trial = VariantTrial {
            name: name.clone(),
            title: variant.title.value.clone(),
            why: variant.why.as_ref().map(|w| w.value.clone()),
            guide: changed,
            circuit,
            study,
            judgement,
            claimed: variant.trips.iter().map(|t| t.value.clone()).collect(),
        };
        for claim in &variant.trips {
            findings.extend(contradicted(guide, &trial, &claim.value, claim.at));
        }
        trials.push(trial);
    }
    (trials, findings)
}

fn at_variant(guide: &Guide, variant: &Variant, name: &str, finding: Finding) -> Finding {
    Finding {
        place: Place { file: guide.file.path.clone(), span: variant.at },
        message: format!("variant `{name}`: {}", finding.message),
        ..finding
    }
}

fn contradicted(guide: &Guide, trial: &VariantTrial, claim: &str, at: Span) -> Option<Finding> {
    let (rule, message, advice) = if rules::find(claim).is_none() {
        let nearest = rules::ALL.iter().map(|r| (strsim::damerau_levenshtein(r.id, claim), r.id)).min();
        let advice = nearest.map(|(_, id)| format!("did you mean `{id}`?")).into_iter().collect();
        (
            "variant-claim-unknown",
            format!("variant `{}` claims to trip `{claim}`, and there is no such rule", trial.name),
            advice,
        )
    } else if trial.trips(claim) {
        return None;
    } else {
        let tripped: Vec<String> = trial
            .judgement
            .findings
            .iter()
            .filter(|f| f.severity >= Severity::Query)
            .map(|f| format!("`{}`", f.rule))
            .collect::<std::collections::BTreeSet<_>>()
            .into_iter()
            .collect();
        let does = if tripped.is_empty() {
            "it trips no rule at all".into()
        } else {
            format!("it trips {}", tripped.join(", "))
        };
        (
            "variant-claim-false",
            format!("variant `{}` claims to trip `{claim}`, and its numbers do not: {does}", trial.name),
            vec!["claim what the numbers show, or change the variant until it shows what you mean".to_string()],
        )
    };
    Some(Finding {
        rule,
        severity: Severity::Unsafe,
        place: Place { file: guide.file.path.clone(), span: at },
        subject: trial.name.clone(),
        message,
        value: None,
        limit: None,
        advice,
        sources: Vec::new(),
        answer: None,
    })
}
