#![doc = include_str!("bend_too_tight.md")]

use super::{Bench, Bound, Comparison, Family, Judgement, Rule};
use crate::circuit::RunId;
use crate::finding::Severity;
use crate::handbook::ends;
use crate::quantity::Show;

/// The rule.
pub const RULE: Rule = Rule {
    id: "bend-too-tight",
    family: Family::Ends,
    title: "a cable's tightest bend against its outside diameter",
    worst: Severity::Query,
    sources: &["ac43-13-1b-bend"],
    page: include_str!("bend_too_tight.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let limit = ends::BEND_DIAMETERS;
    for (r, run) in bench.circuit.runs.iter().enumerate() {
        let Some(written) = bench.guide.runs.get(&run.name) else { continue };
        let Some(bend) = written.bend else { continue };
        let Some(diameter) = written.outside_diameter else {
            judgement.not_applicable(RULE.id, &run.name, "its bend is given but not its outside diameter");
            continue;
        };
        let least = diameter.value * limit.value;
        let name = &run.name;
        judgement.compare(
            bench,
            Comparison {
                rule: RULE.id,
                subject: name.clone(),
                at: bench.guide.runs.get(name).map_or_else(|| bench.run_span(RunId(r)), |_| bend.at),
                case: format!("{} times its {}", limit.value, diameter.value.show()),
                value: bend.value,
                limit: least,
                bound: Bound::AtLeast,
                severity: Severity::Query,
                sources: vec![limit.source],
            },
            || {
                format!(
                    "`{name}` is bent to a radius of {}; ten times its diameter is {} (from memory)",
                    bend.value.show(),
                    least.show()
                )
            },
            || vec![format!("bend it no tighter than {}, or answer this with what its maker allows", least.show())],
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::Query;
    use crate::rules::testing::{VAN, changed, finds};

    /// 12 mm cable: 110 mm fails ten diameters, 125 mm passes (AC 43.13-1B 11-96, from memory).
    #[test]
    fn ten_diameters() {
        let bent = |bend: &str| {
            finds(
                "bend-too-tight",
                &changed(
                    VAN,
                    &[(
                        "size: 70 mm², length: 0.3 m}",
                        &format!("size: 70 mm², length: 0.3 m, outside-diameter: 12 mm, bend: {bend}}}"),
                    )],
                ),
            )
        };
        assert_eq!(finds("bend-too-tight", VAN), []);
        assert_eq!(bent("125 mm"), []);
        assert_eq!(bent("120 mm"), []);
        assert_eq!(bent("119 mm"), [(Query, "main-feed".into())]);
        assert_eq!(bent("110 mm"), [(Query, "main-feed".into())]);
    }
}
