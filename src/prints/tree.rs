//! Reading a picture's SVG into the one tree that every print is made from.

use std::sync::{Arc, OnceLock};

use resvg::usvg::fontdb::{Database, Source};
use resvg::usvg::{ImageHrefResolver, Options, Tree};

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
