//! What a finding is, and what a passed check is.
//!
//! Knows nothing of guides, quantities or rules: a finding is facts already put into words, with
//! its place. Every renderer (terminal, one-line, machine, page) draws on this one value.

use std::sync::Arc;

use crate::source::Span;

/// How hard a finding bites. Later is worse.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Informs; stops nothing.
    Note,
    /// Stops the publish until a reviewer has answered it in the guide.
    Query,
    /// Could not be read or wired, so it could not be judged. Stops the publish.
    Unreadable,
    /// Stops the publish; nothing waives it.
    Unsafe,
}

impl Severity {
    /// The word shown to people.
    pub const fn word(self) -> &'static str {
        match self {
            Severity::Note => "note",
            Severity::Query => "query",
            Severity::Unreadable => "unreadable",
            Severity::Unsafe => "unsafe",
        }
    }
}

/// A number with the words it is shown in.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Figure {
    /// In SI, for machines.
    pub si: f64,
    /// The SI unit's symbol.
    pub unit: &'static str,
    /// As people read it, with unit.
    pub shown: String,
}

/// Where a finding points.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Place {
    /// The file's path as shown.
    pub file: Arc<str>,
    /// Where in it.
    pub span: Span,
}

/// A reviewer's written answer to a query, as it stands in the guide.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct AnswerGiven {
    /// Why it is right here.
    pub reason: String,
    /// Who says so.
    pub by: String,
    /// The last day on which the answer holds, as an ISO 8601 date.
    pub until: String,
}

/// What a rule says of a guide, at a line of the file.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// The rule's id, or the id of a reading or wiring fault.
    pub rule: &'static str,
    /// How hard it bites.
    pub severity: Severity,
    /// Where it points.
    pub place: Place,
    /// The part, run or state it is about, as the author named it; empty for the guide as a whole.
    pub subject: String,
    /// What is wrong, with the figure and the limit: makes sense alone on one line.
    pub message: String,
    /// The figure, when there is one.
    pub value: Option<Figure>,
    /// The limit it was held against.
    pub limit: Option<Figure>,
    /// What to change, with the figure it would give; one sentence an entry.
    pub advice: Vec<String>,
    /// Ids of the published sources, in the handbook's list.
    pub sources: Vec<&'static str>,
    /// For a query: the answer in the guide, if there is one that holds today.
    pub answer: Option<AnswerGiven>,
}

impl Finding {
    /// Whether this finding stops the publish.
    pub fn stops(&self) -> bool {
        match self.severity {
            Severity::Note => false,
            Severity::Query => self.answer.is_none(),
            Severity::Unreadable | Severity::Unsafe => true,
        }
    }
}

/// How a check came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// Within the limit.
    Passes,
    /// Outside, as a finding of this severity says.
    Found(Severity),
    /// The rule has nothing to judge here; the check's `value` says why.
    NotApplicable,
}

/// One comparison that was made, whether it passed or not: a row of "what was checked".
#[derive(Clone, Debug, PartialEq)]
pub struct Check {
    /// The rule's id.
    pub rule: &'static str,
    /// The part, run or span judged, as the author named it.
    pub subject: String,
    /// On which case: state, temperature, joints.
    pub case: String,
    /// What was found.
    pub value: Figure,
    /// What it was held against.
    pub limit: Figure,
    /// How far inside (or outside) the limit it is, in words: "0.11 V to spare".
    pub margin: String,
    /// Pass or not.
    pub outcome: Outcome,
    /// Ids of the published sources.
    pub sources: Vec<&'static str>,
}

/// What stands for a limit in a row that is there to be read, with nothing to fail.
pub const NO_LIMIT: &str = "no limit";

impl Check {
    /// Whether the figure was held against anything.
    pub fn has_limit(&self) -> bool {
        self.limit.shown != NO_LIMIT
    }
}
