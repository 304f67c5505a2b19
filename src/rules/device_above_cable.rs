#![doc = include_str!("device_above_cable.md")]

use super::placement::part_names;
use super::{Bench, Family, Judgement, Measured, Rule, tap_unprotected};
use crate::circuit::{Kind, LoadKind, NodeId, Polarity, RunId};
use crate::finding::{Check, Outcome, Severity};
use crate::handbook::limits;
use crate::quantity::{Current, Show};

/// The rule.
pub const RULE: Rule = Rule {
    id: "device-above-cable",
    family: Family::Protection,
    title: "the rating of the device that protects a run against the current that the run may carry",
    worst: Severity::Unsafe,
    sources: &["cfr33-183-455", "cfr33-183-425", "ac43-13-1b-11-48", "makers-sheet"],
    page: include_str!("device_above_cable.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for r in 0..bench.circuit.runs.len() {
        feed(bench, judgement, RunId(r));
    }
    returns(bench, judgement);
    for (id, reach) in &bench.study.supply.studs {
        let Kind::Stud(stud) = &bench.circuit.part(*id).kind else { continue };
        let (Some(rating), Some(lasts)) = (stud.rating, reach.through) else { continue };
        let name = &bench.circuit.part(*id).name;
        let held = part_names(bench, &reach.held_by);
        let passes = lasts <= rating;
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: name.clone(),
                case: format!("through it, held by {held}"),
                value: lasts.figure(),
                limit: rating.figure(),
                margin: margin(lasts, rating),
                outcome: if passes { Outcome::Passes } else { Outcome::Found(Severity::Query) },
                sources: vec!["makers-sheet"],
            },
            bench.part_span(*id),
            || format!("`{name}` is rated {}, but {} can last through it, held by {held}", rating.show(), lasts.show()),
            || vec![format!("use a bar rated at least {}, or smaller devices before it", lasts.show())],
        );
    }
}

fn margin(value: Current, limit: Current) -> String {
    let apart = (limit - value).abs().show();
    if value <= limit { format!("{apart} to spare") } else { format!("{apart} over") }
}

fn feed(bench: &Bench<'_>, judgement: &mut Judgement, id: RunId) {
    let run = bench.circuit.run(id);
    let (Some(span), Some(iz)) = (bench.study.supply.span(id), run.iz) else { return };
    // Nothing holds it: that is `run-unprotected`'s. A smaller cable without a device of its own: `tap-unprotected`'s.
    let Some(rating) = span.rating.filter(|r| *r > Current::zero()) else { return };
    if tap_unprotected::judges(bench, id) {
        return;
    }
    say(bench, judgement, id, rating, span.lasting, iz, &part_names(bench, &span.held_by));
}

/// Compares what devices let last in a run with what it may carry.
///
/// A run whose load cannot overload it may have a larger device: what is left is its short circuits, and those are
/// followed to their end by `fault-not-cleared` and `chafe-not-cleared` for every run, this one too.
fn say(
    bench: &Bench<'_>,
    judgement: &mut Judgement,
    id: RunId,
    rating: Current,
    lasting: Option<Current>,
    iz: Current,
    held: &str,
) {
    let name = &bench.circuit.run(id).name;
    let cannot = lasting.filter(|l| *l <= iz && rating > iz);
    let most = iz * limits::rating_over_allowable().value.in_ones();
    let severity = match lasting.map_or(rating, |l| l.min(rating)) {
        lasts if lasts <= iz => None,
        lasts if lasts <= most => Some(Severity::Query),
        _ => Some(Severity::Unsafe),
    };
    judgement.say(
        bench,
        Check {
            rule: RULE.id,
            subject: name.clone(),
            case: format!("held by {held}"),
            value: rating.figure(),
            limit: iz.figure(),
            margin: match cannot {
                Some(l) if l > Current::zero() => format!(
                    "its load takes no more than {}: only short circuits could pass more, and these are judged on their own",
                    l.show()
                ),
                Some(_) => {
                    "nothing on it takes current for long: only short circuits could pass more, and these are judged on \
                     their own"
                        .into()
                }
                None => margin(rating, iz),
            },
            outcome: severity.map_or(Outcome::Passes, Outcome::Found),
            sources: vec!["cfr33-183-455", "cfr33-183-425"],
        },
        bench.run_span(id),
        || {
            let may = format!(
                "`{name}` may carry {} where it lies, and {} can last in it, held by {held}",
                iz.show(),
                rating.show()
            );
            match severity {
                Some(Severity::Query) => format!(
                    "{may}: up to {} is allowed by the rules for boats, but not by those for aircraft or buildings",
                    most.show()
                ),
                _ => format!("{may}, over the {} that any rule allows", most.show()),
            }
        },
        || {
            let mut advice = vec![format!("rate the device at most {}", iz.show())];
            let run = bench.circuit.run(id);
            if let Some(size) = larger(run, rating) {
                advice.push(format!("or use {size} for `{name}`, which may carry {} there", size_amps(run, &size)));
            }
            advice.push("if its load cannot take more than it does, say so: `can-overload: false`".into());
            advice
        },
    );
}

/// The next size of a run's own series that may carry a current where the run lies.
fn larger(run: &crate::circuit::Run, current: Current) -> Option<crate::quantity::CableSize> {
    let (iz, iz30) = (run.iz?, run.iz30?);
    let factor = iz / iz30;
    let metal = crate::circuit::wire::conductor_metal(run.metal);
    crate::handbook::conductors::ladder(run.size).iter().copied().find(|size| {
        size.section() > run.section
            && crate::handbook::conductors::allowable_current_30(*size, run.rated, metal)
                .is_some_and(|amps| amps * factor >= current)
    })
}

fn size_amps(run: &crate::circuit::Run, size: &crate::quantity::CableSize) -> String {
    let metal = crate::circuit::wire::conductor_metal(run.metal);
    match (run.iz, run.iz30, crate::handbook::conductors::allowable_current_30(*size, run.rated, metal)) {
        (Some(iz), Some(iz30), Some(amps)) => (amps * (iz / iz30)).show(),
        _ => "more".into(),
    }
}

/// Returns that carry one load's current and nothing else: what overloads the feed overloads them too.
fn returns(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (_, load) in bench.loads() {
        let Some(feed) = bench.circuit.runs_at(load.positive).next() else { continue };
        let Some(span) = bench.study.supply.span(feed) else { continue };
        let Some(rating) = span.rating.filter(|r| *r > Current::zero()) else { continue };
        // A winch's own state says how much and how long.
        let lasting = if load.kind == LoadKind::Winch { span.lasting.or(Some(Current::zero())) } else { span.lasting };
        for id in alone(bench, load.negative) {
            let Some(iz) = bench.circuit.run(id).iz else { continue };
            say(bench, judgement, id, rating, lasting, iz, &part_names(bench, &span.held_by));
        }
    }
}

/// The runs from a load's negative on, as long as nothing branches off.
fn alone(bench: &Bench<'_>, from: NodeId) -> Vec<RunId> {
    let circuit = bench.circuit;
    let (mut node, mut found) = (from, Vec::new());
    // A case that is bolted down shares its current with the bolt.
    while circuit.bolts.iter().all(|b| b.from != node && b.to != node) {
        let mut next = circuit.runs_at(node).filter(|r| !found.contains(r));
        let (Some(id), None) = (next.next(), next.next()) else { break };
        let run = circuit.run(id);
        if run.polarity != Polarity::Negative || found.len() > circuit.runs.len() {
            break;
        }
        found.push(id);
        let far = if run.from == node { run.to } else { run.from };
        let part = circuit.part(circuit.node(far).part);
        node = match part.through() {
            Some((line, load)) if circuit.runs_at(far).count() == 1 => {
                if far == line {
                    load
                } else {
                    line
                }
            }
            _ if matches!(part.kind, Kind::Stud(_)) && circuit.runs_at(far).count() == 2 => far,
            _ => break,
        };
    }
    found
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::{Query, Unsafe};
    use crate::rules::testing::{VAN, changed, check_rule, finds};

    const ID: &str = "device-above-cable";

    /// One fused load; feed and return as given, in 30 °C air.
    fn fused(rating: &str, load: &str, feed: &str, back: &str) -> String {
        format!(
            "---\ntitle: A load\nsummary: Its figures are invented.\nwritten: 2026-11-25\n\
             vehicle: {{kind: boat, body: composite, drive: diesel}}\nsystem: 12 V\nzones:\n  box: {{label: Box, ambient: 30 °C}}\nparts:\n  \
             battery: {{is: battery, in: box, chemistry: agm, capacity: 90 Ah}}\n  \
             fuse: {{is: fuse, in: box, rating: {rating}}}\n  load: {{{load}, in: box}}\n\
             every-run: {{metal: copper, insulation: xlpe, rated: 105 °C}}\nruns:\n  \
             lead: {{from: battery+, to: fuse, size: 50 mm², length: 0.1 m}}\n  \
             feed: {{from: fuse, to: load+, {feed}, length: 2 m}}\n  \
             back: {{from: load-, to: battery-, {back}, length: 2 m}}\nstates:\n  work: {{load: 5 A}}\n---\n"
        )
    }

    /// Allowable 35 A under 50 V: 52.5 A passes as a query and 53 A fails 33 CFR 183.455(c)(1). 14 AWG at 90 °C is 30 A,
    /// 12 AWG at 80 °C is 35 A (Table 5).
    #[test]
    fn up_to_150_percent_is_a_query_and_above_is_unsafe() {
        let with = |rating: &str| finds(ID, &fused(rating, "is: panel", "size: 12 AWG, rated: 80 °C", "size: 50 mm²"));
        assert_eq!(with("35 A"), []);
        assert_eq!(with("35.5 A"), [(Query, "feed".into())]);
        assert_eq!(with("52.5 A"), [(Query, "feed".into())]);
        assert_eq!(with("53 A"), [(Unsafe, "feed".into())]);
    }

    #[test]
    fn a_load_that_cannot_overload_its_run_may_have_a_larger_device() {
        let feed = "size: 12 AWG, rated: 80 °C";
        assert_eq!(finds(ID, &fused("60 A", "is: load, can-overload: false, rating: 30 A", feed, "size: 50 mm²")), []);
        // It takes more than the run may carry.
        let greedy = fused("60 A", "is: load, can-overload: false, rating: 60 A", feed, "size: 50 mm²");
        assert_eq!(finds(ID, &greedy), [(Unsafe, "feed".into())]);
        assert_eq!(
            finds(ID, &fused("60 A", "is: load, rating: 30 A", feed, "size: 50 mm²")),
            [(Unsafe, "feed".into())]
        );
        assert_eq!(
            finds(ID, &fused("60 A", "is: inverter, power: 300 W", feed, "size: 50 mm²")),
            [(Unsafe, "feed".into())]
        );
    }

    #[test]
    fn a_return_of_its_own_is_overloaded_with_its_feed() {
        let thin = fused("60 A", "is: panel", "size: 50 mm²", "size: 12 AWG, rated: 80 °C");
        assert_eq!(finds(ID, &thin), [(Unsafe, "back".into())]);
    }

    #[test]
    fn the_van_of_the_design_passes_and_its_limits_are_those_of_the_places_it_lies_in() {
        assert_eq!(finds(ID, VAN), []);
        let judged = check_rule(ID, VAN);
        let panel = judged.checks.iter().find(|c| c.subject == "panel-feed").unwrap();
        // 25 mm² counts as 4 AWG, 160 A at 105 °C; the 60 °C engine bay leaves √(45/75) of it (33 CFR 183.425).
        assert!((panel.limit.si - 160.0 * (45.0f64 / 75.0).sqrt()).abs() < 1e-6);
        assert_eq!(panel.value.si, 100.0);
    }

    #[test]
    fn a_bar_that_carries_more_than_its_rating_is_asked_about() {
        let bar = |rating| {
            changed(
                VAN,
                &[(
                    "post: {is: post, in: load, stud: M10}",
                    &format!("post: {{is: busbar, in: load, stud: M10, rating: {rating}}}"),
                )],
            )
        };
        // 150 A can come through the breaker, but only the panel's fuse leads on to what takes it for good: 100 A.
        assert_eq!(finds(ID, &bar("100 A")), []);
        assert_eq!(finds(ID, &bar("99 A")), [(Query, "post".into())]);
    }
}
