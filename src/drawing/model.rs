//! What is to be drawn: parts with their terminals' homes, and what joins them. No positions yet.
//!
//! Hands on a [`Diagram`]: the circuit with all words already made, so that placing and routing
//! need neither the guide nor the circuit.

use super::label::{self, Face, TEXT_MM, wrap};
use super::symbols::{REACH, Symbol, TWIN};
use crate::circuit::{Circuit, Kind, LoadKind, NodeId, PartId, Polarity, RunId, SwitchKind};
use crate::guide::ChargerKind;
use crate::quantity::Show;

/// Horizontal positions are whole numbers of this many mm, so that lines meet exactly.
pub const GRID: f64 = 1.5;

/// Millimetres as grid steps, rounded up.
pub fn steps(mm: f64) -> i32 {
    (mm / GRID - 1e-9).ceil() as i32
}

/// On which edge of its part a terminal lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Home {
    /// Above.
    Top,
    /// Below.
    Bottom,
    /// A bar: whichever edge faces the other end.
    Free,
}

/// One terminal of a part.
#[derive(Clone, Debug)]
pub struct Term {
    /// The circuit's node.
    pub node: NodeId,
    /// Its edge.
    pub home: Home,
    /// Grid steps from the part's axis.
    pub dx: i32,
    /// `Some(true)` is marked +, `Some(false)` −.
    pub sign: Option<bool>,
    /// The part is bolted to the body of its own zone here: a frame symbol stands under it.
    pub framed: bool,
}

/// Where a part belongs in the height of the drawing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tier {
    /// On the feed side alone: above.
    Feed,
    /// Between feed and return.
    Between,
    /// On the return side alone: below.
    Return,
}

/// A part to draw.
#[derive(Clone, Debug)]
pub struct Item {
    /// Which.
    pub part: PartId,
    /// Its key.
    pub name: String,
    /// Its reference designator: `F2`.
    pub tag: String,
    /// Its symbol.
    pub symbol: Symbol,
    /// Which zone's band.
    pub band: usize,
    /// Its tier.
    pub tier: Tier,
    /// A source: wants to be high.
    pub source: bool,
    /// Its terminals.
    pub terms: Vec<Term>,
    /// Whether its two terminals may change places: a fuse has no top.
    pub turns: bool,
    /// A bar that grows to take its connections: post, busbar, engine.
    pub bar: bool,
    /// Label, a line each; the first is bold.
    pub label: Vec<String>,
    /// Whether the label's last line is the key figure.
    pub figure: bool,
    /// Width of the label in mm.
    pub label_width: f64,
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum LineKind {
    /// Feed cable.
    Feed,
    /// Return cable.
    Return,
    /// Tied to neither side.
    Loose,
    /// Bare or braided strap.
    Strap,
    /// A bolted joint: metal on metal.
    Bolted,
}

/// An end of a wire.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// A part's terminal: item, terminal.
    Part(usize, usize),
    /// The body along the foot, in this band.
    Foot(usize),
}

/// What a wire is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WireId {
    /// A run of the guide.
    Run(RunId),
    /// A bolted joint, by its index among the circuit's bolts.
    Bolt(usize),
}

/// Something that joins two ends.
#[derive(Clone, Debug)]
pub struct Wire {
    /// What.
    pub id: WireId,
    /// Its key.
    pub name: String,
    /// Its ends.
    pub ends: [End; 2],
    /// The circuit's nodes.
    pub nodes: [NodeId; 2],
    /// How it is drawn.
    pub kind: LineKind,
    /// Line width in mm.
    pub weight: f64,
    /// Label, a line each: mark, size and length. Empty for a bolted joint.
    pub label: Vec<String>,
    /// Width of the label in mm.
    pub label_width: f64,
    /// What is read out.
    pub title: String,
}

/// Everything to draw.
#[derive(Clone, Debug)]
pub struct Diagram {
    /// Zones' names, front to rear.
    pub bands: Vec<String>,
    /// Parts.
    pub items: Vec<Item>,
    /// What joins them.
    pub wires: Vec<Wire>,
    /// The body's key and label, when there is one.
    pub body: Option<(PartId, String, String)>,
    /// The body's reference designator.
    pub body_tag: String,
    /// The body's terminals.
    pub body_nodes: Vec<NodeId>,
}

/// How much a label says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wording {
    /// Both unit systems.
    pub both_units: bool,
    /// Lines of a run's label: 1 or 2.
    pub run_lines: usize,
    /// Widest line of a part's label, in mm.
    pub part_width: f64,
}

/// Reference designators of all parts, in the author's order: `G1`, `F1`, `F2` …
pub fn tags(circuit: &Circuit) -> Vec<String> {
    let mut counts = std::collections::BTreeMap::new();
    circuit
        .parts
        .iter()
        .map(|part| {
            let letter = symbol_of(&part.kind).letter();
            let n = counts.entry(letter).and_modify(|n| *n += 1).or_insert(1usize);
            format!("{letter}{n}")
        })
        .collect()
}

/// A run's mark on the drawing and on its cable: `W1` is the author's first.
pub fn mark(run: RunId) -> String {
    format!("W{}", run.0 + 1)
}

/// The symbol of a kind of part.
pub fn symbol_of(kind: &Kind) -> Symbol {
    match kind {
        Kind::Battery(_) => Symbol::Battery,
        Kind::Protector(p) if p.is_fuse => Symbol::Fuse,
        Kind::Protector(_) => Symbol::Breaker,
        Kind::Switch(s) => match s.kind {
            SwitchKind::Isolator => Symbol::Isolator,
            SwitchKind::Relay => Symbol::Relay,
            SwitchKind::Connector => Symbol::Connector,
        },
        Kind::Stud(s) if s.is_busbar => Symbol::Busbar,
        Kind::Stud(_) => Symbol::Post,
        Kind::Load(l) => match l.kind {
            LoadKind::Panel => Symbol::Panel,
            LoadKind::Load => Symbol::Load,
            LoadKind::Winch => Symbol::Winch,
            LoadKind::Inverter => Symbol::Inverter,
        },
        Kind::Charger(c) => match c.kind {
            ChargerKind::DcDc => Symbol::DcDcCharger,
            ChargerKind::Solar => Symbol::SolarCharger,
            ChargerKind::Mains => Symbol::MainsCharger,
        },
        Kind::Starter(_) => Symbol::Starter,
        Kind::Alternator(_) => Symbol::Alternator,
        Kind::Engine(_) => Symbol::Engine,
        Kind::Body(_) => Symbol::Body,
    }
}

/// The figure by which a part is bought, in words; empty when it has none.
pub fn key_figure(part: &crate::circuit::Part) -> String {
    let stud = part.stud.map(|t| t.to_string()).unwrap_or_default();
    match &part.kind {
        Kind::Battery(b) => format!("{} {}", b.capacity.show(), chemistry(b.chemistry)),
        Kind::Protector(p) => p.rating.show(),
        Kind::Switch(s) => s.rating.map(Show::show).unwrap_or_default(),
        Kind::Stud(s) => s.rating.map(Show::show).unwrap_or(stud),
        Kind::Load(l) => match (l.power, l.rating) {
            (Some(power), _) => power.show(),
            (None, Some(rating)) => rating.show(),
            (None, None) => String::new(),
        },
        Kind::Charger(c) => c.limit.show(),
        Kind::Starter(s) => format!("cranks {}", s.cranking.0.show()),
        Kind::Alternator(a) => a.output.show(),
        Kind::Engine(_) | Kind::Body(_) => String::new(),
    }
}

fn chemistry(of: crate::guide::Chemistry) -> &'static str {
    use crate::guide::Chemistry;
    match of {
        Chemistry::Flooded => "flooded",
        Chemistry::Agm => "AGM",
        Chemistry::Gel => "gel",
        Chemistry::Lfp => "LFP",
    }
}

/// A word wider than this is broken, in mm.
const LONGEST: f64 = 32.0;

/// Line widths of ISO 128-2 by section, in steps that the eye tells apart: (up to mm², width in mm).
const WEIGHTS: [(f64, f64); 4] = [(4.0, 0.35), (10.0, 0.5), (25.0, 0.7), (50.0, 1.0)];
/// Above the last step.
pub const HEAVIEST: f64 = 1.4;

/// The width at which a conductor of this section is drawn, in mm.
pub fn weight(section: crate::quantity::Area) -> f64 {
    WEIGHTS.iter().find(|(up_to, _)| section.in_mm2() <= up_to + 0.5).map_or(HEAVIEST, |(_, width)| *width)
}

/// How a run is drawn.
pub fn run_kind(run: &crate::circuit::Run) -> LineKind {
    match (run.strap, run.polarity) {
        (true, _) => LineKind::Strap,
        (false, Polarity::Positive) => LineKind::Feed,
        (false, Polarity::Negative) => LineKind::Return,
        (false, Polarity::Loose) => LineKind::Loose,
    }
}

/// Which part is drawn on which sheet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Split {
    /// Each part's sheet, from 0. The body is on every sheet that needs it.
    pub sheet_of: Vec<usize>,
    /// How many sheets there are.
    pub sheets: usize,
}

impl Split {
    /// Everything on one sheet.
    pub fn whole(circuit: &Circuit) -> Split {
        Split { sheet_of: vec![0; circuit.parts.len()], sheets: 1 }
    }
}

/// The words of a circuit, the same on whatever sheet they come to stand.
pub struct Words {
    /// Reference designators.
    tags: Vec<String>,
    /// Each part's label.
    parts: Vec<PartWords>,
    /// Each run's label, its width in mm, and what is read out.
    runs: Vec<(Vec<String>, f64, String)>,
}

/// A part's label, its width in mm, and whether its last line is the key figure.
struct PartWords {
    lines: Vec<String>,
    width: f64,
    figure: bool,
}

impl Words {
    /// Puts a circuit into words.
    pub fn of(circuit: &Circuit, wording: Wording) -> Words {
        let tags = tags(circuit);
        let of_part = |(index, part): (usize, &crate::circuit::Part)| {
            let name = if part.label.is_empty() { &part.name } else { &part.label };
            let words = format!("{} {name}", tags[index]);
            // A label is as wide as its longest word, within reason, rather than break it.
            let widest = label::longest_piece(&words, Face::Bold, TEXT_MM).min(LONGEST).max(wording.part_width);
            let mut lines = wrap(&words, Face::Bold, TEXT_MM, widest, 4);
            let figure = key_figure(part);
            if !figure.is_empty() {
                lines.push(label::shorten(&figure, Face::Regular, TEXT_MM, widest.max(22.0)));
            }
            PartWords { width: label_width(&lines, !figure.is_empty()), lines, figure: !figure.is_empty() }
        };
        let parts = circuit.parts.iter().enumerate().map(of_part).collect();
        let of_run = |(index, run): (usize, &crate::circuit::Run)| {
            let id = RunId(index);
            let length = if wording.both_units { run.length.show_both() } else { run.length.show() };
            let size = run.size.show();
            let label = match wording.run_lines {
                1 => vec![format!("{} {size} {length}", mark(id))],
                _ => vec![format!("{} {size}", mark(id)), length],
            };
            let width = label.iter().map(|l| label::width(l, Face::Regular, TEXT_MM)).fold(0.0, f64::max);
            (label, width, run_in_words(circuit, id))
        };
        let runs = circuit.runs.iter().enumerate().map(of_run).collect();
        Words { tags, parts, runs }
    }
}

impl Diagram {
    /// Puts what one sheet shows of a circuit into words and symbols.
    pub fn of(circuit: &Circuit, words: &Words, split: &Split, sheet: usize) -> Diagram {
        let Words { tags, parts: part_words, runs: run_words } = words;
        let here = |part: PartId| split.sheets == 1 || split.sheet_of.get(part.0) == Some(&sheet);
        let is_body = |part: PartId| circuit.parts.get(part.0).is_some_and(|p| matches!(p.kind, Kind::Body(_)));
        let node = |id: NodeId| circuit.nodes.get(id.0);
        let wanted = |a: NodeId, b: NodeId| match (node(a), node(b)) {
            (Some(a), Some(b)) => match (is_body(a.part), is_body(b.part)) {
                (true, true) => sheet == 0,
                (true, false) => here(b.part),
                (false, true) => here(a.part),
                (false, false) => here(a.part) || here(b.part),
            },
            _ => false,
        };
        // A single sheet shows every zone; one of several only those that it has something in.
        let mut shown = vec![split.sheets == 1; circuit.zones.len().max(1)];
        let last = shown.len() - 1;
        for (index, part) in circuit.parts.iter().enumerate() {
            if here(PartId(index)) && !matches!(part.kind, Kind::Body(_)) {
                shown[part.zone.map_or(0, |z| z.0.min(last))] = true;
            }
        }
        let joins = circuit.runs.iter().map(|r| (r.from, r.to)).chain(circuit.bolts.iter().map(|b| (b.from, b.to)));
        for (a, b) in joins {
            if wanted(a, b) {
                for end in [a, b].into_iter().filter_map(node).filter(|n| is_body(n.part)) {
                    shown[end.zone.0.min(last)] = true;
                }
            }
        }
        let mut bands = Vec::new();
        let mut band_of = vec![0; shown.len()];
        for zone in 0..shown.len() {
            band_of[zone] = if shown[zone] { bands.len() } else { bands.len().saturating_sub(1) };
            if shown[zone] {
                bands.push(circuit.zones.get(zone).map_or(String::new(), |z| label::clean(&z.label)));
            }
        }
        // Every node's end on this sheet: on a part, or on the body along the foot.
        let mut ends: Vec<Option<End>> = vec![None; circuit.nodes.len()];
        let mut items: Vec<Item> = Vec::new();
        let mut body = None;
        let mut body_nodes = Vec::new();
        for (index, part) in circuit.parts.iter().enumerate() {
            if let Kind::Body(nodes) = &part.kind {
                body_nodes.clone_from(nodes);
                for id in nodes {
                    let band = node(*id).map_or(0, |n| band_of[n.zone.0.min(last)]);
                    if let Some(end) = ends.get_mut(id.0) {
                        *end = Some(End::Foot(band));
                    }
                }
                body = Some((PartId(index), part.name.clone(), label::clean(&part.label)));
                continue;
            }
            if !here(PartId(index)) {
                continue;
            }
            let symbol = symbol_of(&part.kind);
            let terms = terminals(&part.kind);
            for (t, term) in terms.iter().enumerate() {
                if let Some(end) = ends.get_mut(term.node.0) {
                    *end = Some(End::Part(items.len(), t));
                }
            }
            let tier = tier_of(circuit, &terms, &part.kind);
            let PartWords { lines, width, figure } = &part_words[index];
            items.push(Item {
                part: PartId(index),
                name: part.name.clone(),
                tag: tags[index].clone(),
                symbol,
                band: band_of[part.zone.map_or(0, |z| z.0.min(last))],
                tier,
                source: matches!(part.kind, Kind::Battery(_) | Kind::Charger(_)),
                turns: matches!(part.kind, Kind::Protector(_) | Kind::Switch(_)),
                bar: matches!(part.kind, Kind::Stud(_) | Kind::Engine(_)),
                terms,
                label_width: *width,
                label: lines.clone(),
                figure: *figure,
            });
        }
        let mut drawing = Diagram { bands, items, wires: Vec::new(), body: None, body_tag: String::new(), body_nodes };
        for (index, run) in circuit.runs.iter().enumerate() {
            if !wanted(run.from, run.to) {
                continue;
            }
            let id = RunId(index);
            let kind = run_kind(run);
            let Some(wire_ends) = drawing.ends(circuit, &ends, tags, split, [run.from, run.to]) else { continue };
            let (label, label_width, title) = &run_words[index];
            drawing.wires.push(Wire {
                id: WireId::Run(id),
                name: run.name.clone(),
                ends: wire_ends,
                nodes: [run.from, run.to],
                kind,
                weight: weight(run.section),
                label_width: *label_width,
                label: label.clone(),
                title: title.clone(),
            });
        }
        for (index, bolt) in circuit.bolts.iter().enumerate() {
            if !wanted(bolt.from, bolt.to) {
                continue;
            }
            let end = |id: NodeId| ends.get(id.0).copied().flatten();
            // A part bolted to the body of its own zone shows a frame symbol there: no line across the sheet.
            if let (Some(End::Part(item, term)), Some(End::Foot(band))) = (end(bolt.from), end(bolt.to))
                && drawing.items[item].band == band
                && !drawing.items[item].bar
            {
                drawing.items[item].terms[term].framed = true;
                continue;
            }
            let name = circuit.parts.get(bolt.part.0).map(|p| p.name.clone()).unwrap_or_default();
            let Some(wire_ends) = drawing.ends(circuit, &ends, tags, split, [bolt.from, bolt.to]) else { continue };
            drawing.wires.push(Wire {
                id: WireId::Bolt(index),
                title: format!(
                    "{} is bolted to {}",
                    node_in_words(circuit, bolt.from),
                    node_in_words(circuit, bolt.to)
                ),
                name,
                ends: wire_ends,
                nodes: [bolt.from, bolt.to],
                kind: LineKind::Bolted,
                weight: HEAVIEST,
                label: Vec::new(),
                label_width: 0.0,
            });
        }
        // A framed terminal stays below, under its own frame symbol.
        for item in &mut drawing.items {
            item.turns &= item.terms.iter().all(|t| !t.framed);
        }
        let framed = drawing.items.iter().any(|i| i.terms.iter().any(|t| t.framed));
        let landed = drawing.wires.iter().any(|w| w.ends.iter().any(|e| matches!(e, End::Foot(_))));
        if split.sheets == 1 || framed || landed {
            drawing.body_tag = body.as_ref().map_or(String::new(), |(part, ..)| tags[part.0].clone());
            drawing.body = body;
        }
        drawing
    }

    /// The ends of a wire on this sheet. One that lies on another sheet becomes a mark that says where the line goes on.
    fn ends(
        &mut self,
        circuit: &Circuit,
        ends: &[Option<End>],
        tags: &[String],
        split: &Split,
        nodes: [NodeId; 2],
    ) -> Option<[End; 2]> {
        let known = nodes.map(|n| ends.get(n.0).copied().flatten());
        let mut out = [End::Foot(0); 2];
        for e in 0..2 {
            if let Some(end) = known[e] {
                out[e] = end;
                continue;
            }
            let far = circuit.nodes.get(nodes[e].0)?;
            let band = match known[1 - e]? {
                End::Part(item, _) => self.items[item].band,
                End::Foot(band) => band,
            };
            let label =
                vec![format!("to {}", tags.get(far.part.0)?), format!("sheet {}", split.sheet_of.get(far.part.0)? + 1)];
            out[e] = End::Part(self.items.len(), 0);
            self.items.push(Item {
                part: far.part,
                name: format!("{} elsewhere", circuit.parts.get(far.part.0)?.name),
                tag: String::new(),
                symbol: Symbol::Onward,
                band,
                tier: Tier::Between,
                source: false,
                terms: vec![Term { node: nodes[e], home: Home::Free, dx: 0, sign: None, framed: false }],
                turns: false,
                bar: true,
                label_width: label_width(&label, true),
                label,
                figure: true,
            });
        }
        Some(out)
    }
}

/// Width of a part's label in mm; its last line is set in regular type if it is the key figure.
fn label_width(lines: &[String], figure: bool) -> f64 {
    let last = if figure { lines.len().saturating_sub(1) } else { lines.len() };
    lines
        .iter()
        .enumerate()
        .map(|(i, l)| label::width(l, if i == last { Face::Regular } else { Face::Bold }, TEXT_MM))
        .fold(0.0, f64::max)
}

fn terminals(kind: &Kind) -> Vec<Term> {
    let term = |node: NodeId, home, dx, sign| Term { node, home, dx, sign, framed: false };
    let pair = |positive, negative| {
        vec![term(positive, Home::Top, 0, Some(true)), term(negative, Home::Bottom, 0, Some(false))]
    };
    let twin = (TWIN / GRID) as i32;
    match kind {
        Kind::Battery(b) => pair(b.positive, b.negative),
        Kind::Protector(p) => vec![term(p.line, Home::Top, 0, None), term(p.load, Home::Bottom, 0, None)],
        Kind::Switch(s) => vec![term(s.line, Home::Top, 0, None), term(s.load, Home::Bottom, 0, None)],
        Kind::Stud(s) => vec![term(s.node, Home::Free, 0, None)],
        Kind::Load(l) => pair(l.positive, l.negative),
        Kind::Charger(c) => match c.input {
            Some((positive, negative)) => vec![
                term(positive, Home::Top, -twin, Some(true)),
                term(negative, Home::Bottom, -twin, Some(false)),
                term(c.output.0, Home::Top, twin, Some(true)),
                term(c.output.1, Home::Bottom, twin, Some(false)),
            ],
            None => pair(c.output.0, c.output.1),
        },
        Kind::Starter(s) => pair(s.positive, s.negative),
        Kind::Alternator(a) => pair(a.positive, a.negative),
        Kind::Engine(node) => vec![term(*node, Home::Free, 0, None)],
        Kind::Body(_) => Vec::new(),
    }
}

fn tier_of(circuit: &Circuit, terms: &[Term], kind: &Kind) -> Tier {
    if matches!(kind, Kind::Engine(_)) {
        return Tier::Return;
    }
    let polarity = |t: &Term| circuit.nodes.get(t.node.0).map_or(Polarity::Loose, |n| n.polarity);
    if terms.iter().all(|t| polarity(t) == Polarity::Negative) {
        Tier::Return
    } else if terms.iter().any(|t| polarity(t) == Polarity::Negative || t.sign == Some(false)) {
        Tier::Between
    } else {
        Tier::Feed
    }
}

/// A terminal in words: "battery, positive".
fn node_in_words(circuit: &Circuit, node: NodeId) -> String {
    let Some(found) = circuit.nodes.get(node.0) else { return String::new() };
    let part = circuit.parts.get(found.part.0);
    let name = part.map_or("", |p| if p.label.is_empty() { &p.name } else { &p.label });
    let terminal = found.name.strip_prefix(part.map_or("", |p| p.name.as_str())).unwrap_or("");
    let what = match terminal {
        "+" => " positive".to_owned(),
        "-" => " negative".to_owned(),
        "" => String::new(),
        other if other.starts_with('@') => {
            format!(" in {}", circuit.zones.get(found.zone.0).map_or(&other[1..], |z| &z.label))
        }
        other => format!(" {}", other.trim_start_matches('.').replace('+', " positive").replace('-', " negative")),
    };
    format!("{name}{what}")
}

/// A run in words, for those who cannot see it.
pub fn run_in_words(circuit: &Circuit, id: RunId) -> String {
    let Some(run) = circuit.runs.get(id.0) else { return String::new() };
    let side = match (run.strap, run.polarity) {
        (true, _) => "strap",
        (false, Polarity::Positive) => "feed",
        (false, Polarity::Negative) => "return",
        (false, Polarity::Loose) => "run",
    };
    format!(
        "{} ({}), {side}, {}, {}: from {} to {}",
        mark(id),
        run.name,
        run.size.show(),
        run.length.show_both(),
        node_in_words(circuit, run.from),
        node_in_words(circuit, run.to)
    )
}

/// The whole netlist in words.
pub fn in_words(circuit: &Circuit) -> String {
    let tags = tags(circuit);
    let mut out = String::new();
    for (z, zone) in circuit.zones.iter().enumerate() {
        let here: Vec<String> = circuit
            .parts
            .iter()
            .enumerate()
            .filter(|(_, p)| p.zone.is_some_and(|of| of.0 == z))
            .map(|(i, p)| {
                let figure = key_figure(p);
                let name = if p.label.is_empty() { &p.name } else { &p.label };
                let bolted =
                    p.bolted_to.map(|n| format!(", bolted to {}", node_in_words(circuit, n))).unwrap_or_default();
                let figure = if figure.is_empty() { figure } else { format!(" {figure}") };
                format!("{} {name}{figure}{bolted}", tags[i])
            })
            .collect();
        let list = if here.is_empty() { "nothing".to_owned() } else { here.join("; ") };
        out.push_str(&format!("In {}: {list}. ", zone.label));
    }
    for index in 0..circuit.runs.len() {
        out.push_str(&run_in_words(circuit, RunId(index)));
        out.push_str(". ");
    }
    out.trim_end().to_owned()
}

/// Half the height of the tallest label or symbol in a row, in mm.
pub fn half_height(item: &Item) -> f64 {
    (item.label.len() as f64 * label::LEADING * TEXT_MM / 2.0).max(REACH)
}
