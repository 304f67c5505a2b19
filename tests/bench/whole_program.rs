//! How fast the whole program is, each time beside a floor measured in the same run: `cargo bench --bench whole_program`.
//!
//! A time alone says as much about the machine as about the program; the ratio to the floor says
//! more. The bars are the project's own; a time past its bar ends with status 1.
#![allow(clippy::unwrap_used, clippy::print_stdout)] // a measurement that cannot go on must panic; it prints what it found

use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

const COPIES: usize = 300;
const GUIDE: &str = include_str!("../guides/design-example/guide.md");

fn program() -> Command {
    Command::new(env!("CARGO_BIN_EXE_goodground"))
}

fn main() {
    let place = tempfile::tempdir().unwrap();
    let mut rows = Vec::new();

    // Pages alone, without prints of the pictures; then with all of them.
    for (what, downloads, bar) in
        [("publish of the demo", "svg", Some(Duration::from_secs(1))), ("  with all prints", "[svg, png, pdf]", None)]
    {
        let demo = place.path().join("demo");
        copy_with_downloads(&Path::new(env!("CARGO_MANIFEST_DIR")).join("content"), &demo, downloads);
        let site = place.path().join("demo-site");
        let took = best_of(5, || publish(&demo, &site));
        rows.push(Row { what, took, floor: copying(&site, place.path()), bar });
    }

    let copies = place.path().join("content");
    fs::create_dir_all(&copies).unwrap();
    for i in 0..COPIES {
        let folder = copies.join(format!("guide-{i}"));
        fs::create_dir(&folder).unwrap();
        let text = GUIDE.replacen("title: ", &format!("title: No. {i}, "), 1);
        fs::write(folder.join("guide.md"), text).unwrap();
    }
    for (what, downloads, runs, bar) in [
        ("publish of 300 copies", "svg", 2, Some(Duration::from_secs(20))),
        ("  with all prints", "[svg, png, pdf]", 1, None),
    ] {
        fs::write(copies.join("publisher.yaml"), format!("name: A Club\ndownloads: {downloads}\n")).unwrap();
        let site = place.path().join("copies-site");
        let took = best_of(runs, || publish(&copies, &site));
        rows.push(Row { what, took, floor: copying(&site, place.path()), bar });
    }

    let one = place.path().join("one");
    fs::create_dir_all(one.join("van")).unwrap();
    fs::write(one.join("publisher.yaml"), "name: A Club\n").unwrap();
    fs::write(one.join("van/guide.md"), GUIDE.replace("engine, size: 70 mm²", "engine, size: 4 mm²")).unwrap();
    let took = best_of(20, || first_byte(program().args(["review", "--from"]).arg(&one)));
    let floor = best_of(20, || first_byte(program().arg("--version")));
    rows.push(Row { what: "start to first finding", took, floor, bar: Some(Duration::from_millis(50)) });

    println!("{:<24} {:>10} {:>10} {:>7} {:>10}", "", "time", "floor", "ratio", "bar");
    for row in &rows {
        let ratio = row.took.as_secs_f64() / row.floor.as_secs_f64();
        println!(
            "{:<24} {:>7.1} ms {:>7.1} ms {ratio:>7.1} {:>10}",
            row.what,
            row.took.as_secs_f64() * 1e3,
            row.floor.as_secs_f64() * 1e3,
            row.bar.map_or("none".into(), |bar| format!("{:.0} ms", bar.as_secs_f64() * 1e3))
        );
    }
    println!("Floors: copying the finished site's files; starting the program and printing its version.");
    if rows.iter().any(|r| r.bar.is_some_and(|bar| r.took > bar)) {
        println!("A time is past its bar.");
        std::process::exit(1);
    }
}

struct Row {
    what: &'static str,
    took: Duration,
    floor: Duration,
    bar: Option<Duration>,
}

/// Copies a content folder, with the kinds of download in its publisher's file set.
fn copy_with_downloads(from: &Path, to: &Path, downloads: &str) {
    for entry in walkdir::WalkDir::new(from) {
        let entry = entry.unwrap();
        let target = to.join(entry.path().strip_prefix(from).unwrap());
        if entry.file_type().is_dir() {
            fs::create_dir_all(target).unwrap();
        } else {
            fs::copy(entry.path(), target).unwrap();
        }
    }
    let file = to.join("publisher.yaml");
    let text = fs::read_to_string(&file).unwrap();
    fs::write(file, format!("{}\ndownloads: {downloads}\n", text.trim_end())).unwrap();
}

/// The shortest of several runs: what is longer is the machine's other work.
fn best_of(runs: usize, mut run: impl FnMut() -> Duration) -> Duration {
    (0..runs).map(|_| run()).min().unwrap()
}

fn publish(content: &Path, site: &Path) -> Duration {
    let start = Instant::now();
    let output = program().arg("publish").arg("--from").arg(content).arg("--to").arg(site).output().unwrap();
    let took = start.elapsed();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stdout));
    took
}

/// Until the first byte of standard output.
fn first_byte(command: &mut Command) -> Duration {
    let start = Instant::now();
    let mut run = command.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    let mut out = run.stdout.take().unwrap();
    out.read_exact(&mut [0]).unwrap();
    let took = start.elapsed();
    drop(out);
    run.wait().unwrap();
    took
}

/// Copying a site's files to a fresh folder, one after the other.
fn copying(site: &Path, place: &Path) -> Duration {
    let files: Vec<PathBuf> = walkdir::WalkDir::new(site)
        .into_iter()
        .map(|e| e.unwrap())
        .filter(|e| e.file_type().is_file())
        .map(|e| e.path().strip_prefix(site).unwrap().to_owned())
        .collect();
    best_of(3, || {
        let to = tempfile::tempdir_in(place).unwrap();
        let start = Instant::now();
        for file in &files {
            let path = to.path().join(file);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, fs::read(site.join(file)).unwrap()).unwrap();
        }
        start.elapsed()
    })
}
