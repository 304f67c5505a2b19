//! Netlists, ngspice's answers to them, and the record of these answers.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::fs;
use std::path::PathBuf;
use std::process::Command;

use sha2::{Digest, Sha256};

/// Everything as tight as ngspice lets it be: its answers must be good to a millionth.
const OPTIONS: &str = ".options reltol=1e-12 abstol=1e-12 vntol=1e-12 itl1=1000\n";
/// Two runs of ngspice agree to this, relative and in volts or amperes.
const SAME: f64 = 1e-9;
/// What the issue allows: a millionth, plus a microvolt or a microampere.
const ALLOWED: f64 = 1e-6;

const HOW_TO_RECORD: &str = "with ngspice installed, `GOODGROUND_NGSPICE=record cargo test --test suite spice` \
                             writes the record anew; commit what it wrote";

/// Where the netlists and the record lie.
pub fn folder() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/spice")
}

/// A netlist and what is asked of it.
pub struct Deck {
    /// As the record calls it.
    pub name: String,
    /// The netlist, without `.end`.
    pub netlist: String,
    /// Expressions as ngspice writes them: `v(x)`, `i(v1)`, `@r1[i]`.
    pub asked: BTreeSet<String>,
}

/// By expression.
pub type Answers = BTreeMap<String, f64>;

impl Deck {
    /// Tells one netlist from another, with what is asked of it.
    fn digest(&self) -> String {
        let mut hash = Sha256::new();
        hash.update(&self.netlist);
        for asked in &self.asked {
            hash.update("\n");
            hash.update(asked);
        }
        hash.finalize().iter().take(8).map(|byte| format!("{byte:02x}")).collect()
    }

    /// Has ngspice solve it. An expression that it cannot answer is missing from the answers.
    fn run(&self) -> Answers {
        let mut script = format!("* {}\n{}\n{OPTIONS}.control\nset numdgt=15\nop\n", self.name, self.netlist);
        for asked in &self.asked {
            writeln!(script, "print {asked}").unwrap();
        }
        script.push_str("quit\n.endc\n.end\n");
        let folder = tempfile::tempdir().expect("a folder for one netlist");
        let path = folder.path().join("netlist.cir");
        fs::write(&path, script).expect("a netlist can be written");
        let run = Command::new("ngspice").arg("-b").arg(&path).current_dir(folder.path()).output();
        let run = run.expect("ngspice runs: Debian's package `ngspice`");
        let (told, warned) = (String::from_utf8_lossy(&run.stdout), String::from_utf8_lossy(&run.stderr));
        for bad in ["singular", "no convergence", "aborted", "timestep too small"] {
            let complaint = told.lines().chain(warned.lines()).find(|l| l.to_lowercase().contains(bad));
            assert!(complaint.is_none(), "{}: ngspice says {complaint:?}", self.name);
        }
        told.lines()
            .filter_map(|line| {
                let (expression, value) = line.split_once(" = ")?;
                let asked = self.asked.get(expression.trim())?;
                Some((asked.clone(), value.trim().parse().ok()?))
            })
            .collect()
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Way {
    /// Answers come from the record.
    Recorded,
    /// ngspice is run, and must say what it said before.
    Live,
    /// ngspice is run, and what it says is written down.
    Record,
}

/// One file of recorded answers.
pub struct Record {
    name: &'static str,
    way: Way,
    /// By netlist: its digest, and the answers in the order of what was asked. What ngspice cannot answer is none.
    kept: BTreeMap<String, (String, Vec<Option<f64>>)>,
    used: BTreeMap<String, (String, Vec<Option<f64>>)>,
}

impl Record {
    /// Opens `tests/spice/recorded/NAME.csv`.
    pub fn open(name: &'static str) -> Record {
        let way = match std::env::var("GOODGROUND_NGSPICE").as_deref() {
            Err(_) | Ok("") => Way::Recorded,
            Ok("live") => Way::Live,
            Ok("record") => Way::Record,
            Ok(other) => panic!("GOODGROUND_NGSPICE is `{other}`: it may be `live` or `record`"),
        };
        let mut record = Record { name, way, kept: BTreeMap::new(), used: BTreeMap::new() };
        if way != Way::Record || record.path().exists() {
            record.read();
        }
        record
    }

    fn path(&self) -> PathBuf {
        folder().join("recorded").join(format!("{}.csv", self.name))
    }

    fn read(&mut self) {
        let mut reader = csv::Reader::from_path(self.path()).unwrap_or_else(|e| panic!("{}: {e}", self.name));
        for row in reader.records() {
            let row = row.expect("a row of the record");
            let answers = row[2].split(' ').map(|value| value.parse().ok()).collect();
            self.kept.insert(row[0].to_string(), (row[1].to_string(), answers));
        }
    }

    /// What ngspice says of a netlist.
    pub fn answers(&mut self, deck: &Deck) -> Answers {
        let digest = deck.digest();
        let run = if self.way == Way::Recorded { Answers::new() } else { deck.run() };
        let in_order = |answers: &Answers| deck.asked.iter().map(|asked| answers.get(asked).copied()).collect();
        let used = (digest.clone(), in_order(&run));
        assert!(self.used.insert(deck.name.clone(), used).is_none(), "two netlists are called {}", deck.name);
        if self.way == Way::Record {
            return run;
        }
        let (name, how) = (self.name, HOW_TO_RECORD);
        let kept = self.kept.get(&deck.name);
        let (known, recorded) =
            kept.unwrap_or_else(|| panic!("{name}: no answers are on record for `{}`: {how}", deck.name));
        assert!(
            *known == digest,
            "{name}: the netlist `{}` is no longer the one whose answers are on record, since a number or the wiring \
             in it changed: {how}",
            deck.name
        );
        let recorded: Answers = deck
            .asked
            .iter()
            .zip(recorded)
            .filter_map(|(asked, value)| value.map(|value| (asked.clone(), value)))
            .collect();
        if self.way == Way::Recorded {
            return recorded;
        }
        for asked in &deck.asked {
            let (then, now) = (recorded.get(asked).copied(), run.get(asked).copied());
            assert!(same(then, now), "{name}: `{}`: {asked} was {then:?} and is {now:?}", deck.name);
        }
        run
    }

    /// Writes the record when that was asked for; otherwise holds that nothing in it is out of use.
    pub fn close(self) {
        if self.way != Way::Record {
            let unused: Vec<&String> = self.kept.keys().filter(|name| !self.used.contains_key(*name)).collect();
            assert!(unused.is_empty(), "{}: nothing asks any more for {unused:?}: {HOW_TO_RECORD}", self.name);
            return;
        }
        let mut writer = csv::Writer::from_path(self.path()).expect("the record can be written");
        writer.write_record(["netlist", "digest", "answers"]).unwrap();
        for (deck, (digest, answers)) in &self.used {
            // What ngspice says again but for its last digits stays as it stood.
            let answers = match self.kept.get(deck) {
                Some((known, kept)) if known == digest && kept.iter().zip(answers).all(|(a, b)| same(*a, *b)) => kept,
                _ => answers,
            };
            // Eleven digits: read again, they stand far inside what is allowed.
            let answers: Vec<String> =
                answers.iter().map(|value| value.map_or("none".to_string(), |v| format!("{v:.10e}"))).collect();
            writer.write_record([deck, digest, &answers.join(" ")]).unwrap();
        }
        writer.flush().expect("the record can be written");
    }
}

/// Whether ngspice says the same as before.
fn same(then: Option<f64>, now: Option<f64>) -> bool {
    match (then, now) {
        (Some(then), Some(now)) => (now - then).abs() <= SAME * (1.0 + then.abs()),
        (then, now) => then.is_none() && now.is_none(),
    }
}

/// Counts comparisons and keeps those that fail.
pub struct Tally {
    name: &'static str,
    compared: usize,
    worst: f64,
    worst_at: String,
    wrong: Vec<String>,
}

impl Tally {
    /// A tally of one set.
    pub fn new(name: &'static str) -> Tally {
        Tally { name, compared: 0, worst: 0.0, worst_at: String::new(), wrong: Vec::new() }
    }

    /// Compares what we solved with what ngspice did.
    pub fn compare(&mut self, what: &str, ours: f64, theirs: f64) {
        self.compare_within(what, ours, theirs, 0.0);
    }

    /// The same, with so many volts or amperes more allowed.
    pub fn compare_within(&mut self, what: &str, ours: f64, theirs: f64, more: f64) {
        self.compared += 1;
        let apart = (ours - theirs).abs();
        // Relative, with one volt or ampere added below the line: what must not pass a millionth.
        let share = |apart: f64| apart / (1.0 + theirs.abs());
        if share(apart) > self.worst {
            self.worst = share(apart);
            self.worst_at = what.to_string();
        }
        if apart.is_nan() || share(apart - more) > ALLOWED {
            self.wrong.push(format!("{what}: we have {ours}, ngspice {theirs}"));
        }
    }

    /// A comparison that could not be made, or something else that must not be.
    pub fn wrong(&mut self, what: String) {
        self.wrong.push(what);
    }

    /// Holds that all agreed, and that there was something to agree on.
    #[allow(clippy::print_stderr, reason = "shown with --nocapture: how much was compared, and how near it came")]
    pub fn finish(self, at_least: usize) {
        let Tally { name, compared, worst, worst_at, wrong } = self;
        eprintln!("{name}: {compared} comparisons with ngspice, worst {worst:.1e} ({worst_at})");
        assert!(wrong.is_empty(), "{} of {compared} are wrong:\n{}", wrong.len(), wrong.join("\n"));
        assert!(compared >= at_least, "{name}: only {compared} comparisons");
    }
}

/// The element names of a netlist, as ngspice knows them: in lower case.
pub fn elements(netlist: &str) -> BTreeSet<String> {
    netlist
        .lines()
        .map(str::trim)
        .filter(|l| l.starts_with(|c: char| c.is_ascii_alphabetic()))
        .filter_map(|l| l.split_whitespace().next())
        .map(str::to_lowercase)
        .collect()
}
