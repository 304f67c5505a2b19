//! The report of a guide's numbers, for people who review one: every comparison, what was tried, and the readings that
//! prove the job.

use std::fmt::Write as _;

use super::lines::on_one_line;
use super::{Review, source_line};
use crate::checked::Checked;
use crate::circuit::{Circuit, NodeId, PartId, StateId};
use crate::finding::{Check, Outcome, Severity};
use crate::quantity::{Show, Voltage};
use crate::readings::{Filled, MeterReading, SpanKind};
use crate::rules;
use crate::trials::change::Suspect;
use crate::trials::culprit::{DEGRADED_MOHM, MOST_TOLD, Symptom, fitting, symptoms};
use crate::trials::headroom::{Edge, SEARCHED_TO, SizeTrial};

/// Every guide's numbers, in order.
pub fn render(review: &Review<'_>) -> String {
    let mut out = String::new();
    for one in review.guides() {
        let Some(circuit) = &one.circuit else { continue };
        let mut told = Vec::new();
        told.push(compared(one));
        told.extend(headroom(one, circuit));
        told.extend(fault_finder(one, circuit));
        told.extend(variants(one));
        told.extend(readings(one, circuit));
        let _ = write!(out, "{}\n\n{}\n", on_one_line(&one.slug), told.join("\n"));
    }
    out
}

/// A heading and lines below it, each set in by two.
fn section(title: &str, lines: impl IntoIterator<Item = String>) -> String {
    let mut out = format!("{title}\n");
    for line in lines {
        let _ = writeln!(out, "  {}", on_one_line(&line));
    }
    out
}

fn compared(one: &Checked) -> String {
    let mut lines = Vec::new();
    for rule in rules::ALL {
        let checks: Vec<&Check> = one.checks.iter().filter(|c| c.rule == rule.id).collect();
        if checks.is_empty() {
            continue;
        }
        lines.push(format!("{}: {}", rule.id, rule.title));
        for check in &checks {
            lines.push(format!("  {}", comparison(check)));
        }
        let mut sources: Vec<&str> = checks.iter().flat_map(|c| c.sources.iter().copied()).collect();
        sources.sort_unstable();
        sources.dedup();
        lines.extend(sources.into_iter().map(|id| format!("  source: {}", source_line(id))));
    }
    section("What was checked (what, on which case: figure, limit, margin)", lines)
}

fn comparison(check: &Check) -> String {
    let outcome = match check.outcome {
        Outcome::Passes => String::new(),
        Outcome::NotApplicable => return format!("{}: does not apply, {}", check.subject, check.value.shown),
        Outcome::Found(severity) => format!("; {}", severity.word()),
    };
    let case = if check.case.is_empty() { String::new() } else { format!(", {}", check.case) };
    let margin = if check.margin.is_empty() { String::new() } else { format!(", {}", check.margin) };
    format!("{}{case}: {}, {}{margin}{outcome}", check.subject, check.value.shown, check.limit.shown)
}

fn headroom(one: &Checked, circuit: &Circuit) -> Option<String> {
    let headroom = &one.trials.as_ref()?.headroom;
    let lines = headroom.iter().map(|h| {
        let run = circuit.run(h.run);
        let mut line =
            format!("{}, {} of {}: at most {}", run.name, run.length.show(), run.size.show(), edge(&h.longest));
        if let Some(largest) = &h.largest {
            let _ = write!(line, "; at most {}", edge(largest));
        }
        for trial in [&h.smaller, &h.larger].into_iter().flatten() {
            let _ = write!(line, "; {}", size(trial));
        }
        line
    });
    (!headroom.is_empty()).then(|| section("How far each run may differ, one at a time", lines))
}

fn edge<T: Show + Copy>(edge: &Edge<T>) -> String {
    match &edge.stopped_by {
        Some((rule, subject)) => format!("{} (then {rule} at `{subject}`)", edge.value.show_both()),
        None => format!("{} (tried to {SEARCHED_TO:.0} times)", edge.value.show_both()),
    }
}

fn size(trial: &SizeTrial) -> String {
    let mut stopped: Vec<&str> = trial.stopped_by.iter().map(|(rule, ..)| *rule).collect();
    stopped.dedup();
    match stopped.is_empty() {
        true => format!("{} passes", trial.size.show_both()),
        false => format!("{} does not: {}", trial.size.show_both(), stopped.join(", ")),
    }
}

fn suspect(circuit: &Circuit, suspect: Suspect) -> String {
    match suspect {
        Suspect::Run(run) => circuit.run(run).name.clone(),
        Suspect::Device(part) => circuit.part(part).name.clone(),
        Suspect::Bolt(bolt) => format!("bolt of {}", circuit.part(circuit.bolts[bolt].part).name),
    }
}

fn fault_finder(one: &Checked, circuit: &Circuit) -> Option<String> {
    let culprits = &one.trials.as_ref()?.culprits;
    let mut lines = Vec::new();
    for symptom in symptoms(culprits) {
        lines.push(match symptom {
            Symptom::SlowCranking(part) => format!("{} turns slowly:", part_name(circuit, part)),
            Symptom::WeakLoad(part) => format!("{} is weak, dim or cuts out:", part_name(circuit, part)),
            Symptom::NeverFills(part) => format!("{} never fills:", part_name(circuit, part)),
        });
        for (culprit, state, missing) in fitting(culprits, symptom).into_iter().take(MOST_TOLD) {
            let mut line = format!("  {}, {} missing", suspect(circuit, culprit.suspect), volts(missing));
            if let Some(shows) = culprit.shows(circuit, symptom) {
                let _ = write!(
                    line,
                    "; {}, red on {}, black on {}, at {}: good up to {}, {}",
                    state_name(circuit, shows.state),
                    node(circuit, shows.high),
                    node(circuit, shows.low),
                    shows.current.show(),
                    volts(shows.good_to()),
                    shows.bad_from().map_or_else(
                        || "not told from a bad one".to_string(),
                        |from| format!("bad from {}", volts(from))
                    )
                );
            } else {
                let _ = write!(line, "; {}", state_name(circuit, state));
            }
            lines.push(line);
        }
    }
    let title = format!("What fits a symptom, each tried with {DEGRADED_MOHM:.0} mΩ more");
    (!lines.is_empty()).then(|| section(&title, lines))
}

fn variants(one: &Checked) -> Option<String> {
    let variants = &one.trials.as_ref()?.variants;
    let lines = variants.iter().flat_map(|v| {
        let against = v.judgement.findings.iter().filter(|f| f.severity >= Severity::Query);
        let found = against.map(|f| format!("  {}[{}]: {}", f.severity.word(), f.rule, f.message));
        std::iter::once(format!("{}: {}", v.name, v.title)).chain(found).collect::<Vec<_>>()
    });
    (!variants.is_empty()).then(|| section("Variants, and what stands against each", lines))
}

fn readings(one: &Checked, circuit: &Circuit) -> Option<String> {
    let lines = one.readings.iter().map(|r| {
        let MeterReading { expected: (low, high), .. } = r;
        let what = match r.kind {
            SpanKind::Feed => "feed of ",
            SpanKind::Return => "return of ",
            SpanKind::ChargeFeed => "charge feed from ",
            SpanKind::ChargeReturn => "charge return to ",
            SpanKind::Terminals => "posts of ",
        };
        let (word, clamp) = match (r.kind, r.clamp) {
            (SpanKind::Terminals, _) => ("below", String::new()),
            (_, Some((run, current))) => ("above", format!(" at {} in {}", current.show(), circuit.run(run).name)),
            (_, None) => ("above", String::new()),
        };
        let over = r.stop_over.map_or_else(String::new, |(over, _)| format!(" or above {}", volts(over)));
        let filled = match r.filled {
            None => String::new(),
            Some(Filled::Unshown) => "; battery nearly full".to_string(),
            Some(Filled::Clamp(run, current)) => {
                format!("; when {} carries no more than {} into the battery", circuit.run(run).name, current.show())
            }
        };
        format!(
            "{}, {what}{}: red on {}, black on {}, {} to {}{clamp}; stop {word} {}{over}{filled}",
            state_name(circuit, r.state),
            part_name(circuit, r.part),
            node(circuit, r.red),
            node(circuit, r.black),
            crate::readings::on_meter_beside(*low, r.stop),
            crate::readings::on_meter_beside(*high, r.stop),
            crate::readings::on_meter_beside(r.stop, r.stop)
        )
    });
    (!one.readings.is_empty()).then(|| section("Readings that prove the job", lines))
}

fn node(circuit: &Circuit, node: NodeId) -> &str {
    &circuit.node(node).name
}

fn part_name(circuit: &Circuit, part: PartId) -> &str {
    &circuit.part(part).name
}

fn state_name(circuit: &Circuit, state: StateId) -> &str {
    &circuit.states[state.0].name
}

/// As a meter shows it.
fn volts(volts: Voltage) -> String {
    crate::readings::on_meter(volts)
}
