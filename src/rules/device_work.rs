//! What devices carry at work: what the rules on their load and their opening share.

use super::Bench;
use crate::circuit::{Activity, Kind, PartId, State, StateId};
use crate::quantity::{Current, Duration, Temperature};
use crate::study::{Charge, StateStudy};

/// A state that lasts this long is continuous (NEC article 100, from memory: three hours or more).
pub(super) const CONTINUOUS_H: f64 = 3.0;

/// Whether a state lasts long enough to count as continuous.
pub(super) fn is_continuous(state: &State) -> bool {
    state.lasts.is_none_or(|lasts| lasts >= Duration::hours(CONTINUOUS_H))
}

/// The largest current of any corner through a device or switch.
pub(super) fn through(study: &StateStudy, part: PartId) -> Current {
    // The tail of charging is made up to judge its voltage; what flows is judged in bulk.
    let cases = study.cases.iter().filter(|c| c.corner.charge != Charge::Tail);
    let solved = cases.filter_map(|c| c.solution.as_ref().ok());
    let most = solved.map(|s| s.part(part).abs()).fold(Current::zero(), Current::max);
    // A solver leaves nanoamperes beside a load's round figure; they must not push it over a limit.
    Current::amps((most.in_amps() * 1e6).round() / 1e6)
}

/// Whether something that works by duty is on, so that the rules for continuous loads do not apply.
pub(super) fn by_duty(bench: &Bench<'_>, state: StateId) -> bool {
    let doing = &bench.circuit.states[state.0].parts;
    bench
        .circuit
        .parts
        .iter()
        .zip(doing)
        .any(|(p, doing)| *doing != Activity::Idle && matches!(&p.kind, Kind::Load(l) if l.intermittent))
}

/// The air around a part.
pub(super) fn air(bench: &Bench<'_>, part: PartId) -> Temperature {
    bench.circuit.part(part).zone.map_or(Temperature::celsius(20.0), |z| bench.circuit.zone(z).ambient)
}
