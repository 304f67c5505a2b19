//! Every limit of ordinary running and protection, each with its source.
//!
//! A limit in volts whose source is for 12 V is scaled with the system: a 24 V circuit may lose twice as much.
//! Limits of housing, restraint and ends stand in [`super::gas`], [`super::restraint`] and [`super::ends`].

use crate::quantity::{Current, Duration, Length, Ratio, Resistance, Temperature, Voltage};

/// A limit and the id of its source in [`super::sources`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit<T> {
    /// The figure.
    pub value: T,
    /// The id of its source.
    pub source: &'static str,
}

/// Volts printed for a 12 V system, at another system voltage.
pub fn scaled(volts_at_12: f64, system: Voltage) -> Voltage {
    Voltage::volts(volts_at_12 * system.in_volts() / 12.0)
}

// Starting: steady cranking at 20 °C.

/// Battery positive post to starter stud: 0.5 V at 12 V, 1.0 V at 24 V. Over it: unsafe.
pub fn starting_feed(system: Voltage) -> Limit<Voltage> {
    Limit { value: scaled(0.5, system), source: "tm-5-3895-382-24" }
}
/// Starter case to battery negative post: 0.7 V at 12 V, 1.4 V at 24 V. Over it: unsafe.
pub fn starting_return(system: Voltage) -> Limit<Voltage> {
    Limit { value: scaled(0.7, system), source: "tm-5-3895-382-24" }
}
/// The same span, good practice: 0.2 V at 12 V. Over it: note.
pub fn starting_return_good(system: Voltage) -> Limit<Voltage> {
    Limit { value: scaled(0.2, system), source: "tm-5-3820-256-24-4" }
}
/// Both spans together: 1.0 V at 12 V (at 14 V regulated; 2 V at 28 V). Over it: query.
pub fn starting_both(system: Voltage) -> Limit<Voltage> {
    Limit { value: scaled(1.0, system), source: "ac43-13-1b-11-6" }
}
/// Both spans together by current: 0.2 V per 100 A at 12 V, 0.4 V at 24 V: 2 and 4 mΩ. Over it: note.
pub fn starting_by_current(system: Voltage, cranking: Current) -> Limit<Voltage> {
    Limit { value: scaled(0.2, system) * (cranking.in_amps() / 100.0), source: "sae-j541" }
}
/// Terminals of a starter that cranks: not under 8.0 V at 12 V. Under it: query.
pub fn starter_voltage(system: Voltage) -> Limit<Voltage> {
    Limit { value: scaled(8.0, system), source: "judgement" }
}

/// Two readings that lie nearer than this, in volts, are not told apart by a meter and its probes; our judgement.
pub const TOLD_APART_V: f64 = 0.02;
/// From which reading on a span is bad, given the worst that was predicted of a good one: half as much again, and at
/// least [`TOLD_APART_V`] more. Our judgement.
pub fn bad_from(worst: Voltage) -> Limit<Voltage> {
    let volts = worst.in_volts();
    Limit { value: Voltage::volts((1.5 * volts).max(volts + TOLD_APART_V)), source: "judgement" }
}

// Feeding and charging.

/// Between what alternators regulate to: 13.5 to 14.5 V at 12 V.
pub fn alternator_regulation(system: Voltage) -> (Limit<Voltage>, Limit<Voltage>) {
    let limit = |volts| Limit { value: scaled(volts, system), source: "alternator-regulation" };
    (limit(13.5), limit(14.5))
}
/// Every continuous load, all loads running: 10 % of nominal. Over it: unsafe.
pub fn feeding() -> Limit<Ratio> {
    Limit { value: Ratio::percent(10.0), source: "iso-10133" }
}
/// A load that needs a steady voltage: 3 % of nominal. Over it: query.
pub fn feeding_steady() -> Limit<Ratio> {
    Limit { value: Ratio::percent(3.0), source: "iso-10133-steady" }
}
/// Terminals of a winch or other intermittent load at its peak: not under 9.0 V at 12 V. Under it: query.
pub fn intermittent_voltage(system: Voltage) -> Limit<Voltage> {
    Limit { value: scaled(9.0, system), source: "judgement" }
}
/// How far the battery's terminals may stand under the set-point while charging at [`CHARGING_CURRENT_SHARE`]: 0.2 V
/// at 12 V. Over it: query.
pub fn charging(system: Voltage) -> Limit<Voltage> {
    Limit { value: scaled(0.2, system), source: "common-practice" }
}
/// The charging current at which [`charging`] is judged, in amperes per ampere-hour.
pub const CHARGING_CURRENT_SHARE: Limit<f64> = Limit { value: 0.1, source: "judgement" };
/// What an alternator under the engine's computer may fall to: 12.0 V at 12 V.
pub fn ecu_alternator(system: Voltage) -> Limit<Voltage> {
    Limit { value: scaled(12.0, system), source: "ecu-alternator" }
}
/// The most that an alternator under the engine's computer rises to: 15.5 V at 12 V.
pub fn ecu_alternator_most(system: Voltage) -> Limit<Voltage> {
    Limit { value: scaled(15.5, system), source: "ecu-alternator" }
}

// Joints, devices, body.

/// Resistance of a bolted or crimped joint at its best.
pub fn joint_best() -> Limit<Resistance> {
    Limit { value: Resistance::milliohms(0.05), source: "judgement" }
}
/// Resistance of a sound joint at its worst. Published limits of studs run from 0.17 to 0.3 mΩ (`mil-dtl-83454`).
pub fn joint_worst() -> Limit<Resistance> {
    Limit { value: Resistance::milliohms(0.2), source: "judgement" }
}
/// The body from end to end when nobody measured it, at its best.
pub fn body_best() -> Limit<Resistance> {
    Limit { value: Resistance::milliohms(0.5), source: "judgement" }
}
/// The body from end to end when nobody measured it, at its worst: the airframe's limit.
pub fn body_worst() -> Limit<Resistance> {
    Limit { value: Resistance::milliohms(5.0), source: "faa-h-8083-32" }
}
/// What a device drops at its rating unless its maker says: 100 mV.
pub fn device_drop() -> Limit<Voltage> {
    Limit { value: Voltage::millivolts(super::protectors::DROP_AT_RATING_MILLIVOLTS), source: "din-72581-3" }
}
/// Ambient where the author gave none.
pub fn default_ambient(engine_space: bool) -> Limit<Temperature> {
    Limit { value: Temperature::celsius(if engine_space { 50.0 } else { 30.0 }), source: "cfr33-183-425" }
}
/// What a bare strap counts as, and may reach while it works: 105 °C.
pub fn bare_strap() -> Limit<Temperature> {
    Limit { value: Temperature::celsius(105.0), source: "judgement" }
}

// Placement: along the conductor, from its source. The documents print inches; these are their metric figures, to the
// digits in which ABYC prints them beside the inches (1.02 m, 1.83 m), so that what a message names is what passes.

/// Bare or covered, from any source: 7 in, 178 mm (33 CFR 183.455(b)(1)).
pub fn placed_bare() -> Limit<Length> {
    Limit { value: Length::millimetres(178.0), source: "cfr33-183-455" }
}
/// Covered all the way, from another source than a battery, a tap's post among them: 40 in, 1.02 m (33 CFR
/// 183.455(b)(2); ABYC E-11 11.12.1.1.1, exception 2).
pub fn placed_covered() -> Limit<Length> {
    Limit { value: Length::metres(1.02), source: "cfr33-183-455" }
}
/// Covered all the way, from a battery: 72 in, 1.83 m (ABYC E-11 11.12.1.1.1, exception 1).
pub fn placed_from_battery() -> Limit<Length> {
    Limit { value: Length::metres(1.83), source: "abyc-e11-placement" }
}

// Rating and holding.

/// A device may be rated up to this share of its conductor's allowable current: 150 %. Between 100 and 150 %: query.
pub fn rating_over_allowable() -> Limit<Ratio> {
    Limit { value: Ratio::percent(150.0), source: "cfr33-183-455" }
}
/// A continuous load takes at most this share of its device's rating: 80 %.
pub fn continuous_share() -> Limit<Ratio> {
    Limit { value: Ratio::percent(80.0), source: "nec-210-20" }
}
/// What a run stands above its allowable current before the long-time fault check begins to bite: 145 %.
pub fn overload_share() -> Limit<Ratio> {
    Limit { value: Ratio::percent(145.0), source: "iec-60898-1" }
}

// Faults.

/// An alternator's output in a fault, for breaking capacity and until devices open, in times its rating.
pub const ALTERNATOR_FAULT_SHARE: Limit<f64> = Limit { value: 1.5, source: "judgement" };
/// What devices at a lithium battery must break when its maker says nothing.
pub fn lithium_breaking() -> Limit<Current> {
    Limit { value: Current::kiloamps(20.0), source: "judgement" }
}
/// The sweep of fault resistance: from nothing to this.
pub fn fault_sweep() -> Limit<Resistance> {
    Limit { value: Resistance::milliohms(20.0), source: "judgement" }
}
/// A fault in the sweep counts as cleared when it clears in this.
pub fn fault_sweep_time() -> Limit<Duration> {
    Limit { value: Duration::seconds(super::heat::ADIABATIC_SECONDS), source: "iec-60364-4-43" }
}
/// The weakest battery for opening times that query: this times its cranking resistance at 20 °C.
pub const WEAK_BATTERY_SHARE: Limit<f64> = Limit { value: 1.5, source: "judgement" };
/// An equipment's bond to structure: 2.5 mΩ (AC 43.13-1B 11-188 f). A joint over it is faulty.
pub fn bond() -> Limit<Resistance> {
    Limit { value: Resistance::milliohms(2.5), source: "ac43-13-1b-11-188" }
}
/// Battery switch: wanted on each bank whose cold-cranking current is over this (ABYC E-11 11.6.1.2).
pub fn isolator_wanted() -> Limit<Current> {
    Limit { value: Current::amps(800.0), source: "abyc-e11" }
}
