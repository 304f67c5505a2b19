#![doc = include_str!("conductor_hot.md")]

use super::drops::MEASURE_BODY;
use super::{Bench, Bound, Comparison, Family, Judgement, Rule};
use crate::circuit::wire::{Conductor, hottest};
use crate::circuit::{Run, RunId, StateId};
use crate::finding::Severity;
use crate::handbook::conductors;
use crate::quantity::{Current, Show, Temperature};
use crate::study::{Charge, Warmth, heat};

/// The rule.
pub const RULE: Rule = Rule {
    id: "conductor-hot",
    family: Family::Running,
    title: "how hot every cable and strap gets in every state",
    worst: Severity::Unsafe,
    sources: &["cfr33-183-425", "iec-60949"],
    page: include_str!("conductor_hot.md"),
    judge,
};

/// How hot a run gets in one state: with joints and body at their kindest, and at their worst.
#[derive(Clone, Copy)]
struct Hot {
    state: StateId,
    kindest: Temperature,
    worst: Temperature,
}

impl Hot {
    /// What fails at its kindest comes first, then what fails at its worst, then the hottest.
    fn bites(self, rated: Temperature) -> (u8, Temperature) {
        let over = |t| !Bound::AtMost.holds(t, rated);
        match (over(self.kindest), over(self.worst)) {
            (true, _) => (2, self.kindest),
            (false, true) => (1, self.worst),
            (false, false) => (0, self.worst),
        }
    }
}

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (r, run) in bench.circuit.runs.iter().enumerate() {
        // A size that no table has is a question of its own.
        if run.iz30.is_none() {
            continue;
        }
        let id = RunId(r);
        let Some(hot) = hottest_state(bench, id) else { continue };
        let state = &bench.circuit.states[hot.state.0];
        let when = match state.lasts {
            Some(lasts) => format!("{}, after {}", state.label, lasts.show()),
            None => format!("{}, settled", state.label),
        };
        let limit = bench.limits.standing(RULE.id, run.rated, Bound::AtMost);
        let unsafe_ = !Bound::AtMost.holds(hot.kindest, limit);
        let value = if unsafe_ { hot.kindest } else { hot.worst };
        judgement.compare(
            bench,
            Comparison {
                rule: RULE.id,
                subject: run.name.clone(),
                at: bench.run_span(id),
                case: when,
                value,
                limit,
                bound: Bound::AtMost,
                severity: if unsafe_ { Severity::Unsafe } else { Severity::Query },
                sources: RULE.sources.to_vec(),
            },
            || {
                let what = if run.strap { "what a bare strap may reach" } else { "what its insulation stands" };
                let if_ = if unsafe_ { "" } else { "with joints and an unmeasured body at their worst, " };
                format!("{if_}`{}` reaches {}; {what} is {}", run.name, value.show_both(), limit.show_both())
            },
            || {
                let current = bench.study.state(hot.state).heat[r].current;
                let mut advice: Vec<String> =
                    cooler(bench, run, hot.state, current, bench.study.hottest[r]).into_iter().collect();
                if unsafe_ {
                    advice.push(match run.iz.filter(|_| state.is_continuous()) {
                        Some(iz) => {
                            format!("or let it carry no more than {}, which is what it may where it lies", iz.show())
                        }
                        None => format!("or let it carry less than {}, or for a shorter time", current.show()),
                    });
                } else {
                    advice.push(MEASURE_BODY.to_string());
                }
                advice
            },
        );
    }
}

/// The state that makes a run hottest.
fn hottest_state(bench: &Bench<'_>, id: RunId) -> Option<Hot> {
    let rated = bench.limits.standing(RULE.id, bench.circuit.run(id).rated, Bound::AtMost);
    let mut found: Option<Hot> = None;
    for (state, _, study) in bench.states() {
        for charge in [Charge::None, Charge::Bulk, Charge::Lowered] {
            let reached = study
                .cases
                .iter()
                .filter(|c| c.corner.warmth == Warmth::Running && c.corner.charge == charge && c.solution.is_ok())
                .map(|c| c.temperatures[id.0]);
            let (Some(kindest), Some(worst)) =
                (reached.clone().reduce(Temperature::min), reached.reduce(Temperature::max))
            else {
                continue;
            };
            let hot = Hot { state, kindest, worst };
            if found.is_none_or(|f| hot.bites(rated) > f.bites(rated)) {
                found = Some(hot);
            }
        }
    }
    found
}

/// The first larger size that stays within its insulation's rating at this current, in words.
fn cooler(bench: &Bench<'_>, run: &Run, state: StateId, current: Current, base: Temperature) -> Option<String> {
    let state = &bench.circuit.states[state.0];
    let base = if state.is_continuous() { heat::ambient(bench.circuit, run) } else { base };
    let (_, factor) = hottest(&bench.circuit.zones, &run.laid, run.rated);
    conductors::ladder(run.size).iter().filter(|s| s.section() > run.size.section()).find_map(|size| {
        let conductor = Conductor::of(*size, None, run.metal, run.rated);
        let larger = Run {
            size: *size,
            section: conductor.section,
            r20: conductor.per_metre * run.length.in_metres(),
            iz30: conductor.iz30,
            iz: conductor.iz30.map(|i| i * factor),
            ..run.clone()
        };
        let settled = heat::settled(bench.circuit, &larger, current)?;
        let reached = heat::reached(&larger, base.min(settled), settled, state.lasts, state.every);
        Bound::AtMost
            .holds(reached, run.rated)
            .then(|| format!("in {} it would reach {}", size.show(), reached.show_both()))
    })
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::handbook::conductors;
    use crate::quantity::Temperature;
    use crate::rules::testing::{assert_edge_at, changed, check_rule, edge, finds, tripping};

    /// One cable in air of 30 °C that carries `amps`.
    fn guide(amps: f64) -> String {
        let amps = format!("{amps:.5} A");
        changed(
            &tripping("conductor-hot"),
            &[
                ("rating: 45 A, can", &format!("rating: {amps}, can")),
                ("pump: 45 A}", &format!("pump: {amps}}}")),
                ("capacity: 60 Ah", "capacity: 200 Ah"),
            ],
        )
    }

    #[test]
    fn the_edge_is_the_insulation_s_rating_at_the_table_s_current() {
        // 33 CFR 183.425 Table 5, 105 °C: a metric 2.5 mm² takes the row of 14 AWG, 35 A at 30 °C.
        let edge = edge("conductor-hot", Severity::Unsafe, guide, 20.0, 45.0);
        assert_edge_at(&edge, 273.15 + 105.0);
        assert_eq!(finds("conductor-hot", &guide(35.0)), []);
        assert_eq!(finds("conductor-hot", &guide(35.01)).len(), 3);
    }

    #[test]
    fn a_short_state_is_judged_at_its_end() {
        // 45 A settle 2.5 mm² at 154 °C, but 10 s bring it nowhere near: τ is 63 s.
        let short = changed(&guide(45.0), &[("45.00000 A}", "45 A, for: 10 s}")]);
        assert_eq!(finds("conductor-hot", &short), []);
        let repeated = changed(&guide(45.0), &[("45.00000 A}", "45 A, for: 10 min, every: 11 min}")]);
        assert_eq!(finds("conductor-hot", &repeated).len(), 3);
    }

    #[test]
    fn an_engine_space_lets_it_carry_less() {
        // Note 1 of Table 5: 0.85 at 105 °C; 35 A become 29.75 A.
        let engine =
            |amps: f64| changed(&guide(amps), &[("label: Open locker", "label: Engine box, engine-space: true")]);
        assert_eq!(finds("conductor-hot", &engine(29.7)), []);
        assert_eq!(finds("conductor-hot", &engine(29.8)).len(), 3);
    }

    #[test]
    fn advice_names_the_first_size_that_is_cool_enough() {
        let found = check_rule("conductor-hot", &tripping("conductor-hot")).findings;
        // 4 mm² takes 12 AWG, 45 A: at its rating and not over it.
        assert_eq!(found[0].advice[0], "in 4 mm² it would reach 105 °C (221 °F)");
    }

    #[test]
    fn engine_space_factors_from_memory_are_never_harsher_than_physics() {
        for rated in conductors::RATINGS {
            let (factor, _) = conductors::engine_space_factor(Temperature::celsius(rated));
            let at_50 = ((rated - 50.0) / (rated - 30.0)).sqrt();
            // 105 °C was read, and prints 0.85 for 0.856.
            assert!(factor >= at_50 - 1e-9 || rated == 105.0, "{rated} °C: {factor} is harsher than {at_50}");
        }
    }
}
