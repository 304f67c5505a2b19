//! Laws that must hold for any guide, through reading, wiring and study; those of the bare network stand in
//! `laws`.
//!
//! Thicker and longer: by Rayleigh's monotonicity law (Doyle and Snell, Random Walks and Electric
//! Networks, 1984, section 1.4; from memory) no resistance between two points of a network of
//! resistors falls when one of its resistors grows. With one source and one load that is the drop itself;
//! with several loads of constant current it is the power lost between them, current by current.

use goodground::circuit::{Circuit, Kind, NodeId, Polarity, RunId, wire};
use goodground::guide;
use goodground::handbook::conductors;
use goodground::quantity::{CableSize, Resistance, Show};
use goodground::readings::{MeterReading, SpanKind};
use goodground::source::SourceFile;
use goodground::study::{self, Case, Charge, Joints, Solution, StateStudy, Study, Warmth};
use goodground::trials::change;
use goodground::trials::culprit;
use proptest::prelude::*;

fn studied(text: &str) -> (Circuit, Study) {
    let (guide, found) = guide::read(SourceFile::new("guide.md", text), "guide");
    let guide = guide.unwrap_or_else(|| panic!("{found:?}\n{text}"));
    let (circuit, found) = wire(&guide);
    let circuit = circuit.unwrap_or_else(|| panic!("{found:?}\n{text}"));
    let study = study::study(&circuit);
    (circuit, study)
}

/// One cable of a random circuit.
#[derive(Clone, Debug)]
struct Cable {
    from: usize,
    to: usize,
    size: usize,
    millimetres: u32,
}

/// A battery, posts on its feed and return sides joined at random, and loads between them.
#[derive(Clone, Debug)]
struct Mesh {
    /// On either side, the battery's post first; each later post hangs on an earlier one.
    sides: [Vec<Cable>; 2],
    /// Feed post, return post and amperes of each load.
    loads: Vec<(usize, usize, u32)>,
}

const POSTS: usize = 5;

impl Mesh {
    fn text(&self) -> String {
        let mut parts = String::new();
        let mut runs = String::new();
        for side in ["f", "r"] {
            for post in 1..=POSTS {
                parts.push_str(&format!("  {side}{post}: {{is: post, in: here}}\n"));
            }
        }
        for (side, cables) in ["f", "r"].iter().zip(&self.sides) {
            let post = |n: usize| match (n, *side) {
                (0, "f") => "battery+".to_string(),
                (0, _) => "battery-".to_string(),
                (n, side) => format!("{side}{n}"),
            };
            for (i, c) in cables.iter().enumerate() {
                let size = conductors::metric_sizes()[c.size].show();
                runs.push_str(&format!(
                    "  {side}run{i}: {{from: {}, to: {}, size: {size}, length: {} mm}}\n",
                    post(c.from),
                    post(c.to),
                    c.millimetres
                ));
            }
        }
        let mut doing = Vec::new();
        for (i, (feed, back, amps)) in self.loads.iter().enumerate() {
            parts.push_str(&format!("  load{i}: {{is: load, in: here}}\n"));
            runs.push_str(&format!("  to{i}: {{from: f{feed}, to: load{i}+, size: 10 mm², length: 0.2 m}}\n"));
            runs.push_str(&format!("  back{i}: {{from: load{i}-, to: r{back}, size: 10 mm², length: 0.2 m}}\n"));
            doing.push(format!("load{i}: {amps} A"));
        }
        format!(
            "---\ntitle: Random\nsummary: Drawn at random.\nwritten: 2026-10-03\n\
             vehicle: {{kind: boat, body: composite, drive: diesel}}\nsystem: 12 V\nzones:\n  here: {{label: Here}}\n\
             parts:\n  battery: {{is: battery, in: here, chemistry: agm, capacity: 100 Ah, internal-resistance: 3 mΩ}}\n\
             {parts}every-run: {{metal: copper, insulation: xlpe, rated: 105 °C}}\nruns:\n{runs}states:\n  working: {{{}}}\n---\nText.\n",
            doing.join(", ")
        )
    }

    fn cable(&mut self, pick: usize) -> &mut Cable {
        let feeds = self.sides[0].len();
        let pick = pick % (feeds + self.sides[1].len());
        if pick < feeds { &mut self.sides[0][pick] } else { &mut self.sides[1][pick - feeds] }
    }
}

/// A tree over the posts, so that none is loose, and some cables more.
fn side() -> impl Strategy<Value = Vec<Cable>> {
    let thickest = conductors::metric_sizes().len() - 1;
    // Neither end of the series, so that there is always a thicker one.
    let facts = (4..thickest, 100u32..6000);
    let tree = proptest::collection::vec((any::<proptest::sample::Index>(), facts.clone()), POSTS);
    let more = proptest::collection::vec((0..=POSTS, 0..=POSTS, facts), 0..4);
    (tree, more).prop_map(|(tree, more)| {
        let tree = tree.into_iter().enumerate().map(|(i, (on, (size, millimetres)))| Cable {
            from: on.index(i + 1),
            to: i + 1,
            size,
            millimetres,
        });
        let more = more.into_iter().filter(|(a, b, _)| a != b);
        tree.chain(more.map(|(from, to, (size, millimetres))| Cable { from, to, size, millimetres })).collect()
    })
}

fn mesh(loads: impl Into<proptest::collection::SizeRange>) -> impl Strategy<Value = Mesh> {
    let loads = proptest::collection::vec((1..=POSTS, 1..=POSTS, 1u32..40), loads);
    (side(), side(), loads).prop_map(|(feed, back, loads)| Mesh { sides: [feed, back], loads })
}

/// Watts lost between battery and loads, current by current: with one load its drop times its current.
fn lost(circuit: &Circuit, solved: &Solution) -> f64 {
    let (_, battery) = circuit.batteries().next().expect("the battery");
    let given = solved.between(battery.positive, battery.negative);
    let loads = circuit.parts.iter().enumerate().filter_map(|(i, p)| match &p.kind {
        Kind::Load(l) => Some((i, l)),
        _ => None,
    });
    loads
        .map(|(i, l)| {
            let amps = solved.part(goodground::circuit::PartId(i));
            ((given - solved.between(l.positive, l.negative)) * amps).in_watts()
        })
        .sum()
}

/// The same on every corner at 20 °C.
fn losses(mesh: &Mesh) -> Vec<f64> {
    let (circuit, study) = studied(&mesh.text());
    let cool = |c: &&Case| c.corner.warmth == Warmth::Cool;
    study.states[0].cases.iter().filter(cool).map(|c| lost(&circuit, c.solution.as_ref().expect("solved"))).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_thicker_run_never_raises_the_drop_of_one_load(mesh in mesh(1), pick in any::<usize>()) {
        let mut thicker = mesh.clone();
        thicker.cable(pick).size += 1;
        for (before, after) in losses(&mesh).into_iter().zip(losses(&thicker)) {
            prop_assert!(after <= before * (1.0 + 1e-9) + 1e-12, "{before} W became {after} W");
        }
    }

    #[test]
    fn a_thicker_run_never_raises_what_all_loads_lose_together(mesh in mesh(2..5), pick in any::<usize>()) {
        let mut thicker = mesh.clone();
        thicker.cable(pick).size += 1;
        for (before, after) in losses(&mesh).into_iter().zip(losses(&thicker)) {
            prop_assert!(after <= before * (1.0 + 1e-9) + 1e-12, "{before} W became {after} W");
        }
    }

    #[test]
    fn a_longer_run_never_lowers_the_drop(mesh in mesh(1..4), pick in any::<usize>(), more in 1u32..5000) {
        let mut longer = mesh.clone();
        longer.cable(pick).millimetres += more;
        for (before, after) in losses(&mesh).into_iter().zip(losses(&longer)) {
            prop_assert!(after >= before * (1.0 - 1e-9) - 1e-12, "{before} W became {after} W");
        }
    }

    #[test]
    fn a_run_that_all_the_current_passes_does_raise_it(mesh in mesh(1), more in 100u32..5000) {
        // What makes the three laws above more than "nothing ever changes": a cable in series is felt.
        let series = |millimetres: u32| {
            let text = mesh.text();
            let from = "  to0: {from: f";
            assert!(text.contains(from));
            text.replace("to: load0+, size: 10 mm², length: 0.2 m", &format!("to: load0+, size: 10 mm², length: {millimetres} mm"))
        };
        let lost = |text: &str| {
            let (circuit, study) = studied(text);
            lost(&circuit, study.states[0].cases[0].solution.as_ref().expect("solved"))
        };
        prop_assert!(lost(&series(200 + more)) > lost(&series(200)));
    }
}

/// The van that the rules' tests start from.
const VAN: &str = include_str!("../../src/rules/testing/van.md");

fn changed(from: &str, to: &str) -> (Circuit, Study) {
    assert_eq!(VAN.matches(from).count(), 1, "{from}");
    studied(&VAN.replacen(from, to, 1))
}

fn solved(study: &StateStudy, charge: Charge) -> &Solution {
    study.at(Warmth::Cool, Joints::Best, charge).next().expect("the case").solution.as_ref().expect("solved")
}

/// The starting state, cool, with the best joints.
fn starting(study: &Study) -> &Solution {
    solved(&study.states[0], Charge::None)
}

/// The drop of every run, in the direction in which it was written.
fn drops(circuit: &Circuit, solved: &Solution) -> Vec<f64> {
    circuit.runs.iter().map(|r| solved.between(r.from, r.to).in_volts()).collect()
}

fn alike(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * a.abs().max(b.abs()) + 1e-12
}

/// Which assumptions a measured figure took away; it may bring none.
fn taken_away(before: &Circuit, after: &Circuit) -> Vec<String> {
    assert!(
        after.assumptions.iter().all(|a| before.assumptions.contains(a)),
        "a measured figure brought an assumption"
    );
    let gone = before.assumptions.iter().filter(|a| !after.assumptions.contains(a));
    gone.map(|a| format!("{} {}", a.subject, a.what)).collect()
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn a_measured_run_moves_only_its_own_drop(micro_ohm in 100u32..5000) {
        // The feed is a tree and its loads take constant currents: nobody else's current can move.
        let milliohm = f64::from(micro_ohm) / 1000.0;
        let (before, plain) = studied(VAN);
        let (after, measured) = changed("starter-feed: {", &format!("starter-feed: {{resistance: {milliohm} mΩ, "));
        prop_assert_eq!(taken_away(&before, &after), Vec::<String>::new());
        let feed = before.run_named("starter-feed").expect("it is there");
        let (old, new) = (drops(&before, starting(&plain)), drops(&after, starting(&measured)));
        for (r, (old, new)) in old.iter().zip(&new).enumerate() {
            if RunId(r) == feed {
                let amps = starting(&measured).run(feed).in_amps();
                prop_assert!(alike(*new, amps * milliohm * 1e-3), "{new}");
            } else {
                prop_assert!(alike(*old, *new), "{} moved from {old} to {new}", before.runs[r].name);
            }
        }
        let amps = |s: &Solution| (0..before.runs.len()).map(|r| s.run(RunId(r)).in_amps()).collect::<Vec<_>>();
        let still = amps(starting(&plain)).iter().zip(amps(starting(&measured))).all(|(a, b)| alike(*a, b));
        prop_assert!(still, "a current moved");
    }

    #[test]
    fn a_measured_device_moves_only_what_it_drops_itself(micro_ohm in 50u32..3000) {
        let (before, plain) = studied(VAN);
        let (after, measured) =
            changed("    breaks: 5 kA\n", &format!("    breaks: 5 kA\n    resistance: {} mΩ\n", f64::from(micro_ohm) / 1000.0));
        prop_assert_eq!(taken_away(&before, &after), vec!["breaker resistance".to_string()]);
        let (old, new) = (drops(&before, starting(&plain)), drops(&after, starting(&measured)));
        prop_assert!(old.iter().zip(&new).all(|(a, b)| alike(*a, *b)), "{old:?} {new:?}");
        let breaker = before.part_named("breaker").expect("it is there");
        let (line, load) = before.part(breaker).through().expect("two sides");
        let amps = starting(&measured).part(breaker).in_amps();
        let across = starting(&measured).between(line, load).in_volts();
        prop_assert!(alike(across, amps * f64::from(micro_ohm) * 1e-6));
    }

    #[test]
    fn a_measured_battery_moves_only_its_own_voltage(micro_ohm in 500u32..20_000) {
        let (before, plain) = studied(VAN);
        let (after, measured) = changed(
            "    cold-cranking: 640 A EN\n",
            &format!("    cold-cranking: 640 A EN\n    internal-resistance: {} mΩ\n", f64::from(micro_ohm) / 1000.0),
        );
        prop_assert!(taken_away(&before, &after).iter().all(|a| a.starts_with("battery ")));
        let (old, new) = (drops(&before, starting(&plain)), drops(&after, starting(&measured)));
        prop_assert!(old.iter().zip(&new).all(|(a, b)| alike(*a, *b)));
        let (_, battery) = before.batteries().next().expect("the battery");
        let across = starting(&measured).between(battery.positive, battery.negative).in_volts();
        // 155 A out of a full battery of 12.6 V.
        prop_assert!(alike(across, 12.6 - 155.0 * f64::from(micro_ohm) * 1e-6), "{across}");
    }

    #[test]
    fn a_measured_body_moves_nothing_on_the_feed_side(micro_ohm in 500u32..5000) {
        let band = VAN.replacen("{is: body, between: {load to bay: 5.5 mΩ}}", "{is: body}", 1);
        let (before, plain) = studied(&band);
        let (after, measured) = studied(&band.replacen(
            "{is: body}",
            &format!("{{is: body, between: {{load to bay: {} mΩ}}}}", f64::from(micro_ohm) / 1000.0),
            1,
        ));
        prop_assert_eq!(taken_away(&before, &after), vec!["body resistance end to end".to_string()]);
        let feeds: Vec<usize> = (0..before.runs.len())
            .filter(|r| before.runs[*r].polarity == goodground::circuit::Polarity::Positive)
            .collect();
        let (old, new) = (drops(&before, starting(&plain)), drops(&after, starting(&measured)));
        prop_assert!(feeds.iter().all(|r| alike(old[*r], new[*r])));
        // The measured return lies between the two ends of the band.
        let starter = before.starter_case();
        let at = |s: &Solution| s.between(starter.0, starter.1).in_volts();
        let ends: Vec<f64> = plain.states[0].at(Warmth::Cool, Joints::Best, Charge::None)
            .map(|c| at(c.solution.as_ref().expect("solved"))).collect();
        let here = at(starting(&measured));
        prop_assert!(ends.len() == 2 && ends[0] <= here + 1e-12 && here <= ends[1] + 1e-12, "{ends:?} {here}");
    }
}

/// Where a return is measured: the starter's case and the battery's negative post.
trait StarterCase {
    fn starter_case(&self) -> (NodeId, NodeId);
}
impl StarterCase for Circuit {
    fn starter_case(&self) -> (NodeId, NodeId) {
        let case = self.parts.iter().find_map(|p| match &p.kind {
            Kind::Starter(s) => Some(s.negative),
            _ => None,
        });
        let post = self.batteries().next().map(|(_, b)| b.negative);
        case.zip(post).expect("a starter and a battery")
    }
}

#[test]
fn a_makers_opening_points_move_no_current_and_no_temperature() {
    let (_, plain) = studied(VAN);
    let (_, other) = changed(
        "    opens: {135 %: 60 s to 1800 s, 200 %: 15 s to 90 s, 600 %: 0.5 s to 3 s, 2000 %: 0.2 s to 1 s}\n",
        "    opens: {135 %: 30 s to 900 s, 200 %: 5 s to 40 s, 600 %: 0.2 s to 1 s}\n",
    );
    for (a, b) in plain.states.iter().zip(&other.states) {
        assert_eq!(a.heat, b.heat);
        let solutions = |s: &StateStudy| s.cases.iter().map(|c| c.solution.clone()).collect::<Vec<_>>();
        assert_eq!(solutions(a), solutions(b));
    }
}

#[test]
fn a_measured_figure_equal_to_its_default_moves_nothing_at_its_corner() {
    // 4.9 m of 70 mm² (0.272 mΩ/m, IEC 60228) with two joints of 0.05 mΩ.
    let (before, plain) = studied(VAN);
    let (after, same) = changed("starter-feed: {", "starter-feed: {resistance: 1.4328 mΩ, ");
    let (old, new) = (drops(&before, starting(&plain)), drops(&after, starting(&same)));
    assert!(old.iter().zip(&new).all(|(a, b)| alike(*a, *b)), "{old:?} {new:?}");
    assert_eq!(CableSize::Metric(70.0), before.runs[0].size);
}

/// Every guide there is: the club's, and the two or three of each rule.
fn every_guide() -> Vec<(String, String)> {
    let mut guides = Vec::new();
    for folder in ["content", "tests/guides"] {
        let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
        for entry in walkdir::WalkDir::new(folder).sort_by_file_name() {
            let path = entry.unwrap().into_path();
            if path.extension().is_some_and(|extension| extension == "md") {
                guides.push((path.display().to_string(), std::fs::read_to_string(&path).unwrap()));
            }
        }
    }
    guides
}

/// What a sound circuit can show: no volts past its highest source, no source past its limit, no load fed backwards.
/// Equations have other solutions too, where limited sources are asked for more than they all have.
#[test]
fn nothing_that_was_solved_is_past_what_its_sources_can_give() {
    let (mut solved, mut read) = (0, 0);
    for (name, text) in every_guide() {
        let Some(guide) = guide::read(SourceFile::new("guide.md", text), "guide").0 else { continue };
        let Some(circuit) = wire(&guide).0 else { continue };
        let study = study::study(&circuit);
        // The highest battery is a lithium one at 14.6 V for each 12 V; sources say their set-points.
        let set_points = circuit.parts.iter().filter_map(|part| match &part.kind {
            Kind::Alternator(a) => Some(a.set_point.in_volts()),
            Kind::Charger(c) => Some(c.set_point.in_volts()),
            _ => None,
        });
        let highest = set_points.fold(14.6 / 12.0 * circuit.nominal.in_volts(), f64::max) + 0.1;
        for state in &study.states {
            // Loads and meters are held to a case that there is.
            let held = state.settled_charge();
            let mut running = state.at(Warmth::Running, Joints::Worst, held);
            assert!(state.has_no_operating_point() || running.all(|c| c.solution.is_ok()), "{name}: {held:?}");
            let cases = state.cases.iter().map(|c| &c.solution);
            for solution in cases.chain(state.surges.iter().map(|s| &s.solution)).filter_map(|s| s.as_ref().ok()) {
                for node in 0..circuit.nodes.len() {
                    let volts = solution.between(NodeId(node), NodeId(0)).in_volts().abs();
                    // A mains charger's bench and a separate island have a reference of their own: all is within two of it.
                    assert!(volts <= 2.0 * highest, "{name}: {volts} V at {}", circuit.nodes[node].name);
                }
                for (i, part) in circuit.parts.iter().enumerate() {
                    let amps = solution.part(goodground::circuit::PartId(i)).in_amps();
                    match &part.kind {
                        Kind::Alternator(a) => assert!(amps <= a.output.in_amps() * (1.0 + 1e-9), "{name}: {amps} A"),
                        Kind::Charger(c) => assert!(amps <= c.limit.in_amps() * (1.0 + 1e-9), "{name}: {amps} A"),
                        Kind::Load(l) if amps > 0.0 => {
                            let volts = solution.between(l.positive, l.negative).in_volts();
                            assert!(volts > 0.0 && volts <= highest, "{name}: {volts} V across {}", part.name);
                        }
                        _ => {}
                    }
                }
                solved += 1;
            }
        }
        for reading in goodground::readings::readings(&circuit, &study) {
            let (low, high, stop) =
                (reading.expected.0.in_volts(), reading.expected.1.in_volts(), reading.stop.in_volts());
            assert!(0.0 <= low && low <= high && high <= highest && stop <= 2.0 * highest, "{name}: {reading:?}");
            if let Some((run, amps)) = reading.clamp {
                let most = study.state(reading.state).heat[run.0].current.in_amps();
                assert!(amps.in_amps() <= most * 1.05 + 0.1, "{name}: a clamp shows {amps:?}, and {most} A flow there");
            }
            read += 1;
        }
    }
    assert!(solved > 700 && read > 500, "{solved} solutions, {read} readings");
}

/// The fault finder against whole studies of every guide, run by run: nothing a good cable reads is called bad, and
/// nothing a bad one reads good, with a clamp around it or without; and where the table of readings holds the whole way
/// to a part, no cable on it is called good past the reading at which that table stops.
#[test]
fn no_good_cable_is_called_bad_and_no_bad_one_good() {
    let (mut good, mut bad, mut spans, mut passed) = (0, 0, 0, 0);
    for (name, text) in every_guide() {
        let Some(guide) = guide::read(SourceFile::new("guide.md", text), "guide").0 else { continue };
        let Some(circuit) = wire(&guide).0 else { continue };
        let study = study::study(&circuit);
        let readings = goodground::readings::readings(&circuit, &study);
        for one in culprit::culprits(&circuit, &study) {
            let worse = change::degraded(&circuit, one.suspect, Resistance::milliohms(culprit::DEGRADED_MOHM));
            let worse = study::study_states(&worse);
            for told in &one.readings {
                let Some(from) = told.bad_from() else { continue };
                let say = |what: &str| format!("{name}, {:?}: {what} {told:?}", one.suspect);
                let read = |case: &Case| {
                    let solution = case.solution.as_ref().ok()?;
                    let amps = one.suspect.current(solution).abs();
                    let volts = solution.between(told.high, told.low).abs();
                    Some((volts, volts * (told.current / amps)))
                };
                let at = |study: &Study| {
                    let state = study.state(told.state);
                    let charge = state.main_charge();
                    let cases =
                        state.cases.iter().filter(|c| c.corner.charge == charge && c.corner.warmth != Warmth::Cold);
                    cases.filter_map(read).collect::<Vec<_>>()
                };
                for (bare, clamped) in at(&study) {
                    let most = told.well_at_most * (1.0 + 1e-9);
                    assert!(bare <= most && clamped <= most, "{} {bare:?} {clamped:?}", say("good"));
                    assert!(told.good_to() < from || told.limit == Some(from), "{}", say("good"));
                    good += 1;
                }
                for (bare, clamped) in at(&worse) {
                    assert!(from <= bare && from <= clamped, "{} {bare:?} {clamped:?}", say("bad"));
                    bad += 1;
                }
                passed += usize::from(told.is_passed_by());
                let whole = |symptom: culprit::Symptom| {
                    let (part, kind) = match (symptom, circuit.node(told.high).polarity) {
                        (culprit::Symptom::NeverFills(_), _) => return None,
                        (
                            culprit::Symptom::SlowCranking(part) | culprit::Symptom::WeakLoad(part),
                            Polarity::Positive,
                        ) => (part, SpanKind::Feed),
                        (culprit::Symptom::SlowCranking(part) | culprit::Symptom::WeakLoad(part), _) => {
                            (part, SpanKind::Return)
                        }
                    };
                    let fits = |r: &&MeterReading| r.state == told.state && r.part == part && r.kind == kind;
                    // A reading that is not to be scaled shares its way with other loads.
                    readings.iter().find(fits).filter(|r| r.clamp.is_some())
                };
                for (symptom, ..) in &one.symptoms {
                    if one.shows(&circuit, *symptom) == Some(told)
                        && let Some(whole) = whole(*symptom)
                    {
                        assert!(from <= whole.stop * (1.0 + 1e-9), "{} {whole:?}", say("past the stop"));
                        spans += 1;
                    }
                }
            }
        }
    }
    println!("{good} {bad} {spans} {passed}");
    assert!(good > 1000 && bad > 1000 && spans > 50 && passed > 5, "{good} {bad} {spans} {passed}");
}
