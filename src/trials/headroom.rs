//! Headroom: for every run the longest length and the largest current at which the guide still
//! passes, and the verdict for the sizes either side. A finding's advice comes from the same search.
//!
//! "Still passes" means: no unsafe and no query that the guide as it stands does not have.

use rayon::prelude::*;

use super::{Verdict, change, judge_changed};
use crate::circuit::{Activity, Circuit, Kind, PartId, Polarity, RunId, StateId};
use crate::finding::{Check, Finding, Outcome, Severity};
use crate::handbook::conductors;
use crate::quantity::{CableSize, Current, Length, Show};
use crate::rules::{self, Bench, Judgement};
use crate::study::{self, Joints, StateStudy, Study, Warmth};

/// The search for a longer run or a larger current ends at this many times what it is.
pub const SEARCHED_TO: f64 = 4.0;
/// The answer is right to this share of itself, on the safe side.
const RIGHT_TO: f64 = 0.02;
/// A load counts as fed by a run when this share of what it takes flows through the run.
const FED_SHARE: f64 = 0.5;
/// Sizes tried for advice: this many steps up the series.
const STEPS_UP: usize = 5;

/// How far one run may be changed.
#[derive(Clone, Debug)]
pub struct Headroom {
    /// Which run.
    pub run: RunId,
    /// Its longest length.
    pub longest: Edge<Length>,
    /// The largest current in it, all loads that it feeds growing together; `None` when it feeds none.
    pub largest: Option<Edge<Current>>,
    /// The next smaller size of its series.
    pub smaller: Option<SizeTrial>,
    /// The next larger.
    pub larger: Option<SizeTrial>,
}

/// An edge that was searched for.
#[derive(Clone, Debug)]
pub struct Edge<T> {
    /// The last value at which the guide still passes.
    pub value: T,
    /// What first stands in the way beyond it; `None`: nothing up to [`SEARCHED_TO`] times.
    pub stopped_by: Option<(&'static str, String)>,
}

/// Another size, tried, with lugs made for it.
#[derive(Clone, Debug)]
pub struct SizeTrial {
    /// The size.
    pub size: CableSize,
    /// What stands in the way with it, the worst first; empty: it passes.
    pub stopped_by: Vec<(&'static str, String, Severity)>,
}

/// Tries every run of a guide.
pub fn headroom(bench: &Bench<'_>, standing: &Verdict) -> Vec<Headroom> {
    let circuit = bench.circuit;
    let fed = fed(circuit, bench.study);
    // Runs on one line feed the same loads: these are tried once.
    let mut groups: Vec<&Vec<PartId>> = fed.iter().filter(|f| !f.is_empty()).collect();
    groups.sort();
    groups.dedup();
    let loaded: Vec<(f64, Stop)> = groups
        .par_iter()
        .map(|fed| edge(bench, standing, None, |factor| change::loaded(circuit, fed, factor)))
        .collect();
    (0..circuit.runs.len())
        .into_par_iter()
        .map(|r| {
            let (id, run) = (RunId(r), &circuit.runs[r]);
            let (factor, by) = edge(bench, standing, Some(id), |factor| change::stretched(circuit, id, factor));
            let longest = Edge { value: run.length * factor, stopped_by: by };
            let largest = groups.binary_search(&&fed[r]).ok().map(|group| {
                let (factor, by) = loaded[group].clone();
                Edge { value: largest_current(bench.study, id) * factor, stopped_by: by }
            });
            let (smaller, larger) = neighbours(run.size);
            let try_size = |size| try_size(bench, standing, id, size);
            Headroom { run: id, longest, largest, smaller: smaller.map(try_size), larger: larger.map(try_size) }
        })
        .collect()
}

fn try_size(bench: &Bench<'_>, standing: &Verdict, run: RunId, size: CableSize) -> SizeTrial {
    let circuit = &change::resized(bench.circuit, run, size);
    let study = &study_changed(bench, circuit, Some(run));
    let mut found = rules::judge_tersely(&Bench { circuit, study, ..*bench }, |_| false);
    found.retain(|f| !is_of_lugs(f));
    SizeTrial { size, stopped_by: Verdict::of(&found).new_since(standing).into_iter().cloned().collect() }
}

/// The ordinary running of a circuit that was changed in one run, or in what its loads take.
fn states_changed(bench: &Bench<'_>, circuit: &Circuit, run: Option<RunId>) -> Study {
    match run {
        Some(_) => study::study_states_after(circuit, bench.study),
        None => study::study_states(circuit),
    }
}

/// The same with its short circuits.
fn study_changed(bench: &Bench<'_>, circuit: &Circuit, run: Option<RunId>) -> Study {
    let mut study = states_changed(bench, circuit, run);
    study.add_faults_after(circuit, bench.study, run);
    study
}

/// Whoever buys another size buys the lugs that are made for it.
fn is_of_lugs(finding: &Finding) -> bool {
    finding.rule == rules::lug_misfit::RULE.id
}

/// What stands in the way; `None`: nothing.
type Stop = Option<(&'static str, String)>;

/// What first stands in the way of a changed circuit, in the catalogue's order.
fn stopped_by(bench: &Bench<'_>, standing: &Verdict, circuit: &Circuit, study: &Study) -> Stop {
    let mut stop = None;
    rules::judge_tersely(&Bench { circuit, study, ..*bench }, |new| {
        stop = new.iter().find(|f| standing.is_new(f)).map(|f| (f.rule, f.subject.clone()));
        stop.is_some()
    });
    stop
}

/// The largest factor from 1 to [`SEARCHED_TO`] that nothing stands in the way of, and what stands in the
/// way of the next. Rules are taken to stay broken once broken.
///
/// Ordinary running is searched first, which is cheap: what fails there fails whatever a short circuit
/// does. Only where it ends are short circuits followed, and searched in turn if they fail there.
fn edge(bench: &Bench<'_>, standing: &Verdict, run: Option<RunId>, changed: impl Fn(f64) -> Circuit) -> (f64, Stop) {
    let ordinary = |factor: f64| {
        let circuit = changed(factor);
        stopped_by(bench, standing, &circuit, &states_changed(bench, &circuit, run))
    };
    let whole = |factor: f64| {
        let circuit = changed(factor);
        stopped_by(bench, standing, &circuit, &study_changed(bench, &circuit, run))
    };
    let (most, by) = halve(SEARCHED_TO, ordinary);
    match whole(most) {
        None => (most, by),
        Some(by) => between(most, by, whole),
    }
}

fn halve(most: f64, stopped: impl Fn(f64) -> Stop) -> (f64, Stop) {
    match stopped(most) {
        None => (most, None),
        Some(by) => between(most, by, stopped),
    }
}

/// By halving on the log scale between 1, where nothing stands in the way, and where something does.
fn between(most: f64, mut by: (&'static str, String), stopped: impl Fn(f64) -> Stop) -> (f64, Stop) {
    let (mut low, mut high) = (1.0f64, most);
    while high > low * (1.0 + RIGHT_TO) {
        let middle = (low * high).sqrt();
        match stopped(middle) {
            Some(b) => {
                by = b;
                high = middle;
            }
            None => low = middle,
        }
    }
    (low, Some(by))
}

/// The next smaller and the next larger size of a size's own series.
pub fn neighbours(size: CableSize) -> (Option<CableSize>, Option<CableSize>) {
    let ladder = conductors::ladder(size);
    let own = size.section();
    let smaller = ladder.iter().rev().find(|s| s.section() < own).copied();
    let larger = ladder.iter().find(|s| s.section() > own).copied();
    (smaller, larger)
}

/// By run: loads and starters whose current flows through it in some state, tried by whether the run
/// carries more when they alone take more.
fn fed(circuit: &Circuit, study: &Study) -> Vec<Vec<PartId>> {
    let mut fed = vec![Vec::new(); circuit.runs.len()];
    for (p, kind) in circuit.parts.iter().enumerate().map(|(p, part)| (p, &part.kind)) {
        if !matches!(kind, Kind::Load(_) | Kind::Starter(_)) {
            continue;
        }
        let part = PartId(p);
        let changed = change::loaded(circuit, &[part], 1.1);
        for state in (0..circuit.states.len()).map(StateId) {
            let takes = matches!(
                circuit.states[state.0].parts[p],
                Activity::Takes(_) | Activity::Power(_) | Activity::Cranking
            );
            let Some(before) = cool(study.state(state)).filter(|s| takes && s.part(part).abs() > Current::zero())
            else {
                continue;
            };
            let Ok(after) = study::solve_plain(&changed, state) else { continue };
            let asked = (after.part(part).abs() - before.part(part).abs()).in_amps();
            for (r, fed) in fed.iter_mut().enumerate() {
                let more = (after.run(RunId(r)).abs() - before.run(RunId(r)).abs()).in_amps();
                if more >= FED_SHARE * asked && !fed.contains(&part) {
                    fed.push(part);
                }
            }
        }
    }
    fed
}

fn cool(study: &StateStudy) -> Option<&crate::study::Solution> {
    study.at(Warmth::Cool, Joints::Best, study.main_charge()).next()?.solution.as_ref().ok()
}

/// The largest current of a run in any state.
fn largest_current(study: &Study, id: RunId) -> Current {
    study.states.iter().map(|s| s.heat[id.0].current).fold(Current::zero(), Current::max)
}

/// Rules whose findings another size of a run may mend.
const MENDED_BY_SIZE: &[&str] = &[
    "feed-drop",
    "return-drop",
    "starting-drop",
    "starter-voltage-low",
    "load-drop",
    "working-voltage-low",
    "charge-drop",
    "conductor-hot",
    "device-above-cable",
    "fault-not-cleared",
    "chafe-not-cleared",
    "return-loose",
    "tap-unprotected",
    "size-not-in-table",
    "conductor-too-small",
];

/// Lays beside each finding that a thicker run would mend which size of which run mends it, and by
/// how much it then passes.
pub fn advise(bench: &Bench<'_>, judgement: &mut Judgement) {
    let mut tried: Vec<((&'static str, String), Option<String>)> = Vec::new();
    for i in 0..judgement.findings.len() {
        let finding = &judgement.findings[i];
        if finding.severity < Severity::Query || !MENDED_BY_SIZE.contains(&finding.rule) {
            continue;
        }
        let key = (finding.rule, finding.subject.clone());
        let advice = match tried.iter().find(|(k, _)| *k == key) {
            Some((_, advice)) => advice.clone(),
            None => {
                let advice = mend(bench, key.0, &key.1);
                tried.push((key, advice.clone()));
                advice
            }
        };
        if let Some(advice) = advice {
            judgement.findings[i].advice.insert(0, advice);
        }
    }
}

/// The smallest thicker size of one run that takes a finding away, in words with what it leaves to spare.
fn mend(bench: &Bench<'_>, rule: &'static str, subject: &str) -> Option<String> {
    let candidates = match bench.circuit.run_named(subject) {
        Some(run) => vec![run],
        None => heaviest(bench, subject),
    };
    let mut best: Option<(f64, String)> = None;
    for id in candidates {
        let run = bench.circuit.run(id);
        let mut size = run.size;
        for _ in 0..STEPS_UP {
            let Some(next) = neighbours(size).1 else { break };
            size = next;
            let circuit = change::resized(bench.circuit, id, size);
            // Cheap first: what fails in ordinary running needs no short circuit.
            let ordinary = states_changed(bench, &circuit, Some(id));
            let fails = |f: &Finding| f.severity >= Severity::Query && f.rule == rule && f.subject == subject;
            let found = rules::judge_tersely(&Bench { circuit: &circuit, study: &ordinary, ..*bench }, |new| {
                new.iter().any(fails)
            });
            if found.iter().any(fails) {
                continue;
            }
            let (_, judged) = judge_changed(bench.guide, &circuit, bench.limits);
            if Verdict::of(&judged.findings).holds(rule, subject) {
                continue;
            }
            // What is nearest to its limit says how much is to spare.
            let apart = |c: &&Check| (c.value.si - c.limit.si).abs() / c.limit.si.abs().max(f64::MIN_POSITIVE);
            let of_finding = |c: &&Check| {
                c.rule == rule && c.subject == subject && c.outcome == Outcome::Passes && !c.margin.is_empty()
            };
            let nearest = judged.checks.iter().filter(of_finding).min_by(|a, b| apart(a).total_cmp(&apart(b)));
            let margin = nearest.map(|c| c.margin.clone());
            let with = margin.map_or_else(String::new, |m| format!(" with {m}"));
            let words = format!("{} for `{}` passes{with} (it is {} now)", size.show_both(), run.name, run.size.show());
            // The least copper that mends it.
            let copper = (size.section().in_mm2() - run.section.in_mm2()) * run.length.in_metres();
            if best.as_ref().is_none_or(|(least, _)| copper < *least) {
                best = Some((copper, words));
            }
            break;
        }
    }
    best.map(|(_, words)| words)
}

/// Runs that lose most volts in a state in which a part is on, the worst three.
fn heaviest(bench: &Bench<'_>, subject: &str) -> Vec<RunId> {
    let Some(part) = bench.circuit.part_named(subject) else { return Vec::new() };
    let mut lost: Vec<(f64, RunId)> = Vec::new();
    for (state, _, study) in bench.states().filter(|(s, ..)| change::is_on(bench.circuit, *s, part)) {
        let _ = state;
        let Some(solution) = cool(study) else { continue };
        for (r, run) in bench.circuit.runs.iter().enumerate().filter(|(_, r)| r.polarity != Polarity::Loose) {
            let volts = solution.between(run.from, run.to).abs().in_volts();
            match lost.iter_mut().find(|(_, id)| id.0 == r) {
                Some((most, _)) => *most = most.max(volts),
                None => lost.push((volts, RunId(r))),
            }
        }
    }
    lost.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    lost.into_iter().take(3).map(|(_, id)| id).collect()
}
