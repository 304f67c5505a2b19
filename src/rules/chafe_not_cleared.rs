#![doc = include_str!("chafe_not_cleared.md")]

use super::fault_not_cleared::judge_place;
use super::fault_words::worst;
use super::{Bench, Family, Judgement, Rule};
use crate::circuit::RunId;
use crate::finding::Severity;
use crate::study::faults::{Fault, Site};

/// The rule.
pub const RULE: Rule = Rule {
    id: "chafe-not-cleared",
    family: Family::Protection,
    title: "how long a fault lasts wherever along a positive run it chafes through",
    worst: Severity::Unsafe,
    sources: &["iec-60364-k", "iec-60949", "cca-polynomial", "judgement"],
    page: include_str!("chafe_not_cleared.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let along = |fault: &Fault, id: RunId| matches!(fault.site, Site::Along(run, ..) if run == id);
    for id in (0..bench.circuit.runs.len()).map(RunId) {
        judge_place(RULE.id, bench, judgement, |corner| {
            worst(bench.study.faults.chafe.iter().filter(|f| f.corner == corner && along(f, id)))
        });
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, changed, finds};

    const BREAKER: &str =
        "opens: {135 %: 60 s to 1800 s, 200 %: 15 s to 90 s, 600 %: 0.5 s to 3 s, 2000 %: 0.2 s to 1 s}";
    /// The breaker upstream must not help: it opens from 1.65 kA.
    const DEAF_BREAKER: &str = "opens: {1100 %: 0.5 s to 3 s, 2000 %: 0.2 s to 1 s}";
    const OPENS: &str =
        "opens: {135 %: 60 s to 1800 s, 200 %: 2 s to 60 s, 600 %: 50 ms to 1 s, 2500 %: 5 ms to 50 ms}";

    #[test]
    fn the_middle_of_a_run_is_judged_and_not_only_its_ends() {
        assert!(finds("chafe-not-cleared", VAN).is_empty());
        // About 980 A flows at the alternator and 1700 A at the fuse: a fuse that must open from 1500 A
        // opens for the one and not for the other.
        let deaf =
            changed(VAN, &[(OPENS, "opens: {1500 %: 5 ms to 1 s, 2500 %: 5 ms to 50 ms}"), (BREAKER, DEAF_BREAKER)]);
        let found = finds("chafe-not-cleared", &deaf);
        assert!(found.contains(&(Severity::Unsafe, "panel-feed".into())), "{found:?}");
    }

    #[test]
    fn the_boundary_is_the_current_from_which_the_device_must_open() {
        // The least current along the charge lead is its far end's: the kindest corner finds 970 to 989 A there.
        let from = |percent: f64| {
            let opens = format!("opens: {{{percent} %: 5 ms to 1 s, 2500 %: 5 ms to 50 ms}}");
            finds("chafe-not-cleared", &changed(VAN, &[(OPENS, &opens), (BREAKER, DEAF_BREAKER)]))
                .contains(&(Severity::Unsafe, "charge-lead".into()))
        };
        assert!(!from(965.0) && from(980.0));
    }
}
