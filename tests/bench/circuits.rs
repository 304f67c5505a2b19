//! How fast a circuit is studied, judged and tried, and how that grows: `cargo bench --bench circuits`.
//!
//! Circuits of 10 to 80 runs, made here: a battery, an alternator, a starter, and as many fused loads as it
//! takes, over a body with several straps. Each time stands beside its floor in the same run: one bare
//! solution of every state. The bars are the project's own, for 20 parts and 30 runs on one core; a time past
//! its bar ends with status 1.
#![allow(clippy::unwrap_used, clippy::print_stdout)] // a measurement that cannot go on must panic; it prints what it found

use std::fmt::Write as _;
use std::hint::black_box;
use std::time::{Duration, Instant};

use goodground::circuit::{self, Circuit, StateId};
use goodground::guide::{self, Guide};
use goodground::rules::limits::Limits;
use goodground::rules::{self, Bench};
use goodground::source::SourceFile;
use goodground::study::{self, Study};
use goodground::trials::{Verdict, culprit, headroom};

/// Runs in all, fused loads among them, and further straps.
const SIZES: &[(usize, usize, usize)] = &[(10, 1, 1), (20, 4, 2), (30, 6, 6), (40, 10, 4), (80, 22, 8)];
/// The size that the bars are for.
const BARRED: usize = 30;
const STUDY_BAR: Duration = Duration::from_millis(5);
/// Linux brings its count of processor time up to date every few milliseconds.
const LONG_ENOUGH: Duration = Duration::from_millis(60);
const TRIALS_BAR: Duration = Duration::from_millis(300);

fn main() {
    // Trials go over several cores when there are any; the bars are for one.
    rayon::ThreadPoolBuilder::new().num_threads(1).use_current_thread().build_global().unwrap();
    println!(
        "{:>5} {:>5} {:>6} {:>10} {:>10} {:>10} {:>10} {:>10} {:>10} {:>7} {:>7}",
        "runs", "parts", "states", "floor", "states", "faults", "study", "judge", "trials", "study÷", "trials÷"
    );
    let mut past = false;
    let mut curve: Vec<(f64, f64, f64)> = Vec::new();
    let only: Vec<usize> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    for &(runs, loads, straps) in SIZES.iter().filter(|s| only.is_empty() || only.contains(&s.0)) {
        let (guide, circuit) = made(loads, straps);
        assert_eq!(circuit.runs.len(), runs);
        let limits = Limits::default();
        let floor = best_of(5, || {
            for s in 0..circuit.states.len() {
                black_box(study::solve_plain(&circuit, StateId(s)).unwrap());
            }
        });
        let states = best_of(5, || black_box(study::study_states(&circuit)));
        let ordinary = study::study_states(&circuit);
        let faults = best_of(5, || black_box(completed(&ordinary, &circuit)));
        let whole = best_of(5, || black_box(study::study(&circuit)));
        let study = study::study(&circuit);
        let bench = Bench { guide: &guide, circuit: &circuit, study: &study, limits: &limits };
        let judged = best_of(5, || black_box(rules::judge(&bench)));
        let standing = Verdict::of(&rules::judge(&bench).findings);
        let tried = best_of(3, || {
            black_box((headroom::headroom(&bench, &standing), culprit::culprits(&circuit, &study)));
        });
        let ratio = |time: Duration| time.as_secs_f64() / floor.as_secs_f64();
        println!(
            "{runs:>5} {:>5} {:>6} {} {} {} {} {} {} {:>7.1} {:>7.0}",
            circuit.parts.len(),
            circuit.states.len(),
            ms(floor),
            ms(states),
            ms(faults),
            ms(whole),
            ms(judged),
            ms(tried),
            ratio(whole),
            ratio(tried)
        );
        if runs == BARRED {
            past |= over("states, faults and scans", whole, STUDY_BAR);
            past |= over("headroom and fault finder", tried, TRIALS_BAR);
        }
        curve.push((runs as f64, whole.as_secs_f64(), tried.as_secs_f64()));
    }
    for (what, of) in [("study", 1), ("trials", 2)] {
        let time = |at: &(f64, f64, f64)| if of == 1 { at.1 } else { at.2 };
        if curve.len() < 2 {
            continue;
        }
        // Between the last two sizes, twice the runs: where growth shows most.
        let (before, after) = (&curve[curve.len() - 2], &curve[curve.len() - 1]);
        let power = (time(after) / time(before)).ln() / (after.0 / before.0).ln();
        println!("{what} grows with the number of runs to the power of {power:.2} from {} to {}", before.0, after.0);
        past |= power >= 3.0;
    }
    println!("Floor: one bare solution of every state. Trials: headroom and fault finder of every run.");
    if past {
        println!("A time is past its bar.");
        std::process::exit(1);
    }
}

fn over(what: &str, took: Duration, bar: Duration) -> bool {
    let past = took > bar;
    println!("      {what}: {} of {}{}", ms(took).trim(), ms(bar).trim(), if past { ", past its bar" } else { "" });
    past
}

fn completed(ordinary: &Study, circuit: &Circuit) -> Study {
    let mut study = ordinary.clone();
    study.add_faults(circuit);
    study
}

/// The shortest of some times, each the mean over as many goes as fill [`LONG_ENOUGH`]. Where Linux tells it, time
/// spent on the processor, which what else the machine does lengthens little; elsewhere time by the clock.
fn best_of<T>(times: usize, mut f: impl FnMut() -> T) -> Duration {
    let best = (0..times).map(|_| {
        let (busy, at) = (on_processor(), Instant::now());
        let mut goes = 0;
        while goes == 0 || at.elapsed() < LONG_ENOUGH {
            black_box(f());
            goes += 1;
        }
        on_processor().zip(busy).map_or_else(|| at.elapsed(), |(after, before)| after - before) / goes
    });
    best.min().unwrap()
}

fn on_processor() -> Option<Duration> {
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    Some(Duration::from_nanos(told.split_whitespace().next()?.parse().ok()?))
}

fn ms(d: Duration) -> String {
    format!("{:>7.2} ms", d.as_secs_f64() * 1e3)
}

/// A circuit of 6 + 3·`loads` + `straps` runs. Its figures are invented.
fn made(loads: usize, straps: usize) -> (Guide, Circuit) {
    let mut parts = String::from(
        "  battery: {is: battery, in: bay, chemistry: agm, capacity: 80 Ah, cold-cranking: 800 A EN, mass: 20 kg}\n\
         \x20 breaker: {is: breaker, in: bay, rating: 150 A, volts: 32 V, breaks: 10 kA, opens: {135 %: 60 s to 1800 s, 200 %: 15 s to 90 s, 600 %: 0.5 s to 3 s, 2000 %: 0.2 s to 1 s}}\n\
         \x20 hub: {is: post, in: bay, stud: M10}\n\
         \x20 starter: {is: starter, in: bay, cranking: {current: 140 A, for: 10 s}, inrush: {current: 450 A, for: 100 ms}, bolted-to: engine}\n\
         \x20 alternator: {is: alternator, in: bay, output: 90 A, set-point: 14.4 V, bolted-to: engine}\n\
         \x20 engine: {is: engine, in: bay}\n\
         \x20 body: {is: body, between: {bay to cab: 0.4 mΩ, cab to load: 0.6 mΩ}}\n\
         \x20 earth: {is: post, in: bay, stud: M10}\n",
    );
    let mut runs = String::from(
        "  battery-lead: {from: battery+, to: breaker, size: 70 mm², length: 0.3 m, covering: sheath}\n\
         \x20 main-feed: {from: breaker, to: hub, size: 70 mm², length: 0.3 m}\n\
         \x20 starter-feed: {from: hub, to: starter, size: 70 mm², covering: conduit, laid: {bay: 1.3 m}}\n\
         \x20 charge-lead: {from: alternator, to: hub, size: 35 mm², length: 0.9 m}\n\
         \x20 main-return: {from: battery-, to: earth, size: 70 mm², length: 0.4 m}\n\
         \x20 engine-strap: {from: engine, to: earth, size: 70 mm², length: 0.4 m, strap: true}\n",
    );
    for s in 0..straps {
        let zone = ["bay", "cab", "load"][s % 3];
        let from = if s % 3 == 0 { "earth" } else { "engine" };
        let laid = ["bay: 0.4 m", "bay: 0.5 m, cab: 0.5 m", "bay: 0.5 m, cab: 2 m, load: 0.4 m"][s % 3];
        writeln!(runs, "  bond-{s}: {{from: {from}, to: body@{zone}, size: 25 mm², laid: {{{laid}}}}}").unwrap();
    }
    let mut crank = String::from("starter: cranking");
    let mut charging = String::from("alternator: running");
    let mut standing = String::new();
    let mut some = String::new();
    for l in 0..loads {
        let zone = ["bay", "cab", "load"][l % 3];
        let laid = ["bay: 0.8 m", "bay: 0.5 m, cab: 1 m", "bay: 0.5 m, cab: 3 m, load: 0.4 m"][l % 3];
        let back = ["length: 0.3 m", "length: 0.4 m", "length: 0.5 m"][l % 3];
        let ground = if straps == 0 || l % 4 == 3 { "body@bay".to_owned() } else { format!("body@{zone}") };
        let homewards = ["bay: 0.8 m", "cab: 1 m, bay: 0.5 m", "load: 0.4 m, cab: 3 m, bay: 0.5 m"][l % 3];
        let back = if l % 4 == 3 { format!("laid: {{{homewards}}}") } else { back.to_owned() };
        writeln!(parts, "  fuse-{l}: {{is: fuse, in: bay, rating: 20 A, volts: 32 V, breaks: 10 kA, opens: {{135 %: 60 s to 1800 s, 200 %: 2 s to 60 s, 600 %: 50 ms to 1 s, 2500 %: 5 ms to 50 ms}}}}").unwrap();
        writeln!(parts, "  lamp-{l}: {{is: load, in: {zone}, takes: constant-current}}").unwrap();
        writeln!(runs, "  tap-{l}: {{from: hub, to: fuse-{l}, size: 6 mm², length: 0.12 m}}").unwrap();
        writeln!(
            runs,
            "  feed-{l}: {{from: fuse-{l}, to: lamp-{l}+, size: 6 mm², covering: conduit, laid: {{{laid}}}}}"
        )
        .unwrap();
        writeln!(runs, "  back-{l}: {{from: lamp-{l}-, to: {ground}, size: 6 mm², {back}}}").unwrap();
        let takes = 2 + l % 7;
        if l % 3 == 0 {
            write!(crank, ", lamp-{l}: {takes} A").unwrap();
        }
        write!(charging, ", lamp-{l}: {takes} A").unwrap();
        write!(standing, "lamp-{l}: {takes} A, ").unwrap();
        if l % 2 == 0 {
            write!(some, "lamp-{l}: {} A, ", takes).unwrap();
        }
    }
    let text = format!(
        "---\ntitle: Made\nsummary: Made for a measurement.\nwritten: 2026-10-03\nvehicle: {{kind: van, body: steel, drive: petrol}}\n\
         system: 12 V\nzones:\n  bay: {{label: Engine bay, ambient: 60 °C, engine-space: true}}\n  cab: {{label: Cab, ambient: 40 °C, occupied: true}}\n  \
         load: {{label: Load area, ambient: 40 °C}}\nparts:\n{parts}every-run: {{metal: copper, insulation: xlpe, rated: 105 °C}}\nruns:\n{runs}states:\n  \
         starting: {{{crank}}}\n  charging: {{{charging}}}\n  engine-off: {{{standing}for: 2 h}}\n  some: {{{some}for: 1 h}}\n---\n\nNothing.\n"
    );
    let (guide, findings) = guide::read(SourceFile::new("made/guide.md", text.as_str()), "made");
    let guide = guide.unwrap_or_else(|| panic!("{findings:#?}"));
    let (circuit, wiring) = circuit::wire(&guide);
    (guide, circuit.unwrap_or_else(|| panic!("{findings:#?}{wiring:#?}")))
}
