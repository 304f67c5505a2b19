//! Small guides that hold each rule to its word, through the whole program.
//!
//! `tests/guides/RULE-ID/` holds three guides:
//! - `trips.md` breaks that rule and no other,
//! - `mended.md` is the same guide put right,
//! - `boundary.md` stands on the limit, or as near it as its figures can be written.
//!
//! The first line inside each guide's front matter is a comment that says what must be found:
//! `# expect: unsafe return-drop`, or `# expect: nothing`. "Nothing" means neither unsafe, query nor
//! unreadable; notes are free, unless the guide expects a note. The comment lines after it say why, with
//! the working where there is any to show. Where one fault is by its nature two (a short circuit at
//! a cable's end is also a chafe there) both are named, with a comma between.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use goodground::circuit::wire;
use goodground::finding::{Finding, Severity};
use goodground::guide;
use goodground::rules::{self, Bench};
use goodground::source::SourceFile;
use goodground::study;

/// What a guide says must be found in it: nothing, when empty.
type Expected = BTreeSet<(Severity, String)>;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/guides")
}

/// Every rule's folder, by name.
fn rule_folders() -> Vec<PathBuf> {
    let mut folders: Vec<PathBuf> = fs::read_dir(folder())
        .expect("tests/guides can be read")
        .map(|entry| entry.expect("its entries too").path())
        .filter(|path| path.join("trips.md").is_file())
        .collect();
    folders.sort();
    folders
}

fn name(path: &Path) -> String {
    path.file_name().expect("a name").to_string_lossy().into_owned()
}

/// Reads, wires, studies and judges one guide, as `review` does.
fn findings(path: &Path) -> Vec<Finding> {
    let text = fs::read_to_string(path).expect("a guide that can be read");
    let shown = path.strip_prefix(env!("CARGO_MANIFEST_DIR")).unwrap_or(path).to_string_lossy().into_owned();
    let (guide, mut findings) = guide::read(SourceFile::new(shown, text), "a-test");
    let Some(guide) = guide else { return findings };
    let (circuit, wired) = wire(&guide);
    findings.extend(wired);
    let Some(circuit) = circuit else { return findings };
    let study = study::study(&circuit);
    findings.extend(rules::judge(&Bench::new(&guide, &circuit, &study)).findings);
    findings
}

fn expected(path: &Path) -> Expected {
    let text = fs::read_to_string(path).expect("a guide that can be read");
    let line = text.lines().nth(1).unwrap_or_default();
    let words = line.strip_prefix("# expect: ").unwrap_or_else(|| panic!("{}: no `# expect:` line", path.display()));
    if words == "nothing" {
        return Expected::new();
    }
    let one = |entry: &str| {
        let (severity, rule) = entry.trim().split_once(' ')?;
        let severity =
            [Severity::Note, Severity::Query, Severity::Unsafe].into_iter().find(|s| s.word() == severity)?;
        Some((severity, rule.to_string()))
    };
    words
        .split(',')
        .map(|entry| one(entry).unwrap_or_else(|| panic!("{}: cannot make sense of `{entry}`", path.display())))
        .collect()
}

/// What is wrong with what was found, in words; empty when it is as expected.
fn mismatch(path: &Path) -> Vec<String> {
    let found = findings(path);
    let expected = expected(path);
    // A note counts only where it is expected.
    let counted: Expected = found
        .iter()
        .map(|f| (f.severity, f.rule.to_string()))
        .filter(|f| f.0 != Severity::Note || expected.contains(f))
        .collect();
    if counted == expected {
        return Vec::new();
    }
    let mut lines = vec![format!("{} expects {expected:?}, but found:", path.display())];
    lines.extend(found.iter().map(|f| format!("  {} {}: {}", f.severity.word(), f.rule, f.message)));
    lines
}

fn hold(which: &str) {
    let wrong: Vec<String> = rule_folders().iter().flat_map(|folder| mismatch(&folder.join(which))).collect();
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

#[test]
fn guides_that_break_one_rule_trip_that_rule_and_no_other() {
    for folder in rule_folders() {
        let named = expected(&folder.join("trips.md")).iter().any(|(_, rule)| *rule == name(&folder));
        assert!(named, "{}: trips.md does not expect the rule that it is for", folder.display());
    }
    hold("trips.md");
}

#[test]
fn mended_guides_are_quiet() {
    for folder in rule_folders() {
        assert!(expected(&folder.join("mended.md")).is_empty(), "{}", folder.display());
    }
    hold("mended.md");
}

#[test]
fn guides_on_the_limit_fall_on_the_side_they_say() {
    hold("boundary.md");
}

#[test]
fn every_folder_is_a_rule_of_the_catalogue() {
    for folder in rule_folders() {
        assert!(rules::find(&name(&folder)).is_some(), "{} names no rule", folder.display());
    }
}

/// The club's withdrawn guide: it is wrong just as its notice says.
const WITHDRAWN: &str = "reading-lamp-on-the-socket-fuse";

#[test]
fn nothing_stands_in_the_way_of_the_club_s_guides() {
    let content = Path::new(env!("CARGO_MANIFEST_DIR")).join("content");
    let mut folders: Vec<PathBuf> =
        fs::read_dir(content).expect("content can be read").map(|e| e.expect("its entries too").path()).collect();
    folders.sort();
    let mut wrong = Vec::new();
    for guide in folders.iter().map(|f| f.join("guide.md")).filter(|g| g.is_file()) {
        // What is withdrawn was wrong, and says so.
        if name(guide.parent().expect("a folder")) == WITHDRAWN {
            let stops: Vec<&str> =
                findings(&guide).iter().filter(|f| f.severity != Severity::Note).map(|f| f.rule).collect();
            assert_eq!(stops, ["tap-unprotected", "device-above-cable"]);
            continue;
        }
        for f in findings(&guide).iter().filter(|f| f.severity != Severity::Note) {
            wrong.push(format!(
                "{}: {} {}: {}",
                name(guide.parent().expect("a folder")),
                f.severity.word(),
                f.rule,
                f.message
            ));
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

#[test]
fn every_rule_of_the_catalogue_has_its_three_guides() {
    let missing: Vec<String> = rules::ALL
        .iter()
        .flat_map(|rule| ["trips", "mended", "boundary"].map(|which| format!("{}/{which}.md", rule.id)))
        .filter(|guide| !folder().join(guide).is_file())
        .collect();
    assert!(missing.is_empty(), "write these under tests/guides/, as the head of this file says: {missing:?}");
}
