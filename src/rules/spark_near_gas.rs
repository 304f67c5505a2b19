#![doc = include_str!("spark_near_gas.md")]

use super::gas_unvented::{Gas, gas, housing};
use super::vent_too_small::gas_cell;
use super::{Bench, Bound, Comparison, Family, Judgement, Measured, Rule, words};
use crate::circuit::{Kind, PartId};
use crate::finding::{Check, Outcome, Severity};
use crate::guide::VentKind;
use crate::handbook::gas::{Stage, gas_current, spark_distance};
use crate::quantity::{Length, Show};

/// The rule.
pub const RULE: Rule = Rule {
    id: "spark-near-gas",
    family: Family::Battery,
    title: "how near a part that can spark stands to where a battery's gas comes out",
    worst: Severity::Query,
    sources: &["iec-62485-2-annex-b"],
    page: include_str!("spark_near_gas.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    // The widest ring of any lead-acid battery, and those whose gas comes out beside them.
    let batteries: Vec<(PartId, Length)> = bench
        .circuit
        .batteries()
        .filter_map(|(id, b)| Some((id, spark_distance(gas_current(gas_cell(b.chemistry)?, Stage::Boost), b.capacity))))
        .collect();
    let Some((_, widest)) = batteries.iter().copied().max_by(|a, b| a.1.in_metres().total_cmp(&b.1.in_metres())) else {
        return;
    };
    for (i, part) in bench.circuit.parts.iter().enumerate() {
        let sparks = matches!(&part.kind, Kind::Protector(_) | Kind::Switch(_) | Kind::Charger(_));
        if !sparks {
            continue;
        }
        let id = PartId(i);
        let name = &part.name;
        let beside = batteries.iter().find(|(battery, _)| {
            bench.circuit.part(*battery).zone == part.zone
                && !housing(bench, *battery)
                    .and_then(|h| h.vent.as_ref())
                    .is_some_and(|v| v.kind.value == VentKind::PortTube && gas(bench, *battery) == Gas::Outside)
        });
        match (part.from_vent, beside) {
            (Some(distance), _) => {
                judgement.compare(
                    bench,
                    Comparison {
                        rule: RULE.id,
                        subject: name.clone(),
                        at: bench.part_span(id),
                        case: "straight line from the gas outlet".into(),
                        value: distance,
                        limit: widest,
                        bound: Bound::AtLeast,
                        severity: Severity::Query,
                        sources: vec!["iec-62485-2-annex-b"],
                    },
                    || {
                        format!(
                            "`{name}` can spark and stands {} from where gas comes out; within {} it may be explosive (from memory)",
                            distance.show(),
                            widest.show()
                        )
                    },
                    || vec![format!("move `{name}` to at least {} from the gas outlet, or lead the gas outside by a tube", widest.show())],
                );
            }
            (None, Some((battery, ring))) => {
                let battery = &bench.circuit.part(*battery).name;
                judgement.say(
                    bench,
                    Check {
                        rule: RULE.id,
                        subject: name.clone(),
                        case: format!("straight line from the gas outlet of `{battery}`"),
                        value: words("not given"),
                        limit: ring.figure(),
                        margin: String::new(),
                        outcome: Outcome::Found(Severity::Note),
                        sources: vec!["iec-62485-2-annex-b"],
                    },
                    bench.part_span(id),
                    || {
                        format!(
                            "`{name}` can spark and is in the same place as `{battery}`; the guide does not say how far from its gas outlet, which should be {} or more",
                            ring.show()
                        )
                    },
                    || vec![format!("measure it: `from-vent: {}`", ring.show())],
                );
            }
            (None, None) => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Severity::{Note, Query};
    use crate::quantity::Charge;
    use crate::rules::testing::{VAN, changed, finds};

    const ID: &str = "spark-near-gas";

    fn placed(distance: &str) -> Vec<(crate::finding::Severity, String)> {
        finds(
            ID,
            &changed(
                VAN,
                &[
                    ("capacity: 60 Ah", "capacity: 100 Ah"),
                    ("chemistry: agm", "chemistry: flooded"),
                    ("    rating: 150 A\n", &format!("    rating: 150 A\n    from-vent: {distance}\n")),
                ],
            ),
        )
    }

    /// Cases H2 and H5 of the hydrogen table: Igas 20, 100 Ah, 362.9 mm; Igas 1, 133.7 mm. The formula is from memory.
    #[test]
    fn the_ring_is_28_8_times_two_cube_roots() {
        let ring = |igas, ah| spark_distance(igas, Charge::amp_hours(ah)).in_millimetres();
        assert!((ring(20.0, 100.0) - 362.9).abs() < 0.1 && (ring(1.0, 100.0) - 133.7).abs() < 0.1);
        assert_eq!(placed("363 mm"), []);
        assert_eq!(placed("362 mm"), [(Query, "breaker".into())]);
    }

    #[test]
    fn beside_a_battery_that_gasses_where_it_stands_it_asks_for_the_distance() {
        assert_eq!(finds(ID, VAN), []);
        let open = changed(VAN, &[("kind: port-tube", "kind: open-air")]);
        assert_eq!(finds(ID, &open), [(Note, "breaker".into()), (Note, "panel-fuse".into())]);
        assert_eq!(finds(ID, &changed(&open, &[("chemistry: agm", "chemistry: lfp")])), []);
    }
}
