//! A tree's lines, fills and words onto the page of a PDF.
//!
//! The drawings use few of the things that SVG has: shapes in plain colours, and upright lines of text. They are laid
//! down here a line of text at a time. (The general way, one letter at a time, takes two to three times as long and parts
//! the letters of a word from each other.) Anything else in a tree is an error: a print never silently leaves something out.

use krilla::color::{luma, rgb};
use krilla::geom::{PathBuilder, Point, Transform};
use krilla::num::NormalizedF32;
use krilla::paint::{Fill, FillRule, LineCap, LineJoin, Paint, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::text::{Font, GlyphId, KrillaGlyph};
use resvg::tiny_skia::{self, PathSegment};
use resvg::usvg::fontdb::{ID, Source};
use resvg::usvg::layout::{PositionedGlyph, Span};
use resvg::usvg::{self, Group, Node, Tree};

/// Fonts that a document uses, each made once.
#[derive(Default)]
pub struct Fonts(Vec<(ID, Font)>);

impl Fonts {
    fn get(&mut self, tree: &Tree, id: ID) -> Result<Font, String> {
        if let Some((_, font)) = self.0.iter().find(|(known, _)| *known == id) {
            return Ok(font.clone());
        }
        let font = match tree.fontdb().face_source(id) {
            Some((Source::Binary(data), index)) => Font::new(data.into(), index),
            _ => None,
        };
        let font = font.ok_or("a picture asks for a font that is not the drawings' own")?;
        self.0.push((id, font.clone()));
        Ok(font)
    }
}

/// Lays a tree down on a surface, a unit of the tree for a unit of the surface.
pub fn tree(surface: &mut Surface<'_>, tree: &Tree, fonts: &mut Fonts) -> Result<(), String> {
    group(surface, tree, tree.root(), fonts)
}

fn group(surface: &mut Surface<'_>, tree: &Tree, group: &Group, fonts: &mut Fonts) -> Result<(), String> {
    let seen_through = group.opacity().get() < 1.0 || group.blend_mode() != usvg::BlendMode::Normal;
    if seen_through || group.clip_path().is_some() || group.mask().is_some() || !group.filters().is_empty() {
        return Err("a picture has what is seen through or cut off, which its PDF cannot show".into());
    }
    let moved = !group.transform().is_identity();
    if moved {
        surface.push_transform(&transform(group.transform()));
    }
    for node in group.children() {
        match node {
            Node::Group(inner) => self::group(surface, tree, inner, fonts)?,
            Node::Path(path) => shape(surface, path)?,
            Node::Text(text) => {
                for span in text.layouted().iter().filter(|span| span.visible) {
                    words(surface, tree, span, fonts)?;
                }
            }
            Node::Image(_) => return Err("a picture has an image inside, which its PDF cannot show".into()),
        }
    }
    if moved {
        surface.pop();
    }
    Ok(())
}

fn shape(surface: &mut Surface<'_>, path: &usvg::Path) -> Result<(), String> {
    if !path.is_visible() || (path.fill().is_none() && path.stroke().is_none()) {
        return Ok(());
    }
    if path.paint_order() != usvg::PaintOrder::FillAndStroke {
        return Err("a picture has a line below its own filling, which its PDF cannot show".into());
    }
    surface.set_fill(path.fill().map(fill).transpose()?);
    surface.set_stroke(path.stroke().map(stroke).transpose()?);
    if let Some(outline) = outline(path.data()) {
        surface.draw_path(&outline);
    }
    Ok(())
}

/// A span of text. Letters that stand on one line at one size are laid together.
fn words(surface: &mut Surface<'_>, tree: &Tree, span: &Span, fonts: &mut Fonts) -> Result<(), String> {
    if span.underline.is_some() || span.overline.is_some() || span.line_through.is_some() || span.stroke.is_some() {
        return Err("a picture has words with a line through or around them, which its PDF cannot show".into());
    }
    let Some(paint) = &span.fill else { return Ok(()) };
    surface.set_fill(Some(fill(paint)?));
    surface.set_stroke(None);
    let together =
        |a: &PositionedGlyph, b: &PositionedGlyph| a.font == b.font && same_line(a.transform(), b.transform());
    for glyphs in span.positioned_glyphs.chunk_by(together) {
        let font = fonts.get(tree, glyphs[0].font)?;
        let size = glyphs[0].font_size();
        // A letter's transform leads from its font's units; the surface goes from units to the text's size by itself.
        let units = font.units_per_em() / size;
        let first = glyphs[0].transform().pre_scale(units, units);
        let across = first.sx * size;
        if !(0.0 < across && first.kx == 0.0 && first.ky == 0.0) {
            return Err("a picture has words that do not stand upright, which its PDF cannot show".into());
        }
        let mut text = String::new();
        let mut laid = Vec::with_capacity(glyphs.len());
        for (n, glyph) in glyphs.iter().enumerate() {
            let from = text.len();
            text.push_str(&glyph.text);
            let next = glyphs.get(n + 1);
            // In shares of the text's size, as far as where the next letter begins.
            let advance = next.map_or(0.0, |next| (next.transform().tx - glyph.transform().tx) / across);
            let id = GlyphId::new(u32::from(glyph.id.0));
            laid.push(KrillaGlyph::new(id, advance, 0.0, 0.0, 0.0, from..text.len(), None));
        }
        surface.push_transform(&transform(first));
        surface.draw_glyphs(Point::from_xy(0.0, 0.0), &laid, font, &text, size, false);
        surface.pop();
    }
    Ok(())
}

/// Whether two letters stand on one line at one size.
fn same_line(a: usvg::Transform, b: usvg::Transform) -> bool {
    let near = |a: f32, b: f32| (a - b).abs() <= 1e-4 * a.abs();
    near(a.sx, b.sx) && near(a.sy, b.sy) && near(a.ty, b.ty) && (a.kx, a.ky) == (b.kx, b.ky)
}

fn transform(t: usvg::Transform) -> Transform {
    Transform::from_row(t.sx, t.ky, t.kx, t.sy, t.tx, t.ty)
}

fn paint(paint: &usvg::Paint) -> Result<Paint, String> {
    match paint {
        usvg::Paint::Color(c) if c.red == c.green && c.green == c.blue => Ok(luma::Color::new(c.red).into()),
        usvg::Paint::Color(c) => Ok(rgb::Color::new(c.red, c.green, c.blue).into()),
        _ => Err("a picture has a shade that runs from one colour to another, which its PDF cannot show".into()),
    }
}

fn fill(fill: &usvg::Fill) -> Result<Fill, String> {
    let rule = match fill.rule() {
        usvg::FillRule::NonZero => FillRule::NonZero,
        usvg::FillRule::EvenOdd => FillRule::EvenOdd,
    };
    Ok(Fill { paint: paint(fill.paint())?, opacity: share(fill.opacity()), rule })
}

fn stroke(stroke: &usvg::Stroke) -> Result<Stroke, String> {
    let line_cap = match stroke.linecap() {
        usvg::LineCap::Butt => LineCap::Butt,
        usvg::LineCap::Round => LineCap::Round,
        usvg::LineCap::Square => LineCap::Square,
    };
    let line_join = match stroke.linejoin() {
        usvg::LineJoin::Miter | usvg::LineJoin::MiterClip => LineJoin::Miter,
        usvg::LineJoin::Round => LineJoin::Round,
        usvg::LineJoin::Bevel => LineJoin::Bevel,
    };
    let dash = stroke.dasharray().map(|array| StrokeDash { array: array.to_vec(), offset: stroke.dashoffset() });
    Ok(Stroke {
        paint: paint(stroke.paint())?,
        width: stroke.width().get(),
        miter_limit: stroke.miterlimit().get(),
        line_cap,
        line_join,
        opacity: share(stroke.opacity()),
        dash,
    })
}

fn share(opacity: usvg::Opacity) -> NormalizedF32 {
    NormalizedF32::new(opacity.get()).unwrap_or(NormalizedF32::ONE)
}

fn outline(path: &tiny_skia::Path) -> Option<krilla::geom::Path> {
    let mut to = PathBuilder::new();
    for segment in path.segments() {
        match segment {
            PathSegment::MoveTo(p) => to.move_to(p.x, p.y),
            PathSegment::LineTo(p) => to.line_to(p.x, p.y),
            PathSegment::QuadTo(a, p) => to.quad_to(a.x, a.y, p.x, p.y),
            PathSegment::CubicTo(a, b, p) => to.cubic_to(a.x, a.y, b.x, b.y, p.x, p.y),
            PathSegment::Close => to.close(),
        }
    }
    to.finish()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn laid(inside: &str) -> Result<(), String> {
        let svg = format!(
            "<svg xmlns='http://www.w3.org/2000/svg' width='90' height='90' font-family='{}'>{inside}</svg>",
            crate::drawing::label::FAMILY
        );
        let read = crate::prints::tree::read(&svg)?;
        let mut document = krilla::Document::new();
        let mut page = document.start_page();
        tree(&mut page.surface(), &read, &mut Fonts::default())
    }

    #[test]
    fn what_it_cannot_lay_down_it_does_not_leave_out_in_silence() {
        assert_eq!(laid("<path d='M1 1L9 9' stroke='#000000'/><text x='5' y='9' fill='#000000'>W1</text>"), Ok(()));
        for odd in [
            "<g opacity='0.5'><rect width='9' height='9'/><rect x='4' width='9' height='9'/></g>",
            "<clipPath id='c'><rect width='5' height='5'/></clipPath><rect width='9' height='9' clip-path='url(#c)'/>",
            "<linearGradient id='g'><stop stop-color='red'/><stop offset='1'/></linearGradient><rect width='9' height='9' fill='url(#g)'/>",
        ] {
            let said = laid(odd);
            assert!(said.as_ref().is_err_and(|words| words.ends_with("which its PDF cannot show")), "{odd}: {said:?}");
        }
    }
}
