//! Breakers and fuses: opening times and breaking capacity by published class.
//!
//! No class curve for a device over 80 A was seen in print: those need their maker's own points.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use serde::Deserialize;

use super::rows;
use super::sources::Certainty;
use crate::quantity::{Current, Duration, Ratio, Temperature};

/// One published point of a class's opening times.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gate {
    /// Current as a share of the rating.
    pub of_rating: Ratio,
    /// It opens no sooner than this; none is published when empty.
    pub least: Option<Duration>,
    /// It opens no later than this; none is published when empty: it may never open.
    pub most: Option<Duration>,
    /// It must not open at all; no time is printed.
    pub holds: bool,
    /// It must open; no time is printed.
    pub opens: bool,
    /// How sure.
    pub certainty: Certainty,
    /// The id of its source.
    pub source: &'static str,
}

impl Gate {
    /// Current in percent of the rating.
    pub fn percent(&self) -> f64 {
        self.of_rating.in_percent()
    }
}

#[derive(Deserialize)]
struct GateRow {
    form: String,
    least_amps: Option<f64>,
    most_amps: Option<f64>,
    percent: f64,
    least_seconds: String,
    most_seconds: String,
    certainty: Certainty,
    source: String,
}

/// One class at ratings from `least` to `most`, gates by increasing current.
struct Class {
    least: f64,
    most: f64,
    gates: Vec<Gate>,
}

static CLASSES: LazyLock<BTreeMap<String, Vec<Class>>> = LazyLock::new(|| {
    let mut classes: BTreeMap<String, Vec<Class>> = BTreeMap::new();
    for row in rows::<GateRow>("opening-gates.csv", include_str!("tables/opening-gates.csv")) {
        let (least, most) = (row.least_amps.unwrap_or(0.0), row.most_amps.unwrap_or(f64::INFINITY));
        let seconds = |text: &str, word: &str| match text {
            "" => None,
            text if text == word => None,
            text => Some(Duration::seconds(
                text.parse().unwrap_or_else(|_| panic!("handbook table opening-gates.csv: `{text}` is not a time")),
            )),
        };
        let gate = Gate {
            of_rating: Ratio::percent(row.percent),
            least: seconds(&row.least_seconds, "holds"),
            most: seconds(&row.most_seconds, "opens"),
            holds: row.least_seconds == "holds",
            opens: row.most_seconds == "opens",
            certainty: row.certainty,
            source: super::sources::known(&row.source),
        };
        let ranges = classes.entry(row.form).or_default();
        match ranges.iter_mut().find(|class| class.least == least && class.most == most) {
            Some(class) => class.gates.push(gate),
            None => ranges.push(Class { least, most, gates: vec![gate] }),
        }
    }
    classes
});

/// The ids of every class, as a guide's `form:` writes them: `iso-8820-3-type-c`, `ul-489`.
pub fn forms() -> impl Iterator<Item = &'static str> {
    CLASSES.keys().map(String::as_str)
}

/// The published gates of a class at a rating, least current first; none when there is no such class or it does not
/// make that rating.
pub fn gates(form: &str, rating: Current) -> Option<&'static [Gate]> {
    let amps = rating.in_amps();
    let class = CLASSES.get(form)?.iter().find(|class| class.least <= amps && amps <= class.most)?;
    Some(&class.gates)
}

/// No fuse opens sooner than the arc takes: the shortest longest-time that is claimed above the last gate, seconds
/// (`judgement`).
pub const FUSE_FLOOR_SECONDS: f64 = 0.010;

/// A device's drop at its rating, unless its maker says, in millivolts. The DIN limit for large blade fuses of 30 to
/// 80 A is 100 mV (`din-72581-3`); for other devices it is taken over (`judgement`).
pub const DROP_AT_RATING_MILLIVOLTS: f64 = 100.0;

/// The current from which a breaker or fuse is sure to open in its conventional time, as a share of its rating, when
/// nothing better is known: 145 % (`iec-60898-1`).
pub const CONVENTIONAL_OPENING: f64 = 1.45;

/// What a 40 A large blade fuse carries, by the air around it: 40 A to 20 °C, 34 at 65, 30 at 85, 25 at 110, 22 at
/// 125 (`blade-fuse-hot`).
const HOT: [(f64, f64); 5] = [(20.0, 40.0), (65.0, 34.0), (85.0, 30.0), (110.0, 25.0), (125.0, 22.0)];

/// What a device carries in hot air, as a share of its rating. One maker's sheet of one large blade fuse is all that
/// was seen; it is taken for every device, breakers too (`judgement`). Colder air earns nothing; hotter than the
/// sheet, its last figure falls on along the same line.
pub fn hot_rating(air: Temperature) -> Ratio {
    let celsius = air.in_celsius();
    let pair = HOT.windows(2).find(|pair| celsius <= pair[1].0).unwrap_or(&HOT[HOT.len() - 2..]);
    let ((t0, a0), (t1, a1)) = (pair[0], pair[1]);
    let amps = a0 + (a1 - a0) * (celsius - t0) / (t1 - t0);
    Ratio::of((amps / HOT[0].1).clamp(0.1, 1.0))
}

#[derive(Deserialize)]
struct BreakingRow {
    #[allow(dead_code, reason = "read so that a row without it does not load")]
    system: String,
    least_cca: Option<f64>,
    most_cca: Option<f64>,
    main_amps: f64,
    branch_amps: f64,
    #[allow(dead_code, reason = "read so that a row without its mark does not load")]
    certainty: Certainty,
    #[allow(dead_code, reason = "read so that a row without its source does not load")]
    source: String,
}

static BREAKING: LazyLock<Vec<BreakingRow>> =
    LazyLock::new(|| rows("breaking-capacity.csv", include_str!("tables/breaking-capacity.csv")));

/// The least breaking capacity that ABYC E-11's older Table V-A asks of the first device after a battery, and of
/// those after it, by the battery's cold-cranking amperes at 12 to 24 V. A code's minimum, not an estimate of
/// what the battery can give: see [`super::battery`] for that.
pub fn code_breaking_capacity(cold_cranking: Current) -> Option<(Current, Current)> {
    let amps = cold_cranking.in_amps().ceil();
    BREAKING
        .iter()
        .find(|row| row.least_cca.is_none_or(|least| least <= amps) && row.most_cca.is_none_or(|most| amps <= most))
        .map(|row| (Current::amps(row.main_amps), Current::amps(row.branch_amps)))
}
