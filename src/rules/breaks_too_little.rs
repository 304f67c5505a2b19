#![doc = include_str!("breaks_too_little.md")]

use super::{Bench, Bound, Comparison, Family, Judgement, Rule};
use crate::circuit::Kind;
use crate::finding::Severity;
use crate::handbook::limits;
use crate::quantity::{Current, Show};

/// The rule.
pub const RULE: Rule = Rule {
    id: "breaks-too-little",
    family: Family::Protection,
    title: "the most current a breaker or fuse may be asked to break, against what it can",
    worst: Severity::Unsafe,
    sources: &["cca-polynomial", "judgement", "stationary-short-circuit"],
    page: include_str!("breaks_too_little.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for breaking in &bench.study.faults.breaking {
        let part = bench.circuit.part(breaking.device);
        let Kind::Protector(device) = &part.kind else { continue };
        let at = bench.part_span(breaking.device);
        let comparison = |value: Current, limit: Current, case: &str, severity, source| Comparison {
            rule: RULE.id,
            subject: part.name.clone(),
            at,
            case: case.to_string(),
            value,
            limit,
            bound: Bound::AtLeast,
            severity,
            sources: vec![source],
        };
        let Some(breaks) = device.breaks else {
            judgement.compare(
                bench,
                comparison(Current::zero(), breaking.most, "not given", Severity::Query, "judgement"),
                || {
                    format!(
                        "`{}` gives no breaking capacity; a short circuit here can reach {}",
                        part.name,
                        breaking.most.show()
                    )
                },
                || vec![format!("give `breaks:` from its maker's sheet; it must be at least {}", breaking.most.show())],
            );
            continue;
        };
        if breaking.unknown {
            // Nothing is known of the battery, so nothing can be passed. A lithium battery may give far
            // more than its published resistance suggests.
            let asked = if breaking.lithium { limits::lithium_breaking().value } else { breaking.most };
            judgement.compare(
                bench,
                comparison(breaks, asked, "battery's short circuit not known", Severity::Query, "judgement"),
                || {
                    format!(
                        "a battery that feeds `{}` gives no figure for its short-circuit current; {} is asked of devices here, and it breaks {}",
                        part.name, asked.show(), breaks.show()
                    )
                },
                || {
                    vec![
                        "give the battery's `short-circuit-resistance:` or `cold-cranking:` from its maker's sheet".into(),
                        format!("or fit a device that breaks {}", asked.show()),
                    ]
                },
            );
            continue;
        }
        let advice = |asked: Current| {
            vec![
                format!("fit a device that breaks at least {}", asked.show()),
                "or give the battery's measured `short-circuit-resistance:` if it is higher".into(),
            ]
        };
        let passes = judgement.compare(
            bench,
            comparison(
                breaks,
                breaking.kindest,
                "short circuit straight to the battery's negative, 0.61 of its cold cranking resistance",
                Severity::Unsafe,
                "cca-polynomial",
            ),
            || {
                format!(
                    "`{}` breaks {} and may be asked to break {}",
                    part.name,
                    breaks.show(),
                    breaking.kindest.show()
                )
            },
            || advice(breaking.most),
        );
        if passes {
            judgement.compare(
                bench,
                comparison(
                    breaks,
                    breaking.most,
                    "the same, 0.4 of its cold cranking resistance",
                    Severity::Query,
                    "judgement",
                ),
                || {
                    format!(
                        "`{}` breaks {}; a good warm battery could give {}",
                        part.name,
                        breaks.show(),
                        breaking.most.show()
                    )
                },
                || advice(breaking.most),
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, changed, check_rule, finds};

    #[test]
    fn a_device_that_cannot_break_the_batterys_short_circuit_is_unsafe() {
        // 640 A EN at 12.6 V: (12.6 − 7.5)/640 = 7.97 mΩ cold; 0.61 of it 4.86 mΩ, 0.4 of it 3.19 mΩ.
        let text = changed(VAN, &[("breaks: 5 kA", "breaks: 2 kA")]);
        assert_eq!(finds("breaks-too-little", &text), [(Severity::Unsafe, "breaker".into())]);
        let text = changed(VAN, &[("breaks: 5 kA", "breaks: 3 kA")]);
        assert_eq!(finds("breaks-too-little", &text), [(Severity::Query, "breaker".into())]);
        assert!(finds("breaks-too-little", VAN).is_empty());
    }

    #[test]
    fn it_passes_at_just_what_is_asked_and_not_a_whit_under() {
        let judged = check_rule("breaks-too-little", VAN);
        let asked = judged.checks.iter().find(|c| c.subject == "breaker").expect("a row").limit.si;
        let up = changed(VAN, &[("breaks: 5 kA", &format!("breaks: {:.3} A", asked + 0.01))]);
        assert_eq!(finds("breaks-too-little", &up), [(Severity::Query, "breaker".into())]);
        let under = changed(VAN, &[("breaks: 5 kA", &format!("breaks: {:.3} A", asked - 0.01))]);
        assert_eq!(finds("breaks-too-little", &under), [(Severity::Unsafe, "breaker".into())]);
    }

    #[test]
    fn without_its_figure_or_the_batterys_it_asks() {
        let text = changed(VAN, &[("    breaks: 5 kA\n", "")]);
        assert_eq!(finds("breaks-too-little", &text), [(Severity::Query, "breaker".into())]);
        let text = changed(VAN, &[("    cold-cranking: 640 A EN\n", "")]);
        assert!(finds("breaks-too-little", &text).is_empty(), "20 × 60 Ah is within both devices");
    }
}
