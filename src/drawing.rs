//! Drawings: wiring, and later plan and plots.
//!
//! Knows no site: a drawing is bytes with a name.

use crate::circuit::Circuit;
use crate::guide::Guide;

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
}

/// The wiring drawing.
pub fn wiring(guide: &Guide, _circuit: &Circuit) -> Picture {
    Picture {
        name: "wiring",
        title: "How it is wired".into(),
        description: guide.title.value.clone(),
        svg: String::new(),
        size: (0.0, 0.0),
    }
}
