//! Plots: where the volts go, which device lets go first, and what a chafe along a run would do.
//!
//! Drawn with the same canvas as the wiring, so that type, ink and accessible names agree, and so
//! that the overlap test holds here too. General plotting libraries were left aside: those that give
//! SVG measure text by guesswork or draw it as outlines, and none names its parts for a screen reader.
//! Every series differs by line pattern or hatching as well as by colour, so that a plot reads in
//! greyscale.

use super::Picture;
use super::label::{Face, LEADING, TEXT_MM, shorten, width};
use super::model::{mark, tags};
use super::sheet::PAPER;
use super::svg_out::{Anchor, Canvas, INK, Lettering, PALE, Rect, Stroke, UNITS};
use crate::circuit::{Activity, Circuit, Kind, NodeId, PartId, Polarity, Protector, RunId, StateId};
use crate::guide::Guide;
use crate::handbook::limits;
use crate::quantity::{Current, Show, Voltage};
use crate::study::faults::{ADIABATIC_S, FaultCorner, Site, end_temperature};
use crate::study::heat;
use crate::study::opening::Curve;
use crate::study::{Joints, Solution, Study, Warmth};
use crate::trials::VariantTrial;

/// Edge of the paper to the plots.
const MARGIN: f64 = 10.0;
/// Height of the heading.
const HEAD: f64 = 12.0;
/// Height of a row of a ladder.
const RUNG: f64 = 5.6;
/// Width of the elements' names beside a ladder.
const NAME: f64 = 56.0;
/// Loads shown, those that lose most first.
const LOADS_SHOWN: usize = 3;
/// Panels beside each other.
const COLUMNS: usize = 2;
/// Width of a panel with its words.
const CELL: f64 = (PAPER.0 - 2.0 * MARGIN) / COLUMNS as f64;
/// Height of a panel with its words where curves are read off: two rows to a sheet.
const TALL: f64 = 84.0;
/// The same where lines are only followed: three rows to a sheet.
const LOW: f64 = 58.0;

/// A side of more elements has its last ones together in one: both sides then fit a sheet.
const MOST_RUNGS: usize = 11;

/// Less than this shows in no bar and no figure.
const SAME_VOLTS: f64 = 1e-5;

const FEED: &str = "#a3161a";
const BACK: &str = "#1f4e8c";
const BAND: &str = "#c9c9c9";
/// Lines that only guide the eye.
const GRID: &str = "#cccccc";

fn text(canvas: &mut Canvas, at: (f64, f64), anchor: Anchor, words: &str) {
    canvas.text(at, anchor, Lettering::ink(Face::Regular, TEXT_MM), words);
}

fn bold(canvas: &mut Canvas, at: (f64, f64), words: &str) {
    canvas.text(at, Anchor::Start, Lettering::ink(Face::Bold, TEXT_MM * 1.1), words);
}

/// Sheets of A4 below one another, with blocks that fill them from the top.
struct Flow {
    /// Upper edge of every block.
    tops: Vec<f64>,
    /// Upper and lower edge of every sheet: each ends where its blocks do, A4 at most.
    sheets: Vec<(f64, f64)>,
    /// Panels beside each other.
    columns: usize,
}

impl Flow {
    /// Blocks of these heights, none higher than what a sheet has room for.
    fn of(heights: impl Iterator<Item = f64>) -> Flow {
        let (mut sheet, mut used) = (0.0, MARGIN + HEAD);
        let mut flow = Flow { tops: Vec::new(), sheets: Vec::new(), columns: COLUMNS };
        for height in heights {
            if sheet + PAPER.1 - MARGIN < sheet + used + height - 1e-9 && MARGIN + HEAD < used {
                let end = sheet + (used + MARGIN).min(PAPER.1);
                flow.sheets.push((sheet, end));
                (sheet, used) = (end, MARGIN + HEAD);
            }
            flow.tops.push(sheet + used);
            used += height;
        }
        flow.sheets.push((sheet, sheet + (used + MARGIN).min(PAPER.1)));
        flow
    }

    /// The paper, with a heading on every sheet.
    fn paper(&self, name: &'static str, guide: &Guide, title: &str, description: &str, note: &str) -> Canvas {
        let full = format!("{}: {}", guide.title.value, title.to_lowercase());
        let height = self.sheets.last().map_or(PAPER.1, |s| s.1);
        let mut canvas = Canvas::new(name, PAPER.0, height, &full, description);
        let of = self.sheets.len();
        for (n, (top, bottom)) in self.sheets.iter().enumerate() {
            canvas.geometry.sheets.push(Rect { x0: 0.0, y0: *top, x1: PAPER.0, y1: *bottom });
            let sheet = if of > 1 { format!("{title} ({} of {of})", n + 1) } else { title.to_owned() };
            heading(&mut canvas, *top, &sheet, note);
        }
        canvas
    }
}

fn finish(name: &'static str, title: &str, description: String, canvas: Canvas) -> Picture {
    let height = canvas.geometry.sheets.last().map_or(PAPER.1, |s| s.y1);
    let (svg, geometry) = canvas.finish();
    Picture { name, title: title.into(), description, svg, size: (PAPER.0 * UNITS, height * UNITS), geometry }
}

fn heading(canvas: &mut Canvas, top: f64, words: &str, note: &str) {
    let y = top + MARGIN;
    let words = shorten(words, Face::Bold, TEXT_MM * 1.3, PAPER.0 - 2.0 * MARGIN);
    canvas.text((MARGIN, y + 3.0), Anchor::Start, Lettering::ink(Face::Bold, TEXT_MM * 1.3), &words);
    let note = shorten(note, Face::Regular, TEXT_MM, PAPER.0 - 2.0 * MARGIN);
    text(canvas, (MARGIN, y + 8.5), Anchor::Start, &note);
}

// Where the volts go.

/// One element of a path and the volts it takes.
#[derive(Clone, Debug, PartialEq)]
struct Rung {
    name: String,
    volts: f64,
}

/// Both sides of a load's path.
#[derive(Clone, Debug, PartialEq)]
struct Ladder {
    feed: Vec<Rung>,
    back: Vec<Rung>,
    /// Limits of each side; a load that has one for both together has neither.
    limits: (Option<f64>, Option<f64>),
    together: Option<f64>,
}

impl Ladder {
    fn sum(rungs: &[Rung]) -> f64 {
        rungs.iter().map(|r| r.volts).sum()
    }

    /// Rows of text that it takes.
    fn rows(&self) -> usize {
        self.feed.len() + self.back.len() + 5
    }

    /// Whether another loses the same all along, whatever its elements are called.
    fn same_volts(&self, other: &Ladder) -> bool {
        let near = |a: &[Rung], b: &[Rung]| {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| (a.volts - b.volts).abs() < SAME_VOLTS)
        };
        near(&self.feed, &other.feed) && near(&self.back, &other.back)
    }

    fn total(&self) -> f64 {
        Self::sum(&self.feed) + Self::sum(&self.back)
    }

    /// The most that either side's bars or limits reach to.
    fn reach(&self) -> f64 {
        let limits = [self.limits.0, self.limits.1].into_iter().flatten();
        limits.chain([Self::sum(&self.feed), Self::sum(&self.back)]).fold(0.0, f64::max)
    }
}

/// A load's ladder, a variant's beside it with its title, and which state and part they are of.
type Shown = (Ladder, Option<(String, Ladder)>, StateId, PartId);

/// Where the volts go: for each load that matters a ladder from the battery through every element and
/// back, the limit beside it, and a variant's beside that. `None` when nothing takes a current.
pub fn volts(guide: &Guide, circuit: &Circuit, study: &Study, variants: &[VariantTrial]) -> Option<Picture> {
    let mut loads: Vec<(f64, StateId, PartId)> = Vec::new();
    for (p, part) in circuit.parts.iter().enumerate() {
        if !matches!(part.kind, Kind::Load(_) | Kind::Starter(_)) {
            continue;
        }
        let worst = (0..circuit.states.len())
            .filter_map(|s| Some((ladder(circuit, study, StateId(s), PartId(p))?.total(), StateId(s), PartId(p))))
            .max_by(|a, b| a.0.total_cmp(&b.0));
        loads.extend(worst);
    }
    loads.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.2.cmp(&b.2)));
    loads.truncate(LOADS_SHOWN);
    if loads.is_empty() {
        return None;
    }
    let mut words = Vec::new();
    let title = "Where the volts go";
    let plots: Vec<Shown> = loads
        .iter()
        .filter_map(|(_, state, part)| {
            let own = ladder(circuit, study, *state, *part)?;
            let (part_name, state_name) = (&circuit.part(*part).name, &circuit.states[state.0].name);
            let beside = variants.iter().find_map(|v| {
                let part = v.circuit.part_named(part_name)?;
                let state = v.circuit.states.iter().position(|s| s.name == *state_name)?;
                let other = ladder(&v.circuit, &v.study, StateId(state), part)?;
                (!other.same_volts(&own)).then(|| (v.title.clone(), other))
            });
            Some((own, beside, *state, *part))
        })
        .collect();
    for (own, _, state, part) in &plots {
        words.push(format!(
            "{} in state {}: {} lost in the feed, {} in the return.",
            circuit.part(*part).label,
            circuit.states[state.0].label,
            Voltage::volts(Ladder::sum(&own.feed)).show(),
            Voltage::volts(Ladder::sum(&own.back)).show()
        ));
    }
    let description = words.join(" ");
    // A load with a variant takes a row, the variant beside it; two loads without share one.
    let mut rows: Vec<Vec<(String, &Ladder)>> = Vec::new();
    let mut alone: Vec<(String, &Ladder)> = Vec::new();
    for (own, beside, state, part) in &plots {
        let head = format!("{}, {}", circuit.part(*part).label, circuit.states[state.0].label.to_lowercase());
        match beside {
            Some((title, other)) => rows.push(vec![(head, own), (title.clone(), other)]),
            None => alone.push((head, own)),
        }
    }
    rows.extend(alone.chunks(COLUMNS).map(<[_]>::to_vec));
    let height = |row: &Vec<(String, &Ladder)>| {
        4.0 + 8.0 + RUNG * row.iter().map(|(_, ladder)| ladder.rows()).max().unwrap_or(0) as f64
    };
    let flow = Flow::of(rows.iter().map(height));
    let note = "Volts lost in each element, from the source to the load and back; everything at 20 °C, best joints. Dashed: the limit of a side.";
    let mut canvas = flow.paper("volts", guide, title, &description, note);
    let wide = (PAPER.0 - 3.0 * MARGIN) / 2.0;
    for (row, top) in rows.iter().zip(&flow.tops) {
        // A load and its variant have one scale; loads that only share a row have their own.
        let one_scale = !alone.contains(&row[0]);
        let widest = row.iter().map(|(_, ladder)| ladder.reach()).fold(0.0, f64::max);
        for (n, (head, ladder)) in row.iter().enumerate() {
            let most = 1.04 * if one_scale { widest } else { ladder.reach() };
            let x = MARGIN + (MARGIN + wide) * n as f64;
            draw_ladder(&mut canvas, ladder, head, (x, top + 4.0), wide, most);
        }
    }
    Some(finish("volts", title, description, canvas))
}

fn ladder(circuit: &Circuit, study: &Study, state: StateId, part: PartId) -> Option<Ladder> {
    let studied = study.states.get(state.0)?;
    let solution = studied.at(Warmth::Cool, Joints::Best, studied.main_charge()).last()?.solution.as_ref().ok()?;
    let system = circuit.nominal;
    let (positive, negative, sides, together) = match (&circuit.part(part).kind, circuit.states[state.0].parts[part.0])
    {
        (Kind::Starter(s), Activity::Cranking) => {
            let sides = (
                Some(limits::starting_feed(system).value.in_volts()),
                Some(limits::starting_return(system).value.in_volts()),
            );
            (s.positive, s.negative, sides, None)
        }
        // While an engine is started its own limits hold; a load's are for what runs on.
        (Kind::Load(_), _) if circuit.states[state.0].parts.contains(&Activity::Cranking) => return None,
        (Kind::Load(l), Activity::Takes(_) | Activity::Power(_)) => {
            let share = if l.needs_steady { limits::feeding_steady() } else { limits::feeding() };
            let together = (!l.intermittent).then(|| system.in_volts() * share.value.in_ones());
            (l.positive, l.negative, (None, None), together)
        }
        _ => return None,
    };
    let mut feed = walk(circuit, solution, positive, Polarity::Positive);
    feed.reverse();
    let feed = no_more(feed);
    let back = no_more(walk(circuit, solution, negative, Polarity::Negative));
    (!feed.is_empty()).then_some(Ladder { feed, back, limits: sides, together })
}

/// The elements of a side, the last of very many together.
fn no_more(mut rungs: Vec<Rung>) -> Vec<Rung> {
    if MOST_RUNGS < rungs.len() {
        let rest = rungs.split_off(MOST_RUNGS - 1);
        rungs.push(Rung { name: format!("{} more elements", rest.len()), volts: Ladder::sum(&rest) });
    }
    rungs
}

/// From a load's terminal to its battery along the elements that carry most.
fn walk(circuit: &Circuit, solution: &Solution, from: NodeId, side: Polarity) -> Vec<Rung> {
    // What flows towards the battery on the return, and away from it on the feed.
    let sign = if side == Polarity::Positive { -1.0 } else { 1.0 };
    let tags = tags(circuit);
    let mut links: Vec<(NodeId, NodeId, f64, String)> = Vec::new();
    for (i, run) in circuit.runs.iter().enumerate() {
        let name = format!("{} {}", mark(RunId(i)), run.name.replace('-', " "));
        links.push((run.from, run.to, solution.run(RunId(i)).in_amps(), name));
    }
    for (i, part) in circuit.parts.iter().enumerate() {
        if let Some((line, load)) = part.through() {
            links.push((line, load, solution.part(PartId(i)).in_amps(), part.label.clone()));
        }
    }
    for (i, bolt) in circuit.bolts.iter().enumerate() {
        // A place on the body has a key of its own; which place it is, the zone of the part says.
        let onto = circuit.node(bolt.to);
        let onto = if matches!(circuit.part(onto.part).kind, Kind::Body(_)) { "body" } else { &onto.name };
        let full = format!("{} to {onto}", circuit.part(bolt.part).label);
        let fits = width(&full, Face::Regular, TEXT_MM) < NAME - 1.0;
        let name = if fits { full } else { format!("{} to {onto}", tags[bolt.part.0]) };
        links.push((bolt.from, bolt.to, solution.bolt(i).in_amps(), name));
    }
    for (i, piece) in circuit.body.iter().enumerate() {
        let zone = |n: NodeId| circuit.zone(circuit.node(n).zone).label.to_lowercase();
        let name = format!("body, {} to {}", zone(piece.from), zone(piece.to));
        links.push((piece.from, piece.to, solution.body(i).in_amps(), name));
    }
    let posts: Vec<NodeId> =
        circuit.batteries().map(|(_, b)| if side == Polarity::Positive { b.positive } else { b.negative }).collect();
    let mut rungs = Vec::new();
    let mut at = from;
    let mut seen = vec![at];
    while !posts.contains(&at) {
        let next = links
            .iter()
            .filter_map(|(a, b, amps, name)| {
                let (to, leaving) = if *a == at {
                    (*b, sign * amps)
                } else if *b == at {
                    (*a, -sign * amps)
                } else {
                    return None;
                };
                (leaving > 0.0 && !seen.contains(&to)).then_some((to, leaving, name))
            })
            .max_by(|x, y| x.1.total_cmp(&y.1));
        let Some((to, _, name)) = next else { break };
        let lost = solution.between(at, to).in_volts().abs();
        rungs.push(Rung { name: name.clone(), volts: lost });
        seen.push(to);
        at = to;
    }
    rungs
}

fn draw_ladder(canvas: &mut Canvas, ladder: &Ladder, title: &str, (x, top): (f64, f64), wide: f64, most: f64) {
    const VALUE: f64 = 16.0;
    let bars = wide - NAME - VALUE - 3.0;
    let scale = bars / most.max(1e-3);
    bold(canvas, (x, top), &shorten(title, Face::Bold, TEXT_MM * 1.1, wide));
    let mut y = top + 1.0;
    let axis = Axis { low: 0.0, high: most.max(1e-3), log: false, name: "volts lost, V".into() };
    let foot = top + 1.0 + RUNG * (ladder.rows() - 3) as f64 + 5.5;
    let place = |volts: f64| x + NAME + scale * volts;
    for tick in axis.ticks() {
        canvas.line(&[(place(tick), top + 1.0 + RUNG), (place(tick), foot)], Stroke::solid(GRID, 0.2));
    }
    canvas.line(&[(x + NAME, foot), (x + NAME + bars, foot)], Stroke::solid(INK, 0.3));
    for tick in axis.ticks() {
        text(canvas, (place(tick), foot + 4.0), Anchor::Middle, &short(tick));
    }
    text(canvas, (x, foot + 4.0), Anchor::Start, &axis.name);
    let sides =
        [("Feed side", &ladder.feed, ladder.limits.0, FEED), ("Return side", &ladder.back, ladder.limits.1, BACK)];
    for (side, rungs, limit, colour) in sides {
        y += RUNG;
        let sum = Voltage::volts(Ladder::sum(rungs));
        let limit_words = limit.map_or_else(String::new, |l| format!(", limit {}", Voltage::volts(l).show()));
        text(canvas, (x, y), Anchor::Start, &format!("{side}: {}{limit_words}", sum.show()));
        let from = y + 1.5;
        // From where to where each element's bar goes, and its upper and lower edge.
        let mut lost = 0.0;
        let mut areas = Vec::with_capacity(rungs.len());
        for rung in rungs {
            y += RUNG;
            let name = shorten(&rung.name, Face::Regular, TEXT_MM, NAME - 1.0);
            text(canvas, (x, y), Anchor::Start, &name);
            text(canvas, (x + wide, y), Anchor::End, &Voltage::volts(rung.volts).show());
            let a = place(lost);
            lost += rung.volts;
            areas.push((a, place(lost).max(a + 0.2), y - 0.7 * RUNG + 0.6, y + 0.3 * RUNG - 0.6));
        }
        let cells: Vec<_> = areas.iter().map(|(a, b, upper, lower)| (*a, *upper, b - a, lower - upper)).collect();
        canvas.cells(&cells, colour);
        if side == "Return side" {
            // Hatched by light strokes, so that the two sides differ without colour.
            for (a, b, upper, lower) in &areas {
                let mut h = a + 1.2;
                while h < *b {
                    canvas.line(&[(h, *lower), (h, *upper)], Stroke::solid("#ffffff", 0.3));
                    h += 1.6;
                }
            }
        }
        // From each bar's end to the next one's beginning.
        for ((_, b, _, lower), (_, _, next, _)) in areas.iter().zip(areas.iter().skip(1)) {
            canvas.line(&[(*b, *lower), (*b, *next)], Stroke::solid(PALE, 0.25));
        }
        if let Some(limit) = limit.filter(|l| scale * l <= bars) {
            // Paper beside it, so that it stands out from a bar that passes it.
            canvas.cells(&[(place(limit) - 0.75, from, 1.5, y + 2.0 - from)], "#ffffff");
            canvas.line(
                &[(place(limit), from), (place(limit), y + 2.0)],
                Stroke { colour: INK, weight: 0.5, dashes: &[1.6, 1.0] },
            );
        }
        y += 2.0;
    }
    let y = foot + 4.0 + RUNG;
    let total = Voltage::volts(ladder.total()).show();
    let words = match ladder.together {
        Some(limit) => format!("Both sides: {total}, limit {}", Voltage::volts(limit).show()),
        None => format!("Both sides: {total}"),
    };
    text(canvas, (x, y), Anchor::Start, &words);
}

// Panels with two axes.

/// Points of a line, in the units of its axes.
type Trace = Vec<(f64, f64)>;

/// One axis: its range, whether logarithmic, its name with unit.
struct Axis {
    low: f64,
    high: f64,
    log: bool,
    name: String,
}

impl Axis {
    /// A logarithmic axis around values: from a round figure below them to one above.
    fn around(values: impl Iterator<Item = f64>, name: &str) -> Axis {
        let (low, high) = values
            .filter(|v| *v > 0.0 && v.is_finite())
            .fold((f64::INFINITY, 0.0f64), |(low, high), v| (low.min(v), high.max(v)));
        let (low, high) = if low <= high { (low, high) } else { (1.0, 1.0) };
        let round = |value: f64, up: bool| {
            let power = 10f64.powf(value.log10().floor());
            let steps = [1.0, 2.0, 5.0, 10.0].map(|m| m * power);
            let found = if up { steps.iter().find(|s| **s > value) } else { steps.iter().rev().find(|s| **s < value) };
            found.copied().unwrap_or(if up { 20.0 * power } else { 0.5 * power })
        };
        Axis { low: round(low, false), high: round(high, true), log: true, name: name.into() }
    }

    fn place(&self, value: f64) -> f64 {
        let share = if self.log {
            (value.max(self.low) / self.low).ln() / (self.high / self.low).ln()
        } else {
            (value - self.low) / (self.high - self.low)
        };
        share.clamp(0.0, 1.0)
    }

    /// Powers of ten, with steps between where the range is small; or at most six round steps of 1, 2 or 5.
    fn ticks(&self) -> Vec<f64> {
        if self.log {
            let (a, b) = (self.low.log10().ceil() as i32, self.high.log10().floor() as i32);
            if self.high / self.low >= 1e3 {
                return (a..=b).map(|e| 10f64.powi(e)).collect();
            }
            let steps: &[f64] = match self.high / self.low {
                ..4.0 => &[1.0, 1.5, 2.0, 3.0, 5.0, 7.0],
                4.0..11.0 => &[1.0, 2.0, 3.0, 5.0],
                _ => &[1.0, 2.0, 5.0],
            };
            let all = (a - 1..=b).flat_map(|e| steps.iter().map(move |m| m * 10f64.powi(e)));
            return all.filter(|t| self.low * (1.0 - 1e-9) <= *t && *t <= self.high * (1.0 + 1e-9)).collect();
        }
        let span = self.high - self.low;
        let raw = span / 5.0;
        let power = 10f64.powf(raw.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|m| m * power).find(|s| *s >= raw).unwrap_or(raw);
        let first = (self.low / step).ceil() as i64;
        let last = (self.high / step + 1e-9).floor() as i64;
        (first..=last).map(|i| i as f64 * step).collect()
    }
}

fn short(value: f64) -> String {
    crate::quantity::show::number(value)
}

/// A frame with axes in a part of a sheet.
struct Panel {
    x0: f64,
    y0: f64,
    x1: f64,
    y1: f64,
    across: Axis,
    up: Axis,
}

impl Panel {
    /// Where panels of a height go, a row of them a block. One alone has the whole width.
    fn flow(count: usize, height: f64) -> Flow {
        let columns = count.clamp(1, COLUMNS);
        Flow { columns, ..Flow::of(std::iter::repeat_n(height, count.div_ceil(columns))) }
    }

    /// Draws frame, grid, ticks and names of panel `n`.
    fn draw(canvas: &mut Canvas, flow: &Flow, high: f64, n: usize, title: &str, across: Axis, up: Axis) -> Panel {
        let top = flow.tops.get(n / flow.columns).copied().unwrap_or(0.0);
        let wide = CELL * (COLUMNS / flow.columns) as f64;
        let left = MARGIN + wide * (n % flow.columns) as f64;
        let panel = Panel { x0: left + 14.0, y0: top + 12.0, x1: left + wide - 8.0, y1: top + high - 12.0, across, up };
        let (steps, levels) = (panel.across.ticks(), panel.up.ticks());
        for tick in &steps {
            let x = panel.x(*tick);
            canvas.line(&[(x, panel.y0), (x, panel.y1)], Stroke::solid(GRID, 0.2));
        }
        for tick in &levels {
            let y = panel.y(*tick);
            canvas.line(&[(panel.x0, y), (panel.x1, y)], Stroke::solid(GRID, 0.2));
        }
        bold(canvas, (left, top + 3.6), &shorten(title, Face::Bold, TEXT_MM * 1.1, wide - 6.0));
        text(canvas, (left, top + 9.0), Anchor::Start, &panel.up.name);
        text(canvas, (panel.x1, top + high - 3.0), Anchor::End, &panel.across.name);
        let mut free = f64::NEG_INFINITY;
        for tick in &steps {
            let x = panel.x(*tick);
            let words = short(*tick);
            let half = width(&words, Face::Regular, TEXT_MM) / 2.0;
            if x - half > free + 1.0 {
                text(canvas, (x, panel.y1 + 4.2), Anchor::Middle, &words);
                free = x + half;
            }
        }
        let mut free = f64::INFINITY;
        for tick in &levels {
            let y = panel.y(*tick);
            if y + 1.2 + LEADING * TEXT_MM * 0.5 < free && y - panel.y0 > -0.1 {
                text(canvas, (panel.x0 - 1.2, y + 1.1), Anchor::End, &short(*tick));
                free = y - LEADING * TEXT_MM * 0.5;
            }
        }
        let corner = [
            (panel.x0, panel.y0),
            (panel.x1, panel.y0),
            (panel.x1, panel.y1),
            (panel.x0, panel.y1),
            (panel.x0, panel.y0),
        ];
        canvas.line(&corner, Stroke::solid(INK, 0.3));
        panel
    }

    fn x(&self, value: f64) -> f64 {
        self.x0 + (self.x1 - self.x0) * self.across.place(value)
    }

    fn y(&self, value: f64) -> f64 {
        self.y1 - (self.y1 - self.y0) * self.up.place(value)
    }

    fn trace(&self, canvas: &mut Canvas, points: &[(f64, f64)], stroke: Stroke) {
        let places: Vec<(f64, f64)> = points.iter().map(|(x, y)| (self.x(*x), self.y(*y))).collect();
        if places.len() > 1 {
            canvas.line(&places, stroke);
        }
    }
}

// Who lets go first.

/// Log-log charts of each device's opening band against what the conductors it protects stand, with
/// working, starting and fault currents marked. `None` without a device whose times are known.
pub fn opening(guide: &Guide, circuit: &Circuit, study: &Study) -> Option<Picture> {
    let devices: Vec<(PartId, &Protector)> = circuit.protectors().filter(|(_, d)| Curve::of(d).is_known()).collect();
    if devices.is_empty() {
        return None;
    }
    let title = "Who lets go first";
    let description = devices
        .iter()
        .map(|(id, d)| {
            let fault = fault_range(study, *id);
            let at = fault.map_or_else(String::new, |(least, _)| {
                let band = Curve::of(d).band(Current::amps(least));
                let time = band.most.map_or_else(|| "may never open".into(), |t| format!("opens within {}", t.show()));
                format!(", at its least fault of {} {time}", Current::amps(least).show())
            });
            format!("{}: {}{at}.", circuit.part(*id).label, d.rating.show())
        })
        .collect::<Vec<_>>()
        .join(" ");
    let flow = Panel::flow(devices.len(), TALL);
    let note = "Grey band: the device opens somewhere in it. Dashed: how long the cable stands a current. Dotted: currents through the device.";
    let mut canvas = flow.paper("opening", guide, title, &description, note);
    for (n, (id, device)) in devices.iter().enumerate() {
        let across = Axis {
            low: 0.5 * device.rating.in_amps(),
            high: 60.0 * device.rating.in_amps(),
            log: true,
            name: "current, A".into(),
        };
        let up = Axis { low: 0.005, high: 3600.0, log: true, name: "time, s".into() };
        let weakest = weakest(circuit, study, *id);
        let beside = weakest.as_ref().map_or_else(String::new, |(_, name)| format!(" (dashed: {name})"));
        let label = format!("{}, {}{beside}", circuit.part(*id).label, device.rating.show());
        let panel = Panel::draw(&mut canvas, &flow, TALL, n, &label, across, up);
        let curve = Curve::of(device);
        let amps: Vec<f64> = (0..=120)
            .map(|k| panel.across.low * (panel.across.high / panel.across.low).powf(f64::from(k) / 120.0))
            .collect();
        let (mut least, mut most): (Trace, Trace) = (Vec::new(), Vec::new());
        for a in &amps {
            let band = curve.band(Current::amps(*a));
            if let Some(t) = band.least {
                least.push((*a, t.in_seconds().max(panel.up.low)));
            }
            if let Some(t) = band.most {
                most.push((*a, t.in_seconds()));
            }
        }
        if let (Some(first), false) = (most.first().copied(), least.is_empty()) {
            // The band: along the longest times, back along the shortest from the first that must open.
            let back = least.iter().rev().filter(|(a, _)| *a >= first.0);
            let outline: Vec<(f64, f64)> = most.iter().chain(back).map(|(a, t)| (panel.x(*a), panel.y(*t))).collect();
            if outline.len() > 2 {
                canvas.fill(&outline, BAND);
            }
        }
        panel.trace(&mut canvas, &least, Stroke::solid(INK, 0.35));
        panel.trace(&mut canvas, &most, Stroke::solid(INK, 0.6));
        if let Some((run, _)) = weakest {
            let line: Vec<(f64, f64)> = amps
                .iter()
                .filter_map(|a| Some((*a, stands(circuit, study, run, *a)?)))
                .filter(|(_, t)| panel.up.low <= *t && *t <= panel.up.high)
                .collect();
            panel.trace(&mut canvas, &line, Stroke { colour: FEED, weight: 0.7, dashes: &[2.4, 1.2] });
        }
        let mut marks: Vec<(f64, &str)> = Vec::new();
        marks.extend(working(study, *id).map(|a| (a, "working")));
        // A start that takes no more than work does is no mark of its own.
        let no_less = 1.05 * working(study, *id).unwrap_or(0.0);
        marks.extend(starting(study, *id).filter(|a| no_less < *a).map(|a| (a, "starting")));
        marks.extend(fault_range(study, *id).into_iter().flat_map(|(a, b)| [(a, "least fault"), (b, "most")]));
        marks.retain(|(a, _)| (panel.x0 + 0.5..panel.x1 - 0.5).contains(&panel.x(*a)));
        marks.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (a, _) in &marks {
            let x = panel.x(*a);
            canvas.line(&[(x, panel.y0), (x, panel.y1)], Stroke { colour: BACK, weight: 0.35, dashes: &[0.6, 0.8] });
        }
        // Words stand above their lines; where two would meet, the later one moves on.
        let mut free = panel.x0;
        for (a, words) in &marks {
            let half = width(words, Face::Regular, TEXT_MM) / 2.0;
            let x = panel.x(*a).max(free + half).min(panel.x1 - half);
            if free <= x - half + 1e-9 {
                text(&mut canvas, (x, panel.y0 - 1.0), Anchor::Middle, words);
                free = x + half + 1.5;
            }
        }
    }
    Some(finish("opening", title, description, canvas))
}

/// How long a run stands a current, from the hottest that any continuous state leaves it: adiabatic to
/// 5 s, first order in time beyond. `None`: for good.
fn stands(circuit: &Circuit, study: &Study, id: RunId, amps: f64) -> Option<f64> {
    let run = circuit.run(id);
    let start = study.hottest.get(id.0).copied()?;
    let end = end_temperature(circuit, run);
    let metal = crate::circuit::wire::conductor_metal(run.metal);
    let k = crate::handbook::heat::k(metal, start, end);
    let quick = (k * run.section.in_mm2() / amps).powi(2);
    if quick <= ADIABATIC_S {
        return Some(quick);
    }
    let settled = heat::settled(circuit, run, Current::amps(amps))?;
    let tau = heat::time_constant(run)?.in_seconds();
    if settled <= end {
        return None;
    }
    let left = ((settled - end).si() / (settled - start).si()).clamp(1e-12, 1.0);
    Some((-tau * left.ln()).max(ADIABATIC_S))
}

/// The run that stands least past a device, until the next device, and its name.
fn weakest(circuit: &Circuit, study: &Study, id: PartId) -> Option<(RunId, String)> {
    let (line, load) = circuit.part(id).through()?;
    let mut seen = vec![line, load];
    let mut queue = vec![load];
    let mut worst: Option<(f64, RunId)> = None;
    while let Some(node) = queue.pop() {
        for r in circuit.runs_at(node) {
            let run = circuit.run(r);
            let start = study.hottest.get(r.0).copied()?;
            let metal = crate::circuit::wire::conductor_metal(run.metal);
            let k = crate::handbook::heat::k(metal, start, end_temperature(circuit, run));
            let stands = (k * run.section.in_mm2()).powi(2);
            if worst.is_none_or(|(w, _)| stands < w) {
                worst = Some((stands, r));
            }
            let other = if run.from == node { run.to } else { run.from };
            if !seen.contains(&other) {
                seen.push(other);
                queue.push(other);
            }
        }
        let switches = circuit.parts.iter().filter(|p| matches!(p.kind, Kind::Switch(_))).filter_map(|p| p.through());
        for (a, b) in switches {
            let other = if a == node {
                b
            } else if b == node {
                a
            } else {
                continue;
            };
            if !seen.contains(&other) {
                seen.push(other);
                queue.push(other);
            }
        }
    }
    worst.map(|(_, run)| (run, circuit.run(run).name.replace('-', " ")))
}

/// The largest current through a device in any state that goes on for good or is no start.
fn working(study: &Study, id: PartId) -> Option<f64> {
    let through = |s: &crate::study::StateStudy| {
        s.at(Warmth::Cool, Joints::Best, s.main_charge())
            .filter_map(|c| c.solution.as_ref().ok())
            .map(|s| s.part(id).abs().in_amps())
            .fold(0.0, f64::max)
    };
    study.states.iter().map(through).reduce(f64::max).filter(|a| *a > 0.0)
}

/// The largest current through a device while something starts.
fn starting(study: &Study, id: PartId) -> Option<f64> {
    study
        .states
        .iter()
        .flat_map(|s| &s.surges)
        .filter_map(|s| s.solution.as_ref().ok())
        .map(|s| s.part(id).abs().in_amps())
        .reduce(f64::max)
        .filter(|a| *a > 0.0)
}

/// The least and the most fault current that a device opens on.
fn fault_range(study: &Study, id: PartId) -> Option<(f64, f64)> {
    let opened = |corner| {
        study
            .faults
            .bolted
            .iter()
            .filter(move |f| f.corner == corner && f.openings.first().is_some_and(|(d, _)| *d == id))
            .map(|f| f.current.in_amps())
    };
    let least = opened(FaultCorner::Least).reduce(f64::min)?;
    let most = opened(FaultCorner::Most).reduce(f64::max)?;
    Some((least, most.max(least)))
}

// Chafe.

/// Fault current and opening time along each positive run past its first device. `None` when there is none.
pub fn chafe(guide: &Guide, circuit: &Circuit, study: &Study) -> Option<Picture> {
    let mut runs: Vec<RunId> = Vec::new();
    for fault in &study.faults.chafe {
        if let Site::Along(run, ..) = fault.site
            && !runs.contains(&run)
        {
            runs.push(run);
        }
    }
    if runs.is_empty() {
        return None;
    }
    let title = "If a run chafes through";
    // By run: metres, amperes and seconds along it. At each place a run may chafe on several things: of the corner of the
    // least current the worst is shown, of the kindest the best.
    let along = |run: RunId, corner: FaultCorner| {
        let mut points: Vec<(f64, f64, Option<f64>)> = Vec::new();
        for fault in study.faults.chafe.iter().filter(|f| f.corner == corner) {
            let Site::Along(of, share, _) = fault.site else { continue };
            if of != run {
                continue;
            }
            let at = share * circuit.run(run).length.in_metres();
            let (amps, time) = (fault.current.in_amps(), fault.cleared.map(|t| t.in_seconds()));
            let never = |t: Option<f64>| t.unwrap_or(f64::INFINITY);
            match points.iter_mut().find(|p| (p.0 - at).abs() < 1e-9) {
                Some(p) if corner == FaultCorner::Least => {
                    p.1 = p.1.min(amps);
                    p.2 = Some(never(p.2).max(never(time))).filter(|t| t.is_finite());
                }
                Some(p) => {
                    p.1 = p.1.max(amps);
                    p.2 = Some(never(p.2).min(never(time))).filter(|t| t.is_finite());
                }
                None => points.push((at, amps, time)),
            }
        }
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        points
    };
    let description = runs
        .iter()
        .map(|r| {
            let worst =
                along(*r, FaultCorner::Least).into_iter().map(|p| p.2.unwrap_or(f64::INFINITY)).fold(0.0, f64::max);
            let time =
                if worst.is_finite() { format!("cut within {} s", short(worst)) } else { "not cut everywhere".into() };
            format!("{}: {time}.", circuit.run(*r).name.replace('-', " "))
        })
        .collect::<Vec<_>>()
        .join(" ");
    let flow = Panel::flow(COLUMNS * runs.len(), LOW);
    let note = "Where the run touches metal. Thin: full battery, good joints, the least resistance; thick: weak battery, bad joints, the worst place to touch. A line ends where there is no metal.";
    let mut canvas = flow.paper("chafe", guide, title, &description, note);
    for (n, run) in runs.iter().enumerate() {
        let corners = [(FaultCorner::Kindest, 0.35), (FaultCorner::Least, 0.8)].map(|(c, w)| (along(*run, c), w));
        let length = circuit.run(*run).length.in_metres();
        let across = || Axis { low: 0.0, high: length, log: false, name: "along the run, m".into() };
        let label = format!("{} {}", mark(*run), circuit.run(*run).name.replace('-', " "));
        let amps = corners.iter().flat_map(|(points, _)| points.iter().map(|p| p.1));
        let up = Axis::around(amps, "fault current, A");
        let panel = Panel::draw(&mut canvas, &flow, LOW, COLUMNS * n, &format!("{label}: fault current"), across(), up);
        for (points, weight) in &corners {
            let amps: Vec<(f64, f64)> = points.iter().map(|(x, a, _)| (*x, *a)).collect();
            panel.trace(&mut canvas, &amps, Stroke::solid(FEED, *weight));
        }
        let times = corners.iter().flat_map(|(points, _)| points.iter().filter_map(|p| p.2));
        let up = Axis::around(times, "time, s");
        let everywhere = corners.iter().all(|(points, _)| points.iter().all(|p| p.2.is_some()));
        let cut = if everywhere { "time until it is cut" } else { "time until it is cut (gaps: never)" };
        let panel = Panel::draw(&mut canvas, &flow, LOW, COLUMNS * n + 1, &format!("{label}: {cut}"), across(), up);
        for (points, weight) in &corners {
            // A place where it is never cut breaks the line.
            for stretch in points.split(|p| p.2.is_none()) {
                let times: Vec<(f64, f64)> = stretch.iter().filter_map(|(x, _, t)| Some((*x, (*t)?))).collect();
                panel.trace(&mut canvas, &times, Stroke { colour: BACK, weight: *weight, dashes: &[2.0, 1.2] });
            }
        }
    }
    Some(finish("chafe", title, description, canvas))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::testing::{VAN, studied};
    use crate::trials::variant;

    fn pictures() -> Vec<Picture> {
        let van = studied(VAN);
        let (variants, _) = variant::variants(&van.guide, &crate::rules::limits::NONE);
        [
            volts(&van.guide, &van.circuit, &van.study, &variants),
            opening(&van.guide, &van.circuit, &van.study),
            chafe(&van.guide, &van.circuit, &van.study),
        ]
        .into_iter()
        .map(|p| p.expect("the van has loads, devices and runs"))
        .collect()
    }

    #[test]
    fn no_text_touches_another_and_all_stay_on_their_sheet_at_nine_points_or_more() {
        for picture in pictures() {
            let texts = &picture.geometry.texts;
            for (i, a) in texts.iter().enumerate() {
                assert!(a.points > 8.99, "{}: {:?}", picture.name, a);
                assert!(picture.geometry.sheets.iter().any(|s| s.holds(&a.area)), "{}: {:?}", picture.name, a);
                for b in &texts[i + 1..] {
                    assert!(
                        !a.area.overlaps(&b.area),
                        "{}: `{}` {:?} on `{}` {:?}",
                        picture.name,
                        a.words,
                        a.area,
                        b.words,
                        b.area
                    );
                }
            }
        }
    }

    #[test]
    fn the_ladders_rungs_add_up_to_what_the_study_says() {
        let van = studied(VAN);
        let starter = van.circuit.part_named("starter").unwrap();
        let l = ladder(&van.circuit, &van.study, StateId(0), starter).unwrap();
        let Kind::Starter(s) = &van.circuit.part(starter).kind else { panic!() };
        let (_, battery) = van.circuit.batteries().next().unwrap();
        let solution = van.study.states[0].at(Warmth::Cool, Joints::Best, crate::study::Charge::None).last().unwrap();
        let solution = solution.solution.as_ref().unwrap();
        let feed = solution.between(battery.positive, s.positive).in_volts();
        let back = solution.between(s.negative, battery.negative).in_volts();
        assert!((Ladder::sum(&l.feed) - feed).abs() < 1e-9 && (Ladder::sum(&l.back) - back).abs() < 1e-9);
        assert_eq!(l.feed.len(), 4, "{l:?}");
    }

    #[test]
    fn blocks_fill_sheets_from_the_top_and_none_is_cut() {
        for heights in [vec![84.0], vec![LOW; 8], vec![TALL; 5], vec![163.0, 30.0, 20.0, 163.0]] {
            let flow = Flow::of(heights.iter().copied());
            assert_eq!(flow.tops.len(), heights.len());
            for (top, height) in flow.tops.iter().zip(&heights) {
                let on = flow.sheets.iter().filter(|s| s.0 + MARGIN + HEAD <= *top && top + height <= s.1).count();
                assert_eq!(on, 1, "{heights:?}: {:?} {:?}", flow.tops, flow.sheets);
            }
            assert!(flow.sheets.iter().all(|s| s.1 - s.0 <= PAPER.1));
            assert!(flow.sheets.windows(2).all(|pair| pair[0].1 == pair[1].0));
        }
        // The most that a load's ladder can take has room on a sheet.
        let most = 12.0 + RUNG * (2 * MOST_RUNGS + 5) as f64;
        assert!(most <= PAPER.1 - 2.0 * MARGIN - HEAD, "{most}");
    }

    #[test]
    fn the_same_numbers_give_the_same_bytes() {
        let (a, b) = (pictures(), pictures());
        assert!(a.iter().zip(&b).all(|(a, b)| a.svg == b.svg));
    }
}
