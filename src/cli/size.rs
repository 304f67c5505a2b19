//! `size`: tries cable sizes for a load and a distance.
//!
//! Each size is a circuit of its own (a battery, a fuse, the load, a cable out and one back), solved
//! and judged by the same rules as a guide. Which of them apply to so little is in [`JUDGED_BY`].

use clap::Args;

use super::{Ending, Trouble, output};
use crate::finding::{Finding, Outcome, Severity};
use crate::handbook::{conductors, limits};
use crate::quantity::{CableSize, Current, Length, Readable, Show, Temperature, Voltage};
use crate::rules::{self, Bench, Judgement};
use crate::source::SourceFile;
use crate::{circuit, guide, study};

/// What a cable, a fuse and a load by themselves can be judged by. The rest needs the whole circuit.
const JUDGED_BY: &[&str] = &[
    "load-drop",
    "conductor-hot",
    "conductor-too-small",
    "device-above-cable",
    "device-overloaded",
    "size-not-in-table",
];

#[derive(Args)]
pub(super) struct Options {
    /// What the load takes, as "30 A"
    #[arg(value_name = "CURRENT")]
    current: String,
    /// How far the cable is laid, one way, as "5 m" or "16 ft"; the return is as long
    #[arg(value_name = "DISTANCE")]
    distance: String,
    /// 12 V or 24 V
    #[arg(long, value_name = "VOLTAGE", default_value = "12 V")]
    system: String,
    /// How hot the air is where the cable lies
    #[arg(long, value_name = "TEMPERATURE", default_value = "30 °C")]
    ambient: String,
    /// The temperature that the cable's insulation is made for
    #[arg(long, value_name = "TEMPERATURE", default_value = "105 °C")]
    rated: String,
    /// The load needs a steady voltage: lights for the road, navigation, electronics
    #[arg(long)]
    steady: bool,
    /// Try American wire gauges in place of metric sizes
    #[arg(long)]
    awg: bool,
}

pub(super) fn run(options: &Options) -> Result<Ending, Trouble> {
    let asked = Asked {
        current: read("CURRENT", &options.current)?,
        distance: read("DISTANCE", &options.distance)?,
        system: read("--system", &options.system)?,
        ambient: read("--ambient", &options.ambient)?,
        rated: read("--rated", &options.rated)?,
        steady: options.steady,
    };
    if ![12.0, 24.0].contains(&asked.system.in_volts()) {
        return Err(Trouble::Asked("--system: it is either 12 V or 24 V".into()));
    }
    let sizes = if options.awg { conductors::awg_sizes() } else { conductors::metric_sizes() };
    let rows: Vec<Row> = sizes.iter().map(|size| asked.try_size(*size)).collect::<Result<_, _>>()?;
    let passes = rows.iter().any(|r| r.verdict == "passes");
    output::say(&render(&asked, &rows))?;
    Ok(if passes { Ending::Clear } else { Ending::Stopped })
}

fn read<T: Readable>(what: &str, text: &str) -> Result<T, Trouble> {
    T::read(text).map_err(|e| Trouble::Asked(format!("{what}: {}: {}", e.message, e.remedy)))
}

struct Asked {
    current: Current,
    distance: Length,
    system: Voltage,
    ambient: Temperature,
    rated: Temperature,
    steady: bool,
}

/// What became of one size.
struct Row {
    size: CableSize,
    drop: String,
    hottest: String,
    fuse: String,
    verdict: String,
}

impl Asked {
    /// A guide's file with this circuit. Figures are written in SI, so that reading them back loses nothing.
    fn guide(&self, size: CableSize, fuse: Current) -> SourceFile {
        let needs = if self.steady { "needs: steady, " } else { "" };
        let run = format!("size: {size}, length: {} m, rated: {} °C", self.distance.si(), self.rated.in_celsius());
        let text = format!(
            "---\ntitle: A size\nsummary: A size.\nwritten: 2026-01-01\n\
             vehicle: {{kind: van, body: composite, drive: none}}\nsystem: {} V\n\
             zones:\n  here: {{label: Here, ambient: {} °C}}\n\
             parts:\n  \
             battery: {{is: battery, in: here, chemistry: agm, capacity: 100 Ah}}\n  \
             fuse: {{is: fuse, in: here, rating: {} A, volts: 32 V}}\n  \
             load: {{is: load, in: here, {needs}rating: {amps} A}}\n\
             every-run: {{metal: copper, insulation: xlpe, covering: none}}\n\
             runs:\n  \
             lead: {{from: battery+, to: fuse, size: {size}, length: 0.1 m, rated: {} °C}}\n  \
             feed: {{from: fuse, to: load+, {run}}}\n  \
             return: {{from: load-, to: battery-, {run}}}\n\
             states:\n  working: {{load: {amps} A}}\n---\n\nA size.\n",
            self.system.in_volts(),
            self.ambient.in_celsius(),
            fuse.in_amps(),
            self.rated.in_celsius(),
            amps = self.current.in_amps(),
        );
        SourceFile::new("size", text)
    }

    fn try_size(&self, size: CableSize) -> Result<Row, Trouble> {
        // The least fuse that a continuous load may have: what a thin cable can still be protected by.
        let least = self.current / limits::continuous_share().value.in_ones();
        let (guide, mut found) = guide::read(self.guide(size, least), "size");
        let circuit = guide.as_ref().and_then(|g| {
            let (circuit, more) = circuit::wire(g);
            found.extend(more);
            circuit
        });
        let (Some(guide), Some(circuit)) = (guide, circuit) else {
            let why = found.first().map_or_else(|| "it makes no circuit".into(), told);
            return Err(Trouble::Asked(format!("{size} could not be tried: {why}")));
        };
        let study = study::study(&circuit);
        let judgement =
            rules::judge(&Bench { guide: &guide, circuit: &circuit, study: &study, limits: &rules::limits::NONE });
        let feed = circuit.run_named("feed").map(|id| circuit.run(id));
        let fuse = match feed.and_then(|run| run.iz) {
            Some(iz) if iz >= least => format!("{} to {}", least.show(), iz.show()),
            Some(iz) => format!("none up to {}", iz.show()),
            None => "no table has it".into(),
        };
        Ok(Row {
            size,
            drop: worst(&judgement, "load-drop", |_| true),
            hottest: worst(&judgement, "conductor-hot", |subject| subject != "lead"),
            fuse,
            verdict: verdict(&judgement),
        })
    }
}

fn told(finding: &Finding) -> String {
    let advice = finding.advice.first().map(|a| format!(" {a}")).unwrap_or_default();
    format!("{}{advice}", finding.message)
}

/// The largest value that a rule held against a limit.
fn worst(judgement: &Judgement, rule: &str, subject: impl Fn(&str) -> bool) -> String {
    let checks = judgement.checks.iter().filter(|c| c.rule == rule && c.outcome != Outcome::NotApplicable);
    let worst = checks.filter(|c| subject(&c.subject)).max_by(|a, b| a.value.si.total_cmp(&b.value.si));
    worst.map_or_else(|| "-".into(), |c| c.value.shown.clone())
}

fn verdict(judgement: &Judgement) -> String {
    let mut against: Vec<&Finding> =
        judgement.findings.iter().filter(|f| f.severity > Severity::Note && JUDGED_BY.contains(&f.rule)).collect();
    against.sort_by_key(|f| std::cmp::Reverse(f.severity));
    let mut words: Vec<String> = against.iter().map(|f| format!("{} {}", f.severity.word(), f.rule)).collect();
    words.dedup();
    let mut seen = std::collections::BTreeSet::new();
    words.retain(|w| seen.insert(w.clone()));
    if words.is_empty() { "passes".into() } else { words.join(", ") }
}

fn render(asked: &Asked, rows: &[Row]) -> String {
    let mut out = format!(
        "{} over {} and back at {}: copper, insulation for {}, air at {}, on for good.\n\n",
        asked.current.show(),
        asked.distance.show_both(),
        asked.system.show(),
        asked.rated.show(),
        asked.ambient.show(),
    );
    let head = ["size", "lost", "hottest", "fuse", ""].map(str::to_owned);
    let table: Vec<[String; 5]> = std::iter::once(head)
        .chain(
            rows.iter()
                .map(|r| [r.size.to_string(), r.drop.clone(), r.hottest.clone(), r.fuse.clone(), r.verdict.clone()]),
        )
        .collect();
    let width = |column: usize| table.iter().map(|row| row[column].chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..4).map(width).collect();
    for row in &table {
        let cells: Vec<String> = row
            .iter()
            .enumerate()
            .map(|(i, cell)| match widths.get(i) {
                Some(width) => format!("{cell:>width$}"),
                None => cell.clone(),
            })
            .collect();
        out.push_str(cells.join("   ").trim_end());
        out.push('\n');
    }
    let first = rows.iter().find(|r| r.verdict == "passes").map_or_else(
        || "No size passes: carry the load on a shorter way, on 24 V, or on several cables judged in a guide.".into(),
        |row| format!("The smallest that passes is {}.", row.size),
    );
    out.push_str(&format!(
        "\n{first}\nJudged by {} alone. What else holds of a cable (faults, bundles, where it lies, how it is fixed)\n\
         is judged in a guide: goodground draft starts one.\n",
        JUDGED_BY.join(", ")
    ));
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(amps: f64, metres: f64) -> Asked {
        Asked {
            current: Current::amps(amps),
            distance: Length::metres(metres),
            system: Voltage::volts(12.0),
            ambient: Temperature::celsius(30.0),
            rated: Temperature::celsius(105.0),
            steady: false,
        }
    }

    fn smallest(asked: &Asked) -> Option<f64> {
        let sizes = conductors::metric_sizes();
        let row = sizes.iter().map(|s| asked.try_size(*s).unwrap()).find(|r| r.verdict == "passes")?;
        Some(row.size.section().in_mm2())
    }

    #[test]
    fn a_longer_way_or_a_larger_load_never_needs_less() {
        let mut last = 0.0;
        for metres in [1.0, 3.0, 6.0, 12.0] {
            let now = smallest(&asked(20.0, metres)).unwrap();
            assert!(now >= last, "{metres} m");
            last = now;
        }
        assert!(smallest(&asked(60.0, 3.0)) > smallest(&asked(10.0, 3.0)));
    }

    #[test]
    fn the_size_for_a_long_way_is_that_of_ohm_s_law() {
        // 20 A over 12 m and back at 12 V may lose 10 % (ISO 10133): 1.2 V / 20 A = 60 mΩ for 24 m of
        // copper, 2.5 mΩ/m. IEC 60228 class 5 at 20 °C: 6 mm² 3.30 mΩ/m, 10 mm² 1.91 mΩ/m. So 10 mm².
        assert_eq!(smallest(&asked(20.0, 12.0)), Some(10.0));
    }

    #[test]
    fn a_load_past_every_cable_has_none() {
        assert_eq!(smallest(&asked(900.0, 20.0)), None);
    }
}
