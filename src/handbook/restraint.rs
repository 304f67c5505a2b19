//! What must hold a battery down: pulls, decelerations, bolts.

use std::sync::LazyLock;

use serde::Deserialize;

use super::limits::Limit;
use super::rows;
use super::sources::Certainty;
use crate::quantity::{Area, Force, Length, Mass, Thread};

/// Standard acceleration of free fall, m/s², exact.
pub const G: f64 = 9.806_65;

/// The weight of a mass.
pub fn weight(mass: Mass) -> Force {
    Force::newtons(mass.in_kilograms() * G)
}

/// What a deceleration of some g makes a mass pull with: F = m a.
pub fn pull_at(mass: Mass, g: f64) -> Force {
    weight(mass) * g
}

/// The pull that a boat's battery must stand up, fore, aft and to both sides: the lesser of 90 lbf and twice its
/// weight, moving at most 25.4 mm (33 CFR 183.420(a)).
pub fn boat_pull(mass: Mass) -> Limit<Force> {
    Limit { value: Force::pounds_force(90.0).min(weight(mass) * 2.0), source: "cfr33-183-420" }
}

/// The pull by hand on a road vehicle's battery: no less than its own weight, for no document names one. Our judgement.
pub fn own_weight_pull(mass: Mass) -> Limit<Force> {
    Limit { value: weight(mass), source: "judgement" }
}

/// ISO's pull: twice the weight, whatever the weight, moving at most 10 mm (ISO 10133 clause 5).
pub fn small_craft_pull(mass: Mass) -> Limit<Force> {
    Limit { value: weight(mass) * 2.0, source: "iso-10133-5" }
}

/// How far a battery may move under [`boat_pull`]: 1 in.
pub fn boat_movement() -> Limit<Length> {
    Limit { value: Length::inches(1.0), source: "cfr33-183-420" }
}

/// How far a battery may move under [`small_craft_pull`]: 10 mm, the safer of the two.
pub fn small_craft_movement() -> Limit<Length> {
    Limit { value: Length::millimetres(10.0), source: "iso-10133-5" }
}

/// A row of the deceleration tables. They are written for fuel tanks, seats and the like.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub struct Deceleration {
    /// The id of its source.
    pub source: String,
    /// For a pulse with a band: which edge of it; else empty.
    pub plateau: String,
    /// Vehicle classes as the source writes them.
    pub vehicle_class: String,
    /// Direction.
    pub axis: String,
    /// In multiples of [`G`].
    pub g: f64,
    /// How sure.
    pub certainty: Certainty,
}

static DECELERATIONS: LazyLock<Vec<Deceleration>> =
    LazyLock::new(|| rows("deceleration.csv", include_str!("tables/deceleration.csv")));

/// Every deceleration row.
pub fn decelerations() -> &'static [Deceleration] {
    &DECELERATIONS
}

/// The pull of a 20 g stop along the vehicle: ISO 12991's figure for fuel tanks in cars and light vans, adopted here.
pub fn crash_pull(mass: Mass) -> Limit<Force> {
    Limit { value: pull_at(mass, 20.0), source: "iso-12991" }
}

/// The pull of an 8 g stop across the vehicle, from the same table.
pub fn crash_pull_across(mass: Mass) -> Limit<Force> {
    Limit { value: pull_at(mass, 8.0), source: "iso-12991" }
}

/// The counter-plate under each bolt through thin panel: at least 20 cm².
pub fn plate_area() -> Limit<Area> {
    Limit { value: Area::cm2(20.0), source: "german-sporting-handbook" }
}

/// The counter-plate under each bolt through thin panel: at least 3 mm.
pub fn plate_thickness() -> Limit<Length> {
    Limit { value: Length::millimetres(3.0), source: "german-sporting-handbook" }
}

#[derive(Deserialize)]
struct BoltRow {
    thread_mm: f64,
    stress_area_mm2: f64,
    #[allow(dead_code, reason = "read so that a row without its mark does not load")]
    certainty: Certainty,
    #[allow(dead_code, reason = "read so that a row without its source does not load")]
    source: String,
}

#[derive(Deserialize)]
struct GradeRow {
    grade: f64,
    proof_stress_mpa: f64,
    #[allow(dead_code, reason = "read so that a row without its mark does not load")]
    certainty: Certainty,
    #[allow(dead_code, reason = "read so that a row without its source does not load")]
    source: String,
}

static BOLTS: LazyLock<Vec<BoltRow>> = LazyLock::new(|| rows("bolts.csv", include_str!("tables/bolts.csv")));
static GRADES: LazyLock<Vec<GradeRow>> =
    LazyLock::new(|| rows("bolt-grades.csv", include_str!("tables/bolt-grades.csv")));

/// The property classes held here, as 8.8.
pub fn bolt_grades() -> impl Iterator<Item = f64> {
    GRADES.iter().map(|row| row.grade)
}

/// What a bolt stands in tension without stretching for good: stress area times proof stress (`iso-898-1`, from
/// memory). None for a thread or grade that has no row. The panel under it gives way long before.
pub fn bolt_proof_load(thread: Thread, grade: f64) -> Option<Limit<Force>> {
    let bolt = BOLTS.iter().find(|row| row.thread_mm == thread.0)?;
    let class = GRADES.iter().find(|row| (row.grade - grade).abs() < 1e-9)?;
    Some(Limit { value: Force::newtons(bolt.stress_area_mm2 * class.proof_stress_mpa), source: "iso-898-1" })
}

/// What a bolt stands across: 0.6 of its proof load (`common-practice`).
pub const SHEAR_SHARE: f64 = 0.6;
