//! One JSON object a line (JSON Lines): each finding, then each guide, then the tally.

use serde::Serialize;

use super::{Review, Tally};
use crate::finding::{AnswerGiven, Figure, Finding, Severity};
use crate::handbook::sources;

#[derive(Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
enum Line<'a> {
    #[serde(rename_all = "kebab-case")]
    Finding {
        rule: &'a str,
        severity: Severity,
        stops: bool,
        file: &'a str,
        place: Option<Place>,
        subject: &'a str,
        message: &'a str,
        value: Option<&'a Figure>,
        limit: Option<&'a Figure>,
        advice: &'a [String],
        sources: Vec<Source<'a>>,
        answer: Option<&'a AnswerGiven>,
    },
    #[serde(rename_all = "kebab-case")]
    Guide { slug: &'a str, file: &'a str, checks: usize, stands_in_the_way: bool, digest: &'a str },
    #[serde(rename_all = "kebab-case")]
    Tally {
        stands_in_the_way: bool,
        #[serde(flatten)]
        tally: Tally,
    },
}

/// From the first character up to but not including the last; lines and columns count from 1, columns count characters.
#[derive(Serialize)]
#[serde(rename_all = "kebab-case")]
struct Place {
    line: usize,
    column: usize,
    end_line: usize,
    end_column: usize,
}

#[derive(Serialize)]
struct Source<'a> {
    id: &'a str,
    title: &'a str,
    certainty: Option<sources::Certainty>,
}

/// Everything, notes and answered queries too: a machine can leave out what it does not want.
pub fn render(review: &Review<'_>) -> String {
    let mut out = String::new();
    for finding in review.findings() {
        push(&mut out, &finding_line(review, finding));
    }
    for guide in review.guides() {
        let line = Line::Guide {
            slug: &guide.slug,
            file: &guide.file.path,
            checks: super::compared(guide),
            stands_in_the_way: guide.stands_in_the_way(),
            digest: &guide.digest,
        };
        push(&mut out, &line);
    }
    push(&mut out, &Line::Tally { stands_in_the_way: review.stands_in_the_way(), tally: review.tally() });
    out
}

fn push(out: &mut String, line: &Line<'_>) {
    out.push_str(
        &serde_json::to_string(line)
            .expect("every field is text, a number or a list, and no map has keys that are not text"),
    );
    out.push('\n');
}

fn finding_line<'a>(review: &Review<'_>, finding: &'a Finding) -> Line<'a> {
    let source = |id: &&'a str| {
        let known = sources::find(id);
        Source { id, title: known.map_or(*id, |s| s.title), certainty: known.map(|s| s.certainty) }
    };
    Line::Finding {
        rule: finding.rule,
        severity: finding.severity,
        stops: finding.stops(),
        file: &finding.place.file,
        place: review.place(finding).map(|(from, to)| Place {
            line: from.line,
            column: from.column,
            end_line: to.line,
            end_column: to.column,
        }),
        subject: &finding.subject,
        message: &finding.message,
        value: finding.value.as_ref(),
        limit: finding.limit.as_ref(),
        advice: &finding.advice,
        sources: finding.sources.iter().map(source).collect(),
        answer: finding.answer.as_ref(),
    }
}
