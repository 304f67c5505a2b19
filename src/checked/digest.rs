//! The digest of a guide: by it a reviewer's sign-off is tied to the numbers it was given for.
//!
//! SHA-256 over the guide's inputs in SI with defaults taken, and over the versions of the
//! catalogue of rules and of the handbook. Words for people are left out, and so is everything
//! solved or looked up: the first change no number, and the second follow from the inputs and the
//! versions. Twelve significant digits are kept, so that 16 ft and 4.8768 m are one length.
//!
//! Every structure is taken apart field by field: a new field does not compile until somebody has
//! said here whether it is an input.

use std::fmt::Write as _;

use sha2::{Digest as _, Sha256};

use crate::circuit::{self, Activity, Circuit, Kind, LoadKind, NodeId, SwitchKind};
use crate::finding::{Finding, Place, Severity};
use crate::guide::publisher::Publisher;
use crate::guide::{self, Guide, PartKind, Standing, VentTo};
use crate::quantity::{
    Area, CableSize, Charge, ColdCranking, CrankingScale, Current, Duration, Length, Mass, Power, Ratio, Resistance,
    Temperature, Thread, Voltage,
};
use crate::source::Placed;
use crate::{handbook, rules};

/// A record may give the digest's first characters only; fewer than this say too little.
pub const SHORTEST: usize = 12;

/// The digest of a guide's inputs, in 64 hexadecimal digits.
pub fn of(guide: &Guide, circuit: &Circuit) -> String {
    let mut hex = String::with_capacity(64);
    for byte in Sha256::digest(canonical(guide, circuit).as_bytes()) {
        let _ = write!(hex, "{byte:02x}");
    }
    hex
}

/// What is wrong with the guide's sign-off: given for other numbers, or by somebody who may not sign.
pub fn sign_off(guide: &Guide, digest: &str, publisher: &Publisher) -> Vec<Finding> {
    let Some(record) = guide.record.as_ref().filter(|_| guide.standing == Standing::Published) else {
        return Vec::new();
    };
    let by = &record.by.value;
    let query = |rule, at, message, advice: Vec<String>| Finding {
        rule,
        severity: Severity::Query,
        place: Place { file: guide.file.path.clone(), span: at },
        subject: String::new(),
        message,
        value: None,
        limit: None,
        advice,
        sources: Vec::new(),
        answer: None,
    };
    let take_out = "Or take the record out, and the page will say that nobody has signed.".to_owned();
    let mut found = Vec::new();
    if !super::answers::may_answer(publisher, by) {
        let message = format!("{by} signed the guide off, and is not among the reviewers that publisher.yaml names");
        let advice = format!("Have it signed by one of them: {}.", publisher.reviewers.join(", "));
        found.push(query("signed-by-no-reviewer", record.by.at, message, vec![advice, take_out.clone()]));
    }
    let signed = record.digest.value.trim().to_ascii_lowercase();
    if signed.len() < SHORTEST || !digest.starts_with(&signed) {
        let message = format!(
            "the numbers changed since {by} signed them on {}: the digest signed begins {}, and now it begins {}",
            record.dated.value,
            signed.chars().take(SHORTEST).collect::<String>(),
            digest.chars().take(SHORTEST).collect::<String>(),
        );
        let advice =
            format!("Ask {by} to go through the numbers again, then write the new date and `digest: \"{digest}\"`.");
        found.push(query("signed-for-other-numbers", record.digest.at, message, vec![advice, take_out]));
    }
    found
}

/// The text under the digest: one input a line. For people who want to see what changed.
pub fn canonical(guide: &Guide, circuit: &Circuit) -> String {
    let mut text = Text::default();
    text.line("rules", "version", &rules::VERSION);
    text.line("handbook", "version", &handbook::VERSION);
    write_circuit(&mut text, circuit);
    for (name, part) in &guide.parts {
        write_workmanship(&mut text, name, part);
    }
    for (name, run) in &guide.runs {
        let whose = format!("run {name}");
        text.maybe(&whose, "section", &run.section);
        text.maybe(&whose, "bend", &run.bend);
        text.maybe(&whose, "outside-diameter", &run.outside_diameter);
        if let Some(guide::Lugs { fixing, size, from_hole, to_hole }) = &run.lugs {
            text.maybe(&whose, "lugs fixing", fixing);
            text.maybe(&whose, "lugs size", size);
            text.maybe(&whose, "lugs from-hole", from_hole);
            text.maybe(&whose, "lugs to-hole", to_hole);
        }
    }
    for guide::EnduranceClaim { at: _, state, lasts } in &guide.claims {
        text.line(&format!("claim {}", state.value), "lasts", &lasts.value);
    }
    text.0
}

fn write_circuit(text: &mut Text, circuit: &Circuit) {
    let Circuit { nominal, coldest, vehicle, zones, nodes: _, parts, runs, bolts, body, states, assumptions: _ } =
        circuit;
    let node = |id: NodeId| circuit.node(id).name.as_str();
    text.line("system", "volts", nominal);
    text.line("system", "coldest", coldest);
    text.line("vehicle", "kind", &vehicle.kind.value);
    text.line("vehicle", "body", &vehicle.body.value);
    text.line("vehicle", "drive", &vehicle.drive.value);
    for zone in zones {
        let circuit::Zone { name, label: _, ambient, engine_space, occupied, holds_fuel, holds_gas } = zone;
        let whose = format!("zone {name}");
        text.line(&whose, "ambient", ambient);
        text.line(&whose, "engine-space", engine_space);
        text.line(&whose, "occupied", occupied);
        text.line(&whose, "holds-fuel", holds_fuel);
        text.line(&whose, "holds-gas", holds_gas);
    }
    for part in parts {
        let circuit::Part { name, label: _, zone, kind, bolted_to, covers, stud, mass, from_vent } = part;
        let whose = format!("part {name}");
        text.line(&whose, "zone", &zone.map(|z| circuit.zone(z).name.as_str()));
        text.line(&whose, "bolted-to", &bolted_to.map(node));
        text.line(&whose, "covers", covers);
        text.line(&whose, "stud", stud);
        text.line(&whose, "mass", mass);
        text.line(&whose, "from-vent", from_vent);
        write_kind(text, &whose, kind);
    }
    for run in runs {
        let circuit::Run {
            name,
            from,
            to,
            size,
            section: _,
            metal,
            insulation,
            rated,
            strap,
            length,
            laid,
            covering,
            edge_guards,
            supports,
            bundled_with,
            r20: _,
            measured,
            joint,
            iz30: _,
            iz: _,
            hottest: _,
            polarity: _,
        } = run;
        let whose = format!("run {name}");
        text.line(&whose, "from", &node(*from));
        text.line(&whose, "to", &node(*to));
        text.line(&whose, "size", size);
        text.line(&whose, "metal", metal);
        text.line(&whose, "insulation", insulation);
        text.line(&whose, "rated", rated);
        text.line(&whose, "strap", strap);
        text.line(&whose, "length", length);
        for (zone, length) in laid {
            text.line(&whose, &format!("laid {}", circuit.zone(*zone).name), length);
        }
        text.line(&whose, "covering", covering);
        text.line(&whose, "edge-guards", edge_guards);
        text.line(&whose, "supports", supports);
        for other in bundled_with {
            text.line(&whose, "bundled-with", &circuit.run(*other).name.as_str());
        }
        text.line(&whose, "measured", measured);
        text.line(&whose, "joint", joint);
    }
    for circuit::Bolt { part: _, from, to, resistance } in bolts {
        text.line(&format!("bolt {}", node(*from)), node(*to), resistance);
    }
    for circuit::BodySegment { from, to, resistance, share } in body {
        text.line(&format!("body {}", node(*from)), node(*to), resistance);
        text.line(&format!("body {}", node(*from)), "share", &Ratio::of(*share));
    }
    for state in states {
        let circuit::State { name, label: _, lasts, every, parts: activities } = state;
        let whose = format!("state {name}");
        text.line(&whose, "for", lasts);
        text.line(&whose, "every", every);
        for (part, activity) in parts.iter().zip(activities) {
            text.line(&whose, &part.name, activity);
        }
    }
}

fn write_kind(text: &mut Text, whose: &str, kind: &Kind) {
    match kind {
        Kind::Battery(battery) => {
            let circuit::Battery {
                positive: _,
                negative: _,
                chemistry,
                capacity,
                units,
                cold_cranking,
                internal,
                short_circuit,
                discharge_continuous,
                discharge_peak,
                charge_max,
                cold_charge_cutoff,
            } = battery;
            text.line(whose, "is", &"battery");
            text.line(whose, "chemistry", chemistry);
            text.line(whose, "capacity", capacity);
            text.line(whose, "units", &Ratio::of(*units));
            text.line(whose, "cold-cranking", cold_cranking);
            text.line(whose, "internal", internal);
            text.line(whose, "short-circuit", short_circuit);
            text.line(whose, "discharge continuous", discharge_continuous);
            text.line(whose, "discharge peak", discharge_peak);
            text.line(whose, "charge max", charge_max);
            text.line(whose, "cold-charge-cutoff", cold_charge_cutoff);
        }
        Kind::Protector(device) => {
            let circuit::Protector {
                is_fuse,
                line: _,
                load: _,
                rating,
                volts,
                breaks,
                opens,
                form,
                resets_itself,
                resistance,
            } = device;
            text.line(whose, "is", if *is_fuse { &"fuse" } else { &"breaker" });
            text.line(whose, "rating", rating);
            text.line(whose, "volts", volts);
            text.line(whose, "breaks", breaks);
            for circuit::Opening { of_rating, least, most } in opens {
                text.line(whose, &format!("opens {}", of_rating.canonical()), &(*least, *most));
            }
            text.line(whose, "form", &form.as_deref());
            text.line(whose, "resets-itself", resets_itself);
            text.line(whose, "resistance", resistance);
        }
        Kind::Switch(switch) => {
            let circuit::Switch { kind, line: _, load: _, rating, volts, resistance, reachable } = switch;
            let is = match kind {
                SwitchKind::Isolator => "isolator",
                SwitchKind::Relay => "relay",
                SwitchKind::Connector => "connector",
            };
            text.line(whose, "is", &is);
            text.line(whose, "rating", rating);
            text.line(whose, "volts", volts);
            text.line(whose, "resistance", resistance);
            text.line(whose, "reachable", reachable);
        }
        Kind::Stud(circuit::Stud { node: _, is_busbar, rating, section }) => {
            text.line(whose, "is", if *is_busbar { &"busbar" } else { &"post" });
            text.line(whose, "rating", rating);
            text.line(whose, "section", section);
        }
        Kind::Load(load) => {
            let circuit::Load {
                kind,
                positive: _,
                negative: _,
                nature,
                rating,
                power,
                inrush,
                needs_steady,
                can_overload,
                intermittent,
                mains,
            } = load;
            let is = match kind {
                LoadKind::Panel => "panel",
                LoadKind::Load => "load",
                LoadKind::Winch => "winch",
                LoadKind::Inverter => "inverter",
            };
            text.line(whose, "is", &is);
            text.line(whose, "takes", nature);
            text.line(whose, "rating", rating);
            text.line(whose, "power", power);
            text.line(whose, "inrush", inrush);
            text.line(whose, "needs-steady", needs_steady);
            text.line(whose, "can-overload", can_overload);
            text.line(whose, "intermittent", intermittent);
            text.line(whose, "mains", mains);
        }
        Kind::Charger(circuit::Charger { kind, input: _, output: _, limit, set_point, efficiency }) => {
            text.line(whose, "is", &"charger");
            text.line(whose, "kind", kind);
            text.line(whose, "limit", limit);
            text.line(whose, "set-point", set_point);
            text.line(whose, "efficiency", efficiency);
        }
        Kind::Starter(circuit::Starter { positive: _, negative: _, cranking, inrush }) => {
            text.line(whose, "is", &"starter");
            text.line(whose, "cranking", cranking);
            text.line(whose, "inrush", inrush);
        }
        Kind::Alternator(alternator) => {
            let circuit::Alternator { positive: _, negative: _, output, set_point, control, self_limiting } =
                alternator;
            text.line(whose, "is", &"alternator");
            text.line(whose, "output", output);
            text.line(whose, "set-point", set_point);
            text.line(whose, "control", control);
            text.line(whose, "self-limiting", self_limiting);
        }
        Kind::Engine(_) => text.line(whose, "is", &"engine"),
        Kind::Body(_) => text.line(whose, "is", &"body"),
    }
}

/// What rules judge of a part that the circuit does not hold: how it is housed and held down.
fn write_workmanship(text: &mut Text, name: &str, part: &guide::Part) {
    let whose = format!("part {name}");
    match &part.kind {
        PartKind::Battery(battery) => {
            if let Some(guide::Housing { at: _, box_kind, vent, covers, tray }) = &battery.housing {
                text.line(&whose, "housing box", &box_kind.value);
                text.maybe(&whose, "housing covers", covers);
                text.maybe(&whose, "housing tray", tray);
                if let Some(guide::Vent { at: _, kind, to, inlet, outlet }) = vent {
                    text.line(&whose, "vent kind", &kind.value);
                    match &to.value {
                        VentTo::Outside => text.line(&whose, "vent to", &"outside"),
                        VentTo::Zone(zone) => text.line(&whose, "vent to zone", &zone.as_str()),
                    }
                    text.maybe(&whose, "vent inlet", inlet);
                    text.maybe(&whose, "vent outlet", outlet);
                }
            }
            if let Some(guide::HoldDown { at: _, kind, bolts, thread, grade, plate, into }) = &battery.hold_down {
                text.line(&whose, "hold-down kind", &kind.value);
                text.line(&whose, "hold-down bolts", &bolts.map(|b| Ratio::of(f64::from(b.value))));
                text.maybe(&whose, "hold-down thread", thread);
                text.line(&whose, "hold-down grade", &grade.map(|g| Ratio::of(g.value)));
                text.line(&whose, "hold-down plate", &plate.map(|(area, thickness)| (area.value, thickness.value)));
                text.line(&whose, "hold-down into", &into.as_ref().map(|i| i.value.as_str()));
            }
        }
        PartKind::Breaker(device) | PartKind::Fuse(device) => text.maybe(&whose, "reachable", &device.reachable),
        _ => {}
    }
}

#[derive(Default)]
struct Text(String);

impl Text {
    fn line(&mut self, whose: &str, what: &str, value: &dyn Canonical) {
        // A name cannot break a line in two: names come from keys, but nothing here relies on that.
        let whose = whose.escape_default();
        let _ = writeln!(self.0, "{whose}: {}: {}", what.escape_default(), value.canonical());
    }

    fn maybe<T: Canonical + Copy>(&mut self, whose: &str, what: &str, value: &Option<Placed<T>>) {
        self.line(whose, what, &value.map(|v| v.value));
    }
}

/// One way of writing a value, whatever the author's unit was.
trait Canonical {
    fn canonical(&self) -> String;
}

macro_rules! in_si {
    ($($name:ident),*) => { $(
        impl Canonical for $name {
            fn canonical(&self) -> String {
                // Adding nothing turns −0 into 0.
                format!("{:.11e} {}", self.si() + 0.0, $name::SYMBOL)
            }
        }
    )* };
}
in_si!(Area, Charge, Current, Duration, Length, Mass, Power, Ratio, Resistance, Temperature, Voltage);

macro_rules! by_word {
    ($($name:ident),*) => { $(
        impl Canonical for guide::$name {
            fn canonical(&self) -> String { self.word().to_owned() }
        }
    )* };
}
by_word!(
    AlternatorControl,
    BodyMaterial,
    BoxKind,
    ChargerKind,
    Chemistry,
    Covering,
    Drive,
    HoldDownKind,
    Insulation,
    LoadNature,
    LugFixing,
    Metal,
    VehicleKind,
    VentKind
);

impl Canonical for &str {
    fn canonical(&self) -> String {
        self.escape_default().to_string()
    }
}

impl Canonical for bool {
    fn canonical(&self) -> String {
        self.to_string()
    }
}

impl Canonical for CableSize {
    fn canonical(&self) -> String {
        self.to_string()
    }
}

impl Canonical for Thread {
    fn canonical(&self) -> String {
        self.to_string()
    }
}

impl Canonical for ColdCranking {
    fn canonical(&self) -> String {
        let scale = match self.scale {
            CrankingScale::Sae => "SAE",
            CrankingScale::En => "EN",
            CrankingScale::Din => "DIN",
        };
        format!("{} {scale}", self.current.canonical())
    }
}

impl Canonical for Activity {
    fn canonical(&self) -> String {
        match self {
            Activity::Idle => "idle".into(),
            Activity::Takes(current) => current.canonical(),
            Activity::Power(power) => power.canonical(),
            Activity::Running => "running".into(),
            Activity::Cranking => "cranking".into(),
            Activity::Open => "open".into(),
        }
    }
}

impl<T: Canonical> Canonical for Option<T> {
    fn canonical(&self) -> String {
        self.as_ref().map_or_else(|| "-".into(), Canonical::canonical)
    }
}

impl<A: Canonical, B: Canonical> Canonical for (A, B) {
    fn canonical(&self) -> String {
        format!("{} {}", self.0.canonical(), self.1.canonical())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_length_in_two_units_is_one_line() {
        // 1 ft is 0.3048 m by definition (international yard and pound agreement, 1959).
        assert_eq!(Length::feet(16.0).canonical(), Length::metres(4.8768).canonical());
        assert_eq!(Length::feet(1.0).canonical(), "3.04800000000e-1 m");
        assert_eq!(Temperature::fahrenheit(140.0).canonical(), Temperature::celsius(60.0).canonical());
        assert_eq!((-Current::zero()).canonical(), Current::zero().canonical());
    }

    const EXAMPLE: &str = include_str!("../../tests/guides/design-example/guide.md");

    fn digest_of(text: &str) -> String {
        let (guide, found) = guide::read(crate::source::SourceFile::new("guide.md", text), "van");
        assert!(found.is_empty(), "{found:#?}");
        let guide = guide.unwrap();
        let (circuit, found) = circuit::wire(&guide);
        assert!(found.is_empty(), "{found:#?}");
        of(&guide, &circuit.unwrap())
    }

    #[track_caller]
    fn changed(from: &str, to: &str) -> bool {
        assert!(EXAMPLE.contains(from), "the example has no {from}");
        digest_of(&EXAMPLE.replacen(from, to, 1)) != digest_of(EXAMPLE)
    }

    #[test]
    fn words_and_units_change_nothing() {
        assert!(!changed("title: Start battery", "title: A start battery"));
        assert!(!changed("label: Cab", "label: The cab"));
        assert!(!changed("\nThe start battery of a small", "\nThe other start battery of a small"));
        assert!(!changed("length: 0.35 m", "length: 350 mm"));
        assert!(!changed("ambient: 60 °C", "ambient: 140 °F"));
    }

    #[test]
    fn every_number_that_a_rule_may_judge_changes_it() {
        for (from, to) in [
            ("size: 70 mm², length: 0.35 m", "size: 50 mm², length: 0.35 m"),
            ("length: 0.35 m", "length: 0.36 m"),
            ("ambient: 60 °C", "ambient: 61 °C"),
            ("covering: sheath", "covering: conduit"),
            ("capacity: 60 Ah", "capacity: 61 Ah"),
            ("640 A EN", "640 A SAE"),
            ("mass: 18 kg", "mass: 19 kg"),
            ("kind: port-tube", "kind: open-air"),
            ("bolts: 2", "bolts: 4"),
            ("grade: 8.8", "grade: 10.9"),
            ("thickness: 3 mm", "thickness: 2 mm"),
            ("rating: 150 A", "rating: 151 A"),
            ("15 s to 90 s", "15 s to 91 s"),
            ("5.5 mΩ", "5.6 mΩ"),
            ("engine-off: {panel: 12 A", "engine-off: {panel: 13 A"),
            ("for: 2 h", "for: 3 h"),
            ("drive: petrol", "drive: diesel"),
        ] {
            assert!(changed(from, to), "{from} → {to} left the digest as it was");
        }
    }

    #[test]
    fn a_sign_off_holds_for_its_own_numbers_only() {
        let signed_before = |publisher: &Publisher, digest: &str, text: &str| {
            let record = format!("record: {{by: R. Viewer, dated: 2026-10-04, digest: \"{digest}\"}}\nvariants:");
            let text = text.replacen("variants:", &record, 1);
            let file = crate::source::SourceFile::new("guide.md", text);
            super::super::check(file, "van", publisher, jiff::civil::date(2026, 11, 25))
        };
        let signed = |digest: &str, text: &str| signed_before(&Publisher::default(), digest, text);
        let rule = "signed-for-other-numbers";
        let good = digest_of(EXAMPLE);
        for digest in [&good[..], &good[..SHORTEST], &good.to_uppercase()] {
            assert!(!signed(digest, EXAMPLE).findings.iter().any(|f| f.rule == rule), "{digest}");
        }
        for (digest, text) in [
            (&good[..], EXAMPLE.replacen("0.35 m", "0.36 m", 1)),
            (&good[..SHORTEST - 1], EXAMPLE.to_owned()),
            ("000000000000", EXAMPLE.to_owned()),
        ] {
            let checked = signed(digest, &text);
            let finding = checked.findings.iter().find(|f| f.rule == rule).unwrap();
            assert!(finding.stops() && finding.message.contains("R. Viewer"));
            assert!(finding.advice[0].contains(&checked.digest));
        }
        let strict = Publisher { reviewers: vec!["Somebody Else".into()], ..Publisher::default() };
        assert!(signed_before(&strict, &good, EXAMPLE).findings.iter().any(|f| f.rule == "signed-by-no-reviewer"));
    }

    #[test]
    fn a_name_cannot_forge_a_line() {
        let mut text = Text::default();
        text.line("run a\nrun b", "size", &"x\ny");
        assert_eq!(text.0.lines().count(), 1);
    }
}
