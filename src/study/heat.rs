//! How hot a conductor gets.
//!
//! First order in time, after the allowable-current table's own meaning: Iz₃₀ is the current that
//! settles a conductor in 30 °C air at its insulation's rating, so that a current I settles at
//! Ta + (Tr − 30)(I/Iz₃₀)², with τ = 3.45 S (Tr − 30)/(Iz₃₀² R′) (S in mm², R′ in Ω/m at Tr; 3.45
//! J/(cm³ K) is copper's heat capacity by volume, IEC 60949).

use crate::circuit::wire::conductor_metal;
use crate::circuit::{Circuit, Run};
use crate::handbook::{conductors, heat};
use crate::quantity::{Current, Duration, Temperature, TemperatureRise};

/// Air temperature to which the allowable-current table belongs (33 CFR 183.425 Table 5).
const TABLE_AIR_C: f64 = 30.0;

/// By run: the hottest air it passes through.
pub fn ambients(circuit: &Circuit) -> Vec<Temperature> {
    circuit.runs.iter().map(|run| ambient(circuit, run)).collect()
}

/// The hottest air a run passes through.
pub fn ambient(circuit: &Circuit, run: &Run) -> Temperature {
    run.laid.iter().map(|(z, _)| circuit.zone(*z).ambient).fold(circuit.zone(run.hottest).ambient, Temperature::max)
}

/// How a run settles, looked up once for those who ask often.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settling {
    air: Temperature,
    span: f64,
    iz30: Current,
}

impl Settling {
    /// Of a run. `None` when no table has its size.
    ///
    /// The air is that in which the run may carry least: where the printed engine-space factor asks for
    /// more than the zone's own temperature does, the air is as hot as that factor says.
    pub fn of(circuit: &Circuit, run: &Run) -> Option<Settling> {
        let (iz30, iz) = (run.iz30?, run.iz?);
        let span = run.rated.in_celsius() - TABLE_AIR_C;
        if span <= 0.0 || iz30 <= Current::zero() {
            return None;
        }
        let by_factor = Temperature::celsius(run.rated.in_celsius() - span * (iz / iz30).powi(2));
        Some(Settling { air: ambient(circuit, run).max(by_factor), span, iz30 })
    }

    /// Where a current that goes on for good brings it.
    pub fn at(&self, current: Current) -> Temperature {
        self.air + TemperatureRise::kelvins(self.span * (current / self.iz30).powi(2))
    }
}

/// Where a current that goes on for good brings a run. `None` when no table has the size.
pub fn settled(circuit: &Circuit, run: &Run, current: Current) -> Option<Temperature> {
    Some(Settling::of(circuit, run)?.at(current))
}

/// The time constant of a run's warming. `None` when no table has the size.
pub fn time_constant(run: &Run) -> Option<Duration> {
    let iz30 = run.iz30?;
    let span = run.rated.in_celsius() - TABLE_AIR_C;
    let metal = conductor_metal(run.metal);
    let per_metre = (run.r20 / run.length.in_metres()).in_ohms() * conductors::resistance_factor(metal, run.rated);
    let tau = heat::heat_constant(metal) * run.section.in_mm2() * span / (iz30.in_amps().powi(2) * per_metre);
    (tau.is_finite() && tau > 0.0).then(|| Duration::seconds(tau))
}

/// Where a run is at the end of a state that would settle it at `settled`, from `base`, lasting
/// `lasts` (or for good) and repeated each `every`.
///
/// Repeated, it cools towards `base` between: its peak rises above the single pulse's by
/// 1/(1 − e^(−every/τ)).
pub fn reached(
    run: &Run,
    base: Temperature,
    settled: Temperature,
    lasts: Option<Duration>,
    every: Option<Duration>,
) -> Temperature {
    let (Some(lasts), Some(tau)) = (lasts, time_constant(run)) else { return settled.max(base) };
    if settled <= base {
        return base;
    }
    let pulse = -(-(lasts / tau)).exp_m1();
    let share = match every {
        Some(every) if every > lasts => pulse / -(-(every / tau)).exp_m1(),
        Some(_) => 1.0,
        None => pulse,
    };
    base + (settled - base) * share.min(1.0)
}
