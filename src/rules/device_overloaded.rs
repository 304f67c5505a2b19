#![doc = include_str!("device_overloaded.md")]

use super::device_work::{by_duty, is_continuous, through};
use super::{Bench, Bound, Comparison, Family, Judgement, Rule};
use crate::finding::Severity;
use crate::handbook::limits;
use crate::quantity::{Current, Ratio, Show};

/// The rule.
pub const RULE: Rule = Rule {
    id: "device-overloaded",
    family: Family::Protection,
    title: "the current that a fuse or breaker carries for good, as a share of its rating",
    worst: Severity::Query,
    sources: &["nec-210-20"],
    page: include_str!("device_overloaded.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let limit = limits::continuous_share();
    for (id, device) in bench.circuit.protectors() {
        let name = &bench.circuit.part(id).name;
        for (state_id, state, study) in bench.states().filter(|(_, state, _)| is_continuous(state)) {
            let carries = through(study, id);
            // Over its rating is `device-below-load`'s to say.
            if carries <= Current::zero() || device.rating < carries || by_duty(bench, state_id) {
                continue;
            }
            let share = Ratio::of(carries / device.rating);
            judgement.compare(
                bench,
                Comparison {
                    rule: RULE.id,
                    subject: name.clone(),
                    at: bench.part_span(id),
                    case: format!("{}, {} of {}", state.label, carries.show(), device.rating.show()),
                    value: share,
                    limit: limit.value,
                    bound: Bound::AtMost,
                    severity: Severity::Query,
                    sources: vec![limit.source],
                },
                || {
                    format!(
                        "`{name}` carries {} for good in `{}`, {} of its {}; a continuous load takes at most {}",
                        carries.show(),
                        state.name,
                        share.show(),
                        device.rating.show(),
                        limit.value.show()
                    )
                },
                || {
                    vec![format!(
                        "use a device rated at least {}, if the cables after it may carry that",
                        (carries / limit.value.in_ones()).show()
                    )]
                },
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::Query;
    use crate::rules::testing::{VAN, changed, finds};

    const ID: &str = "device-overloaded";

    fn off(amps: &str) -> Vec<(crate::finding::Severity, String)> {
        finds(ID, &changed(VAN, &[("engine-off: {panel: 12 A, for: 2 h}", &format!("engine-off: {{panel: {amps}}}"))]))
    }

    /// Load 20 A continuous: device at least 25 A (NEC 210.20(A): 125 % of the continuous load), so 80 A on 100 A.
    #[test]
    fn a_continuous_load_takes_at_most_80_percent() {
        assert_eq!(finds(ID, VAN), []);
        assert_eq!(off("80 A"), []);
        assert_eq!(off("80.1 A"), [(Query, "panel-fuse".into())]);
        assert_eq!(off("101 A"), []);
    }

    #[test]
    fn bulk_charging_counts_too() {
        // The alternator's 90 A less the panel's 5 A go back through the fuse into the battery.
        let charging = changed(
            VAN,
            &[("charging: {alternator: running, panel: 45 A}", "charging: {alternator: running, panel: 5 A}")],
        );
        assert_eq!(finds(ID, &charging), [(Query, "panel-fuse".into())]);
    }

    #[test]
    fn what_works_by_duty_is_left_out() {
        let duty = changed(
            VAN,
            &[
                (
                    "panel: {is: panel, in: bay, bolted-to: body@bay}",
                    "panel: {is: panel, in: bay, bolted-to: body@bay, intermittent: true}",
                ),
                ("engine-off: {panel: 12 A, for: 2 h}", "engine-off: {panel: 95 A}"),
            ],
        );
        assert_eq!(finds(ID, &duty), []);
    }
}
