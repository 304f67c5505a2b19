#![doc = include_str!("run_unprotected.md")]

use std::collections::BTreeSet;

use super::placement::{From, placement};
use super::{Bench, Bound, Comparison, Family, Judgement, Measured, Rule, words};
use crate::circuit::{Kind, LoadKind, RunId};
use crate::finding::{Check, Outcome, Severity};
use crate::guide::Covering;
use crate::handbook::limits;
use crate::quantity::Show;
use crate::study::supply::{End, Path};

/// The rule.
pub const RULE: Rule = Rule {
    id: "run-unprotected",
    family: Family::Protection,
    title: "whether every positive run has a device against every source, along every path and from both ends",
    worst: Severity::Unsafe,
    sources: &["cfr33-183-455", "cfr46-111-15-25", "abyc-e11", "cfr14-23-1357", "iso-13297", "judgement"],
    page: include_str!("run_unprotected.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let supply = &bench.study.supply;
    if !supply.complete {
        judgement.say(
            bench,
            check("", "all paths", "too many to follow", Outcome::Found(Severity::Query), "judgement"),
            crate::source::Span::default(),
            || {
                "the positive side branches and joins again in so many ways that not every path could be followed"
                    .into()
            },
            || vec!["draw the positive side so that each feed leaves from one post or bar".into()],
        );
    }
    let starts = supply.feeds_starter(bench.circuit);
    for (r, _) in starts.iter().enumerate().filter(|(_, starts)| **starts) {
        starter_feed(bench, judgement, RunId(r));
    }
    let mut told = BTreeSet::new();
    for path in &supply.paths {
        match path.end {
            End::Device(_) => {}
            End::Part(part) if matches!(bench.circuit.part(part).kind, Kind::Starter(_)) => continue,
            End::Part(_) | End::Nothing(_) if supply.needs_device(path) => {
                no_device(bench, judgement, path, &starts, &mut told);
            }
            End::Part(_) | End::Nothing(_) => {}
        }
        if !supply.needs_device(path) {
            limited(bench, judgement, path, &mut told);
        }
    }
    // What has a device on every path is said too.
    for (r, run) in bench.circuit.runs.iter().enumerate() {
        let Some(span) = supply.span(RunId(r)) else { continue };
        let behind = supply.paths.iter().all(|p| !supply.needs_device(p) || p.runs().all(|x| x != RunId(r)));
        if behind && !span.held_by.is_empty() {
            let names = super::placement::part_names(bench, &span.held_by);
            judgement.say(
                bench,
                check(
                    &run.name,
                    "every source, every path",
                    &format!("behind {names}"),
                    Outcome::Passes,
                    "cfr33-183-455",
                ),
                bench.run_span(RunId(r)),
                String::new,
                Vec::new,
            );
        }
    }
}

fn check(subject: &str, case: &str, value: &str, outcome: Outcome, source: &'static str) -> Check {
    Check {
        rule: RULE.id,
        subject: subject.to_string(),
        case: case.to_string(),
        value: words(value),
        limit: words("a device"),
        margin: String::new(),
        outcome,
        sources: vec![source],
    }
}

/// A run that feeds a starter with no device: a note while wholly in the engine space.
fn starter_feed(bench: &Bench<'_>, judgement: &mut Judgement, id: RunId) {
    let run = bench.circuit.run(id);
    let outside: Vec<&str> = run
        .laid
        .iter()
        .map(|(z, _)| bench.circuit.zone(*z))
        .filter(|z| !z.engine_space)
        .map(|z| z.label.as_str())
        .collect();
    let covered = run.covering != Covering::None;
    let guarded = run.edge_guards == Some(true);
    let severity = match (outside.is_empty(), covered && guarded) {
        (true, _) => Severity::Note,
        (false, true) => Severity::Query,
        (false, false) => Severity::Unsafe,
    };
    let name = &run.name;
    let through = outside.join(", ");
    let value =
        if outside.is_empty() { "none, wholly in the engine space".into() } else { format!("none, through {through}") };
    let source = if severity == Severity::Note { "cfr46-111-15-25" } else { "cfr33-183-455" };
    judgement.say(
        bench,
        check(name, "feeds a starter", &value, Outcome::Found(severity), source),
        bench.run_span(id),
        || match severity {
            Severity::Note => format!(
                "`{name}` feeds the starter with no fuse or breaker, as the rules for boats allow while it stays in the engine space"
            ),
            _ => format!(
                "`{name}` feeds the starter through {through} with no fuse or breaker: where it chafes, the whole battery feeds the short circuit{}",
                match (covered, guarded) {
                    (true, true) => "",
                    (false, true) => ", and it has no covering",
                    (true, false) => ", and its edges are not said to be guarded",
                    (false, false) => ", and it has neither covering nor edge guards",
                }
            ),
        },
        || match severity {
            Severity::Note => Vec::new(),
            _ => {
                let mut advice = vec![
                    "put a breaker or fuse that holds the starter's current beside the battery, at the start of this feed".to_string(),
                ];
                if !(covered && guarded) {
                    advice.push(
                        "at the very least lay it in conduit all the way, with a guard at every edge: `covering: conduit` and `edge-guards: true`".into(),
                    );
                }
                advice
            }
        },
    );
}

/// A path that ends with no device on it.
fn no_device(
    bench: &Bench<'_>,
    judgement: &mut Judgement,
    path: &Path,
    starts: &[bool],
    told: &mut BTreeSet<(RunId, usize)>,
) {
    let supply = &bench.study.supply;
    let source = &supply.sources[path.source];
    let stretches = path.stretches(bench.circuit, source, |run| starts[run.0]);
    let Some(last) = stretches.last() else { return };
    let Some(id) = path.run_from(last.first) else { return };
    let (end, end_part) = match path.end {
        End::Part(part) | End::Device(part) => (format!("`{}`", bench.circuit.part(part).name), Some(part)),
        End::Nothing(node) => (format!("`{}`, where it ends", bench.circuit.node(node).name), None),
    };
    if !told.insert((id, end_part.map_or(usize::MAX, |p| p.0))) {
        return;
    }
    let name = &bench.circuit.run(id).name;
    let from = &bench.circuit.part(source.part).name;
    let winch =
        end_part.is_some_and(|p| matches!(&bench.circuit.part(p).kind, Kind::Load(l) if l.kind == LoadKind::Winch));
    let covered = path.runs().all(|r| bench.circuit.run(r).covering != Covering::None);
    let isolator = path.switches().find(|s| matches!(&bench.circuit.part(*s).kind, Kind::Switch(s) if s.reachable));
    let excused = winch && covered && isolator.is_some();
    let severity = if excused { Severity::Query } else { Severity::Unsafe };
    judgement.say(
        bench,
        check(name, &format!("from `{from}` to {end}"), "none", Outcome::Found(severity), "cfr33-183-455"),
        bench.run_span(id),
        || {
            let why = match (winch, excused) {
                (true, true) => {
                    ": it is covered all the way and has an isolator within reach, so a reviewer may answer for it"
                }
                (true, false) => {
                    ": a winch feed without one must be covered all the way and have an isolator within reach"
                }
                (false, _) => "",
            };
            format!("there is no fuse or breaker between `{from}` and {end}, along `{name}`{why}")
        },
        || {
            let place = &bench.circuit.part(last.origin).name;
            let mut advice = vec![format!(
                "put a fuse or breaker within {} of `{place}`, or within {} if all before it is covered",
                limits::placed_bare().value.show(),
                if last.first == 0 { limits::placed_from_battery() } else { limits::placed_covered() }.value.show(),
            )];
            if let Some(iz) = bench.circuit.run(id).iz {
                advice.push(format!("`{name}` may carry {}: the device must not be rated above that", iz.show()));
            }
            advice
        },
    );
}

/// A path from a source whose own make limits it: its runs must stand what it gives.
fn limited(bench: &Bench<'_>, judgement: &mut Judgement, path: &Path, told: &mut BTreeSet<(RunId, usize)>) {
    let supply = &bench.study.supply;
    let source = &supply.sources[path.source];
    let Some(limit) = source.limit else { return };
    let stretches = path.stretches(bench.circuit, source, |_| false);
    for (i, link) in path.links.iter().enumerate() {
        let crate::study::supply::Link::Run(id) = link else { continue };
        let run = bench.circuit.run(*id);
        let Some(iz) = run.iz else { continue };
        // A thinner tap with its own device at hand is protected by that.
        if let (End::Device(device), Some(tap)) = (path.end, stretches.iter().rev().find(|s| s.first <= i))
            && let Kind::Protector(d) = &bench.circuit.part(device).kind
            && d.rating <= iz
            && placement(From::Other, tap.length, tap.covered).severity.is_none()
        {
            continue;
        }
        if !told.insert((*id, bench.circuit.parts.len() + path.source)) {
            continue;
        }
        let (name, from) = (&run.name, &bench.circuit.part(source.part).name);
        let severity = if limit > iz * limits::rating_over_allowable().value.in_ones() {
            Severity::Unsafe
        } else {
            Severity::Query
        };
        judgement.compare(
            bench,
            Comparison {
                rule: RULE.id,
                subject: name.clone(),
                at: bench.run_span(*id),
                case: format!("from `{from}`, which limits itself"),
                value: limit,
                limit: iz,
                bound: Bound::AtMost,
                severity,
                sources: vec!["cfr33-183-455", "iso-13297"],
            },
            || {
                format!(
                    "`{from}` gives up to {} and no device stands between it and `{name}`, which may carry {}",
                    limit.show(),
                    iz.show()
                )
            },
            || {
                vec![format!(
                    "use a larger cable for `{name}`, or put a device rated at most {} at `{from}`",
                    iz.figure().shown
                )]
            },
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::{Note, Query, Unsafe};
    use crate::rules::testing::{VAN, changed, finds};

    const ID: &str = "run-unprotected";

    /// The van with its battery in the engine bay and no breaker: `feed` says how the starter feed is laid.
    fn without_breaker(feed: &str) -> String {
        let mut text = changed(
            VAN,
            &[
                ("  battery-lead: {from: battery+, to: breaker, size: 70 mm², length: 0.35 m, covering: sheath}\n", ""),
                ("  main-feed: {from: breaker, to: post, size: 70 mm², length: 0.3 m}\n", feed),
                ("They joined", "They joined"),
            ][..2],
        );
        let from = text.find("  breaker:\n").unwrap();
        let to = text.find("  post: {is").unwrap();
        text.replace_range(from..to, "");
        text.replace("Fit the [breaker](part:breaker), the", "Fit the")
            .replace("[battery lead](run:battery-lead), the ", "")
            .replace(" Leave the breaker open.", "")
    }

    #[test]
    fn the_van_of_the_design_is_protected_on_every_path() {
        assert_eq!(finds(ID, VAN), []);
    }

    #[test]
    fn a_starter_feed_without_a_device_through_other_zones() {
        // From the load area through the cab: covered in conduit, but nothing is said of its edges.
        let bare =
            without_breaker("  main-feed: {from: battery+, to: post, size: 70 mm², length: 0.3 m, covering: sheath}\n");
        assert_eq!(finds(ID, &bare), [(Unsafe, "main-feed".into()), (Unsafe, "starter-feed".into())]);
        let guarded = bare
            .replace(
                "covering: conduit, laid: {load: 0.6 m, cab: 3.0 m, bay: 1.3 m}",
                "covering: conduit, edge-guards: true, laid: {load: 0.6 m, cab: 3.0 m, bay: 1.3 m}",
            )
            .replace("length: 0.3 m, covering: sheath}", "length: 0.3 m, covering: sheath, edge-guards: true}");
        assert_eq!(finds(ID, &guarded), [(Query, "main-feed".into()), (Query, "starter-feed".into())]);
        let engine_space = bare
            .replace(
                "load: {label: Load area, ambient: 40 °C}",
                "load: {label: Load area, ambient: 40 °C, engine-space: true}",
            )
            .replace(
                "cab: {label: Cab, ambient: 40 °C, occupied: true}",
                "cab: {label: Cab, ambient: 40 °C, engine-space: true}",
            );
        assert_eq!(finds(ID, &engine_space), [(Note, "main-feed".into()), (Note, "starter-feed".into())]);
    }

    #[test]
    fn what_is_tapped_off_an_exempt_feed_is_not_exempt() {
        let bare =
            without_breaker("  main-feed: {from: battery+, to: post, size: 70 mm², length: 0.3 m, covering: sheath}\n")
                .replace(
                    "load: {label: Load area, ambient: 40 °C}",
                    "load: {label: Load area, ambient: 40 °C, engine-space: true}",
                )
                .replace(
                    "cab: {label: Cab, ambient: 40 °C, occupied: true}",
                    "cab: {label: Cab, ambient: 40 °C, engine-space: true}",
                );
        // The alternator's lead on the starter's stud: no device at the battery's end of it.
        let tapped =
            bare.replace("{from: alternator, to: panel, size: 25 mm²", "{from: alternator, to: starter, size: 25 mm²");
        assert_eq!(
            finds(ID, &tapped),
            [(Note, "main-feed".into()), (Note, "starter-feed".into()), (Unsafe, "charge-lead".into())]
        );
    }

    #[test]
    fn a_self_limiting_alternator_needs_no_device_but_a_lead_that_stands_it() {
        // 25 mm² of 105 °C cable in a 60 °C engine space: 160 A × 0.775 = 123.9 A (33 CFR 183.425 Table 5).
        let output = |amps| changed(VAN, &[("output: 90 A", &format!("output: {amps} A"))]);
        assert_eq!(finds(ID, &output(123)), []);
        let over = finds(ID, &output(125));
        assert!(over.contains(&(Query, "charge-lead".into())), "{over:?}");
        let far_over = finds(ID, &output(190));
        assert!(far_over.contains(&(Unsafe, "charge-lead".into())), "{far_over:?}");
    }

    const WINCH: &str = "---\ntitle: A winch\nsummary: Its figures are invented.\nwritten: 2026-11-25\n\
        vehicle: {kind: car, body: steel, drive: diesel}\nsystem: 12 V\nzones:\n  bay: {label: Bay, engine-space: true}\nparts:\n  \
        battery: {is: battery, in: bay, chemistry: agm, capacity: 90 Ah, cold-cranking: 800 A, covers: true}\n  \
        isolator: {is: isolator, in: bay, rating: 300 A, reachable: true}\n  \
        winch: {is: winch, in: bay, rating: 200 A}\n\
        every-run: {metal: copper, insulation: xlpe, rated: 105 °C, covering: conduit}\nruns:\n  \
        lead: {from: battery+, to: isolator, size: 70 mm², length: 0.5 m}\n  \
        feed: {from: isolator, to: winch+, size: 70 mm², length: 1.5 m}\n  \
        back: {from: winch-, to: battery-, size: 70 mm², length: 2 m}\nstates:\n  pulling: {winch: 200 A, for: 60 s}\n---\n";

    #[test]
    fn a_winch_feed_without_a_device_is_excused_only_when_covered_and_isolated_within_reach() {
        assert_eq!(finds(ID, WINCH), [(Query, "lead".into())]);
        assert_eq!(finds(ID, &changed(WINCH, &[("reachable: true", "reachable: false")])), [(Unsafe, "lead".into())]);
        let bare = changed(WINCH, &[("to: winch+, size: 70 mm²", "to: winch+, covering: none, size: 70 mm²")]);
        assert_eq!(finds(ID, &bare), [(Unsafe, "lead".into())]);
        let load = changed(WINCH, &[("is: winch", "is: load")]);
        assert_eq!(finds(ID, &load), [(Unsafe, "lead".into())]);
    }

    #[test]
    fn a_second_battery_feeds_from_its_own_end() {
        let text = "---\ntitle: Two batteries\nsummary: Its figures are invented.\nwritten: 2026-11-25\n\
            vehicle: {kind: van, body: steel, drive: diesel}\nsystem: 12 V\nzones:\n  box: {label: Box}\nparts:\n  \
            one: {is: battery, in: box, chemistry: agm, capacity: 90 Ah}\n  two: {is: battery, in: box, chemistry: agm, capacity: 90 Ah}\n\
            every-run: {metal: copper, insulation: xlpe, rated: 105 °C, covering: conduit}\nruns:\n  \
            link: {from: one+, to: two+, size: 35 mm², length: 1 m}\n  back: {from: one-, to: two-, size: 35 mm², length: 1 m}\n\
            states:\n  rest: {}\n---\n";
        assert_eq!(finds(ID, text), [(Unsafe, "link".into()), (Unsafe, "link".into())]);
    }
}
