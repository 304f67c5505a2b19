//! Pictures as PDF: lines as lines, text as text in embedded fonts, on A4 or letter.

use krilla::Document;
use krilla::geom::{PathBuilder, Rect, Transform};
use krilla::graphic::Graphic;
use krilla::metadata::{DateTime, Metadata};
use krilla::page::PageSettings;
use krilla::paint::FillRule;
use krilla::surface::Surface;
use krilla::tagging::{ContentTag, Tag, TagGroup, TagTree};
use resvg::usvg::Tree;

use super::lay::{self, Fonts};
use super::{Paper, Plate};
use crate::drawing::label::clean;

/// What a PDF says of itself.
#[derive(Clone, Debug, Default)]
pub struct Facts {
    /// The guide's title.
    pub title: String,
    /// The guide's summary.
    pub summary: String,
    /// Who wrote or publishes it.
    pub by: String,
    /// Its language's tag, as `en`.
    pub language: String,
    /// Year, month and day of its revision: the only date a print bears, so that it can be made again as it was.
    pub dated: Option<(u16, u8, u8)>,
}

/// A picture to be printed, with its tree.
#[derive(Clone, Copy, Debug)]
pub struct Leaf<'a> {
    /// What it is called, and what it shows.
    pub plate: &'a Plate,
    /// Its tree.
    pub tree: &'a Tree,
}

/// One PDF of these pictures, in order.
pub fn make(leaves: &[Leaf<'_>], paper: Paper, facts: &Facts) -> Result<Vec<u8>, String> {
    let (width, height) = paper.points();
    let mut document = Document::new();
    let mut tags = TagTree::new();
    let mut fonts = Fonts::default();
    for leaf in leaves {
        let mut figure = TagGroup::new(Tag::Figure(Some(clean(&leaf.plate.description))));
        // A picture on several pages is drawn once and shown through a window on each.
        let mut drawn = None;
        for sheet in &leaf.plate.sheets {
            let settings = PageSettings::from_wh(width, height).ok_or(NO_SIZE)?;
            let mut page = document.start_page_with(settings);
            let mut surface = page.surface();
            let tag = surface.start_tagged(ContentTag::Other);
            lay(&mut surface, leaf.tree, *sheet, (width, height), &mut fonts, &mut drawn)?;
            surface.end_tagged();
            surface.finish();
            page.finish();
            figure.push(tag);
        }
        tags.push(figure);
    }
    document.set_tag_tree(tags);
    document.set_metadata(metadata(leaves, facts));
    document.finish().map_err(|error| format!("a picture cannot be printed as PDF: {error:?}"))
}

const NO_SIZE: &str = "a picture of no size cannot be printed";

/// Lays the sheet of a picture between two shares of its height on a page, as large as fits, in the middle.
fn lay(
    surface: &mut Surface<'_>,
    tree: &Tree,
    sheet: (f32, f32),
    page: (f32, f32),
    fonts: &mut Fonts,
    drawn: &mut Option<Graphic>,
) -> Result<(), String> {
    let (upper, lower) = (sheet.0 * tree.size().height(), sheet.1 * tree.size().height());
    let (width, height) = (tree.size().width(), lower - upper);
    let whole = sheet == (0.0, 1.0);
    let scale = (page.0 / width).min(page.1 / height);
    let (left, top) = ((page.0 - scale * width) / 2.0, (page.1 - scale * height) / 2.0);
    surface.push_transform(&Transform::from_row(scale, 0.0, 0.0, scale, left, top - scale * upper));
    let mut outline = PathBuilder::new();
    outline.push_rect(Rect::from_xywh(0.0, upper, width, height).ok_or(NO_SIZE)?);
    surface.push_clip_path(&outline.finish().ok_or(NO_SIZE)?, &FillRule::NonZero);
    if whole {
        lay::tree(surface, tree, fonts)?;
    } else {
        let graphic = match drawn.take() {
            Some(graphic) => graphic,
            None => {
                let mut builder = surface.stream_builder();
                let mut part = builder.surface();
                lay::tree(&mut part, tree, fonts)?;
                part.finish();
                Graphic::new(builder.finish(), false)
            }
        };
        surface.draw_graphic(graphic.clone());
        *drawn = Some(graphic);
    }
    surface.pop();
    surface.pop();
    Ok(())
}

fn metadata(leaves: &[Leaf<'_>], facts: &Facts) -> Metadata {
    let title = match leaves {
        [leaf] => clean(&format!("{}: {}", facts.title, leaf.plate.title)),
        _ => clean(&facts.title),
    };
    let by = clean(&facts.by);
    let metadata = Metadata::new()
        .title(title)
        .description(clean(&facts.summary))
        .language(facts.language.clone())
        .creator("Goodground".to_owned())
        .authors(if by.is_empty() { Vec::new() } else { vec![by] });
    match facts.dated {
        Some((year, month, day)) => metadata.creation_date(DateTime::new(year).month(month).day(day)),
        None => metadata,
    }
}
