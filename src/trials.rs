//! Trials: the same circuit changed, and studied and judged again.
//!
//! The only loop in the flow of stages. A trial edits a circuit and calls [`study`] and [`judge`] as
//! the guide's own circuit was: it may reuse work, never a simpler model. Knows no words but names.
//!
//! * [`variant`]: a circuit shown beside the guide's own, whose claim must hold.
//! * [`headroom`]: how much longer, thinner or more loaded each run may be.
//! * [`culprit`]: each joint, run and strap degraded in turn, and the pattern of readings it leaves.
//!
//! [`study`]: crate::study::study
//! [`judge`]: crate::rules::judge

pub mod change;
pub mod culprit;
pub mod headroom;
pub mod variant;

#[cfg(test)]
mod tests;

use std::collections::BTreeSet;

use crate::circuit::Circuit;
use crate::finding::{Finding, Severity};
use crate::guide::Guide;
use crate::rules::limits::Limits;
use crate::rules::{self, Bench, Judgement};
use crate::study::{self, Study};

pub use culprit::Culprit;
pub use headroom::Headroom;
pub use variant::VariantTrial;

/// Everything tried with one guide.
#[derive(Clone, Debug, Default)]
pub struct Trials {
    /// Variants, in the author's order.
    pub variants: Vec<VariantTrial>,
    /// By run; none of a guide with an unsafe finding.
    pub headroom: Vec<Headroom>,
    /// What each culprit would do to the readings.
    pub culprits: Vec<Culprit>,
}

/// Tries everything with a guide that was judged. Findings are those of variants whose claim the
/// numbers contradict; `judgement`'s own findings get advice from the same search.
pub fn trials(bench: &Bench<'_>, judgement: &mut Judgement) -> (Trials, Vec<Finding>) {
    let (variants, findings) = variant::variants(bench.guide, bench.limits);
    headroom::advise(bench, judgement);
    let standing = Verdict::of(&judgement.findings);
    // How much longer an unsafe run may be is no question; its mending comes first, and soon.
    let is_unsafe = judgement.findings.iter().any(|f| f.severity >= Severity::Unsafe);
    let headroom = if is_unsafe { Vec::new() } else { headroom::headroom(bench, &standing) };
    let culprits = culprit::culprits(bench.circuit, bench.study);
    (Trials { variants, headroom, culprits }, findings)
}

/// What stands in the way of a guide: rule and subject of every query and unsafe.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Verdict(BTreeSet<(&'static str, String, Severity)>);

impl Verdict {
    /// Of what a judgement found.
    pub fn of(findings: &[Finding]) -> Verdict {
        let stopping = findings.iter().filter(|f| f.severity >= Severity::Query);
        Verdict(stopping.map(|f| (f.rule, f.subject.clone(), f.severity)).collect())
    }

    /// Whether nothing stands here that did not stand in `before`.
    pub fn no_worse_than(&self, before: &Verdict) -> bool {
        self.0.is_subset(&before.0)
    }

    /// What stands here and did not in `before`, the worst first.
    pub fn new_since<'v>(&'v self, before: &'v Verdict) -> Vec<&'v (&'static str, String, Severity)> {
        let mut new: Vec<_> = self.0.difference(&before.0).collect();
        new.sort_by_key(|(rule, subject, severity)| (std::cmp::Reverse(*severity), *rule, subject.clone()));
        new
    }

    /// Whether a finding stands in the way that did not before.
    pub fn is_new(&self, finding: &Finding) -> bool {
        finding.severity >= Severity::Query
            && !self.0.contains(&(finding.rule, finding.subject.clone(), finding.severity))
    }

    /// Whether a rule stands in the way of a subject.
    pub fn holds(&self, rule: &str, subject: &str) -> bool {
        self.0.iter().any(|(r, s, _)| *r == rule && s == subject)
    }
}

/// Studies and judges a changed circuit against its guide's words.
pub fn judge_changed(guide: &Guide, circuit: &Circuit, limits: &Limits) -> (Study, Judgement) {
    let study = study::study(circuit);
    let judgement = rules::judge(&Bench { guide, circuit, study: &study, limits });
    (study, judgement)
}
