#![doc = include_str!("not_selective.md")]

use super::fault_words::time_words;
use super::{Bench, Family, Judgement, Measured, Rule, words};
use crate::circuit::PartId;
use crate::finding::{Check, Outcome, Severity};
use crate::quantity::Show;
use crate::study::faults::Sequence;

/// The rule.
pub const RULE: Rule = Rule {
    id: "not-selective",
    family: Family::Protection,
    title: "whether the device nearest a fault opens first",
    worst: Severity::Query,
    sources: &["electrical-installation-work", "judgement"],
    page: include_str!("not_selective.md"),
    judge,
};

/// Whether the near device is surely open before the far one could open.
fn is_selective(s: &Sequence) -> bool {
    match (s.near_latest, s.far_earliest) {
        (_, None) => true,
        (Some(near), Some(far)) => near < far,
        (None, Some(_)) => false,
    }
}

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let mut pairs: Vec<(PartId, PartId)> = Vec::new();
    for s in &bench.study.faults.sequences {
        if !pairs.contains(&(s.near, s.far)) {
            pairs.push((s.near, s.far));
        }
    }
    for (near, far) in pairs {
        let of_pair = || bench.study.faults.sequences.iter().filter(|s| (s.near, s.far) == (near, far));
        // One row a pair: the fault at which it fails, or else any.
        let Some(worst) = of_pair().find(|s| !is_selective(s)).or_else(|| of_pair().next()) else { continue };
        let name = |id: PartId| bench.circuit.part(id).name.clone();
        let site = bench.circuit.node(worst.site).name.clone();
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: name(near),
                case: format!("{} at `{site}`, before `{}`", worst.current.show(), name(far)),
                value: worst.near_latest.map_or_else(|| words("may never open"), |t| t.figure()),
                limit: worst.far_earliest.map_or_else(|| words("it holds"), |t| t.figure()),
                margin: String::new(),
                outcome: if is_selective(worst) { Outcome::Passes } else { Outcome::Found(Severity::Query) },
                sources: vec!["electrical-installation-work"],
            },
            bench.part_span(near),
            || {
                format!(
                    "on a short circuit at `{site}` ({}) `{}` may open before `{}`: {} against {} at the latest",
                    worst.current.show(),
                    name(far),
                    name(near),
                    worst.far_earliest.map_or_else(|| "never".into(), |t| t.show()),
                    time_words(worst.near_latest),
                )
            },
            || {
                vec![format!(
                    "choose a quicker or smaller `{}`, or a slower `{}` whose cable stands it",
                    name(near),
                    name(far)
                )]
            },
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, changed, finds};

    const OPENS: &str =
        "opens: {135 %: 60 s to 1800 s, 200 %: 15 s to 90 s, 600 %: 0.5 s to 3 s, 2000 %: 0.2 s to 1 s}";

    #[test]
    fn bands_that_overlap_are_asked_about() {
        // The starter hangs on the post between breaker and panel fuse.
        assert!(finds("not-selective", VAN).is_empty());
        let quick =
            changed(VAN, &[(OPENS, "opens: {135 %: 60 s to 1800 s, 600 %: 10 ms to 50 ms, 2000 %: 5 ms to 20 ms}")]);
        assert_eq!(finds("not-selective", &quick), [(Severity::Query, "panel-fuse".into())]);
    }

    #[test]
    fn the_boundary_is_where_the_bands_touch() {
        // The panel fuse opens within 0.36 s at the least of its faults (978 A, kindest).
        let with = |least: f64| {
            let opens = format!("opens: {{135 %: {least} s to 1800 s, 2000 %: {least} s to 3 s}}");
            finds("not-selective", &changed(VAN, &[(OPENS, &opens)])).is_empty()
        };
        assert!(with(0.37) && !with(0.35));
    }
}
