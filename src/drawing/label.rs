//! Text with its true size: widths from the font's own tables, and breaking into lines.
//!
//! Knows no drawing. The font is DejaVu Sans Condensed, which may be embedded and is wide open in
//! shape, so that figures stay apart at arm's length.

use std::sync::OnceLock;

/// One point in millimetres: 25.4 mm / 72.
pub const POINT_MM: f64 = 25.4 / 72.0;

/// The smallest text on an A4 sheet, in mm: 9 pt.
pub const TEXT_MM: f64 = 9.0 * POINT_MM;

/// Height of a line above the next, as a share of the text's size. The font's own ascent and
/// descent sum to 1.164, so that boxes of stacked lines do not touch.
pub const LEADING: f64 = 1.18;

/// How far a line's box reaches above its baseline, as a share of the text's size.
pub const ASCENT: f64 = 0.93;

/// How far a line's box reaches below its baseline, as a share of the text's size.
pub const DESCENT: f64 = 0.24;

/// Weight of a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Face {
    /// For most of it.
    Regular,
    /// For tags and titles.
    Bold,
}

/// A font's advance widths, as shares of the text's size.
struct Metrics {
    latin: [f32; 0x250],
    face: Option<ttf_parser::Face<'static>>,
}

impl Metrics {
    fn of(bytes: &'static [u8]) -> Metrics {
        let face = ttf_parser::Face::parse(bytes, 0).ok();
        let mut latin = [1.0; 0x250];
        for (code, width) in latin.iter_mut().enumerate() {
            if let Some(c) = char::from_u32(code as u32) {
                *width = advance_in(face.as_ref(), c);
            }
        }
        Metrics { latin, face }
    }

    fn advance(&self, c: char) -> f64 {
        f64::from(self.latin.get(c as usize).copied().unwrap_or_else(|| advance_in(self.face.as_ref(), c)))
    }
}

/// A character that the font lacks is taken as a full em wide: no fallback font is likely to be wider.
fn advance_in(face: Option<&ttf_parser::Face<'static>>, c: char) -> f32 {
    face.and_then(|face| {
        let glyph = face.glyph_index(c)?;
        Some(f32::from(face.glyph_hor_advance(glyph)?) / f32::from(face.units_per_em()))
    })
    .unwrap_or(1.0)
}

/// The family of the font, as SVG names it.
pub const FAMILY: &str = "DejaVu Sans Condensed";

/// The font's own file: what text is measured with, and what prints embed.
pub fn font(face: Face) -> &'static [u8] {
    match face {
        Face::Regular => dejavu::sans_condensed::regular(),
        Face::Bold => dejavu::sans_condensed::bold(),
    }
}

fn metrics(face: Face) -> &'static Metrics {
    static REGULAR: OnceLock<Metrics> = OnceLock::new();
    static BOLD: OnceLock<Metrics> = OnceLock::new();
    match face {
        Face::Regular => REGULAR.get_or_init(|| Metrics::of(font(face))),
        Face::Bold => BOLD.get_or_init(|| Metrics::of(font(face))),
    }
}

/// The width of a text, in the unit of `size`.
pub fn width(text: &str, face: Face, size: f64) -> f64 {
    let metrics = metrics(face);
    text.chars().map(|c| metrics.advance(c)).sum::<f64>() * size
}

/// Text that is safe to draw: no control characters, which XML forbids, and no marks that turn the
/// direction of writing, with which one text could pose as another. White space becomes one space.
pub fn clean(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}' => {}
            '\u{fffe}' | '\u{ffff}' => {}
            c if c.is_whitespace() || c.is_control() => {
                if !out.ends_with(' ') {
                    out.push(' ');
                }
            }
            c => out.push(c),
        }
    }
    out.trim().to_owned()
}

/// Pieces of a text between which a line may end: after a space, and after a hyphen or slash within a word.
fn pieces(text: &str) -> Vec<&str> {
    let mut out = Vec::new();
    for word in text.split_inclusive(' ') {
        let mut start = 0;
        for (i, c) in word.char_indices() {
            let next = i + c.len_utf8();
            if matches!(c, '-' | '/' | '–') && next < word.trim_end().len() && i > 0 {
                out.push(&word[start..next]);
                start = next;
            }
        }
        out.push(&word[start..]);
    }
    out.retain(|p| !p.is_empty());
    out
}

/// The width of the widest piece of a text that stays on one line.
pub fn longest_piece(text: &str, face: Face, size: f64) -> f64 {
    pieces(&clean(text)).iter().map(|p| width(p.trim_end(), face, size)).fold(0.0, f64::max)
}

/// Breaks a text into at most `lines` lines no wider than `limit`. A piece that is too wide is broken;
/// what is left over is cut off with an ellipsis.
pub fn wrap(text: &str, face: Face, size: f64, limit: f64, lines: usize) -> Vec<String> {
    let text = clean(text);
    let mut out: Vec<String> = Vec::new();
    let mut line = String::new();
    for piece in pieces(&text) {
        let longer = format!("{line}{piece}");
        if width(longer.trim_end(), face, size) <= limit {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            out.push(std::mem::take(&mut line).trim_end().to_owned());
        }
        for c in piece.chars() {
            line.push(c);
            if width(line.trim_end(), face, size) > limit && line.chars().count() > 1 {
                line.pop();
                out.push(std::mem::replace(&mut line, c.to_string()));
            }
        }
    }
    if !line.trim_end().is_empty() {
        out.push(line.trim_end().to_owned());
    }
    if out.len() > lines {
        out.truncate(lines.max(1));
        if let Some(last) = out.last_mut() {
            *last = with_ellipsis(last, face, size, limit);
        }
    }
    out
}

/// Cuts a text off with an ellipsis so that it is no wider than `limit`.
pub fn shorten(text: &str, face: Face, size: f64, limit: f64) -> String {
    if width(text, face, size) <= limit {
        return text.to_owned();
    }
    with_ellipsis(text, face, size, limit)
}

fn with_ellipsis(text: &str, face: Face, size: f64, limit: f64) -> String {
    let mut cut = text.to_owned();
    while !cut.is_empty() && width(&format!("{cut}…"), face, size) > limit {
        cut.pop();
    }
    format!("{}…", cut.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Advance widths of the font file as fontTools prints them: `M` 1587, `i` 512 of 2048 units.
    #[test]
    fn widths_are_the_fonts_own() {
        let m = width("M", Face::Regular, 2048.0);
        let i = width("i", Face::Regular, 2048.0);
        assert!((m - 1591.0).abs() < 8.0, "{m}");
        assert!((i - 512.0).abs() < 8.0, "{i}");
        assert_eq!(width("", Face::Bold, 10.0), 0.0);
    }

    #[test]
    fn lines_stay_within_their_limit() {
        for limit in [8.0, 12.0, 22.0, 40.0] {
            for text in ["Start battery", "Donaudampfschifffahrtsgesellschaft", "a b c d e f g h i j k l m n o p q", ""]
            {
                let lines = wrap(text, Face::Regular, TEXT_MM, limit, 3);
                assert!(lines.len() <= 3);
                for line in lines {
                    assert!(width(&line, Face::Regular, TEXT_MM) <= limit, "{line} in {limit}");
                }
            }
        }
    }

    #[test]
    fn control_characters_and_direction_marks_are_dropped() {
        assert_eq!(clean("a\u{202e}b\u{1}c\n d\u{200b}"), "ab c d");
    }
}
