//! Drawings, judged by where everything lies: nothing may touch what it must not.

use std::path::Path;

use goodground::circuit::Circuit;
use goodground::drawing::svg_out::{Rect, RunPath};
use goodground::drawing::{self, Geometry, Picture, arrange, sample};
use goodground::guide::Guide;

/// A stretch of a run as a thin box.
fn stretch(a: (f64, f64), b: (f64, f64), weight: f64) -> Rect {
    let half = weight / 2.0;
    Rect { x0: a.0.min(b.0) - half, y0: a.1.min(b.1) - half, x1: a.0.max(b.0) + half, y1: a.1.max(b.1) + half }
}

fn segments(run: &RunPath) -> impl Iterator<Item = (usize, (f64, f64), (f64, f64))> + '_ {
    run.points.windows(2).enumerate().map(|(i, w)| (i, w[0], w[1])).filter(|(_, a, b)| a != b)
}

/// Segments that are a run's own: not the stem it shares with others at a terminal.
fn own(run: &RunPath) -> impl Iterator<Item = ((f64, f64), (f64, f64))> + '_ {
    let last = run.points.len().saturating_sub(run.stems[1].max(1));
    let first = run.stems[0].max(1) - 1;
    segments(run).filter(move |(i, ..)| *i >= first && *i < last).map(|(_, a, b)| (a, b))
}

const TINY: f64 = 1e-6;

/// Whether two upright stretches cross, each passing right through the other.
fn cross(a: ((f64, f64), (f64, f64)), b: ((f64, f64), (f64, f64))) -> bool {
    let upright = |s: ((f64, f64), (f64, f64))| (s.0.0 - s.1.0).abs() < TINY;
    let (v, h) = match (upright(a), upright(b)) {
        (true, false) => (a, b),
        (false, true) => (b, a),
        _ => return false,
    };
    let (x, y) = (v.0.0, h.0.1);
    let within = |v: f64, p: f64, q: f64| v > p.min(q) + TINY && v < p.max(q) - TINY;
    within(x, h.0.0, h.1.0) && within(y, v.0.1, v.1.1)
}

/// Everything wrong with a drawing, in words.
pub fn faults(g: &Geometry) -> Vec<String> {
    let mut out = Vec::new();
    for (i, a) in g.texts.iter().enumerate() {
        if a.points < 9.0 - TINY {
            out.push(format!("text “{}” is {:.2} pt", a.words, a.points));
        }
        if !g.sheets.iter().any(|s| s.holds(&a.area)) {
            out.push(format!("text “{}” leaves the sheet", a.words));
        }
        for b in &g.texts[..i] {
            if a.area.overlaps(&b.area) {
                out.push(format!("text “{}” lies on text “{}”", a.words, b.words));
            }
        }
        for p in &g.parts {
            if a.area.overlaps(&p.area) {
                out.push(format!("text “{}” lies on part {}", a.words, p.name));
            }
        }
        if g.cards.iter().any(|card| a.area.overlaps(card) && !card.holds(&a.area)) {
            out.push(format!("text “{}” crosses the edge of a card", a.words));
        }
        for r in &g.runs {
            if segments(r).any(|(_, p, q)| stretch(p, q, r.weight).overlaps(&a.area)) {
                out.push(format!("run {} crosses text “{}”", r.name, a.words));
            }
        }
    }
    for (i, p) in g.parts.iter().enumerate() {
        if !g.sheets.iter().any(|s| s.holds(&p.area)) {
            out.push(format!("part {} leaves the sheet", p.name));
        }
        for q in &g.parts[..i] {
            if p.area.overlaps(&q.area) {
                out.push(format!("part {} lies on part {}", p.name, q.name));
            }
        }
        for r in &g.runs {
            let mine = r.ends.iter().any(|e| p.nodes.contains(e));
            let inner = p.area.grown(-0.05);
            let count = r.points.len();
            for (k, a, b) in segments(r) {
                let is_end = k == 0 || k + 2 == count;
                if stretch(a, b, 0.0).overlaps(&inner) && !(mine && is_end) {
                    out.push(format!("run {} passes through part {}", r.name, p.name));
                }
            }
        }
    }
    for (i, card) in g.cards.iter().enumerate() {
        if !g.sheets.iter().any(|s| s.holds(card)) {
            out.push(format!("a card leaves the sheet: {card:?}"));
        }
        if g.cards[..i].iter().any(|other| card.overlaps(other)) {
            out.push(format!("a card lies on another: {card:?}"));
        }
        for r in &g.runs {
            if segments(r).any(|(_, p, q)| stretch(p, q, r.weight).overlaps(card)) {
                out.push(format!("run {} passes through a card", r.name));
            }
        }
    }
    for (i, r) in g.runs.iter().enumerate() {
        for (_, a, b) in segments(r) {
            if (a.0 - b.0).abs() > TINY && (a.1 - b.1).abs() > TINY {
                out.push(format!("run {} slants", r.name));
            }
            if !g.sheets.iter().any(|s| s.holds(&stretch(a, b, r.weight))) {
                out.push(format!("run {} leaves the sheet", r.name));
            }
        }
        for s in &g.runs[..i] {
            for a in own(r) {
                for b in own(s) {
                    let (p, q) = (stretch(a.0, a.1, 0.0), stretch(b.0, b.1, 0.0));
                    // Crossing at right angles is not lying side by side.
                    let upright = |s: ((f64, f64), (f64, f64))| (s.0.0 - s.1.0).abs() < TINY;
                    if upright(a) != upright(b) {
                        continue;
                    }
                    let gap =
                        Rect { x0: p.x0 - g.spacing, y0: p.y0 - g.spacing, x1: p.x1 + g.spacing, y1: p.y1 + g.spacing };
                    let along = if upright(a) {
                        Rect { y0: p.y0, y1: p.y1, ..gap }
                    } else {
                        Rect { x0: p.x0, x1: p.x1, ..gap }
                    };
                    let shrunk =
                        Rect { x0: along.x0 + 1e-3, x1: along.x1 - 1e-3, y0: along.y0 + 1e-3, y1: along.y1 - 1e-3 };
                    if shrunk.overlaps(&q.grown(1e-4)) {
                        out.push(format!("runs {} and {} lie too near: {a:?} {b:?}", r.name, s.name));
                    }
                }
            }
        }
    }
    let crossings = count_crossings(g);
    if crossings != g.crossings {
        out.push(format!("{crossings} crossings are drawn where {} were counted", g.crossings));
    }
    out
}

fn count_crossings(g: &Geometry) -> usize {
    let mut count = 0;
    for (i, r) in g.runs.iter().enumerate() {
        for s in &g.runs[..i] {
            for a in own(r) {
                count += own(s).filter(|b| cross(a, *b)).count();
            }
        }
    }
    count
}

/// Where to leave the pictures for somebody to look at, if anybody asks.
fn keep(picture: &Picture, name: &str) {
    if let Ok(folder) = std::env::var("GOODGROUND_KEEP_DRAWINGS") {
        std::fs::create_dir_all(&folder).unwrap();
        std::fs::write(Path::new(&folder).join(format!("{name}.svg")), &picture.svg).unwrap();
    }
}

/// A guide of `tests/guides`, with something in its text changed.
fn read_changed(path: &str, changes: &[(&str, &str)]) -> (Guide, Circuit) {
    let mut text = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap();
    for (from, to) in changes {
        assert!(text.contains(from), "{from} is not in {path}");
        text = text.replace(from, to);
    }
    let file = goodground::source::SourceFile::new("guide.md", text);
    let (guide, findings) = goodground::guide::read(file, "guide");
    let guide = guide.unwrap_or_else(|| panic!("cannot be read: {findings:?}"));
    let (circuit, findings) = goodground::circuit::wire(&guide);
    (guide, circuit.unwrap_or_else(|| panic!("cannot be wired: {findings:?}")))
}

#[test]
fn the_plan_shows_sides_and_heights_and_says_where_it_knows_none() {
    let says = |picture: &Picture, words: &str| picture.geometry.texts.iter().any(|t| t.words.contains(words));
    let path = "tests/guides/design-example/guide.md";
    let changes = [
        ("starter-feed: {", "starter-feed: {side: left, height: under the sill trim, "),
        ("{is: post, in: load,", "{is: post, side: right, height: at shoulder height, in: load,"),
    ];
    let (guide, circuit) = read_changed(path, &changes);
    let plan = drawing::plan(&guide, &circuit);
    for words in ["Left", "under the sill trim", "Right", "at shoulder height", "Side not"] {
        assert!(says(&plan, words), "{words}");
    }
    assert!(plan.description.contains("left, under the sill trim"), "{}", plan.description);
    assert!(!says(&plan, "Schematic"));
    assert!(faults(&plan.geometry).is_empty(), "{:?}", faults(&plan.geometry));
    let boat = [changes[0], changes[1], ("kind: van", "kind: boat")];
    let (guide, circuit) = read_changed(path, &boat);
    let plan = drawing::plan(&guide, &circuit);
    assert!(says(&plan, "Port") && says(&plan, "Starboard") && !says(&plan, "Left"));
    let (guide, circuit) = read_changed(path, &[]);
    let plan = drawing::plan(&guide, &circuit);
    assert!(says(&plan, "Schematic") && !says(&plan, "Side not"));
    // Every run of the guide lies somewhere, with its length in each zone.
    for (index, run) in circuit.runs.iter().enumerate() {
        let mark = format!("{} ", drawing::run_mark(goodground::circuit::RunId(index)));
        assert!(plan.geometry.texts.iter().any(|t| t.words.starts_with(&mark)), "{mark}");
        assert!(plan.geometry.runs.iter().any(|r| r.name == run.name));
    }
    assert!(says(&plan, "3 m (9 ft 10 in)"));
}

pub fn demo_guides() -> Vec<(String, Guide, Circuit)> {
    let mut out = Vec::new();
    let mut folders: Vec<_> =
        std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/content")).unwrap().flatten().collect();
    folders.sort_by_key(|f| f.file_name());
    for folder in folders {
        let name = folder.file_name().to_string_lossy().into_owned();
        let Ok(text) = std::fs::read_to_string(folder.path().join("guide.md")) else { continue };
        let file = goodground::source::SourceFile::new(format!("{name}/guide.md"), text);
        let (guide, findings) = goodground::guide::read(file, &name);
        let guide = guide.unwrap_or_else(|| panic!("{name} cannot be read: {findings:?}"));
        // A withdrawn guide is not drawn any more.
        if guide.standing != goodground::guide::Standing::Published {
            continue;
        }
        let (circuit, findings) = goodground::circuit::wire(&guide);
        let circuit = circuit.unwrap_or_else(|| panic!("{name} cannot be wired: {findings:?}"));
        out.push((name, guide, circuit));
    }
    out
}

/// All that a sheet may say.
fn full_facts(slug: &str) -> drawing::Facts {
    drawing::Facts {
        digest: Some("0123456789abcdef".repeat(4)),
        owner: Some("The Thursday Bench".into()),
        address: Some(format!("https://thursday-bench.example/{slug}/")),
    }
}

#[test]
fn the_title_block_says_whose_it_is_and_of_which_numbers() {
    for (name, guide, circuit) in demo_guides() {
        let facts = full_facts(&name);
        for picture in [drawing::wiring_with(&guide, &circuit, &facts), drawing::plan_with(&guide, &circuit, &facts)] {
            let texts: Vec<&str> = picture.geometry.texts.iter().map(|t| t.words.as_str()).collect();
            // The fields of ISO 7200 that it has, none of them cut off.
            for words in ["No.", name.as_str(), "The Thursday Bench", "01234567", "1/1", "Paper A4", "not to scale"] {
                assert!(texts.contains(&words), "{name}: {words} is not among {texts:?}");
            }
            let whole: String = texts.join(" ");
            assert!(whole.contains("Existing looms differ: test, do not trust colour."), "{whole}");
            assert!(whole.contains("and ask a qualified person."), "{whole}");
        }
    }
}

/// The dark modules of the QR code in a drawing, read back from its SVG: one string a row.
fn code_in(svg: &str) -> Vec<String> {
    let document = roxmltree::Document::parse(svg).unwrap();
    let group = document.descendants().find(|n| n.attribute("class") == Some("code")).unwrap();
    let d = group.descendants().find_map(|n| n.attribute("d")).unwrap();
    let boxes: Vec<[f64; 4]> = d
        .split_terminator('z')
        .map(|one| {
            let numbers: Vec<f64> = one
                .split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-'))
                .filter(|n| !n.is_empty())
                .map(|n| n.parse().unwrap())
                .collect();
            [numbers[0], numbers[1], numbers[2], numbers[3]]
        })
        .collect();
    let module = boxes[0][3];
    let (x0, y0) = boxes.iter().fold((f64::MAX, f64::MAX), |(x, y), b| (x.min(b[0]), y.min(b[1])));
    let cell = |v: f64| (v / module).round() as usize;
    let size = boxes.iter().map(|b| cell(b[0] - x0 + b[2])).max().unwrap();
    let mut rows = vec![vec![' '; size]; size];
    for [x, y, wide, _] in boxes {
        for k in 0..cell(wide) {
            rows[cell(y - y0)][cell(x - x0) + k] = '#';
        }
    }
    rows.into_iter().map(|row| row.into_iter().collect::<String>().trim_end().to_owned()).collect()
}

#[test]
fn the_qr_code_is_the_one_that_an_outside_reader_read() {
    // `tests/drawings/code.txt` was read by zbarimg 0.23.92 from this drawing as rsvg-convert 2.54 draws it, and said
    // https://thursday-bench.example/winch-on-a-small-4x4/. `.ci/run` reads those of the published drawings anew.
    let (name, guide, circuit) = demo_guides().into_iter().find(|g| g.0 == "winch-on-a-small-4x4").unwrap();
    let code = code_in(&drawing::wiring_with(&guide, &circuit, &full_facts(&name)).svg).join("\n") + "\n";
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/drawings/code.txt");
    if std::env::var_os("GOODGROUND_RECORD").is_some() {
        std::fs::write(&path, &code).unwrap();
    }
    assert_eq!(code, std::fs::read_to_string(path).unwrap());
    // No address, no code; one that leads nowhere readable, none either.
    assert!(!drawing::wiring(&guide, &circuit).svg.contains("QR code"));
}

#[test]
fn the_legend_explains_every_line_and_symbol_that_is_used() {
    use goodground::drawing::symbols::Symbol;
    let guide = sample::guide("A circuit made by dice");
    for (seed, parts, zones) in sample::all().filter(|(seed, ..)| seed % 30 == 8) {
        let circuit = sample::circuit(seed, parts, zones);
        let picture = drawing::wiring_with(&guide, &circuit, &full_facts("sample"));
        let said = |words: &str| picture.geometry.texts.iter().any(|t| t.words == words);
        for part in &circuit.parts {
            let symbol = drawing::model::symbol_of(&part.kind);
            let bar = [Symbol::Post, Symbol::Busbar, Symbol::Engine, Symbol::Body].contains(&symbol);
            assert!(bar || said(symbol.meaning()), "dice-{seed:03}: the legend does not explain {}", symbol.meaning());
        }
        assert!(said("line width follows size") && said("feed (+)") && said("return (−)"), "dice-{seed:03}");
    }
}

#[test]
fn the_sheet_of_symbols_has_every_symbol_and_nothing_touches_there() {
    let sheet = drawing::symbol_sheet();
    keep(&sheet, "symbols");
    assert_eq!(faults(&sheet.geometry), Vec::<String>::new());
    assert_eq!(sheet.geometry.parts.len(), goodground::drawing::symbols::Symbol::ALL.len());
}

#[test]
fn nothing_touches_anything_in_the_clubs_guides() {
    let mut all = Vec::new();
    for (name, guide, circuit) in demo_guides() {
        let facts = full_facts(&name);
        let pictures = [drawing::wiring_with(&guide, &circuit, &facts), drawing::plan_with(&guide, &circuit, &facts)];
        for picture in pictures {
            let name = format!("{name}-{}", picture.name);
            keep(&picture, &name);
            all.extend(faults(&picture.geometry).into_iter().map(|f| format!("{name}: {f}")));
        }
    }
    assert!(all.is_empty(), "{}", all.join("\n"));
}

#[test]
fn nothing_touches_anything_in_the_plots_of_the_clubs_guides() {
    let mut all = Vec::new();
    let mut plots = 0;
    for (name, guide, circuit) in demo_guides() {
        let study = goodground::study::study(&circuit);
        let (variants, _) = goodground::trials::variant::variants(&guide, &goodground::rules::limits::NONE);
        let of_guide = drawing::plots::volts(&guide, &circuit, &study, &variants)
            .into_iter()
            .chain(drawing::plots::opening(&guide, &circuit, &study))
            .chain(drawing::plots::chafe(&guide, &circuit, &study));
        for picture in of_guide {
            plots += 1;
            let name = format!("{name}-{}", picture.name);
            keep(&picture, &name);
            all.extend(faults(&picture.geometry).into_iter().map(|f| format!("{name}: {f}")));
        }
    }
    assert!(all.is_empty(), "{}", all.join("\n"));
    assert!(plots > 14, "only {plots} plots were drawn");
}

#[test]
fn nothing_touches_anything_in_circuits_made_by_dice() {
    let guide = sample::guide("A circuit made by dice");
    let mut all = Vec::new();
    for (seed, parts, zones) in sample::all() {
        let circuit = sample::circuit(seed, parts, zones);
        for picture in [drawing::wiring(&guide, &circuit), drawing::plan(&guide, &circuit)] {
            let name = format!("dice-{seed:03}-{parts}-{zones}-{}", picture.name);
            keep(&picture, &name);
            all.extend(faults(&picture.geometry).into_iter().map(|f| format!("{name}: {f}")));
        }
    }
    assert!(all.is_empty(), "{}", all.join("\n"));
}

/// What the search found for one circuit.
#[derive(Clone, Debug, PartialEq)]
struct Found {
    name: String,
    parts: usize,
    zones: usize,
    sheets: usize,
    crossings: usize,
}

impl Found {
    fn of(name: String, circuit: &Circuit, effort: usize) -> Found {
        let sheets = arrange::arrange(circuit, effort);
        Found {
            name,
            parts: circuit.parts.len(),
            zones: circuit.zones.len(),
            sheets: sheets.len(),
            crossings: sheets.iter().map(|s| s.layout.crossings).sum(),
        }
    }
}

/// The demo guides' circuits and the 300 made by dice.
fn all_circuits() -> Vec<(String, Circuit)> {
    let demo = demo_guides().into_iter().map(|(name, _, circuit)| (name, circuit));
    let dice =
        sample::all().map(|(seed, parts, zones)| (format!("dice-{seed:03}"), sample::circuit(seed, parts, zones)));
    demo.chain(dice).collect()
}

/// What was found when the table was last recorded, and how many sheets and crossings with ten times the effort.
fn recorded() -> Vec<(Found, [usize; 2])> {
    let mut rows = csv::Reader::from_path(table_path()).unwrap();
    rows.records()
        .map(|row| {
            let row = row.unwrap();
            let number = |k: usize| row[k].parse().unwrap();
            let name = row[0].to_owned();
            let found = Found { name, parts: number(1), zones: number(2), sheets: number(3), crossings: number(4) };
            (found, [number(5), number(6)])
        })
        .collect()
}

fn table_path() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/drawings/crossings.csv")
}

#[test]
fn crossings_are_those_of_the_table() {
    use rayon::prelude::*;
    let recorded = recorded();
    let all = all_circuits();
    assert_eq!(recorded.len(), all.len(), "record the table anew: see `ten_times_the_effort_finds_hardly_better`");
    let changed: Vec<String> = all
        .par_iter()
        .enumerate()
        .filter_map(|(index, (name, circuit))| {
            let now = Found::of(name.clone(), circuit, drawing::EFFORT);
            (now != recorded[index].0).then(|| format!("{:?} became {now:?}", recorded[index].0))
        })
        .collect();
    assert!(changed.is_empty(), "crossings changed; if for the better, record the table anew:\n{}", changed.join("\n"));
}

#[test]
fn the_table_keeps_to_the_bar() {
    let recorded = recorded();
    // Nothing is less than none: what the search finds for small circuits no brute force could better.
    assert!(recorded.iter().all(|(found, _)| found.parts > 7 || found.crossings == 0));
    holds_to_the_bar(&recorded);
}

/// The bar: no more than 10 % more crossings than ten times the effort finds, on however many sheets. Nor may what the
/// lesser effort spends in sheets, to have as few crossings, grow.
fn holds_to_the_bar(rows: &[(Found, [usize; 2])]) {
    let over = rows.iter().filter(|(found, [_, crossings])| 10 * found.crossings > 11 * crossings);
    assert_eq!(over.collect::<Vec<_>>(), Vec::<&(Found, [usize; 2])>::new());
    let once: usize = rows.iter().map(|(found, _)| found.sheets).sum();
    let ten: usize = rows.iter().map(|(_, [sheets, _])| sheets).sum();
    assert!(once <= ten + SHEETS_MORE, "{once} sheets, {ten} with ten times the effort");
}

/// How many sheets more, on all circuits together, than with ten times the effort.
const SHEETS_MORE: usize = 25;

/// Every line that still crosses another must: the drawing of that sheet is not planar.
#[test]
fn what_crosses_could_not_do_without() {
    let crossed: Vec<String> =
        recorded().into_iter().filter(|(found, _)| found.crossings > 0).map(|(found, _)| found.name).collect();
    assert!(!crossed.is_empty() && crossed.len() < 10);
    for (name, circuit) in all_circuits().into_iter().filter(|(name, _)| crossed.contains(name)) {
        for (crossings, least) in crossings_and_least(&arrange::arrange(&circuit, drawing::EFFORT)) {
            assert_eq!(crossings, least, "{name}");
        }
    }
}

/// How often lines cross on each sheet where they do, and how often they must on any drawing of it.
fn crossings_and_least(sheets: &[drawing::search::Arranged]) -> Vec<(usize, usize)> {
    let crossed = sheets.iter().filter(|sheet| sheet.layout.crossings > 0);
    crossed
        .map(|sheet| {
            let crossings = sheet.layout.crossings;
            (crossings, drawing::planar::Graph::of(&sheet.diagram).least_crossings(crossings))
        })
        .collect()
}

/// 1200 circuits more, of 2 to 7 parts.
fn small_circuit(seed: u64) -> Circuit {
    sample::circuit(10_000 + seed, 2 + seed as usize % 6, 1 + seed as usize / 6 % 6)
}

#[test]
fn small_circuits_have_as_few_crossings_as_can_be() {
    // None is the least there is; and where the graph of a drawing is not planar, no drawing at all has fewer crossings
    // than lines must be taken out to make it so. No brute force could find better than either. All are on one sheet.
    let mut crossed = Vec::new();
    for seed in 0..1200 {
        let sheets = arrange::arrange(&small_circuit(seed), drawing::EFFORT);
        assert_eq!(sheets.len(), 1, "{seed}");
        crossed.extend(crossings_and_least(&sheets).into_iter().map(|(crossings, least)| (seed, crossings, least)));
    }
    assert_eq!(crossed, [(371, 1, 1)]);
}

/// `.ci/run` calls this. With `GOODGROUND_RECORD=1` it writes the table instead of holding to it.
#[test]
#[ignore = "longer than all the other tests: .ci/run runs it"]
fn ten_times_the_effort_finds_hardly_better() {
    use rayon::prelude::*;
    let rows: Vec<(Found, [usize; 2])> = all_circuits()
        .par_iter()
        .map(|(name, circuit)| {
            let once = Found::of(name.clone(), circuit, drawing::EFFORT);
            let ten = Found::of(name.clone(), circuit, 10 * drawing::EFFORT);
            (once, [ten.sheets, ten.crossings])
        })
        .collect();
    if std::env::var_os("GOODGROUND_RECORD").is_some() {
        let mut table = csv::Writer::from_path(table_path()).unwrap();
        table
            .write_record(["circuit", "parts", "zones", "sheets", "crossings", "sheets_ten", "crossings_ten"])
            .unwrap();
        for (f, [sheets, crossings]) in &rows {
            let numbers = [f.parts, f.zones, f.sheets, f.crossings, *sheets, *crossings].map(|n| n.to_string());
            table.write_record(std::iter::once(f.name.clone()).chain(numbers)).unwrap();
        }
        table.flush().unwrap();
    } else {
        assert_eq!(rows, recorded());
    }
    holds_to_the_bar(&rows);
}
