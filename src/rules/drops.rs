//! What the rules of ordinary running share: a figure over the corners of what nobody measured,
//! held against a limit at its kindest and at its worst.
//!
//! Two things in a drop are nobody's measurement: how good the joints are, and a body that was not
//! measured. `unsafe` takes both at their kindest, so that a guide is never failed on a guess;
//! `query` and `note` take them at their worst.

use petgraph::unionfind::UnionFind;

use super::{Bench, Bound, Comparison, Judgement, Measured, case_words, over_body};
use crate::circuit::wire::conductor_metal;
use crate::circuit::{Activity, Circuit, Kind, NodeId, PartId, RunId};
use crate::finding::Severity;
use crate::handbook::{Limit, conductors};
use crate::quantity::{Length, Show, Voltage};
use crate::source::Span;
use crate::study::{Case, Charge, Joints, Solution, StateStudy, Warmth};

/// A figure, of which more is worse, over the corners of what nobody measured.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Spread {
    /// Joints and body at their best.
    pub kindest: f64,
    /// Joints at their best, an unmeasured body at its worse end.
    pub body: f64,
    /// Joints and body at their worst.
    pub worst: f64,
}

impl Spread {
    /// From the cases with the best joints and those with the worst. `None` when one of them has no operating point,
    /// which is a finding of its own.
    pub fn over<'c>(
        best: impl Iterator<Item = &'c Case>,
        worst: impl Iterator<Item = &'c Case>,
        measure: impl Fn(&Solution) -> f64,
    ) -> Option<Spread> {
        let (kindest, body) = over_body(best, |_, solved| measure(solved))?;
        let (_, worst) = over_body(worst, |_, solved| measure(solved))?;
        Some(Spread { kindest, body, worst: worst.max(body) })
    }

    /// The first solution with the best joints, for advice.
    pub fn kindest_solution(study: &StateStudy, warmth: Warmth, charge: Charge) -> Option<&Solution> {
        study.at(warmth, Joints::Best, charge).find_map(|c| c.solution.as_ref().ok())
    }

    /// The same for a state's cases of one warmth and charge.
    pub fn of(
        study: &StateStudy,
        warmth: Warmth,
        charge: Charge,
        measure: impl Fn(&Solution) -> f64 + Copy,
    ) -> Option<Spread> {
        Spread::over(study.at(warmth, Joints::Best, charge), study.at(warmth, Joints::Worst, charge), measure)
    }
}

/// How to measure a body, for whoever is asked to.
pub(super) const MEASURE_BODY: &str = "measure the body: switch on something that takes a steady current through it, \
     read that current with a clamp and the millivolts from a clean stud in one zone to a clean stud in the other; \
     millivolts over amperes gives milliohms, written as `between: {ZONE to ZONE: … mΩ}` on the body";
/// What helps against bad joints.
const MEASURE_JOINTS: &str = "take joints out of the path, or measure them and give `joints: … mΩ` on the runs";

/// A spread held against a limit.
#[derive(Clone, Copy)]
pub(super) struct Held<'a, T> {
    /// The rule.
    pub rule: &'static str,
    /// The part or run, as the author named it.
    pub subject: &'a str,
    /// Where a finding points.
    pub at: Span,
    /// The state.
    pub state: &'a str,
    /// How warm everything is.
    pub warmth: Warmth,
    /// What was found; more is worse.
    pub spread: Spread,
    /// Makes a quantity of it.
    pub figure: fn(f64) -> T,
    /// What it is held against.
    pub limit: Limit<T>,
    /// Which way, once it is a quantity.
    pub bound: Bound,
    /// What is wrong, with the figure: "`starter` loses 0.8 V in its feed while cranking".
    pub says: &'a dyn Fn(T) -> String,
    /// What to change.
    pub mend: &'a dyn Fn() -> Vec<String>,
}

impl<T: Measured> Held<'_, T> {
    fn passes(&self, value: T) -> bool {
        self.bound.holds(value, self.limit.value)
    }

    fn comparison(&self, value: f64, joints: Joints, severity: Severity) -> Comparison<T> {
        let case = case_words(self.warmth, joints);
        Comparison {
            rule: self.rule,
            subject: self.subject.to_string(),
            at: self.at,
            case: if self.state.is_empty() { case } else { format!("{}, {case}", self.state) },
            value: (self.figure)(value),
            limit: self.limit.value,
            bound: self.bound,
            severity,
            sources: vec![self.limit.source],
        }
    }

    fn message(&self, value: f64, with: &str) -> String {
        format!("{with}{}; the limit is {}", (self.says)((self.figure)(value)), self.limit.value.show())
    }

    /// A limit that is unsafe at the kindest, and asks at the worst. Whether it passed.
    pub fn hard(&self, bench: &Bench<'_>, judgement: &mut Judgement) -> bool {
        self.tightened(bench).hard_here(bench, judgement)
    }

    /// The same against the club's limit where that is the tighter one.
    fn tightened(&self, bench: &Bench<'_>) -> Self {
        let value = bench.limits.standing(self.rule, self.limit.value, self.bound);
        Held { limit: Limit { value, ..self.limit }, ..*self }
    }

    fn hard_here(&self, bench: &Bench<'_>, judgement: &mut Judgement) -> bool {
        let Spread { kindest, body, worst } = self.spread;
        if !self.passes((self.figure)(kindest)) {
            return judgement.compare(
                bench,
                self.comparison(kindest, Joints::Best, Severity::Unsafe),
                || self.message(kindest, ""),
                self.mend,
            );
        }
        let with_body = judgement.compare(
            bench,
            self.comparison(body, Joints::Best, Severity::Query),
            || self.message(body, "if its unmeasured body is a bad one, "),
            || std::iter::once(MEASURE_BODY.to_string()).chain((self.mend)()).collect(),
        );
        with_body
            && judgement.compare(
                bench,
                self.comparison(worst, Joints::Worst, Severity::Query),
                || self.message(worst, "with every joint at its worst, "),
                || std::iter::once(MEASURE_JOINTS.to_string()).chain((self.mend)()).collect(),
            )
    }

    /// A limit that never fails a guide: taken at its worst. Whether it passed.
    pub fn soft(&self, bench: &Bench<'_>, judgement: &mut Judgement, severity: Severity) -> bool {
        self.tightened(bench).soft_here(bench, judgement, severity)
    }

    fn soft_here(&self, bench: &Bench<'_>, judgement: &mut Judgement, severity: Severity) -> bool {
        let Spread { body, worst, kindest } = self.spread;
        judgement.compare(
            bench,
            self.comparison(worst, Joints::Worst, severity),
            || {
                let with = if self.passes((self.figure)(body)) { "with every joint at its worst, " } else { "" };
                self.message(worst, with)
            },
            || {
                let mut advice = (self.mend)();
                if self.passes((self.figure)(kindest)) && !self.passes((self.figure)(body)) {
                    advice.insert(0, MEASURE_BODY.to_string());
                }
                advice
            },
        )
    }
}

/// Nodes that conductors and closed devices join in a state, whatever their resistance.
pub(super) fn joined(circuit: &Circuit, doing: &[Activity]) -> UnionFind<usize> {
    circuit.joined(|id| doing[id.0] != Activity::Open)
}

/// The positive and negative terminals of a source.
pub(super) fn source_terminals(circuit: &Circuit, id: PartId) -> Option<(NodeId, NodeId)> {
    match &circuit.part(id).kind {
        Kind::Battery(b) => Some((b.positive, b.negative)),
        Kind::Alternator(a) => Some((a.positive, a.negative)),
        Kind::Charger(c) => Some(c.output),
        _ => None,
    }
}

/// Of the sources joined to a node, the one that gives most.
pub(super) fn leading_source(
    circuit: &Circuit,
    groups: &UnionFind<usize>,
    solved: &Solution,
    node: NodeId,
) -> Option<PartId> {
    (0..circuit.parts.len())
        .map(PartId)
        .filter(|id| source_terminals(circuit, *id).is_some_and(|(positive, _)| groups.equiv(positive.0, node.0)))
        .filter(|id| solved.part(*id).in_amps() > 0.0)
        .max_by(|a, b| solved.part(*a).si().total_cmp(&solved.part(*b).si()))
}

/// The runs between two nodes, by the way with fewest pieces. Empty when no conductor leads from one to the other.
fn way(circuit: &Circuit, from: NodeId, to: NodeId) -> Vec<RunId> {
    let mut pieces: Vec<(NodeId, NodeId, Option<RunId>)> =
        circuit.runs.iter().enumerate().map(|(i, r)| (r.from, r.to, Some(RunId(i)))).collect();
    pieces.extend(circuit.parts.iter().filter_map(crate::circuit::Part::through).map(|(a, b)| (a, b, None)));
    pieces.extend(circuit.bolts.iter().map(|b| (b.from, b.to, None)));
    pieces.extend(circuit.body.iter().map(|b| (b.from, b.to, None)));
    // By node: where it was come from, and along what.
    let mut came: Vec<Option<(NodeId, Option<RunId>)>> = vec![None; circuit.nodes.len()];
    let mut reached = std::collections::VecDeque::from([from]);
    while let Some(here) = reached.pop_front() {
        for (a, b, run) in &pieces {
            let next = match here {
                n if n == *a => *b,
                n if n == *b => *a,
                _ => continue,
            };
            if next != from && came[next.0].is_none() {
                came[next.0] = Some((here, *run));
                reached.push_back(next);
            }
        }
    }
    let mut runs = Vec::new();
    let mut here = to;
    while let Some((back, run)) = came[here.0] {
        runs.extend(run);
        here = back;
    }
    runs
}

/// Of the runs between two nodes, the one that loses most, and what a thicker one would lose in its place.
pub(super) fn thicker_between(
    bench: &Bench<'_>,
    solved: &Solution,
    from: NodeId,
    to: NodeId,
    too_much: Voltage,
) -> Option<String> {
    let circuit = bench.circuit;
    let lost = |id: &RunId| solved.between(circuit.run(*id).from, circuit.run(*id).to).abs().si();
    let worst = way(circuit, from, to).into_iter().max_by(|a, b| lost(a).total_cmp(&lost(b)))?;
    thicker(bench, solved, worst, too_much)
}

/// What a thicker run would lose at the same current, in words: the first size that loses `too_much` less, or else
/// the thickest there is. Nothing for a measured run, of which no table tells.
fn thicker(bench: &Bench<'_>, solved: &Solution, id: RunId, too_much: Voltage) -> Option<String> {
    let run = bench.circuit.run(id);
    if run.measured.is_some() {
        return None;
    }
    let metal = conductor_metal(run.metal);
    let amps = solved.run(id).abs().in_amps();
    let lost = solved.between(run.from, run.to).abs();
    let now = run.r20.in_ohms();
    if lost.in_volts() <= 1e-6 || now <= 0.0 {
        return None;
    }
    // At the temperature that it has now: a thicker one is cooler, and loses a little less still.
    let joints = run.joint.unwrap_or(crate::study::joint_resistance(Joints::Best)).in_ohms() * 2.0;
    let warm = ((lost.in_volts() / amps - joints) / now).max(1.0);
    let saves = |size| {
        let then = conductors::resistance_20(size, metal)? * run.length.in_metres();
        Some((size, Voltage::volts(amps * warm * (now - then)))).filter(|(_, saved)| saved.in_volts() > 0.0)
    };
    let larger = conductors::ladder(run.size).iter().copied().filter(|s| s.section() > run.size.section());
    let all: Vec<_> = larger.filter_map(saves).collect();
    let enough = all.iter().find(|(_, saved)| *saved >= too_much);
    let (size, saved) = enough.or(all.last())?;
    let mut words = format!(
        "`{}` alone loses {} of it: in {} it would lose {}",
        run.name,
        lost.show(),
        size.show(),
        (lost - *saved).abs().show()
    );
    if enough.is_none() {
        words.push_str(&shorter(run.length));
    }
    Some(words)
}

fn shorter(length: Length) -> String {
    format!(", which is not enough by itself: its {} must also be shorter", length.show_both())
}
