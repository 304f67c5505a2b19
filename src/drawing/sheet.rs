//! The sheet: frame, title block, legend and cautions around the room that is left for a drawing.
//!
//! Title block after the fields of ISO 7200; line widths of ISO 128-2. Knows which words belong on
//! every sheet, and nothing of what is drawn in the room.

use super::label::{self, Face, LEADING, TEXT_MM};
use super::model::{Diagram, LineKind};
use super::place::Room;
use super::qr::Code;
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
const ROW: f64 = 4.8;
/// Rows of the title block below the title.
const ROWS: f64 = 4.0;
/// Height of the strip of cautions.
const STRIP: f64 = 3.0 * LEADING * TEXT_MM + 2.6;
/// Height of the title block.
pub(super) const BLOCK_HEIGHT: f64 = TITLE_ROW + ROWS * ROW;
/// Height of the title's own row.
const TITLE_ROW: f64 = 8.2;
/// Clear space around the drawing proper.
const CLEAR: f64 = 2.0;

/// What the sheet says beside the drawing.
#[derive(Clone, Debug, Default)]
pub struct Facts {
    /// Digest of the numbers, in hex; the first eight digits are printed.
    pub digest: Option<String>,
    /// Who publishes the drawing.
    pub owner: Option<String>,
    /// Address of the guide's page, for a QR code.
    pub address: Option<String>,
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
        LineKind::Feed => &[],
        // In grey, heavy and plain would pass for a thick feed.
        LineKind::Bolted => &[2.4, 0.6, 0.6, 0.6, 0.6, 0.6],
        LineKind::Return => &[4.2, 1.4],
        LineKind::Loose => &[2.0, 1.0, 0.6, 1.0],
        LineKind::Strap => &[1.1, 0.9],
    };
    Stroke { colour: colour(kind), weight, dashes }
}

/// What the legend calls a kind of line.
pub fn meaning(kind: LineKind) -> &'static str {
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
    let code = facts.address.as_deref().and_then(Code::of);
    let right = if code.is_some() { x1 - BLOCK_HEIGHT } else { x1 };
    let left = right - BLOCK;
    canvas.line(&[(left, block), (left, y1)], thin);
    if let (Some(code), Some(address)) = (code, &facts.address) {
        canvas.line(&[(right, block), (right, y1)], thin);
        code.draw(canvas, address, (right, block), BLOCK_HEIGHT);
    }
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
    legend(canvas, used, down, (x0 + 2.0, block + 1.0), (left - 2.0, y1 - 0.6));
    title_block(canvas, guide, document, facts, page, (left, block), right);
    canvas.close();
}

/// What the legend shows at an entry's start.
#[derive(Clone, Copy)]
enum Sample {
    Line(LineKind),
    Symbol(Symbol),
    Frame,
    Weights,
}

/// Length of a line's sample, in mm.
const DASH: f64 = 11.0;
/// Heights that a legend's rows may have: as high as all entries allow.
const PITCHES: [f64; 5] = [7.6, 6.4, 5.4, 4.6, 4.0];

fn legend(canvas: &mut Canvas, used: &Used, down: f64, (x0, y0): (f64, f64), (x1, y1): (f64, f64)) {
    let size = TEXT_MM;
    let lines = used.kinds.iter().map(|kind| (Sample::Line(*kind), meaning(*kind)));
    let frame = used.framed.then_some((Sample::Frame, "bolted to the body"));
    // Bars name themselves.
    let named = |s: &&Symbol| !matches!(s, Symbol::Post | Symbol::Busbar | Symbol::Engine);
    let symbols = used.symbols.iter().filter(named).map(|s| (Sample::Symbol(*s), s.meaning()));
    let weights = std::iter::once((Sample::Weights, "line width follows size"));
    let entries: Vec<(Sample, &str)> = lines.chain(weights).chain(frame).chain(symbols).collect();
    let places = |pitch: f64| -> Option<Vec<(f64, f64)>> {
        let (mut x, mut y) = (x0, y0);
        let mut out = Vec::with_capacity(entries.len());
        for (sample, words) in &entries {
            let wide = sample.width(pitch) + 1.5 + label::width(words, Face::Regular, size);
            if x + wide > x1 {
                (x, y) = (x0, y + pitch);
            }
            if y + pitch > y1 + 1e-9 {
                return None;
            }
            out.push((x, y + pitch / 2.0));
            x += wide + 4.0;
        }
        Some(out)
    };
    let Some((pitch, places)) = PITCHES.into_iter().find_map(|pitch| Some((pitch, places(pitch)?))) else {
        return;
    };
    for ((sample, words), (x, y)) in entries.iter().zip(places) {
        match *sample {
            Sample::Line(kind) => {
                let weight = if kind == LineKind::Bolted { 1.4 } else { 0.7 };
                canvas.line(&[(x, y), (x + DASH, y)], stroke(kind, weight));
            }
            Sample::Symbol(symbol) => {
                let scale = sample_scale(pitch);
                canvas.frame(scale, x + sample.width(pitch) / 2.0, down + y);
                symbol.draw(canvas, 0.0, 0.0);
                canvas.frame(1.0, 0.0, down);
            }
            Sample::Frame => symbols::frame(canvas, x + 2.4, y - 1.7),
            Sample::Weights => {
                for (k, weight) in [0.35, 0.7, 1.4].into_iter().enumerate() {
                    let x = x + 3.9 * k as f64;
                    canvas.line(&[(x, y), (x + 3.2, y)], Stroke::solid(INK, weight));
                }
            }
        }
        let base = y + 0.36 * size;
        let x = x + sample.width(pitch) + 1.5;
        canvas.text((x, base), Anchor::Start, Lettering::ink(Face::Regular, size), words);
    }
}

/// The scale of a symbol in a row of the legend.
fn sample_scale(pitch: f64) -> f64 {
    (pitch - 0.4) / (2.0 * symbols::REACH)
}

impl Sample {
    fn width(self, pitch: f64) -> f64 {
        match self {
            Sample::Line(_) | Sample::Weights => DASH,
            Sample::Symbol(symbol) => 2.0 * symbol.half_width() * sample_scale(pitch),
            Sample::Frame => 5.0,
        }
    }
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
    let revised = guide.changes.iter().map(|c| c.dated.value).chain([guide.written.value]).max();
    let none = |s: Option<String>| s.filter(|s| !s.is_empty()).unwrap_or_else(|| "–".to_owned());
    let date = none(revised.map(|d| d.to_string()));
    let by = none(guide.by.as_ref().map(|b| b.value.clone()));
    let checked = none(guide.record.as_ref().map(|r| r.by.value.clone()));
    let digest = none(facts.digest.as_deref().map(|d| d.chars().take(8).collect()));
    let rows: [Vec<(&str, String, f64)>; 4] = [
        vec![(document, String::new(), 0.23), ("No.", guide.slug.clone(), 0.77)],
        vec![("Owner", none(facts.owner.clone()), 0.5), ("Author", by, 0.5)],
        vec![("Revised", date, 0.36), ("Checked", checked, 0.64)],
        vec![
            ("Digest", digest, 0.33),
            ("Sheet", format!("{}/{}", page.number + 1, page.of), 0.22),
            ("Paper A4", String::new(), 0.18),
            ("not to scale", String::new(), 0.27),
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
            let base = baseline(y + (ROW - LEADING * TEXT_MM) / 2.0, 0, TEXT_MM);
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
