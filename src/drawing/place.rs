//! Which part goes where: tiers and the order within them.
//!
//! Parts stand in rows; between two rows is a channel in which lines run. A line that must pass a
//! row takes a slot of its own there. Zones are bands: the same walls cut every row. With the order
//! given, the least number of crossings in a channel is known exactly: each piece of a line is a
//! chord of a disc whose rim is the row above, left to right, and the row below, right to left, and
//! two chords cross if their ends alternate on the rim. Routing (see `route`) never needs more.
//!
//! Hands on a [`Placement`]. Knows no millimetres but rough widths.

use super::model::{Diagram, End, GRID, Home, LineKind, Tier, Wire, steps};

/// What stands at one place of a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SlotKind {
    /// A part.
    Item(usize),
    /// Where a wire's end lands on the body: wire, end, band.
    Foot(usize, usize, usize),
    /// A wire passing the row.
    Pass(usize),
    /// The wall before this band.
    Wall(usize),
}

/// One place of a row.
#[derive(Clone, Copy, Debug)]
pub struct Slot {
    /// What stands there.
    pub kind: SlotKind,
    /// In which row.
    pub row: usize,
    /// Rough width in grid steps.
    pub width: i32,
}

/// One end of a piece of line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Pin {
    /// At which slot.
    pub slot: usize,
    /// Which of the slot's terminals on that edge, from the left; a part's several lines at one terminal share it.
    pub order: i32,
    /// On the upper rim of its channel: the slot's lower edge.
    pub upper: bool,
}

/// A piece of a wire within one channel.
#[derive(Clone, Copy, Debug)]
pub struct Chord {
    /// Whose.
    pub wire: usize,
    /// In which channel: the one above row `channel`.
    pub channel: usize,
    /// Toward the wire's first end.
    pub a: Pin,
    /// Toward its second end.
    pub b: Pin,
}

/// Parts in rows, lines in channels.
#[derive(Clone, Debug)]
pub struct Placement {
    /// How many rows of parts; the body's row, if any, comes after.
    pub part_rows: usize,
    /// Which of an item's two terminals is above: turned or not.
    pub turned: Vec<bool>,
    /// Slots; the first ones are the items.
    pub slots: Vec<Slot>,
    /// Slots of each row from left to right, walls included.
    pub rows: Vec<Vec<usize>>,
    /// Pieces of line.
    pub chords: Vec<Chord>,
    /// Each wire's chords from its first end to its second.
    pub wire_chords: Vec<Vec<usize>>,
    /// Crossings with this order.
    pub crossings: usize,
}

/// A small generator of numbers that look random and are always the same (SplitMix64, public domain).
#[derive(Clone, Debug)]
pub struct Dice(u64);

impl Dice {
    /// The same seed gives the same numbers.
    pub fn new(seed: u64) -> Dice {
        Dice(seed)
    }
    /// The next number.
    pub fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }
    /// One of `0..n`; 0 when there is none.
    pub fn below(&mut self, n: usize) -> usize {
        if n == 0 { 0 } else { (self.roll() % n as u64) as usize }
    }
}

/// Rows and turns of all items.
#[derive(Clone, Debug, PartialEq)]
pub struct Tiers {
    /// How many rows.
    pub rows: usize,
    /// Each item's row.
    pub row: Vec<usize>,
    /// Each item's turn.
    pub turned: Vec<bool>,
}

/// A wire's end as a channel and a rim (`true` is the upper one).
type Port = (usize, bool);

impl Tiers {
    fn home(&self, diagram: &Diagram, end: End) -> Option<Home> {
        let End::Part(item, term) = end else { return None };
        let home = diagram.items[item].terms[term].home;
        Some(match (home, self.turned[item]) {
            (Home::Top, true) => Home::Bottom,
            (Home::Bottom, true) => Home::Top,
            (home, _) => home,
        })
    }

    /// The channels in which a wire's two ends lie.
    fn ports(&self, diagram: &Diagram, wire: &Wire) -> [Port; 2] {
        let row = |end: End| match end {
            End::Part(item, _) => self.row[item],
            End::Foot(_) => self.rows,
        };
        let fixed = |end: End| match self.home(diagram, end) {
            None => Some((self.rows, false)),
            Some(Home::Top) => Some((row(end), false)),
            Some(Home::Bottom) => Some((row(end) + 1, true)),
            Some(Home::Free) => None,
        };
        let facing = |end: End, channel: usize| {
            if channel <= row(end) { (row(end), false) } else { (row(end) + 1, true) }
        };
        let [a, b] = wire.ends;
        match (fixed(a), fixed(b)) {
            (Some(a), Some(b)) => [a, b],
            (Some(pa), None) => [pa, facing(b, pa.0)],
            (None, Some(pb)) => [facing(a, pb.0), pb],
            (None, None) => match row(a).cmp(&row(b)) {
                std::cmp::Ordering::Less => [(row(a) + 1, true), (row(b), false)],
                std::cmp::Ordering::Greater => [(row(a), false), (row(b) + 1, true)],
                std::cmp::Ordering::Equal if wire.kind == LineKind::Feed => [(row(a), false), (row(b), false)],
                std::cmp::Ordering::Equal => [(row(a) + 1, true), (row(b) + 1, true)],
            },
        }
    }
}

/// The paper that a drawing may fill, in mm.
#[derive(Clone, Copy, Debug)]
pub struct Room {
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
}

/// Rough height of a row with its channel, in mm.
const ROW_MM: f64 = 31.0;
/// Rough width that every part needs beside its label, in mm.
const GAP_MM: f64 = 4.5;

fn item_steps(diagram: &Diagram, item: usize) -> i32 {
    let item = &diagram.items[item];
    steps(2.0 * item.symbol.half_width() + 1.5 + item.label_width + GAP_MM)
}

/// What a choice of rows costs: lines that pass rows, detours, parts out of their tier, and a sheet
/// that must be shrunk to fit.
fn tier_cost(diagram: &Diagram, tiers: &Tiers, room: Room, widths: &[i32], load: &mut [i32]) -> i64 {
    let mut cost = 0i64;
    load.fill(0);
    let bands = diagram.bands.len();
    for (i, item) in diagram.items.iter().enumerate() {
        let row = tiers.row[i];
        load[row * bands + item.band] += widths[i];
        let below = (tiers.rows - 1 - row) as i64;
        cost += match item.tier {
            Tier::Feed => 5 * row as i64,
            Tier::Between if item.source => 3 * row as i64,
            Tier::Between => 0,
            Tier::Return => 8 * below,
        };
    }
    for wire in &diagram.wires {
        let [(ca, ua), (cb, ub)] = tiers.ports(diagram, wire);
        let passes = ca.abs_diff(cb) as i64;
        let bolted = wire.kind == LineKind::Bolted;
        cost += passes * if bolted { 120 } else { 36 };
        if passes == 0 && ua == ub {
            cost += if bolted { 60 } else { 9 };
        }
    }
    let width: i32 = (0..bands).map(|b| (0..tiers.rows).map(|r| load[r * bands + b]).max().unwrap_or(0).max(6)).sum();
    let foot = if diagram.body.is_some() { 16.0 } else { 4.0 };
    let scale = (room.width / (f64::from(width) * GRID)).min(room.height / (tiers.rows as f64 * ROW_MM + foot));
    if scale < 1.5 {
        cost += ((1.5 - scale) * 260.0) as i64;
    }
    if scale < 1.0 {
        cost += ((1.0 - scale) * 3000.0) as i64;
    }
    cost
}

/// Chooses rows and turns: several starts, each mended one part at a time until nothing helps.
pub fn tiers(diagram: &Diagram, rows: usize, room: Room, dice: &mut Dice) -> (Tiers, i64) {
    let n = diagram.items.len();
    let widths: Vec<i32> = (0..n).map(|i| item_steps(diagram, i)).collect();
    let mut load = vec![0; rows * diagram.bands.len()];
    let mut best: Option<(Tiers, i64)> = None;
    let starts = if n > 20 { 3 } else { 6 };
    for start in 0..starts {
        let mut tiers = Tiers { rows, row: vec![0; n], turned: vec![false; n] };
        for (i, item) in diagram.items.iter().enumerate() {
            let middle = rows / 2;
            tiers.row[i] = match (start, item.tier) {
                (0, Tier::Feed) => 0,
                (0, Tier::Between) => middle,
                (0, Tier::Return) => rows - 1,
                (_, Tier::Feed) => dice.below(middle + 1),
                (_, Tier::Between) => dice.below(rows),
                (_, Tier::Return) => rows - 1 - dice.below(rows - middle),
            };
            tiers.turned[i] = start > 0 && item.turns && dice.below(2) == 1;
        }
        let mut cost = tier_cost(diagram, &tiers, room, &widths, &mut load);
        for _ in 0..12 {
            let before = cost;
            for i in 0..n {
                let was = (tiers.row[i], tiers.turned[i]);
                let mut keep = was;
                for row in 0..rows {
                    for turned in [false, true] {
                        if turned && !diagram.items[i].turns {
                            continue;
                        }
                        (tiers.row[i], tiers.turned[i]) = (row, turned);
                        let now = tier_cost(diagram, &tiers, room, &widths, &mut load);
                        if now < cost {
                            cost = now;
                            keep = (row, turned);
                        }
                    }
                }
                (tiers.row[i], tiers.turned[i]) = keep;
            }
            if cost == before {
                break;
            }
        }
        if best.as_ref().is_none_or(|(_, least)| cost < *least) {
            best = Some((tiers, cost));
        }
    }
    best.unwrap_or((Tiers { rows, row: vec![0; n], turned: vec![false; n] }, 0))
}

/// On the rim of its channel, a pin's place: clockwise from the upper left.
const TURN: i32 = 1 << 20;

impl Placement {
    /// Slots and chords for given rows, in the author's order; nothing is untangled yet.
    pub fn new(diagram: &Diagram, tiers: &Tiers) -> Placement {
        let bands = diagram.bands.len();
        let foot = usize::from(diagram.body.is_some());
        let row_count = tiers.rows + foot;
        let mut slots: Vec<Slot> = (0..diagram.items.len())
            .map(|i| Slot { kind: SlotKind::Item(i), row: tiers.row[i], width: item_steps(diagram, i) })
            .collect();
        let mut rows: Vec<Vec<usize>> = vec![Vec::new(); row_count];
        let add = |slots: &mut Vec<Slot>, kind, row, width| {
            slots.push(Slot { kind, row, width });
            slots.len() - 1
        };
        let mut walls = vec![vec![0; bands]; row_count];
        for (row, walls) in walls.iter_mut().enumerate() {
            for (band, wall) in walls.iter_mut().enumerate().skip(1) {
                *wall = add(&mut slots, SlotKind::Wall(band), row, 4);
            }
        }
        let mut chords: Vec<Chord> = Vec::new();
        let mut wire_chords = Vec::new();
        let mut loose: Vec<Vec<usize>> = vec![Vec::new(); row_count];
        for (w, wire) in diagram.wires.iter().enumerate() {
            let ports = tiers.ports(diagram, wire);
            let pins: Vec<Pin> = (0..2)
                .map(|e| match wire.ends[e] {
                    End::Part(item, term) => {
                        // Terminals on one edge keep their order from left to right.
                        let order = diagram.items[item].terms[term].dx.signum();
                        Pin { slot: item, order, upper: ports[e].1 }
                    }
                    End::Foot(band) => {
                        let slot = add(&mut slots, SlotKind::Foot(w, e, band), tiers.rows, 3);
                        loose[tiers.rows].push(slot);
                        Pin { slot, order: 0, upper: false }
                    }
                })
                .collect();
            let (from, to) = (ports[0].0, ports[1].0);
            let mut mine = Vec::new();
            let mut at = pins[0];
            let mut channel = from;
            while channel != to {
                let (row, next) = if channel < to { (channel, channel + 1) } else { (channel - 1, channel - 1) };
                let slot = add(&mut slots, SlotKind::Pass(w), row, 2);
                loose[row].push(slot);
                let down = channel < to;
                mine.push(chords.len());
                chords.push(Chord { wire: w, channel, a: at, b: Pin { slot, order: 0, upper: !down } });
                at = Pin { slot, order: 0, upper: down };
                channel = next;
            }
            mine.push(chords.len());
            chords.push(Chord { wire: w, channel, a: at, b: pins[1] });
            wire_chords.push(mine);
        }
        for (row, line) in rows.iter_mut().enumerate() {
            for (band, wall) in walls[row].iter().enumerate() {
                if band > 0 {
                    line.push(*wall);
                }
                line.extend(
                    (0..diagram.items.len())
                        .filter(|i| row < tiers.rows && tiers.row[*i] == row && diagram.items[*i].band == band),
                );
                line.extend(loose[row].iter().filter(|s| match slots[**s].kind {
                    SlotKind::Foot(_, _, at) => at == band,
                    SlotKind::Pass(w) => wire_band(diagram, &diagram.wires[w]) == band,
                    _ => false,
                }));
            }
        }
        let mut placement = Placement {
            part_rows: tiers.rows,
            turned: tiers.turned.clone(),
            slots,
            rows,
            chords,
            wire_chords,
            crossings: 0,
        };
        placement.crossings = placement.count_crossings();
        placement
    }

    /// Each slot's place in its row.
    pub fn positions(&self) -> Vec<i32> {
        let mut positions = vec![0; self.slots.len()];
        for row in &self.rows {
            for (p, slot) in row.iter().enumerate() {
                positions[*slot] = p as i32;
            }
        }
        positions
    }

    /// The least number of crossings with this order.
    pub fn count_crossings(&self) -> usize {
        let positions = self.positions();
        let mut count = 0;
        for (i, c) in self.chords.iter().enumerate() {
            for d in &self.chords[..i] {
                if c.channel == d.channel && crosses(&positions, c, d) {
                    count += 1;
                }
            }
        }
        count
    }
}

/// The band in which a wire would pass a row: the one of its lower-numbered end.
fn wire_band(diagram: &Diagram, wire: &Wire) -> usize {
    let band = |end: End| match end {
        End::Part(item, _) => diagram.items[item].band,
        End::Foot(band) => band,
    };
    band(wire.ends[0]).min(band(wire.ends[1]))
}

/// A pin's place on the rim of its channel.
pub fn rim(positions: &[i32], pin: Pin) -> i32 {
    let along = positions[pin.slot] * 4 + pin.order;
    if pin.upper { along } else { TURN - along }
}

/// Whether two chords of one channel must cross.
fn crosses(positions: &[i32], c: &Chord, d: &Chord) -> bool {
    let (c0, c1) = (rim(positions, c.a), rim(positions, c.b));
    let (d0, d1) = (rim(positions, d.a), rim(positions, d.b));
    let (lo, hi) = (c0.min(c1), c0.max(c1));
    if d0 == lo || d0 == hi || d1 == lo || d1 == hi {
        return false;
    }
    (lo < d0 && d0 < hi) != (lo < d1 && d1 < hi)
}

/// Untangles: orders every row so that lines cross as seldom, and run as short, as the search finds.
struct Untangler<'a> {
    placement: &'a mut Placement,
    positions: Vec<i32>,
    /// Rough middle of each slot, in grid steps.
    x: Vec<i32>,
    /// Chords at each slot.
    at: Vec<Vec<usize>>,
    /// Band of a slot that may not leave it.
    bound: Vec<Option<usize>>,
}

/// A crossing costs more than any length.
const CROSSING: i64 = 1 << 24;

impl<'a> Untangler<'a> {
    fn new(diagram: &Diagram, placement: &'a mut Placement) -> Untangler<'a> {
        let mut at = vec![Vec::new(); placement.slots.len()];
        for (c, chord) in placement.chords.iter().enumerate() {
            at[chord.a.slot].push(c);
            if chord.b.slot != chord.a.slot {
                at[chord.b.slot].push(c);
            }
        }
        let bound = placement
            .slots
            .iter()
            .map(|s| match s.kind {
                SlotKind::Item(i) => Some(diagram.items[i].band),
                SlotKind::Foot(_, _, band) => Some(band),
                SlotKind::Pass(_) | SlotKind::Wall(_) => None,
            })
            .collect();
        let positions = placement.positions();
        let x = vec![0; placement.slots.len()];
        let mut new = Untangler { placement, positions, x, at, bound };
        new.spread();
        new
    }

    /// Rough positions: bands as wide as their widest row, slots in the middle of their band.
    fn spread(&mut self) {
        let bands = 1 + self
            .placement
            .slots
            .iter()
            .map(|s| if let SlotKind::Wall(b) = s.kind { b } else { 0 })
            .max()
            .unwrap_or(0);
        let mut widest = vec![0; bands];
        let spans: Vec<Vec<i32>> = self
            .placement
            .rows
            .iter()
            .map(|row| {
                let mut span = vec![0; bands];
                let mut band = 0;
                for slot in row {
                    match self.placement.slots[*slot].kind {
                        SlotKind::Wall(b) => band = b,
                        _ => span[band] += self.placement.slots[*slot].width,
                    }
                }
                for (w, s) in widest.iter_mut().zip(&span) {
                    *w = (*w).max(*s);
                }
                span
            })
            .collect();
        for (row, span) in self.placement.rows.iter().zip(&spans) {
            let mut start = 0;
            let mut band = 0;
            let mut x = (widest[0] - span[0]) / 2;
            for slot in row {
                let s = &self.placement.slots[*slot];
                if let SlotKind::Wall(b) = s.kind {
                    start += widest[band] + s.width;
                    self.x[*slot] = start - s.width / 2;
                    band = b;
                    x = start + (widest[band] - span[band]) / 2;
                } else {
                    self.x[*slot] = x + s.width / 2;
                    x += s.width;
                }
            }
        }
    }

    /// How the cost changes if the slot at `p` of a row and its right neighbour change places.
    fn swap_gain(&mut self, row: usize, p: usize) -> i64 {
        let (u, v) = (self.placement.rows[row][p], self.placement.rows[row][p + 1]);
        let chords = &self.placement.chords;
        let mut before = 0i64;
        let mut after = 0i64;
        let length = |x: &[i32], sum: &mut i64| {
            for c in &self.at[u] {
                let chord = &chords[*c];
                *sum += i64::from((x[chord.a.slot] - x[chord.b.slot]).abs());
            }
            for c in &self.at[v] {
                let chord = &chords[*c];
                if chord.a.slot != u && chord.b.slot != u {
                    *sum += i64::from((x[chord.a.slot] - x[chord.b.slot]).abs());
                }
            }
        };
        length(&self.x, &mut before);
        let (xu, xv) = (self.x[u], self.x[v]);
        let (wu, wv) = (self.placement.slots[u].width, self.placement.slots[v].width);
        self.x[u] = xu + wv;
        self.x[v] = xv - wu;
        length(&self.x, &mut after);
        (self.x[u], self.x[v]) = (xu, xv);
        let joins = |c: &Chord| (c.a.slot == u && c.b.slot == v) || (c.a.slot == v && c.b.slot == u);
        for c in &self.at[u] {
            for d in &self.at[v] {
                let (cc, dd) = (&chords[*c], &chords[*d]);
                if c == d || cc.channel != dd.channel || (joins(cc) && joins(dd) && c > d) {
                    continue;
                }
                before += CROSSING * i64::from(crosses(&self.positions, cc, dd));
                self.positions.swap(u, v);
                after += CROSSING * i64::from(crosses(&self.positions, cc, dd));
                self.positions.swap(u, v);
            }
        }
        after - before
    }

    fn swap(&mut self, row: usize, p: usize) {
        let (u, v) = (self.placement.rows[row][p], self.placement.rows[row][p + 1]);
        self.placement.rows[row].swap(p, p + 1);
        self.positions.swap(u, v);
        let (wu, wv) = (self.placement.slots[u].width, self.placement.slots[v].width);
        self.x[u] += wv;
        self.x[v] -= wu;
    }

    /// Whether two neighbours may change places: nothing that has a band leaves it.
    fn may_swap(&self, u: usize, v: usize) -> bool {
        match (self.bound[u], self.bound[v]) {
            (Some(_), Some(_)) => true,
            (Some(_), None) => !matches!(self.placement.slots[v].kind, SlotKind::Wall(_)),
            (None, Some(_)) => !matches!(self.placement.slots[u].kind, SlotKind::Wall(_)),
            (None, None) => !matches!(
                (self.placement.slots[u].kind, self.placement.slots[v].kind),
                (SlotKind::Wall(_), SlotKind::Wall(_))
            ),
        }
    }

    /// Tries every place for one slot and leaves it at the best. Gives what was won.
    fn sift(&mut self, row: usize, slot: usize) -> i64 {
        let start = self.positions[slot] as usize;
        let mut here = start;
        let mut sum = 0i64;
        let (mut best, mut best_at) = (0i64, start);
        while here > 0 {
            let left = self.placement.rows[row][here - 1];
            if !self.may_swap(left, slot) {
                break;
            }
            sum += self.swap_gain(row, here - 1);
            self.swap(row, here - 1);
            here -= 1;
            if sum < best {
                (best, best_at) = (sum, here);
            }
        }
        while here < start {
            self.swap(row, here);
            here += 1;
        }
        sum = 0;
        while here + 1 < self.placement.rows[row].len() {
            let right = self.placement.rows[row][here + 1];
            if !self.may_swap(slot, right) {
                break;
            }
            sum += self.swap_gain(row, here);
            self.swap(row, here);
            here += 1;
            if sum < best {
                (best, best_at) = (sum, here);
            }
        }
        while here > best_at {
            self.swap(row, here - 1);
            here -= 1;
        }
        best
    }

    fn settle(&mut self, rounds: usize) {
        for round in 0..rounds {
            let mut won = 0;
            for r in 0..self.placement.rows.len() {
                let row = if round % 2 == 0 { r } else { self.placement.rows.len() - 1 - r };
                let slots = self.placement.rows[row].clone();
                for slot in slots {
                    if !matches!(self.placement.slots[slot].kind, SlotKind::Wall(_)) {
                        won += self.sift(row, slot);
                    }
                }
            }
            self.spread();
            if won == 0 {
                break;
            }
        }
    }

    fn cost(&self) -> i64 {
        let length: i64 =
            self.placement.chords.iter().map(|c| i64::from((self.x[c.a.slot] - self.x[c.b.slot]).abs())).sum();
        CROSSING * self.placement.count_crossings() as i64 + length
    }

    /// Moves a few slots anywhere they may go.
    fn shake(&mut self, moves: usize, dice: &mut Dice) {
        for _ in 0..moves {
            let row = dice.below(self.placement.rows.len());
            if self.placement.rows[row].len() < 2 {
                continue;
            }
            let mut p = dice.below(self.placement.rows[row].len());
            let slot = self.placement.rows[row][p];
            if matches!(self.placement.slots[slot].kind, SlotKind::Wall(_)) {
                continue;
            }
            let left = dice.below(2) == 0;
            for _ in 0..=dice.below(self.placement.rows[row].len()) {
                if left && p > 0 && self.may_swap(self.placement.rows[row][p - 1], slot) {
                    self.swap(row, p - 1);
                    p -= 1;
                } else if !left
                    && p + 1 < self.placement.rows[row].len()
                    && self.may_swap(slot, self.placement.rows[row][p + 1])
                {
                    self.swap(row, p);
                    p += 1;
                }
            }
        }
    }

    fn restore(&mut self, rows: &[Vec<usize>]) {
        self.placement.rows = rows.to_vec();
        self.positions = self.placement.positions();
        self.spread();
    }
}

/// Orders the rows. `effort` is the number of times that the search shakes the best it has and tries again.
pub fn untangle(diagram: &Diagram, placement: &mut Placement, effort: usize, dice: &mut Dice) -> i64 {
    let mut search = Untangler::new(diagram, placement);
    search.settle(20);
    let mut best = search.placement.rows.clone();
    let mut least = search.cost();
    let moves = 2 + search.placement.slots.len() / 12;
    for _ in 0..effort {
        search.shake(1 + dice.below(moves), dice);
        search.settle(20);
        let cost = search.cost();
        if cost <= least {
            least = cost;
            best.clone_from(&search.placement.rows);
        } else {
            search.restore(&best);
        }
    }
    search.restore(&best);
    placement.crossings = placement.count_crossings();
    least
}
