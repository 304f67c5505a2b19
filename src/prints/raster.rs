//! A picture as PNG: wide enough to print, small enough to send.

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

/// The picture drawn in full colour.
pub fn draw(tree: &Tree) -> Result<Pixmap, String> {
    let size = tree.size();
    let height = height((f64::from(size.width()), f64::from(size.height())));
    let mut paper = Pixmap::new(WIDTH, height).ok_or("a picture is too large to print")?;
    paper.data_mut().fill(0xff);
    let scale = Transform::from_scale(WIDTH as f32 / size.width(), height as f32 / size.height());
    resvg::render(tree, scale, &mut paper.as_mut());
    Ok(paper)
}

/// The picture as PNG, in at most [`palette::MOST`] colours.
pub fn png(tree: &Tree) -> Result<Vec<u8>, String> {
    encode(&draw(tree)?)
}

/// Dots looked at together: most of a drawing is bare paper.
const RUN: usize = 16;
const BARE: [u8; 4 * RUN] = [0xff; 4 * RUN];

/// Packs a drawing. It is opaque, so that colours stand as they are.
pub fn encode(drawn: &Pixmap) -> Result<Vec<u8>, String> {
    let (width, height) = (drawn.width() as usize, drawn.height() as usize);
    let mut tally = Tally::default();
    let white = tally.count([255; 3], 0);
    // First which colour every dot has, by number; then, once the palette is known, what stands for it.
    let mut numbers: Vec<u16> = vec![white as u16; width * height];
    for (dots, numbers) in drawn.data().chunks(4 * RUN).zip(numbers.chunks_mut(RUN)) {
        if dots == BARE {
            continue;
        }
        let (mut last, mut number) = ([255; 3], white);
        for (dot, place) in dots.chunks_exact(4).zip(numbers) {
            let colour = [dot[0], dot[1], dot[2]];
            if colour != last {
                (last, number) = (colour, tally.count(colour, 0));
            }
            tally.add(number);
            // More colours than this cannot be: a drawing of ours has hundreds. The rest would share the first number.
            *place = u16::try_from(number).unwrap_or(0);
        }
    }
    let (colours, stands) = palette::pick(&tally);
    let row = width.div_ceil(2);
    let paper = stands.get(white).copied().unwrap_or(0);
    let bare = [white as u16; RUN];
    let mut packed = vec![paper << 4 | paper; row * height];
    for (numbers, row) in numbers.chunks_exact(width).zip(packed.chunks_exact_mut(row)) {
        for (numbers, bytes) in numbers.chunks(RUN).zip(row.chunks_mut(RUN / 2)) {
            if numbers == bare {
                continue;
            }
            for (pair, byte) in numbers.chunks(2).zip(bytes) {
                let stand = |n: u16| stands.get(usize::from(n)).copied().unwrap_or(0);
                *byte = stand(pair[0]) << 4 | pair.get(1).map_or(0, |n| stand(*n));
            }
        }
    }
    let mut bytes = Vec::new();
    for level in LEVELS {
        bytes = write(drawn.width(), drawn.height(), &colours, &packed, level)
            .map_err(|e| format!("a picture cannot be packed: {e}"))?;
        if bytes.len() < SMALL {
            break;
        }
    }
    Ok(bytes)
}

/// How hard a picture is packed: quickly, and again with more care if that leaves it too large.
const LEVELS: [u8; 2] = [1, 6];

/// Small enough to send, in bytes.
const SMALL: usize = 150_000;

fn write(
    width: u32,
    height: u32,
    colours: &[palette::Rgb],
    packed: &[u8],
    level: u8,
) -> Result<Vec<u8>, png::EncodingError> {
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
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
