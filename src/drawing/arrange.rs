//! Laying a circuit out: how many sheets, which rows, which order, which wording.
//!
//! Tries what promises most and keeps what is worth most to who reads it. Hands on [`Arranged`]: a
//! diagram with the place of everything, a sheet each.

use super::model::{Diagram, Split, Wording};
use super::place::{self, Dice, Placement, Room};
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

/// A sheet is good enough if its text is this many times the least size.
const GOOD: f64 = 1.08;

/// About as many parts as one sheet can hold.
const FULL: usize = 22;

/// Lays a circuit out on as many sheets as it needs for text of 9 pt. `effort` is how hard the search for a good
/// order tries.
pub fn arrange(circuit: &Circuit, effort: usize) -> Vec<Arranged> {
    let room = room();
    let parts = circuit.parts.len();
    let mut sheets = parts.div_ceil(FULL).max(1);
    loop {
        let last = sheets >= parts;
        let split = split::split(circuit, sheets);
        let mut all = Vec::new();
        let mut fits = true;
        // A quick look first: a sheet that is far too full is not worth the whole search.
        for sheet in 0..split.sheets {
            if split.sheets > 1 || parts > PROBED {
                let probe = arrange_sheet(circuit, &split, sheet, room, 0);
                fits &= scale(&probe.layout, room) >= 0.92;
            }
        }
        for sheet in 0..split.sheets {
            if !fits && !last {
                break;
            }
            let arranged = arrange_sheet(circuit, &split, sheet, room, effort);
            fits &= scale(&arranged.layout, room) >= 1.0;
            all.push(arranged);
        }
        if fits || last {
            return all;
        }
        sheets += 1;
    }
}

/// From how many parts a single sheet is probed before it is searched.
const PROBED: usize = 16;

/// Lays one sheet out: the order is found first, then the fullest wording that leaves the text large enough is taken.
fn arrange_sheet(circuit: &Circuit, split: &Split, sheet: usize, room: Room, effort: usize) -> Arranged {
    let diagrams = WORDINGS.map(|wording| Diagram::of(circuit, wording, split, sheet));
    let diagram = &diagrams[1];
    let mut dice = Dice::new(diagram.items.len() as u64);
    let mut tiering = place::Tiering::new(diagram, room);
    let mut best: Option<(f64, Placement)> = None;
    let mut consider = |placement: Placement| {
        let layout = route::route(diagram, &placement, room);
        let (worth, fits) = (worth(&layout, room), scale(&layout, room) >= 1.0);
        let good = placement.crossings == 0 && fits;
        if best.as_ref().is_none_or(|b| worth > b.0) {
            best = Some((worth, placement));
        }
        good
    };
    let mut good = false;
    // One round is enough where it finds an order without crossings; else others start from other rows.
    for round in 0..=effort / ROUND {
        for (k, (_, tiers, placement)) in starts(&mut tiering, effort, &mut dice).into_iter().enumerate() {
            // A good one is held against a few others; a bad one against all.
            if good && (k >= FOLLOWED || round > 0) {
                break;
            }
            let before = placement.crossings;
            good |= consider(placement.clone());
            if before > 0 && effort > 0 {
                good |= consider(tiering.uncross((tiers, placement), 4 * effort, 1, &mut dice));
            }
        }
        if good {
            break;
        }
    }
    let best = best.map(|(_, mut placement)| {
        let tries = if placement.crossings > 0 { 2 * effort } else { effort / 4 };
        place::untangle(diagram, &mut placement, tries, &mut dice);
        let (wording, layout) = set(&diagrams, &placement, room);
        (wording, placement, layout)
    });
    let [a, b, c, d] = diagrams;
    match best {
        Some((wording, placement, layout)) => {
            let diagram = match wording {
                0 => a,
                1 => b,
                2 => c,
                _ => d,
            };
            Arranged { diagram, placement, layout }
        }
        None => unreachable!("at least one number of rows is tried"),
    }
}

/// Routes with the fullest wording that leaves the text large enough, or else with the one that leaves it largest.
fn set(diagrams: &[Diagram; 4], placement: &Placement, room: Room) -> (usize, Layout) {
    let mut best: Option<(f64, usize, Layout)> = None;
    for (wording, diagram) in diagrams.iter().enumerate() {
        let layout = route::route(diagram, placement, room);
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
    2000.0 * (scale - 1.0).min(0.0) + 60.0 * scale.min(1.4)
        - 40.0 * layout.crossings as f64
        - 1.2 * bends as f64
        - 0.01 * length
}

/// The rows that promise most, each ordered once; the most promising first.
fn starts(tiering: &mut place::Tiering<'_>, effort: usize, dice: &mut Dice) -> Vec<(i64, place::Tiers, Placement)> {
    let mut choices: Vec<(i64, place::Tiers)> = Vec::new();
    for rows in 1..=6 {
        choices.extend(tiering.choose(rows, if effort == 0 { 2 } else { 8 }, dice));
    }
    choices.sort_by_key(|c| c.0);
    choices.dedup_by(|a, b| a.1 == b.1);
    choices.truncate(if effort == 0 { 1 } else { STARTED });
    let mut started: Vec<(i64, place::Tiers, Placement)> = choices
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

/// How much effort a further round of starts is worth.
const ROUND: usize = 10;
/// How many choices of rows are ordered once.
const STARTED: usize = 8;
/// How many of them are followed to the end, even if the first is good.
const FOLLOWED: usize = 3;
