use super::*;

#[test]
fn ids_are_unique_and_listed() {
    let mut fits: Vec<usize> = IDS.iter().map(|id| fit(id, None)).collect();
    fits.sort_unstable();
    assert_eq!(fits, (0..IDS.len()).collect::<Vec<_>>(), "each has its place in the order of fit");
    let mut ids = IDS.to_vec();
    assert_eq!(IDS.len(), catalogue::ALL.len(), "every caution has its id in the list");
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), IDS.len(), "ids are unique");
    assert!(IDS.iter().all(|id| id.chars().all(|c| c.is_ascii_lowercase() || c == '-')));
}

#[test]
fn every_source_named_is_in_the_handbook() {
    let files = [include_str!("catalogue.rs"), include_str!("defer.rs")].join("\n");
    let mut named = 0;
    for list in files.split("&[\"").skip(1) {
        for id in list.split(']').next().unwrap_or("").split(',') {
            let id = id.trim().trim_matches('"');
            if !id.is_empty() && !IDS.contains(&id) {
                assert!(crate::handbook::sources::find(id).is_some(), "no source `{id}`");
                named += 1;
            }
        }
    }
    assert!(20 < named, "the test reads the lists it means to read");
}

use crate::guide;
use crate::rules::testing::{VAN, changed, studied};

/// The van with steps in the order in which the club's guides go.
const STEPS: &str = "## Make it dead

1. Read the maker's advice on airbags.
2. Unbolt [the main return](run:main-return) and [the load bond](run:load-bond) from the minus post of
   [the battery](part:battery) first.
3. Look over [the starter](part:starter), [its feed](run:starter-feed) and [the battery](part:battery).
4. Take the plus clamp off [the battery](part:battery), and lift it out.

## Fix things

5. Fix the holder of [the panel fuse](part:panel-fuse) to the wall. Leave the fuse out.
6. Screw [the breaker](part:breaker) to the wall.

## Lay the cables

7. Cut red cable for [the starter feed](run:starter-feed).
8. Pull [the starter feed](run:starter-feed) through its grommet.
9. Bolt [the starter feed](run:starter-feed) to [the starter](part:starter).
10. Set [the battery](part:battery) in its box.

## First power

11. Bolt [the battery lead](run:battery-lead) to the plus post.
12. Bolt [the main return](run:main-return) and [the load bond](run:load-bond) to the minus post of
    [the battery](part:battery).
13. Take both off again, fit the small fuse, and put [the main return](run:main-return) and
    [the load bond](run:load-bond) back on, last of all.

## Under load

14. Start the engine and take the readings across [the battery](part:battery).
15. Feel every joint you made.
16. Open [the breaker](part:breaker): everything goes dark.
";

fn with_steps(steps: &str) -> String {
    let head = VAN.find("\n1. ").map(|i| &VAN[..i]).unwrap();
    format!("{head}\n{steps}")
}

fn chosen(text: &str) -> Vec<Caution> {
    let studied = studied(text);
    choose(&studied.guide, &studied.circuit)
}

fn steps(cautions: &[Caution], id: &str) -> Vec<usize> {
    cautions.iter().find(|caution| caution.id == id).unwrap_or_else(|| panic!("no caution `{id}`")).steps.clone()
}

#[test]
fn the_order_of_the_work_is_read_from_the_steps() {
    let order = |text: &str| {
        let studied = studied(text);
        WorkOrder::of(&studied.guide, &studied.circuit)
    };
    assert_eq!(order(&with_steps(STEPS)), Some(WorkOrder { off: 2, first_power: 11, on: 13 }));
    // Without headings, first power begins where the return goes on.
    let plain: String = STEPS.lines().filter(|line| !line.starts_with('#')).map(|line| format!("{line}\n")).collect();
    assert_eq!(order(&with_steps(&plain)), Some(WorkOrder { off: 2, first_power: 12, on: 13 }));
    // In a language of which no word is known, the links tell.
    let foreign = "## A\n\n1. Xx [xx](run:main-return) yy.\n2. Xx [xx](part:breaker).\n\n## B\n\n3. Xx [xx](run:battery-lead).\n4. Xx [xx](run:main-return).\n\n## C\n\n5. Xx.\n";
    assert_eq!(order(&with_steps(foreign)), Some(WorkOrder { off: 1, first_power: 3, on: 4 }));
    assert_eq!(order(&with_steps("1. Go fishing.\n")), None);
}

#[test]
fn a_caution_stands_where_the_hands_are() {
    let all = chosen(&changed(&with_steps(STEPS), &[("mass: 18 kg", "mass: 26 kg")]));
    let at = |id: &str| steps(&all, id);
    let none_of = |id: &str, not: &[usize]| {
        let at = at(id);
        assert!(not.iter().all(|step| !at.contains(step)), "{id} stands at {at:?}");
    };
    let all_of = |id: &str, these: &[usize]| {
        let at = at(id);
        assert!(these.iter().all(|step| at.contains(step)), "{id} stands at {at:?}");
    };
    // Rings and insulated tools: at every post, and where a fuse goes in.
    all_of("short-circuit", &[2, 4, 10, 11, 12, 13]);
    none_of("short-circuit", &[3, 5, 7, 8, 9]);
    // The rating: where the fuse goes in and where the breaker is screwed down; not where a holder stays empty.
    all_of("fire", &[6, 13]);
    none_of("fire", &[3, 5, 16]);
    // Nobody is told to take the battery off for a reading.
    all_of("battery-connected", &[2, 4, 11, 12, 13]);
    none_of("battery-connected", &[14, 15, 16]);
    // Cranking: where the engine is started, not where the starter is looked at or bolted up.
    assert_eq!(at("cranking"), [14]);
    all_of("running-engine", &[14, 15]);
    none_of("engine-space", &[14, 15, 16]);
    // What is laid gets its grommet, not what is unbolted, cut to length or bolted on.
    assert_eq!(at("sharp-edges"), [8]);
    // The battery is lifted out and set in, not unbolted by two people.
    assert_eq!(at("heavy-lift"), [4, 10]);
    all_of("drilling", &[5, 6]);
    none_of("drilling", &[2, 7, 9, 12]);
    // The breaker stands between alternator and battery: it is not opened while the engine runs.
    all_of("running-alternator", &[2, 16]);
    none_of("running-alternator", &[5, 6, 9]);
    // Nothing is parted while it runs, and a hot joint is found by hand.
    all_of("running-alternator", &[14, 15]);
    all_of("fire", &[15]);
    none_of("fire", &[14, 16]);
    all_of("airbags", &[2, 8]); // the feed passes through the cab
}

#[test]
fn words_of_the_workshop_place_cautions() {
    let at = |steps_of: &str, id: &str| steps(&chosen(&with_steps(steps_of)), id);
    // What will hold the battery is bolted down before the battery is there.
    let held = STEPS
        .replace("6. Screw [the breaker](part:breaker) to the wall.", "6. Bolt the tray's frame through the floor.");
    assert!(at(&held, "loose-battery").contains(&6));
    assert!(!at(STEPS, "loose-battery").contains(&6));
    // A start battery that is spoken of is no engine that starts.
    let spoken = STEPS.replace("15. Feel every joint you made.", "15. Put the cover over the start battery.");
    assert!(!at(&spoken, "cranking").contains(&15));
    // Hot air near what a battery gives off.
    let hot =
        STEPS.replace("6. Screw [the breaker](part:breaker) to the wall.", "6. Shrink the sleeves over the lugs.");
    assert!(at(&hot, "hydrogen").contains(&6));
    // Who takes the returns off again when all is done is told of the return, and not that an engine runs.
    let again = STEPS.replace(
        "16. Open [the breaker](part:breaker): everything goes dark.",
        "16. Everything off, key out. Take [the main return](run:main-return) off the post of [the battery](part:battery), and close the box.",
    );
    assert!(at(&again, "battery-connected").contains(&16) && at(&again, "short-circuit").contains(&16));
    assert!(!at(&again, "running-engine").contains(&16));
    let all = chosen(&with_steps(&again));
    let live = all.iter().find(|caution| caution.id == "running-alternator").and_then(|caution| caution.live.as_ref());
    assert_eq!(live.map(|live| live.steps.as_slice()), Some([14, 15].as_slice()));
    // The same in German, with the command at the sentence's end.
    let german = STEPS
        .replace(
            "4. Take the plus clamp off [the battery](part:battery), and lift it out.",
            "4. [Die Batterie](part:battery) zu zweit herausheben.",
        )
        .replace(
            "6. Screw [the breaker](part:breaker) to the wall.",
            "6. Den Rahmen durch den Boden verschrauben, vorher bohren.",
        )
        .replace("14. Start the engine and take", "14. Motor im Standgas laufen lassen, und")
        .replace("15. Feel every joint you made.", "15. Jede Verbindung befühlen.")
        .replace(
            "16. Open [the breaker](part:breaker): everything goes dark.",
            "16. [Den Automaten](part:breaker) öffnen.",
        );
    assert!(at(&german, "acid").contains(&4), "lifted out");
    assert!(at(&german, "loose-battery").contains(&6) && at(&german, "drilling").contains(&6));
    assert!(at(&german, "running-engine").contains(&14) && at(&german, "cranking").contains(&14));
    assert!(at(&german, "fire").contains(&15) && at(&german, "running-alternator").contains(&16));
}

#[test]
fn a_switch_that_only_a_load_hangs_on_stops_no_alternator() {
    let text = with_steps(STEPS);
    let (circuit, alternators) = {
        let studied = studied(&text);
        let alternators: Vec<PartId> = studied.circuit.part_named("alternator").into_iter().collect();
        (studied, alternators)
    };
    let job = Job { guide: &circuit.guide, circuit: &circuit.circuit, done: Vec::new() };
    let between = job.between_source_and_battery(&alternators);
    let names: Vec<&str> = between.iter().map(|id| circuit.circuit.part(*id).name.as_str()).collect();
    assert_eq!(names, ["breaker", "panel-fuse"], "the charge lead comes in through both");
}

#[test]
fn the_shorter_cranking_time_holds() {
    let avoidance = |text: &str| {
        let all = chosen(text);
        all.iter().find(|caution| caution.id == "cranking").unwrap().avoidance.clone()
    };
    assert!(avoidance(VAN).contains("for 10 s at most"), "{}", avoidance(VAN));
    let longer = changed(VAN, &[("cranking: {current: 140 A, for: 10 s}", "cranking: {current: 140 A, for: 30 s}")]);
    // TM 5-3820-256-24-4: no longer than 15 seconds.
    assert!(avoidance(&longer).contains("for 15 s at most"), "{}", avoidance(&longer));
}

#[test]
fn what_moves_by_itself_is_warned_of_where_it_may_move() {
    let winch = with_steps(&STEPS.replace("14. Start the engine and take", "14. Close the isolator and take"))
        .replace("  panel: {is: panel, in: bay", "  panel: {is: winch, in: bay");
    let all = chosen(&winch);
    assert_eq!(steps(&all, "winch-rope"), [14, 15, 16]);
    assert_eq!(steps(&all, "cranking"), [14], "where no step tells of starting: the first one under load");
    let boat = with_steps(STEPS)
        .replace("kind: van, body: steel", "kind: boat, body: steel")
        .replace("  panel: {is: panel, in: bay", "  panel: {is: load, label: Bow motor, in: bay");
    let all = chosen(&boat);
    assert_eq!(steps(&all, "propeller"), [14, 15, 16]);
    // On a boat whose drive burns petrol, fumes lie everywhere: where things are screwed down, at first power, and at first load.
    let fuel = steps(&all, "petrol");
    assert!([5, 6, 11, 12, 13, 14].iter().all(|step| fuel.contains(step)), "{fuel:?}");
    let lift =
        with_steps(STEPS).replace("  panel: {is: panel, in: bay", "  panel: {is: load, label: Tail lift pump, in: bay");
    assert_eq!(steps(&chosen(&lift), "platform"), [14, 15, 16]);
}

#[test]
fn who_has_no_engine_is_not_told_to_stop_it() {
    let acts = |text: &str, id: &str| {
        let studied = studied(text);
        let all = emergencies(&studied.guide, &studied.circuit);
        let one = all.into_iter().find(|one| one.id == id).unwrap();
        one.acts.iter().map(|act| act.words.to_string()).collect::<Vec<_>>().join(" ")
    };
    assert!(acts(VAN, "emergency-hot").contains("stop the engine"));
    let steps = "1. Take [the battery return](run:return) off.\n";
    let trailer = format!(
        "---\ntitle: T\nsummary: S\nwritten: 2026-10-03\nvehicle: {{kind: trailer, body: composite, drive: none}}\nsystem: 12 V\n\
         zones: {{box: {{label: Box, ambient: 40 °C}}}}\nparts:\n  battery: {{is: battery, in: box, chemistry: agm, capacity: 60 Ah, mass: 18 kg}}\n\
         \x20 isolator: {{is: isolator, in: box, rating: 50 A, reachable: true}}\n  lamp: {{is: load, in: box}}\nruns:\n\
         \x20 feed: {{from: battery+, to: isolator, size: 6 mm², length: 1 m}}\n  tail: {{from: isolator, to: lamp+, size: 6 mm², length: 1 m}}\n\
         \x20 return: {{from: lamp-, to: battery-, size: 6 mm², length: 1 m}}\nstates:\n  lit: {{lamp: 5 A}}\n---\n\n{steps}"
    );
    for id in ["emergency-hot", "emergency-fire", "emergency-lead"] {
        assert!(!acts(&trailer, id).to_lowercase().contains("engine"), "{}", acts(&trailer, id));
    }
    // The isolator leaves the feed before it live.
    let studied = studied(&trailer);
    let fire =
        emergencies(&studied.guide, &studied.circuit).into_iter().find(|one| one.id == "emergency-fire").unwrap();
    let live: Vec<&str> =
        fire.acts.iter().flat_map(|act| &act.live).map(|run| studied.circuit.run(*run).name.as_str()).collect();
    assert_eq!(live, ["feed"]);
    // Nobody opens a bonnet that smokes for an isolator behind it.
    let bay = trailer.replace("ambient: 40 °C}", "ambient: 40 °C, engine-space: true}");
    let (guide, _) = guide::read(crate::source::SourceFile::new("guide.md", bay.as_str()), "guide");
    let guide = guide.unwrap();
    let (circuit, _) = crate::circuit::wire(&guide);
    let fire = emergencies(&guide, &circuit.unwrap()).into_iter().find(|one| one.id == "emergency-fire").unwrap();
    assert!(fire.acts.iter().all(|act| act.devices.is_empty()), "{fire:?}");
}
