#![doc = include_str!("cold_charge.md")]

use super::{Bench, Bound, Comparison, Family, Judgement, Rule};
use crate::finding::Severity;
use crate::guide::Chemistry;
use crate::quantity::{Show, Temperature};
use crate::study::Charge;

/// The rule.
pub const RULE: Rule = Rule {
    id: "cold-charge",
    family: Family::Running,
    title: "a lithium battery that is charged when it is too cold for it",
    worst: Severity::Unsafe,
    sources: &["lithium-cold-charge"],
    page: include_str!("cold_charge.md"),
    judge,
};

/// Where the sheet of the battery says nothing: the cells' own limit (`lithium-cold-charge`).
const CELLS_LEAST_C: f64 = 0.0;

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (id, b) in bench.circuit.batteries() {
        if b.chemistry != Chemistry::Lfp && b.cold_charge_cutoff.is_none() {
            continue;
        }
        let name = &bench.circuit.part(id).name;
        let charged = bench.states().find(|(_, _, study)| {
            study
                .cases
                .iter()
                .filter(|c| c.corner.charge == Charge::Bulk)
                .filter_map(|c| c.solution.as_ref().ok())
                .any(|solved| solved.part(id).in_amps() < -1e-6)
        });
        let Some((_, state, _)) = charged else {
            judgement.not_applicable(RULE.id, name, "no state charges it");
            continue;
        };
        let Some(coldest) = bench.circuit.coldest else {
            judgement.not_applicable(RULE.id, name, "not judged: the guide gives no coldest temperature (`coldest`)");
            continue;
        };
        let limit = b.cold_charge_cutoff.unwrap_or(Temperature::celsius(CELLS_LEAST_C));
        judgement.compare(
            bench,
            Comparison {
                rule: RULE.id,
                subject: name.clone(),
                at: bench.part_span(id),
                case: format!("{}, everything at the coldest start", state.label),
                value: coldest,
                limit,
                bound: Bound::AtLeast,
                severity: Severity::Unsafe,
                sources: RULE.sources.to_vec(),
            },
            || {
                format!(
                    "`{}` would be charged at {} in `{}`; it must not be under {}",
                    name,
                    coldest.show_both(),
                    state.name,
                    limit.show_both()
                )
            },
            || {
                vec![
                    "take a battery that warms itself before it lets charge in, and give the limit on its sheet as `cold-charge-cutoff:`".into(),
                    "or keep the vehicle above that temperature, and say so with `coldest:`".into(),
                ]
            },
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, changed, check_rule, finds, one, tripping};

    fn with(coldest: &str) -> Vec<(Severity, String)> {
        finds("cold-charge", &changed(&tripping("cold-charge"), &[("coldest: −10 °C", coldest)]))
    }

    #[test]
    fn the_limit_itself_passes() {
        assert_eq!(with("coldest: 0 °C"), []);
        assert_eq!(with("coldest: −0.1 °C"), one(Severity::Unsafe, "battery"));
    }

    #[test]
    fn the_cells_own_limit_stands_where_the_sheet_says_nothing() {
        let silent = |coldest: &str| {
            finds(
                "cold-charge",
                &changed(
                    &tripping("cold-charge"),
                    &[("    cold-charge-cutoff: 0 °C\n", ""), ("coldest: −10 °C", coldest)],
                ),
            )
        };
        assert_eq!(silent("coldest: 0 °C"), []);
        assert_eq!(silent("coldest: −1 °C"), one(Severity::Unsafe, "battery"));
    }

    #[test]
    fn what_is_not_judged_is_said() {
        let unsaid = changed(&tripping("cold-charge"), &[("coldest: −10 °C\n", "")]);
        assert_eq!(check_rule("cold-charge", &unsaid).checks[0].outcome, crate::finding::Outcome::NotApplicable);
        let never = changed(&tripping("cold-charge"), &[("  filling: {charger: running}\n", "")]);
        assert_eq!(check_rule("cold-charge", &never).checks[0].outcome, crate::finding::Outcome::NotApplicable);
        assert_eq!(check_rule("cold-charge", VAN).checks, []);
    }
}
