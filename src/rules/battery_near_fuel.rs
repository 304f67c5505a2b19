#![doc = include_str!("battery_near_fuel.md")]

use super::{Bench, Family, Judgement, Rule, words};
use crate::circuit::{Kind, PartId};
use crate::finding::{Check, Outcome, Severity};
use crate::guide::Drive;
use crate::handbook::ends;
use crate::quantity::Show;

/// The rule.
pub const RULE: Rule = Rule {
    id: "battery-near-fuel",
    family: Family::Battery,
    title: "batteries and parts that can spark in a place that holds fuel or gas",
    worst: Severity::Query,
    sources: &["cfr33-183-420", "cfr49-393-30", "ignition-protection"],
    page: include_str!("battery_near_fuel.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (i, part) in bench.circuit.parts.iter().enumerate() {
        let battery = matches!(part.kind, Kind::Battery(_));
        let sparks = matches!(
            part.kind,
            Kind::Protector(_) | Kind::Switch(_) | Kind::Charger(_) | Kind::Starter(_) | Kind::Alternator(_)
        );
        let Some(zone) = part.zone.map(|z| bench.circuit.zone(z)).filter(|_| battery || sparks) else { continue };
        let name = &part.name;
        let diesel = bench.circuit.vehicle.drive.value == Drive::Diesel;
        // Diesel's vapour does not burn at the temperatures of a bilge; it still feeds a fire.
        let holds = match (zone.holds_fuel, zone.holds_gas) {
            (_, true) => Some(("gas", Severity::Query)),
            (true, _) if diesel => Some(("diesel fuel", Severity::Note)),
            (true, _) => Some(("fuel", Severity::Query)),
            _ => None,
        };
        let value = holds.map_or("no fuel there", |(what, _)| what);
        let source = if battery { "cfr33-183-420" } else { "ignition-protection" };
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: name.clone(),
                case: zone.label.clone(),
                value: words(value),
                limit: words("no fuel or gas"),
                margin: String::new(),
                outcome: holds.map_or(Outcome::Passes, |(_, severity)| Outcome::Found(severity)),
                sources: vec![source],
            },
            bench.part_span(PartId(i)),
            || {
                let what = if battery { "is a battery" } else { "can spark" };
                format!("`{name}` {what} and stands in {}, which holds {value}", zone.label)
            },
            || {
                if battery {
                    vec![
                        format!(
                            "move `{name}` to another place, or answer this: it stands neither straight above nor straight below a tank, filter or fuel joint, a tight partition parts it from them, and metal that carries fuel within {} above it is covered with an insulator",
                            ends::fuel_metal_above_battery().value.show()
                        ),
                    ]
                } else {
                    vec![format!("move `{name}` to another place, or use one that its maker marks as ignition-protected and say so in the answer")]
                }
            },
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::{Note, Query};
    use crate::rules::testing::{VAN, changed, finds};

    const ID: &str = "battery-near-fuel";

    #[test]
    fn where_fuel_is_batteries_and_sparks_are_asked_about() {
        assert_eq!(finds(ID, VAN), []);
        let held = |what: &str| {
            changed(
                VAN,
                &[(
                    "load: {label: Load area, ambient: 40 °C}",
                    &format!("load: {{label: Load area, ambient: 40 °C, holds: {what}}}"),
                )],
            )
        };
        let three = |severity| {
            [(severity, "battery".to_string()), (severity, "breaker".into()), (severity, "panel-fuse".into())]
        };
        assert_eq!(finds(ID, &held("fuel")), three(Query));
        assert_eq!(finds(ID, &held("gas")), three(Query));
        assert_eq!(finds(ID, &changed(&held("fuel"), &[("drive: petrol", "drive: diesel")])), three(Note));
        assert_eq!(finds(ID, &changed(&held("gas"), &[("drive: petrol", "drive: diesel")])), three(Query));
    }
}
