//! A picture as PNG: wide enough to print, small enough to send.

use rayon::prelude::*;
use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::Tree;

use super::palette::{self, Tally};

/// Width of every PNG, in dots: A4 across at 205 dots an inch.
pub const WIDTH: u32 = 2400;

/// The most dots that a picture may be high: ten sheets below one another and then some.
const HIGHEST: u32 = 24_000;

/// The height of the PNG of a picture of this size, whatever its unit.
pub fn height(size: (f64, f64)) -> u32 {
    let height = (size.1 / size.0 * f64::from(WIDTH)).round();
    // A size that is no number comes out as the least.
    (height.max(1.0) as u32).min(HIGHEST)
}

/// A picture's sheet, between two shares of its height, as PNG in at most [`palette::MOST`] colours.
///
/// It is drawn in bands of rows, which take little memory and can be drawn at the same time. Where they begin does not
/// depend on the number of threads.
pub fn png(tree: &Tree, sheet: (f32, f32)) -> Result<Vec<u8>, String> {
    let top = sheet.0 * tree.size().height();
    let size = (tree.size().width(), sheet.1 * tree.size().height() - top);
    let height = height((f64::from(size.0), f64::from(size.1)));
    let (across, down) = (WIDTH as f32 / size.0, height as f32 / size.1);
    let scale = Transform::from_scale(across, down).post_translate(0.0, -down * top);
    let tops: Vec<u32> = (0..height).step_by(ROWS as usize).collect();
    let bands: Vec<Band> =
        tops.par_iter().map(|top| Band::draw(tree, scale, *top, ROWS.min(height - top))).collect::<Result<_, _>>()?;
    let mut tally = Tally::default();
    let numbers: Vec<Vec<usize>> =
        bands.iter().map(|band| band.tally.iter().map(|(colour, dots)| tally.count(colour, dots)).collect()).collect();
    let mut bytes = Vec::new();
    for most in COLOURS {
        let (colours, stands) = palette::pick(&tally, most);
        let pack = |(band, numbers): (&Band, &Vec<usize>)| {
            band.pack(&numbers.iter().map(|number| stands[*number]).collect::<Vec<u8>>())
        };
        let packed: Vec<Vec<u8>> = bands.par_iter().zip(&numbers).map(pack).collect();
        let packed = packed.concat();
        for level in LEVELS {
            bytes = write(height, &colours, &packed, level).map_err(|e| format!("a picture cannot be packed: {e}"))?;
            if bytes.len() < SMALL {
                return Ok(bytes);
            }
        }
    }
    Ok(bytes)
}

/// Rows that are drawn together.
const ROWS: u32 = 425;
/// Dots looked at together: most of a drawing is bare paper.
const RUN: usize = 16;
const BARE: [u8; 4 * RUN] = [0xff; 4 * RUN];

/// Some rows of a picture: which colour every dot has, by its number in the tally.
struct Band {
    tally: Tally,
    numbers: Vec<u16>,
}

/// The number of white in every band's tally.
const WHITE: u16 = 0;

impl Band {
    fn draw(tree: &Tree, scale: Transform, top: u32, rows: u32) -> Result<Band, String> {
        let mut paper = Pixmap::new(WIDTH, rows).ok_or("a picture is too large to print")?;
        paper.data_mut().fill(0xff);
        resvg::render(tree, scale.post_translate(0.0, -(top as f32)), &mut paper.as_mut());
        let mut tally = Tally::default();
        tally.count([255; 3], 0);
        let mut numbers = vec![WHITE; (WIDTH * rows) as usize];
        // Drawn on white, every dot is opaque: its colour stands as it is.
        for (dots, numbers) in paper.data().chunks(4 * RUN).zip(numbers.chunks_mut(RUN)) {
            if dots == BARE {
                continue;
            }
            let (mut last, mut number) = ([255; 3], usize::from(WHITE));
            for (dot, place) in dots.chunks_exact(4).zip(numbers) {
                let colour = [dot[0], dot[1], dot[2]];
                if colour != last {
                    (last, number) = (colour, tally.count(colour, 0));
                }
                tally.add(number);
                // A drawing has hundreds of colours. Past what a number holds, a dot would be left white.
                *place = u16::try_from(number).unwrap_or(WHITE);
            }
        }
        Ok(Band { tally, numbers })
    }

    /// Two dots in a byte; `stands` says which colour of the palette stands for each of the tally.
    fn pack(&self, stands: &[u8]) -> Vec<u8> {
        let stand = |n: u16| stands.get(usize::from(n)).copied().unwrap_or(0);
        let paper = stand(WHITE);
        let mut packed = vec![paper << 4 | paper; self.numbers.len() / 2];
        for (numbers, bytes) in self.numbers.chunks(RUN).zip(packed.chunks_mut(RUN / 2)) {
            if numbers == [WHITE; RUN] {
                continue;
            }
            for (pair, byte) in numbers.chunks_exact(2).zip(bytes) {
                *byte = stand(pair[0]) << 4 | stand(pair[1]);
            }
        }
        packed
    }
}

// Two dots in a byte and runs of bare paper both want whole rows of them.
const _: () = assert!((WIDTH as usize).is_multiple_of(RUN));

/// How hard a picture is packed: quickly, and again with more care as long as that leaves it too large.
const LEVELS: [u8; 3] = [1, 2, 6];

/// How many colours a picture gets, and fewer as long as no packing makes it small: a tall one of much text has many
/// edges, and their blends are what fewer colours take away.
const COLOURS: [usize; 3] = [palette::MOST, 8, 5];

/// Small enough to send, in bytes.
const SMALL: usize = 150_000;

fn write(height: u32, colours: &[palette::Rgb], packed: &[u8], level: u8) -> Result<Vec<u8>, png::EncodingError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, WIDTH, height);
    encoder.set_color(png::ColorType::Indexed);
    encoder.set_depth(png::BitDepth::Four);
    encoder.set_palette(colours.concat());
    // Of numbers of colours, unlike of shades, no filter makes less.
    encoder.set_filter(png::Filter::NoFilter);
    encoder.set_deflate_compression(png::DeflateCompression::Level(level));
    let mut writer = encoder.write_header()?;
    writer.write_image_data(packed)?;
    writer.finish()?;
    Ok(bytes)
}
