//! All the numbers of one guide: currents, voltages and temperatures in every state.
//!
//! Knows no limits and no words: it does not know what is too much, nor how to say it. It hands on
//! a [`Study`]. Work is bounded: no circuit, however odd, makes it run for long.

pub mod endurance;
pub mod faults;
pub mod heat;
pub mod linear;
pub mod network;
pub mod opening;
pub mod parting;
pub mod returns;
pub mod sparse;
pub mod supply;
pub mod together;

use crate::circuit::{Activity, AlternatorView, Circuit, Kind, NodeId, PartId, RunId, StateId};
use crate::guide::{Chemistry, LoadNature};
use crate::handbook::battery::{self, CellKind, ChargeState};
use crate::handbook::conductors;
use crate::quantity::{Current, Duration, Power, Resistance, Temperature, Voltage};

pub use network::NoOperatingPoint;
use network::{Element, Network, Solved};

/// A good joint and a bad one, each end of a run and each bolted return: our judgement, published
/// stud limits running from 0.17 to 0.30 mΩ (MIL-DTL-83454A 4.5.3).
pub const JOINT_BEST_MOHM: f64 = 0.05;
/// See [`JOINT_BEST_MOHM`].
pub const JOINT_WORST_MOHM: f64 = 0.2;
/// End to end, the resistance of a body that nobody measured. No published figure exists; the
/// airframe limit of AC 43.13-1B is 5 mΩ.
pub const BODY_BEST_MOHM: f64 = 0.5;
/// See [`BODY_BEST_MOHM`].
pub const BODY_WORST_MOHM: f64 = 5.0;
/// The charging current, as a share of the capacity in an hour, at which charging voltage is judged.
pub const TAIL_CHARGE_OF_CAPACITY: f64 = 0.1;
/// Rounds in which conductor temperatures and currents are brought to agree.
const HEAT_ROUNDS: usize = 40;
/// Temperatures that move by less have settled.
const HEAT_SETTLED_K: f64 = 1e-3;

/// How warm everything is, jointly: nobody combines a −18 °C battery with 60 °C cables.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Warmth {
    /// Everything at 20 °C, batteries full.
    Cool,
    /// Zones at their ambient, each run at the temperature its current brings it to, batteries half charged.
    Running,
    /// Everything at the author's coldest start, batteries full.
    Cold,
}

/// How good the joints are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Joints {
    /// Every joint at its best.
    Best,
    /// Every joint at its worst.
    Worst,
}

/// Which end of the band an unmeasured body is at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BodyEnd {
    /// Measured, or no body: there is only one.
    Known,
    /// The least resistance of the band.
    Low,
    /// The most.
    High,
}

/// What the sources do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Charge {
    /// No source runs in this state.
    None,
    /// Sources give all they can; batteries take what is left.
    Bulk,
    /// Batteries take a tenth of their capacity in an hour.
    Tail,
    /// As bulk, with every computer-controlled alternator lowered.
    Lowered,
}

/// On which corner of what is unknown a case was solved.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Corner {
    /// Temperatures.
    pub warmth: Warmth,
    /// Joints.
    pub joints: Joints,
    /// Body.
    pub body: BodyEnd,
    /// Sources.
    pub charge: Charge,
}

/// Everything solved.
#[derive(Clone, Debug, Default)]
pub struct Study {
    /// By [`StateId`].
    pub states: Vec<StateStudy>,
    /// By [`RunId`]: the hottest that any continuous state leaves a run, where every fault starts.
    pub hottest: Vec<Temperature>,
    /// Every continuous load on at once, on batteries alone.
    pub together: Option<together::Together>,
    /// Short circuits.
    pub faults: faults::Faults,
    /// Each return and strap taken away in turn.
    pub open_returns: Vec<returns::OpenReturn>,
    /// What feeds what, and which devices stand in between.
    pub supply: supply::Supply,
    /// What can leave an alternator without a battery.
    pub partings: Vec<parting::Parting>,
}

/// One state solved on every corner.
#[derive(Clone, Debug)]
pub struct StateStudy {
    /// Which state.
    pub state: StateId,
    /// Every corner.
    pub cases: Vec<Case>,
    /// By [`RunId`]: the hottest that each run gets in this state, over all corners.
    pub heat: Vec<RunHeat>,
    /// A part's inrush on top of everything else that is on, at 20 °C with the best joints.
    pub surges: Vec<Surge>,
}

/// One corner of one state.
#[derive(Clone, Debug)]
pub struct Case {
    /// Which.
    pub corner: Corner,
    /// Its currents and voltages.
    pub solution: Result<Solution, NoOperatingPoint>,
    /// By [`RunId`]: the temperature at which each run was solved.
    pub temperatures: Vec<Temperature>,
}

/// A part's inrush.
#[derive(Clone, Debug)]
pub struct Surge {
    /// Whose.
    pub part: PartId,
    /// How much.
    pub current: Current,
    /// For how long.
    pub lasts: Duration,
    /// Everything while it lasts.
    pub solution: Result<Solution, NoOperatingPoint>,
}

/// How hot a run gets in a state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RunHeat {
    /// The largest current of any corner.
    pub current: Current,
    /// Where that current would bring it if it went on for good; `None` when no table has the size.
    pub settled: Option<Temperature>,
    /// Where it is at the end of the state.
    pub reached: Option<Temperature>,
}

/// Currents and voltages of every terminal, run and part.
#[derive(Clone, Debug, PartialEq)]
pub struct Solution {
    volts: Vec<f64>,
    runs: Vec<f64>,
    parts: Vec<f64>,
    inputs: Vec<f64>,
    bolts: Vec<f64>,
    body: Vec<f64>,
}

impl Solution {
    /// A node's voltage against the negative of the first source it is joined to: the first battery's post, but an
    /// alternator's case where batteries are charged with a set current.
    pub fn volts(&self, node: NodeId) -> Voltage {
        Voltage::volts(self.volts[node.0])
    }
    /// The voltage from one node to another; positive when the first is higher.
    pub fn between(&self, high: NodeId, low: NodeId) -> Voltage {
        Voltage::volts(self.volts[high.0] - self.volts[low.0])
    }
    /// A run's current, positive from its `from` end to its `to` end.
    pub fn run(&self, run: RunId) -> Current {
        Current::amps(self.runs[run.0])
    }
    /// A part's current: through a device from line to load; into a load's positive; out of a
    /// battery's, alternator's or charger's positive. Nothing for studs, engine and body.
    pub fn part(&self, part: PartId) -> Current {
        Current::amps(self.parts[part.0])
    }
    /// What a charger takes at its input.
    pub fn input(&self, part: PartId) -> Current {
        Current::amps(self.inputs[part.0])
    }
    /// A bolted joint's current, by its place in [`Circuit::bolts`], from the part to what it is bolted to.
    pub fn bolt(&self, index: usize) -> Current {
        Current::amps(self.bolts[index])
    }
    /// A body piece's current, by its place in [`Circuit::body`], rearwards.
    pub fn body(&self, index: usize) -> Current {
        Current::amps(self.body[index])
    }
}

impl Study {
    /// Completes a study of states by short circuits and loose returns.
    pub fn add_faults(&mut self, circuit: &Circuit) {
        self.faults = faults::faults(circuit, &self.hottest);
        self.open_returns = returns::open_returns(circuit, &self.hottest, &self.faults.bolted, None);
    }

    /// The same of a circuit that differs from one that was studied in one run's length, size or resistance, or in
    /// what loads take: short circuits that cannot have changed are taken over from there. Where a run starts
    /// within the thermal iteration's own 0.001 K of what it did, it counts as unchanged.
    pub fn add_faults_after(&mut self, circuit: &Circuit, before: &Study, changed: Option<RunId>) {
        let kept = faults::Kept::of(circuit, changed, &before.faults, &before.hottest, &self.hottest);
        self.faults = faults::faults_after(circuit, &self.hottest, kept.as_ref());
        let kept = kept.as_ref().map(|k| (k, before.open_returns.as_slice()));
        self.open_returns = returns::open_returns(circuit, &self.hottest, &self.faults.bolted, kept);
    }

    /// One state's study.
    pub fn state(&self, id: StateId) -> &StateStudy {
        &self.states[id.0]
    }
}

impl StateStudy {
    /// Cases of one warmth, joints and charge, over the ends of the body's band.
    pub fn at(&self, warmth: Warmth, joints: Joints, charge: Charge) -> impl Iterator<Item = &Case> {
        self.cases
            .iter()
            .filter(move |c| c.corner.warmth == warmth && c.corner.joints == joints && c.corner.charge == charge)
    }

    /// The charge that is judged for heat and loads: bulk when a source runs, else none.
    pub fn main_charge(&self) -> Charge {
        if self.cases.iter().any(|c| c.corner.charge == Charge::Bulk) { Charge::Bulk } else { Charge::None }
    }

    /// The charge on which loads are held to their drop and meters to their readings: batteries nearly full, if the
    /// sources can give that beside all that is on; else batteries take or give what is left, as in bulk.
    pub fn settled_charge(&self) -> Charge {
        let mut tail = self.cases.iter().filter(|c| c.corner.charge == Charge::Tail && c.corner.warmth != Warmth::Cold);
        match self.main_charge() {
            // Wherever bulk was studied, so was this.
            Charge::Bulk if tail.all(|c| c.solution.is_ok()) => Charge::Tail,
            charge => charge,
        }
    }

    /// Whether any corner that the state really meets has no operating point.
    pub fn has_no_operating_point(&self) -> bool {
        self.cases.iter().any(|c| c.corner.charge != Charge::Tail && c.solution.is_err())
    }
}

/// Studies a circuit in every state.
pub fn study(circuit: &Circuit) -> Study {
    let mut study = study_states(circuit);
    study.add_faults(circuit);
    study
}

/// The ordinary running alone: every state, what feeds what, and no short circuit. A trial that fails
/// on this already need not be followed further.
pub fn study_states(circuit: &Circuit) -> Study {
    states_with(circuit, supply::supply(circuit), parting::partings(circuit))
}

/// The same of a circuit that differs from one that was studied in one run's length, size or resistance: of what
/// feeds what, all is taken over that does not rest on them.
pub fn study_states_after(circuit: &Circuit, before: &Study) -> Study {
    states_with(circuit, supply::supply_after(circuit, &before.supply), before.partings.clone())
}

fn states_with(circuit: &Circuit, supply: supply::Supply, partings: Vec<parting::Parting>) -> Study {
    // A short state starts from the hottest that any continuous state leaves behind.
    let mut base = heat::ambients(circuit);
    let mut states: Vec<Option<StateStudy>> = vec![None; circuit.states.len()];
    for (i, _) in circuit.states.iter().enumerate().filter(|(_, s)| s.is_continuous()) {
        states[i] = Some(study_state(circuit, StateId(i), &base));
    }
    for study in states.iter().flatten() {
        for (base, heat) in base.iter_mut().zip(&study.heat) {
            if let Some(reached) = heat.reached {
                *base = base.max(reached);
            }
        }
    }
    for (i, _) in circuit.states.iter().enumerate().filter(|(_, s)| !s.is_continuous()) {
        states[i] = Some(study_state(circuit, StateId(i), &base));
    }
    let together = together::together(circuit);
    Study {
        states: states.into_iter().flatten().collect(),
        hottest: base,
        together,
        faults: faults::Faults::default(),
        open_returns: Vec::new(),
        supply,
        partings,
    }
}

/// The ends of the body's band: one where it was measured.
fn body_ends(circuit: &Circuit) -> &'static [BodyEnd] {
    if circuit.body.iter().any(|s| s.resistance.is_none()) { &[BodyEnd::Low, BodyEnd::High] } else { &[BodyEnd::Known] }
}

fn study_state(circuit: &Circuit, id: StateId, base: &[Temperature]) -> StateStudy {
    let state = &circuit.states[id.0];
    let bodies = body_ends(circuit);
    let mut warmths = vec![Warmth::Cool, Warmth::Running];
    if state.cranks() && circuit.coldest.is_some() {
        warmths.push(Warmth::Cold);
    }
    let mut charges = vec![Charge::None];
    if state.parts.contains(&Activity::Running) {
        charges = vec![Charge::Bulk, Charge::Tail];
        if circuit.lowered_alternators(id) {
            charges.push(Charge::Lowered);
        }
    }
    let mut cases = Vec::new();
    for &warmth in &warmths {
        for joints in [Joints::Best, Joints::Worst] {
            for &body in bodies {
                for &charge in &charges {
                    cases.push(solve_case(circuit, id, Corner { warmth, joints, body, charge }, base));
                }
            }
        }
    }
    let heat = (0..circuit.runs.len())
        .map(|r| {
            let hot = cases.iter().filter(|c| c.corner.warmth == Warmth::Running && c.corner.charge != Charge::Tail);
            let current = hot
                .filter_map(|c| c.solution.as_ref().ok())
                .map(|s| s.run(RunId(r)).abs())
                .fold(Current::zero(), Current::max);
            let run = &circuit.runs[r];
            let settled = heat::settled(circuit, run, current);
            RunHeat {
                current,
                settled,
                reached: settled.map(|settled| heat::reached(run, base[r], settled, state.lasts, state.every)),
            }
        })
        .collect();
    let surges = surges(circuit, id, bodies, charges[0]);
    StateStudy { state: id, cases, heat, surges }
}

/// Solves one corner, bringing conductor temperatures and currents to agree when it is a running one.
fn solve_case(circuit: &Circuit, id: StateId, corner: Corner, base: &[Temperature]) -> Case {
    let state = &circuit.states[id.0];
    let mut temperatures: Vec<Temperature> = match corner.warmth {
        Warmth::Cool => vec![Temperature::celsius(20.0); circuit.runs.len()],
        Warmth::Cold => vec![circuit.coldest.unwrap_or(Temperature::celsius(20.0)); circuit.runs.len()],
        Warmth::Running => base.to_vec(),
    };
    let mut solution = solve(circuit, id, corner, &temperatures, None);
    if corner.warmth == Warmth::Running {
        for _ in 0..HEAT_ROUNDS {
            let Ok(solved) = &solution else { break };
            let mut moved = 0f64;
            for (r, run) in circuit.runs.iter().enumerate() {
                let Some(settled) = heat::settled(circuit, run, solved.run(RunId(r)).abs()) else { continue };
                let next = heat::reached(run, base[r], settled, state.lasts, state.every);
                moved = moved.max((next.si() - temperatures[r].si()).abs());
                temperatures[r] = next;
            }
            if moved < HEAT_SETTLED_K {
                break;
            }
            solution = solve(circuit, id, corner, &temperatures, None);
        }
    }
    Case { corner, solution, temperatures }
}

fn surges(circuit: &Circuit, id: StateId, bodies: &[BodyEnd], charge: Charge) -> Vec<Surge> {
    let state = &circuit.states[id.0];
    let cool = vec![Temperature::celsius(20.0); circuit.runs.len()];
    let mut surges = Vec::new();
    for (i, part) in circuit.parts.iter().enumerate() {
        let inrush = match &part.kind {
            Kind::Starter(s) => s.inrush,
            Kind::Load(l) => l.inrush,
            _ => None,
        };
        let (Some((current, lasts)), true) = (inrush, state.parts[i] != Activity::Idle) else { continue };
        for &body in bodies {
            let corner = Corner { warmth: Warmth::Cool, joints: Joints::Best, body, charge };
            let solution = solve(circuit, id, corner, &cool, Some((PartId(i), current)));
            surges.push(Surge { part: PartId(i), current, lasts, solution });
        }
    }
    surges
}

/// Which element stands for what.
struct Layout {
    runs: Vec<usize>,
    parts: Vec<Option<(usize, f64)>>,
    inputs: Vec<Option<usize>>,
    bolts: Vec<usize>,
    body: Vec<usize>,
}

/// Whether whatever takes a set current has volts to take it at, and whatever gives one has them across it. The equations
/// also hold where sources at their limit are asked for more than they all have: then the loads would push the current
/// round, from volts of the wrong sign. No real circuit works there.
fn everything_is_fed(network: &Network, solved: &Solved) -> bool {
    network.elements.iter().zip(&solved.amps).all(|(element, amps)| {
        let (a, b) = element.ends();
        let across = solved.volts[a] - solved.volts[b];
        match element {
            Element::Draw { .. } => *amps == 0.0 || across > 0.0,
            Element::Regulated { .. } => *amps == 0.0 || across >= 0.0,
            _ => true,
        }
    })
}

/// Solves the circuit in a state with given conductor temperatures; one part may take its inrush.
fn solve(
    circuit: &Circuit,
    id: StateId,
    corner: Corner,
    temperatures: &[Temperature],
    inrush: Option<(PartId, Current)>,
) -> Result<Solution, NoOperatingPoint> {
    let (network, layout) = lay_out(circuit, id, corner, temperatures, inrush);
    let solved = network.solve()?;
    if !everything_is_fed(&network, &solved) {
        return Err(NoOperatingPoint);
    }
    let Solved { volts, amps } = solved;
    Ok(Solution {
        volts,
        runs: layout.runs.iter().map(|e| amps[*e]).collect(),
        parts: layout.parts.iter().map(|e| e.map_or(0.0, |(e, sign)| sign * amps[e])).collect(),
        inputs: layout.inputs.iter().map(|e| e.map_or(0.0, |e| amps[e])).collect(),
        bolts: layout.bolts.iter().map(|e| amps[*e]).collect(),
        body: layout.body.iter().map(|e| amps[*e]).collect(),
    })
}

/// One state of a circuit at 20 °C with the best joints, an unmeasured body at its better end: the
/// solution that trials compare with.
pub fn solve_plain(circuit: &Circuit, id: StateId) -> Result<Solution, NoOperatingPoint> {
    let runs_a_source = circuit.states[id.0].parts.contains(&Activity::Running);
    let unmeasured = circuit.body.iter().any(|s| s.resistance.is_none());
    let corner = Corner {
        warmth: Warmth::Cool,
        joints: Joints::Best,
        body: if unmeasured { BodyEnd::Low } else { BodyEnd::Known },
        charge: if runs_a_source { Charge::Bulk } else { Charge::None },
    };
    solve(circuit, id, corner, &vec![Temperature::celsius(20.0); circuit.runs.len()], None)
}

/// The resistance of a run at a temperature, with its two joints.
pub fn run_resistance(run: &crate::circuit::Run, temperature: Temperature, joint: Resistance) -> Resistance {
    let factor = conductors::resistance_factor(crate::circuit::wire::conductor_metal(run.metal), temperature);
    match run.measured {
        Some(measured) => measured * factor,
        None => run.r20 * factor + run.joint.unwrap_or(joint) * 2.0,
    }
}

/// A joint's resistance where it was not measured.
pub fn joint_resistance(joints: Joints) -> Resistance {
    Resistance::milliohms(match joints {
        Joints::Best => JOINT_BEST_MOHM,
        Joints::Worst => JOINT_WORST_MOHM,
    })
}

/// A body piece's resistance at an end of the band.
pub fn body_resistance(segment: &crate::circuit::BodySegment, end: BodyEnd) -> Resistance {
    segment.resistance.unwrap_or_else(|| {
        let whole = match end {
            BodyEnd::Low => BODY_BEST_MOHM,
            BodyEnd::High | BodyEnd::Known => BODY_WORST_MOHM,
        };
        Resistance::milliohms(whole * segment.share)
    })
}

/// The handbook's kind of cell.
pub fn cell_kind(chemistry: Chemistry) -> CellKind {
    match chemistry {
        Chemistry::Flooded => CellKind::Flooded,
        Chemistry::Agm => CellKind::Agm,
        Chemistry::Gel => CellKind::Gel,
        Chemistry::Lfp => CellKind::Lfp,
    }
}

/// A battery's cranking resistance (polarisation included) at a temperature. Without any figure of
/// its maker: open-circuit voltage over ten times the capacity in Ah, the stationary rule of thumb.
pub fn cranking_resistance(b: &crate::circuit::Battery, temperature: Temperature) -> Resistance {
    if let Some(r) = b.internal {
        return r;
    }
    match b.cold_cranking {
        Some(ccr) => battery::cold_cranking_resistance(ccr) / battery::cold_factor(temperature) * b.units,
        None => {
            let emf = battery::open_circuit(cell_kind(b.chemistry), ChargeState::Full) * b.units;
            emf / Current::amps(10.0 * b.capacity.in_amp_hours())
        }
    }
}

/// The network of a state on a corner, as it was solved; node numbers are those of [`NodeId`]. For those who want to solve
/// it elsewhere.
pub fn network_of(circuit: &Circuit, id: StateId, case: &Case) -> Network {
    lay_out(circuit, id, case.corner, &case.temperatures, None).0
}

fn lay_out(
    circuit: &Circuit,
    id: StateId,
    corner: Corner,
    temperatures: &[Temperature],
    inrush: Option<(PartId, Current)>,
) -> (Network, Layout) {
    let state = &circuit.states[id.0];
    let joint = joint_resistance(corner.joints);
    let mut elements = Vec::with_capacity(circuit.runs.len() + circuit.parts.len() + circuit.bolts.len());
    let mut push = |e: Element| {
        elements.push(e);
        elements.len() - 1
    };
    let resistor = |a: NodeId, b: NodeId, r: Resistance| Element::Resistor { a: a.0, b: b.0, ohms: r.in_ohms() };
    let runs: Vec<usize> = circuit
        .runs
        .iter()
        .zip(temperatures)
        .map(|(run, t)| push(resistor(run.from, run.to, run_resistance(run, *t, joint))))
        .collect();
    let bolts = circuit.bolts.iter().map(|b| push(resistor(b.from, b.to, b.resistance.unwrap_or(joint)))).collect();
    let body = circuit.body.iter().map(|s| push(resistor(s.from, s.to, body_resistance(s, corner.body)))).collect();
    let fed_batteries = match corner.charge {
        Charge::Tail => circuit.batteries_beside_running_sources(id),
        _ => Vec::new(),
    };
    let mut parts = vec![None; circuit.parts.len()];
    let mut inputs = vec![None; circuit.parts.len()];
    let mut highest = circuit.nominal.in_volts();
    for (i, part) in circuit.parts.iter().enumerate() {
        let doing = state.parts[i];
        let surging = inrush.filter(|(p, _)| p.0 == i).map(|(_, current)| current);
        match &part.kind {
            Kind::Protector(d) if doing != Activity::Open => {
                parts[i] = Some((push(resistor(d.line, d.load, d.resistance)), 1.0));
            }
            Kind::Switch(s) if doing != Activity::Open => {
                parts[i] = Some((push(resistor(s.line, s.load, s.resistance)), 1.0));
            }
            Kind::Battery(b) => {
                let (a, negative) = (b.positive.0, b.negative.0);
                let element = if fed_batteries.contains(&PartId(i)) {
                    let amps = TAIL_CHARGE_OF_CAPACITY * b.capacity.in_amp_hours();
                    Element::Draw { a, b: negative, amps }
                } else {
                    let temperature = match corner.warmth {
                        Warmth::Cool => Temperature::celsius(20.0),
                        Warmth::Cold => circuit.coldest.unwrap_or(Temperature::celsius(20.0)),
                        Warmth::Running => part.zone.map_or(Temperature::celsius(20.0), |z| circuit.zone(z).ambient),
                    };
                    let charge = match (corner.warmth, corner.charge) {
                        (_, Charge::Bulk | Charge::Lowered) | (Warmth::Running, _) => ChargeState::Half,
                        _ => ChargeState::Full,
                    };
                    let volts = (battery::open_circuit(cell_kind(b.chemistry), charge) * b.units).in_volts();
                    highest = highest.max(volts);
                    Element::Source { a, b: negative, volts, ohms: cranking_resistance(b, temperature).in_ohms() }
                };
                parts[i] = Some((push(element), -1.0));
            }
            Kind::Alternator(alternator) if doing == Activity::Running => {
                let AlternatorView { set_point, limit } =
                    circuit.alternator_view(alternator, corner.charge == Charge::Lowered);
                highest = highest.max(set_point.in_volts());
                let element = Element::Regulated {
                    a: alternator.positive.0,
                    b: alternator.negative.0,
                    volts: set_point.in_volts(),
                    limit: limit.in_amps(),
                };
                parts[i] = Some((push(element), -1.0));
            }
            Kind::Charger(c) if doing == Activity::Running => {
                highest = highest.max(c.set_point.in_volts());
                let output = push(Element::Regulated {
                    a: c.output.0.0,
                    b: c.output.1.0,
                    volts: c.set_point.in_volts(),
                    limit: c.limit.in_amps(),
                });
                parts[i] = Some((output, -1.0));
                inputs[i] = c.input.map(|(positive, negative)| {
                    push(Element::Follows {
                        a: positive.0,
                        b: negative.0,
                        element: output,
                        efficiency: c.efficiency.in_ones(),
                    })
                });
            }
            Kind::Starter(s) if doing == Activity::Cranking => {
                let current = surging.unwrap_or(s.cranking.0);
                parts[i] = Some((push(draw(s.positive, s.negative, current)), 1.0));
            }
            Kind::Load(l) => {
                let element = match (doing, surging) {
                    (Activity::Idle | Activity::Open | Activity::Running | Activity::Cranking, _) => continue,
                    (_, Some(current)) => draw(l.positive, l.negative, current),
                    (Activity::Takes(current), None) => match l.nature {
                        LoadNature::Current => draw(l.positive, l.negative, current),
                        LoadNature::Resistance if current > Current::zero() => {
                            resistor(l.positive, l.negative, circuit.nominal / current)
                        }
                        LoadNature::Resistance => draw(l.positive, l.negative, current),
                        LoadNature::Power => power(l.positive, l.negative, circuit.nominal * current),
                    },
                    (Activity::Power(watts), None) => match l.nature {
                        LoadNature::Resistance if watts > Power::zero() => {
                            resistor(l.positive, l.negative, circuit.nominal / (watts / circuit.nominal))
                        }
                        _ => power(l.positive, l.negative, watts),
                    },
                };
                parts[i] = Some((push(element), 1.0));
            }
            _ => {}
        }
    }
    (Network { nodes: circuit.nodes.len(), elements, nominal: highest }, Layout { runs, parts, inputs, bolts, body })
}

fn draw(a: NodeId, b: NodeId, current: Current) -> Element {
    Element::Draw { a: a.0, b: b.0, amps: current.in_amps() }
}

fn power(a: NodeId, b: NodeId, watts: Power) -> Element {
    Element::Power { a: a.0, b: b.0, watts: watts.in_watts() }
}
