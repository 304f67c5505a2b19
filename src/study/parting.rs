//! What can part a running alternator from every battery.
//!
//! Knows no voltages: it takes one device, switch or protection board away at a time and looks
//! whether the alternator's two terminals are still joined to the two posts of some battery.

use petgraph::unionfind::UnionFind;

use crate::circuit::{Circuit, Kind, PartId};
use crate::guide::Chemistry;

/// What parts an alternator from its batteries.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// A breaker or fuse, on a fault.
    Device(PartId),
    /// An isolator, relay or connector, by hand or by its coil.
    Switch(PartId),
    /// The protection board of a lithium battery, by itself; with it those of every other one on the same alternator,
    /// since what opens one opens them all.
    Board(PartId),
}

/// An alternator and something that leaves it without a battery.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Parting {
    /// Which alternator.
    pub alternator: PartId,
    /// What parts it.
    pub by: By,
}

/// Everything that leaves an alternator without a battery, by alternator, then by part.
pub fn partings(circuit: &Circuit) -> Vec<Parting> {
    let mut found = Vec::new();
    let alternators: Vec<_> = circuit
        .parts
        .iter()
        .enumerate()
        .filter_map(|(i, p)| match &p.kind {
            Kind::Alternator(a) => Some((PartId(i), (a.positive.0, a.negative.0))),
            _ => None,
        })
        .collect();
    if alternators.is_empty() {
        return found;
    }
    let whole = joined(circuit, None);
    for (alternator, ends) in alternators {
        let on = |joined: &UnionFind<usize>| -> Vec<PartId> {
            circuit
                .batteries()
                .filter(|(_, b)| joined.equiv(ends.0, b.positive.0) && joined.equiv(ends.1, b.negative.0))
                .map(|(id, _)| id)
                .collect()
        };
        let batteries = on(&whole);
        if batteries.is_empty() {
            continue;
        }
        for (i, part) in circuit.parts.iter().enumerate() {
            let id = PartId(i);
            let by = match &part.kind {
                Kind::Protector(_) => By::Device(id),
                Kind::Switch(_) => By::Switch(id),
                _ => continue,
            };
            if on(&joined(circuit, Some(id))).is_empty() {
                found.push(Parting { alternator, by });
            }
        }
        let lithium =
            |id: &PartId| matches!(&circuit.part(*id).kind, Kind::Battery(b) if b.chemistry == Chemistry::Lfp);
        if batteries.iter().all(lithium) {
            found.extend(batteries.iter().map(|id| Parting { alternator, by: By::Board(*id) }));
        }
    }
    found
}

/// Nodes that conductors join, with one part open.
fn joined(circuit: &Circuit, open: Option<PartId>) -> UnionFind<usize> {
    let mut groups = circuit.joined(|id| open != Some(id));
    for bolt in &circuit.bolts {
        groups.union(bolt.from.0, bolt.to.0);
    }
    for segment in &circuit.body {
        groups.union(segment.from.0, segment.to.0);
    }
    groups
}
