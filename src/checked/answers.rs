//! Laying the reviewer's written answers beside the queries they answer.
//!
//! An answer holds when its rule and what it is about are those of a query, its last day has not
//! passed, and it is by one of the publisher's reviewers, where the publisher names any. It can do nothing for an `unsafe`. An answer that does nothing is told to its
//! author, since it may be a slip of the pen that leaves a query open.

use jiff::civil::Date;

use crate::finding::{AnswerGiven, Finding, Place, Severity};
use crate::guide::publisher::Publisher;
use crate::guide::{Answer, Guide};
use crate::rules;

/// Gives queries their answers and adds what is wrong with the answers themselves.
///
/// `judged` says whether the rules ran at all: before that, nobody can tell what an answer is for.
pub fn lay_beside(guide: &Guide, publisher: &Publisher, judged: bool, today: Date, findings: &mut Vec<Finding>) {
    let mut about_answers = Vec::new();
    for answer in &guide.answers {
        let ran_out = answer.until.value < today;
        let mut answered = false;
        for finding in findings.iter_mut().filter(|f| f.severity == Severity::Query && is_for(answer, f)) {
            answered = true;
            if !may_answer(publisher, &answer.by.value) {
                finding.advice.push(format!(
                    "The answer by {} does not hold: reviewers are {}, as publisher.yaml says.",
                    answer.by.value,
                    publisher.reviewers.join(", ")
                ));
            } else if ran_out {
                finding.advice.push(format!(
                    "The answer by {} ran out on {}: look at it again, and give it a new day if it still holds.",
                    answer.by.value, answer.until.value
                ));
            } else if finding.answer.is_none() {
                finding.answer = Some(AnswerGiven {
                    reason: answer.reason.value.clone(),
                    by: answer.by.value.clone(),
                    until: answer.until.value.to_string(),
                });
            }
        }
        if !answered && judged {
            about_answers.push(idle(guide, answer, findings));
        }
    }
    findings.extend(about_answers);
}

/// Whether the publisher lets somebody answer queries and sign guides off.
pub(super) fn may_answer(publisher: &Publisher, name: &str) -> bool {
    publisher.reviewers.is_empty() || publisher.reviewers.iter().any(|r| r == name)
}

fn is_for(answer: &Answer, finding: &Finding) -> bool {
    answer.rule.value == finding.rule && answer.about.as_ref().is_none_or(|about| about.value == finding.subject)
}

/// A note on an answer that answers nothing: says why, and the nearest thing it may have meant.
fn idle(guide: &Guide, answer: &Answer, findings: &[Finding]) -> Finding {
    let rule = answer.rule.value.as_str();
    let mut advice = Vec::new();
    let (id, at, message) =
        if let Some(unsafe_one) = findings.iter().find(|f| f.severity == Severity::Unsafe && is_for(answer, f)) {
            advice.push("Change the guide as that finding says, and take the answer out.".to_owned());
            let about = if unsafe_one.subject.is_empty() { "the guide" } else { &unsafe_one.subject };
            (
                "answer-to-unsafe",
                answer.rule.at,
                format!("nothing waives an unsafe: the answer to {rule} of {about} has no effect"),
            )
        } else if !rules::ALL.iter().any(|r| r.id == rule) && !findings.iter().any(|f| f.rule == rule) {
            let known = rules::ALL.iter().map(|r| r.id);
            let near = known.max_by(|a, b| strsim::jaro_winkler(a, rule).total_cmp(&strsim::jaro_winkler(b, rule)));
            if let Some(near) = near.filter(|n| strsim::jaro_winkler(n, rule) > 0.75) {
                advice.push(format!("Did you mean {near}?"));
            }
            (
                "answer-to-unknown-rule",
                answer.rule.at,
                format!("there is no rule \"{rule}\", so this answer answers nothing"),
            )
        } else if let Some(about) = &answer.about {
            let open: Vec<&str> = findings
                .iter()
                .filter(|f| f.rule == rule && f.severity == Severity::Query)
                .map(|f| f.subject.as_str())
                .filter(|s| !s.is_empty())
                .collect();
            if !open.is_empty() {
                advice.push(format!("The rule asks about {}.", open.join(", ")));
            } else {
                advice.push("Take the answer out.".to_owned());
            }
            (
                "answer-to-nothing",
                about.at,
                format!("{rule} asks nothing about {}, so this answer answers nothing", about.value),
            )
        } else {
            advice.push("Take the answer out.".to_owned());
            (
                "answer-to-nothing",
                answer.rule.at,
                format!("{rule} asks nothing of this guide, so this answer answers nothing"),
            )
        };
    Finding {
        rule: id,
        severity: Severity::Note,
        place: Place { file: guide.file.path.clone(), span: at },
        subject: String::new(),
        message,
        value: None,
        limit: None,
        advice,
        sources: Vec::new(),
        answer: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::{SourceFile, Span};

    const EXAMPLE: &str = include_str!("../../tests/guides/design-example/guide.md");

    /// The design's example with these answers written in it.
    fn answering(answers: &str) -> Guide {
        let text = EXAMPLE.replacen("variants:", &format!("answers:\n{answers}variants:"), 1);
        let (guide, found) = crate::guide::read(SourceFile::new("guide.md", text), "van");
        assert!(found.is_empty(), "{found:#?}");
        guide.unwrap()
    }

    fn answer(rule: &str, about: &str, until: &str) -> String {
        let about = if about.is_empty() { String::new() } else { format!("about: {about}, ") };
        format!("  - {{rule: {rule}, {about}reason: Seen to., by: R. Viewer, until: {until}}}\n")
    }

    fn found(rule: &'static str, severity: Severity, subject: &str) -> Finding {
        Finding {
            rule,
            severity,
            place: Place { file: "guide.md".into(), span: Span::default() },
            subject: subject.into(),
            message: String::new(),
            value: None,
            limit: None,
            advice: Vec::new(),
            sources: Vec::new(),
            answer: None,
        }
    }

    const TODAY: Date = jiff::civil::date(2026, 11, 25);

    fn lay(guide: &Guide, mut findings: Vec<Finding>) -> Vec<Finding> {
        lay_beside(guide, &Publisher::default(), true, TODAY, &mut findings);
        findings
    }

    #[test]
    fn an_answer_holds_to_the_end_of_its_last_day() {
        for (until, holds) in [("2026-11-24", false), ("2026-11-25", true), ("2026-11-26", true)] {
            let guide = answering(&answer("return-drop", "starter", until));
            let findings = lay(&guide, vec![found("return-drop", Severity::Query, "starter")]);
            assert_eq!(findings.len(), 1, "{findings:#?}");
            assert_eq!(findings[0].answer.is_some(), holds, "until {until}");
            assert_eq!(findings[0].stops(), !holds);
            assert_eq!(findings[0].advice.iter().any(|a| a.contains("ran out on 2026-11-24")), !holds);
        }
    }

    #[test]
    fn an_answer_is_for_its_rule_and_its_subject_only() {
        let guide = answering(&answer("return-drop", "starter", "2027-01-01"));
        let queries = vec![
            found("return-drop", Severity::Query, "starter"),
            found("return-drop", Severity::Query, "panel"),
            found("other", Severity::Query, "starter"),
        ];
        let answered: Vec<bool> = lay(&guide, queries.clone()).iter().map(|f| f.answer.is_some()).collect();
        assert_eq!(answered, [true, false, false]);
        let for_all = answering(&answer("return-drop", "", "2027-01-01"));
        let answered: Vec<bool> = lay(&for_all, queries).iter().map(|f| f.answer.is_some()).collect();
        assert_eq!(answered, [true, true, false]);
    }

    #[test]
    fn only_a_reviewer_s_answer_holds_where_reviewers_are_named() {
        let guide = answering(&answer("return-drop", "starter", "2027-01-01"));
        for (reviewers, holds) in [(&["R. Viewer"][..], true), (&["Somebody Else"], false)] {
            let publisher =
                Publisher { reviewers: reviewers.iter().map(|r| (*r).to_owned()).collect(), ..Publisher::default() };
            let mut findings = vec![found("return-drop", Severity::Query, "starter")];
            lay_beside(&guide, &publisher, true, TODAY, &mut findings);
            assert_eq!(findings[0].answer.is_some(), holds);
            assert_eq!(findings[0].advice.iter().any(|a| a.contains("Somebody Else")), !holds);
        }
    }

    #[test]
    fn nothing_waives_an_unsafe() {
        let guide = answering(&answer("return-drop", "starter", "2027-01-01"));
        for severity in [Severity::Unsafe, Severity::Unreadable] {
            let findings = lay(&guide, vec![found("return-drop", severity, "starter")]);
            assert!(findings[0].answer.is_none() && findings[0].stops());
        }
        let findings = lay(&guide, vec![found("return-drop", Severity::Unsafe, "starter")]);
        assert_eq!((findings[1].rule, findings[1].severity), ("answer-to-unsafe", Severity::Note));
        assert!(findings[1].message.contains("nothing waives"));
        // Even if a finding came with an answer in it.
        let mut forged = found("return-drop", Severity::Unsafe, "starter");
        forged.answer = Some(AnswerGiven { reason: String::new(), by: String::new(), until: String::new() });
        assert!(forged.stops());
    }

    #[test]
    fn an_answer_that_answers_nothing_is_told_where_it_stands() {
        let guide = answering(
            &[
                answer("retrun-drop", "starter", "2027-01-01"),
                answer("return-drop", "panel", "2027-01-01"),
                answer("return-drop", "", "2027-01-01"),
            ]
            .concat(),
        );
        let told = lay(&guide, vec![found("return-drop", Severity::Query, "starter")]);
        let rules: Vec<&str> = told[1..].iter().map(|f| f.rule).collect();
        assert_eq!(rules, ["answer-to-unknown-rule", "answer-to-nothing"]);
        assert!(told[1].advice[0].contains("return-drop"), "{:?}", told[1].advice);
        assert!(told[2].advice[0].contains("starter"), "{:?}", told[2].advice);
        assert_eq!(guide.file.at(told[2].place.span), "panel");
        assert!(told[0].answer.is_some(), "the answer to the whole guide holds");
        // Before the rules have run nobody knows what an answer is for.
        let mut none = Vec::new();
        lay_beside(&guide, &Publisher::default(), false, TODAY, &mut none);
        assert!(none.is_empty());
    }
}
