//! Three guides in every state, against netlists that a person wrote from their front matter.

use std::collections::BTreeSet;
use std::fs;

use goodground::circuit::{Activity, Alternator, Charger, Circuit, Kind, NodeId, Part, PartId, RunId, StateId, wire};
use goodground::guide;
use goodground::quantity::{Current, Temperature, Voltage};
use goodground::source::SourceFile;
use goodground::study::{self, Case, Charge, Joints, Warmth};

use super::deck::{Answers, Deck, Record, Tally, elements, folder};

const GUIDES: [&str; 3] =
    ["start-battery-behind-the-bulkhead", "second-battery-in-a-camper", "electric-motor-on-a-small-boat"];

/// A guide of `content/`, wired.
pub fn circuit(guide: &str) -> Circuit {
    let path = format!("content/{guide}/guide.md");
    let text = fs::read_to_string(format!("{}/{path}", env!("CARGO_MANIFEST_DIR"))).expect("a guide that can be read");
    let (read, findings) = guide::read(SourceFile::new(path.clone(), text), guide);
    let (circuit, wired) = wire(&read.unwrap_or_else(|| panic!("{path}: {findings:?}")));
    circuit.unwrap_or_else(|| panic!("{path}: {wired:?}"))
}

/// A name of ours as the netlists write it.
fn word(name: &str) -> String {
    let mut word = String::new();
    for c in name.trim_end_matches(['+', '-']).chars() {
        match c {
            '-' | '.' => word.push('_'),
            '@' => word.push_str("_at_"),
            other => word.push(other),
        }
    }
    match name.chars().last() {
        Some('+') => word + "_pos",
        Some('-') => word + "_neg",
        _ => word,
    }
}

/// What must hold for a source to be in the mode that the netlist has it in.
struct Mode {
    what: String,
    /// Expressions to be added, each with its sign.
    terms: Vec<(f64, String)>,
    least: f64,
    most: f64,
}

/// One netlist with everything asked of it.
struct Sheet<'a> {
    circuit: &'a Circuit,
    state: StateId,
    case: &'a Case,
    file: String,
    elements: BTreeSet<String>,
    used: BTreeSet<String>,
    /// What the guide says and the netlist must say: label, expression, ours.
    figures: Vec<(String, String, f64)>,
    /// What both solved: label, expression, sign, ours.
    solved: Vec<(String, String, f64, f64)>,
    modes: Vec<Mode>,
    wrong: Vec<String>,
}

impl Sheet<'_> {
    /// Notes that an element stands for something; false where the netlist lacks it.
    fn uses(&mut self, element: &str, what: &str) -> bool {
        self.used.insert(element.to_string());
        let there = self.elements.contains(element);
        if !there {
            self.wrong.push(format!("{}: the guide has {what}, the netlist no {element}", self.file));
        }
        there
    }

    fn figure(&mut self, what: &str, element: &str, of: &str, ours: f64) {
        if self.uses(element, what) {
            self.figures.push((what.to_string(), format!("@{element}[{of}]"), ours));
        }
    }

    fn solve(&mut self, what: &str, expression: String, sign: f64, ours: f64) {
        self.solved.push((what.to_string(), expression, sign, ours));
    }

    fn resistor(&mut self, what: &str, element: &str, ohms: f64, amps: f64) {
        self.figure(&format!("{what}, ohms"), element, "resistance", ohms);
        self.solve(&format!("{what}, amperes"), format!("@{element}[i]"), 1.0, amps);
    }

    fn volts_between(&self, a: NodeId, b: NodeId) -> Vec<(f64, String)> {
        [(1.0, a), (-1.0, b)].map(|(sign, n)| (sign, format!("v({})", word(&self.circuit.node(n).name)))).to_vec()
    }

    /// Everything that the circuit has, looked for in the netlist.
    fn ask(&mut self) {
        let (circuit, case) = (self.circuit, self.case);
        let solution = case.solution.as_ref().expect("an operating point");
        let joint = study::joint_resistance(Joints::Best);
        let cool = Temperature::celsius(20.0);
        self.used.insert("vground".to_string());
        // The netlists hold the black probe where our own solution does in most states: at the first battery.
        let (_, black) = circuit.batteries().next().expect("a battery");
        for (i, node) in circuit.nodes.iter().enumerate() {
            let ours = solution.between(NodeId(i), black.negative).in_volts();
            self.solve(&format!("{}, volts", node.name), format!("v({})", word(&node.name)), 1.0, ours);
        }
        for (i, run) in circuit.runs.iter().enumerate() {
            let ohms = study::run_resistance(run, cool, joint).in_ohms();
            let amps = solution.run(RunId(i)).in_amps();
            self.resistor(&format!("run {}", run.name), &format!("rrun_{}", word(&run.name)), ohms, amps);
        }
        for (i, bolt) in circuit.bolts.iter().enumerate() {
            let name = &circuit.part(bolt.part).name;
            let ohms = bolt.resistance.unwrap_or(joint).in_ohms();
            let amps = solution.bolt(i).in_amps();
            self.resistor(&format!("bolted return of {name}"), &format!("rbolt_{}", word(name)), ohms, amps);
        }
        for (i, piece) in circuit.body.iter().enumerate() {
            let zone = |node| &circuit.zone(circuit.node(node).zone).name;
            let (from, to) = (zone(piece.from), zone(piece.to));
            let ohms = study::body_resistance(piece, case.corner.body).in_ohms();
            let amps = solution.body(i).in_amps();
            let element = format!("rbody_{}_{}", word(from), word(to));
            self.resistor(&format!("body from {from} to {to}"), &element, ohms, amps);
        }
        for (i, part) in circuit.parts.iter().enumerate() {
            self.part(PartId(i), part);
        }
        for element in self.elements.difference(&self.used) {
            self.wrong.push(format!("{}: the netlist has {element}, which the guide has not in this state", self.file));
        }
    }

    fn part(&mut self, id: PartId, part: &Part) {
        let solution = self.case.solution.as_ref().expect("an operating point");
        let (name, amps) = (part.name.as_str(), solution.part(id).in_amps());
        let doing = self.circuit.states[self.state.0].parts[id.0];
        match &part.kind {
            Kind::Protector(d) if doing != Activity::Open => {
                self.resistor(name, &format!("rdev_{}", word(name)), d.resistance.in_ohms(), amps);
            }
            Kind::Switch(s) if doing != Activity::Open => {
                self.resistor(name, &format!("rdev_{}", word(name)), s.resistance.in_ohms(), amps);
            }
            Kind::Battery(_) if self.case.corner.charge == Charge::Tail => {
                // A tenth of its capacity in an hour.
                self.figure(&format!("{name}, amperes"), &format!("ibat_{}", word(name)), "dc", -amps);
            }
            Kind::Battery(b) => {
                let full = matches!(self.case.corner.charge, Charge::None);
                let volts = if full { 12.6 } else { 12.2 };
                self.figure(&format!("{name}, volts at no current"), &format!("vbat_{}", word(name)), "dc", volts);
                let ohms = study::cranking_resistance(b, Temperature::celsius(20.0)).in_ohms();
                self.figure(&format!("{name}, ohms"), &format!("rbat_{}", word(name)), "resistance", ohms);
                self.solve(&format!("{name}, amperes"), format!("i(vbat_{})", word(name)), -1.0, amps);
            }
            Kind::Alternator(Alternator { positive, negative, .. }) if doing == Activity::Running => {
                let Kind::Alternator(a) = &part.kind else { return };
                let view = self.circuit.alternator_view(a, self.case.corner.charge == Charge::Lowered);
                self.limited(name, "alt", (*positive, *negative), (view.set_point, view.limit), amps);
            }
            Kind::Charger(c) if doing == Activity::Running => {
                let Charger { output, set_point, limit, .. } = c;
                self.limited(name, "out", *output, (*set_point, *limit), amps);
                if c.input.is_some() {
                    let element = format!("bin_{}", word(name));
                    self.uses(&element, name);
                    let taken = solution.input(id).in_amps();
                    self.solve(&format!("{name}, amperes at its input"), format!("@{element}[i]"), 1.0, taken);
                }
            }
            Kind::Starter(s) if doing == Activity::Cranking => {
                let element = format!("iload_{}", word(name));
                self.figure(&format!("{name}, amperes"), &element, "dc", s.cranking.0.in_amps());
            }
            Kind::Load(_) => match doing {
                Activity::Takes(current) => {
                    let element = format!("iload_{}", word(name));
                    self.figure(&format!("{name}, amperes"), &element, "dc", current.in_amps());
                }
                Activity::Power(_) => self.wrong.push(format!("{}: teach this test {name}'s power", self.file)),
                _ => {}
            },
            _ => {}
        }
    }

    /// A source that holds its voltage up to its limit. The netlist has it in one mode; ngspice's own answers must
    /// bear that mode out.
    fn limited(
        &mut self,
        name: &str,
        prefix: &str,
        (positive, negative): (NodeId, NodeId),
        (set_point, limit): (Voltage, Current),
        amps: f64,
    ) {
        let holds = format!("v{prefix}_{}", word(name));
        let limits = format!("i{prefix}_{}", word(name));
        let (volts, limit) = (set_point.in_volts(), limit.in_amps());
        let across = self.volts_between(positive, negative);
        if self.elements.contains(&holds) {
            self.figure(&format!("{name}, set-point"), &holds, "dc", volts);
            self.solve(&format!("{name}, amperes"), format!("i({holds})"), -1.0, amps);
            let what = format!("{name} holds its voltage");
            self.modes.push(Mode { what, terms: vec![(-1.0, format!("i({holds})"))], least: 0.0, most: limit });
        } else if self.elements.contains(&limits) {
            self.figure(&format!("{name}, output"), &limits, "dc", limit);
            self.solve(&format!("{name}, amperes"), format!("@{limits}[dc]"), 1.0, amps);
            let what = format!("{name} is at its limit");
            self.modes.push(Mode { what, terms: across, least: f64::NEG_INFINITY, most: volts });
        } else {
            self.solve(&format!("{name}, amperes"), "v(0)".to_string(), 0.0, amps);
            let what = format!("{name} gives nothing");
            self.modes.push(Mode { what, terms: across, least: volts, most: f64::INFINITY });
        }
    }

    /// Compares everything.
    fn compare(mut self, answers: &Answers, tally: &mut Tally) {
        for (what, expression, ours) in &self.figures {
            match answers.get(expression) {
                // A figure is the guide's own and worked by hand: equal but for the record's rounding.
                Some(netlist) if (ours - netlist).abs() <= 1e-10 * netlist.abs() => {}
                Some(netlist) => self.wrong.push(format!(
                    "{}: {what}: the guide makes it {ours}, the netlist {netlist}. Where the guide changed, write the \
                     netlist's figure anew by hand",
                    self.file
                )),
                None => self.wrong.push(format!("{}: {what}: ngspice has no {expression}", self.file)),
            }
        }
        // A figure that differs explains every difference below it.
        if !self.wrong.is_empty() {
            self.wrong.into_iter().for_each(|wrong| tally.wrong(wrong));
            return;
        }
        for (what, expression, sign, ours) in &self.solved {
            let theirs = if *sign == 0.0 { Some(&0.0) } else { answers.get(expression) };
            match theirs {
                Some(theirs) => tally.compare(&format!("{}: {what}", self.file), *ours, sign * theirs),
                None => tally.wrong(format!("{}: {what}: ngspice has no {expression}", self.file)),
            }
        }
        for Mode { what, terms, least, most } in &self.modes {
            let value: f64 = terms.iter().map(|(sign, expression)| sign * answers[expression]).sum();
            if !(*least - 1e-9..=*most + 1e-9).contains(&value) {
                tally.wrong(format!("{}: that {what} is wrong: {terms:?} is {value}", self.file));
            }
        }
    }

    fn asked(&self) -> BTreeSet<String> {
        let figures = self.figures.iter().map(|f| f.1.clone());
        let solved = self.solved.iter().filter(|s| s.2 != 0.0).map(|s| s.1.clone());
        figures.chain(solved).chain(self.modes.iter().flat_map(|m| m.terms.iter().map(|t| t.1.clone()))).collect()
    }
}

/// A netlist with the wiring it includes, without `.end`.
fn netlist(file: &str) -> String {
    let path = folder().join(file);
    let text = fs::read_to_string(&path)
        .unwrap_or_else(|e| panic!("{}: {e}. Every state of this guide needs a netlist, by hand", path.display()));
    let mut whole = String::new();
    for line in text.lines().filter(|l| *l != ".end") {
        match line.strip_prefix(".include ") {
            Some(other) => whole.push_str(&netlist(other.trim())),
            None => whole.push_str(line),
        }
        whole.push('\n');
    }
    whole
}

#[test]
fn three_guides_in_every_state_agree_with_netlists_written_by_hand() {
    let mut record = Record::open("guides");
    let mut tally = Tally::new("guides");
    let mut files = BTreeSet::new();
    for guide in GUIDES {
        files.insert(format!("{guide}.wiring.cir"));
        let circuit = circuit(guide);
        let study = study::study(&circuit);
        for (s, state) in circuit.states.iter().enumerate() {
            for charge in [Charge::None, Charge::Bulk, Charge::Tail, Charge::Lowered] {
                let mut cases = study.states[s].at(Warmth::Cool, Joints::Best, charge);
                let Some(case) = cases.next() else { continue };
                assert!(cases.next().is_none(), "{guide}: its body was measured");
                let how = match charge {
                    Charge::None => "",
                    Charge::Bulk => ".bulk",
                    Charge::Tail => ".tail",
                    Charge::Lowered => ".lowered",
                };
                let file = format!("{guide}.{}{how}.cir", state.name);
                let netlist = netlist(&file);
                let mut sheet = Sheet {
                    circuit: &circuit,
                    state: StateId(s),
                    case,
                    file: file.clone(),
                    elements: elements(&netlist),
                    used: BTreeSet::new(),
                    figures: Vec::new(),
                    solved: Vec::new(),
                    modes: Vec::new(),
                    wrong: Vec::new(),
                };
                sheet.ask();
                files.insert(file.clone());
                if !sheet.wrong.is_empty() {
                    sheet.wrong.into_iter().for_each(|wrong| tally.wrong(wrong));
                    continue;
                }
                let name = file.trim_end_matches(".cir").to_string();
                let answers = record.answers(&Deck { name, netlist, asked: sheet.asked() });
                sheet.compare(&answers, &mut tally);
            }
        }
    }
    tally.finish(450);
    record.close();
    // No netlist lies about that nothing reads.
    let lying: BTreeSet<String> = fs::read_dir(folder())
        .unwrap()
        .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
        .filter(|name| name.ends_with(".cir"))
        .collect();
    assert_eq!(lying, files);
}
