//! The one place that turns a quantity into words.

use super::*;

/// How a quantity is shown to people.
pub trait Show {
    /// In the metric system, with a sensible prefix and digits: "0.34 V", "4.9 m", "2.6 mΩ".
    fn show(self) -> String;
    /// In both systems where they differ: "4.9 m (16 ft 1 in)"; else the same as `show`.
    fn show_both(self) -> String;
}

/// A number to three significant digits, without trailing zeros, with U+2212 as its minus sign.
pub fn number(value: f64) -> String {
    let digits = if value == 0.0 { 0 } else { (2 - value.abs().log10().floor() as i32).clamp(0, 6) as usize };
    let text = format!("{value:.digits$}");
    let text = if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    text.replace('-', "−")
}

macro_rules! show {
    ($($name:ident, $get:ident, $unit:literal);*) => { $(
        impl Show for $name {
            fn show(self) -> String { format!("{} {}", number(self.$get()), $unit) }
            fn show_both(self) -> String { self.show() }
        }
    )* };
}

show!(Voltage, in_volts, "V"; Current, in_amps, "A"; Resistance, in_milliohms, "mΩ"; Length, in_metres, "m";
    Area, in_mm2, "mm²"; Duration, in_seconds, "s"; Mass, in_kilograms, "kg"; Power, in_watts, "W";
    Charge, in_amp_hours, "Ah"; Force, in_newtons, "N"; Temperature, in_celsius, "°C";
    TemperatureRise, in_kelvins, "K"; Ratio, in_percent, "%");

impl Show for CableSize {
    fn show(self) -> String {
        self.to_string()
    }
    fn show_both(self) -> String {
        self.to_string()
    }
}
