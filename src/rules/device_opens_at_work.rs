#![doc = include_str!("device_opens_at_work.md")]

use super::device_work::{air, through};
use super::{Bench, Family, Judgement, Measured, Rule, words};
use crate::circuit::{PartId, Protector};
use crate::finding::{Check, Outcome, Severity};
use crate::quantity::{Current, Duration, Show};
use crate::study::opening;

/// The rule.
pub const RULE: Rule = Rule {
    id: "device-opens-at-work",
    family: Family::Protection,
    title: "cranking, inrush and short heavy loads against the soonest that a fuse or breaker may open",
    worst: Severity::Query,
    sources: &["makers-sheet", "iso-8820-3", "din-72581-3", "blade-fuse-hot", "judgement"],
    page: include_str!("device_opens_at_work.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (id, device) in bench.circuit.protectors() {
        let mut judged = false;
        for (_, state, study) in bench.states() {
            if let Some(lasts) = state.lasts {
                let carries = through(study, id);
                if carries > device.rating || state.cranks() && carries > Current::zero() {
                    judged = true;
                    holds(bench, judgement, id, device, &state.label, carries, lasts);
                }
            }
            for surge in &study.surges {
                let Ok(solved) = &surge.solution else { continue };
                let carries = solved.part(id).abs();
                if carries > Current::zero() {
                    judged = true;
                    let case = format!("{}, inrush of `{}`", state.label, bench.circuit.part(surge.part).name);
                    holds(bench, judgement, id, device, &case, carries, surge.lasts);
                }
            }
        }
        if !judged {
            let name = &bench.circuit.part(id).name;
            judgement.not_applicable(RULE.id, name, "nothing heavy and short goes through it");
        }
    }
}

fn holds(
    bench: &Bench<'_>,
    judgement: &mut Judgement,
    id: PartId,
    device: &Protector,
    case: &str,
    carries: Current,
    lasts: Duration,
) {
    let name = &bench.circuit.part(id).name;
    let air = air(bench, id);
    let known = opening::is_known(device);
    let least = if known { opening::least_hot(device, carries, air) } else { None };
    // Unknown opening times: at its rating it holds, above nobody knows.
    let holds = if known { least.is_none_or(|least| lasts < least) } else { carries <= device.rating };
    let source = match (known, device.opens.is_empty(), device.form.as_deref()) {
        (true, false, _) => "makers-sheet",
        (true, true, Some(form)) if form.starts_with("din") => "din-72581-3",
        (true, true, _) => "iso-8820-3",
        (false, ..) => "judgement",
    };
    let at = format!("{case}, {} in {} air", carries.show(), air.show());
    judgement.say(
        bench,
        Check {
            rule: RULE.id,
            subject: name.clone(),
            case: at,
            value: lasts.figure(),
            limit: match (known, least) {
                (false, _) => words("not known"),
                (true, None) => words("it does not open"),
                (true, Some(least)) => least.figure(),
            },
            margin: match least {
                Some(least) if holds => format!("{} to spare", (least - lasts).show()),
                Some(least) => format!("{} too soon", (lasts - least).show()),
                None => String::new(),
            },
            outcome: if holds { Outcome::Passes } else { Outcome::Found(Severity::Query) },
            sources: vec![source, "blade-fuse-hot"],
        },
        bench.part_span(id),
        || match (known, least) {
            (true, Some(least)) => format!(
                "`{name}` carries {} for {} ({case}), and in {} air it may open after {}",
                carries.show(),
                lasts.show(),
                air.show(),
                least.show()
            ),
            _ => format!(
                "nothing says that `{name}` holds {} for {} ({case}): its rating is {} and its opening times are not given",
                carries.show(),
                lasts.show(),
                device.rating.show()
            ),
        },
        || {
            let mut advice = Vec::new();
            if known {
                advice.push("use a slower device or a larger one, if the cables after it may carry that".into());
            }
            advice.push(format!(
                "copy its opening times from its maker's sheet as `opens:`; it must not open within {} at {}",
                lasts.show(),
                carries.show()
            ));
            advice
        },
    );
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::Query;
    use crate::rules::testing::{VAN, changed, check_rule, finds};

    const ID: &str = "device-opens-at-work";
    const OPENS: &str = "135 %: 60 s to 1800 s, 200 %: 15 s to 90 s, 600 %: 0.5 s to 3 s, 2000 %: 0.2 s to 1 s";

    #[test]
    fn cranking_and_inrush_stay_left_of_the_shortest_opening() {
        assert_eq!(finds(ID, VAN), []);
        let judged = check_rule(ID, VAN);
        assert!(judged.checks.iter().any(|c| c.subject == "breaker" && c.case.contains("inrush of `starter`")));
    }

    #[test]
    fn cranking_longer_than_it_holds_is_asked_about() {
        // 155 A through 150 A in 40 °C air, where the breaker counts as 140 A: 111 %, under the 135 % point, so no
        // sooner than its 60 s.
        let cranking =
            |lasts: &str| changed(VAN, &[("current: 140 A, for: 10 s", &format!("current: 140 A, for: {lasts}"))]);
        assert_eq!(finds(ID, &cranking("59.9 s")), []);
        assert_eq!(finds(ID, &cranking("60 s")), [(Query, "breaker".into())]);
    }

    #[test]
    fn a_quick_device_opens_on_the_inrush() {
        let quick = changed(
            VAN,
            &[(OPENS, "135 %: 60 s to 1800 s, 200 %: 1 s to 90 s, 300 %: 50 ms to 3 s, 2000 %: 10 ms to 1 s")],
        );
        assert_eq!(finds(ID, &quick), [(Query, "breaker".into())]);
    }

    #[test]
    fn without_opening_times_only_what_is_within_its_rating_is_sure_to_hold() {
        let unknown = changed(VAN, &[(&format!("    opens: {{{OPENS}}}\n"), "")]);
        // Cranking and inrush both pass its rating.
        assert_eq!(finds(ID, &unknown), [(Query, "breaker".into()), (Query, "breaker".into())]);
        let larger = changed(&unknown, &[("rating: 150 A", "rating: 500 A")]);
        assert_eq!(finds(ID, &larger), []);
    }
}
