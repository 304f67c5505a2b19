//! The fault finder: each run, strap and return with its joints, each fuse, breaker and switch, and each part's own bolt to
//! the metal degraded in turn, and the pattern of readings that it leaves, so that a page can say which culprit fits a symptom and which reading tells two
//! culprits apart.

use std::collections::BTreeSet;

use super::change::{self, Suspect};
use crate::circuit::{Activity, Circuit, Kind, NodeId, PartId, Polarity, RunId, StateId};
use crate::handbook::conductors::PREDICTION_BAND;
use crate::handbook::limits;
use crate::quantity::{Current, Resistance, Voltage};
use crate::study::{Joints, Solution, Study, Warmth, solve_plain};

/// What a corroded joint or a chewed cable adds; our judgement (a joint is modelled at 0.05 to 0.2 mΩ,
/// and one over 2.5 mΩ is flagged by AC 43.13-1B 11-188).
pub const DEGRADED_MOHM: f64 = 10.0;
/// A reading that moves by less is not told from what it was.
pub const TOLD_V: f64 = 0.05;
/// A culprit that takes less than this is no answer to a symptom unless it takes [`LEAST_SHARE`] of what the
/// likeliest takes: another path carries the current past it, and nobody would notice. Our judgement.
const LEAST_NOTICED_V: f64 = 0.1;
/// See [`LEAST_NOTICED_V`].
const LEAST_SHARE: f64 = 0.5;

/// A good device may drop this share of what its kind may drop at most; our judgement.
const LEAST_OF_DEVICE: f64 = 0.5;
/// A bad run that still carries this share of its current is not passed by; our judgement.
const NOT_PASSED: f64 = 0.8;

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
    /// What is bad.
    pub suspect: Suspect,
    /// What it does, the strongest first, with the volts that are then missing.
    pub symptoms: Vec<(Symptom, StateId, Voltage)>,
    /// How far along the way from plus to minus it is: the volts left at its first terminal with everything well, in the
    /// state of its strongest symptom.
    pub along: Voltage,
    /// The readings that show it: across the suspect itself, in each state in which it shows.
    pub readings: Vec<Reading>,
}

impl Culprit {
    /// The reading to take for a symptom. A slow starter is read while it cranks, a battery that never fills while it
    /// is filled; what is weak with nothing cranking and, if that can be, with no source running, for then the current
    /// is set by what is on and not by how full a battery is, and without haste. Of several, the one that tells most.
    pub fn shows(&self, circuit: &Circuit, symptom: Symptom) -> Option<&Reading> {
        let fits = |r: &Reading| {
            let state = &circuit.states[r.state.0];
            let charges = state.parts.contains(&Activity::Running);
            match symptom {
                Symptom::SlowCranking(_) => (state.cranks(), true, true),
                Symptom::NeverFills(_) => (charges, true, true),
                Symptom::WeakLoad(_) => (!state.cranks(), !charges, state.lasts.is_none()),
            }
        };
        self.readings.iter().max_by(|a, b| fits(a).cmp(&fits(b)).then(a.tells().total_cmp(&b.tells())))
    }
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
    /// The current through it with everything well, for which `well_at_most` holds.
    pub current: Current,
    /// The current through it with this culprit: less, where another path carries it past.
    pub ill_current: Current,
    /// The highest reading of a good one: its joints at their worst, its conductor hot.
    pub well_at_most: Voltage,
    /// The lowest reading of a bad one at its own current: its own joints at their best, better cable than its
    /// standard's maximum.
    pub ill_at_least: Voltage,
    /// What the whole way of a starter's current may lose, of which this is a part; at its current.
    pub limit: Option<Voltage>,
}

impl Reading {
    /// Whether a bad one is shown by the clamp too: another path then carries a good part of its current past it.
    pub fn is_passed_by(&self) -> bool {
        self.ill_current < self.current * NOT_PASSED
    }

    /// By how many volts it moves.
    fn tells(&self) -> f64 {
        (self.ill - self.well).in_volts()
    }

    /// From this reading on it is this culprit: as any span is bad from there, given the highest reading of a good one;
    /// or half way to the lowest bad one, or at the limit of the whole way, if that is less. `None` where good and bad
    /// lie too near to be told apart.
    pub fn bad_from(&self) -> Option<Voltage> {
        let half_way = (self.well_at_most + self.ill_at_least) * 0.5;
        let from = limits::bad_from(self.well_at_most).value.min(half_way);
        (self.ill_at_least - self.well_at_most >= Voltage::volts(limits::TOLD_APART_V))
            .then(|| self.limit.map_or(from, |limit| from.min(limit)))
    }

    /// The highest reading of a good one that is under the one from which it is bad.
    pub fn good_to(&self) -> Voltage {
        self.bad_from().map_or(self.well_at_most, |from| self.well_at_most.min(from))
    }
}

/// Where a suspect is read and what flows through it, from the first terminal to the second.
struct Across {
    ends: (NodeId, NodeId),
    polarity: Polarity,
    /// The least that a good one may have of what was reckoned with, as a share.
    least: f64,
}

impl Across {
    /// `None` of a part that is no device.
    fn of(circuit: &Circuit, suspect: Suspect) -> Option<Across> {
        let (ends, polarity, least) = match suspect {
            Suspect::Run(run) => {
                let run = circuit.run(run);
                ((run.from, run.to), run.polarity, PREDICTION_BAND.0)
            }
            Suspect::Device(part) => {
                let ends = circuit.part(part).through()?;
                (ends, circuit.node(ends.0).polarity, LEAST_OF_DEVICE)
            }
            Suspect::Bolt(bolt) => {
                let bolt = &circuit.bolts[bolt];
                ((bolt.from, bolt.to), circuit.node(bolt.from).polarity, PREDICTION_BAND.0)
            }
        };
        Some(Across { ends, polarity, least })
    }
}

/// Degrades every suspect in turn.
pub fn culprits(circuit: &Circuit, study: &Study) -> Vec<Culprit> {
    let well: Vec<Option<Solution>> = (0..circuit.states.len())
        .map(|s| {
            let state = study.state(StateId(s));
            let charge = state.main_charge();
            state.at(Warmth::Cool, Joints::Best, charge).next()?.solution.clone().ok()
        })
        .collect();
    let runs = (0..circuit.runs.len()).map(RunId).map(Suspect::Run);
    let devices = (0..circuit.parts.len()).map(PartId).map(Suspect::Device);
    let bolts = (0..circuit.bolts.len()).map(Suspect::Bolt);
    let all = runs.chain(devices).chain(bolts);
    all.filter_map(|suspect| Some(culprit(circuit, study, suspect, &Across::of(circuit, suspect)?, &well))).collect()
}

fn culprit(circuit: &Circuit, study: &Study, suspect: Suspect, across: &Across, well: &[Option<Solution>]) -> Culprit {
    let changed = change::degraded(circuit, suspect, Resistance::milliohms(DEGRADED_MOHM));
    let mut symptoms: Vec<(Symptom, StateId, Voltage)> = Vec::new();
    let mut readings = Vec::new();
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
        readings.extend(reading(circuit, study, suspect, across, state, well, &ill));
    }
    symptoms.sort_by(|a, b| b.2.si().total_cmp(&a.2.si()).then(a.0.cmp(&b.0)));
    let ends = across.ends;
    let minus = circuit.batteries().next().map_or(ends.1, |(_, battery)| battery.negative);
    let left = |at: &Solution| at.between(ends.0, minus).max(at.between(ends.1, minus));
    let strongest = symptoms.first().and_then(|(_, state, _)| well[state.0].as_ref());
    let along = strongest.map_or(Voltage::zero(), left);
    Culprit { suspect, symptoms, along, readings }
}

/// The reading across a suspect in a state; `None` where it hardly moves.
fn reading(
    circuit: &Circuit,
    study: &Study,
    suspect: Suspect,
    across: &Across,
    state: StateId,
    well: &Solution,
    ill: &Solution,
) -> Option<Reading> {
    let (a, b) = across.ends;
    let through = |s: &Solution| suspect.current(s).abs();
    let (high, low) = if ill.between(a, b) >= Voltage::zero() { (a, b) } else { (b, a) };
    let (well_reads, ill_reads) = (well.between(high, low), ill.between(high, low));
    if (ill_reads - well_reads).in_volts() < TOLD_V {
        return None;
    }
    // What a good one reads is compared with what a bad one reads, each at the current that it then carries: a bad one
    // beside another path carries less, and whoever holds a good one to that current calls it bad.
    let (well_current, ill_current) = (through(well), through(ill));
    let across_it = |s: &Solution| (s.between(a, b).abs().in_volts(), through(s).in_amps());
    let ohms = |s: &Solution| {
        let (volts, amps) = across_it(s);
        (amps > 1e-3).then(|| volts / amps)
    };
    let solved = || study.state(state).cases.iter().filter_map(|c| Some((c.corner.charge, c.solution.as_ref().ok()?)));
    let (least, most) = solved()
        .filter_map(|(_, solution)| ohms(solution))
        .fold((f64::INFINITY, 0.0_f64), |(low, high), r| (low.min(r), high.max(r)));
    // Worn joints elsewhere may send more through this one; how much a battery takes is left to the clamp.
    let main = study.state(state).main_charge();
    let sent =
        solved().filter(|(charge, _)| *charge == main).map(|(_, solution)| across_it(solution).0).fold(0.0, f64::max);
    let well_at_most = Voltage::volts((most * well_current.in_amps()).max(sent));
    let limit = circuit.states[state.0].cranks().then(|| {
        let system = circuit.nominal;
        let good = limits::starting_return_good(system).value;
        match across.polarity {
            Polarity::Positive => limits::starting_feed(system).value,
            // What is within good practice is held to it.
            _ if well_at_most < good => good,
            _ => limits::starting_return(system).value,
        }
    });
    least.is_finite().then(|| Reading {
        state,
        high,
        low,
        well: well_reads,
        ill: ill_reads,
        current: well_current,
        ill_current,
        well_at_most,
        ill_at_least: Voltage::volts((least * across.least + DEGRADED_MOHM / 1000.0) * ill_current.in_amps()),
        limit,
    })
}

/// What a reader would notice in a state, and across which terminals.
fn watched(circuit: &Circuit, state: StateId) -> Vec<(Symptom, NodeId, NodeId)> {
    use Activity as A;
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
pub const MOST_TOLD: usize = 10;

/// Every symptom that some culprit causes, in order.
pub fn symptoms(culprits: &[Culprit]) -> Vec<Symptom> {
    let all: BTreeSet<Symptom> = culprits.iter().flat_map(|c| c.symptoms.iter().map(|(s, ..)| *s)).collect();
    all.into_iter().collect()
}

/// Culprits that fit a symptom, the likeliest first: the one that takes most volts away when it goes bad; of several
/// on one way, in the order in which the current meets them.
/// Those that take hardly any beside it are left out.
pub fn fitting(culprits: &[Culprit], symptom: Symptom) -> Vec<(&Culprit, StateId, Voltage)> {
    let mut fit: Vec<(&Culprit, StateId, Voltage)> = culprits
        .iter()
        .filter_map(|c| c.symptoms.iter().find(|(s, ..)| *s == symptom).map(|(_, state, v)| (c, *state, *v)))
        .collect();
    let most = fit.iter().map(|(_, _, v)| v.si()).fold(0.0, f64::max);
    // What lies on one way takes the same, but for rounding and a little current that goes elsewhere.
    let tenths = |volts: Voltage| (10.0 * volts.si() / most).round();
    fit.sort_by(|a, b| {
        let strongest = tenths(b.2).total_cmp(&tenths(a.2));
        strongest.then(b.0.along.si().total_cmp(&a.0.along.si())).then(a.0.suspect.cmp(&b.0.suspect))
    });
    fit.retain(|(_, _, v)| v.si() >= (LEAST_SHARE * most).min(LEAST_NOTICED_V));
    fit
}
