#![doc = include_str!("board_limit.md")]

use super::{Bench, Bound, Comparison, Family, Judgement, Rule, words};
use crate::circuit::{Battery, PartId};
use crate::finding::{Check, Outcome, Severity};
use crate::guide::Chemistry;
use crate::quantity::{Current, Duration, Show};
use crate::study::{Charge, Warmth};

/// The rule.
pub const RULE: Rule = Rule {
    id: "board-limit",
    family: Family::Running,
    title: "what a battery with a protection board gives and takes, against what its board allows",
    worst: Severity::Unsafe,
    sources: &["lithium-board", "judgement"],
    page: include_str!("board_limit.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (id, b) in bench.circuit.batteries() {
        let name = &bench.circuit.part(id).name;
        if b.chemistry != Chemistry::Lfp && b.discharge_continuous.is_none() && b.charge_max.is_none() {
            continue;
        }
        if b.chemistry == Chemistry::Lfp && b.discharge_continuous.is_none() {
            judgement.say(
                bench,
                Check {
                    rule: RULE.id,
                    subject: name.clone(),
                    case: String::new(),
                    value: words("not given"),
                    limit: words("what its protection board lets out"),
                    margin: String::new(),
                    outcome: Outcome::Found(Severity::Query),
                    sources: vec!["judgement"],
                },
                bench.part_span(id),
                || format!("`{name}` has a protection board, and the guide does not say what it lets out: it may cut everything off at work"),
                || vec!["take both figures from its sheet: `discharge: {continuous: 100 A, peak: {current: 300 A, for: 3 s}}`".into()],
            );
        }
        gives(bench, judgement, id, b);
        takes(bench, judgement, id, b);
    }
}

/// What the board lets out for a time.
fn allowed(b: &Battery, lasts: Option<Duration>) -> Option<(Current, &'static str)> {
    let continuous = b.discharge_continuous?;
    Some(match (b.discharge_peak, lasts) {
        (Some((peak, for_)), Some(lasts)) if lasts <= for_ => (peak.max(continuous), "peak"),
        _ => (continuous, "continuous"),
    })
}

fn gives(bench: &Bench<'_>, judgement: &mut Judgement, id: PartId, b: &Battery) {
    let name = &bench.circuit.part(id).name;
    for (_, state, study) in bench.states() {
        let Some((limit, which)) = allowed(b, state.lasts) else { continue };
        // Warmth is a case that the guide meets; joints and an unmeasured body are a guess.
        let mut found: Option<(f64, f64)> = None;
        for warmth in [Warmth::Cool, Warmth::Running, Warmth::Cold] {
            for charge in [Charge::None, Charge::Bulk, Charge::Lowered] {
                let here = study.cases.iter().filter(|c| c.corner.warmth == warmth && c.corner.charge == charge);
                found =
                    widest(found, span(here.filter_map(|c| c.solution.as_ref().ok()).map(|s| s.part(id).in_amps())));
            }
        }
        if let Some(found) = found.filter(|(_, most)| *most > 0.0) {
            let case = format!("{}, {which} limit", state.label);
            over(bench, judgement, id, found, limit, case, |amps| {
                format!("`{name}` must give {amps} in `{}`", state.name)
            });
        }
        for (part, of) in bench.circuit.parts.iter().enumerate() {
            let all = || study.surges.iter().filter(|s| s.part == PartId(part));
            let Some(lasts) = all().map(|s| s.lasts).next() else { continue };
            let Some((limit, which)) = allowed(b, Some(lasts)) else { continue };
            let found = span(all().filter_map(|s| s.solution.as_ref().ok()).map(|s| s.part(id).in_amps()));
            if let Some(found) = found.filter(|(_, most)| *most > 0.0) {
                let case = format!("{}, inrush of {} for {}, {which} limit", state.label, of.label, lasts.show());
                over(bench, judgement, id, found, limit, case, |amps| {
                    format!("`{name}` must give {amps} while `{}` starts up", of.name)
                });
            }
        }
    }
}

fn takes(bench: &Bench<'_>, judgement: &mut Judgement, id: PartId, b: &Battery) {
    let name = &bench.circuit.part(id).name;
    let Some(limit) = b.charge_max else { return };
    for (_, state, study) in bench.states() {
        let mut found = None;
        for warmth in [Warmth::Cool, Warmth::Running, Warmth::Cold] {
            let here = study.cases.iter().filter(|c| c.corner.warmth == warmth && c.corner.charge == Charge::Bulk);
            found = widest(found, span(here.filter_map(|c| c.solution.as_ref().ok()).map(|s| -s.part(id).in_amps())));
        }
        if let Some(found) = found.filter(|(_, most)| *most > 0.0) {
            let case = format!("{}, charge limit", state.label);
            over(bench, judgement, id, found, limit, case, |amps| {
                format!("`{name}` is charged with {amps} in `{}`", state.name)
            });
        }
    }
}

fn over(
    bench: &Bench<'_>,
    judgement: &mut Judgement,
    id: PartId,
    (kindest, worst): (f64, f64),
    limit: Current,
    case: String,
    says: impl FnOnce(String) -> String,
) {
    let limit = bench.limits.standing(RULE.id, limit, Bound::AtMost);
    let hard = !Bound::AtMost.holds(Current::amps(kindest), limit);
    let value = Current::amps(if hard { kindest } else { worst });
    judgement.compare(
        bench,
        Comparison {
            rule: RULE.id,
            subject: bench.circuit.part(id).name.clone(),
            at: bench.part_span(id),
            case,
            value,
            limit,
            bound: Bound::AtMost,
            severity: if hard { Severity::Unsafe } else { Severity::Query },
            sources: vec!["lithium-board"],
        },
        || format!("{}; its protection board allows {}", says(value.show()), limit.show()),
        || {
            vec![
                format!(
                    "take a battery, or two of one kind side by side, whose board allows at least {}",
                    value.show()
                ),
                "or ask less of it in this state".into(),
            ]
        },
    );
}

/// Least and most.
fn span(all: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    all.fold(None, |found: Option<(f64, f64)>, x| Some(found.map_or((x, x), |(low, high)| (low.min(x), high.max(x)))))
}

/// Of two spans from cases that are both met, the one that is worse at its kindest, with the worse worst.
fn widest(a: Option<(f64, f64)>, b: Option<(f64, f64)>) -> Option<(f64, f64)> {
    match (a, b) {
        (Some(a), Some(b)) => Some((a.0.max(b.0), a.1.max(b.1))),
        (a, b) => a.or(b),
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, changed, check_rule, finds, mended, one};

    fn with(discharge: &str, state: &str) -> Vec<(Severity, String)> {
        let text = changed(
            &mended("board-limit"),
            &[
                ("discharge: {continuous: 60 A, peak: {current: 150 A, for: 3 s}}", discharge),
                ("pumping: {pump: 15 A}", state),
            ],
        );
        finds("board-limit", &text)
    }

    #[test]
    fn the_continuous_limit_itself_passes() {
        assert_eq!(with("discharge: {continuous: 15 A}", "pumping: {pump: 15 A}"), []);
        assert_eq!(with("discharge: {continuous: 14.99 A}", "pumping: {pump: 15 A}"), one(Severity::Unsafe, "battery"));
    }

    #[test]
    fn the_peak_counts_for_as_long_as_it_may_last() {
        let peak = "discharge: {continuous: 10 A, peak: {current: 20 A, for: 3 s}}";
        assert_eq!(with(peak, "pumping: {pump: 20 A, for: 3 s}"), []);
        assert_eq!(with(peak, "pumping: {pump: 20 A, for: 3.01 s}"), one(Severity::Unsafe, "battery"));
        assert_eq!(with(peak, "pumping: {pump: 20.01 A, for: 3 s}"), one(Severity::Unsafe, "battery"));
    }

    #[test]
    fn an_inrush_is_held_against_it_too() {
        let surge = |amps: &str| {
            let text = changed(
                &mended("board-limit"),
                &[("can-overload: false", &format!("can-overload: false, inrush: {{current: {amps}, for: 100 ms}}"))],
            );
            finds("board-limit", &text)
        };
        assert_eq!(surge("150 A"), []);
        assert_eq!(surge("150.1 A"), one(Severity::Unsafe, "battery"));
    }

    #[test]
    fn charging_is_held_against_the_charge_limit() {
        let filled = |max: &str| {
            finds(
                "board-limit",
                &changed(&mended("cold-charge"), &[("charge: {max: 30 A}", &format!("charge: {{max: {max}}}"))]),
            )
        };
        // A charger of 20 A, and nothing else on.
        assert_eq!(filled("20 A"), []);
        assert_eq!(filled("19.9 A"), one(Severity::Unsafe, "battery"));
    }

    #[test]
    fn a_board_that_nobody_describes_is_asked_about() {
        assert_eq!(with("stud: M8", "pumping: {pump: 15 A}"), one(Severity::Query, "battery"));
        assert_eq!(check_rule("board-limit", VAN).checks, []);
    }
}
