//! The cautions one by one. Each decides whether the job calls for it, and which steps it serves.

use super::defer::makes_or_takes_mains;
use super::{Caution, Job, SignalWord};
use crate::circuit::{Kind, Part, PartId, Polarity};
use crate::guide::{BodyMaterial, Chemistry, Drive, VehicleKind};
use crate::quantity::Mass;

/// Looks at a job and gives its caution where the job calls for it.
pub(super) type Entry = fn(&Job<'_>) -> Option<Caution>;

/// Every caution. Within a signal word, this is the order on the page.
pub(super) const ALL: &[Entry] = &[
    high_voltage,
    mains,
    battery_connected,
    short_circuit,
    hydrogen,
    acid,
    lithium,
    petrol,
    gas_bottle,
    loose_battery,
    fire,
    sharp_edges,
    running_alternator,
    airbags,
    engine_space,
    cranking,
    winch,
    heavy_lift,
];

/// The ids of every caution, for themes and translations.
pub const IDS: &[&str] = &[
    "high-voltage",
    "mains",
    "battery-connected",
    "short-circuit",
    "hydrogen",
    "acid",
    "lithium",
    "petrol",
    "gas-bottle",
    "loose-battery",
    "fire",
    "sharp-edges",
    "running-alternator",
    "airbags",
    "engine-space",
    "cranking",
    "winch",
    "heavy-lift",
];

/// From this mass on two people lift. Common practice is 20 to 25 kg; the lower is taken
/// (`reference/installation.md` D-4, from memory).
const TWO_PERSON_LIFT_KG: f64 = 20.0;

fn is_battery(part: &Part) -> bool {
    matches!(part.kind, Kind::Battery(_))
}

fn is_lead(part: &Part) -> bool {
    matches!(&part.kind, Kind::Battery(battery) if battery.chemistry != Chemistry::Lfp)
}

fn caution(id: &'static str, signal: SignalWord, steps: Vec<usize>, sources: &'static [&'static str]) -> Caution {
    Caution {
        id,
        signal,
        hazard: String::new(),
        consequence: String::new(),
        avoidance: String::new(),
        reminder: String::new(),
        short: String::new(),
        steps,
        sources,
    }
}

impl Caution {
    fn hazard(mut self, words: &str) -> Caution {
        self.hazard = words.into();
        self
    }
    fn consequence(mut self, words: &str) -> Caution {
        self.consequence = words.into();
        self
    }
    fn avoidance(mut self, words: &str) -> Caution {
        self.avoidance = words.into();
        self
    }
    fn reminder(mut self, short: &str, words: &str) -> Option<Caution> {
        self.short = short.into();
        self.reminder = words.into();
        Some(self)
    }
}

fn high_voltage(job: &Job<'_>) -> Option<Caution> {
    if job.guide.vehicle.drive.value != Drive::Electric {
        return None;
    }
    let batteries = job.parts(is_battery);
    let steps = job.steps(|part| batteries.contains(&part), |run| job.ends_at(run, &batteries));
    caution("high-voltage", SignalWord::Danger, steps, &["common-practice"])
        .hazard("High voltage of the hybrid or electric drive")
        .consequence("Touching it will kill.")
        .avoidance(
            "Keep away from orange cables, their connectors and everything they lead to. Nothing in this guide needs them \
             opened. If the work comes near them, stop and have it done by people trained and licensed for it.",
        )
        .reminder("high voltage", "Keep away from orange high-voltage cables.")
}

fn mains(job: &Job<'_>) -> Option<Caution> {
    if !makes_or_takes_mains(job.circuit) {
        return None;
    }
    let parts = job.parts(|part| match &part.kind {
        Kind::Load(load) => load.mains || load.kind == crate::circuit::LoadKind::Inverter,
        Kind::Charger(charger) => charger.kind == crate::guide::ChargerKind::Mains,
        _ => false,
    });
    let steps = job.steps(|part| parts.contains(&part), |run| job.ends_at(run, &parts));
    caution("mains", SignalWord::Danger, steps, &["common-practice"])
        .hazard("Mains voltage")
        .consequence("A shock from an inverter's output, a charger's input or shore power will kill.")
        .avoidance(
            "Unplug the mains and switch the inverter off before you open anything. This guide covers the low-voltage side \
             only: leave the mains side to a licensed electrician, with the protection that the device's maker and local \
             rules ask for.",
        )
        .reminder("mains off", "Mains unplugged and inverter off before you touch this.")
}

fn battery_connected(job: &Job<'_>) -> Option<Caution> {
    let batteries = job.parts(is_battery);
    if batteries.is_empty() {
        return None;
    }
    let steps = job.steps(
        |part| batteries.contains(&part) || is_live_stud(job, part),
        |run| job.circuit.run(run).polarity == Polarity::Positive || job.ends_at(run, &batteries),
    );
    let avoidance = if batteries.len() == 1 {
        "Stop the engine and switch every load and charger off. Take the return (negative) side off the battery first and \
         put it back last."
    } else {
        "Stop the engine and switch every load and charger off. At each battery, take the return (negative) side off first \
         and put it back last. One battery off is not enough: the others still feed the cables."
    };
    caution(
        "battery-connected",
        SignalWord::Warning,
        steps,
        &["tm-10-3930-671-24", "bgr-147"],
    )
    .hazard("A battery still connected")
    .consequence(
        "A spanner or a cable end between the live side and the body makes an arc. It can burn you badly, weld the tool \
         fast, burst the battery and start a fire.",
    )
    .avoidance(avoidance)
    .reminder("return side off", "Return side off first, back on last. Check that it is off.")
}

/// A post, busbar or device side on the positive.
fn is_live_stud(job: &Job<'_>, part: PartId) -> bool {
    match &job.circuit.part(part).kind {
        Kind::Stud(stud) => job.circuit.node(stud.node).polarity == Polarity::Positive,
        Kind::Protector(device) => job.circuit.node(device.line).polarity == Polarity::Positive,
        Kind::Switch(switch) => job.circuit.node(switch.line).polarity == Polarity::Positive,
        _ => false,
    }
}

fn short_circuit(job: &Job<'_>) -> Option<Caution> {
    let batteries = job.parts(is_battery);
    if batteries.is_empty() {
        return None;
    }
    let steps = job.steps(|part| batteries.contains(&part) || is_live_stud(job, part), |_| false);
    caution("short-circuit", SignalWord::Warning, steps, &["hse-indg139", "common-practice"])
        .hazard("Short circuit through a ring, a watch or a tool")
        .consequence("The metal glows in an instant: deep burns, a lost finger, molten metal in the eyes.")
        .avoidance(
            "Take off rings, watch, bracelets and chains, and empty breast pockets. Use insulated tools. Put no tool down on a \
             battery. Cover every live stud that you are not working on.",
        )
        .reminder("rings off, insulated tools", "No rings or watch. Insulated tools. Live studs covered.")
}

fn hydrogen(job: &Job<'_>) -> Option<Caution> {
    let lead = job.parts(is_lead);
    if lead.is_empty() {
        return None;
    }
    let steps = job.steps(
        |part| lead.contains(&part) || matches!(job.circuit.part(part).kind, Kind::Charger(_)),
        |run| job.ends_at(run, &lead),
    );
    let flooded = job.circuit.batteries().any(|(_, battery)| battery.chemistry == Chemistry::Flooded);
    let consequence = if flooded {
        "A battery makes hydrogen, at rest too and most while it charges. Any spark can light it: the case bursts and \
         throws acid and splinters."
    } else {
        "A sealed battery lets hydrogen out when it is overcharged or faulty. Any spark can light it: the case bursts and \
         throws acid and splinters."
    };
    caution("hydrogen", SignalWord::Warning, steps, &["tm-9-6140-200-14", "cfr29-1926-441", "bgr-147"])
        .hazard("Hydrogen around the battery")
        .consequence(consequence)
        .avoidance(
            "Stop charging and air the place before you start. No flame, no smoking, no grinding near it. Make the last \
             connection away from the battery. Keep the vent to the outside clear, and never close it.",
        )
        .reminder("no sparks", "No spark or flame near the battery; vent clear.")
}

fn acid(job: &Job<'_>) -> Option<Caution> {
    let lead = job.parts(is_lead);
    if lead.is_empty() {
        return None;
    }
    let steps = job.steps(|part| lead.contains(&part), |_| false);
    caution("acid", SignalWord::Warning, steps, &["hse-indg139", "cfr29-1926-441", "tm-9-2350-287-20-2"])
        .hazard("Battery acid")
        .consequence("It blinds, and it burns skin. Lead dust and acid poison when swallowed.")
        .avoidance(
            "Wear goggles and acid-proof gloves. Keep the battery upright. Have clean running water within reach: acid in an \
             eye, rinse for 15 minutes and get medical help at once. Wash your hands before you eat.",
        )
        .reminder("goggles and gloves", "Goggles and gloves on; water within reach.")
}

fn lithium(job: &Job<'_>) -> Option<Caution> {
    let lithium = job.parts(|part| is_battery(part) && !is_lead(part));
    if lithium.is_empty() {
        return None;
    }
    let steps = job.steps(|part| lithium.contains(&part), |run| job.ends_at(run, &lithium));
    caution("lithium", SignalWord::Warning, steps, &["lithium-industry-note", "lithium-cold-charge", "iso-ts-23625"])
        .hazard("Lithium battery: fire that feeds itself, and toxic gas")
        .consequence(
            "Crushed, overcharged, overheated or charged below freezing, cells can burn for hours and give off gas that \
             burns and poisons. Water may not put it out.",
        )
        .avoidance(
            "Use only a battery with its own protection board, and only a charger made for it. Never charge it colder than \
             its maker says. Never open, drill or drop it. If it swells, smells or hisses: out, everyone away, call the \
             fire service.",
        )
        .reminder("lithium", "Never short, drop or crush it; charge only as its maker says.")
}

fn petrol(job: &Job<'_>) -> Option<Caution> {
    let fuel_zones = job.circuit.zones.iter().any(|zone| zone.holds_fuel);
    let petrol = job.guide.vehicle.drive.value == Drive::Petrol;
    if !petrol && !fuel_zones {
        return None;
    }
    let near = |zone: crate::circuit::ZoneId| {
        let zone = job.circuit.zone(zone);
        zone.holds_fuel || (petrol && zone.engine_space)
    };
    let steps = job.steps(
        |part| job.circuit.part(part).zone.is_some_and(near),
        |run| job.circuit.run(run).laid.iter().any(|(zone, _)| near(*zone)),
    );
    let avoidance = if job.guide.vehicle.kind.value == VehicleKind::Boat {
        "Before any connection, open the hatches, run the blower and smell the bilge: fumes sink and stay. Keep cables and \
         connections clear of tank, filter and fuel lines. Drill only where you know what is behind."
    } else {
        "If you smell fuel, stop and find the leak first. Keep cables and connections clear of tank, filter and fuel lines. \
         Before drilling, look behind the panel. Keep a fire extinguisher for fuel fires at hand."
    };
    caution("petrol", SignalWord::Warning, steps, &["cfr33-183-420", "cfr33-183-630"])
        .hazard("Fuel and its vapour nearby")
        .consequence("One spark lights it: fire or explosion, with you beside it.")
        .avoidance(avoidance)
        .reminder("fuel nearby", "Fuel nearby: smell first, no sparks, mind what is behind before you drill.")
}

fn gas_bottle(job: &Job<'_>) -> Option<Caution> {
    if !job.circuit.zones.iter().any(|zone| zone.holds_gas) {
        return None;
    }
    let near = |zone: crate::circuit::ZoneId| job.circuit.zone(zone).holds_gas;
    let steps = job.steps(
        |part| job.circuit.part(part).zone.is_some_and(near),
        |run| job.circuit.run(run).laid.iter().any(|(zone, _)| near(*zone)),
    );
    caution("gas-bottle", SignalWord::Warning, steps, &["common-practice"])
        .hazard("Cooking gas nearby")
        .consequence("Leaking gas collects low down. One spark lights it: fire or explosion.")
        .avoidance(
            "Shut the bottle and take it out before you work near its locker. Fit nothing that can spark inside the locker, \
             and do not close its drain to the outside.",
        )
        .reminder("gas bottle out", "Gas bottle shut and out.")
}

fn loose_battery(job: &Job<'_>) -> Option<Caution> {
    let batteries = job.parts(is_battery);
    if batteries.is_empty() {
        return None;
    }
    let steps = job.steps(|part| batteries.contains(&part), |_| false);
    let boat = job.guide.vehicle.kind.value == VehicleKind::Boat;
    caution(
        "loose-battery",
        SignalWord::Warning,
        steps,
        if boat { &["cfr33-183-420"] } else { &["ohio-3304-6-12", "uk-inspection", "iso-12991"] },
    )
    .hazard("A battery that breaks loose")
    .consequence(if boat {
        "In a seaway it shorts against metal, spills and starts a fire."
    } else {
        "In a crash or under hard braking it flies through the vehicle, shorts against metal, spills and starts a fire."
    })
    .avoidance(
        "Hold it down as the guide says, with the plates under the panel, before the first cable goes on. No elastic cord, no \
         strap that stretches. Pull on it hard from every side; it must not move.",
    )
    .reminder("battery held down", "Battery held down before its cables go on.")
}

fn fire(job: &Job<'_>) -> Option<Caution> {
    if job.circuit.runs.is_empty() {
        return None;
    }
    let steps = job.steps(|part| matches!(job.circuit.part(part).kind, Kind::Protector(_)), |_| false);
    caution("fire", SignalWord::Warning, steps, &["common-practice"])
        .hazard("Fire in the wiring")
        .consequence("A wrong size, a loose joint or a missing fuse heats until something burns, often with nobody there.")
        .avoidance(
            "Change no size, rating, length or place of a fuse from what stands here without having the numbers checked \
             again. Feel every joint after ten minutes of load. Keep an extinguisher at hand, and do not leave the first \
             power unattended.",
        )
        .reminder("the rating named", "Fit exactly the rating named here.")
}

fn sharp_edges(job: &Job<'_>) -> Option<Caution> {
    let crosses = |run: crate::circuit::RunId| job.circuit.run(run).laid.len() > 1;
    if !(0..job.circuit.runs.len()).any(|i| crosses(crate::circuit::RunId(i))) {
        return None;
    }
    let steps = job.steps(|_| false, crosses);
    let metal = job.guide.vehicle.body.value != BodyMaterial::Composite;
    caution("sharp-edges", SignalWord::Warning, steps, &["cfr33-183-445", "iso-10133-7"])
        .hazard("Sharp edges where cables pass through")
        .consequence(if metal {
            "An edge cuts your hands; and a cable that rubs through to the body starts a fire while you drive."
        } else {
            "An edge cuts your hands; and a cable that rubs through shorts to whatever lies beside it and starts a fire."
        })
        .avoidance(
            "Wear gloves, take the burr off every hole, and put a grommet or edge guard in each before the cable goes \
             through. Clip the cable so that it cannot reach an edge.",
        )
        .reminder("edges guarded", "Deburr; grommet in before the cable goes through.")
}

fn running_alternator(job: &Job<'_>) -> Option<Caution> {
    let alternators = job.parts(|part| matches!(part.kind, Kind::Alternator(_)));
    if alternators.is_empty() {
        return None;
    }
    let steps = job.steps(
        |part| alternators.contains(&part) || matches!(job.circuit.part(part).kind, Kind::Switch(_)),
        |run| job.ends_at(run, &alternators),
    );
    caution("running-alternator", SignalWord::Warning, steps, &["iso-16750-2"])
        .hazard("Disconnecting a battery while the engine runs")
        .consequence(
            "The alternator's voltage leaps to many times its normal value. Control units and lamps are destroyed, and the \
             spark can light gas at the battery.",
        )
        .avoidance("Take off no battery cable, fuse or isolator between alternator and battery while the engine runs.")
        .reminder("engine stopped", "Engine stopped before this is disconnected.")
}

fn airbags(job: &Job<'_>) -> Option<Caution> {
    if !matches!(job.guide.vehicle.kind.value, VehicleKind::Car | VehicleKind::Van | VehicleKind::Lorry) {
        return None;
    }
    let batteries = job.parts(is_battery);
    let steps = job.steps(|part| batteries.contains(&part), |_| false);
    caution("airbags", SignalWord::Warning, steps, &["common-practice"])
        .hazard("Airbags, belt tensioners and control units")
        .consequence(
            "An airbag that goes off beside you breaks bones. Control units that lose power at the wrong moment lose their \
             settings or are damaged.",
        )
        .avoidance(
            "Ignition off and key out; then wait as long as the vehicle's maker says before you disconnect, and again before \
             you work near an airbag. Keep yellow connectors closed. Have radio and immobiliser codes at hand.",
        )
        .reminder("ignition off, waiting time", "Ignition off, key out, and the maker's waiting time.")
}

fn engine_space(job: &Job<'_>) -> Option<Caution> {
    let in_bay = |zone: crate::circuit::ZoneId| job.circuit.zone(zone).engine_space;
    if !job.circuit.zones.iter().any(|zone| zone.engine_space) {
        return None;
    }
    let steps = job.steps(
        |part| job.circuit.part(part).zone.is_some_and(in_bay),
        |run| job.circuit.run(run).laid.iter().any(|(zone, _)| in_bay(*zone)),
    );
    caution("engine-space", SignalWord::Warning, steps, &["common-practice"])
        .hazard("Hot and moving parts at the engine")
        .consequence("Belts and fans cut and crush; a fan may start with the engine stopped. The exhaust burns.")
        .avoidance(
            "Work on a cold engine with the key out. Route every cable clear of belts, fans, pulleys, steering and exhaust, \
             and clip it so that it stays clear when the engine rocks.",
        )
        .reminder("engine cold", "Engine cold, key out; clear of belts, fan and exhaust.")
}

fn cranking(job: &Job<'_>) -> Option<Caution> {
    let starters = job.parts(|part| matches!(part.kind, Kind::Starter(_)));
    if starters.is_empty() {
        return None;
    }
    let steps = job.steps(|part| starters.contains(&part), |_| false);
    caution("cranking", SignalWord::Warning, steps, &["tm-5-3820-256-24-4"])
        .hazard("An engine that cranks or a vehicle that lurches during tests")
        .consequence("It crushes whoever is in front of it, and whoever has a hand in the belts.")
        .avoidance(
            "Out of gear, parking brake on, wheels chocked. Keep the engine from firing as its maker says. Everyone clear \
             before you crank. Crank for 15 seconds at most, then let the starter cool.",
        )
        .reminder("out of gear", "Out of gear, brake on, everyone clear before the starter turns.")
}

fn winch(job: &Job<'_>) -> Option<Caution> {
    let winches =
        job.parts(|part| matches!(&part.kind, Kind::Load(load) if load.kind == crate::circuit::LoadKind::Winch));
    if winches.is_empty() {
        return None;
    }
    let steps = job.steps(|part| winches.contains(&part), |run| job.ends_at(run, &winches));
    caution("winch", SignalWord::Warning, steps, &["common-practice"])
        .hazard("A winch that starts by itself, and its rope")
        .consequence("It draws fingers into the rope guide; a rope that parts can kill.")
        .avoidance(
            "Keep its isolator open until everything else is done and the rope is clear. Unplug its hand control while you \
             work. Follow its maker's instructions for the first pull.",
        )
        .reminder("winch isolated", "Winch isolated and hand control unplugged.")
}

fn heavy_lift(job: &Job<'_>) -> Option<Caution> {
    let heavy = job.parts(|part| match part.mass {
        Some(mass) => Mass::kilograms(TWO_PERSON_LIFT_KG) <= mass,
        None => is_battery(part), // unknown: taken as heavy
    });
    if heavy.is_empty() {
        return None;
    }
    let steps = job.steps(|part| heavy.contains(&part), |_| false);
    caution("heavy-lift", SignalWord::Caution, steps, &["hse-indg139", "memory"])
        .hazard("Heavy lifting")
        .consequence("A strained back, crushed fingers, a dropped battery.")
        .avoidance(
            "Lift with two people or a carrier from 20 kg (44 lb), close to the body, and never by the terminals.",
        )
        .reminder("two to lift", "Two people, or a carrier.")
}
