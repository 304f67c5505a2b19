//! The parts list, the cut list and what else the job uses up, counted from the circuit.

use petgraph::unionfind::UnionFind;

use super::theme::Words;
use crate::checked::Checked;
use crate::circuit::{Circuit, Kind, NodeId, Part, PartId, Run, RunId};
use crate::guide::{Covering, Guide, HoldDownKind, Insulation, Metal, PartKind, VentKind};
use crate::quantity::{CableSize, Length, Show, Thread};
use crate::rules::support_too_far;

/// Adhesive-lined heat-shrink over a lug's barrel and the insulation. Common practice, no source.
const SHRINK_LENGTH: f64 = 0.050;

/// One row of the parts list.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct PartRow {
    /// Its key.
    pub key: String,
    /// Its mark in the drawing.
    pub mark: String,
    /// Its name for people.
    pub name: String,
    /// What to buy: what it is, with its figures.
    pub what: String,
    /// Where it goes.
    pub zone: String,
    /// Already there: an engine, a body, a starter that the job connects to.
    pub is_there: bool,
}

/// One row of the cut list.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct CutRow {
    /// Its key.
    pub key: String,
    /// Its mark in the drawing and on its labels.
    pub mark: String,
    /// Its name for people.
    pub name: String,
    /// Size as sold.
    pub size: String,
    /// Colour.
    pub colour: String,
    /// Metal, insulation and covering.
    pub make: String,
    /// The run's length in the circuit, which the finished cable must not exceed.
    pub run: String,
    /// What to cut.
    pub cut: String,
    /// What to cut, in metres.
    pub cut_m: f64,
    /// One end: terminal and lug.
    pub from: End,
    /// The other end.
    pub to: End,
    /// A strap, sold ready made.
    pub strap: bool,
    /// On the vehicle already: not cut.
    pub is_there: bool,
}

/// One end of a run.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct End {
    /// The part it goes to.
    pub part: String,
    /// Where on it: `+`, `−`, `line`, `load`, a zone of the body.
    pub terminal: String,
    /// The lug: size and hole.
    pub lug: String,
}

/// One row of what the job uses up.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Consumable {
    /// What.
    pub what: String,
    /// How many, or how much.
    pub amount: String,
    /// How it was counted.
    pub counted: String,
}

/// The parts list, in the author's order.
pub fn parts(circuit: &Circuit, guide: &Guide, words: &Words) -> Vec<PartRow> {
    let marks = crate::drawing::model::tags(circuit);
    let rows = circuit.parts.iter().zip(marks).map(|(part, mark)| PartRow {
        key: part.name.clone(),
        mark,
        name: name(&part.label, &part.name),
        what: what(part, guide, words),
        zone: part.zone.map(|zone| circuit.zone(zone).label.clone()).unwrap_or_default(),
        is_there: matches!(part.kind, Kind::Engine(_) | Kind::Body(_) | Kind::Starter(_) | Kind::Alternator(_))
            || guide.parts.get(&part.name).is_some_and(|part| part.existing),
    });
    rows.collect()
}

/// Whether a run is on the vehicle already: neither bought nor cut.
fn is_there(guide: &Guide, run: &Run) -> bool {
    guide.runs.get(&run.name).is_some_and(|run| run.existing)
}

/// The cut list, in the author's order; what is on the vehicle already stands in it, to be looked over.
pub fn cuts(circuit: &Circuit, guide: &Guide, words: &Words) -> Vec<CutRow> {
    let rows = circuit.runs.iter().enumerate().map(|(i, run)| {
        let length = cut_length(run);
        let written = guide.runs.get(&run.name);
        CutRow {
            key: run.name.clone(),
            mark: run_mark(RunId(i)),
            name: name("", &run.name),
            size: run.size.show(),
            colour: written.and_then(|r| r.colour.as_ref()).map_or_else(String::new, |c| c.value.clone()),
            make: make(run, words),
            run: run.length.show_both(),
            cut: length.show_both(),
            cut_m: length.si(),
            from: end(circuit, guide, run, run.from, true, words),
            to: end(circuit, guide, run, run.to, false, words),
            strap: run.strap,
            is_there: is_there(guide, run),
        }
    });
    rows.collect()
}

/// The length to cut. A strap is sold to length.
fn cut_length(run: &Run) -> Length {
    if run.strap { run.length } else { crate::guide::value::cut_length(run.length) }
}

/// What a person would call it: its label, or its key with spaces.
pub fn name(label: &str, key: &str) -> String {
    if !label.is_empty() && label != key {
        return label.to_string();
    }
    sentence(&key.replace(['-', '_'], " "))
}

/// A text with a capital at its start.
pub fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A run's mark, as in the drawing.
pub fn run_mark(run: RunId) -> String {
    crate::drawing::model::mark(run)
}

/// What a part is, with the figures to buy it by.
fn what(part: &Part, guide: &Guide, words: &Words) -> String {
    let written = guide.parts.get(&part.name);
    let word = written.map_or("part", |p| p.kind.word());
    let mut facts = vec![words.get(&format!("kind_{}", word.replace('-', "_"))).to_string()];
    let mut fact = |text: String| facts.push(text);
    match &part.kind {
        Kind::Battery(battery) => {
            fact(words.get(&format!("chemistry_{}", battery.chemistry.word())).into());
            fact(battery.capacity.show());
            if let Some(cranking) = battery.cold_cranking {
                let scale = match cranking.scale {
                    crate::quantity::CrankingScale::Sae => "SAE",
                    crate::quantity::CrankingScale::En => "EN",
                    crate::quantity::CrankingScale::Din => "DIN",
                };
                fact(words.fill("cold_cranking", &[("current", &cranking.current.show()), ("scale", scale)]));
            }
        }
        Kind::Protector(device) => {
            fact(device.rating.show());
            if let Some(volts) = device.volts {
                fact(words.fill("for_up_to", &[("volts", &volts.show())]));
            }
            if let Some(breaks) = device.breaks {
                fact(words.fill("breaks_up_to", &[("current", &breaks.show())]));
            }
            if !device.is_fuse {
                fact(words.get(if device.resets_itself { "resets_itself" } else { "resets_by_hand" }).into());
            }
        }
        Kind::Switch(switch) => {
            if let Some(rating) = switch.rating {
                fact(words.fill("continuous", &[("current", &rating.show())]));
            }
            if let Some(volts) = switch.volts {
                fact(words.fill("for_up_to", &[("volts", &volts.show())]));
            }
        }
        Kind::Stud(stud) => {
            if let Some(rating) = stud.rating {
                fact(words.fill("continuous", &[("current", &rating.show())]));
            }
        }
        Kind::Load(load) => {
            if let Some(rating) = load.rating {
                fact(rating.show());
            }
            if let Some(power) = load.power {
                fact(power.show());
            }
        }
        Kind::Charger(charger) => {
            if let Some(PartKind::Charger(c)) = written.map(|p| &p.kind) {
                fact(words.get(&format!("charger_{}", c.kind.value.word().replace('-', "_"))).into());
            }
            fact(words.fill("output_of", &[("current", &charger.limit.show()), ("volts", &charger.set_point.show())]));
        }
        Kind::Alternator(a) => {
            fact(words.fill("output_of", &[("current", &a.output.show()), ("volts", &a.set_point.show())]));
        }
        Kind::Starter(starter) => {
            fact(words.fill("cranks_at", &[("current", &starter.cranking.0.show())]));
        }
        Kind::Engine(_) | Kind::Body(_) => {}
    }
    if let Some(stud) = part.stud {
        fact(words.fill("stud_of", &[("thread", &stud.to_string())]));
    }
    if let Some(mass) = part.mass {
        fact(mass.show_both());
    }
    if part.covers == Some(true) {
        fact(words.get("terminals_covered").into());
    }
    facts.join(", ")
}

fn make(run: &Run, words: &Words) -> String {
    if run.strap {
        return words.get("strap").into();
    }
    let metal = match run.metal {
        Metal::Copper => words.get("metal_copper"),
        Metal::Aluminium => words.get("metal_aluminium"),
        Metal::CopperClad => words.get("metal_copper_clad"),
    };
    let insulation = match run.insulation {
        Insulation::Pvc => "PVC",
        Insulation::Xlpe => "XLPE",
        Insulation::Epr => "EPR",
        Insulation::Bare => words.get("bare"),
    };
    let mut text = format!("{metal}, {insulation}, {}", run.rated.show_both());
    let covering = match run.covering {
        Covering::None => None,
        Covering::Sheath => Some("covering_sheath"),
        Covering::Conduit => Some("covering_conduit"),
        Covering::Trunking => Some("covering_trunking"),
    };
    if let Some(key) = covering {
        text.push_str(", ");
        text.push_str(words.get(key));
    }
    text
}

fn hole(circuit: &Circuit, guide: &Guide, run: &Run, node: NodeId, is_from: bool) -> Option<Thread> {
    let lugs = guide.runs.get(&run.name).and_then(|r| r.lugs.as_ref());
    let written = lugs.and_then(|l| if is_from { l.from_hole.as_ref() } else { l.to_hole.as_ref() });
    written.map(|hole| hole.value).or(circuit.part(circuit.node(node).part).stud)
}

/// A terminal in two parts, as a reader would name it: its part, and where on it.
pub fn terminal(circuit: &Circuit, node: NodeId, words: &Words) -> (String, String) {
    let at = circuit.node(node);
    let part = circuit.part(at.part);
    let rest = at.name.strip_prefix(&part.name).unwrap_or("");
    let terminal = match rest {
        "+" | ".in+" | ".out+" | "-" | ".in-" | ".out-" | ".line" | ".load" => {
            words.get(&format!("terminal_{}", rest.replace('+', "plus").replace('-', "minus").replace('.', ""))).into()
        }
        rest if rest.starts_with('@') => circuit.zone(at.zone).label.clone(),
        _ => String::new(),
    };
    (name(&part.label, &part.name), terminal)
}

fn end(circuit: &Circuit, guide: &Guide, run: &Run, node: NodeId, is_from: bool, words: &Words) -> End {
    let (part, terminal) = terminal(circuit, node, words);
    let lug = match hole(circuit, guide, run, node, is_from) {
        Some(thread) => words.fill("lug_of", &[("size", &run.size.show()), ("thread", &thread.to_string())]),
        None => words.fill("lug_unsaid", &[("size", &run.size.show())]),
    };
    End { part, terminal, lug }
}

/// Of each run, whether no fuse or breaker stands before it; of a guide that was not solved, all are taken to be so.
pub fn unprotected(one: &Checked, circuit: &Circuit) -> Vec<bool> {
    match &one.study {
        Some(study) => study.supply.before_a_device(circuit),
        None => vec![true; circuit.runs.len()],
    }
}

/// What the job uses up, counted from the circuit.
///
/// `unprotected` says of each run whether no fuse or breaker stands before it: such runs are held more closely.
pub fn consumables(circuit: &Circuit, guide: &Guide, unprotected: &[bool], words: &Words) -> Vec<Consumable> {
    let mut rows = Vec::new();
    let mut row = |what: String, amount: String, counted: &str| {
        rows.push(Consumable { what: sentence(&what), amount, counted: counted.into() });
    };

    let mut cable: Vec<(String, CableSize, f64)> = Vec::new();
    let mut lugs: Vec<(String, usize)> = Vec::new();
    let mut shrink: Vec<(String, usize)> = Vec::new();
    let mut grommets: Vec<(String, usize)> = Vec::new();
    let mut clips: Vec<(Length, usize, Vec<String>)> = Vec::new();
    let mut conduit = 0.0f64;
    let made = |run: &Run| !run.strap && !is_there(guide, run);
    let bundles = bundles(circuit);
    for (i, run) in circuit.runs.iter().enumerate() {
        if !made(run) {
            continue;
        }
        let colour = guide.runs.get(&run.name).and_then(|r| r.colour.as_ref()).map(|c| c.value.clone());
        let kind = format!("{} {}", run.size.show(), colour.unwrap_or_default()).trim().to_string();
        let length = cut_length(run).si();
        match cable.iter_mut().find(|(k, ..)| *k == kind) {
            Some((_, _, sum)) => *sum += length,
            None => cable.push((kind, run.size, length)),
        }
        for (node, is_from) in [(run.from, true), (run.to, false)] {
            count(&mut lugs, end(circuit, guide, run, node, is_from, words).lug, 1);
        }
        count(&mut shrink, run.size.show(), 2);
        // Runs of one bundle share conduit, grommets and clips: the longest of them stands for all.
        let lies_with = |r: &RunId| bundles.equiv(i, r.0) && made(circuit.run(*r));
        let bundle: Vec<RunId> = (0..circuit.runs.len()).map(RunId).filter(lies_with).collect();
        let longest = bundle.iter().copied().max_by(|a, b| {
            let by_length = circuit.run(*a).length.si().total_cmp(&circuit.run(*b).length.si());
            by_length.then(b.cmp(a))
        });
        if longest != Some(RunId(i)) {
            continue;
        }
        let crossings = run.laid.len().saturating_sub(1);
        if crossings > 0 {
            let sizes: Vec<String> = bundle.iter().map(|r| circuit.run(*r).size.show()).collect();
            count(&mut grommets, sizes.join(" + "), crossings);
        }
        let covered = |r: &&RunId| matches!(circuit.run(**r).covering, Covering::Conduit | Covering::Trunking);
        conduit += bundle.iter().filter(covered).map(|r| circuit.run(*r).length.si()).fold(0.0, f64::max);
        // Of a bundle the run that must be held most closely decides for all.
        let close = |r: &RunId| unprotected.get(r.0).copied().unwrap_or(false);
        let all = bundle.iter().map(|r| clip_spacing(circuit, *r, close(r)));
        let Some(spacing) = all.min_by(|a, b| a.si().total_cmp(&b.si())) else { continue };
        let count = (run.length.si() / spacing.si()).floor() as usize;
        if count > 0 {
            let marks = bundle.iter().map(|r| run_mark(*r));
            match clips.iter_mut().find(|(at, ..)| *at == spacing) {
                Some((_, sum, of)) => {
                    *sum += count;
                    of.extend(marks);
                }
                None => clips.push((spacing, count, marks.collect())),
            }
        }
    }
    for (kind, _, length) in cable {
        row(words.fill("cable_of", &[("kind", &kind)]), Length::from_si(length).show_both(), words.get("counted_cuts"));
    }
    for (lug, n) in lugs {
        row(lug, n.to_string(), words.get("counted_ends"));
    }
    for (size, n) in shrink {
        let each = Length::from_si(SHRINK_LENGTH).show_both();
        row(words.fill("shrink_for", &[("size", &size)]), format!("{n} × {each}"), words.get("counted_shrink"));
    }
    for (size, n) in grommets {
        row(words.fill("grommet_for", &[("size", &size)]), n.to_string(), words.get("counted_crossings"));
    }
    if conduit > 0.0 {
        row(words.get("conduit").into(), Length::from_si(conduit).show_both(), words.get("counted_covered"));
    }
    clips.sort_by(|a, b| a.0.si().total_cmp(&b.0.si()));
    for (spacing, count, marks) in clips {
        let counted = words.fill("counted_clips", &[("spacing", &spacing.show_both()), ("marks", &marks.join(", "))]);
        row(words.get("clips").into(), count.to_string(), &counted);
    }
    let mut holders: Vec<(String, usize)> = Vec::new();
    for part in guide.parts.values().filter(|part| !part.existing) {
        if let PartKind::Fuse(fuse) = &part.kind {
            let volts = fuse.volts.as_ref().map(|volts| volts.value.show()).unwrap_or_default();
            let figures = [("rating", fuse.rating.value.show()), ("volts", volts)];
            let with: Vec<(&str, &str)> = figures.iter().map(|(name, text)| (*name, text.as_str())).collect();
            count(&mut holders, words.fill("holder_for", &with).trim_end_matches([',', ' ']).to_string(), 1);
        }
    }
    for (holder, n) in holders {
        row(holder, n.to_string(), words.get("counted_parts"));
    }
    for part in guide.parts.values().filter(|part| !part.existing) {
        let PartKind::Battery(battery) = &part.kind else { continue };
        if let Some(held) = battery.hold_down.as_ref().filter(|h| h.kind.value != HoldDownKind::None)
            && let (Some(bolts), Some(thread)) = (&held.bolts, &held.thread)
        {
            let grade = held.grade.as_ref().map(|g| g.value.to_string()).unwrap_or_default();
            let what = words.fill("bolt_of", &[("thread", &thread.value.to_string()), ("grade", &grade)]);
            row(what.trim_end_matches([',', ' ']).to_string(), bolts.value.to_string(), words.get("counted_hold_down"));
            if let Some((area, thickness)) = &held.plate {
                let figures = [("area", area.value.show_both()), ("thickness", thickness.value.show_both())];
                let with: Vec<(&str, &str)> = figures.iter().map(|(name, text)| (*name, text.as_str())).collect();
                row(words.fill("plate_of", &with), bolts.value.to_string(), words.get("counted_hold_down"));
            }
        }
        if let Some(vent) = battery.housing.as_ref().and_then(|h| h.vent.as_ref())
            && vent.kind.value == VentKind::PortTube
        {
            row(words.get("vent_tube").into(), "1".into(), words.get("counted_vent"));
        }
    }
    rows
}

/// How far apart the supports of a run may stand: as the guide says, and never further than the rule `support-too-far` allows.
fn clip_spacing(circuit: &Circuit, run: RunId, unprotected: bool) -> Length {
    let run = circuit.run(run);
    let limit = support_too_far::limit(support_too_far::is_held_closely(circuit, run, unprotected)).value;
    let said = run.supports.filter(|said| Length::millimetres(50.0) <= *said); // closer is a slip of the pen
    said.map_or(limit, |said| if said < limit { said } else { limit })
}

/// Which runs lie in one bundle: whichever of them says so, and whoever lies with one of them.
fn bundles(circuit: &Circuit) -> UnionFind<usize> {
    let mut bundles = UnionFind::new(circuit.runs.len());
    for (i, run) in circuit.runs.iter().enumerate() {
        for other in &run.bundled_with {
            bundles.union(i, other.0);
        }
    }
    bundles
}

fn count(list: &mut Vec<(String, usize)>, what: String, n: usize) {
    match list.iter_mut().find(|(w, _)| *w == what) {
        Some((_, sum)) => *sum += n,
        None => list.push((what, n)),
    }
}

/// The parts that a run joins, for links: not used by the page itself.
pub fn ends_of(circuit: &Circuit, run: RunId) -> [PartId; 2] {
    let run = circuit.run(run);
    [circuit.node(run.from).part, circuit.node(run.to).part]
}

/// A table as CSV (RFC 4180). A cell that a spreadsheet would take for a formula is made text.
pub fn csv(header: &[&str], rows: &[Vec<String>]) -> String {
    let mut writer = csv::Writer::from_writer(Vec::new());
    // Writing to memory cannot fail, and every row has as many cells as the header.
    let _ = writer.write_record(header.iter().map(|cell| plain_cell(cell)));
    for row in rows {
        let _ = writer.write_record(row.iter().map(|cell| plain_cell(cell)));
    }
    writer.into_inner().ok().and_then(|bytes| String::from_utf8(bytes).ok()).unwrap_or_default()
}

/// A cell that no spreadsheet takes for a formula: an apostrophe before `=`, `+`, `-`, `@`, tab, CR, also after spaces.
fn plain_cell(cell: &str) -> String {
    let starts = cell.trim_start_matches([' ', '\u{a0}', '\u{feff}']).chars().next();
    let risky = |c: char| "=+-@\t\r\n|%＝＋－＠".contains(c);
    if starts.is_some_and(risky) || cell.starts_with(['\t', '\r', '\n']) {
        format!("'{cell}")
    } else {
        cell.to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_made_text() {
        for bad in ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", " =cmd|' /C calc'!A0", "＝1"] {
            assert!(plain_cell(bad).starts_with('\''), "{bad}");
        }
        assert_eq!(plain_cell("70 mm²"), "70 mm²");
        assert_eq!(csv(&["a"], &[vec!["x\"y,z".into()]]), "a\n\"x\"\"y,z\"\n");
    }

    #[test]
    fn names_for_people() {
        assert_eq!(name("", "main-return"), "Main return");
        assert_eq!(name("Start battery", "battery"), "Start battery");
        assert_eq!(name("", "ärger"), "Ärger");
    }
}
