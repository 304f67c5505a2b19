//! The fault finder: each joint, run, strap and return degraded in turn, and the pattern of readings
//! that it leaves, so that a page can say which culprit fits a symptom and which reading tells two
//! culprits apart.

use std::collections::BTreeSet;

use super::change;
use crate::circuit::{Circuit, Kind, NodeId, PartId, Polarity, RunId, StateId};
use crate::quantity::{Resistance, Voltage};
use crate::study::{Joints, Solution, Study, Warmth, solve_plain};

/// What a corroded joint or a chewed cable adds; our judgement (a joint is modelled at 0.05 to 0.2 mΩ,
/// and one over 2.5 mΩ is flagged by AC 43.13-1B 11-188).
pub const DEGRADED_MOHM: f64 = 10.0;
/// A reading that moves by less is not told from what it was.
pub const TOLD_V: f64 = 0.05;

/// What a reader notices.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Symptom {
    /// The starter turns slowly.
    SlowCranking(PartId),
    /// A load gets too little: dim lights, equipment that cuts out.
    WeakLoad(PartId),
    /// A battery never fills.
    NeverFills(PartId),
}

/// One thing that may have gone wrong.
#[derive(Clone, Debug, PartialEq)]
pub struct Culprit {
    /// The run whose joints or conductor are bad.
    pub run: RunId,
    /// What it does, the strongest first, with the volts that are then missing.
    pub symptoms: Vec<(Symptom, StateId, Voltage)>,
    /// The reading that shows it: across the run itself, in the state in which it shows most.
    pub shows: Option<Reading>,
}

/// A reading across two terminals.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// In which state.
    pub state: StateId,
    /// Red probe.
    pub high: NodeId,
    /// Black probe.
    pub low: NodeId,
    /// With everything well.
    pub well: Voltage,
    /// With this culprit.
    pub ill: Voltage,
}

/// Degrades every run in turn.
pub fn culprits(circuit: &Circuit, study: &Study) -> Vec<Culprit> {
    let well: Vec<Option<Solution>> = (0..circuit.states.len())
        .map(|s| {
            let state = study.state(StateId(s));
            let charge = state.main_charge();
            state.at(Warmth::Cool, Joints::Best, charge).next()?.solution.clone().ok()
        })
        .collect();
    (0..circuit.runs.len()).map(RunId).map(|run| culprit(circuit, run, &well)).collect()
}

fn culprit(circuit: &Circuit, run: RunId, well: &[Option<Solution>]) -> Culprit {
    let changed = change::degraded_run(circuit, run, Resistance::milliohms(DEGRADED_MOHM));
    let mut symptoms: Vec<(Symptom, StateId, Voltage)> = Vec::new();
    let mut shows: Option<Reading> = None;
    for (s, well) in well.iter().enumerate() {
        let state = StateId(s);
        let (Some(well), Ok(ill)) = (well, solve_plain(&changed, state)) else { continue };
        for (symptom, positive, negative) in watched(circuit, state) {
            let missing = well.between(positive, negative) - ill.between(positive, negative);
            if missing.in_volts() >= TOLD_V && !symptoms.iter().any(|(s, _, v)| *s == symptom && *v >= missing) {
                symptoms.retain(|(s, ..)| *s != symptom);
                symptoms.push((symptom, state, missing));
            }
        }
        let ends = circuit.run(run);
        let (a, b) = (ends.from, ends.to);
        let (high, low) = if ill.between(a, b) >= Voltage::zero() { (a, b) } else { (b, a) };
        let reading = Reading { state, high, low, well: well.between(high, low), ill: ill.between(high, low) };
        let tells = |r: &Reading| (r.ill - r.well).in_volts();
        if tells(&reading) >= TOLD_V && shows.as_ref().is_none_or(|best| tells(&reading) > tells(best)) {
            shows = Some(reading);
        }
    }
    symptoms.sort_by(|a, b| b.2.si().total_cmp(&a.2.si()).then(a.0.cmp(&b.0)));
    Culprit { run, symptoms, shows }
}

/// What a reader would notice in a state, and across which terminals.
fn watched(circuit: &Circuit, state: StateId) -> Vec<(Symptom, NodeId, NodeId)> {
    use crate::circuit::Activity as A;
    let fed = circuit.batteries_beside_running_sources(state);
    let mut watched = Vec::new();
    for (i, part) in circuit.parts.iter().enumerate() {
        let id = PartId(i);
        match (&part.kind, circuit.states[state.0].parts[i]) {
            (Kind::Starter(s), A::Cranking) => watched.push((Symptom::SlowCranking(id), s.positive, s.negative)),
            (Kind::Load(l), A::Takes(_) | A::Power(_)) => watched.push((Symptom::WeakLoad(id), l.positive, l.negative)),
            (Kind::Battery(b), _) if fed.contains(&id) => {
                watched.push((Symptom::NeverFills(id), b.positive, b.negative))
            }
            _ => {}
        }
    }
    watched.retain(|(_, a, b)| {
        circuit.node(*a).polarity == Polarity::Positive && circuit.node(*b).polarity == Polarity::Negative
    });
    watched
}

/// Of a symptom's culprits no more are told than anyone would work through.
pub const MOST_TOLD: usize = 8;

/// Every symptom that some culprit causes, in order.
pub fn symptoms(culprits: &[Culprit]) -> Vec<Symptom> {
    let all: BTreeSet<Symptom> = culprits.iter().flat_map(|c| c.symptoms.iter().map(|(s, ..)| *s)).collect();
    all.into_iter().collect()
}

/// Culprits that fit a symptom, the likeliest (that does most) first.
pub fn fitting(culprits: &[Culprit], symptom: Symptom) -> Vec<(&Culprit, StateId, Voltage)> {
    let mut fit: Vec<(&Culprit, StateId, Voltage)> = culprits
        .iter()
        .filter_map(|c| c.symptoms.iter().find(|(s, ..)| *s == symptom).map(|(_, state, v)| (c, *state, *v)))
        .collect();
    fit.sort_by(|a, b| b.2.si().total_cmp(&a.2.si()).then(a.0.run.cmp(&b.0.run)));
    fit
}
