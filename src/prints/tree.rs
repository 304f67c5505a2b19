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
        // Above the last heading that fits, or else in the last gap; of gaps, only those about as wide as the widest, as the
        // narrow ones part what belongs together. A page that is mostly empty helps nobody: then the whole is made smaller.
        let fits: Vec<_> = gaps.iter().filter(|(gap, ..)| most / 2.0 < *gap - last && *gap - last <= most).collect();
        let heads = fits.iter().any(|gap| gap.1);
        let good = |gap: &&&(f32, bool, f32)| gap.1 == heads;
        let widest = fits.iter().filter(good).map(|gap| gap.2).fold(0.0, f32::max);
        match fits.iter().filter(good).rfind(|gap| 0.9 * widest <= gap.2) {
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

#[cfg(test)]
mod tests {
    use super::*;

    fn svg(height: f32, marks: &str) -> Tree {
        read(&format!(
            "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 2970 {height}' font-family='{}'>\
             <rect width='2970' height='{height}' fill='#fff'/>{marks}</svg>",
            label::FAMILY
        ))
        .unwrap()
    }

    /// A panel: a heading, and a box with its caption well below it.
    fn panel(top: f32) -> String {
        format!(
            "<text x='100' y='{}' font-size='40' font-weight='bold' fill='#000'>Heading</text>\
             <rect x='100' y='{}' width='800' height='500' fill='#000'/>\
             <text x='100' y='{}' font-size='40' fill='#000'>caption</text>",
            top + 40.0,
            top + 60.0,
            top + 760.0
        )
    }

    #[test]
    fn a_picture_of_one_sheet_is_one_page() {
        for paper in Paper::ALL {
            assert_eq!(pieces(&svg(2100.0, &panel(0.0)), paper), [(0.0, 2100.0)]);
        }
    }

    #[test]
    fn a_tall_picture_is_cut_above_a_heading_through_nothing() {
        let tops = [50.0, 1000.0, 1950.0, 2900.0];
        let tree = svg(3800.0, &tops.map(panel).concat());
        for paper in Paper::ALL {
            let pieces = pieces(&tree, paper);
            assert_eq!(pieces.len(), 2, "{pieces:?}");
            assert_eq!((pieces[0].0, pieces[0].1, pieces[1].1), (0.0, pieces[1].0, 3800.0));
            let cut = pieces[0].1;
            // Below the second panel's caption, above the third one's heading.
            assert!(1000.0 + 760.0 < cut && cut < 1950.0 + 40.0, "{cut}");
        }
    }

    #[test]
    fn what_cannot_be_cut_is_made_smaller() {
        let one = "<rect x='100' y='200' width='800' height='3400' fill='#000'/>";
        assert_eq!(pieces(&svg(3800.0, one), Paper::A4), [(0.0, 3800.0)]);
    }

    #[test]
    fn nothing_outside_the_svg_is_read() {
        let place = tempfile::tempdir().unwrap();
        let file = place.path().join("x.svg");
        std::fs::write(
            &file,
            "<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'><rect width='9' height='9'/></svg>",
        )
        .unwrap();
        let image = format!("<image href='{}' width='9' height='9'/>", file.display());
        let drawn = |tree: &Tree| tree.root().children().len();
        assert_eq!(drawn(&svg(2100.0, &image)), drawn(&svg(2100.0, "")));
    }
}
