//! What to do when something goes wrong while the job is done or used.

use super::defer::makes_or_takes_mains;
use crate::circuit::{Circuit, Kind};
use crate::guide::{Chemistry, Drive, Guide, PartKind, VehicleKind};

/// One thing that goes wrong, and what to do, in order.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Emergency {
    /// Kebab-case, for themes.
    pub id: &'static str,
    /// What one sees, hears or smells.
    pub sign: &'static str,
    /// What to do, in order.
    pub acts: Vec<Act>,
    /// Ids of its sources in the handbook.
    pub sources: &'static [&'static str],
}

/// One thing to do.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Act {
    /// Kebab-case, for themes.
    pub id: String,
    /// In words. `{devices}` stands for what can be opened within reach; see [`reachable`].
    pub words: &'static str,
}

/// An act as written below: always the same, or another where no device is within reach.
enum Written {
    Always(&'static str),
    IfReachable(&'static str, &'static str),
}
use Written::{Always, IfReachable};

/// What can go wrong at once with what this circuit contains, the worst first.
pub fn emergencies(guide: &Guide, circuit: &Circuit) -> Vec<Emergency> {
    let boat = guide.vehicle.kind.value == VehicleKind::Boat;
    let lead = circuit.batteries().any(|(_, b)| b.chemistry != Chemistry::Lfp);
    let lithium = circuit.batteries().any(|(_, b)| b.chemistry == Chemistry::Lfp);
    let fuel = guide.vehicle.drive.value == Drive::Petrol || circuit.zones.iter().any(|zone| zone.holds_fuel);
    let in_reach = reachable(guide, circuit).is_some();
    let mut all = Vec::new();
    let mut add = |id: &'static str, sign: &'static str, acts: &[Written], sources: &'static [&'static str]| {
        let acts = acts.iter().enumerate().map(|(i, act)| match act {
            Always(words) => Act { id: format!("{id}-{}", i + 1), words },
            IfReachable(words, _) if in_reach => Act { id: format!("{id}-{}", i + 1), words },
            IfReachable(_, otherwise) => Act { id: format!("{id}-{}-none", i + 1), words: otherwise },
        });
        all.push(Emergency { id, sign, acts: acts.collect(), sources });
    };
    if boat {
        add(
            "emergency-fire-afloat",
            "Smoke, flames or a smell of burning",
            &[
                Always("Engine off, fuel off. Everyone into the open, life jackets on, ready to leave."),
                IfReachable(
                    "If you can reach it without reaching through smoke, open {devices}.",
                    "Reach for nothing through smoke. No switch in this circuit is within reach.",
                ),
                Always(
                    "Call for help. Fight only a small fire, with your back to the way out. Do not open a locker wide: air \
                     feeds it.",
                ),
                Always("Afterwards let no one put the battery back on before the cause is found."),
            ],
            &["common-practice"],
        );
    } else {
        add(
            "emergency-fire",
            "Smoke, flames or a smell of burning",
            &[
                Always("Engine off. Everyone out, and well away."),
                IfReachable(
                    "If you can reach it without reaching through smoke, open {devices}.",
                    "Reach for nothing through smoke. No switch in this circuit is within reach.",
                ),
                Always(
                    "Call the fire service. Fight only a small fire, with your back to the way out. Do not open a bonnet or \
                     a door wide: air feeds it.",
                ),
                Always("Afterwards let no one put the battery back on before the cause is found."),
            ],
            &["common-practice"],
        );
    }
    if lithium {
        add(
            "emergency-lithium",
            "A lithium battery swells, hisses, smokes or smells",
            &[
                Always("Everyone out, upwind and well away. The gas burns and poisons."),
                Always("Call the fire service and say that it is a lithium battery."),
                Always("Do not go back for anything. It can flare up again hours later."),
                Always(
                    "What is left of it stays outside, away from buildings, until the fire service or a recycler takes it.",
                ),
            ],
            &["lithium-industry-note", "common-practice"],
        );
    }
    if lead {
        add(
            "emergency-lead",
            "A battery swells, hisses, gets hot or smells of rotten eggs",
            &[
                Always("Stop the engine, and switch every charger off where it is plugged in, not at the battery."),
                Always("Everyone away; open doors and hatches. Take nothing off its terminals: a spark can burst it."),
                Always("Leave it until it is cold. Then have it replaced, and the charging voltage checked."),
            ],
            &["hse-indg139", "common-practice"],
        );
        add(
            "emergency-acid",
            "Acid in an eye, on skin or on clothes",
            &[
                Always(
                    "Eye: rinse at once with clean running water for 15 minutes, lids held open, and get medical help at once.",
                ),
                Always("Skin: clothes off, rinse with plenty of water. If it still hurts, get medical help."),
                Always("Swallowed: rinse the mouth, do not bring on vomiting, and call the emergency number."),
            ],
            &["tm-9-2350-287-20-2", "cfr29-1926-441", "common-practice"],
        );
    }
    if makes_or_takes_mains(circuit) {
        add(
            "emergency-shock",
            "Someone hangs on mains voltage",
            &[
                IfReachable(
                    "Do not touch them. Pull the mains plug, or open {devices} to stop an inverter.",
                    "Do not touch them. Pull the mains plug, or switch the inverter off.",
                ),
                Always("Then call the emergency number, and start resuscitation if they do not breathe."),
            ],
            &["common-practice"],
        );
    }
    add(
        "emergency-short",
        "A tool or a cable has shorted something and sticks",
        &[
            Always("Hands off it: it glows. Turn your face away and step back; the battery may burst."),
            IfReachable(
                "Open {devices} if that cuts it off. Otherwise get everyone away and call the fire service.",
                "Get everyone away and call the fire service.",
            ),
            Always("Cool burns with running water for 20 minutes, and have them seen to."),
        ],
        &["common-practice"],
    );
    add(
        "emergency-hot",
        "A cable, a lug or a fuse is too hot to hold",
        &[
            IfReachable(
                "Switch the load off, stop the engine, open {devices}.",
                "Switch the load off and stop the engine.",
            ),
            Always(
                "When it is cold, take the return side off the battery. Look for the loose bolt, the poor crimp or the wrong \
                 size.",
            ),
            Always("Never fit a larger fuse to keep it going."),
        ],
        &["common-practice"],
    );
    if fuel && boat {
        add(
            "emergency-fuel-afloat",
            "You smell fuel",
            &[
                Always("Switch nothing on or off. No flame. Everyone off the boat."),
                Always("Shut the fuel off, open every hatch, and find the leak before any switch is touched."),
            ],
            &["cfr33-183-630", "common-practice"],
        );
    } else if fuel {
        add(
            "emergency-fuel",
            "You smell fuel",
            &[
                Always("Switch nothing on or off. No flame. Everyone out."),
                Always("Open the doors, let it air, and find the leak before you go on."),
            ],
            &["common-practice"],
        );
    }
    all
}

/// What can be opened by hand within reach, as a reader would name it.
pub fn reachable(guide: &Guide, circuit: &Circuit) -> Option<String> {
    let within_reach = circuit.parts.iter().filter(|part| match &part.kind {
        Kind::Switch(switch) => switch.reachable && switch.kind == crate::circuit::SwitchKind::Isolator,
        Kind::Protector(device) if !device.is_fuse => match guide.parts.get(&part.name).map(|written| &written.kind) {
            Some(PartKind::Breaker(breaker)) => breaker.reachable.as_ref().is_some_and(|reachable| reachable.value),
            _ => false,
        },
        _ => false,
    });
    let names: Vec<String> = within_reach
        .map(|part| match part.zone {
            Some(zone) => format!("{} ({})", part.label, circuit.zone(zone).label),
            None => part.label.clone(),
        })
        .collect();
    if names.is_empty() { None } else { Some(names.join(" / ")) }
}
