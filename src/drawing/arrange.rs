//! Laying a circuit out: how many sheets, which rows, which order, which wording.
//!
//! Tries what promises most and keeps what is worth most to who reads it. Hands on [`Arranged`]: a
//! diagram with the place of everything, a sheet each.

use std::cmp::Reverse;
use std::sync::OnceLock;

use rayon::prelude::*;

use super::model::{Diagram, Split, Wording, Words};
use super::place::{self, Dice, Placement, Room, Tiers};
use super::planar::Graph;
use super::route::{self, Layout};
use super::seek::{Goal, Seeker};
use super::sheet::room;
use super::split;
use crate::circuit::Circuit;

/// A diagram with its places: what one sheet shows.
pub struct Arranged {
    /// What is drawn.
    pub diagram: Diagram,
    /// Order.
    pub placement: Placement,
    /// Positions.
    pub layout: Layout,
}

/// The scale at which a layout fills the room.
pub fn scale(layout: &Layout, room: Room) -> f64 {
    room.scale(layout.width, layout.height).min(route::MOST)
}

/// How much a label says, from the fullest to the tersest.
const WORDINGS: [Wording; 4] = [
    Wording { both_units: true, run_lines: 2, part_width: 27.0 },
    Wording { both_units: false, run_lines: 2, part_width: 24.0 },
    Wording { both_units: false, run_lines: 2, part_width: 19.0 },
    Wording { both_units: false, run_lines: 2, part_width: 15.0 },
];

/// A circuit in words, each wording made when it is first needed.
struct Wordings<'a> {
    circuit: &'a Circuit,
    words: [OnceLock<Words>; 4],
}

/// A sheet in all wordings.
struct Sheet<'a> {
    wordings: &'a Wordings<'a>,
    split: Split,
    number: usize,
    diagrams: [OnceLock<Diagram>; 4],
}

impl<'a> Sheet<'a> {
    fn of(wordings: &'a Wordings<'a>, split: &Split, number: usize) -> Sheet<'a> {
        Sheet { wordings, split: split.clone(), number, diagrams: Default::default() }
    }

    /// The parts on it.
    fn parts(&self) -> Vec<usize> {
        (0..self.split.sheet_of.len()).filter(|p| self.split.sheet_of[*p] == self.number).collect()
    }

    fn diagram(&self, wording: usize) -> &Diagram {
        self.diagrams[wording].get_or_init(|| {
            let Wordings { circuit, words } = self.wordings;
            let words = words[wording].get_or_init(|| Words::of(circuit, WORDINGS[wording]));
            Diagram::of(circuit, words, &self.split, self.number)
        })
    }

    /// The one in these words.
    fn take(self, wording: usize) -> Diagram {
        self.diagram(wording);
        match self.diagrams.into_iter().nth(wording).and_then(OnceLock::into_inner) {
            Some(diagram) => diagram,
            None => unreachable!("it was made above"),
        }
    }
}

/// The wording in which the order is found, and the tersest.
const USUAL: usize = 1;
const TERSEST: usize = 3;

/// What it costs in worth to break words into narrow lines: less than a crossing.
const TERSE: f64 = 20.0;

/// A sheet is good enough if its text is this many times the least size.
const GOOD: f64 = 1.08;

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
    let wordings = Wordings { circuit, words: Default::default() };
    let least = parts.div_ceil(FULL).max(1);
    let most = least.max(parts.div_ceil(FEW));
    let of_parts = |parts: usize| parts.pow(5).isqrt();
    let work = effort * WORK * of_parts(parts.clamp(USUAL_PARTS, MANY_PARTS)) / of_parts(USUAL_PARTS);
    let mut trials = Trials { wordings: &wordings, effort, work, too_full: Vec::new() };
    let mut best: Option<(usize, Dealt<'_>)> = None;
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
            let Some(dealt) = trials.on(&split, must) else { continue };
            let (fit, needless) = (dealt.fit(), dealt.needless());
            let cost = sheets + WORTH * needless + if fit { 0 } else { UNREADABLE };
            if best.as_ref().is_none_or(|b| cost <= b.0) {
                best = Some((cost, dealt));
            }
            if fit && needless == 0 {
                break;
            }
        }
    }
    match best {
        Some((_, dealt)) => dealt.sheets.into_par_iter().map(|(sheet, order)| order.set(sheet, effort)).collect(),
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
    fn on(&mut self, split: &Split, must: Must) -> Option<Dealt<'a>> {
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
        let orders: Vec<Order> = searches.into_iter().map(Search::order).collect();
        let mut dealt = Dealt { sheets: shown.into_iter().zip(orders).collect() };
        dealt.sheets.sort_by_key(|(sheet, _)| sheet.number);
        let too_full = dealt.sheets.iter().filter(|(_, order)| !order.fits);
        self.too_full.extend(too_full.map(|(sheet, _)| sheet.parts()));
        (dealt.fit() || must == Must::Nothing).then_some(dealt)
    }
}

/// From how many parts a single sheet is probed before it is searched.
const PROBED: usize = 16;

/// A circuit dealt out to sheets, with the order found for each.
struct Dealt<'a> {
    sheets: Vec<(Sheet<'a>, Order)>,
}

impl Dealt<'_> {
    /// Whether the text is large enough on all.
    fn fit(&self) -> bool {
        self.sheets.iter().all(|(_, order)| order.fits)
    }

    /// Crossings but for those that are proved to be needed.
    fn needless(&self) -> usize {
        self.sheets.iter().map(|(_, order)| order.placement.crossings.saturating_sub(order.needed)).sum()
    }
}

/// An order that may be the one.
struct Order {
    worth: f64,
    /// The text is large enough.
    fits: bool,
    /// It is nearly so: somewhat other rows may fit.
    nearly: bool,
    /// So many crossings no drawing can do without, as far as is proved.
    needed: usize,
    tiers: Tiers,
    placement: Placement,
}

impl Order {
    /// The one that is worth more; the first of two that are worth the same.
    fn better(first: Option<Order>, second: Option<Order>) -> Option<Order> {
        match (first, second) {
            (Some(a), Some(b)) => Some(if b.worth > a.worth { b } else { a }),
            (a, b) => a.or(b),
        }
    }

    /// Gives it its last polish and the fullest wording that leaves the text large enough.
    fn set<'a>(self, sheet: Sheet<'a>, effort: usize) -> Arranged {
        let room = room();
        let diagram = sheet.diagram(USUAL);
        let mut placement = self.placement.clone();
        place::untangle(diagram, &mut placement, effort / 8, &mut Dice::new(POLISHED));
        let (mut wording, mut layout) = set(&sheet, &placement, room);
        if self.fits && scale(&layout, room) < 1.0 {
            // Shorter lines, but it does not fit any more.
            placement = self.placement;
            (wording, layout) = set(&sheet, &placement, room);
        }
        Arranged { diagram: sheet.take(wording), placement, layout }
    }
}

/// Looks for the order of a sheet.
struct Search<'s, 'w> {
    sheet: &'s Sheet<'w>,
    diagram: &'s Diagram,
    room: Room,
    dice: Dice,
    best: Option<Order>,
    /// So many crossings no drawing can do without, as far as is proved.
    needed: usize,
}

impl<'s, 'w> Search<'s, 'w> {
    fn new(sheet: &'s Sheet<'w>) -> Search<'s, 'w> {
        let diagram = sheet.diagram(USUAL);
        let dice = Dice::new(diagram.items.len() as u64);
        Search { sheet, diagram, room: room(), dice, best: None, needed: 0 }
    }

    /// Whether the first rows that come to mind come near to fitting, in the fewest words.
    fn nearly_fits(&self) -> bool {
        self.choices(2, PROBES).into_iter().any(|(_, tiers)| {
            let mut placement = Placement::new(self.diagram, &tiers);
            place::untangle(self.diagram, &mut placement, 0, &mut self.dice.clone());
            scale(&route::route(self.sheet.diagram(TERSEST), &placement, self.room), self.room) >= NEAR
        })
    }

    /// Whether there is any hope that it fits.
    fn may_fit(&self) -> bool {
        self.best.as_ref().is_some_and(|b| b.fits || b.nearly)
    }

    /// Orders the rows that promise most, and weighs them.
    fn begun(sheet: &'s Sheet<'w>, effort: usize) -> Search<'s, 'w> {
        let search = Search::new(sheet);
        let started = search.starts(effort);
        let first = started.first().filter(|(_, placement)| (1..=HOPELESS).contains(&placement.crossings)).cloned();
        let (mended, weighed) = rayon::join(
            || {
                let (tiers, placement) = search.uncrossed(first?);
                Some(search.weighed(tiers, placement))
            },
            || -> Vec<Order> { started.into_par_iter().map(|(t, p)| search.weighed(t, p)).collect() },
        );
        let best = weighed.into_iter().fold(None, |best, next| Order::better(best, Some(next)));
        Search { best: Order::better(best, mended), ..search }
    }

    /// Rows like these whose lines cross less often.
    fn uncrossed(&self, (tiers, placement): (Tiers, Placement)) -> (Tiers, Placement) {
        place::Tiering::new(self.diagram, self.room).uncross((tiers, placement), TRIES, &mut self.dice.split(UNCROSSED))
    }

    /// Looks harder for shorter lines where that may make a sheet fit that nearly does.
    fn squeeze(&mut self, effort: usize) {
        if let Some(best) = self.best.take_if(|b| b.nearly && !b.fits) {
            let mut placement = best.placement.clone();
            place::untangle(self.diagram, &mut placement, HARDER * effort / 8, &mut self.dice.split(SQUEEZED));
            let squeezed = self.weighed(best.tiers.clone(), placement);
            self.best = Order::better(Some(best), Some(squeezed));
        }
    }

    /// What was found.
    fn order(self) -> Order {
        match self.best {
            Some(order) => Order { needed: self.needed, ..order },
            None => unreachable!("at least one number of rows is tried"),
        }
    }

    /// Lays rows out and tells what they are worth.
    fn weighed(&self, tiers: Tiers, placement: Placement) -> Order {
        let mut layout = route::route(self.diagram, &placement, self.room);
        let mut worth = worth(&layout, self.room);
        if scale(&layout, self.room) < 1.0 {
            // Fewer words may make it fit.
            let terse = route::route(self.sheet.diagram(TERSEST), &placement, self.room);
            if scale(&terse, self.room) > scale(&layout, self.room) {
                layout = terse;
                worth = self::worth(&layout, self.room) - TERSE;
            }
        }
        let scale = scale(&layout, self.room);
        Order { worth, fits: scale >= 1.0, nearly: scale >= NEARLY, needed: 0, tiers, placement }
    }

    /// Looks for rows whose lines cross less often than in the best so far. Two look at once, each with half the work;
    /// neither knows what the other finds, so that the outcome does not depend on which is faster. Gives the work spent.
    fn seek(&mut self, work: usize) -> usize {
        // What does not come near to fitting is not worth more: it will be dealt out to more sheets. Neither is what
        // crosses very often.
        let Some(best) = self.best.as_ref().filter(|b| b.fits || b.nearly && b.placement.crossings == 0) else {
            return 0;
        };
        let crossings = best.placement.crossings;
        // What does not fit yet may cross as often as it does.
        let least = crossings + usize::from(!best.fits);
        if least == 0 || least > HOPELESS {
            return 0;
        }
        // What no drawing can do without is not looked for.
        self.needed = Graph::of(self.diagram).least_crossings(PROVEN.min(crossings));
        if least <= self.needed {
            return 0;
        }
        let goal = Goal { least, needed: self.needed };
        let half = work / if best.fits { 2 } else { 4 };
        let start = (&best.tiers, &best.placement);
        let small = self.diagram.items.len() <= SMALL;
        let half = if small { SMALL_HARDER * half } else { half };
        let ((one, spent), (two, also)) = rayon::join(
            || {
                self.hunt(self.dice.split(SOUGHT), goal, |seeker, dice, found| {
                    seeker.seek(start, half, dice, goal, found)
                })
            },
            || {
                self.hunt(self.dice.split(SOUGHT + 1), goal, |seeker, dice, found| {
                    if small {
                        seeker.throw(start.1, half, dice, goal, found);
                    } else {
                        seeker.seek(start, half, dice, goal, found);
                    }
                })
            },
        );
        self.best = Order::better(self.best.take(), Order::better(one, two));
        work.min(2 * spent.max(also))
    }

    /// The best that one seeker finds.
    fn hunt(
        &self,
        mut dice: Dice,
        goal: Goal,
        seek: impl FnOnce(&mut Seeker<'_>, &mut Dice, &mut dyn FnMut(Tiers, Placement) -> usize),
    ) -> (Option<Order>, usize) {
        let mut best: Option<Order> = None;
        let mut seeker = Seeker::new(self.diagram, self.room);
        seek(&mut seeker, &mut dice, &mut |tiers, placement| {
            // What does not fit in the fewest words is not looked at twice.
            let terse = route::route(self.sheet.diagram(TERSEST), &placement, self.room);
            if scale(&terse, self.room) >= 1.0 {
                best = Order::better(best.take(), Some(self.weighed(tiers, placement)));
            }
            best.as_ref().map_or(goal.least, |b| b.placement.crossings)
        });
        (best, seeker.work())
    }

    /// The rows that promise most, the most promising first.
    fn choices(&self, starts: usize, kept: usize) -> Vec<(i64, Tiers)> {
        let mut choices: Vec<(i64, Tiers)> = (1..=STARTED_ROWS)
            .into_par_iter()
            .flat_map_iter(|rows| {
                let mut dice = self.dice.split(rows as u64);
                place::Tiering::new(self.diagram, self.room).choose(rows, starts, &mut dice)
            })
            .collect();
        choices.sort_by_key(|c| c.0);
        choices.dedup_by(|a, b| a.1 == b.1);
        choices.truncate(kept);
        choices
    }

    /// The rows that promise most, each ordered once; the most promising first.
    fn starts(&self, effort: usize) -> Vec<(Tiers, Placement)> {
        let choices = self.choices(CHOSEN, STARTED);
        let mut started: Vec<(i64, (Tiers, Placement))> = choices
            .into_par_iter()
            .enumerate()
            .map(|(k, (cost, tiers))| {
                let mut dice = self.dice.split(ORDERED + k as u64);
                let mut placement = Placement::new(self.diagram, &tiers);
                place::untangle(self.diagram, &mut placement, effort / 16, &mut dice);
                (cost + place::CROSSED * placement.crossings as i64, (tiers, placement))
            })
            .collect();
        started.sort_by_key(|s| s.0);
        started.into_iter().map(|(_, order)| order).collect()
    }
}

/// Routes with the fullest wording that leaves the text large enough, or else with the one that leaves it largest.
fn set(sheet: &Sheet<'_>, placement: &Placement, room: Room) -> (usize, Layout) {
    let mut best: Option<(f64, usize, Layout)> = None;
    for wording in 0..WORDINGS.len() {
        let layout = route::route(sheet.diagram(wording), placement, room);
        let scale = scale(&layout, room);
        if best.as_ref().is_none_or(|b| scale > b.0) {
            best = Some((scale, wording, layout));
        }
        if scale >= GOOD {
            break;
        }
    }
    match best {
        Some((_, wording, layout)) => (wording, layout),
        None => unreachable!("there is at least one wording"),
    }
}

/// What a layout is worth to who reads it. Crossings weigh most, then text that can be read, then lines that run straight.
fn worth(layout: &Layout, room: Room) -> f64 {
    let scale = scale(layout, room);
    let mut bends = 0;
    let mut length = 0.0;
    for wire in &layout.wires {
        for w in wire.points.windows(2) {
            length += (w[0].0 - w[1].0).abs() + (w[0].1 - w[1].1).abs();
        }
        bends += wire.points.windows(3).filter(|w| (w[0].0 == w[1].0) != (w[1].0 == w[2].0)).count();
    }
    // Text too small to read is worse than any number of crossings.
    let unreadable = if scale < 1.0 { -10_000.0 + 2000.0 * (scale - 1.0) } else { 0.0 };
    unreadable + 60.0 * scale.min(1.4) - 100.0 * layout.crossings as f64 - 1.2 * bends as f64 - 0.01 * length
}

/// How many times as hard the last polish tries where a sheet nearly fits.
const HARDER: usize = 20;
// Which dice go to what: no two things that go on at once share theirs.
/// Up to this one, to the choice of so many rows.
const ORDERED: u64 = 100;
const UNCROSSED: u64 = 200;
const SOUGHT: u64 = 300;
const SQUEEZED: u64 = 400;
const POLISHED: u64 = 500;
/// Up to how many parts a sheet is small: rows of all kinds are tried on it.
const SMALL: usize = 9;
/// How many times as much work is done for it: it costs little there, and two sheets for so few parts are a nuisance.
const SMALL_HARDER: usize = 6;
/// Up to how many crossings it is worth proving that they are needed.
const PROVEN: usize = 2;
/// With more crossings than this, more sheets promise more than more search.
const HOPELESS: usize = 9;
/// At this scale a first look is near enough to fitting to be worth a search.
const NEAR: f64 = 0.92;
/// And at this one the best of a search is near enough to look for rows that fit.
const NEARLY: f64 = 0.95;
/// How many moves are tried on the first start if its lines cross.
const TRIES: usize = 6;
/// Up to how many rows are begun with: more are too high for a sheet.
const STARTED_ROWS: usize = 4;
/// How many choices of rows tell whether a sheet is far too full.
const PROBES: usize = 4;
/// From how many throws of the dice each number of rows is chosen.
const CHOSEN: usize = 8;
/// How many choices of rows are ordered once.
const STARTED: usize = 8;
