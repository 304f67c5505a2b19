//! Ends: lugs and studs, crimps, torque, supports, least sizes, bends.

use std::sync::LazyLock;

use serde::Deserialize;

use super::conductors::gauge;
use super::limits::Limit;
use super::rows;
use super::sources::{Certainty, known};
use crate::quantity::{Area, CableSize, Force, Length, Thread};

/// More lugs than this on one stud is unsafe: 4 (AC 43.13-1B 11-174b; ABYC E-11 too).
pub const MOST_LUGS: Limit<usize> = Limit { value: 4, source: "ac43-13-1b-11-174" };
/// More lugs than this on one stud is a query: 3 (MIL-DTL-917F 3.12.2.8).
pub const CAREFUL_LUGS: Limit<usize> = Limit { value: 3, source: "mil-dtl-917" };

/// Whether a lug with a hole for one thread fits a stud: they must be the same size (ABYC E-11, `abyc-e11`). An inch
/// size counts as the metric one that it passes for in a shop, within 0.1 mm: 5/16 in and M8 do, 3/8 in and M10 do
/// not.
pub fn lug_fits_stud(hole: Thread, stud: Thread) -> bool {
    (hole.0 - stud.0).abs() <= 0.1
}

/// The least section of a conductor run singly: 16 AWG (33 CFR 183.425(e)).
pub fn least_single() -> Limit<Area> {
    Limit { value: CableSize::Awg(16).section(), source: "cfr33-183-425" }
}

/// The least section of a conductor run singly, by ISO: 1 mm² where it is longer than 200 mm (ISO 10133 7.7).
pub fn least_single_metric() -> Limit<Area> {
    Limit { value: Area::mm2(1.0), source: "iso-10133-7" }
}

/// Up to this length ISO's least section does not bind.
pub fn least_single_metric_length() -> Limit<Length> {
    Limit { value: Length::millimetres(200.0), source: "iso-10133-7" }
}

/// The least section of a conductor in a sheath: 18 AWG, with no more than [`out_of_sheath`] outside it (33 CFR
/// 183.425(f)).
pub fn least_sheathed() -> Limit<Area> {
    Limit { value: CableSize::Awg(18).section(), source: "cfr33-183-425" }
}

/// The least section of a conductor in a sheath, by ISO: 0.75 mm² (ISO 10133 7.7).
pub fn least_sheathed_metric() -> Limit<Area> {
    Limit { value: Area::mm2(0.75), source: "iso-10133-7" }
}

/// How much of an 18 AWG conductor may lie outside its sheath: 30 in.
pub fn out_of_sheath() -> Limit<Length> {
    Limit { value: Length::inches(30.0), source: "cfr33-183-425" }
}

/// Distance between supports of a run that lies in no conduit, trunking or tray: 450 mm (ISO 10133 7.3).
pub fn supports() -> Limit<Length> {
    Limit { value: Length::millimetres(450.0), source: "iso-10133-7" }
}

/// Distance between supports of a sheathed run and of a battery's conductors up to their isolator: 300 mm (ISO 10133
/// 7.4).
pub fn battery_supports() -> Limit<Length> {
    Limit { value: Length::millimetres(300.0), source: "iso-10133-7" }
}

/// The first support stands no further from the terminal than this: 1 m (ISO 10133 7.4).
pub fn first_support() -> Limit<Length> {
    Limit { value: Length::metres(1.0), source: "iso-10133-7" }
}

/// The longest distance between supports in any source read: 24 in (AC 43.13-1B 11-96a; 46 CFR 183.340).
pub fn longest_supports() -> Limit<Length> {
    Limit { value: Length::inches(24.0), source: "ac43-13-1b-11-96" }
}

/// The tightest bend, in outside diameters: 10 (AC 43.13-1B 11-96, from memory).
pub const BEND_DIAMETERS: Limit<f64> = Limit { value: 10.0, source: "ac43-13-1b-bend" };

/// How far bare metal that can touch a live terminal must be kept from a battery's top where it carries fuel: 12 in
/// (33 CFR 183.420(c)).
pub fn fuel_metal_above_battery() -> Limit<Length> {
    Limit { value: Length::inches(12.0), source: "cfr33-183-420" }
}

#[derive(Deserialize)]
struct CrimpRow {
    awg: String,
    standard: String,
    lbf: f64,
    certainty: Certainty,
    source: String,
}

/// What a crimp must stand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CrimpPull {
    /// The pull.
    pub pull: Force,
    /// How sure.
    pub certainty: Certainty,
    /// The id of its source.
    pub source: &'static str,
}

static CRIMPS: LazyLock<Vec<CrimpRow>> =
    LazyLock::new(|| rows("crimp-pull.csv", include_str!("tables/crimp-pull.csv")));

/// Pull for a minute that a crimp must stand: `standard` is `ul-486a`, `sae-as7928` or `abyc-e11`. A metric size
/// takes the next gauge not larger. None where the standard has no row. They differ up to ninefold: name the one
/// used.
pub fn crimp_pull(standard: &str, size: CableSize) -> Option<CrimpPull> {
    let section = size.section();
    CRIMPS
        .iter()
        .filter(|row| row.standard == standard)
        .map(|row| (CableSize::Awg(gauge(&row.awg)), row))
        .filter(|(listed, _)| match size {
            CableSize::Awg(_) => *listed == size,
            CableSize::Metric(_) => listed.section() <= section,
        })
        .max_by(|(a, _), (b, _)| a.section().in_mm2().total_cmp(&b.section().in_mm2()))
        .map(|(_, row)| CrimpPull {
            pull: Force::pounds_force(row.lbf),
            certainty: row.certainty,
            source: known(&row.source),
        })
}

/// What a bolted joint is tightened to, in newton metres.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct Torque {
    /// What is joined: `copper-busbar` or `lead-battery-terminal`. Never carry one to the other.
    pub joint: String,
    /// The fastener.
    pub fastener: String,
    /// At least, N m.
    pub least_newton_metres: f64,
    /// At most, N m.
    pub most_newton_metres: f64,
    /// At least, lbf in, where the source prints it.
    pub least_lbf_in: Option<f64>,
    /// At most, lbf in, where the source prints it.
    pub most_lbf_in: Option<f64>,
    /// How sure.
    pub certainty: Certainty,
    /// The id of its source.
    pub source: String,
}

static TORQUES: LazyLock<Vec<Torque>> = LazyLock::new(|| rows("torque.csv", include_str!("tables/torque.csv")));

/// Every torque row. The device maker's figure rules; these show how far apart lead and copper are.
pub fn torques() -> &'static [Torque] {
    &TORQUES
}

/// The torque row of a joint and fastener.
pub fn torque(joint: &str, fastener: &str) -> Option<&'static Torque> {
    TORQUES.iter().find(|row| row.joint == joint && row.fastener == fastener)
}
