//! A linear network solved once and changed many times.
//!
//! Knows nothing of parts or runs. A fault is a branch added, an opened device a branch taken away:
//! both change the conductance matrix by one rank each, so that after one factorisation every fault
//! costs a system as small as its number of changes (Woodbury's identity; in the trade, the
//! compensation method of Tinney, IEEE Trans. PAS-91 (1972) 123-127).
//!
//! (G + U D Uᵀ) v = i gives v = v₀ − Z U (D⁻¹ + Uᵀ Z U)⁻¹ Uᵀ v₀, with Z = G⁻¹. The entries of the
//! middle factor's solution are the currents through the added branches.

use std::sync::OnceLock;

use nalgebra::{DMatrix, DVector};
use petgraph::unionfind::UnionFind;

use super::sparse::{Factor, Matrix};

/// What an opened branch still lets through, as a share of its conductance: a part cut off whole
/// keeps a reference, and what it then carries is far below anything that is judged.
const LEAK: f64 = 1e-7;
/// The least resistance of a branch. A joint is fifty times this at its best.
const LEAST_OHM: f64 = 1e-6;

/// A branch with a resistance, and a voltage source in it or none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Branch {
    /// From; the source's positive.
    pub a: usize,
    /// To.
    pub b: usize,
    /// Ohms; anything under a micro-ohm counts as one.
    pub ohms: f64,
    /// The source's volts at no current; 0 for a plain resistance.
    pub volts: f64,
}

/// A point of the network: a node, or a place along a branch as weights of both its ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// One node and its weight.
    pub near: (usize, f64),
    /// Another and its weight; weight 0 where there is none.
    pub far: (usize, f64),
    /// Ohms that lie in series with the point itself: x(1 − x)R along a branch of R.
    pub ohms: f64,
}

impl Point {
    /// A node.
    pub fn node(node: usize) -> Point {
        Point { near: (node, 1.0), far: (node, 0.0), ohms: 0.0 }
    }

    /// The place at share `x` of the way from `a` to `b` along a branch of `ohms`.
    pub fn along(a: usize, b: usize, ohms: f64, x: f64) -> Point {
        Point { near: (a, 1.0 - x), far: (b, x), ohms: x * (1.0 - x) * ohms }
    }

    fn pick(&self, of: impl Fn(usize) -> f64) -> f64 {
        let mut sum = self.near.1 * of(self.near.0);
        if self.far.1 != 0.0 {
            sum += self.far.1 * of(self.far.0);
        }
        sum
    }
}

/// One change: a branch added between two points, or a branch of the network opened.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Change {
    /// A resistance between two points.
    Join(Point, Point, f64),
    /// The branch with this index is taken away.
    Open(usize),
}

/// A linear network, factored.
#[derive(Clone, Debug)]
pub struct Linear {
    branches: Vec<Branch>,
    /// The equations' factors; none where every node is a reference.
    factor: Option<Factor>,
    /// By node: its row, or none for a reference.
    row: Vec<Option<usize>>,
    size: usize,
    v0: Vec<f64>,
    island: Vec<usize>,
    /// By node, worked out when it is first asked for: a column of Z. Most faults share one end, the body.
    columns: Vec<OnceLock<Vec<f64>>>,
}

/// The network after some changes. Nothing but the changes' own currents is worked out before it is asked for: of
/// a fault, few branches matter.
#[derive(Clone, Debug)]
pub struct Changed<'a> {
    linear: &'a Linear,
    through: Vec<f64>,
    /// Amperes let in at a node, and what one ampere there does to every node.
    let_in: Vec<(f64, &'a [f64])>,
    opened: Vec<usize>,
}

impl Changed<'_> {
    /// Volts of a node, against the reference of the node's own island.
    pub fn volts(&self, node: usize) -> f64 {
        self.let_in.iter().fold(self.linear.v0[node], |v, (amps, column)| v + amps * column[node])
    }

    /// Amperes of a branch, from `a` to `b` through it. An opened branch carries nothing.
    pub fn amps(&self, branch: usize) -> f64 {
        if self.opened.contains(&branch) {
            return 0.0;
        }
        let b = self.linear.branches[branch];
        (self.volts(b.a) - self.volts(b.b) - b.volts) / b.ohms
    }

    /// Amperes through a change, by its place among the changes; for a join, from its first point to its second.
    pub fn through(&self, change: usize) -> f64 {
        self.through[change]
    }
}

impl Linear {
    /// Factors a network of branches with currents injected (`from`, `into`, amperes) from outside.
    /// `None` when it is singular or not finite, which positive resistances never are.
    pub fn new(nodes: usize, branches: Vec<Branch>, injections: &[(usize, usize, f64)]) -> Option<Linear> {
        let branches: Vec<Branch> = branches.into_iter().map(|b| Branch { ohms: b.ohms.max(LEAST_OHM), ..b }).collect();
        let mut groups: UnionFind<usize> = UnionFind::new(nodes);
        for b in &branches {
            groups.union(b.a, b.b);
        }
        let island: Vec<usize> = (0..nodes).map(|n| groups.find(n)).collect();
        // Each island's reference is a source's negative where it has one.
        let mut reference: Vec<Option<usize>> = vec![None; nodes];
        for b in branches.iter().filter(|b| b.volts != 0.0) {
            reference[island[b.b]].get_or_insert(b.b);
        }
        let mut row = vec![None; nodes];
        let mut size = 0;
        for n in 0..nodes {
            if *reference[island[n]].get_or_insert(n) != n {
                row[n] = Some(size);
                size += 1;
            }
        }
        let mut g = Matrix::new(size);
        let mut i = vec![0.0; size];
        for b in branches.iter().filter(|b| b.a != b.b) {
            let siemens = 1.0 / b.ohms;
            if let Some(ra) = row[b.a] {
                g.add_diagonal(ra, siemens);
                i[ra] += b.volts * siemens;
            }
            if let Some(rb) = row[b.b] {
                g.add_diagonal(rb, siemens);
                i[rb] -= b.volts * siemens;
            }
            if let (Some(ra), Some(rb)) = (row[b.a], row[b.b]) {
                g.add(ra, rb, -siemens);
            }
        }
        for (from, into, amps) in injections {
            if island[*from] != island[*into] {
                continue;
            }
            if let Some(r) = row[*into] {
                i[r] += amps;
            }
            if let Some(r) = row[*from] {
                i[r] -= amps;
            }
        }
        let factor = if size == 0 { None } else { Some(g.factor()?) };
        if let Some(factor) = &factor {
            factor.solve(&mut i);
        }
        if i.iter().any(|x| !x.is_finite()) {
            return None;
        }
        let v0 = row.iter().map(|r| r.map_or(0.0, |r| i[r])).collect();
        let columns = vec![OnceLock::new(); nodes];
        Some(Linear { branches, factor, row, size, v0, island, columns })
    }

    /// What one ampere let in at a node does to every node's voltage: a column of Z.
    fn column(&self, node: usize) -> &[f64] {
        self.columns[node].get_or_init(|| {
            let mut x = vec![0.0; self.size];
            if let Some(r) = self.row[node] {
                x[r] = 1.0;
            }
            if let Some(factor) = &self.factor {
                factor.solve(&mut x);
            }
            self.row.iter().map(|r| r.map_or(0.0, |r| x[r])).collect()
        })
    }

    /// What one ampere let in at one point does to the voltage of another. Z is symmetric.
    fn between(&self, at: &Point, of: &Point) -> f64 {
        at.pick(|node| {
            let column = self.column(node);
            of.pick(|m| column[m])
        })
    }

    /// The branches, as solved.
    pub fn branches(&self) -> &[Branch] {
        &self.branches
    }

    /// Whether two nodes are in one island: only then can a join between them carry a current.
    pub fn together(&self, a: usize, b: usize) -> bool {
        self.island[a] == self.island[b]
    }

    /// What is still joined to what with one branch taken away.
    pub fn without(&self, branch: usize) -> UnionFind<usize> {
        let mut groups: UnionFind<usize> = UnionFind::new(self.row.len());
        for (_, b) in self.branches.iter().enumerate().filter(|(i, _)| *i != branch) {
            groups.union(b.a, b.b);
        }
        groups
    }

    /// Whether some nodes hang on the rest by one branch alone, and no source is among them: without that
    /// branch, nothing can send a current through them.
    pub fn strands_no_source(&self, bridge: usize) -> bool {
        let groups = self.without(bridge);
        let Branch { a, b, .. } = self.branches[bridge];
        let fed = |side: usize| self.branches.iter().any(|s| s.volts != 0.0 && groups.equiv(s.a, side));
        self.branches[bridge].volts == 0.0 && !groups.equiv(a, b) && !(fed(a) && fed(b))
    }

    /// The network without changes.
    pub fn as_it_is(&self) -> Changed<'_> {
        self.changed(&[])
    }

    /// The network after `changes`.
    pub fn changed(&self, changes: &[Change]) -> Changed<'_> {
        // By change: both points, what lies between them, and the volts that are there without the changes.
        let ends: Vec<(Point, Point, f64, f64)> = changes
            .iter()
            .map(|c| {
                let (a, b, ohms, volts) = match *c {
                    Change::Join(a, b, ohms) => (a, b, ohms + a.ohms + b.ohms, 0.0),
                    // A branch with a source that is opened takes its source with it.
                    Change::Open(i) => {
                        let b = self.branches[i];
                        (Point::node(b.a), Point::node(b.b), -b.ohms * (1.0 + LEAK), b.volts)
                    }
                };
                (a, b, ohms, a.pick(|m| self.v0[m]) - b.pick(|m| self.v0[m]) - volts)
            })
            .collect();
        let k = changes.len();
        // Uᵀ Z U: what an ampere through one change does across another.
        let mutual = |r: usize, c: usize| {
            let ((a, b, ..), (c, d, ..)) = (&ends[r], &ends[c]);
            self.between(c, a) - self.between(c, b) - self.between(d, a) + self.between(d, b)
        };
        let through: Vec<f64> = match k {
            0 => Vec::new(),
            1 => {
                let amps = ends[0].3 / (mutual(0, 0) + ends[0].2);
                vec![if amps.is_finite() { amps } else { 0.0 }]
            }
            // Two, by far the commonest of several (a fault, and the device that it opened): by elimination,
            // the larger entry of the diagonal first.
            2 => {
                let own = [mutual(0, 0) + ends[0].2, mutual(1, 1) + ends[1].2];
                let across = mutual(0, 1);
                let (p, q) = if own[0].abs() >= own[1].abs() { (0, 1) } else { (1, 0) };
                let share = across / own[p];
                let mut amps = [0.0; 2];
                amps[q] = (ends[q].3 - share * ends[p].3) / (own[q] - share * across);
                amps[p] = (ends[p].3 - across * amps[q]) / own[p];
                if amps.iter().all(|a| a.is_finite()) { amps.to_vec() } else { vec![0.0; 2] }
            }
            _ => {
                let middle = DMatrix::from_fn(k, k, |r, c| mutual(r, c) + if r == c { ends[r].2 } else { 0.0 });
                let across = DVector::from_iterator(k, ends.iter().map(|e| e.3));
                middle.lu().solve(&across).map_or_else(|| vec![0.0; k], |x| x.as_slice().to_vec())
            }
        };
        let mut let_in: Vec<(f64, &[f64])> = Vec::with_capacity(4 * k);
        for ((a, b, ..), amps) in ends.iter().zip(&through) {
            for (point, amps) in [(a, -amps), (b, *amps)] {
                for (node, weight) in [point.near, point.far] {
                    if weight != 0.0 && self.row[node].is_some() {
                        let_in.push((amps * weight, self.column(node)));
                    }
                }
            }
        }
        let opened = changes.iter().filter_map(|c| if let Change::Open(i) = c { Some(*i) } else { None }).collect();
        Changed { linear: self, through, let_in, opened }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn branch(a: usize, b: usize, ohms: f64, volts: f64) -> Branch {
        Branch { a, b, ohms, volts }
    }

    #[test]
    fn a_short_at_a_batterys_posts_draws_its_emf_over_its_resistance() {
        // Case sc1 of the reference: 12 V behind 5 mΩ gives 2400 A.
        let l = Linear::new(2, vec![branch(1, 0, 5e-3, 12.0)], &[]).unwrap();
        let c = l.changed(&[Change::Join(Point::node(1), Point::node(0), 0.0)]);
        assert!((c.through(0) - 2400.0).abs() < 1e-6, "{c:?}");
        assert!((c.amps(0) + 2400.0).abs() < 1e-6);
    }

    #[test]
    fn strings_in_parallel_add_their_currents() {
        // Cases bank1 and bank2: 110 cells of 2.2 V and 0.5 mΩ give 4.36 kA; four such strings 17.45 kA.
        let strings = vec![branch(1, 0, 0.055, 240.0); 4];
        let l = Linear::new(2, strings, &[]).unwrap();
        let c = l.changed(&[Change::Join(Point::node(1), Point::node(0), 0.0)]);
        assert!((c.through(0) / 17454.5 - 1.0).abs() < 5e-3);
        let c = l.changed(&[
            Change::Open(0),
            Change::Open(1),
            Change::Open(2),
            Change::Join(Point::node(1), Point::node(0), 0.0),
        ]);
        assert!((c.through(3) / 4363.6 - 1.0).abs() < 5e-3, "{c:?}");
    }

    #[test]
    fn changes_equal_a_network_built_that_way() {
        // A ladder with two batteries: a fault a third of the way along branch 2, branch 4 opened.
        let base = vec![
            branch(1, 0, 0.006, 12.6),
            branch(1, 2, 0.002, 0.0),
            branch(2, 3, 0.003, 0.0),
            branch(3, 4, 0.004, 0.0),
            branch(2, 4, 0.005, 0.0),
            branch(4, 0, 0.009, 12.2),
        ];
        let l = Linear::new(5, base.clone(), &[]).unwrap();
        let fault = Point::along(2, 3, 0.003, 1.0 / 3.0);
        let c = l.changed(&[Change::Join(fault, Point::node(0), 0.001), Change::Open(4)]);
        let built = vec![
            base[0],
            base[1],
            branch(2, 5, 0.001, 0.0),
            branch(5, 3, 0.002, 0.0),
            base[3],
            branch(4, 0, 0.009, 12.2),
            branch(5, 0, 0.001, 0.0),
        ];
        let built = Linear::new(6, built, &[]).unwrap();
        let exact = built.as_it_is();
        assert!((c.through(0) / exact.amps(6) - 1.0).abs() < 1e-5, "{} {}", c.through(0), exact.amps(6));
        for n in 0..5 {
            assert!((c.volts(n) - exact.volts(n)).abs() < 1e-5);
        }
    }

    #[test]
    fn a_part_cut_off_whole_carries_nothing() {
        let l = Linear::new(3, vec![branch(1, 0, 0.01, 12.0), branch(1, 2, 0.001, 0.0)], &[]).unwrap();
        let c = l.changed(&[Change::Join(Point::node(2), Point::node(0), 0.0), Change::Open(1)]);
        assert!(c.through(0).abs() < 1e-2, "{c:?}");
        assert!(c.amps(0).abs() < 1e-2);
    }
}
