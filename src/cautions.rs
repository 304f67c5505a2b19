//! Cautions, chosen by what the circuit contains. No author can remove one.
//!
//! Knows no site: a caution is words with the steps it serves.

use crate::circuit::Circuit;
use crate::guide::Guide;

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
    /// Numbers of the steps it serves; it is shown before each.
    pub steps: Vec<usize>,
    /// Ids of its sources in the handbook.
    pub sources: &'static [&'static str],
}

/// Chooses the cautions of a guide, the worst first.
pub fn choose(_guide: &Guide, _circuit: &Circuit) -> Vec<Caution> {
    Vec::new()
}
