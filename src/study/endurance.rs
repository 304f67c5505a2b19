//! How long a battery lasts and how long it takes to fill.
//!
//! Capacities are taken as printed (they hold for a discharge over many hours; a large current gets
//! less), and what a battery loses by itself is left out: every figure here is a best one.

use super::{Charge, Solution, StateStudy, Study, Warmth, cell_kind, cranking_resistance};
use crate::circuit::{Activity, Battery, Circuit, Kind, PartId, StateId};
use crate::guide::Chemistry;
use crate::handbook::battery::{self, ChargeState};
use crate::quantity::{Current, Duration, Ratio, Resistance, Temperature, Voltage};

/// Under this share of its charge nobody counts on a start, whatever the numbers say: our judgement.
pub const NO_START_BELOW: f64 = 0.25;
/// From this share on, a lead-acid battery takes no more than [`super::TAIL_CHARGE_OF_CAPACITY`]: our judgement.
const TAIL_FROM: f64 = 0.8;
/// Under this current a battery neither gives nor takes.
const STILL_A: f64 = 1e-6;

/// One battery in one state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Endurance {
    /// Which.
    pub battery: PartId,
    /// What it gives, on the corner where it gives most; negative when it is being filled, then on
    /// the corner where it takes least.
    pub gives: Current,
    /// From full to half charge, when it gives.
    pub to_half: Option<Duration>,
    /// From full until a start cannot be counted on, when it gives in a state that goes on for good
    /// with no source running, and it has a starter to crank.
    pub to_no_start: Option<Duration>,
    /// From half charge to full, when it is being filled. At least: the last fifth of a lead-acid
    /// battery takes no more than a tenth of its capacity in an hour.
    pub to_full: Option<Duration>,
}

/// Every battery in a state, in the author's order. Empty when the state has no operating point.
/// Under `starter_least` at its terminals a cranking starter is not counted on.
pub fn of(circuit: &Circuit, study: &Study, id: StateId, starter_least: Voltage) -> Vec<Endurance> {
    let Some(state_study) = study.states.get(id.0) else { return Vec::new() };
    let state = &circuit.states[id.0];
    let charge = state_study.main_charge();
    let solved: Vec<&Solution> = state_study
        .cases
        .iter()
        .filter(|c| c.corner.warmth == Warmth::Running && c.corner.charge == charge)
        .filter_map(|c| c.solution.as_ref().ok())
        .collect();
    circuit
        .batteries()
        .filter_map(|(part, b)| {
            let gives = solved.iter().map(|s| s.part(part)).reduce(Current::max)?;
            let mut found = Endurance { battery: part, gives, to_half: None, to_no_start: None, to_full: None };
            if gives.in_amps() > STILL_A {
                found.to_half = Some(b.capacity * 0.5 / gives);
                if charge == Charge::None && state.is_continuous() && !state.cranks() {
                    let left = no_start_charge(circuit, study, part, b, starter_least);
                    found.to_no_start = left.map(|left| b.capacity * (1.0 - left.in_ones()) / gives);
                }
            } else if gives.in_amps() < -STILL_A {
                found.to_full = Some(fill(b, -gives));
            }
            Some(found)
        })
        .collect()
}

fn fill(b: &Battery, current: Current) -> Duration {
    match b.chemistry {
        Chemistry::Lfp => b.capacity * 0.5 / current,
        Chemistry::Flooded | Chemistry::Agm | Chemistry::Gel => {
            let tail = current.min(Current::amps(super::TAIL_CHARGE_OF_CAPACITY * b.capacity.in_amp_hours()));
            b.capacity * (TAIL_FROM - 0.5) / current + b.capacity * (1.0 - TAIL_FROM) / tail
        }
    }
}

/// The share of its charge at which a battery no longer holds a cranking starter at `least`, at the author's
/// coldest start where there is one; never under [`NO_START_BELOW`]. `None` when the battery cranks nothing.
///
/// As it empties its voltage falls from 12.6 V through 12.2 V at half to 11.6 V (`open-circuit-lead`), and its
/// resistance grows from the full figure to 1.5 times that at half and twice at nothing (our judgement).
pub fn no_start_charge(
    circuit: &Circuit,
    study: &Study,
    battery: PartId,
    b: &Battery,
    least: Voltage,
) -> Option<Ratio> {
    let mut worst: Option<f64> = None;
    for state in study.states.iter() {
        for (starter, part) in circuit.parts.iter().enumerate() {
            let Kind::Starter(s) = &part.kind else { continue };
            if circuit.states[state.state.0].parts[starter] != Activity::Cranking {
                continue;
            }
            let Some((across, gives, resistance)) = cranked(circuit, state, battery, b, s) else { continue };
            let holds = |left: f64| across - fallen(b, left) - gives * (resistance * (1.0 - left)) >= least;
            // From empty up, to a hundredth: a curve so soft needs no finer step.
            let left = (0..=100).map(|i| f64::from(i) / 100.0).find(|left| holds(*left)).unwrap_or(1.0);
            let left = left.max(NO_START_BELOW);
            worst = Some(worst.map_or(left, |w: f64| w.max(left)));
        }
    }
    worst.map(Ratio::of)
}

/// A starter's voltage on a full battery, what the battery gives it, and the battery's full resistance.
fn cranked(
    circuit: &Circuit,
    state: &StateStudy,
    battery: PartId,
    b: &Battery,
    s: &crate::circuit::Starter,
) -> Option<(Voltage, Current, Resistance)> {
    let (warmth, at) = match circuit.coldest {
        Some(coldest) => (Warmth::Cold, coldest),
        None => (Warmth::Cool, Temperature::celsius(20.0)),
    };
    let charge = state.main_charge();
    state
        .cases
        .iter()
        .filter(|c| c.corner.warmth == warmth && c.corner.charge == charge)
        .filter_map(|c| c.solution.as_ref().ok())
        .map(|solved| (solved.between(s.positive, s.negative), solved.part(battery)))
        .filter(|(_, gives)| gives.in_amps() > STILL_A)
        .min_by(|a, b| a.0.si().total_cmp(&b.0.si()))
        .map(|(across, gives)| (across, gives, cranking_resistance(b, at)))
}

/// How far a battery's open-circuit voltage has fallen from full.
fn fallen(b: &Battery, left: f64) -> Voltage {
    let kind = cell_kind(b.chemistry);
    let (full, half) = (battery::open_circuit(kind, ChargeState::Full), battery::open_circuit(kind, ChargeState::Half));
    let upper = full - half;
    // Lead-acid falls faster in its lower half: 12.2 V to 11.6 V. Lithium's cliff at the end lies below what is counted on.
    let lower = match b.chemistry {
        Chemistry::Lfp => upper,
        Chemistry::Flooded | Chemistry::Agm | Chemistry::Gel => Voltage::volts(0.6),
    };
    let of_one = if left >= 0.5 { upper * ((1.0 - left) / 0.5) } else { upper + lower * ((0.5 - left) / 0.5) };
    of_one * b.units
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuit::wire;
    use crate::quantity::Voltage;
    use crate::source::SourceFile;
    use crate::study::study;

    /// The van of the rules' tests, changed.
    fn endurance(changes: &[(&str, &str)], state: &str) -> Vec<Endurance> {
        let mut text = include_str!("../rules/testing/van.md").to_string();
        for (from, to) in changes {
            assert_eq!(text.matches(from).count(), 1, "{from}");
            text = text.replacen(from, to, 1);
        }
        let (guide, found) = crate::guide::read(SourceFile::new("van.md", text), "van");
        let guide = guide.unwrap_or_else(|| panic!("{found:?}"));
        let circuit = wire(&guide).0.expect("it can be wired");
        let study = study(&circuit);
        let id = circuit.states.iter().position(|s| s.name == state).expect("there is such a state");
        of(&circuit, &study, StateId(id), Voltage::volts(8.0))
    }

    fn near(a: Option<Duration>, hours: f64) {
        let a = a.expect("there is a time").in_hours();
        assert!((a - hours).abs() < 1e-3 * hours, "{a} is not {hours}");
    }

    #[test]
    fn half_of_it_over_its_current() {
        // 30 Ah over 12 A; a state of two hours is not parked.
        let found = endurance(&[], "engine-off");
        near(found[0].to_half, 2.5);
        assert_eq!((found[0].to_no_start, found[0].to_full), (None, None));
    }

    #[test]
    fn a_parked_van_starts_until_a_quarter_is_left() {
        // Cranking at 20 °C leaves the starter above 8 V to the last, so that our floor decides: 45 Ah over 20 mA.
        let parked = endurance(&[("engine-off: {panel: 12 A, for: 2 h}", "parked: {panel: 20 mA}")], "parked");
        near(parked[0].to_no_start, 0.75 * 60.0 / 0.02);
        near(parked[0].to_half, 1500.0);
    }

    #[test]
    fn a_weak_battery_in_the_cold_gives_up_sooner_and_a_hopeless_one_at_once() {
        let days = |cranking: &str| {
            let changes = [
                ("engine-off: {panel: 12 A, for: 2 h}", "parked: {panel: 20 mA}"),
                ("system: 12 V", "system: 12 V\ncoldest: −18 °C"),
                ("640 A EN", cranking),
            ];
            endurance(&changes, "parked")[0].to_no_start.expect("it cranks").in_hours()
        };
        let (strong, weak, hopeless) = (days("640 A EN"), days("250 A EN"), days("100 A EN"));
        assert!(hopeless < 1e-9 && hopeless < weak && weak < strong, "{hopeless} {weak} {strong}");
    }

    #[test]
    fn it_fills_in_bulk_and_then_by_a_tenth_an_hour() {
        // 90 A less 45 A of the panel: 18 Ah at 45 A, then 12 Ah at 6 A.
        let found = endurance(&[], "charging");
        near(found[0].to_full, 18.0 / 45.0 + 2.0);
        // A weak source gives the last fifth no more than it has: 4 A all the way.
        let weak = endurance(&[("output: 90 A", "output: 49 A")], "charging");
        near(weak[0].to_full, 30.0 / 4.0);
        // Lithium takes it all to the end.
        let lithium = endurance(
            &[("chemistry: agm", "chemistry: lfp"), ("cold-cranking: 640 A EN", "internal-resistance: 5 mΩ")],
            "charging",
        );
        near(lithium[0].to_full, 30.0 / 45.0);
    }
}
