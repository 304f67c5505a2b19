#![doc = include_str!("edge_unguarded.md")]

use super::{Bench, Family, Judgement, Rule, words};
use crate::circuit::{Polarity, RunId};
use crate::finding::{Check, Outcome, Severity};
use crate::guide::Covering;

/// The rule.
pub const RULE: Rule = Rule {
    id: "edge-unguarded",
    family: Family::Ends,
    title: "whether cables that pass from one place to another are guarded where they go through",
    worst: Severity::Unsafe,
    sources: &["cfr33-183-445", "cfr49-393-30", "iso-10133-7", "uk-inspection"],
    page: include_str!("edge_unguarded.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (r, run) in bench.circuit.runs.iter().enumerate() {
        let crosses = run.laid.windows(2).any(|w| w[0].0 != w[1].0);
        if !crosses {
            continue;
        }
        let conduit = matches!(run.covering, Covering::Conduit | Covering::Trunking);
        let feed = run.polarity == Polarity::Positive;
        let severity = match (run.edge_guards, conduit, feed) {
            (Some(true), ..) => None,
            // Conduit is itself what keeps the edge off the cable.
            (None, true, _) => None,
            (Some(false), true, _) => Some(Severity::Query),
            (Some(false), false, true) => Some(Severity::Unsafe),
            (Some(false), false, false) | (None, false, true) => Some(Severity::Query),
            (None, false, false) => Some(Severity::Note),
        };
        let name = &run.name;
        let places: Vec<&str> = run.laid.iter().map(|(z, _)| bench.circuit.zone(*z).name.as_str()).collect();
        let through = places.join(" to ");
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: name.clone(),
                case: through.clone(),
                value: words(match (run.edge_guards, conduit) {
                    (Some(true), _) => "guarded",
                    (_, true) => "in conduit",
                    (Some(false), _) => "not guarded",
                    (None, _) => "not said",
                }),
                limit: words("a guard at every edge"),
                margin: String::new(),
                outcome: severity.map_or(Outcome::Passes, Outcome::Found),
                sources: vec!["cfr33-183-445"],
            },
            bench.run_span(RunId(r)),
            || match run.edge_guards {
                Some(_) => format!("`{name}` goes from {through} with no guard where it passes an edge: it chafes through to bare metal"),
                None => format!("`{name}` goes from {through}, and the guide does not say that its edges are guarded"),
            },
            || vec!["put a grommet or edge strip wherever it goes through or over metal and say so: `edge-guards: true`; or lay it in conduit".into()],
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::{Note, Query, Unsafe};
    use crate::rules::testing::{VAN, changed, finds};

    const ID: &str = "edge-unguarded";
    const FEED: &str = "panel-feed: {from: panel-fuse, to: panel, size: 25 mm², covering: conduit,";
    const RETURN: &str = "main-return: {from: battery-, to: engine, size: 70 mm², covering: conduit,";

    #[test]
    fn a_feed_that_passes_an_edge_is_guarded() {
        assert_eq!(finds(ID, VAN), []);
        let feed = |how: &str| {
            finds(
                ID,
                &changed(VAN, &[(FEED, &format!("panel-feed: {{from: panel-fuse, to: panel, size: 25 mm²,{how}"))]),
            )
        };
        assert_eq!(feed(" covering: sheath, edge-guards: true,"), []);
        assert_eq!(feed(" covering: sheath,"), [(Query, "panel-feed".into())]);
        assert_eq!(feed(" covering: sheath, edge-guards: false,"), [(Unsafe, "panel-feed".into())]);
        assert_eq!(feed(" covering: conduit, edge-guards: false,"), [(Query, "panel-feed".into())]);
    }

    #[test]
    fn a_return_is_judged_less_hard() {
        let back = |how: &str| {
            finds(
                ID,
                &changed(VAN, &[(RETURN, &format!("main-return: {{from: battery-, to: engine, size: 70 mm²,{how}"))]),
            )
        };
        assert_eq!(back(""), [(Note, "main-return".into())]);
        assert_eq!(back(" edge-guards: false,"), [(Query, "main-return".into())]);
        assert_eq!(back(" edge-guards: true,"), []);
    }
}
