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
/// What it costs to be one part over a sheet's fair share, squared.
const OVERFULL: i64 = 40;

/// A number of parts with what joins them.
struct Parts {
    /// Parts that are drawn on one sheet, by their number in the circuit.
    parts: Vec<usize>,
    /// Zone of each.
    zone: Vec<usize>,
    /// Joins between two of them, with their cost.
    joins: Vec<(usize, usize, i64)>,
    zones: usize,
}

/// Room to reckon in.
#[derive(Default)]
struct Scratch {
    load: Vec<i64>,
    seen: Vec<bool>,
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
        let joins = circuit
            .runs
            .iter()
            .map(|r| (r.from, r.to, BROKEN_RUN))
            .chain(circuit.bolts.iter().map(|b| (b.from, b.to, BROKEN_BOLT)))
            .filter_map(|(a, b, cost)| Some((at(a)?, at(b)?, cost)))
            .filter(|(a, b, _)| a != b)
            .collect();
        let zones = zone.iter().copied().max().unwrap_or(0) + 1;
        Parts { parts, zone, joins, zones }
    }

    fn cost(&self, sheet: &[usize], sheets: usize, scratch: &mut Scratch) -> i64 {
        let mut cost = 0;
        let Scratch { load, seen } = scratch;
        load.clear();
        load.resize(sheets, 0);
        seen.clear();
        seen.resize(sheets * self.zones, false);
        for (part, s) in sheet.iter().enumerate() {
            load[*s] += 10;
            seen[*s * self.zones + self.zone[part]] = true;
        }
        for (a, b, broken) in &self.joins {
            if sheet[*a] != sheet[*b] {
                cost += broken;
                // A mark takes about half a part's room.
                load[sheet[*a]] += 4;
                load[sheet[*b]] += 4;
            }
        }
        let zones_shown = seen.iter().filter(|s| **s).count() as i64;
        cost += ZONE_AGAIN * zones_shown;
        let fair = (10 * sheet.len()).div_ceil(sheets) as i64;
        cost += load.iter().map(|l| (l - fair).max(0)).map(|over| OVERFULL * over * over / 100).sum::<i64>();
        cost
    }
}

/// Deals a circuit's parts out to a number of sheets.
pub fn split(circuit: &Circuit, sheets: usize) -> Split {
    let parts = Parts::of(circuit);
    let n = parts.parts.len();
    let sheets = sheets.clamp(1, n.max(1));
    if sheets == 1 {
        return Split::whole(circuit);
    }
    let mut scratch = Scratch::default();
    let mut dice = Dice::new(sheets as u64);
    let mut order: Vec<usize> = (0..n).collect();
    order.sort_by_key(|p| parts.zone[*p]);
    let mut best: Option<(i64, Vec<usize>)> = None;
    let mut near = vec![Vec::new(); n];
    for (a, b, _) in &parts.joins {
        near[*a].push(*b);
        near[*b].push(*a);
    }
    for start in 0..4 {
        let mut sheet = vec![0; n];
        for (k, part) in order.iter().enumerate() {
            sheet[*part] = if start == 0 || dice.below(3) > 0 { k * sheets / n } else { dice.below(sheets) };
        }
        let mut cost = parts.cost(&sheet, sheets, &mut scratch);
        loop {
            let before = cost;
            for p in 0..n {
                for to in 0..sheets {
                    let from = sheet[p];
                    sheet[p] = to;
                    let now = parts.cost(&sheet, sheets, &mut scratch);
                    if now < cost {
                        cost = now;
                    } else {
                        sheet[p] = from;
                    }
                }
                for q in 0..p {
                    // Only a part that is joined to another sheet has anything to win.
                    let outward = |p: usize, to: usize| near[p].iter().any(|o: &usize| sheet[*o] == to);
                    if sheet[p] != sheet[q] && (outward(p, sheet[q]) || outward(q, sheet[p])) {
                        sheet.swap(p, q);
                        let now = parts.cost(&sheet, sheets, &mut scratch);
                        if now < cost {
                            cost = now;
                        } else {
                            sheet.swap(p, q);
                        }
                    }
                }
            }
            if cost == before {
                break;
            }
        }
        if best.as_ref().is_none_or(|(least, _)| cost < *least) {
            best = Some((cost, sheet));
        }
    }
    let sheet = best.map_or_else(|| vec![0; n], |(_, sheet)| sheet);
    // Sheets are numbered from front to rear; one that was left empty is dropped.
    let mut used: Vec<(usize, usize, usize)> = (0..sheets)
        .filter_map(|s| {
            let zones: Vec<usize> = (0..n).filter(|p| sheet[*p] == s).map(|p| parts.zone[p]).collect();
            let sum: usize = zones.iter().sum();
            (!zones.is_empty()).then(|| (1000 * sum / zones.len(), zones.len(), s))
        })
        .collect();
    used.sort_unstable();
    let mut sheet_of = vec![usize::MAX; circuit.parts.len()];
    for (p, part) in parts.parts.iter().enumerate() {
        sheet_of[*part] = used.iter().position(|u| u.2 == sheet[p]).unwrap_or(0);
    }
    Split { sheet_of, sheets: used.len().max(1) }
}
