//! A sheet of all symbols, each with its name, the letter of its mark and the standard that its shape follows.

use super::Picture;
use super::label::{Face, LEADING, TEXT_MM, wrap};
use super::model::LineKind;
use super::sheet::{PAPER, baseline, colour, meaning, stroke};
use super::svg_out::{Anchor, Canvas, INK, Lettering, PALE, PartBox, Rect, Stroke, UNITS};
use super::symbols::{Known, REACH, Symbol, frame};

/// Columns of the sheet.
const COLUMNS: usize = 4;
/// Edge of the paper.
const MARGIN: f64 = 10.0;
/// Height of the heading.
const HEAD: f64 = 16.0;
/// Height of a cell.
const CELL: f64 = 22.0;
/// Width that a symbol has in its cell.
const PICTURE: f64 = 18.0;
/// Symbols are drawn this much larger than on a drawing of scale 1.
const SCALE: f64 = 1.4;

/// What stands in a cell.
#[derive(Clone, Copy)]
enum Shown {
    Symbol(Symbol),
    Line(LineKind),
    Joint,
    TwoJoints,
    Crossing,
}

/// Lines and joints, with what they mean and where that is from.
const MARKS: [(Shown, &str); 8] = [
    (Shown::Line(LineKind::Feed), "own: solid"),
    (Shown::Line(LineKind::Return), "own: long dashes"),
    (Shown::Line(LineKind::Loose), "own: dash and dot"),
    (Shown::Line(LineKind::Strap), "own: short dashes"),
    (Shown::Line(LineKind::Bolted), "own: heavy, dash and two dots"),
    (Shown::Joint, "IEC 60617, IEEE 315: junction; from memory"),
    (Shown::TwoJoints, "IEC 61082-1: two joints of three; from memory"),
    (Shown::Crossing, "IEC 60617, IEEE 315: crossing; from memory"),
];

impl Shown {
    fn name(self) -> &'static str {
        match self {
            Shown::Symbol(symbol) => symbol.meaning(),
            Shown::Line(kind) => meaning(kind),
            Shown::Joint => "joint",
            Shown::TwoJoints => "joint of four",
            Shown::Crossing => "lines that are not joined",
        }
    }
}

/// The sheet.
pub fn symbol_sheet() -> Picture {
    let title = "The symbols of the drawings";
    let cells: Vec<(Shown, String, String)> = Symbol::ALL
        .iter()
        .map(|s| {
            let known = match s.known() {
                Known::Described => "; described",
                Known::Memory => "; from memory",
                Known::Own => "",
            };
            let letter = if *s == Symbol::Onward { String::new() } else { format!("mark {0}1, {0}2 …", s.letter()) };
            (Shown::Symbol(*s), letter, format!("{}{known}", s.standard()))
        })
        .chain(MARKS.into_iter().map(|(shown, standard)| (shown, String::new(), standard.to_owned())))
        .collect();
    let description =
        cells.iter().map(|(shown, _, standard)| format!("{}: {standard}.", shown.name())).collect::<Vec<_>>().join(" ");
    let height = MARGIN + HEAD + CELL * cells.len().div_ceil(COLUMNS) as f64 + MARGIN;
    let mut canvas = Canvas::new("symbols", PAPER.0, height, title, &description);
    canvas.geometry.sheets = vec![Rect { x0: 0.0, y0: 0.0, x1: PAPER.0, y1: height }];
    let bold = Lettering::ink(Face::Bold, 1.4 * TEXT_MM);
    canvas.text((MARGIN, MARGIN + 4.0), Anchor::Start, bold, title);
    let note = "Shapes after IEC 60617, and IEEE 315 where the two agree, without a copy of either at hand. Described: held against public texts that put it in words.";
    canvas.text((MARGIN, MARGIN + 10.0), Anchor::Start, Lettering::ink(Face::Regular, TEXT_MM), note);
    let wide = (PAPER.0 - 2.0 * MARGIN) / COLUMNS as f64;
    for (n, (shown, letter, standard)) in cells.iter().enumerate() {
        let x = MARGIN + wide * (n % COLUMNS) as f64;
        let y = MARGIN + HEAD + CELL * (n / COLUMNS) as f64;
        canvas.open("symbol", shown.name());
        let half = PICTURE / 2.0;
        draw(&mut canvas, *shown, (x + half, y + CELL / 2.0));
        canvas.frame(1.0, 0.0, 0.0);
        let room = wide - PICTURE - 3.0;
        let mut lines: Vec<(Face, String)> =
            wrap(shown.name(), Face::Bold, TEXT_MM, room, 2).into_iter().map(|line| (Face::Bold, line)).collect();
        let rest = [letter.as_str(), standard.as_str()].into_iter().filter(|words| !words.is_empty());
        lines.extend(rest.flat_map(|words| wrap(words, Face::Regular, TEXT_MM, room, 3)).map(|l| (Face::Regular, l)));
        let top = y + (CELL - lines.len() as f64 * LEADING * TEXT_MM) / 2.0;
        for (k, (face, words)) in lines.iter().enumerate() {
            let at = (x + PICTURE + 1.0, baseline(top, k, TEXT_MM));
            canvas.text(at, Anchor::Start, Lettering::ink(*face, TEXT_MM), words);
        }
        canvas.close();
        if n % COLUMNS == 0 {
            canvas.line(&[(MARGIN, y), (PAPER.0 - MARGIN, y)], Stroke::solid(PALE, 0.18));
        }
    }
    let (svg, geometry) = canvas.finish();
    let size = (PAPER.0 * UNITS, height * UNITS);
    Picture { name: "symbols", title: title.to_owned(), description, svg, size, geometry }
}

fn draw(canvas: &mut Canvas, shown: Shown, (x, y): (f64, f64)) {
    canvas.frame(SCALE, x, y);
    let feed = |canvas: &mut Canvas, from: (f64, f64), to: (f64, f64)| {
        canvas.line(&[from, to], stroke(LineKind::Feed, 0.7));
    };
    match shown {
        Shown::Symbol(symbol) => {
            match symbol {
                Symbol::Engine => {
                    canvas.boxed(-5.0, -1.2, 5.0, 1.2, Stroke::solid(INK, 0.5), "#d9d9d9");
                }
                Symbol::Busbar => canvas.line(&[(-5.0, 0.0), (5.0, 0.0)], Stroke::solid(INK, 1.8)),
                Symbol::Post => {
                    canvas.line(&[(-3.0, 0.0), (3.0, 0.0)], Stroke::solid(INK, 1.0));
                    canvas.dot(0.0, 0.0, 0.9, colour(LineKind::Feed));
                }
                Symbol::Body => frame(canvas, 0.0, -1.6),
                other => other.draw(canvas, 0.0, 0.0),
            }
            let half = symbol.half_width();
            let area = canvas.area(-half, -REACH, half, REACH);
            canvas.geometry.parts.push(PartBox { name: symbol.meaning().to_owned(), nodes: Vec::new(), area });
        }
        Shown::Line(kind) => {
            canvas.line(&[(-5.5, 0.0), (5.5, 0.0)], stroke(kind, if kind == LineKind::Bolted { 1.4 } else { 0.7 }));
        }
        Shown::Joint => {
            feed(canvas, (-5.0, 0.0), (5.0, 0.0));
            feed(canvas, (0.0, 0.0), (0.0, 5.0));
            canvas.dot(0.0, 0.0, 0.9, colour(LineKind::Feed));
        }
        Shown::TwoJoints => {
            feed(canvas, (-5.0, 0.0), (5.0, 0.0));
            feed(canvas, (-1.8, 0.0), (-1.8, 5.0));
            feed(canvas, (1.8, 0.0), (1.8, -5.0));
            canvas.dot(-1.8, 0.0, 0.9, colour(LineKind::Feed));
            canvas.dot(1.8, 0.0, 0.9, colour(LineKind::Feed));
        }
        Shown::Crossing => {
            feed(canvas, (-5.0, 0.0), (5.0, 0.0));
            feed(canvas, (0.0, -5.0), (0.0, 5.0));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_symbol_has_its_name_and_its_standard_beside_it() {
        let sheet = symbol_sheet();
        let says = |words: &str| {
            let first = words.split(' ').next().unwrap_or_default();
            sheet.geometry.texts.iter().any(|t| t.words.contains(first))
        };
        for symbol in Symbol::ALL {
            assert!(says(symbol.meaning()) && says(symbol.standard()), "{symbol:?}");
            assert!(sheet.geometry.parts.iter().any(|p| p.name == symbol.meaning()), "{symbol:?}");
        }
        let mut names: Vec<&str> = Symbol::ALL.iter().map(|s| s.meaning()).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), Symbol::ALL.len());
    }
}
