//! The units that are read, and the spellings that are nearly units.

use std::borrow::Cow;

use crate::quantity::{
    Area, Charge, Current, Duration, Force, Length, Mass, Power, Ratio, Resistance, Show, Temperature, Voltage,
    ZERO_CELSIUS_K, show,
};

/// What a unit measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Volts.
    Voltage,
    /// Amperes.
    Current,
    /// Ohms.
    Resistance,
    /// Metres, feet.
    Length,
    /// Square millimetres, square inches: also a metric cable size.
    Area,
    /// Seconds, hours.
    Duration,
    /// Kilograms, pounds.
    Mass,
    /// Watts.
    Power,
    /// Ampere-hours.
    Charge,
    /// Watt-hours: recognised, so that a message can say what to do.
    Energy,
    /// Newtons, pounds-force.
    Force,
    /// Newton metres: recognised, so that a message can say what it is.
    Torque,
    /// Degrees.
    Temperature,
    /// Percent.
    Ratio,
    /// American wire gauge.
    Gauge,
}

impl Kind {
    /// What it is called in messages.
    pub const fn noun(self) -> &'static str {
        match self {
            Kind::Voltage => "voltage",
            Kind::Current => "current",
            Kind::Resistance => "resistance",
            Kind::Length => "length",
            Kind::Area => "area",
            Kind::Duration => "time",
            Kind::Mass => "mass",
            Kind::Power => "power",
            Kind::Charge => "capacity",
            Kind::Energy => "energy",
            Kind::Force => "force",
            Kind::Torque => "torque",
            Kind::Temperature => "temperature",
            Kind::Ratio => "percentage",
            Kind::Gauge => "wire gauge",
        }
    }

    /// The same with its article.
    pub(super) fn with_article(self) -> &'static str {
        match self {
            Kind::Voltage => "a voltage",
            Kind::Current => "a current",
            Kind::Resistance => "a resistance",
            Kind::Length => "a length",
            Kind::Area => "an area",
            Kind::Duration => "a time",
            Kind::Mass => "a mass",
            Kind::Power => "a power",
            Kind::Charge => "a capacity in ampere-hours",
            Kind::Energy => "an energy",
            Kind::Force => "a force",
            Kind::Torque => "a torque",
            Kind::Temperature => "a temperature",
            Kind::Ratio => "a percentage",
            Kind::Gauge => "a wire gauge",
        }
    }

    /// For "is not how … is written".
    pub(super) fn unit_phrase(self) -> String {
        format!("a unit of {}", self.noun())
    }

    /// The unit that most authors would write.
    pub(super) fn usual_symbol(self) -> &'static str {
        UNITS.iter().find(|unit| unit.kind == self && unit.offered).map_or("", |unit| unit.symbol)
    }

    /// A figure in SI in words.
    pub(super) fn shown(self, si: f64) -> String {
        match self {
            Kind::Voltage => Voltage::from_si(si).show(),
            Kind::Current => Current::from_si(si).show(),
            Kind::Resistance => Resistance::from_si(si).show(),
            Kind::Length => Length::from_si(si).show_both(),
            Kind::Area => Area::from_si(si).show_both(),
            Kind::Duration => Duration::from_si(si).show(),
            Kind::Mass => Mass::from_si(si).show_both(),
            Kind::Power => Power::from_si(si).show(),
            Kind::Charge => Charge::from_si(si).show(),
            Kind::Force => Force::from_si(si).show_both(),
            Kind::Temperature => Temperature::from_si(si).show_both(),
            Kind::Ratio => Ratio::from_si(si).show(),
            Kind::Energy | Kind::Torque | Kind::Gauge => show::number(si),
        }
    }
}

/// One unit.
#[derive(Clone, Copy, Debug)]
pub struct Unit {
    /// As it is written and shown.
    pub symbol: &'static str,
    /// What it measures.
    pub kind: Kind,
    /// How much of SI it is.
    pub si: f64,
    /// What to add after that: only temperatures have it.
    pub offset: f64,
    /// Whether messages offer it.
    pub offered: bool,
}

impl Unit {
    /// A number in this unit, in SI. Not finite when the number is not.
    pub fn to_si(&self, value: f64) -> f64 {
        value * self.si + self.offset
    }
}

const fn unit(symbol: &'static str, kind: Kind, si: f64) -> Unit {
    Unit { symbol, kind, si, offset: 0.0, offered: true }
}

/// Recognised and read, but not offered: a second spelling, or a size that belongs elsewhere.
const fn quiet(symbol: &'static str, kind: Kind, si: f64) -> Unit {
    Unit { symbol, kind, si, offset: 0.0, offered: false }
}

const INCH: f64 = 0.0254;
const FOOT: f64 = 0.3048;
const POUND: f64 = 0.453_592_37;

/// Every unit, in the order in which messages offer them.
pub const UNITS: &[Unit] = &[
    unit("V", Kind::Voltage, 1.0),
    unit("mV", Kind::Voltage, 1e-3),
    quiet("µV", Kind::Voltage, 1e-6),
    quiet("uV", Kind::Voltage, 1e-6),
    quiet("kV", Kind::Voltage, 1e3),
    unit("A", Kind::Current, 1.0),
    unit("kA", Kind::Current, 1e3),
    unit("mA", Kind::Current, 1e-3),
    quiet("µA", Kind::Current, 1e-6),
    quiet("uA", Kind::Current, 1e-6),
    unit("mΩ", Kind::Resistance, 1e-3),
    unit("Ω", Kind::Resistance, 1.0),
    unit("µΩ", Kind::Resistance, 1e-6),
    quiet("uΩ", Kind::Resistance, 1e-6),
    quiet("kΩ", Kind::Resistance, 1e3),
    quiet("MΩ", Kind::Resistance, 1e6),
    unit("mohm", Kind::Resistance, 1e-3),
    unit("ohm", Kind::Resistance, 1.0),
    quiet("µohm", Kind::Resistance, 1e-6),
    quiet("uohm", Kind::Resistance, 1e-6),
    quiet("kohm", Kind::Resistance, 1e3),
    unit("m", Kind::Length, 1.0),
    unit("ft", Kind::Length, FOOT),
    unit("mm", Kind::Length, 1e-3),
    unit("in", Kind::Length, INCH),
    unit("cm", Kind::Length, 1e-2),
    quiet("km", Kind::Length, 1e3),
    unit("cm²", Kind::Area, 1e-4),
    unit("mm²", Kind::Area, 1e-6),
    unit("in²", Kind::Area, INCH * INCH),
    unit("m²", Kind::Area, 1.0),
    quiet("ft²", Kind::Area, FOOT * FOOT),
    quiet("cm2", Kind::Area, 1e-4),
    quiet("mm2", Kind::Area, 1e-6),
    quiet("in2", Kind::Area, INCH * INCH),
    quiet("m2", Kind::Area, 1.0),
    quiet("ft2", Kind::Area, FOOT * FOOT),
    quiet("sq in", Kind::Area, INCH * INCH),
    quiet("sq ft", Kind::Area, FOOT * FOOT),
    unit("s", Kind::Duration, 1.0),
    unit("min", Kind::Duration, 60.0),
    unit("h", Kind::Duration, 3600.0),
    unit("ms", Kind::Duration, 1e-3),
    unit("d", Kind::Duration, 86_400.0),
    quiet("day", Kind::Duration, 86_400.0),
    quiet("days", Kind::Duration, 86_400.0),
    quiet("µs", Kind::Duration, 1e-6),
    quiet("us", Kind::Duration, 1e-6),
    unit("kg", Kind::Mass, 1.0),
    unit("lb", Kind::Mass, POUND),
    unit("g", Kind::Mass, 1e-3),
    quiet("oz", Kind::Mass, POUND / 16.0),
    quiet("t", Kind::Mass, 1e3),
    unit("W", Kind::Power, 1.0),
    unit("kW", Kind::Power, 1e3),
    quiet("mW", Kind::Power, 1e-3),
    quiet("hp", Kind::Power, 745.699_871_582_270_2),
    unit("Ah", Kind::Charge, 3600.0),
    quiet("mAh", Kind::Charge, 3.6),
    quiet("Wh", Kind::Energy, 3600.0),
    quiet("kWh", Kind::Energy, 3.6e6),
    quiet("J", Kind::Energy, 1.0),
    unit("N", Kind::Force, 1.0),
    unit("lbf", Kind::Force, 4.448_221_615_260_5),
    quiet("kN", Kind::Force, 1e3),
    quiet("N m", Kind::Torque, 1.0),
    quiet("Nm", Kind::Torque, 1.0),
    Unit { symbol: "°C", kind: Kind::Temperature, si: 1.0, offset: ZERO_CELSIUS_K, offered: true },
    Unit { symbol: "°F", kind: Kind::Temperature, si: 1.0 / 1.8, offset: ZERO_CELSIUS_K - 32.0 / 1.8, offered: true },
    unit("%", Kind::Ratio, 0.01),
    quiet("AWG", Kind::Gauge, 1.0),
];

/// Spellings that are nearly a unit, in lower case, with the symbol that is meant.
const NEARLY: &[(&str, &str)] = &[
    ("volt", "V"),
    ("volts", "V"),
    ("vdc", "V"),
    ("v dc", "V"),
    ("millivolts", "mV"),
    ("amp", "A"),
    ("amps", "A"),
    ("ampere", "A"),
    ("amperes", "A"),
    ("adc", "A"),
    ("milliamps", "mA"),
    ("ohms", "Ω"),
    ("milliohm", "mΩ"),
    ("milliohms", "mΩ"),
    ("mohms", "mΩ"),
    ("microohm", "µΩ"),
    ("microohms", "µΩ"),
    ("r", "Ω"),
    ("metre", "m"),
    ("metres", "m"),
    ("meter", "m"),
    ("meters", "m"),
    ("mtr", "m"),
    ("mtrs", "m"),
    ("centimetre", "cm"),
    ("centimetres", "cm"),
    ("centimeter", "cm"),
    ("centimeters", "cm"),
    ("millimetre", "mm"),
    ("millimetres", "mm"),
    ("millimeter", "mm"),
    ("millimeters", "mm"),
    ("foot", "ft"),
    ("feet", "ft"),
    ("'", "ft"),
    ("’", "ft"),
    ("′", "ft"),
    ("inch", "in"),
    ("inches", "in"),
    ("\"", "in"),
    ("”", "in"),
    ("″", "in"),
    ("''", "in"),
    ("mm^2", "mm²"),
    ("mm 2", "mm²"),
    ("sqmm", "mm²"),
    ("sq mm", "mm²"),
    ("mm sq", "mm²"),
    ("square mm", "mm²"),
    ("square millimetres", "mm²"),
    ("square millimeters", "mm²"),
    ("qmm", "mm²"),
    ("mmq", "mm²"),
    ("cm^2", "cm²"),
    ("sqcm", "cm²"),
    ("sq cm", "cm²"),
    ("square cm", "cm²"),
    ("square centimetres", "cm²"),
    ("square centimeters", "cm²"),
    ("in^2", "in²"),
    ("sqin", "in²"),
    ("sq. in.", "in²"),
    ("square in", "in²"),
    ("square inch", "in²"),
    ("square inches", "in²"),
    ("m^2", "m²"),
    ("sec", "s"),
    ("secs", "s"),
    ("second", "s"),
    ("seconds", "s"),
    ("mins", "min"),
    ("minute", "min"),
    ("minutes", "min"),
    ("hr", "h"),
    ("hrs", "h"),
    ("hour", "h"),
    ("hours", "h"),
    ("msec", "ms"),
    ("millisecond", "ms"),
    ("milliseconds", "ms"),
    ("kgs", "kg"),
    ("kilo", "kg"),
    ("kilos", "kg"),
    ("kilogram", "kg"),
    ("kilograms", "kg"),
    ("lbs", "lb"),
    ("pound", "lb"),
    ("pounds", "lb"),
    ("grams", "g"),
    ("watt", "W"),
    ("watts", "W"),
    ("kilowatts", "kW"),
    ("amp-hour", "Ah"),
    ("amp-hours", "Ah"),
    ("amp hour", "Ah"),
    ("amp hours", "Ah"),
    ("ampere-hours", "Ah"),
    ("ampere hours", "Ah"),
    ("a h", "Ah"),
    ("a·h", "Ah"),
    ("a-h", "Ah"),
    ("watt-hours", "Wh"),
    ("watt hours", "Wh"),
    ("percent", "%"),
    ("per cent", "%"),
    ("c", "°C"),
    ("degc", "°C"),
    ("deg c", "°C"),
    ("deg. c", "°C"),
    ("degrees c", "°C"),
    ("degrees celsius", "°C"),
    ("celsius", "°C"),
    ("° c", "°C"),
    ("f", "°F"),
    ("degf", "°F"),
    ("deg f", "°F"),
    ("degrees f", "°F"),
    ("degrees fahrenheit", "°F"),
    ("fahrenheit", "°F"),
    ("° f", "°F"),
    ("°", "°C"),
    ("gauge", "AWG"),
    ("ga", "AWG"),
    ("ga.", "AWG"),
];

/// One spelling for characters that look alike: two ohm signs, two micro signs, three degree signs, squared and `2`.
fn alike(text: &str) -> Cow<'_, str> {
    if text.is_ascii() {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\u{2126}' => out.push('Ω'),
            '\u{03bc}' => out.push('µ'),
            '\u{00ba}' | '\u{02da}' => out.push('°'),
            '\u{2103}' => out.push_str("°C"),
            '\u{2109}' => out.push_str("°F"),
            '\u{33a1}' => out.push_str("m²"),
            '\u{339f}' => out.push_str("mm²"),
            '\u{33a0}' => out.push_str("cm²"),
            c if c.is_whitespace() => out.push(' '),
            c => out.push(c),
        }
    }
    Cow::Owned(out)
}

/// The unit with this symbol.
pub fn exact(symbol: &str) -> Option<&'static Unit> {
    let symbol = alike(symbol.trim());
    UNITS.iter().find(|unit| unit.symbol == symbol)
}

/// The unit that a text nearly is, one of `kind` before others.
pub(super) fn near(text: &str, kind: Kind) -> Option<&'static Unit> {
    let text = alike(text.trim()).to_lowercase();
    let text = text.strip_suffix('.').unwrap_or(&text);
    let mut found = None;
    let spelt = NEARLY.iter().filter(|(nearly, _)| *nearly == text).filter_map(|(_, symbol)| exact(symbol));
    for unit in UNITS.iter().filter(|unit| unit.symbol.to_lowercase() == text).chain(spelt) {
        if unit.kind == kind {
            return Some(unit);
        }
        found = found.or(Some(unit));
    }
    found
}

/// Splits a unit from the front of a text: letters and signs up to a space or a digit, and `2` where it squares.
pub(super) fn split(text: &str) -> (&str, &str) {
    let text = text.trim_start();
    let end = text.find(|c: char| c.is_whitespace() || c.is_ascii_digit()).unwrap_or(text.len());
    let (unit, rest) = text.split_at(end);
    (unit, rest.trim_start())
}

/// The units that messages offer for a kind.
pub(super) fn offered_units(kind: Kind) -> impl Iterator<Item = &'static Unit> {
    UNITS.iter().filter(move |unit| unit.kind == kind && unit.offered)
}

/// The symbols that messages offer for a kind.
pub(super) fn offered(kind: Kind) -> String {
    offered_units(kind).map(|unit| unit.symbol).collect::<Vec<_>>().join(", ")
}
