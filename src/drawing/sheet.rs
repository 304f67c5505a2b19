//! The sheet: frame, title block, legend and cautions around the room that is left for a drawing.
//!
//! Title block after the fields of ISO 7200; line widths of ISO 128-2. Knows which words belong on
//! every sheet, and nothing of what is drawn in the room.

use super::label::{self, Face, LEADING, TEXT_MM};
use super::model::{Diagram, LineKind};
use super::place::Room;
use super::svg_out::{Anchor, Canvas, INK, Lettering, PALE, Stroke};
use super::symbols::{self, Symbol};
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

/// The room for the drawing proper.
pub fn room() -> Room {
    Room {
        width: PAPER.0 - 2.0 * MARGIN - 2.0 * CLEAR,
        height: PAPER.1 - 2.0 * MARGIN - BLOCK_HEIGHT - STRIP - 2.0 * CLEAR,
    }
}

/// The upper left corner of the room on a sheet, when sheets lie below one another.
pub fn corner(number: usize) -> (f64, f64) {
    (MARGIN + CLEAR, number as f64 * PAPER.1 + MARGIN + CLEAR)
}

/// Which of how many sheets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Page {
    /// From 0.
    pub number: usize,
    /// How many there are.
    pub of: usize,
}

/// What a sheet's legend must explain.
#[derive(Clone, Debug, Default)]
pub struct Used {
    /// Kinds of line.
    pub kinds: Vec<LineKind>,
    /// Symbols.
    pub symbols: Vec<Symbol>,
    /// Whether a frame symbol stands under a part.
    pub framed: bool,
}

impl Used {
    /// What a diagram uses.
    pub fn of(diagram: &Diagram) -> Used {
        let mut kinds: Vec<LineKind> = diagram.wires.iter().map(|w| w.kind).collect();
        kinds.sort();
        kinds.dedup();
        let mut symbols: Vec<Symbol> = diagram.items.iter().map(|i| i.symbol).collect();
        symbols.sort();
        symbols.dedup();
        let framed = diagram.items.iter().any(|i| i.terms.iter().any(|t| t.framed));
        Used { kinds, symbols, framed }
    }
}

/// Baselines of a block of lines whose top edge is at `y`.
pub fn baseline(y: f64, line: usize, size: f64) -> f64 {
    y + (line as f64 * LEADING + label::ASCENT) * size
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

const CAUTION: &str = "WARNING";
const CAUTION_WORDS: &str = "Battery return (−) off first and on last. A short circuit burns and starts fires: no rings, no loose tools \
    near live metal. The vehicle maker's instructions and local rules come first; where they differ, follow the stricter, and ask a \
    qualified person.";
const COLOUR_WORDS: &str = "Colours of this drawing: feed red, return black, the names of ABYC E-11. Existing looms differ: test, do not trust colour.";

/// Draws all that stands around the drawing proper. `document` names the kind of drawing; `page` says where the sheet lies.
pub fn border(canvas: &mut Canvas, guide: &Guide, document: &str, used: &Used, facts: &Facts, page: Page) {
    let down = canvas.page_top(page.number);
    canvas.frame(1.0, 0.0, down);
    let sheet = canvas.area(0.0, 0.0, PAPER.0, PAPER.1);
    canvas.geometry.sheets.push(sheet);
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
    legend(canvas, used, down, (x0 + 2.0, block + 1.2), (left - 2.0, y1 - 1.0));
    title_block(canvas, guide, document, facts, page, (left, block), x1);
    canvas.close();
}

fn legend(canvas: &mut Canvas, used: &Used, down: f64, (x0, y0): (f64, f64), (x1, y1): (f64, f64)) {
    const PITCH: f64 = 5.4;
    let size = TEXT_MM;
    let (mut x, mut y) = (x0, y0);
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
    for kind in used.kinds.iter().copied() {
        next(canvas, 13.0, meaning(kind), &|canvas, x, y| {
            canvas.line(&[(x, y), (x + 13.0, y)], stroke(kind, if kind == LineKind::Bolted { 1.4 } else { 0.7 }));
        });
    }
    if used.framed {
        next(canvas, 5.0, "bolted to the body", &|canvas, x, y| symbols::frame(canvas, x + 2.4, y - 2.0));
    }
    for symbol in used.symbols.iter().copied().filter(|s| !matches!(s, Symbol::Post | Symbol::Busbar | Symbol::Engine))
    {
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

fn title_block(
    canvas: &mut Canvas,
    guide: &Guide,
    document: &str,
    facts: &Facts,
    page: Page,
    (x0, y0): (f64, f64),
    x1: f64,
) {
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
        vec![(document, guide.slug.clone(), 0.64), ("Date", date, 0.36)],
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
