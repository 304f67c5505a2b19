#![doc = include_str!("bundle_overloaded.md")]

use super::{Bench, Bound, Comparison, Family, Judgement, Rule};
use crate::circuit::{RunId, State};
use crate::finding::Severity;
use crate::handbook::conductors;
use crate::quantity::Show;
use crate::study::heat;

/// The rule.
pub const RULE: Rule = Rule {
    id: "bundle-overloaded",
    family: Family::Running,
    title: "the current in a cable that lies in a bundle, which cannot shed its heat",
    worst: Severity::Query,
    sources: &["cfr33-183-425-note-2"],
    page: include_str!("bundle_overloaded.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (r, run) in bench.circuit.runs.iter().enumerate() {
        let id = RunId(r);
        let beside = beside(bench, id);
        let Some(iz) = run.iz.filter(|_| !beside.is_empty()) else { continue };
        let count = beside.len() + 1;
        let factor = conductors::bundle_factor(count);
        let worst = bench
            .states()
            .filter(|(_, state, _)| settles(state, heat::time_constant(run)))
            .map(|(_, state, study)| (study.heat[r].current, &state.label))
            .max_by(|a, b| a.0.si().total_cmp(&b.0.si()));
        let Some((current, state)) = worst else { continue };
        let allowed = iz * factor;
        judgement.compare(
            bench,
            Comparison {
                rule: RULE.id,
                subject: run.name.clone(),
                at: bench.run_span(id),
                case: format!("{state}, {count} conductors in one bundle"),
                value: current,
                limit: allowed,
                bound: Bound::AtMost,
                severity: Severity::Query,
                sources: RULE.sources.to_vec(),
            },
            || {
                format!(
                    "`{}` carries {} in a bundle of {count}; {} of its {} leaves {}",
                    run.name,
                    current.show(),
                    crate::quantity::Ratio::of(factor).show(),
                    iz.show(),
                    allowed.show()
                )
            },
            || {
                let larger =
                    conductors::ladder(run.size).iter().filter(|s| s.section() > run.size.section()).find_map(|size| {
                        let metal = crate::circuit::wire::conductor_metal(run.metal);
                        let place = iz / run.iz30?;
                        let may = conductors::allowable_current_30(*size, run.rated, metal)? * place * factor;
                        (may >= current).then(|| format!("in {} it may carry {} there", size.show(), may.show()))
                    });
                larger.into_iter().chain(["or lay it by itself, with air round it".into()]).collect()
            },
        );
    }
}

/// The runs that lie in one bundle with a run, whichever of them says so.
fn beside(bench: &Bench<'_>, id: RunId) -> Vec<RunId> {
    (0..bench.circuit.runs.len())
        .map(RunId)
        .filter(|other| {
            let (a, b) = (bench.circuit.run(id), bench.circuit.run(*other));
            *other != id && (a.bundled_with.contains(other) || b.bundled_with.contains(&id))
        })
        .collect()
}

/// Whether a state goes on long enough for a run to settle: for good, or three time constants (95 % of the rise).
fn settles(state: &State, tau: Option<crate::quantity::Duration>) -> bool {
    match (state.lasts, tau) {
        (Some(lasts), Some(tau)) => lasts >= tau * 3.0,
        _ => true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Duration;
    use crate::rules::testing::{assert_edge_at, changed, check_rule, edge, finds, tripping};

    #[test]
    fn a_short_state_does_not_settle_a_run() {
        let state = |lasts| State { name: String::new(), label: String::new(), lasts, every: None, parts: Vec::new() };
        let tau = Some(Duration::seconds(100.0));
        assert!(settles(&state(None), tau));
        assert!(settles(&state(Some(Duration::seconds(300.0))), tau));
        assert!(!settles(&state(Some(Duration::seconds(299.0))), tau));
    }

    #[test]
    fn the_edge_of_three_is_seven_tenths() {
        // Note 2: 0.70 for 3. 1.5 mm² takes 16 AWG, 25 A at 105 °C: 17.5 A.
        let guide =
            |amps: f64| changed(&tripping("bundle-overloaded"), &[("lamp: 20 A}", &format!("lamp: {amps:.5} A}}"))]);
        assert_edge_at(&edge("bundle-overloaded", Severity::Query, guide, 10.0, 20.0), 17.5);
    }

    #[test]
    fn a_pair_is_not_reduced() {
        let pair = changed(
            &tripping("bundle-overloaded"),
            &[("bundled-with: [return, lamp-feed]", "bundled-with: [return]"), (", bundled-with: [lamp-feed]", "")],
        );
        assert_eq!(finds("bundle-overloaded", &pair), []);
        assert!(check_rule("bundle-overloaded", &pair).checks.iter().all(|c| c.case.contains("2 conductors")));
    }
}
