//! What a reader checks before the battery goes on, at first power and after ten minutes.
//!
//! The order and the checks are common practice, no source, except where a line names one
//! (`reference/installation.md` V-1, V-3; 33 CFR 183.420 and ISO 10133 for the pull on a battery).

use super::lists::{self, name};
use super::theme::Words;
use crate::cautions::{WorkOrder, touched};
use crate::circuit::{Battery, Circuit, Kind, NodeId, Part, PartId, Polarity, Protector, RunId, SwitchKind};
use crate::guide::{Drive, Guide, PartKind, VehicleKind, VentKind};
use crate::handbook::restraint;
use crate::quantity::{Duration, Mass, Show};

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

/// The three lists, in the order in which they are worked through. Where the author's steps put the batteries on, the second
/// only says what must be seen at them: two orders of one work would be one too many.
pub fn lists(circuit: &Circuit, guide: &Guide, words: &Words) -> Vec<CheckList> {
    let order = WorkOrder::of(guide, circuit);
    let job = Job { circuit, guide, words, order: order.as_ref(), devices: touched(guide, circuit, order.as_ref()) };
    vec![job.before(), order.as_ref().map_or_else(|| job.power(), |order| job.power_by_steps(order)), job.later()]
}

/// What the lists look at.
struct Job<'a> {
    circuit: &'a Circuit,
    guide: &'a Guide,
    words: &'a Words,
    order: Option<&'a WorkOrder>,
    /// Fuses and breakers that the job fits or opens.
    devices: Vec<PartId>,
}

impl Job<'_> {
    fn shown(&self, part: PartId) -> String {
        let part = self.circuit.part(part);
        name(&part.label, &part.name)
    }

    fn named(&self, parts: &[PartId]) -> String {
        parts.iter().map(|part| self.shown(*part)).collect::<Vec<_>>().join(", ")
    }

    fn rating(&self, device: PartId) -> (bool, String) {
        match &self.circuit.part(device).kind {
            Kind::Protector(device) => (device.is_fuse, device.rating.show()),
            _ => (false, String::new()),
        }
    }

    fn run(&self, run: RunId) -> String {
        format!("{} {}", lists::run_mark(run), name("", &self.circuit.run(run).name))
    }

    /// Everything that is bolted to a battery's minus post, by mark and name.
    fn returns(&self, battery: &Battery) -> String {
        let all: Vec<String> = self.circuit.runs_at(battery.negative).map(|run| self.run(run)).collect();
        all.join(", ")
    }

    /// Whether there is an engine that must stand still before a hand goes near it.
    fn has_engine(&self) -> bool {
        let turns = |part: &Part| matches!(part.kind, Kind::Alternator(_) | Kind::Starter(_) | Kind::Engine(_));
        // A boat's engine hangs at its stern; a car's turns belts beside the joints.
        let has_own =
            self.guide.vehicle.drive.value != Drive::None && self.guide.vehicle.kind.value != VehicleKind::Boat;
        has_own || self.circuit.parts.iter().any(turns)
    }

    fn before(&self) -> CheckList {
        let mut before = List::new("before", self.words);
        before.item("before_clean", &[], &[]);
        if !self.devices.is_empty() {
            let text = if self.order.is_some() { "before_by_steps" } else { "before_open" };
            before.item(text, &[("devices", &self.named(&self.devices))], &[]);
        }
        before.item("before_ohms", &[], &[]);
        for (battery, _) in self.circuit.batteries() {
            let key = &self.circuit.part(battery).name;
            let mark: String = lists::parts(self.circuit, self.guide, self.words)
                .into_iter()
                .filter(|row| row.key == *key)
                .map(|row| row.mark)
                .collect();
            before.item("before_polarity", &[("battery", &self.shown(battery)), ("mark", &mark)], &[]);
        }
        for (battery, _) in self.circuit.batteries() {
            self.restraint(&mut before, battery);
            self.vent(&mut before, battery);
        }
        before.item("before_covers", &[], &[]);
        before.done()
    }

    fn restraint(&self, before: &mut List<'_>, battery: PartId) {
        let shown = self.shown(battery);
        let Some(mass) = self.circuit.part(battery).mass else {
            before.item("before_restraint_unknown", &[("battery", &shown)], &[]);
            return;
        };
        let (pull, movement) = if self.guide.vehicle.kind.value == VehicleKind::Boat {
            (restraint::small_craft_pull(mass), restraint::small_craft_movement())
        } else {
            // A boat's rule stops at half the weight of a lorry's pair.
            let (boat, own) = (restraint::boat_pull(mass), restraint::own_weight_pull(mass));
            (if own.value > boat.value { own } else { boat }, restraint::boat_movement())
        };
        let kilograms = Mass::kilograms((pull.value.in_newtons() / restraint::G).ceil());
        before.item(
            "before_restraint",
            &[("battery", &shown), ("pull", &kilograms.show_both()), ("movement", &movement.value.show_both())],
            &[pull.source],
        );
    }

    fn vent(&self, before: &mut List<'_>, battery: PartId) {
        let Some(written) = self.guide.parts.get(&self.circuit.part(battery).name) else { return };
        let PartKind::Battery(own) = &written.kind else { return };
        let Some(vent) = own.housing.as_ref().and_then(|housing| housing.vent.as_ref()) else { return };
        let text = match vent.kind.value {
            // What is on a battery holds acid: nobody puts a mouth to it, and a tube that stays on is only looked at.
            VentKind::PortTube if written.existing => "before_vent_stays",
            VentKind::PortTube => "before_vent_tube",
            VentKind::BoxOpenings => "before_vent_openings",
            VentKind::OpenAir => return,
        };
        before.item(text, &[("battery", &self.shown(battery))], &[]);
    }

    /// What must be seen at the author's own steps.
    fn power_by_steps(&self, order: &WorkOrder) -> CheckList {
        let mut power = List::new("power", self.words);
        let (first, last) = (order.first_power.to_string(), order.on.to_string());
        power.list.lead = self.words.fill("power_by_steps", &[("first", &first), ("last", &last)]);
        for (battery, facts) in self.circuit.batteries() {
            power.item("power_returns", &[("battery", &self.shown(battery)), ("returns", &self.returns(facts))], &[]);
        }
        for device in &self.devices {
            let (is_fuse, rating) = self.rating(*device);
            let text = if is_fuse { "power_rating" } else { "power_rating_breaker" };
            power.item(text, &[("device", &self.shown(*device)), ("rating", &rating)], &[]);
        }
        power.item("power_lamp_means", &[("system", &self.circuit.nominal.show())], &[]);
        power.item("power_tick", &[], &[]);
        power.done()
    }

    /// An order, for a guide whose steps give none.
    fn power(&self) -> CheckList {
        let mut power = List::new("power", self.words);
        power.item("power_positive", &[], &[]);
        let system = self.circuit.nominal.show();
        let mut fitted = Vec::new();
        for (battery, facts) in self.circuit.batteries() {
            let (shown, returns) = (self.shown(battery), self.returns(facts));
            let main = main_devices(self.circuit, facts)
                .into_iter()
                .filter(|device| self.devices.contains(device) && !fitted.contains(device))
                .max_by(|a, b| self.amperes(*a).total_cmp(&self.amperes(*b)));
            let with = |device: &str, rating: &str, text: &str, power: &mut List<'_>| {
                let with = [
                    ("battery", shown.as_str()),
                    ("returns", returns.as_str()),
                    ("device", device),
                    ("rating", rating),
                    ("system", system.as_str()),
                ];
                power.item(text, &with, &[]);
            };
            match main {
                Some(main) => {
                    let (is_fuse, rating) = self.rating(main);
                    let device = self.shown(main);
                    with(&device, &rating, if is_fuse { "power_lamp" } else { "power_lamp_breaker" }, &mut power);
                    self.isolators(&mut power);
                    with(&device, &rating, "power_lamp_means", &mut power);
                    with(&device, &rating, if is_fuse { "power_fuse" } else { "power_breaker" }, &mut power);
                    fitted.push(main);
                }
                None => {
                    with("", "", "power_lamp_bare", &mut power);
                    self.isolators(&mut power);
                    with("", "", "power_lamp_means", &mut power);
                    with("", "", "power_return", &mut power);
                }
            }
        }
        let returns: Vec<String> = self.circuit.batteries().map(|(_, facts)| self.returns(facts)).collect();
        for device in self.devices.iter().filter(|device| !fitted.contains(device)) {
            let (is_fuse, rating) = self.rating(*device);
            let text = if is_fuse { "power_small" } else { "power_small_breaker" };
            let with = [("device", self.shown(*device)), ("rating", rating), ("returns", returns.join(", "))];
            power.item(text, &with.each_ref().map(|(key, value)| (*key, value.as_str())), &[]);
        }
        power.item("power_tick", &[], &[]);
        power.done()
    }

    fn amperes(&self, device: PartId) -> f64 {
        match &self.circuit.part(device).kind {
            Kind::Protector(device) => device.rating.in_amps(),
            _ => 0.0,
        }
    }

    fn isolators(&self, power: &mut List<'_>) {
        let by_hand = |part: &Part| matches!(&part.kind, Kind::Switch(switch) if switch.kind != SwitchKind::Relay);
        let all: Vec<PartId> =
            (0..self.circuit.parts.len()).map(PartId).filter(|id| by_hand(self.circuit.part(*id))).collect();
        if !all.is_empty() {
            power.item("power_isolators", &[("devices", &self.named(&all))], &[]);
        }
    }

    fn later(&self) -> CheckList {
        let mut later = List::new("later", self.words);
        let ten = Duration::minutes(10.0);
        for state in self.circuit.states.iter().filter(|state| !state.cranks()) {
            let title = lists::sentence(&name(&state.label, &state.name));
            match state.lasts.filter(|lasts| *lasts < ten) {
                Some(lasts) => {
                    let rest = state
                        .every
                        .map_or_else(String::new, |every| self.words.fill("later_rest", &[("every", &every.show())]));
                    later.item("later_short", &[("state", &title), ("time", &lasts.show()), ("rest", &rest)], &[]);
                }
                None => later.item("later_state", &[("state", &title)], &[]),
            }
        }
        later.item(if self.has_engine() { "later_stop_engine" } else { "later_stop" }, &[], &[]);
        for (i, run) in self.circuit.runs.iter().enumerate() {
            if run.polarity == Polarity::Loose {
                continue;
            }
            let [from, to] = lists::ends_of(self.circuit, RunId(i));
            // Most cables pass through nothing: only those that do say so.
            let text = if 1 < run.laid.len() { "later_feel_through" } else { "later_feel" };
            later.item(
                text,
                &[
                    ("mark", &lists::run_mark(RunId(i))),
                    ("run", &name("", &run.name)),
                    ("from", &self.shown(from)),
                    ("to", &self.shown(to)),
                ],
                &[],
            );
        }
        later.item(if self.has_engine() { "later_tighten_engine" } else { "later_tighten" }, &[], &[]);
        later.done()
    }
}

/// Fuses and breakers that are joined to a battery's plus post by cables alone.
fn main_devices(circuit: &Circuit, battery: &Battery) -> Vec<PartId> {
    let cables = circuit.joined(|_| false);
    let at_post = |node: NodeId| cables.equiv(battery.positive.0, node.0);
    let is_main = |device: &Protector| at_post(device.line) || at_post(device.load);
    circuit.protectors().filter(|(_, device)| is_main(device)).map(|(id, _)| id).collect()
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::testing::{VAN, changed, studied};
    use crate::site::theme::Theme;

    fn list(text: &str, at: usize) -> (String, Vec<String>) {
        let studied = studied(text);
        let (words, _) = Theme::built_in().words("en");
        let list = lists(&studied.circuit, &studied.guide, &words).remove(at);
        (list.lead, list.items.into_iter().map(|item| item.text).collect())
    }

    fn with_steps(steps: &str) -> String {
        let head = VAN.find("\n1. ").map(|i| &VAN[..i]).unwrap();
        format!("{head}\n{steps}")
    }

    #[test]
    fn the_authors_order_of_first_power_is_the_only_one() {
        // The van's step 8 puts the return on: the list names that step and gives no order of its own.
        let (lead, items) = list(VAN, 1);
        assert!(lead.starts_with("Steps 8 to 8 "), "{lead}");
        let all = items.join("\n");
        assert!(all.contains("Main return") && all.contains("Load bond"), "every return is named: {all}");
        assert!(all.contains("100 A, no other"), "{all}");
        assert!(!all.contains("fit Panel fuse") && !all.contains("Then put its return side on"), "{all}");
    }

    #[test]
    fn a_guide_without_an_order_gets_one_in_which_no_fuse_goes_in_while_the_return_is_on() {
        let (lead, items) = list(&with_steps("1. Go fishing.\n"), 1);
        assert!(!lead.contains("Steps"), "{lead}");
        let at = |what: &str| {
            items.iter().position(|item| item.contains(what)).unwrap_or_else(|| panic!("{what}: {items:#?}"))
        };
        // The lamp stands in for the main device, never beyond it, or all beyond would stay dark, shorted or not.
        let lamp = at("across the two studs of Breaker");
        assert!(items[lamp].contains("Main return") && items[lamp].contains("Load bond"), "every return is named");
        let fuse = at("hold the lamp across its empty holder");
        assert!(lamp < at("Bright: a short") && at("Bright: a short") < fuse);
        let (off, fit) = (items[fuse].find("return side off").unwrap(), items[fuse].find("fit it").unwrap());
        assert!(off < fit && items[fuse].contains("100 A"), "{}", items[fuse]);
    }

    #[test]
    fn no_state_runs_longer_than_its_own_time() {
        let short = changed(
            VAN,
            &[("engine-off: {panel: 12 A, for: 2 h}", "engine-off: {panel: 12 A, for: 60 s, every: 10 min}")],
        );
        let (_, items) = list(&short, 2);
        let state = items.iter().find(|item| item.starts_with("Engine off")).unwrap();
        assert!(state.contains("60 s at most") && !state.contains("ten minutes"), "{state}");
        assert!(!items.iter().any(|item| item.starts_with("Starting")), "nobody cranks for ten minutes");
        let at = |what: &str| items.iter().position(|item| item.contains(what)).unwrap();
        assert!(at("engine stopped") < at(" end, "), "the engine stands still before a hand goes near it");
        let last = items.last().unwrap();
        assert!(last.find("all off the minus post").unwrap() < last.find("Tighten").unwrap(), "{last}");
    }

    #[test]
    fn nobody_blows_into_a_tube_that_is_on_a_battery() {
        let (_, new) = list(VAN, 0);
        assert!(new.iter().any(|item| item.contains("never by mouth")), "{new:#?}");
        let there = changed(VAN, &[("  battery:\n    is: battery", "  battery:\n    existing: true\n    is: battery")]);
        let (_, old) = list(&there, 0);
        assert!(old.iter().any(|item| item.contains("leave its vent tube on")), "{old:#?}");
    }
}
