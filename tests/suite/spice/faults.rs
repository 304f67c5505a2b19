//! The prospective currents of every guide: bolted faults at every terminal, and what each device must break.
//!
//! The netlists come from the circuit by a writer of this test's own: it takes the circuit's lengths, sizes and
//! measured figures, and works every resistance out again.

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;

use goodground::circuit::{Battery, Circuit, Kind, NodeId, Run};
use goodground::guide::{Chemistry, Metal};
use goodground::quantity::CrankingScale;
use goodground::study::faults::{FaultCorner, Site};
use goodground::study::{self, BODY_BEST_MOHM, BODY_WORST_MOHM, JOINT_BEST_MOHM, JOINT_WORST_MOHM};

use super::deck::{Deck, Record, Tally};
use super::guides::circuit;

/// Every folder of `content/` with a guide in it.
pub fn guides() -> Vec<String> {
    let content = format!("{}/content", env!("CARGO_MANIFEST_DIR"));
    let mut guides: Vec<String> = fs::read_dir(content)
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.join("guide.md").is_file())
        .map(|p| p.file_name().unwrap().to_string_lossy().into_owned())
        .collect();
    guides.sort();
    guides
}

/// Ohms of a run with its joints. Copper: R = R20 (234.5 + T)/254.5; aluminium's straight line meets nothing at
/// 1/0.00403 − 20 = 228.1 °C below zero.
fn run_ohms(run: &Run, least: bool) -> f64 {
    let joint = if least { JOINT_WORST_MOHM } else { JOINT_BEST_MOHM } * 1e-3;
    let zero = if run.metal == Metal::Copper { 234.5 } else { 228.1 };
    let at = if least { run.rated.in_celsius() } else { 20.0 };
    let warm = (zero + at) / (zero + 20.0);
    match run.measured {
        Some(measured) => measured.in_ohms() * warm,
        None => run.r20.in_ohms() * warm + 2.0 * run.joint.map_or(joint, |j| j.in_ohms()),
    }
}

/// Volts and ohms of a battery on a corner.
///
/// Full: 12.6 V a unit of lead-acid, 13.4 V of lithium; half 12.2 V and 13.1 V. The first moment: its maker's figure, or 0.61
/// times (0.4 times, for the most) what it has in a cold cranking test; with neither, the stationary rule of ten
/// (twenty) amperes an ampere-hour, or 20 kA. The least: one and a half times what it has cranking at 20 °C.
fn battery(b: &Battery, corner: FaultCorner) -> (f64, f64) {
    let lithium = b.chemistry == Chemistry::Lfp;
    let full = b.units * if lithium { 13.4 } else { 12.6 };
    let half = b.units * if lithium { 13.1 } else { 12.2 };
    let cold = b.cold_cranking.map(|figure| {
        let end = match figure.scale {
            CrankingScale::Sae => 7.2,
            CrankingScale::En => 7.5,
            CrankingScale::Din => 9.0,
        };
        b.units * (12.6 - end) / figure.current.in_amps()
    });
    let ah = b.capacity.in_amp_hours();
    if corner == FaultCorner::Least {
        let k = |f: f64| 0.61 + 0.0082 * f - 0.000_041_7 * f * f;
        let warm = match (b.internal, cold) {
            (Some(given), _) => given.in_ohms(),
            (None, Some(cold)) => cold * k(0.0) / k(68.0),
            (None, None) => full / (10.0 * ah),
        };
        return (half, 1.5 * warm);
    }
    let most = corner == FaultCorner::Most;
    let ohms = match (b.short_circuit.or(b.internal), cold) {
        (Some(given), _) => given.in_ohms(),
        (None, Some(cold)) => cold * if most { 0.4 } else { 0.61 },
        (None, None) if lithium && most => full / 20_000.0,
        (None, None) => full / (if most { 20.0 } else { 10.0 } * ah),
    };
    (full, ohms)
}

/// One copy of a circuit with everything closed and every load off, shorted between two nodes.
struct Copy<'a> {
    circuit: &'a Circuit,
    corner: FaultCorner,
    /// Sources that limit themselves run: an alternator gives half as much again at the first moment, electronics
    /// hold a charger to its output.
    running: bool,
    /// Devices have next to no resistance: a micro-ohm, as the program takes it.
    devices_are_nothing: bool,
}

impl Copy<'_> {
    fn write(&self, k: usize, short: (NodeId, NodeId), text: &mut String) {
        let circuit = self.circuit;
        let least = self.corner == FaultCorner::Least;
        let joint = if least { JOINT_WORST_MOHM } else { JOINT_BEST_MOHM } * 1e-3;
        let body = if least { BODY_WORST_MOHM } else { BODY_BEST_MOHM } * 1e-3;
        let mut tied: petgraph::unionfind::UnionFind<usize> = petgraph::unionfind::UnionFind::new(circuit.nodes.len());
        let mut conductors: Vec<(String, NodeId, NodeId, f64)> = Vec::new();
        let mut batteries = Vec::new();
        let mut currents = Vec::new();
        for (i, run) in circuit.runs.iter().enumerate() {
            conductors.push((format!("r{i}"), run.from, run.to, run_ohms(run, least)));
        }
        for (i, bolt) in circuit.bolts.iter().enumerate() {
            conductors.push((format!("b{i}"), bolt.from, bolt.to, bolt.resistance.map_or(joint, |r| r.in_ohms())));
        }
        for (i, piece) in circuit.body.iter().enumerate() {
            let ohms = piece.resistance.map_or(body / circuit.body.len() as f64, |r| r.in_ohms());
            conductors.push((format!("p{i}"), piece.from, piece.to, ohms));
        }
        for (i, part) in circuit.parts.iter().enumerate() {
            match &part.kind {
                Kind::Protector(d) => {
                    let ohms = if self.devices_are_nothing { 1e-6 } else { d.resistance.in_ohms() };
                    conductors.push((format!("d{i}"), d.line, d.load, ohms));
                }
                Kind::Switch(s) => conductors.push((format!("s{i}"), s.line, s.load, s.resistance.in_ohms())),
                Kind::Battery(b) => batteries.push((i, b)),
                Kind::Alternator(a) => currents.push((i, a.negative, a.positive, 1.5 * a.output.in_amps())),
                Kind::Charger(c) => currents.push((i, c.output.1, c.output.0, c.limit.in_amps())),
                _ => {}
            }
        }
        let node = |n: NodeId| format!("c{k}n{}", n.0);
        for (name, a, b, ohms) in conductors {
            writeln!(text, "R{k}{name} {} {} {ohms:e}", node(a), node(b)).unwrap();
            tied.union(a.0, b.0);
        }
        for (i, b) in batteries {
            let (volts, ohms) = battery(b, self.corner);
            writeln!(text, "V{k}e{i} c{k}m{i} {} {volts:e}", node(b.negative)).unwrap();
            writeln!(text, "R{k}e{i} {} c{k}m{i} {ohms:e}", node(b.positive)).unwrap();
            tied.union(b.negative.0, b.positive.0);
        }
        for (i, from, to, amps) in currents {
            if self.running && tied.equiv(from.0, to.0) {
                writeln!(text, "I{k}a{i} {} {} {amps:e}", node(from), node(to)).unwrap();
            }
        }
        writeln!(text, "V{k}short {} {} 0", node(short.0), node(short.1)).unwrap();
        // Every piece that hangs together by itself has one node held at nothing.
        let mut held = BTreeSet::new();
        for n in 0..circuit.nodes.len() {
            if held.insert(tied.find(n)) {
                writeln!(text, "V{k}held{n} {} 0 0", node(NodeId(n))).unwrap();
            }
        }
    }
}

fn corner_word(corner: FaultCorner) -> &'static str {
    match corner {
        FaultCorner::Kindest => "kindest",
        FaultCorner::Most => "most",
        FaultCorner::Least => "least",
    }
}

#[test]
fn prospective_currents_of_every_guide_agree() {
    let mut record = Record::open("faults");
    let mut tally = Tally::new("faults");
    for guide in guides() {
        let circuit = circuit(&guide);
        let study = study::study(&circuit);
        for corner in FaultCorner::ALL {
            let found: Vec<_> = study.faults.bolted.iter().filter(|f| f.corner == corner).collect();
            assert!(!found.is_empty(), "{guide}: no fault on the {} corner", corner_word(corner));
            let copy = Copy { circuit: &circuit, corner, running: false, devices_are_nothing: false };
            let (mut netlist, mut asked) = (String::new(), BTreeSet::new());
            for (k, fault) in found.iter().enumerate() {
                let Site::Terminal(site) = fault.site else { panic!("a bolted fault is at a terminal") };
                copy.write(k, (site, fault.to), &mut netlist);
                asked.insert(format!("i(v{k}short)"));
            }
            let name = format!("{guide}, bolted, {}", corner_word(corner));
            let answers = record.answers(&Deck { name, netlist, asked });
            for (k, fault) in found.iter().enumerate() {
                let Site::Terminal(site) = fault.site else { continue };
                let what = format!(
                    "{guide}: {} to {}, {}",
                    circuit.node(site).name,
                    circuit.node(fault.to).name,
                    corner_word(corner)
                );
                let theirs = answers.get(&format!("i(v{k}short)")).unwrap_or_else(|| panic!("no answer: {what}"));
                tally.compare(&what, fault.current.in_amps(), theirs.abs());
            }
        }
        // What each device must break: shorts from either of its sides straight to every battery's negative post.
        for (corner, nothing) in [(FaultCorner::Kindest, false), (FaultCorner::Most, true)] {
            let copy = Copy { circuit: &circuit, corner, running: true, devices_are_nothing: nothing };
            let (mut netlist, mut asked, mut k) = (String::new(), BTreeSet::new(), 0);
            let mut by_device = Vec::new();
            for (id, device) in circuit.protectors() {
                let mut shorts = Vec::new();
                for (_, battery) in circuit.batteries() {
                    for side in [device.line, device.load] {
                        copy.write(k, (side, battery.negative), &mut netlist);
                        shorts.push(format!("@r{k}d{}[i]", id.0));
                        k += 1;
                    }
                }
                asked.extend(shorts.iter().cloned());
                by_device.push((id, shorts));
            }
            let name = format!("{guide}, breaking, {}", corner_word(corner));
            let answers = record.answers(&Deck { name, netlist, asked });
            for (id, shorts) in by_device {
                let ours = study.faults.breaking.iter().find(|b| b.device == id).expect("every device");
                let ours = if nothing { ours.most } else { ours.kindest };
                let theirs = shorts.iter().map(|s| answers[s].abs()).fold(0.0, f64::max);
                let what = format!("{guide}: {} breaks, {}", circuit.part(id).name, corner_word(corner));
                tally.compare(&what, ours.in_amps(), theirs);
            }
        }
    }
    tally.finish(300);
    record.close();
}
