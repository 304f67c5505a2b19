//! Symbols after IEC 60617 (and IEEE 315 where the two agree), one small function each.
//!
//! Knows no circuit and no layout. Every symbol stands upright about a point, current flowing from
//! top to bottom, its terminals on its axis [`REACH`] above and below (a charger has two a side).
//! Letters and signs inside a symbol are drawn as lines, so that they need no font.
//! Neither standard was at hand. Where a public text describes a shape in words, the shape was held against it, and the
//! function names the text; all other shapes are from memory of the two standards. Where these differ the function says
//! which it follows. The texts:
//!
//! * DOE-HDBK-1016/1-93, US Department of Energy, “Electrical diagrams and schematics”, page 14 (public domain; its words were
//!   read, its figures were not to be had): a relay and its contact are tied by a dashed line, which stands for a
//!   mechanical connection; devices are drawn as they stand without current.
//! * Teaching texts on the web, of which several agree and none is a standard: a cell is a long thin line, its plus, and a
//!   short thick one, its minus; a fuse after IEC 60617 is a rectangle with the conductor passing through it; a motor is
//!   a circle with an M; and (an answer on a site for engineers that explains IEC 60617) a cross at a switch's contact makes
//!   it a circuit breaker, a bar there an isolator.

use super::svg_out::{Canvas, INK, Stroke};

/// From a symbol's middle to its terminals, in mm.
pub const REACH: f64 = 6.0;

/// Half the distance between the two terminals on one side of a charger, in mm.
pub const TWIN: f64 = 3.0;

/// Outline of a symbol: 0.5 mm, a width of ISO 128-2.
const LINE: Stroke = Stroke::solid(INK, 0.5);
/// Fine marks inside a symbol: 0.35 mm, likewise.
const FINE: Stroke = Stroke::solid(INK, 0.35);
/// A mechanical link: fine and dashed, as IEC 60617 has it.
const LINK: Stroke = Stroke { colour: INK, weight: 0.35, dashes: &[1.2, 0.8] };

/// How its shape is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Known {
    /// A public text describes it; see the head of this module.
    Described,
    /// From memory of a standard.
    Memory,
    /// It is ours.
    Own,
}

/// Which symbol.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Symbol {
    /// Battery of cells.
    Battery,
    /// Fuse.
    Fuse,
    /// Circuit breaker.
    Breaker,
    /// Hand-worked isolator.
    Isolator,
    /// Relay: its contact and its coil.
    Relay,
    /// Plug and socket.
    Connector,
    /// A post: a terminal that several conductors share.
    Post,
    /// A busbar.
    Busbar,
    /// A fuse panel.
    Panel,
    /// A load.
    Load,
    /// A winch: a motor.
    Winch,
    /// An inverter: DC to AC.
    Inverter,
    /// A DC to DC charger.
    DcDcCharger,
    /// A charger fed by a solar panel.
    SolarCharger,
    /// A charger fed by the mains.
    MainsCharger,
    /// A starter: a DC motor.
    Starter,
    /// An alternator with its rectifier.
    Alternator,
    /// The engine block.
    Engine,
    /// The body.
    Body,
    /// A line that goes on on another sheet.
    Onward,
}

impl Symbol {
    /// Every symbol, in the order of the sheet that shows them all.
    pub const ALL: &'static [Symbol] = &[
        Symbol::Battery,
        Symbol::Alternator,
        Symbol::DcDcCharger,
        Symbol::SolarCharger,
        Symbol::MainsCharger,
        Symbol::Fuse,
        Symbol::Breaker,
        Symbol::Isolator,
        Symbol::Relay,
        Symbol::Connector,
        Symbol::Post,
        Symbol::Busbar,
        Symbol::Panel,
        Symbol::Load,
        Symbol::Winch,
        Symbol::Starter,
        Symbol::Inverter,
        Symbol::Engine,
        Symbol::Body,
        Symbol::Onward,
    ];

    /// What the legend calls it.
    pub const fn meaning(self) -> &'static str {
        match self {
            Symbol::Battery => "battery",
            Symbol::Fuse => "fuse",
            Symbol::Breaker => "breaker",
            Symbol::Isolator => "isolator",
            Symbol::Relay => "relay",
            Symbol::Connector => "connector",
            Symbol::Post => "post",
            Symbol::Busbar => "busbar",
            Symbol::Panel => "fuse panel",
            Symbol::Load => "load",
            Symbol::Winch => "winch motor",
            Symbol::Inverter => "inverter",
            Symbol::DcDcCharger => "DC-DC charger",
            Symbol::SolarCharger => "solar charger",
            Symbol::MainsCharger => "mains charger",
            Symbol::Starter => "starter motor",
            Symbol::Alternator => "alternator",
            Symbol::Engine => "engine block",
            Symbol::Body => "body",
            Symbol::Onward => "goes on on another sheet",
        }
    }

    /// The standard that its shape follows, by the name it has there (from memory); what is ours says so.
    pub const fn standard(self) -> &'static str {
        match self {
            Symbol::Battery => "IEC 60617, IEEE 315: battery of cells",
            Symbol::Fuse => "IEC 60617, IEEE 315: fuse",
            Symbol::Breaker => "IEC 60617: circuit breaker",
            Symbol::Isolator => "IEC 60617: isolator with hand drive",
            Symbol::Relay => "IEC 60617, IEEE 315: contact linked to its coil",
            Symbol::Connector => "IEC 60617: plug and socket",
            Symbol::Post => "own: bar with the lines that it joins",
            Symbol::Busbar => "own: heavy bar with the lines that it joins",
            Symbol::Panel => "own: box with two IEC 60617 fuses",
            Symbol::Load => "IEC 60617: resistor, for any load",
            Symbol::Winch => "IEC 60617: motor; the drum is ours",
            Symbol::Inverter => "IEC 60617: converter, direct to alternating current",
            Symbol::DcDcCharger => "IEC 60617: converter, direct to direct current",
            Symbol::SolarCharger => "IEC 60617: converter, with the arrows of light",
            Symbol::MainsCharger => "IEC 60617: converter, alternating to direct current",
            Symbol::Starter => "IEC 60617: direct-current motor",
            Symbol::Alternator => "IEC 60617: generator, with the diode of its rectifier",
            Symbol::Engine => "own: block that parts are bolted to",
            Symbol::Body => "IEC 60617, IEEE 315: frame or chassis",
            Symbol::Onward => "own: diamond, with where the line goes on",
        }
    }

    /// How its shape is known. What is described is the shape's main marks; proportions are ours everywhere.
    pub const fn known(self) -> Known {
        match self {
            Symbol::Battery
            | Symbol::Fuse
            | Symbol::Breaker
            | Symbol::Isolator
            | Symbol::Relay
            | Symbol::Winch
            | Symbol::Starter => Known::Described,
            Symbol::Connector
            | Symbol::Load
            | Symbol::Inverter
            | Symbol::DcDcCharger
            | Symbol::SolarCharger
            | Symbol::MainsCharger
            | Symbol::Alternator
            | Symbol::Body => Known::Memory,
            Symbol::Post | Symbol::Busbar | Symbol::Panel | Symbol::Engine | Symbol::Onward => Known::Own,
        }
    }

    /// The letter of its reference designator, after IEC 81346-2 (from memory).
    pub const fn letter(self) -> char {
        match self {
            Symbol::Battery | Symbol::Alternator => 'G',
            Symbol::Fuse | Symbol::Breaker => 'F',
            Symbol::Isolator => 'Q',
            Symbol::Relay => 'K',
            Symbol::Connector | Symbol::Post | Symbol::Busbar => 'X',
            Symbol::Panel => 'A',
            Symbol::Load => 'E',
            Symbol::Winch | Symbol::Starter => 'M',
            Symbol::Inverter | Symbol::DcDcCharger | Symbol::SolarCharger | Symbol::MainsCharger => 'T',
            Symbol::Engine | Symbol::Body | Symbol::Onward => 'U',
        }
    }

    /// Half its width, in mm.
    pub const fn half_width(self) -> f64 {
        match self {
            Symbol::Fuse => 2.0,
            Symbol::Breaker | Symbol::Isolator | Symbol::Connector => 3.0,
            Symbol::Load => 3.0,
            Symbol::Post | Symbol::Busbar | Symbol::Engine | Symbol::Body => 3.0,
            Symbol::Onward => 1.6,
            Symbol::Battery => 4.5,
            Symbol::Relay => 5.5,
            Symbol::Winch | Symbol::Starter | Symbol::Alternator => 4.5,
            Symbol::Panel | Symbol::Inverter => 4.5,
            Symbol::DcDcCharger | Symbol::SolarCharger | Symbol::MainsCharger => 5.0,
        }
    }

    /// Draws it about `(x, y)`.
    pub fn draw(self, canvas: &mut Canvas, x: f64, y: f64) {
        let mut pen = Pen { canvas, x, y };
        match self {
            Symbol::Battery => battery(&mut pen),
            Symbol::Fuse => fuse(&mut pen),
            Symbol::Breaker => breaker(&mut pen),
            Symbol::Isolator => isolator(&mut pen),
            Symbol::Relay => relay(&mut pen),
            Symbol::Connector => connector(&mut pen),
            Symbol::Post => post(&mut pen),
            Symbol::Busbar => busbar(&mut pen),
            Symbol::Panel => panel(&mut pen),
            Symbol::Load => load(&mut pen),
            Symbol::Winch => winch(&mut pen),
            Symbol::Inverter => inverter(&mut pen),
            Symbol::DcDcCharger => dc_dc_charger(&mut pen),
            Symbol::SolarCharger => solar_charger(&mut pen),
            Symbol::MainsCharger => mains_charger(&mut pen),
            Symbol::Starter => starter(&mut pen),
            Symbol::Alternator => alternator(&mut pen),
            Symbol::Engine => engine(&mut pen),
            Symbol::Body => frame(pen.canvas, x, y),
            Symbol::Onward => onward(&mut pen),
        }
    }
}

/// Draws relative to a symbol's middle.
struct Pen<'a> {
    canvas: &'a mut Canvas,
    x: f64,
    y: f64,
}

impl Pen<'_> {
    fn line(&mut self, points: &[(f64, f64)], stroke: Stroke) {
        let moved: Vec<(f64, f64)> = points.iter().map(|(x, y)| (self.x + x, self.y + y)).collect();
        self.canvas.line(&moved, stroke);
    }
    fn fill(&mut self, points: &[(f64, f64)]) {
        let moved: Vec<(f64, f64)> = points.iter().map(|(x, y)| (self.x + x, self.y + y)).collect();
        self.canvas.fill(&moved, INK);
    }
    fn boxed(&mut self, half_width: f64, half_height: f64) {
        let (x, y) = (self.x, self.y);
        self.canvas.boxed(x - half_width, y - half_height, x + half_width, y + half_height, LINE, "#ffffff");
    }
    fn circle(&mut self, x: f64, y: f64, radius: f64, fill: &str) {
        self.canvas.circle(self.x + x, self.y + y, radius, LINE, fill);
    }
    /// Leads from the terminals to the symbol's body.
    fn leads(&mut self, top: f64, bottom: f64) {
        self.line(&[(0.0, -REACH), (0.0, top)], LINE);
        self.line(&[(0.0, bottom), (0.0, REACH)], LINE);
    }
    /// The sign of alternating current.
    fn wave(&mut self, x: f64, y: f64) {
        let (x, y) = (self.x + x, self.y + y);
        self.canvas.curve([(x - 1.5, y), (x - 0.8, y - 1.8), (x + 0.8, y + 1.8), (x + 1.5, y)], FINE);
    }
    /// The sign of direct current: a long line over a broken one.
    fn direct(&mut self, x: f64, y: f64) {
        self.line(&[(x - 1.4, y - 0.5), (x + 1.4, y - 0.5)], FINE);
        for at in [-1.4, -0.35, 0.7] {
            self.line(&[(x + at, y + 0.5), (x + at + 0.7, y + 0.5)], FINE);
        }
    }
    /// The letter M.
    fn letter_m(&mut self, y: f64) {
        self.line(&[(-1.3, y + 1.5), (-1.3, y - 1.5), (0.0, y + 0.4), (1.3, y - 1.5), (1.3, y + 1.5)], LINE);
    }
    /// The letter G.
    fn letter_g(&mut self, y: f64) {
        let (x0, y0) = (self.x, self.y + y);
        self.canvas
            .curve([(x0 + 1.1, y0 - 1.0), (x0 - 0.4, y0 - 2.4), (x0 - 2.4, y0 - 0.6), (x0 - 1.0, y0 + 1.0)], LINE);
        self.canvas
            .curve([(x0 - 1.0, y0 + 1.0), (x0 - 0.3, y0 + 1.8), (x0 + 1.2, y0 + 1.6), (x0 + 1.2, y0 + 0.2)], LINE);
        self.line(&[(1.2, y + 0.2), (0.2, y + 0.2)], LINE);
    }
    /// A blade that stands open from its hinge below toward the fixed contact above.
    fn blade(&mut self) {
        self.leads(-3.0, 3.0);
        self.line(&[(0.0, 3.0), (-2.6, -2.4)], LINE);
    }
}

/// Battery: long thin plate positive, short thick plate negative (described in teaching texts); dashes between stand for
/// more cells (from memory).
fn battery(pen: &mut Pen<'_>) {
    pen.leads(-2.1, 2.1);
    pen.line(&[(-4.5, -2.1), (4.5, -2.1)], LINE);
    pen.line(&[(-2.0, -0.9), (2.0, -0.9)], Stroke::solid(INK, 1.0));
    pen.line(&[(0.0, -0.9), (0.0, 0.9)], LINK);
    pen.line(&[(-4.5, 0.9), (4.5, 0.9)], LINE);
    pen.line(&[(-2.0, 2.1), (2.0, 2.1)], Stroke::solid(INK, 1.0));
}

/// Fuse: a rectangle with the conductor running straight through it (IEC 60617, as teaching texts describe it).
fn fuse(pen: &mut Pen<'_>) {
    pen.boxed(1.8, 3.8);
    pen.line(&[(0.0, -REACH), (0.0, REACH)], LINE);
}

/// Circuit breaker: a blade, with a small cross at the fixed contact (IEC 60617, as teaching texts describe it).
fn breaker(pen: &mut Pen<'_>) {
    pen.blade();
    pen.line(&[(-1.0, -4.0), (1.0, -2.0)], LINE);
    pen.line(&[(-1.0, -2.0), (1.0, -4.0)], LINE);
}

/// Isolator: a blade, with a short bar across the fixed contact (IEC 60617, as teaching texts describe it), and a handle
/// (from memory).
fn isolator(pen: &mut Pen<'_>) {
    pen.blade();
    pen.line(&[(-1.3, -3.0), (1.3, -3.0)], LINE);
    pen.line(&[(-1.4, 0.2), (-3.0, 0.2)], LINK);
    pen.line(&[(-3.0, -0.9), (-3.0, 1.3)], LINE);
}

/// Relay: a contact linked to a coil by a dashed line (DOE-HDBK-1016/1-93), open, as it stands without current (the same);
/// the coil as a small rectangle (IEC 60617, as teaching texts describe it).
fn relay(pen: &mut Pen<'_>) {
    pen.leads(-3.0, 3.0);
    pen.line(&[(0.0, 3.0), (2.4, -2.4)], LINE);
    pen.line(&[(1.2, 0.2), (-2.2, 0.2)], LINK);
    let (x, y) = (pen.x, pen.y);
    pen.canvas.boxed(x - 5.4, y - 1.4, x - 2.2, y + 1.8, LINE, "#ffffff");
    pen.line(&[(-3.8, -1.4), (-3.8, -2.9)], FINE);
    pen.line(&[(-3.8, 1.8), (-3.8, 3.3)], FINE);
}

/// Connector: a plug, a filled bar, entering a socket, an open half-circle (IEC 60617, from memory).
fn connector(pen: &mut Pen<'_>) {
    pen.leads(-1.6, 2.0);
    pen.fill(&[(-0.6, -3.2), (0.6, -3.2), (0.6, 0.6), (-0.6, 0.6)]);
    let (x, y) = (pen.x, pen.y);
    pen.canvas.half_circle(x, y + 0.2, 1.8, false, LINE);
}

/// Post: an open circle, the sign of a terminal.
fn post(pen: &mut Pen<'_>) {
    pen.line(&[(-3.0, 0.0), (3.0, 0.0)], Stroke::solid(INK, 1.0));
    pen.circle(0.0, 0.0, 1.2, "#ffffff");
}

/// Busbar: a heavy bar.
fn busbar(pen: &mut Pen<'_>) {
    pen.line(&[(-3.0, 0.0), (3.0, 0.0)], Stroke::solid(INK, 1.4));
}

/// Fuse panel: a box, the boundary of a unit, with two fused ways in it.
fn panel(pen: &mut Pen<'_>) {
    pen.leads(-4.2, 4.2);
    pen.boxed(4.5, 4.2);
    pen.line(&[(0.0, -4.2), (0.0, -3.0)], FINE);
    pen.line(&[(-2.2, -3.0), (2.2, -3.0)], FINE);
    for x in [-2.2, 2.2] {
        let (cx, cy) = (pen.x + x, pen.y);
        pen.canvas.boxed(cx - 0.8, cy - 1.8, cx + 0.8, cy + 1.2, FINE, "#ffffff");
        pen.line(&[(x, -3.0), (x, 2.6)], FINE);
    }
    pen.line(&[(-2.2, 2.6), (2.2, 2.6)], FINE);
    pen.line(&[(0.0, 2.6), (0.0, 4.2)], FINE);
}

/// Load: a plain rectangle, the sign of a resistance (IEC 60617, from memory).
fn load(pen: &mut Pen<'_>) {
    pen.leads(-4.0, 4.0);
    pen.boxed(2.4, 4.0);
}

/// Winch: a circle with M (as teaching texts describe a motor), over a drum (ours).
fn winch(pen: &mut Pen<'_>) {
    pen.leads(-4.2, 4.2);
    pen.circle(0.0, 0.0, 4.2, "#ffffff");
    pen.letter_m(-0.9);
    pen.line(&[(-1.8, 2.2), (1.8, 2.2)], LINE);
    pen.line(&[(-1.8, 1.4), (-1.8, 3.0)], LINE);
    pen.line(&[(1.8, 1.4), (1.8, 3.0)], LINE);
}

/// Starter: a circle with M (as teaching texts describe a motor) and the sign of direct current (from memory).
fn starter(pen: &mut Pen<'_>) {
    pen.leads(-4.2, 4.2);
    pen.circle(0.0, 0.0, 4.2, "#ffffff");
    pen.letter_m(-0.9);
    pen.direct(0.0, 2.2);
}

/// Alternator: a circle with G and the sign of alternating current (from memory), and the diode of its rectifier (ours here).
fn alternator(pen: &mut Pen<'_>) {
    pen.leads(-4.2, 4.2);
    pen.circle(0.0, 0.0, 4.2, "#ffffff");
    pen.letter_g(-1.2);
    pen.wave(-1.3, 2.0);
    pen.fill(&[(0.8, 3.0), (2.8, 3.0), (1.8, 1.4)]);
    pen.line(&[(0.8, 1.4), (2.8, 1.4)], FINE);
}

/// Converter: a square, its corners joined; what comes in above the line, what goes out below (IEC 60617, from memory).
fn converter(pen: &mut Pen<'_>) {
    pen.boxed(4.5, 4.2);
    pen.line(&[(-4.5, 4.2), (4.5, -4.2)], FINE);
}

/// Inverter: a converter from direct to alternating current.
fn inverter(pen: &mut Pen<'_>) {
    pen.leads(-4.2, 4.2);
    converter(pen);
    pen.direct(-1.9, -2.3);
    pen.wave(2.0, 2.3);
}

/// DC to DC charger: a converter with direct current on both sides, two terminals above, two below.
fn dc_dc_charger(pen: &mut Pen<'_>) {
    for x in [-TWIN, TWIN] {
        pen.line(&[(x, -REACH), (x, -4.2)], LINE);
        pen.line(&[(x, 4.2), (x, REACH)], LINE);
    }
    converter(pen);
    pen.direct(-2.2, -2.0);
    pen.direct(2.2, 2.0);
}

/// Solar charger: a converter fed by light: two arrows.
fn solar_charger(pen: &mut Pen<'_>) {
    pen.leads(-4.2, 4.2);
    converter(pen);
    for x in [-3.6, -1.6] {
        pen.line(&[(x, -3.4), (x + 1.4, -2.0)], FINE);
        pen.fill(&[(x + 1.8, -1.6), (x + 0.8, -1.9), (x + 1.5, -2.6)]);
    }
    pen.direct(2.2, 2.0);
}

/// Mains charger: a converter from alternating to direct current.
fn mains_charger(pen: &mut Pen<'_>) {
    pen.leads(-4.2, 4.2);
    converter(pen);
    pen.wave(-2.0, -2.2);
    pen.direct(2.2, 2.0);
}

/// Engine block: a heavy double line, a member that parts are bolted to.
fn engine(pen: &mut Pen<'_>) {
    let (x, y) = (pen.x, pen.y);
    pen.canvas.boxed(x - 3.0, y - 1.2, x + 3.0, y + 1.2, LINE, "#e3e3e3");
}

/// A line that goes on elsewhere: a diamond at its end.
fn onward(pen: &mut Pen<'_>) {
    let (x, y) = (pen.x, pen.y);
    let corners = [(x, y - 1.6), (x + 1.6, y), (x, y + 1.6), (x - 1.6, y)];
    pen.canvas.fill(&corners, "#ffffff");
    pen.canvas.line(&[corners[0], corners[1], corners[2], corners[3], corners[0]], LINE);
}

/// Frame or chassis: a bar with slanting strokes (IEC 60617 and IEEE 315, from memory); its terminal is at `(x, y)`.
pub fn frame(canvas: &mut Canvas, x: f64, y: f64) {
    canvas.line(&[(x, y), (x, y + 1.6)], LINE);
    canvas.line(&[(x - 2.2, y + 1.6), (x + 2.2, y + 1.6)], LINE);
    for at in [-2.2, -0.4, 1.4] {
        canvas.line(&[(x + at + 0.8, y + 1.6), (x + at, y + 3.2)], FINE);
    }
}

/// A plus or minus beside a terminal, drawn as lines about `(x, y)`.
pub fn sign(canvas: &mut Canvas, x: f64, y: f64, positive: bool) {
    canvas.line(&[(x - 0.9, y), (x + 0.9, y)], FINE);
    if positive {
        canvas.line(&[(x, y - 0.9), (x, y + 0.9)], FINE);
    }
}
