#![doc = include_str!("opening_times_unknown.md")]

use super::{Bench, Family, Judgement, Rule, words};
use crate::finding::{Check, Outcome, Severity};
use crate::quantity::Show;
use crate::study::faults::FaultCorner;
use crate::study::opening;

/// The rule.
pub const RULE: Rule = Rule {
    id: "opening-times-unknown",
    family: Family::Protection,
    title: "whether every device's opening times are known",
    worst: Severity::Query,
    sources: &["judgement", "iso-8820-3", "din-72581-3"],
    page: include_str!("opening_times_unknown.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (id, device) in bench.circuit.protectors() {
        let part = bench.circuit.part(id);
        let known = opening::is_known(device);
        // What must hold, from the fault that leaves the least time.
        let must = || {
            bench
                .study
                .faults
                .bolted
                .iter()
                .filter(|f| f.corner == FaultCorner::Kindest)
                .filter(|f| f.unknown_device.is_some_and(|(d, _)| d == id))
                .filter_map(|f| Some((f.must_clear_by?, f.unknown_device?.1)))
                .min_by(|a, b| a.0.1.si().total_cmp(&b.0.1.si()))
                .map(|((run, time), amps)| {
                    let run = &bench.circuit.run(run).name;
                    format!("it must open within {} at {}, or `{run}` is spoilt", time.show(), amps.show())
                })
        };
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: part.name.clone(),
                case: "opening times".into(),
                value: words(if !device.opens.is_empty() {
                    "its maker's points"
                } else if known {
                    "its published class"
                } else {
                    "not known"
                }),
                limit: words("known"),
                margin: String::new(),
                outcome: if known { Outcome::Passes } else { Outcome::Found(Severity::Query) },
                sources: vec!["judgement"],
            },
            bench.part_span(id),
            || {
                format!(
                    "nobody says when `{}` opens{}",
                    part.name,
                    must().map_or_else(String::new, |m| format!(": {m}"))
                )
            },
            || {
                vec![
                    "copy the points from its maker's sheet: `opens: {135 %: 60 s to 1800 s, 200 %: 2 s to 60 s}`"
                        .into(),
                ]
            },
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, changed, check_rule, finds};

    #[test]
    fn a_large_device_without_its_makers_points_is_asked_about() {
        let text = changed(
            VAN,
            &[(", opens: {135 %: 60 s to 1800 s, 200 %: 2 s to 60 s, 600 %: 50 ms to 1 s, 2500 %: 5 ms to 50 ms}", "")],
        );
        assert_eq!(finds("opening-times-unknown", &text), [(Severity::Query, "panel-fuse".into())]);
        let message = &check_rule("opening-times-unknown", &text).findings[0].message;
        assert!(message.contains("it must open within") && message.contains("spoilt"), "{message}");
        assert!(finds("opening-times-unknown", VAN).is_empty());
    }

    #[test]
    fn the_boundary_of_a_published_class_is_its_largest_rating() {
        // DIN 72581-3 Form E is printed for 20 to 80 A.
        let opens = ", rating: 100 A, volts: 32 V, breaks: 6 kA, opens: {135 %: 60 s to 1800 s, 200 %: 2 s to 60 s, 600 %: 50 ms to 1 s, 2500 %: 5 ms to 50 ms}";
        let with = |rating: &str| {
            let form = format!(", rating: {rating}, volts: 32 V, breaks: 6 kA, form: din-72581-3-form-e");
            finds("opening-times-unknown", &changed(VAN, &[(opens, &form)]))
        };
        assert!(with("80 A").is_empty());
        assert_eq!(with("81 A"), [(Severity::Query, "panel-fuse".into())]);
    }
}
