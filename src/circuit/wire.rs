//! Making a circuit of a guide: terminals found, sides taken, defaults filled in.
//!
//! A run that names a terminal that does not exist leaves that run out, so that the rest of the
//! guide is still looked at; the circuit is handed on only when nothing was found that would make
//! its numbers mean something else than the author wrote.

use std::collections::BTreeMap;

use petgraph::unionfind::UnionFind;

use super::*;
use crate::finding::{Finding, Place, Severity};
use crate::guide::{self, BodyMaterial, Guide, PartKind};
use crate::handbook::conductors::{self, ConductorMetal};
use crate::quantity::Show;
use crate::source::Span;

/// Faults that wiring can find, with a one-line gloss each.
pub const FAULTS: &[(&str, &str)] = &[
    ("terminal-unknown", "a run ends at a terminal that the part does not have"),
    ("terminal-unclear", "a run's end could be more than one terminal"),
    ("terminal-unconnected", "a terminal that no run, bolt or strap reaches"),
    ("part-unreachable", "a part that no current can reach"),
    ("positive-tied-to-negative", "a run joins a battery's positive to its negative"),
    ("zero-resistance-loop", "a loop with no resistance at all"),
    ("zones-do-not-adjoin", "a run is laid through zones that are not neighbours"),
    ("length-across-zones", "a run across zones says its length but not how much lies in each"),
    ("activity-unfit", "a state asks a part to do what such a part cannot"),
    ("body-not-metal", "a body path through a hull or body that does not conduct"),
    ("body-measurements-clash", "measured body resistances that contradict each other"),
    ("polarity-reversed", "a part is wired the wrong way round"),
    ("source-missing", "nothing in the circuit gives current"),
];

/// Ambient temperature taken where the author gives none (33 CFR 183.425 Table 5 is a 30 °C table
/// whose engine-space factors fit a 50 °C space).
const AMBIENT_DEFAULT_C: f64 = 30.0;
const AMBIENT_ENGINE_SPACE_DEFAULT_C: f64 = 50.0;
/// A device whose resistance is not given drops this at its rating (DIN 72581-3's greatest drop is 100 mV).
const DEVICE_DROP_V: f64 = 0.1;
/// A switch of which neither rating nor resistance is given; our judgement.
const SWITCH_DEFAULT_MOHM: f64 = 1.0;
/// Regulated voltage of an alternator or charger per 12 V, where not given.
const SET_POINT_DEFAULT_V: f64 = 14.4;
/// Output over input power of a charger, where not given; our judgement.
const EFFICIENCY_DEFAULT: f64 = 0.85;

/// The metal as the handbook knows it.
pub fn conductor_metal(metal: Metal) -> ConductorMetal {
    match metal {
        Metal::Copper => ConductorMetal::Copper,
        Metal::Aluminium => ConductorMetal::Aluminium,
        Metal::CopperClad => ConductorMetal::CopperClad,
    }
}

/// Wires a guide's parts and runs together. Gives the circuit, if one could be made, and findings.
pub fn wire(guide: &Guide) -> (Option<Circuit>, Vec<Finding>) {
    let mut wiring = Wiring::new(guide);
    wiring.zones();
    wiring.parts();
    wiring.bolts();
    wiring.body();
    wiring.runs();
    wiring.states();
    wiring.polarity();
    wiring.look_for_loops();
    wiring.look_for_loose_ends();
    let Wiring { circuit, findings, .. } = wiring;
    let broken = findings.iter().any(|f| f.severity == Severity::Unreadable);
    (if broken { None } else { Some(circuit) }, findings)
}

struct Wiring<'a> {
    guide: &'a Guide,
    circuit: Circuit,
    findings: Vec<Finding>,
    zone_ids: BTreeMap<&'a str, ZoneId>,
    part_ids: BTreeMap<&'a str, PartId>,
    /// Terminals as authors write them.
    terminals: BTreeMap<String, NodeId>,
    /// Which sides of a through-device are taken by runs that name it bare: how many so far.
    bare_uses: BTreeMap<PartId, usize>,
    /// The body's part and its nodes, one a zone.
    body_part: Option<PartId>,
    /// Runs by their place in the guide, for findings.
    run_spans: Vec<Span>,
}

impl<'a> Wiring<'a> {
    fn new(guide: &'a Guide) -> Wiring<'a> {
        Wiring {
            guide,
            circuit: Circuit {
                nominal: guide.system.value,
                coldest: guide.coldest.map(|c| c.value),
                vehicle: guide.vehicle.clone(),
                zones: Vec::new(),
                nodes: Vec::new(),
                parts: Vec::new(),
                runs: Vec::new(),
                bolts: Vec::new(),
                body: Vec::new(),
                states: Vec::new(),
                assumptions: Vec::new(),
            },
            findings: Vec::new(),
            zone_ids: BTreeMap::new(),
            part_ids: BTreeMap::new(),
            terminals: BTreeMap::new(),
            bare_uses: BTreeMap::new(),
            body_part: None,
            run_spans: Vec::new(),
        }
    }

    fn find(&mut self, rule: &'static str, at: Span, subject: &str, message: String, advice: Vec<String>) {
        debug_assert!(FAULTS.iter().any(|(id, _)| *id == rule));
        self.findings.push(Finding {
            rule,
            severity: Severity::Unreadable,
            place: Place { file: self.guide.file.path.clone(), span: at },
            subject: subject.to_string(),
            message,
            value: None,
            limit: None,
            advice,
            sources: Vec::new(),
            answer: None,
        });
    }

    fn assume(&mut self, subject: &str, what: &str, value: String, source: &'static str) {
        self.circuit.assumptions.push(Assumption {
            subject: subject.to_string(),
            what: what.to_string(),
            value,
            source,
        });
    }

    fn units(&self) -> f64 {
        self.guide.system.value / Voltage::volts(12.0)
    }

    fn zones(&mut self) {
        for (name, zone) in &self.guide.zones {
            let ambient = zone.ambient.map(|t| t.value).unwrap_or_else(|| {
                Temperature::celsius(if zone.engine_space { AMBIENT_ENGINE_SPACE_DEFAULT_C } else { AMBIENT_DEFAULT_C })
            });
            if zone.ambient.is_none() {
                self.assume(name, "ambient temperature", ambient.show_both(), "cfr33-183-425");
            }
            self.zone_ids.insert(name, ZoneId(self.circuit.zones.len()));
            self.circuit.zones.push(Zone {
                name: name.clone(),
                label: zone.label.value.clone(),
                ambient,
                engine_space: zone.engine_space,
                occupied: zone.occupied,
                holds_fuel: zone.holds.iter().any(|h| h.value == guide::Holds::Fuel),
                holds_gas: zone.holds.iter().any(|h| h.value == guide::Holds::Gas),
            });
        }
    }

    fn node(&mut self, name: String, part: PartId, zone: ZoneId) -> NodeId {
        let id = NodeId(self.circuit.nodes.len());
        self.terminals.insert(name.clone(), id);
        self.circuit.nodes.push(Node { name, part, zone, polarity: Polarity::Loose });
        id
    }

    fn parts(&mut self) {
        for (name, part) in &self.guide.parts {
            let id = PartId(self.circuit.parts.len());
            self.part_ids.insert(name, id);
            let zone = part.zone.as_ref().and_then(|z| self.zone_ids.get(z.value.as_str()).copied());
            let kind = match &part.kind {
                PartKind::Body(_) => self.body_kind(name, id, part),
                kind => {
                    // The reader has made sure that every part but the body names a zone it knows.
                    let zone = zone.unwrap_or(ZoneId(0));
                    self.part_kind(name, id, part, kind, zone)
                }
            };
            let covers = part.covers.map(|c| c.value).or_else(|| match &part.kind {
                PartKind::Battery(b) => b.housing.as_ref().and_then(|h| h.covers).map(|c| c.value),
                _ => None,
            });
            self.circuit.parts.push(Part {
                name: name.clone(),
                label: part.label.as_ref().map_or_else(|| name.replace('-', " "), |l| l.value.clone()),
                zone,
                kind,
                bolted_to: None,
                covers,
                stud: part.stud.map(|s| s.value),
                mass: part.mass.map(|m| m.value),
                from_vent: part.from_vent.map(|d| d.value),
            });
        }
    }

    fn body_kind(&mut self, name: &str, id: PartId, part: &guide::Part) -> Kind {
        self.body_part = Some(id);
        if self.guide.vehicle.body.value == BodyMaterial::Composite {
            self.find(
                "body-not-metal",
                part.at,
                name,
                format!("`{name}` is a body path, but the vehicle's body is composite and does not conduct"),
                vec!["take `body` out and give every load a return cable".into()],
            );
        }
        let zones: Vec<String> = self.circuit.zones.iter().map(|z| z.name.clone()).collect();
        Kind::Body(
            zones.iter().enumerate().map(|(i, zone)| self.node(format!("{name}@{zone}"), id, ZoneId(i))).collect(),
        )
    }

    fn pair(&mut self, name: &str, id: PartId, zone: ZoneId) -> (NodeId, NodeId) {
        (self.node(format!("{name}+"), id, zone), self.node(format!("{name}-"), id, zone))
    }

    fn sides(&mut self, name: &str, id: PartId, zone: ZoneId) -> (NodeId, NodeId) {
        (self.node(format!("{name}.line"), id, zone), self.node(format!("{name}.load"), id, zone))
    }

    fn part_kind(&mut self, name: &str, id: PartId, part: &guide::Part, kind: &PartKind, zone: ZoneId) -> Kind {
        let units = self.units();
        match kind {
            PartKind::Battery(b) => {
                let (positive, negative) = self.pair(name, id, zone);
                Kind::Battery(Battery {
                    positive,
                    negative,
                    chemistry: b.chemistry.value,
                    capacity: b.capacity.value,
                    units,
                    cold_cranking: b.cold_cranking.map(|c| c.value),
                    internal: b.internal_resistance.map(|r| r.value * units),
                    short_circuit: b.short_circuit_resistance.map(|r| r.value * units),
                    discharge_continuous: b.discharge.as_ref().map(|d| d.continuous.value),
                    discharge_peak: b.discharge.as_ref().and_then(|d| d.peak).map(|(c, t)| (c.value, t.value)),
                    charge_max: b.charge_max.map(|c| c.value),
                    cold_charge_cutoff: b.cold_charge_cutoff.map(|t| t.value),
                })
            }
            PartKind::Breaker(p) | PartKind::Fuse(p) => {
                let (line, load) = self.sides(name, id, zone);
                let resistance = p.resistance.map(|r| r.value).unwrap_or_else(|| {
                    let r = Voltage::volts(DEVICE_DROP_V) / p.rating.value;
                    self.assume(name, "resistance", format!("{} (100 mV at its rating)", r.show()), "din-72581-3");
                    r
                });
                Kind::Protector(Protector {
                    is_fuse: matches!(kind, PartKind::Fuse(_)),
                    line,
                    load,
                    rating: p.rating.value,
                    volts: p.volts.map(|v| v.value),
                    breaks: p.breaks.map(|b| b.value),
                    opens: p
                        .opens
                        .iter()
                        .map(|o| Opening { of_rating: o.of_rating, least: o.least, most: o.most })
                        .collect(),
                    form: p.form.as_ref().map(|f| f.value.clone()),
                    resets_itself: p.resets_itself.is_some_and(|r| r.value),
                    resistance,
                })
            }
            PartKind::Isolator(s) => self.switch(name, id, zone, s, SwitchKind::Isolator),
            PartKind::Relay(s) => self.switch(name, id, zone, s, SwitchKind::Relay),
            PartKind::Connector(s) => self.switch(name, id, zone, s, SwitchKind::Connector),
            PartKind::Post => Kind::Stud(Stud {
                node: self.node(name.into(), id, zone),
                is_busbar: false,
                rating: None,
                section: None,
            }),
            PartKind::Busbar(b) => Kind::Stud(Stud {
                node: self.node(name.into(), id, zone),
                is_busbar: true,
                rating: b.rating.map(|r| r.value),
                section: b.section.map(|s| s.value),
            }),
            PartKind::Panel(l) => self.load(name, id, zone, part, l, LoadKind::Panel),
            PartKind::Load(l) => self.load(name, id, zone, part, l, LoadKind::Load),
            PartKind::Winch(l) => self.load(name, id, zone, part, l, LoadKind::Winch),
            PartKind::Inverter(l) => self.load(name, id, zone, part, l, LoadKind::Inverter),
            PartKind::Charger(c) => {
                let (input, output) = match c.kind.value {
                    ChargerKind::DcDc => {
                        let in_positive = self.node(format!("{name}.in+"), id, zone);
                        let out_positive = self.node(format!("{name}.out+"), id, zone);
                        let in_negative = self.node(format!("{name}.in-"), id, zone);
                        // Bolted down, its case is the one return of both sides.
                        let out_negative = if part.bolted_to.is_some() {
                            self.terminals.insert(format!("{name}.out-"), in_negative);
                            in_negative
                        } else {
                            self.node(format!("{name}.out-"), id, zone)
                        };
                        (Some((in_positive, in_negative)), (out_positive, out_negative))
                    }
                    ChargerKind::Solar | ChargerKind::Mains => {
                        let (positive, negative) = self.pair(name, id, zone);
                        self.terminals.insert(format!("{name}.out+"), positive);
                        self.terminals.insert(format!("{name}.out-"), negative);
                        (None, (positive, negative))
                    }
                };
                let set_point = self.set_point(name, c.set_point.map(|v| v.value));
                let efficiency = c.efficiency.map(|e| e.value).unwrap_or_else(|| {
                    if input.is_some() {
                        self.assume(name, "efficiency", Ratio::of(EFFICIENCY_DEFAULT).show(), "judgement");
                    }
                    Ratio::of(EFFICIENCY_DEFAULT)
                });
                Kind::Charger(Charger {
                    kind: c.kind.value,
                    input,
                    output,
                    limit: c.output.value,
                    set_point,
                    efficiency,
                })
            }
            PartKind::Starter(s) => {
                let (positive, negative) = self.pair(name, id, zone);
                Kind::Starter(Starter {
                    positive,
                    negative,
                    cranking: (s.cranking.current.value, s.cranking.lasts.value),
                    inrush: s.inrush.map(|i| (i.current.value, i.lasts.value)),
                })
            }
            PartKind::Alternator(a) => {
                let (positive, negative) = self.pair(name, id, zone);
                let set_point = self.set_point(name, a.set_point.map(|v| v.value));
                Kind::Alternator(Alternator {
                    positive,
                    negative,
                    output: a.output.value,
                    set_point,
                    control: a.control.map_or(AlternatorControl::Regulator, |c| c.value),
                    self_limiting: a.self_limiting.is_none_or(|s| s.value),
                })
            }
            PartKind::Engine => Kind::Engine(self.node(name.into(), id, zone)),
            PartKind::Body(_) => Kind::Body(Vec::new()),
        }
    }

    fn set_point(&mut self, name: &str, given: Option<Voltage>) -> Voltage {
        given.unwrap_or_else(|| {
            let taken = Voltage::volts(SET_POINT_DEFAULT_V * self.units());
            self.assume(name, "regulated voltage", taken.show(), "alternator-regulation");
            taken
        })
    }

    fn switch(&mut self, name: &str, id: PartId, zone: ZoneId, s: &guide::Switch, kind: SwitchKind) -> Kind {
        let (line, load) = self.sides(name, id, zone);
        let resistance = s.resistance.map(|r| r.value).unwrap_or_else(|| {
            let (r, how, source) = match s.rating {
                Some(rating) => {
                    (Voltage::volts(DEVICE_DROP_V) / rating.value, " (100 mV at its rating)", "din-72581-3")
                }
                None => (Resistance::milliohms(SWITCH_DEFAULT_MOHM), "", "judgement"),
            };
            self.assume(name, "resistance", format!("{}{how}", r.show()), source);
            r
        });
        Kind::Switch(Switch {
            kind,
            line,
            load,
            rating: s.rating.map(|r| r.value),
            volts: s.volts.map(|v| v.value),
            resistance,
            reachable: s.reachable.is_some_and(|r| r.value),
        })
    }

    fn load(
        &mut self,
        name: &str,
        id: PartId,
        zone: ZoneId,
        part: &guide::Part,
        l: &guide::Load,
        kind: LoadKind,
    ) -> Kind {
        let (positive, negative) = self.pair(name, id, zone);
        if part.bolted_to.is_some() {
            self.terminals.insert(name.to_string(), positive);
        }
        let can_overload = l.can_overload.map(|c| c.value).unwrap_or(kind != LoadKind::Winch);
        Kind::Load(Load {
            kind,
            positive,
            negative,
            nature: l.nature.map_or(LoadNature::Current, |n| n.value),
            rating: l.rating.map(|r| r.value),
            power: l.power.map(|p| p.value),
            inrush: l.inrush.map(|i| (i.current.value, i.lasts.value)),
            needs_steady: l.needs_steady,
            can_overload,
            intermittent: l.intermittent || kind == LoadKind::Winch,
            mains: l.mains || kind == LoadKind::Inverter,
        })
    }

    fn bolts(&mut self) {
        for (name, part) in &self.guide.parts {
            let Some(target) = &part.bolted_to else { continue };
            let id = self.part_ids[name.as_str()];
            let own = match &self.circuit.parts[id.0].kind {
                Kind::Load(l) => l.negative,
                Kind::Starter(s) => s.negative,
                Kind::Alternator(a) => a.negative,
                Kind::Charger(c) => c.output.1,
                Kind::Engine(n) => *n,
                Kind::Stud(s) => s.node,
                // A battery or a device screwed down has no return there: nothing electrical to add.
                Kind::Battery(_) | Kind::Protector(_) | Kind::Switch(_) | Kind::Body(_) => continue,
            };
            // A part bolted to something has its return there, and its bare name is its positive.
            if let Kind::Starter(Starter { positive, .. }) | Kind::Alternator(Alternator { positive, .. }) =
                &self.circuit.parts[id.0].kind
            {
                self.terminals.insert(name.clone(), *positive);
            }
            match self.terminals.get(&target.value).copied().filter(|n| *n != own) {
                Some(to) => {
                    self.circuit.parts[id.0].bolted_to = Some(to);
                    self.circuit.bolts.push(Bolt {
                        part: id,
                        from: own,
                        to,
                        resistance: part.bolt_resistance.map(|r| r.value),
                    });
                }
                None => {
                    let (message, advice) = self.explain_terminal(&target.value);
                    self.find(
                        "terminal-unknown",
                        target.at,
                        name,
                        format!("`{name}` is bolted to `{}`: {message}", target.value),
                        advice,
                    );
                }
            }
        }
    }

    fn body(&mut self) {
        let Some(id) = self.body_part else { return };
        let Kind::Body(nodes) = self.circuit.parts[id.0].kind.clone() else { return };
        let pieces = nodes.len().saturating_sub(1);
        let mut segments: Vec<BodySegment> = nodes
            .windows(2)
            .map(|w| BodySegment { from: w[0], to: w[1], resistance: None, share: 1.0 / pieces as f64 })
            .collect();
        let (name, part) =
            (self.circuit.parts[id.0].name.clone(), &self.guide.parts[self.circuit.parts[id.0].name.as_str()]);
        let PartKind::Body(body) = &part.kind else { return };
        let mut measured: Vec<(usize, usize, &guide::BodyMeasured)> = Vec::new();
        for m in &body.between {
            let (Some(a), Some(b)) = (self.zone_ids.get(m.from.as_str()), self.zone_ids.get(m.to.as_str())) else {
                continue;
            };
            measured.push((a.0.min(b.0), a.0.max(b.0), m));
        }
        // Short measurements first: a longer one then shares what it leaves among the pieces not yet known.
        measured.sort_by_key(|(a, b, _)| b - a);
        for (a, b, m) in measured {
            let known: Resistance = segments[a..b].iter().filter_map(|s| s.resistance).sum();
            let unknown = segments[a..b].iter().filter(|s| s.resistance.is_none()).count();
            if unknown == 0 || known >= m.resistance.value {
                self.find(
                    "body-measurements-clash",
                    m.at,
                    &name,
                    format!(
                        "the body measured {} from `{}` to `{}`, but other measurements within that stretch already come to {}",
                        m.resistance.value.show(), m.from, m.to, known.show()
                    ),
                    vec!["measure again, or keep only the longest stretch".into()],
                );
                continue;
            }
            let each = (m.resistance.value - known) / unknown as f64;
            for s in segments[a..b].iter_mut().filter(|s| s.resistance.is_none()) {
                s.resistance = Some(each);
            }
        }
        if segments.iter().any(|s| s.resistance.is_none()) {
            self.assume(
                &name,
                "resistance end to end",
                "0.5 mΩ to 5 mΩ, each rule taking its worse end".into(),
                "body-band",
            );
        }
        self.circuit.body = segments;
    }

    /// Why a terminal's name names none, and what to write.
    fn explain_terminal(&self, text: &str) -> (String, Vec<String>) {
        let bare = text.split(['+', '-', '.', '@']).next().unwrap_or(text);
        let of_part: Vec<&str> = self
            .terminals
            .keys()
            .map(String::as_str)
            .filter(|t| {
                t.strip_prefix(bare).is_some_and(|rest| rest.is_empty() || rest.starts_with(['+', '-', '.', '@']))
            })
            .collect();
        if of_part.is_empty() {
            let nearest = self
                .terminals
                .keys()
                .map(|t| (strsim::damerau_levenshtein(t, text), t))
                .min()
                .map(|(_, t)| format!("did you mean `{t}`?"));
            return (format!("there is no terminal `{text}`"), nearest.into_iter().collect());
        }
        let list = of_part.iter().map(|t| format!("`{t}`")).collect::<Vec<_>>().join(", ");
        (format!("`{bare}` has no terminal of that name"), vec![format!("its terminals are {list}: write one of them")])
    }

    /// How many runs name a device bare.
    fn bare_total(&self, name: &str) -> usize {
        self.guide.runs.values().flat_map(|r| [&r.from.value, &r.to.value]).filter(|t| t.as_str() == name).count()
    }

    fn terminal(&mut self, run: &str, end: &crate::source::Placed<String>) -> Option<NodeId> {
        if let Some(id) = self.part_ids.get(end.value.as_str()).copied()
            && let Some((line, load)) = self.circuit.parts[id.0].through()
        {
            let name = end.value.as_str();
            let explicit = |side: &str| {
                let text = format!("{name}.{side}");
                self.guide.runs.values().any(|r| r.from.value == text || r.to.value == text)
            };
            let (line_said, load_said) = (explicit("line"), explicit("load"));
            let free: Vec<NodeId> =
                [(line, line_said), (load, load_said)].into_iter().filter(|(_, said)| !said).map(|(n, _)| n).collect();
            let used = *self.bare_uses.entry(id).and_modify(|u| *u += 1).or_insert(1);
            if self.bare_total(name) <= free.len() {
                return Some(free[used - 1]);
            }
            self.find(
                "terminal-unclear",
                end.at,
                run,
                format!("`{name}` has more than two runs, so it is not clear on which side of it `{run}` ends"),
                vec![format!("write `{name}.line` for the side of the battery or `{name}.load` for the other")],
            );
            return None;
        }
        if let Some(node) = self.terminals.get(&end.value) {
            return Some(*node);
        }
        let (message, advice) = self.explain_terminal(&end.value);
        let known = self.part_ids.contains_key(end.value.as_str());
        self.find(
            if known { "terminal-unclear" } else { "terminal-unknown" },
            end.at,
            run,
            format!("`{run}` ends at `{}`: {message}", end.value),
            advice,
        );
        None
    }

    fn runs(&mut self) {
        let names: BTreeMap<&str, RunId> =
            self.guide.runs.keys().enumerate().map(|(i, n)| (n.as_str(), RunId(i))).collect();
        for (name, run) in &self.guide.runs {
            let ends = (self.terminal(name, &run.from), self.terminal(name, &run.to));
            let (Some(from), Some(to)) = ends else { continue };
            let laid = self.laid(name, run, from, to);
            let metal = match (run.metal, run.strap) {
                (Some(m), _) => m.value,
                (None, _) => {
                    self.assume(name, "metal", "copper".into(), "common-practice");
                    Metal::Copper
                }
            };
            let insulation = if run.strap {
                Insulation::Bare
            } else {
                run.insulation.map(|i| i.value).unwrap_or_else(|| {
                    self.assume(name, "insulation", "PVC".into(), "judgement");
                    Insulation::Pvc
                })
            };
            let rated = if run.strap {
                // A bare strap is judged as 105 °C cable.
                Temperature::celsius(105.0)
            } else {
                run.rated.map(|t| t.value).unwrap_or_else(|| {
                    let taken = Temperature::celsius(match insulation {
                        Insulation::Pvc => 70.0,
                        Insulation::Xlpe | Insulation::Epr => 90.0,
                        Insulation::Bare => 105.0,
                    });
                    self.assume(name, "insulation's rating", taken.show_both(), "iec-60364-k");
                    taken
                })
            };
            let conductor = Conductor::of(run.size.value, run.section.map(|s| s.value), metal, rated);
            let (hottest, factor) = hottest(&self.circuit.zones, &laid, rated);
            let iz30 = conductor.iz30;
            self.circuit.runs.push(Run {
                name: name.clone(),
                from,
                to,
                size: run.size.value,
                section: conductor.section,
                metal,
                insulation,
                rated,
                strap: run.strap,
                length: run.length.value,
                laid,
                covering: run.covering.map_or(Covering::None, |c| c.value),
                edge_guards: run.edge_guards.map(|g| g.value),
                supports: run.supports.map(|s| s.value),
                bundled_with: run.bundled_with.iter().filter_map(|b| names.get(b.value.as_str()).copied()).collect(),
                r20: conductor.per_metre * run.length.value.in_metres(),
                measured: run.resistance.map(|r| r.value),
                joint: run.joint_resistance.map(|r| r.value),
                iz30,
                iz: iz30.map(|i| i * factor),
                hottest,
                polarity: Polarity::Loose,
            });
            self.run_spans.push(run.at);
        }
        // A run left out would shift the ids of those after it.
        if self.circuit.runs.len() != self.guide.runs.len() {
            for run in &mut self.circuit.runs {
                run.bundled_with.clear();
            }
        }
    }

    fn laid(&mut self, name: &str, run: &guide::Run, from: NodeId, to: NodeId) -> Vec<(ZoneId, Length)> {
        let (zone_from, zone_to) = (self.circuit.node(from).zone, self.circuit.node(to).zone);
        let label = |circuit: &Circuit, z: ZoneId| circuit.zone(z).name.clone();
        if run.laid.is_empty() {
            if zone_from != zone_to {
                let (a, b) = (label(&self.circuit, zone_from), label(&self.circuit, zone_to));
                self.find(
                    "length-across-zones",
                    run.length.at,
                    name,
                    format!("`{name}` goes from `{a}` to `{b}`, but only its whole length is given"),
                    vec![format!("say how much lies in each zone, in order: `laid: {{{a}: 0.5 m, {b}: …}}`")],
                );
            }
            return vec![(zone_from, run.length.value)];
        }
        let laid: Vec<(ZoneId, Length)> = run
            .laid
            .iter()
            .filter_map(|l| self.zone_ids.get(l.zone.value.as_str()).map(|z| (*z, l.length.value)))
            .collect();
        if laid.len() != run.laid.len() || laid.is_empty() {
            return vec![(zone_from, run.length.value)];
        }
        let steps = std::iter::once((zone_from, run.from.at))
            .chain(laid.iter().zip(&run.laid).map(|((z, _), l)| (*z, l.zone.at)))
            .chain([(zone_to, run.to.at)])
            .collect::<Vec<_>>();
        let ends = steps.len() - 2;
        for (i, pair) in steps.windows(2).enumerate() {
            let ((a, _), (b, at)) = (pair[0], pair[1]);
            // Its first and last stretch lie where its ends are; in between it goes to a neighbour.
            let apart = a.0.abs_diff(b.0);
            let fits = if i == 0 || i == ends { apart == 0 } else { apart <= 1 };
            if !fits {
                let (a, b) = (label(&self.circuit, a), label(&self.circuit, b));
                let message = if i == 0 {
                    format!("`{name}` starts in `{a}`, but its first stretch is laid in `{b}`")
                } else if i == ends {
                    format!("`{name}` ends in `{b}`, but its last stretch is laid in `{a}`")
                } else {
                    format!("`{name}` goes straight from `{a}` to `{b}`, and those zones are not neighbours")
                };
                self.find(
                    "zones-do-not-adjoin",
                    at,
                    name,
                    message,
                    vec!["list every zone it passes through, in order from its `from` end to its `to` end".into()],
                );
                break;
            }
        }
        laid
    }

    fn states(&mut self) {
        for (name, state) in &self.guide.states {
            let mut parts = vec![Activity::Idle; self.circuit.parts.len()];
            for (part, doing) in &state.parts {
                let Some(id) = self.part_ids.get(part.as_str()).copied() else { continue };
                match activity(&self.circuit.parts[id.0].kind, doing.activity.value) {
                    Ok(activity) => parts[id.0] = activity,
                    Err(can) => self.find(
                        "activity-unfit",
                        doing.activity.at,
                        part,
                        format!(
                            "in state `{name}`, `{part}` is asked to do what a {} cannot",
                            self.guide.parts[part.as_str()].kind.word()
                        ),
                        vec![can.to_string()],
                    ),
                }
            }
            self.circuit.states.push(State {
                name: name.clone(),
                label: state.label.as_ref().map_or_else(|| name.replace('-', " "), |l| l.value.clone()),
                lasts: state.lasts.map(|d| d.value).or_else(|| self.cranking_time(&parts)),
                every: state.every.map(|d| d.value),
                parts,
            });
        }
    }

    /// A state in which a starter cranks lasts as long as it cranks, unless the author says otherwise.
    fn cranking_time(&self, doing: &[Activity]) -> Option<Duration> {
        let cranking = self.circuit.parts.iter().zip(doing).filter(|(_, d)| **d == Activity::Cranking);
        cranking
            .filter_map(|(p, _)| if let Kind::Starter(s) = &p.kind { Some(s.cranking.1) } else { None })
            .reduce(Duration::max)
    }

    /// Settles on which side of the battery every node is, and finds what ties the two together.
    fn polarity(&mut self) {
        let (plus, minus) = (self.circuit.nodes.len(), self.circuit.nodes.len() + 1);
        let mut groups: UnionFind<usize> = UnionFind::new(self.circuit.nodes.len() + 2);
        for part in &self.circuit.parts {
            match &part.kind {
                Kind::Battery(b) => {
                    groups.union(b.positive.0, plus);
                    groups.union(b.negative.0, minus);
                }
                Kind::Alternator(a) => {
                    groups.union(a.positive.0, plus);
                    groups.union(a.negative.0, minus);
                }
                Kind::Charger(c) => {
                    groups.union(c.output.0.0, plus);
                    groups.union(c.output.1.0, minus);
                }
                Kind::Engine(n) => {
                    groups.union(n.0, minus);
                }
                Kind::Body(nodes) => {
                    for n in nodes {
                        groups.union(n.0, minus);
                    }
                }
                Kind::Protector(_) | Kind::Switch(_) => {
                    if let Some((line, load)) = part.through() {
                        groups.union(line.0, load.0);
                    }
                }
                Kind::Stud(_) | Kind::Load(_) | Kind::Starter(_) => {}
            }
        }
        for bolt in &self.circuit.bolts {
            groups.union(bolt.from.0, bolt.to.0);
        }
        let mut tied = false;
        for i in 0..self.circuit.runs.len() {
            let run = &self.circuit.runs[i];
            let ends = [groups.find(run.from.0), groups.find(run.to.0)];
            let poles = [groups.find(plus), groups.find(minus)];
            if poles[0] != poles[1] && ends[0] != ends[1] && ends.contains(&poles[0]) && ends.contains(&poles[1]) {
                tied = true;
                let (name, a, b) = (
                    run.name.clone(),
                    self.circuit.node(run.from).name.clone(),
                    self.circuit.node(run.to).name.clone(),
                );
                self.find(
                    "positive-tied-to-negative",
                    self.run_spans[i],
                    &name,
                    format!("`{name}` joins `{a}` and `{b}`: one is on the positive side and the other on the negative, which shorts the battery"),
                    vec![
                        "check both ends of this run".into(),
                        "two batteries in series are written as one part at the system's voltage".into(),
                    ],
                );
                // Keep the two sides apart, so that the rest of the guide can still be looked at.
                continue;
            }
            groups.union(run.from.0, run.to.0);
        }
        let poles = [groups.find(plus), groups.find(minus)];
        if poles[0] == poles[1] && !tied {
            let at = self.guide.parts.first().map_or(Span::default(), |(_, p)| p.at);
            self.find(
                "positive-tied-to-negative",
                at,
                "",
                "a bolted joint or a device joins the positive side to the negative side, which shorts the battery"
                    .into(),
                vec!["check every `bolted-to`, and every device with one run on each side".into()],
            );
        }
        for i in 0..self.circuit.nodes.len() {
            let group = groups.find(i);
            self.circuit.nodes[i].polarity = if group == poles[0] {
                Polarity::Positive
            } else if group == poles[1] {
                Polarity::Negative
            } else {
                Polarity::Loose
            };
        }
        for i in 0..self.circuit.runs.len() {
            self.circuit.runs[i].polarity = self.circuit.node(self.circuit.runs[i].from).polarity;
        }
    }

    fn look_for_loops(&mut self) {
        let mut groups: UnionFind<usize> = UnionFind::new(self.circuit.nodes.len());
        let zero = |r: Option<Resistance>| r.is_some_and(|r| r <= Resistance::zero());
        let mut loops = Vec::new();
        for part in &self.circuit.parts {
            let r = match &part.kind {
                Kind::Protector(d) => d.resistance,
                Kind::Switch(s) => s.resistance,
                _ => continue,
            };
            if let Some((line, load)) = part.through()
                && r <= Resistance::zero()
                && !groups.union(line.0, load.0)
            {
                loops.push((self.guide.parts[part.name.as_str()].at, part.name.clone()));
            }
        }
        for bolt in &self.circuit.bolts {
            if zero(bolt.resistance) && !groups.union(bolt.from.0, bolt.to.0) {
                let name = self.circuit.parts[bolt.part.0].name.clone();
                loops.push((self.guide.parts[name.as_str()].at, name));
            }
        }
        for segment in &self.circuit.body {
            if zero(segment.resistance) {
                groups.union(segment.from.0, segment.to.0);
            }
        }
        for (run, at) in self.circuit.runs.iter().zip(&self.run_spans) {
            let nothing = match run.measured {
                Some(r) => r <= Resistance::zero(),
                None => run.r20 <= Resistance::zero() && zero(run.joint),
            };
            if run.from == run.to || nothing && !groups.union(run.from.0, run.to.0) {
                loops.push((*at, run.name.clone()));
            }
        }
        for (at, name) in loops {
            self.find(
                "zero-resistance-loop",
                at,
                &name,
                format!("`{name}` closes a loop that has no resistance at all, in which any current could flow"),
                vec![
                    "give the measured resistance of what is in the loop, or leave it out so that the tables are used"
                        .into(),
                ],
            );
        }
    }

    fn look_for_loose_ends(&mut self) {
        let mut touched = vec![false; self.circuit.nodes.len()];
        for run in &self.circuit.runs {
            touched[run.from.0] = true;
            touched[run.to.0] = true;
        }
        for bolt in &self.circuit.bolts {
            touched[bolt.from.0] = true;
            touched[bolt.to.0] = true;
        }
        if !self
            .circuit
            .parts
            .iter()
            .any(|p| matches!(p.kind, Kind::Battery(_) | Kind::Alternator(_) | Kind::Charger(_)))
        {
            let at = self.guide.parts.first().map_or(Span::default(), |(_, p)| p.at);
            self.find(
                "source-missing",
                at,
                "",
                "nothing in this circuit gives current".into(),
                vec!["add the battery: `battery: {is: battery, …}`".into()],
            );
        }
        // Runs that could not be wired have been told about; their ends would only repeat it.
        let all_wired = self.circuit.runs.len() == self.guide.runs.len();
        for i in 0..self.circuit.parts.len() {
            let part = &self.circuit.parts[i];
            if matches!(part.kind, Kind::Body(_)) || !all_wired {
                continue;
            }
            let (name, at) = (part.name.clone(), self.guide.parts[part.name.as_str()].at);
            let terminals = part.terminals();
            let open: Vec<String> = terminals
                .iter()
                .filter(|n| !touched[n.0])
                .map(|n| format!("`{}`", self.circuit.node(*n).name))
                .collect();
            if !open.is_empty() && !matches!(part.kind, Kind::Engine(_)) {
                self.find(
                    "terminal-unconnected",
                    at,
                    &name,
                    format!("nothing is connected to {}", open.join(" and ")),
                    vec!["add the run that belongs there, or say what the part is `bolted-to`".into()],
                );
                continue;
            }
            let polarity = |n: &NodeId| self.circuit.node(*n).polarity;
            if terminals.iter().any(|n| polarity(n) == Polarity::Loose) {
                self.find(
                    "part-unreachable",
                    at,
                    &name,
                    format!("no current can reach `{name}`: nothing leads from it to a battery"),
                    vec!["check where its runs end".into()],
                );
                continue;
            }
            let reversed = match &self.circuit.parts[i].kind {
                Kind::Load(Load { positive, negative, .. }) | Kind::Starter(Starter { positive, negative, .. }) => {
                    Some((*positive, *negative))
                }
                Kind::Charger(c) => c.input,
                _ => None,
            };
            if let Some((positive, negative)) = reversed
                && (polarity(&positive) == Polarity::Negative || polarity(&negative) == Polarity::Positive)
            {
                self.find(
                    "polarity-reversed",
                    at,
                    &name,
                    format!("`{name}` is wired the wrong way round or with both ends on one side of the battery"),
                    vec![format!("its positive belongs to the battery's positive side, its negative to the other: check the ends of the runs at `{name}`")],
                );
            }
        }
    }
}

/// What a part does when a state says `doing`, or what could be asked of it.
fn activity(kind: &Kind, doing: guide::Activity) -> Result<Activity, &'static str> {
    use guide::Activity as A;
    match (kind, doing) {
        (Kind::Load(_), A::Takes(i)) => Ok(Activity::Takes(i)),
        (Kind::Load(_), A::Power(p)) => Ok(Activity::Power(p)),
        (Kind::Load(l), A::Running) => match (l.power, l.rating) {
            (Some(p), _) => Ok(Activity::Power(p)),
            (None, Some(i)) => Ok(Activity::Takes(i)),
            (None, None) => Err("give the current or power it takes: `15 A` or `350 W`"),
        },
        (Kind::Load(_), _) => Err("give the current or power it takes: `15 A` or `350 W`"),
        (Kind::Starter(_), A::Cranking) => Ok(Activity::Cranking),
        (Kind::Starter(_), _) => Err("write `cranking`"),
        (Kind::Alternator(_) | Kind::Charger(_), A::Running) => Ok(Activity::Running),
        (Kind::Alternator(_) | Kind::Charger(_), _) => Err("write `running`"),
        (Kind::Protector(_) | Kind::Switch(_), A::Open) => Ok(Activity::Open),
        (Kind::Protector(_) | Kind::Switch(_), A::Closed) => Ok(Activity::Idle),
        (Kind::Protector(_) | Kind::Switch(_), _) => Err("write `open` or `closed`"),
        (Kind::Battery(_) | Kind::Stud(_) | Kind::Engine(_) | Kind::Body(_), _) => {
            Err("leave it out: it does nothing of its own")
        }
    }
}

/// A conductor's facts, looked up.
#[derive(Clone, Copy, Debug)]
pub struct Conductor {
    /// Section of metal.
    pub section: Area,
    /// Resistance of one metre at 20 °C.
    pub per_metre: Resistance,
    /// Allowable current at 30 °C in open space.
    pub iz30: Option<Current>,
}

impl Conductor {
    /// Looks a conductor up. A true section that is smaller than the size says counts in its place.
    pub fn of(size: CableSize, true_section: Option<Area>, metal: Metal, rated: Temperature) -> Conductor {
        let metal = conductor_metal(metal);
        let nominal = size.section();
        let section = true_section.map_or(nominal, |s| s.min(nominal));
        let short = section / nominal;
        // A size that no table has is worked from its section; the rules ask about it.
        let per_metre = conductors::resistance_20(size, metal)
            .unwrap_or_else(|| conductors::resistance_20_of_section(nominal, metal));
        Conductor {
            section,
            per_metre: Resistance::ohms(per_metre / short),
            iz30: if short < 1.0 {
                conductors::allowable_current_30_of_section(section, rated, metal)
            } else {
                conductors::allowable_current_30(size, rated, metal)
            },
        }
    }
}

/// The zone that lets a run carry least, and by which factor.
pub fn hottest(zones: &[Zone], laid: &[(ZoneId, Length)], rated: Temperature) -> (ZoneId, f64) {
    let mut worst = (laid.first().map_or(ZoneId(0), |l| l.0), f64::INFINITY);
    for (id, _) in laid {
        let Some(zone) = zones.get(id.0) else { continue };
        let ambient = conductors::ambient_factor(rated, zone.ambient);
        let factor = if zone.engine_space { ambient.min(conductors::engine_space_factor(rated).0) } else { ambient };
        if factor < worst.1 {
            worst = (*id, factor);
        }
    }
    (worst.0, if worst.1.is_finite() { worst.1 } else { 1.0 })
}
