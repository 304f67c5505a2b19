#![doc = include_str!("vent_too_small.md")]

use super::gas_unvented::housing;
use super::{Bench, Bound, Comparison, Family, Judgement, Measured, Rule, words};
use crate::circuit::{Battery, PartId};
use crate::finding::{Check, Outcome, Severity};
use crate::guide::{Chemistry, Vent, VentKind};
use crate::handbook::gas::{self, GasCell, Stage};
use crate::quantity::{Area, Show};
use crate::source::Placed;

/// The rule.
pub const RULE: Rule = Rule {
    id: "vent-too-small",
    family: Family::Battery,
    title: "the free area of a battery box's openings against the hydrogen that it makes",
    worst: Severity::Unsafe,
    sources: &["iec-62485-2"],
    page: include_str!("vent_too_small.md"),
    judge,
};

/// How the cells gas; lithium ones do not.
pub(super) fn gas_cell(chemistry: Chemistry) -> Option<GasCell> {
    match chemistry {
        Chemistry::Flooded => Some(GasCell::VentedLead),
        Chemistry::Agm | Chemistry::Gel => Some(GasCell::ValveRegulatedLead),
        Chemistry::Lfp => None,
    }
}

/// Free area that each opening needs, with the airflow it stands for in m³/h: Q = 0.05 n Igas C/1000, A = 28 Q.
fn needed(battery: &Battery, cell: GasCell) -> (f64, Area) {
    let airflow =
        gas::airflow_m3_per_h(gas::lead_cells(battery.units), gas::gas_current(cell, Stage::Boost), battery.capacity);
    (airflow, gas::opening(airflow))
}

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (id, battery) in bench.circuit.batteries() {
        let name = &bench.circuit.part(id).name;
        let Some(cell) = gas_cell(battery.chemistry) else {
            judgement.not_applicable(RULE.id, name, "lithium iron phosphate cells give off no hydrogen in use");
            continue;
        };
        let Some(vent) = housing(bench, id).and_then(|h| h.vent.as_ref()) else { continue };
        match vent.kind.value {
            VentKind::PortTube => {
                judgement.not_applicable(RULE.id, name, "a tube from its own vent port needs no openings");
            }
            VentKind::OpenAir => judgement.not_applicable(RULE.id, name, "in the open air it needs no openings"),
            VentKind::BoxOpenings => box_openings(bench, judgement, id, battery, cell, vent),
        }
    }
}

fn box_openings(
    bench: &Bench<'_>,
    judgement: &mut Judgement,
    id: PartId,
    battery: &Battery,
    cell: GasCell,
    vent: &Vent,
) {
    let name = &bench.circuit.part(id).name;
    let (airflow, area) = needed(battery, cell);
    // The gassing currents hold to 40 °C; above, gas about doubles with every 8 K.
    if let Some(zone) = bench.circuit.part(id).zone.map(|z| bench.circuit.zone(z)) {
        let cool = judgement.compare(
            bench,
            Comparison {
                rule: RULE.id,
                subject: name.clone(),
                at: vent.at,
                case: format!("the air in {}, to which the table of gassing currents holds", zone.label),
                value: zone.ambient,
                limit: gas::table_limit(),
                bound: Bound::AtMost,
                severity: Severity::Query,
                sources: vec!["iec-62485-2"],
            },
            || {
                format!(
                    "the openings of `{name}`'s box cannot be judged at {}: the table of gassing currents ends at {}, and above it gas about doubles with every 8 °C",
                    zone.ambient.show(),
                    gas::table_limit().show()
                )
            },
            || vec!["stand the battery somewhere cooler, or lead a tube from its own vent port to the open air".into()],
        );
        if !cool {
            return;
        }
    }
    let openings: [(&str, Option<Placed<Area>>); 2] = [("inlet", vent.inlet), ("outlet", vent.outlet)];
    for (which, given) in openings {
        let case = format!(
            "{which}, {} m³/h of air; a screening estimate, the formula is for fixed battery rooms",
            crate::quantity::show::number(airflow)
        );
        let Some(given) = given else {
            judgement.say(
                bench,
                Check {
                    rule: RULE.id,
                    subject: name.clone(),
                    case,
                    value: words("not given"),
                    limit: area.figure(),
                    margin: String::new(),
                    outcome: Outcome::Found(Severity::Query),
                    sources: vec!["iec-62485-2"],
                },
                vent.at,
                || {
                    format!(
                        "the guide does not give the free area of the {which} of `{name}`'s box; it needs {}",
                        in_cm2(area)
                    )
                },
                || vec![format!("measure it and write `{which}: {}` or more", in_cm2(area))],
            );
            continue;
        };
        judgement.compare(
            bench,
            Comparison {
                rule: RULE.id,
                subject: name.clone(),
                at: given.at,
                case,
                value: given.value,
                limit: area,
                bound: Bound::AtLeast,
                severity: Severity::Unsafe,
                sources: vec!["iec-62485-2"],
            },
            || {
                format!(
                    "the {which} of `{name}`'s box is {} and needs {} (a screening estimate)",
                    in_cm2(given.value),
                    in_cm2(area)
                )
            },
            || {
                vec![format!(
                    "make both openings at least {} free, each a round hole of {} across: one low, one at the very top",
                    in_cm2(area),
                    gas::round_hole(area).show()
                )]
            },
        );
    }
}

fn in_cm2(area: Area) -> String {
    format!("{} cm²", crate::quantity::show::number(area.in_cm2()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Severity::{Query, Unsafe};
    use crate::quantity::Charge;
    use crate::rules::testing::{VAN, changed, finds};

    const ID: &str = "vent-too-small";

    fn boxed(
        chemistry: &str,
        capacity: &str,
        openings: &str,
        ambient: &str,
    ) -> Vec<(crate::finding::Severity, String)> {
        finds(
            ID,
            &changed(
                VAN,
                &[
                    ("chemistry: agm", &format!("chemistry: {chemistry}")),
                    ("capacity: 60 Ah", &format!("capacity: {capacity}")),
                    (
                        "vent: {kind: port-tube, to: outside}",
                        &format!("vent: {{kind: box-openings, to: outside{openings}}}"),
                    ),
                    (
                        "load: {label: Load area, ambient: 40 °C}",
                        &format!("load: {{label: Load area, ambient: {ambient}}}"),
                    ),
                ],
            ),
        )
    }

    /// Cases H2 and H4 of the hydrogen table: 12 V, 100 Ah, boost. Vented 16.8 cm², valve-regulated 6.72 cm².
    #[test]
    fn the_area_of_each_opening_is_28_times_the_airflow() {
        assert_eq!(boxed("flooded", "100 Ah", ", inlet: 16.81 cm², outlet: 16.81 cm²", "40 °C"), []);
        assert_eq!(
            boxed("flooded", "100 Ah", ", inlet: 16.79 cm², outlet: 16.81 cm²", "40 °C"),
            [(Unsafe, "battery".into())]
        );
        assert_eq!(boxed("agm", "100 Ah", ", inlet: 6.73 cm², outlet: 6.73 cm²", "40 °C"), []);
        assert_eq!(boxed("agm", "100 Ah", ", inlet: 6.73 cm², outlet: 6.7 cm²", "40 °C"), [(Unsafe, "battery".into())]);
    }

    #[test]
    fn without_an_area_or_above_40_degrees_it_asks() {
        assert_eq!(boxed("agm", "100 Ah", "", "40 °C"), [(Query, "battery".into()), (Query, "battery".into())]);
        assert_eq!(boxed("agm", "100 Ah", ", inlet: 90 cm², outlet: 90 cm²", "40.1 °C"), [(Query, "battery".into())]);
    }

    #[test]
    fn a_tube_and_open_air_need_no_area() {
        assert_eq!(finds(ID, VAN), []);
        assert_eq!(finds(ID, &changed(VAN, &[("kind: port-tube", "kind: open-air")])), []);
        assert_eq!(boxed("lfp", "100 Ah", ", inlet: 1 cm², outlet: 1 cm²", "40 °C"), []);
    }

    /// Case H1, printed: 108 cells, 50 Ah, Igas 1: Q 0.27 m³/h, A 7.56 cm², a round hole of 3.1 cm (EN 50272-2 in a
    /// published worksheet). Cases H6 and H7 by the same form: 24 V vented 200 Ah, 67.2 cm²; two 12 V 100 Ah in
    /// parallel, 33.6 cm².
    #[test]
    fn the_printed_battery_room_comes_out() {
        let airflow = gas::airflow_m3_per_h(108.0, 1.0, Charge::amp_hours(50.0));
        let area = gas::opening(airflow);
        assert!((airflow - 0.27).abs() < 1e-12 && (area.in_cm2() - 7.56).abs() < 1e-9);
        assert!((gas::round_hole(area).in_millimetres() - 31.0).abs() < 0.1);
        let by = |units: f64, ah: f64| {
            let airflow = gas::airflow_m3_per_h(
                gas::lead_cells(units),
                gas::gas_current(GasCell::VentedLead, Stage::Boost),
                Charge::amp_hours(ah),
            );
            gas::opening(airflow).in_cm2()
        };
        assert!((by(2.0, 200.0) - 67.2).abs() < 1e-9 && (by(1.0, 200.0) - 33.6).abs() < 1e-9);
    }
}
