//! Reading what installers write.

use super::*;

/// Why a text is not a quantity, in words for the author, with a way to write it.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadError {
    /// What is wrong: "`4.9` has no unit".
    pub message: String,
    /// How to write it: "write `4.9 m` or `16 ft`".
    pub remedy: String,
}

/// A thing that is written as a number with a unit, or a choice from a series.
pub trait Readable: Sized {
    /// What it is called in messages: "length".
    const NOUN: &'static str;
    /// A correct way to write one: "4.9 m".
    const EXAMPLE: &'static str;
    /// Reads it, or says what is wrong. Never panics.
    fn read(text: &str) -> Result<Self, ReadError>;
}

macro_rules! readable {
    ($name:ident, $noun:literal, $example:literal, [$(($symbol:literal, $unit:ident)),*]) => {
        impl Readable for $name {
            const NOUN: &'static str = $noun;
            const EXAMPLE: &'static str = $example;
            fn read(text: &str) -> Result<Self, ReadError> {
                let text = text.trim();
                let split = text.find(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-' || c == '−')).unwrap_or(text.len());
                let (number, unit) = text.split_at(split);
                let number: f64 = number.replace('−', "-").parse().map_err(|_| ReadError { message: format!("`{text}` is not a {}", $noun), remedy: format!("write `{}`", $example) })?;
                match unit.trim() {
                    $($symbol => Ok(Self::$unit(number)),)*
                    _ => Err(ReadError { message: format!("`{text}` is not a {}", $noun), remedy: format!("write `{}`", $example) }),
                }
            }
        }
    };
}

readable!(Voltage, "voltage", "14.4 V", [("V", volts), ("mV", millivolts)]);
readable!(Current, "current", "150 A", [("A", amps), ("kA", kiloamps)]);
readable!(Resistance, "resistance", "0.5 mΩ", [("Ω", ohms), ("ohm", ohms), ("mΩ", milliohms), ("mohm", milliohms)]);
readable!(Length, "length", "4.9 m", [("m", metres), ("mm", millimetres), ("ft", feet), ("in", inches)]);
readable!(Area, "area", "20 cm²", [("cm²", cm2), ("cm2", cm2), ("mm²", mm2), ("mm2", mm2)]);
readable!(
    Duration,
    "time",
    "10 s",
    [("s", seconds), ("ms", milliseconds), ("min", minutes), ("h", hours), ("d", days)]
);
readable!(Mass, "mass", "18 kg", [("kg", kilograms), ("lb", pounds)]);
readable!(Power, "power", "350 W", [("W", watts), ("kW", kilowatts)]);
readable!(Charge, "capacity", "60 Ah", [("Ah", amp_hours)]);
readable!(Ratio, "percentage", "135 %", [("%", percent)]);
readable!(Temperature, "temperature", "60 °C", [("°C", celsius), ("°F", fahrenheit)]);

impl Duration {
    /// From milliseconds.
    pub fn milliseconds(value: f64) -> Self {
        Self::seconds(value * 1e-3)
    }
    /// From days.
    pub fn days(value: f64) -> Self {
        Self::hours(value * 24.0)
    }
}

impl Readable for CableSize {
    const NOUN: &'static str = "cable size";
    const EXAMPLE: &'static str = "50 mm²";
    fn read(text: &str) -> Result<Self, ReadError> {
        let wrong = || ReadError {
            message: format!("`{text}` is not a cable size"),
            remedy: "write `50 mm²` or `1/0 AWG`".into(),
        };
        let text = text.trim();
        if let Some(gauge) = text.strip_suffix("AWG") {
            let gauge = gauge.trim();
            return match gauge.strip_suffix("/0") {
                Some(zeros) => zeros.parse::<i8>().map(|z| CableSize::Awg(1 - z)).map_err(|_| wrong()),
                None => gauge.parse().map(CableSize::Awg).map_err(|_| wrong()),
            };
        }
        let number = text.strip_suffix("mm²").or_else(|| text.strip_suffix("mm2")).ok_or_else(wrong)?;
        number.trim().parse().map(CableSize::Metric).map_err(|_| wrong())
    }
}

impl Readable for ColdCranking {
    const NOUN: &'static str = "cold-cranking current";
    const EXAMPLE: &'static str = "640 A EN";
    fn read(text: &str) -> Result<Self, ReadError> {
        let (amps, scale) = match text.trim().rsplit_once(' ') {
            Some((amps, "EN")) => (amps, CrankingScale::En),
            Some((amps, "DIN")) => (amps, CrankingScale::Din),
            Some((amps, "SAE")) => (amps, CrankingScale::Sae),
            _ => (text, CrankingScale::Sae),
        };
        Ok(ColdCranking { current: Current::read(amps)?, scale })
    }
}

impl Readable for Thread {
    const NOUN: &'static str = "thread";
    const EXAMPLE: &'static str = "M8";
    fn read(text: &str) -> Result<Self, ReadError> {
        text.trim()
            .strip_prefix('M')
            .and_then(|d| d.parse().ok())
            .map(Thread)
            .ok_or_else(|| ReadError { message: format!("`{text}` is not a thread"), remedy: "write `M8`".into() })
    }
}
