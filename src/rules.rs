//! The catalogue of rules. Each judges a guide by its study and solves nothing itself.
//!
//! One rule, one file: `src/rules/<id with underscores>.rs`, with its page beside it as
//! `src/rules/<id with underscores>.md`: module doc, page on the site and answer to `explain`.
//!
//! A rule compares, and says each comparison through [`Judgement::compare`]: that makes the row of
//! "what was checked" and, when the limit is passed, the finding, from the same figures. How hard a
//! rule may bite follows its sources: a test refuses an `unsafe` that rests on memory or judgement
//! alone.

use crate::circuit::{Circuit, Kind, PartId, RunId, StateId};
use crate::finding::{Check, Figure, Finding, Outcome, Place, Severity};
use crate::guide::Guide;
use crate::quantity::{
    Area, Charge, Current, Duration, Force, Length, Mass, Power, Ratio, Resistance, Show, Temperature, TemperatureRise,
    Voltage,
};
use crate::source::Span;

use crate::study::{Case, Joints, Solution, StateStudy, Study, Warmth};

use limits::Limits;

mod drops;
mod fault_words;

pub mod battery_loose;
pub mod battery_near_fuel;
pub mod bend_too_tight;
pub mod board_limit;
pub mod breaks_too_little;
pub mod bundle_overloaded;
pub mod chafe_not_cleared;
pub mod charge_drop;
pub mod clad_cable_short;
pub mod cold_charge;
pub mod conductor_hot;
pub mod conductor_too_small;
pub mod device_above_cable;
pub mod device_below_load;
pub mod device_opens_at_work;
pub mod device_overloaded;
pub mod device_too_far;
pub mod device_volts_low;
mod device_work;
pub mod edge_unguarded;
pub mod endurance_missed;
pub mod fault_not_cleared;
pub mod feed_drop;
pub mod figure_mismatch;
pub mod gas_unvented;
pub mod hold_down_weak;
pub mod isolator_underrated;
pub mod limits;
pub mod live_terminal_bare;
pub mod load_drop;
pub mod load_dump;
pub mod lug_misfit;
pub mod never_on;
pub mod no_operating_point;
pub mod not_selective;
pub mod opening_times_unknown;
pub mod part_untouched;
mod placement;
pub mod return_drop;
pub mod return_loose;
pub mod return_not_last;
pub mod return_through_hull;
pub mod run_unprotected;
pub mod size_not_in_table;
pub mod solder_alone;
pub mod spark_near_gas;
pub mod starter_voltage_low;
pub mod starting_drop;
pub mod stud_crowded;
pub mod support_too_far;
pub mod tap_unprotected;
pub mod vent_too_small;
pub mod working_voltage_low;

#[cfg(test)]
pub mod testing;

/// Changes when a rule does, so that digests and caches know.
pub const VERSION: &str = "1";

/// What a rule is about; the order of the catalogue.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Family {
    /// Ordinary running: drops, heat.
    Running,
    /// Fuses, breakers, faults.
    Protection,
    /// Battery housing, gas, restraint.
    Battery,
    /// Ends, covers, supports.
    Ends,
    /// The guide's words.
    Words,
}

/// One rule of the catalogue.
#[derive(Clone, Copy)]
pub struct Rule {
    /// Kebab-case; names the fault.
    pub id: &'static str,
    /// What it is about.
    pub family: Family,
    /// One line: what it checks.
    pub title: &'static str,
    /// The hardest that it can bite.
    pub worst: Severity,
    /// Ids of its published sources in [`crate::handbook::sources`].
    pub sources: &'static [&'static str],
    /// Its page, in Markdown.
    pub page: &'static str,
    /// Judges.
    pub judge: fn(&Bench<'_>, &mut Judgement),
}

/// What a rule may look at.
#[derive(Clone, Copy)]
pub struct Bench<'a> {
    /// The guide as written.
    pub guide: &'a Guide,
    /// Its circuit.
    pub circuit: &'a Circuit,
    /// Its study.
    pub study: &'a Study,
    /// Limits that the club has tightened.
    pub limits: &'a Limits,
}

/// What rules have said.
#[derive(Clone, Debug, Default)]
pub struct Judgement {
    /// Every comparison made.
    pub checks: Vec<Check>,
    /// What is wrong.
    pub findings: Vec<Finding>,
    /// Keeps no word and no comparison that passes: for trials, which ask only what stands in the way.
    terse: bool,
}

/// Every rule, in page order.
pub const ALL: &[Rule] = &[
    feed_drop::RULE,
    return_drop::RULE,
    starting_drop::RULE,
    starter_voltage_low::RULE,
    load_drop::RULE,
    working_voltage_low::RULE,
    charge_drop::RULE,
    conductor_hot::RULE,
    bundle_overloaded::RULE,
    size_not_in_table::RULE,
    clad_cable_short::RULE,
    return_through_hull::RULE,
    no_operating_point::RULE,
    never_on::RULE,
    board_limit::RULE,
    cold_charge::RULE,
    endurance_missed::RULE,
    run_unprotected::RULE,
    device_too_far::RULE,
    tap_unprotected::RULE,
    device_above_cable::RULE,
    device_below_load::RULE,
    device_overloaded::RULE,
    device_volts_low::RULE,
    device_opens_at_work::RULE,
    isolator_underrated::RULE,
    load_dump::RULE,
    breaks_too_little::RULE,
    opening_times_unknown::RULE,
    fault_not_cleared::RULE,
    chafe_not_cleared::RULE,
    not_selective::RULE,
    return_loose::RULE,
    gas_unvented::RULE,
    vent_too_small::RULE,
    spark_near_gas::RULE,
    battery_near_fuel::RULE,
    battery_loose::RULE,
    hold_down_weak::RULE,
    live_terminal_bare::RULE,
    stud_crowded::RULE,
    lug_misfit::RULE,
    solder_alone::RULE,
    conductor_too_small::RULE,
    support_too_far::RULE,
    edge_unguarded::RULE,
    bend_too_tight::RULE,
    return_not_last::RULE,
    part_untouched::RULE,
    figure_mismatch::RULE,
];

/// The rule with this id.
pub fn find(id: &str) -> Option<&'static Rule> {
    ALL.iter().find(|r| r.id == id)
}

/// Judges a guide by every rule.
pub fn judge(bench: &Bench<'_>) -> Judgement {
    let mut judgement = Judgement::default();
    for rule in ALL {
        (rule.judge)(bench, &mut judgement);
    }
    judgement
}

/// The findings of [`judge`] without their words, for trials: rule, subject, severity and place. Rules about the
/// guide's words are left out, since a trial changes none. Ends early, after the rule in which `enough` says so.
pub fn judge_tersely(bench: &Bench<'_>, mut enough: impl FnMut(&[Finding]) -> bool) -> Vec<Finding> {
    let mut judgement = Judgement { terse: true, ..Judgement::default() };
    for rule in ALL.iter().filter(|r| r.family != Family::Words) {
        let before = judgement.findings.len();
        (rule.judge)(bench, &mut judgement);
        if enough(&judgement.findings[before..]) {
            break;
        }
    }
    judgement.findings
}

/// A quantity that can be compared and shown.
pub trait Measured: Copy + PartialOrd + Show + std::ops::Sub {
    /// The number in SI.
    fn in_si(self) -> f64;
    /// As a number with words.
    fn figure(self) -> Figure;
    /// How far apart two are, in words without a sign.
    fn apart(self, other: Self) -> String;
    /// From the number of a figure.
    fn from_figure(si: f64) -> Self;
}

macro_rules! measured {
    ($($name:ident),*) => { $(
        impl Measured for $name {
            fn in_si(self) -> f64 { self.si() }
            fn figure(self) -> Figure { Figure { si: self.si(), unit: $name::SYMBOL, shown: self.show_both() } }
            fn apart(self, other: Self) -> String { (self - other).abs().show() }
            fn from_figure(si: f64) -> Self { $name::from_si(si) }
        }
    )* };
}
measured!(Voltage, Current, Resistance, Length, Area, Duration, Mass, Power, Charge, Force, Ratio);

impl Measured for Temperature {
    fn in_si(self) -> f64 {
        self.si()
    }
    fn figure(self) -> Figure {
        Figure { si: self.si(), unit: Temperature::SYMBOL, shown: self.show_both() }
    }
    fn apart(self, other: Self) -> String {
        TemperatureRise::kelvins((self - other).si().abs()).show()
    }
    fn from_figure(si: f64) -> Self {
        Temperature::from_si(si)
    }
}

/// A bare number as a figure: lugs on a stud, bolts.
pub fn count(n: usize) -> Figure {
    Figure { si: n as f64, unit: "1", shown: n.to_string() }
}

/// Words in place of a number: "none", "covered".
pub fn words(text: &str) -> Figure {
    Figure { si: 0.0, unit: "1", shown: text.to_string() }
}

/// Which way a limit binds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bound {
    /// The figure must not be above the limit.
    AtMost,
    /// The figure must not be below the limit.
    AtLeast,
}

/// Figures nearer than this share of each other are equal: a solver's last digits decide nothing.
const EQUAL: f64 = 1e-9;

impl Bound {
    /// Whether a figure keeps to a limit. Equal does.
    pub fn holds<T: Measured>(self, value: T, limit: T) -> bool {
        let (value, limit) = (value.in_si(), limit.in_si());
        let slack = EQUAL * limit.abs();
        match self {
            Bound::AtMost => value <= limit + slack,
            Bound::AtLeast => value >= limit - slack,
        }
    }
}

/// One comparison, ready to be said.
pub struct Comparison<T> {
    /// The rule.
    pub rule: &'static str,
    /// The part, run or state, as the author named it.
    pub subject: String,
    /// Where a finding points.
    pub at: Span,
    /// On which case, in words: "starting, 20 °C, best joints".
    pub case: String,
    /// What was found.
    pub value: T,
    /// What it is held against.
    pub limit: T,
    /// Which way.
    pub bound: Bound,
    /// How hard it bites when passed.
    pub severity: Severity,
    /// Sources of this limit.
    pub sources: Vec<&'static str>,
}

impl Judgement {
    /// Makes a comparison: a row of what was checked and, when the limit is passed, a finding with
    /// these words and advice. Equal to the limit passes. Returns whether it passed.
    pub fn compare<T: Measured>(
        &mut self,
        bench: &Bench<'_>,
        c: Comparison<T>,
        message: impl FnOnce() -> String,
        advice: impl FnOnce() -> Vec<String>,
    ) -> bool {
        let own = c.limit;
        let c = Comparison { limit: bench.limits.standing(c.rule, own, c.bound), ..c };
        if self.terse {
            let passes = c.bound.holds(c.value, c.limit);
            if !passes {
                self.findings.push(wordless(bench, c.rule, c.severity, c.subject, c.at));
            }
            return passes;
        }
        // The rule's words name its own limit; where the club's is tighter, they say that too.
        let club = (c.limit != own).then(|| c.limit.show());
        let message = || match club {
            Some(club) => format!("{}; this club's own limit is {club}", message()),
            None => message(),
        };
        let passes = c.bound.holds(c.value, c.limit);
        let apart = c.value.apart(c.limit);
        let margin = if passes {
            format!("{apart} to spare")
        } else if c.bound == Bound::AtMost {
            format!("{apart} over")
        } else {
            format!("{apart} short")
        };
        self.say(
            bench,
            Check {
                rule: c.rule,
                subject: c.subject,
                case: c.case,
                value: c.value.figure(),
                limit: c.limit.figure(),
                margin,
                outcome: if passes { Outcome::Passes } else { Outcome::Found(c.severity) },
                sources: c.sources,
            },
            c.at,
            message,
            advice,
        )
    }

    /// Whether only what stands in the way is asked for, so that rows to read need not be worked out.
    pub fn is_terse(&self) -> bool {
        self.terse
    }

    /// Records a comparison whose outcome the rule has settled itself, with its finding when it did
    /// not pass. Returns whether it passed.
    pub fn say(
        &mut self,
        bench: &Bench<'_>,
        check: Check,
        at: Span,
        message: impl FnOnce() -> String,
        advice: impl FnOnce() -> Vec<String>,
    ) -> bool {
        let passes = !matches!(check.outcome, Outcome::Found(_));
        if self.terse {
            if let Outcome::Found(severity) = check.outcome {
                self.findings.push(wordless(bench, check.rule, severity, check.subject, at));
            }
            return passes;
        }
        if let Outcome::Found(severity) = check.outcome {
            self.findings.push(Finding {
                rule: check.rule,
                severity,
                place: Place { file: bench.guide.file.path.clone(), span: at },
                subject: check.subject.clone(),
                message: message(),
                value: Some(check.value.clone()),
                limit: Some(check.limit.clone()),
                advice: advice(),
                sources: check.sources.clone(),
                answer: None,
            });
        }
        self.checks.push(check);
        passes
    }

    /// Records that a rule has nothing to judge, and why: "lithium cells give off no hydrogen in use".
    pub fn not_applicable(&mut self, rule: &'static str, subject: &str, why: &str) {
        if self.terse {
            return;
        }
        self.checks.push(Check {
            rule,
            subject: subject.to_string(),
            case: String::new(),
            value: words(why),
            limit: words(""),
            margin: String::new(),
            outcome: Outcome::NotApplicable,
            sources: Vec::new(),
        });
    }
}

fn wordless(bench: &Bench<'_>, rule: &'static str, severity: Severity, subject: String, span: Span) -> Finding {
    let place = Place { file: bench.guide.file.path.clone(), span };
    let (message, advice, sources) = (String::new(), Vec::new(), Vec::new());
    Finding { rule, severity, place, subject, message, value: None, limit: None, advice, sources, answer: None }
}

impl<'a> Bench<'a> {
    /// A bench on which no limit is tightened.
    pub fn new(guide: &'a Guide, circuit: &'a Circuit, study: &'a Study) -> Bench<'a> {
        Bench { guide, circuit, study, limits: &limits::NONE }
    }

    /// Where a part's key stands in the guide.
    pub fn part_span(&self, id: PartId) -> Span {
        self.guide.parts.get(&self.circuit.part(id).name).map_or(Span::default(), |p| p.at)
    }

    /// Where a run's key stands in the guide.
    pub fn run_span(&self, id: RunId) -> Span {
        self.guide.runs.get(&self.circuit.run(id).name).map_or(Span::default(), |r| r.at)
    }

    /// Where a state's key stands in the guide.
    pub fn state_span(&self, id: StateId) -> Span {
        self.guide.states.get(&self.circuit.states[id.0].name).map_or(Span::default(), |s| s.at)
    }

    /// Every state with its study.
    pub fn states(&self) -> impl Iterator<Item = (StateId, &'a crate::circuit::State, &'a StateStudy)> + use<'a> {
        let (circuit, study) = (self.circuit, self.study);
        study.states.iter().map(move |s| (s.state, &circuit.states[s.state.0], s))
    }

    /// The battery that gives most in a solution.
    pub fn leading_battery(&self, solution: &Solution) -> Option<(PartId, &'a crate::circuit::Battery)> {
        let circuit: &'a Circuit = self.circuit;
        circuit.batteries().max_by(|(a, _), (b, _)| solution.part(*a).si().total_cmp(&solution.part(*b).si()))
    }

    /// Starters, in the author's order.
    pub fn starters(&self) -> impl Iterator<Item = (PartId, &'a crate::circuit::Starter)> + use<'a> {
        let circuit: &'a Circuit = self.circuit;
        circuit.parts.iter().enumerate().filter_map(|(i, p)| match &p.kind {
            Kind::Starter(s) => Some((PartId(i), s)),
            _ => None,
        })
    }

    /// Loads, in the author's order.
    pub fn loads(&self) -> impl Iterator<Item = (PartId, &'a crate::circuit::Load)> + use<'a> {
        let circuit: &'a Circuit = self.circuit;
        circuit.parts.iter().enumerate().filter_map(|(i, p)| match &p.kind {
            Kind::Load(l) => Some((PartId(i), l)),
            _ => None,
        })
    }
}

/// A figure over the ends of an unmeasured body's band: the better and the worse end, by a measure
/// of which more is worse. They are equal where the body is measured or absent. `None` when a case
/// has no operating point.
pub fn over_body<'c>(
    cases: impl Iterator<Item = &'c Case>,
    measure: impl Fn(&Case, &Solution) -> f64,
) -> Option<(f64, f64)> {
    let mut ends: Option<(f64, f64)> = None;
    for case in cases {
        let value = measure(case, case.solution.as_ref().ok()?);
        ends = Some(ends.map_or((value, value), |(low, high)| (low.min(value), high.max(value))));
    }
    ends
}

/// A case in words: "at 20 °C, best joints".
pub fn case_words(warmth: Warmth, joints: Joints) -> String {
    let warm = match warmth {
        Warmth::Cool => "everything at 20 °C",
        Warmth::Running => "cables at their own temperature",
        Warmth::Cold => "the coldest start",
    };
    let joints = match joints {
        Joints::Best => "best joints",
        Joints::Worst => "worst joints",
    };
    format!("{warm}, {joints}")
}
