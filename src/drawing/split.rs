//! Which part goes on which sheet, when one sheet cannot hold them all at a size that can be read.
//!
//! Sheets take zones in their order as far as they can; as few runs as can be go from one sheet to
//! another. Knows no positions.

use super::model::Split;
use super::place::Dice;
use crate::circuit::{Circuit, Kind};

/// What it costs to break a run in two, with a mark on either sheet.
const BROKEN_RUN: i64 = 20;
/// What it costs to part a bolted joint.
const BROKEN_BOLT: i64 = 120;
/// What it costs to show a zone on one more sheet.
const ZONE_AGAIN: i64 = 25;
/// How full a mark makes a sheet, where a part makes it ten: it takes about half a part's room.
const MARK: i64 = 4;
/// What it costs to be one part over a sheet's fair share, squared.
const OVERFULL: i64 = 40;

/// How many beginnings are tried.
const STARTS: usize = 4;

/// A number of parts with what joins them.
struct Parts {
    /// Parts that are drawn on one sheet, by their number in the circuit.
    parts: Vec<usize>,
    /// Zone of each.
    zone: Vec<usize>,
    /// Joins between two of them, with their cost.
    joins: Vec<(usize, usize, i64)>,
    /// The same, part by part.
    joined: Vec<Vec<(usize, i64)>>,
    zones: usize,
}

/// Parts dealt out to sheets, with what that costs kept up to date.
struct Dealt<'a> {
    parts: &'a Parts,
    /// Each part's sheet.
    sheet: Vec<usize>,
    /// How full each sheet is: a part counts ten.
    load: Vec<i64>,
    /// How many parts of each zone are on each sheet.
    standing: Vec<usize>,
    /// What broken joins cost, and how many zones are shown, each as often as it is.
    broken: i64,
    shown: i64,
}

impl Parts {
    fn of(circuit: &Circuit) -> Parts {
        let mut index = vec![None; circuit.parts.len()];
        let mut parts = Vec::new();
        let mut zone = Vec::new();
        for (i, part) in circuit.parts.iter().enumerate() {
            if !matches!(part.kind, Kind::Body(_)) {
                index[i] = Some(parts.len());
                parts.push(i);
                zone.push(part.zone.map_or(0, |z| z.0));
            }
        }
        let at = |node: crate::circuit::NodeId| circuit.nodes.get(node.0).and_then(|n| *index.get(n.part.0)?);
        let joins: Vec<(usize, usize, i64)> = circuit
            .runs
            .iter()
            .map(|r| (r.from, r.to, BROKEN_RUN))
            .chain(circuit.bolts.iter().map(|b| (b.from, b.to, BROKEN_BOLT)))
            .filter_map(|(a, b, cost)| Some((at(a)?, at(b)?, cost)))
            .filter(|(a, b, _)| a != b)
            .collect();
        let zones = zone.iter().copied().max().unwrap_or(0) + 1;
        let mut joined = vec![Vec::new(); parts.len()];
        for (a, b, cost) in &joins {
            joined[*a].push((*b, *cost));
            joined[*b].push((*a, *cost));
        }
        Parts { parts, zone, joins, joined, zones }
    }

    /// Numbers the sheets from front to rear; one that was left empty is dropped.
    fn numbered(&self, circuit: &Circuit, sheet: &[usize], sheets: usize) -> Split {
        let mut used: Vec<(usize, usize, usize)> = (0..sheets)
            .filter_map(|s| {
                let zones: Vec<usize> = (0..sheet.len()).filter(|p| sheet[*p] == s).map(|p| self.zone[p]).collect();
                let sum: usize = zones.iter().sum();
                (!zones.is_empty()).then(|| (1000 * sum / zones.len(), zones.len(), s))
            })
            .collect();
        used.sort_unstable();
        let mut sheet_of = vec![usize::MAX; circuit.parts.len()];
        for (p, part) in self.parts.iter().enumerate() {
            sheet_of[*part] = used.iter().position(|u| u.2 == sheet[p]).unwrap_or(0);
        }
        Split { sheet_of, sheets: used.len().max(1) }
    }
}

impl Dealt<'_> {
    fn new(parts: &Parts, sheets: usize, sheet: Vec<usize>) -> Dealt<'_> {
        let mut dealt =
            Dealt { parts, load: vec![0; sheets], standing: vec![0; sheets * parts.zones], broken: 0, shown: 0, sheet };
        for (part, s) in dealt.sheet.iter().enumerate() {
            dealt.load[*s] += 10;
            let standing = &mut dealt.standing[*s * parts.zones + parts.zone[part]];
            dealt.shown += i64::from(*standing == 0);
            *standing += 1;
        }
        for (a, b, cost) in &parts.joins {
            let (a, b) = (dealt.sheet[*a], dealt.sheet[*b]);
            if a != b {
                dealt.broken += cost;
                dealt.load[a] += MARK;
                dealt.load[b] += MARK;
            }
        }
        dealt
    }

    fn put(&mut self, part: usize, to: usize) {
        let from = self.sheet[part];
        if from == to {
            return;
        }
        let zone = self.parts.zone[part];
        self.load[from] -= 10;
        self.load[to] += 10;
        self.standing[from * self.parts.zones + zone] -= 1;
        self.shown -= i64::from(self.standing[from * self.parts.zones + zone] == 0);
        self.shown += i64::from(self.standing[to * self.parts.zones + zone] == 0);
        self.standing[to * self.parts.zones + zone] += 1;
        for (other, cost) in &self.parts.joined[part] {
            let other = self.sheet[*other];
            if other != from {
                self.broken -= cost;
                self.load[from] -= MARK;
                self.load[other] -= MARK;
            }
            if other != to {
                self.broken += cost;
                self.load[to] += MARK;
                self.load[other] += MARK;
            }
        }
        self.sheet[part] = to;
    }

    fn swap(&mut self, p: usize, q: usize) {
        let (a, b) = (self.sheet[p], self.sheet[q]);
        self.put(p, b);
        self.put(q, a);
    }

    fn cost(&self) -> i64 {
        let fair = (10 * self.sheet.len()).div_ceil(self.load.len()) as i64;
        let over = self.load.iter().map(|l| (l - fair).max(0)).map(|over| OVERFULL * over * over / 100);
        self.broken + ZONE_AGAIN * self.shown + over.sum::<i64>()
    }
}

/// Ways to deal a circuit's parts out to a number of sheets, the best first: at least one, and no two alike.
pub fn split(circuit: &Circuit, sheets: usize) -> Vec<Split> {
    let parts = Parts::of(circuit);
    let n = parts.parts.len();
    let sheets = sheets.clamp(1, n.max(1));
    if sheets == 1 {
        return vec![Split::whole(circuit)];
    }
    let mut dice = Dice::new(sheets as u64);
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by_key(|p| parts.zone[*p]);
    let mut found: Vec<(i64, Split)> = Vec::new();
    for start in 0..STARTS {
        let mut sheet = vec![0; n];
        for (k, part) in order.iter().enumerate() {
            sheet[*part] = if start == 0 || dice.below(3) > 0 { k * sheets / n } else { dice.below(sheets) };
        }
        let mut dealt = Dealt::new(&parts, sheets, sheet);
        let mut cost = dealt.cost();
        loop {
            let before = cost;
            for p in 0..n {
                for to in 0..sheets {
                    let from = dealt.sheet[p];
                    dealt.put(p, to);
                    let now = dealt.cost();
                    if now < cost {
                        cost = now;
                    } else {
                        dealt.put(p, from);
                    }
                }
                for q in 0..p {
                    // Only a part that is joined to another sheet has anything to win.
                    let outward = |p: usize, to: usize| parts.joined[p].iter().any(|(o, _)| dealt.sheet[*o] == to);
                    let (a, b) = (dealt.sheet[p], dealt.sheet[q]);
                    if a != b && (outward(p, b) || outward(q, a)) {
                        dealt.swap(p, q);
                        let now = dealt.cost();
                        if now < cost {
                            cost = now;
                        } else {
                            dealt.swap(p, q);
                        }
                    }
                }
            }
            if cost == before {
                break;
            }
        }
        let split = parts.numbered(circuit, &dealt.sheet, sheets);
        if found.iter().all(|(_, other)| other.sheet_of != split.sheet_of) {
            found.push((cost, split));
        }
    }
    found.sort_by_key(|f| f.0);
    found.into_iter().map(|(_, split)| split).collect()
}
