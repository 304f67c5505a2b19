//! The one place that turns a quantity into words.
//!
//! A figure is shown to the digits that somebody can act on, never to those that a float happens to have, with a
//! prefix that keeps it between 1 and 1000 where the trade uses one: volt drops stay in volts, cable sections in mm².
//! What is shown can be read back ([`super::read`]) and comes to the same figure within its last digit.

use super::*;

/// How a quantity is shown to people.
pub trait Show {
    /// In the metric system, with a sensible prefix and digits: "0.34 V", "4.9 m", "2.6 mΩ".
    fn show(self) -> String;
    /// In both systems where they differ: "4.9 m (16 ft 1 in)"; else the same as `show`.
    fn show_both(self) -> String;
}

/// A number to three significant digits, without trailing zeros, with U+2212 as its minus sign. Whole numbers are
/// never rounded: 1250 stays 1250.
pub fn number(value: f64) -> String {
    rounded(value, 3, 6)
}

/// A number to some significant digits but no more than `most` decimals; digits before the point always stand.
fn rounded(value: f64, significant: i32, most: i32) -> String {
    if value == 0.0 {
        return "0".into();
    }
    if !value.is_finite() {
        // Quantities are finite; a bare ratio of two of them need not be.
        return if value.is_nan() { "no figure".into() } else { "beyond measure".into() };
    }
    let magnitude = value.abs().log10().floor() as i32;
    let decimals = (significant - 1 - magnitude).clamp(0, most.max(0)) as usize;
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    if text.chars().all(|c| matches!(c, '-' | '0')) {
        return "0".into();
    }
    text.replace('-', "−")
}

/// A figure with its unit, the first of `steps` whose least it reaches: `(least, factor, symbol, significant digits,
/// most decimals)`. What a solver leaves of nothing is shown as nothing, in the unit `zero`.
fn stepped(si: f64, zero: &str, steps: &[(f64, f64, &str, i32, i32)]) -> String {
    let Some((last, _)) = steps.split_last() else { return number(si) };
    // A hair under a step rounds up to it.
    let size = si.abs() * (1.0 + 1e-9);
    let (_, factor, symbol, significant, decimals) = steps.iter().find(|step| size >= step.0).unwrap_or(last);
    match rounded(si / factor, *significant, *decimals).as_str() {
        "0" => format!("0 {zero}"),
        number => format!("{number} {symbol}"),
    }
}

macro_rules! metric_only {
    ($($name:ident, $zero:literal, [$($step:expr),* $(,)?]);* $(;)?) => { $(
        impl Show for $name {
            fn show(self) -> String {
                stepped(self.si(), $zero, &[$($step),*])
            }
            fn show_both(self) -> String { self.show() }
        }
    )* };
}

metric_only! {
    // A meter's volt range shows two decimals; drops under a tenth are read in millivolts.
    Voltage, "V", [(1e3, 1e3, "kV", 3, 3), (10.0, 1.0, "V", 4, 2), (0.1, 1.0, "V", 3, 3), (1e-4, 1e-3, "mV", 3, 3), (0.0, 1e-6, "µV", 3, 3)];
    Current, "A", [(1e3, 1e3, "kA", 3, 3), (1.0, 1.0, "A", 3, 3), (1e-3, 1e-3, "mA", 3, 3), (0.0, 1e-6, "µA", 3, 3)];
    Resistance, "Ω", [(1e6, 1e6, "MΩ", 3, 3), (1e3, 1e3, "kΩ", 3, 3), (1.0, 1.0, "Ω", 3, 3), (1e-5, 1e-3, "mΩ", 3, 4), (0.0, 1e-6, "µΩ", 3, 3)];
    Duration, "s", [(172_800.0, 86_400.0, "d", 3, 2), (3600.0, 3600.0, "h", 3, 2), (120.0, 60.0, "min", 3, 2), (1.0, 1.0, "s", 3, 2), (0.0, 1e-3, "ms", 3, 3)];
    Power, "W", [(1e3, 1e3, "kW", 3, 3), (1.0, 1.0, "W", 3, 3), (0.0, 1e-3, "mW", 3, 3)];
    Charge, "Ah", [(3600.0, 3600.0, "Ah", 3, 2), (0.0, 3.6, "mAh", 3, 3)];
    Ratio, "%", [(0.0, 0.01, "%", 3, 3)];
}

/// `metric (US)`.
fn both(metric: String, us: String) -> String {
    format!("{metric} ({us})")
}

impl Show for Length {
    fn show(self) -> String {
        let metres = self.in_metres();
        if metres == 0.0 {
            return "0 m".into();
        }
        // A cut list is worked from these: to the centimetre from a metre up, to the millimetre below.
        if metres.abs() < 0.9995 {
            format!("{} mm", rounded(metres * 1e3, 3, 3))
        } else {
            format!("{} m", rounded(metres, 9, 2))
        }
    }
    fn show_both(self) -> String {
        if self.si() == 0.0 {
            return self.show();
        }
        let sign = if self.si() < 0.0 { "−" } else { "" };
        let inches = self.in_inches().abs();
        // To the inch from a yard up, to a tenth of one below.
        let us = if inches < 36.0 {
            format!("{sign}{} in", rounded(inches, 3, if inches < 1.0 { 3 } else { 1 }))
        } else {
            let whole = inches.round();
            let (feet, left) = ((whole / 12.0).floor(), whole % 12.0);
            if left == 0.0 { format!("{sign}{feet} ft") } else { format!("{sign}{feet} ft {left} in") }
        };
        both(self.show(), us)
    }
}

impl Show for Area {
    fn show(self) -> String {
        // Conductors are told in mm², openings and plates in cm².
        stepped(self.si(), "cm²", &[(1.0, 1.0, "m²", 3, 3), (5e-4, 1e-4, "cm²", 3, 2), (0.0, 1e-6, "mm²", 3, 5)])
    }
    fn show_both(self) -> String {
        if self.si().abs() < 5e-4 {
            self.show()
        } else {
            both(self.show(), format!("{} in²", rounded(self.in_square_inches(), 3, 1)))
        }
    }
}

impl Show for Mass {
    fn show(self) -> String {
        stepped(self.si(), "kg", &[(1.0, 1.0, "kg", 3, 2), (0.0, 1e-3, "g", 3, 2)])
    }
    fn show_both(self) -> String {
        if self.si() == 0.0 {
            return self.show();
        }
        let pounds = self.in_pounds();
        both(self.show(), format!("{} lb", rounded(pounds, 3, if pounds.abs() < 10.0 { 2 } else { 0 })))
    }
}

impl Show for Force {
    fn show(self) -> String {
        stepped(self.si(), "N", &[(1e4, 1e3, "kN", 3, 2), (0.0, 1.0, "N", 3, 4)])
    }
    fn show_both(self) -> String {
        if self.si() == 0.0 {
            self.show()
        } else {
            both(self.show(), format!("{} lbf", rounded(self.in_pounds_force(), 3, 1)))
        }
    }
}

impl Show for Temperature {
    fn show(self) -> String {
        format!("{} °C", rounded(self.in_celsius(), 9, 1))
    }
    fn show_both(self) -> String {
        both(self.show(), format!("{} °F", rounded(self.in_fahrenheit(), 9, 0)))
    }
}

impl Show for TemperatureRise {
    fn show(self) -> String {
        format!("{} K", rounded(self.in_kelvins(), 9, 1))
    }
    fn show_both(self) -> String {
        both(self.show(), format!("{} °F", rounded(self.in_kelvins() * 1.8, 9, 0)))
    }
}

impl Show for CableSize {
    fn show(self) -> String {
        self.to_string()
    }
    /// With what may be bought in its place in the other system, never a worse conductor: "70 mm² (or 3/0 AWG)".
    fn show_both(self) -> String {
        match self.other_system() {
            Some(other) => format!("{self} (or {other})"),
            None => self.to_string(),
        }
    }
}

impl Show for ColdCranking {
    fn show(self) -> String {
        format!("{} {}", rounded(self.current.in_amps(), 3, 1) + " A", self.scale.word())
    }
    fn show_both(self) -> String {
        self.show()
    }
}

impl Show for Thread {
    fn show(self) -> String {
        self.to_string()
    }
    fn show_both(self) -> String {
        self.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_keep_the_digits_that_matter() {
        assert_eq!(number(1234.56), "1235");
        assert_eq!(number(0.123_456), "0.123");
        assert_eq!(number(-2.5), "−2.5");
        assert_eq!(number(-0.0), "0");
        assert_eq!(number(1e-12), "0");
        assert_eq!(number(150.0), "150");
    }

    #[test]
    fn prefixes_are_those_of_the_trade() {
        assert_eq!(Voltage::volts(0.343).show(), "0.343 V");
        assert_eq!(Voltage::volts(0.0343).show(), "34.3 mV");
        assert_eq!(Voltage::volts(12.456).show(), "12.46 V");
        assert_eq!(Voltage::volts(-0.5).show(), "−0.5 V");
        assert_eq!(Voltage::volts(1e-15).show(), "0 V");
        assert_eq!(Current::amps(869.6).show(), "870 A");
        assert_eq!(Current::amps(2472.0).show(), "2.47 kA");
        assert_eq!(Current::amps(0.02).show(), "20 mA");
        assert_eq!(Resistance::milliohms(0.05).show(), "0.05 mΩ");
        assert_eq!(Resistance::milliohms(2.56).show(), "2.56 mΩ");
        assert_eq!(Duration::milliseconds(100.0).show(), "100 ms");
        assert_eq!(Duration::seconds(90.0).show(), "90 s");
        assert_eq!(Duration::seconds(1800.0).show(), "30 min");
        assert_eq!(Duration::hours(100.0).show(), "4.17 d");
        assert_eq!(Area::mm2(70.0).show(), "70 mm²");
        assert_eq!(Area::cm2(20.0).show(), "20 cm²");
        assert_eq!(Length::metres(0.35).show(), "350 mm");
        assert_eq!(Length::metres(12.347).show(), "12.35 m");
        assert_eq!(Power::watts(2400.0).show(), "2.4 kW");
        assert_eq!(Ratio::percent(77.46).show(), "77.5 %");
        assert_eq!(Force::newtons(3923.0).show(), "3923 N");
        assert_eq!(Mass::zero().show_both(), "0 kg");
    }

    #[test]
    fn both_systems_stand_side_by_side_where_they_differ() {
        assert_eq!(Length::metres(4.9).show_both(), "4.9 m (16 ft 1 in)");
        assert_eq!(Length::feet(3.0).show_both(), "914 mm (3 ft)");
        assert_eq!(Length::millimetres(178.0).show_both(), "178 mm (7 in)");
        assert_eq!(Length::metres(-1.5).show_both(), "−1.5 m (−4 ft 11 in)");
        assert_eq!(Temperature::celsius(60.0).show_both(), "60 °C (140 °F)");
        assert_eq!(Temperature::celsius(-18.0).show_both(), "−18 °C (0 °F)");
        assert_eq!(TemperatureRise::kelvins(10.0).show_both(), "10 K (18 °F)");
        assert_eq!(Mass::kilograms(18.0).show_both(), "18 kg (40 lb)");
        assert_eq!(Area::cm2(20.0).show_both(), "20 cm² (3.1 in²)");
        assert_eq!(Area::mm2(70.0).show_both(), "70 mm²");
        assert_eq!(Force::newtons(400.0).show_both(), "400 N (89.9 lbf)");
        assert_eq!(Voltage::volts(12.0).show_both(), "12 V");
        assert_eq!(CableSize::Metric(70.0).show_both(), "70 mm² (or 3/0 AWG)");
        assert_eq!(CableSize::Metric(120.0).show_both(), "120 mm²");
        assert_eq!(CableSize::Awg(0).show_both(), "1/0 AWG (or 70 mm²)");
    }
}
