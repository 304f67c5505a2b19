//! What a reader checks before the battery goes on, at first power and after ten minutes.
//!
//! The order and the checks are common practice, no source, except where a line names one
//! (`reference/installation.md` V-1, V-3; 33 CFR 183.420 and ISO 10133 for the pull on a battery).

use super::lists::{self, name};
use super::theme::Words;
use crate::circuit::{Circuit, Kind, Part, Polarity, RunId};
use crate::guide::{Guide, PartKind, VehicleKind, VentKind};
use crate::handbook::restraint;
use crate::quantity::Show;

/// One thing to check, with a box to tick.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct CheckItem {
    /// The box's key.
    pub key: String,
    /// What to do and what must be seen.
    pub text: String,
    /// Ids of sources, where there is one.
    pub sources: Vec<&'static str>,
}

/// The checks under one heading.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct CheckList {
    /// The heading's key, as `before`.
    pub key: &'static str,
    /// The heading.
    pub title: String,
    /// What to know first.
    pub lead: String,
    /// In order.
    pub items: Vec<CheckItem>,
}

/// The three lists, in the order in which they are worked through.
pub fn lists(circuit: &Circuit, guide: &Guide, words: &Words) -> Vec<CheckList> {
    let batteries: Vec<&Part> = circuit.batteries().map(|(id, _)| circuit.part(id)).collect();
    let devices: Vec<&Part> = circuit.protectors().map(|(id, _)| circuit.part(id)).collect();
    let shown = |part: &Part| name(&part.label, &part.name);
    let named = |parts: &[&Part]| parts.iter().map(|part| shown(part)).collect::<Vec<_>>().join(", ");
    let mut all = Vec::new();

    let mut before = List::new("before", words);
    before.item("before_clean", &[], &[]);
    if !devices.is_empty() {
        before.item("before_open", &[("devices", &named(&devices))], &[]);
    }
    before.item("before_ohms", &[], &[]);
    for battery in &batteries {
        let ends: Vec<String> = lists::parts(circuit, guide, words)
            .into_iter()
            .filter(|row| row.key == battery.name)
            .map(|row| row.mark)
            .collect();
        before.item("before_polarity", &[("battery", &shown(battery)), ("mark", &ends.concat())], &[]);
    }
    for battery in &batteries {
        if let Some(mass) = battery.mass {
            let boat = guide.vehicle.kind.value == VehicleKind::Boat;
            let (pull, movement) = if boat {
                (restraint::small_craft_pull(mass), restraint::small_craft_movement())
            } else {
                (restraint::boat_pull(mass), restraint::boat_movement())
            };
            let kilograms = crate::quantity::Mass::kilograms((pull.value.in_newtons() / restraint::G).ceil());
            before.item(
                "before_restraint",
                &[
                    ("battery", &shown(battery)),
                    ("pull", &kilograms.show_both()),
                    ("movement", &movement.value.show_both()),
                ],
                &[pull.source],
            );
        } else {
            before.item("before_restraint_unknown", &[("battery", &shown(battery))], &[]);
        }
        let vent = match guide.parts.get(&battery.name).map(|part| &part.kind) {
            Some(PartKind::Battery(written)) => written.housing.as_ref().and_then(|h| h.vent.as_ref()),
            _ => None,
        };
        match vent.map(|vent| vent.kind.value) {
            Some(VentKind::PortTube) => before.item("before_vent_tube", &[("battery", &shown(battery))], &[]),
            Some(VentKind::BoxOpenings) => before.item("before_vent_openings", &[("battery", &shown(battery))], &[]),
            Some(VentKind::OpenAir) | None => {}
        }
    }
    before.item("before_covers", &[], &[]);
    all.push(before.done());

    let mut power = List::new("power", words);
    power.item("power_positive", &[], &[]);
    for battery in &batteries {
        power.item("power_lamp", &[("battery", &shown(battery))], &[]);
    }
    power.item("power_return", &[], &[]);
    for device in &devices {
        let text = if matches!(&device.kind, Kind::Protector(d) if d.is_fuse) { "power_fuse" } else { "power_breaker" };
        power.item(text, &[("device", &shown(device))], &[]);
    }
    all.push(power.done());

    let mut later = List::new("later", words);
    later.item("later_load", &[], &[]);
    for (i, run) in circuit.runs.iter().enumerate() {
        if run.polarity == Polarity::Loose {
            continue;
        }
        let [from, to] = lists::ends_of(circuit, RunId(i));
        later.item(
            "later_feel",
            &[
                ("mark", &lists::run_mark(RunId(i))),
                ("run", &name("", &run.name)),
                ("from", &shown(circuit.part(from))),
                ("to", &shown(circuit.part(to))),
            ],
            &[],
        );
    }
    later.item("later_tighten", &[], &[]);
    all.push(later.done());
    all
}

/// A list in the making.
struct List<'a> {
    words: &'a Words,
    list: CheckList,
}

impl<'a> List<'a> {
    fn new(key: &'static str, words: &'a Words) -> List<'a> {
        let title = words.get(&format!("{key}_heading")).to_string();
        let lead = words.get(&format!("{key}_lead")).to_string();
        List { words, list: CheckList { key, title, lead, items: Vec::new() } }
    }

    fn item(&mut self, text: &str, with: &[(&str, &str)], sources: &[&'static str]) {
        let key = format!("{}-{}", self.list.key, self.list.items.len() + 1);
        let text = self.words.fill(text, with);
        self.list.items.push(CheckItem { key, text, sources: sources.to_vec() });
    }

    fn done(self) -> CheckList {
        self.list
    }
}
