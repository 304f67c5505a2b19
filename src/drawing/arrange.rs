//! Laying a circuit out: on how many sheets, and which part on which.
//!
//! Every sheet that is tried goes through a `search` of its own. Hands on [`Arranged`]: a diagram with the
//! place of everything, a sheet each.

use std::cmp::Reverse;

use rayon::prelude::*;

use super::model::Split;
use super::search::{Arranged, Order, Search};
use super::split;
use super::wordings::{Sheet, USUAL, Wordings};
use crate::circuit::Circuit;

/// About as many parts as one sheet can hold.
const FULL: usize = 22;

/// Lays a circuit out on as many sheets as it needs for text of 9 pt, and for lines that do not cross. `effort` is how hard
/// the search for a good order tries.
pub fn arrange(circuit: &Circuit, effort: usize) -> Vec<Arranged> {
    // All of it goes on in the pool of threads, so that what is done side by side there starts without delay.
    rayon::scope(|_| try_sheets(circuit, effort))
}

fn try_sheets(circuit: &Circuit, effort: usize) -> Vec<Arranged> {
    let parts = circuit.parts.len();
    let wordings = Wordings::of(circuit);
    let least = parts.div_ceil(FULL).max(1);
    let most = least.max(parts.div_ceil(FEW));
    let of_parts = |parts: usize| parts.pow(5).isqrt();
    let work = effort * WORK * of_parts(parts.clamp(USUAL_PARTS, MANY_PARTS)) / of_parts(USUAL_PARTS);
    let mut trials = Trials { wordings: &wordings, effort, work, too_full: Vec::new() };
    let mut best: Option<(usize, Trial<'_>)> = None;
    for sheets in least..=most {
        // Would another sheet be worth it, if no line crossed then?
        if best.as_ref().is_some_and(|(cost, _)| sheets > *cost || sheets > parts.div_ceil(SPARSE)) {
            break;
        }
        let must = match &best {
            None if sheets == most => Must::Nothing,
            None => Must::Fit,
            Some(_) => Must::Better,
        };
        for split in split::split(circuit, sheets).into_iter().take(WAYS) {
            let Some(trial) = trials.on(&split, must) else { continue };
            let is_good = trial.fits && trial.needless == 0;
            let cost = sheets + WORTH * trial.needless + if trial.fits { 0 } else { UNREADABLE };
            if best.as_ref().is_none_or(|b| cost <= b.0) {
                best = Some((cost, trial));
            }
            if is_good {
                break;
            }
        }
    }
    match best {
        Some((_, trial)) => trial.sheets.into_par_iter().map(|(sheet, order)| order.set(sheet, effort)).collect(),
        None => unreachable!("the last number of sheets is taken as it comes"),
    }
}

/// How much reckoning, as `Tangle::work` counts it, goes with each unit of effort into a circuit of `USUAL_PARTS` parts
/// whose lines cross. It grows with the power 2.5 of the parts, up to `MANY_PARTS`.
const WORK: usize = 12_000;
const USUAL_PARTS: usize = 12;
const MANY_PARTS: usize = 34;
/// With so few parts to a sheet no more sheets are tried.
const FEW: usize = 3;
/// And with so few none are tried only to spare crossings.
const SPARSE: usize = 4;
/// In how many ways the parts are dealt out to a number of sheets, where lines still cross or do not fit.
const WAYS: usize = 3;
/// How many more sheets, with their marks, it is worth to spare a crossing that a drawing of the same sheet could do without.
const WORTH: usize = 3;
/// More than any number of sheets.
const UNREADABLE: usize = 1000;

/// What is asked of a number of sheets.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Must {
    /// Nothing: none has fitted, and no more will be tried. What is left is taken even if its text is too small.
    Nothing,
    /// To fit, which fewer did not.
    Fit,
    /// To fit, which fewer did too, and to have fewer crossings.
    Better,
}

/// The numbers of sheets on which a circuit is tried.
struct Trials<'a> {
    wordings: &'a Wordings<'a>,
    effort: usize,
    /// What reckoning is left. All sheets share it: one whose lines do not cross leaves it to the others.
    work: usize,
    /// Parts that were found not to fit on a sheet together.
    too_full: Vec<Vec<usize>>,
}

impl<'a> Trials<'a> {
    /// Deals the circuit out as a split says and seeks the order of each sheet. Gives nothing if some does not fit that
    /// must.
    fn on(&mut self, split: &Split, must: Must) -> Option<Trial<'a>> {
        let mut shown: Vec<Sheet<'a>> =
            (0..split.sheets).map(|number| Sheet::of(self.wordings, split, number)).collect();
        if must != Must::Nothing && shown.iter().any(|sheet| self.too_full.contains(&sheet.parts())) {
            return None;
        }
        // The fullest goes first, which needs most. A quick look tells whether it is far too full, and the search useless.
        shown.sort_by_key(|sheet| Reverse(sheet.diagram(USUAL).items.len()));
        let probed = must == Must::Fit && (split.sheets > 1 || split.sheet_of.len() > PROBED);
        if probed && !shown.iter().all(|sheet| Search::new(sheet).nearly_fits()) {
            return None;
        }
        let effort = self.effort;
        let mut searches: Vec<Search<'_, '_>> = shown.par_iter().map(|sheet| Search::begun(sheet, effort)).collect();
        if must != Must::Nothing && !searches.iter().all(Search::may_fit) {
            return None;
        }
        for search in &mut searches {
            self.work -= search.seek(self.work / 2);
        }
        searches.par_iter_mut().for_each(|search| search.squeeze(effort));
        let full = shown.iter().zip(&searches).filter(|(_, search)| !search.fits());
        self.too_full.extend(full.map(|(sheet, _)| sheet.parts()));
        let fits = searches.iter().all(Search::fits);
        if !fits && must != Must::Nothing {
            return None;
        }
        let needless = searches.iter().map(Search::needless).sum();
        let orders: Vec<Order> = searches.into_iter().map(Search::order).collect();
        let mut sheets: Vec<(Sheet<'a>, Order)> = shown.into_iter().zip(orders).collect();
        sheets.sort_by_key(|(sheet, _)| sheet.number);
        Some(Trial { sheets, fits, needless })
    }
}

/// From how many parts a single sheet is probed before it is searched.
const PROBED: usize = 16;

/// A circuit dealt out to sheets, with the order found for each.
struct Trial<'a> {
    sheets: Vec<(Sheet<'a>, Order)>,
    /// The text is large enough on all.
    fits: bool,
    /// Crossings but for those that are proved to be needed.
    needless: usize,
}
