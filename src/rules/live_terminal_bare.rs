#![doc = include_str!("live_terminal_bare.md")]

use super::{Bench, Family, Judgement, Rule, words};
use crate::circuit::{Kind, NodeId, Part, PartId, Polarity};
use crate::finding::{Check, Outcome, Severity};

/// The rule.
pub const RULE: Rule = Rule {
    id: "live-terminal-bare",
    family: Family::Ends,
    title: "whether every terminal that is always live is covered, or at least behind a fuse or breaker",
    worst: Severity::Unsafe,
    sources: &["cfr33-183-445", "cfr33-183-420"],
    page: include_str!("live_terminal_bare.md"),
    judge,
};

/// The positive terminals of a part.
fn positive(bench: &Bench<'_>, part: &Part) -> Vec<NodeId> {
    let on_positive = |n: &NodeId| bench.circuit.node(*n).polarity == Polarity::Positive;
    match &part.kind {
        Kind::Engine(_) | Kind::Body(_) => Vec::new(),
        _ => part.terminals().into_iter().filter(on_positive).collect(),
    }
}

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let supply = &bench.study.supply;
    let always = supply.always_live(bench.circuit);
    let unprotected = supply.live_without_device(bench.circuit);
    for (i, part) in bench.circuit.parts.iter().enumerate() {
        let terminals = positive(bench, part);
        if terminals.is_empty() {
            continue;
        }
        let id = PartId(i);
        let live = terminals.iter().any(|n| always[n.0]);
        let before = terminals.iter().any(|n| unprotected[n.0]);
        let battery = matches!(part.kind, Kind::Battery(_));
        let device = matches!(part.kind, Kind::Protector(_) | Kind::Switch(_));
        let severity = match (part.covers, live, before) {
            (Some(true), ..) => None,
            (Some(false), true, _) => Some(Severity::Unsafe),
            (Some(false), false, _) => Some(Severity::Note),
            // Behind a fuse or breaker a terminal need not be covered, by the rule's own words.
            (None, _, false) => None,
            // The holder of a device mostly covers what it holds; its guide should say so.
            (None, _, true) if device => Some(Severity::Note),
            (None, _, true) => Some(Severity::Query),
        };
        let name = &part.name;
        let value = match (part.covers, before) {
            (Some(true), _) => "covered",
            (Some(false), _) => "not covered",
            (None, false) => "behind a fuse or breaker",
            (None, true) => "not said",
        };
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: name.clone(),
                case: if live { "always live" } else { "live behind a switch" }.into(),
                value: words(value),
                limit: words("covered"),
                margin: String::new(),
                outcome: severity.map_or(Outcome::Passes, Outcome::Found),
                sources: if battery { vec!["cfr33-183-445", "cfr33-183-420"] } else { vec!["cfr33-183-445"] },
            },
            bench.guide.parts.get(name).and_then(|p| p.covers).map_or_else(|| bench.part_span(id), |c| c.at),
            || match severity {
                Some(Severity::Unsafe) => {
                    format!("the positive of `{name}` is always live and is not covered: a spanner or a lid across it is a short circuit")
                }
                Some(Severity::Note) if part.covers == Some(false) => {
                    format!("the positive of `{name}` is not covered; it is live whenever its switch is closed")
                }
                _ => format!("the positive of `{name}` is live with no fuse or breaker before it, and the guide does not say that it is covered"),
            },
            || vec![format!("fit a boot, cap or cover over it and say so: `covers: true` on `{name}`")],
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::{Note, Query, Unsafe};
    use crate::rules::testing::{VAN, changed, finds};

    const ID: &str = "live-terminal-bare";

    /// The van says nothing of the breaker, whose line side comes before any device.
    const QUIET: [(crate::finding::Severity, &str); 1] = [(Note, "breaker")];

    fn with(changes: &[(&str, &str)]) -> Vec<(crate::finding::Severity, String)> {
        finds(ID, &changed(VAN, changes))
    }

    fn said(found: &[(crate::finding::Severity, &str)]) -> Vec<(crate::finding::Severity, String)> {
        found.iter().map(|(s, n)| (*s, n.to_string())).collect()
    }

    /// An uncovered positive battery terminal fails. Source: 33 CFR 183.445(b), 183.420(b).
    #[test]
    fn the_battery_must_be_covered() {
        assert_eq!(with(&[]), said(&QUIET));
        assert_eq!(with(&[("covers: true}", "covers: false}")]), said(&[(Unsafe, "battery"), QUIET[0]]));
        assert_eq!(with(&[(", covers: true}", "}")]), said(&[(Query, "battery"), QUIET[0]]));
    }

    /// A bare feed stud fails. Source: 33 CFR 183.445(b).
    #[test]
    fn what_is_said_to_be_uncovered_and_is_always_live_is_unsafe() {
        let post = |covers: &str| {
            with(&[(
                "post: {is: post, in: load, stud: M10}",
                &format!("post: {{is: post, in: load, stud: M10{covers}}}"),
            )])
        };
        assert_eq!(post(", covers: false"), said(&[QUIET[0], (Unsafe, "post")]));
        assert_eq!(post(", covers: true"), said(&QUIET));
        // Behind the breaker nothing need be said.
        assert_eq!(post(""), said(&QUIET));
    }

    #[test]
    fn behind_a_switch_it_is_not_always_live() {
        let text = "---\ntitle: A switch\nsummary: Its figures are invented.\nwritten: 2026-11-25\n\
            vehicle: {kind: van, body: steel, drive: diesel}\nsystem: 12 V\nzones:\n  box: {label: Box}\nparts:\n  \
            battery: {is: battery, in: box, chemistry: agm, capacity: 90 Ah, covers: true}\n  \
            isolator: {is: isolator, in: box, rating: 100 A, covers: true}\n  post: {is: post, in: box, covers: false}\n  \
            lamp: {is: load, in: box}\nruns:\n  lead: {from: battery+, to: isolator, size: 6 mm², length: 0.3 m}\n  \
            feed: {from: isolator, to: post, size: 6 mm², length: 0.3 m}\n  tail: {from: post, to: lamp+, size: 6 mm², length: 0.3 m}\n  \
            back: {from: lamp-, to: battery-, size: 6 mm², length: 0.3 m}\nstates:\n  lit: {lamp: 5 A}\n---\n";
        // Nothing is said of the lamp, and no fuse comes before it.
        assert_eq!(finds(ID, text), said(&[(Note, "post"), (Query, "lamp")]));
    }
}
