//! Edits of a circuit: what a trial changes before it studies the circuit again.

use crate::circuit::wire::{Conductor, hottest};
use crate::circuit::{Activity, Circuit, Kind, PartId, RunId, StateId};
use crate::quantity::{CableSize, Current, Resistance};
use crate::study::{Joints, Solution, joint_resistance};

/// A run longer or shorter by a factor: every stretch of it, its conductor's resistance, and what was
/// measured of it.
pub fn stretched(circuit: &Circuit, run: RunId, factor: f64) -> Circuit {
    let mut changed = circuit.clone();
    let r = &mut changed.runs[run.0];
    r.length = r.length * factor;
    for (_, length) in &mut r.laid {
        *length = *length * factor;
    }
    r.r20 = r.r20 * factor;
    r.measured = r.measured.map(|m| m * factor);
    changed
}

/// A run of another size. What was measured of the old one no longer holds.
pub fn resized(circuit: &Circuit, run: RunId, size: CableSize) -> Circuit {
    let mut changed = circuit.clone();
    let zones = changed.zones.clone();
    let r = &mut changed.runs[run.0];
    let conductor = Conductor::of(size, None, r.metal, r.rated);
    let (hottest, factor) = hottest(&zones, &r.laid, r.rated);
    r.size = size;
    r.section = conductor.section;
    r.r20 = conductor.per_metre * r.length.in_metres();
    r.iz30 = conductor.iz30;
    r.iz = conductor.iz30.map(|i| i * factor);
    r.hottest = hottest;
    r.measured = None;
    changed
}

/// Loads taking more by a factor, in every state.
pub fn loaded(circuit: &Circuit, parts: &[PartId], factor: f64) -> Circuit {
    let mut changed = circuit.clone();
    for state in &mut changed.states {
        for part in parts {
            state.parts[part.0] = match state.parts[part.0] {
                Activity::Takes(i) => Activity::Takes(i * factor),
                Activity::Power(p) => Activity::Power(p * factor),
                same => same,
            };
        }
    }
    for part in parts {
        if let crate::circuit::Kind::Starter(s) = &mut changed.parts[part.0].kind {
            s.cranking.0 = s.cranking.0 * factor;
        }
    }
    changed
}

/// What may have gone bad on the way of a current.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Suspect {
    /// A run: its conductor, or one of its two joints.
    Run(RunId),
    /// A fuse, breaker, isolator, relay or connector: its contacts, its holder, its own studs.
    Device(PartId),
    /// The joint by which a part is bolted to the metal that is its return, by its place in [`Circuit::bolts`].
    Bolt(usize),
}

impl Suspect {
    /// What flows through it.
    pub fn current(self, solution: &Solution) -> Current {
        match self {
            Suspect::Run(run) => solution.run(run),
            Suspect::Device(part) => solution.part(part),
            Suspect::Bolt(bolt) => solution.bolt(bolt),
        }
    }
}

/// Something put in series with a suspect: a corroded joint, broken strands, a burnt contact.
pub fn degraded(circuit: &Circuit, suspect: Suspect, added: Resistance) -> Circuit {
    let mut changed = circuit.clone();
    match suspect {
        Suspect::Run(run) => {
            let r = &mut changed.runs[run.0];
            match &mut r.measured {
                Some(measured) => *measured = *measured + added,
                None => r.r20 = r.r20 + added,
            }
        }
        Suspect::Device(part) => match &mut changed.parts[part.0].kind {
            Kind::Protector(device) => device.resistance = device.resistance + added,
            Kind::Switch(switch) => switch.resistance = switch.resistance + added,
            _ => {}
        },
        Suspect::Bolt(bolt) => {
            let joint = &mut changed.bolts[bolt].resistance;
            *joint = Some(joint.unwrap_or_else(|| joint_resistance(Joints::Best)) + added);
        }
    }
    changed
}

/// Whether a part does anything in a state.
pub fn is_on(circuit: &Circuit, state: StateId, part: PartId) -> bool {
    circuit.states[state.0].parts[part.0] != Activity::Idle
}
