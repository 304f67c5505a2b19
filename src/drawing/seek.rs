//! Seeks rows whose lines need not cross, where the first that come to mind do.
//!
//! One part after another is moved to another row or turned; `tangle` tells at once how many lines must
//! cross then. Only what promises fewer crossings than the best known is ordered.

use std::collections::BTreeMap;

use super::model::Diagram;
use super::place::{self, CROSSED, Dice, Placement, Room, Tiering, Tiers};
use super::tangle::Tangle;

/// How much worse a move may be at first and still be made; less and less, and nothing in the end.
const SLACK: u64 = 260;
/// How many shakes an order is worth that comes out worse than it promised.
const SHAKES: usize = 2;
/// How many parts are moved at once.
const MOVED: usize = 2;
/// More contradictions than this are not told apart.
const MOST: usize = 6;
/// Rows that promise a smaller scale than this hardly ever fit; thrown ones are of small sheets, where that is less sure.
const TOO_SMALL: f64 = 0.9;
const TOO_SMALL_THROWN: f64 = 0.8;
/// How much more than rows that were of no use the next ones may cost.
const NO_DEARER: i64 = 100;
// What else is reckoned, in `Tangle::work`: a move; and, for each wire, ordering rows and laying them out.
const MOVE: usize = 100;
const ORDER: usize = 2000;
const ROUTE: usize = 600;

/// What is known of one circuit's rows.
pub struct Seeker<'a> {
    tiering: Tiering<'a>,
    tangle: Tangle<'a>,
    /// Crossings that were found where rows were ordered, by `key`.
    known: BTreeMap<u64, usize>,
    /// Rows that cost as much as this are not worth ordering: most often they are too wide.
    ceiling: i64,
}

/// What is looked for.
#[derive(Clone, Copy, Debug)]
pub struct Goal {
    /// Fewer crossings than this.
    pub least: usize,
    /// As many as this no drawing can do without.
    pub needed: usize,
}

/// Rows with what they cost.
struct State {
    tiers: Tiers,
    /// Without crossings.
    bare: i64,
    cost: i64,
    /// Contradictions.
    promised: usize,
    wires: Vec<usize>,
}

impl<'a> Seeker<'a> {
    /// Knows nothing yet.
    pub fn new(diagram: &'a Diagram, room: Room) -> Seeker<'a> {
        let (tiering, tangle) = (Tiering::new(diagram, room), Tangle::new(diagram));
        Seeker { tiering, tangle, known: BTreeMap::new(), ceiling: i64::MAX }
    }

    /// How much it has reckoned.
    pub fn work(&self) -> usize {
        self.tangle.work
    }

    /// Moves parts about, from given rows, until `budget` is reckoned away. What has fewer crossings than `goal.least` goes
    /// to `found`, which says how many crossings are then to be bettered.
    pub fn seek(
        &mut self,
        start: (&Tiers, &Placement),
        budget: usize,
        dice: &mut Dice,
        goal: Goal,
        found: &mut dyn FnMut(Tiers, Placement) -> usize,
    ) {
        let mut least = goal.least;
        let mut at = self.weigh(start.0.clone(), i64::MAX);
        let begun = self.tangle.work;
        let mut is_first = true;
        loop {
            let spent = self.tangle.work - begun;
            if least <= goal.needed || spent >= budget {
                break;
            }
            self.tangle.work += MOVE;
            let mut other = at.tiers.clone();
            // The first look is at the start itself: its best order may not be known yet.
            for _ in 0..if is_first { 0 } else { MOVED } {
                self.shift(&mut other, &at.wires, dice);
            }
            is_first = false;
            let slack = (SLACK * (budget - spent) as u64 / budget as u64) as usize;
            let limit = at.cost + dice.below(slack + 1) as i64;
            let mut next = self.weigh(other, limit);
            if next.cost > limit {
                continue;
            }
            // What promises fewer crossings is ordered, once.
            let may_win = next.promised < least && next.bare < self.ceiling;
            if may_win && !self.known.contains_key(&key(&next.tiers)) && self.tiering.rough_scale() >= TOO_SMALL {
                self.tangle.work += ORDER * self.tiering.joins.len();
                let placement = self.order(&next, start.1, least, dice);
                let crossings = placement.crossings.min(MOST);
                self.known.insert(key(&next.tiers), crossings);
                next.cost += CROSSED * (crossings as i64 - next.promised as i64);
                if crossings < least {
                    let before = least;
                    self.tangle.work += ROUTE * self.tiering.joins.len();
                    least = found(next.tiers.clone(), placement);
                    if least == before {
                        self.known.insert(key(&next.tiers), least);
                        next.cost += CROSSED * (least as i64 - crossings as i64);
                        self.ceiling = next.bare + NO_DEARER;
                    } else {
                        self.ceiling = i64::MAX;
                    }
                }
            }
            at = next;
        }
    }

    /// Tries rows of all kinds, with so much work. Otherwise as `seek`.
    pub fn throw(
        &mut self,
        like: &Placement,
        budget: usize,
        dice: &mut Dice,
        goal: Goal,
        found: &mut dyn FnMut(Tiers, Placement) -> usize,
    ) {
        let mut least = goal.least;
        let end = self.tangle.work + budget;
        while least > goal.needed && self.tangle.work < end {
            self.tangle.work += MOVE;
            let tiers = self.tiering.any(dice);
            let bare = self.tiering.cost(&tiers);
            if self.tiering.rough_scale() < TOO_SMALL_THROWN {
                continue;
            }
            let state = self.promise(tiers, bare, i64::MAX);
            if state.promised < least {
                self.tangle.work += (ORDER + ROUTE) * self.tiering.joins.len();
                let placement = self.order(&state, like, least, dice);
                if placement.crossings < least {
                    least = found(state.tiers, placement);
                }
            }
        }
    }

    /// Moves a part to another row, or turns it; mostly one whose lines must cross.
    fn shift(&self, tiers: &mut Tiers, wires: &[usize], dice: &mut Dice) {
        let diagram = self.tiering.diagram();
        let mut item = dice.below(diagram.items.len());
        if !wires.is_empty() && dice.below(4) > 0 {
            let wire = wires[dice.below(wires.len())];
            if let Some(end) = self.tiering.joins[wire].ends[dice.below(2)].0 {
                item = end;
            }
        }
        if diagram.items[item].turns && dice.below(2) == 0 {
            tiers.turned[item] ^= true;
        } else if tiers.rows > 1 {
            tiers.row[item] = (tiers.row[item] + 1 + dice.below(tiers.rows - 1)) % tiers.rows;
        }
    }

    /// What rows cost, crossings included; reckoned no further than to tell that it is more than a limit.
    fn weigh(&mut self, tiers: Tiers, limit: i64) -> State {
        let bare = self.tiering.cost(&tiers);
        if bare > limit {
            return State { tiers, bare, cost: bare, promised: 0, wires: Vec::new() };
        }
        self.promise(tiers, bare, limit)
    }

    /// Counts how often the lines of rows just weighed must cross.
    fn promise(&mut self, tiers: Tiers, bare: i64, limit: i64) -> State {
        let most = limit.saturating_sub(bare) / CROSSED + 1;
        let promised = self.tangle.count(&tiers, &self.tiering.ports, MOST.min(most as usize));
        let crossings = self.known.get(&key(&tiers)).map_or(promised, |known| *known);
        State { tiers, bare, cost: bare + CROSSED * crossings as i64, promised, wires: self.tangle.wires.clone() }
    }

    /// Orders rows, beginning with what is certain.
    fn order(&mut self, state: &State, like: &Placement, least: usize, dice: &mut Dice) -> Placement {
        let diagram = self.tiering.diagram();
        let mut placement = Placement::new(diagram, &state.tiers);
        placement.take_order(diagram, like);
        self.tangle.count(&state.tiers, &self.tiering.ports, MOST);
        let whole = self.tangle.order(&mut placement);
        if !whole && state.promised + 1 >= least {
            // It promised too much.
            placement.crossings = placement.crossings.max(state.promised + 1);
            return placement;
        }
        place::untangle(diagram, &mut placement, 0, dice);
        if placement.crossings > state.promised {
            place::untangle(diagram, &mut placement, SHAKES, dice);
        }
        placement
    }
}

/// Rows in short, mixed by the steps of FNV-1a (public domain).
fn key(tiers: &Tiers) -> u64 {
    tiers.row.iter().zip(&tiers.turned).fold(0xcbf2_9ce4_8422_2325, |hash, (row, turned)| {
        (hash ^ (2 * *row as u64 + u64::from(*turned))).wrapping_mul(0x0100_0000_01b3)
    })
}
