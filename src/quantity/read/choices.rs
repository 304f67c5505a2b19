//! Cable sizes, cold-cranking figures and threads.

use super::number::{self, Numeral};
use super::units::{self, Kind};
use super::{ReadError, Readable, clean, fault, plausible, quoted, write_one_of};
use crate::quantity::size::{INCH_THREADS, METRIC_THREADS};
use crate::quantity::{CableSize, ColdCranking, CrankingScale, Current, Thread};

impl Readable for CableSize {
    const NOUN: &'static str = "cable size";
    const EXAMPLE: &'static str = "50 mm²";
    fn read(text: &str) -> Result<Self, ReadError> {
        let text = clean(text);
        if text.is_empty() {
            return Err(fault("nothing is written here; a cable size is needed", "write `50 mm²` or `1/0 AWG`"));
        }
        if let Some(front) = text.strip_suffix("AWG") {
            return awg(text, front.trim_end());
        }
        if let Some(found) = nearly_awg(text) {
            return Err(fault(
                format!("{} is not how a gauge is written", quoted(text)),
                write_one_of(&[found.to_string()]),
            ));
        }
        let (numeral, rest) = number::split(text);
        let known = units::exact(rest);
        let square = known.filter(|unit| unit.symbol == "mm²" || unit.symbol == "mm2").is_some();
        let size = |digits: &str| digits.parse::<f64>().unwrap_or(f64::NAN);
        match numeral {
            Numeral::Good(digits) if square => {
                if plausible::METRIC_SIZE.holds(size(&digits)) {
                    return Ok(CableSize::Metric(size(&digits)));
                }
                Err(fault(
                    format!("{} is no cable size of a vehicle or a boat", quoted(text)),
                    "write a size from 0.1 mm² to 400 mm², as `50 mm²`",
                ))
            }
            Numeral::Good(digits) if rest.is_empty() => {
                let mut ways = vec![format!("{digits} mm²")];
                ways.extend(gauge(&digits).map(|gauge| gauge.to_string()));
                Err(fault(format!("{} has no unit; a cable size is needed", quoted(text)), write_one_of(&ways)))
            }
            Numeral::Good(digits) => Err(match known.or_else(|| units::near(rest, Kind::Area)) {
                Some(unit) if unit.kind == Kind::Area || unit.symbol == "mm" => fault(
                    if unit.kind == Kind::Area {
                        format!("`{rest}` is not how a cable's section is written")
                    } else {
                        format!("{} is a length; a cable size is a section", quoted(text))
                    },
                    if unit.symbol.starts_with("mm") {
                        write_one_of(&[format!("{digits} mm²")])
                    } else {
                        "write it in mm² or as a gauge: `50 mm²` or `1/0 AWG`".into()
                    },
                ),
                Some(unit) => fault(
                    format!("{} is {}; a cable size is needed", quoted(text), unit.kind.with_article()),
                    "write `50 mm²` or `1/0 AWG`",
                ),
                None => not_a_size(text),
            }),
            Numeral::Bad { why, meant } => {
                let area = known.or_else(|| units::near(rest, Kind::Area)).is_some_and(|unit| unit.kind == Kind::Area);
                let ways: Vec<String> = meant.iter().filter(|_| area).map(|number| format!("{number} mm²")).collect();
                Err(if ways.is_empty() {
                    not_a_size(text)
                } else {
                    fault(format!("{} {why}", quoted(text)), write_one_of(&ways))
                })
            }
            Numeral::Missing => Err(not_a_size(text)),
        }
    }
}

fn not_a_size(text: &str) -> ReadError {
    fault(format!("{} is not a cable size", quoted(text)), "write `50 mm²` or `1/0 AWG`")
}

/// What stands before `AWG`.
fn awg(text: &str, front: &str) -> Result<CableSize, ReadError> {
    match gauge(front) {
        // `0` and `00` are 1/0 and 2/0, but the one spelling keeps a slipped key from turning 10 into 1/0.
        Some(size) if front.starts_with('0') => {
            Err(fault(format!("{} is not how that gauge is written", quoted(text)), write_one_of(&[size.to_string()])))
        }
        Some(size) => Ok(size),
        None => Err(fault(
            format!("{} is not an American wire gauge", quoted(text)),
            "write a gauge from `24 AWG` to `4/0 AWG`; small sizes are the large numbers, `1/0 AWG` is one larger than `1 AWG`",
        )),
    }
}

/// A gauge's number: `4`, `1/0`, `00`. None outside 24 to 4/0.
fn gauge(text: &str) -> Option<CableSize> {
    let digits = |text: &str| !text.is_empty() && text.len() <= 4 && text.bytes().all(|b| b.is_ascii_digit());
    let number: i8 = match text.split_once('/') {
        Some((zeros, "0")) if digits(zeros.trim_end()) => {
            1i8.checked_sub(zeros.trim_end().parse::<i8>().ok().filter(|z| *z > 0)?)?
        }
        Some(_) => return None,
        None if digits(text) && text.bytes().all(|b| b == b'0') => 1 - i8::try_from(text.len()).ok()?,
        None if digits(text) && !text.starts_with('0') => text.parse().ok()?,
        None => return None,
    };
    plausible::GAUGES.contains(&number).then_some(CableSize::Awg(number))
}

/// `AWG 4`, `4 awg`, `4 ga`, `#4`, `4 gauge`.
fn nearly_awg(text: &str) -> Option<CableSize> {
    let lower = text.to_ascii_lowercase();
    let front = ["awg", "gauge", "ga.", "ga"]
        .iter()
        .find_map(|word| lower.strip_suffix(word))
        .or_else(|| lower.strip_prefix("awg"))
        .or_else(|| lower.strip_prefix('#'))
        .or_else(|| Some(lower.as_str()).filter(|t| t.contains("/0")))?;
    gauge(front.trim().trim_start_matches('#').trim_start_matches('-').trim())
}

impl Readable for ColdCranking {
    const NOUN: &'static str = "cold-cranking current";
    const EXAMPLE: &'static str = "640 A EN";
    fn read(text: &str) -> Result<Self, ReadError> {
        let text = clean(text);
        const SCALES: [(&str, CrankingScale); 3] =
            [("EN", CrankingScale::En), ("DIN", CrankingScale::Din), ("SAE", CrankingScale::Sae)];
        let how = "write `640 A EN`, `640 A SAE` or `640 A DIN`, as the battery's label says";
        let marked =
            SCALES.iter().find_map(|(word, scale)| text.strip_suffix(word).map(|front| (front.trim_end(), *scale)));
        // Without a mark it is taken as SAE's, the figure with the least resistance behind it.
        let (front, scale) = marked.unwrap_or((text, CrankingScale::Sae));
        if let Ok(current) = Current::read(front) {
            if !plausible::COLD_CRANKING.holds(current.in_amps()) {
                return Err(fault(
                    format!("{} is no battery's cold-cranking current", quoted(text)),
                    format!("{how}; from 10 A to 3000 A is read"),
                ));
            }
            return Ok(ColdCranking { current, scale });
        }
        let (numeral, rest) = number::split(text);
        if let Numeral::Good(digits) = &numeral {
            let word = rest.trim_start_matches(['A', 'a']).trim().trim_matches(['(', ')']).to_ascii_uppercase();
            if let Some((scale, _)) = SCALES.iter().find(|(name, _)| *name == word) {
                return Err(fault(
                    format!("{} is not how a cold-cranking current is written", quoted(text)),
                    write_one_of(&[format!("{digits} A {scale}")]),
                ));
            }
            match word.as_str() {
                "CCA" => {
                    return Err(fault(
                        format!("{} does not name its scale as the standard does", quoted(text)),
                        format!("write `{digits} A SAE`, or `EN` or `DIN` where the label says so"),
                    ));
                }
                "" if rest.is_empty() => {
                    return Err(fault(
                        format!("{} has no unit; a cold-cranking current is needed", quoted(text)),
                        format!(
                            "write `{digits} A EN`, `{digits} A SAE` or `{digits} A DIN`, as the battery's label says"
                        ),
                    ));
                }
                "CA" | "MCA" | "HCA" => {
                    return Err(fault(
                        format!("{} is a current from a warmer test than −18 °C", quoted(text)),
                        format!("find the cold-cranking figure and {how}"),
                    ));
                }
                _ => {}
            }
        }
        Err(match Current::read(front) {
            Err(wrong) if marked.is_some() || units::near(rest, Kind::Current).is_some() => wrong,
            _ => fault(format!("{} is not a cold-cranking current", quoted(text)), how),
        })
    }
}

impl Readable for Thread {
    const NOUN: &'static str = "thread";
    const EXAMPLE: &'static str = "M8";
    fn read(text: &str) -> Result<Self, ReadError> {
        let text = clean(text);
        if let Some(size) = text.strip_prefix('M')
            && let Numeral::Good(digits) = number::split(size).0
            && number::split(size).1.is_empty()
            && let Some(listed) = METRIC_THREADS.iter().find(|listed| digits.parse() == Ok(**listed))
        {
            return Ok(Thread(*listed));
        }
        let inches = text.strip_suffix("in").map(str::trim_end);
        if let Some(fraction) = inches
            && let Some((_, mm)) = INCH_THREADS.iter().find(|(listed, _)| *listed == fraction)
        {
            return Ok(Thread(*mm));
        }
        let digits: String = text.chars().filter(|c| c.is_ascii_digit() || *c == '.').collect();
        let metric = METRIC_THREADS.iter().find(|listed| digits.parse() == Ok(**listed));
        let lower = text.to_ascii_lowercase();
        Err(match metric {
            Some(size) if lower == format!("m{digits}") || lower == digits || lower == format!("{digits} mm") => {
                fault(format!("{} is not how a thread is written", quoted(text)), write_one_of(&[format!("M{size}")]))
            }
            _ => fault(
                format!("{} is not a thread that is read here", quoted(text)),
                "write a metric thread from `M3` to `M24`, or an inch size as `1/4 in`, `5/16 in`, `3/8 in`, `7/16 in` or `1/2 in`",
            ),
        })
    }
}
