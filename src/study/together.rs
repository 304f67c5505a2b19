//! Every load that runs for long, on at once: the case in which a feed is worked hardest for good.
//!
//! Authors write states as their days go, and no state of theirs need have everything on. Boat
//! rules judge a drop with all loads on (ISO 10133), so this one is always solved beside theirs.

use super::{Case, Corner, Joints, Warmth, body_ends, solve_case};
use crate::circuit::{Activity, Circuit, Kind, State, StateId};
use crate::quantity::{Current, Power};
use crate::study::{Charge, heat};

/// The circuit with every continuous load on, each at the most that any state asks of it.
#[derive(Clone, Debug)]
pub struct Together {
    /// By [`crate::circuit::PartId`]: what each part does.
    pub parts: Vec<Activity>,
    /// Conductors at their own temperature, both ends of the joints and of the body's band.
    pub cases: Vec<Case>,
}

impl Together {
    /// Cases with these joints, over the ends of the body's band.
    pub fn at(&self, joints: Joints) -> impl Iterator<Item = &Case> {
        self.cases.iter().filter(move |c| c.corner.joints == joints)
    }
}

/// Solves it. Sources but batteries stand still, starters too, intermittent loads are off, and every
/// device is closed. `None` when nothing runs for long, or nothing but the engine would feed it.
pub fn together(circuit: &Circuit) -> Option<Together> {
    circuit.batteries().next()?;
    let mut parts = vec![Activity::Idle; circuit.parts.len()];
    let mut any = false;
    for (i, part) in circuit.parts.iter().enumerate() {
        let Kind::Load(load) = &part.kind else { continue };
        if load.intermittent {
            continue;
        }
        let asked = circuit.states.iter().map(|s| s.parts[i]).filter(|doing| amps(circuit, *doing) > Current::zero());
        if let Some(most) = asked.max_by(|a, b| amps(circuit, *a).si().total_cmp(&amps(circuit, *b).si())) {
            parts[i] = most;
            any = true;
        }
    }
    if !any {
        return None;
    }
    let mut with_all = circuit.clone();
    let id = StateId(with_all.states.len());
    with_all.states.push(State {
        name: String::new(),
        label: String::new(),
        lasts: None,
        every: None,
        parts: parts.clone(),
    });
    let base = heat::ambients(&with_all);
    let mut cases = Vec::new();
    for joints in [Joints::Best, Joints::Worst] {
        for &body in body_ends(&with_all) {
            let corner = Corner { warmth: Warmth::Running, joints, body, charge: Charge::None };
            cases.push(solve_case(&with_all, id, corner, &base));
        }
    }
    Some(Together { parts, cases })
}

/// What a load asks, as a current at nominal voltage.
fn amps(circuit: &Circuit, doing: Activity) -> Current {
    match doing {
        Activity::Takes(current) => current,
        Activity::Power(watts) if watts > Power::zero() => watts / circuit.nominal,
        _ => Current::zero(),
    }
}
