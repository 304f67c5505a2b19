//! Circuits made up by dice, for the drawings' tests and benchmarks: shaped like what people fit, with
//! names of every length, and no electrical sense beyond that.

use super::place::Dice;
use crate::circuit::{
    Alternator, Battery, BodySegment, Bolt, Charger, Circuit, Kind, Load, LoadKind, Node, NodeId, Part, PartId,
    Polarity, Protector, Run, Starter, Stud, Switch, SwitchKind, Zone, ZoneId,
};
use crate::guide::{
    AlternatorControl, BodyMaterial, ChargerKind, Chemistry, Covering, Drive, Guide, Insulation, LoadNature, Metal,
    Vehicle, VehicleKind,
};
use crate::quantity::{
    CableSize, Charge, Current, Duration, Length, Power, Ratio, Resistance, Temperature, Thread, Voltage,
};
use crate::source::{Placed, SourceFile, Span};

/// A guide with a title and nothing to draw: what a sheet says around the drawing.
pub fn guide(title: &str) -> Guide {
    let text = format!(
        "---\ntitle: \"{title}\"\nsummary: Made up by dice to try the drawings.\nwritten: 2026-10-03\nby: A test\n\
         vehicle: {{kind: van, body: steel, drive: petrol}}\nsystem: 12 V\nzones:\n  a: {{label: A}}\nparts:\n  \
         battery: {{is: battery, in: a, chemistry: agm, capacity: 60 Ah}}\n  \
         lamp: {{is: load, in: a}}\nruns:\n  feed: {{from: battery+, to: lamp+, size: 6 mm², length: 1 m}}\nstates:\n  \
         on-now: {{lamp: 5 A}}\n---\n"
    );
    let (guide, findings) = crate::guide::read(SourceFile::new("sample/guide.md", text), "sample");
    match guide {
        Some(guide) => guide,
        None => unreachable!("the sample guide can be read: {findings:?}"),
    }
}

const NAMES: [&str; 24] = [
    "Main",
    "Lights",
    "Fridge",
    "Water pump",
    "Rear work lamps",
    "Amplifier under the seat",
    "Winch control box",
    "Radio",
    "Heater",
    "Air compressor",
    "Spare",
    "Trolling motor plug",
    "Accumulatorenüberwachungseinheit",
    "Tail lift",
    "USB sockets by the bed",
    "Fan",
    "Bilge pump, automatic, port side",
    "Cab feed",
    "House",
    "Horn",
    "Nav lamps",
    "Aft",
    "Sidelight and number plate lamps",
    "Dash",
];
const ZONES: [&str; 6] =
    ["Engine bay", "Cab", "Behind the bulkhead", "Load area", "Under the floor", "Rear step and tow bar"];
const SIZES: [f64; 8] = [1.5, 2.5, 6.0, 10.0, 16.0, 35.0, 50.0, 95.0];

struct Maker<'a> {
    circuit: Circuit,
    dice: &'a mut Dice,
}

impl Maker<'_> {
    fn node(&mut self, name: String, part: usize, zone: usize, polarity: Polarity) -> NodeId {
        self.circuit.nodes.push(Node { name, part: PartId(part), zone: ZoneId(zone), polarity });
        NodeId(self.circuit.nodes.len() - 1)
    }

    fn part(
        &mut self,
        zone: usize,
        stem: &str,
        terminals: &[(&str, Polarity)],
        kind: impl FnOnce(&[NodeId]) -> Kind,
    ) -> Vec<NodeId> {
        let index = self.circuit.parts.len();
        let name = format!("{stem}-{index}");
        let label = format!("{} {stem}", NAMES[self.dice.below(NAMES.len())]);
        let nodes: Vec<NodeId> =
            terminals.iter().map(|(t, polarity)| self.node(format!("{name}{t}"), index, zone, *polarity)).collect();
        self.circuit.parts.push(Part {
            name,
            label,
            zone: Some(ZoneId(zone)),
            kind: kind(&nodes),
            bolted_to: None,
            covers: None,
            stud: Some(Thread(8.0)),
            mass: None,
            from_vent: None,
        });
        nodes
    }

    fn run(&mut self, from: NodeId, to: NodeId, polarity: Polarity) {
        let size = SIZES[self.dice.below(SIZES.len())];
        let length = Length::metres((1 + self.dice.below(120)) as f64 / 20.0);
        let name = format!("run-{}", self.circuit.runs.len() + 1);
        let zone = self.circuit.nodes[from.0].zone;
        let strap = polarity == Polarity::Negative && self.dice.below(6) == 0;
        self.circuit.runs.push(Run {
            name,
            from,
            to,
            size: if self.dice.below(4) == 0 { CableSize::Awg(4) } else { CableSize::Metric(size) },
            section: CableSize::Metric(size).section(),
            metal: Metal::Copper,
            insulation: Insulation::Xlpe,
            rated: Temperature::celsius(105.0),
            strap,
            length,
            laid: vec![(zone, length)],
            covering: Covering::Conduit,
            edge_guards: None,
            supports: None,
            bundled_with: Vec::new(),
            r20: Resistance::milliohms(1.0),
            measured: None,
            joint: None,
            iz30: None,
            iz: None,
            hottest: zone,
            polarity,
        });
    }

    fn protector(&mut self, zone: usize) -> Vec<NodeId> {
        let is_fuse = self.dice.below(3) > 0;
        let rating = Current::amps([10.0, 30.0, 80.0, 150.0][self.dice.below(4)]);
        self.part(
            zone,
            if is_fuse { "fuse" } else { "breaker" },
            &[(".line", Polarity::Positive), (".load", Polarity::Positive)],
            |n| {
                Kind::Protector(Protector {
                    is_fuse,
                    line: n[0],
                    load: n[1],
                    rating,
                    volts: None,
                    breaks: None,
                    opens: Vec::new(),
                    form: None,
                    resets_itself: false,
                    resistance: Resistance::milliohms(1.0),
                })
            },
        )
    }

    fn switch(&mut self, zone: usize) -> Vec<NodeId> {
        let (kind, stem) =
            [(SwitchKind::Isolator, "isolator"), (SwitchKind::Relay, "relay"), (SwitchKind::Connector, "connector")]
                [self.dice.below(3)];
        self.part(zone, stem, &[(".line", Polarity::Positive), (".load", Polarity::Positive)], |n| {
            Kind::Switch(Switch {
                kind,
                line: n[0],
                load: n[1],
                rating: Some(Current::amps(100.0)),
                volts: None,
                resistance: Resistance::milliohms(1.0),
                reachable: true,
            })
        })
    }

    fn stud(&mut self, zone: usize, polarity: Polarity) -> NodeId {
        let is_busbar = self.dice.below(2) == 0;
        self.part(zone, if is_busbar { "bar" } else { "post" }, &[("", polarity)], |n| {
            Kind::Stud(Stud { node: n[0], is_busbar, rating: None, section: None })
        })[0]
    }

    fn load(&mut self, zone: usize) -> Vec<NodeId> {
        let (kind, stem) = [
            (LoadKind::Load, "load"),
            (LoadKind::Load, "load"),
            (LoadKind::Panel, "panel"),
            (LoadKind::Winch, "winch"),
            (LoadKind::Inverter, "inverter"),
        ][self.dice.below(5)];
        self.part(zone, stem, &[("+", Polarity::Positive), ("-", Polarity::Negative)], |n| {
            Kind::Load(Load {
                kind,
                positive: n[0],
                negative: n[1],
                nature: LoadNature::Current,
                rating: Some(Current::amps(20.0)),
                power: (kind == LoadKind::Inverter).then(|| Power::watts(1500.0)),
                inrush: None,
                needs_steady: false,
                can_overload: false,
                intermittent: false,
                mains: false,
            })
        })
    }
}

/// A circuit of `parts` parts (2 to 40, the body counted) in `zones` zones (1 to 6). The same seed gives the same circuit.
pub fn circuit(seed: u64, parts: usize, zones: usize) -> Circuit {
    let mut dice = Dice::new(seed.wrapping_mul(0x5851_f42d_4c95_7f2d) ^ 0x1405_7b7e_f767_814f);
    let zones = zones.clamp(1, 6);
    let at = Span::default();
    let steel = dice.below(4) > 0 && parts > 3;
    let circuit = Circuit {
        nominal: Voltage::volts(12.0),
        coldest: None,
        vehicle: Vehicle {
            at,
            kind: Placed::new(VehicleKind::Van, at),
            body: Placed::new(if steel { BodyMaterial::Steel } else { BodyMaterial::Composite }, at),
            drive: Placed::new(Drive::Diesel, at),
        },
        zones: (0..zones)
            .map(|z| Zone {
                name: format!("z{z}"),
                label: ZONES[z].to_owned(),
                ambient: Temperature::celsius(40.0),
                engine_space: z == 0,
                occupied: false,
                holds_fuel: false,
                holds_gas: false,
            })
            .collect(),
        nodes: Vec::new(),
        parts: Vec::new(),
        runs: Vec::new(),
        bolts: Vec::new(),
        body: Vec::new(),
        states: Vec::new(),
        assumptions: Vec::new(),
    };
    let mut maker = Maker { circuit, dice: &mut dice };
    let home = maker.dice.below(zones);
    let battery = maker.part(home, "battery", &[("+", Polarity::Positive), ("-", Polarity::Negative)], |n| {
        Kind::Battery(Battery {
            positive: n[0],
            negative: n[1],
            chemistry: Chemistry::Agm,
            capacity: Charge::amp_hours(80.0),
            units: 1.0,
            cold_cranking: None,
            internal: None,
            short_circuit: None,
            discharge_continuous: None,
            discharge_peak: None,
            charge_max: None,
            cold_charge_cutoff: None,
        })
    });
    // Where feeds may be taken from, and where returns may go.
    let mut feeds = vec![battery[0]];
    let mut returns = vec![battery[1]];
    let mut body = Vec::new();
    if steel {
        let index = maker.circuit.parts.len();
        for z in 0..zones {
            body.push(maker.node(format!("body@z{z}"), index, z, Polarity::Negative));
        }
        maker.circuit.parts.push(Part {
            name: "body".into(),
            label: "Body".into(),
            zone: None,
            kind: Kind::Body(body.clone()),
            bolted_to: None,
            covers: None,
            stud: None,
            mass: None,
            from_vent: None,
        });
        for z in 1..zones {
            maker.circuit.body.push(BodySegment {
                from: body[z - 1],
                to: body[z],
                resistance: None,
                share: 1.0 / (zones - 1) as f64,
            });
        }
        maker.run(battery[1], body[home], Polarity::Negative);
    }
    let mut engine = None;
    if parts > 4 && maker.dice.below(3) > 0 {
        let node = maker.part(0, "engine", &[("", Polarity::Negative)], |n| Kind::Engine(n[0]))[0];
        engine = Some(node);
        maker.run(battery[1], node, Polarity::Negative);
        if steel {
            maker.run(node, body[0], Polarity::Negative);
        }
        returns.push(node);
    }
    while maker.circuit.parts.len() < parts {
        let zone = if maker.dice.below(2) == 0 { home } else { maker.dice.below(zones) };
        let left = parts - maker.circuit.parts.len();
        let from = feeds[maker.dice.below(feeds.len())];
        match maker.dice.below(12) {
            0..=2 if left > 1 => {
                let n = maker.protector(zone);
                maker.run(from, n[0], Polarity::Positive);
                feeds.push(n[1]);
            }
            3 if left > 1 => {
                let n = maker.switch(zone);
                maker.run(from, n[0], Polarity::Positive);
                feeds.push(n[1]);
            }
            4 if left > 1 => {
                let n = maker.stud(zone, Polarity::Positive);
                maker.run(from, n, Polarity::Positive);
                feeds.extend([n, n, n]);
            }
            5 if left > 2 => {
                let n = maker.stud(zone, Polarity::Negative);
                let to = returns[maker.dice.below(returns.len())];
                maker.run(n, to, Polarity::Negative);
                returns.extend([n, n, n]);
            }
            6 if engine.is_some() => {
                let engine = engine.unwrap_or(NodeId(0));
                let starter = maker.dice.below(2) == 0;
                let stem = if starter { "starter" } else { "alternator" };
                let n = maker.part(0, stem, &[("", Polarity::Positive), (".case", Polarity::Negative)], |n| {
                    if starter {
                        Kind::Starter(Starter {
                            positive: n[0],
                            negative: n[1],
                            cranking: (Current::amps(150.0), Duration::seconds(10.0)),
                            inrush: None,
                        })
                    } else {
                        Kind::Alternator(Alternator {
                            positive: n[0],
                            negative: n[1],
                            output: Current::amps(90.0),
                            set_point: Voltage::volts(14.4),
                            control: AlternatorControl::Regulator,
                            self_limiting: true,
                        })
                    }
                });
                maker.run(from, n[0], Polarity::Positive);
                let part = PartId(maker.circuit.parts.len() - 1);
                maker.circuit.bolts.push(Bolt { part, from: n[1], to: engine, resistance: None });
            }
            7 => {
                let kind = [ChargerKind::DcDc, ChargerKind::Solar, ChargerKind::Mains][maker.dice.below(3)];
                let terminals: &[(&str, Polarity)] = if kind == ChargerKind::DcDc {
                    &[
                        (".in+", Polarity::Positive),
                        (".in-", Polarity::Negative),
                        (".out+", Polarity::Positive),
                        (".out-", Polarity::Negative),
                    ]
                } else {
                    &[("+", Polarity::Positive), ("-", Polarity::Negative)]
                };
                let n = maker.part(zone, "charger", terminals, |n| {
                    Kind::Charger(Charger {
                        kind,
                        input: (n.len() == 4).then(|| (n[0], n[1])),
                        output: if n.len() == 4 { (n[2], n[3]) } else { (n[0], n[1]) },
                        limit: Current::amps(30.0),
                        set_point: Voltage::volts(14.4),
                        efficiency: Ratio::of(0.85),
                    })
                });
                for (k, node) in n.iter().enumerate() {
                    if k % 2 == 0 {
                        let from = feeds[maker.dice.below(feeds.len())];
                        maker.run(from, *node, Polarity::Positive);
                    } else {
                        let to = returns[maker.dice.below(returns.len())];
                        maker.run(*node, to, Polarity::Negative);
                    }
                }
            }
            _ => {
                let n = maker.load(zone);
                maker.run(from, n[0], Polarity::Positive);
                if steel && maker.dice.below(2) == 0 {
                    let part = PartId(maker.circuit.parts.len() - 1);
                    maker.circuit.bolts.push(Bolt { part, from: n[1], to: body[zone], resistance: None });
                } else if steel && maker.dice.below(3) == 0 {
                    maker.run(n[1], body[zone], Polarity::Negative);
                } else {
                    let to = returns[maker.dice.below(returns.len())];
                    maker.run(n[1], to, Polarity::Negative);
                }
            }
        }
    }
    maker.circuit
}

/// The circuits of the geometry test: 300, of 2 to 40 parts in 1 to 6 zones.
pub fn all() -> impl Iterator<Item = (u64, usize, usize)> {
    (0..300).map(|seed| (seed, 2 + (seed as usize * 7) % 39, 1 + (seed as usize * 5 + seed as usize / 39) % 6))
}
