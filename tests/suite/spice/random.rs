//! Networks that look random and are the same every time.

use goodground::study::linear::Branch;
use goodground::study::network::{Element, Network};

/// SplitMix64 (Steele, Lea and Flood 2014).
pub struct Dice(u64);

impl Dice {
    /// From a seed.
    pub fn new(seed: u64) -> Dice {
        Dice(seed)
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Less than `n`.
    pub fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }

    /// From 0 up to 1.
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Evenly spread.
    pub fn between(&mut self, least: f64, most: f64) -> f64 {
        least + (most - least) * self.unit()
    }

    /// Evenly spread over its decades.
    pub fn decades(&mut self, least: f64, most: f64) -> f64 {
        least * (most / least).powf(self.unit())
    }

    /// True so often.
    pub fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }

    /// One of some.
    pub fn pick(&mut self, of: &[usize]) -> usize {
        of[self.below(of.len())]
    }
}

/// The least and most of a cable with its joints, or of a piece of body, in ohms.
const CABLE: (f64, f64) = (5e-5, 1e-2);

/// Nodes by side. Node 0 is the black probe and the negative post of the first battery, node 1 its positive.
pub struct Sides {
    /// On the positive side of the first battery.
    pub feed: Vec<usize>,
    /// On a positive side of their own; often none.
    pub house: Vec<usize>,
    /// On the negative side.
    pub returns: Vec<usize>,
}

impl Sides {
    fn new(dice: &mut Dice, nodes: usize) -> Sides {
        let positive = nodes / 2;
        let house = if nodes >= 12 && dice.chance(0.5) { positive / 3 } else { 0 };
        Sides {
            feed: (1..=positive - house).collect(),
            house: (positive - house + 1..=positive).collect(),
            returns: std::iter::once(0).chain(positive + 1..nodes).collect(),
        }
    }

    /// Every positive node.
    pub fn positive(&self) -> Vec<usize> {
        [self.feed.as_slice(), &self.house].concat()
    }
}

/// Conductors: a tree over each side, then more between nodes that are joined already, so that current has a
/// choice of ways. Some of the tree's have no resistance when asked for.
fn conductors(dice: &mut Dice, sides: &Sides, some_without: bool) -> Vec<(usize, usize, f64)> {
    let mut all = Vec::new();
    for (side, more) in [(&sides.feed, 0.2), (&sides.house, 0.2), (&sides.returns, 0.8)] {
        for i in 1..side.len() {
            let ohms = if some_without && dice.chance(0.05) { 0.0 } else { dice.decades(CABLE.0, CABLE.1) };
            let parent = dice.below(i);
            all.push((side[i], side[parent], ohms));
            if dice.chance(more) {
                let other = dice.below(i);
                // Beside a conductor without resistance, what another carries would be undetermined only if it
                // had none either.
                all.push((side[i], side[other], dice.decades(CABLE.0, CABLE.1)));
            }
        }
    }
    all
}

/// A network of conductors, batteries, limited sources and loads, with so many nodes (five or more).
/// It has an operating point.
pub fn network(dice: &mut Dice, nodes: usize) -> (Network, Sides) {
    let sides = Sides::new(dice, nodes);
    let mut elements: Vec<Element> =
        conductors(dice, &sides, true).into_iter().map(|(a, b, ohms)| Element::Resistor { a, b, ohms }).collect();
    let mut battery = |dice: &mut Dice, a, b| {
        let (volts, ohms) = (dice.between(12.2, 12.8), dice.decades(2e-3, 1e-2));
        elements.push(Element::Source { a, b, volts, ohms });
    };
    battery(dice, 1, 0);
    if dice.chance(0.4) {
        let (a, b) = (dice.pick(&sides.feed), dice.pick(&sides.returns));
        battery(dice, a, b);
    }
    if let Some(&root) = sides.house.first() {
        let b = dice.pick(&sides.returns);
        battery(dice, root, b);
        let output = elements.len();
        let (a, b) = (dice.pick(&sides.house), dice.pick(&sides.returns));
        elements.push(Element::Regulated { a, b, volts: dice.between(13.8, 14.6), limit: dice.between(10.0, 60.0) });
        let (a, b) = (dice.pick(&sides.feed), dice.pick(&sides.returns));
        elements.push(Element::Follows { a, b, element: output, efficiency: dice.between(0.8, 0.95) });
    }
    if dice.chance(0.6) {
        let (a, b) = (dice.pick(&sides.feed), dice.pick(&sides.returns));
        let volts = if dice.chance(0.3) { 12.0 } else { dice.between(12.8, 14.8) };
        elements.push(Element::Regulated { a, b, volts, limit: dice.decades(20.0, 300.0) });
    }
    let first_load = elements.len();
    for a in sides.positive() {
        if !dice.chance(0.5) {
            continue;
        }
        let b = dice.pick(&sides.returns);
        elements.push(match dice.below(3) {
            0 => Element::Resistor { a, b, ohms: dice.decades(0.2, 20.0) },
            1 => Element::Draw { a, b, amps: dice.decades(0.5, 80.0) },
            _ => Element::Power { a, b, watts: dice.decades(10.0, 600.0) },
        });
    }
    let nominal = elements.iter().fold(0.0, |most: f64, e| match e {
        Element::Source { volts, .. } | Element::Regulated { volts, .. } => most.max(*volts),
        _ => most,
    });
    let mut network = Network { nodes, elements, nominal };
    for _ in 0..20 {
        if network.solve().is_ok() {
            return (network, sides);
        }
        // Too much was asked of it: ask for half.
        for load in &mut network.elements[first_load..] {
            match load {
                Element::Draw { amps, .. } => *amps /= 2.0,
                Element::Power { watts, .. } => *watts /= 2.0,
                _ => {}
            }
        }
    }
    panic!("no operating point at a millionth of the loads: {network:?}");
}

/// A linear network as faults are studied on: conductors and batteries, loads off.
pub fn branches(dice: &mut Dice, nodes: usize) -> (Vec<Branch>, Sides) {
    let sides = Sides::new(dice, nodes);
    let mut all: Vec<Branch> =
        conductors(dice, &sides, false).into_iter().map(|(a, b, ohms)| Branch { a, b, ohms, volts: 0.0 }).collect();
    let mut battery = |dice: &mut Dice, a, b| {
        let (volts, ohms) = (dice.between(12.2, 12.8), dice.decades(1.5e-3, 1e-2));
        all.push(Branch { a, b, ohms, volts });
    };
    battery(dice, 1, 0);
    if dice.chance(0.5) {
        let (a, b) = (dice.pick(&sides.feed), dice.pick(&sides.returns));
        battery(dice, a, b);
    }
    if let Some(&root) = sides.house.first() {
        let b = dice.pick(&sides.returns);
        battery(dice, root, b);
    }
    (all, sides)
}
