//! The plan: where each part sits and how much of each run lies where, zone by zone.
//!
//! The vehicle from above, its front to the left. Zones are columns; in the upper part every part
//! stands in its zone and on its side, in the lower part every run is a line across the zones it is
//! laid through, with its length in each. Made for somebody who crawls under the carpet. Where the
//! author gave no sides the sheet says that it is schematic.

use super::label::{self, Face, LEADING, TEXT_MM, wrap};
use super::model::{LineKind, mark, run_kind, tags, weight};
use super::sheet::{self, Facts, Page, Used, baseline, corner, room, stroke};
use super::svg_out::{Anchor, Canvas, INK, Lettering, PALE, RunPath, Stroke};
use crate::circuit::{Circuit, Kind, NodeId, RunId};
use crate::guide::{Guide, Side, VehicleKind};
use crate::quantity::Show;

/// Height of the strip with the zones' names.
const HEAD: f64 = 6.5;
/// Space between things in a cell.
const GAP: f64 = 1.6;
/// Space inside a part's box.
const PAD: f64 = 1.2;
/// Width of the column that names the sides.
const SIDES: f64 = 15.0;
/// Height of a run's row: its label above its line.
const ROW: f64 = LEADING * TEXT_MM + 4.4;
/// Least width of the piece of a run's line in a zone, so that its label fits.
const PIECE: f64 = 31.0;
/// Space between two runs in one row.
const BETWEEN: f64 = 4.0;

/// A part's box.
struct Card {
    lines: Vec<String>,
    zone: usize,
    /// Row of sides: see [`Plan::sides`].
    side: usize,
    width: f64,
}

/// Everything worked out but positions.
struct Plan<'a> {
    circuit: &'a Circuit,
    guide: &'a Guide,
    zones: Vec<String>,
    tags: Vec<String>,
    /// Rows of sides in use, from the top: right, middle, left, not said.
    sides: Vec<&'static str>,
}

/// Where a run lies on the sheet.
struct Strip {
    run: usize,
    /// First and last zone.
    zones: (usize, usize),
    x: (f64, f64),
    row: usize,
}

/// How many sheets a plan takes, and draws them one below the other.
pub fn pages(guide: &Guide, circuit: &Circuit) -> usize {
    Plan::of(guide, circuit).lay_out().pages
}

/// Draws the plan.
pub fn draw(canvas: &mut Canvas, guide: &Guide, circuit: &Circuit, facts: &Facts) {
    let plan = Plan::of(guide, circuit);
    let laid = plan.lay_out();
    plan.draw(canvas, &laid, facts);
}

struct Laid {
    /// Left edges of the zones' columns, and the right edge of the last.
    columns: Vec<f64>,
    cards: Vec<(Card, f64, f64)>,
    /// Heights of the rows of sides.
    side_rows: Vec<f64>,
    /// Height of the whole upper part.
    upper: f64,
    strips: Vec<Strip>,
    /// How many rows of runs go under the upper part, and how many on a sheet of their own.
    rows_first: usize,
    rows_more: usize,
    pages: usize,
}

impl<'a> Plan<'a> {
    fn of(guide: &'a Guide, circuit: &'a Circuit) -> Plan<'a> {
        let zones = if circuit.zones.is_empty() {
            vec![String::new()]
        } else {
            circuit.zones.iter().map(|z| label::clean(&z.label)).collect()
        };
        let said = |side: Side| guide.parts.values().any(|p| p.side.as_ref().is_some_and(|s| s.value == side));
        let boat = guide.vehicle.kind.value == VehicleKind::Boat;
        let mut sides = Vec::new();
        if said(Side::Right) {
            sides.push(if boat { "Starboard" } else { "Right" });
        }
        if said(Side::Middle) {
            sides.push("Middle");
        }
        if said(Side::Left) {
            sides.push(if boat { "Port" } else { "Left" });
        }
        let unsaid = circuit
            .parts
            .iter()
            .any(|p| !matches!(p.kind, Kind::Body(_)) && guide.parts.get(&p.name).is_none_or(|p| p.side.is_none()));
        if unsaid || sides.is_empty() {
            sides.push(if sides.is_empty() { "" } else { "Side not said" });
        }
        Plan { circuit, guide, zones, tags: tags(circuit), sides }
    }

    fn side_row(&self, part: &str) -> usize {
        let boat = self.guide.vehicle.kind.value == VehicleKind::Boat;
        let word = match self.guide.parts.get(part).and_then(|p| p.side.as_ref()).map(|s| s.value) {
            Some(Side::Right) => {
                if boat {
                    "Starboard"
                } else {
                    "Right"
                }
            }
            Some(Side::Middle) => "Middle",
            Some(Side::Left) => {
                if boat {
                    "Port"
                } else {
                    "Left"
                }
            }
            None => return self.sides.len() - 1,
        };
        self.sides.iter().position(|s| *s == word).unwrap_or(self.sides.len() - 1)
    }

    fn node_zone(&self, node: NodeId) -> usize {
        self.circuit.nodes.get(node.0).map_or(0, |n| n.zone.0.min(self.zones.len() - 1))
    }

    /// A terminal in short: the part's designator, and which terminal where it has two.
    fn terminal(&self, node: NodeId) -> String {
        let Some(found) = self.circuit.nodes.get(node.0) else { return String::new() };
        let tag = self.tags.get(found.part.0).cloned().unwrap_or_default();
        let name = self.circuit.parts.get(found.part.0).map_or("", |p| p.name.as_str());
        let rest = found.name.strip_prefix(name).unwrap_or("");
        match rest {
            "+" => format!("{tag} +"),
            "-" => format!("{tag} −"),
            _ => tag,
        }
    }

    /// The first and last zone that a run is laid through.
    fn span(&self, run: usize) -> (usize, usize) {
        let run = &self.circuit.runs[run];
        let last = self.zones.len() - 1;
        let all =
            run.laid.iter().map(|(zone, _)| zone.0.min(last)).chain([self.node_zone(run.from), self.node_zone(run.to)]);
        all.fold((usize::MAX, 0), |(lo, hi), z| (lo.min(z), hi.max(z)))
    }

    fn lay_out(&self) -> Laid {
        let room = room();
        let zones = self.zones.len();
        let side_width = if self.sides.len() > 1 { SIDES } else { 0.0 };
        let wide = room.width - side_width;
        // Columns by what stands and lies in them.
        let mut need = vec![1.0f64; zones];
        for part in &self.circuit.parts {
            if let Some(zone) = part.zone {
                need[zone.0.min(zones - 1)] += 1.0;
            }
        }
        for run in 0..self.circuit.runs.len() {
            let (lo, hi) = self.span(run);
            if lo == hi {
                need[lo] += 0.5;
            }
        }
        let least = (PIECE + BETWEEN).max(wide / zones as f64 * 0.55).min(wide / zones as f64);
        let spare = wide - least * zones as f64;
        let sum: f64 = need.iter().sum();
        let mut columns = vec![side_width];
        for n in &need {
            columns.push(columns[columns.len() - 1] + least + spare * n / sum);
        }
        let (cards, side_rows) = self.cards(&columns);
        let upper = HEAD + side_rows.iter().sum::<f64>();
        let strips = self.strips(&columns);
        let rows = strips.iter().map(|s| s.row + 1).max().unwrap_or(0);
        let note = LEADING * TEXT_MM + 1.6;
        let rows_first = ((room.height - upper - note) / ROW).floor().max(0.0) as usize;
        let rows_more = (((room.height - HEAD - note) / ROW).floor() as usize).max(1);
        let pages = 1 + rows.saturating_sub(rows_first).div_ceil(rows_more);
        Laid { columns, cards, side_rows, upper, strips, rows_first, rows_more, pages }
    }

    /// Parts in their cells, flowing from left to right.
    fn cards(&self, columns: &[f64]) -> (Vec<(Card, f64, f64)>, Vec<f64>) {
        let mut cells: Vec<Vec<Card>> = Vec::new();
        cells.resize_with(self.sides.len() * self.zones.len(), Vec::new);
        for (index, part) in self.circuit.parts.iter().enumerate() {
            if matches!(part.kind, Kind::Body(_)) {
                continue;
            }
            let zone = part.zone.map_or(0, |z| z.0.min(self.zones.len() - 1));
            let side = self.side_row(&part.name);
            let most = columns[zone + 1] - columns[zone] - 2.0 * GAP - 2.0 * PAD;
            let name = if part.label.is_empty() { &part.name } else { &part.label };
            let words = format!("{} {name}", self.tags[index]);
            let widest = label::longest_piece(&words, Face::Bold, TEXT_MM).max(26.0).min(most);
            let mut lines = wrap(&words, Face::Bold, TEXT_MM, widest, 3);
            if let Some(height) = self.guide.parts.get(&part.name).and_then(|p| p.height.as_ref()) {
                lines.extend(
                    wrap(&height.value, Face::Bold, TEXT_MM, widest, 2).into_iter().map(|l| format!("\u{0}{l}")),
                );
            }
            let width = lines.iter().map(|l| card_line(l).1).fold(0.0, f64::max) + 2.0 * PAD;
            cells[side * self.zones.len() + zone].push(Card { lines, zone, side, width });
        }
        let mut placed = Vec::new();
        let mut heights = vec![0.0f64; self.sides.len()];
        let mut down: Vec<Vec<(Card, f64, f64)>> = Vec::new();
        for cell in cells {
            let mut out: Vec<(Card, f64, f64)> = Vec::new();
            let mut y = GAP;
            let mut tallest = 0.0f64;
            let mut x = f64::NAN;
            for card in cell {
                let (left, right) = (columns[card.zone] + GAP, columns[card.zone + 1] - GAP);
                if x.is_nan() {
                    x = left;
                }
                if x + card.width > right && x > left {
                    x = left;
                    y += tallest + GAP;
                    tallest = 0.0;
                }
                let height = card.height();
                tallest = tallest.max(height);
                heights[card.side] = heights[card.side].max(y + height + GAP);
                let wide = card.width;
                out.push((card, x, y));
                x += wide + GAP;
            }
            down.push(out);
        }
        for h in &mut heights {
            *h = h.max(LEADING * TEXT_MM + 2.0 * GAP);
        }
        for cell in down {
            for (card, x, y) in cell {
                let top: f64 = HEAD + heights[..card.side].iter().sum::<f64>();
                placed.push((card, x, top + y));
            }
        }
        (placed, heights)
    }

    /// Runs in rows: one may follow another in a row where there is room.
    fn strips(&self, columns: &[f64]) -> Vec<Strip> {
        let mut order: Vec<usize> = (0..self.circuit.runs.len()).collect();
        order.sort_by_key(|r| {
            let (lo, hi) = self.span(*r);
            (std::cmp::Reverse(hi - lo), lo, *r)
        });
        let mut rows: Vec<Vec<(f64, f64)>> = Vec::new();
        let mut strips = Vec::new();
        for run in order {
            let (lo, hi) = self.span(run);
            let label =
                self.label(run, lo, hi).iter().map(|l| label::width(l, Face::Regular, TEXT_MM)).fold(0.0, f64::max);
            let ends = [self.circuit.runs[run].from, self.circuit.runs[run].to]
                .map(|n| label::width(&self.terminal(n), Face::Bold, TEXT_MM) + 3.0);
            let piece = PIECE.max(label + 4.0);
            let mut placed = None;
            for row in 0.. {
                if row == rows.len() {
                    rows.push(Vec::new());
                }
                if lo == hi {
                    // Anywhere in its own zone: after whatever lies there already.
                    let wide = (label + 4.0).max(ends[0] + ends[1] + 8.0);
                    let mut x = columns[lo] + GAP;
                    let mut moved = true;
                    while moved {
                        moved = false;
                        for (a, b) in &rows[row] {
                            if x < b + BETWEEN && a - BETWEEN < x + wide {
                                x = b + BETWEEN;
                                moved = true;
                            }
                        }
                    }
                    let fits = x + wide <= columns[lo + 1] - GAP;
                    if fits || rows[row].is_empty() {
                        placed = Some((row, x, (x + wide).min(columns[lo + 1] - GAP)));
                    }
                } else {
                    let first = (columns[lo + 1] - piece).max(columns[lo] + GAP);
                    let last = (columns[hi] + piece).min(columns[hi + 1] - GAP);
                    if !rows[row].iter().any(|(a, b)| first < b + BETWEEN && a - BETWEEN < last) {
                        placed = Some((row, first, last));
                    }
                }
                if placed.is_some() {
                    break;
                }
            }
            if let Some((row, a, b)) = placed {
                rows[row].push((a, b));
                strips.push(Strip { run, zones: (lo, hi), x: (a, b), row });
            }
        }
        strips
    }

    /// What stands above a run's line in each of its zones.
    fn label(&self, run: usize, lo: usize, hi: usize) -> Vec<String> {
        let found = &self.circuit.runs[run];
        let last = self.zones.len() - 1;
        (lo..=hi)
            .map(|zone| {
                let here: f64 =
                    found.laid.iter().filter(|(z, _)| z.0.min(last) == zone).map(|(_, l)| l.in_metres()).sum();
                let length = if lo == hi { found.length.show() } else { crate::quantity::Length::metres(here).show() };
                if zone == lo { format!("{} {} {length}", mark(RunId(run)), found.size.show()) } else { length }
            })
            .collect()
    }

    fn draw(&self, canvas: &mut Canvas, laid: &Laid, facts: &Facts) {
        let room = room();
        let mut kinds: Vec<LineKind> = self.circuit.runs.iter().map(run_kind).collect();
        kinds.sort();
        kinds.dedup();
        let used = Used { kinds, symbols: Vec::new(), framed: false };
        for number in 0..laid.pages {
            let page = Page { number, of: laid.pages };
            let (left, top) = corner(number);
            canvas.frame(1.0, left, top);
            let upper = if number == 0 { laid.upper } else { HEAD };
            self.columns(canvas, laid, room.height);
            if number == 0 {
                self.parts(canvas, laid);
            }
            let note = if self.sides.len() == 1 {
                "Schematic: the guide does not say on which side the parts sit. Lengths are those of the cables, zone by zone."
            } else {
                "Seen from above, front to the left; sides as seen from the driver's seat. Lengths are those of the cables, zone by zone."
            };
            let from = if number == 0 { 0 } else { laid.rows_first + (number - 1) * laid.rows_more };
            let count = if number == 0 { laid.rows_first } else { laid.rows_more };
            let thin = Stroke::solid(PALE, 0.25);
            canvas.line(&[(0.0, upper), (room.width, upper)], thin);
            let rows_top = upper + 1.0;
            for strip in laid.strips.iter().filter(|s| (from..from + count).contains(&s.row)) {
                self.strip(canvas, laid, strip, rows_top + (strip.row - from) as f64 * ROW);
            }
            let words = label::shorten(note, Face::Regular, TEXT_MM, room.width - 4.0);
            let y = room.height - LEADING * TEXT_MM;
            canvas.text((2.0, baseline(y, 0, TEXT_MM)), Anchor::Start, Lettering::ink(Face::Regular, TEXT_MM), &words);
            sheet::border(canvas, self.guide, "Plan", &used, facts, page);
        }
    }

    fn columns(&self, canvas: &mut Canvas, laid: &Laid, height: f64) {
        canvas.open("zones", "Zones, front to rear");
        let bottom = height - LEADING * TEXT_MM - 1.0;
        for (zone, name) in self.zones.iter().enumerate() {
            let (x0, x1) = (laid.columns[zone], laid.columns[zone + 1]);
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

    fn parts(&self, canvas: &mut Canvas, laid: &Laid) {
        canvas.open("parts", "Where each part sits");
        let right = laid.columns[laid.columns.len() - 1];
        let mut y = HEAD;
        // The vehicle's outline, its nose to the left.
        let (x0, y0, y1) = (laid.columns[0], HEAD, laid.upper);
        let nose = ((y1 - y0) / 4.0).min(5.0);
        let outline = [
            (x0 + nose, y0),
            (right, y0),
            (right, y1),
            (x0 + nose, y1),
            (x0, y1 - nose),
            (x0, y0 + nose),
            (x0 + nose, y0),
        ];
        canvas.line(&outline, Stroke::solid(INK, 0.5));
        for (side, words) in self.sides.iter().enumerate() {
            let height = laid.side_rows[side];
            if side > 0 {
                canvas.line(&[(x0, y), (right, y)], Stroke { colour: PALE, weight: 0.25, dashes: &[1.0, 1.0] });
            }
            if self.sides.len() > 1 {
                let lines = wrap(words, Face::Regular, TEXT_MM, SIDES - 2.0, 3);
                let top = y + (height - lines.len() as f64 * LEADING * TEXT_MM) / 2.0;
                for (k, line) in lines.iter().enumerate() {
                    let at = (0.5, baseline(top, k, TEXT_MM));
                    canvas.text(at, Anchor::Start, Lettering::ink(Face::Regular, TEXT_MM), line);
                }
            }
            y += height;
        }
        for (card, x, y) in &laid.cards {
            canvas.open("part", &card.lines.join(" ").replace('\u{0}', ""));
            canvas.boxed(*x, *y, x + card.width, y + card.height(), Stroke::solid(INK, 0.35), "#f4f4f4");
            let area = canvas.area(*x, *y, x + card.width, y + card.height());
            canvas.geometry.cards.push(area);
            for (k, line) in card.lines.iter().enumerate() {
                let (face, _) = card_line(line);
                let at = (x + PAD, baseline(y + PAD / 2.0, k, TEXT_MM));
                canvas.text(at, Anchor::Start, Lettering::ink(face, TEXT_MM), line.trim_start_matches('\u{0}'));
            }
            canvas.close();
        }
        canvas.close();
    }

    fn strip(&self, canvas: &mut Canvas, laid: &Laid, strip: &Strip, top: f64) {
        let run = &self.circuit.runs[strip.run];
        canvas.open("run", &super::model::run_in_words(self.circuit, RunId(strip.run)));
        let (lo, hi) = strip.zones;
        let forward = self.node_zone(run.from) <= self.node_zone(run.to);
        let (a, b) = if forward { (run.from, run.to) } else { (run.to, run.from) };
        let y = top + LEADING * TEXT_MM + 2.0;
        let ink = Lettering::ink(Face::Bold, TEXT_MM);
        let (ta, tb) = (self.terminal(a), self.terminal(b));
        let base = y + 0.36 * TEXT_MM;
        canvas.text((strip.x.0, base), Anchor::Start, ink, &ta);
        canvas.text((strip.x.1, base), Anchor::End, ink, &tb);
        let x0 = strip.x.0 + label::width(&ta, Face::Bold, TEXT_MM) + 1.5;
        let x1 = strip.x.1 - label::width(&tb, Face::Bold, TEXT_MM) - 1.5;
        canvas.line(&[(x0, y), (x1, y)], stroke(run_kind(run), weight(run.section)));
        let path = RunPath {
            name: run.name.clone(),
            points: vec![canvas.at((x0, y)), canvas.at((x1, y))],
            weight: weight(run.section),
            stems: [1, 1],
            ends: [run.from.0, run.to.0],
        };
        canvas.geometry.runs.push(path);
        for (k, words) in self.label(strip.run, lo, hi).iter().enumerate() {
            let zone = lo + k;
            let (left, right) = (laid.columns[zone].max(strip.x.0), laid.columns[zone + 1].min(strip.x.1));
            let words = label::shorten(words, Face::Regular, TEXT_MM, right - left - 1.0);
            let at = ((left + right) / 2.0, baseline(top, 0, TEXT_MM));
            canvas.text(at, Anchor::Middle, Lettering::ink(Face::Regular, TEXT_MM), &words);
        }
        canvas.close();
    }
}

impl Card {
    fn height(&self) -> f64 {
        self.lines.len() as f64 * LEADING * TEXT_MM + PAD
    }
}

/// A card's line: marked ones say how high the part sits and are set in regular type. Gives its face and width.
fn card_line(line: &str) -> (Face, f64) {
    let face = if line.starts_with('\u{0}') { Face::Regular } else { Face::Bold };
    (face, label::width(line.trim_start_matches('\u{0}'), face, TEXT_MM))
}
