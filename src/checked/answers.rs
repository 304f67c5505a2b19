//! Laying the reviewer's written answers beside the queries they answer.
//!
//! An answer holds when its rule and what it is about are those of a query, and its last day has
//! not passed. It can do nothing for an `unsafe`. An answer that does nothing is told to its
//! author, since it may be a slip of the pen that leaves a query open.

use jiff::civil::Date;

use crate::finding::{AnswerGiven, Finding, Place, Severity};
use crate::guide::{Answer, Guide};
use crate::rules;

/// Gives queries their answers and adds what is wrong with the answers themselves.
///
/// `judged` says whether the rules ran at all: before that, nobody can tell what an answer is for.
pub fn lay_beside(guide: &Guide, judged: bool, today: Date, findings: &mut Vec<Finding>) {
    let mut about_answers = Vec::new();
    for answer in &guide.answers {
        let ran_out = answer.until.value < today;
        let mut answered = false;
        for finding in findings.iter_mut().filter(|f| f.severity == Severity::Query && is_for(answer, f)) {
            answered = true;
            if ran_out {
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
