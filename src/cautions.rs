//! Cautions, chosen by what the circuit contains. No author can remove one.
//!
//! Knows no site: a caution is words with the steps it serves. Every caution names the hazard, what
//! it does to people and how to avoid it, and carries a signal word by ANSI Z535.6's meaning.
//!
//! * `catalogue` holds the cautions one by one, with what calls for each.
//! * `defer` says whose word stands above the guide's.
//! * [`emergencies`] says what to do when something goes wrong.
//! * [`UNSEEN`] says what no check can see.

mod catalogue;
mod defer;
mod emergency;

pub use catalogue::IDS;
pub use defer::{Deferral, STATEMENT, UNSEEN, Unseen, defer};
pub use emergency::{Act, Emergency, emergencies, reachable};

use crate::circuit::{Circuit, PartId, RunId};
use crate::guide::{Guide, Target};

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
    /// Numbers of the steps it serves; it is shown before each.
    pub steps: Vec<usize>,
    /// Ids of its sources in the handbook.
    pub sources: &'static [&'static str],
}

/// Chooses the cautions of a guide, the worst first.
pub fn choose(guide: &Guide, circuit: &Circuit) -> Vec<Caution> {
    let job = Job { guide, circuit };
    let mut cautions: Vec<Caution> = catalogue::ALL.iter().filter_map(|entry| entry(&job)).collect();
    cautions.sort_by_key(|caution| std::cmp::Reverse(caution.signal)); // stable: the catalogue's order within a word
    cautions
}

/// What a caution may look at.
struct Job<'a> {
    guide: &'a Guide,
    circuit: &'a Circuit,
}

impl Job<'_> {
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

#[cfg(test)]
mod tests;
