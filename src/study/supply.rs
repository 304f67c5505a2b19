//! What feeds what: for every positive conductor, every source that can feed it, along every path,
//! and what stands in between.
//!
//! Knows no currents and no limits but the ratings of devices and sources; all switches count as
//! closed. It hands on a [`Supply`]:
//!
//! * [`Supply::paths`]: from each source along every path to the first device, or to where the path
//!   ends without one, each with its runs and the posts at which it branches;
//! * [`Supply::spans`]: for every positive run, the most current that can last in it without any
//!   device opening, from either end, and which devices hold it to that.
//!
//! Work is bounded: a circuit with more paths than [`PATHS_AT_MOST`] says so in [`Supply::complete`].

use crate::circuit::{Activity, Circuit, Kind, LoadKind, NodeId, PartId, Polarity, RunId};
use crate::guide::Covering;
use crate::quantity::{Area, Current, Length};

/// Paths followed before giving up. A guide has some dozens.
pub const PATHS_AT_MOST: usize = 4000;
/// Steps taken before giving up.
const STEPS_AT_MOST: usize = 100_000;
/// A constant-power load takes more current than its power over nominal voltage where volts are
/// lost; a tenth is what a fed load may lose at most.
const SAG: f64 = 1.0 / 0.9;

/// Everything that is known of supplies.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Supply {
    /// Sources, in the author's order of parts.
    pub sources: Vec<Source>,
    /// Every way from a source to its first device or its end.
    pub paths: Vec<Path>,
    /// By [`RunId`]; `None` for a run that is not on the positive side.
    pub spans: Vec<Option<Span>>,
    /// By busbar and post, in the author's order: what can last through it.
    pub studs: Vec<(PartId, Reach)>,
    /// Every path was followed.
    pub complete: bool,
}

/// What a source is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SourceKind {
    /// A battery.
    Battery,
    /// An alternator.
    Alternator,
    /// A charger's output.
    Charger,
}

/// Something that gives current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Source {
    /// Which part.
    pub part: PartId,
    /// Its positive terminal.
    pub node: NodeId,
    /// What it is.
    pub kind: SourceKind,
    /// The most it gives of itself, for a source whose own make limits it; `None` for one that needs a device.
    pub limit: Option<Current>,
}

/// Something a path goes along.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Link {
    /// A run.
    Run(RunId),
    /// An isolator, relay or connector.
    Switch(PartId),
}

/// Where a path ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// At a breaker or fuse.
    Device(PartId),
    /// At a load, a starter, a charger's input or another source, with no device before it.
    Part(PartId),
    /// At a terminal from which nothing leads on.
    Nothing(NodeId),
}

/// A way from a source to its first device, or to its end.
#[derive(Clone, Debug, PartialEq)]
pub struct Path {
    /// From which of [`Supply::sources`].
    pub source: usize,
    /// What it goes along, from the source.
    pub links: Vec<Link>,
    /// Where each link ends: one a link.
    pub nodes: Vec<NodeId>,
    /// Where it ends.
    pub end: End,
}

/// A stretch of a path, from the source or from a post at which the path branches.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// The part at whose terminal it starts.
    pub origin: PartId,
    /// Its first link, by place in [`Path::links`].
    pub first: usize,
    /// From there to the end of the path.
    pub length: Length,
    /// Every run of it is covered.
    pub covered: bool,
}

/// What can last in a positive run without any device opening.
#[derive(Clone, Debug, PartialEq)]
pub struct Span {
    /// With every load drawing all that its feed gives: what the devices let pass. `None`: no device holds it.
    pub rating: Option<Current>,
    /// With loads that cannot overload their feed held to what they take. `None`: nothing holds it.
    pub lasting: Option<Current>,
    /// The devices that hold it, and sources whose own limit does.
    pub held_by: Vec<PartId>,
    /// Where its section is smaller than that of a run it is joined to on the side that feeds it.
    pub reduction: Option<Reduction>,
}

/// A smaller run leaving a larger one.
#[derive(Clone, Debug, PartialEq)]
pub struct Reduction {
    /// The terminal at which it leaves.
    pub at: NodeId,
    /// The larger run.
    pub larger: RunId,
    /// What can come to that terminal, and what holds it to that. `None`: no device holds it.
    pub arrives: Option<Current>,
    /// The devices upstream.
    pub upstream: Vec<PartId>,
    /// Its own first device along it, and the length to it.
    pub own: Option<(PartId, Length, bool)>,
}

/// What can last through a post or busbar.
#[derive(Clone, Debug, PartialEq)]
pub struct Reach {
    /// What can come in at some of its cables and leave by the others. `None`: no device holds it.
    pub through: Option<Current>,
    /// What holds it to that.
    pub held_by: Vec<PartId>,
}

/// Studies what feeds what.
pub fn supply(circuit: &Circuit) -> Supply {
    let graph = Graph::of(circuit);
    let sources = sources(circuit);
    let mut walk =
        Walk { graph: &graph, paths: Vec::new(), steps: 0, complete: true, seen: vec![false; circuit.nodes.len()] };
    for (i, source) in sources.iter().enumerate() {
        walk.seen[source.node.0] = true;
        walk.on(i, source.node, true, &mut Vec::new(), &mut Vec::new());
        walk.seen[source.node.0] = false;
    }
    let (paths, complete) = (walk.paths, walk.complete);
    let spans = (0..circuit.runs.len()).map(|r| graph.span(circuit, &sources, RunId(r))).collect();
    let studs = circuit
        .parts
        .iter()
        .enumerate()
        .filter_map(|(i, p)| match &p.kind {
            Kind::Stud(s) if circuit.node(s.node).polarity == Polarity::Positive => {
                Some((PartId(i), graph.through(circuit, &sources, s.node)))
            }
            _ => None,
        })
        .collect();
    Supply { sources, paths, spans, studs, complete }
}

/// The same of a circuit that differs from one that was studied in one run's length or size: of what feeds what, only
/// where a smaller run leaves a larger one, and how far its first device is, rest on these.
pub fn supply_after(circuit: &Circuit, before: &Supply) -> Supply {
    let graph = Graph::of(circuit);
    let spans = before.spans.iter().enumerate().map(|(r, span)| {
        let span = span.as_ref()?;
        let reduction = graph.reduction(circuit, &before.sources, RunId(r));
        Some(Span { held_by: span.held_by.clone(), reduction, ..*span })
    });
    let spans = spans.collect();
    Supply { spans, ..before.clone() }
}

/// What gives current, and whether its own make limits it.
pub fn sources(circuit: &Circuit) -> Vec<Source> {
    let source = |(i, part): (usize, &crate::circuit::Part)| {
        let (node, kind, limit) = match &part.kind {
            Kind::Battery(b) => (b.positive, SourceKind::Battery, None),
            Kind::Alternator(a) => (a.positive, SourceKind::Alternator, a.self_limiting.then_some(a.output)),
            // Electronics hold a charger to its output limit.
            Kind::Charger(c) => (c.output.0, SourceKind::Charger, Some(c.limit)),
            _ => return None,
        };
        Some(Source { part: PartId(i), node, kind, limit })
    };
    circuit.parts.iter().enumerate().filter_map(source).collect()
}

impl Supply {
    /// Paths to a starter with no device on them: a run that lies on one feeds the starter.
    pub fn starter_paths<'s>(&'s self, circuit: &'s Circuit) -> impl Iterator<Item = &'s Path> + 's {
        self.paths.iter().filter(|p| match p.end {
            End::Part(part) => matches!(circuit.part(part).kind, Kind::Starter(_)) && self.needs_device(p),
            _ => false,
        })
    }

    /// Whether a path starts at a source that needs a device.
    pub fn needs_device(&self, path: &Path) -> bool {
        self.sources[path.source].limit.is_none()
    }

    /// By [`RunId`]: whether a run lies on a way from a source to a starter with no device on it.
    pub fn feeds_starter(&self, circuit: &Circuit) -> Vec<bool> {
        let mut feeds = vec![false; circuit.runs.len()];
        for run in self.starter_paths(circuit).flat_map(Path::runs) {
            feeds[run.0] = true;
        }
        feeds
    }

    /// By [`RunId`]: whether a run lies, on some path from a source that needs one, before the first device.
    pub fn before_a_device(&self, circuit: &Circuit) -> Vec<bool> {
        let mut before = vec![false; circuit.runs.len()];
        for run in self.paths.iter().filter(|p| self.needs_device(p)).flat_map(Path::runs) {
            before[run.0] = true;
        }
        before
    }

    /// By node: whether current from a source that needs one comes there with no device on the way.
    pub fn live_without_device(&self, circuit: &Circuit) -> Vec<bool> {
        let mut live = vec![false; circuit.nodes.len()];
        for path in self.paths.iter().filter(|p| self.needs_device(p)) {
            live[self.sources[path.source].node.0] = true;
            for node in &path.nodes {
                live[node.0] = true;
            }
        }
        live
    }

    /// By node: whether current from a source that needs a device comes there whatever isolators and relays do.
    pub fn always_live(&self, circuit: &Circuit) -> Vec<bool> {
        let mut live = vec![false; circuit.nodes.len()];
        let mut open: Vec<NodeId> = self.sources.iter().filter(|s| s.limit.is_none()).map(|s| s.node).collect();
        while let Some(node) = open.pop() {
            if std::mem::replace(&mut live[node.0], true) {
                continue;
            }
            for run in circuit.runs_at(node).map(|r| circuit.run(r)) {
                open.push(if run.from == node { run.to } else { run.from });
            }
            let part = circuit.part(circuit.node(node).part);
            if let Kind::Protector(d) = &part.kind {
                open.push(if d.line == node { d.load } else { d.line });
            }
        }
        live
    }

    /// The span of a run on the positive side.
    pub fn span(&self, run: RunId) -> Option<&Span> {
        self.spans.get(run.0)?.as_ref()
    }
}

impl Path {
    /// The runs it goes along, from the source.
    pub fn runs(&self) -> impl Iterator<Item = RunId> + '_ {
        self.links.iter().filter_map(|l| match l {
            Link::Run(run) => Some(*run),
            Link::Switch(_) => None,
        })
    }

    /// The switches it goes through, from the source.
    pub fn switches(&self) -> impl Iterator<Item = PartId> + '_ {
        self.links.iter().filter_map(|l| match l {
            Link::Switch(part) => Some(*part),
            Link::Run(_) => None,
        })
    }

    /// Its stretches, longest first: from the source, then from each terminal at which other
    /// conductors or parts are joined to it. Links for which `exempt` holds, and all before them,
    /// do not count: what is tapped off them starts anew.
    pub fn stretches(&self, circuit: &Circuit, source: &Source, exempt: impl Fn(RunId) -> bool) -> Vec<Stretch> {
        let from =
            self.links.iter().rposition(|l| matches!(l, Link::Run(run) if exempt(*run))).map_or(0, |last| last + 1);
        let origins = (from..self.links.len()).filter_map(|first| match first {
            0 => Some((0, source.node)),
            _ if first == from || branches(circuit, self.nodes[first - 1]) > 2 => Some((first, self.nodes[first - 1])),
            _ => None,
        });
        origins
            .map(|(first, node)| {
                let runs = self.links[first..].iter().filter_map(|l| match l {
                    Link::Run(run) => Some(circuit.run(*run)),
                    Link::Switch(_) => None,
                });
                Stretch {
                    origin: circuit.node(node).part,
                    first,
                    length: runs.clone().map(|r| r.length).sum(),
                    covered: runs.clone().all(|r| r.covering != Covering::None),
                }
            })
            .collect()
    }

    /// The first run at or after a link.
    pub fn run_from(&self, link: usize) -> Option<RunId> {
        self.links[link.min(self.links.len())..].iter().find_map(|l| match l {
            Link::Run(run) => Some(*run),
            Link::Switch(_) => None,
        })
    }
}

/// How many conductors and parts meet at a terminal.
pub fn branches(circuit: &Circuit, node: NodeId) -> usize {
    let part = circuit.part(circuit.node(node).part);
    // A device or a switch leads on through itself; a load, a source or a starter takes or gives; a post is only a joint.
    let own = usize::from(!matches!(part.kind, Kind::Stud(_) | Kind::Engine(_) | Kind::Body(_)));
    own + circuit.runs_at(node).count()
}

/// The positive side as nodes and what joins them.
struct Graph {
    /// By node: what leads away from it.
    at: Vec<Vec<(Step, NodeId)>>,
    /// By node: a load, a starter, a charger's input or a source ends here.
    ends: Vec<Option<PartId>>,
    /// By part: its own limit as something that takes current; not a number for what takes none.
    takes: Vec<Option<(NodeId, Take)>>,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Step {
    Run(RunId),
    Switch(PartId),
    Device(PartId, f64),
}

/// How much a part can take for good.
#[derive(Clone, Copy, Debug)]
enum Take {
    /// All that its feed gives.
    All,
    /// So much and no more.
    AtMost(f64),
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Way {
    /// From the sources to a node.
    In,
    /// From a node to whatever takes current, each held to what it can take.
    Out,
    /// From a node to whatever takes current, each taking all that comes.
    OutAll,
}

impl Graph {
    fn of(circuit: &Circuit) -> Graph {
        let mut at: Vec<Vec<(Step, NodeId)>> = vec![Vec::new(); circuit.nodes.len()];
        for (i, run) in circuit.runs.iter().enumerate() {
            if run.polarity == Polarity::Positive && run.from != run.to {
                at[run.from.0].push((Step::Run(RunId(i)), run.to));
                at[run.to.0].push((Step::Run(RunId(i)), run.from));
            }
        }
        let mut ends = vec![None; circuit.nodes.len()];
        let mut takes = vec![None; circuit.parts.len()];
        for (i, part) in circuit.parts.iter().enumerate() {
            let id = PartId(i);
            match &part.kind {
                Kind::Protector(d) if circuit.node(d.line).polarity == Polarity::Positive => {
                    let step = Step::Device(id, d.rating.in_amps());
                    at[d.line.0].push((step, d.load));
                    at[d.load.0].push((step, d.line));
                }
                Kind::Switch(s) if circuit.node(s.line).polarity == Polarity::Positive => {
                    at[s.line.0].push((Step::Switch(id), s.load));
                    at[s.load.0].push((Step::Switch(id), s.line));
                }
                Kind::Load(l) => {
                    ends[l.positive.0] = Some(id);
                    let take = if l.can_overload { Take::All } else { Take::AtMost(own_current(circuit, id)) };
                    takes[i] = Some((l.positive, take));
                }
                Kind::Starter(s) => {
                    ends[s.positive.0] = Some(id);
                    // A starter takes much, but never for long.
                    takes[i] = Some((s.positive, Take::AtMost(0.0)));
                }
                Kind::Charger(c) => {
                    ends[c.output.0.0] = Some(id);
                    if let Some((positive, _)) = c.input {
                        ends[positive.0] = Some(id);
                        let watts = c.limit.in_amps() * c.set_point.in_volts() / c.efficiency.in_ones().max(0.1);
                        takes[i] = Some((positive, Take::AtMost(watts / circuit.nominal.in_volts() * SAG)));
                    }
                }
                Kind::Battery(b) => {
                    ends[b.positive.0] = Some(id);
                    takes[i] = Some((b.positive, Take::All));
                }
                Kind::Alternator(a) => ends[a.positive.0] = Some(id),
                _ => {}
            }
        }
        Graph { at, ends, takes }
    }

    /// What can last in a run, and whether it is smaller than what feeds it.
    fn span(&self, circuit: &Circuit, sources: &[Source], id: RunId) -> Option<Span> {
        let run = circuit.run(id);
        if run.polarity != Polarity::Positive || run.from == run.to {
            return None;
        }
        let (mut rating, mut lasting, mut held_by) = (0.0, 0.0, Vec::new());
        for (near, far) in [(run.from, run.to), (run.to, run.from)] {
            let (arrives, before) = self.flow(circuit, sources, &[id], near, Way::In);
            let (all, after) = self.flow(circuit, sources, &[id], far, Way::OutAll);
            let (takes, _) = self.flow(circuit, sources, &[id], far, Way::Out);
            let most = f64::min(arrives, all);
            if most > rating {
                rating = most;
                held_by = if arrives <= all { before } else { after };
            }
            lasting = f64::max(lasting, f64::min(arrives, takes));
        }
        let reduction = self.reduction(circuit, sources, id);
        Some(Span { rating: finite(rating), lasting: finite(lasting), held_by, reduction })
    }

    /// What can come in at some of a terminal's cables and leave by the others.
    fn through(&self, circuit: &Circuit, sources: &[Source], node: NodeId) -> Reach {
        let mut runs: Vec<RunId> = circuit.runs_at(node).collect();
        runs.sort();
        runs.dedup();
        let sides: Vec<_> = runs
            .iter()
            .map(|id| {
                let run = circuit.run(*id);
                let far = if run.from == node { run.to } else { run.from };
                let (comes, before) = self.flow(circuit, sources, &runs, far, Way::In);
                let (goes, after) = self.flow(circuit, sources, &runs, far, Way::Out);
                (comes, before, goes, after)
            })
            .collect();
        let mut most = (0.0, Vec::new());
        let ways: usize = 1 << sides.len().min(MOST_CABLES_TRIED);
        for way in 0..ways {
            let comes_in = |i: usize| way >> i & 1 == 1;
            let (mut comes, mut goes) = (0.0, 0.0);
            for (i, side) in sides.iter().enumerate() {
                // Past the cables that are tried each way, a cable counts both ways: never too little.
                let tried = i < MOST_CABLES_TRIED;
                comes += if !tried || comes_in(i) { side.0 } else { 0.0 };
                goes += if !tried || !comes_in(i) { side.2 } else { 0.0 };
            }
            if f64::min(comes, goes) > most.0 {
                let held = sides.iter().enumerate().flat_map(|(i, side)| match (comes <= goes, comes_in(i)) {
                    (true, true) => side.1.as_slice(),
                    (false, false) => side.3.as_slice(),
                    _ => &[],
                });
                most = (f64::min(comes, goes), held.copied().collect());
            }
        }
        most.1.sort();
        most.1.dedup();
        Reach { through: finite(most.0), held_by: most.1 }
    }

    /// Whether a run is smaller than another at the terminal from which it is fed.
    fn reduction(&self, circuit: &Circuit, sources: &[Source], id: RunId) -> Option<Reduction> {
        let run = circuit.run(id);
        let larger = |node: NodeId| {
            circuit
                .runs_at(node)
                .filter(|other| *other != id && circuit.run(*other).section > run.section * SAME_SECTION)
                .max_by(|a, b| by_section(circuit.run(*a).section, circuit.run(*b).section))
        };
        let mut worst: Option<Reduction> = None;
        for (near, far) in [(run.from, run.to), (run.to, run.from)] {
            let Some(larger) = larger(near) else { continue };
            let (arrives, upstream) = self.flow(circuit, sources, &[id], near, Way::In);
            if arrives <= 0.0 {
                continue;
            }
            let worse = worst.as_ref().is_none_or(|w| w.arrives.is_some_and(|a| arrives > a.in_amps()));
            if worse {
                let own = self.first_device(circuit, id, far);
                worst = Some(Reduction { at: near, larger, arrives: finite(arrives), upstream, own });
            }
        }
        worst
    }

    /// The first device along a run and what is joined to its far end with nothing branching off.
    fn first_device(&self, circuit: &Circuit, id: RunId, far: NodeId) -> Option<(PartId, Length, bool)> {
        let (mut length, mut covered) = (circuit.run(id).length, circuit.run(id).covering != Covering::None);
        let (mut node, mut came) = (far, Step::Run(id));
        for _ in 0..self.at.len() {
            if branches(circuit, node) > 2 {
                return None;
            }
            let (step, next) = self.at[node.0].iter().copied().find(|(step, _)| *step != came)?;
            match step {
                Step::Device(device, _) => return Some((device, length, covered)),
                Step::Run(run) => {
                    length = length + circuit.run(run).length;
                    covered &= circuit.run(run).covering != Covering::None;
                }
                Step::Switch(_) => {}
            }
            (node, came) = (next, step);
        }
        None
    }

    /// The most current that can last between a node and the sources, or what takes current, with some
    /// runs taken away: the least cut through the devices, each worth its rating. With it, what the cut
    /// goes through. Infinite where no device is in the way, and then nothing is cut.
    fn flow(
        &self,
        circuit: &Circuit,
        sources: &[Source],
        without: &[RunId],
        node: NodeId,
        way: Way,
    ) -> (f64, Vec<PartId>) {
        // Nodes joined by runs and switches are one island; devices join islands.
        let mut island = vec![usize::MAX; self.at.len()];
        let mut count = 0;
        for start in 0..self.at.len() {
            if island[start] != usize::MAX {
                continue;
            }
            let mut open = vec![start];
            island[start] = count;
            while let Some(here) = open.pop() {
                for (step, next) in &self.at[here] {
                    let passes = match step {
                        Step::Run(run) => !without.contains(run),
                        Step::Switch(_) => true,
                        Step::Device(..) => false,
                    };
                    if passes && island[next.0] == usize::MAX {
                        island[next.0] = count;
                        open.push(next.0);
                    }
                }
            }
            count += 1;
        }
        let beyond = count;
        let mut cut = Cut::new(count + 1);
        for (i, part) in circuit.parts.iter().enumerate() {
            if let Kind::Protector(d) = &part.kind {
                cut.join(island[d.line.0], island[d.load.0], d.rating.in_amps(), PartId(i));
            }
        }
        match way {
            Way::In => {
                for source in sources {
                    let amps = source.limit.map_or(f64::INFINITY, Current::in_amps);
                    cut.join(beyond, island[source.node.0], amps, source.part);
                }
            }
            Way::Out | Way::OutAll => {
                for (i, take) in self.takes.iter().enumerate() {
                    let Some((at, take)) = take else { continue };
                    let amps = match take {
                        Take::AtMost(amps) if way == Way::Out => *amps,
                        _ => f64::INFINITY,
                    };
                    cut.join(beyond, island[at.0], amps, PartId(i));
                }
            }
        }
        cut.least(beyond, island[node.0])
    }
}

/// Cables of one bar of which it is tried whether each brings or takes.
const MOST_CABLES_TRIED: usize = 8;
/// Sections nearer than this count as one size: 35 mm² and 2 AWG.
const SAME_SECTION: f64 = 1.05;

fn by_section(a: Area, b: Area) -> std::cmp::Ordering {
    a.in_mm2().total_cmp(&b.in_mm2())
}

fn finite(amps: f64) -> Option<Current> {
    amps.is_finite().then(|| Current::amps(amps))
}

/// The most that a load takes in any state, or its rating.
fn own_current(circuit: &Circuit, part: PartId) -> f64 {
    let Kind::Load(load) = &circuit.part(part).kind else { return 0.0 };
    let power = |watts: crate::quantity::Power| (watts / circuit.nominal).in_amps() * SAG;
    let states = circuit.states.iter().map(|s| match s.parts[part.0] {
        Activity::Takes(current) => current.in_amps(),
        Activity::Power(watts) => power(watts),
        _ => 0.0,
    });
    let own = load.rating.map_or(0.0, Current::in_amps).max(load.power.map_or(0.0, power));
    let most = states.fold(own, f64::max);
    // A winch that stalls takes what its feed gives, but not for long: its states say how much and how long.
    if most == 0.0 && load.kind != LoadKind::Winch { f64::INFINITY } else { most }
}

/// A small network of capacities, whose least cut between two nodes is the most that can flow (Ford and Fulkerson).
struct Cut {
    joins: Vec<Join>,
    at: Vec<Vec<usize>>,
}

struct Join {
    ends: (usize, usize),
    amps: f64,
    /// From the first end to the second; negative the other way.
    flow: f64,
    part: PartId,
}

impl Cut {
    fn new(nodes: usize) -> Cut {
        Cut { joins: Vec::new(), at: vec![Vec::new(); nodes] }
    }

    fn join(&mut self, a: usize, b: usize, amps: f64, part: PartId) {
        if a == b {
            return;
        }
        self.at[a].push(self.joins.len());
        self.at[b].push(self.joins.len());
        self.joins.push(Join { ends: (a, b), amps, flow: 0.0, part });
    }

    /// What is left of a join in the direction away from a node, and where it leads.
    fn left(&self, join: usize, from: usize) -> (f64, usize) {
        let j = &self.joins[join];
        if j.ends.0 == from { (j.amps - j.flow, j.ends.1) } else { (j.amps + j.flow, j.ends.0) }
    }

    /// Which nodes can still be reached from one, and by which join.
    fn reached(&self, from: usize) -> Vec<Option<usize>> {
        let mut by = vec![None; self.at.len()];
        let mut seen = vec![false; self.at.len()];
        let mut open = std::collections::VecDeque::from([from]);
        seen[from] = true;
        while let Some(here) = open.pop_front() {
            for join in &self.at[here] {
                let (left, next) = self.left(*join, here);
                if left > 1e-9 && !seen[next] {
                    seen[next] = true;
                    by[next] = Some(*join);
                    open.push_back(next);
                }
            }
        }
        by
    }

    /// The least cut between two nodes and the parts it goes through.
    fn least(mut self, from: usize, to: usize) -> (f64, Vec<PartId>) {
        if from == to {
            return (f64::INFINITY, Vec::new());
        }
        let mut total = 0.0;
        // Each round fills at least one join on a shortest way, so rounds are bounded by joins times nodes.
        for _ in 0..=self.joins.len() * self.at.len() {
            let by = self.reached(from);
            if by[to].is_none() {
                break;
            }
            let mut way = Vec::new();
            let (mut node, mut most) = (to, f64::INFINITY);
            while let (true, Some(join)) = (node != from, by[node]) {
                let ends = self.joins[join].ends;
                let before = if ends.0 == node { ends.1 } else { ends.0 };
                most = most.min(self.left(join, before).0);
                way.push((join, before));
                node = before;
            }
            if most.is_infinite() {
                return (f64::INFINITY, Vec::new());
            }
            for (join, before) in way {
                let j = &mut self.joins[join];
                j.flow += if j.ends.0 == before { most } else { -most };
            }
            total += most;
        }
        let by = self.reached(from);
        let inside = |node: usize| node == from || by[node].is_some();
        let mut parts: Vec<PartId> =
            self.joins.iter().filter(|j| inside(j.ends.0) != inside(j.ends.1)).map(|j| j.part).collect();
        parts.sort();
        parts.dedup();
        (total, parts)
    }
}

/// Follows every path from a source.
struct Walk<'a> {
    graph: &'a Graph,
    paths: Vec<Path>,
    steps: usize,
    complete: bool,
    seen: Vec<bool>,
}

impl Walk<'_> {
    fn on(&mut self, source: usize, node: NodeId, at_source: bool, links: &mut Vec<Link>, nodes: &mut Vec<NodeId>) {
        self.steps += 1;
        if self.steps > STEPS_AT_MOST || self.paths.len() >= PATHS_AT_MOST {
            self.complete = false;
            return;
        }
        let path =
            |links: &[Link], nodes: &[NodeId], end| Path { source, links: links.to_vec(), nodes: nodes.to_vec(), end };
        let own = self.graph.ends[node.0].filter(|_| !at_source);
        if let Some(part) = own {
            self.paths.push(path(links, nodes, End::Part(part)));
        }
        let mut leads_on = false;
        for (step, next) in &self.graph.at[node.0] {
            let link = match step {
                Step::Device(device, _) => {
                    leads_on = true;
                    self.paths.push(path(links, nodes, End::Device(*device)));
                    continue;
                }
                Step::Run(run) => Link::Run(*run),
                Step::Switch(part) => Link::Switch(*part),
            };
            if links.last() != Some(&link) {
                leads_on = true;
            }
            if self.seen[next.0] {
                continue;
            }
            self.seen[next.0] = true;
            links.push(link);
            nodes.push(*next);
            self.on(source, *next, false, links, nodes);
            nodes.pop();
            links.pop();
            self.seen[next.0] = false;
        }
        if own.is_none() && !leads_on && !at_source {
            self.paths.push(path(links, nodes, End::Nothing(node)));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::SourceFile;

    fn wired(parts: &str, runs: &str) -> Circuit {
        let text = format!(
            "---\ntitle: A\nsummary: A.\nwritten: 2026-11-25\nvehicle: {{kind: van, body: steel, drive: diesel}}\n\
             system: 12 V\nzones:\n  bay: {{label: Bay, ambient: 30 °C}}\nparts:\n  \
             battery: {{is: battery, in: bay, chemistry: agm, capacity: 60 Ah, cold-cranking: 600 A}}\n{parts}\
             every-run: {{metal: copper, insulation: xlpe, rated: 105 °C}}\nruns:\n{runs}\
             states:\n  rest: {{}}\n---\n\n1. Nothing.\n"
        );
        let (guide, found) = crate::guide::read(SourceFile::new("a.md", text), "a");
        let guide = guide.unwrap_or_else(|| panic!("{found:#?}"));
        let (circuit, found) = crate::circuit::wire(&guide);
        circuit.unwrap_or_else(|| panic!("{found:#?}"))
    }

    fn names(circuit: &Circuit, supply: &Supply) -> Vec<String> {
        let path = |p: &Path| {
            let mut words = vec![circuit.part(supply.sources[p.source].part).name.clone()];
            words.extend(p.links.iter().map(|l| match l {
                Link::Run(run) => circuit.run(*run).name.clone(),
                Link::Switch(part) => circuit.part(*part).name.clone(),
            }));
            words.push(match p.end {
                End::Device(part) => format!("[{}]", circuit.part(part).name),
                End::Part(part) => circuit.part(part).name.clone(),
                End::Nothing(_) => "nothing".into(),
            });
            words.join(" ")
        };
        supply.paths.iter().map(path).collect()
    }

    const TAPPED: (&str, &str) = (
        "  fuse: {is: fuse, in: bay, rating: 100 A}\n  \
           small: {is: fuse, in: bay, rating: 20 A}\n  post: {is: post, in: bay}\n  \
           panel: {is: panel, in: bay}\n  pump: {is: load, in: bay, rating: 12 A, can-overload: false}\n",
        "  lead: {from: battery+, to: fuse, size: 35 mm², length: 0.4 m, covering: sheath}\n  \
           feed: {from: fuse, to: post, size: 35 mm², length: 2 m}\n  \
           panel-feed: {from: post, to: panel+, size: 35 mm², length: 2 m}\n  \
           tap: {from: post, to: small, size: 2.5 mm², length: 0.1 m}\n  \
           pump-feed: {from: small, to: pump+, size: 2.5 mm², length: 2 m}\n  \
           panel-return: {from: panel-, to: battery-, size: 35 mm², length: 2 m}\n  \
           pump-return: {from: pump-, to: battery-, size: 2.5 mm², length: 2 m}\n",
    );

    #[test]
    fn a_path_ends_at_its_first_device() {
        let circuit = wired(TAPPED.0, TAPPED.1);
        let supply = supply(&circuit);
        assert!(supply.complete);
        assert_eq!(names(&circuit, &supply), ["battery lead [fuse]"]);
        let stretches = supply.paths[0].stretches(&circuit, &supply.sources[0], |_| false);
        assert_eq!(stretches.len(), 1);
        assert_eq!((stretches[0].length.in_metres(), stretches[0].covered), (0.4, true));
    }

    #[test]
    fn what_can_last_in_a_run_is_the_least_cut_of_devices_on_either_side() {
        let circuit = wired(TAPPED.0, TAPPED.1);
        let supply = supply(&circuit);
        let span = |name: &str| {
            let span = supply.span(circuit.run_named(name).unwrap()).unwrap();
            let held: Vec<_> = span.held_by.iter().map(|p| circuit.part(*p).name.as_str()).collect();
            (span.rating.map(Current::in_amps), span.lasting.map(Current::in_amps), held)
        };
        // The lead is held by the fuse after it, the tap by its own fuse and not by the larger one before it.
        assert_eq!(span("lead"), (Some(100.0), Some(100.0), vec!["fuse"]));
        assert_eq!(span("panel-feed"), (Some(100.0), Some(100.0), vec!["fuse"]));
        assert_eq!(span("tap"), (Some(20.0), Some(12.0), vec!["small"]));
        assert_eq!(span("pump-feed"), (Some(20.0), Some(12.0), vec!["small"]));
        assert!(supply.span(circuit.run_named("pump-return").unwrap()).is_none());
    }

    #[test]
    fn through_a_post_goes_what_can_come_and_leave() {
        let circuit = wired(TAPPED.0, TAPPED.1);
        let (part, reach) = &supply(&circuit).studs[0];
        assert_eq!(circuit.part(*part).name, "post");
        // 100 A can come; the panel takes all of it.
        assert_eq!(reach.through, Some(Current::amps(100.0)));
        assert_eq!(reach.held_by.iter().map(|p| circuit.part(*p).name.as_str()).collect::<Vec<_>>(), ["fuse"]);
        // With the pump alone no more than it takes.
        let parts = TAPPED.0.replace("is: panel", "is: load, rating: 30 A, can-overload: false");
        let circuit = wired(&parts, TAPPED.1);
        assert_eq!(supply(&circuit).studs[0].1.through, Some(Current::amps(42.0)));
    }

    #[test]
    fn a_reduction_knows_what_arrives_and_its_own_device() {
        let circuit = wired(TAPPED.0, TAPPED.1);
        let supply = supply(&circuit);
        let reduction = |name: &str| supply.span(circuit.run_named(name).unwrap()).unwrap().reduction.clone();
        let tap = reduction("tap").unwrap();
        assert_eq!(tap.arrives, Some(Current::amps(100.0)));
        let (device, length, covered) = tap.own.unwrap();
        assert_eq!((circuit.part(device).name.as_str(), length.in_metres(), covered), ("small", 0.1, false));
        assert!(reduction("panel-feed").is_none());
        assert!(reduction("pump-feed").is_none());
    }

    #[test]
    fn two_batteries_feed_a_run_from_both_ends() {
        let circuit = wired(
            "  second: {is: battery, in: bay, chemistry: agm, capacity: 60 Ah}\n  fuse: {is: fuse, in: bay, rating: 60 A}\n",
            "  near: {from: battery+, to: fuse, size: 16 mm², length: 0.3 m}\n  \
               far: {from: fuse, to: second+, size: 16 mm², length: 5 m}\n  \
               back: {from: second-, to: battery-, size: 16 mm², length: 5 m}\n",
        );
        let supply = supply(&circuit);
        assert_eq!(names(&circuit, &supply), ["battery near [fuse]", "second far [fuse]"]);
        let far = supply.paths[1].stretches(&circuit, &supply.sources[1], |_| false);
        assert_eq!(far[0].length.in_metres(), 5.0);
    }

    #[test]
    fn a_feed_that_also_starts_is_followed_to_every_end() {
        let circuit = wired(
            "  starter: {is: starter, in: bay, cranking: {current: 100 A, for: 5 s}, bolted-to: engine}\n  \
               engine: {is: engine, in: bay}\n  post: {is: post, in: bay}\n  \
               alternator: {is: alternator, in: bay, output: 60 A, bolted-to: engine}\n  \
               fuse: {is: fuse, in: bay, rating: 30 A}\n  panel: {is: panel, in: bay, bolted-to: engine}\n",
            "  lead: {from: battery+, to: post, size: 35 mm², length: 0.4 m}\n  \
               start: {from: post, to: starter, size: 35 mm², length: 0.6 m}\n  \
               charge: {from: alternator, to: post, size: 16 mm², length: 0.7 m}\n  \
               tap: {from: starter, to: fuse, size: 6 mm², length: 0.1 m}\n  \
               feed: {from: fuse, to: panel, size: 6 mm², length: 1 m}\n  \
               back: {from: battery-, to: engine, size: 35 mm², length: 1 m}\n",
        );
        let supply = supply(&circuit);
        assert_eq!(
            names(&circuit, &supply),
            [
                "battery lead start starter",
                "battery lead start tap [fuse]",
                "battery lead charge alternator",
                "alternator charge lead battery",
                "alternator charge start starter",
                "alternator charge start tap [fuse]",
            ]
        );
        let starts = supply.feeds_starter(&circuit);
        let named: Vec<_> =
            circuit.runs.iter().zip(&starts).filter(|(_, s)| **s).map(|(r, _)| r.name.as_str()).collect();
        assert_eq!(named, ["lead", "start"]);
        // What is tapped off the exempt feed starts at its post.
        let tap = supply.paths[1].stretches(&circuit, &supply.sources[0], |run| starts[run.0]);
        assert_eq!(tap.len(), 1);
        assert_eq!((circuit.part(tap[0].origin).name.as_str(), tap[0].length.in_metres()), ("starter", 0.1));
        // An alternator's own windings limit it; the battery has no limit.
        assert_eq!(supply.sources[1].limit, Some(Current::amps(60.0)));
        // The starter feed has nothing that holds it; the charge lead gets no more than the alternator gives.
        assert_eq!(supply.span(circuit.run_named("start").unwrap()).unwrap().rating, None);
        assert_eq!(supply.span(circuit.run_named("charge").unwrap()).unwrap().rating, Some(Current::amps(60.0)));
        assert_eq!(supply.span(circuit.run_named("feed").unwrap()).unwrap().rating, Some(Current::amps(30.0)));
    }

    #[test]
    fn a_circuit_of_very_many_ways_is_given_up_in_time() {
        let mut parts = String::new();
        let mut runs = String::from("  lead: {from: battery+, to: p0, size: 16 mm², length: 0.1 m}\n");
        for i in 0..12 {
            parts += &format!("  p{i}: {{is: busbar, in: bay}}\n");
            for j in 0..i {
                runs += &format!("  r{i}x{j}: {{from: p{j}, to: p{i}, size: 16 mm², length: 1 m}}\n");
            }
        }
        parts += "  load: {is: load, in: bay, rating: 5 A}\n";
        runs += "  last: {from: p11, to: load+, size: 16 mm², length: 1 m}\n  \
                   back: {from: load-, to: battery-, size: 16 mm², length: 1 m}\n";
        let circuit = wired(&parts, &runs);
        let begun = std::time::Instant::now();
        let supply = supply(&circuit);
        assert!(!supply.complete);
        assert!(begun.elapsed().as_secs() < 5);
    }
}
