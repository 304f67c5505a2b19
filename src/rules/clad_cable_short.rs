#![doc = include_str!("clad_cable_short.md")]

use super::{Bench, Bound, Comparison, Family, Judgement, Rule};
use crate::circuit::RunId;
use crate::finding::{Check, Outcome, Severity};
use crate::guide::Metal;
use crate::quantity::{Area, Show};

/// The rule.
pub const RULE: Rule = Rule {
    id: "clad-cable-short",
    family: Family::Running,
    title: "a cable with less metal in it than its size says",
    worst: Severity::Query,
    sources: &["astm-b258", "iec-60228"],
    page: include_str!("clad_cable_short.md"),
    judge,
};

/// A section read off strands or weighed is not surer than this; our judgement.
const MEASURING: f64 = 0.98;

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (r, run) in bench.circuit.runs.iter().enumerate() {
        let written = bench.guide.runs.get(&run.name);
        let given = written.and_then(|w| w.section.as_ref());
        let clad = run.metal == Metal::CopperClad;
        let nominal = run.size.section();
        let at = given.map_or(bench.run_span(RunId(r)), |s| s.at);
        if let Some(given) = given {
            let value = given.value;
            judgement.compare(
                bench,
                Comparison {
                    rule: RULE.id,
                    subject: run.name.clone(),
                    at,
                    case: run.size.show(),
                    value,
                    limit: nominal * MEASURING,
                    bound: Bound::AtLeast,
                    severity: Severity::Query,
                    sources: RULE.sources.to_vec(),
                },
                || {
                    format!(
                        "`{}` is sold as {} and has {} of metal in place of {}; its numbers here are worked from what it has",
                        run.name,
                        run.size.show(),
                        value.show(),
                        nominal.show()
                    )
                },
                || vec![copper(nominal), "or answer this query with why this cable is enough by its true section".into()],
            );
        } else if clad {
            judgement.say(
                bench,
                Check {
                    rule: RULE.id,
                    subject: run.name.clone(),
                    case: run.size.show(),
                    value: super::words("not given"),
                    limit: super::words("the true section of metal"),
                    margin: String::new(),
                    outcome: Outcome::Found(Severity::Note),
                    sources: RULE.sources.to_vec(),
                },
                at,
                || {
                    format!(
                        "`{}` is copper-clad aluminium sold as {}, which often has less metal than that; {} is assumed",
                        run.name,
                        run.size.show(),
                        nominal.show()
                    )
                },
                || {
                    vec![
                        "count the strands and measure one: strands × 0.785 × diameter², in mm, is the `section:` in mm²"
                            .into(),
                    ]
                },
            );
        }
    }
}

fn copper(nominal: Area) -> String {
    format!("take copper cable of {}", nominal.show())
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, changed, check_rule, finds, one, tripping};

    fn with(section: &str) -> Vec<(Severity, String)> {
        finds("clad-cable-short", &changed(&tripping("clad-cable-short"), &[("section: 3.5 mm²", section)]))
    }

    #[test]
    fn the_edge_is_two_hundredths_under_the_gauge() {
        // ASTM B258: 10 AWG is 5.2612 mm²; 98 % of it is 5.1560 mm².
        assert_eq!(with("section: 5.157 mm²"), []);
        assert_eq!(with("section: 5.155 mm²"), one(Severity::Query, "feed"));
    }

    #[test]
    fn clad_cable_of_unknown_section_is_a_note_and_copper_is_not() {
        let unknown = changed(&tripping("clad-cable-short"), &[(", section: 3.5 mm²", "")]);
        assert_eq!(finds("clad-cable-short", &unknown), one(Severity::Note, "feed"));
        assert_eq!(check_rule("clad-cable-short", VAN).checks, []);
    }
}
