//! Reading whole guides.

use goodground::finding::Finding;
use goodground::guide::{Block, Guide, PartKind, Target, read};
use goodground::quantity::Show;
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

/// The design's example with other things below its front matter.
fn with_text(text: &str) -> (Guide, SourceFile) {
    let (_, _, file) = read_guide("design-example");
    let end = file.text.find("\n---\n").unwrap() + "\n---\n".len();
    let file = SourceFile::new("a/guide.md", format!("{}{text}", &file.text[..end]));
    let (guide, findings) = read(file.clone(), "a");
    assert!(findings.is_empty(), "{}", listed(&file, &findings));
    (guide.unwrap(), file)
}

#[test]
fn steps_are_numbered_through_the_guide() {
    let (guide, file) = with_text(
        "Before.\n\n1. First\n2. Second\n   1. inner\n   2. inner\n\n   More of the second.\n\nBetween, and no step:\n\n\
         - a bullet\n  1. an inner list\n\n7. Third\n\n> 1. quoted\n\nAfter.\n",
    );
    let steps: Vec<(usize, &str)> = guide.text.steps().map(|s| (s.number, file.at(s.at))).collect();
    assert_eq!(steps, [(1, "First"), (2, "Second\n   1. inner\n   2. inner\n\n   More of the second."), (3, "Third")]);
    let second = guide.text.steps().nth(1).unwrap();
    assert_eq!(second.words, "Second\ninner\ninner\nMore of the second.");
    let prose: Vec<&str> = guide
        .text
        .blocks
        .iter()
        .filter_map(|b| match b {
            Block::Prose(at) => Some(file.at(*at)),
            Block::Step(_) => None,
        })
        .collect();
    assert_eq!(prose, ["Before.", "Between, and no step:\n\n- a bullet\n  1. an inner list", "> 1. quoted\n\nAfter."]);
}

#[test]
fn links_values_drawings_and_photos_are_found_at_their_places() {
    let (guide, file) = with_text(
        "See [it](part:breaker), `[no](part:link)` and [a sheet](sheet.pdf#page=2), [below](#done), <me@example.org>.\n\n\
         ![How it is wired](drawing:wiring)\n\n![The *shelf*](photos/the%20shelf.jpg)\n\n\
         1. Cut <value:runs.main-return.length> of **70 mm²** cable for [it](run:main-return) &amp; more.\n\n   \
         ![Where it goes](drawing:plan)\n\n[ref]: part:post\n2. Fix [the post][ref].\n",
    );
    let text = &guide.text;
    let at = |span| file.at(span);
    assert_eq!(
        text.links.iter().map(|l| l.target.clone()).collect::<Vec<_>>(),
        [Target::Part("breaker".into()), Target::Run("main-return".into()), Target::Part("post".into())]
    );
    assert_eq!(at(text.links[0].at), "[it](part:breaker)");
    assert_eq!(text.values[0].value, "runs.main-return.length");
    assert_eq!(at(text.values[0].at), "<value:runs.main-return.length>");
    assert_eq!(text.drawings.iter().map(|d| d.name.as_str()).collect::<Vec<_>>(), ["wiring", "plan"]);
    assert_eq!(
        (text.drawings[0].caption.as_str(), at(text.drawings[1].at)),
        ("How it is wired", "![Where it goes](drawing:plan)")
    );
    assert_eq!((text.photos[0].path.as_str(), text.photos[0].words.as_str()), ("photos/the shelf.jpg", "The shelf"));
    assert_eq!(text.files[0].value, "sheet.pdf");
    assert_eq!(text.anchors[0].value, "done");
    let step = text.steps().next().unwrap();
    assert_eq!(step.words.lines().next().unwrap(), "Cut  of 70 mm² cable for it & more.");
    let figure = step.pieces.iter().find(|p| p.value.contains("70 mm²")).unwrap();
    assert_eq!(at(figure.at), "70 mm²");
    assert_eq!(step.links.len(), 1);
}

#[test]
fn a_later_line_of_three_hyphens_belongs_to_the_text() {
    let (guide, file) = with_text("One.\n\n---\n\nTwo.\n");
    assert!(matches!(guide.text.blocks[..], [Block::Prose(at)] if file.at(at) == "One.\n\n---\n\nTwo."));
}

#[test]
fn a_byte_order_mark_and_windows_line_ends_change_nothing_but_places() {
    let (plain, _, file) = read_guide("design-example");
    let windows = SourceFile::new("w/guide.md", format!("\u{feff}{}", file.text.replace('\n', "\r\n")));
    let (guide, findings) = read(windows.clone(), "w");
    assert!(findings.is_empty(), "{}", listed(&windows, &findings));
    let (guide, plain) = (guide.unwrap(), plain.unwrap());
    assert_eq!(guide.summary.value, plain.summary.value);
    let place = |guide: &Guide| guide.file.line_column(guide.runs["starter-feed"].laid[2].length.at.start);
    assert_eq!(place(&guide), place(&plain));
    assert_eq!(guide.file.at(guide.zones["bay"].ambient.unwrap().at), "60 °C");
    assert_eq!(guide.text.steps().count(), plain.text.steps().count());
    // A finding points at the same line and column as without them.
    for text in [&file.text, &windows.text] {
        let broken = SourceFile::new("b/guide.md", text.replacen("3.0 m, bay", "3.0, bay", 1));
        let (_, findings) = read(broken.clone(), "b");
        let at = broken.line_column(findings[0].place.span.start);
        assert_eq!((findings[0].rule, at.column), ("bad-value", 101), "{}", listed(&broken, &findings));
    }
}

#[test]
fn scalars_stay_as_they_were_written() {
    let (guide, _) = with_text("");
    let text = |path: &[&str]| path.iter().try_fold(&guide.front_matter, |n, k| n.get(k)).and_then(|n| n.text());
    assert_eq!(text(&["written"]), Some("2026-10-03"));
    assert_eq!(text(&["runs", "starter-feed", "laid", "cab"]), Some("3.0 m"));
    assert_eq!(text(&["parts", "battery", "hold-down", "grade"]), Some("8.8"));
    assert_eq!(text(&["zones", "bay", "engine-space"]), Some("true"));
}

#[test]
fn values_are_shown_in_both_unit_systems() {
    let (guide, _) = with_text("");
    assert_eq!(guide.value("system").unwrap(), "12 V");
    assert_eq!(guide.value("runs.main-return.length").unwrap(), guide.runs["main-return"].length.value.show_both());
    assert!(guide.value("runs.main-return.length").unwrap().starts_with("4.7 m ("));
    assert_eq!(guide.value("runs.main-return.insulation").unwrap(), "xlpe");
    assert_eq!(guide.value("runs.engine-strap.insulation"), None);
    assert_eq!(guide.value("parts.breaker.rating").unwrap(), "150 A");
    assert_eq!(guide.value("parts.breaker.in").unwrap(), "Load area");
    assert_eq!(guide.value("parts.battery.cold-cranking").unwrap(), "640 A EN");
    assert!(guide.value("zones.bay.ambient").unwrap().starts_with("60 °C ("));
    assert_eq!(guide.value("states.engine-off.for").unwrap(), "2 h");
    for wrong in
        ["", "runs", "runs.main-return", "runs.main-return.length.x", "answers", "variants.short-return.title", "x.y"]
    {
        assert_eq!(guide.value(wrong), None, "{wrong}");
    }
    let paths = guide.value_paths();
    assert!(paths.contains(&"runs.load-bond.rated".to_owned()));
    assert!(paths.iter().all(|p| guide.value(p).is_some()));
}

/// The design's example with one more variant.
fn variant(change: &str) -> (Option<Guide>, String) {
    let (_, _, file) = read_guide("design-example");
    let text =
        file.text.replacen("variants:\n", &format!("variants:\n  tried: {{title: Tried, change: {change}}}\n"), 1);
    let file = SourceFile::new("v/guide.md", text);
    let (guide, findings) = read(file.clone(), "v");
    assert!(findings.is_empty(), "{}", listed(&file, &findings));
    let (guide, findings) = guide.unwrap().variant("tried");
    (guide, listed(&file, &findings))
}

#[test]
fn a_variant_is_the_guide_with_its_change_laid_over() {
    let (guide, found) = variant(
        "{system: 24 V, runs: {main-return: none, panel-feed: {size: 16 mm², laid: {load: 9 m, bay: 1 m}}, extra: \
         {from: post, to: panel, size: 6 mm², length: 1 m}}, states: {starting: none}, parts: {battery: {hold-down: {kind: none}, mass: none}}}",
    );
    assert_eq!(found, "");
    let guide = guide.unwrap();
    assert_eq!(guide.title.value, "Tried");
    assert_eq!(guide.system.in_volts(), 24.0);
    assert!(!guide.runs.contains_key("main-return") && guide.runs.contains_key("extra"));
    let feed = &guide.runs["panel-feed"];
    assert_eq!(feed.laid.iter().map(|l| l.zone.value.as_str()).collect::<Vec<_>>(), ["load", "bay"]);
    assert_eq!(feed.covering.unwrap().value.word(), "conduit", "what the change does not name stays");
    assert_eq!(guide.states.keys().collect::<Vec<_>>(), ["charging", "engine-off"]);
    assert!(guide.parts["battery"].mass.is_none());
    let PartKind::Battery(battery) = &guide.parts["battery"].kind else { panic!("it is a battery") };
    assert_eq!(battery.hold_down.as_ref().unwrap().kind.value.word(), "none", "`none` is a word here");
    assert!(guide.variants.is_empty() && guide.answers.is_empty());
    assert!(guide.text.steps().count() > 3);
}

#[test]
fn a_part_that_a_variant_takes_away_leaves_the_states_but_not_its_runs() {
    let (guide, found) = variant("{parts: {panel: none}, runs: {panel-feed: none, charge-lead: none}}");
    assert_eq!(found, "");
    assert!(guide.unwrap().states.values().all(|s| !s.parts.contains_key("panel")));
    let (guide, found) = variant("{parts: {panel: none}}");
    assert!(guide.is_none());
    assert!(found.contains("`to` of the run `panel-feed`: there is no part `panel`."), "{found}");
}

#[test]
fn a_variant_that_does_not_fit_says_so_at_its_own_line() {
    let (guide, found) = variant("{runs: {main-retrun: none}}");
    assert!(guide.is_none());
    assert_eq!(
        found,
        "51:41: unreadable unknown-name: The variant `tried` takes `main-retrun` away, which is not there. Did you mean `main-return`?\n"
    );
    let (guide, found) = variant("{runs: {main-return: {size: 50}}}");
    assert!(guide.is_none());
    assert!(found.starts_with("51:61: unreadable bad-value: `size` of the run `main-return`: "), "{found}");
    let (guide, found) = variant("{system: none}");
    assert!(guide.is_none());
    assert!(found.contains("missing-key"), "{found}");
}

#[test]
fn a_variant_does_not_repeat_what_is_wrong_with_the_guide() {
    let (_, _, file) = read_guide("design-example");
    let file = SourceFile::new("v/guide.md", file.text.replacen("title: Start", "titel: Start", 1));
    let (guide, findings) = read(file.clone(), "v");
    assert_eq!(findings.len(), 1, "{}", listed(&file, &findings));
    let (changed, findings) = guide.expect("the circuit is whole").variant("short-return");
    assert!(findings.is_empty(), "{}", listed(&file, &findings));
    assert!(!changed.unwrap().runs.contains_key("main-return"));
}
