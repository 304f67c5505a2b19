//! Each return and strap taken away in turn: what then carries its current, and what is left without.
//!
//! Knows no limits and no words. A return that comes loose is the commonest fault of all, and it is
//! silent: the current finds another way home.

use super::faults::{Fault, Kept, Kindest};
use super::{BodyEnd, Charge, Corner, Joints, Solution, Warmth, heat};
use crate::circuit::{Activity, Circuit, PartId, Polarity, RunId, StateId};
use crate::quantity::{Current, Temperature};

/// What happens when one return or strap is gone.
#[derive(Clone, Debug, PartialEq)]
pub struct OpenReturn {
    /// Which.
    pub run: RunId,
    /// By state: the run that gets hottest over its rating on account of it, if one does.
    pub overheated: Vec<Overheated>,
    /// Parts that are on in some state and have no path left.
    pub stranded: Vec<(StateId, PartId)>,
    /// Bolted faults that are then no longer cleared, or spoil a conductor, and were not or did not before.
    pub faults: Vec<Fault>,
}

/// A run over its rating.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Overheated {
    /// In which state.
    pub state: StateId,
    /// Which run.
    pub run: RunId,
    /// Its current.
    pub current: Current,
    /// The temperature it reaches.
    pub reached: Temperature,
    /// Even at the better end of an unmeasured body.
    pub at_better_end: bool,
}

/// The circuit without one run. Its number is kept, so that the others keep theirs.
pub fn without(circuit: &Circuit, run: RunId) -> Circuit {
    let mut changed = circuit.clone();
    changed.runs[run.0].to = changed.runs[run.0].from;
    changed
}

/// Takes every return and strap away in turn. `start` is each run's hottest continuous temperature,
/// `before` the faults with everything in place.
///
/// Of a circuit that differs little from one that was studied, `kept` is what still holds of that one's open returns.
pub fn open_returns(
    circuit: &Circuit,
    start: &[Temperature],
    before: &[Fault],
    kept: Option<(&Kept<'_>, &[OpenReturn])>,
) -> Vec<OpenReturn> {
    let negative = |r: &usize| circuit.runs[*r].polarity == Polarity::Negative;
    let kindest = Kindest::of(circuit, start);
    let whole = Whole::of(circuit, start);
    (0..circuit.runs.len())
        .filter(negative)
        .map(|r| {
            let run = RunId(r);
            let kept = kept.and_then(|(k, all)| Some((k, all.iter().find(|o| o.run == run)?.faults.as_slice())));
            let faults = kindest.as_ref().map(|k| k.without(run, kept)).unwrap_or_default();
            open_return(circuit, run, start, before, faults, &whole)
        })
        .collect()
}

/// The circuit with every return in place: by state, each end of the body's band with its solution.
struct Whole {
    states: Vec<Vec<(Corner, Solution)>>,
}

impl Whole {
    fn of(circuit: &Circuit, start: &[Temperature]) -> Whole {
        let unmeasured = circuit.body.iter().any(|s| s.resistance.is_none());
        let bodies: &[BodyEnd] = if unmeasured { &[BodyEnd::Low, BodyEnd::High] } else { &[BodyEnd::Known] };
        let of_state = |id: StateId| {
            let runs_a_source = circuit.states[id.0].parts.contains(&Activity::Running);
            let charge = if runs_a_source { Charge::Bulk } else { Charge::None };
            let corners =
                bodies.iter().map(|body| Corner { warmth: Warmth::Running, joints: Joints::Best, body: *body, charge });
            corners.filter_map(|c| Some((c, super::solve(circuit, id, c, start, None).ok()?))).collect()
        };
        Whole { states: (0..circuit.states.len()).map(|s| of_state(StateId(s))).collect() }
    }
}

fn open_return(
    circuit: &Circuit,
    gone: RunId,
    start: &[Temperature],
    before: &[Fault],
    faults: Vec<Fault>,
    whole: &Whole,
) -> OpenReturn {
    let changed = without(circuit, gone);
    let mut overheated = Vec::new();
    let mut stranded = Vec::new();
    for (s, state) in circuit.states.iter().enumerate() {
        let id = StateId(s);
        // By body end: the run that goes furthest over its rating.
        let mut over: Vec<Option<Overheated>> = Vec::new();
        for (corner, whole) in &whole.states[s] {
            let Ok(solution) = super::solve(&changed, id, *corner, start, None) else { continue };
            for (p, _) in circuit.parts.iter().enumerate() {
                let id_and_part = (id, PartId(p));
                let asks = matches!(
                    state.parts[p],
                    Activity::Takes(_) | Activity::Power(_) | Activity::Cranking | Activity::Running
                );
                let had = whole.part(PartId(p)).abs() > Current::zero();
                let has = solution.part(PartId(p)).abs() > Current::zero();
                if asks && had && !has && !stranded.contains(&id_and_part) {
                    stranded.push(id_and_part);
                }
            }
            let mut worst: Option<Overheated> = None;
            for (r, run) in circuit.runs.iter().enumerate() {
                let current = solution.run(RunId(r)).abs();
                // Only what carries more than before is on account of the loose return.
                if r == gone.0 || current <= whole.run(RunId(r)).abs() {
                    continue;
                }
                let Some(settled) = heat::settled(circuit, run, current) else { continue };
                let reached = heat::reached(run, start[r], settled, state.lasts, state.every);
                if reached > run.rated && worst.is_none_or(|w| reached > w.reached) {
                    worst = Some(Overheated { state: id, run: RunId(r), current, reached, at_better_end: false });
                }
            }
            over.push(worst);
        }
        let everywhere = !over.is_empty() && over.iter().all(Option::is_some);
        let hottest = over.into_iter().flatten().max_by(|a, b| a.reached.si().total_cmp(&b.reached.si()));
        overheated.extend(hottest.map(|o| Overheated { at_better_end: everywhere, ..o }));
    }
    let bad = |f: &Fault| f.cleared.is_none() && !f.within_board_limit || f.stress.is_some_and(|s| s.share > 1.0);
    let faults = faults
        .into_iter()
        .filter(|f| {
            bad(f) && !before.iter().any(|b| b.corner == f.corner && b.site == f.site && b.to == f.to && bad(b))
        })
        .collect();
    OpenReturn { run: gone, overheated, stranded, faults }
}
