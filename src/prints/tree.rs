//! Reading a picture's SVG into the one tree that every print is made from.

use std::sync::{Arc, OnceLock};

use resvg::usvg::fontdb::{Database, Source};
use resvg::usvg::{Group, ImageHrefResolver, Node, Options, Tree};

use super::Paper;
use crate::drawing::label;

/// The two faces that drawings are measured with, and no other: a print must not depend on what a machine has installed.
fn fonts() -> Arc<Database> {
    static FONTS: OnceLock<Arc<Database>> = OnceLock::new();
    let load = || {
        let mut fonts = Database::new();
        for face in [label::Face::Regular, label::Face::Bold] {
            fonts.load_font_source(Source::Binary(Arc::new(label::font(face))));
        }
        fonts.set_sans_serif_family(label::FAMILY);
        Arc::new(fonts)
    };
    Arc::clone(FONTS.get_or_init(load))
}

/// Reads an SVG. Nothing outside its own text is ever looked at: no file, no address, no font of the machine.
pub fn read(svg: &str) -> Result<Tree, String> {
    let options = Options {
        font_family: label::FAMILY.to_owned(),
        fontdb: fonts(),
        image_href_resolver: ImageHrefResolver {
            resolve_data: Box::new(|_, _, _| None),
            resolve_string: Box::new(|_, _| None),
        },
        ..Options::default()
    };
    Tree::from_str(svg, &options).map_err(|error| format!("a picture cannot be read for printing: {error}"))
}

/// Where a picture is cut to lie on pages of a paper without being made smaller than the paper's width asks: upper and
/// lower edge of each piece, in units of the tree. A cut is made where it goes through nothing.
pub fn pieces(tree: &Tree, paper: Paper) -> Vec<(f32, f32)> {
    let (width, height) = (tree.size().width(), tree.size().height());
    let (page_width, page_height) = paper.points();
    // A hair more than a page is left to be scaled: edges of sheets round differently.
    let most = page_height / page_width * width * 1.005;
    if height <= most {
        return vec![(0.0, height)];
    }
    let mut marks = Vec::new();
    collect(tree.root(), height, &mut marks);
    marks.sort_by(|a, b| a.top.total_cmp(&b.top).then(b.is_heading.cmp(&a.is_heading)));
    // Gaps between marks, from top to bottom: where to cut, whether a heading follows, how wide the gap is.
    let mut gaps = Vec::new();
    let mut lowest = 0.0_f32;
    for mark in marks {
        if lowest < mark.top {
            gaps.push(((lowest + mark.top) / 2.0, mark.is_heading, mark.top - lowest));
        }
        lowest = lowest.max(mark.bottom);
    }
    let mut cuts = vec![0.0_f32];
    while let Some(&last) = cuts.last()
        && most < height - last
    {
        // Above a heading if there is one, in the widest gap. A page that is mostly empty helps nobody: then the whole is
        // made smaller.
        let on_page = gaps.iter().filter(|(gap, ..)| most / 2.0 < *gap - last && *gap - last <= most);
        match on_page.max_by(|a, b| a.1.cmp(&b.1).then(a.2.total_cmp(&b.2))) {
            Some((next, ..)) => cuts.push(*next),
            None => return vec![(0.0, height)],
        }
    }
    cuts.push(height);
    cuts.windows(2).map(|pair| (pair[0], pair[1])).collect()
}

/// Something drawn, as far as cutting is concerned.
struct Mark {
    top: f32,
    bottom: f32,
    is_heading: bool,
}

/// Everything drawn but what fills the whole picture.
fn collect(group: &Group, height: f32, marks: &mut Vec<Mark>) {
    for node in group.children() {
        if let Node::Group(group) = node {
            collect(group, height, marks);
            continue;
        }
        let area = node.abs_stroke_bounding_box();
        if area.height() < 0.9 * height {
            // What is set in bold says what the rest is about.
            let is_heading = matches!(node, Node::Text(text) if text.chunks().iter().flat_map(|c| c.spans()).all(|s| 600 <= s.font().weight()));
            marks.push(Mark { top: area.top(), bottom: area.bottom(), is_heading });
        }
    }
}
