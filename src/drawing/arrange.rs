//! Laying a circuit out: how many sheets, which rows, which order, which wording.
//!
//! Tries what promises most and keeps what is worth most to who reads it. Hands on [`Arranged`]: a
//! diagram with the place of everything, a sheet each.

use std::cell::OnceCell;

use super::model::{Diagram, Split, Wording, Words};
use super::place::{self, Dice, Placement, Room, Tiers};
use super::planar::Graph;
use super::route::{self, Layout};
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
    (room.width / layout.width).min(room.height / layout.height).min(route::MOST)
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
    words: [OnceCell<Words>; 4],
}

/// A sheet in all wordings.
struct Sheet<'a> {
    wordings: &'a Wordings<'a>,
    split: &'a Split,
    number: usize,
    diagrams: [OnceCell<Diagram>; 4],
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
        let [a, b, c, d] = self.diagrams;
        let taken = match wording {
            0 => a,
            1 => b,
            2 => c,
            _ => d,
        };
        match taken.into_inner() {
            Some(diagram) => diagram,
            None => unreachable!("it was made above"),
        }
    }
}

/// The wording in which the order is found.
const USUAL: usize = 1;
/// The wording that takes least room.
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
    let mut sheets = parts.div_ceil(FULL).max(1);
    let mut tangled: Option<Vec<Arranged>> = None;
    loop {
        let last = sheets >= parts;
        let (all, fits) = arrange_on(&wordings, sheets, effort, last);
        if fits || last {
            let crossings = |all: &[Arranged]| all.iter().map(|s| s.layout.crossings).sum::<usize>();
            return match tangled {
                Some(fewer) if !fits || crossings(&fewer) <= crossings(&all) + ONE_MORE => fewer,
                None if crossings(&all) > ONE_MORE && !last => {
                    tangled = Some(all);
                    sheets += 1;
                    continue;
                }
                _ => all,
            };
        }
        if tangled.is_some() {
            return tangled.unwrap_or_default();
        }
        sheets += 1;
    }
}

/// How many crossings one more sheet must spare to be worth its marks.
const ONE_MORE: usize = 2;

/// Lays a circuit out on a number of sheets. Gives them, and whether all fit; unless this is the `last` number to try it
/// gives up on the first that does not.
fn arrange_on(wordings: &Wordings<'_>, sheets: usize, effort: usize, last: bool) -> (Vec<Arranged>, bool) {
    let room = room();
    let circuit = wordings.circuit;
    let parts = circuit.parts.len();
    let split = split::split(circuit, sheets);
    let mut all = Vec::new();
    let mut fits = true;
    // A quick look first: a sheet that is far too full is not worth the whole search.
    let shown: Vec<Sheet<'_>> = (0..split.sheets).map(|number| Sheet::of(wordings, &split, number)).collect();
    for sheet in &shown {
        if split.sheets > 1 || parts > PROBED {
            let (_, _, layout) = arrange_sheet(sheet, room, 0);
            fits &= scale(&layout, room) >= 0.92;
        }
    }
    for sheet in shown {
        if !fits && !last {
            break;
        }
        let (wording, placement, layout) = arrange_sheet(&sheet, room, effort);
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
    tiers: Tiers,
    placement: Placement,
}

/// Lays one sheet out: the order is found first, then the fullest wording that leaves the text large enough is taken.
fn arrange_sheet(sheet: &Sheet<'_>, room: Room, effort: usize) -> (usize, Placement, Layout) {
    let diagram = sheet.diagram(USUAL);
    let mut dice = Dice::new(diagram.items.len() as u64);
    let mut tiering = place::Tiering::new(diagram, room);
    let mut best: Option<Candidate> = None;
    // What no drawing can do without is not looked for. Known only once something crosses.
    let least_crossings = OnceCell::new();
    let too_many = |crossings: usize| {
        let least = || if effort == 0 { 0 } else { Graph::of(diagram).least_crossings(PROVEN) };
        crossings > 0 && crossings > *least_crossings.get_or_init(least)
    };
    let consider = |best: &mut Option<Candidate>, (tiers, placement): (Tiers, Placement)| {
        let mut layout = route::route(diagram, &placement, room);
        let mut worth = worth(&layout, room);
        if scale(&layout, room) < 1.0 {
            // Fewer words may make it fit.
            let terse = route::route(sheet.diagram(TERSEST), &placement, room);
            if scale(&terse, room) > scale(&layout, room) {
                layout = terse;
                worth = self::worth(&layout, room) - TERSE;
            }
        }
        let fits = scale(&layout, room) >= 1.0;
        let good = fits && !too_many(placement.crossings);
        if best.as_ref().is_none_or(|b| worth > b.worth) {
            *best = Some(Candidate { worth, fits, tiers, placement });
        }
        good
    };
    // One round is enough where it finds an order without crossings; else others start afresh.
    for _ in 0..=effort / ROUND {
        let mut good = false;
        for (k, (_, tiers, placement)) in starts(&mut tiering, effort, &mut dice).into_iter().enumerate() {
            // A good one is held against a few others; a bad one against all.
            if good && k >= FOLLOWED {
                break;
            }
            let before = placement.crossings;
            good |= consider(&mut best, (tiers.clone(), placement.clone()));
            if before > 0 && effort > 0 {
                // The most promising is mended with all patience.
                let (tries, shakes) = if k == 0 { (4 * effort, 1) } else { (TRIES, 0) };
                good |= consider(&mut best, tiering.uncross((tiers, placement), tries, shakes, &mut dice));
            }
        }
        // What does not come near to fitting is not worth more: it will be dealt out to more sheets.
        let Some(found) = best.as_ref().filter(|b| !good && b.placement.crossings > 0 && b.fits) else { break };
        // The best is kicked out of its hollow, again and again. What is a little worse may be kicked further; what leads
        // nowhere is left for the best.
        let mut least = found.placement.crossings;
        let mut from: Option<(i64, Tiers, Placement)> = None;
        let mut idle = 0;
        for _ in 0..KICKS {
            let Some(found) = best.as_ref() else { break };
            if idle > PATIENCE {
                (idle, from) = (0, None);
            }
            let (cost, tiers, placement) = from.get_or_insert_with(|| {
                let cost = tiering.cost(&found.tiers) + place::CROSSED * found.placement.crossings as i64;
                (cost, found.tiers.clone(), found.placement.clone())
            });
            let kicked = tiering.kick(tiers, placement, &mut dice);
            let now = tiering.cost(&kicked.0) + place::CROSSED * kicked.1.crossings as i64;
            idle += 1;
            if kicked.1.crossings < least {
                good |= consider(&mut best, kicked.clone());
                least = best.as_ref().map_or(least, |b| b.placement.crossings);
            }
            if good {
                break;
            }
            if now < *cost + SLACK {
                from = Some((now, kicked.0, kicked.1));
            }
        }
        if good {
            break;
        }
    }
    // A small one that still crosses is tried in rows of all kinds: a reader sees each crossing.
    let small = effort > 0 && diagram.items.len() <= SMALL;
    for _ in 0..if small { THROWS } else { 0 } {
        let Some(found) = best.as_ref().filter(|b| b.fits && too_many(b.placement.crossings)) else { break };
        let fewest = found.placement.crossings;
        let tiers = tiering.any(&mut dice);
        let mut placement = Placement::new(diagram, &tiers);
        place::untangle(diagram, &mut placement, 1, &mut dice);
        if placement.crossings < fewest {
            consider(&mut best, (tiers, placement));
        }
    }
    let Some(Candidate { mut placement, .. }) = best else { unreachable!("at least one number of rows is tried") };
    let tries = if too_many(placement.crossings) { 2 * effort } else { effort / 4 };
    place::untangle(diagram, &mut placement, tries, &mut dice);
    let (wording, layout) = set(sheet, &placement, room);
    (wording, placement, layout)
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
    unreadable + 60.0 * scale.min(1.4) - 40.0 * layout.crossings as f64 - 1.2 * bends as f64 - 0.01 * length
}

/// The rows that promise most, each ordered once; the most promising first.
fn starts(tiering: &mut place::Tiering<'_>, effort: usize, dice: &mut Dice) -> Vec<(i64, Tiers, Placement)> {
    let mut choices: Vec<(i64, Tiers)> = Vec::new();
    for rows in 1..=place::MOST_ROWS {
        choices.extend(tiering.choose(rows, if effort == 0 { 2 } else { 8 }, dice));
    }
    choices.sort_by_key(|c| c.0);
    choices.dedup_by(|a, b| a.1 == b.1);
    choices.truncate(if effort == 0 { 1 } else { STARTED });
    let mut started: Vec<(i64, Tiers, Placement)> = choices
        .into_iter()
        .map(|(cost, tiers)| {
            let mut placement = Placement::new(tiering.diagram(), &tiers);
            place::untangle(tiering.diagram(), &mut placement, effort / 16, dice);
            (cost + place::CROSSED * placement.crossings as i64, tiers, placement)
        })
        .collect();
    started.sort_by_key(|s| s.0);
    started
}

/// Up to how many parts a sheet is small.
const SMALL: usize = 9;
/// How many rows of all kinds are tried on a small sheet.
const THROWS: usize = 4000;
/// Up to how many crossings it is worth proving that they are needed.
const PROVEN: usize = 2;
/// How many moves are tried on a start whose lines cross.
const TRIES: usize = 12;
/// How much effort a further round is worth.
const ROUND: usize = 8;
/// How many kicks a round gives.
const KICKS: usize = 80;
/// After how many kicks that lead nowhere the search goes back to the best.
const PATIENCE: usize = 30;
/// How much worse an order may be and still be kicked further.
const SLACK: i64 = 60;
/// How many choices of rows are ordered once.
const STARTED: usize = 8;
/// How many of them are followed to the end, even if the first is good.
const FOLLOWED: usize = 3;
