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
    }

    /// Every element does what it is: a load takes what it asks, a limited source holds its voltage unless it is at
    /// its limit or would have to take current in.
    #[test]
    fn every_element_keeps_its_own_law((seed, nodes) in drawn()) {
        let (network, _) = random::network(&mut Dice::new(seed), nodes);
        let solved = network.solve().unwrap();
        for (i, element) in network.elements.iter().enumerate() {
            prop_assert!(keeps_its_law(&network, &solved, i), "{element:?}: {} A", solved.amps[i]);
        }
    }

    /// With a battery and no constant power there is always an operating point, however many limited sources fight
    /// over the voltage: each branch takes more the more volts stand across it, so the whole has one solution
    /// (Duffin 1947).
    #[test]
    fn limited_sources_always_settle_who_gives_what((seed, nodes) in drawn(), sources in 1..=6usize) {
        let (network, solved) = limited_sources(seed, nodes, sources);
        prop_assert!(solved.is_ok(), "{network:?}");
        let solved = solved.unwrap();
        for (i, element) in network.elements.iter().enumerate() {
            prop_assert!(keeps_its_law(&network, &solved, i), "{element:?}: {} A", solved.amps[i]);
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
        // One source: the first battery. A side of its own hangs in the air without its battery.
        let first = branches.iter().position(|b| b.volts != 0.0);
        let branches: Vec<Branch> = branches
            .iter()
            .enumerate()
            .filter(|(i, b)| b.volts == 0.0 || Some(*i) == first)
            .map(|(_, b)| *b)
            .collect();
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
            linear.changed(&[Change::Join(Point::node(site), Point::node(0), 0.0)]).through(0)
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
        prop_assert!(agrees(changed.through(0), solved.amps[fault]), "{} {}", changed.through(0), solved.amps[fault]);
        for (i, branch) in branches.iter().enumerate() {
            let anew = match stretches {
                Some((along, x, rest)) if along == i => x * solved.amps[i] + (1.0 - x) * solved.amps[rest],
                _ => solved.amps[i],
            };
            prop_assert!(agrees(changed.amps(i), anew), "{branch:?}: {} {anew}", changed.amps(i));
        }
        if open.is_empty() {
            for n in 0..nodes {
                let (ours, anew) = (changed.volts(n) - changed.volts(0), solved.volts[n] - solved.volts[0]);
                prop_assert!(agrees(ours, anew), "node {n}: {ours} {anew}");
            }
        }
    }
}

/// A random network with so many limited sources in it, solved.
fn limited_sources(seed: u64, nodes: usize, sources: usize) -> (Network, Result<Solved, NoOperatingPoint>) {
    let mut dice = Dice::new(seed);
    let (branches, sides) = random::branches(&mut dice, nodes);
    let mut network = as_network(nodes, &branches);
    for a in sides.positive() {
        if dice.chance(0.4) {
            network.elements.push(Element::Draw { a, b: dice.pick(&sides.returns), amps: dice.decades(0.5, 200.0) });
        }
    }
    for _ in 0..sources {
        let (a, b) = (dice.pick(&sides.positive()), dice.pick(&sides.returns));
        let (volts, limit) = (dice.between(11.5, 15.0), dice.decades(5.0, 500.0));
        // Two that hold different voltages at the same two terminals have no solution in any book.
        if network.elements.iter().all(|e| !matches!(e, Element::Regulated { .. }) || e.ends() != (a, b)) {
            network.elements.push(Element::Regulated { a, b, volts, limit });
        }
    }
    let solved = network.solve();
    (network, solved)
}

/// Found by the law above: three sources that all changed their modes at once came round every four rounds, and
/// the circuit was said to have no operating point.
#[test]
fn sources_that_would_change_in_turn_for_ever_settle() {
    let (network, solved) = limited_sources(13_252_237_972_764_556_093, 34, 3);
    let solved = solved.unwrap();
    assert!((0..network.elements.len()).all(|i| keeps_its_law(&network, &solved, i)));
}

/// Whether an element does what it is.
fn keeps_its_law(network: &Network, solved: &Solved, i: usize) -> bool {
    let (a, b) = network.elements[i].ends();
    let (across, amps) = (solved.volts[a] - solved.volts[b], solved.amps[i]);
    match network.elements[i] {
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
}
