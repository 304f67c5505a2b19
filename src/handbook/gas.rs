//! Hydrogen: how much a battery gives off, and the air and openings that carry it away.
//!
//! The forms are for fixed battery rooms and industrial trucks. For a box in a vehicle or a locker in a boat they
//! are a screening estimate, and whoever prints a figure from here says so ([`SCOPE`]).

use std::sync::LazyLock;

use serde::Deserialize;

use super::limits::Limit;
use super::rows;
use super::sources::Certainty;
use crate::quantity::{Area, Charge, Current, Length, Temperature};

/// What to print beside every figure of this module.
pub const SCOPE: &str =
    "The airflow formula is for fixed battery rooms; for a vehicle or a boat it is a screening estimate.";

/// Cells, by how they gas.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum GasCell {
    /// Vented (flooded) lead-acid, antimony under 3 %.
    VentedLead,
    /// Valve-regulated lead-acid: AGM and gel.
    ValveRegulatedLead,
    /// Vented nickel-cadmium.
    VentedNickelCadmium,
}

/// How hard a battery is charged.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Stage {
    /// Kept full.
    Float,
    /// Charged: an alternator does this.
    Boost,
}

#[derive(Deserialize)]
struct GasRow {
    cell: GasCell,
    stage: Stage,
    milliamps_per_ah: f64,
    volts_per_cell: f64,
    #[allow(dead_code, reason = "read so that a row without its mark does not load")]
    certainty: Certainty,
    #[allow(dead_code, reason = "read so that a row without its source does not load")]
    source: String,
}

static GAS: LazyLock<Vec<GasRow>> = LazyLock::new(|| rows("gas-current.csv", include_str!("tables/gas-current.csv")));

/// The current that makes gas, Igas in mA per Ah, for charging at a held voltage up to [`table_limit`] (`iec-62485-2`
/// Table 1).
pub fn gas_current(cell: GasCell, stage: Stage) -> f64 {
    row(cell, stage).milliamps_per_ah
}

/// The charging voltage per cell for which [`gas_current`] holds.
pub fn gas_voltage(cell: GasCell, stage: Stage) -> f64 {
    row(cell, stage).volts_per_cell
}

fn row(cell: GasCell, stage: Stage) -> &'static GasRow {
    GAS.iter().find(|row| row.cell == cell && row.stage == stage).expect("a test reads every cell at every stage")
}

/// The ambient temperature above which the table of gas currents no longer holds: 40 °C (`iec-62485-2`).
pub fn table_limit() -> Temperature {
    Temperature::celsius(40.0)
}

/// Cells in series of a lead-acid battery by its 12 V units. Strings in parallel add their capacity, not their cells.
pub fn lead_cells(units: f64) -> f64 {
    6.0 * units
}

/// Airflow that keeps hydrogen under its limit, in m³/h: Q = 0.05 n Igas Crt/1000, n cells in series, Igas in mA/Ah,
/// Crt in Ah (`iec-62485-2`, EN 50272-2 clause 8.2).
pub fn airflow_m3_per_h(cells: f64, gas_milliamps_per_ah: f64, capacity: Charge) -> f64 {
    0.05 * cells * gas_milliamps_per_ah * capacity.in_amp_hours() / 1000.0
}

/// Free area that the inlet and the outlet each need for natural airflow: A = 28 Q cm², Q in m³/h (`iec-62485-2`).
pub fn opening(airflow_m3_per_h: f64) -> Area {
    Area::cm2(28.0 * airflow_m3_per_h)
}

/// Diameter of the round hole with a free area: d = √(4 A/π).
pub fn round_hole(area: Area) -> Length {
    Length::millimetres((4.0 * area.in_mm2() / std::f64::consts::PI).sqrt())
}

/// Straight-line distance from the gas outlet inside which nothing may spark or glow: d = 28.8 ∛Igas ∛Crt mm
/// (`iec-62485-2-annex-b`, from memory: may query, never fail).
pub fn spark_distance(gas_milliamps_per_ah: f64, capacity: Charge) -> Length {
    Length::millimetres(28.8 * gas_milliamps_per_ah.cbrt() * capacity.in_amp_hours().cbrt())
}

/// Hydrogen made by overcharge, litres per Ah and cell at 0 °C and one atmosphere (`iec-62485-2`).
pub const HYDROGEN_LITRES_PER_AH: f64 = 0.42;
/// Oxygen that comes with it, as a share of the hydrogen's volume.
pub const OXYGEN_SHARE: f64 = 0.5;

/// Hydrogen by Faraday's law and the ideal gas law, litres per Ah and cell at one atmosphere:
/// V = (3600/(2 F)) R T/p (`physics`).
pub fn faraday_litres_per_ah(at: Temperature) -> f64 {
    const FARADAY: f64 = 96_485.332_12; // C/mol, exact to the digits given (SI)
    const GAS: f64 = 8.314_462_618; // J/(mol K), SI
    const ATMOSPHERE: f64 = 101_325.0; // Pa, exact
    3600.0 / (2.0 * FARADAY) * GAS * at.si() / ATMOSPHERE * 1000.0
}

/// Hydrogen an hour in litres when the whole current makes gas: I · cells · 0.42.
pub fn hydrogen_litres_per_h(current: Current, cells: f64) -> f64 {
    current.in_amps() * cells * HYDROGEN_LITRES_PER_AH
}

/// Lower explosive limit of hydrogen in air by volume (`iec-62485-2`).
pub const LOWER_EXPLOSIVE_LIMIT: f64 = 0.04;

/// Air that thins a flow of hydrogen to a share by volume: h (1 − c)/c, in the unit of h.
pub fn dilution_air(hydrogen: f64, share: f64) -> f64 {
    hydrogen * (1.0 - share) / share
}

/// Hydrogen in ft³/h by the form of UFC 3-410-04N 8-3: FC/100 · Ah · K · N, K = 0.016 ft³ per Ah and cell
/// (`ufc-3-410-04n`).
pub fn ufc_hydrogen_ft3_per_h(amps_per_100_ah: f64, amp_hours: f64, cells: f64) -> f64 {
    amps_per_100_ah / 100.0 * amp_hours * 0.016 * cells
}

/// Air in ft³/min that keeps a flow of hydrogen in ft³/h under a share by volume: C/60/share (`ufc-3-410-04n`).
pub fn ufc_air_cfm(hydrogen_ft3_per_h: f64, share: f64) -> f64 {
    hydrogen_ft3_per_h / 60.0 / share
}

/// Hydrogen in ft³/min when full current is forced into a full battery: 0.000269 · A · cells (`ufc-3-520-01`).
pub fn ufc_forced_hydrogen_cfm(current: Current, cells: f64) -> f64 {
    0.000_269 * current.in_amps() * cells
}

/// What the airflow rule for petrol vapour asks, in square inches: 5 ln(V/5), never under 3, V in ft³
/// (`cfr33-183-630`). Petrol vapour sinks; this is not the hydrogen rule, and is here to tell the two apart.
pub fn petrol_vapour_opening_in2(compartment_ft3: f64) -> f64 {
    (5.0 * (compartment_ft3 / 5.0).ln()).max(3.0)
}

/// The free area that a trailer's battery compartment needs at its top and again at its bottom, each within 50 mm of
/// the edge: 1100 mm², 1.7 in² (`nec-552-10`). It knows nothing of the battery's size: hold a box against this and
/// [`opening`], whichever asks more.
pub fn trailer_opening() -> Limit<Area> {
    Limit { value: Area::mm2(1100.0), source: "nec-552-10" }
}
