//! Short circuits: how much current, which device opens when, and what every conductor in the loop
//! goes through until the batteries are cut.
//!
//! Knows no limits of rules and no words. Loads are off: what they take is small beside a fault.
//! Relays and isolators are closed. The network is linear (batteries behind their resistance,
//! alternators and chargers as currents or nothing), so each corner is factored once and every
//! fault, and every device that opens after it, is a change to it ([`super::linear`]).

use std::cell::OnceCell;
use std::collections::VecDeque;

use super::linear::{Branch, Change, Changed, Linear, Point};
use super::opening::{Band, Curve};
use super::{BodyEnd, Joints, body_resistance, cell_kind, cranking_resistance, heat, joint_resistance, run_resistance};
use crate::circuit::wire::conductor_metal;
use crate::circuit::{Battery, Circuit, Kind, NodeId, PartId, Polarity, RunId, ZoneId};
use crate::guide::{Chemistry, Insulation};
use crate::handbook::battery::{self, ChargeState};
use crate::handbook::heat as short_time;
use crate::quantity::{Current, Duration, Resistance, Temperature, Voltage};

/// First-moment resistance as a share of the cold cranking figure: the temperature polynomial's own
/// step from −18 to 25 °C (derived).
pub const SHORT_CIRCUIT_SHARE: f64 = 0.61;
/// The same at its lowest; our judgement.
pub const SHORT_CIRCUIT_SHARE_LEAST: f64 = 0.4;
/// A weak battery's cranking resistance over a good one's; our judgement.
pub const WEAK_BATTERY: f64 = 1.5;
/// First moments of an alternator over its rated output; our judgement.
pub const ALTERNATOR_FIRST_MOMENT: f64 = 1.5;
/// What devices at a lithium battery must break where its maker says nothing; our judgement.
pub const LITHIUM_SHORT_CIRCUIT_A: f64 = 20_000.0;
/// Without any figure of its maker a lead battery's short circuit is taken as ten times its capacity
/// in Ah, and never over twenty (stationary practice).
const SHORT_CIRCUIT_PER_AH: (f64, f64) = (10.0, 20.0);
/// To this the adiabatic equation holds.
pub const ADIABATIC_S: f64 = 5.0;
/// The sweep of fault resistances ends here.
const SWEEP_MOHM: f64 = 20.0;
/// Halvings of the sweep: 20 mΩ to within 0.1 mΩ.
const SWEEP_ROUNDS: usize = 8;
/// A fault that draws less has no loop.
const NO_LOOP_A: f64 = 0.1;
/// Places on each stretch of a run at which a chafe is tried.
const CHAFE_PLACES: usize = 4;

/// On which corner a fault was studied.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FaultCorner {
    /// Full battery at 0.61 of its cold cranking resistance, cables at 20 °C, best joints, best body.
    Kindest,
    /// Full battery at 0.4 of it, the rest as the kindest: the most current.
    Most,
    /// Half-charged weak battery, cables at their rating, worst joints, worst body: the least current.
    Least,
}

impl FaultCorner {
    /// All three.
    pub const ALL: [FaultCorner; 3] = [FaultCorner::Kindest, FaultCorner::Most, FaultCorner::Least];
}

/// Where a fault is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Site {
    /// At a terminal.
    Terminal(NodeId),
    /// This share of the way along a run, in this zone.
    Along(RunId, f64, ZoneId),
}

/// One fault on one corner, followed until it is cleared or nothing more opens.
#[derive(Clone, Debug, PartialEq)]
pub struct Fault {
    /// Where.
    pub site: Site,
    /// To what.
    pub to: NodeId,
    /// On which corner.
    pub corner: FaultCorner,
    /// At the first moment, through the fault.
    pub current: Current,
    /// Which devices open, and when.
    pub openings: Vec<(PartId, Duration)>,
    /// When every battery that a device stands between was cut; `None`: never.
    pub cleared: Option<Duration>,
    /// The conductor that suffered most.
    pub stress: Option<Stress>,
    /// Sources that are self-limiting and still feed it, with a run that cannot stand that for good.
    pub lingering: Option<(RunId, Current)>,
    /// Whether lithium protection boards hold the current so low that every run stands it for good:
    /// a device that then never opens is no fault of the guide.
    pub within_board_limit: bool,
    /// A device on its way whose opening times nobody gave, with its first current.
    pub unknown_device: Option<(PartId, Current)>,
    /// The conductor that the first moment's current would spoil soonest, and when.
    pub must_clear_by: Option<(RunId, Duration)>,
    /// The runs that are judged in it, by number modulo 128: whether its answer can rest on a run's start.
    judged: u128,
}

/// What a conductor went through.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stress {
    /// Which run.
    pub run: RunId,
    /// Its first current.
    pub current: Current,
    /// How hot it got (first order beyond 5 s, adiabatic before), or the end temperature passed.
    pub share: f64,
    /// The time for which its first current would bring it to its insulation's end temperature.
    pub limit: Option<Duration>,
    /// Passed only the heat that 1.45 times its allowable current settles at, not its end temperature.
    pub overload_only: bool,
}

/// The most current a device may be asked to break.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Breaking {
    /// Which device.
    pub device: PartId,
    /// Batteries at 0.61, the device's own resistance counted.
    pub kindest: Current,
    /// Batteries at 0.4, the device's own resistance taken as nothing.
    pub most: Current,
    /// A battery that feeds it gives no figure from which this could be known.
    pub unknown: bool,
    /// A lithium battery without a figure feeds it.
    pub lithium: bool,
}

/// Two devices in series on a bolted fault, with something else hanging between them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sequence {
    /// Where the fault is.
    pub site: NodeId,
    /// The device nearest the fault.
    pub near: PartId,
    /// The next one back.
    pub far: PartId,
    /// Latest opening of the near one; `None`: may never.
    pub near_latest: Option<Duration>,
    /// Earliest opening of the far one; `None`: it holds.
    pub far_earliest: Option<Duration>,
    /// The fault's current through the near one.
    pub current: Current,
}

impl Sequence {
    /// Joins others, unless the same two devices are known there for the same place.
    fn join(&self, others: &mut Vec<Sequence>) {
        if !others.iter().any(|s| s.site == self.site && s.near == self.near && s.far == self.far) {
            others.push(*self);
        }
    }
}

/// The largest fault resistance at a terminal that still clears in five seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sweep {
    /// Where.
    pub site: NodeId,
    /// To what.
    pub to: NodeId,
    /// The resistance; `None`: not even a bolted fault does.
    pub clears_to: Option<Resistance>,
}

/// Every fault of a circuit.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Faults {
    /// By device.
    pub breaking: Vec<Breaking>,
    /// Bolted faults at terminals, every corner.
    pub bolted: Vec<Fault>,
    /// A fault to body or return slid along every positive run past its first device, every corner.
    pub chafe: Vec<Fault>,
    /// Which device opens first.
    pub sequences: Vec<Sequence>,
    /// Positive terminals that a battery reaches with no device between: unprotected by design.
    pub bare: Vec<NodeId>,
}

/// A battery's first-moment resistance on a corner, and whether its maker's figures say so.
pub fn fault_resistance(b: &Battery, corner: FaultCorner) -> (Resistance, bool) {
    let full = battery::open_circuit(cell_kind(b.chemistry), ChargeState::Full) * b.units;
    match corner {
        FaultCorner::Least => {
            let known = b.internal.is_some() || b.cold_cranking.is_some();
            (cranking_resistance(b, Temperature::celsius(20.0)) * WEAK_BATTERY, known)
        }
        FaultCorner::Kindest | FaultCorner::Most => {
            let share = if corner == FaultCorner::Kindest { SHORT_CIRCUIT_SHARE } else { SHORT_CIRCUIT_SHARE_LEAST };
            if let Some(r) = b.short_circuit.or(b.internal) {
                return (r, true);
            }
            if let Some(figure) = b.cold_cranking {
                return (battery::cold_cranking_resistance(figure) * (share * b.units), true);
            }
            let amps = match (b.chemistry, corner) {
                (Chemistry::Lfp, FaultCorner::Most) => LITHIUM_SHORT_CIRCUIT_A,
                (_, FaultCorner::Most) => SHORT_CIRCUIT_PER_AH.1 * b.capacity.in_amp_hours(),
                _ => SHORT_CIRCUIT_PER_AH.0 * b.capacity.in_amp_hours(),
            };
            (full / Current::amps(amps.max(1.0)), false)
        }
    }
}

/// What stands for what among a corner's branches.
struct Network {
    corner: FaultCorner,
    linear: Linear,
    runs: Vec<usize>,
    devices: Vec<Option<usize>>,
    /// By device, in the author's order: its part, its branch and its curve.
    curves: Vec<(PartId, usize, Curve)>,
}

/// Studies every fault. `start` is each run's hottest continuous temperature.
pub fn faults(circuit: &Circuit, start: &[Temperature]) -> Faults {
    faults_after(circuit, start, None)
}

/// The same of a circuit that differs little from one that was studied: what cannot have changed is taken over.
pub fn faults_after(circuit: &Circuit, start: &[Temperature], before: Option<&Kept<'_>>) -> Faults {
    let networks: Vec<Network> =
        FaultCorner::ALL.iter().filter_map(|c| Network::build(circuit, *c, 0.0, false)).collect();
    let Some(map) = Map::of(circuit) else { return Faults::default() };
    let mut faults = Faults { breaking: breaking(circuit), bare: map.bare.clone(), ..Faults::default() };
    let sites = sites(circuit);
    let conductors = Conductor::all(circuit, &map, start);
    let sources = currents_of_sources(circuit);
    let chafes = chafe_sites(circuit, &map);
    let mut kept_bolted = before.map(|k| (k, k.faults.bolted.iter().peekable()));
    let mut kept_chafe = before.map(|k| (k, k.faults.chafe.iter().peekable()));
    for network in &networks {
        let scene = Scene { circuit, network, map: &map, conductors: &conductors, sources: &sources };
        let is_kindest = network.corner == FaultCorner::Kindest;
        for (site, to) in &sites {
            let at = Site::Terminal(*site);
            if let Some((kept, fault)) = Kept::next(&mut kept_bolted, network.corner, at, *to) {
                if is_kindest {
                    let known = kept.faults.sequences.iter().filter(|s| s.site == *site);
                    known.for_each(|s| s.join(&mut faults.sequences));
                }
                faults.bolted.push(fault.clone());
            } else if let Some(fault) = scene.follow(at, *to, 0.0) {
                if is_kindest {
                    scene.sequences(&fault, *site, &mut faults.sequences);
                }
                faults.bolted.push(fault);
            }
        }
        for (site, to) in &chafes {
            match Kept::next(&mut kept_chafe, network.corner, *site, *to) {
                Some((_, fault)) => faults.chafe.push(fault.clone()),
                None => faults.chafe.extend(scene.follow(*site, *to, 0.0)),
            }
        }
    }
    faults
}

/// What is known of a circuit before one of its runs, or what its loads take, was changed.
///
/// A run that is all that joins some nodes to the rest carries nothing in a short circuit between two nodes on one
/// side of it, whatever opens meanwhile: what was found of that short circuit still holds, unless a run that is
/// judged in it starts warmer or cooler now.
pub struct Kept<'a> {
    /// What was found then.
    pub faults: &'a Faults,
    /// Runs that start warmer or cooler, by number modulo 128.
    moved: u128,
    /// The changed run, and by node whether it lies on the side of it where every source is; `None` when no run was
    /// changed.
    bridge: Option<(RunId, Vec<bool>)>,
    /// By run: its ends.
    ends: Vec<(usize, usize)>,
}

impl<'a> Kept<'a> {
    /// Between a study and one with `changed` another length, size or resistance, or loads that take more. `None`
    /// where nothing can be taken over.
    pub fn of(
        circuit: &Circuit,
        changed: Option<RunId>,
        faults: &'a Faults,
        before: &[Temperature],
        start: &[Temperature],
    ) -> Option<Kept<'a>> {
        let has_moved = |(r, (b, s)): (usize, (&Temperature, &Temperature))| {
            ((*b - *s).si().abs() > super::HEAT_SETTLED_K).then_some(1u128 << (r % 128))
        };
        let moved = before.iter().zip(start).enumerate().filter_map(has_moved).fold(0, |all, one| all | one);
        let bridge = match changed {
            None => None,
            Some(run) => Some((run, Kept::near_side(circuit, run)?)),
        };
        let ends = circuit.runs.iter().map(|r| (r.from.0, r.to.0)).collect();
        Some(Kept { faults, moved, bridge, ends })
    }

    /// By node: whether it is joined to every source without the run. `None` when the run is not the only way to
    /// some node, or sources are on both sides of it.
    fn near_side(circuit: &Circuit, run: RunId) -> Option<Vec<bool>> {
        let network = Network::build(circuit, FaultCorner::Kindest, 0.0, false)?;
        let without = network.linear.without(network.runs[run.0]);
        let Branch { a, b, .. } = network.linear.branches()[network.runs[run.0]];
        let mut posts = circuit.batteries().flat_map(|(_, b)| [b.positive.0, b.negative.0]);
        let first = posts.next()?;
        let side = |n: usize| without.equiv(n, first);
        let sources = currents_of_sources(circuit);
        let all_near = posts.chain(sources.iter().map(|(post, _)| post.0)).all(side);
        (!without.equiv(a, b) && all_near).then(|| (0..circuit.nodes.len()).map(side).collect())
    }

    /// Whether a run that starts otherwise now was changed too, so that nothing but bolted and chafe faults may be
    /// taken over.
    pub(super) fn is_cool(&self) -> bool {
        match &self.bridge {
            None => self.moved == 0,
            Some((run, _)) => self.moved & !(1 << (run.0 % 128)) == 0,
        }
    }

    /// Whether a short circuit between these is as it was, but for what runs start at.
    pub(super) fn holds(&self, site: Site, to: NodeId) -> bool {
        let Some((changed, near)) = &self.bridge else { return true };
        let ends = match site {
            Site::Terminal(node) => near[node.0],
            Site::Along(run, ..) => run != *changed && near[self.ends[run.0].0] && near[self.ends[run.0].1],
        };
        ends && near[to.0]
    }

    /// The fault that was found here, if it still holds. Faults are asked for in the order in which they were found.
    fn next<'k>(
        kept: &mut Option<(&'k Kept<'a>, std::iter::Peekable<std::slice::Iter<'a, Fault>>)>,
        corner: FaultCorner,
        site: Site,
        to: NodeId,
    ) -> Option<(&'k Kept<'a>, &'a Fault)> {
        let (kept, faults) = kept.as_mut()?;
        let fault = faults.next_if(|f| f.corner == corner && f.site.is(site) && f.to == to)?;
        (kept.holds(site, to) && fault.judged & kept.moved == 0).then_some((kept, fault))
    }
}

impl Site {
    /// Whether two are one place: along a run, to rounding.
    fn is(self, other: Site) -> bool {
        match (self, other) {
            (Site::Along(run, share, zone), Site::Along(r, s, z)) => run == r && zone == z && (share - s).abs() < 1e-9,
            _ => self == other,
        }
    }
}

/// The largest fault resistance at every terminal that still clears in five seconds, on the corner of
/// the least current. No rule rests on it: pages print it.
pub fn sweeps(circuit: &Circuit, start: &[Temperature]) -> Vec<Sweep> {
    let (Some(network), Some(map)) = (Network::build(circuit, FaultCorner::Least, 0.0, false), Map::of(circuit)) else {
        return Vec::new();
    };
    let (conductors, sources) = (Conductor::all(circuit, &map, start), currents_of_sources(circuit));
    let scene = Scene { circuit, network: &network, map: &map, conductors: &conductors, sources: &sources };
    sites(circuit).into_iter().map(|(site, to)| scene.sweep(site, to)).collect()
}

/// Where the sweep of [`sweeps`] ends: a fault that still clears there may clear at more.
pub fn swept_to() -> Resistance {
    Resistance::milliohms(SWEEP_MOHM)
}

/// The kindest corner factored once, on which bolted faults can be followed with one run taken away.
pub struct Kindest<'a> {
    circuit: &'a Circuit,
    network: Network,
    map: Map,
    conductors: Vec<Conductor>,
    sources: Vec<(NodeId, Current)>,
    sites: Vec<(NodeId, NodeId)>,
}

impl<'a> Kindest<'a> {
    /// Factors it; `None` where the circuit has no solution.
    pub fn of(circuit: &'a Circuit, start: &[Temperature]) -> Option<Kindest<'a>> {
        let network = Network::build(circuit, FaultCorner::Kindest, 0.0, false)?;
        let map = Map::of(circuit)?;
        let conductors = Conductor::all(circuit, &map, start);
        let (sources, sites) = (currents_of_sources(circuit), sites(circuit));
        Some(Kindest { circuit, network, map, conductors, sources, sites })
    }

    /// Every bolted fault at a terminal, with one run taken away.
    ///
    /// Nothing where the run is all that joins some parts to the rest and no battery is among them: a fault
    /// there then has no way round, and no other fault ever sent a current through it. Of a circuit that differs
    /// little from one that was studied, what is known of that one's bad faults without the run is taken over where
    /// it still holds.
    pub fn without(&self, gone: RunId, before: Option<(&Kept<'_>, &[Fault])>) -> Vec<Fault> {
        let gone = self.network.runs[gone.0];
        if self.network.linear.strands_no_source(gone) {
            return Vec::new();
        }
        let Kindest { circuit, network, map, conductors, sources, .. } = self;
        let scene = Scene { circuit, network, map, conductors, sources };
        let gone = [Change::Open(gone)];
        let follow = |(site, to): &(NodeId, NodeId)| {
            let site = Site::Terminal(*site);
            match before.filter(|(kept, _)| kept.is_cool() && kept.holds(site, *to)) {
                Some((_, found)) => found.iter().find(|f| f.site == site && f.to == *to).cloned(),
                None => scene.follow_with(site, *to, 0.0, &gone),
            }
        };
        self.sites.iter().filter_map(follow).collect()
    }
}

impl Network {
    /// `alternators` times each running source's rated output is injected; devices may count as nothing.
    fn build(circuit: &Circuit, corner: FaultCorner, alternators: f64, device_is_nothing: bool) -> Option<Network> {
        let least = corner == FaultCorner::Least;
        let joint = joint_resistance(if least { Joints::Worst } else { Joints::Best });
        let body = if least { BodyEnd::High } else { BodyEnd::Low };
        let mut branches = Vec::with_capacity(circuit.runs.len() + circuit.parts.len());
        let mut injections = Vec::new();
        let plain = |a: NodeId, b: NodeId, r: Resistance| Branch { a: a.0, b: b.0, ohms: r.in_ohms(), volts: 0.0 };
        let mut runs = Vec::new();
        for run in &circuit.runs {
            let temperature = if least { run.rated } else { Temperature::celsius(20.0) };
            runs.push(branches.len());
            branches.push(plain(run.from, run.to, run_resistance(run, temperature, joint)));
        }
        for bolt in &circuit.bolts {
            branches.push(plain(bolt.from, bolt.to, bolt.resistance.unwrap_or(joint)));
        }
        for segment in &circuit.body {
            branches.push(plain(segment.from, segment.to, body_resistance(segment, body)));
        }
        let mut devices = vec![None; circuit.parts.len()];
        for (i, part) in circuit.parts.iter().enumerate() {
            match &part.kind {
                Kind::Protector(d) => {
                    devices[i] = Some(branches.len());
                    let r = if device_is_nothing { Resistance::zero() } else { d.resistance };
                    branches.push(plain(d.line, d.load, r));
                }
                Kind::Switch(s) => branches.push(plain(s.line, s.load, s.resistance)),
                Kind::Battery(b) => {
                    let charge = if least { ChargeState::Half } else { ChargeState::Full };
                    let volts = (battery::open_circuit(cell_kind(b.chemistry), charge) * b.units).in_volts();
                    let ohms = fault_resistance(b, corner).0.in_ohms();
                    branches.push(Branch { a: b.positive.0, b: b.negative.0, ohms, volts });
                }
                Kind::Alternator(a) if alternators > 0.0 => {
                    injections.push((a.negative.0, a.positive.0, alternators * a.output.in_amps()));
                }
                Kind::Charger(c) if alternators > 0.0 => {
                    injections.push((c.output.1.0, c.output.0.0, c.limit.in_amps()));
                }
                _ => {}
            }
        }
        let linear = Linear::new(circuit.nodes.len(), branches, &injections)?;
        let curves = circuit.protectors().filter_map(|(id, d)| Some((id, devices[id.0]?, Curve::of(d)))).collect();
        Some(Network { corner, linear, runs, devices, curves })
    }
}

/// Which positive conductors lead where: for telling what is cut, and what no device guards.
struct Map {
    /// By node: neighbours on the positive side, with the device between or none, and the run or none.
    links: Vec<Vec<Link>>,
    batteries: Vec<(PartId, NodeId)>,
    bare: Vec<NodeId>,
    /// By battery: nodes that it reaches with no device between.
    bare_of: Vec<Vec<bool>>,
    /// Posts of batteries and other sources, from which is asked again and again what they reach.
    posts: Vec<usize>,
    /// By post: nodes that it reaches over whatever is between.
    whole: Vec<Vec<bool>>,
    /// By post, then by part: the same with that one device open, worked out when it is first asked for.
    one_open: Vec<Vec<OnceCell<Vec<bool>>>>,
}

/// Nodes at which a fault touches the positive side: one, or both ends of a run.
#[derive(Clone, Copy)]
struct Ends(usize, Option<usize>);

impl Ends {
    fn iter(&self) -> impl Iterator<Item = usize> + Clone + use<> {
        std::iter::once(self.0).chain(self.1)
    }
}

#[derive(Clone, Copy)]
struct Link {
    to: usize,
    device: Option<PartId>,
    run: Option<RunId>,
}

impl Map {
    fn of(circuit: &Circuit) -> Option<Map> {
        let mut links: Vec<Vec<Link>> = vec![Vec::new(); circuit.nodes.len()];
        let mut link = |a: NodeId, b: NodeId, device, run| {
            if circuit.node(a).polarity == Polarity::Positive {
                links[a.0].push(Link { to: b.0, device, run });
                links[b.0].push(Link { to: a.0, device, run });
            }
        };
        for (i, run) in circuit.runs.iter().enumerate() {
            link(run.from, run.to, None, Some(RunId(i)));
        }
        for (i, part) in circuit.parts.iter().enumerate() {
            match &part.kind {
                Kind::Protector(d) => link(d.line, d.load, Some(PartId(i)), None),
                Kind::Switch(s) => link(s.line, s.load, None, None),
                _ => {}
            }
        }
        let batteries: Vec<(PartId, NodeId)> = circuit.batteries().map(|(id, b)| (id, b.positive)).collect();
        let mut posts: Vec<usize> = batteries.iter().map(|(_, post)| post.0).collect();
        posts.extend(currents_of_sources(circuit).iter().map(|(post, _)| post.0));
        let one_open = vec![vec![OnceCell::new(); circuit.parts.len()]; posts.len()];
        let (bare, bare_of, whole) = (Vec::new(), Vec::new(), Vec::new());
        let mut map = Map { links, batteries, bare, bare_of, posts, whole, one_open };
        map.bare_of = map.batteries.iter().map(|(_, post)| map.reach(post.0, |l| l.device.is_none())).collect();
        map.whole = map.posts.iter().map(|post| map.reach(*post, |_| true)).collect();
        map.bare =
            (0..circuit.nodes.len()).filter(|n| map.bare_of.iter().any(|reached| reached[*n])).map(NodeId).collect();
        Some(map)
    }

    /// Nodes reached from one over links that are let through.
    fn reach(&self, from: usize, through: impl Fn(&Link) -> bool) -> Vec<bool> {
        let mut reached = vec![false; self.links.len()];
        let mut queue = VecDeque::from([from]);
        reached[from] = true;
        while let Some(n) = queue.pop_front() {
            for link in self.links[n].iter().filter(|l| through(l)) {
                if !reached[link.to] {
                    reached[link.to] = true;
                    queue.push_back(link.to);
                }
            }
        }
        reached
    }

    /// Whether a post reaches one of some nodes, some devices taken away: the first that it does.
    fn reaches(&self, post: usize, ends: &Ends, open: &[PartId]) -> Option<usize> {
        let first = |reached: &[bool]| ends.iter().find(|n| reached[*n]);
        match (self.posts.iter().position(|p| *p == post), open) {
            (Some(p), []) => first(&self.whole[p]),
            (Some(p), [one]) => {
                first(self.one_open[p][one.0].get_or_init(|| self.reach(post, |l| l.device != Some(*one))))
            }
            _ => first(&self.reach(post, |l| l.device.is_none_or(|d| !open.contains(&d)))),
        }
    }

    /// Batteries that a device stands before, seen from some nodes.
    fn guarded(&self, ends: &Ends) -> impl Iterator<Item = usize> + Clone {
        let ends = *ends;
        (0..self.batteries.len()).filter(move |b| !ends.iter().any(|n| self.bare_of[*b][n]))
    }

    /// Whether a battery reaches a node with no device between.
    fn is_bare(&self, node: usize) -> bool {
        self.bare_of.iter().any(|reached| reached[node])
    }
}

/// What a positive conductor may touch in a zone: the body there, a battery's negative there, the return
/// of the load at its end, and the returns bundled with it where they end in or pass through the zone.
fn companions(circuit: &Circuit, zone: ZoneId, runs: &[RunId], parts: &[PartId]) -> Vec<NodeId> {
    let mut to: Vec<NodeId> = Vec::new();
    for part in &circuit.parts {
        match &part.kind {
            Kind::Body(nodes) => to.extend(nodes.iter().filter(|n| circuit.node(**n).zone == zone)),
            Kind::Battery(b) if part.zone == Some(zone) => to.push(b.negative),
            _ => {}
        }
    }
    for part in parts.iter().map(|p| circuit.part(*p)).filter(|p| p.zone == Some(zone)) {
        match &part.kind {
            Kind::Load(l) => to.push(l.negative),
            Kind::Starter(s) => to.push(s.negative),
            Kind::Alternator(a) => to.push(a.negative),
            Kind::Charger(c) => to.extend([c.output.1].into_iter().chain(c.input.map(|(_, n)| n))),
            _ => {}
        }
    }
    for (i, other) in circuit.runs.iter().enumerate().filter(|(_, r)| r.polarity == Polarity::Negative) {
        let bundled =
            runs.iter().any(|r| circuit.run(*r).bundled_with.contains(&RunId(i)) || other.bundled_with.contains(r));
        if bundled && other.laid.iter().any(|(z, _)| *z == zone) {
            to.push(if circuit.node(other.to).zone == zone { other.to } else { other.from });
        }
    }
    to.sort();
    to.dedup();
    to
}

/// Every positive terminal with each of what it may touch.
fn sites(circuit: &Circuit) -> Vec<(NodeId, NodeId)> {
    let mut sites = Vec::new();
    for (i, node) in circuit.nodes.iter().enumerate().filter(|(_, n)| n.polarity == Polarity::Positive) {
        let runs: Vec<RunId> = circuit.runs_at(NodeId(i)).collect();
        let to = companions(circuit, node.zone, &runs, &[node.part]);
        sites.extend(to.into_iter().map(|to| (NodeId(i), to)));
    }
    sites
}

/// Places along every positive run past its first device, with each of what it may chafe to there.
fn chafe_sites(circuit: &Circuit, map: &Map) -> Vec<(Site, NodeId)> {
    let mut sites = Vec::new();
    for (i, run) in circuit.runs.iter().enumerate().filter(|(_, r)| r.polarity == Polarity::Positive) {
        if map.is_bare(run.from.0) && map.is_bare(run.to.0) || run.length.in_metres() <= 0.0 {
            continue;
        }
        let parts = [circuit.node(run.from).part, circuit.node(run.to).part];
        let mut before = 0.0;
        for (zone, length) in &run.laid {
            let to = companions(circuit, *zone, &[RunId(i)], &parts);
            for place in 0..=CHAFE_PLACES {
                let at = before + length.in_metres() * place as f64 / CHAFE_PLACES as f64;
                let share = (at / run.length.in_metres()).clamp(0.0, 1.0);
                sites.extend(to.iter().map(|to| (Site::Along(RunId(i), share, *zone), *to)));
            }
            before += length.in_metres();
        }
    }
    sites
}

/// Everything needed to follow a fault on one corner.
struct Scene<'a> {
    circuit: &'a Circuit,
    network: &'a Network,
    map: &'a Map,
    conductors: &'a [Conductor],
    sources: &'a [(NodeId, Current)],
}

/// What following a fault asks of a run, looked up once.
struct Conductor {
    /// Judged from this current on: 1.45 times what is allowed.
    judged_over: f64,
    /// Both its ends are before the first device.
    before_any: bool,
    is_return: bool,
    /// Hottest continuous temperature, °C, where every fault starts.
    start: f64,
    /// Kelvins from there to the temperature that spoils its insulation.
    span: f64,
    /// See [`short_time::k`].
    k: f64,
    section: crate::quantity::Area,
    settling: Option<heat::Settling>,
    /// Time constant, seconds.
    tau: f64,
    /// Where 1.45 times its allowable current settles, °C.
    overload: Option<f64>,
}

impl Conductor {
    fn all(circuit: &Circuit, map: &Map, start: &[Temperature]) -> Vec<Conductor> {
        let of = |(run, start): (&crate::circuit::Run, &Temperature)| {
            let end = end_temperature(circuit, run);
            let k = short_time::k(conductor_metal(run.metal), *start, end);
            let settling = heat::Settling::of(circuit, run);
            let judged_over = run.iz.map_or(0.0, |iz| 1.45 * iz.in_amps());
            Conductor {
                judged_over,
                before_any: map.is_bare(run.from.0) && map.is_bare(run.to.0),
                is_return: run.polarity == Polarity::Negative,
                start: start.in_celsius(),
                span: (end - *start).si(),
                k,
                section: run.section,
                settling,
                tau: heat::time_constant(run).map_or(1.0, |t| t.in_seconds()),
                overload: settling.map(|s| s.at(Current::amps(judged_over)).in_celsius()),
            }
        };
        circuit.runs.iter().zip(start).map(of).collect()
    }
}

impl Scene<'_> {
    fn point(&self, site: Site) -> Point {
        match site {
            Site::Terminal(node) => Point::node(node.0),
            Site::Along(run, share, _) => {
                let branch = self.network.linear.branches()[self.network.runs[run.0]];
                Point::along(branch.a, branch.b, branch.ohms, share)
            }
        }
    }

    /// Nodes at which the site touches the positive side.
    fn ends(&self, site: Site) -> Ends {
        match site {
            Site::Terminal(node) => Ends(node.0, None),
            Site::Along(run, ..) => Ends(self.circuit.run(run).from.0, Some(self.circuit.run(run).to.0)),
        }
    }

    /// Follows a fault until every battery that a device stands before is cut, or nothing more opens.
    /// `None` where no current can flow between the two.
    fn follow(&self, site: Site, to: NodeId, ohms: f64) -> Option<Fault> {
        self.follow_with(site, to, ohms, &[])
    }

    /// The same with changes made to the network beforehand.
    fn follow_with(&self, site: Site, to: NodeId, ohms: f64, before: &[Change]) -> Option<Fault> {
        let ends = self.ends(site);
        if !self.network.linear.together(ends.0, to.0) {
            return None;
        }
        // Batteries that reach the site with no device between are unprotected there by design: they
        // are judged by where they may lie, and left in here, uncut.
        let guarded = self.map.guarded(&ends).count();
        if guarded == 0 {
            return None;
        }
        let has_bare = guarded < self.map.batteries.len();
        let fault = Change::Join(self.point(site), Point::node(to.0), ohms);
        let mut changes = vec![fault];
        changes.extend_from_slice(before);
        let mut open: Vec<PartId> = Vec::new();
        let mut openings = Vec::new();
        let curves = &self.network.curves;
        let mut progress: Vec<f64> = vec![0.0; curves.len()];
        let mut whole: Vec<Option<f64>> = Vec::with_capacity(curves.len());
        let mut now = 0.0f64;
        let state = self.network.linear.changed(&changes);
        let current = state.through(0).abs();
        // What leaks through an opened branch is no loop.
        if current < NO_LOOP_A {
            return None;
        }
        let mut heats = self.heats(&state, site, has_bare);
        let unknown_device = self.unknown_device(&state);
        let mut lasts_for_good = false;
        let mut state = state;
        // Every round opens one more device, so that there are never more rounds than devices.
        let cleared = loop {
            if self.is_cut(&ends, &open) {
                break Some(now);
            }
            if !open.is_empty() {
                state = self.network.linear.changed(&changes);
            }
            // By device: how long it would take from new at this current.
            whole.clear();
            whole.extend(curves.iter().map(|(id, branch, curve)| {
                if open.contains(id) {
                    return None;
                }
                curve.band(Current::amps(state.amps(*branch).abs())).most.map(|t| t.in_seconds())
            }));
            let next = whole
                .iter()
                .enumerate()
                .filter_map(|(d, whole)| Some((d, (1.0 - progress[d]).max(0.0) * (*whole)?)))
                .min_by(|a, b| a.1.total_cmp(&b.1));
            let Some((d, wait)) = next else {
                lasts_for_good = true;
                self.warm(&mut heats, &state, site, f64::INFINITY);
                break None;
            };
            for (progress, whole) in progress.iter_mut().zip(&whole) {
                if let Some(whole) = whole.filter(|w| *w > 0.0) {
                    *progress += wait / whole;
                }
            }
            self.warm(&mut heats, &state, site, wait);
            now += wait;
            let (id, branch, _) = &curves[d];
            open.push(*id);
            openings.push((*id, Duration::seconds(now)));
            changes.push(Change::Open(*branch));
        };
        let must_clear_by = self.must_clear_by(&heats);
        let stress = self.worst_stress(&heats, now, lasts_for_good);
        let lingering = self.lingering(&ends, &open);
        Some(Fault {
            site,
            to,
            corner: self.network.corner,
            current: Current::amps(current),
            within_board_limit: cleared.is_none() && self.stands_board_limit(&ends),
            openings,
            cleared: cleared.map(Duration::seconds),
            stress,
            lingering,
            unknown_device,
            must_clear_by,
            judged: heats.iter().fold(0, |judged, heat| judged | 1 << (heat.run % 128)),
        })
    }

    /// The device without known opening times that carries most of the fault, if it carries more than
    /// its rating.
    fn unknown_device(&self, state: &Changed<'_>) -> Option<(PartId, Current)> {
        self.network
            .curves
            .iter()
            .filter(|(_, _, curve)| !curve.is_known())
            .filter_map(|(id, branch, _)| {
                let Kind::Protector(d) = &self.circuit.part(*id).kind else { return None };
                let amps = Current::amps(state.amps(*branch).abs());
                (amps > d.rating).then_some((*id, amps))
            })
            .max_by(|a, b| a.1.si().total_cmp(&b.1.si()))
    }

    /// The runs in the loop that are judged: those that carry more than 1.45 times their allowable current
    /// at the first moment, and are neither before the first device nor the return of what is.
    fn heats(&self, state: &Changed<'_>, site: Site, has_bare: bool) -> Vec<Heat> {
        let mut heats = Vec::new();
        for (r, conductor) in self.conductors.iter().enumerate() {
            let first = self.run_current(state, site, r);
            let shared_return = has_bare && conductor.is_return;
            if first > conductor.judged_over && !conductor.before_any && !shared_return {
                heats.push(Heat { run: r, square: 0.0, temperature: conductor.start, first });
            }
        }
        heats
    }

    fn must_clear_by(&self, heats: &[Heat]) -> Option<(RunId, Duration)> {
        let limits = heats.iter().filter_map(|heat| {
            let conductor = &self.conductors[heat.run];
            short_time::adiabatic_time(conductor.k, conductor.section, Current::amps(heat.first))
                .map(|t| (RunId(heat.run), t))
        });
        limits.min_by(|a, b| a.1.si().total_cmp(&b.1.si()))
    }

    /// A run's current; along a faulted run, the larger of its two stretches.
    fn run_current(&self, state: &Changed<'_>, site: Site, r: usize) -> f64 {
        let own = state.amps(self.network.runs[r]);
        match site {
            // Seen from its ends the run carries its own share and that of the fault which leaves it:
            // the stretch before the fault carries (1 − x) of it more, the one after x less.
            Site::Along(run, share, _) if run.0 == r => {
                let fault = state.through(0);
                (own + (1.0 - share) * fault).abs().max((own - share * fault).abs())
            }
            _ => own.abs(),
        }
    }

    /// Whether every guarded battery is cut from the site, the open devices taken away.
    fn is_cut(&self, ends: &Ends, open: &[PartId]) -> bool {
        self.map.guarded(ends).all(|b| self.map.reaches(self.map.batteries[b].1.0, ends, open).is_none())
    }

    /// Warms every judged run for some seconds, or for good.
    fn warm(&self, heats: &mut [Heat], state: &Changed<'_>, site: Site, seconds: f64) {
        for heat in heats {
            let conductor = &self.conductors[heat.run];
            let amps = self.run_current(state, site, heat.run);
            if seconds.is_finite() {
                heat.square += amps * amps * seconds;
            }
            let Some(settling) = conductor.settling else { continue };
            let settled = settling.at(Current::amps(amps)).in_celsius();
            let share = if seconds.is_finite() { -(-seconds / conductor.tau).exp_m1() } else { 1.0 };
            heat.temperature += (settled - heat.temperature) * share;
        }
    }

    fn worst_stress(&self, heats: &[Heat], lasted: f64, for_good: bool) -> Option<Stress> {
        let mut worst: Option<Stress> = None;
        for heat in heats {
            let conductor = &self.conductors[heat.run];
            let stands = (conductor.k * conductor.section.in_mm2()).powi(2);
            let limit = short_time::adiabatic_time(conductor.k, conductor.section, Current::amps(heat.first));
            let adiabatic = stands > 0.0 && !for_good && lasted <= ADIABATIC_S;
            let share = if adiabatic {
                heat.square / stands
            } else if conductor.span > 0.0 {
                (heat.temperature - conductor.start) / conductor.span
            } else {
                f64::INFINITY
            };
            let overload = conductor.overload.is_some_and(|t| heat.temperature > t);
            let stress = Stress {
                run: RunId(heat.run),
                current: Current::amps(heat.first),
                share,
                limit,
                overload_only: !adiabatic && share <= 1.0 && overload,
            };
            let rank = |s: &Stress| (s.share, s.overload_only as u8 as f64);
            if worst.as_ref().is_none_or(|w| rank(&stress) > rank(w)) {
                worst = Some(stress);
            }
        }
        worst
    }

    /// A self-limiting source that still reaches the site after the devices have opened, with a run on
    /// its way that cannot stand its output for good.
    fn lingering(&self, ends: &Ends, open: &[PartId]) -> Option<(RunId, Current)> {
        for (post, amps) in self.sources {
            let Some(end) = self.map.reaches(post.0, ends, open) else { continue };
            let path = self.path(post.0, end, |l| l.device.is_none_or(|d| !open.contains(&d)));
            let weak = path.iter().filter_map(|l| l.run).find(|r| self.circuit.run(*r).iz.is_some_and(|iz| iz < *amps));
            if let Some(run) = weak {
                return Some((run, *amps));
            }
        }
        None
    }

    /// Whether, at its protection boards' limits, every run on the way stands it for good: a device
    /// that then never opens is no fault of the guide.
    fn stands_board_limit(&self, ends: &Ends) -> bool {
        self.map.guarded(ends).all(|b| {
            let (id, post) = self.map.batteries[b];
            let Kind::Battery(battery) = &self.circuit.part(id).kind else { return false };
            let limit = battery.discharge_peak.map(|(i, _)| i).or(battery.discharge_continuous);
            let (Chemistry::Lfp, Some(limit)) = (battery.chemistry, limit) else { return false };
            ends.iter().any(|end| {
                let path = self.path(post.0, end, |_| true);
                path.iter().filter_map(|l| l.run).all(|r| self.circuit.run(r).iz.is_some_and(|iz| limit <= iz))
            })
        })
    }

    /// The links of a shortest way between two nodes of the positive side, from the first.
    fn path(&self, from: usize, to: usize, through: impl Fn(&Link) -> bool) -> Vec<Link> {
        let mut came: Vec<Option<(usize, Link)>> = vec![None; self.map.links.len()];
        let mut seen = vec![false; self.map.links.len()];
        let mut queue = VecDeque::from([from]);
        seen[from] = true;
        while let Some(n) = queue.pop_front() {
            for link in self.map.links[n].iter().filter(|l| through(l)) {
                if !seen[link.to] {
                    seen[link.to] = true;
                    came[link.to] = Some((n, *link));
                    queue.push_back(link.to);
                }
            }
        }
        let mut path = Vec::new();
        let mut at = to;
        while let Some((before, link)) = came[at] {
            path.push(link);
            at = before;
        }
        path.reverse();
        path
    }

    /// Pairs of devices in series towards a battery, where something else hangs between them.
    fn sequences(&self, fault: &Fault, site: NodeId, into: &mut Vec<Sequence>) {
        let state = self.network.linear.changed(&[Change::Join(self.point(fault.site), Point::node(fault.to.0), 0.0)]);
        for (_, post) in &self.map.batteries {
            let path = self.path(site.0, post.0, |_| true);
            let mut near: Option<PartId> = None;
            let mut branches_off = false;
            for link in &path {
                if let Some(device) = link.device {
                    if let Some(before) = near.filter(|_| branches_off) {
                        self.sequence(&state, site, before, device, into);
                    }
                    near = Some(device);
                    branches_off = false;
                }
                // A node with a third positive link has something else hanging on it.
                branches_off |= near.is_some() && self.map.links[link.to].len() > 2;
            }
        }
    }

    fn sequence(&self, state: &Changed<'_>, site: NodeId, near: PartId, far: PartId, into: &mut Vec<Sequence>) {
        let band = |id: PartId| -> Option<(Band, f64)> {
            let (_, branch, curve) = self.network.curves.iter().find(|(d, ..)| *d == id)?;
            let amps = state.amps(*branch).abs();
            Some((curve.band(Current::amps(amps)), amps))
        };
        let (Some((near_band, amps)), Some((far_band, _))) = (band(near), band(far)) else { return };
        let sequence = Sequence {
            site,
            near,
            far,
            near_latest: near_band.most,
            far_earliest: far_band.least,
            current: Current::amps(amps),
        };
        sequence.join(into);
    }

    /// The largest fault resistance that still clears in five seconds, by halving.
    fn sweep(&self, site: NodeId, to: NodeId) -> Sweep {
        let clears = |mohm: f64| {
            self.follow(Site::Terminal(site), to, mohm * 1e-3)
                .and_then(|f| f.cleared)
                .is_some_and(|t| t.in_seconds() <= ADIABATIC_S)
        };
        let clears_to = if clears(SWEEP_MOHM) {
            Some(SWEEP_MOHM)
        } else if clears(0.0) {
            let (mut low, mut high) = (0.0, SWEEP_MOHM);
            for _ in 0..SWEEP_ROUNDS {
                let middle = 0.5 * (low + high);
                if clears(middle) { low = middle } else { high = middle }
            }
            Some(low)
        } else {
            None
        };
        Sweep { site, to, clears_to: clears_to.map(Resistance::milliohms) }
    }
}

#[derive(Clone, Copy)]
struct Heat {
    /// Which run.
    run: usize,
    /// Amperes squared times seconds.
    square: f64,
    /// First-order temperature, °C.
    temperature: f64,
    /// Amperes at the first moment.
    first: f64,
}

/// The temperature at which a run's insulation, or a bare strap, is spoilt in a short circuit.
pub fn end_temperature(circuit: &Circuit, run: &crate::circuit::Run) -> Temperature {
    let near_fuel = run.laid.iter().any(|(z, _)| circuit.zone(*z).holds_fuel);
    let kind = match run.insulation {
        Insulation::Pvc => short_time::InsulationKind::Pvc,
        Insulation::Xlpe => short_time::InsulationKind::Xlpe,
        Insulation::Epr => short_time::InsulationKind::Epr,
        Insulation::Bare => short_time::InsulationKind::Bare,
    };
    short_time::end_temperature(kind, near_fuel)
}

/// Alternators and chargers by their positive terminal, with their rated output.
fn currents_of_sources(circuit: &Circuit) -> Vec<(NodeId, Current)> {
    circuit
        .parts
        .iter()
        .filter_map(|p| match &p.kind {
            Kind::Alternator(a) => Some((a.positive, a.output)),
            Kind::Charger(c) => Some((c.output.0, c.limit)),
            _ => None,
        })
        .collect()
}

/// The most current each device may be asked to break: a short from either of its sides straight to a
/// battery's negative post, every other source added.
fn breaking(circuit: &Circuit) -> Vec<Breaking> {
    let build = |corner, nothing| Network::build(circuit, corner, ALTERNATOR_FIRST_MOMENT, nothing);
    let (Some(kindest), Some(most)) = (build(FaultCorner::Kindest, false), build(FaultCorner::Most, true)) else {
        return Vec::new();
    };
    let Some(map) = Map::of(circuit) else { return Vec::new() };
    circuit
        .protectors()
        .map(|(id, d)| {
            let through = |network: &Network| {
                let mut most = 0f64;
                for (_, battery) in circuit.batteries() {
                    for side in [d.line, d.load] {
                        if !network.linear.together(side.0, battery.negative.0) {
                            continue;
                        }
                        let short = Change::Join(Point::node(side.0), Point::node(battery.negative.0), 0.0);
                        let state = network.linear.changed(&[short]);
                        if let Some(branch) = network.devices[id.0] {
                            most = most.max(state.amps(branch).abs());
                        }
                    }
                }
                Current::amps(most)
            };
            let feeding: Vec<&Battery> = circuit
                .batteries()
                .filter(|(_, b)| map.reach(b.positive.0, |_| true)[d.line.0])
                .map(|(_, b)| b)
                .collect();
            let unknown = |b: &&Battery| !fault_resistance(b, FaultCorner::Kindest).1;
            Breaking {
                device: id,
                kindest: through(&kindest),
                most: through(&most),
                unknown: feeding.iter().any(unknown),
                lithium: feeding.iter().any(|b| b.chemistry == Chemistry::Lfp && unknown(b)),
            }
        })
        .collect()
}

/// The open-circuit voltage at which faults of a corner start, for one battery.
pub fn open_circuit(b: &Battery, corner: FaultCorner) -> Voltage {
    let charge = if corner == FaultCorner::Least { ChargeState::Half } else { ChargeState::Full };
    battery::open_circuit(cell_kind(b.chemistry), charge) * b.units
}
