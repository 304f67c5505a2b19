//! Positions: where every part, line and label lies, in millimetres.
//!
//! Rows are laid out from the order that `place` found. Every row is a chain of atoms that keep set
//! distances at three heights (above the parts, at the parts, below the parts), so that nothing can
//! overlap; within those bounds each atom is drawn toward what it is joined to. Lines turn in lanes
//! of the channels; which of two lies above is chosen so that they cross no more often than they must.
//!
//! Hands on a [`Layout`]. Knows no sheet and no symbols' insides.

use super::label::{self, LEADING, TEXT_MM};
use super::model::{Diagram, End, GRID, HEAVIEST, LineKind, half_height, steps};
use super::place::{Chord, Pin, Placement, Room, SlotKind, rim};
use super::symbols::{REACH, Symbol};

/// Distance between two lanes of a channel, in mm: also the least distance between two runs.
pub const LANE: f64 = 3.0;
/// Grid steps between two lines side by side: the same distance.
const APART: i32 = (LANE / GRID) as i32;
/// From a line to its label, in mm.
const LABEL_GAP: f64 = 1.2;
/// From a terminal to the line on which several runs are joined, in mm.
const JOINT: f64 = 3.0;
/// From the upper, and from the lower, rim of its channel to a label, in mm.
const LABEL_OFF_UPPER: f64 = 0.8;
const LABEL_OFF_LOWER: f64 = 1.2;
/// From a label to a line that runs across above or below it, in mm.
const OFF_LABEL: f64 = 0.5;
/// Height of a frame symbol under a terminal, in mm.
const FRAME: f64 = 3.8;
/// Least clear height of a channel, in mm.
const CLEAR: f64 = 2.2;
/// From the lowest lane to the body, beyond half a lane, in mm.
const OFF_FOOT: f64 = 2.0;
/// From a symbol to its label, in mm.
pub const PART_GAP: f64 = 1.5;

/// Heights at which neighbours keep apart: the edge above, the part itself, the edge below.
const ABOVE: usize = 0;
const AT: usize = 1;
const BELOW: usize = 2;

/// A run's label.
#[derive(Clone, Copy, Debug)]
pub struct LabelAt {
    /// Whose.
    pub wire: usize,
    /// Its left edge.
    pub x: f64,
    /// Its top edge.
    pub y: f64,
}

/// A part.
#[derive(Clone, Copy, Debug, Default)]
pub struct ItemAt {
    /// Its axis.
    pub x: f64,
    /// Its middle.
    pub y: f64,
    /// Which terminal is above.
    pub turned: bool,
    /// A bar's ends.
    pub bar: (f64, f64),
}

/// A stem where several runs meet at one terminal.
#[derive(Clone, Debug)]
pub struct Joint {
    /// Line through these points.
    pub points: Vec<(f64, f64)>,
    /// Line kind.
    pub kind: LineKind,
    /// Line width in mm.
    pub weight: f64,
}

/// A run's line.
#[derive(Clone, Debug, Default)]
pub struct WireAt {
    /// From its first terminal to its second, joints included.
    pub points: Vec<(f64, f64)>,
    /// How many points at each end belong to a joint's stem.
    pub stems: [usize; 2],
}

/// The body along the foot.
#[derive(Clone, Copy, Debug)]
pub struct FootAt {
    /// Left and right end.
    pub x: (f64, f64),
    /// Its upper edge, where runs land.
    pub y: f64,
}

/// Everything's place, in mm from the upper left of the drawing proper.
#[derive(Clone, Debug)]
pub struct Layout {
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
    /// Bands' edges: one more than there are bands.
    pub walls: Vec<f64>,
    /// Parts.
    pub items: Vec<ItemAt>,
    /// Runs and bolted joints.
    pub wires: Vec<WireAt>,
    /// Runs' labels.
    pub labels: Vec<LabelAt>,
    /// Joint stems.
    pub joints: Vec<Joint>,
    /// Joints of three.
    pub dots: Vec<((f64, f64), LineKind)>,
    /// Frame symbols.
    pub frames: Vec<(f64, f64)>,
    /// The body.
    pub foot: Option<FootAt>,
    /// Crossings.
    pub crossings: usize,
    /// Height of the band titles' strip.
    pub head: f64,
}

impl Layout {
    /// The scale at which it fills the room.
    pub fn scale(&self, room: Room) -> f64 {
        room.scale(self.width, self.height).min(MOST)
    }
}

/// Height of the strip with the zones' names, in mm.
const HEAD: f64 = 6.5;
/// Height of the body's strip, in mm.
const FOOT: f64 = 6.0;
/// The most that a channel is widened by to fill the sheet, in mm.
const AIR: f64 = 14.0;
/// Least width of a band, in mm.
const BAND: f64 = 22.0;

/// At a height at which an atom has nothing it keeps no distance.
const NOTHING: i32 = -10_000;

/// A rigid piece of a row. `left` and `right` are how far it reaches from its middle at each height.
#[derive(Clone, Copy, Debug)]
struct Atom {
    slot: usize,
    x: i32,
    left: [i32; 3],
    right: [i32; 3],
    /// Its pins: the first, and how many.
    pins: (usize, usize),
}

/// How far a chain of atoms reaches at each height.
#[derive(Clone, Copy)]
struct Reach([i32; 3]);

impl Reach {
    const NONE: Reach = Reach([2 * NOTHING; 3]);

    /// Goes on from an atom at `x`.
    fn take(&mut self, x: i32, atom: &Atom) {
        for (reach, right) in self.0.iter_mut().zip(atom.right) {
            *reach = (*reach).max(x + right);
        }
    }

    /// The least place of the next atom.
    fn next(&self, atom: &Atom) -> i32 {
        (0..3).map(|p| self.0[p] + atom.left[p]).fold(i32::MIN, i32::max)
    }
}

/// A band's stretch of a row: its atoms, and the least and the most that the first one may be put at, in units from
/// the band's left and right wall.
#[derive(Clone, Copy, Debug)]
struct Stretch {
    start: usize,
    stop: usize,
    lo: i32,
    most: i32,
}

/// A chord's end on an atom.
#[derive(Clone, Copy, Debug)]
struct PinAt {
    chord: usize,
    end: usize,
    dx: i32,
    below: bool,
    /// How much it draws its atom.
    weight: i32,
    /// Where the atom should be, counted from the atom at the other end.
    toward: i32,
}

/// Where a run's label hangs.
#[derive(Clone, Copy, Debug)]
struct Hung {
    chord: usize,
    end: usize,
    left: bool,
}

struct Router<'a> {
    diagram: &'a Diagram,
    placement: &'a Placement,
    /// Positions are multiples of this many grid steps: 1, or 4 with every other row shifted by 2.
    unit: i32,
    rows: Vec<Vec<Atom>>,
    /// Atom of a chord's end: row, index.
    home: Vec<[(usize, usize); 2]>,
    dx: Vec<[i32; 2]>,
    walls: Vec<i32>,
    hung: Vec<Hung>,
    /// Pins of all atoms.
    pins: Vec<PinAt>,
    /// Chords of each channel.
    channels: Vec<Vec<usize>>,
    /// Lines may run across beside labels.
    dense: bool,
    /// Each row's stretches.
    stretches: Vec<Vec<Stretch>>,
    /// Each row's atoms' least places, in units from their stretch's first atom.
    offsets: Vec<Vec<i32>>,
    /// Room to reckon in: wishes, and where each atom's begin.
    wishes: Vec<(i32, i32)>,
    blocks: Vec<Block>,
}

/// Neighbours that are put at one place: where their wishes begin and how many atoms they are.
#[derive(Clone, Copy, Debug)]
struct Block {
    first: usize,
    atoms: usize,
    at: i32,
}

/// What of a layout's heights does not depend on where things lie from left to right.
struct Fixed {
    /// Strips for labels, below the row above and above the row below, in each channel.
    strips: Vec<[f64; 2]>,
    half: Vec<f64>,
    joint_above: Vec<f64>,
    joint_below: Vec<f64>,
}

/// Lanes in use.
struct Lanes {
    /// Each chord's, if it needs one.
    of: Vec<Option<usize>>,
    /// How many each channel has.
    counts: Vec<usize>,
    /// What each channel's labels need in height, beside lanes.
    labels: Vec<f64>,
}

/// Heights of everything.
struct Levels {
    middle: Vec<f64>,
    top: Vec<f64>,
    bottom: Vec<f64>,
    lane: Vec<f64>,
    foot: f64,
    height: f64,
}

fn pin(chord: &Chord, end: usize) -> Pin {
    if end == 0 { chord.a } else { chord.b }
}

/// Lays a placement out to fill a room. Labels have a strip of their own, where no line runs across, if there is height
/// for that.
pub fn route(diagram: &Diagram, placement: &Placement, room: Room) -> Layout {
    let mut router = Router::new(diagram, placement, 1, false);
    for attempt in 0..8 {
        match router.lay_out(room) {
            Ok(layout) => {
                if layout.height <= room.height && layout.width <= room.width {
                    return layout;
                }
                let dense = Router::new(diagram, placement, 1, true).lay_out(room);
                return dense.ok().filter(|d| d.scale(room) > layout.scale(room)).unwrap_or(layout);
            }
            Err(pushed) => {
                let way = if attempt % 2 == 0 { APART } else { -APART };
                for (chord, end) in pushed {
                    router.push(chord, end, way);
                }
            }
        }
    }
    // On a coarser grid with every other row shifted no two lines can lie on one another.
    let mut router = Router::new(diagram, placement, 4, false);
    match router.lay_out(room) {
        Ok(layout) => layout,
        Err(_) => unreachable!("rows shifted against one another leave no line above another"),
    }
}

impl<'a> Router<'a> {
    fn new(diagram: &'a Diagram, placement: &'a Placement, unit: i32, dense: bool) -> Router<'a> {
        let chords = placement.chords.len();
        let mut router = Router {
            diagram,
            placement,
            unit,
            rows: Vec::new(),
            home: vec![[(0, 0); 2]; chords],
            dx: vec![[0; 2]; chords],
            walls: Vec::new(),
            hung: Vec::new(),
            pins: Vec::with_capacity(2 * chords),
            channels: vec![Vec::new(); placement.part_rows + 1],
            dense,
            stretches: Vec::new(),
            offsets: Vec::new(),
            wishes: Vec::new(),
            blocks: Vec::new(),
        };
        for (c, chord) in placement.chords.iter().enumerate() {
            router.channels[chord.channel].push(c);
        }
        router.make_atoms();
        router.hang_labels();
        router.stretches = vec![Vec::new(); router.rows.len()];
        router.offsets = vec![Vec::new(); router.rows.len()];
        for row in 0..router.rows.len() {
            router.measure(row);
        }
        router
    }

    /// Moves the wish of a pin that must keep apart from another across a channel, found the hard way.
    fn push(&mut self, chord: usize, end: usize, way: i32) {
        let toward = self.dx[chord][1 - end] - self.dx[chord][end];
        for pin in self.pins.iter_mut().filter(|p| (p.chord, p.end) == (chord, end)) {
            pin.toward = toward + way;
        }
    }

    fn pins(&self, atom: &Atom) -> &[PinAt] {
        &self.pins[atom.pins.0..][..atom.pins.1]
    }

    /// Finds how close the atoms of a row can stand.
    fn measure(&mut self, row: usize) {
        let (unit, shift) = (self.unit, self.row_shift(row));
        let ceil = |d: i32| if unit == 1 { d } else { (d + unit - 1).div_euclid(unit) };
        let (atoms, stretches, offsets) = (&self.rows[row], &mut self.stretches[row], &mut self.offsets[row]);
        stretches.clear();
        offsets.clear();
        let mut start = 0;
        loop {
            let mut stretch = Stretch { start, stop: start, lo: i32::MIN, most: i32::MAX };
            let mut reach = Reach::NONE;
            while let Some(atom) = atoms.get(stretch.stop) {
                if matches!(self.placement.slots[atom.slot].kind, SlotKind::Wall(_)) {
                    break;
                }
                // Counted from the first one's: what is kept here is kept wherever the atoms lie, so long as none falls
                // behind the one before it.
                let offset = ceil(reach.next(atom)).max(0);
                reach.take(offset * unit, atom);
                let before = (0..3).map(|p| 1 + atom.left[p]).fold(i32::MIN, i32::max);
                let after = (0..3).map(|p| 1 + atom.right[p]).fold(i32::MIN, i32::max);
                stretch.lo = stretch.lo.max(ceil(before - shift) - offset);
                stretch.most = stretch.most.min((-after - shift).div_euclid(unit) - offset);
                offsets.push(offset);
                stretch.stop += 1;
            }
            start = stretch.stop + 1;
            stretches.push(stretch);
            if start > atoms.len() {
                break;
            }
            offsets.push(0);
        }
    }

    /// Chord ends by slot and edge, left to right in the order in which their lines do not cross; and where those of each
    /// slot's upper and lower edge begin.
    fn ends_in_order(&self) -> (Vec<(usize, usize)>, Vec<usize>) {
        const ALL_ROUND: i32 = 1 << 21;
        let positions = self.placement.positions();
        let mut keyed: Vec<(usize, i32, i32, i32, usize, usize)> = Vec::with_capacity(2 * self.placement.chords.len());
        let mut starts = vec![0; 2 * self.placement.slots.len() + 1];
        for (c, chord) in self.placement.chords.iter().enumerate() {
            for end in 0..2 {
                let (here, there) = (pin(chord, end), pin(chord, 1 - end));
                let (p, q) = (rim(&positions, here), rim(&positions, there));
                let clockwise = (q - p).rem_euclid(ALL_ROUND);
                // Parallel lines keep side by side: their order at one end is the reverse of that at the other.
                let twin = if p < q { c as i32 } else { -(c as i32) };
                let edge = 2 * here.slot + usize::from(here.upper);
                let (first, then) = if here.upper { (-clockwise, twin) } else { (clockwise, -twin) };
                keyed.push((edge, here.order, first, then, c, end));
                starts[edge + 1] += 1;
            }
        }
        for edge in 1..starts.len() {
            starts[edge] += starts[edge - 1];
        }
        keyed.sort_unstable();
        (keyed.into_iter().map(|(.., c, end)| (c, end)).collect(), starts)
    }

    fn make_atoms(&mut self) {
        let (ends, starts) = self.ends_in_order();
        let spread = APART.max(self.unit);
        let placement = self.placement;
        let pin_at =
            |(chord, end): (usize, usize), dx: i32, below: bool| PinAt { chord, end, dx, below, weight: 0, toward: 0 };
        for row in &placement.rows {
            let mut atoms: Vec<Atom> = Vec::with_capacity(2 * row.len());
            for slot in row {
                let first = self.pins.len();
                let blank = Atom { slot: *slot, x: 0, left: [NOTHING; 3], right: [NOTHING; 3], pins: (first, 0) };
                let above = &ends[starts[2 * slot]..starts[2 * slot + 1]];
                let below = &ends[starts[2 * slot + 1]..starts[2 * slot + 2]];
                match placement.slots[*slot].kind {
                    SlotKind::Wall(_) => atoms.push(Atom { left: [1; 3], right: [1; 3], ..blank }),
                    SlotKind::Pass(_) | SlotKind::Foot(..) => {
                        for (side, list) in [(false, above), (true, below)] {
                            self.pins.extend(list.iter().map(|end| pin_at(*end, 0, side)));
                        }
                        atoms.push(Atom {
                            left: [1; 3],
                            right: [1; 3],
                            pins: (first, self.pins.len() - first),
                            ..blank
                        });
                    }
                    SlotKind::Item(i) if self.diagram.items[i].bar => {
                        let item = &self.diagram.items[i];
                        let bar = atoms.len();
                        // The two edges' pins are merged evenly; each edge keeps its own order.
                        let (mut a, mut b) = (0, 0);
                        while a < above.len() || b < below.len() {
                            let take_above = b >= below.len()
                                || (a < above.len() && a * below.len().max(1) <= b * above.len().max(1));
                            let (end, side) = if take_above { (above[a], false) } else { (below[b], true) };
                            if take_above {
                                a += 1
                            } else {
                                b += 1
                            }
                            let mut atom = Atom { pins: (self.pins.len(), 1), ..blank };
                            for height in [AT, if side { BELOW } else { ABOVE }] {
                                (atom.left[height], atom.right[height]) = (1, 1);
                            }
                            self.pins.push(pin_at(end, 0, side));
                            atoms.push(atom);
                        }
                        if atoms.len() == bar {
                            let mut atom = blank;
                            (atom.left[AT], atom.right[AT]) = (1, 1);
                            atoms.push(atom);
                        }
                        let mine = &mut atoms[bar..];
                        let over = if mine.len() == 1 && item.symbol != Symbol::Onward { 2 } else { 1 };
                        if let Some(first) = mine.first_mut() {
                            first.left[AT] = over + 1;
                        }
                        if let Some(last) = mine.last_mut() {
                            last.right[AT] = over + steps(PART_GAP + item.label_width + 0.5);
                        }
                    }
                    SlotKind::Item(i) => {
                        let item = &self.diagram.items[i];
                        let half = item.symbol.half_width();
                        let mut atom = blank;
                        atom.left[AT] = steps(half + 1.0);
                        atom.right[AT] = steps(half + PART_GAP + item.label_width + 0.5);
                        for (side, list) in [(false, above), (true, below)] {
                            let profile = if side { BELOW } else { ABOVE };
                            let order = |k: usize| pin(&placement.chords[list[k].0], list[k].1).order;
                            let mut start = 0;
                            while start < list.len() {
                                let mut stop = start + 1;
                                while stop < list.len() && order(stop) == order(start) {
                                    stop += 1;
                                }
                                let (base, framed) = self.terminal_at(list[start]);
                                let base = if self.unit > 1 { base.signum() * self.unit } else { base };
                                for k in 0..stop - start {
                                    let dx = base + fan(stop - start, order(start), framed, spread, k);
                                    self.pins.push(pin_at(list[start + k], dx, side));
                                    atom.left[profile] = atom.left[profile].max(1 - dx);
                                    atom.right[profile] = atom.right[profile].max(1 + dx);
                                }
                                start = stop;
                            }
                        }
                        if item.terms.iter().any(|t| t.framed) {
                            atom.left[BELOW] = atom.left[BELOW].max(2);
                            atom.right[BELOW] = atom.right[BELOW].max(2);
                        }
                        atom.pins.1 = self.pins.len() - first;
                        atoms.push(atom);
                    }
                }
            }
            self.rows.push(atoms);
        }
        for (r, atoms) in self.rows.iter().enumerate() {
            for (a, atom) in atoms.iter().enumerate() {
                for p in &self.pins[atom.pins.0..][..atom.pins.1] {
                    self.home[p.chord][p.end] = (r, a);
                    self.dx[p.chord][p.end] = p.dx;
                }
            }
        }
        let passing = |p: Pin| matches!(placement.slots[p.slot].kind, SlotKind::Pass(_));
        for p in &mut self.pins {
            let chord = &placement.chords[p.chord];
            let (here, there) = (pin(chord, p.end), pin(chord, 1 - p.end));
            let bolted = self.diagram.wires[chord.wire].kind == LineKind::Bolted;
            p.weight = match (bolted, here.upper == there.upper, passing(here), passing(there)) {
                (true, ..) => 16,
                (_, true, ..) => 1,
                (_, _, true, true) => 8,
                (_, _, true, false) | (_, _, false, true) => 4,
                _ => 3,
            };
            p.toward = self.dx[p.chord][1 - p.end] - p.dx;
        }
    }

    /// A chord end's terminal: its own offset from the part's axis, and whether a frame symbol stands there.
    fn terminal_at(&self, (c, end): (usize, usize)) -> (i32, bool) {
        let chord = &self.placement.chords[c];
        let p = pin(chord, end);
        let SlotKind::Item(i) = self.placement.slots[p.slot].kind else { return (0, false) };
        let wire = &self.diagram.wires[chord.wire];
        let chords = &self.placement.wire_chords[chord.wire];
        let is_first = chords.first() == Some(&c) && end == 0;
        match wire.ends[usize::from(!is_first)] {
            End::Part(item, term) if item == i => {
                let term = &self.diagram.items[i].terms[term];
                (term.dx, term.framed)
            }
            _ => (0, false),
        }
    }

    /// Gives every run's label a place beside one of the verticals of its line: the one that widens the row least.
    fn hang_labels(&mut self) {
        // Channels' strips already in use cost nothing more in height.
        let mut open = vec![[false; 2]; self.placement.rows.len() + 2];
        let mut order: Vec<usize> =
            (0..self.diagram.wires.len()).filter(|w| !self.diagram.wires[*w].label.is_empty()).collect();
        order.sort_by_key(|w| self.placement.wire_chords[*w].len());
        for w in order {
            let wire = &self.diagram.wires[w];
            let mut best: Option<(f64, Hung, i32)> = None;
            for c in &self.placement.wire_chords[w] {
                for end in 0..2 {
                    let (r, a) = self.home[*c][end];
                    let atom = &self.rows[r][a];
                    let Some(me) = self.pins(atom).iter().find(|p| p.chord == *c && p.end == end) else { continue };
                    let need = steps(LABEL_GAP + wire.weight / 2.0 + wire.label_width + 0.4);
                    for left in [false, true] {
                        let outermost = self
                            .pins(atom)
                            .iter()
                            .filter(|p| p.below == me.below)
                            .all(|p| if left { p.dx >= me.dx } else { p.dx <= me.dx });
                        let taken = self.hung.iter().any(|h| {
                            self.home[h.chord][h.end] == (r, a)
                                && h.left == left
                                && (self.pin_below(h.chord, h.end) == me.below)
                        });
                        if !outermost || taken {
                            continue;
                        }
                        let want = if left { need - me.dx } else { need + me.dx };
                        let has = if left { &atom.left } else { &atom.right };
                        let widens = (want - has.iter().copied().max().unwrap_or(0)).max(0);
                        let strip = &open[r + usize::from(me.below)][usize::from(me.below)];
                        let cost = f64::from(widens)
                            + if *strip || self.dense { 0.0 } else { 3.0 }
                            + if left { 1.5 } else { 0.0 }
                            + f64::from(u8::from(me.below));
                        if best.as_ref().is_none_or(|b| cost < b.0) {
                            best = Some((cost, Hung { chord: *c, end, left }, want));
                        }
                    }
                }
            }
            let Some((_, hung, want)) = best else { continue };
            let (r, a) = self.home[hung.chord][hung.end];
            let below = self.pin_below(hung.chord, hung.end);
            let profile = if below { BELOW } else { ABOVE };
            let atom = &mut self.rows[r][a];
            let side = if hung.left { &mut atom.left } else { &mut atom.right };
            side[profile] = side[profile].max(want);
            open[r + usize::from(below)][usize::from(below)] = true;
            self.hung.push(hung);
        }
    }

    fn pin_below(&self, chord: usize, end: usize) -> bool {
        pin(&self.placement.chords[chord], end).upper
    }

    fn row_shift(&self, row: usize) -> i32 {
        if self.unit > 1 && row % 2 == 1 { self.unit / 2 } else { 0 }
    }

    fn is_wall(&self, atom: &Atom) -> bool {
        matches!(self.placement.slots[atom.slot].kind, SlotKind::Wall(_))
    }

    /// The least width of each band.
    fn band_widths(&self) -> Vec<i32> {
        let mut widths: Vec<i32> = self
            .diagram
            .bands
            .iter()
            .map(|name| steps((label::width(name, label::Face::Bold, TEXT_MM) + 4.0).clamp(BAND, 40.0)))
            .collect();
        for (r, row) in self.rows.iter().enumerate() {
            let round = |d: i32| (d + self.unit - 1).div_euclid(self.unit) * self.unit;
            let slack = if self.unit > 1 { self.unit + self.row_shift(r) } else { 0 };
            for (band, atoms) in row.split(|a| self.is_wall(a)).enumerate() {
                let mut reach = Reach::NONE;
                let (mut first, mut width) = (0, 0);
                for atom in atoms {
                    let at = round(reach.next(atom)).max(0);
                    reach.take(at, atom);
                    let before = (0..3).map(|p| 1 + atom.left[p]).fold(i32::MIN, i32::max);
                    let after = (0..3).map(|p| 1 + atom.right[p]).fold(i32::MIN, i32::max);
                    first = first.max(round(before) - at);
                    width = width.max(at + round(after));
                }
                widths[band] = widths[band].max(first + width + slack);
            }
        }
        for w in &mut widths {
            *w = (*w + self.unit - 1).div_euclid(self.unit) * self.unit;
        }
        widths
    }

    fn edge() -> Atom {
        Atom { slot: usize::MAX, x: 0, left: [1; 3], right: [1; 3], pins: (0, 0) }
    }

    fn lay_out(&mut self, room: super::place::Room) -> Result<Layout, Vec<(usize, usize)>> {
        let fixed = self.fixed();
        let least = self.band_widths();
        self.set_walls(&least);
        self.assign_x();
        let mut lanes = self.all_lanes()?;
        let mut levels = self.levels(&fixed, &lanes, 0.0);
        // Spread out to the room's own proportions: bands that hold much get most.
        let scale = |width: f64, height: f64| room.scale(width, height).min(MOST);
        let total: i32 = least.iter().sum();
        let spare = (room.width / scale(self.width(), levels.height) / GRID).floor() as i32 - total;
        if spare > 0 {
            let shares = self.band_shares();
            let sum: i32 = shares.iter().sum();
            let wider: Vec<i32> = least
                .iter()
                .zip(&shares)
                .map(|(w, share)| w + (spare * share / sum.max(1)).div_euclid(self.unit) * self.unit)
                .collect();
            self.set_walls(&wider);
            self.assign_x();
            lanes = self.all_lanes()?;
            levels = self.levels(&fixed, &lanes, 0.0);
        }
        let spare = room.height / scale(self.width(), levels.height) - levels.height;
        let each = (spare / (self.placement.part_rows + 1) as f64).min(AIR);
        if each > 0.1 {
            levels = self.levels(&fixed, &lanes, each);
        }
        Ok(self.finish(&fixed, &lanes, &levels))
    }

    /// Width of the whole, in mm.
    fn width(&self) -> f64 {
        f64::from(self.walls[self.walls.len() - 1]) * GRID
    }

    /// How much of the spare width each band deserves: as it has things side by side.
    fn band_shares(&self) -> Vec<i32> {
        let mut shares = vec![1; self.diagram.bands.len()];
        for row in &self.rows {
            let mut band = 0;
            let mut count = 0;
            for atom in row {
                if self.is_wall(atom) {
                    shares[band] = shares[band].max(3 * count);
                    band += 1;
                    count = 0;
                } else {
                    count += 1;
                }
            }
            shares[band] = shares[band].max(3 * count);
        }
        shares
    }

    fn set_walls(&mut self, widths: &[i32]) {
        self.walls = std::iter::once(0)
            .chain(widths.iter().scan(0, |sum, w| {
                *sum += w;
                Some(*sum)
            }))
            .collect();
    }

    /// Draws every atom toward what it is joined to, row by row, within what the chain of its row allows.
    fn assign_x(&mut self) {
        // Start from an even spread.
        for r in 0..self.rows.len() {
            self.place_row(r, true);
        }
        let rows = self.rows.len();
        for round in 0..5 {
            if round == 1 || round == 3 {
                self.merge_bars();
            }
            for r in 0..rows {
                self.place_row(r, false);
            }
            for r in (0..rows).rev() {
                self.place_row(r, false);
            }
        }
        if self.unit == 1 {
            self.straighten();
        }
    }

    /// Lets the lines above and below a bar fall in with one another by where they lead; either side keeps its own order.
    fn merge_bars(&mut self) {
        let mut keyed: Vec<(i32, usize)> = Vec::new();
        let mut merged: Vec<Atom> = Vec::new();
        for r in 0..self.rows.len() {
            let mut start = 0;
            let mut changed = false;
            while start < self.rows[r].len() {
                let slot = self.rows[r][start].slot;
                let mut stop = start + 1;
                while stop < self.rows[r].len() && self.rows[r][stop].slot == slot {
                    stop += 1;
                }
                if stop - start > 1 {
                    keyed.clear();
                    for a in start..stop {
                        self.wishes.clear();
                        self.add_wishes(r, a);
                        keyed.push((median(&mut self.wishes), a));
                    }
                    let below = |a: usize| self.pins(&self.rows[r][a]).first().is_some_and(|p| p.below);
                    let (mut i, mut j) = (0, 0);
                    let next = |mut k: usize, side: bool| {
                        while k < keyed.len() && below(keyed[k].1) != side {
                            k += 1;
                        }
                        k
                    };
                    merged.clear();
                    while merged.len() < keyed.len() {
                        (i, j) = (next(i, false), next(j, true));
                        let take_above = j >= keyed.len() || (i < keyed.len() && keyed[i].0 <= keyed[j].0);
                        let k = if take_above { &mut i } else { &mut j };
                        merged.push(self.rows[r][keyed[*k].1]);
                        *k += 1;
                    }
                    if merged.iter().zip(&self.rows[r][start..stop]).any(|(a, b)| a.pins != b.pins) {
                        changed |= self.merge(r, start, &mut merged);
                    }
                }
                start = stop;
            }
            if changed {
                self.measure(r);
            }
        }
    }

    /// Puts a bar's atoms in another order, if its row has room for that.
    fn merge(&mut self, r: usize, start: usize, merged: &mut [Atom]) -> bool {
        let stop = start + merged.len();
        let row = &self.rows[r];
        let (first, last) = (row[start].left[AT], row[stop - 1].right[AT]);
        for atom in merged.iter_mut() {
            (atom.left[AT], atom.right[AT]) = (1, 1);
        }
        if let Some(atom) = merged.first_mut() {
            atom.left[AT] = first;
        }
        if let Some(atom) = merged.last_mut() {
            atom.right[AT] = last;
        }
        // Labels that come to stand side by side may need more room than the band has: then all stays as it is.
        let left = row[..start].iter().rposition(|a| self.is_wall(a)).map_or(0, |w| w + 1);
        let right = row[stop..].iter().position(|a| self.is_wall(a)).map_or(row.len(), |w| stop + w);
        let span = |bar: &[Atom]| -> i32 {
            let mut reach = Reach::NONE;
            reach.take(0, &Self::edge());
            for atom in row[left..start].iter().chain(bar).chain(&row[stop..right]) {
                reach.take(reach.next(atom), atom);
            }
            reach.next(&Self::edge())
        };
        if span(merged) > span(&row[start..stop]) {
            return false;
        }
        for (a, atom) in merged.iter().enumerate() {
            for p in &self.pins[atom.pins.0..][..atom.pins.1] {
                self.home[p.chord][p.end] = (r, start + a);
            }
            self.rows[r][start + a] = *atom;
        }
        true
    }

    /// Moves single atoms to where a line of theirs runs straight, if that is worth more than it costs the others.
    fn straighten(&mut self) {
        const BEND: i32 = 8;
        let mut wishes = std::mem::take(&mut self.wishes);
        // How far what is to the right of each atom reaches to the left, at each height.
        let mut beyond: Vec<[i32; 3]> = Vec::new();
        let end = self.walls[self.walls.len() - 1];
        for _ in 0..3 {
            let mut moved = false;
            for r in 0..self.rows.len() {
                beyond.clear();
                beyond.resize(self.rows[r].len() + 1, [end - 1; 3]);
                for (a, atom) in self.rows[r].iter().enumerate().rev() {
                    let right = beyond[a + 1];
                    beyond[a] = std::array::from_fn(|p| right[p].min(atom.x - atom.left[p]));
                }
                let mut reach = Reach::NONE;
                reach.take(self.walls[0], &Self::edge());
                for a in 0..self.rows[r].len() {
                    let atom = self.rows[r][a];
                    if !self.is_wall(&atom) {
                        let lo = reach.next(&atom);
                        let hi = (0..3).map(|p| beyond[a + 1][p] - atom.right[p]).fold(i32::MAX, i32::min);
                        wishes.clear();
                        self.wish(&mut wishes, r, a);
                        let cost = |x: i32| -> i32 {
                            wishes
                                .iter()
                                .map(|(to, w)| w * ((x - to).abs() + if x == *to || *w == 1 { 0 } else { BEND }))
                                .sum()
                        };
                        let best = wishes
                            .iter()
                            .map(|w| w.0)
                            .filter(|x| (lo..=hi).contains(x))
                            .min_by_key(|x| cost(*x))
                            .filter(|x| cost(*x) < cost(atom.x));
                        if let Some(x) = best {
                            self.rows[r][a].x = x;
                            moved = true;
                        }
                    }
                    reach.take(self.rows[r][a].x, &atom);
                }
            }
            if !moved {
                break;
            }
        }
        self.wishes = wishes;
    }

    fn place_row(&mut self, r: usize, even: bool) {
        let unit = self.unit;
        let shift = self.row_shift(r);
        for band in 0..self.walls.len() - 1 {
            let (from, to) = (self.walls[band], self.walls[band + 1]);
            let Stretch { start, stop, lo, most } = self.stretches[r][band];
            let count = stop - start;
            if count > 0 {
                let (lo, most) = (from / unit + lo, to / unit + most);
                if even {
                    let spare = (most - lo).max(0);
                    for k in 0..count {
                        let x = lo + self.offsets[r][start + k] + spare * (2 * k as i32 + 1) / (2 * count as i32);
                        self.rows[r][start + k].x = x * unit + shift;
                    }
                } else {
                    self.place_at_medians(r, start..stop);
                    let mut k = start;
                    for block in &self.blocks {
                        let y = block.at.clamp(lo, most.max(lo));
                        for _ in 0..block.atoms {
                            self.rows[r][k].x = (y + self.offsets[r][k]) * unit + shift;
                            k += 1;
                        }
                    }
                }
            }
            if stop < self.rows[r].len() {
                self.rows[r][stop].x = to;
            }
        }
    }

    /// Numbers that never fall from left to right and lie as near as can be to what each atom wishes, its offset taken off:
    /// least sum of weighted distances, by pooling neighbours that would fall.
    fn place_at_medians(&mut self, r: usize, atoms: std::ops::Range<usize>) {
        let (unit, shift) = (self.unit, self.row_shift(r));
        self.wishes.clear();
        self.blocks.clear();
        for a in atoms {
            let first = self.wishes.len();
            self.add_wishes(r, a);
            let offset = self.offsets[r][a];
            for wish in &mut self.wishes[first..] {
                let x = if unit == 1 { wish.0 } else { (wish.0 - shift + unit / 2).div_euclid(unit) };
                wish.0 = x - offset;
            }
            pool(&mut self.blocks, &mut self.wishes, first);
        }
    }

    /// Adds where an atom would like to be, each wish with its weight.
    fn add_wishes(&mut self, r: usize, index: usize) {
        let mut wishes = std::mem::take(&mut self.wishes);
        self.wish(&mut wishes, r, index);
        self.wishes = wishes;
    }

    fn wish(&self, wishes: &mut Vec<(i32, i32)>, r: usize, index: usize) {
        let before = wishes.len();
        let atom = &self.rows[r][index];
        for p in self.pins(atom) {
            let there = self.home[p.chord][1 - p.end];
            if there != (r, index) {
                wishes.push((self.rows[there.0][there.1].x + p.toward, p.weight));
            }
        }
        if wishes.len() == before {
            wishes.push((atom.x, 1));
        }
    }

    fn x_of(&self, chord: usize, end: usize) -> i32 {
        let (r, a) = self.home[chord][end];
        self.rows[r][a].x + self.dx[chord][end]
    }

    /// Lanes for all channels; or pins that lie above one another and must not.
    fn all_lanes(&self) -> Result<Lanes, Vec<(usize, usize)>> {
        let mut lanes = Lanes { of: vec![None; self.placement.chords.len()], counts: Vec::new(), labels: Vec::new() };
        for channel in 0..self.channels.len() {
            let labels = if self.dense { self.labels_in(channel) } else { Vec::new() };
            let count = self.lanes(channel, &labels, &mut lanes.of)?;
            lanes.counts.push(count);
            lanes.labels.push(Banner::height(&labels));
        }
        Ok(lanes)
    }

    /// Labels that hang in a channel.
    fn labels_in(&self, channel: usize) -> Vec<Banner> {
        let hung = self.hung.iter().filter(|h| self.placement.chords[h.chord].channel == channel);
        hung.map(|h| {
            let wire = &self.diagram.wires[self.placement.chords[h.chord].wire];
            let x = f64::from(self.x_of(h.chord, h.end)) * GRID;
            let gap = LABEL_GAP + wire.weight / 2.0;
            let (lo, hi) = if h.left { (x - gap - wire.label_width, x) } else { (x, x + gap + wire.label_width) };
            // A lane's line lies in its middle, and may be half of the heaviest wide.
            let height = LABEL_OFF_LOWER + wire.label.len() as f64 * LEADING * TEXT_MM;
            let lanes = ((height + OFF_LABEL + HEAVIEST / 2.0 - LANE / 2.0) / LANE).ceil() as usize;
            Banner { chord: h.chord, upper: self.pin_below(h.chord, h.end), lo: lo - 1.0, hi: hi + 1.0, lanes }
        })
        .collect()
    }

    /// Lanes for one channel: each chord's lane, and how many lanes there are.
    fn lanes(
        &self,
        channel: usize,
        labels: &[Banner],
        lane_of: &mut [Option<usize>],
    ) -> Result<usize, Vec<(usize, usize)>> {
        let bent: Vec<Bent> = self.channels[channel]
            .iter()
            .map(|i| (*i, &self.placement.chords[*i]))
            .map(|(i, c)| Bent::new(i, [(self.x_of(i, 0), c.a.upper), (self.x_of(i, 1), c.b.upper)]))
            .filter(|b| b.lo != b.hi || b.same_rim())
            .collect();
        let n = bent.len();
        // How many lanes from the upper, and from the lower, rim a line must leave to the labels that it passes.
        let kept_off = |b: &Bent, upper: bool| {
            let passes = |l: &&Banner| {
                let (lo, hi) = (f64::from(b.lo) * GRID, f64::from(b.hi) * GRID);
                l.upper == upper && (l.chord == b.chord || (l.lo < hi && lo < l.hi))
            };
            labels.iter().filter(passes).map(|l| l.lanes).max().unwrap_or(0)
        };
        // above[i * n + j]: i must lie above j.
        let mut above = vec![false; n * n];
        let mut forced = Vec::new();
        for i in 0..n {
            for j in i + 1..n {
                if !bent[i].near(&bent[j]) {
                    continue;
                }
                let (ij, ji) = (bent[i].over(&bent[j]), bent[j].over(&bent[i]));
                match (ij, ji) {
                    (None, None) => return Err(vec![bent[i].some_end(), bent[j].some_end()]),
                    (None, Some(_)) => {
                        above[j * n + i] = true;
                        forced.push((j, i));
                    }
                    (Some(_), None) => {
                        above[i * n + j] = true;
                        forced.push((i, j));
                    }
                    (Some(x), Some(y)) if x < y => above[i * n + j] = true,
                    (Some(x), Some(y)) if y < x => above[j * n + i] = true,
                    _ => {}
                }
            }
        }
        let mut lane = vec![usize::MAX; n];
        let mut left: Vec<usize> = (0..n).map(|j| (0..n).filter(|i| above[*i * n + j]).count()).collect();
        // Loops on the upper rim first, then through lines, then loops on the lower rim.
        let rank = |b: &Bent| match (b.ends[0].1, b.ends[1].1) {
            (true, true) => 0,
            (false, false) => 2,
            _ => 1,
        };
        let mut used: Vec<Vec<usize>> = Vec::new();
        for _ in 0..n {
            let next = (0..n)
                .filter(|i| lane[*i] == usize::MAX && left[*i] == 0)
                .min_by_key(|i| (rank(&bent[*i]), bent[*i].hi - bent[*i].lo));
            let Some(next) = next else {
                // A ring of lines each of which must lie above the next: part a pair that is one above the other.
                let stuck = forced.iter().filter(|(i, j)| lane[*i] == usize::MAX && lane[*j] == usize::MAX);
                let mut ends: Vec<(usize, usize)> = stuck.map(|(i, j)| bent[*i].end_near(&bent[*j])).collect();
                ends.truncate(1);
                return Err(ends);
            };
            let floor = (0..n)
                .filter(|i| above[*i * n + next] && lane[*i] != usize::MAX)
                .map(|i| lane[i] + 1)
                .max()
                .unwrap_or(0);
            let mut at = floor.max(kept_off(&bent[next], true));
            while at < used.len() && used[at].iter().any(|o| bent[*o].near(&bent[next])) {
                at += 1;
            }
            while at >= used.len() {
                used.push(Vec::new());
            }
            used[at].push(next);
            lane[next] = at;
            for j in 0..n {
                if above[next * n + j] {
                    left[j] -= 1;
                }
            }
        }
        // Loops on the lower rim hang as low as they may.
        let count = (0..n).map(|i| lane[i] + 1 + kept_off(&bent[i], false)).max().unwrap_or(0);
        used.resize(count, Vec::new());
        let mut low: Vec<usize> = (0..n).filter(|i| rank(&bent[*i]) == 2).collect();
        low.sort_by_key(|i| std::cmp::Reverse(lane[*i]));
        for i in low {
            let ceiling = (0..n).filter(|j| above[i * n + *j]).map(|j| lane[j]).min().unwrap_or(count);
            let ceiling = ceiling.min(count - kept_off(&bent[i], false));
            for at in (lane[i] + 1..ceiling).rev() {
                if !used[at].iter().any(|o| bent[*o].near(&bent[i])) {
                    used[lane[i]].retain(|o| *o != i);
                    used[at].push(i);
                    lane[i] = at;
                    break;
                }
            }
        }
        for (b, lane) in bent.iter().zip(lane) {
            lane_of[b.chord] = Some(lane);
        }
        Ok(count)
    }

    fn fixed(&self) -> Fixed {
        let rows = self.rows.len();
        let part_rows = self.placement.part_rows;
        let mut strips = vec![[0f64; 2]; part_rows + 1];
        for h in &self.hung {
            let chord = &self.placement.chords[h.chord];
            let below = self.pin_below(h.chord, h.end);
            let lines = self.diagram.wires[chord.wire].label.len() as f64;
            let strip = &mut strips[chord.channel][usize::from(!below)];
            *strip = strip.max(lines * LEADING * TEXT_MM + 2.0);
        }
        let mut half = vec![REACH; rows];
        let mut joint_above = vec![0f64; rows];
        let mut joint_below = vec![0f64; rows];
        for (r, atoms) in self.rows.iter().enumerate() {
            for atom in atoms {
                let SlotKind::Item(i) = self.placement.slots[atom.slot].kind else { continue };
                let item = &self.diagram.items[i];
                half[r] = half[r].max(half_height(item));
                if item.bar {
                    continue;
                }
                if item.terms.iter().any(|t| t.framed) {
                    joint_below[r] = joint_below[r].max(FRAME);
                }
                for (below, room) in [(false, &mut joint_above[r]), (true, &mut joint_below[r])] {
                    let mine = self.pins(atom).iter().filter(|p| p.below == below).count();
                    if mine > 1 || (below && mine > 0 && item.terms.iter().any(|t| t.framed)) {
                        *room = room.max(JOINT);
                    }
                }
            }
        }
        Fixed { strips, half, joint_above, joint_below }
    }

    /// Heights of everything; `air` is added to every channel.
    fn levels(&self, fixed: &Fixed, lanes: &Lanes, air: f64) -> Levels {
        let part_rows = self.placement.part_rows;
        let mut y = HEAD;
        let mut middle = vec![0.0; self.rows.len()];
        let mut lane_y = vec![0.0; part_rows + 1];
        let mut top = vec![0.0; part_rows + 1];
        let mut bottom = vec![0.0; part_rows + 1];
        for channel in 0..=part_rows {
            top[channel] = y;
            let count = lanes.counts[channel];
            let room = (count as f64 * LANE).max(lanes.labels[channel]);
            let [upper, lower] = if self.dense { [0.0; 2] } else { fixed.strips[channel] };
            let clear = if room + upper + lower == 0.0 { CLEAR } else { 0.0 };
            lane_y[channel] = y + upper + air / 2.0 + LANE / 2.0;
            // A line along the foot must not look as if it were the body.
            let foot = if channel == part_rows && count > 0 && lower == 0.0 { OFF_FOOT } else { 0.0 };
            y += upper + room + lower + clear + foot + air;
            bottom[channel] = y;
            if channel < part_rows {
                middle[channel] = y + fixed.joint_above[channel] + fixed.half[channel];
                y = middle[channel] + fixed.half[channel] + fixed.joint_below[channel];
            }
        }
        let height = y + if self.rows.len() > part_rows { FOOT } else { 0.0 };
        Levels { middle, top, bottom, lane: lane_y, foot: y, height }
    }

    /// All positions in millimetres.
    fn finish(&self, fixed: &Fixed, lanes: &Lanes, levels: &Levels) -> Layout {
        let Levels { middle, top, bottom, lane: lane_y, .. } = levels;
        let half = &fixed.half;
        let foot = (self.rows.len() > self.placement.part_rows)
            .then(|| FootAt { x: (GRID, f64::from(self.walls[self.walls.len() - 1]) * GRID - GRID), y: levels.foot });
        let mm = |x: i32| f64::from(x) * GRID;
        let mut layout = Layout {
            width: self.width(),
            height: levels.height,
            walls: self.walls.iter().map(|w| mm(*w)).collect(),
            items: vec![ItemAt::default(); self.diagram.items.len()],
            wires: vec![WireAt::default(); self.diagram.wires.len()],
            labels: Vec::new(),
            joints: Vec::new(),
            dots: Vec::new(),
            frames: Vec::new(),
            foot,
            crossings: self.placement.crossings,
            head: HEAD,
        };
        for (r, atoms) in self.rows.iter().enumerate() {
            for atom in atoms {
                let SlotKind::Item(i) = self.placement.slots[atom.slot].kind else { continue };
                let item = &mut layout.items[i];
                let x = mm(atom.x);
                if self.diagram.items[i].bar && item.y > 0.0 {
                    item.bar.1 = x + GRID;
                    continue;
                }
                let mine = atoms.iter().filter(|a| a.slot == atom.slot).count();
                let onward = self.diagram.items[i].symbol == Symbol::Onward;
                let over = if mine == 1 && !onward { 2.0 * GRID } else { GRID };
                *item = ItemAt { x, y: middle[r], turned: self.placement.turned[i], bar: (x - over, x + over) };
                if self.diagram.items[i].terms.iter().any(|t| t.framed) {
                    layout.frames.push((x, middle[r] + half[r]));
                    layout.joints.push(Joint {
                        points: vec![(x, middle[r] + REACH), (x, middle[r] + half[r])],
                        kind: LineKind::Bolted,
                        weight: 0.5,
                    });
                }
            }
        }
        self.draw_wires(&mut layout, &Heights { middle, half }, &lanes.of, lane_y, foot);
        for h in &self.hung {
            let chord = &self.placement.chords[h.chord];
            let wire = &self.diagram.wires[chord.wire];
            let x = mm(self.x_of(h.chord, h.end));
            let gap = LABEL_GAP + wire.weight / 2.0;
            let below = self.pin_below(h.chord, h.end);
            let lines = wire.label.len() as f64 * LEADING * TEXT_MM;
            layout.labels.push(LabelAt {
                wire: chord.wire,
                x: if h.left { x - gap - wire.label_width } else { x + gap },
                y: if below {
                    top[chord.channel] + LABEL_OFF_UPPER
                } else {
                    bottom[chord.channel] - LABEL_OFF_LOWER - lines
                },
            });
        }
        layout
    }

    fn draw_wires(
        &self,
        layout: &mut Layout,
        heights: &Heights<'_>,
        lane_of: &[Option<usize>],
        lane_y: &[f64],
        foot: Option<FootAt>,
    ) {
        let mm = |x: i32| f64::from(x) * GRID;
        for (w, wire) in self.diagram.wires.iter().enumerate() {
            let mut points: Vec<(f64, f64)> = Vec::new();
            let mut stems = [0, 0];
            for (k, c) in self.placement.wire_chords[w].iter().enumerate() {
                let chord = &self.placement.chords[*c];
                let (xa, xb) = (mm(self.x_of(*c, 0)), mm(self.x_of(*c, 1)));
                if k == 0 {
                    points = self.stem(*c, 0, heights, foot);
                    stems[0] = points.len();
                }
                if let Some(lane) = lane_of[*c] {
                    let y = lane_y[chord.channel] + lane as f64 * LANE;
                    points.push((xa, y));
                    points.push((xb, y));
                }
                if k + 1 == self.placement.wire_chords[w].len() {
                    let mut last = self.stem(*c, 1, heights, foot);
                    last.reverse();
                    stems[1] = last.len();
                    points.extend(last);
                }
            }
            layout.wires[w] = WireAt { points, stems };
            let _ = wire;
        }
        // Where several lines meet at a terminal: the stem once, and a dot at every joint of three.
        for (r, atoms) in self.rows.iter().enumerate() {
            for atom in atoms {
                let SlotKind::Item(i) = self.placement.slots[atom.slot].kind else {
                    if let (SlotKind::Foot(w, ..), Some(foot)) = (self.placement.slots[atom.slot].kind, foot) {
                        layout.dots.push(((mm(atom.x), foot.y), self.diagram.wires[w].kind));
                    }
                    continue;
                };
                let item = &self.diagram.items[i];
                if item.bar {
                    let joined = if item.symbol == Symbol::Onward { &[][..] } else { self.pins(atom) };
                    for p in joined {
                        let wire = &self.diagram.wires[self.placement.chords[p.chord].wire];
                        layout.dots.push(((mm(atom.x), heights.middle[r]), wire.kind));
                    }
                    continue;
                }
                for below in [false, true] {
                    let mut groups: Vec<(i32, Vec<&PinAt>)> = Vec::new();
                    for p in self.pins(atom).iter().filter(|p| p.below == below) {
                        let (base, _) = self.terminal_at((p.chord, p.end));
                        match groups.iter_mut().find(|g| g.0 == base) {
                            Some(group) => group.1.push(p),
                            None => groups.push((base, vec![p])),
                        }
                    }
                    for (base, pins) in groups {
                        let framed = below && item.terms.iter().any(|t| t.framed);
                        if pins.len() < 2 && !framed {
                            continue;
                        }
                        let x0 = mm(atom.x + base);
                        let out = if below { 1.0 } else { -1.0 };
                        let term_y = heights.middle[r] + out * REACH;
                        let joint_y = heights.joint(r, below, framed);
                        let heaviest = pins
                            .iter()
                            .map(|p| &self.diagram.wires[self.placement.chords[p.chord].wire])
                            .max_by(|a, b| a.weight.total_cmp(&b.weight));
                        let Some(wire) = heaviest else { continue };
                        let kind = if wire.kind == LineKind::Strap { LineKind::Return } else { wire.kind };
                        let xs: Vec<f64> = pins.iter().map(|p| mm(atom.x + p.dx)).collect();
                        let lo = xs.iter().copied().fold(x0, f64::min);
                        let hi = xs.iter().copied().fold(x0, f64::max);
                        layout.joints.push(Joint {
                            points: vec![(x0, term_y), (x0, joint_y)],
                            kind,
                            weight: wire.weight,
                        });
                        layout.joints.push(Joint {
                            points: vec![(lo, joint_y), (hi, joint_y)],
                            kind,
                            weight: wire.weight,
                        });
                        // A dot wherever three lines meet: at the stem, and at every pin that is not an end of the joint.
                        let mut at: Vec<f64> = xs.iter().copied().filter(|x| *x > lo && *x < hi).collect();
                        let stem_meets = if x0 > lo && x0 < hi { 3 } else { 2 + usize::from(xs.contains(&x0)) };
                        if stem_meets >= 3 || framed {
                            at.push(x0);
                        }
                        at.sort_by(f64::total_cmp);
                        at.dedup();
                        layout.dots.extend(at.into_iter().map(|x| ((x, joint_y), kind)));
                    }
                }
            }
        }
    }

    /// The first points of a wire at one of its ends, from the terminal outward.
    fn stem(&self, c: usize, end: usize, heights: &Heights<'_>, foot: Option<FootAt>) -> Vec<(f64, f64)> {
        let chord = &self.placement.chords[c];
        let p = pin(chord, end);
        let (r, a) = self.home[c][end];
        let atom = &self.rows[r][a];
        let mm = |x: i32| f64::from(x) * GRID;
        let x = mm(self.x_of(c, end));
        match self.placement.slots[p.slot].kind {
            SlotKind::Item(i) if self.diagram.items[i].symbol == Symbol::Onward => {
                let tip = Symbol::Onward.half_width();
                vec![(x, heights.middle[r] + if p.upper { tip } else { -tip })]
            }
            SlotKind::Item(i) if self.diagram.items[i].bar => vec![(x, heights.middle[r])],
            SlotKind::Item(i) => {
                let (base, framed) = self.terminal_at((c, end));
                let x0 = mm(atom.x + base);
                let out = if p.upper { 1.0 } else { -1.0 };
                let terminal = (x0, heights.middle[r] + out * REACH);
                let fellows = self
                    .pins(atom)
                    .iter()
                    .filter(|q| q.below == p.upper && self.terminal_at((q.chord, q.end)).0 == base)
                    .count();
                let framed = framed && p.upper;
                if fellows < 2 && !framed && x == x0 {
                    return vec![terminal];
                }
                let joint_y = heights.joint(r, p.upper, framed);
                let _ = i;
                if x == x0 { vec![terminal, (x, joint_y)] } else { vec![terminal, (x0, joint_y), (x, joint_y)] }
            }
            SlotKind::Foot(..) => vec![(x, foot.map_or(0.0, |f| f.y))],
            SlotKind::Pass(_) | SlotKind::Wall(_) => vec![(x, heights.middle[r])],
        }
    }
}

/// The largest scale that a small drawing is blown up to.
pub const MOST: f64 = 1.6;

struct Heights<'a> {
    middle: &'a [f64],
    half: &'a [f64],
}

impl Heights<'_> {
    /// The height at which lines of one terminal are joined.
    fn joint(&self, row: usize, below: bool, framed: bool) -> f64 {
        match (below, framed) {
            (false, _) => self.middle[row] - self.half[row] - JOINT / 2.0,
            (true, false) => self.middle[row] + self.half[row] + JOINT / 2.0,
            // Above the frame symbol.
            (true, true) => self.middle[row] + self.half[row],
        }
    }
}

/// Offset from a terminal of the one of the lines that leave it that is `k`th from the left. No line leaves straight on
/// where others leave to both sides: that would be a joint of four.
fn fan(count: usize, order: i32, framed: bool, step: i32, k: usize) -> i32 {
    let (n, k) = (count as i32, k as i32);
    match (count, order) {
        (1, _) if !framed => 0,
        _ if framed => (k + 1) * step,
        (_, -1) => (k + 1 - n) * step,
        (2, _) | (_, 1) => k * step,
        _ => {
            let left = n / 2;
            if k < left { (k - left) * step } else { (k - left + 1) * step }
        }
    }
}

/// A run's label as lanes see it: they keep off it.
#[derive(Clone, Copy, Debug)]
struct Banner {
    chord: usize,
    /// It hangs from the upper rim of its channel.
    upper: bool,
    /// Left and right edge in mm, with what is kept clear.
    lo: f64,
    hi: f64,
    /// How many lanes it reaches over.
    lanes: usize,
}

impl Banner {
    /// The height that a channel's labels need: those that hang from above and from below must not meet.
    fn height(labels: &[Banner]) -> f64 {
        let mut lanes = labels.iter().map(|l| l.lanes).max().unwrap_or(0);
        for (k, a) in labels.iter().enumerate() {
            for b in labels[..k].iter().filter(|b| a.upper != b.upper && a.lo < b.hi && b.lo < a.hi) {
                lanes = lanes.max(a.lanes + b.lanes);
            }
        }
        lanes as f64 * LANE
    }
}

/// A chord that needs a lane.
#[derive(Clone, Copy, Debug)]
struct Bent {
    chord: usize,
    lo: i32,
    hi: i32,
    /// x and whether on the upper rim.
    ends: [(i32, bool); 2],
}

impl Bent {
    fn new(chord: usize, ends: [(i32, bool); 2]) -> Bent {
        Bent { chord, lo: ends[0].0.min(ends[1].0), hi: ends[0].0.max(ends[1].0), ends }
    }
    fn same_rim(&self) -> bool {
        self.ends[0].1 == self.ends[1].1
    }
    /// Whether two may not share a lane.
    fn near(&self, other: &Bent) -> bool {
        self.lo < other.hi + APART && other.lo < self.hi + APART
    }
    /// How often two cross if this one lies above; `None` if two of their verticals would lie on one another.
    fn over(&self, below: &Bent) -> Option<u32> {
        let mut count = 0;
        for (x, upper) in below.ends {
            if upper {
                // Its vertical comes down through this one's lane.
                if self.lo < x && x < self.hi {
                    count += 1;
                }
                if self.ends.iter().any(|(mine, up)| !up && (mine - x).abs() < APART) {
                    return None;
                }
            }
        }
        for (x, upper) in self.ends {
            if !upper && below.lo < x && x < below.hi {
                count += 1;
            }
        }
        Some(count)
    }
    fn some_end(&self) -> (usize, usize) {
        (self.chord, usize::from(self.ends[0].1))
    }
    /// The end of this one that lies above or below one of the other's.
    fn end_near(&self, other: &Bent) -> (usize, usize) {
        let near = |(x, up): (i32, bool)| other.ends.iter().any(|(y, v)| *v != up && (x - y).abs() < APART);
        (self.chord, usize::from(!near(self.ends[0])))
    }
}

/// The weighted median.
fn median(wishes: &mut [(i32, i32)]) -> i32 {
    wishes.sort_unstable();
    let total: i32 = wishes.iter().map(|w| w.1).sum();
    let mut sum = 0;
    for (x, w) in wishes.iter() {
        sum += w;
        if 2 * sum >= total {
            return *x;
        }
    }
    0
}

/// Adds a place that wishes what stands in `wishes` from `first` on; neighbours that would fall are pooled.
fn pool(blocks: &mut Vec<Block>, wishes: &mut [(i32, i32)], first: usize) {
    let mut last = Block { first, atoms: 1, at: median(&mut wishes[first..]) };
    while let Some(before) = blocks.last().filter(|b| b.at > last.at) {
        last = Block { first: before.first, atoms: before.atoms + last.atoms, at: median(&mut wishes[before.first..]) };
        blocks.pop();
    }
    blocks.push(last);
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn medians_never_fall() {
        let medians = |all: &[i32]| {
            let (mut blocks, mut wishes) = (Vec::new(), Vec::new());
            for x in all {
                wishes.push((*x, 1));
                let last = wishes.len() - 1;
                pool(&mut blocks, &mut wishes, last);
            }
            blocks.iter().flat_map(|b| std::iter::repeat_n(b.at, b.atoms)).collect::<Vec<_>>()
        };
        assert_eq!(medians(&[5, 3, 9]), [3, 3, 9]);
        assert_eq!(medians(&[1, 2]), [1, 2]);
    }

    #[test]
    fn no_fan_makes_a_joint_of_four() {
        for n in 1..9 {
            for order in [-1, 0, 1] {
                for framed in [false, true] {
                    let fan: Vec<i32> = (0..n).map(|k| fan(n, order, framed, 2, k)).collect();
                    assert_eq!(fan.len(), n);
                    assert!(fan.windows(2).all(|w| w[1] - w[0] >= 2));
                    let both_sides = fan.first().is_some_and(|x| *x < 0) && fan.last().is_some_and(|x| *x > 0);
                    assert!(!(fan.contains(&0) && (both_sides || framed)));
                }
            }
        }
    }
}
