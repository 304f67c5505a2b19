#![doc = include_str!("fault_not_cleared.md")]

use super::fault_words::{Ending, corner_words, ending, fault_words, place_span, place_subject, place_words, worst};
use super::{Bench, Family, Judgement, Measured, Rule, words};
use crate::circuit::NodeId;
use crate::finding::{Check, NO_LIMIT, Outcome, Severity};
use crate::quantity::Show;
use crate::study::faults::{self, Fault, FaultCorner, Site, Sweep};

/// The rule.
pub const RULE: Rule = Rule {
    id: "fault-not-cleared",
    family: Family::Protection,
    title: "how long a short circuit at each terminal lasts, against what every conductor in its loop stands",
    worst: Severity::Unsafe,
    sources: &["iec-60364-k", "iec-60949", "cca-polynomial", "judgement"],
    page: include_str!("fault_not_cleared.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let mut sites: Vec<NodeId> = Vec::new();
    for fault in &bench.study.faults.bolted {
        if let Site::Terminal(n) = fault.site
            && !sites.contains(&n)
        {
            sites.push(n);
        }
    }
    for site in sites {
        let at = |corner| {
            worst(bench.study.faults.bolted.iter().filter(|f| f.corner == corner && f.site == Site::Terminal(site)))
        };
        judge_place(RULE.id, bench, judgement, at);
    }
    if !judgement.is_terse() {
        print_sweeps(bench, judgement);
    }
}

/// By terminal, the largest resistance of a short circuit that is still cut in five seconds: rows to read, with
/// nothing to fail. Of several things that a terminal may touch, the one to which least is needed.
fn print_sweeps(bench: &Bench<'_>, judgement: &mut Judgement) {
    let sweeps = faults::sweeps(bench.circuit, &bench.study.hottest);
    let mut least: Vec<Sweep> = Vec::new();
    for sweep in sweeps.into_iter().filter(|s| s.clears_to.is_some()) {
        match least.iter_mut().find(|l| l.site == sweep.site) {
            Some(l) if sweep.clears_to < l.clears_to => *l = sweep,
            Some(_) => {}
            None => least.push(sweep),
        }
    }
    for sweep in least {
        let Some(ohms) = sweep.clears_to else { continue };
        let node = |n: NodeId| &bench.circuit.node(n).name;
        judgement.checks.push(Check {
            rule: RULE.id,
            subject: node(sweep.site).clone(),
            case: format!(
                "{}, to `{}`: the largest resistance of a short circuit that is still cut in 5 s",
                corner_words(FaultCorner::Least),
                node(sweep.to)
            ),
            value: ohms.figure(),
            limit: words(NO_LIMIT),
            margin: if ohms >= faults::swept_to() { "or more".into() } else { String::new() },
            outcome: Outcome::Passes,
            sources: RULE.sources.to_vec(),
        });
    }
}

/// Judges the worst fault of one place, corner by corner: what the kindest fails is unsafe, what only
/// a worse corner fails is a query.
pub(super) fn judge_place<'f>(
    rule: &'static str,
    bench: &Bench<'_>,
    judgement: &mut Judgement,
    at: impl Fn(FaultCorner) -> Option<&'f Fault>,
) {
    for corner in FaultCorner::ALL {
        let Some(fault) = at(corner) else { continue };
        // A device of which no opening times are known is asked about by its own rule.
        if fault.unknown_device.is_some() && fault.cleared.is_none() {
            continue;
        }
        let severity = match (ending(fault), corner) {
            (Ending::Cleared, _) => None,
            (Ending::Overloaded, _) => Some(Severity::Query),
            // That opening takes for ever under the most current is the kindest corner's business.
            (_, FaultCorner::Kindest) => Some(Severity::Unsafe),
            _ => Some(Severity::Query),
        };
        let sources = match corner {
            FaultCorner::Kindest => vec!["iec-60364-k", "iec-60949", "cca-polynomial"],
            FaultCorner::Most | FaultCorner::Least => vec!["iec-60364-k", "iec-60949", "judgement"],
        };
        let limit = fault.stress.as_ref().and_then(|s| s.limit).or(fault.must_clear_by.map(|(_, t)| t));
        let margin = match (&fault.stress, fault.cleared) {
            (Some(s), Some(_)) if s.share <= 1.0 => {
                format!(
                    "`{}` takes {} of its heat",
                    bench.circuit.run(s.run).name,
                    crate::quantity::Ratio::of(s.share).show()
                )
            }
            (_, None) if fault.within_board_limit => "every run stands the board's limit for good".to_string(),
            (None, Some(_)) => "no conductor is stressed".to_string(),
            _ => String::new(),
        };
        let passed = judgement.say(
            bench,
            Check {
                rule,
                subject: place_subject(bench, fault),
                case: format!("{} {}, {}", fault.current.show(), place_words(bench, fault), corner_words(corner)),
                value: fault.cleared.map_or_else(|| words("never cut"), |t| t.figure()),
                limit: limit.map_or_else(|| words("for good"), |t| t.figure()),
                margin,
                outcome: severity.map_or(Outcome::Passes, Outcome::Found),
                sources,
            },
            place_span(bench, fault),
            || fault_words(bench, fault).0,
            || fault_words(bench, fault).1,
        );
        if !passed {
            break;
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, changed, finds};

    const OPENS: &str =
        "opens: {135 %: 60 s to 1800 s, 200 %: 15 s to 90 s, 600 %: 0.5 s to 3 s, 2000 %: 0.2 s to 1 s}";

    #[test]
    fn the_largest_short_that_is_still_cut_is_told_and_one_larger_is_not_cut() {
        use crate::study::faults;
        let studied = crate::rules::testing::studied(VAN);
        let judged = crate::rules::judge(&studied.bench());
        let told: Vec<_> = judged.checks.iter().filter(|c| c.case.contains("still cut in 5 s")).collect();
        assert!(told.iter().any(|c| c.subject == "panel+") || told.iter().any(|c| c.subject == "panel"), "{told:#?}");
        let sweeps = faults::sweeps(&studied.circuit, &studied.study.hottest);
        assert!(sweeps.iter().any(|s| s.clears_to.is_some_and(|r| r > crate::quantity::Resistance::zero())));
    }

    #[test]
    fn a_device_that_stays_closed_too_long_spoils_a_conductor() {
        assert!(finds("fault-not-cleared", VAN).is_empty());
        // A breaker that may take 20 s at any short circuit: 25 mm² of bond cannot stand 2 kA for that.
        let slow =
            changed(VAN, &[(OPENS, "opens: {135 %: 60 s to 1800 s, 600 %: 10 s to 20 s, 2000 %: 10 s to 20 s}")]);
        let found = finds("fault-not-cleared", &slow);
        assert!(found.iter().any(|(s, subject)| *s == Severity::Unsafe && subject == "post"), "{found:?}");
    }

    #[test]
    fn a_device_that_may_never_open_at_the_fault_current_is_unsafe() {
        // Must open only from 20 times its rating, 3 kA: no short circuit past the post reaches that.
        let deaf = changed(VAN, &[(OPENS, "opens: {2000 %: 0.2 s to 1 s, 3000 %: 0.1 s to 0.5 s}")]);
        let found = finds("fault-not-cleared", &deaf);
        assert!(found.iter().any(|(s, subject)| *s == Severity::Unsafe && subject == "starter"), "{found:?}");
    }

    #[test]
    fn the_boundary_lies_where_the_conductor_is_spoilt() {
        // The 25 mm² load bond: k from its start temperature to 250 °C; the clearing time that just
        // spoils it lies between the two.
        let with = |seconds: f64| {
            let opens =
                format!("opens: {{135 %: 60 s to 1800 s, 600 %: 0.1 s to {seconds} s, 2000 %: 0.1 s to {seconds} s}}");
            finds("fault-not-cleared", &changed(VAN, &[(OPENS, &opens)]))
        };
        let unsafe_at = |seconds| with(seconds).iter().any(|(s, _)| *s == Severity::Unsafe);
        let (mut low, mut high) = (0.5, 4.9);
        assert!(!unsafe_at(low) && unsafe_at(high));
        while high - low > 0.01 {
            let middle = 0.5 * (low + high);
            if unsafe_at(middle) { high = middle } else { low = middle }
        }
        // t = k² S²/I²: 176 to 143 A√s/mm² from 30 to 90 °C, 25 mm², 1.2 to 1.5 kA in the bond.
        assert!(3.0 < low && high < 4.9, "{low} to {high}");
    }
}
