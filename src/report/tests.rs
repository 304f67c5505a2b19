use std::sync::Arc;

use super::*;
use crate::finding::{AnswerGiven, Figure, Place};
use crate::source::Span;

const TEXT: &str =
    "---\nruns:\n  main-return:\t{from: battery-, to: engine, size: 16 mm², length: 4.7 m}\n---\n\nWords.\n";

fn guide(findings: Vec<Finding>) -> Checked {
    Checked {
        file: SourceFile::new("content/van/guide.md", TEXT),
        slug: "van".into(),
        guide: None,
        circuit: None,
        study: None,
        trials: None,
        readings: Vec::new(),
        checks: Vec::new(),
        findings,
        cautions: Vec::new(),
        pictures: Vec::new(),
        digest: String::new(),
    }
}

fn at(words: &str) -> Span {
    let start = TEXT.find(words).unwrap();
    Span::new(start, start + words.len())
}

fn finding(rule: &'static str, severity: Severity, span: Span, message: &str) -> Finding {
    Finding {
        rule,
        severity,
        place: Place { file: Arc::from("content/van/guide.md"), span },
        subject: "main-return".into(),
        message: message.into(),
        value: None,
        limit: None,
        advice: Vec::new(),
        sources: Vec::new(),
        answer: None,
    }
}

fn found() -> Vec<Checked> {
    let mut drop = finding(
        "return-drop",
        Severity::Unsafe,
        at("16 mm²"),
        "`starter` loses 1.12 V in its return while cranking; the limit is 0.7 V",
    );
    drop.value = Some(Figure { si: 1.12, unit: "V", shown: "1.12 V".into() });
    drop.limit = Some(Figure { si: 0.7, unit: "V", shown: "0.7 V".into() });
    drop.advice = vec!["Make `main-return` 35 mm²: it would lose 0.51 V, 0.19 V inside the limit.".into()];
    drop.sources = vec!["tm-5-3895-382-24"];
    let mut answered = finding("vent", Severity::Query, at("battery-"), "`battery` has no vent tube");
    answered.answer =
        Some(AnswerGiven { reason: "It stands outside.".into(), by: "R. Viewer".into(), until: "2027-05-01".into() });
    let open = finding("supports", Severity::Query, at("main-return"), "`main-return` has no supports");
    let note = finding("spare-length", Severity::Note, at("4.7 m"), "`main-return` is long");
    vec![guide(vec![open, answered, drop, note])]
}

fn plain(all: bool) -> terminal::Look {
    terminal::Look { colour: false, width: 100, all }
}

#[test]
fn the_look_at_a_terminal() {
    let guides = found();
    let spoilt = finding("cannot-read", Severity::Unreadable, Span::default(), "content/b/b.md could not be read");
    let spoilt = Finding { place: Place { file: "content/b/b.md".into(), span: Span::default() }, ..spoilt };
    let review = Review::new(&guides, [&spoilt], []);
    insta::assert_snapshot!("terminal", terminal::render(&review, plain(false)));
    insta::assert_snapshot!("terminal_all", terminal::render(&review, plain(true)));
}

#[test]
fn the_one_line_form() {
    let guides = found();
    let review = Review::new(&guides, [], []);
    insta::assert_snapshot!("lines", lines::render(&review, false));
    insta::assert_snapshot!("lines_all", lines::render(&review, true));
}

#[test]
fn the_machine_form() {
    let guides = found();
    let review = Review::new(&guides, [], []);
    let text = json::render(&review);
    for line in text.lines() {
        assert!(serde_json::from_str::<serde_json::Value>(line).unwrap()["kind"].is_string(), "{line}");
    }
    insta::assert_snapshot!("json", text);
}

#[test]
fn colour_only_when_asked() {
    let guides = found();
    let review = Review::new(&guides, [], []);
    assert!(!terminal::render(&review, plain(true)).contains('\u{1b}'));
    assert!(terminal::render(&review, terminal::Look { colour: true, ..plain(true) }).contains('\u{1b}'));
}

#[test]
fn what_an_author_writes_cannot_drive_the_terminal() {
    let mut guides = found();
    guides[0].file = SourceFile::new("content/van/guide.md", TEXT.replace("engine", "en\u{1b}[2Jgine"));
    guides[0].findings[2].message = "bad\u{1b}[31m\nunsafe: forged".into();
    guides[0].findings[2].advice = vec!["\u{1b}]0;title\u{7}".into()];
    let review = Review::new(&guides, [], []);
    for text in [terminal::render(&review, plain(true)), lines::render(&review, true), json::render(&review)] {
        assert!(!text.contains(['\u{1b}', '\u{7}']), "{text}");
    }
    assert_eq!(lines::render(&review, true).lines().count(), 4);
}

#[test]
fn places_that_do_not_fit_do_no_harm() {
    for span in [Span::new(9999, 10000), Span::new(0, 9999), Span::new(5, 2), Span::new(41, 42)] {
        let guides = vec![guide(vec![finding("x", Severity::Unsafe, span, "odd")])];
        let review = Review::new(&guides, [], []);
        assert!(terminal::render(&review, plain(false)).contains("odd"));
    }
}

#[test]
fn only_notes_and_answered_queries_leave_the_way_clear() {
    let mut guides = found();
    assert!(Review::new(&guides, [], []).stands_in_the_way());
    guides[0].findings.retain(|f| f.severity == Severity::Note || f.answer.is_some());
    assert!(!Review::new(&guides, [], []).stands_in_the_way());
    let tally = Review::new(&guides, [], []).tally();
    assert_eq!((tally.notes, tally.queries_answered, tally.queries_open), (1, 1, 0));
}
