//! Conductors that warm with their current, and resist it more as they warm.
//!
//! The study brings temperatures and currents to agree by going round. Here they are solved at once, by algebra; and
//! a duty that repeats is stepped through in time.

use goodground::circuit::{Circuit, Run, RunId, StateId, wire};
use goodground::guide;
use goodground::quantity::{Duration, Temperature};
use goodground::source::SourceFile;
use goodground::study::{self, Case, Charge, Joints, Warmth, heat};

/// Battery, two equal cables, one load; nothing else. Every figure is invented.
fn circuit(takes: &str, states: &str) -> Circuit {
    let text = format!(
        "---
title: Two cables
summary: A battery, two equal cables and a load. Every figure is invented.
written: 2026-11-25
vehicle: {{kind: boat, body: composite, drive: none}}
system: 12 V
zones:
  hold: {{label: Hold, ambient: {AMBIENT} °C}}
parts:
  battery: {{is: battery, in: hold, chemistry: agm, capacity: 200 Ah, internal-resistance: {BATTERY_MOHM} mΩ, mass: 60 kg}}
  load: {{is: load, in: hold, takes: {takes}, rating: 60 A}}
every-run: {{metal: copper, insulation: xlpe, rated: 105 °C, covering: sheath}}
runs:
  feed: {{from: battery+, to: load+, size: 10 mm², length: {LENGTH} m}}
  return: {{from: load-, to: battery-, size: 10 mm², length: {LENGTH} m}}
states:
{states}
---
Invented.
"
    );
    let (read, findings) = guide::read(SourceFile::new("two-cables.md", text), "two-cables");
    let (circuit, wired) = wire(&read.unwrap_or_else(|| panic!("{findings:?}")));
    circuit.unwrap_or_else(|| panic!("{wired:?}"))
}

const AMBIENT: f64 = 45.0;
const BATTERY_MOHM: f64 = 4.0;
const LENGTH: f64 = 6.0;
/// IEC 60228:2004 table 3: 10 mm² class 5 copper at 20 °C, Ω/m.
const OHM_PER_M: f64 = 1.91e-3;
/// A half-charged 12 V unit at rest.
const EMF: f64 = 12.2;
/// Insulation's rating and the air of the allowable-current table, °C.
const RATED: f64 = 105.0;
const TABLE_AIR: f64 = 30.0;
/// Copper's resistance is a straight line in temperature that meets nothing at −234.5 °C.
const PER_KELVIN: f64 = 1.0 / 254.5;

/// The circuit as algebra: one loop, both cables at one temperature T = base + rise × I².
///
/// E = I × (fixed + cable (1 + α (T − 20))), so with T put in:
/// E = I × (cold + warm × I²), where cold = fixed + cable (1 + α (base − 20)) and warm = cable × α × rise.
struct Loop {
    cold: f64,
    warm: f64,
    base: f64,
    rise: f64,
}

impl Loop {
    /// `load` ohms in the loop beside battery, four joints of 0.05 mΩ and both cables.
    fn new(load: f64, base: f64, rise: f64) -> Loop {
        let fixed = BATTERY_MOHM * 1e-3 + 4.0 * 0.05e-3 + load;
        let cable = 2.0 * LENGTH * OHM_PER_M;
        Loop { cold: fixed + cable * (1.0 + PER_KELVIN * (base - 20.0)), warm: cable * PER_KELVIN * rise, base, rise }
    }

    /// The one real root of warm I³ + cold I − E = 0. With p = cold/warm and q = E/warm, I³ + p I = q has
    /// I = 2 √(p/3) sinh(⅓ asinh((3q/2p) √(3/p))) (the hyperbolic form of Cardano's).
    fn amps(&self) -> f64 {
        let (p, q) = (self.cold / self.warm, EMF / self.warm);
        2.0 * (p / 3.0).sqrt() * ((1.5 * q / p * (3.0 / p).sqrt()).asinh() / 3.0).sinh()
    }

    /// The watts that reach a load that takes a current: (E − I (cold + warm I²)) I, the load itself in no resistance.
    fn watts(&self, amps: f64) -> f64 {
        (EMF - amps * (self.cold + self.warm * amps * amps)) * amps
    }

    fn celsius(&self, amps: f64) -> f64 {
        self.base + self.rise * amps * amps
    }
}

fn feed(circuit: &Circuit) -> &Run {
    circuit.run(circuit.run_named("feed").expect("a run"))
}

/// Kelvins a square ampere for good: (Tr − 30)/Iz².
fn rise(circuit: &Circuit) -> f64 {
    (RATED - TABLE_AIR) / feed(circuit).iz30.expect("a size in the table").in_amps().powi(2)
}

/// τ = C/g: what a metre of the conductor holds a kelvin, 3.45 J/(cm³ K) of copper, over what it gives off a kelvin,
/// which is Iz² R′ over the table's rise.
fn time_constant(circuit: &Circuit) -> f64 {
    let iz = feed(circuit).iz30.expect("a size in the table").in_amps();
    let ohm_per_m = OHM_PER_M * (1.0 + PER_KELVIN * (RATED - 20.0));
    let (holds, gives_off) = (3.45 * 10.0, iz * iz * ohm_per_m / (RATED - TABLE_AIR));
    holds / gives_off
}

/// The running case of a state at the best joints.
fn running(study: &study::Study, state: usize) -> &Case {
    study.state(StateId(state)).at(Warmth::Running, Joints::Best, Charge::None).next().expect("a running case")
}

#[track_caller]
fn agrees(case: &Case, amps: f64, celsius: f64) {
    let found = case.solution.as_ref().expect("an operating point").run(RunId(0)).in_amps();
    assert!((found / amps - 1.0).abs() < 1e-6, "{found} A where algebra has {amps} A");
    for temperature in &case.temperatures {
        let found = temperature.in_celsius();
        assert!((found - celsius).abs() < 1e-3, "{found} °C where algebra has {celsius} °C");
    }
}

#[test]
fn a_resistance_fed_through_warming_cables_takes_what_the_cubic_says() {
    for asked in [20.0, 45.0, 70.0] {
        let circuit = circuit("resistance", &format!("  heating: {{load: {asked} A}}"));
        let study = study::study(&circuit);
        // A resistance that would take so much at 12 V.
        let algebra = Loop::new(12.0 / asked, AMBIENT, rise(&circuit));
        let amps = algebra.amps();
        assert!(algebra.celsius(amps) > AMBIENT + 3.0, "the cables hardly warm: nothing is tried");
        agrees(running(&study, 0), amps, algebra.celsius(amps));
    }
}

#[test]
fn a_constant_power_fed_through_warming_cables_takes_what_algebra_says() {
    // Backwards: at so many amperes the load gets so many watts; asked for these, it must take those amperes.
    for amps in [15.0, 40.0, 65.0] {
        let probe = circuit("constant-current", "  working: {load: 1 A}");
        let algebra = Loop::new(0.0, AMBIENT, rise(&probe));
        let circuit = circuit("constant-current", &format!("  working: {{load: {:.9} W}}", algebra.watts(amps)));
        let study = study::study(&circuit);
        agrees(running(&study, 0), amps, algebra.celsius(amps));
    }
}

#[test]
fn short_and_repeated_loads_warm_from_where_the_continuous_one_left_off() {
    // A continuous load; the same cables then take more for a minute, and more by turns, three minutes in ten.
    let states = "  lasting: {load: 30 A}\n  short: {load: 75 A, for: 60 s}\n  by-turns: {load: 75 A, for: 3 min, every: 10 min}";
    let circuit = circuit("resistance", states);
    let study = study::study(&circuit);
    let (rise, tau) = (rise(&circuit), time_constant(&circuit));
    let lasting = Loop::new(12.0 / 30.0, AMBIENT, rise);
    let amps = lasting.amps();
    let base = lasting.celsius(amps);
    agrees(running(&study, 0), amps, base);
    // The study goes on from the hottest of every corner: with bad joints it takes a little less and is cooler.
    assert!((study.hottest[0].in_celsius() - base).abs() < 1e-3, "{} {base}", study.hottest[0].in_celsius());
    // T = base + (ambient + rise I² − base) × share: again base′ + rise′ I².
    let single = -(-60.0 / tau).exp_m1();
    let repeated = -(-180.0 / tau).exp_m1() / -(-600.0 / tau).exp_m1();
    assert!(single > 0.1 && single < 0.9 && repeated > single && repeated < 0.95, "{tau} s: {single}, {repeated}");
    for (state, share) in [(1, single), (2, repeated)] {
        let algebra = Loop::new(12.0 / 75.0, base + (AMBIENT - base) * share, rise * share);
        let amps = algebra.amps();
        agrees(running(&study, state), amps, algebra.celsius(amps));
    }
}

/// Steps a conductor through a duty in time, from `base`: `on` seconds of `high` amperes in every `cycle`, `low` between.
/// Each step is a midpoint step of C dT/dt = I² R′ − g (T − air), all by the metre. The hottest of the last cycle.
fn stepped(circuit: &Circuit, on: f64, cycle: f64, (high, low): (f64, f64), resists_as_it_warms: bool) -> f64 {
    let iz = feed(circuit).iz30.expect("a size in the table").in_amps();
    let at_rating = OHM_PER_M * (1.0 + PER_KELVIN * (RATED - 20.0));
    let (holds, gives_off) = (3.45 * 10.0, iz * iz * at_rating / (RATED - TABLE_AIR));
    let slope = |t: f64, amps: f64| {
        let ohms = if resists_as_it_warms { OHM_PER_M * (1.0 + PER_KELVIN * (t - 20.0)) } else { at_rating };
        (amps * amps * ohms - gives_off * (t - AMBIENT)) / holds
    };
    let mut t = AMBIENT + low * low * at_rating / gives_off;
    let cycles = (20.0 * holds / gives_off / cycle).ceil() as usize + 2;
    let mut hottest = t;
    for _ in 0..cycles {
        hottest = t;
        for (lasts, amps) in [(on, high), (cycle - on, low)] {
            let steps = 4000;
            let dt = lasts / steps as f64;
            for _ in 0..steps {
                let middle = t + 0.5 * dt * slope(t, amps);
                t += dt * slope(middle, amps);
                hottest = hottest.max(t);
            }
        }
    }
    hottest
}

#[test]
fn a_repeated_duty_ends_where_stepping_through_time_ends() {
    let circuit = circuit("constant-current", "  working: {load: 1 A}");
    let (run, rise) = (feed(&circuit), rise(&circuit));
    for (on, cycle) in [(10.0, 100.0), (60.0, 120.0), (100.0, 400.0), (300.0, 3000.0), (5.0, 6.0)] {
        for (high, low) in [(90.0, 0.0), (75.0, 30.0)] {
            let settled = |amps: f64| Temperature::celsius(AMBIENT + rise * amps * amps);
            let (base, settled) = (settled(low), settled(high));
            let every = Some(Duration::seconds(cycle));
            let ours = heat::reached(run, base, settled, Some(Duration::seconds(on)), every).in_celsius();
            let theirs = stepped(&circuit, on, cycle, (high, low), false);
            assert!((ours - theirs).abs() < 1e-3, "{on} s in {cycle} s at {high} A: {ours} °C, stepped {theirs} °C");
            // A cool cable resists less than at its rating: what we take errs on the safe side.
            let truer = stepped(&circuit, on, cycle, (high, low), true);
            assert!(ours > RATED || truer <= ours + 1e-6, "{ours} °C, {truer} °C");
        }
    }
}
