//! Reading whole guides.

use goodground::finding::Finding;
use goodground::guide::{Guide, read};
use goodground::source::SourceFile;

/// A guide under `tests/guides/`, read.
fn read_guide(name: &str) -> (Option<Guide>, Vec<Finding>, SourceFile) {
    let path = format!("{}/tests/guides/{name}/guide.md", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("read {path}: {e}"));
    let file = SourceFile::new(format!("{name}/guide.md"), text);
    let (guide, findings) = read(file.clone(), name);
    (guide, findings, file)
}

/// Findings as lines, for messages.
fn listed(file: &SourceFile, findings: &[Finding]) -> String {
    findings
        .iter()
        .map(|f| {
            let at = file.line_column(f.place.span.start);
            format!(
                "{}:{}: {} {}: {} {}\n",
                at.line,
                at.column,
                f.severity.word(),
                f.rule,
                f.message,
                f.advice.join(" ")
            )
        })
        .collect()
}

#[test]
fn the_design_s_example_reads_without_a_finding() {
    let (guide, findings, file) = read_guide("design-example");
    assert!(findings.is_empty(), "{}", listed(&file, &findings));
    let guide = guide.unwrap();
    assert_eq!(guide.zones.keys().collect::<Vec<_>>(), ["bay", "cab", "load"]);
    assert_eq!(guide.parts.len(), 9);
    assert_eq!(guide.runs.len(), 9);
    assert_eq!(guide.states.len(), 3);
    assert!((guide.runs["main-return"].length.in_metres() - 4.7).abs() < 1e-9);
    assert_eq!(guide.runs["main-return"].laid.len(), 3);
    assert_eq!(guide.runs["main-return"].insulation.unwrap().value.word(), "xlpe");
    assert!(guide.runs["engine-strap"].insulation.is_none(), "a bare strap takes no insulation from every-run");
}

#[test]
fn the_club_s_guides_read_without_a_finding() {
    let content = concat!(env!("CARGO_MANIFEST_DIR"), "/content");
    let mut wrong = String::new();
    let mut read_so_far = 0;
    for entry in std::fs::read_dir(content).unwrap() {
        let folder = entry.unwrap().path();
        let Ok(text) = std::fs::read_to_string(folder.join("guide.md")) else { continue };
        let slug = folder.file_name().unwrap().to_string_lossy().into_owned();
        let file = SourceFile::new(format!("{slug}/guide.md"), text);
        let (_, findings) = read(file.clone(), &slug);
        if !findings.is_empty() {
            wrong.push_str(&format!("{slug}\n{}", listed(&file, &findings)));
        }
        read_so_far += 1;
    }
    assert!(wrong.is_empty(), "{wrong}");
    assert!(read_so_far >= 3, "the content folder holds guides");
}
