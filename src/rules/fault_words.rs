//! What the rules on short circuits share: a fault in words, and how it came out. No rule.

use super::Bench;
use crate::circuit::NodeId;
use crate::quantity::{Duration, Show};
use crate::source::Span;
use crate::study::faults::{Fault, FaultCorner, Site};

/// How a fault came out, the worst first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ending {
    /// Cut in time.
    Cleared,
    /// Cut, but a conductor went over what 1.45 times its allowable current settles at.
    Overloaded,
    /// Cut, or going on, with a conductor's insulation spoilt.
    Spoilt,
    /// A self-limiting source goes on feeding it through a run that cannot stand that for good.
    Lingers,
    /// Never cut.
    NeverCut,
}

/// How a fault came out.
pub fn ending(fault: &Fault) -> Ending {
    let stress = fault.stress.as_ref();
    if fault.cleared.is_none() && !fault.within_board_limit {
        Ending::NeverCut
    } else if fault.lingering.is_some() {
        Ending::Lingers
    } else if stress.is_some_and(|s| s.share > 1.0) {
        Ending::Spoilt
    } else if stress.is_some_and(|s| s.overload_only) {
        Ending::Overloaded
    } else {
        Ending::Cleared
    }
}

/// Of faults at one place, the one that came out worst; among equals the one that took longest, or
/// that came nearest to spoiling a conductor.
pub fn worst<'f>(faults: impl Iterator<Item = &'f Fault>) -> Option<&'f Fault> {
    let nearness = |f: &Fault| f.stress.as_ref().map_or(0.0, |s| s.share);
    let time = |f: &Fault| f.cleared.map_or(f64::INFINITY, |t| t.in_seconds());
    faults.max_by(|a, b| {
        ending(a).cmp(&ending(b)).then(nearness(a).total_cmp(&nearness(b))).then(time(a).total_cmp(&time(b)))
    })
}

/// A corner in words.
pub fn corner_words(corner: FaultCorner) -> &'static str {
    match corner {
        FaultCorner::Kindest => "full battery, cables at 20 °C, best joints",
        FaultCorner::Most => "the most current the battery could give",
        FaultCorner::Least => "weak half-charged battery, hot cables, worst joints",
    }
}

/// A fault's place in words: "`post` to `body@load`".
pub fn place_words(bench: &Bench<'_>, fault: &Fault) -> String {
    let node = |n: NodeId| bench.circuit.node(n).name.clone();
    match fault.site {
        Site::Terminal(n) => format!("from `{}` to `{}`", node(n), node(fault.to)),
        Site::Along(run, share, zone) => {
            let run = bench.circuit.run(run);
            let along = run.length * share;
            let zone = &bench.circuit.zone(zone).label;
            format!("{} along `{}` in the {}, to `{}`", along.show(), run.name, zone.to_lowercase(), node(fault.to))
        }
    }
}

/// Where in the guide a fault's place stands.
pub fn place_span(bench: &Bench<'_>, fault: &Fault) -> Span {
    match fault.site {
        Site::Terminal(n) => bench.part_span(bench.circuit.node(n).part),
        Site::Along(run, ..) => bench.run_span(run),
    }
}

/// The author's name of the part or run at a fault.
pub fn place_subject(bench: &Bench<'_>, fault: &Fault) -> String {
    match fault.site {
        Site::Terminal(n) => bench.circuit.part(bench.circuit.node(n).part).name.clone(),
        Site::Along(run, ..) => bench.circuit.run(run).name.clone(),
    }
}

/// A clearing time in words.
pub fn time_words(time: Option<Duration>) -> String {
    time.map_or_else(|| "never".into(), |t| t.show())
}

/// What happened, and what to change.
pub fn fault_words(bench: &Bench<'_>, fault: &Fault) -> (String, Vec<String>) {
    let what = format!("a short circuit of {} {}", fault.current.show(), place_words(bench, fault));
    let run_name = |id| bench.circuit.run(id).name.clone();
    match ending(fault) {
        Ending::NeverCut => {
            let limit = fault
                .must_clear_by
                .map_or_else(String::new, |(run, t)| format!("; `{}` stands it for {}", run_name(run), t.show()));
            (
                format!("{what} is never cut off{limit}"),
                vec![
                    "choose a device that surely opens at that current: its maker's sheet shows the longest time"
                        .into(),
                    "or let more current flow, by a shorter or thicker feed and return".into(),
                ],
            )
        }
        Ending::Lingers => {
            let (run, amps) = fault.lingering.map_or((String::new(), String::new()), |(r, a)| (run_name(r), a.show()));
            (
                format!(
                    "after the devices have opened, {what} is still fed with {amps}, more than `{run}` may carry for good"
                ),
                vec![format!("make `{run}` thick enough for {amps}, or put a device at that source")],
            )
        }
        Ending::Spoilt | Ending::Overloaded => {
            let (run, limit) = fault.stress.map_or((String::new(), None), |s| (run_name(s.run), s.limit));
            let stands = limit.map_or_else(String::new, |t| format!(", which stands it for {}", t.show()));
            let how = if ending(fault) == Ending::Spoilt { "spoils the insulation of" } else { "overloads" };
            (
                format!("{what} lasts {} and {how} `{run}`{stands}", time_words(fault.cleared)),
                vec![format!("make `{run}` thicker, or protect it by a device that opens sooner at that current")],
            )
        }
        Ending::Cleared => (format!("{what} is cut off after {}", time_words(fault.cleared)), Vec::new()),
    }
}
