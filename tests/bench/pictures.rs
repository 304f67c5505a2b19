//! How fast pictures are printed, each time beside the bare library doing the same work with the same tree:
//! `cargo bench --bench pictures`.
//!
//! The bare library draws the tree in full colour and packs nothing (for PNG), or lays the tree on one page and says
//! nothing of itself (for PDF). The bars are the project's own: a PNG is of one sheet
//! (the first, where a picture has several), a PDF of the whole picture. A time past its bar ends with status 1.
#![allow(clippy::unwrap_used, clippy::print_stdout)] // a measurement that cannot go on must panic; it prints what it found

use std::hint::black_box;
use std::time::{Duration, Instant};

use goodground::checked::check;
use goodground::guide::publisher::Publisher;
use goodground::prints::{Paper, Plate, pdf, raster, tree};
use goodground::source::SourceFile;
use krilla_svg::SurfaceExt as _;

const RUNS: usize = 15;
const PNG_BAR: Duration = Duration::from_millis(25);
const PDF_BAR: Duration = Duration::from_millis(5);

fn main() {
    let publisher = Publisher { name: "The Bench".into(), language: "en".into(), ..Publisher::default() };
    let content = concat!(env!("CARGO_MANIFEST_DIR"), "/content");
    let mut past = false;
    println!(
        "{:<34} {:<8} {:>6} | {:>9} {:>9} {:>6} {:>7} | {:>9} {:>9} {:>6} {:>7}",
        "", "", "read", "PNG", "bare", "ratio", "size", "PDF", "bare", "ratio", "size"
    );
    let mut folders: Vec<_> = std::fs::read_dir(content).unwrap().map(|entry| entry.unwrap().path()).collect();
    folders.sort();
    for folder in folders {
        let Ok(text) = std::fs::read_to_string(folder.join("guide.md")) else { continue };
        let slug = folder.file_name().unwrap().to_string_lossy().into_owned();
        let checked = check(SourceFile::new("guide.md", text), &slug, &publisher, jiff::civil::date(2026, 11, 26));
        for picture in &checked.pictures {
            let plate = Plate::of(picture);
            let tree = tree::read(&plate.svg).unwrap();
            let leaf = pdf::Leaf { plate: &plate, tree: &tree };
            let facts = pdf::Facts { title: slug.clone(), language: "en".into(), ..pdf::Facts::default() };
            let read = best(|| tree::read(&plate.svg).unwrap());
            let png = best(|| raster::png(&tree, plate.sheets[0]).unwrap());
            let png_bare = best(|| bare_png(&tree, plate.sheets[0]));
            let page = best(|| pdf::make(&[leaf], Paper::A4, &facts).unwrap());
            let page_bare = best(|| bare_pdf(&tree));
            past |= PNG_BAR < png || PDF_BAR < page;
            println!(
                "{:<34} {:<8} {:>6.2} | {:>6.1} ms {:>6.1} ms {:>6.2} {:>4} kB | {:>6.2} ms {:>6.2} ms {:>6.2} {:>4} kB",
                slug,
                picture.name,
                ms(read),
                ms(png),
                ms(png_bare),
                ms(png) / ms(png_bare),
                raster::png(&tree, plate.sheets[0]).unwrap().len() / 1000,
                ms(page),
                ms(page_bare),
                ms(page) / ms(page_bare),
                pdf::make(&[leaf], Paper::A4, &facts).unwrap().len() / 1000,
            );
        }
    }
    println!("Bars: PNG {} ms, PDF {} ms.", PNG_BAR.as_millis(), PDF_BAR.as_millis());
    if past {
        println!("A time is past its bar.");
        std::process::exit(1);
    }
}

fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

/// The shortest of several runs: what is longer is the machine's other work.
fn best<T>(mut run: impl FnMut() -> T) -> Duration {
    let time = |run: &mut dyn FnMut() -> T| {
        let start = Instant::now();
        black_box(run());
        start.elapsed()
    };
    (0..RUNS).map(|_| time(&mut run)).min().unwrap()
}

/// What the library does by itself: a sheet of dots, the tree drawn on it.
fn bare_png(tree: &resvg::usvg::Tree, sheet: (f32, f32)) -> resvg::tiny_skia::Pixmap {
    let scale = 2400.0 / tree.size().width();
    let mut dots =
        resvg::tiny_skia::Pixmap::new(2400, ((sheet.1 - sheet.0) * tree.size().height() * scale).round() as u32)
            .unwrap();
    resvg::render(tree, resvg::tiny_skia::Transform::from_scale(scale, scale), &mut dots.as_mut());
    dots
}

/// What the library does by itself: a page as large as the tree.
fn bare_pdf(tree: &resvg::usvg::Tree) -> Vec<u8> {
    let size = krilla::geom::Size::from_wh(tree.size().width(), tree.size().height()).unwrap();
    let mut document = krilla::Document::new();
    let mut page = document.start_page_with(krilla::page::PageSettings::from_wh(size.width(), size.height()).unwrap());
    let mut surface = page.surface();
    surface.draw_svg(tree, size, krilla_svg::SvgSettings::default());
    surface.finish();
    page.finish();
    document.finish().unwrap()
}
