#![doc = include_str!("device_too_far.md")]

use super::placement::{From, placement_advice, placement_by_club};
use super::{Bench, Family, Judgement, Measured, Rule};
use crate::circuit::RunId;
use crate::finding::{Check, Outcome, Severity};
use crate::guide::Covering;
use crate::handbook::limits;
use crate::quantity::Show;
use crate::study::supply::{End, Link, Path, Stretch};

/// The rule.
pub const RULE: Rule = Rule {
    id: "device-too-far",
    family: Family::Protection,
    title: "how far along its conductor the first fuse or breaker sits from each source and each tap",
    worst: Severity::Unsafe,
    sources: &["cfr33-183-455", "abyc-e11-placement"],
    page: include_str!("device_too_far.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let supply = &bench.study.supply;
    let starts = supply.feeds_starter(bench.circuit);
    for path in supply.paths.iter().filter(|p| supply.needs_device(p)) {
        let End::Device(device) = path.end else { continue };
        let source = &supply.sources[path.source];
        let stretches = path.stretches(bench.circuit, source, |run| starts[run.0]);
        // Every terminal at which something branches off is a source of its own for what leaves it.
        let judged = stretches.iter().map(|stretch| {
            let from = if stretch.first == 0 { From::source(source.kind) } else { From::Other };
            let covered = covered(bench, path, stretch, stretches.last());
            (stretch, from, placement_by_club(bench, RULE.id, from, stretch.length, covered))
        });
        let worst = judged.max_by(|(a, _, p), (b, _, q)| {
            let rank = |s: &Stretch, limit: f64| s.length.in_metres() / limit;
            (p.severity.cmp(&q.severity))
                .then(rank(a, p.limit.value.in_metres()).total_cmp(&rank(b, q.limit.value.in_metres())))
        });
        let Some((stretch, from, placed)) = worst else { continue };
        let Some(id) = path.run_from(stretch.first) else { continue };
        let (name, device) = (&bench.circuit.run(id).name, &bench.circuit.part(device).name);
        let origin = &bench.circuit.part(stretch.origin).name;
        let length = stretch.length;
        let bare: Vec<RunId> =
            runs_of(path, stretch.first).filter(|r| bench.circuit.run(*r).covering == Covering::None).collect();
        let apart = length.apart(placed.limit.value);
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: name.clone(),
                case: format!("from `{origin}` to `{device}`, {}", if bare.is_empty() { "covered" } else { "bare" }),
                value: length.figure(),
                limit: placed.limit.value.figure(),
                margin: match placed.severity {
                    None => format!("{apart} to spare; unprotected by design"),
                    Some(_) => format!("{apart} over"),
                },
                outcome: placed.severity.map_or(Outcome::Passes, Outcome::Found),
                sources: vec![placed.limit.source],
            },
            bench.run_span(id),
            || {
                let how = if placed.past_covered {
                    format!("even covered it may be {}", placed.limit.value.show())
                } else {
                    format!("bare it may be {}", placed.limit.value.show())
                };
                format!("`{device}`, the first device after `{origin}`, sits {} along `{name}`; {how}", length.show())
            },
            || placement_advice(bench, from, device, origin, &bare),
        );
    }
}

fn runs_of(path: &Path, first: usize) -> impl Iterator<Item = RunId> + '_ {
    path.links[first..].iter().filter_map(|l| match l {
        Link::Run(run) => Some(*run),
        Link::Switch(_) => None,
    })
}

/// Whether a stretch counts as covered: all its runs are, or all but a last piece that is a tap of its own and short
/// enough to be bare.
fn covered(bench: &Bench<'_>, path: &Path, stretch: &Stretch, last: Option<&Stretch>) -> bool {
    let Some(last) = last.filter(|l| l.first > stretch.first && l.length <= limits::placed_bare().value) else {
        return stretch.covered;
    };
    path.links[stretch.first..last.first].iter().all(|l| match l {
        Link::Run(run) => bench.circuit.run(*run).covering != Covering::None,
        Link::Switch(_) => true,
    })
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::{Query, Unsafe};
    use crate::rules::testing::{VAN, changed, check_rule, finds};

    const ID: &str = "device-too-far";
    const LEAD: &str = "size: 70 mm², length: 0.35 m, covering: sheath}";

    fn lead(length: &str, covering: &str) -> Vec<(crate::finding::Severity, String)> {
        finds(ID, &changed(VAN, &[(LEAD, &format!("size: 70 mm², length: {length}, covering: {covering}}}"))]))
    }

    #[test]
    fn a_covered_lead_from_a_battery_may_be_72_inches() {
        assert_eq!(finds(ID, VAN), []);
        assert_eq!(lead("72 in", "sheath"), []);
        assert_eq!(lead("1.83 m", "conduit"), []);
        assert_eq!(lead("1.84 m", "conduit"), [(Unsafe, "battery-lead".into())]);
    }

    #[test]
    fn a_bare_lead_may_be_7_inches_and_is_asked_about_up_to_72() {
        assert_eq!(lead("7 in", "none"), []);
        assert_eq!(lead("178 mm", "none"), []);
        assert_eq!(lead("179 mm", "none"), [(Query, "battery-lead".into())]);
        assert_eq!(lead("1.83 m", "none"), [(Query, "battery-lead".into())]);
        assert_eq!(lead("1.84 m", "none"), [(Unsafe, "battery-lead".into())]);
    }

    #[test]
    fn a_club_may_ask_for_less_and_never_allow_more() {
        let at = |limit: &str| {
            let text = format!("name: A club\nlanguage: en\nlimits: {{device-too-far: {limit}}}\n");
            let file = crate::source::SourceFile::new("publisher.yaml", text);
            let (publisher, found) = crate::guide::publisher::read(&file);
            let (limits, _) = crate::rules::limits::Limits::of(&publisher.unwrap_or_else(|| panic!("{found:?}")));
            let van = crate::rules::testing::studied(VAN);
            let judged = crate::rules::judge(&crate::rules::Bench { limits: &limits, ..van.bench() });
            judged.findings.iter().filter(|f| f.rule == ID).map(|f| f.severity).collect::<Vec<_>>()
        };
        assert_eq!(at("350 mm"), []);
        assert_eq!(at("349 mm"), [Unsafe]);
        assert_eq!(at("3 m"), []);
    }

    #[test]
    fn what_lies_before_the_device_is_said_to_be_unprotected_by_design() {
        let judged = check_rule(ID, VAN);
        assert!(
            judged.checks.iter().any(|c| c.subject == "battery-lead" && c.margin.ends_with("unprotected by design"))
        );
    }

    /// A bar at the battery, from which two fused feeds leave.
    fn barred(main: &str, tap: &str) -> Vec<(crate::finding::Severity, String)> {
        let text = format!(
            "---\ntitle: A bar\nsummary: Its figures are invented.\nwritten: 2026-11-25\n\
             vehicle: {{kind: van, body: steel, drive: diesel}}\nsystem: 12 V\nzones:\n  box: {{label: Box}}\nparts:\n  \
             battery: {{is: battery, in: box, chemistry: agm, capacity: 90 Ah}}\n  bar: {{is: busbar, in: box}}\n  \
             one: {{is: fuse, in: box, rating: 30 A}}\n  two: {{is: fuse, in: box, rating: 30 A}}\n  \
             panel: {{is: panel, in: box}}\n  lamp: {{is: load, in: box}}\n\
             every-run: {{metal: copper, insulation: xlpe, rated: 105 °C, covering: conduit}}\nruns:\n  \
             main: {{from: battery+, to: bar, size: 16 mm², {main}}}\n  \
             tap: {{from: bar, to: one, size: 16 mm², {tap}}}\n  other: {{from: bar, to: two, size: 16 mm², length: 0.1 m}}\n  \
             panel-feed: {{from: one, to: panel+, size: 16 mm², length: 2 m}}\n  \
             lamp-feed: {{from: two, to: lamp+, size: 16 mm², length: 2 m}}\n  \
             panel-return: {{from: panel-, to: battery-, size: 16 mm², length: 2 m}}\n  \
             lamp-return: {{from: lamp-, to: battery-, size: 16 mm², length: 2 m}}\nstates:\n  work: {{lamp: 5 A}}\n---\n"
        );
        finds(ID, &text)
    }

    #[test]
    fn a_tap_s_post_is_a_source_of_its_own_and_the_battery_still_counts() {
        assert_eq!(barred("length: 0.5 m", "length: 0.5 m"), []);
        // From the bar, covered: 40 in and no more, though the battery would allow 72.
        assert_eq!(barred("length: 0.2 m", "length: 40 in"), []);
        assert_eq!(barred("length: 0.2 m", "length: 41 in"), [(Unsafe, "tap".into())]);
        // Both pieces within their own limits, but together past 72 in from the battery.
        assert_eq!(barred("length: 1.2 m", "length: 0.7 m"), [(Unsafe, "main".into())]);
        // A bare tap of 7 in does not make a covered lead bare.
        assert_eq!(barred("length: 1.2 m", "length: 7 in, covering: none"), []);
        assert_eq!(barred("length: 1.2 m", "length: 8 in, covering: none"), [(Query, "main".into())]);
    }

    #[test]
    fn the_far_end_of_a_link_between_batteries_is_measured_from_its_own_battery() {
        let text = "---\ntitle: Two batteries\nsummary: Its figures are invented.\nwritten: 2026-11-25\n\
            vehicle: {kind: van, body: steel, drive: diesel}\nsystem: 12 V\nzones:\n  box: {label: Box}\nparts:\n  \
            one: {is: battery, in: box, chemistry: agm, capacity: 90 Ah}\n  two: {is: battery, in: box, chemistry: agm, capacity: 90 Ah}\n  \
            fuse: {is: fuse, in: box, rating: 100 A}\n\
            every-run: {metal: copper, insulation: xlpe, rated: 105 °C, covering: conduit}\nruns:\n  \
            near: {from: one+, to: fuse, size: 35 mm², length: 0.3 m}\n  far: {from: fuse, to: two+, size: 35 mm², length: 4 m}\n  \
            back: {from: one-, to: two-, size: 35 mm², length: 4 m}\nstates:\n  rest: {}\n---\n";
        assert_eq!(finds(ID, text), [(Unsafe, "far".into())]);
    }
}
