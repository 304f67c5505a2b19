//! The catalogue of rules. Each judges a guide by its study and solves nothing itself.
//!
//! One rule, one file: `src/rules/<id with underscores>.rs`, with its page beside it as
//! `src/rules/<id with underscores>.md`: module doc, page on the site and answer to `explain`.

use crate::circuit::Circuit;
use crate::finding::{Check, Finding};
use crate::guide::Guide;
use crate::study::Study;

/// What a rule is about; the order of the catalogue.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Family {
    /// Ordinary running: drops, heat.
    Running,
    /// Fuses, breakers, faults.
    Protection,
    /// Battery housing, gas, restraint.
    Battery,
    /// Ends, covers, supports.
    Ends,
    /// The guide's words.
    Words,
}

/// One rule of the catalogue.
pub struct Rule {
    /// Kebab-case; names the fault.
    pub id: &'static str,
    /// What it is about.
    pub family: Family,
    /// One line: what it checks.
    pub title: &'static str,
    /// Ids of its published sources in [`crate::handbook::sources`].
    pub sources: &'static [&'static str],
    /// Its page, in Markdown.
    pub page: &'static str,
    /// Judges.
    pub judge: fn(&Bench<'_>, &mut Judgement),
}

/// What a rule may look at.
pub struct Bench<'a> {
    /// The guide as written.
    pub guide: &'a Guide,
    /// Its circuit.
    pub circuit: &'a Circuit,
    /// Its study.
    pub study: &'a Study,
}

/// What rules have said.
#[derive(Clone, Debug, Default)]
pub struct Judgement {
    /// Every comparison made.
    pub checks: Vec<Check>,
    /// What is wrong.
    pub findings: Vec<Finding>,
}

/// Every rule, in page order.
pub const ALL: &[Rule] = &[];

/// Judges a guide by every rule.
pub fn judge(bench: &Bench<'_>) -> Judgement {
    let mut judgement = Judgement::default();
    for rule in ALL {
        (rule.judge)(bench, &mut judgement);
    }
    judgement
}
