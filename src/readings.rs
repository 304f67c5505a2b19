//! Meter readings that prove the job: for each state and span, where the probes go, what the meter
//! should show, and at which reading to stop.
//!
//! Knows no site and no words but names. A reading is a voltage across a span, never a current
//! through the meter: the current is read with a DC clamp, and the reading scaled by it.

use crate::circuit::{Activity, Battery, Circuit, Kind, NodeId, PartId, RunId, StateId};
use crate::guide::Chemistry;
use crate::handbook::{conductors, limits};
use crate::quantity::{Current, Voltage};
use crate::study::{Solution, StateStudy, Study, Warmth};

/// A drop that is smaller, every joint at its worst, is not worth a reading; our judgement.
const LEAST_TOLD_V: f64 = 0.01;
/// The lowest range of a common meter, in which it shows millivolts; from memory.
const LOWEST_RANGE_V: f64 = 0.2;
/// A part has its way to the battery to itself when every run on it carries at least this share of the part's
/// current, and the part this share of the run's; our judgement.
const ALONE: f64 = 0.8;
/// A run carries all of a part's current when it differs by no more than this share.
const SAME_CURRENT: f64 = 0.02;

/// A charger's battery may stand this much over what was predicted, in shares of it; our judgement.
const OVER_CHARGE: f64 = 1.02;

/// What a reading is taken across.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SpanKind {
    /// From the battery's positive post to a part's positive.
    Feed,
    /// From a part's return to the battery's negative post.
    Return,
    /// From a source's positive to the battery's positive post.
    ChargeFeed,
    /// From the battery's negative post to a source's return.
    ChargeReturn,
    /// Across the battery's own posts.
    Terminals,
}

/// One reading to take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeterReading {
    /// In which state.
    pub state: StateId,
    /// What it is across.
    pub kind: SpanKind,
    /// The part it is about; the battery for its own posts.
    pub part: PartId,
    /// Red probe.
    pub red: NodeId,
    /// Black probe.
    pub black: NodeId,
    /// What the meter should show, from joints at their best to joints at their worst. Predicted drops
    /// start at 0.86 of their figure, for cable is better than its standard's maximum.
    pub expected: (Voltage, Voltage),
    /// Stop at this reading: more for a drop, less for a battery's posts.
    pub stop: Voltage,
    /// The source of that limit.
    pub stop_source: &'static str,
    /// Across the posts of a battery that is charged, stop at this reading and over it as well; with the limit's source.
    pub stop_over: Option<(Voltage, &'static str)>,
    /// Where a DC clamp goes, and the current for which the figures hold.
    pub clamp: Option<(RunId, Current)>,
    /// The figures hold only for a battery that is nearly full, and how that is told.
    pub filled: Option<Filled>,
}

/// How it is told that a battery is full enough for a reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Filled {
    /// A DC clamp around this run shows no more than this flowing into the battery.
    Clamp(RunId, Current),
    /// By no one cable: several share what it takes.
    Unshown,
}

impl MeterReading {
    /// The figures for another current that the clamp shows: drops grow with it.
    pub fn scaled(&self, shown: Current) -> MeterReading {
        let Some((run, current)) = self.clamp.filter(|_| self.kind != SpanKind::Terminals) else { return *self };
        let factor = if current > Current::zero() { shown / current } else { 1.0 };
        MeterReading {
            expected: (self.expected.0 * factor, self.expected.1 * factor),
            stop: self.stop * factor,
            clamp: Some((run, shown)),
            ..*self
        }
    }
}

/// Every reading worth taking, state by state in the author's order.
pub fn readings(circuit: &Circuit, study: &Study) -> Vec<MeterReading> {
    study.states.iter().flat_map(|s| of_state(circuit, s)).collect()
}

fn of_state(circuit: &Circuit, study: &StateStudy) -> Vec<MeterReading> {
    let state = &circuit.states[study.state.0];
    // A meter is held to a battery that is nearly full more often than to one in bulk.
    let charge = study.settled_charge();
    let cases: Vec<&Solution> = study
        .cases
        .iter()
        .filter(|c| c.corner.charge == charge && c.corner.warmth != Warmth::Cold)
        .filter_map(|c| c.solution.as_ref().ok())
        .collect();
    let Some(first) = cases.first() else { return Vec::new() };
    let scene = Scene { circuit, id: study.state, cases: &cases };
    let mut readings = Vec::new();
    for (i, part) in circuit.parts.iter().enumerate() {
        let id = PartId(i);
        match (&part.kind, state.parts[i]) {
            (Kind::Starter(s), Activity::Cranking) => {
                let system = circuit.nominal;
                let (feed, back) = (limits::starting_feed(system), limits::starting_return(system));
                scene.drop(
                    &mut readings,
                    SpanKind::Feed,
                    id,
                    (s.positive, s.negative),
                    Some((feed.value, feed.source)),
                );
                scene.drop(
                    &mut readings,
                    SpanKind::Return,
                    id,
                    (s.positive, s.negative),
                    Some((back.value, back.source)),
                );
            }
            (Kind::Load(l), Activity::Takes(_) | Activity::Power(_)) if !state.cranks() => {
                scene.drop(&mut readings, SpanKind::Feed, id, (l.positive, l.negative), None);
                scene.drop(&mut readings, SpanKind::Return, id, (l.positive, l.negative), None);
            }
            (Kind::Alternator(a), Activity::Running) => {
                scene.drop(&mut readings, SpanKind::ChargeFeed, id, (a.positive, a.negative), None);
                scene.drop(&mut readings, SpanKind::ChargeReturn, id, (a.positive, a.negative), None);
            }
            (Kind::Charger(c), Activity::Running) => {
                scene.drop(&mut readings, SpanKind::ChargeFeed, id, (c.output.0, c.output.1), None);
                scene.drop(&mut readings, SpanKind::ChargeReturn, id, (c.output.0, c.output.1), None);
            }
            (Kind::Battery(b), _) if first.part(id).abs() > Current::zero() => {
                scene.posts(&mut readings, id, b.positive, b.negative);
            }
            _ => {}
        }
    }
    readings
}

struct Scene<'a> {
    circuit: &'a Circuit,
    id: StateId,
    cases: &'a [&'a Solution],
}

impl Scene<'_> {
    /// A drop between one of a part's terminals (positive, negative) and the post of its battery.
    fn drop(
        &self,
        into: &mut Vec<MeterReading>,
        kind: SpanKind,
        part: PartId,
        (positive, negative): (NodeId, NodeId),
        limit: Option<(Voltage, &'static str)>,
    ) {
        let Some((battery, posts, way)) = self.battery_of(positive) else { return };
        let (red, black, terminal, other) = match kind {
            SpanKind::Feed => (posts.positive, positive, positive, negative),
            SpanKind::ChargeFeed => (positive, posts.positive, positive, negative),
            SpanKind::ChargeReturn => (posts.negative, negative, negative, positive),
            SpanKind::Return | SpanKind::Terminals => (negative, posts.negative, negative, positive),
        };
        let drops: Vec<f64> = self.cases.iter().map(|s| s.between(red, black).in_volts()).collect();
        let (low, high) =
            (drops.iter().copied().fold(f64::INFINITY, f64::min), drops.iter().copied().fold(0.0, f64::max));
        // Of what a running source feeds past the battery, the battery's way tells nothing.
        if high < LEAST_TOLD_V || low < 0.0 {
            return;
        }
        // A span that should be well within its limit is not left to it: a joint that spoils it is hot long before.
        let over_worst = limits::bad_from(Voltage::volts(high));
        let published = limit.map(|(volts, source)| match self.good_practice(kind) {
            Some(good) if high <= good.value.in_volts() => (good.value, good.source),
            _ => (volts, source),
        });
        let (stop, stop_source) =
            published.filter(|(volts, _)| *volts <= over_worst.value).unwrap_or((over_worst.value, over_worst.source));
        let clamp = self.clamp(part, terminal, other, &way);
        into.push(MeterReading {
            state: self.id,
            kind,
            part,
            red,
            black,
            // Nothing at or past the stop is ever called good.
            expected: (
                Voltage::volts((low * conductors::PREDICTION_BAND.0).max(0.0)).min(stop),
                Voltage::volts(high).min(stop),
            ),
            stop,
            stop_source,
            stop_over: None,
            clamp,
            // What the battery takes flows through the span too.
            filled: if clamp.is_none() { self.filled(battery) } else { None },
        });
    }

    /// How it is told that a battery which is charged takes no more than in any case here: by a clamp around a run at one
    /// of its posts that carries all of it. `None` where nothing charges it.
    fn filled(&self, battery: PartId) -> Option<Filled> {
        let Kind::Battery(posts) = &self.circuit.part(battery).kind else { return None };
        if !self.cases.iter().all(|s| s.part(battery) < Current::zero()) {
            return None;
        }
        let all = |run: &RunId| {
            self.cases.iter().all(|s| {
                let taken = -s.part(battery).in_amps();
                (s.run(*run).abs().in_amps() - taken).abs() <= SAME_CURRENT * taken
            })
        };
        let run = [posts.positive, posts.negative].into_iter().flat_map(|n| self.circuit.runs_at(n)).find(all);
        let most = self.cases.iter().map(|s| s.part(battery).abs()).fold(Current::zero(), Current::max);
        Some(run.map_or(Filled::Unshown, |run| Filled::Clamp(run, most)))
    }

    /// What good practice asks of a cranking starter's span.
    fn good_practice(&self, kind: SpanKind) -> Option<limits::Limit<Voltage>> {
        (kind == SpanKind::Return).then(|| limits::starting_return_good(self.circuit.nominal))
    }

    fn posts(&self, into: &mut Vec<MeterReading>, part: PartId, red: NodeId, black: NodeId) {
        let volts: Vec<f64> = self.cases.iter().map(|s| s.between(red, black).in_volts()).collect();
        let low = volts.iter().copied().fold(f64::INFINITY, f64::min);
        let high = volts.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let state = &self.circuit.states[self.id.0];
        // Alternators differ by more than cables do: where one runs, what any of them may regulate to is no fault.
        let serves = |is: fn(&Kind, Activity) -> Option<NodeId>| {
            let mut terminals =
                self.circuit.parts.iter().zip(&state.parts).filter_map(|(p, doing)| is(&p.kind, *doing));
            terminals.any(|terminal| self.battery_of(terminal).is_some_and(|(_, posts, _)| posts.positive == red))
        };
        let alternator = serves(|kind, doing| match kind {
            Kind::Alternator(a) if doing == Activity::Running => Some(a.positive),
            _ => None,
        });
        let cranks = serves(|kind, doing| match kind {
            Kind::Starter(s) if doing == Activity::Cranking => Some(s.positive),
            _ => None,
        });
        let charges = self.cases.iter().all(|s| s.part(part) < Current::zero());
        let (low, high) = if charges && alternator {
            let (least, most) = limits::alternator_regulation(self.circuit.nominal);
            (low.min(least.value.in_volts()), high.max(most.value.in_volts()))
        } else {
            (low, high)
        };
        let over_charge = (Voltage::volts(OVER_CHARGE * high), "judgement");
        let stop_over = if alternator {
            let most = limits::ecu_alternator_most(self.circuit.nominal);
            // A lithium cell bears less over its charging voltage than a lead one.
            let is_lithium = matches!(&self.circuit.part(part).kind, Kind::Battery(b) if b.chemistry == Chemistry::Lfp);
            Some(if is_lithium && over_charge.0 < most.value { over_charge } else { (most.value, most.source) })
        } else {
            charges.then_some(over_charge)
        };
        // Under the least that was predicted: a weak battery, or a load nobody knows of. Our judgement: a battery that
        // cranks may be a tenth under it, one at work a fiftieth: its least is that of half a charge.
        let share = if cranks { 0.9 } else { 0.98 };
        into.push(MeterReading {
            state: self.id,
            kind: SpanKind::Terminals,
            part,
            red,
            black,
            expected: (Voltage::volts(low), Voltage::volts(high)),
            stop: Voltage::volts(share * low),
            stop_source: "judgement",
            stop_over,
            clamp: None,
            filled: self.filled(part),
        });
    }

    /// The battery that a part is fed from or feeds: the nearest to its positive terminal along runs, devices and
    /// switches that are closed. Never one beyond a charger, whose posts may well stand at nearly the same voltage.
    /// With the runs on the way.
    fn battery_of(&self, positive: NodeId) -> Option<(PartId, &Battery, Vec<RunId>)> {
        let circuit = self.circuit;
        let mut ohms = vec![f64::INFINITY; circuit.nodes.len()];
        *ohms.get_mut(positive.0)? = 0.0;
        let mut came: Vec<Option<(usize, usize)>> = vec![None; circuit.nodes.len()];
        // Runs first, so that a link's place is its run's.
        let mut links: Vec<(NodeId, NodeId, f64)> =
            circuit.runs.iter().map(|r| (r.from, r.to, r.measured.unwrap_or(r.r20).in_ohms())).collect();
        for (i, part) in circuit.parts.iter().enumerate() {
            if let Some((line, load)) = part.through()
                && circuit.states[self.id.0].parts[i] != Activity::Open
            {
                links.push((line, load, 0.0));
            }
        }
        // As many rounds as there are links reach everything; most circuits settle in a few.
        for _ in 0..links.len() {
            let mut settled = true;
            for (link, (a, b, r)) in links.iter().enumerate() {
                for (from, to) in [(a.0, b.0), (b.0, a.0)] {
                    if ohms[from] + r < ohms[to] {
                        ohms[to] = ohms[from] + r;
                        came[to] = Some((link, from));
                        settled = false;
                    }
                }
            }
            if settled {
                break;
            }
        }
        let (id, nearest) = circuit
            .batteries()
            .filter(|(_, battery)| ohms[battery.positive.0].is_finite())
            .min_by(|(_, a), (_, b)| ohms[a.positive.0].total_cmp(&ohms[b.positive.0]))?;
        let (mut way, mut at) = (Vec::new(), nearest.positive.0);
        // Resistances are not negative, so a way has no more links than there are nodes.
        while let Some((link, from)) = came[at].filter(|_| way.len() <= circuit.nodes.len()) {
            way.push(link);
            at = from;
        }
        way.retain(|link| *link < circuit.runs.len());
        Some((id, nearest, way.into_iter().map(RunId).collect()))
    }

    /// Where a clamp shows a part's current: a run at one of its terminals that carries all of it, its own first.
    /// What is bolted down has none on that side, and what goes in on the other comes back.
    /// None where runs on the way carry much more or less than the part: drops do not grow with its current then.
    fn clamp(&self, part: PartId, terminal: NodeId, other: NodeId, way: &[RunId]) -> Option<(RunId, Current)> {
        let solution = self.cases.first()?;
        let whole = solution.part(part).abs().in_amps();
        let is_its = |r: &RunId| {
            let amps = solution.run(*r).abs().in_amps();
            amps >= ALONE * whole && amps * ALONE <= whole
        };
        if !way.iter().all(is_its) {
            return None;
        }
        [terminal, other]
            .into_iter()
            .flat_map(|node| self.circuit.runs_at(node))
            .map(|r| (r, solution.run(r).abs()))
            .find(|(_, amps)| whole > 0.0 && (amps.in_amps() - whole).abs() <= SAME_CURRENT * whole)
    }
}

/// Volts as a meter shows them: millivolts in its lowest range, else volts to two places.
pub fn on_meter(volts: Voltage) -> String {
    on_meter_beside(volts, volts)
}

/// The same in the range that another value of its row asks for.
pub fn on_meter_beside(volts: Voltage, beside: Voltage) -> String {
    if beside.abs().in_volts() < LOWEST_RANGE_V {
        format!("{:.0} mV", volts.in_volts() * 1000.0)
    } else {
        format!("{:.2} V", volts.in_volts())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rules::testing::{VAN, studied};

    #[test]
    fn the_starters_readings_name_both_probes_the_band_and_the_reading_at_which_to_stop() {
        let van = studied(VAN);
        let all = readings(&van.circuit, &van.study);
        let starter = van.circuit.part_named("starter").unwrap();
        let feed = all.iter().find(|r| r.part == starter && r.kind == SpanKind::Feed).unwrap();
        assert_eq!(van.circuit.node(feed.red).name, "battery+");
        assert_eq!(van.circuit.node(feed.black).name, "starter+");
        // 0.36 V solved at 20 °C with the best joints, times 0.86; hot and with the worst joints more.
        assert!((feed.expected.0.in_volts() - 0.86 * 0.362).abs() < 0.01, "{feed:?}");
        assert!(feed.expected.0 < feed.expected.1 && feed.stop == Voltage::volts(0.5));
        assert!(all.iter().filter(|r| r.kind != SpanKind::Terminals).all(|r| r.expected.1 <= r.stop));
        let (run, amps) = feed.clamp.unwrap();
        assert_eq!(van.circuit.run(run).name, "starter-feed");
        assert!((amps.in_amps() - 140.0).abs() < 1e-6);
        let half = feed.scaled(Current::amps(70.0));
        assert!((half.stop.in_volts() - 0.25).abs() < 1e-12);
        assert_eq!(half.clamp.unwrap().1, Current::amps(70.0));
    }

    #[test]
    fn a_return_without_a_cable_of_its_own_is_scaled_by_the_clamp_around_the_feed() {
        let van = studied(VAN);
        let all = readings(&van.circuit, &van.study);
        let starter = van.circuit.part_named("starter").unwrap();
        let back = all.iter().find(|r| r.part == starter && r.kind == SpanKind::Return).unwrap();
        assert_eq!(van.circuit.run(back.clamp.unwrap().0).name, "starter-feed");
        assert_eq!(
            (on_meter(Voltage::volts(0.0312)), on_meter(Voltage::volts(12.345))),
            ("31 mV".into(), "12.35 V".into())
        );
    }

    #[test]
    fn no_probe_goes_to_a_battery_beyond_a_charger() {
        let camper = concat!(env!("CARGO_MANIFEST_DIR"), "/content/second-battery-in-a-camper/guide.md");
        let camper = studied(&std::fs::read_to_string(camper).unwrap());
        let all = readings(&camper.circuit, &camper.study);
        let of = |name: &str| camper.circuit.part_named(name).unwrap();
        let (start, living) = (of("start-battery"), of("living-battery"));
        for (part, battery) in
            [("starter", start), ("alternator", start), ("charger", living), ("living-panel", living)]
        {
            let spans: Vec<_> = all.iter().filter(|r| r.part == of(part)).collect();
            assert!(!spans.is_empty(), "{part}");
            for r in spans {
                let ends = [r.red, r.black].map(|n| camper.circuit.node(n).part);
                assert!(ends.contains(&battery), "{part}: {r:?}");
            }
        }
    }

    #[test]
    fn only_the_starters_and_the_alternators_own_battery_has_their_bands() {
        let camper = concat!(env!("CARGO_MANIFEST_DIR"), "/content/second-battery-in-a-camper/guide.md");
        let camper = studied(&std::fs::read_to_string(camper).unwrap());
        let posts = |battery: &str, state: usize| {
            let id = camper.circuit.part_named(battery).unwrap();
            let all = readings(&camper.circuit, &camper.study);
            all.into_iter().find(|r| (r.part, r.state, r.kind) == (id, StateId(state), SpanKind::Terminals)).unwrap()
        };
        let share = |r: MeterReading| r.stop.in_volts() / r.expected.0.in_volts();
        let (starting, driving) = (0, 1);
        assert!((share(posts("start-battery", starting)) - 0.9).abs() < 1e-9);
        assert!((share(posts("living-battery", starting)) - 0.98).abs() < 1e-9);
        assert_eq!(posts("start-battery", driving).expected.0, Voltage::volts(13.5));
        // A charger's own set-point of 14.4 V, less what its cables lose.
        assert!(posts("living-battery", driving).expected.0.in_volts() > 14.2);
    }

    #[test]
    fn a_span_well_within_its_limit_is_stopped_long_before_it() {
        let van = studied(VAN);
        let starter = van.circuit.part_named("starter").unwrap();
        for reading in readings(&van.circuit, &van.study).iter().filter(|r| r.part == starter) {
            let limit = match reading.kind {
                SpanKind::Feed => limits::starting_feed(van.circuit.nominal),
                _ => limits::starting_return(van.circuit.nominal),
            };
            let judged = limits::bad_from(reading.expected.1);
            assert!(reading.stop <= limit.value && reading.stop <= judged.value, "{reading:?}");
        }
        // The least that a meter tells, and half as much again where that is more; they meet at 40 mV.
        let from = |volts: f64| limits::bad_from(Voltage::volts(volts)).value.in_volts();
        assert!((from(0.01) - 0.03).abs() < 1e-12 && (from(0.04) - 0.06).abs() < 1e-12);
        assert!((from(0.1) - 0.15).abs() < 1e-12);
    }

    #[test]
    fn what_charges_tells_by_a_clamp_when_its_figures_hold_and_stops_on_both_sides() {
        let van = studied(VAN);
        let battery = van.circuit.part_named("battery").unwrap();
        let Kind::Battery(posts) = &van.circuit.part(battery).kind else { panic!() };
        let charging = StateId(1);
        let mut gated = 0;
        for r in readings(&van.circuit, &van.study) {
            let charges = r.state == charging;
            assert_eq!(r.stop_over.is_some(), charges && r.kind == SpanKind::Terminals, "{r:?}");
            if let Some((volts, source)) = r.stop_over {
                assert_eq!((volts, source), (Voltage::volts(15.5), "ecu-alternator"));
                assert!(r.expected.1 < volts);
            }
            if let Some(Filled::Clamp(run, current)) = r.filled {
                let run = van.circuit.run(run);
                assert!([run.from, run.to].iter().any(|n| [posts.positive, posts.negative].contains(n)), "{r:?}");
                // A tenth of its capacity in an hour.
                assert!((current.in_amps() - 0.1 * posts.capacity.in_amp_hours()).abs() < 1e-6, "{r:?}");
                gated += 1;
            }
            assert!(!charges || r.clamp.is_some() || r.filled.is_some(), "{r:?}");
        }
        assert!(gated > 2);
    }

    #[test]
    fn a_charger_may_not_give_more_than_a_fiftieth_over() {
        let camper = concat!(env!("CARGO_MANIFEST_DIR"), "/content/second-battery-in-a-camper/guide.md");
        let camper = studied(&std::fs::read_to_string(camper).unwrap());
        let living = camper.circuit.part_named("living-battery").unwrap();
        let all = readings(&camper.circuit, &camper.study);
        let of = |state: usize| {
            all.iter().find(|r| (r.part, r.state, r.kind) == (living, StateId(state), SpanKind::Terminals)).unwrap()
        };
        let (over, source) = of(1).stop_over.unwrap();
        assert!((over.in_volts() - 1.02 * of(1).expected.1.in_volts()).abs() < 1e-9 && source == "judgement");
        assert_eq!(of(2).stop_over, None);
        // Starter, alternator and charger all hang on the start battery's posts: no one cable shows what it takes.
        let start = camper.circuit.part_named("start-battery").unwrap();
        let posts = |r: &&MeterReading| (r.part, r.state, r.kind) == (start, StateId(1), SpanKind::Terminals);
        assert_eq!(all.iter().find(posts).unwrap().filled, Some(Filled::Unshown));
    }

    #[test]
    fn a_battery_that_fills_is_read_across_its_posts() {
        let van = studied(VAN);
        let all = readings(&van.circuit, &van.study);
        let charging = StateId(1);
        let posts = all.iter().find(|r| r.state == charging && r.kind == SpanKind::Terminals).unwrap();
        assert!(posts.expected.0.in_volts() == 13.5 && posts.expected.1.in_volts() == 14.5, "{posts:?}");
    }
}
