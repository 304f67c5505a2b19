//! Reports of what was found: for people at a terminal, one line each, and for machines.
//!
//! Knows no files and prints nothing: each form is a pure function from a [`Review`] to text. All
//! three are renderings of the same [`Finding`] values, in the same order.

pub mod change;
pub mod json;
pub mod lines;
pub mod numbers;
pub mod terminal;

use std::collections::BTreeMap;

use crate::checked::Checked;
use crate::finding::{Finding, Outcome, Severity};
use crate::handbook::sources;
use crate::source::{LineColumn, SourceFile};

/// Everything one run has to report.
pub struct Review<'a> {
    guides: &'a [Checked],
    elsewhere: Vec<&'a Finding>,
    files: BTreeMap<&'a str, &'a SourceFile>,
}

/// How many of what was found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub struct Tally {
    /// Guides looked at.
    pub guides: usize,
    /// Comparisons made with a limit.
    pub checks: usize,
    /// Findings that nothing waives.
    pub unsafe_findings: usize,
    /// Things that could not be read or wired.
    pub unreadable: usize,
    /// Queries without an answer that holds.
    pub queries_open: usize,
    /// Queries with one.
    pub queries_answered: usize,
    /// Notes.
    pub notes: usize,
}

impl<'a> Review<'a> {
    /// Takes guides, findings that belong to none of them, and the other files those findings point into.
    pub fn new(
        guides: &'a [Checked],
        elsewhere: impl IntoIterator<Item = &'a Finding>,
        other_files: impl IntoIterator<Item = &'a SourceFile>,
    ) -> Review<'a> {
        let files = guides.iter().map(|g| &g.file).chain(other_files).map(|f| (&*f.path, f)).collect();
        Review { guides, elsewhere: elsewhere.into_iter().collect(), files }
    }

    /// The guides, in order.
    pub fn guides(&self) -> &'a [Checked] {
        self.guides
    }

    /// Every finding, by file, place and rule.
    pub fn findings(&self) -> Vec<&'a Finding> {
        let mut all: Vec<&Finding> =
            self.guides.iter().flat_map(|g| &g.findings).chain(self.elsewhere.iter().copied()).collect();
        all.sort_by(|a, b| (&a.place.file, a.place.span, a.rule).cmp(&(&b.place.file, b.place.span, b.rule)));
        all
    }

    /// Whether anything stands in the way of publishing these guides.
    pub fn stands_in_the_way(&self) -> bool {
        self.guides.iter().any(Checked::stands_in_the_way) || self.elsewhere.iter().any(|f| f.stops())
    }

    /// Counts.
    pub fn tally(&self) -> Tally {
        let mut tally = Tally { guides: self.guides.len(), ..Tally::default() };
        tally.checks = self.guides.iter().map(compared).sum();
        for finding in self.findings() {
            match (finding.severity, &finding.answer) {
                (Severity::Unsafe, _) => tally.unsafe_findings += 1,
                (Severity::Unreadable, _) => tally.unreadable += 1,
                (Severity::Query, None) => tally.queries_open += 1,
                (Severity::Query, Some(_)) => tally.queries_answered += 1,
                (Severity::Note, _) => tally.notes += 1,
            }
        }
        tally
    }

    fn file(&self, finding: &Finding) -> Option<&'a SourceFile> {
        self.files.get(&*finding.place.file).copied()
    }

    /// Where a finding points; a finding about a file as a whole has no line.
    fn place(&self, finding: &Finding) -> Option<(LineColumn, LineColumn)> {
        let span = finding.place.span;
        if span.end == 0 {
            return None;
        }
        self.file(finding).map(|f| (f.line_column(span.start), f.line_column(span.end)))
    }
}

/// How many comparisons with a limit a guide went through.
fn compared(guide: &Checked) -> usize {
    guide.checks.iter().filter(|c| c.has_limit() && c.outcome != Outcome::NotApplicable).count()
}

/// A source as it is printed: its title, how sure it is, and whose rule it was.
fn source_line(id: &str) -> String {
    let Some(source) = sources::find(id) else { return id.to_owned() };
    let mut line = source.title.to_owned();
    if !source.certainty.may_fail() {
        line.push_str(&format!(" ({})", source.certainty.word()));
    }
    if let Some(scope) = source.adopted_from {
        line.push_str(&format!(" (adopted; written for {scope})"));
    }
    line
}

#[cfg(test)]
mod tests;
