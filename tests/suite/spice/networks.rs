//! Random networks, 5 to 40 nodes, with parallel returns.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use goodground::study::network::{Element, Network, Solved};

use super::deck::{Deck, Record, Tally};
use super::random::{self, Dice, Sides};

const NETWORKS: usize = 60;

fn node(n: usize) -> String {
    if n == 0 { "0".to_string() } else { format!("n{n}") }
}

/// What a limited source does.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Mode {
    Holds,
    Limits,
    Nothing,
}

/// In which mode we have a source. ngspice is given this mode, and its answers must bear it out.
fn mode(network: &Network, solved: &Solved, i: usize) -> Mode {
    let Element::Regulated { limit, .. } = network.elements[i] else { panic!("{i} is no limited source") };
    match -solved.amps[i] {
        given if given >= limit => Mode::Limits,
        0.0 => Mode::Nothing,
        _ => Mode::Holds,
    }
}

/// The netlist, and by element the expression of its current with a sign; nothing where it is known.
fn netlist(network: &Network, solved: &Solved, sides: &Sides) -> (String, Vec<Option<(f64, String)>>) {
    let mut text = String::new();
    let mut currents = Vec::new();
    for (i, element) in network.elements.iter().enumerate() {
        let (a, b) = (node(element.ends().0), node(element.ends().1));
        currents.push(match *element {
            Element::Resistor { ohms: 0.0, .. } => {
                writeln!(text, "Vz{i} {a} {b} 0").unwrap();
                Some((1.0, format!("i(vz{i})")))
            }
            Element::Resistor { ohms, .. } => {
                writeln!(text, "R{i} {a} {b} {ohms:e}").unwrap();
                Some((1.0, format!("@r{i}[i]")))
            }
            Element::Source { volts, ohms, .. } => {
                writeln!(text, "Vs{i} m{i} {b} {volts:e}\nRs{i} {a} m{i} {ohms:e}").unwrap();
                Some((1.0, format!("i(vs{i})")))
            }
            Element::Regulated { volts, limit, .. } => match mode(network, solved, i) {
                Mode::Holds => {
                    writeln!(text, "Vr{i} {a} {b} {volts:e}").unwrap();
                    Some((1.0, format!("i(vr{i})")))
                }
                Mode::Limits => {
                    writeln!(text, "Ir{i} {b} {a} {limit:e}").unwrap();
                    Some((-1.0, format!("@ir{i}[dc]")))
                }
                Mode::Nothing => None,
            },
            Element::Draw { amps, .. } => {
                writeln!(text, "Id{i} {a} {b} {amps:e}").unwrap();
                Some((1.0, format!("@id{i}[dc]")))
            }
            Element::Power { watts, .. } => {
                writeln!(text, "Bp{i} {a} {b} I = {watts:e}/V({a},{b})").unwrap();
                Some((1.0, format!("@bp{i}[i]")))
            }
            Element::Follows { element: fed, efficiency, .. } => {
                let Element::Regulated { a: p, b: q, limit, .. } = network.elements[fed] else { panic!("{fed}") };
                let gives = match mode(network, solved, fed) {
                    Mode::Holds => Some(format!("(-I(Vr{fed}))")),
                    Mode::Limits => Some(format!("{limit:e}")),
                    Mode::Nothing => None,
                };
                gives.map(|amps| {
                    let watts = format!("{amps}*V({},{})/{efficiency:e}", node(p), node(q));
                    writeln!(text, "Bf{i} {a} {b} I = {watts}/V({a},{b})").unwrap();
                    (1.0, format!("@bf{i}[i]"))
                })
            }
        });
    }
    // Of a constant power's two roots, the upper: begin above it.
    for n in sides.positive() {
        writeln!(text, ".nodeset v(n{n})={:e}", network.nominal).unwrap();
    }
    (text, currents)
}

#[test]
fn random_networks_with_parallel_returns_agree() {
    let mut record = Record::open("networks");
    let mut tally = Tally::new("networks");
    let (mut modes, mut powers, mut chargers) = ([0; 3], 0, 0);
    for n in 0..NETWORKS {
        let mut dice = Dice::new(n as u64);
        let nodes = 5 + n * 35 / (NETWORKS - 1);
        let (network, sides) = random::network(&mut dice, nodes);
        let solved = network.solve().expect("it was made so");
        let (netlist, currents) = netlist(&network, &solved, &sides);
        let name = format!("random {n:02}");
        let asked: BTreeSet<String> =
            (1..nodes).map(|n| format!("v(n{n})")).chain(currents.iter().flatten().map(|c| c.1.clone())).collect();
        let answers = record.answers(&Deck { name: name.clone(), netlist, asked });
        let answer = |expression: &str| *answers.get(expression).unwrap_or_else(|| panic!("{name}: {expression}"));
        let volts = |n: usize| if n == 0 { 0.0 } else { answer(&format!("v(n{n})")) };
        for node in 0..nodes {
            tally.compare(&format!("{name}, node {node}"), solved.volts[node], volts(node));
        }
        for (i, current) in currents.iter().enumerate() {
            let theirs = current.as_ref().map_or(0.0, |(sign, expression)| sign * answer(expression));
            tally.compare(&format!("{name}, {:?}", network.elements[i]), solved.amps[i], theirs);
            match network.elements[i] {
                Element::Regulated { a, b, volts: set, limit } => {
                    let across = volts(a) - volts(b);
                    let mode = mode(&network, &solved, i);
                    modes[mode as usize] += 1;
                    let right = match mode {
                        Mode::Holds => (-1e-6..=limit + 1e-6).contains(&-theirs),
                        Mode::Limits => across <= set + 1e-6,
                        Mode::Nothing => across >= set - 1e-6,
                    };
                    if !right {
                        tally.wrong(format!("{name}: {:?} is not in the mode {mode:?}", network.elements[i]));
                    }
                }
                Element::Power { .. } => powers += 1,
                Element::Follows { .. } if theirs > 0.0 => chargers += 1,
                _ => {}
            }
        }
    }
    // Every mode and every kind of load was met.
    assert!(modes.iter().all(|met| *met >= 3), "{modes:?}");
    assert!(powers >= 50 && chargers >= 10, "{powers} powers, {chargers} chargers");
    tally.finish(2500);
    record.close();
}
