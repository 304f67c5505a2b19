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

/// The metric sizes that a shop sells (IEC 60228), mm².
const METRIC_SOLD: [f64; 15] = [0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 35.0, 50.0, 70.0, 95.0, 120.0];
/// The gauges that a shop sells.
const AWG_SOLD: [i8; 14] = [18, 16, 14, 12, 10, 8, 6, 4, 2, 1, 0, -1, -2, -3];
/// How much larger a metric nominal section must be than a gauge's to conduct as well: flexible metric cable may have
/// up to 15.8 % more resistance than its nominal section of copper (IEC 60228 class 5), stranded gauge 2 %.
const METRIC_ALLOWANCE: f64 = 1.158 / 1.02;

impl CableSize {
    /// What may be bought in its place in the other system: the smallest size sold there that conducts no worse. For
    /// a metric size, the next gauge whose section is not smaller; for a gauge, the next metric size whose section is
    /// not smaller even if the cable is as resistive as its standard lets it be. None past the largest.
    pub fn other_system(self) -> Option<CableSize> {
        let mm2 = self.section().in_mm2();
        match self {
            CableSize::Metric(_) => {
                AWG_SOLD.iter().map(|gauge| CableSize::Awg(*gauge)).find(|gauge| gauge.section().in_mm2() >= mm2)
            }
            CableSize::Awg(_) => {
                METRIC_SOLD.iter().find(|sold| **sold >= mm2 * METRIC_ALLOWANCE).map(|sold| CableSize::Metric(*sold))
            }
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

/// The metric threads that are read: the coarse series from M3 to M24.
pub(crate) const METRIC_THREADS: [f64; 15] =
    [3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 22.0, 24.0];
/// The inch studs that are read, with their diameter in mm.
pub(crate) const INCH_THREADS: [(&str, f64); 6] = [
    ("3/16", 3.0 / 16.0 * 25.4),
    ("1/4", 0.25 * 25.4),
    ("5/16", 5.0 / 16.0 * 25.4),
    ("3/8", 0.375 * 25.4),
    ("7/16", 7.0 / 16.0 * 25.4),
    ("1/2", 0.5 * 25.4),
];

/// A thread, by its nominal diameter in mm: M8 is 8, 3/8 in is 9.525.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Thread(pub f64);

impl fmt::Display for Thread {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match INCH_THREADS.iter().find(|(_, mm)| (mm - self.0).abs() < 1e-9) {
            Some((inches, _)) => write!(f, "{inches} in"),
            None => write!(f, "M{}", self.0),
        }
    }
}

impl CrankingScale {
    /// The mark beside a figure: `EN`.
    pub const fn word(self) -> &'static str {
        match self {
            CrankingScale::Sae => "SAE",
            CrankingScale::En => "EN",
            CrankingScale::Din => "DIN",
        }
    }
}
