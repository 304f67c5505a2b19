#![doc = include_str!("isolator_underrated.md")]

use super::device_work::{is_continuous, through};
use super::{Bench, Bound, Comparison, Family, Judgement, Measured, Rule, words};
use crate::circuit::{Kind, PartId, Switch, SwitchKind};
use crate::finding::{Check, Outcome, Severity};
use crate::handbook::limits;
use crate::quantity::{Current, Show};

/// The rule.
pub const RULE: Rule = Rule {
    id: "isolator-underrated",
    family: Family::Protection,
    title: "what isolators, relays and connectors carry against their ratings",
    worst: Severity::Unsafe,
    sources: &["abyc-e11", "makers-sheet"],
    page: include_str!("isolator_underrated.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (i, part) in bench.circuit.parts.iter().enumerate() {
        let Kind::Switch(switch) = &part.kind else { continue };
        let id = PartId(i);
        let Some(rating) = switch.rating else {
            judgement.say(
                bench,
                Check {
                    rule: RULE.id,
                    subject: part.name.clone(),
                    case: "rating".into(),
                    value: words("not given"),
                    limit: words("given"),
                    margin: String::new(),
                    outcome: Outcome::Found(Severity::Note),
                    sources: vec!["abyc-e11"],
                },
                bench.part_span(id),
                || {
                    format!(
                        "the guide does not say what `{}` is rated for, so what it carries could not be judged",
                        part.name
                    )
                },
                || vec!["copy it from the part: `rating: 200 A`".into()],
            );
            continue;
        };
        at_work(bench, judgement, id, rating);
        by_devices(bench, judgement, id, switch, rating);
    }
    wanted(bench, judgement);
}

fn at_work(bench: &Bench<'_>, judgement: &mut Judgement, id: PartId, rating: Current) {
    let name = &bench.circuit.part(id).name;
    for (_, state, study) in bench.states() {
        let carries = through(study, id);
        if carries <= Current::zero() {
            continue;
        }
        let lasts = state.lasts.filter(|_| !is_continuous(state));
        judgement.compare(
            bench,
            Comparison {
                rule: RULE.id,
                subject: name.clone(),
                at: bench.part_span(id),
                case: state.label.clone(),
                value: carries,
                limit: rating,
                bound: Bound::AtMost,
                severity: if lasts.is_some() { Severity::Query } else { Severity::Unsafe },
                sources: vec!["abyc-e11"],
            },
            || match lasts {
                Some(lasts) => format!(
                    "`{name}` is rated {} and carries {} for {} in `{}`: has its maker a rating for that time?",
                    rating.show(),
                    carries.show(),
                    lasts.show(),
                    state.name
                ),
                None => format!(
                    "`{name}` is rated {} and carries {} for good in `{}`",
                    rating.show(),
                    carries.show(),
                    state.name
                ),
            },
            || {
                let larger = format!("use one rated at least {}", carries.show());
                match lasts {
                    Some(lasts) => vec![
                        larger,
                        format!(
                            "or answer this with its maker's rating for {}, which must be at least {}",
                            lasts.show(),
                            carries.show()
                        ),
                    ],
                    None => vec![larger],
                }
            },
        );
    }
}

/// Its continuous rating against the lesser of what the devices let pass and what its feeder may carry.
fn by_devices(bench: &Bench<'_>, judgement: &mut Judgement, id: PartId, switch: &Switch, rating: Current) {
    let supply = &bench.study.supply;
    let feeders = bench.circuit.runs_at(switch.line).chain(bench.circuit.runs_at(switch.load));
    let least = feeders
        .filter_map(|r| {
            let let_through = supply.span(r)?.rating.filter(|r| *r > Current::zero());
            match (let_through, bench.circuit.run(r).iz) {
                (Some(a), Some(b)) => Some(a.min(b)),
                (a, b) => a.or(b),
            }
        })
        .reduce(Current::min);
    let Some(least) = least else { return };
    let name = &bench.circuit.part(id).name;
    judgement.compare(
        bench,
        Comparison {
            rule: RULE.id,
            subject: name.clone(),
            at: bench.part_span(id),
            case: "the lesser of its devices' rating and its cable's".into(),
            value: rating,
            limit: least,
            bound: Bound::AtLeast,
            severity: Severity::Query,
            sources: vec!["abyc-e11"],
        },
        || format!("`{name}` is rated {}, and its devices and cables let {} last in it", rating.show(), least.show()),
        || vec![format!("use one rated at least {}, or a smaller device before it", least.figure().shown)],
    );
}

/// A battery of more than 800 A cold cranking wants a switch that cuts it off.
fn wanted(bench: &Bench<'_>, judgement: &mut Judgement) {
    let limit = limits::isolator_wanted();
    for (id, battery) in bench.circuit.batteries() {
        let Some(cranking) = battery.cold_cranking.filter(|c| c.current > limit.value) else { continue };
        let name = &bench.circuit.part(id).name;
        let has =
            bench.circuit.parts.iter().any(|p| matches!(&p.kind, Kind::Switch(s) if s.kind == SwitchKind::Isolator));
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: name.clone(),
                case: "an isolator, wanted from 800 A of cold cranking in boats".into(),
                value: words(if has { "there is one" } else { "none" }),
                limit: words("one"),
                margin: String::new(),
                outcome: if has { Outcome::Passes } else { Outcome::Found(Severity::Note) },
                sources: vec![limit.source],
            },
            bench.part_span(id),
            || {
                format!(
                    "`{name}` gives {} of cold cranking and has no isolator; boats want one from {}",
                    cranking.current.show(),
                    limit.value.show()
                )
            },
            Vec::new,
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::{Note, Query, Unsafe};
    use crate::rules::testing::{VAN, changed, finds};

    const ID: &str = "isolator-underrated";

    fn isolated(rating: &str, fuse: &str, state: &str) -> Vec<(crate::finding::Severity, String)> {
        finds(
            ID,
            &format!(
                "---\ntitle: An isolator\nsummary: Its figures are invented.\nwritten: 2026-11-25\n\
                 vehicle: {{kind: boat, body: composite, drive: diesel}}\nsystem: 12 V\nzones:\n  box: {{label: Box, ambient: 30 °C}}\nparts:\n  \
                 battery: {{is: battery, in: box, chemistry: agm, capacity: 90 Ah}}\n  fuse: {{is: fuse, in: box, rating: {fuse}}}\n  \
                 isolator: {{is: isolator, in: box{rating}}}\n  panel: {{is: panel, in: box}}\n\
                 every-run: {{metal: copper, insulation: xlpe, rated: 105 °C}}\nruns:\n  \
                 lead: {{from: battery+, to: fuse, size: 50 mm², length: 0.1 m}}\n  \
                 link: {{from: fuse, to: isolator, size: 50 mm², length: 0.5 m}}\n  \
                 feed: {{from: isolator, to: panel+, size: 50 mm², length: 1 m}}\n  \
                 back: {{from: panel-, to: battery-, size: 50 mm², length: 2 m}}\nstates:\n  work: {{panel: {state}}}\n---\n"
            ),
        )
    }

    #[test]
    fn continuous_current_over_its_rating_is_unsafe_and_short_current_a_query() {
        assert_eq!(isolated(", rating: 100 A", "100 A", "100 A"), []);
        assert_eq!(isolated(", rating: 100 A", "100 A", "101 A"), [(Unsafe, "isolator".into())]);
        assert_eq!(isolated(", rating: 100 A", "100 A", "101 A, for: 60 s"), [(Query, "isolator".into())]);
        assert_eq!(isolated("", "100 A", "90 A"), [(Note, "isolator".into())]);
    }

    #[test]
    fn its_rating_is_held_against_the_lesser_of_device_and_cable() {
        assert_eq!(isolated(", rating: 100 A", "101 A", "10 A"), [(Query, "isolator".into())]);
        // 50 mm² counts as 1 AWG, 245 A at 105 °C: under the 300 A of the fuse.
        assert_eq!(isolated(", rating: 245 A", "300 A", "10 A"), []);
        assert_eq!(isolated(", rating: 244 A", "300 A", "10 A"), [(Query, "isolator".into())]);
    }

    #[test]
    fn a_large_battery_wants_an_isolator() {
        let large = |amps| changed(VAN, &[("640 A EN", amps)]);
        assert_eq!(finds(ID, &large("800 A EN")), []);
        assert_eq!(finds(ID, &large("801 A EN")), [(Note, "battery".into())]);
    }
}
