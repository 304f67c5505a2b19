//! Marks on paper: lines, boxes and text become SVG here and nowhere else.
//!
//! Knows no circuit. One function rounds numbers, one escapes text, and every mark is noted in a
//! [`Geometry`] so that a test can ask whether anything touches anything.

use svg::Node as _;
use svg::node::element::Element;

use super::label::{ASCENT, DESCENT, Face, clean, width};

/// Units of the SVG in one millimetre of paper. Browsers set type of a few units badly; tenths of a
/// millimetre keep the numbers large.
pub const UNITS: f64 = 10.0;

/// An upright rectangle, in millimetres of paper.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Rect {
    /// Left edge.
    pub x0: f64,
    /// Top edge.
    pub y0: f64,
    /// Right edge.
    pub x1: f64,
    /// Bottom edge.
    pub y1: f64,
}

impl Rect {
    /// Whether two rectangles share an area, not just an edge.
    pub fn overlaps(&self, other: &Rect) -> bool {
        const TOUCH: f64 = 1e-6;
        self.x0 + TOUCH < other.x1
            && other.x0 + TOUCH < self.x1
            && self.y0 + TOUCH < other.y1
            && other.y0 + TOUCH < self.y1
    }
    /// Whether another lies wholly inside.
    pub fn holds(&self, other: &Rect) -> bool {
        const TOUCH: f64 = 1e-6;
        self.x0 <= other.x0 + TOUCH
            && self.y0 <= other.y0 + TOUCH
            && self.x1 + TOUCH >= other.x1
            && self.y1 + TOUCH >= other.y1
    }
    /// Larger on all sides.
    pub fn grown(&self, by: f64) -> Rect {
        Rect { x0: self.x0 - by, y0: self.y0 - by, x1: self.x1 + by, y1: self.y1 + by }
    }
}

/// A part's symbol.
#[derive(Clone, Debug)]
pub struct PartBox {
    /// The part's key.
    pub name: String,
    /// Its terminals, as the circuit's node numbers.
    pub nodes: Vec<usize>,
    /// Its symbol's outline, terminals included.
    pub area: Rect,
}

/// A line of text.
#[derive(Clone, Debug)]
pub struct TextBox {
    /// What it says.
    pub words: String,
    /// Its box: from the font's ascent to its descent.
    pub area: Rect,
    /// Its size in points at the sheet's own size.
    pub points: f64,
}

/// A run as drawn.
#[derive(Clone, Debug)]
pub struct RunPath {
    /// The run's key, or what the bolted joint belongs to.
    pub name: String,
    /// Corners, in order.
    pub points: Vec<(f64, f64)>,
    /// Line width.
    pub weight: f64,
    /// How many points at each end are shared with other runs of the same terminal.
    pub stems: [usize; 2],
    /// The two terminals it joins, as the circuit's node numbers: runs that share one may meet.
    pub ends: [usize; 2],
}

/// Where everything is, in millimetres of paper: for tests, and for whoever lays a link over a picture.
#[derive(Clone, Debug, Default)]
pub struct Geometry {
    /// Sheets, from top to bottom.
    pub sheets: Vec<Rect>,
    /// Parts.
    pub parts: Vec<PartBox>,
    /// Boxes that hold words of their own: the parts on a plan. No other words may touch them.
    pub cards: Vec<Rect>,
    /// Texts.
    pub texts: Vec<TextBox>,
    /// Runs.
    pub runs: Vec<RunPath>,
    /// Joints shown as dots: centre.
    pub dots: Vec<(f64, f64)>,
    /// The least distance kept between two runs, centre to centre.
    pub spacing: f64,
    /// How often runs cross, as the layout counted it.
    pub crossings: usize,
}

/// The one place where a number becomes text: a hundredth of a millimetre, no trailing zeros, no minus zero.
pub fn number(value: f64) -> String {
    let rounded = (value * 10.0).round() / 10.0;
    if rounded == 0.0 { "0".to_owned() } else { format!("{rounded}") }
}

/// How a line looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stroke {
    /// Colour, as `#rrggbb`.
    pub colour: &'static str,
    /// Width in mm before scaling.
    pub weight: f64,
    /// Lengths of dash and gap in mm before scaling; empty is solid.
    pub dashes: &'static [f64],
}

impl Stroke {
    /// A solid line.
    pub const fn solid(colour: &'static str, weight: f64) -> Stroke {
        Stroke { colour, weight, dashes: &[] }
    }
}

/// Which point of a text its position names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Its left end.
    Start,
    /// Its middle.
    Middle,
    /// Its right end.
    End,
}

/// How a text looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lettering {
    /// Its weight.
    pub face: Face,
    /// Its size in mm before scaling.
    pub size: f64,
    /// Its colour, as `#rrggbb`.
    pub colour: &'static str,
}

impl Lettering {
    /// In ink.
    pub const fn ink(face: Face, size: f64) -> Lettering {
        Lettering { face, size, colour: INK }
    }
}

/// Paper to draw on. Positions and sizes are in mm; [`Canvas::frame`] says how they land on the sheet.
pub struct Canvas {
    stack: Vec<Element>,
    /// Lines not put down yet: their stroke, scale and path.
    pending: Option<(Stroke, f64, String)>,
    scale: f64,
    dx: f64,
    dy: f64,
    /// What has been drawn so far.
    pub geometry: Geometry,
}

/// Black enough for print, softer than pure black on a screen; 16:1 on white.
pub const INK: &str = "#1a1a1a";
/// Thin lines that only divide; 5.7:1 on white.
pub const PALE: &str = "#666666";

fn stroked(mut element: Element, stroke: Stroke, scale: f64) -> Element {
    element.assign("stroke", stroke.colour);
    element.assign("stroke-width", number(stroke.weight * scale * UNITS));
    if !stroke.dashes.is_empty() {
        let dashes: Vec<String> = stroke.dashes.iter().map(|d| number(d * scale * UNITS)).collect();
        element.assign("stroke-dasharray", dashes.join(" "));
    }
    element
}

impl Canvas {
    /// Blank paper of `width` by `height` mm; `name` keeps its ids apart from other pictures' on one page.
    pub fn new(name: &str, width: f64, height: f64, title: &str, description: &str) -> Canvas {
        let mut root = Element::new("svg");
        root.assign("xmlns", "http://www.w3.org/2000/svg");
        root.assign("viewBox", format!("0 0 {} {}", number(width * UNITS), number(height * UNITS)));
        root.assign("width", format!("{}mm", number(width)));
        root.assign("height", format!("{}mm", number(height)));
        root.assign("role", "img");
        root.assign("aria-labelledby", format!("{name}-title {name}-desc"));
        root.assign("font-family", "'DejaVu Sans Condensed', 'DejaVu Sans', Verdana, sans-serif");
        root.assign("font-stretch", "condensed");
        root.assign("fill", "none");
        root.assign("stroke-linejoin", "round");
        let mut canvas =
            Canvas { stack: vec![root], pending: None, scale: 1.0, dx: 0.0, dy: 0.0, geometry: Geometry::default() };
        canvas.words("title", Some(&format!("{name}-title")), title);
        canvas.words("desc", Some(&format!("{name}-desc")), description);
        let mut paper = Element::new("rect");
        paper.assign("width", number(width * UNITS));
        paper.assign("height", number(height * UNITS));
        paper.assign("fill", "#ffffff");
        canvas.put(paper);
        canvas
    }

    /// From now on a point `(x, y)` lands at `(dx + scale·x, dy + scale·y)` mm.
    pub fn frame(&mut self, scale: f64, dx: f64, dy: f64) {
        (self.scale, self.dx, self.dy) = (scale, dx, dy);
    }

    /// Where a point lands, in mm of paper.
    pub fn at(&self, (x, y): (f64, f64)) -> (f64, f64) {
        (self.dx + self.scale * x, self.dy + self.scale * y)
    }

    /// Where a rectangle lands, in mm of paper.
    pub fn area(&self, x0: f64, y0: f64, x1: f64, y1: f64) -> Rect {
        let (a, b) = (self.at((x0, y0)), self.at((x1, y1)));
        Rect { x0: a.0.min(b.0), y0: a.1.min(b.1), x1: a.0.max(b.0), y1: a.1.max(b.1) }
    }

    /// The upper edge of a sheet, when sheets of A4 landscape lie below one another.
    pub fn page_top(&self, number: usize) -> f64 {
        number as f64 * super::sheet::PAPER.1
    }

    fn put(&mut self, element: Element) {
        self.flush();
        if let Some(top) = self.stack.last_mut() {
            top.append(element);
        }
    }

    fn words(&mut self, tag: &str, id: Option<&str>, words: &str) {
        let mut element = Element::new(tag);
        if let Some(id) = id {
            element.assign("id", id);
        }
        element.append(svg::node::Text::new(clean(words)));
        self.put(element);
    }

    /// Opens a group with a name that browsers read out and show.
    pub fn open(&mut self, class: &str, title: &str) {
        self.flush();
        let mut group = Element::new("g");
        group.assign("class", class);
        self.stack.push(group);
        if !title.is_empty() {
            self.words("title", None, title);
        }
    }

    /// Closes the group opened last.
    pub fn close(&mut self) {
        self.flush();
        if self.stack.len() > 1
            && let Some(group) = self.stack.pop()
        {
            self.put(group);
        }
    }

    fn stroked(&self, element: Element, stroke: Stroke) -> Element {
        stroked(element, stroke, self.scale)
    }

    fn point(&self, p: (f64, f64)) -> String {
        let (x, y) = self.at(p);
        format!("{} {}", number(x * UNITS), number(y * UNITS))
    }

    /// A line through points. Lines of one stroke that follow one another become one path: fewer things to read, to
    /// draw and to send.
    pub fn line(&mut self, points: &[(f64, f64)], stroke: Stroke) {
        let mut d = String::new();
        for (i, p) in points.iter().enumerate() {
            d.push(if i == 0 { 'M' } else { 'L' });
            d.push_str(&self.point(*p));
        }
        match &mut self.pending {
            Some((last, scale, path)) if *last == stroke && *scale == self.scale => path.push_str(&d),
            _ => {
                self.flush();
                self.pending = Some((stroke, self.scale, d));
            }
        }
    }

    /// Puts down the lines that were waiting for more of their kind.
    fn flush(&mut self) {
        if let Some((stroke, scale, d)) = self.pending.take() {
            let mut path = Element::new("path");
            path.assign("d", d);
            let path = stroked(path, stroke, scale);
            if let Some(top) = self.stack.last_mut() {
                top.append(path);
            }
        }
    }

    /// A filled shape through points.
    pub fn fill(&mut self, points: &[(f64, f64)], colour: &str) {
        let mut d = String::new();
        for (i, p) in points.iter().enumerate() {
            d.push(if i == 0 { 'M' } else { 'L' });
            d.push_str(&self.point(*p));
        }
        d.push('Z');
        let mut path = Element::new("path");
        path.assign("d", d);
        path.assign("fill", colour);
        self.put(path);
    }

    /// Filled boxes of one colour that meet without a seam: corner, width, height.
    pub fn cells(&mut self, cells: &[(f64, f64, f64, f64)], colour: &str) {
        let mut d = String::new();
        for (x, y, width, height) in cells {
            let (wide, high) = (number(width * self.scale * UNITS), number(height * self.scale * UNITS));
            d.push_str(&format!("M{}h{wide}v{high}h-{wide}z", self.point((*x, *y))));
        }
        let mut path = Element::new("path");
        path.assign("d", d);
        path.assign("fill", colour);
        path.assign("shape-rendering", "crispEdges");
        self.put(path);
    }

    /// A cubic curve from the first point to the last.
    pub fn curve(&mut self, p: [(f64, f64); 4], stroke: Stroke) {
        let d = format!("M{}C{} {} {}", self.point(p[0]), self.point(p[1]), self.point(p[2]), self.point(p[3]));
        let mut path = Element::new("path");
        path.assign("d", d);
        let path = self.stroked(path, stroke);
        self.put(path);
    }

    /// Half a circle about `(x, y)`, open downward or upward.
    pub fn half_circle(&mut self, x: f64, y: f64, radius: f64, open_down: bool, stroke: Stroke) {
        let r = number(radius * self.scale * UNITS);
        let sweep = if open_down { 1 } else { 0 };
        let d = format!("M{}A{r} {r} 0 0 {sweep} {}", self.point((x - radius, y)), self.point((x + radius, y)));
        let mut path = Element::new("path");
        path.assign("d", d);
        let path = self.stroked(path, stroke);
        self.put(path);
    }

    /// A box, white inside.
    pub fn boxed(&mut self, x0: f64, y0: f64, x1: f64, y1: f64, stroke: Stroke, fill: &str) {
        let area = self.area(x0, y0, x1, y1);
        let mut rect = Element::new("rect");
        rect.assign("x", number(area.x0 * UNITS));
        rect.assign("y", number(area.y0 * UNITS));
        rect.assign("width", number((area.x1 - area.x0) * UNITS));
        rect.assign("height", number((area.y1 - area.y0) * UNITS));
        rect.assign("fill", fill);
        let rect = if stroke.weight > 0.0 { self.stroked(rect, stroke) } else { rect };
        self.put(rect);
    }

    /// A circle.
    pub fn circle(&mut self, x: f64, y: f64, radius: f64, stroke: Stroke, fill: &str) {
        let (cx, cy) = self.at((x, y));
        let mut circle = Element::new("circle");
        circle.assign("cx", number(cx * UNITS));
        circle.assign("cy", number(cy * UNITS));
        circle.assign("r", number(radius * self.scale * UNITS));
        circle.assign("fill", fill);
        let circle = if stroke.weight > 0.0 { self.stroked(circle, stroke) } else { circle };
        self.put(circle);
    }

    /// A joint.
    pub fn dot(&mut self, x: f64, y: f64, radius: f64, colour: &'static str) {
        self.circle(x, y, radius, Stroke::solid(colour, 0.0), colour);
        let p = self.at((x, y));
        self.geometry.dots.push(p);
    }

    /// A line of text with its baseline at `y`. Its drawn width is pinned to the measured one, so
    /// that a reader without the font sees nothing overlap.
    pub fn text(&mut self, (x, y): (f64, f64), anchor: Anchor, lettering: Lettering, words: &str) {
        let Lettering { face, size, colour } = lettering;
        let words = clean(words);
        if words.is_empty() {
            return;
        }
        let wide = width(&words, face, size);
        let left = match anchor {
            Anchor::Start => x,
            Anchor::Middle => x - wide / 2.0,
            Anchor::End => x - wide,
        };
        let area = self.area(left, y - ASCENT * size, left + wide, y + DESCENT * size);
        let points = size * self.scale / super::label::POINT_MM;
        self.geometry.texts.push(TextBox { words: words.clone(), area, points });
        let (px, py) = self.at((left, y));
        let mut text = Element::new("text");
        text.assign("x", number(px * UNITS));
        text.assign("y", number(py * UNITS));
        text.assign("font-size", number(size * self.scale * UNITS));
        if face == Face::Bold {
            text.assign("font-weight", "bold");
        }
        text.assign("fill", colour);
        text.assign("textLength", number(wide * self.scale * UNITS));
        text.assign("lengthAdjust", "spacingAndGlyphs");
        text.append(svg::node::Text::new(words));
        self.put(text);
    }

    /// The finished SVG, and what was drawn where.
    pub fn finish(mut self) -> (String, Geometry) {
        self.flush();
        while self.stack.len() > 1 {
            self.close();
        }
        let svg = self.stack.pop().map(|root| root.to_string()).unwrap_or_default();
        (svg + "\n", self.geometry)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_short_and_never_minus_zero() {
        assert_eq!(number(-0.04), "0");
        assert_eq!(number(12.3456), "12.3");
        assert_eq!(number(100.0), "100");
    }

    #[test]
    fn authors_text_is_escaped() {
        let mut canvas = Canvas::new("test", 10.0, 10.0, "<script>&", "\"x\"");
        canvas.text((0.0, 5.0), Anchor::Start, Lettering::ink(Face::Regular, 3.0), "a<b>&\u{1}");
        let (svg, _) = canvas.finish();
        assert!(svg.contains("&lt;script&gt;&amp;"));
        assert!(svg.contains("a&lt;b&gt;&amp;"));
        assert!(!svg.contains("<script"));
    }
}
