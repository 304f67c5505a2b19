//! The search for the order of one sheet: which rows, and which order in them.
//!
//! Tries what promises most and keeps what is worth most to who reads it. Hands on an [`Order`].

use rayon::prelude::*;

use super::model::Diagram;
use super::place::{self, Dice, Placement, Room, Tiers};
use super::planar::Graph;
use super::route::{self, Layout};
use super::seek::{Goal, Seeker};
use super::sheet::room;
use super::wordings::{Sheet, TERSEST, USUAL, WORDINGS};

/// A diagram with its places: what one sheet shows.
pub struct Arranged {
    /// What is drawn.
    pub diagram: Diagram,
    /// Order.
    pub placement: Placement,
    /// Positions.
    pub layout: Layout,
}

/// An order that may be the one.
pub struct Order {
    worth: f64,
    /// The text is large enough.
    fits: bool,
    /// It is nearly so: somewhat other rows may fit.
    nearly: bool,
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
    pub fn set(self, sheet: Sheet<'_>, effort: usize) -> Arranged {
        let room = room();
        let diagram = sheet.diagram(USUAL);
        let mut placement = self.placement.clone();
        place::untangle(diagram, &mut placement, effort / 8, &mut Dice::new(POLISHED));
        let (mut wording, mut layout) = set(&sheet, &placement, room);
        if self.fits && layout.scale(room) < 1.0 {
            // Shorter lines, but it does not fit any more.
            placement = self.placement;
            (wording, layout) = set(&sheet, &placement, room);
        }
        Arranged { diagram: sheet.take(wording), placement, layout }
    }
}

/// Looks for the order of a sheet.
pub struct Search<'s, 'w> {
    sheet: &'s Sheet<'w>,
    diagram: &'s Diagram,
    room: Room,
    dice: Dice,
    best: Option<Order>,
    /// So many crossings no drawing can do without, as far as is proved.
    needed: usize,
}

impl<'s, 'w> Search<'s, 'w> {
    /// Nothing is looked for yet.
    pub fn new(sheet: &'s Sheet<'w>) -> Search<'s, 'w> {
        let diagram = sheet.diagram(USUAL);
        let dice = Dice::new(diagram.items.len() as u64);
        Search { sheet, diagram, room: room(), dice, best: None, needed: 0 }
    }

    /// Whether the first rows that come to mind come near to fitting, in the fewest words.
    pub fn nearly_fits(&self) -> bool {
        self.choices(2, PROBES).into_iter().any(|(_, tiers)| {
            let mut placement = Placement::new(self.diagram, &tiers);
            place::untangle(self.diagram, &mut placement, 0, &mut self.dice.clone());
            route::route(self.sheet.diagram(TERSEST), &placement, self.room).scale(self.room) >= NEAR
        })
    }

    /// Whether there is any hope that it fits.
    pub fn may_fit(&self) -> bool {
        self.best.as_ref().is_some_and(|b| b.fits || b.nearly)
    }

    /// Orders the rows that promise most, and weighs them.
    pub fn begun(sheet: &'s Sheet<'w>, effort: usize) -> Search<'s, 'w> {
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
    pub fn squeeze(&mut self, effort: usize) {
        if let Some(best) = self.best.take_if(|b| b.nearly && !b.fits) {
            let mut placement = best.placement.clone();
            place::untangle(self.diagram, &mut placement, HARDER * effort / 8, &mut self.dice.split(SQUEEZED));
            let squeezed = self.weighed(best.tiers.clone(), placement);
            self.best = Order::better(Some(best), Some(squeezed));
        }
    }

    /// Whether what was found fits.
    pub fn fits(&self) -> bool {
        self.best.as_ref().is_some_and(|b| b.fits)
    }

    /// Crossings in what was found, but for those that are proved to be needed.
    pub fn needless(&self) -> usize {
        self.best.as_ref().map_or(0, |b| b.placement.crossings.saturating_sub(self.needed))
    }

    /// What was found.
    pub fn order(self) -> Order {
        match self.best {
            Some(order) => order,
            None => unreachable!("at least one number of rows is tried"),
        }
    }

    /// Lays rows out and tells what they are worth.
    fn weighed(&self, tiers: Tiers, placement: Placement) -> Order {
        let mut layout = route::route(self.diagram, &placement, self.room);
        let mut worth = worth(&layout, self.room);
        if layout.scale(self.room) < 1.0 {
            // Fewer words may make it fit.
            let terse = route::route(self.sheet.diagram(TERSEST), &placement, self.room);
            if terse.scale(self.room) > layout.scale(self.room) {
                layout = terse;
                worth = self::worth(&layout, self.room) - TERSE;
            }
        }
        let scale = layout.scale(self.room);
        Order { worth, fits: scale >= 1.0, nearly: scale >= NEARLY, tiers, placement }
    }

    /// Looks for rows whose lines cross less often than in the best so far. Two look at once, each with half the work;
    /// neither knows what the other finds, so that the outcome does not depend on which is faster. Gives the work spent.
    pub fn seek(&mut self, work: usize) -> usize {
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
            if terse.scale(self.room) >= 1.0 {
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
        let scale = layout.scale(room);
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

/// What a layout is worth to who reads it: text that can be read first, then few crossings, then large text and lines that run
/// straight.
fn worth(layout: &Layout, room: Room) -> f64 {
    let scale = layout.scale(room);
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

/// What it costs in worth to break words into narrow lines: less than a crossing.
const TERSE: f64 = 20.0;

/// A sheet is good enough if its text is this many times the least size.
const GOOD: f64 = 1.08;

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
