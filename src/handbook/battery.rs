//! Batteries as sources: open-circuit voltage, cold-cranking figures and how they move with temperature.

use crate::quantity::{ColdCranking, CrankingScale, Resistance, Temperature, Voltage};

/// What cells a battery has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum CellKind {
    /// Flooded (vented) lead-acid.
    Flooded,
    /// Absorbed glass mat.
    Agm,
    /// Gel.
    Gel,
    /// Lithium iron phosphate, four in series a 12 V unit.
    Lfp,
}

/// How full a battery is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum ChargeState {
    /// Full.
    Full,
    /// Half.
    Half,
}

/// Rested open-circuit voltage of one 12 V unit at 25 °C. Lead-acid of every kind: 12.6 V full, 12.2 V half, the
/// lower of two published tables (`open-circuit-lead`). Lithium iron phosphate: 13.4 V full, 13.1 V half
/// (`open-circuit-lfp`, from memory).
pub fn open_circuit(kind: CellKind, charge: ChargeState) -> Voltage {
    Voltage::volts(match (kind, charge) {
        (CellKind::Lfp, ChargeState::Full) => 13.4,
        (CellKind::Lfp, ChargeState::Half) => 13.1,
        (_, ChargeState::Full) => 12.6,
        (_, ChargeState::Half) => 12.2,
    })
}

/// The id of the source of [`open_circuit`].
pub fn open_circuit_source(kind: CellKind) -> &'static str {
    match kind {
        CellKind::Lfp => "open-circuit-lfp",
        _ => "open-circuit-lead",
    }
}

/// The voltage per 12 V at which a cold-cranking test ends: SAE 7.2 V, EN 7.5 V, DIN 9.0 V.
pub fn end_voltage(scale: CrankingScale) -> Voltage {
    Voltage::volts(match scale {
        CrankingScale::Sae => 7.2,
        CrankingScale::En => 7.5,
        CrankingScale::Din => 9.0,
    })
}

/// The id of the source of a cold-cranking scale.
pub fn scale_source(scale: CrankingScale) -> &'static str {
    match scale {
        CrankingScale::Sae => "sae-j537",
        CrankingScale::En => "en-60095-1",
        CrankingScale::Din => "din-43539-2",
    }
}

/// How the cold-cranking current moves with temperature, in °F: k = 0.61 + 0.0082 T − 0.0000417 T²
/// (`cca-polynomial`).
fn polynomial(fahrenheit: f64) -> f64 {
    0.61 + 0.0082 * fahrenheit - 0.000_041_7 * fahrenheit * fahrenheit
}

/// How many times its cold-cranking current (at 0 °F, −18 °C) a battery gives at a temperature: 1 at 0 °F, 1.63 at 25
/// °C. Held constant above 25 °C, where the polynomial soon turns down, and below −40 °C, where it runs out at
/// nothing. A cranking resistance is divided by it.
pub fn cold_factor(at: Temperature) -> f64 {
    let fahrenheit = at.in_fahrenheit().clamp(-40.0, 77.0);
    polynomial(fahrenheit) / polynomial(0.0)
}

/// Cranking resistance of one 12 V unit at −18 °C, with what polarisation adds over the test: (12.6 V − end
/// voltage)/current. Source: `sae-j537` and its kin; lead-acid's full open-circuit voltage. A current that is not
/// above nothing gives a resistance as of 1 mA.
pub fn cold_cranking_resistance(figure: ColdCranking) -> Resistance {
    let drop = open_circuit(CellKind::Flooded, ChargeState::Full) - end_voltage(figure.scale);
    Resistance::ohms(drop.in_volts() / figure.current.in_amps().max(1e-3))
}

/// Warm first-moment (short-circuit) resistance as a share of the cold cranking figure, least and most: 0.61 is the
/// polynomial's own step from −18 to 25 °C (`cca-polynomial`), 0.4 allows for the polarisation that the first
/// milliseconds do not have (`judgement`).
pub fn short_circuit_share() -> (f64, f64) {
    (0.4, 1.0 / cold_factor(Temperature::celsius(25.0)))
}

/// What a fault to a battery with a given pair of readings comes to: R = (U1 − U2)/(I2 − I1) and Isc = (U1 I2 − U2
/// I1)/(U1 − U2), volts and amperes (`iec-60896-21`). None when the readings do not differ as they must.
pub fn two_point(u1: f64, i1: f64, u2: f64, i2: f64) -> Option<(f64, f64)> {
    let (resistance, current) = ((u1 - u2) / (i2 - i1), (u1 * i2 - u2 * i1) / (u1 - u2));
    (resistance.is_finite() && current.is_finite() && resistance > 0.0).then_some((resistance, current))
}
