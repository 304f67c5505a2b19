//! Photos made fit for a page: turned upright, resized, and written anew, so that nothing of the
//! camera's notes (the place where it was taken above all) is left in them.

use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::imageops::FilterType as Resampling;
use image::{DynamicImage, ImageDecoder as _, ImageReader, Limits};

/// Widths in pixels that a page may ask for: the measure of the text at one and two pixels a point.
pub const WIDTHS: [u32; 2] = [720, 1440];
/// Out of 100. Above it files grow much faster than a reader sees.
const JPEG_QUALITY: u8 = 80;
/// A photo of more pixels is refused rather than unpacked: 100 million, twice a large camera's.
const MOST_PIXELS: u64 = 100_000_000;
/// Memory that unpacking one photo may take.
const MOST_BYTES: u64 = 512 * 1024 * 1024;

/// One photo at one size.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Print {
    /// The file.
    pub bytes: Vec<u8>,
    /// `jpg` or `png`.
    pub extension: &'static str,
    /// Width in pixels.
    pub width: u32,
    /// Height in pixels.
    pub height: u32,
}

/// Whether a file name is that of a photo that can be printed.
pub fn is_photo(name: &str) -> bool {
    let extension = name.rsplit_once('.').map(|(_, extension)| extension.to_ascii_lowercase());
    extension.is_some_and(|extension| ["jpg", "jpeg", "png", "webp"].contains(&extension.as_str()))
}

/// Develops a photo into one or two sizes, the smallest first, or says what is wrong with it.
pub fn develop(bytes: &[u8]) -> Result<Vec<Print>, String> {
    let mut reader = ImageReader::new(Cursor::new(bytes))
        .with_guessed_format()
        .map_err(|error| format!("it cannot be read: {error}"))?;
    let mut limits = Limits::default();
    limits.max_alloc = Some(MOST_BYTES);
    reader.limits(limits);
    let is_png = reader.format() == Some(image::ImageFormat::Png);
    let mut decoder = reader.into_decoder().map_err(|error| format!("it is no photo that can be read: {error}"))?;
    let (width, height) = decoder.dimensions();
    if MOST_PIXELS < u64::from(width) * u64::from(height) {
        return Err(format!("it has {width} × {height} pixels, more than a page could ever show"));
    }
    // An orientation that cannot be read is none.
    let orientation = decoder.orientation().unwrap_or(image::metadata::Orientation::NoTransforms);
    let mut photo = DynamicImage::from_decoder(decoder).map_err(|error| format!("it is damaged: {error}"))?;
    photo.apply_orientation(orientation);

    let mut prints = Vec::new();
    for width in WIDTHS {
        let full = photo.width() <= width;
        let height = (f64::from(photo.height()) * f64::from(width) / f64::from(photo.width())).round().max(1.0) as u32;
        let resized = if full { photo.clone() } else { photo.resize_exact(width, height, Resampling::Lanczos3) };
        prints.push(print(&resized, is_png)?);
        if full {
            break;
        }
    }
    Ok(prints)
}

/// Writes a photo: as JPEG, or as PNG when it came as one and is no larger so.
fn print(photo: &DynamicImage, may_be_png: bool) -> Result<Print, String> {
    let (width, height) = (photo.width(), photo.height());
    let mut jpeg = Vec::new();
    on_white(photo)
        .write_with_encoder(JpegEncoder::new_with_quality(&mut jpeg, JPEG_QUALITY))
        .map_err(|error| format!("it cannot be written anew: {error}"))?;
    if may_be_png {
        let mut png = Vec::new();
        let encoder = PngEncoder::new_with_quality(&mut png, CompressionType::Best, FilterType::Adaptive);
        photo.write_with_encoder(encoder).map_err(|error| format!("it cannot be written anew: {error}"))?;
        if png.len() <= jpeg.len() {
            return Ok(Print { bytes: png, extension: "png", width, height });
        }
    }
    Ok(Print { bytes: jpeg, extension: "jpg", width, height })
}

/// Without transparency, which JPEG does not have: what shows through is white, as paper is.
fn on_white(photo: &DynamicImage) -> DynamicImage {
    if !photo.color().has_alpha() {
        return DynamicImage::ImageRgb8(photo.to_rgb8());
    }
    let mut flat = image::RgbImage::new(photo.width(), photo.height());
    for (to, from) in flat.pixels_mut().zip(photo.to_rgba8().pixels()) {
        let alpha = u32::from(from[3]);
        for channel in 0..3 {
            to[channel] = ((u32::from(from[channel]) * alpha + 255 * (255 - alpha) + 127) / 255) as u8;
        }
    }
    DynamicImage::ImageRgb8(flat)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A JPEG of a plain field, wider than high, with an EXIF block that says "turn right" and holds a place.
    fn camera_photo(width: u32, height: u32) -> Vec<u8> {
        let mut bytes = Vec::new();
        let field =
            DynamicImage::ImageRgb8(image::RgbImage::from_fn(width, height, |x, _| image::Rgb([x as u8, 90, 40])));
        field.write_with_encoder(JpegEncoder::new_with_quality(&mut bytes, 90)).unwrap();
        // APP1 by the Exif standard: header, TIFF header, one entry of IFD0 (0x0112, orientation, SHORT, 1, 6), no next.
        let mut exif = b"Exif\0\0II*\0\x08\0\0\0\x01\0\x12\x01\x03\0\x01\0\0\0\x06\0\0\0\0\0\0\0".to_vec();
        exif.extend(b"GPS 51.5000 N 0.1200 W");
        let mut app1 = vec![0xFF, 0xE1];
        app1.extend(u16::try_from(exif.len() + 2).unwrap().to_be_bytes());
        app1.extend(exif);
        bytes.splice(2..2, app1);
        bytes
    }

    #[test]
    fn a_photo_is_turned_resized_and_forgets_where_it_was_taken() {
        let bytes = camera_photo(3000, 2000);
        assert!(bytes.windows(4).any(|w| w == b"Exif"));
        let prints = develop(&bytes).unwrap();
        let sizes: Vec<(u32, u32)> = prints.iter().map(|p| (p.width, p.height)).collect();
        assert_eq!(sizes, [(720, 1080), (1440, 2160)], "turned upright: higher than wide");
        for print in prints {
            assert!(!print.bytes.windows(4).any(|w| w == b"Exif") && !print.bytes.windows(3).any(|w| w == b"GPS"));
            let decoded = image::load_from_memory(&print.bytes).unwrap();
            assert_eq!((decoded.width(), decoded.height()), (print.width, print.height));
        }
    }

    #[test]
    fn a_small_photo_stays_as_it_is_but_for_its_notes() {
        let prints = develop(&camera_photo(300, 200)).unwrap();
        assert_eq!(prints.len(), 1);
        assert_eq!((prints[0].width, prints[0].height), (200, 300));
    }

    #[test]
    fn what_is_no_photo_is_refused_in_words() {
        assert!(develop(b"<svg onload=alert(1)>").is_err());
        assert!(develop(&camera_photo(300, 200)[..200]).is_err());
        assert!(!is_photo("a.svg") && is_photo("A.JPG"));
        // A PNG header that claims 60000 × 60000 pixels is refused before anything is unpacked.
        let mut bomb = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
        bomb.extend(60_000u32.to_be_bytes());
        bomb.extend(60_000u32.to_be_bytes());
        bomb.extend([8, 2, 0, 0, 0]);
        let crc = bomb[12..].iter().fold(!0u32, |crc, byte| {
            (0..8).fold(crc ^ u32::from(*byte), |c, _| if c & 1 == 1 { 0xEDB8_8320 ^ (c >> 1) } else { c >> 1 })
        });
        bomb.extend((!crc).to_be_bytes());
        bomb.extend(b"\0\0\0\0IDAT\x35\xaf\x06\x1e");
        assert!(develop(&bomb).is_err());
    }
}
