#![doc = include_str!("conductor_too_small.md")]

use super::{Bench, Bound, Comparison, Family, Judgement, Rule};
use crate::circuit::RunId;
use crate::finding::Severity;
use crate::guide::Covering;
use crate::handbook::{ends, limits};
use crate::quantity::{CableSize, Show};

/// The rule.
pub const RULE: Rule = Rule {
    id: "conductor-too-small",
    family: Family::Ends,
    title: "the least section of a conductor, run singly or in a sheath",
    worst: Severity::Unsafe,
    sources: &["cfr33-183-425", "iso-10133-7"],
    page: include_str!("conductor_too_small.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (r, run) in bench.circuit.runs.iter().enumerate() {
        let sheathed = run.covering == Covering::Sheath;
        // A short tail between two terminals is no run.
        if !sheathed && run.length <= limits::placed_bare().value {
            continue;
        }
        let (us, iso, how) = if sheathed {
            (ends::least_sheathed(), ends::least_sheathed_metric(), "in a sheath")
        } else {
            (ends::least_single(), ends::least_single_metric(), "run singly")
        };
        let name = &run.name;
        let iso_binds = sheathed || run.length > ends::least_single_metric_length().value;
        // Under both documents' figures it is unsafe; between them, where they differ, it is asked about.
        let under_both = run.section < iso.value && iso_binds;
        let (limit, severity) = if under_both { (iso, Severity::Unsafe) } else { (us, Severity::Query) };
        let gauge = if sheathed { CableSize::Awg(18) } else { CableSize::Awg(16) };
        judgement.compare(
            bench,
            Comparison {
                rule: RULE.id,
                subject: name.clone(),
                at: bench.run_span(RunId(r)),
                case: how.into(),
                value: run.section,
                limit: limit.value,
                bound: Bound::AtLeast,
                severity,
                sources: vec![limit.source],
            },
            || {
                format!(
                    "`{name}` is {} {how}; the least is {} in one document and {gauge} in another",
                    run.size.show(),
                    iso.value.show()
                )
            },
            || {
                let mut advice = vec![format!("use {} or thicker", if sheathed { "1 mm²" } else { "1.5 mm²" })];
                if !sheathed {
                    advice.push("or lay it in a sheath with others, where thinner is allowed".into());
                }
                advice
            },
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::{Query, Unsafe};
    use crate::rules::testing::{VAN, changed, finds};

    const ID: &str = "conductor-too-small";

    fn sized(size: &str, how: &str) -> Vec<(crate::finding::Severity, String)> {
        finds(
            ID,
            &changed(
                VAN,
                &[(
                    "charge-lead: {from: alternator, to: panel, size: 25 mm², length: 0.9 m}",
                    &format!("charge-lead: {{from: alternator, to: panel, size: {size}{how}}}"),
                )],
            ),
        )
    }

    /// A single 18 AWG wire fails 33 CFR 183.425(e), in a sheath it passes (f). ISO 10133 7.7: 1 mm² single over
    /// 200 mm, 0.75 mm² in a sheath.
    #[test]
    fn least_sections_singly_and_in_a_sheath() {
        assert_eq!(finds(ID, VAN), []);
        assert_eq!(sized("16 AWG", ", length: 0.9 m"), []);
        assert_eq!(sized("1.5 mm²", ", length: 0.9 m"), []);
        assert_eq!(sized("1 mm²", ", length: 0.9 m"), [(Query, "charge-lead".into())]);
        assert_eq!(sized("18 AWG", ", length: 0.9 m"), [(Unsafe, "charge-lead".into())]);
        assert_eq!(sized("18 AWG", ", length: 0.9 m, covering: sheath"), []);
        assert_eq!(sized("0.75 mm²", ", length: 0.9 m, covering: sheath"), [(Query, "charge-lead".into())]);
        assert_eq!(sized("0.5 mm²", ", length: 0.9 m, covering: sheath"), [(Unsafe, "charge-lead".into())]);
        // A tail of 7 in is no run; up to 200 mm ISO does not bind.
        assert_eq!(sized("18 AWG", ", length: 178 mm"), []);
        assert_eq!(sized("18 AWG", ", length: 200 mm"), [(Query, "charge-lead".into())]);
    }
}
