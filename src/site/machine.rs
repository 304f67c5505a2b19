//! A guide for machines: `guide.json` with its published schema, and schema.org's HowTo.

use schemars::JsonSchema;
use serde::Serialize;
use serde_json::{Value, json};

use super::lists::{CutRow, PartRow};
use crate::cautions::Caution;
use crate::checked::Checked;
use crate::circuit::{Activity, Circuit, Kind};
use crate::finding::{Check, Figure, Outcome};
use crate::guide::{Guide, Standing};

/// The file of the schema, at the site's root.
pub const SCHEMA: &str = "guide.schema.json";

/// Everything that a guide's page says, for machines. Figures are in SI unless their name says otherwise.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "A published install guide")]
pub struct GuideRecord {
    /// Where this file's schema stands, relative to it.
    #[serde(rename = "$schema")]
    schema: String,
    /// Its folder on the site.
    slug: String,
    /// Its page in full, where the site has an address.
    #[serde(skip_serializing_if = "Option::is_none")]
    address: Option<String>,
    /// Title.
    title: String,
    /// In a sentence or two.
    summary: String,
    /// The language's tag.
    language: String,
    /// Published or withdrawn.
    standing: StandingRecord,
    /// The day of this revision, as ISO 8601 has it.
    written: String,
    /// What it is fitted to.
    #[serde(skip_serializing_if = "Option::is_none")]
    vehicle: Option<VehicleRecord>,
    /// Nominal volts.
    system_volts: f64,
    /// Words under which it is found.
    subjects: Vec<String>,
    /// Cautions, the worst first.
    cautions: Vec<CautionRecord>,
    /// The parts list.
    parts: Vec<PartRecord>,
    /// The cut list.
    cuts: Vec<CutRecord>,
    /// The circuit with every default taken.
    #[serde(skip_serializing_if = "Option::is_none")]
    circuit: Option<CircuitRecord>,
    /// What was checked.
    checks: Vec<CheckRecord>,
    /// What was assumed.
    assumptions: Vec<AssumptionRecord>,
    /// The digest of its numbers.
    digest: String,
}

#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "is")]
enum StandingRecord {
    /// On the site.
    Published,
    /// Do not follow it.
    Withdrawn {
        /// Since when.
        since: String,
        /// What was wrong.
        reason: String,
        /// What a reader who followed it should do.
        remedy: String,
    },
}

#[derive(Serialize, JsonSchema)]
struct VehicleRecord {
    kind: &'static str,
    body: &'static str,
    drive: &'static str,
}

#[derive(Serialize, JsonSchema)]
struct CautionRecord {
    id: String,
    /// `danger`, `warning` or `caution`, as ANSI Z535.6 means them.
    signal: &'static str,
    hazard: String,
    consequence: String,
    avoidance: String,
    /// Numbers of the steps it serves.
    steps: Vec<usize>,
    /// Ids of sources.
    sources: Vec<&'static str>,
}

#[derive(Serialize, JsonSchema)]
struct PartRecord {
    key: String,
    mark: String,
    name: String,
    what: String,
    zone: String,
}

#[derive(Serialize, JsonSchema)]
struct CutRecord {
    key: String,
    mark: String,
    size: String,
    colour: String,
    /// Metres to cut, with the allowance.
    cut_metres: f64,
    from: String,
    to: String,
}

#[derive(Serialize, JsonSchema)]
struct CircuitRecord {
    zones: Vec<ZoneRecord>,
    /// Terminals by name.
    terminals: Vec<TerminalRecord>,
    runs: Vec<RunRecord>,
    /// Bolted joints between a part's return and what it is bolted to.
    bolted: Vec<BoltRecord>,
    /// Pieces of the body between neighbouring zones.
    body: Vec<BodyRecord>,
    states: Vec<StateRecord>,
}

#[derive(Serialize, JsonSchema)]
struct ZoneRecord {
    name: String,
    label: String,
    ambient_celsius: f64,
}

#[derive(Serialize, JsonSchema)]
struct TerminalRecord {
    name: String,
    part: String,
    /// What the part is.
    kind: &'static str,
    zone: String,
}

#[derive(Serialize, JsonSchema)]
struct RunRecord {
    name: String,
    from: String,
    to: String,
    size: String,
    section_mm2: f64,
    metal: &'static str,
    insulation: &'static str,
    rated_celsius: f64,
    length_metres: f64,
    /// Of the conductor at 20 °C, or measured end to end with its joints.
    ohms: f64,
    measured: bool,
}

#[derive(Serialize, JsonSchema)]
struct BoltRecord {
    from: String,
    to: String,
    /// Measured ohms, if it was.
    #[serde(skip_serializing_if = "Option::is_none")]
    ohms: Option<f64>,
}

#[derive(Serialize, JsonSchema)]
struct BodyRecord {
    from: String,
    to: String,
    /// Measured ohms, if it was.
    #[serde(skip_serializing_if = "Option::is_none")]
    ohms: Option<f64>,
}

#[derive(Serialize, JsonSchema)]
struct StateRecord {
    name: String,
    label: String,
    /// Nothing for a state that goes on for good.
    #[serde(skip_serializing_if = "Option::is_none")]
    seconds: Option<f64>,
    /// What each part does that does something.
    parts: Vec<DoingRecord>,
}

#[derive(Serialize, JsonSchema)]
struct DoingRecord {
    part: String,
    /// `takes`, `power`, `running`, `cranking` or `open`.
    does: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    amps: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    watts: Option<f64>,
}

#[derive(Serialize, JsonSchema)]
struct CheckRecord {
    rule: &'static str,
    subject: String,
    case: String,
    value: FigureRecord,
    limit: FigureRecord,
    margin: String,
    /// `passes`, `note`, `query`, `unsafe`, `unreadable` or `not-applicable`.
    outcome: &'static str,
    sources: Vec<&'static str>,
}

#[derive(Serialize, JsonSchema)]
struct FigureRecord {
    si: f64,
    unit: &'static str,
    shown: String,
}

#[derive(Serialize, JsonSchema)]
struct AssumptionRecord {
    subject: String,
    what: String,
    value: String,
    source: &'static str,
}

impl From<&Figure> for FigureRecord {
    fn from(figure: &Figure) -> FigureRecord {
        FigureRecord { si: figure.si, unit: figure.unit, shown: figure.shown.clone() }
    }
}

/// The schema of `guide.json` (JSON Schema 2020-12).
pub fn schema() -> String {
    let schema = schemars::schema_for!(GuideRecord);
    let mut text = serde_json::to_string_pretty(&schema).unwrap_or_default();
    text.push('\n');
    text
}

/// What is known of a guide beside its own value.
pub(super) struct Facts<'a> {
    pub one: &'a Checked,
    pub guide: &'a Guide,
    pub language: &'a str,
    pub address: Option<String>,
    pub root: String,
    pub parts: &'a [PartRow],
    pub cuts: &'a [CutRow],
    /// A withdrawn guide's numbers are not given again.
    pub with_numbers: bool,
}

/// A guide's JSON.
pub(super) fn record(facts: &Facts<'_>) -> String {
    let (one, guide) = (facts.one, facts.guide);
    let standing = match &guide.standing {
        Standing::Withdrawn { on, reason, remedy } => StandingRecord::Withdrawn {
            since: on.value.to_string(),
            reason: reason.value.clone(),
            remedy: remedy.value.clone(),
        },
        Standing::Published | Standing::Working => StandingRecord::Published,
    };
    let keep = facts.with_numbers;
    let record = GuideRecord {
        schema: format!("{}{SCHEMA}", facts.root),
        slug: one.slug.clone(),
        address: facts.address.clone(),
        title: guide.title.value.clone(),
        summary: guide.summary.value.clone(),
        language: facts.language.to_string(),
        standing,
        written: guide.written.value.to_string(),
        vehicle: Some(VehicleRecord {
            kind: guide.vehicle.kind.value.word(),
            body: guide.vehicle.body.value.word(),
            drive: guide.vehicle.drive.value.word(),
        }),
        system_volts: guide.system.value.in_volts(),
        subjects: guide.subjects.iter().map(|subject| subject.value.clone()).collect(),
        cautions: one.cautions.iter().filter(|_| keep).map(caution).collect(),
        parts: facts
            .parts
            .iter()
            .map(|row| PartRecord {
                key: row.key.clone(),
                mark: row.mark.clone(),
                name: row.name.clone(),
                what: row.what.clone(),
                zone: row.zone.clone(),
            })
            .collect(),
        cuts: facts
            .cuts
            .iter()
            .filter(|row| !row.is_there)
            .map(|row| CutRecord {
                key: row.key.clone(),
                mark: row.mark.clone(),
                size: row.size.clone(),
                colour: row.colour.clone(),
                cut_metres: row.cut_m,
                from: format!("{} {}", row.from.part, row.from.terminal).trim().to_string(),
                to: format!("{} {}", row.to.part, row.to.terminal).trim().to_string(),
            })
            .collect(),
        circuit: one.circuit.as_ref().filter(|_| keep).map(circuit),
        checks: one.checks.iter().filter(|_| keep).map(check).collect(),
        assumptions: one
            .circuit
            .iter()
            .filter(|_| keep)
            .flat_map(|circuit| &circuit.assumptions)
            .map(|a| AssumptionRecord {
                subject: a.subject.clone(),
                what: a.what.clone(),
                value: a.value.clone(),
                source: a.source,
            })
            .collect(),
        digest: one.digest.clone(),
    };
    let mut text = serde_json::to_string(&record).unwrap_or_default();
    text.push('\n');
    text
}

fn caution(caution: &Caution) -> CautionRecord {
    CautionRecord {
        id: caution.id.into(),
        signal: caution.signal.id(),
        hazard: caution.hazard.clone(),
        consequence: caution.consequence.clone(),
        avoidance: caution.avoidance.clone(),
        steps: caution.steps.clone(),
        sources: caution.sources.to_vec(),
    }
}

fn check(check: &Check) -> CheckRecord {
    CheckRecord {
        rule: check.rule,
        subject: check.subject.clone(),
        case: check.case.clone(),
        value: (&check.value).into(),
        limit: (&check.limit).into(),
        margin: check.margin.clone(),
        outcome: match check.outcome {
            Outcome::Passes => "passes",
            Outcome::Found(severity) => severity.word(),
            Outcome::NotApplicable => "not-applicable",
        },
        sources: check.sources.clone(),
    }
}

fn kind(kind: &Kind) -> &'static str {
    match kind {
        Kind::Battery(_) => "battery",
        Kind::Protector(device) if device.is_fuse => "fuse",
        Kind::Protector(_) => "breaker",
        Kind::Switch(_) => "switch",
        Kind::Stud(_) => "stud",
        Kind::Load(_) => "load",
        Kind::Charger(_) => "charger",
        Kind::Starter(_) => "starter",
        Kind::Alternator(_) => "alternator",
        Kind::Engine(_) => "engine",
        Kind::Body(_) => "body",
    }
}

fn circuit(circuit: &Circuit) -> CircuitRecord {
    let node = |id| circuit.node(id).name.clone();
    CircuitRecord {
        zones: circuit
            .zones
            .iter()
            .map(|zone| ZoneRecord {
                name: zone.name.clone(),
                label: zone.label.clone(),
                ambient_celsius: zone.ambient.in_celsius(),
            })
            .collect(),
        terminals: circuit
            .nodes
            .iter()
            .map(|node| TerminalRecord {
                name: node.name.clone(),
                part: circuit.part(node.part).name.clone(),
                kind: kind(&circuit.part(node.part).kind),
                zone: circuit.zone(node.zone).name.clone(),
            })
            .collect(),
        runs: circuit
            .runs
            .iter()
            .map(|run| RunRecord {
                name: run.name.clone(),
                from: node(run.from),
                to: node(run.to),
                size: run.size.to_string(),
                section_mm2: run.section.in_mm2(),
                metal: run.metal.word(),
                insulation: run.insulation.word(),
                rated_celsius: run.rated.in_celsius(),
                length_metres: run.length.in_metres(),
                ohms: run.measured.unwrap_or(run.r20).in_ohms(),
                measured: run.measured.is_some(),
            })
            .collect(),
        bolted: circuit
            .bolts
            .iter()
            .map(|bolt| BoltRecord {
                from: node(bolt.from),
                to: node(bolt.to),
                ohms: bolt.resistance.map(|r| r.in_ohms()),
            })
            .collect(),
        body: circuit
            .body
            .iter()
            .map(|piece| BodyRecord {
                from: node(piece.from),
                to: node(piece.to),
                ohms: piece.resistance.map(|r| r.in_ohms()),
            })
            .collect(),
        states: circuit
            .states
            .iter()
            .map(|state| StateRecord {
                name: state.name.clone(),
                label: state.label.clone(),
                seconds: state.lasts.map(|lasts| lasts.in_seconds()),
                parts: circuit
                    .parts
                    .iter()
                    .zip(&state.parts)
                    .filter_map(|(part, doing)| {
                        let (does, amps, watts) = match doing {
                            Activity::Idle => return None,
                            Activity::Takes(current) => ("takes", Some(current.in_amps()), None),
                            Activity::Power(power) => ("power", None, Some(power.in_watts())),
                            Activity::Running => ("running", None, None),
                            Activity::Cranking => ("cranking", None, None),
                            Activity::Open => ("open", None, None),
                        };
                        Some(DoingRecord { part: part.name.clone(), does, amps, watts })
                    })
                    .collect(),
            })
            .collect(),
    }
}

/// schema.org's HowTo as JSON-LD, made fit to stand inside a `script` element.
pub(super) fn how_to(facts: &Facts<'_>, steps: &[(usize, String)], publisher: &str) -> String {
    let guide = facts.guide;
    let supply: Vec<Value> = facts
        .parts
        .iter()
        .filter(|row| !row.is_there)
        .map(|row| json!({ "@type": "HowToSupply", "name": format!("{}: {}", row.name, row.what) }))
        .collect();
    let tools: Vec<Value> =
        guide.tools.iter().map(|tool| json!({ "@type": "HowToTool", "name": tool.value })).collect();
    // The page's own address goes before each step's (JSON-LD 1.1: the base of a block in HTML is its page's). A step is named by
    // its first sentence and leads to the whole of it: half a step under `text` would pass for all of it, and the whole of every
    // step a second time is a tenth of the page's weight.
    let first_sentence = |text: &str| {
        let ends = [". ", "! ", "? "].iter().filter_map(|end| text.find(end)).min(); // a figure's point has no space after it
        text.get(..ends.map_or(text.len(), |at| at + 1)).unwrap_or(text).to_string()
    };
    let steps: Vec<Value> = steps
        .iter()
        .map(|(number, text)| {
            json!({ "@type": "HowToStep", "position": number, "name": first_sentence(text), "url": format!("#step-{number}") })
        })
        .collect();
    let mut how_to = json!({
        "@context": "https://schema.org",
        "@type": "HowTo",
        "name": guide.title.value,
        "description": guide.summary.value,
        "inLanguage": facts.language,
        "datePublished": guide.written.value.to_string(),
        "publisher": { "@type": "Organization", "name": publisher },
        "supply": supply,
        "tool": tools,
        "step": steps,
    });
    if let Some(address) = &facts.address {
        how_to["url"] = json!(address);
    }
    how_to.to_string().replace('<', "\\u003c").replace('>', "\\u003e").replace('&', "\\u0026")
}
