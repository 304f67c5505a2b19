//! The sheet: frame, title block, legend, cautions, and the drawing set into what room is left.
//!
//! Title block after the fields of ISO 7200; line widths of ISO 128-2. Knows which words belong on
//! every sheet, and nothing of how the drawing proper was laid out.

use super::label::{self, Face, LEADING, TEXT_MM};
use super::model::{Diagram, LineKind, Split, WireId, Wording};
use super::place::{self, Dice, Placement, Room};
use super::route::{self, Layout, PART_GAP};
use super::split;
use super::svg_out::{Anchor, Canvas, INK, Lettering, PALE, PartBox, RunPath, Stroke};
use super::symbols::{self, REACH, Symbol};
use crate::circuit::Circuit;
use crate::guide::Guide;

/// A4 landscape, in mm (ISO 216).
pub const PAPER: (f64, f64) = (297.0, 210.0);
/// Frame's distance from the edge of the paper.
const MARGIN: f64 = 7.0;
/// Width of the title block.
const BLOCK: f64 = 122.0;
/// Height of a row of the title block.
const ROW: f64 = 5.4;
/// Height of the strip of cautions.
const STRIP: f64 = 3.0 * LEADING * TEXT_MM + 2.6;
/// Height of the title block.
const BLOCK_HEIGHT: f64 = TITLE_ROW + 3.0 * ROW;
/// Height of the title's own row.
const TITLE_ROW: f64 = 8.8;
/// Clear space around the drawing proper.
const CLEAR: f64 = 2.0;

/// What the sheet says beside the drawing.
#[derive(Clone, Debug, Default)]
pub struct Facts {
    /// Digest of the numbers, in hex; the first eight digits are printed.
    pub digest: Option<String>,
}

/// The colour of a kind of line.
pub fn colour(kind: LineKind) -> &'static str {
    match kind {
        LineKind::Feed => "#a3161a",
        LineKind::Return => "#111111",
        LineKind::Loose => "#1f4e8c",
        LineKind::Strap => "#3d3d3d",
        LineKind::Bolted => "#555555",
    }
}

/// How a kind of line is drawn.
pub fn stroke(kind: LineKind, weight: f64) -> Stroke {
    let dashes: &[f64] = match kind {
        LineKind::Feed | LineKind::Bolted => &[],
        LineKind::Return => &[4.2, 1.4],
        LineKind::Loose => &[2.0, 1.0, 0.6, 1.0],
        LineKind::Strap => &[1.1, 0.9],
    };
    Stroke { colour: colour(kind), weight, dashes }
}

/// What the legend calls a kind of line.
fn meaning(kind: LineKind) -> &'static str {
    match kind {
        LineKind::Feed => "feed (+)",
        LineKind::Return => "return (−)",
        LineKind::Loose => "neither",
        LineKind::Strap => "strap",
        LineKind::Bolted => "bolted joint",
    }
}

/// A diagram with its places: what one sheet shows.
pub struct Arranged {
    /// What is drawn.
    pub diagram: Diagram,
    /// Order.
    pub placement: Placement,
    /// Positions.
    pub layout: Layout,
}

/// The room for the drawing proper.
pub fn room() -> Room {
    Room {
        width: PAPER.0 - 2.0 * MARGIN - 2.0 * CLEAR,
        height: PAPER.1 - 2.0 * MARGIN - BLOCK_HEIGHT - STRIP - 2.0 * CLEAR,
    }
}

/// The scale at which a layout fills the room.
fn scale(layout: &Layout, room: Room) -> f64 {
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
    let mut dice = Dice::new(diagrams[1].items.len() as u64);
    let mut best: Option<(f64, Placement)> = None;
    for placement in orders(&diagrams[1], room, effort, &mut dice) {
        let worth = worth(&route::route(&diagrams[1], &placement, room), room);
        if best.as_ref().is_none_or(|b| worth > b.0) {
            best = Some((worth, placement));
        }
    }
    let best = best.map(|(_, mut placement)| {
        let tries = if placement.crossings > 0 { 2 * effort } else { effort / 4 };
        place::untangle(&diagrams[1], &mut placement, tries, &mut dice);
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
        - 10.0 * layout.crossings as f64
        - 1.2 * bends as f64
        - 0.01 * length
}

/// Orders for the rows that promise most.
fn orders(diagram: &Diagram, room: Room, effort: usize, dice: &mut Dice) -> Vec<Placement> {
    let mut tiering = place::Tiering::new(diagram, room);
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
            let mut placement = Placement::new(diagram, &tiers);
            place::untangle(diagram, &mut placement, effort / 16, dice);
            (cost + place::CROSSED * placement.crossings as i64, tiers, placement)
        })
        .collect();
    started.sort_by_key(|s| s.0);
    started.truncate(FOLLOWED);
    started.into_iter().map(|(_, tiers, placement)| tiering.uncross((tiers, placement), effort, dice)).collect()
}

/// How many choices of rows are ordered once.
const STARTED: usize = 8;
/// How many of them are followed to the end.
const FOLLOWED: usize = 3;

/// Which of how many sheets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Page {
    /// From 0.
    pub number: usize,
    /// How many there are.
    pub of: usize,
}

/// Draws an arranged circuit on a sheet whose upper edge is `page.number` sheets down.
pub fn draw(canvas: &mut Canvas, guide: &Guide, arranged: &Arranged, facts: &Facts, page: Page) {
    let room = room();
    let Arranged { diagram, layout, .. } = arranged;
    let scale = scale(layout, room);
    let down = canvas.page_top(page.number);
    let left = MARGIN + CLEAR + (room.width - layout.width * scale) / 2.0;
    let top = MARGIN + CLEAR + (room.height - layout.height * scale) / 2.0;
    canvas.frame(1.0, 0.0, down);
    let sheet = canvas.area(0.0, 0.0, PAPER.0, PAPER.1);
    canvas.geometry.sheets.push(sheet);
    canvas.frame(scale, left, down + top);
    bands(canvas, diagram, layout);
    parts(canvas, diagram, layout);
    runs(canvas, diagram, layout);
    let spacing = route::LANE * scale;
    let so_far = canvas.geometry.spacing;
    canvas.geometry.spacing = if page.number == 0 { spacing } else { so_far.min(spacing) };
    canvas.geometry.crossings += layout.crossings;
    canvas.frame(1.0, 0.0, down);
    border(canvas, guide, diagram, facts, page, down);
}

/// Baselines of a block of lines whose top edge is at `y`.
fn baseline(y: f64, line: usize, size: f64) -> f64 {
    y + (line as f64 * LEADING + label::ASCENT) * size
}

fn bands(canvas: &mut Canvas, diagram: &Diagram, layout: &Layout) {
    canvas.open("zones", "Zones, front to rear");
    let last = diagram.bands.len();
    for (band, name) in diagram.bands.iter().enumerate() {
        let (x0, x1) = (layout.walls[band], layout.walls[band + 1]);
        let words = label::shorten(name, Face::Bold, TEXT_MM, x1 - x0 - 2.0);
        canvas.text(
            ((x0 + x1) / 2.0, baseline(1.0, 0, TEXT_MM)),
            Anchor::Middle,
            Lettering::ink(Face::Bold, TEXT_MM),
            &words,
        );
        if band + 1 < last {
            let thin = Stroke { colour: PALE, weight: 0.25, dashes: &[6.0, 1.0, 0.8, 1.0] };
            canvas.line(&[(x1, 0.0), (x1, layout.height)], thin);
        }
    }
    canvas.line(&[(0.0, layout.head - 0.6), (layout.width, layout.head - 0.6)], Stroke::solid(PALE, 0.25));
    canvas.close();
}

fn parts(canvas: &mut Canvas, diagram: &Diagram, layout: &Layout) {
    canvas.open("parts", "Parts");
    for (item, at) in diagram.items.iter().zip(&layout.items) {
        canvas.open("part", &item.label.join(" "));
        let half = item.symbol.half_width();
        let edge = if item.bar {
            let (x0, x1) = at.bar;
            match item.symbol {
                Symbol::Engine => {
                    canvas.boxed(x0, at.y - 1.2, x1, at.y + 1.2, Stroke::solid(INK, 0.5), "#d9d9d9");
                }
                Symbol::Onward => item.symbol.draw(canvas, at.x, at.y),
                Symbol::Busbar => canvas.line(&[(x0, at.y), (x1, at.y)], Stroke::solid(INK, 1.8)),
                _ => canvas.line(&[(x0, at.y), (x1, at.y)], Stroke::solid(INK, 1.0)),
            }
            let area = canvas.area(x0, at.y - 1.2, x1, at.y + 1.2);
            canvas.geometry.parts.push(PartBox {
                name: item.name.clone(),
                nodes: item.terms.iter().map(|t| t.node.0).collect(),
                area,
            });
            x1
        } else {
            item.symbol.draw(canvas, at.x, at.y);
            let area = canvas.area(at.x - half, at.y - REACH, at.x + half, at.y + REACH);
            canvas.geometry.parts.push(PartBox {
                name: item.name.clone(),
                nodes: item.terms.iter().map(|t| t.node.0).collect(),
                area,
            });
            for term in &item.terms {
                if let Some(positive) = term.sign {
                    let up = term.home == super::model::Home::Top;
                    let x = at.x + f64::from(term.dx) * super::model::GRID;
                    let side = if term.dx < 0 { -1.5 } else { 1.5 };
                    symbols::sign(canvas, x + side, if up { at.y - 5.1 } else { at.y + 5.1 }, positive);
                }
            }
            at.x + half
        };
        let lines = item.label.len();
        let y = at.y - lines as f64 * LEADING * TEXT_MM / 2.0;
        for (k, words) in item.label.iter().enumerate() {
            let face = if k + 1 == lines && item.figure { Face::Regular } else { Face::Bold };
            canvas.text(
                (edge + PART_GAP, baseline(y, k, TEXT_MM)),
                Anchor::Start,
                Lettering::ink(face, TEXT_MM),
                words,
            );
        }
        canvas.close();
    }
    for (x, y) in &layout.frames {
        symbols::frame(canvas, *x, *y);
    }
    if let (Some((_, name, words)), Some(foot)) = (&diagram.body, layout.foot) {
        canvas.open("part", words);
        let (x0, x1) = foot.x;
        canvas.line(&[(x0, foot.y), (x1, foot.y)], Stroke::solid(INK, 1.0));
        let words = label::shorten(&format!("{} {words}", diagram.body_tag), Face::Bold, TEXT_MM, x1 - x0 - 8.0);
        let wide = label::width(&words, Face::Bold, TEXT_MM);
        let hatch = Stroke::solid(INK, 0.35);
        let mut x = x0 + 2.0;
        while x < x1 {
            // The hatch leaves the words clear.
            if x < x0 + 4.0 || x > x0 + 8.0 + wide {
                canvas.line(&[(x, foot.y), (x - 1.6, foot.y + 2.4)], hatch);
            }
            x += 2.4;
        }
        canvas.text(
            (x0 + 5.0, baseline(foot.y + 1.0, 0, TEXT_MM)),
            Anchor::Start,
            Lettering::ink(Face::Bold, TEXT_MM),
            &words,
        );
        let area = canvas.area(x0, foot.y - 0.5, x1, foot.y + 0.5);
        canvas.geometry.parts.push(PartBox {
            name: name.clone(),
            nodes: diagram.body_nodes.iter().map(|n| n.0).collect(),
            area,
        });
        canvas.close();
    }
    canvas.close();
}

fn runs(canvas: &mut Canvas, diagram: &Diagram, layout: &Layout) {
    canvas.open("runs", "Runs");
    for joint in &layout.joints {
        canvas.line(&joint.points, Stroke::solid(colour(joint.kind), joint.weight));
    }
    for (w, (wire, at)) in diagram.wires.iter().zip(&layout.wires).enumerate() {
        canvas.open("run", &wire.title);
        // Each stem is drawn once for all the lines that share it.
        let from = at.stems[0].saturating_sub(1);
        let to = at.points.len() - at.stems[1].saturating_sub(1);
        canvas.line(&at.points[from..to], stroke(wire.kind, wire.weight));
        let points: Vec<(f64, f64)> = at.points.iter().map(|p| canvas.at(*p)).collect();
        let weight = canvas.area(0.0, 0.0, wire.weight, 0.0);
        canvas.geometry.runs.push(RunPath {
            name: match wire.id {
                WireId::Run(_) => wire.name.clone(),
                WireId::Bolt(_) => format!("{} (bolted)", wire.name),
            },
            points,
            stems: at.stems,
            weight: weight.x1 - weight.x0,
            ends: [wire.nodes[0].0, wire.nodes[1].0],
        });
        if let Some(label) = layout.labels.iter().find(|l| l.wire == w) {
            for (k, words) in wire.label.iter().enumerate() {
                canvas.text(
                    (label.x, baseline(label.y, k, TEXT_MM)),
                    Anchor::Start,
                    Lettering::ink(Face::Regular, TEXT_MM),
                    words,
                );
            }
        }
        canvas.close();
    }
    for ((x, y), kind) in &layout.dots {
        canvas.dot(*x, *y, 0.9, colour(*kind));
    }
    canvas.close();
}

const CAUTION: &str = "WARNING";
const CAUTION_WORDS: &str = "Battery return (−) off first and on last. A short circuit burns and starts fires: no rings, no loose tools \
    near live metal. The vehicle maker's instructions and local rules come first; where they differ, follow the stricter, and ask a \
    qualified person.";
const COLOUR_WORDS: &str = "Colours of this drawing: feed red, return black, the names of ABYC E-11. Existing looms differ: test, do not trust colour.";

fn border(canvas: &mut Canvas, guide: &Guide, diagram: &Diagram, facts: &Facts, page: Page, down: f64) {
    let (x0, x1) = (MARGIN, PAPER.0 - MARGIN);
    let (y0, y1) = (MARGIN, PAPER.1 - MARGIN);
    let frame = Stroke::solid(INK, 0.7);
    let thin = Stroke::solid(INK, 0.35);
    canvas.open("sheet", "Cautions, legend and title block");
    let strip = y1 - BLOCK_HEIGHT - STRIP;
    let block = y1 - BLOCK_HEIGHT;
    canvas.boxed(x0, y0, x1, y1, frame, "none");
    canvas.line(&[(x0, strip), (x1, strip)], thin);
    canvas.line(&[(x0, block), (x1, block)], thin);
    let left = x1 - BLOCK;
    canvas.line(&[(left, block), (left, y1)], thin);
    // Cautions.
    let size = TEXT_MM;
    let triangle = [(x0 + 3.0, strip + 7.0), (x0 + 7.0, strip + 7.0), (x0 + 5.0, strip + 3.4)];
    canvas.fill(&triangle, "#f2a100");
    canvas.line(&[triangle[0], triangle[1], triangle[2], triangle[0]], thin);
    canvas.line(&[(x0 + 5.0, strip + 4.7), (x0 + 5.0, strip + 5.8)], thin);
    canvas.line(&[(x0 + 5.0, strip + 6.2), (x0 + 5.0, strip + 6.5)], thin);
    let text_x = x0 + 9.0 + label::width(CAUTION, Face::Bold, size) + 3.0;
    canvas.text((x0 + 9.0, baseline(strip + 1.3, 0, size)), Anchor::Start, Lettering::ink(Face::Bold, size), CAUTION);
    let warning = label::wrap(CAUTION_WORDS, Face::Regular, size, x1 - 2.0 - text_x, 2);
    for (line, words) in warning.into_iter().enumerate() {
        canvas.text(
            (text_x, baseline(strip + 1.3, line, size)),
            Anchor::Start,
            Lettering::ink(Face::Regular, size),
            &words,
        );
    }
    let words = label::shorten(COLOUR_WORDS, Face::Regular, size, x1 - 2.0 - text_x);
    canvas.text((text_x, baseline(strip + 1.3, 2, size)), Anchor::Start, Lettering::ink(Face::Regular, size), &words);
    legend(canvas, diagram, down, (x0 + 2.0, block + 1.2), (left - 2.0, y1 - 1.0));
    title_block(canvas, guide, facts, page, (left, block), x1);
    canvas.close();
}

fn legend(canvas: &mut Canvas, diagram: &Diagram, down: f64, (x0, y0): (f64, f64), (x1, y1): (f64, f64)) {
    const PITCH: f64 = 5.4;
    let size = TEXT_MM;
    let (mut x, mut y) = (x0, y0);
    let mut kinds: Vec<LineKind> = diagram.wires.iter().map(|w| w.kind).collect();
    kinds.sort();
    kinds.dedup();
    let mut symbols: Vec<Symbol> = diagram.items.iter().map(|i| i.symbol).collect();
    let framed = diagram.items.iter().any(|i| i.terms.iter().any(|t| t.framed));
    symbols.sort();
    symbols.dedup();
    let mut next = |canvas: &mut Canvas, sample: f64, words: &str, draw: &dyn Fn(&mut Canvas, f64, f64)| {
        let wide = sample + 1.5 + label::width(words, Face::Regular, size) + 4.0;
        if x + wide > x1 + 4.0 {
            (x, y) = (x0, y + PITCH);
        }
        if y + PITCH > y1 + 0.5 {
            return;
        }
        draw(canvas, x, y + PITCH / 2.0);
        canvas.frame(1.0, 0.0, down);
        let base = y + PITCH / 2.0 + 0.36 * size;
        canvas.text((x + sample + 1.5, base), Anchor::Start, Lettering::ink(Face::Regular, size), words);
        x += wide;
    };
    for kind in kinds {
        next(canvas, 13.0, meaning(kind), &|canvas, x, y| {
            canvas.line(&[(x, y), (x + 13.0, y)], stroke(kind, if kind == LineKind::Bolted { 1.4 } else { 0.7 }));
        });
    }
    if framed {
        next(canvas, 5.0, "bolted to the body", &|canvas, x, y| symbols::frame(canvas, x + 2.4, y - 2.0));
    }
    for symbol in symbols.into_iter().filter(|s| !matches!(s, Symbol::Post | Symbol::Busbar | Symbol::Engine)) {
        next(canvas, 4.6, symbol.meaning(), &|canvas, x, y| {
            canvas.frame(0.42, x + 2.3, down + y);
            symbol.draw(canvas, 0.0, 0.0);
            canvas.frame(1.0, 0.0, down);
        });
    }
    next(canvas, 13.0, "line width follows size", &|canvas, x, y| {
        for (k, weight) in [0.35, 0.7, 1.4].into_iter().enumerate() {
            let x = x + 4.6 * k as f64;
            canvas.line(&[(x, y), (x + 3.8, y)], Stroke::solid(INK, weight));
        }
    });
}

fn title_block(canvas: &mut Canvas, guide: &Guide, facts: &Facts, page: Page, (x0, y0): (f64, f64), x1: f64) {
    let thin = Stroke::solid(INK, 0.35);
    // A long title is set in two lines rather than cut off.
    let mut size = 1.35 * TEXT_MM;
    let mut lines = vec![guide.title.value.clone()];
    if label::width(&guide.title.value, Face::Bold, size) > x1 - x0 - 4.0 {
        size = TEXT_MM;
        lines = label::wrap(&guide.title.value, Face::Bold, size, x1 - x0 - 4.0, 2);
    }
    let top = y0 + (TITLE_ROW - lines.len() as f64 * LEADING * size) / 2.0;
    for (k, words) in lines.iter().enumerate() {
        canvas.text((x0 + 2.0, baseline(top, k, size)), Anchor::Start, Lettering::ink(Face::Bold, size), words);
    }
    let date = guide.written.value.to_string();
    let by = guide.by.as_ref().map(|b| b.value.clone()).unwrap_or_default();
    let checked = guide.record.as_ref().map(|r| r.by.value.clone()).unwrap_or_default();
    let digest: String = facts.digest.as_deref().unwrap_or("").chars().take(8).collect();
    let none = |s: String| if s.is_empty() { "–".to_owned() } else { s };
    let rows: [Vec<(&str, String, f64)>; 3] = [
        vec![("Wiring drawing", guide.slug.clone(), 0.64), ("Date", date, 0.36)],
        vec![("Drawn for", none(by), 0.5), ("Checked", none(checked), 0.5)],
        vec![
            ("Digest", none(digest), 0.35),
            ("Sheet", format!("{}/{}", page.number + 1, page.of), 0.2),
            ("A4", String::new(), 0.11),
            ("not to scale", String::new(), 0.34),
        ],
    ];
    for (r, row) in rows.into_iter().enumerate() {
        let y = y0 + TITLE_ROW + r as f64 * ROW;
        canvas.line(&[(x0, y), (x1, y)], thin);
        let mut x = x0;
        for (k, (caption, value, share)) in row.into_iter().enumerate() {
            if k > 0 {
                canvas.line(&[(x, y), (x, y + ROW)], thin);
            }
            let wide = share * (x1 - x0);
            let base = baseline(y + 0.85, 0, TEXT_MM);
            canvas.text(
                (x + 2.0, base),
                Anchor::Start,
                Lettering { face: Face::Regular, size: TEXT_MM, colour: PALE },
                caption,
            );
            let used = 2.0 + label::width(caption, Face::Regular, TEXT_MM) + 1.5;
            let words = label::shorten(&value, Face::Bold, TEXT_MM, wide - used - 1.0);
            canvas.text((x + used, base), Anchor::Start, Lettering::ink(Face::Bold, TEXT_MM), &words);
            x += wide;
        }
    }
}
