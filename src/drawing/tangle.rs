//! Whether given rows can be ordered so that no two lines cross, without ordering them.
//!
//! Of any two slots of a row one is to the left. Two pieces of line in a channel do not cross if what is
//! left at one end is left at the other (B. Randerath et al., "A satisfiability problem for level
//! planarity", 2001): that ties the question of one pair of slots to the question of another. Where the
//! ties contradict one another, lines must cross. Knows rows and channels alone.

use std::cmp::Ordering;

use super::model::{Diagram, End};
use super::place::{Placement, Port, Tiers};

/// A number of questions "is this slot left of that?", tied together: the same answer, or the opposite.
#[derive(Default)]
struct Ties {
    /// Each question's parent, doubled; the lowest bit says that its answer is the opposite of its parent's.
    parent: Vec<u32>,
}

impl Ties {
    fn reset(&mut self, count: usize) {
        self.parent.clear();
        self.parent.extend((0..count as u32).map(|q| q << 1));
    }

    /// The question that stands for this one, and whether its answer is the opposite. Questions and what it gives are
    /// doubled, with the lowest bit for the opposite.
    fn find(&mut self, question: u32) -> u32 {
        let mut at = question;
        loop {
            let up = self.parent[(at >> 1) as usize];
            if up >> 1 == at >> 1 {
                return at;
            }
            // Half the way is forgotten each time, so that the next one is short.
            let over = self.parent[(up >> 1) as usize] ^ (up & 1);
            self.parent[(at >> 1) as usize] = over;
            at = over ^ (at & 1);
        }
    }

    /// Ties two questions to the same answer. Gives whether that is a contradiction.
    fn tie(&mut self, a: u32, b: u32) -> bool {
        let (a, b) = (self.find(a), self.find(b));
        if a >> 1 == b >> 1 {
            return a != b;
        }
        self.parent[(a >> 1) as usize] = b ^ (a & 1);
        false
    }
}

/// The question whose answer is yes.
const YES: u32 = 0;

/// One end of a piece of line.
#[derive(Clone, Copy)]
struct At {
    /// The slot's number in its row.
    slot: u32,
    /// Which of its terminals.
    order: i32,
    /// The first question of its slot: whether it is left of slot 0. Known once the rows are full.
    base: u32,
}

/// For a slot that may stand in any band.
const ANY_BAND: u32 = u32::MAX;

/// A piece of line in a channel.
#[derive(Clone, Copy)]
struct Piece {
    wire: usize,
    ends: [At; 2],
    /// Whether each end is on the upper rim.
    upper: [bool; 2],
}

/// Reckons for one diagram after another set of rows.
pub(super) struct Tangle<'a> {
    diagram: &'a Diagram,
    /// Each item's number in its row.
    number: Vec<u32>,
    /// Each row's slots, by the band that they may not leave.
    bands: Vec<Vec<u32>>,
    /// Each row's first question.
    first: Vec<u32>,
    channel: Vec<Vec<Piece>>,
    ties: Ties,
    /// Questions of which an even number is answered with yes: the four of two lines that turn back to the same side.
    fours: Vec<[u32; 4]>,
    /// Wires that contradict others.
    pub wires: Vec<usize>,
    /// How much has been reckoned so far, in looks at three slots or two lines: some nanoseconds each.
    pub work: usize,
}

/// The question whether one end is left of another on the same rim.
fn left(a: At, b: At) -> u32 {
    match a.slot.cmp(&b.slot) {
        Ordering::Less => (a.base + b.slot) << 1,
        Ordering::Greater => (b.base + a.slot) << 1 | 1,
        Ordering::Equal => YES | u32::from(a.order > b.order),
    }
}

impl<'a> Tangle<'a> {
    /// Gets ready.
    pub fn new(diagram: &'a Diagram) -> Tangle<'a> {
        Tangle {
            diagram,
            number: vec![0; diagram.items.len()],
            bands: Vec::new(),
            first: Vec::new(),
            channel: Vec::new(),
            ties: Ties::default(),
            fours: Vec::new(),
            wires: Vec::new(),
            work: 0,
        }
    }

    /// How many pairs of lines contradict the others before them: none if the rows may be free of crossings. `ports` is
    /// where each wire ends, as `Tiering` last reckoned it. It stops counting at `most`.
    pub fn count(&mut self, tiers: &Tiers, ports: &[[Port; 2]], most: usize) -> usize {
        self.fill(tiers, ports);
        self.wires.clear();
        let mut count = 0;
        for channel in 0..self.channel.len() {
            let pieces = std::mem::take(&mut self.channel[channel]);
            self.work += pieces.len() * pieces.len();
            'pairs: for (k, c) in pieces.iter().enumerate() {
                for d in &pieces[..k] {
                    if self.contradicts(c, d) {
                        count += 1;
                        self.wires.extend([c.wire, d.wire]);
                        if count >= most {
                            break 'pairs;
                        }
                    }
                }
            }
            self.channel[channel] = pieces;
            if count >= most {
                break;
            }
        }
        // Where no pair contradicts, three slots of a row still may.
        count + usize::from(count == 0 && !self.close())
    }

    /// Draws conclusions from threes: what is left of the left of a slot is left of it. Gives whether that goes without
    /// contradiction.
    fn close(&mut self) -> bool {
        loop {
            if !self.close_threes() {
                return false;
            }
            let mut tied = false;
            for k in 0..self.fours.len() {
                match self.conclude(self.fours[k]) {
                    Some(false) => return false,
                    Some(true) => tied = true,
                    None => {}
                }
            }
            if !tied {
                return true;
            }
        }
    }

    fn close_threes(&mut self) -> bool {
        for row in 0..self.bands.len() {
            let (count, first) = (self.bands[row].len() as u32, self.first[row]);
            let mut tied = true;
            while tied {
                tied = false;
                self.work += (count * count * count) as usize / 6;
                for c in 2..count {
                    for b in 1..c {
                        let mut y = self.ties.find((first + b * count + c) << 1);
                        for a in 0..b {
                            // Going round from a to b to c and back, the three answers are never all the same.
                            let x = self.ties.find((first + a * count + b) << 1);
                            let z = self.ties.find((first + a * count + c) << 1) ^ 1;
                            let (p, q) = match (x == y, y == z, x == z) {
                                (true, true, _) => return false,
                                (true, false, false) => (z, x),
                                (false, true, false) => (x, y),
                                (false, false, true) => (y, x),
                                _ => continue,
                            };
                            if p >> 1 != q >> 1 {
                                self.ties.tie(p, q ^ 1);
                                y = self.ties.find(y);
                                tied = true;
                            }
                        }
                    }
                }
            }
        }
        true
    }

    /// Orders a placement of the rows last counted as the ties say. What they leave open goes as most of the present
    /// order has it. Gives whether all went without contradiction.
    pub fn order(&mut self, placement: &mut Placement) -> bool {
        let positions = placement.positions();
        // Slots of each row by their number.
        let numbered: Vec<Vec<usize>> = (0..placement.rows.len()).map(|row| placement.numbered(row)).collect();
        // How much of the present order says yes to each question that stands for others.
        let mut votes = vec![0; self.ties.parent.len()];
        let mut open: Vec<usize> = Vec::new();
        for (row, slots) in numbered.iter().enumerate() {
            for b in 0..slots.len() {
                for a in 0..b {
                    let root = self.ties.find(self.question(row, a, b));
                    let yes = (positions[slots[a]] < positions[slots[b]]) != (root & 1 == 1);
                    let question = (root >> 1) as usize;
                    votes[question] += if yes { 1 } else { -1 };
                    open.push(question);
                }
            }
        }
        open.sort_unstable();
        open.dedup();
        open.sort_by_key(|q| -i32::abs(votes[*q]));
        let mut before = Vec::new();
        let mut whole = true;
        for question in open {
            let root = self.ties.find((question as u32) << 1);
            if root >> 1 == self.ties.find(YES) >> 1 {
                continue;
            }
            let no = u32::from(votes[question] < 0);
            before.clone_from(&self.ties.parent);
            self.ties.tie(root ^ no, YES);
            if !self.close() {
                self.ties.parent.clone_from(&before);
                self.ties.tie(root ^ no, YES ^ 1);
                whole &= self.close();
            }
        }
        placement.take_answers(self.diagram, |row, a, b| {
            let question = self.question(row, a, b);
            // None is left open.
            self.ties.find(question) == self.ties.find(YES)
        });
        whole
    }

    /// The question whether the first of two slots is left of the second; the first has the lower number.
    fn question(&self, row: usize, a: usize, b: usize) -> u32 {
        (self.first[row] + (a * self.bands[row].len() + b) as u32) << 1
    }

    fn fill(&mut self, tiers: &Tiers, ports: &[[Port; 2]]) {
        let rows = tiers.rows + 1;
        self.bands.resize_with(rows, Vec::new);
        self.bands.iter_mut().for_each(Vec::clear);
        self.channel.resize_with(rows + 1, Vec::new);
        self.channel.iter_mut().for_each(Vec::clear);
        let stand = |bands: &mut Vec<u32>, band: u32| {
            bands.push(band);
            bands.len() as u32 - 1
        };
        for (item, row) in tiers.row.iter().enumerate() {
            self.number[item] = stand(&mut self.bands[*row], self.diagram.items[item].band as u32);
        }
        for (wire, ports) in ports.iter().enumerate() {
            let [first, last] = [0, 1].map(|e| match self.diagram.wires[wire].ends[e] {
                End::Part(item, term) => {
                    At { slot: self.number[item], order: self.diagram.items[item].terms[term].dx.signum(), base: 0 }
                }
                End::Foot(band) => At { slot: stand(&mut self.bands[tiers.rows], band as u32), order: 0, base: 0 },
            });
            let ((mut channel, mut upper), (to, last_upper)) = (ports[0], ports[1]);
            let mut at = first;
            while channel != to {
                let down = channel < to;
                let (row, next) = if down { (channel, channel + 1) } else { (channel - 1, channel - 1) };
                let pass = At { slot: stand(&mut self.bands[row], ANY_BAND), order: 0, base: 0 };
                self.channel[channel].push(Piece { wire, ends: [at, pass], upper: [upper, !down] });
                (at, channel, upper) = (pass, next, down);
            }
            self.channel[channel].push(Piece { wire, ends: [at, last], upper: [upper, last_upper] });
        }
        self.first.clear();
        let mut questions = 1;
        for bands in &self.bands {
            self.first.push(questions);
            questions += (bands.len() * bands.len()) as u32;
        }
        for (channel, pieces) in self.channel.iter_mut().enumerate() {
            for piece in pieces {
                for (at, upper) in piece.ends.iter_mut().zip(piece.upper) {
                    let row = if upper { channel - 1 } else { channel };
                    at.base = self.first[row] + at.slot * self.bands[row].len() as u32;
                }
            }
        }
        self.ties.reset(questions as usize);
        self.fours.clear();
        // Bands stand in their order.
        for (row, bands) in self.bands.iter().enumerate() {
            for (b, right) in bands.iter().enumerate() {
                for (a, left) in bands[..b].iter().enumerate() {
                    if left != right && *left != ANY_BAND && *right != ANY_BAND {
                        let question = self.first[row] as usize + a * bands.len() + b;
                        self.ties.parent[question] = YES | u32::from(left > right);
                    }
                }
            }
        }
    }

    /// Ties what keeps two pieces of line of one channel apart. Gives whether that contradicts what was tied before.
    fn contradicts(&mut self, c: &Piece, d: &Piece) -> bool {
        let meet = |a: usize, b: usize| {
            c.upper[a] == d.upper[b] && c.ends[a].slot == d.ends[b].slot && c.ends[a].order == d.ends[b].order
        };
        if meet(0, 0) || meet(0, 1) || meet(1, 0) || meet(1, 1) {
            return false;
        }
        let straight = |p: &Piece| p.upper[0] != p.upper[1];
        match (straight(c), straight(d)) {
            (true, true) => {
                let other = usize::from(c.upper[0] != d.upper[0]);
                let (a, b) = (left(c.ends[0], d.ends[other]), left(c.ends[1], d.ends[1 - other]));
                self.ties.tie(a, b)
            }
            (false, true) => self.kept_out(c, d),
            (true, false) => self.kept_out(d, c),
            (false, false) if c.upper[0] == d.upper[0] => {
                let four = [(0, 0), (1, 0), (0, 1), (1, 1)].map(|(a, b)| left(c.ends[a], d.ends[b]));
                let drawn = self.conclude(four);
                if drawn != Some(false) {
                    self.fours.push(four);
                }
                drawn == Some(false)
            }
            (false, false) => false,
        }
    }

    /// Draws the conclusion from four questions of which an even number is answered with yes, when there is one. Gives
    /// whether that tied anything, or `Some(false)` for a contradiction.
    fn conclude(&mut self, four: [u32; 4]) -> Option<bool> {
        let mut odd = 0;
        let mut roots = four.map(|question| {
            let root = self.ties.find(question);
            odd ^= root & 1;
            root >> 1
        });
        roots.sort_unstable();
        // What is asked twice cancels out.
        let (p, q) = match roots {
            [a, b, c, d] if a == b && c == d => return if odd == 1 { Some(false) } else { None },
            [a, b, c, d] if a == b => (c, d),
            [a, b, c, d] if b == c => (a, d),
            [a, b, c, d] if c == d => (a, b),
            _ => return None,
        };
        self.ties.tie(p << 1, (q << 1) | odd);
        Some(true)
    }

    /// A line that turns back keeps out a line that goes through: both its ends are on the same side of it.
    fn kept_out(&mut self, back: &Piece, through: &Piece) -> bool {
        let end = usize::from(through.upper[0] != back.upper[0]);
        let (a, b) = (left(back.ends[0], through.ends[end]), left(back.ends[1], through.ends[end]));
        self.ties.tie(a, b)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drawing::model::{Split, Wording, Words};
    use crate::drawing::place::{Dice, Tiering};
    use crate::drawing::{sample, sheet};

    /// All orders of some slots.
    fn orders(slots: &[usize]) -> Vec<Vec<usize>> {
        let mut all = vec![Vec::new()];
        for slot in slots {
            all = all
                .into_iter()
                .flat_map(|order: Vec<usize>| {
                    (0..=order.len()).map(move |k| {
                        let mut longer = order.clone();
                        longer.insert(k, *slot);
                        longer
                    })
                })
                .collect();
        }
        all
    }

    /// The least crossings that any order of all rows has, by trying every one; none if there are too many to try.
    fn brute_force(placement: &Placement, diagram: &Diagram) -> Option<usize> {
        let band = |slot: &usize| placement.band_of(diagram, *slot);
        let mut rows: Vec<Vec<Vec<usize>>> = Vec::new();
        let mut count = 1;
        for row in 0..placement.rows.len() {
            let slots = placement.numbered(row);
            if slots.len() > 6 {
                return None;
            }
            // Walls do not matter to crossings; that bands keep their order does.
            let mut all = orders(&slots);
            all.retain(|order| order.iter().filter_map(band).is_sorted());
            count *= all.len();
            rows.push(all);
        }
        if count > 3000 {
            return None;
        }
        let mut least = usize::MAX;
        let mut tried = placement.clone();
        for mut k in 0..count {
            for (r, all) in rows.iter().enumerate() {
                tried.rows[r].clone_from(&all[k % all.len()]);
                k /= all.len();
            }
            least = least.min(tried.count_crossings());
        }
        Some(least)
    }

    #[test]
    fn it_tells_what_trying_every_order_tells() {
        let wording = Wording { both_units: false, run_lines: 2, part_width: 24.0 };
        let mut dice = Dice::new(11);
        let (mut free, mut crossed) = (0, 0);
        for seed in 0..900 {
            let circuit = sample::circuit(20_000 + seed, 3 + seed as usize % 5, 1 + seed as usize / 5 % 4);
            let diagram = Diagram::of(&circuit, &Words::of(&circuit, wording), &Split::whole(&circuit), 0);
            let mut tiering = Tiering::new(&diagram, sheet::room());
            let mut tangle = Tangle::new(&diagram);
            for _ in 0..6 {
                let rows = 1 + dice.below(3);
                let row = diagram.items.iter().map(|_| dice.below(rows)).collect();
                let turned = diagram.items.iter().map(|i| i.turns && dice.below(2) == 0).collect();
                let tiers = Tiers { rows, row, turned };
                let mut placement = Placement::new(&diagram, &tiers);
                let Some(least) = brute_force(&placement, &diagram) else { continue };
                tiering.cost(&tiers);
                let promised = tangle.count(&tiers, &tiering.ports, 9);
                assert_eq!(promised == 0, least == 0, "seed {seed}: {promised} for {least}, {tiers:?}");
                let whole = tangle.order(&mut placement);
                assert!(placement.crossings >= least, "seed {seed}");
                if promised == 0 {
                    free += 1;
                    assert!(whole && placement.crossings == 0, "seed {seed}: {} left", placement.crossings);
                } else {
                    crossed += 1;
                }
            }
        }
        assert!(free > 1000 && crossed > 100, "{free} free of crossings, {crossed} not");
    }
}
