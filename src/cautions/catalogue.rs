//! The cautions one by one. Each decides whether the job calls for it, and which steps it serves.

use super::acts::{self, Act};
use super::defer::makes_or_takes_mains;
use super::order::{Done, Stage};
use super::{Caution, Job, SignalWord, WhenLive};
use crate::circuit::{Kind, Part, PartId, Polarity, RunId, ZoneId};
use crate::guide::{BodyMaterial, Chemistry, Drive, VehicleKind};
use crate::quantity::{Duration, Mass, Show};

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
    drilling,
    sharp_edges,
    running_alternator,
    airbags,
    engine_space,
    running_engine,
    cranking,
    winch,
    winch_rope,
    propeller,
    platform,
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
    "drilling",
    "sharp-edges",
    "running-alternator",
    "airbags",
    "engine-space",
    "running-engine",
    "cranking",
    "winch",
    "winch-rope",
    "propeller",
    "platform",
    "heavy-lift",
];

/// Which cautions fit a step most, first to last: what the hands do at this very step before what holds through the whole work.
const FIT: &[&str] = &[
    "mains",
    "high-voltage",
    "winch-rope",
    "propeller",
    "platform",
    "cranking",
    "running-engine",
    "heavy-lift",
    "short-circuit",
    "battery-connected",
    "fire",
    "petrol",
    "drilling",
    "sharp-edges",
    "winch",
    "running-alternator",
    "gas-bottle",
    "lithium",
    "hydrogen",
    "acid",
    "airbags",
    "engine-space",
    "loose-battery",
];

/// How well a caution fits a step of a stage: the least fits most. With the batteries off, that they could be on fits least.
pub fn fit(id: &str, stage: Option<Stage>) -> usize {
    let place = |id: &str| FIT.iter().position(|known| *known == id).unwrap_or(FIT.len());
    match (stage, id) {
        (Some(Stage::Dead), "battery-connected") => FIT.len(),
        // While the engine runs, what must not be left hot and what must not be parted come right after the engine itself.
        (Some(Stage::Live), "running-alternator" | "fire") => place("running-engine") + 1,
        _ => place(id),
    }
}

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
        variant: "",
        live: None,
        figures: Vec::new(),
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
    /// Says that the avoidance is worded for a case, for themes in other languages.
    fn for_case(mut self, variant: &'static str) -> Caution {
        self.variant = variant;
        self
    }
    /// The reminder, short and in a sentence, for steps with the batteries on, where other words fit there.
    fn when_live(mut self, steps: Vec<usize>, short: &'static str, reminder: &'static str) -> Caution {
        self.live = Some(WhenLive { short, reminder, steps });
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
    let handles =
        |s: &Done| s.parts.iter().any(|p| parts.contains(p)) || s.runs.iter().any(|r| job.ends_at(*r, &parts));
    let steps = job.at(|s| {
        s.stands_in(Stage::Live)
            || handles(s) && !s.only_looks()
            || s.stands_in(Stage::Power) && (s.tells(Act::Close) || s.named.iter().any(|p| parts.contains(p)))
    });
    caution("mains", SignalWord::Danger, steps, &["common-practice"])
        .hazard("Mains voltage")
        .consequence("A shock from an inverter's output, a charger's input or shore power will kill.")
        .avoidance(
            "Unplug the mains and switch the inverter off before you open anything. This guide covers the low-voltage side \
             only: leave the mains side to a licensed electrician, with the protection that the device's maker and local \
             rules ask for.",
        )
        .reminder("mains", "Mains voltage: its side stays closed, and is unplugged or off before you touch the device.")
}

fn battery_connected(job: &Job<'_>) -> Option<Caution> {
    let batteries = job.parts(is_battery);
    if batteries.is_empty() {
        return None;
    }
    let part = |part: &PartId| batteries.contains(part) || is_live_stud(job, *part);
    let run = |run: &RunId| job.circuit.run(*run).polarity == Polarity::Positive || job.ends_at(*run, &batteries);
    // Once the batteries are on they must be on: nothing tells the reader to take them off for a reading.
    // Whoever takes a return off again when all is done, and puts it back, handles it as the first time.
    let steps = job.at(|s| {
        s.stands_in(Stage::Live) && job.handles_post(s)
            || s.is_in(&[Stage::Before, Stage::Dead, Stage::Power])
            && !s.only_looks()
            && (s.parts.iter().any(part) || s.runs.iter().any(run))
            // Closing a switch while the lamp stands in for a fuse: the battery must be on.
            && !(s.stands_in(Stage::Power) && s.tells(Act::Close) && s.runs.is_empty())
    });
    let first = if job.has_engine() {
        "Stop the engine and switch every load and charger off."
    } else {
        "Unplug the hook-up and switch every load and charger off."
    };
    let then = if batteries.len() == 1 {
        "Take the return (negative) side off the battery first and put it back last."
    } else {
        "At each battery, take the return (negative) side off first and put it back last. One battery off is not enough: \
         the others still feed the cables."
    };
    let avoidance = format!("{first} {then}");
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
    .avoidance(&avoidance)
    .for_case(if job.has_engine() { "" } else { "no-engine" })
    .reminder("return side off first, on last", "Return side off first, back on last. Check that it is off.")
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
    let steps = job.at(|s| {
        let at_post = s.runs.iter().any(|run| job.ends_at(*run, &batteries));
        let at_battery = s.parts.iter().any(|part| batteries.contains(part));
        let at_stud = s.parts.iter().any(|part| is_live_stud(job, *part));
        match s.stage {
            _ if s.only_looks() => false,
            // A battery is live between its own posts whatever is off.
            Some(Stage::Before | Stage::Dead) => {
                at_battery || at_post && (s.stands_in(Stage::Before) || s.tells(Act::Post))
            }
            Some(Stage::Power) => at_battery || at_post || job.fits_device(s),
            Some(Stage::Live) => at_battery || job.handles_post(s) || s.tells(Act::Feel) || s.tells(Act::Measure),
            None => at_battery || at_stud || at_post,
        }
    });
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
    let steps = job.at(|s| {
        let part = |part: &PartId| lead.contains(part) || matches!(job.circuit.part(*part).kind, Kind::Charger(_));
        let at_post = s.is_in(&[Stage::Before, Stage::Power]) && s.runs.iter().any(|run| job.ends_at(*run, &lead));
        // Hot air and flames light what a battery gives off.
        !s.only_looks() && (s.parts.iter().any(part) || at_post || s.tells(Act::Heat))
    });
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
            "Stop charging and air the place before you start. No flame, no smoking, no grinding near it. Switch \
             everything off and see the test lamp dark, so that the last connection does not spark; make it away from the \
             battery where the circuit allows. Keep the vent to the outside clear, and never close it.",
        )
        .reminder("no sparks", "Air the place; all off, no spark or flame near the battery; vent clear.")
}

fn acid(job: &Job<'_>) -> Option<Caution> {
    let lead = job.parts(is_lead);
    if lead.is_empty() {
        return None;
    }
    let steps = job.at(|s| {
        let at_post = s.is_in(&[Stage::Before, Stage::Power]) && s.runs.iter().any(|run| job.ends_at(*run, &lead));
        let lifted = s.tells(Act::Lift) && s.named.iter().any(|part| lead.contains(part));
        !s.only_looks() && (s.parts.iter().any(|part| lead.contains(part)) || at_post || lifted)
    });
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
    let steps = job.at(|s| {
        let part = s.parts.iter().any(|part| lithium.contains(part));
        !s.only_looks() && (part || s.runs.iter().any(|run| job.ends_at(*run, &lithium)))
    });
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
    let near = |zone: ZoneId| {
        let zone = job.circuit.zone(zone);
        zone.holds_fuel || (petrol && zone.engine_space)
    };
    let boat = job.guide.vehicle.kind.value == VehicleKind::Boat;
    let first_live = job.first(Stage::Live);
    let steps = job.at(|s| {
        let part = |part: &PartId| job.circuit.part(*part).zone.is_some_and(near);
        let run = |run: &RunId| job.circuit.run(*run).laid.iter().any(|(zone, _)| near(*zone));
        // Fumes lie low all through a boat: whatever may spark or drill there counts.
        let aboard = boat && (s.stands_in(Stage::Power) || Some(s.number) == first_live || job.fixes(s));
        aboard || !s.only_looks() && (s.parts.iter().any(part) || s.runs.iter().any(run) || s.tells(Act::Heat))
    });
    let avoidance = if boat {
        "Tank and cans ashore or shut. Air the boat and smell low down before any connection: fumes sink and stay. Where it \
         has a closed engine space, open the hatches and run its blower first. Keep cables and connections clear of tank, \
         filter and fuel lines. Drill only where you know what is behind."
    } else {
        "If you smell fuel, stop and find the leak first. Keep cables and connections clear of tank, filter and fuel lines. \
         Before drilling, look behind the panel. Keep a fire extinguisher for fuel fires at hand."
    };
    caution("petrol", SignalWord::Warning, steps, &["cfr33-183-420", "cfr33-183-630"])
        .hazard("Fuel and its vapour nearby")
        .consequence("One spark lights it: fire or explosion, with you beside it.")
        .avoidance(avoidance)
        .for_case(if boat { "afloat" } else { "" })
        .reminder("fuel nearby", "Fuel nearby: smell first, no sparks, mind what is behind before you drill.")
}

fn gas_bottle(job: &Job<'_>) -> Option<Caution> {
    if !job.circuit.zones.iter().any(|zone| zone.holds_gas) {
        return None;
    }
    let near = |zone: ZoneId| job.circuit.zone(zone).holds_gas;
    let steps = job.at(|s| {
        let part = |part: &PartId| job.circuit.part(*part).zone.is_some_and(near);
        let run = |run: &RunId| job.circuit.run(*run).laid.iter().any(|(zone, _)| near(*zone));
        !s.only_looks() && (s.parts.iter().any(part) || s.runs.iter().any(run) || s.tells(Act::Heat))
    });
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
    // Where the battery itself is handled, and where what will hold it is bolted down.
    let steps = job.at(|s| {
        let holds = s.is_in(&[Stage::Before, Stage::Dead]) && s.tells(Act::HoldDown) && s.tells(Act::Fix);
        let handles = s.stage != Some(Stage::Live) && s.parts.iter().any(|part| batteries.contains(part));
        !s.only_looks() && (handles || holds && s.runs.is_empty())
    });
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
    // A fuse is fitted where the batteries go on; a breaker has its rating where it is screwed down.
    let is_breaker =
        |part: &PartId| matches!(&job.circuit.part(*part).kind, Kind::Protector(device) if !device.is_fuse);
    let mut mounted = Vec::new();
    for step in job.done.iter().filter(|s| !s.only_looks() && s.runs.is_empty()) {
        mounted.extend(step.parts.iter().filter(|part| is_breaker(part)).map(|part| (*part, step.number)));
    }
    let first_of =
        |s: &Done, part: &PartId| mounted.iter().find(|(of, _)| of == part).is_some_and(|(_, at)| *at == s.number);
    let steps = job.at(|s| match s.stage {
        _ if s.only_looks() => false,
        Some(Stage::Power) => job.fits_device(s),
        // A bad joint shows itself as heat when the hands go over the joints.
        Some(Stage::Live) => s.tells(Act::Feel) || s.parts.iter().any(|part| first_of(s, part)),
        Some(_) => s.parts.iter().any(|part| first_of(s, part)),
        None => job.links_device(s),
    });
    caution("fire", SignalWord::Warning, steps, &["common-practice"])
        .hazard("Fire in the wiring")
        .consequence("A wrong size, a loose joint or a missing fuse heats until something burns, often with nobody there.")
        .avoidance(
            "Change no size, rating, length or place of a fuse from what stands here without having the numbers checked \
             again. Feel every joint after ten minutes of load. Keep an extinguisher at hand, and do not leave the first \
             power unattended.",
        )
        .when_live(job.at(|s| s.stands_in(Stage::Live) && s.tells(Act::Feel)), "no hot joint", "A joint too hot to hold sets fire later: switch off and mend it now.")
        .reminder("the rating named", "Fit exactly the rating named here.")
}

fn sharp_edges(job: &Job<'_>) -> Option<Caution> {
    let crosses = |run: RunId| {
        let run = job.circuit.run(run);
        run.laid.len() > 1 && job.guide.runs.get(&run.name).is_none_or(|written| !written.existing)
    };
    let crossing: Vec<RunId> = (0..job.circuit.runs.len()).map(RunId).filter(|run| crosses(*run)).collect();
    if crossing.is_empty() {
        return None;
    }
    let mut steps = job.at(|s| s.stands_in(Stage::Dead) && job.lays(s));
    if steps.is_empty() {
        // No word tells of laying: the first step that handles each cable.
        let links = |s: &&Done, run: &RunId| s.runs.contains(run) && !s.only_looks() && s.is_in(&[Stage::Dead]);
        let first = |run: &RunId| job.done.iter().find(|s| links(s, run)).map(|s| s.number);
        steps = crossing.iter().filter_map(first).collect();
        steps.sort_unstable();
        steps.dedup();
    }
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
    let batteries = job.parts(is_battery);
    let between = job.between_source_and_battery(&alternators);
    let steps = job.at(|s| {
        let run = |of: &[PartId]| s.runs.iter().any(|run| job.ends_at(*run, of));
        let part = |of: &[PartId]| s.parts.iter().any(|part| of.contains(part));
        match s.stage {
            _ if s.only_looks() => false,
            Some(Stage::Before) => part(&batteries) || run(&batteries) || part(&between) || run(&alternators),
            Some(Stage::Live) => {
                job.runs_engine(s) || s.tells(Act::Open) && (part(&batteries) || part(&between) || run(&alternators))
            }
            Some(_) => false,
            None => part(&alternators) || part(&between) || run(&alternators),
        }
    });
    caution("running-alternator", SignalWord::Warning, steps, &["iso-16750-2"])
        .hazard("Disconnecting a battery while the engine runs")
        .consequence(
            "The alternator's voltage leaps to many times its normal value. Control units and lamps are destroyed, and the \
             spark can light gas at the battery.",
        )
        .avoidance("Take off no battery cable, fuse or isolator between alternator and battery while the engine runs.")
        .when_live(job.at(|s| job.runs_engine(s)), "disconnect nothing", "While the engine runs, disconnect nothing between alternator and battery.")
        .reminder("engine stopped", "Engine stopped before this is disconnected.")
}

fn airbags(job: &Job<'_>) -> Option<Caution> {
    if !matches!(job.guide.vehicle.kind.value, VehicleKind::Car | VehicleKind::Van | VehicleKind::Lorry) {
        return None;
    }
    let batteries = job.parts(is_battery);
    // Airbags sit in the cab, the first place from the front with people in it; their sensors at the front, in the bumper.
    let cab = job.circuit.zones.iter().position(|zone| zone.occupied);
    let near = |zone: ZoneId| {
        let at_front = zone.0 == 0 && !job.circuit.zone(zone).engine_space && job.front_is_before_engine();
        Some(zone.0) == cab || at_front
    };
    let run_near = |run: &RunId| job.circuit.run(*run).laid.iter().any(|(zone, _)| near(*zone));
    let part_near = |part: &PartId| job.circuit.part(*part).zone.is_some_and(near);
    let work_near = (0..job.circuit.runs.len()).any(|i| run_near(&RunId(i)));
    let steps = job.at(|s| match s.stage {
        Some(Stage::Before) | None => {
            s.parts.iter().any(|part| batteries.contains(part))
                || s.runs.iter().any(|run| job.ends_at(*run, &batteries))
        }
        Some(Stage::Dead) => {
            let handled = !s.only_looks() && (s.parts.iter().any(part_near) || s.runs.iter().any(run_near));
            let named = s.tells(Act::Fix) && s.named.iter().any(part_near);
            handled || named || s.links_nothing() && work_near && job.lays(s)
        }
        Some(_) => false,
    });
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
    let in_bay = |zone: ZoneId| job.circuit.zone(zone).engine_space;
    if !job.circuit.zones.iter().any(|zone| zone.engine_space) {
        return None;
    }
    let steps = job.at(|s| {
        let part = |part: &PartId| job.circuit.part(*part).zone.is_some_and(in_bay);
        let run = |run: &RunId| job.circuit.run(*run).laid.iter().any(|(zone, _)| in_bay(*zone));
        s.stage != Some(Stage::Live) && !s.only_looks() && (s.parts.iter().any(part) || s.runs.iter().any(run))
    });
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
    let mut steps = job.at(|s| match s.stage {
        Some(Stage::Live) => {
            s.tells(Act::Start) || s.parts.iter().any(|part| starters.contains(part)) && !s.only_looks()
        }
        Some(_) => false,
        None => !s.only_looks() && s.parts.iter().any(|part| starters.contains(part)),
    });
    if steps.is_empty() {
        steps.extend(job.first(Stage::Live)); // the readings there begin with cranking
    }
    // The guide's own time where it is shorter than what the manual allows.
    let of_parts = starters.iter().filter_map(|id| match &job.circuit.part(*id).kind {
        Kind::Starter(starter) => Some(starter.cranking.1),
        _ => None,
    });
    let of_states = job.circuit.states.iter().filter(|state| state.cranks()).filter_map(|state| state.lasts);
    let longest = of_parts.chain(of_states).fold(Duration::seconds(CRANKING_S), Duration::min).show();
    let mut made = caution("cranking", SignalWord::Warning, steps, &["tm-5-3820-256-24-4"])
        .hazard("An engine that cranks or a vehicle that lurches during tests")
        .consequence("It crushes whoever is in front of it, and whoever has a hand in the belts.")
        .avoidance(&format!(
            "Out of gear, parking brake on, wheels chocked. Keep the engine from firing as its maker says. Everyone clear \
             before you crank. Crank for {longest} at most, then let the starter cool.",
        ));
    made.figures.push(("longest", longest));
    made.reminder("out of gear", "Out of gear, brake on, everyone clear before the starter turns.")
}

fn running_engine(job: &Job<'_>) -> Option<Caution> {
    let turns = |part: &Part| matches!(part.kind, Kind::Alternator(_) | Kind::Starter(_));
    if !job.circuit.parts.iter().any(turns) {
        return None;
    }
    let mut steps = job.at(|s| job.runs_engine(s));
    if steps.is_empty() {
        steps = job.at(|s| s.stands_in(Stage::Live));
    }
    caution("running-engine", SignalWord::Warning, steps, &["common-practice"])
        .hazard("A running engine: belts, fan, hot parts and exhaust gas")
        .consequence("Belts and fan take in hands, hair and sleeves. The exhaust burns, and its gas kills without a smell.")
        .avoidance(
            "Run it in the open, never in a garage. Hands, meter leads, hair and sleeves clear of belts and fan. Clip the \
             probes on with the engine stopped. Stop it and take the key out before you feel a joint in its bay.",
        )
        .reminder("engine runs", "Engine running: in the open, hands and leads clear; stop it, key out, before you feel a joint.")
}

/// The longest cranking that a manual allows (`tm-5-3820-256-24-4`).
const CRANKING_S: f64 = 15.0;

fn winch(job: &Job<'_>) -> Option<Caution> {
    let winches =
        job.parts(|part| matches!(&part.kind, Kind::Load(load) if load.kind == crate::circuit::LoadKind::Winch));
    if winches.is_empty() {
        return None;
    }
    let steps = job.at(|s| {
        let part = |parts: &[PartId]| parts.iter().any(|part| winches.contains(part));
        let handled = part(&s.parts) || s.runs.iter().any(|run| job.ends_at(*run, &winches));
        s.is_in(&[Stage::Before, Stage::Dead]) && !s.only_looks() && (handled || s.tells(Act::Fix) && part(&s.named))
    });
    caution("winch", SignalWord::Warning, steps, &["common-practice"])
        .hazard("A winch that starts by itself, and its rope")
        .consequence("It draws fingers into the rope guide; a rope that parts can kill.")
        .avoidance(
            "Keep its isolator open until everything else is done and the rope is clear. Unplug its hand control while you \
             work. Follow its maker's instructions for the first pull.",
        )
        .reminder("winch isolated", "Winch isolated and hand control unplugged.")
}

fn winch_rope(job: &Job<'_>) -> Option<Caution> {
    let is_winch = |part: &Part| matches!(&part.kind, Kind::Load(load) if load.kind == crate::circuit::LoadKind::Winch);
    if !job.circuit.parts.iter().any(is_winch) {
        return None;
    }
    let steps = job.at(|s| job.moves(s));
    caution("winch-rope", SignalWord::Warning, steps, &["common-practice"])
        .hazard("A winch under power: its rope, hook and drum")
        .consequence("A rope that parts or a hook that slips kills. The drum draws a hand in with the rope.")
        .avoidance(
            "Everyone out of the rope's line, and further off than it is long. Look over rope, hook and anchor first; lay a \
             damper over the rope. Gloves on, no hand near the drum while it can turn. One person at the control, who sees \
             all others.",
        )
        .reminder("rope", "Rope, hook and drum: everyone clear, hands off, one person at the control.")
}

fn propeller(job: &Job<'_>) -> Option<Caution> {
    if job.guide.vehicle.kind.value != VehicleKind::Boat || job.loads_called(acts::DRIVES).is_empty() {
        return None;
    }
    let steps = job.at(|s| job.moves(s));
    caution("propeller", SignalWord::Warning, steps, &["common-practice"])
        .hazard("A boat's motor that starts by itself")
        .consequence("The propeller cuts to the bone, and the boat moves off under you.")
        .avoidance(
            "Control to zero and its safety cord out. Boat moored, nobody in the water, hands and clothes clear of the \
             propeller. Only then close the breaker or join the plug. Before you touch the motor, part the plug again.",
        )
        .reminder(
            "propeller",
            "Control to zero, boat moored, everyone clear of the propeller; only then close or join.",
        )
}

fn platform(job: &Job<'_>) -> Option<Caution> {
    let lifts = job.loads_called(acts::LIFTS);
    if job.guide.vehicle.kind.value == VehicleKind::Boat || lifts.is_empty() {
        return None;
    }
    let steps = job.at(|s| {
        let at_it =
            s.parts.iter().any(|part| lifts.contains(part)) || s.runs.iter().any(|run| job.ends_at(*run, &lifts));
        job.moves(s) || s.stands_in(Stage::Dead) && at_it && !s.only_looks()
    });
    caution("platform", SignalWord::Warning, steps, &["common-practice"])
        .hazard("A lift that moves or falls")
        .consequence("It crushes feet and hands, and kills whoever is under it.")
        .avoidance(
            "Platform on the ground, or propped as its maker says, before anybody works at it. Nobody under it, ever, or at \
             its edges while it moves. A second person at the control, who sees everyone.",
        )
        .reminder("lift propped", "Platform down or propped, nobody under it, a second person at the control.")
}

fn drilling(job: &Job<'_>) -> Option<Caution> {
    if job.circuit.runs.is_empty() {
        return None;
    }
    let steps = job.at(|s| job.fixes(s) || s.stands_in(Stage::Dead) && s.links_nothing() && job.lays(s));
    let boat = job.guide.vehicle.kind.value == VehicleKind::Boat;
    caution("drilling", SignalWord::Warning, steps, &["common-practice"])
        .hazard("What lies behind where you drill or screw")
        .consequence(if boat {
            "A drill that meets a fuel line, a cable or the hull's skin: fire, a short, or water coming in."
        } else {
            "A drill or a screw that meets a fuel, gas or brake pipe, a cable or a tank: fire, or brakes that fail later."
        })
        .avoidance(
            "Look and feel behind the panel before every hole, from the other side where you can. Stop the drill's depth. \
             Goggles on. Fix nothing to a pipe.",
        )
        .for_case(if boat { "afloat" } else { "" })
        .reminder("look behind", "Look behind before you drill, screw or clip: pipes, fuel lines, cables.")
}

fn heavy_lift(job: &Job<'_>) -> Option<Caution> {
    let heavy = job.parts(|part| match part.mass {
        Some(mass) => Mass::kilograms(TWO_PERSON_LIFT_KG) <= mass,
        // Unknown: taken as heavy.
        None => is_battery(part) || matches!(&part.kind, Kind::Load(l) if l.kind == crate::circuit::LoadKind::Winch),
    });
    if heavy.is_empty() {
        return None;
    }
    let is_heavy = |parts: &[PartId]| parts.iter().any(|part| heavy.contains(part));
    let mut steps = job.at(|s| {
        let set_down = s.tells(Act::SetDown) && s.stage != Some(Stage::Live);
        let mounted = s.tells(Act::Fix) && s.runs.is_empty() && s.is_in(&[Stage::Before, Stage::Dead]);
        (s.tells(Act::Lift) || set_down || mounted) && is_heavy(&s.named)
    });
    if steps.is_empty() {
        steps = job.at(|s| s.stage != Some(Stage::Live) && !s.only_looks() && s.runs.is_empty() && is_heavy(&s.parts));
    }
    caution("heavy-lift", SignalWord::Caution, steps, &["hse-indg139", "memory"])
        .hazard("Heavy lifting")
        .consequence("A strained back, crushed fingers, a dropped battery.")
        .avoidance(
            "Lift with two people or a carrier from 20 kg (44 lb), close to the body, and never by the terminals.",
        )
        .reminder("two to lift", "Two people, or a carrier.")
}
