//! What to do when something goes wrong while the job is done or used.

use super::defer::makes_or_takes_mains;
use crate::circuit::{Circuit, Kind, Part, PartId, RunId};
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
    /// In words. `{devices}` stands for what can be opened within reach, `{live}` for what that leaves live.
    pub words: &'static str,
    /// What can be opened by hand within reach, as a reader would name it.
    pub devices: String,
    /// Cables that are live even when that is open.
    #[serde(skip)]
    pub live: Vec<RunId>,
}

/// An act as written below: always the same, or another where no device is within reach.
enum Written {
    Always(&'static str),
    IfReachable(&'static str, &'static str),
    /// The same, but of devices in no engine space: nobody opens a bonnet that smokes.
    IfClear(&'static str, &'static str),
    /// The one where there is an engine, the other where there is none.
    Engine(&'static str, &'static str),
    /// Where what the reader has opened leaves cables live.
    StillLive(&'static str),
}
use Written::{Always, Engine, IfClear, IfReachable, StillLive};

/// What can go wrong at once with what this circuit contains, the worst first.
pub fn emergencies(guide: &Guide, circuit: &Circuit) -> Vec<Emergency> {
    let boat = guide.vehicle.kind.value == VehicleKind::Boat;
    let lead = circuit.batteries().any(|(_, b)| b.chemistry != Chemistry::Lfp);
    let lithium = circuit.batteries().any(|(_, b)| b.chemistry == Chemistry::Lfp);
    let fuel = guide.vehicle.drive.value == Drive::Petrol || circuit.zones.iter().any(|zone| zone.holds_fuel);
    let in_reach = within_reach(guide, circuit);
    let in_engine_space = |part: &PartId| circuit.part(*part).zone.is_some_and(|zone| circuit.zone(zone).engine_space);
    let clear: Vec<PartId> = in_reach.iter().copied().filter(|part| !in_engine_space(part)).collect();
    let engine = super::has_engine(guide, circuit);
    let mut all = Vec::new();
    let mut add = |id: &'static str, sign: &'static str, acts: &[Written], sources: &'static [&'static str]| {
        let mut done = Vec::new();
        let mut opened: &[PartId] = &[];
        for (i, act) in acts.iter().enumerate() {
            let number = i + 1;
            let mut say = |id: String, words: &'static str, devices: &[PartId], live: Vec<RunId>| {
                done.push(Act { id, words, devices: named(circuit, devices), live });
            };
            match act {
                Always(words) => say(format!("{id}-{number}"), words, &[], Vec::new()),
                Engine(words, _) if engine => say(format!("{id}-{number}"), words, &[], Vec::new()),
                Engine(_, otherwise) => say(format!("{id}-{number}-no-engine"), otherwise, &[], Vec::new()),
                IfReachable(words, otherwise) | IfClear(words, otherwise) => {
                    let devices = if matches!(act, IfClear(..)) { clear.as_slice() } else { in_reach.as_slice() };
                    if devices.is_empty() {
                        say(format!("{id}-{number}-none"), otherwise, &[], Vec::new());
                    } else {
                        opened = devices;
                        say(format!("{id}-{number}"), words, devices, Vec::new());
                    }
                }
                StillLive(words) => {
                    let live = still_live(circuit, opened);
                    if !opened.is_empty() && !live.is_empty() {
                        say(format!("{id}-{number}"), words, &[], live);
                    }
                }
            }
        }
        all.push(Emergency { id, sign, acts: done, sources });
    };
    if boat {
        add(
            "emergency-fire-afloat",
            "Smoke, flames or a smell of burning",
            &[
                Always("Engine off, fuel off. Everyone into the open, life jackets on, ready to leave."),
                IfClear(
                    "If you can reach it without reaching through smoke, open {devices}.",
                    "Reach for nothing through smoke: no switch of this circuit can be had safely, and all its cables stay live.",
                ),
                StillLive(LIVE),
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
                Engine("Engine off. Everyone out, and well away.", "Everyone out, and well away."),
                IfClear(
                    "If you can reach it without reaching through smoke, open {devices}.",
                    "Reach for nothing through smoke: no switch of this circuit can be had safely, and all its cables stay live.",
                ),
                StillLive(LIVE),
                Always(
                    "Call the fire service. Fight only a small fire, with your back to the way out. Leave a bonnet that \
                     smokes shut, and open no door wide: air feeds it.",
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
                Engine(
                    "Stop the engine, and switch every charger off where it is plugged in, not at the battery.",
                    "Switch every charger off where it is plugged in, not at the battery.",
                ),
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
            IfClear(
                "Open {devices} if that cuts it off. Otherwise get everyone away and call the fire service.",
                "Get everyone away and call the fire service.",
            ),
            StillLive(LIVE),
            Always("Cool burns with running water for 20 minutes, and have them seen to."),
        ],
        &["common-practice"],
    );
    add(
        "emergency-hot",
        "A cable, a lug or a fuse is too hot to hold",
        &[
            Engine("Switch the load off and stop the engine.", "Switch the load off."),
            IfReachable("Open {devices}.", "No switch of this circuit is within reach: keep away until it is cold."),
            StillLive(LIVE),
            Always(
                "When it is cold, take everything off the battery's minus post. Look for the loose bolt, the poor crimp or the \
                 wrong size.",
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
                Always("Touch no switch, plug or starter. No flame. Shut the fuel tap if it is within reach."),
                Always("Ashore or alongside: everyone off the boat."),
                Always(
                    "Afloat: move clear of others by oar or paddle, open what opens, air the boat, and call for help.",
                ),
                Always("Find the leak, and smell nothing low down, before any switch is touched."),
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

/// What an opened device leaves live.
const LIVE: &str = "That leaves live: {live}. Only with everything off every battery's minus post are these dead, and nobody goes near \
a battery that burns or smokes: wait until it is out and cold.";

/// What can be opened by hand within reach, as a reader would name it.
pub fn reachable(guide: &Guide, circuit: &Circuit) -> Option<String> {
    let within = within_reach(guide, circuit);
    if within.is_empty() { None } else { Some(named(circuit, &within)) }
}

fn within_reach(guide: &Guide, circuit: &Circuit) -> Vec<PartId> {
    let is_within = |part: &Part| match &part.kind {
        Kind::Switch(switch) => switch.reachable && switch.kind == crate::circuit::SwitchKind::Isolator,
        Kind::Protector(device) if !device.is_fuse => match guide.parts.get(&part.name).map(|written| &written.kind) {
            Some(PartKind::Breaker(breaker)) => breaker.reachable.as_ref().is_some_and(|reachable| reachable.value),
            _ => false,
        },
        _ => false,
    };
    (0..circuit.parts.len()).map(PartId).filter(|id| is_within(circuit.part(*id))).collect()
}

fn named(circuit: &Circuit, parts: &[PartId]) -> String {
    let names: Vec<String> = parts
        .iter()
        .map(|id| {
            let part = circuit.part(*id);
            match part.zone {
                Some(zone) => format!("{} ({})", part.label, circuit.zone(zone).label),
                None => part.label.clone(),
            }
        })
        .collect();
    names.join(" / ")
}

/// Cables on the plus side that a battery still feeds when these are open.
fn still_live(circuit: &Circuit, open: &[PartId]) -> Vec<RunId> {
    let groups = circuit.joined(|part| !open.contains(&part));
    let is_fed = |run: &RunId| {
        circuit.batteries().any(|(_, battery)| groups.equiv(battery.positive.0, circuit.run(*run).from.0))
    };
    (0..circuit.runs.len()).map(RunId).filter(is_fed).collect()
}
