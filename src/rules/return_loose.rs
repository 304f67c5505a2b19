#![doc = include_str!("return_loose.md")]

use super::fault_words::{fault_words, place_words, time_words};
use super::{Bench, Bound, Comparison, Family, Judgement, Rule, words};
use crate::finding::{Check, Outcome, Severity};
use crate::quantity::Show;

/// The rule.
pub const RULE: Rule = Rule {
    id: "return-loose",
    family: Family::Protection,
    title: "what carries the current when a return or strap comes loose",
    worst: Severity::Unsafe,
    sources: &["cfr33-183-425", "iec-60364-k", "judgement"],
    page: include_str!("return_loose.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for open in &bench.study.open_returns {
        let (gone, at) = (&bench.circuit.run(open.run).name, bench.run_span(open.run));
        for over in &open.overheated {
            let (run, state) = (bench.circuit.run(over.run), &bench.circuit.states[over.state.0].label);
            judgement.compare(
                bench,
                Comparison {
                    rule: RULE.id,
                    subject: gone.clone(),
                    at,
                    case: format!("loose, {state}: {} in `{}`", over.current.show(), run.name),
                    value: over.reached,
                    limit: run.rated,
                    bound: Bound::AtMost,
                    severity: if over.at_better_end { Severity::Unsafe } else { Severity::Query },
                    sources: vec!["cfr33-183-425"],
                },
                || {
                    format!(
                        "if `{gone}` comes loose, `{}` carries {} in state {state} and reaches {}; its insulation is rated {}",
                        run.name, over.current.show(), over.reached.show(), run.rated.show()
                    )
                },
                || {
                    vec![
                        format!("make `{}` as thick as the largest feed that returns there", run.name),
                        "or give the current a second return of its own".into(),
                    ]
                },
            );
        }
        for fault in &open.faults {
            judgement.say(
                bench,
                Check {
                    rule: RULE.id,
                    subject: gone.clone(),
                    case: format!("loose, short circuit {}", place_words(bench, fault)),
                    value: words(&time_words(fault.cleared)),
                    limit: words("cut in time"),
                    margin: String::new(),
                    outcome: Outcome::Found(Severity::Unsafe),
                    sources: vec!["iec-60364-k"],
                },
                at,
                || format!("if `{gone}` comes loose, {}", fault_words(bench, fault).0),
                || fault_words(bench, fault).1,
            );
        }
        for (state, part) in &open.stranded {
            let part = bench.circuit.part(*part);
            let bolted = part.bolted_to.is_some();
            let state = &bench.circuit.states[state.0].label;
            judgement.say(
                bench,
                Check {
                    rule: RULE.id,
                    subject: gone.clone(),
                    case: format!("loose, {state}"),
                    value: words(&format!("no path left for `{}`", part.name)),
                    limit: words("a path"),
                    margin: String::new(),
                    outcome: Outcome::Found(if bolted { Severity::Query } else { Severity::Note }),
                    sources: vec!["judgement"],
                },
                at,
                || {
                    if bolted {
                        format!(
                            "if `{gone}` comes loose, no path that the guide shows is left for `{}`: its current will go through bearings, control cables and screens",
                            part.name
                        )
                    } else {
                        format!("if `{gone}` comes loose, `{}` stops, for it has no other return", part.name)
                    }
                },
                || if bolted { vec![format!("give `{}` a second return, such as a strap to the body and a bond from the battery", part.name)] } else { Vec::new() },
            );
        }
        if open.overheated.is_empty() && open.faults.is_empty() && open.stranded.is_empty() {
            judgement.say(
                bench,
                Check {
                    rule: RULE.id,
                    subject: gone.clone(),
                    case: "loose, every state and every short circuit".into(),
                    value: words("other returns carry it"),
                    limit: words("within their ratings"),
                    margin: String::new(),
                    outcome: Outcome::Passes,
                    sources: vec!["cfr33-183-425", "iec-60364-k"],
                },
                at,
                String::new,
                Vec::new,
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, changed, finds};

    const BOND: &str = "load-bond: {from: battery-, to: body@load, size: 25 mm², length: 0.3 m}";

    #[test]
    fn a_thin_bond_that_takes_over_the_starter_is_unsafe() {
        assert!(finds("return-loose", VAN).is_empty());
        let thin = changed(VAN, &[(BOND, "load-bond: {from: battery-, to: body@load, size: 2.5 mm², length: 0.3 m}")]);
        assert!(finds("return-loose", &thin).contains(&(Severity::Unsafe, "main-return".into())));
    }

    #[test]
    fn a_starter_with_one_return_is_asked_about() {
        let alone = changed(
            VAN,
            &[
                ("  engine-strap: {from: engine, to: body@bay, size: 25 mm², length: 0.3 m, strap: true}\n", ""),
                ("Bolt the [engine strap](run:engine-strap) between the [engine]", "Look at the [engine]"),
                ("panel: {is: panel, in: bay, bolted-to: body@bay}", "panel: {is: panel, in: bay, bolted-to: engine}"),
            ],
        );
        assert!(finds("return-loose", &alone).contains(&(Severity::Query, "main-return".into())));
    }

    #[test]
    fn the_boundary_is_the_insulations_rating_at_the_end_of_the_state() {
        // The thinner the bond, the hotter: unsafe at 4 mm² and not at 16 mm².
        let with = |size: &str| {
            let bond = format!("load-bond: {{from: battery-, to: body@load, size: {size}, length: 0.3 m}}");
            finds("return-loose", &changed(VAN, &[(BOND, &bond)])).iter().any(|(s, _)| *s == Severity::Unsafe)
        };
        assert!(with("4 mm²") && !with("16 mm²"));
    }
}
