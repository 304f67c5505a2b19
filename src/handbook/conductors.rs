//! Conductors: resistance at a temperature, and how much current their insulation allows.
//!
//! Copper by gauge is worked from its geometry and the resistivity of annealed copper; copper by metric size is
//! looked up. Allowable currents are those of 33 CFR 183.425 Table 5, at an ambient of 30 °C.

use std::sync::LazyLock;

use serde::Deserialize;

use super::sources::Certainty;
use super::{heat, rows};
use crate::quantity::{Area, CableSize, Current, Resistance, Temperature};

/// What a conductor is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ConductorMetal {
    /// Annealed copper of 100 % IACS.
    Copper,
    /// Aluminium of 61 % IACS.
    Aluminium,
    /// Aluminium wire clad in copper.
    CopperClad,
}

impl ConductorMetal {
    /// Every metal.
    pub const ALL: [ConductorMetal; 3] =
        [ConductorMetal::Copper, ConductorMetal::Aluminium, ConductorMetal::CopperClad];
}

/// Resistivity of annealed copper at 20 °C in Ω mm²/m: 100 % IACS, 58 MS/m (`nbs-c31`).
pub const COPPER_OHM_MM2_PER_M: f64 = 0.017_241;
/// Resistivity of aluminium of 61 % IACS at 20 °C in Ω mm²/m (`iec-60949`).
pub const ALUMINIUM_OHM_MM2_PER_M: f64 = 0.028_264;
/// How much of a copper-clad aluminium wire is copper, by volume. Sold as 10 or 15 %; the guide's author
/// cannot tell which, so the one that conducts less is taken (`judgement`).
pub const CLAD_COPPER_SHARE: f64 = 0.10;
/// What stranding adds to a conductor's resistance: the strands are longer than the cable. 2 %, as between the
/// solid and stranded columns of NEC chapter 9 table 8, which run from 1.8 to 2.5 % (`nec-ch9-table-8`).
pub const STRANDING: f64 = 1.02;
/// The temperature in °C at which copper's resistance, drawn as a straight line, would be nothing (`ac43-13-1b`;
/// 1/0.00393 − 20).
pub const COPPER_ZERO: f64 = 234.5;
/// The same for aluminium of 61 % IACS: 1/0.00403 − 20 (`physics`). The FAA's circular prints 238.1, which gives
/// a resistance 0.7 % lower at 75 °C; the higher one protects.
pub const ALUMINIUM_ZERO: f64 = 228.1;
/// Ambient temperature in °C for which the allowable currents hold: 33 CFR 183.425's engine-space factors are
/// √((T − 50)/(T − 30)), which shows the base.
pub const BASE_AMBIENT: f64 = 30.0;
/// Ambient temperature in °C of an engine space, from the same factors.
pub const ENGINE_SPACE_AMBIENT: f64 = 50.0;
/// What a meter shows, as shares of the tabulated maximum: metric maxima stand 4 to 16 % above resistivity over
/// section, so a reading may be as low as 0.86 of the prediction (`iec-60228`, worked).
pub const PREDICTION_BAND: (f64, f64) = (0.86, 1.0);

/// Resistivity at 20 °C in Ω mm²/m. Copper-clad aluminium: its copper and its aluminium side by side.
pub fn resistivity_20(metal: ConductorMetal) -> f64 {
    match metal {
        ConductorMetal::Copper => COPPER_OHM_MM2_PER_M,
        ConductorMetal::Aluminium => ALUMINIUM_OHM_MM2_PER_M,
        ConductorMetal::CopperClad => {
            1.0 / (CLAD_COPPER_SHARE / COPPER_OHM_MM2_PER_M + (1.0 - CLAD_COPPER_SHARE) / ALUMINIUM_OHM_MM2_PER_M)
        }
    }
}

/// Section of metal as sold; see [`CableSize::section`].
pub fn section(size: CableSize) -> Area {
    size.section()
}

#[derive(Deserialize)]
struct MetricRow {
    mm2: f64,
    class_2_milliohm_per_m: f64,
    class_5_milliohm_per_m: f64,
    #[allow(dead_code, reason = "read so that a row without its mark does not load")]
    certainty: Certainty,
    #[allow(dead_code, reason = "read so that a row without its source does not load")]
    source: String,
}

static METRIC: LazyLock<Vec<MetricRow>> =
    LazyLock::new(|| rows("metric-copper.csv", include_str!("tables/metric-copper.csv")));

/// The metric series of IEC 60228 held here, 0.5 to 120 mm², least first.
static METRIC_SIZES: LazyLock<Vec<CableSize>> =
    LazyLock::new(|| METRIC.iter().map(|row| CableSize::Metric(row.mm2)).collect());

/// The gauges of 33 CFR 183.425 Table 5, 18 AWG to 4/0, least section first.
static AWG_SIZES: LazyLock<Vec<CableSize>> =
    LazyLock::new(|| TABLE_5.iter().map(|row| CableSize::Awg(row.gauge())).collect());

/// The metric series, in increasing section: IEC 60228, 0.5 to 120 mm².
pub fn metric_sizes() -> &'static [CableSize] {
    &METRIC_SIZES
}

/// The gauges that have an allowable current, in increasing section: 18 AWG to 4/0.
pub fn awg_sizes() -> &'static [CableSize] {
    &AWG_SIZES
}

/// The series that a size belongs to, in increasing section: what a trial may put in its place.
pub fn ladder(size: CableSize) -> &'static [CableSize] {
    match size {
        CableSize::Metric(_) => metric_sizes(),
        CableSize::Awg(_) => awg_sizes(),
    }
}

/// Whether a size stands in the series it belongs to. One that does not is read and worked with, and is a query.
pub fn in_series(size: CableSize) -> bool {
    ladder(size).contains(&size)
}

/// Resistance at 20 °C of one metre, in Ω/m, at its standard's maximum.
///
/// * Copper by gauge: resistivity over the section of ASTM B258, and 2 % for stranding.
/// * Copper by metric size: IEC 60228 class 5. A size between two rows takes the larger excess over
///   resistivity of all rows, 16 %. No row: none under 0.5 mm² or over 120 mm².
/// * Aluminium and copper-clad aluminium: the copper figure times their resistivity over copper's, so that the
///   allowance for stranding and for a scant section stays.
///
/// None for a gauge outside 4/0 to 24 AWG, or a section outside the table.
pub fn resistance_20(size: CableSize, metal: ConductorMetal) -> Option<f64> {
    let copper = match size {
        CableSize::Awg(gauge) if (-3..=24).contains(&gauge) => {
            COPPER_OHM_MM2_PER_M / size.section().in_mm2() * STRANDING
        }
        CableSize::Awg(_) => return None,
        CableSize::Metric(mm2) => metric_copper(mm2)?,
    };
    Some(copper * resistivity_20(metal) / COPPER_OHM_MM2_PER_M)
}

/// Resistance at 20 °C of one metre of a conductor whose true section was given, in Ω/m: resistivity over
/// section, and 2 % for stranding.
pub fn resistance_20_of_section(section: Area, metal: ConductorMetal) -> f64 {
    resistivity_20(metal) / section.in_mm2() * STRANDING
}

fn metric_copper(mm2: f64) -> Option<f64> {
    if let Some(row) = METRIC.iter().find(|row| row.mm2 == mm2) {
        return Some(row.class_5_milliohm_per_m * 1e-3);
    }
    let (least, most) = (METRIC.first()?.mm2, METRIC.last()?.mm2);
    if !(least..=most).contains(&mm2) {
        return None;
    }
    let excess = METRIC.iter().map(|row| row.class_5_milliohm_per_m * row.mm2).fold(0.0, f64::max);
    Some(excess / mm2 * 1e-3)
}

/// Class 2 (stranded, for fixed wiring) resistance at 20 °C in Ω/m, for sizes in the series.
pub fn class_2_resistance_20(mm2: f64) -> Option<f64> {
    METRIC.iter().find(|row| row.mm2 == mm2).map(|row| row.class_2_milliohm_per_m * 1e-3)
}

/// What to multiply a resistance at 20 °C by at another temperature: (T₀ + T)/(T₀ + 20) with T₀ 234.5 for copper,
/// 228.1 for aluminium and copper-clad aluminium, T in °C. Never under 0.
pub fn resistance_factor(metal: ConductorMetal, at: Temperature) -> f64 {
    let zero = match metal {
        ConductorMetal::Copper => COPPER_ZERO,
        ConductorMetal::Aluminium | ConductorMetal::CopperClad => ALUMINIUM_ZERO,
    };
    ((zero + at.in_celsius()) / (zero + 20.0)).max(0.0)
}

/// Resistance of a joint or cable at a temperature, from its resistance at 20 °C.
pub fn resistance_at(r20: Resistance, metal: ConductorMetal, at: Temperature) -> Resistance {
    r20 * resistance_factor(metal, at)
}

/// Insulation ratings of 33 CFR 183.425 Table 5, in °C.
pub const RATINGS: [f64; 7] = [60.0, 75.0, 80.0, 90.0, 105.0, 125.0, 200.0];

#[derive(Deserialize)]
struct AllowableRow {
    awg: String,
    amps_60: f64,
    amps_75: f64,
    amps_80: f64,
    amps_90: f64,
    amps_105: f64,
    amps_125: f64,
    amps_200: f64,
    #[allow(dead_code, reason = "read so that a row without its mark does not load")]
    certainty: Certainty,
    #[allow(dead_code, reason = "read so that a row without its source does not load")]
    source: String,
}

impl AllowableRow {
    fn gauge(&self) -> i8 {
        gauge(&self.awg)
    }
    fn amps(&self) -> [f64; 7] {
        [self.amps_60, self.amps_75, self.amps_80, self.amps_90, self.amps_105, self.amps_125, self.amps_200]
    }
}

/// A gauge as the tables write it: `4/0`, `18`.
pub(crate) fn gauge(text: &str) -> i8 {
    let number = |digits: &str| digits.parse::<i8>().unwrap_or_else(|_| panic!("handbook: `{text}` is not a gauge"));
    match text.strip_suffix("/0") {
        Some(zeros) => 1 - number(zeros),
        None => number(text),
    }
}

/// Least section first.
static TABLE_5: LazyLock<Vec<AllowableRow>> =
    LazyLock::new(|| rows("allowable-current.csv", include_str!("tables/allowable-current.csv")));

/// The column of Table 5 for an insulation rating: the highest listed that is not above it. None under 60 °C.
pub fn rating_column(rated: Temperature) -> Option<usize> {
    // A rating read in °F lands a rounding away from the °C it means.
    RATINGS.iter().rposition(|listed| *listed <= rated.in_celsius() + 1e-6)
}

/// The gauge of Table 5 that a size is looked up under: itself, or for a metric size the next not larger.
pub fn table_gauge(size: CableSize) -> Option<CableSize> {
    match size {
        CableSize::Awg(_) => awg_sizes().contains(&size).then_some(size),
        CableSize::Metric(mm2) => table_gauge_of_section(Area::mm2(mm2)),
    }
}

/// The largest gauge of Table 5 whose section is not more than the one given.
pub fn table_gauge_of_section(section: Area) -> Option<CableSize> {
    awg_sizes().iter().rev().copied().find(|gauge| gauge.section() <= section)
}

/// Allowable current at 30 °C ambient, not bundled: 33 CFR 183.425 Table 5.
///
/// The column is the highest listed rating not above `rated`; a metric size takes the next gauge not larger;
/// metals other than copper carry √(ρ copper/ρ) of copper's current, which makes the same heat.
/// None when the table has no row or no column: that is a query, not a guess.
pub fn allowable_current_30(size: CableSize, rated: Temperature, metal: ConductorMetal) -> Option<Current> {
    allowable(table_gauge(size)?, rated, metal)
}

/// The same for a conductor whose true section was given.
pub fn allowable_current_30_of_section(section: Area, rated: Temperature, metal: ConductorMetal) -> Option<Current> {
    allowable(table_gauge_of_section(section)?, rated, metal)
}

fn allowable(gauge: CableSize, rated: Temperature, metal: ConductorMetal) -> Option<Current> {
    let column = rating_column(rated)?;
    let row = TABLE_5.iter().find(|row| CableSize::Awg(row.gauge()) == gauge)?;
    Some(Current::amps(row.amps()[column] * (COPPER_OHM_MM2_PER_M / resistivity_20(metal)).sqrt()))
}

#[derive(Deserialize)]
struct EngineSpaceRow {
    rated_celsius: f64,
    factor: f64,
    certainty: Certainty,
    #[allow(dead_code, reason = "read so that a row without its source does not load")]
    source: String,
}

static ENGINE_SPACE: LazyLock<Vec<EngineSpaceRow>> =
    LazyLock::new(|| rows("engine-space.csv", include_str!("tables/engine-space.csv")));

/// What is left of the allowable current in an engine space, by insulation rating: 0.577 at 60 °C, 0.85 at 105 °C.
///
/// The lower of two: what Note 1 of Table 5 prints, and √((T − 50)/(T − 30)), which is what it was worked from (30 °C
/// in the open, 50 °C in an engine space). Of the printed factors only 105 °C's was seen; every other one, from
/// memory, is the higher of the two, so no answer rests on memory (a test holds that). The row is the highest listed
/// rating not above `rated`; under 60 °C nothing is allowed. Source: `cfr33-183-425-note-1` at 105 °C, else
/// `physics`.
pub fn engine_space_factor(rated: Temperature) -> (f64, Certainty) {
    let Some(row) = ENGINE_SPACE.iter().rev().find(|row| row.rated_celsius <= rated.in_celsius() + 1e-6) else {
        return (0.0, Certainty::Derived);
    };
    let worked = ambient_factor(Temperature::celsius(row.rated_celsius), Temperature::celsius(ENGINE_SPACE_AMBIENT));
    if row.factor < worked { (row.factor, row.certainty) } else { (worked, Certainty::Derived) }
}

/// The factor that Note 1 prints for an insulation rating, and how sure we are of it; none for a rating that it does
/// not list.
pub fn printed_engine_space_factor(rated: Temperature) -> Option<(f64, Certainty)> {
    let listed = |row: &&EngineSpaceRow| (row.rated_celsius - rated.in_celsius()).abs() < 1e-6;
    ENGINE_SPACE.iter().find(listed).map(|row| (row.factor, row.certainty))
}

/// What an ambient other than 30 °C leaves of the allowable current: √((Tr − Ta)/(Tr − 30)), so that the conductor
/// settles at its insulation's rating. From 0 (at the rating) to 1: a colder place earns nothing.
pub fn ambient_factor(rated: Temperature, ambient: Temperature) -> f64 {
    let span = rated.in_celsius() - BASE_AMBIENT;
    if span <= 0.0 {
        return 0.0;
    }
    ((rated - ambient).in_kelvins() / span).clamp(0.0, 1.0).sqrt()
}

#[derive(Deserialize)]
struct BundleRow {
    least: usize,
    most: Option<usize>,
    factor: f64,
    #[allow(dead_code, reason = "read so that a row without its mark does not load")]
    certainty: Certainty,
    #[allow(dead_code, reason = "read so that a row without its source does not load")]
    source: String,
}

static BUNDLES: LazyLock<Vec<BundleRow>> = LazyLock::new(|| rows("bundles.csv", include_str!("tables/bundles.csv")));

/// What Note 2 of Table 5 leaves of the allowable current, by the count of current-carrying conductors in one bundle,
/// this one included: 0.7 for 3, 0.6 to 6, 0.5 to 24, 0.4 above; 1 for fewer than 3. The rule binds only from 50 V
/// (33 CFR 183.435(b)), so under that an excess is a query.
pub fn bundle_factor(count: usize) -> f64 {
    BUNDLES
        .iter()
        .find(|row| row.least <= count && row.most.is_none_or(|most| count <= most))
        .map_or(1.0, |row| row.factor)
}

/// The time constant τ with which a conductor takes up its settled temperature, in seconds:
/// heat constant · S · (Tr − 30)/(Iz₃₀² · R′), S in mm², R′ in Ω/m at Tr.
pub fn time_constant(section: Area, metal: ConductorMetal, rated: Temperature, iz30: Current, ohm_per_m: f64) -> f64 {
    heat::heat_constant(metal) * section.in_mm2() * (rated.in_celsius() - BASE_AMBIENT)
        / (iz30.in_amps().powi(2) * ohm_per_m)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_may_be_bought_in_the_other_system_is_no_worse() {
        let rated = Temperature::celsius(105.0);
        for size in metric_sizes().iter().chain(awg_sizes()) {
            let Some(other) = size.other_system() else { continue };
            for metal in ConductorMetal::ALL {
                let (one, two) = (resistance_20(*size, metal).unwrap(), resistance_20(other, metal).unwrap());
                assert!(two <= one * 1.0001, "{size} {one} or {other} {two}");
            }
            let (one, two) = (
                allowable_current_30(*size, rated, ConductorMetal::Copper),
                allowable_current_30(other, rated, ConductorMetal::Copper),
            );
            assert!(one <= two, "{size} {one:?} or {other} {two:?}");
        }
    }

    #[test]
    fn a_size_between_two_rows_is_no_better_than_the_larger_excess() {
        for mm2 in [3.0, 5.0, 8.0, 13.0, 20.0, 30.0, 40.0, 60.0] {
            let ohms = resistance_20(CableSize::Metric(mm2), ConductorMetal::Copper).unwrap();
            let excess = ohms * mm2 / COPPER_OHM_MM2_PER_M;
            assert!((1.15..=1.16).contains(&excess), "{mm2}: {excess}");
            assert!(!in_series(CableSize::Metric(mm2)));
        }
        assert_eq!(resistance_20(CableSize::Metric(0.3), ConductorMetal::Copper), None);
        assert_eq!(resistance_20(CableSize::Metric(150.0), ConductorMetal::Copper), None);
        assert_eq!(resistance_20(CableSize::Awg(30), ConductorMetal::Copper), None);
    }

    #[test]
    fn factors_stay_within_their_bounds() {
        let celsius = Temperature::celsius;
        assert_eq!(ambient_factor(celsius(105.0), celsius(20.0)), 1.0);
        assert_eq!(ambient_factor(celsius(105.0), celsius(30.0)), 1.0);
        assert!((ambient_factor(celsius(105.0), celsius(60.0)) - 0.775).abs() < 0.0005);
        assert_eq!(ambient_factor(celsius(105.0), celsius(120.0)), 0.0);
        assert_eq!(ambient_factor(celsius(25.0), celsius(20.0)), 0.0);
        assert_eq!(engine_space_factor(celsius(105.0)), (0.85, Certainty::Verified));
        assert_eq!(engine_space_factor(celsius(70.0)), engine_space_factor(celsius(60.0)));
        assert_eq!(engine_space_factor(celsius(50.0)).0, 0.0);
        assert_eq!(
            [0, 1, 2, 3, 4, 6, 7, 24, 25, 90].map(bundle_factor),
            [1.0, 1.0, 1.0, 0.7, 0.6, 0.6, 0.5, 0.5, 0.4, 0.4]
        );
    }
}
