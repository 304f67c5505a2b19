//! How fast a wiring drawing is laid out and written: `cargo bench --bench drawings`.
//!
//! Beside each time stands a floor measured in the same run: reading the finished SVG and writing it
//! again with the bare libraries. The bars are the project's own; the slowest layout of a size is held to
//! them, and the median with its SVG. A time past its bar ends with status 1.
#![allow(clippy::unwrap_used, clippy::print_stdout)] // a measurement that cannot go on must panic; it prints what it found

use std::time::{Duration, Instant};

use goodground::drawing::{self, arrange, sample};
use svg::Node as _;
use svg::node::element::Element;

/// Circuits of each size: each a seed of its own, in 1 to 6 zones.
const CIRCUITS: u64 = 24;

/// Parts, and the bar in ms if there is one.
const SIZES: [(usize, Option<f64>); 6] =
    [(3, None), (6, None), (12, Some(5.0)), (20, None), (30, None), (40, Some(80.0))];

fn main() {
    let guide = sample::guide("A circuit made by dice");
    println!("          laid out            with its SVG");
    println!("parts     median      worst     median      worst      floor  ratio        bar   growth");
    let mut past = false;
    let mut before: Option<(usize, f64)> = None;
    for (parts, bar) in SIZES {
        let mut laid_out = Vec::new();
        let mut whole = Vec::new();
        let mut floors = Vec::new();
        for seed in 0..CIRCUITS {
            let circuit = sample::circuit(1000 + seed, parts, 1 + seed as usize % 6);
            let mut svg = String::new();
            laid_out.push(best_of(5, || arrange::arrange(&circuit, drawing::EFFORT)));
            whole.push(best_of(5, || svg = drawing::wiring(&guide, &circuit).svg));
            floors.push(best_of(5, || svg.len() as u64 + again(&svg).len() as u64));
        }
        let [laid_out, whole, floors] = [laid_out, whole, floors].map(|mut times| {
            times.sort();
            (ms(times[times.len() / 2]), ms(times[times.len() - 1]))
        });
        let growth = before
            .map_or_else(String::new, |(n, t)| format!("n^{:.1}", (whole.0 / t).ln() / (parts as f64 / n as f64).ln()));
        let bar_words = bar.map_or_else(|| "–".to_owned(), |b| format!("{b:.0} ms"));
        println!(
            "{parts:>5} {:>7.2} ms {:>7.2} ms {:>7.2} ms {:>7.2} ms {:>7.3} ms {:>6.1} {bar_words:>10} {growth:>8}",
            laid_out.0,
            laid_out.1,
            whole.0,
            whole.1,
            floors.0,
            whole.0 / floors.0,
        );
        past |= bar.is_some_and(|bar| laid_out.1.max(whole.0) > bar);
        before = Some((parts, whole.0));
    }
    println!(
        "Floor: reading the same SVG with roxmltree and writing it with the svg library. The ratio is that of medians."
    );
    if past {
        println!("A time is past its bar.");
        std::process::exit(1);
    }
}

fn ms(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

/// The shortest of several runs: what is longer is the machine's other work.
fn best_of<T>(runs: usize, mut run: impl FnMut() -> T) -> Duration {
    (0..runs)
        .map(|_| {
            let start = Instant::now();
            std::hint::black_box(run());
            start.elapsed()
        })
        .min()
        .unwrap()
}

/// An SVG read and written again.
fn again(svg: &str) -> String {
    fn copy(node: roxmltree::Node<'_, '_>) -> Element {
        let mut element = Element::new(node.tag_name().name());
        for attribute in node.attributes() {
            element.assign(attribute.name(), attribute.value());
        }
        for child in node.children() {
            if child.is_element() {
                element.append(copy(child));
            } else if let Some(text) = child.text() {
                element.append(svg::node::Text::new(text));
            }
        }
        element
    }
    copy(roxmltree::Document::parse(svg).unwrap().root_element()).to_string()
}
