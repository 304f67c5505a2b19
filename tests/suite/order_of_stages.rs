//! Data flows one way: a stage imports only the stages before it, files and clock belong to the press, printing to the cli.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// Every stage, first to last. DEVELOPERS.md lists the same in the same order.
const ORDER: &[&str] = &[
    "source", "finding", "quantity", "handbook", "guide", "circuit", "study", "rules", "trials", "readings", "drawing",
    "prints", "cautions", "checked", "site", "report", "press", "cli",
];

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Every source file with the stage it belongs to; `lib.rs` and `main.rs` belong to none.
fn sources() -> Vec<(PathBuf, String, String)> {
    let src = root().join("src");
    let mut all = Vec::new();
    for entry in walkdir::WalkDir::new(&src).sort_by_file_name() {
        let path = entry.unwrap().into_path();
        // Files that are only for tests are called so.
        let only_for_tests = path.file_stem().is_some_and(|stem| stem == "tests" || stem == "testing");
        if path.extension().is_none_or(|e| e != "rs") || only_for_tests {
            continue;
        }
        let below = path.strip_prefix(&src).unwrap();
        let first = below.components().next().unwrap().as_os_str().to_str().unwrap().trim_end_matches(".rs").to_owned();
        if first != "lib" && first != "main" {
            all.push((below.to_owned(), first, fs::read_to_string(&path).unwrap()));
        }
    }
    all
}

/// The names right below the crate's root that a text mentions: `crate::x`, `crate::{x, y::z}`.
fn named_below_root(text: &str) -> BTreeSet<String> {
    let mut names = BTreeSet::new();
    for root in ["crate::", "super::super::"] {
        for (at, _) in text.match_indices(root) {
            let rest = &text[at + root.len()..];
            match rest.strip_prefix('{') {
                None => names.extend(name_at(rest)),
                Some(group) => {
                    let (mut depth, mut start) = (0, 0);
                    for (i, c) in group.char_indices() {
                        match c {
                            '{' => depth += 1,
                            '}' if depth > 0 => depth -= 1,
                            ',' | '}' if depth == 0 => {
                                names.extend(name_at(group[start..i].trim_start()));
                                start = i + 1;
                                if c == '}' {
                                    break;
                                }
                            }
                            _ => {}
                        }
                    }
                }
            }
        }
    }
    names
}

fn name_at(text: &str) -> Option<String> {
    let name: String = text.chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '_').collect();
    (!name.is_empty()).then_some(name)
}

/// The file without its tests, its comments and its documents.
fn code_only(text: &str) -> String {
    let code = text.split("#[cfg(test)]").next().unwrap_or_default();
    code.lines().filter(|l| !l.trim_start().starts_with("//")).collect::<Vec<_>>().join("\n")
}

#[test]
fn every_stage_imports_only_the_stages_before_it() {
    let place = |stage: &str| ORDER.iter().position(|s| *s == stage);
    let mut wrong = Vec::new();
    let all = sources();
    assert!(all.len() >= ORDER.len(), "only {} files were found", all.len());
    for (path, stage, text) in &all {
        let Some(own) = place(stage) else {
            wrong.push(format!("{} belongs to no stage in the list", path.display()));
            continue;
        };
        for other in named_below_root(&code_only(text)) {
            if place(&other).is_some_and(|there| there > own) {
                wrong.push(format!("{} ({stage}) reaches forward to {other}", path.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

#[test]
fn only_the_press_touches_files_and_clock_and_only_the_cli_prints() {
    let kept: &[(&str, &[&str])] = &[
        ("press", &["std::fs", "fs::", "File::", "SystemTime", "Timestamp::now", "Zoned::now", "tempfile", "walkdir"]),
        ("cli", &["println!", "print!", "eprint", "io::stdout", "io::stderr", "process::exit"]),
    ];
    let mut wrong = Vec::new();
    for (path, stage, text) in sources() {
        let code = code_only(&text);
        for (owner, words) in kept {
            // The cli may look whether standard output is a terminal; it still reads no file.
            for word in words.iter().filter(|w| stage != *owner && contains_word(&code, w)) {
                wrong.push(format!("{} uses {word}, which is the {owner}'s business", path.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

/// Whether `word` stands in `code` and does not just end a longer one, as `fs::` ends `refs::`.
fn contains_word(code: &str, word: &str) -> bool {
    code.match_indices(word).any(|(at, _)| {
        code[..at].chars().next_back().is_none_or(|c| !c.is_alphanumeric() && c != '_')
            && !code[..at].ends_with("rustix::")
    })
}

#[test]
fn the_documents_list_the_stages_in_this_order() {
    let text = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let listed: Vec<&str> = text
        .lines()
        .filter_map(|l| l.strip_prefix("| `")?.split_once('`').map(|(stage, _)| stage))
        .filter(|s| ORDER.contains(s))
        .collect();
    assert_eq!(listed, ORDER);
}

#[test]
fn the_reading_of_imports_sees_groups_and_paths() {
    let text = "use crate::{handbook::{a, b}, rules};\nlet x = crate::press::today();\nuse super::super::site;";
    assert_eq!(named_below_root(text).into_iter().collect::<Vec<_>>(), ["handbook", "press", "rules", "site"]);
}
