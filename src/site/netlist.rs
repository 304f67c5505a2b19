//! The circuit as a SPICE netlist, one a state, so that a reader can solve it with a program that is not ours.
//!
//! What a simulator cannot be told plainly is written as what it came to: a source at its limit is a current source, one that
//! regulates a voltage source, and one that gives nothing is left out.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use crate::circuit::{Circuit, NodeId, StateId};
use crate::study::network::Element;
use crate::study::{Case, network_of};

/// A source is taken as at its limit from this share of it on.
const AT_LIMIT: f64 = 1.0 - 1e-9;
/// A source that gives less is taken as giving nothing.
const NOTHING_A: f64 = 1e-9;
/// A branch without resistance, for programs that divide by it.
const NO_RESISTANCE_OHM: f64 = 1e-9;

/// The netlist of a state as it was solved in a case. `None` when it has no operating point.
pub fn netlist(circuit: &Circuit, state: StateId, case: &Case, title: &str) -> Option<String> {
    let network = network_of(circuit, state, case);
    let solved = network.solve().ok()?;
    let names = names(circuit);
    let node = |i: usize| names[i].as_str();
    let mut out = String::new();
    let plain = |text: &str| text.replace(['\n', '\r'], " ");
    // The first line of a netlist is its title, whatever it says.
    let _ = writeln!(out, "* {}, {}", plain(title), plain(&circuit.states[state.0].label));
    let _ = writeln!(
        out,
        "* Everything at 20 C, joints at their best. SI units. Node 0 is the first battery's minus post."
    );
    for (i, element) in network.elements.iter().enumerate() {
        let n = i + 1;
        let about = circuit.runs.get(i).map(|run| format!(" ; {}", run.name)).unwrap_or_default();
        let _ = match *element {
            Element::Resistor { a, b, ohms } => {
                writeln!(out, "R{n} {} {} {:e}{about}", node(a), node(b), ohms.max(NO_RESISTANCE_OHM))
            }
            Element::Source { a, b, volts, ohms } => {
                let inner = format!("inside_{n}");
                writeln!(out, "V{n} {inner} {} {volts:e}", node(b))
                    .and_then(|()| writeln!(out, "R{n} {inner} {} {:e}", node(a), ohms.max(NO_RESISTANCE_OHM)))
            }
            Element::Regulated { a, b, volts, limit } => {
                let gives = -solved.amps[i];
                if gives < NOTHING_A {
                    writeln!(out, "* element {n} gives nothing here")
                } else if limit * AT_LIMIT <= gives {
                    writeln!(out, "I{n} {} {} {limit:e} ; at its limit", node(b), node(a))
                } else {
                    writeln!(out, "V{n} {} {} {volts:e} ; regulates", node(a), node(b))
                }
            }
            Element::Draw { a, b, amps } => writeln!(out, "I{n} {} {} {amps:e}", node(a), node(b)),
            Element::Power { a, b, watts } => {
                writeln!(out, "B{n} {} {} I={watts:e}/V({},{})", node(a), node(b), node(a), node(b))
            }
            Element::Follows { a, b, .. } => writeln!(out, "I{n} {} {} {:e}", node(a), node(b), solved.amps[i]),
        };
    }
    let _ =
        writeln!(out, "* What this program found, to compare. A load of constant power has a second answer at a lower");
    let _ = writeln!(out, "* voltage, which no real circuit stays at: .nodeset starts the search at the right one.");
    for (i, name) in names.iter().enumerate() {
        if name != "0" && is_reached(&network.elements, i) {
            let _ = writeln!(out, "* v({name}) = {:.6}", solved.volts[i]);
            let _ = writeln!(out, ".nodeset v({name})={:.6}", solved.volts[i]);
        }
    }
    // Nodes of parts that are off hang in the air; a simulator needs a path from each.
    out.push_str(".options rshunt=1e12 reltol=1e-9\n.op\n.end\n");
    Some(out)
}

/// Whether any element touches a node.
fn is_reached(elements: &[Element], node: usize) -> bool {
    elements.iter().any(|element| {
        let (a, b) = element.ends();
        a == node || b == node
    })
}

/// A name for every node that SPICE reads: letters, digits and underlines, each its own. The first battery's minus is 0.
fn names(circuit: &Circuit) -> Vec<String> {
    let ground: Option<NodeId> = circuit.batteries().next().map(|(_, battery)| battery.negative);
    let mut taken = BTreeSet::new();
    let mut names = Vec::new();
    for (i, node) in circuit.nodes.iter().enumerate() {
        if ground == Some(NodeId(i)) {
            names.push("0".to_string());
            continue;
        }
        let mut name = String::from("n_");
        for c in node.name.chars() {
            match c {
                '+' => name.push_str("_plus"),
                '@' => name.push_str("_at_"),
                c if c.is_ascii_alphanumeric() => name.push(c.to_ascii_lowercase()),
                _ => name.push('_'),
            }
        }
        if node.name.ends_with('-') {
            name.push_str("minus");
        }
        if !taken.insert(name.clone()) {
            name.push_str(&format!("_{i}"));
            taken.insert(name.clone());
        }
        names.push(name);
    }
    names
}
