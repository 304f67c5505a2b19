#![doc = include_str!("gas_unvented.md")]

use super::{Bench, Family, Judgement, Rule, words};
use crate::circuit::{PartId, ZoneId};
use crate::finding::{Check, Outcome, Severity};
use crate::guide::{self, BoxKind, Chemistry, VentKind, VentTo};

/// The rule.
pub const RULE: Rule = Rule {
    id: "gas-unvented",
    family: Family::Battery,
    title: "where a battery's gas goes: never into a space where people are",
    worst: Severity::Unsafe,
    sources: &["cfr33-183-420", "cfr49-393-30", "ohio-3304-6-12", "tm-9-6140-200-14", "ufc-3-520-01"],
    page: include_str!("gas_unvented.md"),
    judge,
};

/// Where a battery's gas goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Gas {
    /// To the open air.
    Outside,
    /// Into a zone.
    Zone(ZoneId),
}

/// Where a battery's gas goes: what its guide does not say leads nowhere, so it stays where the battery is.
pub(super) fn gas(bench: &Bench<'_>, id: PartId) -> Gas {
    let here = bench.circuit.part(id).zone.map_or(Gas::Outside, Gas::Zone);
    let Some(housing) = housing(bench, id) else { return here };
    let Some(vent) = &housing.vent else { return here };
    let to = match &vent.to.value {
        VentTo::Outside => Gas::Outside,
        VentTo::Zone(name) => {
            bench.circuit.zones.iter().position(|z| z.name == *name).map_or(here, |i| Gas::Zone(ZoneId(i)))
        }
    };
    match vent.kind.value {
        VentKind::PortTube => to,
        // Open air round a battery is the air of its zone; where people are in it, it is theirs.
        VentKind::OpenAir => match here {
            Gas::Zone(zone) if bench.circuit.zone(zone).occupied => here,
            _ => to,
        },
        // Openings lead away only what a closed box keeps in.
        VentKind::BoxOpenings if housing.box_kind.value == BoxKind::Open => here,
        VentKind::BoxOpenings => to,
    }
}

/// A battery's housing as the guide gives it.
pub(super) fn housing<'a>(bench: &Bench<'a>, id: PartId) -> Option<&'a guide::Housing> {
    match &bench.guide.parts.get(&bench.circuit.part(id).name)?.kind {
        guide::PartKind::Battery(b) => b.housing.as_ref(),
        _ => None,
    }
}

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (id, battery) in bench.circuit.batteries() {
        let name = &bench.circuit.part(id).name;
        let vented = match battery.chemistry {
            Chemistry::Lfp => {
                judgement.not_applicable(RULE.id, name, "lithium iron phosphate cells give off no hydrogen in use");
                continue;
            }
            Chemistry::Flooded => true,
            Chemistry::Agm | Chemistry::Gel => false,
        };
        let said = housing(bench, id).is_some_and(|h| h.vent.is_some());
        let zone = match gas(bench, id) {
            Gas::Outside => None,
            Gas::Zone(zone) => Some(bench.circuit.zone(zone)),
        };
        let people = zone.filter(|z| z.occupied);
        let severity = match (people, zone, vented, said) {
            (Some(_), _, true, _) => Some(Severity::Unsafe),
            (Some(_), _, false, _) => Some(Severity::Query),
            // Vented cells always gas; say where to.
            (None, Some(z), true, false) if !z.engine_space => Some(Severity::Note),
            _ => None,
        };
        let goes = match zone {
            None => "outside".to_string(),
            Some(z) if z.occupied => format!("into {}, where people are", z.label),
            Some(z) => format!("into {}", z.label),
        };
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: name.clone(),
                case: if vented { "vented cells" } else { "valve-regulated cells" }.into(),
                value: words(&goes),
                limit: words("not where people are"),
                margin: String::new(),
                outcome: severity.map_or(Outcome::Passes, Outcome::Found),
                sources: if vented { vec!["cfr33-183-420", "ohio-3304-6-12"] } else { vec!["ufc-3-520-01"] },
            },
            housing(bench, id).map_or_else(|| bench.part_span(id), |h| h.at),
            || match severity {
                Some(Severity::Note) => format!("the guide does not say where the gas of `{name}` goes; its cells are vented"),
                _ if vented => format!("the gas of `{name}` goes {goes}: its cells are vented and give off hydrogen whenever they are charged"),
                _ => format!("the gas of `{name}` goes {goes}: its valves keep it in until the charging goes wrong, and then they open"),
            },
            || {
                vec![
                    "lead a tube from the battery's own vent port to the open air, down through the floor: `vent: {kind: port-tube, to: outside}`".into(),
                    "or stand it in a closed box with one opening low and one at the very top, both to the open air: `vent: {kind: box-openings, to: outside, …}`".into(),
                ]
            },
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::{Note, Query, Unsafe};
    use crate::rules::testing::{VAN, changed, check_rule, finds};

    const ID: &str = "gas-unvented";
    const HOUSING: &str = "    housing: {box: sealed, vent: {kind: port-tube, to: outside}, covers: true}\n";

    /// The van's battery of some chemistry, in a load area with or without people, in some housing.
    fn housed(chemistry: &str, occupied: bool, housing: &str) -> Vec<(crate::finding::Severity, String)> {
        let text = changed(
            VAN,
            &[
                ("chemistry: agm", &format!("chemistry: {chemistry}")),
                (HOUSING, &if housing.is_empty() { String::new() } else { format!("    housing: {{{housing}}}\n") }),
                (
                    "load: {label: Load area, ambient: 40 °C}",
                    &format!("load: {{label: Load area, ambient: 40 °C, occupied: {occupied}}}"),
                ),
            ],
        );
        finds(ID, &text)
    }

    /// AGM in a cabin with no vent: a warning; vented in a cabin with no vent: fail. Source: 33 CFR 183.420(e), 49 CFR
    /// 393.30, Ohio Adm. Code 3304-6-12; UFC 3-520-01 for valve-regulated cells.
    #[test]
    fn vented_cells_open_to_people_are_unsafe_and_valve_regulated_ones_a_query() {
        for housing in ["", "box: open", "box: sealed", "box: vented, vent: {kind: box-openings, to: cab}"] {
            assert_eq!(housed("flooded", true, housing), [(Unsafe, "battery".into())], "{housing}");
            assert_eq!(housed("agm", true, housing), [(Query, "battery".into())], "{housing}");
            assert_eq!(housed("gel", true, housing), [(Query, "battery".into())], "{housing}");
            assert_eq!(housed("lfp", true, housing), [], "{housing}");
        }
    }

    #[test]
    fn what_leads_outside_passes() {
        for housing in [
            "box: open, vent: {kind: port-tube, to: outside}",
            "box: vented, vent: {kind: box-openings, to: outside, inlet: 30 cm², outlet: 30 cm²}",
        ] {
            assert_eq!(housed("flooded", true, housing), [], "{housing}");
            assert_eq!(housed("agm", true, housing), [], "{housing}");
        }
        // A tube that ends where people are; openings in a box that is not closed; open air that people breathe.
        for housing in [
            "box: sealed, vent: {kind: port-tube, to: cab}",
            "box: open, vent: {kind: box-openings, to: outside, inlet: 30 cm², outlet: 30 cm²}",
            "box: open, vent: {kind: open-air, to: outside}",
        ] {
            assert_eq!(housed("flooded", true, housing), [(Unsafe, "battery".into())], "{housing}");
        }
    }

    #[test]
    fn where_nobody_is_it_may_stay_but_vented_cells_must_say_where_to() {
        assert_eq!(finds(ID, VAN), []);
        assert_eq!(housed("flooded", false, ""), [(Note, "battery".into())]);
        assert_eq!(housed("flooded", false, "box: open, vent: {kind: open-air, to: outside}"), []);
        assert_eq!(housed("agm", false, ""), []);
    }

    /// The airflow formula asked for lithium: "not applicable", not 0.
    #[test]
    fn lithium_is_said_to_be_no_matter_for_this_rule() {
        let lithium = changed(VAN, &[("chemistry: agm", "chemistry: lfp")]);
        let judged = check_rule(ID, &lithium);
        assert!(judged.checks.iter().any(|c| c.outcome == crate::finding::Outcome::NotApplicable));
    }
}
