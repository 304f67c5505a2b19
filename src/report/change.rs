//! What changed in the numbers between two versions of a guide: inputs, comparisons, findings.
//!
//! For the reviewer, who signed one version off and is asked to sign the next. Words for people are
//! left out; a digest that is the same says that no number changed.

use std::collections::BTreeMap;

use super::lines::on_one_line;
use crate::checked::Checked;
use crate::finding::{Check, Finding, Outcome};
use crate::guide::Guide;
use crate::guide::tree::{Node, Value};

/// Keys of front matter that hold words or a standing and enter no number.
const WORDS: &[&str] = &[
    "title",
    "summary",
    "written",
    "by",
    "standing",
    "time-needed",
    "tools",
    "skill",
    "subjects",
    "variants",
    "answers",
    "record",
    "changes",
];

/// The report: a line a change, under three headings; what is the same is left out.
pub fn render(old: &Checked, new: &Checked) -> String {
    let mut out = String::new();
    match (old.digest.as_str(), new.digest.as_str()) {
        ("", _) | (_, "") => out.push_str("One of the two could not be wired, so there are no numbers to compare.\n"),
        (a, b) if a == b => out.push_str(&format!("No input changed: the digest of both is {a}.\n")),
        (a, b) => out.push_str(&format!("The inputs changed: the digest was {a} and is {b}.\n")),
    }
    let inputs = changes(&inputs(old.guide.as_ref()), &inputs(new.guide.as_ref()));
    section(&mut out, "Inputs", inputs);
    section(&mut out, "Comparisons with a limit", changes(&checks(&old.checks), &checks(&new.checks)));
    section(&mut out, "Found", changes(&findings(&old.findings), &findings(&new.findings)));
    out
}

/// Whether any number, comparison or finding differs.
pub fn differs(old: &Checked, new: &Checked) -> bool {
    old.digest != new.digest
        || checks(&old.checks) != checks(&new.checks)
        || findings(&old.findings) != findings(&new.findings)
}

type Rows = BTreeMap<String, String>;

fn section(out: &mut String, heading: &str, lines: Vec<String>) {
    if !lines.is_empty() {
        out.push_str(&format!("\n{heading}\n"));
        for line in lines {
            out.push_str(&format!("  {}\n", on_one_line(&line)));
        }
    }
}

fn changes(old: &Rows, new: &Rows) -> Vec<String> {
    let mut keys: Vec<&String> = old.keys().chain(new.keys()).collect();
    keys.sort();
    keys.dedup();
    let change = |key: &String| match (old.get(key), new.get(key)) {
        (Some(old), Some(new)) if old == new => None,
        (Some(old), Some(new)) => Some(format!("{key}: {old} → {new}")),
        (Some(old), None) => Some(format!("{key}: {old} → gone")),
        (None, Some(new)) => Some(format!("{key}: new, {new}")),
        (None, None) => None,
    };
    keys.into_iter().filter_map(change).collect()
}

/// Every value of front matter that may enter a number, by its keys.
fn inputs(guide: Option<&Guide>) -> Rows {
    let mut rows = Rows::new();
    let Some(entries) = guide.and_then(|g| g.front_matter.entries()) else { return rows };
    for (key, (_, node)) in entries {
        if !WORDS.contains(&key.as_str()) {
            flatten(key.clone(), node, &mut rows);
        }
    }
    rows
}

fn flatten(path: String, node: &Node, rows: &mut Rows) {
    match &node.value {
        Value::Empty => {
            rows.insert(path, "nothing".into());
        }
        Value::Scalar(text) => {
            rows.insert(path, text.clone());
        }
        Value::List(items) => {
            for (i, item) in items.iter().enumerate() {
                flatten(format!("{path}.{}", i + 1), item, rows);
            }
        }
        Value::Map(entries) => {
            for (key, (_, node)) in entries.iter().filter(|(key, _)| *key != "label") {
                flatten(format!("{path}.{key}"), node, rows);
            }
        }
    }
}

fn checks(checks: &[Check]) -> Rows {
    let mut rows = Rows::new();
    for check in checks {
        let key = format!("{}, `{}`, {}", check.rule, check.subject, check.case);
        let outcome = match check.outcome {
            Outcome::Passes => "passes",
            Outcome::Found(severity) => severity.word(),
            Outcome::NotApplicable => "does not apply",
        };
        let text = format!("{} against {} ({outcome}, {})", check.value.shown, check.limit.shown, check.margin);
        insert(&mut rows, key, text);
    }
    rows
}

fn findings(findings: &[Finding]) -> Rows {
    let mut rows = Rows::new();
    for finding in findings {
        let answered = if finding.answer.is_some() { ", answered" } else { "" };
        let key = format!("{}, `{}`", finding.rule, finding.subject);
        insert(&mut rows, key, format!("{}{answered}: {}", finding.severity.word(), finding.message));
    }
    rows
}

/// Several of one key are told apart by their number, in their own order.
fn insert(rows: &mut Rows, key: String, text: String) {
    let mut numbered = key.clone();
    let mut n = 1;
    while rows.contains_key(&numbered) {
        n += 1;
        numbered = format!("{key} ({n})");
    }
    rows.insert(numbered, text);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::guide::publisher::Publisher;
    use crate::source::SourceFile;

    const EXAMPLE: &str = include_str!("../../tests/guides/design-example/guide.md");

    fn check(text: &str) -> Checked {
        let file = SourceFile::new("guide.md", text);
        crate::checked::check(file, "van", &Publisher::default(), jiff::civil::date(2026, 11, 25))
    }

    #[test]
    fn a_changed_length_is_shown_with_what_it_changes() {
        let old = check(EXAMPLE);
        let new = check(&EXAMPLE.replacen("cab: 3.0 m, bay: 1.1 m", "cab: 3.5 m, bay: 1.1 m", 1));
        let text = render(&old, &new);
        assert!(text.contains("The inputs changed"), "{text}");
        assert!(text.contains("  runs.main-return.laid.cab: 3.0 m → 3.5 m\n"), "{text}");
        assert!(text.lines().any(|l| l.starts_with("  return-drop, `starter`") && l.contains(" → ")), "{text}");
        assert!(differs(&old, &new));
    }

    #[test]
    fn words_alone_change_nothing() {
        let old = check(EXAMPLE);
        let new =
            check(&EXAMPLE.replacen("label: Cab", "label: The cab", 1).replacen("title: Start", "title: The start", 1));
        assert_eq!(render(&old, &new), format!("No input changed: the digest of both is {}.\n", old.digest));
        assert!(!differs(&old, &new));
    }

    #[test]
    fn what_is_gone_and_what_is_new_are_told() {
        let old = check(EXAMPLE);
        let new =
            check(&EXAMPLE.replacen("  load-bond:", "  load-strap:", 1).replace("(run:load-bond)", "(run:load-strap)"));
        let text = render(&old, &new);
        assert!(text.contains("  runs.load-bond.size: 25 mm² → gone\n"), "{text}");
        assert!(text.contains("  runs.load-strap.size: new, 25 mm²\n"), "{text}");
    }

    #[test]
    fn a_guide_that_cannot_be_wired_has_no_numbers() {
        let text = render(&check(EXAMPLE), &check("nothing"));
        assert!(text.starts_with("One of the two could not be wired"), "{text}");
    }
}
