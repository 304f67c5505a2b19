//! Drawings: wiring, plan and plots.
//!
//! Knows no site: a drawing is bytes with a name. Data flows one way here too: `model` puts a circuit
//! into words and symbols (`wordings`: as many as there is room for), `place` orders it in rows, `seek`
//! finds rows whose lines cross less (`tangle` tells at once how often they must), `route` gives every
//! line and label its place, `search` keeps the best for a sheet, `arrange` deals a circuit out to sheets
//! (`split` says how), `wiring` sets that down, `sheet` draws what stands around it, and `svg_out` alone
//! writes. The `plan` needs no search.

use crate::circuit::{Circuit, PartId, RunId};
use crate::guide::Guide;

pub mod arrange;
pub mod label;
pub mod model;
pub mod place;
pub mod plan;
pub mod planar;
pub mod plots;
mod qr;
pub mod route;
#[doc(hidden)]
pub mod sample;
pub mod search;
mod seek;
pub mod sheet;
pub mod split;
pub mod svg_out;
mod symbol_sheet;
pub mod symbols;
mod tangle;
pub mod wiring;
mod wordings;

pub use sheet::Facts;
pub use svg_out::Geometry;
pub use symbol_sheet::symbol_sheet;

/// One drawing.
#[derive(Clone, Debug)]
pub struct Picture {
    /// `wiring`, `plan` …: what a guide's text calls it by, and its file's name.
    pub name: &'static str,
    /// For people: "How it is wired".
    pub title: String,
    /// The drawing in words, for those who cannot see it.
    pub description: String,
    /// The SVG file.
    pub svg: String,
    /// Width and height of the SVG in its own units.
    pub size: (f64, f64),
    /// Where everything lies, in mm of paper.
    pub geometry: Geometry,
}

impl Picture {
    /// Upper and lower edge of every sheet, from the top, in the SVG's own units.
    pub fn sheets(&self) -> Vec<(f64, f64)> {
        self.geometry.sheets.iter().map(|s| (s.y0 * svg_out::UNITS, s.y1 * svg_out::UNITS)).collect()
    }
}

/// How often the order of parts is shaken and mended again before it is drawn.
pub const EFFORT: usize = 40;

/// The wiring drawing.
pub fn wiring(guide: &Guide, circuit: &Circuit) -> Picture {
    wiring_with(guide, circuit, &Facts::default())
}

/// The wiring drawing, its title block filled from `facts`. One that does not fit a sheet of A4 at 9 pt takes
/// several, one below the other.
pub fn wiring_with(guide: &Guide, circuit: &Circuit, facts: &Facts) -> Picture {
    let sheets = arrange::arrange(circuit, EFFORT);
    picture("wiring", "How it is wired", guide, model::in_words(circuit), sheets.len(), |canvas| {
        for (number, arranged) in sheets.iter().enumerate() {
            let page = sheet::Page { number, of: sheets.len() };
            wiring::draw(canvas, arranged, page);
            sheet::border(canvas, guide, "Wiring drawing", &wiring::used(arranged), facts, page);
        }
    })
}

/// The plan: where each part sits, and how much of each run lies in which zone.
pub fn plan(guide: &Guide, circuit: &Circuit) -> Picture {
    plan_with(guide, circuit, &Facts::default())
}

/// The plan, its title block filled from `facts`.
pub fn plan_with(guide: &Guide, circuit: &Circuit, facts: &Facts) -> Picture {
    let laid = plan::Laid::of(guide, circuit);
    picture("plan", "Where it goes", guide, laid.in_words(), laid.sheets(), |canvas| plan::draw(canvas, &laid, facts))
}

/// Paper for a number of sheets, drawn on and finished.
fn picture(
    name: &'static str,
    title: &str,
    guide: &Guide,
    description: String,
    sheets: usize,
    draw: impl FnOnce(&mut svg_out::Canvas),
) -> Picture {
    let (width, height) = (sheet::PAPER.0, sheet::PAPER.1 * sheets as f64);
    let full_title = format!("{}: {}", guide.title.value, title.to_lowercase());
    let mut canvas = svg_out::Canvas::new(name, width, height, &full_title, &description);
    draw(&mut canvas);
    let (svg, geometry) = canvas.finish();
    let size = (width * svg_out::UNITS, height * svg_out::UNITS);
    Picture { name, title: title.to_owned(), description, svg, size, geometry }
}

/// A run's mark on the drawings, on its cable and in every list: `W3`.
pub fn run_mark(run: RunId) -> String {
    model::mark(run)
}

/// A part's reference designator on the drawings and in every list: `F2`.
pub fn part_tag(circuit: &Circuit, part: PartId) -> String {
    model::tags(circuit).get(part.0).cloned().unwrap_or_default()
}
