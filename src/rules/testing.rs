//! What the rules' tests share: a guide's text in, what the rules say of it out; and the tests that
//! hold for every rule of the catalogue.

use super::{ALL, Bench, Judgement, Rule, find};
use crate::circuit::{Circuit, wire};
use crate::finding::{Check, Finding, Outcome, Severity};
use crate::guide::Guide;
use crate::handbook::sources;
use crate::source::SourceFile;
use crate::study::{Study, study};

/// A guide that no rule finds unsafe or asks about, for tests that change one thing in it: the
/// worked example of the project's design, with steps.
pub const VAN: &str = include_str!("testing/van.md");

/// A guide taken through every stage up to the rules.
pub struct Studied {
    /// As read.
    pub guide: Guide,
    /// As wired.
    pub circuit: Circuit,
    /// As studied.
    pub study: Study,
}

impl Studied {
    /// What rules may look at.
    pub fn bench(&self) -> Bench<'_> {
        Bench::new(&self.guide, &self.circuit, &self.study)
    }
}

/// Reads, wires and studies a guide's text. A text that cannot be is a fault of the test, and says why.
pub fn studied(text: &str) -> Studied {
    let file = SourceFile::new("guide.md", text);
    let (guide, found) = crate::guide::read(file, "guide");
    let guide = guide.unwrap_or_else(|| panic!("not readable:\n{}", lines(text, &found)));
    assert!(found.is_empty(), "not read without faults:\n{}", lines(text, &found));
    let (circuit, found) = wire(&guide);
    let circuit = circuit.unwrap_or_else(|| panic!("not wired:\n{}", lines(text, &found)));
    let study = study(&circuit);
    Studied { guide, circuit, study }
}

/// What every rule says of a guide.
pub fn check(text: &str) -> Judgement {
    let studied = studied(text);
    let mut judgement = Judgement::default();
    for rule in ALL {
        judge_one(rule, &studied, text, &mut judgement);
    }
    judgement
}

/// What one rule says of a guide.
pub fn check_rule(id: &str, text: &str) -> Judgement {
    let rule = find(id).unwrap_or_else(|| panic!("no rule `{id}`"));
    let mut judgement = Judgement::default();
    judge_one(rule, &studied(text), text, &mut judgement);
    judgement
}

/// Judges by one rule and holds what it says against what every rule must keep.
fn judge_one(rule: &Rule, studied: &Studied, text: &str, judgement: &mut Judgement) {
    let mut own = Judgement::default();
    (rule.judge)(&studied.bench(), &mut own);
    for check in &own.checks {
        assert_eq!(check.rule, rule.id, "a check of another rule");
        for source in &check.sources {
            assert!(rule.sources.contains(source), "`{}` names `{source}`, which it does not list", rule.id);
        }
        if check.outcome == Outcome::Found(Severity::Unsafe) {
            assert!(
                check.sources.iter().any(|s| sources::find(s).is_some_and(|s| s.certainty.may_fail())),
                "`{}` fails `{}` on {:?}, and none of these may fail a guide",
                rule.id,
                check.subject,
                check.sources
            );
        }
    }
    let rows = own.checks.iter().filter(|c| matches!(c.outcome, Outcome::Found(_))).count();
    assert_eq!(rows, own.findings.len(), "`{}`: a finding without its row of what was checked", rule.id);
    for finding in &own.findings {
        assert_eq!(finding.rule, rule.id, "a finding of another rule");
        assert!(finding.severity <= rule.worst, "`{}` bites harder than it says: {}", rule.id, finding.message);
        assert!(!finding.message.is_empty() && !finding.message.ends_with('.'), "`{}`: {:?}", rule.id, finding.message);
        assert!(
            finding.severity == Severity::Note || !finding.advice.is_empty(),
            "`{}` stops a publish and does not say what to change: {}",
            rule.id,
            finding.message
        );
        assert!(finding.place.span.end <= text.len(), "`{}` points past the end of the file", rule.id);
    }
    judgement.checks.append(&mut own.checks);
    judgement.findings.append(&mut own.findings);
}

/// Severity and subject of what one rule found, in its order: what most tests compare.
pub fn found<'j>(judgement: &'j Judgement, id: &str) -> Vec<(Severity, &'j str)> {
    judgement.findings.iter().filter(|f| f.rule == id).map(|f| (f.severity, f.subject.as_str())).collect()
}

/// Severity and subject of what one rule finds in a guide.
pub fn finds(id: &str, text: &str) -> Vec<(Severity, String)> {
    check_rule(id, text).findings.into_iter().map(|f| (f.severity, f.subject)).collect()
}

/// A text with changes made: each `from` must stand in it exactly once, so that a change that
/// changes nothing is noticed.
pub fn changed(text: &str, changes: &[(&str, &str)]) -> String {
    let mut text = text.to_string();
    for (from, to) in changes {
        assert_eq!(text.matches(from).count(), 1, "`{from}` must stand exactly once in\n{text}");
        text = text.replacen(from, to, 1);
    }
    text
}

/// The guide in a rule's page that trips it.
pub fn tripping(id: &str) -> String {
    example(id, "trips")
}

/// The guide in a rule's page that is mended.
pub fn mended(id: &str) -> String {
    example(id, "mended")
}

fn example(id: &str, word: &str) -> String {
    let rule = find(id).unwrap_or_else(|| panic!("no rule `{id}`"));
    examples(rule.page, word).into_iter().next().unwrap_or_else(|| panic!("`{id}` has no example that is {word}"))
}

/// The one finding that a rule makes of a guide about a subject, in the form that most tests compare.
pub fn one(severity: Severity, subject: &str) -> Vec<(Severity, String)> {
    vec![(severity, subject.to_string())]
}

/// Seeks the edge of a rule between a figure at which it keeps quiet about a guide and one at which it
/// bites this hard, and gives the worst row on either side: just inside and just outside.
///
/// `guide` writes the guide for a figure. The two sides end up within a part in ten thousand of each other.
pub fn edge(
    id: &'static str,
    severity: Severity,
    guide: impl Fn(f64) -> String,
    quiet: f64,
    bites: f64,
) -> (Check, Check) {
    let bitten = |x: f64| {
        let checks = check_rule(id, &guide(x)).checks;
        checks.iter().find(|c| c.outcome == Outcome::Found(severity)).cloned().ok_or(checks)
    };
    assert!(bitten(quiet).is_err(), "`{id}` bites already at {quiet}");
    let mut outside = bitten(bites).unwrap_or_else(|_| panic!("`{id}` does not bite at {bites}"));
    let (mut quiet, mut bites) = (quiet, bites);
    while (bites - quiet).abs() > 1e-4 * bites.abs().max(quiet.abs()) {
        let middle = (quiet + bites) / 2.0;
        match bitten(middle) {
            Ok(check) => (bites, outside) = (middle, check),
            Err(_) => quiet = middle,
        }
    }
    let inside = bitten(quiet).expect_err("it was quiet there");
    // The row that is about to bite: same subject, same limit.
    let inside = inside
        .into_iter()
        .find(|c| c.subject == outside.subject && c.limit == outside.limit && c.outcome == Outcome::Passes)
        .unwrap_or_else(|| panic!("`{id}` has no row for `{}` that passes at {quiet}", outside.subject));
    (inside, outside)
}

/// That an edge lies at this limit, in SI, and bites on its far side.
pub fn assert_edge_at((inside, outside): &(Check, Check), limit: f64) {
    assert!((outside.limit.si - limit).abs() <= 1e-9 * limit.abs(), "the limit is {:?}, not {limit}", outside.limit);
    let apart = |c: &Check| (c.value.si - limit).abs();
    assert!(
        apart(inside) <= 1e-3 * limit.abs() && apart(outside) <= 1e-3 * limit.abs(),
        "the edge is not at {limit}: {inside:?} {outside:?}"
    );
}

/// Findings, one a line, as a failed test shows them.
pub fn lines(text: &str, findings: &[Finding]) -> String {
    let file = SourceFile::new("guide.md", text);
    let line = |f: &Finding| {
        let place = file.line_column(f.place.span.start);
        format!("{}:{} {} [{}] {}: {}", place.line, place.column, f.severity.word(), f.rule, f.subject, f.message)
    };
    findings.iter().map(line).collect::<Vec<_>>().join("\n")
}

/// The guides fenced in a rule's page, by the word after `guide`: `trips` or `mended`.
fn examples(page: &str, word: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut lines = page.lines();
    while let Some(line) = lines.next() {
        if line.trim_end() == format!("```guide {word}") {
            found.push(lines.by_ref().take_while(|l| l.trim_end() != "```").map(|l| format!("{l}\n")).collect());
        }
    }
    found
}

const HEADINGS: [&str; 6] =
    ["## What it checks", "## Why it matters", "## An example", "## What to do", "## What it cannot see", "## Sources"];

fn file_name(rule: &Rule) -> String {
    rule.id.replace('-', "_")
}

#[test]
fn ids_are_kebab_case_and_unique_and_name_their_files() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/rules");
    let mut seen = std::collections::BTreeSet::new();
    for rule in ALL {
        let kebab = rule
            .id
            .split('-')
            .all(|w| !w.is_empty() && w.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit()));
        assert!(kebab, "{}", rule.id);
        assert!(seen.insert(file_name(rule)), "`{}` stands twice", rule.id);
        let page = std::fs::read_to_string(folder.join(format!("{}.md", file_name(rule)))).expect(rule.id);
        assert_eq!(page, rule.page, "`{}` shows another rule's page", rule.id);
        assert!(folder.join(format!("{}.rs", file_name(rule))).is_file(), "{}", rule.id);
    }
    // A rule that is written and not listed would judge nothing.
    for entry in std::fs::read_dir(folder).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        if let Some(stem) = name.strip_suffix(".md") {
            assert!(seen.contains(stem), "{name} is the page of a rule that is not in the catalogue");
        }
    }
}

#[test]
fn the_catalogue_is_in_page_order() {
    assert!(ALL.is_sorted_by_key(|r| r.family), "rules stand by family, as `Family` orders them");
}

#[test]
fn every_page_has_its_headings_in_order() {
    for rule in ALL {
        let headings: Vec<&str> = rule.page.lines().filter(|l| l.starts_with("## ")).collect();
        assert_eq!(headings, HEADINGS, "{}", rule.id);
        assert!(rule.page.starts_with("# "), "{}", rule.id);
        assert!(rule.page.lines().all(|l| l.len() <= 160), "`{}` has a line too long to read in a terminal", rule.id);
        assert!(!rule.title.is_empty() && !rule.title.ends_with('.'), "{}", rule.id);
    }
}

#[test]
fn every_rule_names_known_sources_and_fails_no_guide_on_memory_or_judgement() {
    for rule in ALL {
        let known: Vec<_> = rule
            .sources
            .iter()
            .map(|id| sources::find(id).unwrap_or_else(|| panic!("`{}` names unknown source `{id}`", rule.id)))
            .collect();
        assert!(!known.is_empty(), "`{}` names no source", rule.id);
        if rule.worst == Severity::Unsafe {
            assert!(known.iter().any(|s| s.certainty.may_fail()), "`{}` is unsafe on memory or judgement", rule.id);
        }
    }
}

#[test]
fn every_page_shows_a_guide_that_trips_its_rule_and_one_that_is_mended() {
    let mut wrong = Vec::new();
    for rule in ALL {
        let (trips, mended) = (examples(rule.page, "trips"), examples(rule.page, "mended"));
        if trips.len() != 1 || mended.len() != 1 {
            wrong.push(format!("`{}`: {} examples that trip it, {} mended", rule.id, trips.len(), mended.len()));
            continue;
        }
        if !check_rule(rule.id, &trips[0]).findings.iter().any(|f| f.severity == rule.worst) {
            wrong.push(format!("`{}`: its example brings no {}", rule.id, rule.worst.word()));
        }
        let left = check(&mended[0]).findings;
        let own: Vec<Finding> = left
            .iter()
            .filter(|f| f.rule == rule.id && f.severity >= rule.worst.min(Severity::Query))
            .cloned()
            .collect();
        if !own.is_empty() {
            wrong.push(format!("`{}`: its mended example still brings\n{}", rule.id, lines(&mended[0], &own)));
        }
        // Readers copy examples: the mended one must not be unsafe by any other rule.
        let others: Vec<Finding> = left.into_iter().filter(|f| f.severity == Severity::Unsafe).collect();
        if !others.is_empty() {
            wrong.push(format!("`{}`: its mended example is unsafe\n{}", rule.id, lines(&mended[0], &others)));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_van_that_tests_start_from_is_neither_unsafe_nor_asked_about() {
    let left: Vec<Finding> = check(VAN).findings.into_iter().filter(|f| f.severity >= Severity::Query).collect();
    assert!(left.is_empty(), "{}", lines(VAN, &left));
}

#[test]
fn the_design_s_example_passes_and_its_variant_is_unsafe_by_its_return_alone() {
    let text = include_str!("../../tests/guides/design-example/guide.md");
    let left: Vec<Finding> = check(text).findings.into_iter().filter(|f| f.severity >= Severity::Query).collect();
    assert!(left.is_empty(), "{}", lines(text, &left));

    let guide = studied(text).guide;
    let (variant, found) = guide.variant("short-return");
    let variant = variant.unwrap_or_else(|| panic!("{found:?}"));
    let circuit = wire(&variant).0.expect("the variant can be wired");
    let study = study(&circuit);
    let judged = super::judge(&Bench::new(&variant, &circuit, &study));
    let unsafe_: Vec<&str> =
        judged.findings.iter().filter(|f| f.severity == Severity::Unsafe).map(|f| f.rule).collect();
    assert_eq!(unsafe_, ["return-drop"], "{}", lines(text, &judged.findings));
}
