//! How long a battery lasts and how long it takes to fill.
//!
//! Capacities are taken as printed (they hold for a discharge over many hours; a large current gets
//! less), and what a battery loses by itself is left out: every figure here is a best one.

use super::{Charge, Solution, StateStudy, Study, Warmth, cell_kind, cranking_resistance};
use crate::circuit::{Activity, Battery, Circuit, Kind, PartId, StateId};
use crate::guide::Chemistry;
use crate::handbook::battery::{self, ChargeState};
use crate::quantity::{Current, Duration, Ratio, Resistance, Temperature, Voltage};

/// Under this share of its charge nobody counts on a start, whatever the numbers say: our judgement.
pub const NO_START_BELOW: f64 = 0.25;
/// From this share on, a lead-acid battery takes no more than [`super::TAIL_CHARGE_OF_CAPACITY`]: our judgement.
const TAIL_FROM: f64 = 0.8;
/// Under this current a battery neither gives nor takes.
const STILL_A: f64 = 1e-6;

/// One battery in one state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Endurance {
    /// Which.
    pub battery: PartId,
    /// What it gives, on the corner where it gives most; negative when it is being filled, then on
    /// the corner where it takes least.
    pub gives: Current,
    /// From full to half charge, when it gives.
    pub to_half: Option<Duration>,
    /// From full until a start cannot be counted on, when it gives in a state that goes on for good
    /// with no source running, and it has a starter to crank.
    pub to_no_start: Option<Duration>,
    /// From half charge to full, when it is being filled. At least: the last fifth of a lead-acid
    /// battery takes no more than a tenth of its capacity in an hour.
    pub to_full: Option<Duration>,
}

/// Every battery in a state, in the author's order. Empty when the state has no operating point.
/// Under `starter_least` at its terminals a cranking starter is not counted on.
pub fn of(circuit: &Circuit, study: &Study, id: StateId, starter_least: Voltage) -> Vec<Endurance> {
    let Some(state_study) = study.states.get(id.0) else { return Vec::new() };
    let state = &circuit.states[id.0];
    let charge = state_study.main_charge();
    let solved: Vec<&Solution> = state_study
        .cases
        .iter()
        .filter(|c| c.corner.warmth == Warmth::Running && c.corner.charge == charge)
        .filter_map(|c| c.solution.as_ref().ok())
        .collect();
    circuit
        .batteries()
        .filter_map(|(part, b)| {
            let gives = solved.iter().map(|s| s.part(part)).reduce(Current::max)?;
            let mut found = Endurance { battery: part, gives, to_half: None, to_no_start: None, to_full: None };
            if gives.in_amps() > STILL_A {
                found.to_half = Some(b.capacity * 0.5 / gives);
                if charge == Charge::None && state.is_continuous() && !state.cranks() {
                    let left = no_start_charge(circuit, study, part, b, starter_least);
                    found.to_no_start = left.map(|left| b.capacity * (1.0 - left.in_ones()) / gives);
                }
            } else if gives.in_amps() < -STILL_A {
                found.to_full = Some(fill(b, -gives));
            }
            Some(found)
        })
        .collect()
}

fn fill(b: &Battery, current: Current) -> Duration {
    match b.chemistry {
        Chemistry::Lfp => b.capacity * 0.5 / current,
        Chemistry::Flooded | Chemistry::Agm | Chemistry::Gel => {
            let tail = current.min(Current::amps(super::TAIL_CHARGE_OF_CAPACITY * b.capacity.in_amp_hours()));
            b.capacity * (TAIL_FROM - 0.5) / current + b.capacity * (1.0 - TAIL_FROM) / tail
        }
    }
}

/// The share of its charge at which a battery no longer holds a cranking starter at `least`, at the author's
/// coldest start where there is one; never under [`NO_START_BELOW`]. `None` when the battery cranks nothing.
///
/// As it empties its voltage falls from 12.6 V through 12.2 V at half to 11.6 V (`open-circuit-lead`), and its
/// resistance grows from the full figure to 1.5 times that at half and twice at nothing (our judgement).
pub fn no_start_charge(
    circuit: &Circuit,
    study: &Study,
    battery: PartId,
    b: &Battery,
    least: Voltage,
) -> Option<Ratio> {
    let mut worst: Option<f64> = None;
    for state in study.states.iter() {
        for (starter, part) in circuit.parts.iter().enumerate() {
            let Kind::Starter(s) = &part.kind else { continue };
            if circuit.states[state.state.0].parts[starter] != Activity::Cranking {
                continue;
            }
            let Some((across, gives, resistance)) = cranked(circuit, state, battery, b, s) else { continue };
            let holds = |left: f64| across - fallen(b, left) - gives * (resistance * (1.0 - left)) >= least;
            // From empty up, to a hundredth: a curve so soft needs no finer step.
            let left = (0..=100).map(|i| f64::from(i) / 100.0).find(|left| holds(*left)).unwrap_or(1.0);
            let left = left.max(NO_START_BELOW);
            worst = Some(worst.map_or(left, |w: f64| w.max(left)));
        }
    }
    worst.map(Ratio::of)
}

/// A starter's voltage on a full battery, what the battery gives it, and the battery's full resistance.
fn cranked(
    circuit: &Circuit,
    state: &StateStudy,
    battery: PartId,
    b: &Battery,
    s: &crate::circuit::Starter,
) -> Option<(Voltage, Current, Resistance)> {
    let (warmth, at) = match circuit.coldest {
        Some(coldest) => (Warmth::Cold, coldest),
        None => (Warmth::Cool, Temperature::celsius(20.0)),
    };
    let charge = state.main_charge();
    state
        .cases
        .iter()
        .filter(|c| c.corner.warmth == warmth && c.corner.charge == charge)
        .filter_map(|c| c.solution.as_ref().ok())
        .map(|solved| (solved.between(s.positive, s.negative), solved.part(battery)))
        .filter(|(_, gives)| gives.in_amps() > STILL_A)
        .min_by(|a, b| a.0.si().total_cmp(&b.0.si()))
        .map(|(across, gives)| (across, gives, cranking_resistance(b, at)))
}

/// How far a battery's open-circuit voltage has fallen from full.
fn fallen(b: &Battery, left: f64) -> Voltage {
    let kind = cell_kind(b.chemistry);
    let (full, half) = (battery::open_circuit(kind, ChargeState::Full), battery::open_circuit(kind, ChargeState::Half));
    let upper = full - half;
    // Lead-acid falls faster in its lower half: 12.2 V to 11.6 V. Lithium's cliff at the end lies below what is counted on.
    let lower = match b.chemistry {
        Chemistry::Lfp => upper,
        Chemistry::Flooded | Chemistry::Agm | Chemistry::Gel => Voltage::volts(0.6),
    };
    let of_one = if left >= 0.5 { upper * ((1.0 - left) / 0.5) } else { upper + lower * ((0.5 - left) / 0.5) };
    of_one * b.units
}
