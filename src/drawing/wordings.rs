//! A sheet's diagram in more words or fewer: labels make way for lines where room is short.

use std::sync::OnceLock;

use super::model::{Diagram, Split, Wording, Words};
use crate::circuit::Circuit;

/// How much a label says, from the fullest to the tersest.
pub const WORDINGS: [Wording; 4] = [
    Wording { both_units: true, run_lines: 2, part_width: 27.0 },
    Wording { both_units: false, run_lines: 2, part_width: 24.0 },
    Wording { both_units: false, run_lines: 2, part_width: 19.0 },
    Wording { both_units: false, run_lines: 2, part_width: 15.0 },
];

/// A circuit in words, each wording made when it is first needed.
pub struct Wordings<'a> {
    circuit: &'a Circuit,
    words: [OnceLock<Words>; 4],
}

/// A sheet in all wordings.
pub struct Sheet<'a> {
    wordings: &'a Wordings<'a>,
    split: Split,
    /// Its number in the split.
    pub number: usize,
    diagrams: [OnceLock<Diagram>; 4],
}

impl<'a> Wordings<'a> {
    /// Nothing is put into words yet.
    pub fn of(circuit: &'a Circuit) -> Wordings<'a> {
        Wordings { circuit, words: Default::default() }
    }
}

impl<'a> Sheet<'a> {
    /// What a split puts on one of its sheets.
    pub fn of(wordings: &'a Wordings<'a>, split: &Split, number: usize) -> Sheet<'a> {
        Sheet { wordings, split: split.clone(), number, diagrams: Default::default() }
    }

    /// The parts on it.
    pub fn parts(&self) -> Vec<usize> {
        (0..self.split.sheet_of.len()).filter(|p| self.split.sheet_of[*p] == self.number).collect()
    }

    /// The one in these words.
    pub fn diagram(&self, wording: usize) -> &Diagram {
        self.diagrams[wording].get_or_init(|| {
            let Wordings { circuit, words } = self.wordings;
            let words = words[wording].get_or_init(|| Words::of(circuit, WORDINGS[wording]));
            Diagram::of(circuit, words, &self.split, self.number)
        })
    }

    /// The same, when the others are not needed any more.
    pub fn take(self, wording: usize) -> Diagram {
        self.diagram(wording);
        match self.diagrams.into_iter().nth(wording).and_then(OnceLock::into_inner) {
            Some(diagram) => diagram,
            None => unreachable!("it was made above"),
        }
    }
}

/// The wording in which the order is found.
pub const USUAL: usize = 1;
/// The one with the fewest words.
pub const TERSEST: usize = 3;
