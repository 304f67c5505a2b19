//! What a conductor stands for a short time: the adiabatic equation t = k² S²/I² and its constants.

use super::conductors::{ConductorMetal, resistivity_20};
use crate::quantity::{Area, Current, Duration, Temperature};

/// What the adiabatic equation needs of a metal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Constants {
    /// Heat to warm a volume, J/(°C mm³).
    pub heat: f64,
    /// The reciprocal of the temperature coefficient at 0 °C, °C.
    pub beta: f64,
    /// Resistivity at 20 °C, Ω mm.
    pub resistivity: f64,
}

/// Copper (`iec-60949`).
pub const COPPER: Constants = Constants { heat: 3.45e-3, beta: 234.5, resistivity: 17.241e-6 };
/// Aluminium (`iec-60949`).
pub const ALUMINIUM: Constants = Constants { heat: 2.5e-3, beta: 228.0, resistivity: 28.264e-6 };
/// Steel (`iec-60949`).
pub const STEEL: Constants = Constants { heat: 3.8e-3, beta: 202.0, resistivity: 138e-6 };
/// Lead (`iec-60949`).
pub const LEAD: Constants = Constants { heat: 1.45e-3, beta: 230.0, resistivity: 214e-6 };

impl Constants {
    /// k in A √s/mm² between two temperatures: √(Qc (β + 20)/ρ₂₀ · ln((β + Tf)/(β + Ti))). 0 when the end is not
    /// above the start: nothing is left to warm. Source: `iec-60949`, `iec-60364-k`.
    pub fn k(self, start: Temperature, end: Temperature) -> f64 {
        let ratio = (self.beta + end.in_celsius()) / (self.beta + start.in_celsius());
        if !ratio.is_finite() || ratio <= 1.0 {
            return 0.0;
        }
        (self.heat * (self.beta + 20.0) / self.resistivity * ratio.ln()).sqrt()
    }
}

/// The constants of a conductor's metal. Copper-clad aluminium warms like aluminium, by its own resistivity.
pub fn constants(metal: ConductorMetal) -> Constants {
    match metal {
        ConductorMetal::Copper => COPPER,
        ConductorMetal::Aluminium => ALUMINIUM,
        ConductorMetal::CopperClad => Constants { resistivity: resistivity_20(metal) * 1e-3, ..ALUMINIUM },
    }
}

/// k in A √s/mm² of a conductor warmed from `start` to `end`; see [`Constants::k`].
pub fn k(metal: ConductorMetal, start: Temperature, end: Temperature) -> f64 {
    constants(metal).k(start, end)
}

/// The longest that a conductor stands a current, t = k² S²/I². Holds to [`ADIABATIC_SECONDS`]; above, heat
/// is given off meanwhile and the answer errs on the safe side. None for no current: it stands that for good.
pub fn adiabatic_time(k: f64, section: Area, current: Current) -> Option<Duration> {
    let amps = current.in_amps().abs();
    (amps > 0.0).then(|| (k * section.in_mm2() / amps).powi(2)).filter(|t| t.is_finite()).map(Duration::seconds)
}

/// The section that stands a current for a time: S = I √t/k.
pub fn adiabatic_section(k: f64, current: Current, time: Duration) -> Area {
    Area::mm2(current.in_amps().abs() * time.in_seconds().max(0.0).sqrt() / k)
}

/// How long a fault may last and still be worked without loss of heat, in seconds (`iec-60364-4-43`).
pub const ADIABATIC_SECONDS: f64 = 5.0;

/// Insulation, by what it stands at the end of a short circuit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum InsulationKind {
    /// PVC.
    Pvc,
    /// Cross-linked polyethylene.
    Xlpe,
    /// Ethylene-propylene rubber.
    Epr,
    /// A bare or braided strap.
    Bare,
}

/// The temperature that a conductor may reach at the end of a short circuit (`iec-60364-k`): PVC 160 °C, XLPE and EPR
/// 250 °C, bare 200 °C where nothing can burn; with fuel near, never over 150 °C, the bare conductor's figure where
/// there is a risk of fire.
pub fn end_temperature(insulation: InsulationKind, near_fuel: bool) -> Temperature {
    let end = match insulation {
        InsulationKind::Pvc => 160.0,
        InsulationKind::Xlpe | InsulationKind::Epr => 250.0,
        InsulationKind::Bare => 200.0,
    };
    Temperature::celsius(if near_fuel { f64::min(end, 150.0) } else { end })
}

/// Heat to warm a cubic centimetre of metal by a kelvin, J/(cm³ K): 3.45 copper, 2.5 aluminium and copper-clad
/// aluminium (`iec-60949`).
pub fn heat_constant(metal: ConductorMetal) -> f64 {
    constants(metal).heat * 1e3
}
