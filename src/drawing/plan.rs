//! The plan: where each part sits and where each run is laid, zone by zone.
//!
//! The vehicle from above, its front to the left. Zones are columns, sides are rows; in each stand the
//! parts that sit there and below them the runs that are laid there, each a line across its zones with
//! its length in each. Made for somebody who crawls under the carpet. What the guide gives no side
//! stands in a row that says so; where it gives none at all the sheet says that it is schematic.

use super::label::{self, Face, LEADING, TEXT_MM, wrap};
use super::model::{LineKind, mark, run_kind, tags, weight};
use super::route::{LANE, MOST};
use super::sheet::{self, Facts, Page, Used, baseline, corner, room, stroke};
use super::svg_out::{Anchor, Canvas, INK, Lettering, PALE, RunPath, Stroke};
use crate::circuit::{Circuit, Kind, NodeId, PartId, RunId};
use crate::guide::{Guide, Side, VehicleKind};
use crate::quantity::{Length, Show};

/// Height of the strip with the zones' names.
const HEAD: f64 = 6.5;
/// Space between things in a cell.
const GAP: f64 = 1.6;
/// Space between a run's label and the wall of its zone.
const WALL: f64 = 1.5;
/// Space inside a part's box.
const PAD: f64 = 1.2;
/// Width of the column that names the sides.
const SIDES: f64 = 18.0;
/// Length of a vehicle's nose, ahead of the first zone; of a boat's bow.
const NOSE: f64 = 5.0;
const BOW: f64 = 14.0;
/// Height of a line of text.
const LINE: f64 = LEADING * TEXT_MM;
/// Height of a run's row: its label above its line.
const ROW: f64 = LINE + 4.6;
/// Least length of a run's line in a zone.
const PIECE: f64 = 16.0;
/// Space between two runs in one row.
const BETWEEN: f64 = 4.0;
/// Widest words on a part's box, unless one word is wider.
const WORDS: f64 = 30.0;

/// How large a plan is drawn, from the largest that is tried to the least that can be read.
const SCALES: [f64; 7] = [MOST, 1.5, 1.4, 1.3, 1.2, 1.1, 1.0];

/// Draws the plan, its sheets one below the other.
pub fn draw(canvas: &mut Canvas, laid: &Laid<'_>, facts: &Facts) {
    for number in 0..laid.pages.len() {
        let page = Page { number, of: laid.pages.len() };
        laid.draw_page(canvas, page);
        sheet::border(canvas, laid.plan.guide, "Plan", &laid.plan.used(), facts, page);
    }
}

/// A part's box.
#[derive(Clone)]
struct Card {
    lines: Vec<(Face, String)>,
    width: f64,
    x: f64,
}

impl Card {
    fn height(&self) -> f64 {
        self.lines.len() as f64 * LINE + PAD
    }
}

/// A run's line across its zones.
#[derive(Clone)]
struct Strip {
    run: usize,
    /// First and last zone.
    zones: (usize, usize),
    x: (f64, f64),
    /// What stands above it in each zone.
    labels: Vec<String>,
    /// How high it is laid, in the author's words.
    height: Option<String>,
}

/// What stands beside one another from the first zone to the last.
enum Row {
    Cards(Vec<Card>),
    Strips(Vec<Strip>),
}

impl Row {
    fn height(&self) -> f64 {
        match self {
            Row::Cards(cards) => cards.iter().map(Card::height).fold(0.0, f64::max) + GAP,
            Row::Strips(strips) => ROW + if strips.iter().any(|s| s.height.is_some()) { LINE } else { 0.0 },
        }
    }
}

/// Rows of one side on one sheet.
struct Stretch {
    side: usize,
    rows: Vec<Row>,
    height: f64,
}

/// Everything worked out but positions.
struct Plan<'a> {
    circuit: &'a Circuit,
    guide: &'a Guide,
    zones: Vec<String>,
    tags: Vec<String>,
    /// Sides in use, from the top of the sheet.
    sides: Vec<Option<Side>>,
}

/// A plan with its places.
pub struct Laid<'a> {
    plan: Plan<'a>,
    scale: f64,
    /// Left edges of the zones' columns, and the right edge of the last.
    columns: Vec<f64>,
    pages: Vec<Vec<Stretch>>,
}

impl<'a> Laid<'a> {
    /// Lays a plan out: as large as one sheet allows, with lengths in both systems where there is room.
    pub fn of(guide: &'a Guide, circuit: &'a Circuit) -> Laid<'a> {
        let plan = Plan::of(guide, circuit);
        let found = SCALES.iter().find_map(|scale| {
            let (columns, pages, whole) = plan.lay_out(*scale, true);
            (whole && pages.len() == 1).then_some((*scale, columns, pages))
        });
        let (scale, columns, pages) = found.unwrap_or_else(|| {
            let (columns, pages, _) = plan.lay_out(1.0, false);
            (1.0, columns, pages)
        });
        Laid { plan, scale, columns, pages }
    }

    /// The plan in words, for those who cannot see it.
    pub fn in_words(&self) -> String {
        let plan = &self.plan;
        let mut out = String::new();
        for (zone, name) in plan.zones.iter().enumerate() {
            let here: Vec<String> = plan
                .parts()
                .filter(|p| plan.circuit.part(*p).zone.map_or(0, |z| z.0.min(plan.zones.len() - 1)) == zone)
                .map(|p| {
                    let said = plan.guide.parts.get(&plan.circuit.part(p).name);
                    let height = said.and_then(|p| p.height.as_ref()).map(|h| label::clean(&h.value));
                    let place: Vec<String> = plan.side_name(plan.part_side(p)).into_iter().chain(height).collect();
                    let words = plan.words(p);
                    if place.is_empty() { words } else { format!("{words} ({})", place.join(", ")) }
                })
                .collect();
            let list = if here.is_empty() { "nothing".to_owned() } else { here.join("; ") };
            out.push_str(&format!("In {name}: {list}. "));
        }
        for (index, run) in plan.circuit.runs.iter().enumerate() {
            let said = plan.guide.runs.get(&run.name);
            let height = said.and_then(|r| r.height.as_ref()).map(|h| label::clean(&h.value));
            let place: String =
                plan.side_name(plan.run_side(index)).into_iter().chain(height).map(|w| format!(", {w}")).collect();
            let laid: Vec<String> = run
                .laid
                .iter()
                .map(|(zone, length)| format!("{} in {}", length.show_both(), plan.circuit.zone(*zone).label))
                .collect();
            let [from, to] = [run.from, run.to].map(|n| plan.terminal(n));
            let (mark, size) = (mark(RunId(index)), run.size.show());
            out.push_str(&format!("{mark} {size} from {from} to {to}{place}: {}. ", laid.join(", ")));
        }
        out.trim_end().to_owned()
    }

    /// How many sheets it takes.
    pub fn sheets(&self) -> usize {
        self.pages.len()
    }

    fn draw_page(&self, canvas: &mut Canvas, page: Page) {
        let room = room();
        let (left, top) = corner(page.number);
        canvas.frame(1.0, left, top);
        let y = room.height - LINE;
        let words = label::shorten(self.plan.note(), Face::Regular, TEXT_MM, room.width - 2.0);
        canvas.text((1.0, baseline(y, 0, TEXT_MM)), Anchor::Start, Lettering::ink(Face::Regular, TEXT_MM), &words);
        canvas.frame(self.scale, left, top);
        let spacing = LANE * self.scale;
        canvas.geometry.spacing = spacing;
        let stretches = &self.pages[page.number];
        let bottom = HEAD + stretches.iter().map(|s| s.height).sum::<f64>();
        self.frame(canvas, page, bottom);
        let mut y = HEAD;
        for (k, stretch) in stretches.iter().enumerate() {
            if k > 0 {
                let dashed = Stroke { colour: PALE, weight: 0.25, dashes: &[1.0, 1.0] };
                canvas.line(&[(self.columns[0], y), (self.columns[self.columns.len() - 1], y)], dashed);
            }
            self.stretch(canvas, stretch, y);
            y += stretch.height;
        }
    }

    /// The vehicle's outline and the walls of its zones, with their names.
    fn frame(&self, canvas: &mut Canvas, page: Page, bottom: f64) {
        canvas.open("zones", "Zones, front to rear");
        let (front, rear) = (self.columns[0] - self.plan.nose(), self.columns[self.columns.len() - 1]);
        let half = (bottom - HEAD) / 2.0;
        let outline = if page.number > 0 {
            // The vehicle goes on from the sheet before: open at its top.
            vec![(front, HEAD), (front, bottom), (rear, bottom), (rear, HEAD)]
        } else if self.plan.boat() {
            let shoulder = front + BOW - 0.5;
            let bend = |share: f64| (front + share * share * (BOW - 0.5), share * half);
            let upper = (1..8).rev().map(|k| bend(f64::from(k) / 8.0)).map(|(x, y)| (x, HEAD + half - y));
            let lower = (0..8).map(|k| bend(f64::from(k) / 8.0)).map(|(x, y)| (x, HEAD + half + y));
            let mut line = vec![(rear, HEAD), (shoulder, HEAD)];
            line.extend(upper);
            line.extend(lower);
            line.extend([(shoulder, bottom), (rear, bottom), (rear, HEAD)]);
            line
        } else {
            let nose = half.min(NOSE - 0.5);
            vec![
                (rear, HEAD),
                (front + nose, HEAD),
                (front, HEAD + nose),
                (front, bottom - nose),
                (front + nose, bottom),
                (rear, bottom),
                (rear, HEAD),
            ]
        };
        canvas.line(&outline, Stroke::solid(INK, 0.5));
        for (zone, name) in self.plan.zones.iter().enumerate() {
            let (x0, x1) = (self.columns[zone], self.columns[zone + 1]);
            let words = label::shorten(name, Face::Bold, TEXT_MM, x1 - x0 - 2.0);
            let middle = ((x0 + x1) / 2.0, baseline(1.0, 0, TEXT_MM));
            canvas.text(middle, Anchor::Middle, Lettering::ink(Face::Bold, TEXT_MM), &words);
            if zone > 0 {
                let thin = Stroke { colour: PALE, weight: 0.25, dashes: &[6.0, 1.0, 0.8, 1.0] };
                canvas.line(&[(x0, 0.0), (x0, bottom)], thin);
            }
        }
        canvas.close();
    }

    fn stretch(&self, canvas: &mut Canvas, stretch: &Stretch, top: f64) {
        let words = self.plan.side_words(stretch.side);
        canvas.open("side", &words);
        let lines = wrap(&words, Face::Regular, TEXT_MM, SIDES - 1.0, SIDE_LINES);
        let middle = top + (stretch.height - lines.len() as f64 * LINE) / 2.0;
        for (k, line) in lines.iter().enumerate() {
            let at = (0.5, baseline(middle, k, TEXT_MM));
            canvas.text(at, Anchor::Start, Lettering::ink(Face::Regular, TEXT_MM), line);
        }
        let mut y = top + GAP;
        for row in &stretch.rows {
            match row {
                Row::Cards(cards) => cards.iter().for_each(|card| self.card(canvas, card, y)),
                Row::Strips(strips) => strips.iter().for_each(|strip| self.strip(canvas, strip, y)),
            }
            y += row.height();
        }
        canvas.close();
    }

    fn card(&self, canvas: &mut Canvas, card: &Card, y: f64) {
        let words: Vec<&str> = card.lines.iter().map(|(_, words)| words.as_str()).collect();
        canvas.open("part", &words.join(" "));
        canvas.boxed(card.x, y, card.x + card.width, y + card.height(), Stroke::solid(INK, 0.35), "#f4f4f4");
        let area = canvas.area(card.x, y, card.x + card.width, y + card.height());
        canvas.geometry.cards.push(area);
        for (k, (face, line)) in card.lines.iter().enumerate() {
            let at = (card.x + PAD, baseline(y + PAD / 2.0, k, TEXT_MM));
            canvas.text(at, Anchor::Start, Lettering::ink(*face, TEXT_MM), line);
        }
        canvas.close();
    }

    fn strip(&self, canvas: &mut Canvas, strip: &Strip, top: f64) {
        let plan = &self.plan;
        let run = &plan.circuit.runs[strip.run];
        canvas.open("run", &super::model::run_in_words(plan.circuit, RunId(strip.run)));
        let y = top + LINE + 2.0;
        let [ta, tb] = plan.ends(strip.run);
        let ink = Lettering::ink(Face::Bold, TEXT_MM);
        let base = y + 0.36 * TEXT_MM;
        canvas.text((strip.x.0, base), Anchor::Start, ink, &ta);
        canvas.text((strip.x.1, base), Anchor::End, ink, &tb);
        let x0 = strip.x.0 + label::width(&ta, Face::Bold, TEXT_MM) + 1.5;
        let x1 = strip.x.1 - label::width(&tb, Face::Bold, TEXT_MM) - 1.5;
        canvas.line(&[(x0, y), (x1, y)], stroke(run_kind(run), weight(run.section)));
        let path = RunPath {
            name: run.name.clone(),
            points: vec![canvas.at((x0, y)), canvas.at((x1, y))],
            weight: weight(run.section) * self.scale,
            stems: [1, 1],
            ends: [run.from.0, run.to.0],
        };
        canvas.geometry.runs.push(path);
        for (k, words) in strip.labels.iter().enumerate() {
            let zone = strip.zones.0 + k;
            let (left, right) = (self.columns[zone].max(strip.x.0), self.columns[zone + 1].min(strip.x.1));
            let words = label::shorten(words, Face::Regular, TEXT_MM, right - left);
            let middle = match (strip.labels.len(), k) {
                (1, _) => (left + right) / 2.0,
                (_, 0) => (left + right - WALL) / 2.0,
                (n, k) if k + 1 == n => (left + right + WALL) / 2.0,
                _ => (left + right) / 2.0,
            };
            let at = (middle, baseline(top, 0, TEXT_MM));
            canvas.text(at, Anchor::Middle, Lettering::ink(Face::Regular, TEXT_MM), &words);
        }
        if let Some(height) = &strip.height {
            let words = label::shorten(height, Face::Regular, TEXT_MM, strip.x.1 - strip.x.0);
            let wide = label::width(&words, Face::Regular, TEXT_MM);
            let upper = top + ROW - 0.55;
            // In the roomiest zone that has room; or else over a wall, which then leaves the words clear.
            let zones = (strip.zones.0..=strip.zones.1)
                .map(|zone| (self.columns[zone].max(strip.x.0), self.columns[zone + 1].min(strip.x.1)));
            let roomy = zones.max_by(|a, b| (a.1 - a.0).total_cmp(&(b.1 - b.0))).filter(|z| wide + 1.0 < z.1 - z.0);
            let (left, right) = roomy.unwrap_or(strip.x);
            let middle = (left + right) / 2.0;
            if roomy.is_none() && strip.zones.0 != strip.zones.1 {
                let (x0, x1) = (middle - wide / 2.0 - 0.5, middle + wide / 2.0 + 0.5);
                canvas.boxed(x0, upper, x1, upper + LINE, Stroke::solid(INK, 0.0), "#ffffff");
            }
            let at = (middle, baseline(upper, 0, TEXT_MM));
            canvas.text(at, Anchor::Middle, Lettering::ink(Face::Regular, TEXT_MM), &words);
        }
        canvas.close();
    }
}

/// Most lines that a side's name takes.
const SIDE_LINES: usize = 3;

impl<'a> Plan<'a> {
    fn of(guide: &'a Guide, circuit: &'a Circuit) -> Plan<'a> {
        let zones = if circuit.zones.is_empty() {
            vec![String::new()]
        } else {
            circuit.zones.iter().map(|z| label::clean(&z.label)).collect()
        };
        let mut plan = Plan { circuit, guide, zones, tags: tags(circuit), sides: Vec::new() };
        let parts = plan.parts().map(|part| plan.part_side(part));
        let runs = (0..circuit.runs.len()).map(|run| plan.run_side(run));
        let used: Vec<Option<Side>> = parts.chain(runs).collect();
        plan.sides = [Some(Side::Right), Some(Side::Middle), Some(Side::Left), None]
            .into_iter()
            .filter(|side| used.contains(side))
            .collect();
        plan
    }

    /// All parts but the body, which has no one place.
    fn parts(&self) -> impl Iterator<Item = PartId> {
        let circuit = self.circuit;
        (0..circuit.parts.len()).map(PartId).filter(|p| !matches!(circuit.part(*p).kind, Kind::Body(_)))
    }

    fn boat(&self) -> bool {
        self.guide.vehicle.kind.value == VehicleKind::Boat
    }

    fn nose(&self) -> f64 {
        if self.boat() { BOW } else { NOSE }
    }

    fn part_side(&self, part: PartId) -> Option<Side> {
        self.guide.parts.get(&self.circuit.part(part).name)?.side.as_ref().map(|side| side.value)
    }

    /// On which side a run is laid: as the guide says, or where both its ends are if they are in one zone on one side.
    fn run_side(&self, run: usize) -> Option<Side> {
        let found = &self.circuit.runs[run];
        if let Some(side) = self.guide.runs.get(&found.name).and_then(|r| r.side.as_ref()) {
            return Some(side.value);
        }
        let (lo, hi) = self.span(run);
        let [a, b] = [found.from, found.to].map(|node| self.part_side(self.circuit.node(node).part));
        if lo == hi && a == b { a } else { None }
    }

    /// A side as people call it: a boat's are its own.
    fn side_name(&self, side: Option<Side>) -> Option<String> {
        let words = match (side?, self.boat()) {
            (Side::Right, false) => "right",
            (Side::Right, true) => "starboard",
            (Side::Middle, _) => "middle",
            (Side::Left, false) => "left",
            (Side::Left, true) => "port",
        };
        Some(words.to_owned())
    }

    /// What stands beside a row of sides.
    fn side_words(&self, side: usize) -> String {
        match self.side_name(self.sides[side]) {
            Some(words) => words[..1].to_uppercase() + &words[1..],
            None if self.schematic() => String::new(),
            None => "Side not said".to_owned(),
        }
    }

    fn schematic(&self) -> bool {
        self.sides.iter().all(Option::is_none)
    }

    fn note(&self) -> &'static str {
        match (self.schematic(), self.boat()) {
            (true, _) => {
                "Schematic: the guide does not say on which side things sit. Seen from above, front to the left. Lengths are the cables' own, zone by zone."
            }
            (false, false) => {
                "Seen from above, front to the left; left and right as from the driver's seat. Lengths are the cables' own, zone by zone."
            }
            (false, true) => "Seen from above, bow to the left. Lengths are the cables' own, zone by zone.",
        }
    }

    fn used(&self) -> Used {
        let mut kinds: Vec<LineKind> = self.circuit.runs.iter().map(run_kind).collect();
        kinds.sort();
        kinds.dedup();
        Used { kinds, symbols: Vec::new(), framed: false }
    }

    fn node_zone(&self, node: NodeId) -> usize {
        self.circuit.nodes.get(node.0).map_or(0, |n| n.zone.0.min(self.zones.len() - 1))
    }

    /// A terminal in short: the part's designator, and which terminal where it has two. The body goes by its name.
    fn terminal(&self, node: NodeId) -> String {
        let Some(found) = self.circuit.nodes.get(node.0) else { return String::new() };
        let part = self.circuit.part(found.part);
        if matches!(part.kind, Kind::Body(_)) {
            return label::shorten(&label::clean(&part.label), Face::Bold, TEXT_MM, 2.0 * PIECE);
        }
        let tag = self.tags.get(found.part.0).map_or("", String::as_str);
        match found.name.strip_prefix(&part.name).unwrap_or("") {
            rest if rest.ends_with('+') => format!("{tag} +"),
            rest if rest.ends_with('-') => format!("{tag} −"),
            _ => tag.to_owned(),
        }
    }

    /// Both ends of a run in short, the one nearer the front first.
    fn ends(&self, run: usize) -> [String; 2] {
        let run = &self.circuit.runs[run];
        let forward = self.node_zone(run.from) <= self.node_zone(run.to);
        let (a, b) = if forward { (run.from, run.to) } else { (run.to, run.from) };
        [self.terminal(a), self.terminal(b)]
    }

    /// The first and last zone that a run is laid through.
    fn span(&self, run: usize) -> (usize, usize) {
        let run = &self.circuit.runs[run];
        let last = self.zones.len() - 1;
        let all =
            run.laid.iter().map(|(zone, _)| zone.0.min(last)).chain([self.node_zone(run.from), self.node_zone(run.to)]);
        all.fold((usize::MAX, 0), |(lo, hi), z| (lo.min(z), hi.max(z)))
    }

    /// What stands above a run's line in each of its zones.
    fn labels(&self, run: usize, both: bool) -> Vec<String> {
        let found = &self.circuit.runs[run];
        let show = |length: Length| if both { length.show_both() } else { length.show() };
        let last = self.zones.len() - 1;
        let (lo, hi) = self.span(run);
        let name = format!("{} {}", mark(RunId(run)), found.size.show());
        (lo..=hi)
            .map(|zone| {
                let here: Vec<Length> =
                    found.laid.iter().filter(|(z, _)| z.0.min(last) == zone).map(|(_, length)| *length).collect();
                let length: Option<Length> = (!here.is_empty()).then(|| here.into_iter().sum());
                match (zone == lo, length) {
                    (true, Some(length)) => format!("{name} {}", show(length)),
                    (true, None) => name.clone(),
                    (false, Some(length)) => show(length),
                    (false, None) => String::new(),
                }
            })
            .collect()
    }

    /// Columns' edges, sheets, and whether every word has room.
    fn lay_out(&self, scale: f64, both: bool) -> (Vec<f64>, Vec<Vec<Stretch>>, bool) {
        let room = room();
        let width = room.width / scale;
        let height = (room.height - LINE - 1.0) / scale;
        let labels: Vec<Vec<String>> = (0..self.circuit.runs.len()).map(|run| self.labels(run, both)).collect();
        let (columns, mut whole) = self.columns(width, &labels);
        let mut stretches: Vec<(usize, Vec<Row>)> = Vec::new();
        for side in 0..self.sides.len() {
            let mut rows = self.cards(side, &columns);
            let (strips, fits) = self.strips(side, &columns, &labels);
            rows.extend(strips);
            whole &= fits;
            stretches.push((side, rows));
        }
        // Rows fill one sheet after the other; a side that is broken off goes on on the next.
        let mut pages: Vec<Vec<Stretch>> = vec![Vec::new()];
        let mut used = HEAD;
        for (side, rows) in stretches {
            let names = wrap(&self.side_words(side), Face::Regular, TEXT_MM, SIDES - 1.0, SIDE_LINES).len();
            let least = names as f64 * LINE + GAP;
            let mut open = false;
            for row in rows {
                let page = pages.len() - 1;
                let now = row.height();
                let stretch = pages[page].last().filter(|_| open).map_or(GAP, |s| s.height);
                let rest = used - if open { stretch } else { 0.0 };
                if rest + (stretch + now).max(least) > height && used > HEAD {
                    pages.push(Vec::new());
                    used = HEAD;
                    open = false;
                }
                let page = pages.len() - 1;
                if !open {
                    pages[page].push(Stretch { side, rows: Vec::new(), height: GAP });
                    used += GAP;
                    open = true;
                }
                if let Some(stretch) = pages[page].last_mut() {
                    used -= stretch.height;
                    let rows: f64 = stretch.rows.iter().map(Row::height).sum();
                    stretch.height = (GAP + rows + now).max(least);
                    used += stretch.height;
                    stretch.rows.push(row);
                }
            }
        }
        (columns, pages, whole)
    }

    /// Columns wide enough for the runs' labels where that can be; the rest by what stands in them.
    fn columns(&self, width: f64, labels: &[Vec<String>]) -> (Vec<f64>, bool) {
        let zones = self.zones.len();
        let sides = if self.schematic() { 0.0 } else { SIDES };
        let start = sides + self.nose();
        let wide = width - start;
        let mut least: Vec<f64> = self
            .zones
            .iter()
            .map(|name| (label::width(name, Face::Bold, TEXT_MM) + 2.5).clamp(PIECE + 2.0 * GAP, 40.0))
            .collect();
        let mut need = vec![1.0f64; zones];
        for part in self.parts() {
            let zone = self.circuit.part(part).zone.map_or(0, |z| z.0.min(zones - 1));
            need[zone] += 1.0;
            let longest = label::longest_piece(&self.words(part), Face::Bold, TEXT_MM).max(WORDS);
            least[zone] = least[zone].max(longest.min(2.0 * WORDS) + 2.0 * PAD + 2.0 * GAP + 0.1);
        }
        for (run, labels) in labels.iter().enumerate() {
            let (lo, hi) = self.span(run);
            let ends = self.ends(run).map(|words| label::width(&words, Face::Bold, TEXT_MM) + 3.0);
            for (k, words) in labels.iter().enumerate() {
                let ends: f64 = if lo == hi {
                    ends[0] + ends[1]
                } else if k == 0 {
                    ends[0]
                } else if k == hi - lo {
                    ends[1]
                } else {
                    0.0
                };
                let words = label::width(words, Face::Regular, TEXT_MM) + 2.0 * WALL;
                least[lo + k] = least[lo + k].max(words.max(ends + PIECE / 2.0) + 2.0 * GAP + 0.1);
            }
            if lo == hi {
                need[lo] += 0.5;
            }
        }
        let sum: f64 = least.iter().sum();
        let whole = sum <= wide;
        if !whole {
            let shrink = wide / sum;
            least.iter_mut().for_each(|w| *w *= shrink);
        }
        let spare = (wide - least.iter().sum::<f64>()).max(0.0);
        let share: f64 = need.iter().sum();
        let mut columns = vec![start];
        for (least, need) in least.iter().zip(&need) {
            columns.push(columns[columns.len() - 1] + least + spare * need / share);
        }
        (columns, whole)
    }

    fn words(&self, part: PartId) -> String {
        let found = self.circuit.part(part);
        let name = if found.label.is_empty() { &found.name } else { &found.label };
        format!("{} {name}", self.tags[part.0])
    }

    /// The parts of one side in their zones, flowing from left to right, in rows across all zones.
    fn cards(&self, side: usize, columns: &[f64]) -> Vec<Row> {
        let mut rows: Vec<Vec<Card>> = Vec::new();
        // Where the next card of each zone goes: row, x.
        let mut next: Vec<(usize, f64)> = (0..self.zones.len()).map(|zone| (0, columns[zone] + GAP)).collect();
        for part in self.parts().filter(|p| self.part_side(*p) == self.sides[side]) {
            let found = self.circuit.part(part);
            let zone = found.zone.map_or(0, |z| z.0.min(self.zones.len() - 1));
            let (left, right) = (columns[zone] + GAP, columns[zone + 1] - GAP);
            let most = right - left - 2.0 * PAD;
            let words = self.words(part);
            let widest = label::longest_piece(&words, Face::Bold, TEXT_MM).max(WORDS).min(most);
            let bold = wrap(&words, Face::Bold, TEXT_MM, widest, 4).into_iter().map(|line| (Face::Bold, line));
            let mut lines: Vec<(Face, String)> = bold.collect();
            if let Some(height) = self.guide.parts.get(&found.name).and_then(|p| p.height.as_ref()) {
                let words = wrap(&height.value, Face::Regular, TEXT_MM, widest, 5);
                lines.extend(words.into_iter().map(|line| (Face::Regular, line)));
            }
            let wide = |(face, line): &(Face, String)| label::width(line, *face, TEXT_MM);
            let width = lines.iter().map(wide).fold(0.0, f64::max) + 2.0 * PAD;
            let (row, x) = &mut next[zone];
            if *x + width > right && *x > left {
                (*row, *x) = (*row + 1, left);
            }
            while rows.len() <= *row {
                rows.push(Vec::new());
            }
            rows[*row].push(Card { lines, width, x: *x });
            *x += width + GAP;
        }
        rows.into_iter().map(Row::Cards).collect()
    }

    /// The runs of one side in rows: one may follow another where there is room. Longest first.
    fn strips(&self, side: usize, columns: &[f64], labels: &[Vec<String>]) -> (Vec<Row>, bool) {
        let mut order: Vec<usize> =
            (0..self.circuit.runs.len()).filter(|run| self.run_side(*run) == self.sides[side]).collect();
        order.sort_by_key(|r| {
            let (lo, hi) = self.span(*r);
            (std::cmp::Reverse(hi - lo), lo, *r)
        });
        let mut rows: Vec<Vec<Strip>> = Vec::new();
        let mut whole = true;
        for run in order {
            let (lo, hi) = self.span(run);
            let wide = |words: &String| label::width(words, Face::Regular, TEXT_MM) + 0.1;
            let height = self.guide.runs.get(&self.circuit.runs[run].name).and_then(|r| r.height.as_ref());
            let height = height.map(|h| label::clean(&h.value));
            let ends = self.ends(run).map(|words| label::width(&words, Face::Bold, TEXT_MM) + 3.0);
            let (first, last) = (wide(&labels[run][0]) + WALL, wide(&labels[run][hi - lo]) + WALL);
            // Where it may go in a row that others lie in already.
            let place = |row: &[Strip]| -> Option<(f64, f64)> {
                if lo == hi {
                    let words = height.as_ref().map_or(0.0, wide).max(first);
                    let (left, right) = (columns[lo] + GAP, columns[lo + 1] - GAP);
                    let length = words.max(ends[0] + ends[1] + PIECE / 2.0).min(right - left);
                    let mut x = left;
                    while let Some(other) = row.iter().find(|s| x < s.x.1 + BETWEEN && s.x.0 - BETWEEN < x + length) {
                        x = other.x.1 + BETWEEN;
                    }
                    (x + length <= right + 1e-9).then_some((x, x + length))
                } else {
                    let a = (columns[lo + 1] - first.max(ends[0] + PIECE / 2.0)).max(columns[lo] + GAP);
                    let b = (columns[hi] + last.max(ends[1] + PIECE / 2.0)).min(columns[hi + 1] - GAP);
                    // Longer on both sides when its height takes more words.
                    let short = (height.as_ref().map_or(0.0, wide) - (b - a)).max(0.0);
                    let a = (a - short / 2.0).max(columns[lo] + GAP);
                    let b = (b + short / 2.0).min(columns[hi + 1] - GAP);
                    let free = row.iter().all(|s| s.x.1 + BETWEEN <= a || b + BETWEEN <= s.x.0);
                    free.then_some((a, b))
                }
            };
            let found = rows.iter().enumerate().find_map(|(k, row)| Some((k, place(row)?)));
            let Some((row, x)) = found.or_else(|| Some((rows.len(), place(&[])?))) else { continue };
            if row == rows.len() {
                rows.push(Vec::new());
            }
            whole &= height.as_ref().is_none_or(|h| wide(h) <= x.1 - x.0);
            rows[row].push(Strip { run, zones: (lo, hi), x, labels: labels[run].clone(), height });
        }
        (rows.into_iter().map(Row::Strips).collect(), whole)
    }
}
