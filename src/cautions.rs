//! Cautions, chosen by what the circuit contains. No author can remove one.
//!
//! Knows no site: a caution is words with the steps it serves. Every caution names the hazard, what
//! it does to people and how to avoid it, and carries a signal word by ANSI Z535.6's meaning.
//!
//! * `catalogue` holds the cautions one by one, with what calls for each.
//! * `order` reads from the steps where the batteries are dead and where they go on; `acts` holds the words it looks for.
//! * `defer` says whose word stands above the guide's.
//! * [`emergencies`] says what to do when something goes wrong.
//! * [`UNSEEN`] says what no check can see.

mod acts;
mod catalogue;
mod defer;
mod emergency;
mod order;

pub use catalogue::{IDS, fit};
pub use defer::{Deferral, STATEMENT, UNSEEN, Unseen, defer};
pub use emergency::{Act, Emergency, emergencies, reachable};
pub use order::{Stage, WorkOrder, touched};

use crate::circuit::{Circuit, Kind, NodeId, Part, PartId, Polarity, RunId};
use crate::guide::{Drive, Guide, Target};
use acts::Act as Deed;
use order::Done;

/// How bad it can get, by ANSI Z535.6's meaning of the words.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum SignalWord {
    /// Could hurt slightly or moderately.
    Caution,
    /// Could kill or hurt badly.
    Warning,
    /// Will kill or hurt badly.
    Danger,
}

impl SignalWord {
    /// The word's id, as themes name it.
    pub const fn id(self) -> &'static str {
        match self {
            SignalWord::Caution => "caution",
            SignalWord::Warning => "warning",
            SignalWord::Danger => "danger",
        }
    }
}

/// One caution.
#[derive(Clone, Debug, serde::Serialize)]
pub struct Caution {
    /// Kebab-case.
    pub id: &'static str,
    /// Signal word.
    pub signal: SignalWord,
    /// The hazard, as a short headline.
    pub hazard: String,
    /// What it does to people.
    pub consequence: String,
    /// How to avoid it.
    pub avoidance: String,
    /// The caution in one short sentence, for the steps it serves.
    pub reminder: String,
    /// The same in a few words, where the full sentence stood a step or two before.
    pub short: String,
    /// Other words for some of its steps, those with the batteries on.
    #[serde(skip)]
    pub live: Option<WhenLive>,
    /// Numbers of the steps it serves; it is shown before each.
    pub steps: Vec<usize>,
    /// Ids of its sources in the handbook.
    pub sources: &'static [&'static str],
    /// For which case the avoidance is worded, as `afloat`; empty for the usual one.
    pub variant: &'static str,
    /// Figures in its words, by the name under which a theme's words ask for them.
    pub figures: Vec<(&'static str, String)>,
}

/// A caution's words for steps at which something is already on.
#[derive(Clone, Debug)]
pub struct WhenLive {
    /// In a few words.
    pub short: &'static str,
    /// In one short sentence.
    pub reminder: &'static str,
    /// The steps.
    pub steps: Vec<usize>,
}

/// Chooses the cautions of a guide, the worst first.
pub fn choose(guide: &Guide, circuit: &Circuit) -> Vec<Caution> {
    let order = WorkOrder::of(guide, circuit);
    let job = Job { guide, circuit, done: order::done(guide, circuit, order.as_ref()) };
    let mut cautions: Vec<Caution> = catalogue::ALL.iter().filter_map(|entry| entry(&job)).collect();
    cautions.sort_by_key(|caution| std::cmp::Reverse(caution.signal)); // stable: the catalogue's order within a word
    cautions
}

/// What a caution may look at.
struct Job<'a> {
    guide: &'a Guide,
    circuit: &'a Circuit,
    /// The steps with what they do.
    done: Vec<Done>,
}

impl Job<'_> {
    /// Numbers of the steps of which `serves` holds.
    fn at(&self, serves: impl Fn(&Done) -> bool) -> Vec<usize> {
        self.done.iter().filter(|step| serves(step)).map(|step| step.number).collect()
    }

    /// The first step of a stage.
    fn first(&self, stage: Stage) -> Option<usize> {
        self.done.iter().find(|step| step.stands_in(stage)).map(|step| step.number)
    }

    /// Whether there is an engine that could run.
    fn has_engine(&self) -> bool {
        has_engine(self.guide, self.circuit)
    }

    /// Whether a step links a fuse or a breaker.
    fn links_device(&self, step: &Done) -> bool {
        step.parts.iter().any(|part| matches!(self.circuit.part(*part).kind, Kind::Protector(_)))
    }

    /// Whether a step of the first power fits a fuse or handles a breaker.
    fn fits_device(&self, step: &Done) -> bool {
        self.links_device(step) || step.tells(Deed::Fuse)
    }

    /// Whether a step handles a battery.
    fn links_battery(&self, step: &Done) -> bool {
        step.parts.iter().any(|part| matches!(self.circuit.part(*part).kind, Kind::Battery(_)))
    }

    /// Whether a step fixes something to the vehicle: no cable, and not the battery's own clamp.
    fn fixes(&self, step: &Done) -> bool {
        step.is_in(&[Stage::Before, Stage::Dead]) && step.tells(Deed::Fix) && step.runs.is_empty()
    }

    /// Whether a step lays a cable or its conduit.
    fn lays(&self, step: &Done) -> bool {
        step.tells(Deed::Lay) && !step.tells(Deed::Look) && !self.links_battery(step)
    }

    /// Whether what the job fits may move at a step: with the batteries on, or as a device is closed for the first time.
    fn moves(&self, step: &Done) -> bool {
        let opens = |part: &PartId| match &self.circuit.part(*part).kind {
            Kind::Switch(_) => true,
            Kind::Protector(device) => !device.is_fuse,
            _ => false,
        };
        let closes = step.tells(Deed::Close) && step.named.iter().any(opens); // not the cover of a post
        step.stands_in(Stage::Live) && !step.only_looks() || step.stands_in(Stage::Power) && closes
    }

    /// Whether the engine may run at a step: it is started, readings are taken, joints are felt after it ran, or something is
    /// switched on.
    fn runs_engine(&self, step: &Done) -> bool {
        let told = [Deed::Start, Deed::Measure, Deed::Feel, Deed::Close];
        let stopped = step.tells(Deed::Stopped) || self.handles_post(step);
        step.stands_in(Stage::Live) && told.iter().any(|act| step.tells(*act)) && (!stopped || step.tells(Deed::Start))
    }

    /// Whether a step takes returns off a battery's post, or puts them on, without reading anything there.
    fn handles_post(&self, step: &Done) -> bool {
        let batteries = self.parts(|part| matches!(part.kind, Kind::Battery(_)));
        let reads = step.only_looks() || step.tells(Deed::Measure) || step.tells(Deed::Start) || step.tells(Deed::Feel);
        let returns =
            |run: &RunId| self.circuit.run(*run).polarity == Polarity::Negative && self.ends_at(*run, &batteries);
        !reads && step.runs.iter().any(returns)
    }

    /// Loads whose name holds one of these words.
    fn loads_called(&self, words: &[&str]) -> Vec<PartId> {
        self.parts(|part| {
            let called = acts::holds(&part.name, words) || acts::holds(&part.label, words);
            matches!(part.kind, Kind::Load(_)) && called
        })
    }

    /// Whether the frontmost zone lies before the engine's.
    fn front_is_before_engine(&self) -> bool {
        self.circuit.zones.iter().skip(1).any(|zone| zone.engine_space)
    }

    /// Devices and switches without which a source would be parted from a battery.
    fn between_source_and_battery(&self, sources: &[PartId]) -> Vec<PartId> {
        let joined = |without: Option<PartId>| -> usize {
            let groups = self.circuit.joined(|part| Some(part) != without);
            let fed: Vec<NodeId> =
                sources.iter().filter_map(|source| self.circuit.part(*source).terminals().first().copied()).collect();
            let is_fed = |post: NodeId| fed.iter().any(|node| groups.equiv(node.0, post.0));
            self.circuit.batteries().filter(|(_, battery)| is_fed(battery.positive)).count()
        };
        let whole = joined(None);
        let parts = (0..self.circuit.parts.len()).map(PartId);
        parts.filter(|id| self.circuit.part(*id).through().is_some() && joined(Some(*id)) < whole).collect()
    }

    /// Numbers of the steps with a link to a part or run that the caution is about.
    fn steps(&self, part: impl Fn(PartId) -> bool, run: impl Fn(RunId) -> bool) -> Vec<usize> {
        let touches = |target: &Target| match target {
            Target::Part(name) => self.circuit.part_named(name).is_some_and(&part),
            Target::Run(name) => self.circuit.run_named(name).is_some_and(&run),
        };
        let steps = self.guide.text.steps();
        steps.filter(|step| step.links.iter().any(|link| touches(&link.target))).map(|step| step.number).collect()
    }

    /// Parts of which `is` holds, in the author's order.
    fn parts(&self, is: impl Fn(&crate::circuit::Part) -> bool) -> Vec<PartId> {
        self.circuit.parts.iter().enumerate().filter(|(_, part)| is(part)).map(|(i, _)| PartId(i)).collect()
    }

    /// Whether a run ends at a terminal of one of these parts.
    fn ends_at(&self, run: RunId, parts: &[PartId]) -> bool {
        let run = self.circuit.run(run);
        [run.from, run.to].iter().any(|node| parts.contains(&self.circuit.node(*node).part))
    }
}

/// Whether there is an engine that could run: the vehicle's own, or one in the circuit.
fn has_engine(guide: &Guide, circuit: &Circuit) -> bool {
    let turns = |part: &Part| matches!(part.kind, Kind::Alternator(_) | Kind::Starter(_));
    guide.vehicle.drive.value != Drive::None || circuit.parts.iter().any(turns)
}

#[cfg(test)]
mod tests;
