//! What a figure in a guide can be at all: outside it, a unit or a digit is wrong.
//!
//! The bounds are wide and are our judgement: they catch a slip of the pen, not a bad design. Rules do that.

use super::units::Kind;

/// From where to where figures of one kind are read, in SI, both included.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plausible {
    /// At least.
    pub least: f64,
    /// At most.
    pub most: f64,
    /// Whether nothing at all may be written.
    pub zero: bool,
    /// What lies beyond is more (or less) than this has.
    pub scene: &'static str,
}

impl Plausible {
    /// Whether a figure in SI is read.
    pub fn holds(&self, si: f64) -> bool {
        // The bounds themselves are read, whatever the arithmetic of their unit leaves in the last digits.
        let hair = 1e-9 * si.abs();
        (self.least <= si + hair && si - hair <= self.most) || (self.zero && si == 0.0)
    }
}

/// 1 mV to 1000 V: a drop across a joint, a device's rating for mains.
pub const VOLTAGE: Plausible =
    Plausible { least: 1e-3, most: 1000.0, zero: false, scene: "any voltage of a 12 V or 24 V installation" };
/// 1 µA to 200 kA: a clock's drain, a fuse's breaking capacity. A load may take nothing.
pub const CURRENT: Plausible =
    Plausible { least: 1e-6, most: 200e3, zero: true, scene: "any current of a 12 V or 24 V installation" };
/// 0.1 µΩ to 1 kΩ: a joint, a worn body path. Nothing at all is not measured but missed.
pub const RESISTANCE: Plausible =
    Plausible { least: 1e-7, most: 1e3, zero: false, scene: "any resistance in a power circuit" };
/// 0.1 mm to 100 m: a foil, a run through an articulated lorry and back.
pub const LENGTH: Plausible =
    Plausible { least: 1e-4, most: 100.0, zero: false, scene: "any length in a vehicle or a boat" };
/// 0.01 mm² to 2 m²: a strand, a locker's side. A vent may have no opening.
pub const AREA: Plausible = Plausible { least: 1e-8, most: 2.0, zero: true, scene: "any area in a vehicle or a boat" };
/// 0.1 ms to 1000 d: a fuse in a dead short, a parked car. A device's shortest time may be nothing.
pub const DURATION: Plausible =
    Plausible { least: 1e-4, most: 86.4e6, zero: true, scene: "any time that a guide works with" };
/// 1 g to 5 t.
pub const MASS: Plausible = Plausible { least: 1e-3, most: 5000.0, zero: false, scene: "any part that a guide fits" };
/// 1 mW to 100 kW. A load may take nothing.
pub const POWER: Plausible =
    Plausible { least: 1e-3, most: 100e3, zero: true, scene: "any power in a 12 V or 24 V installation" };
/// 0.1 Ah to 5000 Ah.
pub const CHARGE: Plausible =
    Plausible { least: 360.0, most: 18e6, zero: false, scene: "any battery of a vehicle or a boat" };
/// 0.1 N to 1 MN.
pub const FORCE: Plausible = Plausible { least: 0.1, most: 1e6, zero: true, scene: "any force on a fixing" };
/// 0.1 % to 10 000 %: a current of a hundred times a device's rating.
pub const RATIO: Plausible =
    Plausible { least: 1e-3, most: 100.0, zero: false, scene: "any share that a guide works with" };
/// −60 °C to 300 °C: the coldest start, the hottest insulation.
pub const TEMPERATURE: Plausible =
    Plausible { least: 213.15, most: 573.15, zero: false, scene: "any temperature that a vehicle's wiring meets" };
/// 10 A to 3000 A of cold-cranking current.
pub const COLD_CRANKING: Plausible =
    Plausible { least: 10.0, most: 3000.0, zero: false, scene: "any battery's cold-cranking current" };
/// 0.1 mm² to 400 mm² of nominal section. Sizes that no table has are read, and are a query.
pub const METRIC_SIZE: Plausible =
    Plausible { least: 0.1, most: 400.0, zero: false, scene: "any cable in a vehicle or a boat" };
/// 24 AWG to 4/0 AWG, as numbers from −3.
pub const GAUGES: std::ops::RangeInclusive<i8> = -3..=24;

/// The bounds of a kind. Kinds that are only recognised have none.
pub fn of(kind: Kind) -> Plausible {
    match kind {
        Kind::Voltage => VOLTAGE,
        Kind::Current => CURRENT,
        Kind::Resistance => RESISTANCE,
        Kind::Length => LENGTH,
        Kind::Area => AREA,
        Kind::Duration => DURATION,
        Kind::Mass => MASS,
        Kind::Power => POWER,
        Kind::Charge => CHARGE,
        Kind::Force => FORCE,
        Kind::Ratio => RATIO,
        Kind::Temperature => TEMPERATURE,
        Kind::Energy | Kind::Torque | Kind::Gauge => {
            Plausible { least: f64::NEG_INFINITY, most: f64::INFINITY, zero: true, scene: "anything" }
        }
    }
}
