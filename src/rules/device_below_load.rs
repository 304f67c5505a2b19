#![doc = include_str!("device_below_load.md")]

use super::device_work::{is_continuous, through};
use super::{Bench, Bound, Comparison, Family, Judgement, Rule};
use crate::finding::Severity;
use crate::quantity::{Current, Show};

/// The rule.
pub const RULE: Rule = Rule {
    id: "device-below-load",
    family: Family::Protection,
    title: "the current that a fuse or breaker carries for good against its rating",
    worst: Severity::Unsafe,
    sources: &["nec-210-20"],
    page: include_str!("device_below_load.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (id, device) in bench.circuit.protectors() {
        let name = &bench.circuit.part(id).name;
        for (_, state, study) in bench.states().filter(|(_, state, _)| is_continuous(state)) {
            let carries = through(study, id);
            if carries <= Current::zero() {
                continue;
            }
            judgement.compare(
                bench,
                Comparison {
                    rule: RULE.id,
                    subject: name.clone(),
                    at: bench.part_span(id),
                    case: state.label.clone(),
                    value: carries,
                    limit: device.rating,
                    bound: Bound::AtMost,
                    severity: Severity::Unsafe,
                    sources: vec!["nec-210-20"],
                },
                || format!("`{name}` is rated {} and carries {} in `{}`", device.rating.show(), carries.show(), state.name),
                || {
                    vec![format!(
                        "use a device rated at least {}, and a cable that may carry that, or share the load out over two circuits",
                        (carries / crate::handbook::limits::continuous_share().value.in_ones()).show()
                    )]
                },
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::Unsafe;
    use crate::rules::testing::{VAN, changed, finds};

    const ID: &str = "device-below-load";

    #[test]
    fn what_it_carries_for_good_is_at_most_its_rating() {
        assert_eq!(finds(ID, VAN), []);
        // With the engine off for good the panel's current comes through breaker and fuse.
        let off = |amps: &str| {
            changed(VAN, &[("engine-off: {panel: 12 A, for: 2 h}", &format!("engine-off: {{panel: {amps}}}"))])
        };
        assert_eq!(finds(ID, &off("100 A")), []);
        assert_eq!(finds(ID, &off("101 A")), [(Unsafe, "panel-fuse".into())]);
        assert_eq!(finds(ID, &off("151 A")), [(Unsafe, "breaker".into()), (Unsafe, "panel-fuse".into())]);
    }

    #[test]
    fn a_state_that_ends_before_three_hours_is_not_for_good() {
        let off = |lasts: &str| {
            changed(
                VAN,
                &[("engine-off: {panel: 12 A, for: 2 h}", &format!("engine-off: {{panel: 120 A, for: {lasts}}}"))],
            )
        };
        assert_eq!(finds(ID, &off("2.9 h")), []);
        assert_eq!(finds(ID, &off("3 h")), [(Unsafe, "panel-fuse".into())]);
    }
}
