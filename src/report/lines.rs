//! One finding a line: file, line, column, how hard it bites, rule, message.

use super::Review;
use crate::finding::{Finding, Severity};

/// One finding a line. Notes and answered queries are left out unless `all`.
pub fn render(review: &Review<'_>, all: bool) -> String {
    let mut out = String::new();
    for finding in review.findings() {
        if all || is_shown(finding) {
            out.push_str(&line(review, finding));
            out.push('\n');
        }
    }
    out
}

/// Whether a finding is shown to somebody who did not ask for all.
pub(super) fn is_shown(finding: &Finding) -> bool {
    finding.severity > Severity::Note && finding.answer.is_none()
}

fn line(review: &Review<'_>, finding: &Finding) -> String {
    let place = review.place(finding).map(|(from, _)| format!(":{}:{}", from.line, from.column)).unwrap_or_default();
    let answered = if finding.answer.is_some() { " (answered)" } else { "" };
    let text = format!(
        "{}{place}: {}{answered} {}: {}",
        finding.place.file,
        finding.severity.word(),
        finding.rule,
        finding.message
    );
    on_one_line(&text)
}

/// The author's words may hold line ends, and worse: none may start a line or a terminal's command.
pub(super) fn on_one_line(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect()
}
