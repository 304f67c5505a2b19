//! Cable sizes, cold-cranking figures and threads: what is written like a quantity but is a choice
//! from a series.

use std::fmt;

use super::{Area, Current};

/// A cable's nominal size, as sold.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub enum CableSize {
    /// A metric nominal section in mm².
    Metric(f64),
    /// An American wire gauge number: 4/0 is −3, 1/0 is 0, 18 is 18.
    Awg(i8),
}

impl CableSize {
    /// The section of metal. Metric: the nominal section. AWG: from the geometry of ASTM B258,
    /// d = 0.005 in × 92^((36−n)/39).
    pub fn section(self) -> Area {
        match self {
            CableSize::Metric(mm2) => Area::mm2(mm2),
            CableSize::Awg(n) => {
                let diameter_mm = 0.127 * 92f64.powf((36.0 - f64::from(n)) / 39.0);
                Area::mm2(std::f64::consts::FRAC_PI_4 * diameter_mm * diameter_mm)
            }
        }
    }
}

impl fmt::Display for CableSize {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            CableSize::Metric(mm2) => write!(f, "{mm2} mm²"),
            CableSize::Awg(n) if *n <= 0 => write!(f, "{}/0 AWG", 1 - n),
            CableSize::Awg(n) => write!(f, "{n} AWG"),
        }
    }
}

/// On which test a battery's cold-cranking current was measured (all at −18 °C).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CrankingScale {
    /// SAE J537: 7.2 V after 30 s. An unmarked figure is taken as this one.
    Sae,
    /// EN 50342-1: 7.5 V after 10 s.
    En,
    /// DIN 43539-2: 9.0 V after 30 s.
    Din,
}

/// A battery's cold-cranking current with its scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ColdCranking {
    /// The current.
    pub current: Current,
    /// The test.
    pub scale: CrankingScale,
}

/// A metric thread, by its nominal diameter in mm: M8 is 8.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Thread(pub f64);

impl fmt::Display for Thread {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "M{}", self.0)
    }
}
