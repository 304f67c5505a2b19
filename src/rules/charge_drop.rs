#![doc = include_str!("charge_drop.md")]

use super::drops::{Held, Spread, joined, leading_source, source_terminals, thicker_between};
use super::{Bench, Bound, Family, Judgement, Rule, case_words, over_body, words};
use crate::circuit::{Battery, Circuit, Kind, PartId, State, StateId};
use crate::finding::{Check, Outcome, Severity};
use crate::handbook::limits;
use crate::quantity::{Current, Show, Voltage};
use crate::study::{Charge, Joints, Solution, StateStudy, TAIL_CHARGE_OF_CAPACITY, Warmth};

/// The rule.
pub const RULE: Rule = Rule {
    id: "charge-drop",
    family: Family::Running,
    title: "the voltage that a battery gets while it is filled, under the voltage that its source is set to",
    worst: Severity::Query,
    sources: &["common-practice", "ecu-alternator"],
    page: include_str!("charge_drop.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (battery, b) in bench.circuit.batteries() {
        let fed = |id| bench.circuit.batteries_beside_running_sources(id).contains(&battery);
        let filled: Vec<_> = bench.states().filter(|(id, state, _)| fed(*id) && !state.cranks()).collect();
        // A short state in which a winch pulls is not how a battery fills, when there is a longer one.
        let for_good = filled.iter().any(|(_, state, _)| state.is_continuous());
        for (id, state, study) in filled.into_iter().filter(|(_, state, _)| state.is_continuous() || !for_good) {
            let filling = Filling { bench, state, study, id: battery, b };
            if filling.tail(judgement) {
                filling.bulk(judgement);
            }
            filling.lowered(judgement, id);
        }
    }
}

/// One battery that is being filled in one state.
struct Filling<'a> {
    bench: &'a Bench<'a>,
    state: &'a State,
    study: &'a StateStudy,
    id: PartId,
    b: &'a Battery,
}

impl Filling<'_> {
    fn name(&self) -> &str {
        &self.bench.circuit.part(self.id).name
    }

    fn held<'h>(
        &'h self,
        spread: Spread,
        says: &'h dyn Fn(Voltage) -> String,
        mend: &'h dyn Fn() -> Vec<String>,
    ) -> Held<'h, Voltage> {
        Held {
            rule: RULE.id,
            subject: self.name(),
            at: self.bench.part_span(self.id),
            state: &self.state.label,
            warmth: Warmth::Running,
            spread,
            figure: Voltage::volts,
            limit: limits::charging(self.bench.circuit.nominal),
            bound: Bound::AtMost,
            says,
            mend,
        }
    }

    /// A tenth of the capacity in an hour, and the loads. Whether it passed.
    fn tail(&self, judgement: &mut Judgement) -> bool {
        let (bench, name) = (self.bench, self.name());
        let amps = Current::amps(TAIL_CHARGE_OF_CAPACITY * self.b.capacity.in_amp_hours());
        let groups = joined(bench.circuit, &self.state.parts);
        let short = |solved: &Solution| {
            let source = leading_source(bench.circuit, &groups, solved, self.b.positive);
            let set_point = source.and_then(|s| set_point(bench.circuit, s));
            set_point.map_or(0.0, |set| (set - solved.between(self.b.positive, self.b.negative)).in_volts())
        };
        let Some(spread) = Spread::of(self.study, Warmth::Running, Charge::Tail, short) else {
            return self.not_filled(judgement, amps);
        };
        let says = |short: Voltage| {
            format!(
                "`{name}` is filled {} under what its source is set to, at {} and with the loads on",
                short.show(),
                amps.show()
            )
        };
        let mend = || {
            let thicker = Spread::kindest_solution(self.study, Warmth::Running, Charge::Tail).and_then(|solved| {
                let source = leading_source(bench.circuit, &groups, solved, self.b.positive)?;
                let (positive, negative) = source_terminals(bench.circuit, source)?;
                let too_much = Voltage::volts(short(solved)) - limits::charging(bench.circuit.nominal).value;
                thicker_between(bench, solved, positive, self.b.positive, too_much)
                    .into_iter()
                    .chain(thicker_between(bench, solved, negative, self.b.negative, too_much))
                    .next()
            });
            let otherwise = vec![
                "use a thicker cable out and back between source and battery, or a return cable in place of the body"
                    .into(),
                "or fill it through a charger that sits beside it".into(),
            ];
            thicker.into_iter().chain(otherwise).collect()
        };
        self.held(spread, &says, &mend).soft(bench, judgement, Severity::Query)
    }

    /// The sources cannot give the loads and a tenth of the capacity in an hour.
    fn not_filled(&self, judgement: &mut Judgement, amps: Current) -> bool {
        let name = self.name();
        judgement.say(
            self.bench,
            Check {
                rule: RULE.id,
                subject: name.to_string(),
                case: format!("{}, {}", self.state.label, case_words(Warmth::Running, Joints::Worst)),
                value: words("the sources give less"),
                limit: words(&format!("the loads and {}", amps.show())),
                margin: String::new(),
                outcome: Outcome::Found(Severity::Query),
                sources: vec!["common-practice"],
            },
            self.bench.part_span(self.id),
            || {
                format!(
                    "in `{}` the sources cannot feed the loads and fill `{name}` at {}: it may never fill",
                    self.state.name,
                    amps.show()
                )
            },
            || vec!["take loads off in this state, or take a source that gives more".into()],
        )
    }

    /// Everything that the source can give: a note on what the cables lose.
    fn bulk(&self, judgement: &mut Judgement) {
        let (bench, name) = (self.bench, self.name());
        let groups = joined(bench.circuit, &self.state.parts);
        let lost = |solved: &Solution| {
            let source = leading_source(bench.circuit, &groups, solved, self.b.positive).filter(|s| *s != self.id);
            source.and_then(|s| source_terminals(bench.circuit, s)).map_or(0.0, |(positive, negative)| {
                (solved.between(positive, negative) - solved.between(self.b.positive, self.b.negative)).in_volts()
            })
        };
        let Some(spread) = Spread::of(self.study, Warmth::Running, Charge::Bulk, lost) else { return };
        let says =
            |lost: Voltage| format!("with its source at full output the cables to `{name}` lose {}", lost.show());
        let mend = || vec!["it fills more slowly than it could; nothing is overloaded by this alone".into()];
        self.held(spread, &says, &mend).soft(bench, judgement, Severity::Note);
    }

    /// The engine's computer lowers the alternator: does the battery give instead of take?
    fn lowered(&self, judgement: &mut Judgement, id: StateId) {
        if !self.bench.circuit.lowered_alternators(id) {
            return;
        }
        let name = self.name();
        let cases = self.study.at(Warmth::Running, Joints::Worst, Charge::Lowered);
        let Some((_, gives)) = over_body(cases, |_, solved| solved.part(self.id).in_amps()) else { return };
        let floor = limits::ecu_alternator(self.bench.circuit.nominal);
        judgement.compare(
            self.bench,
            super::Comparison {
                rule: RULE.id,
                subject: name.to_string(),
                at: self.bench.part_span(self.id),
                case: format!(
                    "{}, alternator lowered to {}, {}",
                    self.state.label,
                    floor.value.show(),
                    case_words(Warmth::Running, Joints::Worst)
                ),
                value: Current::amps(gives),
                limit: Current::zero(),
                bound: Bound::AtMost,
                severity: Severity::Note,
                sources: vec![floor.source],
            },
            || {
                format!(
                    "while the engine's computer holds the alternator at {}, `{name}` is not filled: it gives {}",
                    floor.value.show(),
                    Current::amps(gives).show()
                )
            },
            || vec!["a battery that must fill on such a vehicle needs a charger between it and the alternator".into()],
        );
    }
}

fn set_point(circuit: &Circuit, source: PartId) -> Option<Voltage> {
    match &circuit.part(source).kind {
        Kind::Alternator(a) => Some(a.set_point),
        Kind::Charger(c) => Some(c.set_point),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, assert_edge_at, changed, check_rule, edge, finds, mended};

    #[test]
    fn the_edge_is_two_tenths_of_a_volt() {
        let guide = |mohm: f64| {
            let lead = format!("length: 1.2 m, resistance: {mohm:.5} mΩ");
            changed(&mended("charge-drop"), &[("length: 1.2 m", &lead)])
        };
        assert_edge_at(&edge("charge-drop", Severity::Query, guide, 1.0, 60.0), 0.2);
    }

    #[test]
    fn a_source_that_cannot_feed_loads_and_battery_asks() {
        // 8 A for the battery of 80 Ah: 70 A are enough for no more than 62 A besides.
        let with = |amps: &str| {
            changed(
                VAN,
                &[
                    ("output: 90 A", "output: 70 A"),
                    ("capacity: 60 Ah", "capacity: 80 Ah"),
                    ("panel: 45 A", &format!("panel: {amps}")),
                ],
            )
        };
        let queries = |text: &str| finds("charge-drop", text).iter().filter(|f| f.0 == Severity::Query).count();
        assert_eq!(queries(&with("63 A")), 1);
        let judged = check_rule("charge-drop", &with("63 A"));
        assert!(judged.findings[0].message.contains("may never fill"), "{}", judged.findings[0].message);
    }

    #[test]
    fn a_short_state_does_not_fill_a_battery_where_a_long_one_does() {
        let pulling =
            changed(VAN, &[("  engine-off:", "  heavy: {alternator: running, panel: 89 A, for: 10 s}\n  engine-off:")]);
        assert_eq!(finds("charge-drop", &pulling), finds("charge-drop", VAN));
    }

    #[test]
    fn an_alternator_lowered_by_the_engine_s_computer_informs() {
        let lowered = changed(
            VAN,
            &[("set-point: 14.4 V, bolted-to: engine", "set-point: 14.4 V, control: ecu, bolted-to: engine")],
        );
        let notes = finds("charge-drop", &lowered);
        assert_eq!(notes.len(), finds("charge-drop", VAN).len() + 1, "{notes:?}");
        assert!(notes.iter().all(|n| n.0 == Severity::Note));
    }
}
