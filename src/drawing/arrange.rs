//! Laying a circuit out: how many sheets, which rows, which order, which wording.
//!
//! Tries what promises most and keeps what is worth most to who reads it. Hands on [`Arranged`]: a
//! diagram with the place of everything, a sheet each.

use std::sync::OnceLock;

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
    split: &'a Split,
    number: usize,
    diagrams: [OnceLock<Diagram>; 4],
}

impl<'a> Sheet<'a> {
    fn of(wordings: &'a Wordings<'a>, split: &'a Split, number: usize) -> Sheet<'a> {
        Sheet { wordings, split, number, diagrams: Default::default() }
    }

    fn diagram(&self, wording: usize) -> &Diagram {
        self.diagrams[wording].get_or_init(|| {
            let Wordings { circuit, words } = self.wordings;
            let words = words[wording].get_or_init(|| Words::of(circuit, WORDINGS[wording]));
            Diagram::of(circuit, words, self.split, self.number)
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

/// Lays a circuit out on as many sheets as it needs for text of 9 pt. `effort` is how hard the search for a good
/// order tries.
pub fn arrange(circuit: &Circuit, effort: usize) -> Vec<Arranged> {
    let parts = circuit.parts.len();
    let wordings = Wordings { circuit, words: Default::default() };
    let least = parts.div_ceil(FULL).max(1);
    let most = least.max(parts.div_ceil(FEW));
    // All sheets share the work: one whose lines do not cross leaves it to the others.
    let of_parts = |parts: usize| parts.pow(5).isqrt();
    let mut work = effort * WORK * of_parts(parts.clamp(USUAL_PARTS, MANY_PARTS)) / of_parts(USUAL_PARTS);
    let mut best: Option<(usize, Vec<Arranged>)> = None;
    for sheets in least..=most {
        // Not even none at all would be worth another sheet.
        if best.as_ref().is_some_and(|(cost, _)| *cost <= ONE_MORE * sheets) {
            break;
        }
        let last = sheets == most && best.is_none();
        let (all, fits) = arrange_on(&wordings, sheets, effort, &mut work, last);
        let cost = all.iter().map(|s| s.layout.crossings).sum::<usize>() + ONE_MORE * sheets;
        // What is left at the end is taken even if its text is too small.
        if last || (fits && best.as_ref().is_none_or(|b| cost < b.0)) {
            best = Some((cost, all));
        }
    }
    match best {
        Some((_, all)) => all,
        None => unreachable!("the last number of sheets is taken as it comes"),
    }
}

/// How much reckoning, as `Tangle::work` counts it, goes with each unit of effort into a circuit of `USUAL_PARTS` parts
/// whose lines cross. It grows with the power 2.5 of the parts, up to `MANY_PARTS`.
const WORK: usize = 27_000;
const USUAL_PARTS: usize = 12;
const MANY_PARTS: usize = 34;
/// Of every three of what work is left, a sheet may take so many: what comes after may need it more.
const TAKEN: usize = 2;
/// With so few parts to a sheet no more sheets are tried.
const FEW: usize = 3;
/// How many crossings one more sheet must spare to be worth its marks.
const ONE_MORE: usize = 2;

/// Lays a circuit out on a number of sheets. Gives them, and whether all fit; unless this is the `last` number to try it
/// gives up on the first that does not. What is spent is taken off `work`.
fn arrange_on(
    wordings: &Wordings<'_>,
    sheets: usize,
    effort: usize,
    work: &mut usize,
    last: bool,
) -> (Vec<Arranged>, bool) {
    let room = room();
    let circuit = wordings.circuit;
    let parts = circuit.parts.len();
    let split = split::split(circuit, sheets);
    let mut all = Vec::new();
    let shown: Vec<Sheet<'_>> = (0..split.sheets).map(|number| Sheet::of(wordings, &split, number)).collect();
    // A quick look first: a sheet that is far too full is not worth the whole search.
    let probed = split.sheets > 1 || parts > PROBED;
    let mut fits = !probed || shown.iter().all(|sheet| Search::new(sheet, room).nearly_fits());
    for sheet in shown {
        if !fits && !last {
            break;
        }
        let mut search = Search::new(&sheet, room);
        *work -= search.order(effort, *work * TAKEN / 3);
        let (wording, placement, layout) = search.set(effort);
        fits &= scale(&layout, room) >= 1.0;
        all.push(Arranged { diagram: sheet.take(wording), placement, layout });
    }
    (all, fits)
}

/// From how many parts a single sheet is probed before it is searched.
const PROBED: usize = 16;

/// An order that may be the one.
struct Candidate {
    worth: f64,
    /// The text is large enough.
    fits: bool,
    /// It is nearly so: somewhat other rows may fit.
    nearly: bool,
    tiers: Tiers,
    placement: Placement,
}

impl Candidate {
    /// The one that is worth more; the first of two that are worth the same.
    fn better(first: Option<Candidate>, second: Option<Candidate>) -> Option<Candidate> {
        match (first, second) {
            (Some(a), Some(b)) => Some(if b.worth > a.worth { b } else { a }),
            (a, b) => a.or(b),
        }
    }
}

/// Looks for the order of a sheet.
struct Search<'s, 'w> {
    sheet: &'s Sheet<'w>,
    diagram: &'s Diagram,
    room: Room,
    dice: Dice,
    tiering: place::Tiering<'s>,
    best: Option<Candidate>,
}

impl<'s, 'w> Search<'s, 'w> {
    fn new(sheet: &'s Sheet<'w>, room: Room) -> Search<'s, 'w> {
        let diagram = sheet.diagram(USUAL);
        let dice = Dice::new(SEED + diagram.items.len() as u64);
        Search { sheet, diagram, room, dice, tiering: place::Tiering::new(diagram, room), best: None }
    }

    /// Whether the first rows that come to mind come near to fitting, in the fewest words.
    fn nearly_fits(mut self) -> bool {
        self.choices(2, PROBES).into_iter().any(|(_, tiers)| {
            let mut placement = Placement::new(self.diagram, &tiers);
            place::untangle(self.diagram, &mut placement, 0, &mut self.dice);
            scale(&route::route(self.sheet.diagram(TERSEST), &placement, self.room), self.room) >= NEAR
        })
    }

    /// Finds the order. `work` is how much may be spent where lines cross; it gives what was.
    fn order(&mut self, effort: usize, work: usize) -> usize {
        let started = self.starts(effort);
        for (k, (_, tiers, placement)) in started.iter().enumerate() {
            // A good one is held against a few others; a bad one against all.
            if k >= FOLLOWED && self.best.as_ref().is_some_and(|b| b.fits && b.placement.crossings == 0) {
                break;
            }
            self.consider(tiers.clone(), placement.clone());
            if placement.crossings > 0 && k == 0 {
                let start = (tiers.clone(), placement.clone());
                let (tiers, placement) = self.tiering.uncross(start, TRIES, &mut self.dice);
                self.consider(tiers, placement);
            }
        }
        self.seek(work)
    }

    /// Gives the order its last polish and the fullest wording that leaves the text large enough.
    fn set(mut self, effort: usize) -> (usize, Placement, Layout) {
        let Some(Candidate { placement, fits, .. }) = self.best else {
            unreachable!("at least one number of rows is tried")
        };
        let mut polished = placement.clone();
        place::untangle(self.diagram, &mut polished, effort / 8, &mut self.dice);
        let (wording, layout) = set(self.sheet, &polished, self.room);
        if fits && scale(&layout, self.room) < 1.0 {
            // Shorter lines, but it does not fit any more.
            let (wording, layout) = set(self.sheet, &placement, self.room);
            return (wording, placement, layout);
        }
        (wording, polished, layout)
    }

    /// Keeps it if it is worth more than the best so far. What crosses more often is not looked at.
    fn consider(&mut self, tiers: Tiers, placement: Placement) {
        if self.best.as_ref().is_none_or(|b| !b.fits || placement.crossings <= b.placement.crossings) {
            let candidate = self.weighed(tiers, placement);
            self.best = Candidate::better(self.best.take(), Some(candidate));
        }
    }

    fn weighed(&self, tiers: Tiers, placement: Placement) -> Candidate {
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
        Candidate { worth, fits: scale >= 1.0, nearly: scale >= NEARLY, tiers, placement }
    }

    /// Looks for rows whose lines cross less often than in the best so far. Two look at once, each with half the work;
    /// neither knows what the other finds, so that the outcome does not depend on which is faster. Gives the work spent.
    fn seek(&mut self, work: usize) -> usize {
        // What does not come near to fitting is not worth more: it will be dealt out to more sheets. Neither is what
        // crosses very often.
        let Some(best) = self.best.as_ref().filter(|b| b.fits || b.nearly) else { return 0 };
        let crossings = best.placement.crossings;
        // What does not fit yet may cross as often as it does.
        let least = crossings + usize::from(!best.fits);
        if least == 0 || least > HOPELESS {
            return 0;
        }
        // What no drawing can do without is not looked for.
        let needed = Graph::of(self.diagram).least_crossings(PROVEN.min(crossings));
        if least <= needed {
            return 0;
        }
        let goal = Goal { least, needed };
        let half = if best.fits { work / 2 } else { work / 4 };
        let start = (&best.tiers, &best.placement);
        let small = self.diagram.items.len() <= SMALL;
        let ((one, spent), (two, also)) = rayon::join(
            || self.hunt(self.dice.split(1), goal, |seeker, dice, found| seeker.seek(start, half, dice, goal, found)),
            || {
                self.hunt(self.dice.split(2), goal, |seeker, dice, found| {
                    if small {
                        seeker.throw(start.1, half, dice, goal, found);
                    } else {
                        seeker.seek(start, half, dice, goal, found);
                    }
                })
            },
        );
        self.best = Candidate::better(self.best.take(), Candidate::better(one, two));
        work.min(2 * spent.max(also))
    }

    /// The best that one seeker finds.
    fn hunt(
        &self,
        mut dice: Dice,
        goal: Goal,
        seek: impl FnOnce(&mut Seeker<'_>, &mut Dice, &mut dyn FnMut(Tiers, Placement) -> usize),
    ) -> (Option<Candidate>, usize) {
        let mut best: Option<Candidate> = None;
        let mut seeker = Seeker::new(self.diagram, self.room);
        seek(&mut seeker, &mut dice, &mut |tiers, placement| {
            // What does not fit in the fewest words is not looked at twice.
            let terse = route::route(self.sheet.diagram(TERSEST), &placement, self.room);
            if scale(&terse, self.room) >= 1.0 {
                best = Candidate::better(best.take(), Some(self.weighed(tiers, placement)));
            }
            best.as_ref().map_or(goal.least, |b| b.placement.crossings)
        });
        (best, seeker.work())
    }

    /// The rows that promise most, the most promising first.
    fn choices(&mut self, starts: usize, kept: usize) -> Vec<(i64, Tiers)> {
        let mut choices: Vec<(i64, Tiers)> = Vec::new();
        for rows in 1..=STARTED_ROWS {
            choices.extend(self.tiering.choose(rows, starts, &mut self.dice));
        }
        choices.sort_by_key(|c| c.0);
        choices.dedup_by(|a, b| a.1 == b.1);
        choices.truncate(kept);
        choices
    }

    /// The rows that promise most, each ordered once; the most promising first.
    fn starts(&mut self, effort: usize) -> Vec<(i64, Tiers, Placement)> {
        let mut started: Vec<(i64, Tiers, Placement)> = Vec::with_capacity(STARTED);
        for (cost, tiers) in self.choices(CHOSEN, STARTED) {
            let mut placement = Placement::new(self.diagram, &tiers);
            place::untangle(self.diagram, &mut placement, effort / 16, &mut self.dice);
            started.push((cost + place::CROSSED * placement.crossings as i64, tiers, placement));
        }
        started.sort_by_key(|s| s.0);
        started
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

/// Where the dice begin: of some dozens tried, the one with which ten times the effort betters the fewest of the circuits
/// in `tests/drawings/crossings.csv`.
const SEED: u64 = 6000;
/// Up to how many parts a sheet is small: rows of all kinds are tried on it.
const SMALL: usize = 9;
/// Up to how many crossings it is worth proving that they are needed.
const PROVEN: usize = 2;
/// With more crossings than this, more sheets promise more than more search.
const HOPELESS: usize = 9;
/// At this scale a first look is near enough to fitting to be worth a search.
const NEAR: f64 = 0.92;
/// And at this one the best of a search is near enough to look for rows that fit.
const NEARLY: f64 = 0.95;
/// How many moves are tried on the first start if its lines cross.
const TRIES: usize = 12;
/// Up to how many rows are begun with: more are too high for a sheet.
const STARTED_ROWS: usize = 4;
/// How many choices of rows tell whether a sheet is far too full.
const PROBES: usize = 4;
/// From how many throws of the dice each number of rows is chosen.
const CHOSEN: usize = 8;
/// How many choices of rows are ordered once.
const STARTED: usize = 8;
/// How many of them are looked at even if the first has no crossings.
const FOLLOWED: usize = 3;
