//! Reading what installers write.
//!
//! A quantity is a number, then a unit: `4.9 m`, `350mm`, `16 ft`, `4 ft 6 in`, `0.5 mΩ`. The unit is always written,
//! in the symbols of [`units`], case and all: `mV` is not `MV`. What is near a correct spelling is refused with the
//! correct one beside it rather than guessed at, since a decimal comma read as a thousands separator is a
//! thousandfold fault. So are figures that no vehicle or boat has ([`plausible`]): a cable of 4 km, a battery of 5000
//! V.

mod choices;
mod number;
pub mod plausible;
pub mod units;

use number::Numeral;
use plausible::Plausible;
use units::{Kind, Unit};

use super::{
    Area, Charge, Current, Duration, Force, Length, Mass, Power, Ratio, Resistance, Temperature, Voltage, show,
};

/// Why a text is not a quantity, in words for the author, with a way to write it.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadError {
    /// What is wrong: "`4.9` has no unit".
    pub message: String,
    /// How to write it: "write `4.9 m` or `4.9 ft`".
    pub remedy: String,
}

impl std::fmt::Display for ReadError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.message, self.remedy)
    }
}

impl std::error::Error for ReadError {}

/// A thing that is written as a number with a unit, or a choice from a series.
pub trait Readable: Sized {
    /// What it is called in messages: "length".
    const NOUN: &'static str;
    /// A correct way to write one: "4.9 m".
    const EXAMPLE: &'static str;
    /// Reads it, or says what is wrong. Never panics.
    fn read(text: &str) -> Result<Self, ReadError>;
}

/// What kind of quantity a text is, going by its unit alone; none when its unit is not known. The figure itself may
/// still be refused by [`Readable::read`].
pub fn kind_of(text: &str) -> Option<Kind> {
    let (_, rest) = number::split(clean(text));
    if let Some(unit) = units::exact(rest) {
        return Some(unit.kind);
    }
    let (first, more) = units::split(rest);
    let (_, second) = number::split(more);
    let unit = units::exact(first)?;
    (more.starts_with(|c: char| c.is_ascii_digit()) && units::exact(second)?.kind == unit.kind).then_some(unit.kind)
}

macro_rules! readable {
    ($($name:ident, $kind:ident, $example:literal);* $(;)?) => { $(
        impl Readable for $name {
            const NOUN: &'static str = Kind::$kind.noun();
            const EXAMPLE: &'static str = $example;
            fn read(text: &str) -> Result<Self, ReadError> {
                scalar(text, Kind::$kind, $example).map(Self::from_si)
            }
        }
    )* };
}

readable! {
    Voltage, Voltage, "14.4 V";
    Current, Current, "150 A";
    Resistance, Resistance, "0.5 mΩ";
    Length, Length, "4.9 m";
    Area, Area, "20 cm²";
    Duration, Duration, "10 s";
    Mass, Mass, "18 kg";
    Power, Power, "350 W";
    Charge, Charge, "60 Ah";
    Force, Force, "400 N";
    Ratio, Ratio, "135 %";
    Temperature, Temperature, "60 °C";
}

/// The text without space around it, of any width.
fn clean(text: &str) -> &str {
    text.trim_matches(|c: char| c.is_whitespace() || c == '\u{feff}')
}

/// The author's own text, shortened where somebody pasted a page.
fn quoted(text: &str) -> String {
    let mut short: String = text.chars().take(40).collect();
    if short.len() < text.len() {
        short.push('…');
    }
    format!("`{short}`")
}

fn fault(message: impl Into<String>, remedy: impl Into<String>) -> ReadError {
    ReadError { message: message.into(), remedy: remedy.into() }
}

/// "write `4.9 m` or `4.9 ft`".
fn write_one_of(ways: &[String]) -> String {
    let ways: Vec<String> = ways.iter().map(|way| format!("`{way}`")).collect();
    match ways.as_slice() {
        [] => "write it as the guide's key asks".into(),
        [one] => format!("write {one}"),
        [most @ .., last] => format!("write {} or {last}", most.join(", ")),
    }
}

/// A number with a unit of one kind, in SI.
fn scalar(written: &str, kind: Kind, example: &str) -> Result<f64, ReadError> {
    let text = clean(written);
    let example_remedy = || write_one_of(&[example.to_string()]);
    if text.is_empty() {
        return Err(fault(format!("nothing is written here; {} is needed", kind.with_article()), example_remedy()));
    }
    let (numeral, rest) = number::split(text);
    let numeral = match numeral {
        Numeral::Good(digits) => digits,
        Numeral::Missing => {
            return Err(match units::exact(rest).or_else(|| units::near(rest, kind)) {
                Some(unit) => fault(
                    format!("{} has a unit and no number", quoted(text)),
                    format!("write the number before the unit, as `{example}` ({})", unit.symbol),
                ),
                None => fault(format!("{} is not {}", quoted(text), kind.with_article()), example_remedy()),
            });
        }
        Numeral::Bad { why, meant } => {
            // The author sees their own figure, set right, with the unit they wrote or one that would do.
            let symbols = match units::exact(rest).or_else(|| units::near(rest, kind)) {
                Some(unit) if unit.kind == kind => vec![unit.symbol],
                _ => vec![kind.usual_symbol()],
            };
            let ways: Vec<String> =
                meant.iter().flat_map(|number| symbols.iter().map(move |symbol| join(number, symbol))).collect();
            let remedy = if ways.is_empty() { example_remedy() } else { write_one_of(&ways) };
            return Err(fault(format!("{} {why}", quoted(text)), remedy));
        }
    };
    let limits = plausible::of(kind);
    let value: f64 = numeral.parse().unwrap_or(f64::NAN);
    if rest.is_empty() {
        return Err(no_unit(text, &numeral, value, kind, &limits));
    }
    if let Some(unit) = units::exact(rest) {
        if unit.kind != kind {
            return Err(wrong_kind(text, &numeral, unit, kind, example));
        }
        return within(text, unit.to_si(value), &numeral, unit, kind, &limits, example);
    }
    let (first, more) = units::split(rest);
    if units::exact(first).is_some_and(|unit| unit.kind == kind) && more.starts_with(|c: char| c.is_ascii_digit()) {
        return compound(text, kind, example, &limits);
    }
    Err(match units::near(rest, kind) {
        Some(unit) if unit.kind == kind => fault(
            format!("`{}` is not how {} is written", rest, kind.unit_phrase()),
            write_one_of(&[join(&numeral, unit.symbol)]),
        ),
        Some(unit) => wrong_kind(text, &numeral, unit, kind, example),
        None => fault(
            format!("`{}` is not a unit of {}", quoted(rest).trim_matches('`'), kind.noun()),
            format!("write one of {}, as `{example}`", units::offered(kind)),
        ),
    })
}

/// The number and the symbol as they are written together.
fn join(number: &str, symbol: &str) -> String {
    format!("{} {symbol}", number.replace('-', "−"))
}

fn no_unit(text: &str, numeral: &str, value: f64, kind: Kind, limits: &Plausible) -> ReadError {
    let mut ways: Vec<String> = Vec::new();
    if kind == Kind::Ratio && value > 0.0 && value <= 1.5 {
        ways.push(join(&show::number(value * 100.0), "%"));
    }
    ways.extend(
        units::offered_units(kind)
            .filter(|unit| limits.holds(unit.to_si(value)))
            .take(2)
            .map(|unit| join(numeral, unit.symbol)),
    );
    ways.truncate(2);
    if ways.is_empty() {
        ways.push(join(numeral, kind.usual_symbol()));
    }
    fault(format!("{} has no unit; {} is needed", quoted(text), kind.with_article()), write_one_of(&ways))
}

fn wrong_kind(text: &str, numeral: &str, unit: &Unit, kind: Kind, example: &str) -> ReadError {
    let message = format!("{} is {}; {} is needed", quoted(text), unit.kind.with_article(), kind.with_article());
    let remedy = match (kind, unit.kind) {
        (Kind::Charge, Kind::Energy) => {
            format!("divide the watt-hours by the battery's voltage and write {}, as `{example}`", kind.with_article())
        }
        (Kind::Area, Kind::Length) if matches!(unit.symbol, "mm" | "cm" | "m" | "in" | "ft") => {
            format!("write {}, as `{}`", kind.with_article(), join(numeral, &format!("{}²", unit.symbol)))
        }
        _ => format!("write {}, as `{example}`", kind.with_article()),
    };
    fault(message, remedy)
}

fn within(
    text: &str,
    si: f64,
    numeral: &str,
    unit: &Unit,
    kind: Kind,
    limits: &Plausible,
    example: &str,
) -> Result<f64, ReadError> {
    if limits.holds(si) {
        return Ok(si);
    }
    let text = quoted(text);
    let check = |bound: f64, word: &str| {
        format!(
            "check the figure and its unit: {} {word} {} is read, as `{example}`",
            kind.with_article(),
            kind.shown(bound)
        )
    };
    Err(if kind != Kind::Temperature && numeral.starts_with('-') && si != 0.0 {
        fault(
            format!("{text} is negative; {} is never under nothing", kind.with_article()),
            write_one_of(&[join(numeral.trim_start_matches('-'), unit.symbol)]),
        )
    } else if si == 0.0 && kind != Kind::Temperature {
        fault(format!("{text} is nothing at all"), format!("write what it is, as `{example}`, or leave the key out"))
    } else if si < limits.least {
        fault(format!("{text} is less than {}", limits.scene), check(limits.least, "from"))
    } else {
        fault(format!("{text} is more than {}", limits.scene), check(limits.most, "up to"))
    })
}

/// Feet with inches, hours with minutes: each unit smaller than the one before it, and only the last with a fraction.
fn compound(text: &str, kind: Kind, example: &str, limits: &Plausible) -> Result<f64, ReadError> {
    let how = match kind {
        Kind::Length => "4 ft 6 in",
        Kind::Duration => "1 h 30 min",
        _ => example,
    };
    let refuse = |why: String| fault(format!("{} {why}", quoted(text)), format!("write `{how}` or `{example}`"));
    let pairs_with = |larger: &Unit, smaller: &Unit| match kind {
        Kind::Length => larger.symbol == "ft" && smaller.symbol == "in",
        Kind::Duration => larger.si > smaller.si,
        _ => false,
    };
    let mut total = 0.0;
    let mut before: Option<&Unit> = None;
    let mut left = text;
    while !left.is_empty() {
        let (numeral, rest) = number::split(left);
        let Numeral::Good(numeral) = numeral else {
            return Err(refuse("gives two figures in a way that cannot be read".into()));
        };
        let (symbol, more) = units::split(rest);
        let Some(unit) = units::exact(symbol).filter(|unit| unit.kind == kind) else {
            return Err(refuse(if symbol.is_empty() {
                "ends in a number without a unit".into()
            } else {
                format!("has `{symbol}`, which is not a unit of {}", kind.noun())
            }));
        };
        let value: f64 = numeral.parse().unwrap_or(f64::NAN);
        if let Some(larger) = before {
            if !pairs_with(larger, unit) {
                return Err(refuse(format!(
                    "has `{}` after `{}`; they do not add up to one figure",
                    unit.symbol, larger.symbol
                )));
            }
            if numeral.starts_with('-') || unit.to_si(value) >= larger.si {
                return Err(refuse(format!(
                    "has {} {} after the {}, which is not less than one of them",
                    show::number(value),
                    unit.symbol,
                    larger.symbol
                )));
            }
        }
        if !more.is_empty() && (numeral.contains('.') || numeral.starts_with('-')) {
            return Err(refuse("has a fraction or a minus before its last figure".into()));
        }
        total += unit.to_si(value);
        before = Some(unit);
        left = more;
    }
    match before {
        Some(unit) => within(text, total, "", unit, kind, limits, example),
        None => Err(refuse("cannot be read".into())),
    }
}

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

#[cfg(test)]
mod tests;
