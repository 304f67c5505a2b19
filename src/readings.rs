//! Meter readings that prove the job: for each state and span, where the probes go, what the meter
//! should show, and at which reading to stop.
//!
//! Knows no site and no words but names. A reading is a voltage across a span, never a current
//! through the meter: the current is read with a DC clamp, and the reading scaled by it.

use crate::circuit::{Activity, Circuit, Kind, NodeId, PartId, Polarity, RunId, StateId};
use crate::handbook::{conductors, limits};
use crate::quantity::{Current, Voltage};
use crate::study::{Solution, StateStudy, Study, Warmth};

/// A span without a published limit is stopped at this many times the worst that was predicted; our
/// judgement.
pub const STOP_OVER_WORST: f64 = 1.5;
/// A meter of two decimals tells no less than this.
const LEAST_TOLD_V: f64 = 0.01;

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
    /// Where a DC clamp goes, and the current for which the figures hold.
    pub clamp: Option<(RunId, Current)>,
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
                scene.drop(&mut readings, SpanKind::Feed, id, s.positive, Some((feed.value, feed.source)));
                scene.drop(&mut readings, SpanKind::Return, id, s.negative, Some((back.value, back.source)));
            }
            (Kind::Load(l), Activity::Takes(_) | Activity::Power(_)) if !state.cranks() => {
                scene.drop(&mut readings, SpanKind::Feed, id, l.positive, None);
                scene.drop(&mut readings, SpanKind::Return, id, l.negative, None);
            }
            (Kind::Alternator(a), Activity::Running) => {
                scene.drop(&mut readings, SpanKind::ChargeFeed, id, a.positive, None);
                scene.drop(&mut readings, SpanKind::ChargeReturn, id, a.negative, None);
            }
            (Kind::Charger(c), Activity::Running) => {
                scene.drop(&mut readings, SpanKind::ChargeFeed, id, c.output.0, None);
                scene.drop(&mut readings, SpanKind::ChargeReturn, id, c.output.1, None);
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
    /// A drop between a part's terminal and the post of the battery on the same circuit.
    fn drop(
        &self,
        into: &mut Vec<MeterReading>,
        kind: SpanKind,
        part: PartId,
        terminal: NodeId,
        limit: Option<(Voltage, &'static str)>,
    ) {
        let Some(post) = self.post_beside(terminal) else { return };
        let (red, black) = match kind {
            SpanKind::Feed | SpanKind::ChargeReturn => (post, terminal),
            _ => (terminal, post),
        };
        let drops: Vec<f64> = self.cases.iter().map(|s| s.between(red, black).in_volts()).collect();
        let (low, high) =
            (drops.iter().copied().fold(f64::INFINITY, f64::min), drops.iter().copied().fold(0.0, f64::max));
        if high < LEAST_TOLD_V {
            return;
        }
        let (stop, stop_source) = match limit {
            Some((volts, source)) => (volts, source),
            None => (Voltage::volts(STOP_OVER_WORST * high), "judgement"),
        };
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
            clamp: self.clamp(terminal),
        });
    }

    fn posts(&self, into: &mut Vec<MeterReading>, part: PartId, red: NodeId, black: NodeId) {
        let volts: Vec<f64> = self.cases.iter().map(|s| s.between(red, black).in_volts()).collect();
        let low = volts.iter().copied().fold(f64::INFINITY, f64::min);
        let high = volts.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        into.push(MeterReading {
            state: self.id,
            kind: SpanKind::Terminals,
            part,
            red,
            black,
            expected: (Voltage::volts(low), Voltage::volts(high)),
            // A tenth under the least that was predicted: a weak battery, or a load nobody knows of.
            stop: Voltage::volts(0.9 * low),
            stop_source: "judgement",
            clamp: None,
        });
    }

    /// The battery post on the same side that leads to a terminal through the least resistance: the one
    /// across which the drop is least, of batteries whose conductors reach it.
    fn post_beside(&self, terminal: NodeId) -> Option<NodeId> {
        let polarity = self.circuit.node(terminal).polarity;
        let solution = self.cases.first()?;
        self.circuit
            .batteries()
            .filter(|(id, _)| solution.part(*id).abs() > Current::zero())
            .map(|(_, b)| if polarity == Polarity::Positive { b.positive } else { b.negative })
            .filter(|post| self.circuit.node(*post).polarity == polarity)
            .min_by(|a, b| {
                let drop = |n: &NodeId| solution.between(*n, terminal).abs().in_volts();
                drop(a).total_cmp(&drop(b))
            })
    }

    /// The run at a terminal that carries most: where a clamp shows the part's current.
    fn clamp(&self, terminal: NodeId) -> Option<(RunId, Current)> {
        let solution = self.cases.first()?;
        self.circuit
            .runs_at(terminal)
            .map(|r| (r, solution.run(r).abs()))
            .max_by(|a, b| a.1.si().total_cmp(&b.1.si()))
            .filter(|(_, amps)| *amps > Current::zero())
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
    fn a_battery_that_fills_is_read_across_its_posts() {
        let van = studied(VAN);
        let all = readings(&van.circuit, &van.study);
        let charging = StateId(1);
        let posts = all.iter().find(|r| r.state == charging && r.kind == SpanKind::Terminals).unwrap();
        assert!(posts.expected.0.in_volts() > 14.1 && posts.expected.1.in_volts() <= 14.4, "{posts:?}");
    }
}
