//! Nodal analysis of a network of resistors, sources and loads.
//!
//! Knows nothing of parts or runs: nodes are numbers. Feed and return are solved together, so that
//! a return current splits as the resistances dictate: one equation a node (Kirchhoff's current law),
//! nodes joined by a branch without resistance counting as one (a supernode, as textbooks call it).

use petgraph::unionfind::UnionFind;

use super::sparse::Matrix;

/// Rounds of Newton's method for constant-power loads, and for chargers whose input follows their
/// output. It doubles its right digits each round, or nearly so where a charger's output moves with
/// its input.
const NEWTON_ROUNDS: usize = 150;
/// Where a charger's input and output disturb each other: the share of each step by which the input follows.
const FOLLOWING_BY: f64 = 0.3;
/// Rounds in which every limited source changes its mode at once, before they take turns.
const MODE_ROUNDS_TOGETHER: usize = 12;
/// Changes of mode of limited sources. Each source has three modes.
const MODE_ROUNDS: usize = 500;
/// Beside a source in a mode that leaves a part of the network without any, to see which way to go.
const LEAK_SIEMENS: f64 = 1e-6;
/// Voltages that move by less than this share of the largest have settled.
const SETTLED: f64 = 1e-13;
/// Volts over so many times the network's own are the rounding of equations that have no solution.
const BEYOND_MEASURE: f64 = 1e9;
/// Under this resistance a branch is solved as having none, to keep the equations well scaled.
const NO_RESISTANCE_OHM: f64 = 1e-9;

/// Between two regulators across the same two points.
const SECOND_REGULATOR_OHM: f64 = 1e-6;

/// One element between two nodes. Currents count from `a` to `b` through the element.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Element {
    /// A resistance.
    Resistor {
        /// From.
        a: usize,
        /// To.
        b: usize,
        /// Ohms, zero allowed.
        ohms: f64,
    },
    /// A voltage source with its resistance.
    Source {
        /// Positive.
        a: usize,
        /// Negative.
        b: usize,
        /// Volts at no current.
        volts: f64,
        /// Ohms, zero allowed.
        ohms: f64,
    },
    /// A source that regulates to a voltage until its output limit, and takes nothing in: an
    /// alternator, a charger's output.
    Regulated {
        /// Positive.
        a: usize,
        /// Negative.
        b: usize,
        /// Regulated volts.
        volts: f64,
        /// Most amperes it gives.
        limit: f64,
    },
    /// A load that takes a current whatever the voltage; a negative one gives.
    Draw {
        /// Positive.
        a: usize,
        /// Negative.
        b: usize,
        /// Amperes.
        amps: f64,
    },
    /// A load that takes a power whatever the voltage.
    Power {
        /// Positive.
        a: usize,
        /// Negative.
        b: usize,
        /// Watts.
        watts: f64,
    },
    /// A load whose power is that of another, `Regulated` element over an efficiency: a charger's input.
    Follows {
        /// Positive.
        a: usize,
        /// Negative.
        b: usize,
        /// The element it feeds.
        element: usize,
        /// Output over input power.
        efficiency: f64,
    },
}

impl Element {
    /// Both nodes.
    pub fn ends(&self) -> (usize, usize) {
        match *self {
            Element::Resistor { a, b, .. }
            | Element::Source { a, b, .. }
            | Element::Regulated { a, b, .. }
            | Element::Draw { a, b, .. }
            | Element::Power { a, b, .. }
            | Element::Follows { a, b, .. } => (a, b),
        }
    }
}

/// A network to solve.
#[derive(Clone, Debug, Default)]
pub struct Network {
    /// How many nodes.
    pub nodes: usize,
    /// What lies between them.
    pub elements: Vec<Element>,
    /// The voltage at which the search for a constant-power load's upper root begins. It must not
    /// be below that root: no source may be above it.
    pub nominal: f64,
}

/// The network's currents and voltages.
#[derive(Clone, Debug, PartialEq)]
pub struct Solved {
    /// Volts of each node, against the reference of its own island.
    pub volts: Vec<f64>,
    /// Amperes of each element, from `a` to `b` through the element; a source that gives is negative.
    pub amps: Vec<f64>,
}

/// There is no voltage at which the loads get what they ask.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NoOperatingPoint;

#[derive(Clone, Copy, PartialEq)]
enum Mode {
    Regulating,
    Limiting,
    Blocked,
}

/// What is known of a solution while it is looked for, by element.
#[derive(Clone)]
struct Attempt {
    modes: Vec<Mode>,
    /// Volts across each constant-power load.
    guess: Vec<f64>,
    /// Watts that each charger's input takes.
    following: Vec<f64>,
}

struct Islands {
    of: Vec<usize>,
    live: Vec<bool>,
    is_reference: Vec<bool>,
}

impl Network {
    /// Solves it. Takes bounded time whatever the input.
    pub fn solve(&self) -> Result<Solved, NoOperatingPoint> {
        let islands = self.islands();
        let straight = self.newton(&islands, 1.0);
        // Where a charger's input current lifts the return of its own output, the one may chase the other
        // up and down: then the input follows by less than the whole step.
        if straight.is_err() && self.elements.iter().any(|e| matches!(e, Element::Follows { .. })) {
            return self.newton(&islands, FOLLOWING_BY);
        }
        straight
    }

    /// Moves what every charger's input asks by a share of the way to what a solution says of its output.
    /// Whether any moved.
    fn follow(&self, solved: &Solved, following: &mut [f64], share: f64) -> bool {
        let mut moved = false;
        for (i, element) in self.elements.iter().enumerate() {
            if let Element::Follows { element: fed, efficiency, .. } = *element {
                let watts = (-solved.amps[fed] * self.across(solved, fed)).max(0.0) / efficiency;
                moved |= (watts - following[i]).abs() > 1e-12 * watts.max(1.0);
                following[i] += share * (watts - following[i]);
            }
        }
        moved
    }

    /// Solves with every limited source in the mode that the solution itself asks for.
    ///
    /// Everything else being linear this is a linear complementarity problem with bounds, whose
    /// matrix has only positive principal minors. All change their modes at once while that settles
    /// soon, then the first that must, which always ends (Júdice and Pires, Comput. Oper. Res. 21
    /// (1994) 587-596, after Murty's least-index rule).
    fn settle(&self, islands: &Islands, attempt: &mut Attempt) -> Result<Solved, NoOperatingPoint> {
        for round in 0..MODE_ROUNDS {
            let exact = self.linear(islands, attempt, 0.0);
            let is_exact = exact.is_ok();
            let solved = exact.or_else(|_| self.linear(islands, attempt, LEAK_SIEMENS))?;
            if !self.change_modes(&solved, &mut attempt.modes, round >= MODE_ROUNDS_TOGETHER) {
                return if is_exact { Ok(solved) } else { Err(NoOperatingPoint) };
            }
        }
        Err(NoOperatingPoint)
    }

    /// Lets each limited source, or only the first that must, go to the mode that its own solution
    /// asks for. Whether any did.
    fn change_modes(&self, solved: &Solved, modes: &mut [Mode], only_one: bool) -> bool {
        let mut changed = false;
        let slack = 1e-9 * self.nominal.max(1.0);
        for (i, element) in self.elements.iter().enumerate() {
            let Element::Regulated { a, b, volts, limit } = *element else { continue };
            let (across, given) = (solved.volts[a] - solved.volts[b], -solved.amps[i]);
            let next = match modes[i] {
                Mode::Regulating if given > limit * (1.0 + 1e-12) => Mode::Limiting,
                Mode::Regulating if given < -slack => Mode::Blocked,
                Mode::Limiting if across > volts + slack => Mode::Regulating,
                Mode::Blocked if across < volts - slack => Mode::Regulating,
                same => same,
            };
            changed |= next != modes[i];
            modes[i] = next;
            if changed && only_one {
                break;
            }
        }
        changed
    }

    /// For every node: which island it is in, and whether a source is in that island.
    fn islands(&self) -> Islands {
        let mut groups: UnionFind<usize> = UnionFind::new(self.nodes);
        for element in &self.elements {
            if let Element::Resistor { a, b, .. } | Element::Source { a, b, .. } | Element::Regulated { a, b, .. } =
                *element
            {
                groups.union(a, b);
            }
        }
        let of: Vec<usize> = (0..self.nodes).map(|n| groups.find(n)).collect();
        let mut live = vec![false; self.nodes];
        let mut reference: Vec<Option<usize>> = vec![None; self.nodes];
        for element in &self.elements {
            if let Element::Source { b, .. } | Element::Regulated { b, .. } = *element {
                live[of[b]] = true;
                // A battery's negative post is what meters are held against.
                reference[of[b]].get_or_insert(b);
            }
        }
        for n in 0..self.nodes {
            reference[of[n]].get_or_insert(n);
        }
        let is_reference = (0..self.nodes).map(|n| reference[of[n]] == Some(n)).collect();
        Islands { of, live, is_reference }
    }

    /// Newton's method for constant-power loads. In each round limited sources settle their modes, so that
    /// from above it stays above the upper root, however the sources share the load.
    fn newton(&self, islands: &Islands, follow_by: f64) -> Result<Solved, NoOperatingPoint> {
        let powered: Vec<usize> = (0..self.elements.len())
            .filter(|i| matches!(self.elements[*i], Element::Power { .. } | Element::Follows { .. }))
            .collect();
        let mut attempt = Attempt {
            modes: vec![Mode::Regulating; self.elements.len()],
            guess: vec![self.nominal; self.elements.len()],
            // A charger's input starts at nothing: the first solution tells what its output gives.
            following: vec![0.0; self.elements.len()],
        };
        let mut solved = self.settle(islands, &mut attempt)?;
        if powered.is_empty() {
            return Ok(solved);
        }
        let mut asked = attempt.following.clone();
        for _ in 0..NEWTON_ROUNDS {
            let mut moved = 0f64;
            for &i in powered.iter().filter(|i| self.takes(islands, &attempt.following, **i)) {
                let across = self.across(&solved, i);
                // A voltage that falls to nothing says that there is no root.
                if across.is_nan() || across <= 0.0 {
                    return Err(NoOperatingPoint);
                }
                moved = moved.max((attempt.guess[i] - across).abs());
                attempt.guess[i] = across;
            }
            asked.clone_from(&attempt.following);
            let followed = self.follow(&solved, &mut attempt.following, follow_by);
            if !followed && moved <= SETTLED * self.nominal.abs().max(1.0) {
                return Ok(solved);
            }
            solved = self.settle(islands, &mut attempt)?;
        }
        // Rounding can keep the last digit moving: accept what meets the power to a part in 10⁹.
        self.follow(&solved, &mut attempt.following, 1.0);
        let met = powered.iter().all(|&i| {
            if !self.takes(islands, &asked, i) && !self.takes(islands, &attempt.following, i) {
                return true;
            }
            let (across, watts) = (self.across(&solved, i), self.watts(i, &attempt.following));
            across > 0.0
                && (across - attempt.guess[i]).abs() <= 1e-9 * across
                && (across * solved.amps[i] - watts).abs() <= 1e-9 * watts
        });
        if met { Ok(solved) } else { Err(NoOperatingPoint) }
    }

    fn across(&self, solved: &Solved, i: usize) -> f64 {
        let (a, b) = self.elements[i].ends();
        solved.volts[a] - solved.volts[b]
    }

    fn watts(&self, i: usize, following: &[f64]) -> f64 {
        match self.elements[i] {
            Element::Power { watts, .. } => watts,
            Element::Follows { .. } => following[i],
            _ => 0.0,
        }
    }

    /// Whether a load is fed at all: both its ends in one island that has a source.
    fn takes(&self, islands: &Islands, following: &[f64], i: usize) -> bool {
        let (a, b) = self.elements[i].ends();
        let wants = match self.elements[i] {
            Element::Power { .. } | Element::Follows { .. } => self.watts(i, following) > 0.0,
            _ => true,
        };
        wants && a != b && islands.of[a] == islands.of[b] && islands.live[islands.of[a]]
    }

    /// One linear solution, with constant-power loads replaced by their tangent at the guessed volts. Sources that do not regulate may leak.
    ///
    /// Nodes joined by a branch without resistance are one unknown: each is its group's voltage plus an
    /// offset. What such a branch carries follows from Kirchhoff's current law at its nodes.
    fn linear(&self, islands: &Islands, attempt: &Attempt, leak: f64) -> Result<Solved, NoOperatingPoint> {
        let Attempt { modes, guess, following } = attempt;
        let mut groups = Groups::new(self.nodes);
        let mut stiff = vec![false; self.elements.len()];
        for (i, element) in self.elements.iter().enumerate() {
            let volts = match *element {
                Element::Resistor { a, b, ohms } if a != b && ohms < NO_RESISTANCE_OHM => 0.0,
                Element::Source { a, b, volts, ohms } if a != b && ohms < NO_RESISTANCE_OHM => volts,
                Element::Regulated { volts, .. } if modes[i] == Mode::Regulating => volts,
                _ => continue,
            };
            let (a, b) = element.ends();
            stiff[i] = groups.join(a, b, volts);
        }
        let mut row = vec![None; self.nodes];
        let mut known = vec![0.0; self.nodes];
        let mut size = 0;
        for (n, is_reference) in islands.is_reference.iter().enumerate() {
            if *is_reference {
                let (root, offset) = groups.find(n);
                known[root] = -offset;
            }
        }
        let reference_roots: Vec<bool> = {
            let mut roots = vec![false; self.nodes];
            for n in (0..self.nodes).filter(|n| islands.is_reference[*n]) {
                roots[groups.find(n).0] = true;
            }
            roots
        };
        for (n, row) in row.iter_mut().enumerate() {
            if groups.find(n).0 == n && !reference_roots[n] {
                *row = Some(size);
                size += 1;
            }
        }
        let at: Vec<(usize, f64)> = (0..self.nodes).map(|n| groups.find(n)).collect();
        let mut system = System { left: Matrix::new(size), right: vec![0.0; size], row: &row, known: &known, at: &at };
        // A constant-power load's tangent: amps = constant − slope × volts.
        let mut tangents = vec![(0.0, 0.0); self.elements.len()];
        for (i, element) in self.elements.iter().enumerate() {
            match *element {
                _ if stiff[i] => {}
                Element::Resistor { a, b, .. } | Element::Source { a, b, .. } if a == b => {}
                Element::Resistor { a, b, ohms } => system.conduct(a, b, 1.0 / ohms.max(NO_RESISTANCE_OHM)),
                Element::Source { a, b, volts, ohms } => {
                    let siemens = 1.0 / ohms.max(NO_RESISTANCE_OHM);
                    system.conduct(a, b, siemens);
                    system.draw(a, b, -volts * siemens);
                }
                Element::Regulated { a, b, volts, limit } => {
                    if modes[i] != Mode::Regulating && leak > 0.0 {
                        system.conduct(a, b, leak);
                    }
                    match modes[i] {
                        // A second regulator across the same two points: a micro-ohm lets them settle who gives.
                        Mode::Regulating => {
                            system.conduct(a, b, 1.0 / SECOND_REGULATOR_OHM);
                            system.draw(a, b, -volts / SECOND_REGULATOR_OHM);
                        }
                        Mode::Limiting => system.draw(a, b, -limit),
                        Mode::Blocked => {}
                    }
                }
                Element::Draw { a, b, amps } => {
                    if self.takes(islands, following, i) {
                        system.draw(a, b, amps);
                    }
                }
                Element::Power { a, b, .. } | Element::Follows { a, b, .. } => {
                    if self.takes(islands, following, i) {
                        let (watts, v) = (self.watts(i, following), guess[i]);
                        tangents[i] = (2.0 * watts / v, watts / (v * v));
                        system.conduct(a, b, -tangents[i].1);
                        system.draw(a, b, tangents[i].0);
                    }
                }
            }
        }
        let System { left, mut right, .. } = system;
        left.factor().ok_or(NoOperatingPoint)?.solve(&mut right);
        // Where rounding hides that the equations have no solution, the volts are beyond all measure.
        let most = BEYOND_MEASURE * self.nominal.abs().max(1.0);
        if right.iter().any(|x| !x.is_finite() || (leak == 0.0 && x.abs() > most)) {
            return Err(NoOperatingPoint);
        }
        let volts: Vec<f64> =
            at.iter().map(|(root, offset)| row[*root].map_or(known[*root], |r| right[r]) + offset).collect();
        let mut amps: Vec<f64> = self
            .elements
            .iter()
            .enumerate()
            .map(|(i, element)| {
                let (a, b) = element.ends();
                let across = volts[a] - volts[b];
                match *element {
                    _ if stiff[i] => 0.0,
                    Element::Resistor { .. } | Element::Source { .. } if a == b => 0.0,
                    Element::Resistor { ohms, .. } => across / ohms.max(NO_RESISTANCE_OHM),
                    Element::Source { volts, ohms, .. } => (across - volts) / ohms.max(NO_RESISTANCE_OHM),
                    Element::Regulated { volts, limit, .. } => match modes[i] {
                        Mode::Regulating => (across - volts) / SECOND_REGULATOR_OHM,
                        Mode::Limiting => -limit,
                        Mode::Blocked => 0.0,
                    },
                    Element::Draw { amps, .. } if self.takes(islands, following, i) => amps,
                    Element::Draw { .. } => 0.0,
                    Element::Power { .. } | Element::Follows { .. } => tangents[i].0 - tangents[i].1 * across,
                }
            })
            .collect();
        self.stiff_currents(&stiff, &mut amps);
        Ok(Solved { amps, volts })
    }

    /// Fills in what branches without resistance carry, from the leaves of their trees inwards.
    fn stiff_currents(&self, stiff: &[bool], amps: &mut [f64]) {
        let mut left: Vec<usize> = (0..self.elements.len()).filter(|i| stiff[*i]).collect();
        if left.is_empty() {
            return;
        }
        // By node: what leaves it through everything whose current is known.
        let mut leaves = vec![0.0; self.nodes];
        let mut waiting = vec![0usize; self.nodes];
        for (i, element) in self.elements.iter().enumerate() {
            let (a, b) = element.ends();
            if stiff[i] {
                waiting[a] += 1;
                waiting[b] += 1;
            } else {
                leaves[a] += amps[i];
                leaves[b] -= amps[i];
            }
        }
        while let Some(place) = left.iter().position(|i| {
            let (a, b) = self.elements[*i].ends();
            waiting[a] == 1 || waiting[b] == 1
        }) {
            let i = left.swap_remove(place);
            let (a, b) = self.elements[i].ends();
            amps[i] = if waiting[a] == 1 { -leaves[a] } else { leaves[b] };
            leaves[a] += amps[i];
            leaves[b] -= amps[i];
            waiting[a] -= 1;
            waiting[b] -= 1;
        }
    }
}

/// Nodes tied together by branches without resistance: a union-find in which each node knows by how
/// many volts it is above its group's root.
struct Groups {
    parent: Vec<usize>,
    above: Vec<f64>,
}

impl Groups {
    fn new(nodes: usize) -> Groups {
        Groups { parent: (0..nodes).collect(), above: vec![0.0; nodes] }
    }

    /// A node's root, and its volts above it.
    fn find(&self, node: usize) -> (usize, f64) {
        let (mut n, mut above) = (node, 0.0);
        while self.parent[n] != n {
            above += self.above[n];
            n = self.parent[n];
        }
        (n, above)
    }

    /// Ties `a` to be `volts` above `b`. Whether they were apart before.
    fn join(&mut self, a: usize, b: usize, volts: f64) -> bool {
        let ((ra, above_a), (rb, above_b)) = (self.find(a), self.find(b));
        if ra == rb {
            return false;
        }
        // The lower number is the root, so that the order of elements does not matter.
        let (child, root, above) =
            if ra > rb { (ra, rb, above_b + volts - above_a) } else { (rb, ra, above_a - volts - above_b) };
        self.parent[child] = root;
        self.above[child] = above;
        true
    }
}

/// The equations while they are put together, over the groups that are no reference.
struct System<'a> {
    left: Matrix,
    right: Vec<f64>,
    row: &'a [Option<usize>],
    /// By root of a reference's group: its volts.
    known: &'a [f64],
    /// By node: root and offset.
    at: &'a [(usize, f64)],
}

impl System<'_> {
    fn conduct(&mut self, a: usize, b: usize, siemens: f64) {
        let ((ra, oa), (rb, ob)) = (self.at[a], self.at[b]);
        if ra == rb {
            return;
        }
        match (self.row[ra], self.row[rb]) {
            (Some(i), Some(j)) => {
                self.left.add_diagonal(i, siemens);
                self.left.add_diagonal(j, siemens);
                self.left.add(i, j, -siemens);
                self.right[i] -= siemens * (oa - ob);
                self.right[j] += siemens * (oa - ob);
            }
            (Some(i), None) => {
                self.left.add_diagonal(i, siemens);
                self.right[i] -= siemens * (oa - ob - self.known[rb]);
            }
            (None, Some(j)) => {
                self.left.add_diagonal(j, siemens);
                self.right[j] -= siemens * (ob - oa - self.known[ra]);
            }
            (None, None) => {}
        }
    }

    fn draw(&mut self, a: usize, b: usize, amps: f64) {
        let ((ra, _), (rb, _)) = (self.at[a], self.at[b]);
        if let Some(i) = self.row[ra] {
            self.right[i] -= amps;
        }
        if let Some(j) = self.row[rb] {
            self.right[j] += amps;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn network(nodes: usize, elements: Vec<Element>) -> Network {
        Network { nodes, elements, nominal: 20.0 }
    }

    #[test]
    fn a_battery_with_its_resistance_feeds_a_load() {
        // Case emf1 of the reference (open college physics text, section 21.2): 12.0 V and 0.100 Ω
        // into 10.0 Ω gives 1.188 A and 11.88 V.
        let n = network(
            2,
            vec![Element::Source { a: 1, b: 0, volts: 12.0, ohms: 0.1 }, Element::Resistor { a: 1, b: 0, ohms: 10.0 }],
        );
        let s = n.solve().unwrap();
        assert!((s.volts[1] - 11.88119).abs() < 1e-5);
        assert!((s.amps[1] - 1.188119).abs() < 1e-6);
        assert!((s.amps[0] + s.amps[1]).abs() < 1e-12);
    }

    #[test]
    fn a_return_splits_as_its_resistances_dictate() {
        // 100 A back through 1 mΩ of cable beside 3 mΩ of body: 75 A and 25 A, 75 mV.
        let n = network(
            3,
            vec![
                Element::Source { a: 1, b: 0, volts: 12.0, ohms: 0.01 },
                Element::Draw { a: 1, b: 2, amps: 100.0 },
                Element::Resistor { a: 2, b: 0, ohms: 1e-3 },
                Element::Resistor { a: 2, b: 0, ohms: 3e-3 },
            ],
        );
        let s = n.solve().unwrap();
        assert!((s.amps[2] - 75.0).abs() < 1e-9 && (s.amps[3] - 25.0).abs() < 1e-9);
        assert!((s.volts[2] - 0.075).abs() < 1e-12);
    }

    #[test]
    fn constant_power_takes_the_upper_root_or_says_there_is_none() {
        // V² − 12 V + P R = 0: at 0.1 Ω, 200 W gives V = 6 + √(36 − 20) = 10 V; the most that can be
        // had is 12²/(4 × 0.1) = 360 W.
        let power = |watts| {
            network(
                2,
                vec![Element::Source { a: 1, b: 0, volts: 12.0, ohms: 0.1 }, Element::Power { a: 1, b: 0, watts }],
            )
        };
        assert!((power(200.0).solve().unwrap().volts[1] - 10.0).abs() < 1e-9);
        assert!((power(359.9).solve().unwrap().volts[1] - (6.0 + (36.0f64 - 35.99).sqrt())).abs() < 1e-6);
        assert_eq!(power(360.1).solve(), Err(NoOperatingPoint));
        assert_eq!(power(1e9).solve(), Err(NoOperatingPoint));
    }

    #[test]
    fn a_charger_at_its_limit_asks_its_input_for_no_more_than_it_gives() {
        // 30 A into 12.2 V behind 5 mΩ stand at 12.35 V: 370.5 W, 411.67 W at 90 %. At its set-point it
        // would give 440 A, which no supply could follow. Of 12.6 V behind 20 mΩ the input keeps
        // 6.3 + √(39.69 − 0.02 × 411.67) = 11.9086 V.
        let n = network(
            3,
            vec![
                Element::Source { a: 1, b: 0, volts: 12.6, ohms: 0.02 },
                Element::Source { a: 2, b: 0, volts: 12.2, ohms: 0.005 },
                Element::Regulated { a: 2, b: 0, volts: 14.4, limit: 30.0 },
                Element::Follows { a: 1, b: 0, element: 2, efficiency: 0.9 },
            ],
        );
        let s = n.solve().unwrap();
        assert!((s.volts[2] - 12.35).abs() < 1e-9);
        assert!((s.volts[1] - (6.3 + (39.69f64 - 0.02 * 370.5 / 0.9).sqrt())).abs() < 1e-6, "{}", s.volts[1]);
    }

    #[test]
    fn an_alternator_regulates_then_limits_then_blocks() {
        let with = |amps: f64, set: f64| {
            network(
                2,
                vec![
                    Element::Source { a: 1, b: 0, volts: 12.6, ohms: 0.01 },
                    Element::Regulated { a: 1, b: 0, volts: set, limit: 90.0 },
                    Element::Draw { a: 1, b: 0, amps },
                ],
            )
            .solve()
            .unwrap()
        };
        // Battery takes (13 − 12.6)/0.01 = 40 A at 13 V; with 30 A of load the alternator gives 70 A.
        let s = with(30.0, 13.0);
        assert!((s.volts[1] - 13.0).abs() < 1e-9 && (s.amps[1] + 70.0).abs() < 1e-9);
        // 14.4 V would ask for 180 A: it gives its 90 A and the voltage is 12.6 + 0.01 × 60.
        let s = with(30.0, 14.4);
        assert!((s.amps[1] + 90.0).abs() < 1e-9 && (s.volts[1] - 13.2).abs() < 1e-9);
        // Set under the battery it gives nothing.
        let s = with(0.0, 12.0);
        assert!(s.amps[1].abs() < 1e-9 && (s.volts[1] - 12.6).abs() < 1e-9);
    }

    #[test]
    fn a_charger_takes_in_what_it_gives_out_over_its_efficiency() {
        // Output 30 A into a 12.2 V, 10 mΩ battery: 12.5 V, 375 W; input 375/0.8 W at the other side.
        let n = network(
            3,
            vec![
                Element::Source { a: 1, b: 0, volts: 12.6, ohms: 0.01 },
                Element::Source { a: 2, b: 0, volts: 12.2, ohms: 0.01 },
                Element::Regulated { a: 2, b: 0, volts: 14.4, limit: 30.0 },
                Element::Follows { a: 1, b: 0, element: 2, efficiency: 0.8 },
            ],
        );
        let s = n.solve().unwrap();
        assert!((s.volts[2] - 12.5).abs() < 1e-9);
        assert!((s.amps[3] * s.volts[1] - 375.0 / 0.8).abs() < 1e-7);
    }

    #[test]
    fn an_alternator_that_helps_only_when_the_voltage_has_fallen_is_not_stepped_over() {
        // A weak battery, 12.6 V behind 0.1 Ω, gives 12.6²/0.4 = 396.9 W at the most. An alternator lowered to
        // 12.0 V is blocked until the battery has fallen to that, and then gives the rest of 600 W: 50 A at
        // 12.0 V, of which the battery's (12.6 − 12.0)/0.1 = 6 A.
        let n = network(
            2,
            vec![
                Element::Source { a: 1, b: 0, volts: 12.6, ohms: 0.1 },
                Element::Regulated { a: 1, b: 0, volts: 12.0, limit: 90.0 },
                Element::Power { a: 1, b: 0, watts: 600.0 },
            ],
        );
        let s = n.solve().unwrap();
        assert!((s.volts[1] - 12.0).abs() < 1e-9 && (s.amps[1] + 44.0).abs() < 1e-9, "{s:?}");
        // More than both can give has no operating point.
        let mut over = n.clone();
        over.elements[2] = Element::Power { a: 1, b: 0, watts: 1600.0 };
        assert_eq!(over.solve(), Err(NoOperatingPoint));
    }

    #[test]
    fn a_charger_whose_input_lifts_its_own_return_settles() {
        // The house battery is charged through the return that the charger's input current also takes, so that
        // the more it takes the less it can give. Solved by hand in the other order: the input takes 60 A, which
        // lifts that return by 0.017 × (60 + charge).
        let (charge, taken, r) = (40.0, 60.0, 0.017);
        let lifted = r * (charge + taken);
        let set = 12.7 + 0.01 * charge + lifted;
        let across = 12.6 - 0.01 * taken - lifted;
        let n = network(
            4,
            vec![
                Element::Source { a: 1, b: 0, volts: 12.6, ohms: 0.01 },
                Element::Resistor { a: 3, b: 0, ohms: r },
                Element::Source { a: 2, b: 3, volts: 12.7, ohms: 0.01 },
                Element::Regulated { a: 2, b: 0, volts: set, limit: 90.0 },
                Element::Follows { a: 1, b: 3, element: 3, efficiency: set * charge / (across * taken) },
            ],
        );
        let s = n.solve().unwrap();
        assert!((s.amps[3] + charge).abs() < 1e-6 && (s.amps[4] - taken).abs() < 1e-6, "{s:?}");
    }

    #[test]
    fn two_chargers_without_a_battery_share_a_load() {
        // 45 A of which neither gives more than 30 A; while the wrong one is taken to give nothing, the other at
        // its limit leaves the voltage nowhere.
        let with = |amps: f64| {
            network(
                3,
                vec![
                    Element::Regulated { a: 1, b: 0, volts: 14.3, limit: 30.0 },
                    Element::Regulated { a: 2, b: 0, volts: 14.4, limit: 30.0 },
                    Element::Resistor { a: 1, b: 2, ohms: 0.001 },
                    Element::Draw { a: 1, b: 0, amps },
                ],
            )
            .solve()
        };
        let s = with(45.0).unwrap();
        assert!((s.amps[0] + 15.0).abs() < 1e-6 && (s.amps[1] + 30.0).abs() < 1e-6, "{s:?}");
        assert_eq!(with(61.0), Err(NoOperatingPoint));
    }

    #[test]
    fn an_island_without_a_source_is_dead_and_a_branch_without_resistance_carries_current() {
        let n = network(
            5,
            vec![
                Element::Source { a: 1, b: 0, volts: 12.0, ohms: 0.0 },
                Element::Resistor { a: 1, b: 2, ohms: 0.0 },
                Element::Resistor { a: 2, b: 0, ohms: 6.0 },
                Element::Resistor { a: 3, b: 4, ohms: 1.0 },
                Element::Draw { a: 3, b: 4, amps: 5.0 },
                Element::Draw { a: 2, b: 4, amps: 5.0 },
            ],
        );
        let s = n.solve().unwrap();
        assert!((s.amps[1] - 2.0).abs() < 1e-12);
        assert_eq!((s.amps[4], s.amps[5], s.volts[3]), (0.0, 0.0, 0.0));
    }
}
