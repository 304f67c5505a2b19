//! The report for people: what is wrong with its figures, the author's own line, what to change, by which source.

use annotate_snippets::renderer::DecorStyle;
use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};

use super::lines::{is_shown, on_one_line};
use super::{Review, source_line};
use crate::finding::{Finding, Severity};
use crate::source::SourceFile;

/// How the report is to look.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// With colour.
    pub colour: bool,
    /// Columns of the terminal, to which long lines of the author's are cut.
    pub width: usize,
    /// Notes and answered queries too.
    pub all: bool,
}

/// Findings in order, then a summary.
pub fn render(review: &Review<'_>, look: Look) -> String {
    let renderer = if look.colour { Renderer::styled() } else { Renderer::plain() };
    let renderer = renderer.decor_style(DecorStyle::Ascii).term_width(look.width);
    let mut out = String::new();
    for finding in review.findings() {
        if look.all || is_shown(finding) {
            out.push_str(&renderer.render(&[group(review, finding)]));
            out.push_str("\n\n");
        }
    }
    summary(review, look.all, &mut out);
    out
}

fn group<'a>(review: &Review<'a>, finding: &'a Finding) -> Group<'a> {
    let level = match finding.severity {
        Severity::Unsafe | Severity::Unreadable => Level::ERROR,
        Severity::Query => Level::WARNING,
        Severity::Note => Level::NOTE,
    };
    let word = if finding.answer.is_some() { "query, answered" } else { finding.severity.word() };
    let title = level.with_name(word).primary_title(on_one_line(&finding.message)).id(finding.rule);
    let mut group = match review.file(finding).filter(|_| review.place(finding).is_some()) {
        Some(file) => Group::with_title(title).element(snippet(file, finding)),
        // A finding that has no line still says which file it is about.
        None => Group::with_title(title).element(Origin::path(&*finding.place.file)),
    };
    for advice in &finding.advice {
        group = group.element(Level::HELP.with_name("change").message(on_one_line(advice)));
    }
    for source in &finding.sources {
        group = group.element(Level::INFO.with_name("source").message(source_line(source)));
    }
    if let Some(answer) = &finding.answer {
        let text = format!("{} ({}, until {})", answer.reason, answer.by, answer.until);
        group = group.element(Level::INFO.with_name("answer").message(on_one_line(&text)));
    }
    group
}

/// The author's own line, with the place marked. A place that spans lines is marked on its first.
fn snippet<'a>(file: &'a SourceFile, finding: &Finding) -> Snippet<'a, annotate_snippets::Annotation<'a>> {
    let at = file.line_column(finding.place.span.start);
    let line = file.line(at.line);
    let text_before = line.char_indices().nth(at.column - 1).map_or(line.len(), |(i, _)| i);
    let length = finding.place.span.end.saturating_sub(finding.place.span.start);
    let mut end = (text_before + length).clamp(text_before, line.len());
    while !line.is_char_boundary(end) {
        end += 1;
    }
    Snippet::source(line)
        .path(&*file.path)
        .line_start(at.line)
        .annotation(AnnotationKind::Primary.span(text_before..end))
}

fn summary(review: &Review<'_>, all: bool, out: &mut String) {
    let tally = review.tally();
    let mut found = Vec::new();
    if tally.unsafe_findings > 0 {
        found.push(format!("{} unsafe", tally.unsafe_findings));
    }
    if tally.unreadable > 0 {
        found.push(format!("{} unreadable", tally.unreadable));
    }
    match (tally.queries_open, tally.queries_answered) {
        (0, 0) => {}
        (open, 0) => found.push(format!("{} unanswered", count(open, "query", "queries"))),
        (0, answered) => found.push(format!("{} answered", count(answered, "query", "queries"))),
        (open, answered) => {
            found.push(format!(
                "{} ({open} unanswered, {answered} answered)",
                count(open + answered, "query", "queries")
            ));
        }
    }
    if tally.notes > 0 {
        found.push(count(tally.notes, "note", "notes"));
    }
    let found = if found.is_empty() { "nothing found".to_owned() } else { found.join(", ") };
    let checks = count(tally.checks, "comparison", "comparisons");
    out.push_str(&format!("{}, {checks} with a limit: {found}.\n", count(tally.guides, "guide", "guides")));
    if all {
        for guide in review.guides() {
            let digest = if guide.digest.is_empty() { "none, it could not be wired" } else { &guide.digest };
            out.push_str(&format!(
                "  {}: {}; digest {digest}\n",
                guide.slug,
                count(super::compared(guide), "comparison", "comparisons")
            ));
        }
    } else if tally.notes + tally.queries_answered > 0 {
        out.push_str("Notes and answered queries are folded away; --all shows them.\n");
    }
    let later: Vec<&str> = review
        .guides()
        .iter()
        .filter(|g| g.stops() && !g.stands_in_the_way() && !g.is_withdrawn())
        .map(|g| g.slug.as_str())
        .collect();
    if !later.is_empty() {
        out.push_str(&format!("Working, and not fit for the site yet: {}.\n", later.join(", ")));
    }
    if !review.stands_in_the_way() {
        out.push_str("Nothing found stands in the way of publishing.\n");
        return;
    }
    let stopping: Vec<&str> =
        review.guides().iter().filter(|g| g.stands_in_the_way()).map(|g| g.slug.as_str()).collect();
    if stopping.is_empty() {
        out.push_str("Not to be published as it stands.\n");
    } else {
        out.push_str(&format!("Not to be published as it stands: {}.\n", stopping.join(", ")));
    }
    if tally.unsafe_findings > 0 {
        out.push_str(
            "If readers have an unsafe guide already, withdraw it: its page then says what was wrong and what to do.\n",
        );
    }
}

fn count(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}
