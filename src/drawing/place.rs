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
    /// Others, for something that goes on at the same time: not what these give, and the same each time.
    pub fn split(&self, which: u64) -> Dice {
        Dice(Dice(self.0 ^ which.wrapping_mul(0xd1b5_4a32_d192_ed03)).roll())
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
pub(super) type Port = (usize, bool);

impl Tiers {
    /// The channels in which a wire's two ends lie.
    fn ports(&self, join: &Join) -> [Port; 2] {
        let row = |e: usize| join.ends[e].0.map_or(self.rows, |item| self.row[item]);
        let fixed = |e: usize| {
            let (Some(item), home) = join.ends[e] else { return Some((self.rows, false)) };
            match (home, self.turned[item]) {
                (Home::Top, false) | (Home::Bottom, true) => Some((self.row[item], false)),
                (Home::Bottom, false) | (Home::Top, true) => Some((self.row[item] + 1, true)),
                (Home::Free, _) => None,
            }
        };
        let facing = |e: usize, channel: usize| {
            let row = row(e);
            if channel <= row { (row, false) } else { (row + 1, true) }
        };
        match (fixed(0), fixed(1)) {
            (Some(a), Some(b)) => [a, b],
            (Some(a), None) => [a, facing(1, a.0)],
            (None, Some(b)) => [facing(0, b.0), b],
            (None, None) => {
                let (a, b) = (row(0), row(1));
                match a.cmp(&b) {
                    std::cmp::Ordering::Less => [(a + 1, true), (b, false)],
                    std::cmp::Ordering::Greater => [(a, false), (b + 1, true)],
                    std::cmp::Ordering::Equal if join.feed => [(a, false), (b, false)],
                    std::cmp::Ordering::Equal => [(a + 1, true), (b + 1, true)],
                }
            }
        }
    }
}

impl Join {
    /// What it costs to lie between these ports, and how many rows it passes.
    fn cost(&self, [(ca, ua), (cb, ub)]: [Port; 2]) -> (i64, i32) {
        let passes = ca.abs_diff(cb);
        let cost = match (passes, self.bolted) {
            (0, true) if ua == ub => BOLTED_BACK,
            (0, false) if ua == ub => TURN_BACK,
            (0, _) => 0,
            (_, true) => passes as i64 * BOLTED_PASS,
            (_, false) => passes as i64 * PASS,
        };
        (cost, passes as i32)
    }

    fn of(diagram: &Diagram, wire: &Wire) -> Join {
        Join {
            ends: wire.ends.map(|end| match end {
                End::Part(item, term) => (Some(item), diagram.items[item].terms[term].home),
                End::Foot(_) => (None, Home::Top),
            }),
            bolted: wire.kind == LineKind::Bolted,
            feed: wire.kind == LineKind::Feed,
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

impl Room {
    /// The scale at which something of this width and height, in mm, fills it.
    pub fn scale(self, width: f64, height: f64) -> f64 {
        (self.width / width).min(self.height / height)
    }
}

// Rough height and width of a sheet, in mm: what fits best the layouts of eleven thousand orders of circuits made by
// dice, to within 12 mm and 17 mm one time in three.
/// Height of what is on every sheet.
const HEAD_MM: f64 = 20.0;
/// Height of a row with its channel.
const ROW_MM: f64 = 26.6;
/// Height of the body along the foot.
const BODY_MM: f64 = 10.8;
/// Height that a line's lane takes; many share one.
const LINE_MM: f64 = 2.5;
/// Height, and width, that each passing of a row takes.
const PASS_MM: f64 = 3.4;
/// Width that a zone takes beside its parts.
const ZONE_MM: f64 = 5.0;
/// Rough width that every part needs beside its label, in mm.
const GAP_MM: f64 = 4.5;

fn item_steps(diagram: &Diagram, item: usize) -> i32 {
    let item = &diagram.items[item];
    steps(2.0 * item.symbol.half_width() + 1.5 + item.label_width + GAP_MM)
}

/// What a choice of rows costs: lines that pass rows, detours, parts out of their tier, and a sheet that
/// must be shrunk to fit. Kept in parts, so that moving one part costs little to reckon.
pub struct Tiering<'a> {
    diagram: &'a Diagram,
    room: Room,
    /// Rough width of each item, in grid steps.
    widths: Vec<i32>,
    /// Wires at each item.
    wires: Vec<Vec<usize>>,
    /// Both ends of each wire in short.
    pub(super) joins: Vec<Join>,
    /// The ends of each wire, of the rows last weighed.
    pub(super) ports: Vec<[Port; 2]>,
    /// How many rows its wires pass.
    passes: i32,
    /// Width taken in each row of each band.
    load: Vec<i32>,
    /// The widest row of each band.
    widest: Vec<i32>,
    /// How many items stand in each row.
    standing: Vec<i32>,
}

/// A wire as tiering sees it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Join {
    /// Item and home of each end; no item is the body.
    pub(super) ends: [(Option<usize>, Home); 2],
    bolted: bool,
    feed: bool,
}

/// The rough scale from which a sheet will most often fit.
const SURE: f64 = 1.05;

/// A line that passes a row.
const PASS: i64 = 36;
/// A line that turns back to the side it came from.
const TURN_BACK: i64 = 9;
/// A bolted joint that passes a row, or turns back: bolted parts belong together.
const BOLTED_PASS: i64 = 120;
const BOLTED_BACK: i64 = 60;

impl<'a> Tiering<'a> {
    /// Gets ready to tier a diagram.
    pub fn new(diagram: &'a Diagram, room: Room) -> Tiering<'a> {
        let mut wires = vec![Vec::new(); diagram.items.len()];
        for (w, wire) in diagram.wires.iter().enumerate() {
            for end in wire.ends {
                if let End::Part(item, _) = end
                    && wires[item].last() != Some(&w)
                {
                    wires[item].push(w);
                }
            }
        }
        let widths = (0..diagram.items.len()).map(|i| item_steps(diagram, i)).collect();
        let joins = diagram.wires.iter().map(|wire| Join::of(diagram, wire)).collect();
        Tiering {
            diagram,
            room,
            widths,
            wires,
            joins,
            ports: Vec::new(),
            passes: 0,
            load: Vec::new(),
            widest: Vec::new(),
            standing: Vec::new(),
        }
    }

    /// What is tiered.
    pub fn diagram(&self) -> &'a Diagram {
        self.diagram
    }

    /// What a wire costs, and how many rows it passes.
    fn wire_cost(&self, tiers: &Tiers, wire: usize) -> (i64, i32) {
        let join = &self.joins[wire];
        join.cost(tiers.ports(join))
    }

    /// What some wires cost, and how many rows they pass.
    fn wires_cost(&self, tiers: &Tiers, wires: impl Iterator<Item = usize>) -> (i64, i32) {
        wires.map(|w| self.wire_cost(tiers, w)).fold((0, 0), |sum, w| (sum.0 + w.0, sum.1 + w.1))
    }

    fn item_cost(&self, tiers: &Tiers, i: usize) -> i64 {
        let item = &self.diagram.items[i];
        let row = tiers.row[i] as i64;
        match item.tier {
            Tier::Feed => 5 * row,
            Tier::Between if item.source => 3 * row,
            Tier::Between => 0,
            Tier::Return => 8 * (tiers.rows as i64 - 1 - row),
        }
    }

    /// The scale at which a sheet will about fill its room, when so many rows are passed.
    fn scale(&self, passes: i32) -> f64 {
        let passing = PASS_MM * f64::from(passes);
        let parts: i32 = self.widest.iter().map(|w| (*w).max(15)).sum();
        let width = 0.9 * f64::from(parts) * GRID + ZONE_MM * (self.diagram.bands.len() as f64 - 1.0) + passing;
        let used = self.standing.iter().filter(|s| **s > 0).count();
        let foot = if self.diagram.body.is_some() { BODY_MM } else { 0.0 };
        let lines = LINE_MM * self.diagram.wires.len() as f64;
        let height = HEAD_MM + used as f64 * ROW_MM + foot + lines + passing;
        self.room.scale(width.max(1.0), height)
    }

    /// The scale at which the rows last weighed will about fill their room.
    pub fn rough_scale(&self) -> f64 {
        self.scale(self.passes)
    }

    fn sheet_cost(&self, passes: i32) -> i64 {
        let scale = self.scale(passes);
        let mut cost = 0;
        if scale < 1.5 {
            cost += ((1.5 - scale) * 260.0) as i64;
        }
        if scale < SURE {
            cost += ((SURE - scale) * 3000.0) as i64;
        }
        cost
    }

    fn fill(&mut self, tiers: &Tiers) {
        let bands = self.diagram.bands.len();
        self.load.clear();
        self.load.resize(tiers.rows * bands, 0);
        self.standing.clear();
        self.standing.resize(tiers.rows, 0);
        for (i, item) in self.diagram.items.iter().enumerate() {
            self.load[tiers.row[i] * bands + item.band] += self.widths[i];
            self.standing[tiers.row[i]] += 1;
        }
        self.widest.clear();
        self.widest.extend((0..bands).map(|b| (0..tiers.rows).map(|r| self.load[r * bands + b]).max().unwrap_or(0)));
    }

    /// The whole cost.
    pub fn cost(&mut self, tiers: &Tiers) -> i64 {
        self.fill(tiers);
        let items: i64 = (0..self.diagram.items.len()).map(|i| self.item_cost(tiers, i)).sum();
        let mut wires = 0;
        self.passes = 0;
        self.ports.clear();
        for join in &self.joins {
            let ports = tiers.ports(join);
            let (cost, passes) = join.cost(ports);
            wires += cost;
            self.passes += passes;
            self.ports.push(ports);
        }
        items + wires + self.sheet_cost(self.passes)
    }

    /// The part of the cost that depends on one item, and how many rows its wires pass when others pass so many. `load`
    /// must be as the tiers say.
    fn share(&self, tiers: &Tiers, i: usize, others: i32) -> (i64, i32) {
        let (wires, passes) = self.wires_cost(tiers, self.wires[i].iter().copied());
        (self.item_cost(tiers, i) + wires + self.sheet_cost(others + passes), passes)
    }

    fn put(&mut self, tiers: &mut Tiers, i: usize, row: usize, turned: bool) {
        let bands = self.diagram.bands.len();
        let band = self.diagram.items[i].band;
        self.load[tiers.row[i] * bands + band] -= self.widths[i];
        self.load[row * bands + band] += self.widths[i];
        self.standing[tiers.row[i]] -= 1;
        self.standing[row] += 1;
        self.widest[band] = (0..tiers.rows).map(|r| self.load[r * bands + band]).max().unwrap_or(0);
        (tiers.row[i], tiers.turned[i]) = (row, turned);
    }

    /// Moves and turns one part at a time until nothing helps.
    fn mend(&mut self, tiers: &mut Tiers) {
        self.fill(tiers);
        let (_, mut passes) = self.wires_cost(tiers, 0..self.diagram.wires.len());
        for _ in 0..12 {
            let mut moved = false;
            for i in 0..self.diagram.items.len() {
                let mut keep = (tiers.row[i], tiers.turned[i]);
                let (_, mine) = self.wires_cost(tiers, self.wires[i].iter().copied());
                let others = passes - mine;
                let mut least = self.share(tiers, i, others).0;
                passes = others + mine;
                for row in 0..tiers.rows {
                    for turned in [false, true] {
                        if turned && !self.diagram.items[i].turns {
                            continue;
                        }
                        self.put(tiers, i, row, turned);
                        let (now, mine) = self.share(tiers, i, others);
                        if now < least {
                            (least, keep) = (now, (row, turned));
                            passes = others + mine;
                            moved = true;
                        }
                    }
                }
                self.put(tiers, i, keep.0, keep.1);
            }
            if !moved {
                break;
            }
        }
    }

    /// Chooses rows and turns: several starts, each mended until nothing helps. Gives the best few, cheapest first.
    pub fn choose(&mut self, rows: usize, starts: usize, dice: &mut Dice) -> Vec<(i64, Tiers)> {
        const KEPT: usize = 2;
        let n = self.diagram.items.len();
        let mut found: Vec<(i64, Tiers)> = Vec::new();
        for start in 0..starts {
            let mut tiers = Tiers { rows, row: vec![0; n], turned: vec![false; n] };
            for (i, item) in self.diagram.items.iter().enumerate() {
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
            self.mend(&mut tiers);
            tiers.close_up();
            let cost = self.cost(&tiers);
            if !found.iter().any(|f| f.1 == tiers) {
                found.push((cost, tiers));
            }
        }
        found.sort_by_key(|f| f.0);
        found.truncate(KEPT);
        found
    }

    /// Any rows and turns at all.
    pub fn any(&self, dice: &mut Dice) -> Tiers {
        let rows = 1 + dice.below(MOST_ROWS);
        let items = &self.diagram.items;
        let row = items.iter().map(|_| dice.below(rows)).collect();
        let turned = items.iter().map(|item| item.turns && dice.below(2) == 1).collect();
        let mut tiers = Tiers { rows, row, turned };
        tiers.close_up();
        tiers
    }

    /// Moves single parts to other rows, or turns them, where that saves crossings worth more than it costs; each try is
    /// untangled anew. At most `tries` of them.
    pub fn uncross(&mut self, start: (Tiers, Placement), tries: usize, dice: &mut Dice) -> (Tiers, Placement) {
        let (mut tiers, mut best) = start;
        let mut least = self.cost(&tiers) + CROSSED * best.crossings as i64;
        let mut left = tries;
        let mut won = true;
        while won && best.crossings > 0 && left > 0 {
            won = false;
            // Only a part at one end of a crossing can undo it.
            let crossed = best.crossed_wires();
            let items: Vec<usize> =
                (0..self.diagram.items.len()).filter(|i| self.wires[*i].iter().any(|w| crossed[*w])).collect();
            let mut tried: Vec<(i64, usize, usize, bool)> = Vec::new();
            for i in items {
                let was = (tiers.row[i], tiers.turned[i]);
                for row in 0..tiers.rows {
                    for turned in [false, true] {
                        if (row, turned) != was && (!turned || self.diagram.items[i].turns) {
                            (tiers.row[i], tiers.turned[i]) = (row, turned);
                            tried.push((self.cost(&tiers), i, row, turned));
                        }
                    }
                }
                (tiers.row[i], tiers.turned[i]) = was;
            }
            tried.sort_unstable();
            for (cost, i, row, turned) in tried {
                if left == 0 || cost >= least {
                    break;
                }
                left -= 1;
                let mut other = tiers.clone();
                (other.row[i], other.turned[i]) = (row, turned);
                let mut placement = Placement::new(self.diagram, &other);
                placement.take_order(self.diagram, &best);
                untangle(self.diagram, &mut placement, 0, dice);
                let now = cost + CROSSED * placement.crossings as i64;
                if now < least {
                    (least, tiers, best) = (now, other, placement);
                    won = true;
                    break;
                }
            }
        }
        (tiers, best)
    }
}

/// How many rows of parts a sheet may have.
const MOST_ROWS: usize = 6;

/// What a crossing is worth when rows are weighed against it.
pub const CROSSED: i64 = 400;

impl Tiers {
    /// Takes out rows in which nothing stands.
    fn close_up(&mut self) {
        let mut new = vec![None; self.rows];
        let mut count = 0;
        for (row, to) in new.iter_mut().enumerate() {
            if self.row.contains(&row) {
                *to = Some(count);
                count += 1;
            }
        }
        for row in &mut self.row {
            *row = new[*row].unwrap_or(0);
        }
        self.rows = count.max(1);
    }
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
            let ports = tiers.ports(&Join::of(diagram, wire));
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

    /// Takes over the order of another placement of the same diagram, as far as that goes: what is new in a row goes
    /// where its neighbours in the other rows are.
    pub fn take_order(&mut self, diagram: &Diagram, old: &Placement) {
        let old_positions = old.positions();
        let old_row_len: Vec<f64> = old.rows.iter().map(|r| r.len().max(1) as f64).collect();
        let share = |slot: usize| f64::from(old_positions[slot]) / old_row_len[old.slots[slot].row];
        // Passes and feet are known by their wire.
        let mut known: std::collections::BTreeMap<(usize, usize, usize), usize> = std::collections::BTreeMap::new();
        for (s, slot) in old.slots.iter().enumerate() {
            match slot.kind {
                SlotKind::Pass(w) => {
                    known.insert((w, 2, slot.row), s);
                }
                SlotKind::Foot(w, e, _) => {
                    known.insert((w, e, slot.row), s);
                }
                SlotKind::Item(_) | SlotKind::Wall(_) => {}
            }
        }
        let wire_share = |w: usize| {
            let at = |end: End| match end {
                End::Part(item, _) => share(item),
                End::Foot(_) => 0.5,
            };
            let wire = &diagram.wires[w];
            (at(wire.ends[0]) + at(wire.ends[1])) / 2.0
        };
        let key = |s: usize, slot: &Slot| match slot.kind {
            SlotKind::Item(_) => share(s),
            SlotKind::Wall(_) => 0.0,
            SlotKind::Pass(w) => known.get(&(w, 2, slot.row)).map_or_else(|| wire_share(w), |o| share(*o)),
            SlotKind::Foot(w, e, _) => known.get(&(w, e, slot.row)).map_or_else(|| wire_share(w), |o| share(*o)),
        };
        let keys: Vec<f64> = self.slots.iter().enumerate().map(|(s, slot)| key(s, slot)).collect();
        for row in &mut self.rows {
            let mut band = 0;
            let mut keyed: Vec<(usize, bool, f64, usize)> = Vec::with_capacity(row.len());
            for s in row.iter() {
                if let SlotKind::Wall(b) = self.slots[*s].kind {
                    band = b;
                }
                let wall = matches!(self.slots[*s].kind, SlotKind::Wall(_));
                keyed.push((band, !wall, keys[*s], *s));
            }
            keyed.sort_by(|a, b| (a.0, a.1).cmp(&(b.0, b.1)).then(a.2.total_cmp(&b.2)).then(a.3.cmp(&b.3)));
            row.clear();
            row.extend(keyed.into_iter().map(|k| k.3));
        }
        self.crossings = self.count_crossings();
    }

    /// The band that a slot may not leave.
    pub fn band_of(&self, diagram: &Diagram, slot: usize) -> Option<usize> {
        match self.slots[slot].kind {
            SlotKind::Item(i) => Some(diagram.items[i].band),
            SlotKind::Foot(_, _, band) => Some(band),
            SlotKind::Pass(_) | SlotKind::Wall(_) => None,
        }
    }

    /// The slots of a row without its walls, in the order in which they were made.
    pub fn numbered(&self, row: usize) -> Vec<usize> {
        let is_wall = |s: &usize| matches!(self.slots[*s].kind, SlotKind::Wall(_));
        let mut slots: Vec<usize> = self.rows[row].iter().copied().filter(|s| !is_wall(s)).collect();
        slots.sort_unstable();
        slots
    }

    /// Orders every row by whether one slot is left of another, as far as the answers agree; what they leave open
    /// stays as it is. `left` answers for a row and two numbers of slots in it: slots are numbered as they were made.
    pub fn take_answers(&mut self, diagram: &Diagram, mut left: impl FnMut(usize, usize, usize) -> bool) {
        let mut numbered: Vec<(usize, usize)> = Vec::new();
        for r in 0..self.rows.len() {
            let band = |s: usize| self.band_of(diagram, s);
            numbered.clear();
            numbered.extend(self.numbered(r).into_iter().map(|s| (s, 0)));
            for b in 0..numbered.len() {
                for a in 0..b {
                    let is_left = match (band(numbered[a].0), band(numbered[b].0)) {
                        (Some(x), Some(y)) if x != y => x < y,
                        _ => left(r, a, b),
                    };
                    numbered[if is_left { b } else { a }].1 += 1;
                }
            }
            // Nothing leaves its band, whatever the answers say; what has none goes between.
            let mut bound: Vec<(usize, usize, usize)> =
                numbered.iter().filter_map(|(s, rank)| Some((band(*s)?, *rank, *s))).collect();
            bound.sort_unstable();
            let mut passes: Vec<(usize, usize)> =
                numbered.iter().filter(|(s, _)| band(*s).is_none()).map(|(s, rank)| (*rank, *s)).collect();
            passes.sort_unstable();
            let is_wall = |s: &usize| matches!(self.slots[*s].kind, SlotKind::Wall(_));
            let mut walls: Vec<usize> = self.rows[r].iter().copied().filter(is_wall).rev().collect();
            let row = &mut self.rows[r];
            row.clear();
            let mut passes = passes.into_iter().peekable();
            for (band, rank, slot) in bound {
                while let Some(pass) = passes.next_if(|pass| pass.0 < rank) {
                    row.push(pass.1);
                }
                while let Some(wall) = walls.pop_if(|w| matches!(self.slots[*w].kind, SlotKind::Wall(b) if b <= band)) {
                    row.push(wall);
                }
                row.push(slot);
            }
            row.extend(passes.map(|pass| pass.1));
            row.extend(walls.into_iter().rev());
        }
        self.crossings = self.count_crossings();
    }

    /// Wires that cross another.
    fn crossed_wires(&self) -> Vec<bool> {
        let positions = self.positions();
        let mut crossed = vec![false; self.wire_chords.len()];
        for (i, c) in self.chords.iter().enumerate() {
            for d in &self.chords[..i] {
                if c.channel == d.channel && crosses(&positions, c, d) {
                    crossed[c.wire] = true;
                    crossed[d.wire] = true;
                }
            }
        }
        crossed
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
    /// Chords at each slot: on its upper edge, and on its lower.
    at: Vec<[Vec<usize>; 2]>,
    /// Band of a slot that may not leave it.
    bound: Vec<Option<usize>>,
}

/// A crossing costs more than any length.
const CROSSING: i64 = 1 << 24;

impl<'a> Untangler<'a> {
    fn new(diagram: &Diagram, placement: &'a mut Placement) -> Untangler<'a> {
        let mut at = vec![[Vec::new(), Vec::new()]; placement.slots.len()];
        for (c, chord) in placement.chords.iter().enumerate() {
            at[chord.a.slot][usize::from(chord.a.upper)].push(c);
            if chord.b.slot != chord.a.slot {
                at[chord.b.slot][usize::from(chord.b.upper)].push(c);
            }
        }
        let bound = (0..placement.slots.len()).map(|s| placement.band_of(diagram, s)).collect();
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
        let (wu, wv) = (self.placement.slots[u].width, self.placement.slots[v].width);
        let (xu, xv) = (self.x[u], self.x[v]);
        let mut longer = 0;
        let mut crossings = 0;
        for edge in 0..2 {
            for c in &self.at[u][edge] {
                let chord = &chords[*c];
                let other = if chord.a.slot == u { chord.b.slot } else { chord.a.slot };
                if other == v {
                    longer += (xu + wv - (xv - wu)).abs() - (xu - xv).abs();
                } else if other != u {
                    longer += (xu + wv - self.x[other]).abs() - (xu - self.x[other]).abs();
                }
            }
            for d in &self.at[v][edge] {
                let chord = &chords[*d];
                let other = if chord.a.slot == v { chord.b.slot } else { chord.a.slot };
                if other != u && other != v {
                    longer += (xv - wu - self.x[other]).abs() - (xv - self.x[other]).abs();
                }
            }
            for c in &self.at[u][edge] {
                let cc = &chords[*c];
                let c_end = if cc.a.slot == u { cc.b } else { cc.a };
                for d in &self.at[v][edge] {
                    if c == d {
                        continue;
                    }
                    let dd = &chords[*d];
                    let d_end = if dd.a.slot == v { dd.b } else { dd.a };
                    let c_joins = c_end.slot == v;
                    let d_joins = d_end.slot == u;
                    if c_joins || d_joins || c_end.slot == u || d_end.slot == v {
                        if c_joins && d_joins && c > d {
                            continue;
                        }
                        let before = crosses(&self.positions, cc, dd);
                        self.positions.swap(u, v);
                        let after = crosses(&self.positions, cc, dd);
                        self.positions.swap(u, v);
                        crossings += i64::from(after) - i64::from(before);
                    } else if rim(&self.positions, c_end) != rim(&self.positions, d_end) {
                        // Two neighbouring ends that change places either make a crossing or undo one.
                        crossings += if crosses(&self.positions, cc, dd) { -1 } else { 1 };
                    }
                }
            }
        }
        CROSSING * crossings + i64::from(longer)
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
pub fn untangle(diagram: &Diagram, placement: &mut Placement, effort: usize, dice: &mut Dice) {
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
}
