<<<<<<< HEAD
//! Laws that hold for any circuit, on random networks of 5 to 40 nodes.
//!
//! A network is drawn from a seed and a number of nodes, which a failing property prints.

mod warming;

use proptest::prelude::*;

use goodground::circuit::{Activity, Circuit, Kind};
use goodground::quantity::Temperature;
use goodground::study::faults;
use goodground::study::linear::{Branch, Change, Linear, Point};
use goodground::study::network::{Element, Network, NoOperatingPoint, Solved};

use crate::spice::random::{self, Dice};

/// What rounding may cost, as a share of the largest term.
const ROUNDING: f64 = 1e-9;

fn settings() -> ProptestConfig {
    ProptestConfig { failure_persistence: None, ..ProptestConfig::default() }
}

fn drawn() -> impl Strategy<Value = (u64, usize)> {
    (any::<u64>(), 5..=40usize)
}

fn near(found: f64, expected: f64, scale: f64) -> bool {
    (found - expected).abs() <= ROUNDING * (1.0 + scale.abs())
}

/// Volts that an element's own current makes across it, from `a` to `b`; none for one that does not settle them.
fn drop(element: Element, amps: f64) -> Option<f64> {
    match element {
        Element::Resistor { ohms, .. } => Some(ohms * amps),
        Element::Source { volts, ohms, .. } => Some(volts + ohms * amps),
        _ => None,
    }
}

/// Volts of every node worked from the currents alone, walking from node 0 over conductors and batteries.
fn volts_from_currents(network: &Network, solved: &Solved) -> Vec<f64> {
    let mut volts = vec![None; network.nodes];
    volts[0] = Some(0.0);
    for _ in 0..network.nodes {
        for (element, amps) in network.elements.iter().zip(&solved.amps) {
            let (a, b) = element.ends();
            let Some(drop) = drop(*element, *amps) else { continue };
            match (volts[a], volts[b]) {
                (Some(va), None) => volts[b] = Some(va - drop),
                (None, Some(vb)) => volts[a] = Some(vb + drop),
                _ => {}
            }
        }
    }
    volts.into_iter().map(|v| v.expect("every node hangs on conductors")).collect()
}

proptest! {
    #![proptest_config(settings())]

    /// Kirchhoff's current law: what flows into a node flows out of it. At the reference too, for which the solver
    /// has no equation.
    #[test]
    fn no_current_is_lost_at_any_node((seed, nodes) in drawn()) {
        let (network, _) = random::network(&mut Dice::new(seed), nodes);
        let solved = network.solve().unwrap();
        let (mut sums, mut sizes) = (vec![0.0; nodes], vec![0.0; nodes]);
        for (element, amps) in network.elements.iter().zip(&solved.amps) {
            let (a, b) = element.ends();
            sums[a] += amps;
            sums[b] -= amps;
            sizes[a] += amps.abs();
            sizes[b] += amps.abs();
        }
        for (node, (sum, size)) in sums.iter().zip(&sizes).enumerate() {
            prop_assert!(near(*sum, 0.0, *size), "node {node}: {sum} A of {size}");
        }
    }

    /// Kirchhoff's voltage law: whichever way round, the volts that the currents make add up to nothing.
    #[test]
    fn no_volts_are_lost_round_any_loop((seed, nodes) in drawn()) {
        let (network, _) = random::network(&mut Dice::new(seed), nodes);
        let solved = network.solve().unwrap();
        let volts = volts_from_currents(&network, &solved);
        for (element, amps) in network.elements.iter().zip(&solved.amps) {
            let (a, b) = element.ends();
            if let Some(drop) = drop(*element, *amps) {
                prop_assert!(near(volts[a] - volts[b], drop, 10.0), "{element:?}: {} V, {drop} V", volts[a] - volts[b]);
            }
        }
        for (node, volts) in volts.iter().enumerate() {
            prop_assert!(near(*volts, solved.volts[node] - solved.volts[0], 10.0), "node {node}");
        }
    }

    /// Power in is power out: what batteries and limited sources make is what heats conductors and goes into loads.
    #[test]
    fn no_power_is_lost((seed, nodes) in drawn()) {
        let (network, _) = random::network(&mut Dice::new(seed), nodes);
        let solved = network.solve().unwrap();
        let (mut made, mut taken) = (0.0, 0.0);
        for (element, amps) in network.elements.iter().zip(&solved.amps) {
            let (a, b) = element.ends();
            let across = solved.volts[a] - solved.volts[b];
            match *element {
                Element::Resistor { ohms, .. } => taken += amps * amps * ohms,
                Element::Source { volts, ohms, .. } => {
                    taken += amps * amps * ohms;
                    made -= volts * amps;
                }
                Element::Regulated { .. } => made -= across * amps,
                Element::Draw { amps, .. } => taken += across * amps,
                Element::Power { watts, .. } => taken += watts,
                Element::Follows { element: fed, efficiency, .. } => {
                    let (p, q) = network.elements[fed].ends();
                    taken += -solved.amps[fed] * (solved.volts[p] - solved.volts[q]) / efficiency;
                }
            }
        }
        prop_assert!(near(made, taken, 10.0 * made), "{made} W made, {taken} W taken");
        prop_assert!(taken > 0.0);
    }

    /// Every element does what it is: a load takes what it asks, a limited source holds its voltage unless it is at
    /// its limit or would have to take current in.
    #[test]
    fn every_element_keeps_its_own_law((seed, nodes) in drawn()) {
        let (network, _) = random::network(&mut Dice::new(seed), nodes);
        let solved = network.solve().unwrap();
        for (i, element) in network.elements.iter().enumerate() {
            let (a, b) = element.ends();
            let (across, amps) = (solved.volts[a] - solved.volts[b], solved.amps[i]);
            let kept = match *element {
                Element::Resistor { ohms, .. } => near(across, ohms * amps, 10.0),
                Element::Source { volts, ohms, .. } => near(across, volts + ohms * amps, 10.0),
                Element::Draw { amps: asked, .. } => amps == asked,
                Element::Power { watts, .. } => across > 0.0 && near(across * amps, watts, watts),
                Element::Regulated { volts, limit, .. } => {
                    let given = -amps;
                    let holds = near(across, volts, 10.0) && given >= -1e-7 && given <= limit * (1.0 + 1e-9);
                    let limits = near(given, limit, limit) && across <= volts + 1e-7;
                    let blocks = given == 0.0 && across >= volts - 1e-7;
                    holds || limits || blocks
                }
                Element::Follows { element: fed, efficiency, .. } => {
                    let (p, q) = network.elements[fed].ends();
                    let given = -solved.amps[fed] * (solved.volts[p] - solved.volts[q]);
                    near(across * amps * efficiency, given, 10.0 * given)
                }
            };
            prop_assert!(kept, "{element:?}: {across} V, {amps} A");
        }
    }

    /// The greatest power that a two-terminal network gives is Voc²/4R (Thévenin and Jacobi): a load under it finds
    /// the upper of its two voltages, Voc/2 + √(Voc²/4 − P R), and one over it finds none.
    #[test]
    fn constant_power_is_met_up_to_the_most_there_is_and_no_further((seed, nodes) in drawn(), share in 0.01..0.9999) {
        let mut dice = Dice::new(seed);
        let (branches, sides) = random::branches(&mut dice, nodes);
        let (a, b) = (dice.pick(&sides.positive()), dice.pick(&sides.returns));
        let with = |load: Option<Element>| {
            let mut network = as_network(nodes, &branches);
            network.elements.extend(load);
            network.solve()
        };
        let across = |solved: &Solved| solved.volts[a] - solved.volts[b];
        let open = across(&with(None).unwrap());
        let ohms = (open - across(&with(Some(Element::Draw { a, b, amps: 100.0 })).unwrap())) / 100.0;
        let most = open * open / (4.0 * ohms);
        let watts = share * most;
        let volts = across(&with(Some(Element::Power { a, b, watts })).unwrap());
        let root = open / 2.0 + (open * open / 4.0 - watts * ohms).sqrt();
        // Near the most, where the roots meet, the voltage moves as the square root of what rounding moves.
        prop_assert!((volts - root).abs() <= 1e-6 * root, "{volts} V, {root} V of {open} V");
        for over in [1.0001, 1.5, 1e3, 1e9] {
            let none = with(Some(Element::Power { a, b, watts: over * most }));
            prop_assert_eq!(none, Err(NoOperatingPoint));
        }
    }

    /// Rayleigh's monotonicity law: with one source and one load, a run of less resistance never raises the whole
    /// drop, and one of more never lowers it.
    #[test]
    fn a_thicker_run_never_raises_the_drop_nor_a_longer_one_lowers_it((seed, nodes) in drawn(), factor in 1.0..50.0) {
        let mut dice = Dice::new(seed);
        let (branches, sides) = random::branches(&mut dice, nodes);
        // One source: the first battery. A side of its own would hang in the air without its battery.
        let branches: Vec<Branch> =
            branches.into_iter().filter(|r| r.volts == 0.0 || (r.a, r.b) == (1, 0)).collect();
        let (a, b) = (dice.pick(&sides.feed), dice.pick(&sides.returns));
        let changed = dice.below(branches.len());
        let drop = |factor: f64| {
            let mut network = as_network(nodes, &branches);
            match &mut network.elements[changed] {
                Element::Resistor { ohms, .. } | Element::Source { ohms, .. } => *ohms *= factor,
                _ => unreachable!("only these are made"),
            }
            network.elements.push(Element::Draw { a, b, amps: 100.0 });
            let solved = network.solve().unwrap();
            12.8 - (solved.volts[a] - solved.volts[b])
        };
        let (thicker, as_is, longer) = (drop(1.0 / factor), drop(1.0), drop(factor));
        prop_assert!(thicker <= as_is + ROUNDING && as_is <= longer + ROUNDING, "{thicker} {as_is} {longer}");
    }

    /// Adding a source never lowers a prospective current.
    ///
    /// That holds where the source can give at all, so with a voltage that is not under the others', and where all
    /// negatives meet: then every entry of the inverse of the conductances is positive, and whatever is given anywhere
    /// raises every voltage. (Negatives far apart can make a bridge, in which a source turns a current round. And a
    /// flat battery beside a full one takes.)
    #[test]
    fn adding_a_source_never_lowers_a_prospective_current((seed, nodes) in drawn(), lift in 0.0..3.0) {
        let mut dice = Dice::new(seed);
        let (mut branches, sides) = random::branches(&mut dice, nodes);
        for branch in branches.iter_mut().filter(|b| b.volts != 0.0) {
            branch.b = 0;
        }
        let highest = branches.iter().fold(0.0, |most: f64, b| most.max(b.volts));
        let positive = sides.positive();
        let (site, post) = (dice.pick(&positive), dice.pick(&positive));
        let ohms = dice.decades(1e-3, 1.0);
        let prospective = |branches: &[Branch], injected: &[(usize, usize, f64)]| {
            let linear = Linear::new(nodes, branches.to_vec(), injected).unwrap();
            linear.changed(&[Change::Join(Point::node(site), Point::node(0), 0.0)]).through[0]
        };
        let before = prospective(&branches, &[]);
        prop_assert!(before > 0.0);
        // An alternator at its limit gives its current whatever the voltage.
        let with_alternator = prospective(&branches, &[(0, post, 150.0)]);
        prop_assert!(with_alternator >= before * (1.0 - ROUNDING), "{before} A, {with_alternator} A with an alternator");
        branches.push(Branch { a: post, b: 0, ohms, volts: highest + lift });
        let with_battery = prospective(&branches, &[]);
        prop_assert!(with_battery >= before * (1.0 - ROUNDING), "{before} A, {with_battery} A with a battery more");
    }

    /// A network solved once and changed is the changed network solved anew.
    #[test]
    fn changing_a_solved_network_equals_solving_it_anew((seed, nodes) in drawn()) {
        let mut dice = Dice::new(seed);
        let (branches, sides) = random::branches(&mut dice, nodes);
        let linear = Linear::new(nodes, branches.clone(), &[]).unwrap();
        let (site, to) = (dice.pick(&sides.positive()), dice.pick(&sides.returns));
        let ohms = if dice.chance(0.5) { 0.0 } else { dice.decades(1e-4, 2e-2) };
        let plain: Vec<usize> = (0..branches.len()).filter(|i| branches[*i].volts == 0.0).collect();
        let along = dice.chance(0.5).then(|| (dice.pick(&plain), dice.between(0.02, 0.98)));
        let mut open: Vec<usize> = (0..dice.below(4)).map(|_| dice.below(branches.len())).collect();
        open.sort();
        open.dedup();
        open.retain(|i| along.is_none_or(|(a, _)| a != *i));
        let from = along.map_or(Point::node(site), |(i, x)| {
            Point::along(branches[i].a, branches[i].b, branches[i].ohms, x)
        });
        let join = Change::Join(from, Point::node(to), ohms);
        let changes: Vec<Change> = std::iter::once(join).chain(open.iter().map(|i| Change::Open(*i))).collect();
        let changed = linear.changed(&changes);
        // Anew: branches opened are left out, one with a fault along it is cut in two at a node of its own.
        let mut anew = as_network(nodes + 1, &branches);
        let (place, mut stretches) = (along.map_or(site, |_| nodes), None);
        if let Some((i, x)) = along {
            let Branch { a, b, ohms, .. } = branches[i];
            anew.elements[i] = Element::Resistor { a, b: nodes, ohms: ohms * x };
            anew.elements.push(Element::Resistor { a: nodes, b, ohms: ohms * (1.0 - x) });
            stretches = Some((i, x, anew.elements.len() - 1));
        }
        anew.elements.push(Element::Resistor { a: place, b: to, ohms });
        let fault = anew.elements.len() - 1;
        for i in &open {
            // Both ends at one place: it carries nothing, and the others keep their numbers.
            let a = anew.elements[*i].ends().0;
            anew.elements[*i] = Element::Resistor { a, b: a, ohms: 1.0 };
        }
        let solved = anew.solve().unwrap();
        // What an opened branch still lets through is a ten-millionth of its conductance.
        let leak: f64 = open.iter().map(|i| 1e-7 * 15.0 / branches[*i].ohms).sum();
        let agrees = |ours: f64, anew: f64| (ours - anew).abs() <= leak + 1e-7 * (1.0 + anew.abs());
        prop_assert!(agrees(changed.through[0], solved.amps[fault]), "{} {}", changed.through[0], solved.amps[fault]);
        for (i, branch) in branches.iter().enumerate() {
            let anew = match stretches {
                Some((along, x, rest)) if along == i => x * solved.amps[i] + (1.0 - x) * solved.amps[rest],
                _ => solved.amps[i],
            };
            prop_assert!(agrees(changed.amps[i], anew), "{branch:?}: {} {anew}", changed.amps[i]);
        }
        if open.is_empty() {
            for n in 0..nodes {
                let (ours, anew) = (changed.volts[n] - changed.volts[0], solved.volts[n] - solved.volts[0]);
                prop_assert!(agrees(ours, anew), "node {n}: {ours} {anew}");
            }
        }
    }
}

/// Linear branches as the other solver takes them.
fn as_network(nodes: usize, branches: &[Branch]) -> Network {
    let element = |b: &Branch| match *b {
        Branch { a, b, ohms, volts } if volts != 0.0 => Element::Source { a, b, volts, ohms },
        Branch { a, b, ohms, .. } => Element::Resistor { a, b, ohms },
    };
    Network { nodes, elements: branches.iter().map(element).collect(), nominal: 15.0 }
}

/// A second battery like the first, posts to posts, in every guide of the club.
#[test]
fn a_second_battery_beside_a_first_lowers_no_prospective_current_of_any_guide() {
    let mut compared = 0;
    for guide in crate::spice::guides_of_the_club() {
        let circuit = crate::spice::circuit(&guide);
        let found = |circuit: &Circuit| {
            let start = vec![Temperature::celsius(60.0); circuit.runs.len()];
            faults::faults(circuit, &start).bolted
        };
        let before = found(&circuit);
        let batteries: Vec<usize> =
            (0..circuit.parts.len()).filter(|i| matches!(circuit.parts[*i].kind, Kind::Battery(_))).collect();
        for battery in batteries {
            let mut doubled = circuit.clone();
            doubled.parts.push(circuit.parts[battery].clone());
            for state in &mut doubled.states {
                state.parts.push(Activity::Idle);
            }
            for fault in found(&doubled) {
                let same = before.iter().find(|f| (f.site, f.to, f.corner) == (fault.site, fault.to, fault.corner));
                let Some(same) = same else { continue };
                let (then, now) = (same.current.in_amps(), fault.current.in_amps());
                assert!(now >= then * (1.0 - ROUNDING), "{guide}: {then} A, then {now} A at {:?}", fault.site);
                compared += 1;
            }
        }
    }
    assert!(compared > 300, "{compared}");
=======
//! Laws that must hold for any circuit, over circuits drawn at random.
//!
//! Thicker and longer: by Rayleigh's monotonicity law (Doyle and Snell, Random Walks and Electric
//! Networks, 1984, section 1.4; from memory) no resistance between two points of a network of
//! resistors falls when one of its resistors grows. With one source and one load that is the drop itself;
//! with several loads of constant current it is the power lost between them, current by current.

use goodground::circuit::{Circuit, Kind, NodeId, RunId, wire};
use goodground::guide;
use goodground::handbook::conductors;
use goodground::quantity::{CableSize, Show};
use goodground::source::SourceFile;
use goodground::study::{self, Case, Charge, Joints, Solution, StateStudy, Study, Warmth};
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
>>>>>>> c64386d (Test the edges of the rules of running and words, and laws over random circuits)
}
