#![doc = include_str!("load_dump.md")]

use super::{Bench, Family, Judgement, Rule, words};
use crate::circuit::{Kind, PartId};
use crate::finding::{Check, Outcome, Severity};
use crate::study::parting::By;

/// The rule.
pub const RULE: Rule = Rule {
    id: "load-dump",
    family: Family::Protection,
    title: "what can part a running alternator from its last battery",
    worst: Severity::Query,
    sources: &["iso-16750-2"],
    page: include_str!("load_dump.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (i, part) in bench.circuit.parts.iter().enumerate() {
        if !matches!(part.kind, Kind::Alternator(_)) {
            continue;
        }
        let id = PartId(i);
        let mut by_hand = false;
        for parting in bench.study.partings.iter().filter(|p| p.alternator == id) {
            let (part, severity, how) = match parting.by {
                By::Switch(part) => (part, Severity::Query, "when it is opened"),
                By::Board(part) => (part, Severity::Query, "when its protection board opens"),
                By::Device(part) => (part, Severity::Note, "when it opens on a fault"),
            };
            by_hand |= severity == Severity::Query;
            let (name, alternator) = (&bench.circuit.part(part).name, &bench.circuit.part(id).name);
            // Unsuppressed, a 12 V machine reaches 79 to 101 V, a 24 V machine 151 to 202 V.
            let volts = if bench.circuit.nominal.in_volts() > 18.0 { "151 to 202 V" } else { "79 to 101 V" };
            judgement.say(
                bench,
                Check {
                    rule: RULE.id,
                    subject: name.clone(),
                    case: format!("`{alternator}` running"),
                    value: words("leaves no battery on it"),
                    limit: words("a battery stays on it"),
                    margin: String::new(),
                    outcome: Outcome::Found(severity),
                    sources: vec!["iso-16750-2"],
                },
                bench.part_span(part),
                || {
                    format!(
                        "{how}, `{name}` leaves the running `{alternator}` without a battery: its voltage may jump to {volts} for a moment and spoil whatever is on it"
                    )
                },
                || match parting.by {
                    By::Device(_) => Vec::new(),
                    By::Switch(_) => vec![
                        format!("join `{alternator}` to the battery's own side of `{name}`, so that it stays on when `{name}` opens"),
                        format!("or say in the steps that `{name}` is opened only with the engine stopped, and answer this query with what guards against it (a suppressing alternator, a contact that cuts its field)"),
                    ],
                    By::Board(_) => vec![
                        format!("charge `{name}` through a battery-to-battery charger, and leave a lead-acid battery on `{alternator}`"),
                    ],
                },
            );
        }
        if !by_hand {
            let name = &bench.circuit.part(id).name;
            judgement.say(
                bench,
                Check {
                    rule: RULE.id,
                    subject: name.clone(),
                    case: "parted by hand or by a board".into(),
                    value: words("a battery stays on it"),
                    limit: words("a battery stays on it"),
                    margin: String::new(),
                    outcome: Outcome::Passes,
                    sources: vec!["iso-16750-2"],
                },
                bench.part_span(id),
                String::new,
                Vec::new,
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::{Note, Query};
    use crate::rules::testing::finds;

    const ID: &str = "load-dump";

    fn charged(chemistry: &str, extra_parts: &str, runs: &str) -> Vec<(crate::finding::Severity, String)> {
        finds(
            ID,
            &format!(
                "---\ntitle: An alternator\nsummary: Its figures are invented.\nwritten: 2026-11-25\n\
                 vehicle: {{kind: van, body: steel, drive: diesel}}\nsystem: 12 V\nzones:\n  bay: {{label: Bay, ambient: 50 °C, engine-space: true}}\nparts:\n  \
                 battery: {{is: battery, in: bay, chemistry: {chemistry}, capacity: 90 Ah}}\n  \
                 fuse: {{is: fuse, in: bay, rating: 100 A}}\n{extra_parts}  \
                 alternator: {{is: alternator, in: bay, output: 90 A, bolted-to: engine}}\n  engine: {{is: engine, in: bay}}\n\
                 every-run: {{metal: copper, insulation: xlpe, rated: 105 °C}}\nruns:\n  \
                 lead: {{from: battery+, to: fuse, size: 35 mm², length: 0.1 m}}\n{runs}  \
                 back: {{from: battery-, to: engine, size: 35 mm², length: 1 m}}\nstates:\n  charging: {{alternator: running}}\n---\n"
            ),
        )
    }

    const STRAIGHT: &str = "  charge: {from: fuse, to: alternator, size: 35 mm², length: 1 m}\n";
    const ISOLATOR: &str = "  isolator: {is: isolator, in: bay, rating: 200 A}\n";
    const THROUGH: &str = "  link: {from: fuse, to: isolator, size: 35 mm², length: 0.2 m}\n  \
        charge: {from: isolator, to: alternator, size: 35 mm², length: 1 m}\n";

    #[test]
    fn a_fuse_parts_it_only_on_a_fault_and_an_isolator_by_hand() {
        assert_eq!(charged("agm", "", STRAIGHT), [(Note, "fuse".into())]);
        assert_eq!(charged("agm", ISOLATOR, THROUGH), [(Note, "fuse".into()), (Query, "isolator".into())]);
    }

    #[test]
    fn another_battery_that_stays_on_it_keeps_the_peace() {
        let second = format!(
            "{ISOLATOR}  second: {{is: battery, in: bay, chemistry: agm, capacity: 60 Ah}}\n  own: {{is: fuse, in: bay, rating: 60 A}}\n"
        );
        let runs = format!(
            "{THROUGH}  near: {{from: second+, to: own, size: 16 mm², length: 0.1 m}}\n  \
             join: {{from: own, to: alternator, size: 16 mm², length: 0.4 m}}\n  \
             second-back: {{from: second-, to: engine, size: 16 mm², length: 0.4 m}}\n"
        );
        assert_eq!(charged("agm", &second, &runs), []);
    }

    /// Alternator feeding a lithium battery direct with no lead battery: warned; with a DC-DC charger between: passes.
    /// Source: ISO 16750-2 (pulse 79 to 101 V on 12 V).
    #[test]
    fn a_lithium_board_opens_by_itself() {
        assert_eq!(charged("lfp", "", STRAIGHT), [(Note, "fuse".into()), (Query, "battery".into())]);
        let apart = "  house: {is: battery, in: bay, chemistry: lfp, capacity: 100 Ah}\n  \
            dcdc: {is: charger, kind: dc-dc, in: bay, output: 20 A}\n";
        let runs = format!(
            "{STRAIGHT}  dc-in: {{from: alternator, to: dcdc.in+, size: 10 mm², length: 0.3 m}}\n  \
             dc-out: {{from: dcdc.out+, to: house+, size: 10 mm², length: 0.3 m}}\n  \
             dc-in-back: {{from: dcdc.in-, to: engine, size: 10 mm², length: 0.3 m}}\n  \
             dc-back: {{from: dcdc.out-, to: house-, size: 10 mm², length: 0.3 m}}\n"
        );
        assert_eq!(charged("agm", apart, &runs), [(Note, "fuse".into())]);
    }
}
