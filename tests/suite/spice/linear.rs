//! Faults on random linear networks: joins between nodes and places along branches, and branches opened.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use goodground::study::linear::{Branch, Change, Linear, Point};

use super::deck::{Deck, Record, Tally};
use super::random::{self, Dice};

const NETWORKS: usize = 50;
/// What an opened branch still lets through, as [`goodground::study::linear`] says: this share of its conductance.
const LEAK: f64 = 1e-7;
/// No two nodes stand further apart than this.
const MOST_VOLTS: f64 = 15.0;

/// A place that a fault touches.
#[derive(Clone, Copy, Debug)]
enum Place {
    Node(usize),
    Along(usize, f64),
}

/// One fault: from a place to a node through some ohms, with branches opened.
#[derive(Clone, Debug)]
struct Fault {
    from: Place,
    to: usize,
    ohms: f64,
    open: Vec<usize>,
}

impl Fault {
    fn changes(&self, branches: &[Branch]) -> Vec<Change> {
        let from = match self.from {
            Place::Node(n) => Point::node(n),
            Place::Along(i, x) => Point::along(branches[i].a, branches[i].b, branches[i].ohms, x),
        };
        let join = Change::Join(from, Point::node(self.to), self.ohms);
        std::iter::once(join).chain(self.open.iter().map(|i| Change::Open(*i))).collect()
    }

    /// The network with the fault in it, as the `k`th copy. Every piece that is cut off has its own reference.
    fn netlist(&self, k: usize, nodes: usize, branches: &[Branch], text: &mut String) {
        let mut tied: petgraph::unionfind::UnionFind<usize> = petgraph::unionfind::UnionFind::new(nodes);
        let node = |n: usize| if n == 0 { "0".to_string() } else { format!("c{k}n{n}") };
        for (i, branch) in branches.iter().enumerate().filter(|(i, _)| !self.open.contains(i)) {
            let (a, b) = (node(branch.a), node(branch.b));
            tied.union(branch.a, branch.b);
            match self.from {
                Place::Along(along, x) if along == i => {
                    writeln!(
                        text,
                        "R{k}x{i} {a} c{k}at {:e}\nR{k}y{i} c{k}at {b} {:e}",
                        branch.ohms * x,
                        branch.ohms * (1.0 - x)
                    )
                }
                _ if branch.volts != 0.0 => {
                    writeln!(text, "V{k}x{i} c{k}m{i} {b} {:e}\nR{k}x{i} {a} c{k}m{i} {:e}", branch.volts, branch.ohms)
                }
                _ => writeln!(text, "R{k}x{i} {a} {b} {:e}", branch.ohms),
            }
            .unwrap();
        }
        let from = match self.from {
            Place::Node(n) => (n, node(n)),
            Place::Along(i, _) => (branches[i].a, format!("c{k}at")),
        };
        // The fault's ammeter, then its own ohms.
        writeln!(text, "V{k}fault {} c{k}f 0", from.1).unwrap();
        if self.ohms > 0.0 {
            writeln!(text, "R{k}fault c{k}f {} {:e}", node(self.to), self.ohms).unwrap();
        } else {
            writeln!(text, "V{k}bolted c{k}f {} 0", node(self.to)).unwrap();
        }
        tied.union(from.0, self.to);
        for n in 1..nodes {
            if tied.union(0, n) {
                writeln!(text, "V{k}tie{n} {} 0 0", node(n)).unwrap();
            }
        }
    }
}

/// Five faults: bolted, through ohms, along a branch, with one branch opened and with two.
fn faults(dice: &mut Dice, branches: &[Branch], sides: &random::Sides) -> Vec<Fault> {
    let plain: Vec<usize> = (0..branches.len()).filter(|i| branches[*i].volts == 0.0).collect();
    let positive = sides.positive();
    let feeds: Vec<usize> = plain.iter().copied().filter(|i| positive.contains(&branches[*i].a)).collect();
    let node = |dice: &mut Dice| Place::Node(dice.pick(&positive));
    let to = |dice: &mut Dice| dice.pick(&sides.returns);
    let bolted = Fault { from: node(dice), to: to(dice), ohms: 0.0, open: vec![] };
    let through = Fault { from: node(dice), to: to(dice), ohms: dice.decades(1e-4, 2e-2), open: vec![] };
    let along = if feeds.is_empty() { node(dice) } else { Place::Along(dice.pick(&feeds), dice.between(0.05, 0.95)) };
    let along = Fault { from: along, to: to(dice), ohms: 0.0, open: vec![] };
    let one = Fault { from: node(dice), to: to(dice), ohms: 0.0, open: vec![dice.pick(&plain)] };
    let mut two = vec![dice.pick(&plain), dice.pick(&plain)];
    two.sort();
    two.dedup();
    let two = Fault { from: node(dice), to: to(dice), ohms: 0.0, open: two };
    vec![bolted, through, along, one, two]
}

#[test]
fn prospective_currents_of_random_circuits_agree() {
    let mut record = Record::open("linear");
    let mut tally = Tally::new("linear");
    let mut opened = Tally::new("linear, with branches opened");
    for n in 0..NETWORKS {
        let mut dice = Dice::new(1000 + n as u64);
        let nodes = 5 + n * 35 / (NETWORKS - 1);
        let (branches, sides) = random::branches(&mut dice, nodes);
        let linear = Linear::new(nodes, branches.clone(), &[]).expect("positive resistances");
        let faults = faults(&mut dice, &branches, &sides);
        let name = format!("random {n:02}");
        let (mut netlist, mut asked) = (String::new(), BTreeSet::new());
        let current = |fault: &Fault, k: usize, i: usize| match fault.from {
            _ if fault.open.contains(&i) => None,
            // Seen from its ends, a branch with a fault along it carries the weighted mean of its two stretches.
            Place::Along(along, x) if along == i => {
                Some(vec![(x, format!("@r{k}x{i}[i]")), (1.0 - x, format!("@r{k}y{i}[i]"))])
            }
            _ => Some(vec![(1.0, format!("@r{k}x{i}[i]"))]),
        };
        for (k, fault) in faults.iter().enumerate() {
            fault.netlist(k, nodes, &branches, &mut netlist);
            asked.insert(format!("i(v{k}fault)"));
            asked.extend((0..branches.len()).filter_map(|i| current(fault, k, i)).flatten().map(|(_, e)| e));
        }
        let answers = record.answers(&Deck { name: name.clone(), netlist, asked });
        let answer = |expression: &str| *answers.get(expression).unwrap_or_else(|| panic!("{name}: {expression}"));
        for (k, fault) in faults.iter().enumerate() {
            let ours = linear.changed(&fault.changes(&branches));
            // Leaks: of each opened branch, at the most volts that can stand across it, the whole way round.
            let leak: f64 = fault.open.iter().map(|i| LEAK * MOST_VOLTS / branches[*i].ohms).sum();
            let tally = if fault.open.is_empty() { &mut tally } else { &mut opened };
            let theirs = answer(&format!("i(v{k}fault)"));
            tally.compare_within(&format!("{name}, {fault:?}"), ours.through(0), theirs, leak);
            for (i, branch) in branches.iter().enumerate() {
                let theirs = current(fault, k, i)
                    .map_or(0.0, |terms| terms.iter().map(|(share, expression)| share * answer(expression)).sum());
                tally.compare_within(&format!("{name}, {fault:?}, {branch:?}"), ours.amps(i), theirs, leak);
            }
        }
    }
    tally.finish(3000);
    opened.finish(2000);
    record.close();
}
