//! The circuit: terminals, runs, joints and states, with every default taken.
//!
//! Knows no files and no words for people but names. [`wire()`] makes it from a guide; whatever
//! could not be wired is a finding. It hands on a [`Circuit`] that the study can solve as it is.

pub mod wire;

use petgraph::unionfind::UnionFind;

use crate::guide::{AlternatorControl, ChargerKind, Chemistry, Covering, Insulation, LoadNature, Metal, Vehicle};
use crate::quantity::{
    Area, CableSize, Charge, ColdCranking, Current, Duration, Length, Mass, Power, Ratio, Resistance, Temperature,
    Thread, Voltage,
};

pub use wire::wire;

macro_rules! index {
    ($($(#[$doc:meta])* $name:ident),*) => { $(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub usize);
    )* };
}
index!(/// Which zone.
    ZoneId, /// Which node.
    NodeId, /// Which part.
    PartId, /// Which run.
    RunId, /// Which state.
    StateId);

/// Everything electrical of one guide.
#[derive(Clone, Debug)]
pub struct Circuit {
    /// 12 V or 24 V.
    pub nominal: Voltage,
    /// The author's coldest start.
    pub coldest: Option<Temperature>,
    /// What it is fitted to.
    pub vehicle: Vehicle,
    /// Zones, front to rear.
    pub zones: Vec<Zone>,
    /// Electrical points: every terminal is one.
    pub nodes: Vec<Node>,
    /// Parts, in the author's order.
    pub parts: Vec<Part>,
    /// Runs, in the author's order.
    pub runs: Vec<Run>,
    /// Bolted joints between a part's return and what it is bolted to.
    pub bolts: Vec<Bolt>,
    /// Pieces of the body between neighbouring zones.
    pub body: Vec<BodySegment>,
    /// States, in the author's order.
    pub states: Vec<State>,
    /// Figures the author did not give, with the default taken.
    pub assumptions: Vec<Assumption>,
}

/// A zone with its ambient temperature settled.
#[derive(Clone, Debug)]
pub struct Zone {
    /// Its key.
    pub name: String,
    /// Its name for people.
    pub label: String,
    /// Its ambient temperature.
    pub ambient: Temperature,
    /// An engine or machinery space.
    pub engine_space: bool,
    /// People are in it.
    pub occupied: bool,
    /// A fuel tank or line is in it.
    pub holds_fuel: bool,
    /// A gas bottle is in it.
    pub holds_gas: bool,
}

/// Which side of the battery a node is on, through runs and devices as if all were closed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Polarity {
    /// Tied to a battery's or source's positive.
    Positive,
    /// Tied to a battery's negative, or to engine or body.
    Negative,
    /// Tied to neither.
    Loose,
}

/// One terminal.
#[derive(Clone, Debug)]
pub struct Node {
    /// As the author writes it: `battery+`, `breaker.line`, `post`, `body@bay`.
    pub name: String,
    /// Whose terminal.
    pub part: PartId,
    /// Where.
    pub zone: ZoneId,
    /// Which side.
    pub polarity: Polarity,
}

/// A part with its terminals.
#[derive(Clone, Debug)]
pub struct Part {
    /// Its key.
    pub name: String,
    /// Its name for people.
    pub label: String,
    /// Its zone; the body has none.
    pub zone: Option<ZoneId>,
    /// What it is.
    pub kind: Kind,
    /// What it is bolted to, if it is.
    pub bolted_to: Option<NodeId>,
    /// Its live terminals are covered; `None` when the author did not say.
    pub covers: Option<bool>,
    /// Its terminal stud.
    pub stud: Option<Thread>,
    /// How heavy it is.
    pub mass: Option<Mass>,
    /// Straight-line distance from the nearest battery's gas outlet.
    pub from_vent: Option<Length>,
}

/// What a part is.
#[derive(Clone, Debug)]
pub enum Kind {
    /// A battery.
    Battery(Battery),
    /// A breaker or fuse.
    Protector(Protector),
    /// An isolator, relay or connector.
    Switch(Switch),
    /// A post or busbar.
    Stud(Stud),
    /// A panel, load, winch or inverter.
    Load(Load),
    /// A charger.
    Charger(Charger),
    /// A starter motor.
    Starter(Starter),
    /// An alternator.
    Alternator(Alternator),
    /// The engine block.
    Engine(NodeId),
    /// The body: one node a zone, front to rear.
    Body(Vec<NodeId>),
}

/// A battery as a source.
#[derive(Clone, Debug)]
pub struct Battery {
    /// Positive post.
    pub positive: NodeId,
    /// Negative post.
    pub negative: NodeId,
    /// Chemistry.
    pub chemistry: Chemistry,
    /// Capacity.
    pub capacity: Charge,
    /// 12 V units in series.
    pub units: f64,
    /// Of one unit.
    pub cold_cranking: Option<ColdCranking>,
    /// Of the whole battery: the warm cranking figure, measured.
    pub internal: Option<Resistance>,
    /// Of the whole battery: the first-moment figure, measured.
    pub short_circuit: Option<Resistance>,
    /// What the protection board lets out for good.
    pub discharge_continuous: Option<Current>,
    /// What it lets out for a while.
    pub discharge_peak: Option<(Current, Duration)>,
    /// The most it may be charged with.
    pub charge_max: Option<Current>,
    /// Under which it must not be charged.
    pub cold_charge_cutoff: Option<Temperature>,
}

/// A breaker or a fuse.
#[derive(Clone, Debug)]
pub struct Protector {
    /// A fuse, or else a breaker.
    pub is_fuse: bool,
    /// One side; the author's first run lands here unless they said otherwise.
    pub line: NodeId,
    /// The other.
    pub load: NodeId,
    /// Rating.
    pub rating: Current,
    /// The most voltage it may break.
    pub volts: Option<Voltage>,
    /// The most current it can break.
    pub breaks: Option<Current>,
    /// Its maker's opening points, least current first.
    pub opens: Vec<Opening>,
    /// Its published class, by id.
    pub form: Option<String>,
    /// Whether it closes again by itself.
    pub resets_itself: bool,
    /// Across it: given, or 100 mV at its rating.
    pub resistance: Resistance,
}

/// One point of an opening-time sheet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Opening {
    /// Current as a share of the rating.
    pub of_rating: Ratio,
    /// Shortest opening time.
    pub least: Duration,
    /// Longest opening time.
    pub most: Duration,
}

/// Which kind of switch.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SwitchKind {
    /// By hand.
    Isolator,
    /// By a coil.
    Relay,
    /// A connector in a cable.
    Connector,
}

/// An isolator, relay or connector.
#[derive(Clone, Debug)]
pub struct Switch {
    /// Which.
    pub kind: SwitchKind,
    /// One side.
    pub line: NodeId,
    /// The other.
    pub load: NodeId,
    /// Continuous rating.
    pub rating: Option<Current>,
    /// The most voltage it may break.
    pub volts: Option<Voltage>,
    /// Across it when closed.
    pub resistance: Resistance,
    /// Can be worked from where people are.
    pub reachable: bool,
}

/// A post or busbar: one node.
#[derive(Clone, Debug)]
pub struct Stud {
    /// Its node.
    pub node: NodeId,
    /// A bar with several studs, or one post.
    pub is_busbar: bool,
    /// Continuous rating.
    pub rating: Option<Current>,
    /// Section of the bar.
    pub section: Option<Area>,
}

/// Which kind of load.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LoadKind {
    /// A fuse panel.
    Panel,
    /// Anything else.
    Load,
    /// A winch.
    Winch,
    /// An inverter.
    Inverter,
}

/// Anything that takes current.
#[derive(Clone, Debug)]
pub struct Load {
    /// Which.
    pub kind: LoadKind,
    /// Its positive.
    pub positive: NodeId,
    /// Its return.
    pub negative: NodeId,
    /// How it takes its current; a state that gives a power makes it constant power.
    pub nature: LoadNature,
    /// Its rated current, if given.
    pub rating: Option<Current>,
    /// Its rated power, if given.
    pub power: Option<Power>,
    /// A current for a time when it is switched on.
    pub inrush: Option<(Current, Duration)>,
    /// `needs: steady`
    pub needs_steady: bool,
    /// Can take more than its rating for long.
    pub can_overload: bool,
    /// Works by duty.
    pub intermittent: bool,
    /// Makes mains voltage.
    pub mains: bool,
}

/// A charger.
#[derive(Clone, Debug)]
pub struct Charger {
    /// Which.
    pub kind: ChargerKind,
    /// Input positive and negative; a mains or solar charger has none.
    pub input: Option<(NodeId, NodeId)>,
    /// Output positive and negative.
    pub output: (NodeId, NodeId),
    /// Output limit.
    pub limit: Current,
    /// Output voltage.
    pub set_point: Voltage,
    /// Output power over input power.
    pub efficiency: Ratio,
}

/// A starter motor.
#[derive(Clone, Debug)]
pub struct Starter {
    /// Its stud.
    pub positive: NodeId,
    /// Its case.
    pub negative: NodeId,
    /// Steady cranking current and for how long.
    pub cranking: (Current, Duration),
    /// First moment.
    pub inrush: Option<(Current, Duration)>,
}

/// An alternator.
#[derive(Clone, Debug)]
pub struct Alternator {
    /// Its output stud.
    pub positive: NodeId,
    /// Its case.
    pub negative: NodeId,
    /// Rated output.
    pub output: Current,
    /// Regulated voltage.
    pub set_point: Voltage,
    /// Who controls it.
    pub control: AlternatorControl,
    /// Its own windings limit its output.
    pub self_limiting: bool,
}

/// A run with its conductor's facts looked up.
#[derive(Clone, Debug)]
pub struct Run {
    /// Its key.
    pub name: String,
    /// One end.
    pub from: NodeId,
    /// The other end.
    pub to: NodeId,
    /// As sold.
    pub size: CableSize,
    /// Section of metal.
    pub section: Area,
    /// Metal.
    pub metal: Metal,
    /// Insulation.
    pub insulation: Insulation,
    /// The insulation's temperature rating; a bare strap counts as 105 °C.
    pub rated: Temperature,
    /// A bare or braided strap.
    pub strap: bool,
    /// Whole length.
    pub length: Length,
    /// How much in which zone, from `from` to `to`.
    pub laid: Vec<(ZoneId, Length)>,
    /// What covers it.
    pub covering: Covering,
    /// Guards wherever it passes an edge.
    pub edge_guards: Option<bool>,
    /// Longest distance between supports.
    pub supports: Option<Length>,
    /// Runs in the same bundle.
    pub bundled_with: Vec<RunId>,
    /// Resistance of the conductor alone at 20 °C, at its standard's maximum.
    pub r20: Resistance,
    /// Measured end to end, with its joints, in place of `r20` and the joints.
    pub measured: Option<Resistance>,
    /// Measured resistance of each of its two joints.
    pub joint: Option<Resistance>,
    /// Allowable current at 30 °C in open space; `None` when no table has the size.
    pub iz30: Option<Current>,
    /// Allowable current where it lies: `iz30` with the hottest zone's factor.
    pub iz: Option<Current>,
    /// The hottest zone it passes through.
    pub hottest: ZoneId,
    /// Which side it is on.
    pub polarity: Polarity,
}

/// A bolted joint.
#[derive(Clone, Debug)]
pub struct Bolt {
    /// Whose.
    pub part: PartId,
    /// The part's return.
    pub from: NodeId,
    /// What it is bolted to.
    pub to: NodeId,
    /// Measured.
    pub resistance: Option<Resistance>,
}

/// A piece of the body between two neighbouring zones.
#[derive(Clone, Debug)]
pub struct BodySegment {
    /// One zone's node.
    pub from: NodeId,
    /// The next zone's node.
    pub to: NodeId,
    /// Measured, or `None` for its share of the unmeasured band.
    pub resistance: Option<Resistance>,
    /// The share of an end-to-end resistance that this piece is: one over the number of pieces.
    pub share: f64,
}

/// What is on at once.
#[derive(Clone, Debug)]
pub struct State {
    /// Its key. Its name carries no meaning.
    pub name: String,
    /// Its name for people.
    pub label: String,
    /// How long; `None` is continuous.
    pub lasts: Option<Duration>,
    /// The whole cycle where it is repeated.
    pub every: Option<Duration>,
    /// What each part does, by part. Parts not named do nothing; devices are closed.
    pub parts: Vec<Activity>,
}

/// What a part does in a state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Activity {
    /// Nothing: a load off, a device closed, a source that is not running.
    Idle,
    /// A load takes this current.
    Takes(Current),
    /// A load takes this power at its terminals.
    Power(Power),
    /// An alternator or charger runs.
    Running,
    /// A starter cranks.
    Cranking,
    /// A device is open.
    Open,
}

impl State {
    /// Whether a starter cranks in it.
    pub fn cranks(&self) -> bool {
        self.parts.contains(&Activity::Cranking)
    }
    /// Whether an engine turns in it: a starter cranks, or an alternator runs.
    pub fn turns_an_engine(&self, circuit: &Circuit) -> bool {
        let runs =
            |(part, doing): (&Part, &Activity)| *doing == Activity::Running && matches!(part.kind, Kind::Alternator(_));
        self.cranks() || circuit.parts.iter().zip(&self.parts).any(runs)
    }
    /// Whether it goes on for good.
    pub fn is_continuous(&self) -> bool {
        self.lasts.is_none()
    }
}

/// A figure the author did not give.
#[derive(Clone, Debug, PartialEq)]
pub struct Assumption {
    /// The part, run or zone.
    pub subject: String,
    /// What was not given.
    pub what: String,
    /// The default taken, with unit.
    pub value: String,
    /// The id of its source in the handbook.
    pub source: &'static str,
}

impl Circuit {
    /// The part with this key.
    pub fn part_named(&self, name: &str) -> Option<PartId> {
        self.parts.iter().position(|p| p.name == name).map(PartId)
    }
    /// The run with this key.
    pub fn run_named(&self, name: &str) -> Option<RunId> {
        self.runs.iter().position(|r| r.name == name).map(RunId)
    }
    /// A part.
    pub fn part(&self, id: PartId) -> &Part {
        &self.parts[id.0]
    }
    /// A run.
    pub fn run(&self, id: RunId) -> &Run {
        &self.runs[id.0]
    }
    /// A node.
    pub fn node(&self, id: NodeId) -> &Node {
        &self.nodes[id.0]
    }
    /// A zone.
    pub fn zone(&self, id: ZoneId) -> &Zone {
        &self.zones[id.0]
    }
    /// Batteries, in the author's order.
    pub fn batteries(&self) -> impl Iterator<Item = (PartId, &Battery)> {
        self.parts.iter().enumerate().filter_map(|(i, p)| match &p.kind {
            Kind::Battery(b) => Some((PartId(i), b)),
            _ => None,
        })
    }
    /// Breakers and fuses, in the author's order.
    pub fn protectors(&self) -> impl Iterator<Item = (PartId, &Protector)> {
        self.parts.iter().enumerate().filter_map(|(i, p)| match &p.kind {
            Kind::Protector(d) => Some((PartId(i), d)),
            _ => None,
        })
    }
    /// Runs that end at a node.
    pub fn runs_at(&self, node: NodeId) -> impl Iterator<Item = RunId> + '_ {
        self.runs.iter().enumerate().filter(move |(_, r)| r.from == node || r.to == node).map(|(i, _)| RunId(i))
    }
}

impl Part {
    /// The two sides of a device through which current passes in series.
    pub fn through(&self) -> Option<(NodeId, NodeId)> {
        match &self.kind {
            Kind::Protector(d) => Some((d.line, d.load)),
            Kind::Switch(s) => Some((s.line, s.load)),
            _ => None,
        }
    }

    /// Every terminal, in a fixed order: positive before negative, line before load.
    pub fn terminals(&self) -> Vec<NodeId> {
        match &self.kind {
            Kind::Battery(b) => vec![b.positive, b.negative],
            Kind::Protector(d) => vec![d.line, d.load],
            Kind::Switch(s) => vec![s.line, s.load],
            Kind::Stud(s) => vec![s.node],
            Kind::Load(l) => vec![l.positive, l.negative],
            Kind::Charger(c) => c.input.into_iter().flat_map(|(p, n)| [p, n]).chain([c.output.0, c.output.1]).collect(),
            Kind::Starter(s) => vec![s.positive, s.negative],
            Kind::Alternator(a) => vec![a.positive, a.negative],
            Kind::Engine(n) => vec![*n],
            Kind::Body(nodes) => nodes.clone(),
        }
    }
}

/// What an alternator regulates to and gives at most.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct AlternatorView {
    /// Regulated voltage.
    pub set_point: Voltage,
    /// Most current.
    pub limit: Current,
}

impl Circuit {
    /// Whether a computer-controlled alternator runs in a state.
    pub fn lowered_alternators(&self, state: StateId) -> bool {
        self.parts.iter().zip(&self.states[state.0].parts).any(|(p, doing)| {
            *doing == Activity::Running && matches!(&p.kind, Kind::Alternator(a) if a.control == AlternatorControl::Ecu)
        })
    }

    /// An alternator as it is, or lowered by the engine's computer when it has one.
    pub fn alternator_view(&self, a: &Alternator, lowered: bool) -> AlternatorView {
        let lowered = lowered && a.control == AlternatorControl::Ecu;
        let floor = Voltage::volts(crate::circuit::LOWERED_SET_POINT_V) * (self.nominal / Voltage::volts(12.0));
        AlternatorView { set_point: if lowered { a.set_point.min(floor) } else { a.set_point }, limit: a.output }
    }

    /// Nodes that runs and closed devices and switches join, whatever their resistance.
    pub fn joined(&self, closed: impl Fn(PartId) -> bool) -> UnionFind<usize> {
        let mut groups = UnionFind::new(self.nodes.len());
        for run in &self.runs {
            groups.union(run.from.0, run.to.0);
        }
        for (i, part) in self.parts.iter().enumerate() {
            if let Some((line, load)) = part.through()
                && closed(PartId(i))
            {
                groups.union(line.0, load.0);
            }
        }
        groups
    }

    /// Batteries that a source running in a state charges: those it is joined to by conductors.
    pub fn batteries_beside_running_sources(&self, state: StateId) -> Vec<PartId> {
        let doing = &self.states[state.0].parts;
        let groups = self.joined(|id| doing[id.0] != Activity::Open);
        let fed: Vec<NodeId> = self
            .parts
            .iter()
            .zip(doing)
            .filter(|(_, doing)| **doing == Activity::Running)
            .filter_map(|(p, _)| match &p.kind {
                Kind::Alternator(a) => Some(a.positive),
                Kind::Charger(c) => Some(c.output.0),
                _ => None,
            })
            .collect();
        self.batteries()
            .filter(|(_, b)| fed.iter().any(|n| groups.equiv(n.0, b.positive.0)))
            .map(|(id, _)| id)
            .collect()
    }
}

/// To which an engine's computer may lower its alternator, per 12 V (electrical practice: published
/// span of computer-controlled machines is 12.0 to 15.5 V).
pub const LOWERED_SET_POINT_V: f64 = 12.0;
