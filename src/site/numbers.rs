//! What was worked out of a guide, put into words for its reader: meter readings, the fault finder,
//! headroom and variants.

use serde::Serialize;

use super::lists;
use super::sheets::{SourceShown, Typesetter};
use crate::checked::Checked;
use crate::circuit::{Circuit, Kind, NodeId, PartId, Polarity, RunId, StateId};
use crate::drawing::model;
use crate::finding::{Check, Outcome, Severity};
use crate::handbook::battery::{ChargeState, open_circuit};
use crate::quantity::{Current, Duration, Length, Show, Voltage};
use crate::readings::{Filled, MeterReading, SpanKind, on_meter_beside};
use crate::rules;
use crate::study::cell_kind;
use crate::trials::change::Suspect;
use crate::trials::culprit::{self, DEGRADED_MOHM, Symptom};
use crate::trials::headroom::{Edge, SEARCHED_TO, SizeTrial};

/// Minutes between two cranks, where the guide names no pause; common practice, no source.
const CRANKING_PAUSE_MINUTES: f64 = 2.0;

/// Readings of one state.
#[derive(Serialize)]
pub(super) struct StateReadings {
    pub key: String,
    pub title: String,
    /// How the state is brought about.
    pub set_up: String,
    pub rows: Vec<ReadingRow>,
}

/// One reading.
#[derive(Serialize)]
pub(super) struct ReadingRow {
    pub key: String,
    pub what: String,
    pub red: String,
    pub black: String,
    pub clamp: String,
    pub expected: String,
    pub stop: String,
    pub stop_sources: Vec<SourceShown>,
    pub write: String,
}

/// A symptom with what may have caused it, by the state in which the readings are taken.
#[derive(Serialize)]
pub(super) struct SymptomShown {
    pub id: String,
    pub title: String,
    pub groups: Vec<SymptomState>,
}

/// The readings of a symptom in one state, the likeliest culprit first.
#[derive(Serialize)]
pub(super) struct SymptomState {
    /// The state to put the vehicle in, and how.
    pub state: String,
    pub rows: Vec<CulpritRow>,
}

/// One culprit.
#[derive(Serialize)]
pub(super) struct CulpritRow {
    /// Where on the page more of it stands, if it has a mark.
    pub href: String,
    pub mark: String,
    pub name: String,
    pub red: String,
    pub black: String,
    /// What a good one reads at most, at which current.
    pub good: String,
    /// From which reading on it is this one.
    pub bad: String,
}

/// How far one run may differ from the guide.
#[derive(Serialize)]
pub(super) struct RunLimit {
    pub key: String,
    pub mark: String,
    pub name: String,
    pub size: String,
    /// How much longer it may be than in the guide: no length to cut by.
    pub to_spare: String,
    pub largest: String,
    pub smaller: String,
    pub larger: String,
}

/// A variant beside the guide.
#[derive(Serialize)]
pub(super) struct VariantShown {
    pub key: String,
    pub title: String,
    pub why: String,
    /// What the rules say of it.
    pub verdicts: Vec<VariantVerdict>,
    /// Figures beside each other.
    pub figures: Vec<VariantFigure>,
}

/// What one rule says of a variant.
#[derive(Serialize)]
pub(super) struct VariantVerdict {
    pub severity: String,
    pub rule: &'static str,
    pub message: String,
}

/// One figure of the guide and of the variant.
#[derive(Serialize)]
pub(super) struct VariantFigure {
    pub title: String,
    pub subject: String,
    pub case: String,
    pub here: String,
    pub there: String,
    pub limit: String,
}

/// A terminal as a reader would name it: "Start battery plus". Where no cable ends, the return is the metal itself.
pub(super) fn terminal(setter: &Typesetter<'_>, circuit: &Circuit, node: NodeId) -> String {
    let (part, terminal) = lists::terminal(circuit, node, &setter.words);
    let of = circuit.part(circuit.node(node).part);
    let bolted = of.bolted_to.is_some()
        && circuit.node(node).polarity == Polarity::Negative
        && circuit.runs_at(node).next().is_none();
    match &of.kind {
        Kind::Starter(_) | Kind::Alternator(_) if bolted => setter.words.fill("terminal_case", &[("part", &part)]),
        Kind::Engine(_) | Kind::Body(_) => format!("{part} {terminal}").trim().to_string(),
        _ if bolted => setter.words.fill("terminal_bolted", &[("part", &part)]),
        _ => format!("{part} {terminal}").trim().to_string(),
    }
}

fn part_name(circuit: &Circuit, part: PartId) -> String {
    let part = circuit.part(part);
    lists::name(&part.label, &part.name)
}

fn state_name(circuit: &Circuit, state: StateId) -> String {
    let state = &circuit.states[state.0];
    lists::sentence(&lists::name(&state.label, &state.name))
}

fn run_name(circuit: &Circuit, run: RunId) -> String {
    format!("{} {}", lists::run_mark(run), lists::name("", &circuit.run(run).name))
}

/// Volts as a meter shows them, in the range that another value of their row asks for; the unit stays on the figure's line.
fn volts(volts: Voltage, beside: Voltage) -> String {
    on_meter_beside(volts, beside).replace('-', "−").replace(' ', "\u{a0}")
}

/// The readings, state by state.
pub(super) fn readings(setter: &Typesetter<'_>, one: &Checked, circuit: &Circuit) -> Vec<StateReadings> {
    let words = &setter.words;
    let mut states: Vec<StateReadings> = Vec::new();
    for reading in &one.readings {
        let state = &circuit.states[reading.state.0];
        if states.last().is_none_or(|last| last.key != state.name) {
            states.push(StateReadings {
                key: state.name.clone(),
                title: state_name(circuit, reading.state),
                set_up: set_up(setter, circuit, reading.state),
                rows: Vec::new(),
            });
        }
        let Some(of_state) = states.last_mut() else { continue };
        let key = format!("reading-{}-{}", state.name, of_state.rows.len() + 1);
        let part = part_name(circuit, reading.part);
        let what = match reading.kind {
            SpanKind::Feed => words.fill("reading_feed", &[("part", &part)]),
            SpanKind::Return => words.fill("reading_return", &[("part", &part)]),
            SpanKind::ChargeFeed => words.fill("reading_charge_feed", &[("part", &part)]),
            SpanKind::ChargeReturn => words.fill("reading_charge_return", &[("part", &part)]),
            SpanKind::Terminals => words.fill("reading_posts", &[("part", &part)]),
        };
        let write = words.fill("reading_write", &[("what", &what)]);
        of_state.rows.push(ReadingRow {
            key,
            red: terminal(setter, circuit, reading.red),
            black: terminal(setter, circuit, reading.black),
            clamp: clamp(setter, circuit, reading),
            // The band ends under the stop, never at it.
            expected: words.fill(
                if reading.expected.1 == reading.stop { "reading_band_under" } else { "reading_band" },
                &[
                    ("low", &volts(reading.expected.0, reading.stop)),
                    ("high", &volts(reading.expected.1, reading.stop)),
                ],
            ),
            stop: match reading.kind {
                SpanKind::Terminals => {
                    let below = words.fill("reading_stop_below", &[("volts", &volts(reading.stop, reading.stop))]);
                    let over = reading
                        .stop_over
                        .map(|(over, _)| words.fill("reading_stop_or_over", &[("volts", &volts(over, over))]));
                    below + &over.unwrap_or_default()
                }
                _ => words.fill("reading_stop_above", &[("volts", &volts(reading.stop, reading.stop))]),
            },
            stop_sources: std::iter::once(reading.stop_source)
                .chain(reading.stop_over.map(|(_, source)| source).filter(|source| *source != reading.stop_source))
                .map(|source| setter.source(source))
                .collect(),
            what,
            write,
        });
    }
    states
}

fn clamp(setter: &Typesetter<'_>, circuit: &Circuit, reading: &MeterReading) -> String {
    let (text, run, current) = match (reading.clamp, reading.filled) {
        (Some((run, current)), _) => ("reading_clamp", run, current),
        (None, Some(Filled::Clamp(run, current))) => ("reading_filling", run, current),
        (None, Some(Filled::Unshown)) => return setter.words.get("reading_nearly_full").to_string(),
        (None, None) => return String::new(),
    };
    setter.words.fill(text, &[("run", &run_name(circuit, run)), ("current", &current.show())])
}

/// What is on in a state, in words.
fn set_up(setter: &Typesetter<'_>, circuit: &Circuit, state: StateId) -> String {
    use crate::circuit::Activity;
    let words = &setter.words;
    let state = &circuit.states[state.0];
    let mut doing = Vec::new();
    for (i, activity) in state.parts.iter().enumerate() {
        let part = part_name(circuit, PartId(i));
        let text = match activity {
            Activity::Idle => continue,
            Activity::Takes(current) if *current == Current::zero() => continue,
            Activity::Takes(current) => words.fill("doing_takes", &[("part", &part), ("much", &current.show())]),
            Activity::Power(power) => words.fill("doing_takes", &[("part", &part), ("much", &power.show())]),
            Activity::Running => words.fill("doing_running", &[("part", &part)]),
            Activity::Cranking => words.fill("doing_cranking", &[("part", &part)]),
            Activity::Open => words.fill("doing_open", &[("part", &part)]),
        };
        doing.push(text);
    }
    if let Some(lasts) = state.lasts {
        doing.push(words.fill("doing_for", &[("time", &lasts.show())]));
    }
    let mut text = doing.join("; ");
    if state.cranks() {
        let pause = state.every.unwrap_or_else(|| Duration::minutes(CRANKING_PAUSE_MINUTES));
        text.push_str(&words.fill("doing_one_by_one", &[("pause", &pause.show())]));
    }
    text
}

/// Whether a load is a panel: its lights show first that volts are missing.
fn feeds_lights(one: &Checked, circuit: &Circuit, part: PartId) -> bool {
    let written = one.guide.as_ref().and_then(|guide| guide.parts.get(&circuit.part(part).name));
    written.is_some_and(|part| matches!(part.kind, crate::guide::PartKind::Panel(_)))
}

/// Symptoms, each with what may have caused it. Of a symptom's culprits no more are shown than a reader would work through.
pub(super) fn fault_finder(setter: &Typesetter<'_>, one: &Checked, circuit: &Circuit) -> Vec<SymptomShown> {
    let Some(trials) = &one.trials else { return Vec::new() };
    let marks = model::tags(circuit);
    let shown = culprit::symptoms(&trials.culprits).into_iter().enumerate().map(|(i, symptom)| {
        let (key, part) = match symptom {
            Symptom::SlowCranking(part) => ("symptom_slow_cranking", part),
            Symptom::WeakLoad(part) if feeds_lights(one, circuit, part) => ("symptom_dim", part),
            Symptom::WeakLoad(part) => ("symptom_weak_load", part),
            Symptom::NeverFills(part) => ("symptom_never_fills", part),
        };
        let mut groups: Vec<(StateId, SymptomState)> = Vec::new();
        for (culprit, ..) in culprit::fitting(&trials.culprits, symptom).into_iter().take(culprit::MOST_TOLD) {
            let Some(shows) = culprit.shows(circuit, symptom) else { continue };
            let row = culprit_row(setter, circuit, &marks, culprit.suspect, shows);
            match groups.iter_mut().find(|(state, _)| *state == shows.state) {
                Some((_, group)) => group.rows.push(row),
                None => {
                    let named =
                        [("state", state_name(circuit, shows.state)), ("set_up", set_up(setter, circuit, shows.state))];
                    let state = setter.words.fill("finder_state", &named.each_ref().map(|(k, v)| (*k, v.as_str())));
                    groups.push((shows.state, SymptomState { state, rows: vec![row] }));
                }
            }
        }
        SymptomShown {
            id: format!("symptom-{}", i + 1),
            title: setter.words.fill(key, &[("part", &part_name(circuit, part))]),
            groups: groups.into_iter().map(|(_, group)| group).collect(),
        }
    });
    shown.collect()
}

/// One culprit's reading in words; `marks` are those of the parts. One that tells nothing says so, and what to do instead.
fn culprit_row(
    setter: &Typesetter<'_>,
    circuit: &Circuit,
    marks: &[String],
    suspect: Suspect,
    shows: &culprit::Reading,
) -> CulpritRow {
    let beside = shows.bad_from().unwrap_or(shows.good_to());
    let good = [("volts", volts(shows.good_to(), beside)), ("current", shows.current.show())];
    let (href, mark, name) = match suspect {
        Suspect::Run(run) => {
            let key = &circuit.run(run).name;
            (format!("#run-{key}"), lists::run_mark(run), lists::name("", key))
        }
        Suspect::Device(part) => {
            (format!("#part-{}", circuit.part(part).name), marks[part.0].clone(), part_name(circuit, part))
        }
        Suspect::Bolt(bolt) => {
            let part = part_name(circuit, circuit.bolts[bolt].part);
            (String::new(), String::new(), setter.words.fill("finder_bolt", &[("part", &part)]))
        }
    };
    CulpritRow {
        href,
        mark,
        name,
        red: terminal(setter, circuit, shows.high),
        black: terminal(setter, circuit, shows.low),
        good: setter.words.fill("finder_good", &good.each_ref().map(|(k, v)| (*k, v.as_str()))),
        bad: match shows.bad_from() {
            Some(from) if shows.is_passed_by() => setter
                .words
                .fill("finder_bad_passed", &[("volts", &volts(from, beside)), ("current", &shows.ill_current.show())]),
            Some(from) => setter.words.fill("finder_bad", &[("volts", &volts(from, beside))]),
            None => setter.words.get("finder_untold").into(),
        },
    }
}

/// How to go through the fault finder, step by step, and what it was worked out with.
pub(super) fn fault_finder_lead(setter: &Typesetter<'_>, circuit: &Circuit) -> (Vec<String>, String) {
    // Rested voltage of a battery at least half full, by its chemistry and units.
    let mut rested: Vec<String> = Vec::new();
    for (_, facts) in circuit.batteries() {
        let kind = cell_kind(facts.chemistry);
        let key = format!("chemistry_{}", facts.chemistry.word());
        let [half, full] =
            [ChargeState::Half, ChargeState::Full].map(|charge| (open_circuit(kind, charge) * facts.units).show());
        let with = [("chemistry", setter.words.get(&key)), ("half", half.as_str()), ("full", full.as_str())];
        let one = setter.words.fill("misbehaves_rested", &with);
        if !rested.contains(&one) {
            rested.push(one);
        }
    }
    let words = &setter.words;
    let steps = vec![
        words.fill("misbehaves_lead", &[("rested", &rested.join("; "))]),
        words.get("misbehaves_read").to_string(),
        words.get("misbehaves_scale").to_string(),
    ];
    (steps, words.fill("misbehaves_worked", &[("ohms", &format!("{DEGRADED_MOHM:.0} mΩ"))]))
}

/// How far each run may differ from the guide, one at a time.
pub(super) fn run_limits(setter: &Typesetter<'_>, one: &Checked, circuit: &Circuit) -> Vec<RunLimit> {
    let words = &setter.words;
    // A stop is told at length once, and then by the mark of that row.
    let mut told: Vec<(&'static str, String)> = Vec::new();
    let runs = circuit.runs.iter().enumerate().map(|(i, run)| {
        let headroom = one.trials.iter().flat_map(|trials| &trials.headroom).find(|headroom| headroom.run == RunId(i));
        let size = |trial: Option<&SizeTrial>| match trial {
            None => String::new(),
            Some(trial) if trial.stopped_by.is_empty() => {
                words.fill("size_passes", &[("size", &trial.size.show_both())])
            }
            Some(trial) => {
                let mut stopped: Vec<&str> = trial.stopped_by.iter().map(|(rule, ..)| rule_title(rule)).collect();
                stopped.dedup();
                words.fill("size_stopped", &[("size", &trial.size.show_both()), ("by", &stopped.join("; "))])
            }
        };
        RunLimit {
            key: run.name.clone(),
            mark: lists::run_mark(RunId(i)),
            name: lists::name("", &run.name),
            size: run.size.show(),
            to_spare: to_spare(setter, run.length, headroom.map(|headroom| &headroom.longest)),
            largest: match headroom.and_then(|h| h.largest.as_ref()) {
                None => {
                    let states = one.study.iter().flat_map(|study| &study.states);
                    let most = states.map(|s| s.heat[i].current).fold(Current::zero(), Current::max);
                    words.fill("edge_not_searched", &[("current", &most.show())])
                }
                Some(largest) => {
                    let shared = run.polarity == Polarity::Negative
                        && !circuit.body.is_empty()
                        && !carries_a_part(one, RunId(i));
                    let beside = if shared { words.get("edge_shared") } else { "" };
                    let stop = match largest.stopped_by.as_ref().map(|(rule, _)| *rule) {
                        None => String::new(),
                        Some(rule) => match told.iter().find(|(of, _)| *of == rule) {
                            Some((_, mark)) => words.fill("edge_stop_same", &[("mark", mark)]),
                            None => {
                                told.push((rule, lists::run_mark(RunId(i))));
                                words.fill("edge_stop", &[("rule", rule_title(rule))])
                            }
                        },
                    };
                    format!("{}{stop}{beside}", edge(setter, largest))
                }
            },
            smaller: size(headroom.and_then(|h| h.smaller.as_ref())),
            larger: size(headroom.and_then(|h| h.larger.as_ref())),
        }
    });
    runs.collect()
}

/// Whether a run carries all of some part's current in the state in which it carries most: it shares with no other path.
fn carries_a_part(one: &Checked, run: RunId) -> bool {
    let states = one.study.iter().flat_map(|study| &study.states);
    let most = states.max_by(|a, b| a.heat[run.0].current.si().total_cmp(&b.heat[run.0].current.si()));
    let solution = most.and_then(|state| state.cases.iter().find_map(|case| case.solution.as_ref().ok()));
    solution.is_some_and(|solution| {
        let amps = solution.run(run).abs().in_amps();
        let parts = one.circuit.iter().flat_map(|circuit| 0..circuit.parts.len());
        parts.map(PartId).any(|part| (solution.part(part).abs().in_amps() - amps).abs() <= 0.02 * amps)
    })
}

/// What the table of limits says of itself.
pub(super) fn run_limits_lead(setter: &Typesetter<'_>) -> String {
    setter.words.fill("suits_runs_lead", &[("times", &format!("{SEARCHED_TO:.0}"))])
}

/// How much longer a run may be than it is here. Never the sum of both: beside a cut list it would be taken for a length to cut.
fn to_spare(setter: &Typesetter<'_>, here: Length, longest: Option<&Edge<Length>>) -> String {
    let (more, key) = match longest {
        Some(edge) if edge.stopped_by.is_none() => (edge.value - here, "to_spare_open"),
        Some(edge) => (edge.value - here, "to_spare"),
        None => (Length::zero(), "to_spare"),
    };
    let here_shown = here.show().replace(' ', "\u{a0}"); // a figure and its unit on one line
    if more <= Length::zero() {
        return setter.words.fill("to_spare_none", &[("here", &here_shown)]);
    }
    setter.words.fill(key, &[("more", &more.show_both()), ("here", &here_shown)])
}

/// The last value that passes; a search that met nothing says how far it went.
fn edge<T: Show + Copy>(setter: &Typesetter<'_>, edge: &Edge<T>) -> String {
    match edge.stopped_by {
        Some(_) => edge.value.show_both(),
        None => setter.words.fill("edge_not_found", &[("value", &edge.value.show_both())]),
    }
}

fn rule_title(id: &'static str) -> &'static str {
    rules::find(id).map_or(id, |rule| rule.title)
}

/// What a rule says, with the circuit's keys as a reader would name them: "`main-fuse` opens" becomes "Main fuse opens".
pub(super) fn in_words(setter: &Typesetter<'_>, circuit: &Circuit, text: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some((before, after)) = rest.split_once('`') {
        let Some((key, after)) = after.split_once('`') else { break };
        out.push_str(before);
        out.push_str(&key_in_words(setter, circuit, key));
        rest = after;
    }
    out + rest
}

/// What a reader would call a part, a run or a terminal; any other word stays as it is.
pub(super) fn key_in_words(setter: &Typesetter<'_>, circuit: &Circuit, key: &str) -> String {
    if let Some(part) = circuit.part_named(key) {
        return part_name(circuit, part);
    }
    if let Some(run) = circuit.runs.iter().position(|run| run.name == key) {
        return run_name(circuit, RunId(run));
    }
    if let Some(node) = circuit.nodes.iter().position(|node| node.name == key) {
        return terminal(setter, circuit, NodeId(node));
    }
    circuit
        .states
        .iter()
        .position(|state| state.name == key)
        .map_or_else(|| key.to_string(), |i| state_name(circuit, StateId(i)))
}

/// Variants beside the guide.
pub(super) fn variants(setter: &Typesetter<'_>, one: &Checked, circuit: &Circuit) -> Vec<VariantShown> {
    let words = &setter.words;
    let Some(trials) = &one.trials else { return Vec::new() };
    let shown = trials.variants.iter().map(|variant| {
        let against: Vec<_> =
            variant.judgement.findings.iter().filter(|finding| Severity::Query <= finding.severity).collect();
        let verdicts = against.iter().map(|finding| VariantVerdict {
            severity: words.get(&format!("outcome_{}", finding.severity.word())).into(),
            rule: finding.rule,
            message: in_words(setter, circuit, &finding.message),
        });
        // Of each rule that the variant claims to trip: its worst comparison, beside the same one of the guide.
        let figures = variant.claimed.iter().filter_map(|rule| {
            let is_found = |check: &&Check| {
                check.rule == rule && matches!(check.outcome, Outcome::Found(s) if Severity::Query <= s)
            };
            let there = variant.judgement.checks.iter().filter(is_found).max_by(|a, b| over(a).total_cmp(&over(b)))?;
            let here = one
                .checks
                .iter()
                .find(|check| check.rule == there.rule && check.subject == there.subject && check.case == there.case)
                .or_else(|| one.checks.iter().find(|check| check.rule == there.rule && check.subject == there.subject));
            Some(VariantFigure {
                title: lists::sentence(rule_title(there.rule)),
                subject: key_in_words(setter, circuit, &there.subject),
                case: in_words(setter, circuit, &there.case),
                here: here.map_or_else(|| words.get("no_such_figure").to_string(), |check| check.value.shown.clone()),
                there: there.value.shown.clone(),
                limit: there.limit.shown.clone(),
            })
        });
        VariantShown {
            key: variant.name.clone(),
            title: variant.title.clone(),
            why: variant.why.clone().unwrap_or_default(),
            figures: figures.collect(),
            verdicts: verdicts.collect(),
        }
    });
    shown.collect()
}

/// How far past its limit a figure is, as a share of the limit.
fn over(check: &Check) -> f64 {
    if check.limit.si == 0.0 {
        check.value.si.abs()
    } else {
        (check.value.si - check.limit.si).abs() / check.limit.si.abs()
    }
}
