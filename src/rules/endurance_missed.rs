#![doc = include_str!("endurance_missed.md")]

use super::{Bench, Bound, Comparison, Family, Judgement, Measured, Rule, words};
use crate::circuit::StateId;
use crate::finding::{Check, NO_LIMIT, Outcome, Severity};
use crate::handbook::limits;
use crate::quantity::{Show, Voltage};
use crate::study::endurance;

/// The rule.
pub const RULE: Rule = Rule {
    id: "endurance-missed",
    family: Family::Running,
    title: "hours that a guide claims of its battery, against the hours that the numbers give",
    worst: Severity::Query,
    sources: &["physics"],
    page: include_str!("endurance_missed.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let starter_least = limits::starter_voltage(bench.circuit.nominal).value;
    print(bench, judgement, starter_least);
    for claim in &bench.guide.claims {
        let Some(state) = bench.circuit.states.iter().position(|s| s.name == claim.state.value) else { continue };
        let label = &bench.circuit.states[state].label;
        let all = endurance::of(bench.circuit, bench.study, StateId(state), starter_least);
        let shortest = all.iter().filter_map(|e| Some((e.to_half?, e))).min_by(|a, b| a.0.si().total_cmp(&b.0.si()));
        let Some((hours, endurance)) = shortest else {
            judgement.say(
                bench,
                Check {
                    rule: RULE.id,
                    subject: claim.state.value.clone(),
                    case: label.clone(),
                    value: words("no battery is emptied"),
                    limit: words(&claim.lasts.show()),
                    margin: String::new(),
                    outcome: Outcome::Passes,
                    sources: RULE.sources.to_vec(),
                },
                claim.at,
                String::new,
                Vec::new,
            );
            continue;
        };
        let battery = &bench.circuit.part(endurance.battery).name;
        judgement.compare(
            bench,
            Comparison {
                rule: RULE.id,
                subject: claim.state.value.clone(),
                at: claim.at,
                case: format!("{label}, from full to half charge of {battery}"),
                value: hours,
                limit: claim.lasts.value,
                bound: Bound::AtLeast,
                severity: Severity::Query,
                sources: RULE.sources.to_vec(),
            },
            || {
                format!(
                    "`{battery}` is half empty after {} of `{}`, not {}: it gives {}",
                    hours.show(),
                    claim.state.value,
                    claim.lasts.show(),
                    endurance.gives.show()
                )
            },
            || {
                let capacity = endurance.gives * claim.lasts.value * 2.0;
                vec![
                    format!("claim no more than {}", hours.show()),
                    format!("or take a battery of at least {}, or switch something off", capacity.show()),
                ]
            },
        );
    }
}

/// The hours of every battery in every state, claimed or not: rows to read, with nothing to fail.
fn print(bench: &Bench<'_>, judgement: &mut Judgement, starter_least: Voltage) {
    for (id, state, _) in bench.states().filter(|(_, state, _)| !state.cranks()) {
        for endurance in endurance::of(bench.circuit, bench.study, id, starter_least) {
            let name = &bench.circuit.part(endurance.battery).name;
            let rows = [
                (endurance.to_half, "from full to half charge"),
                (endurance.to_no_start, "parked, from full until a start cannot be counted on"),
                (endurance.to_full, "from half charge to full, at least"),
            ];
            for (time, what) in rows {
                let Some(time) = time else { continue };
                judgement.checks.push(Check {
                    rule: RULE.id,
                    subject: name.clone(),
                    case: format!("{}, {what}", state.label),
                    value: time.figure(),
                    limit: words(NO_LIMIT),
                    margin: String::new(),
                    outcome: Outcome::Passes,
                    sources: RULE.sources.to_vec(),
                });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, changed, check_rule, finds, mended, one};

    fn with(claim: &str) -> Vec<(Severity, String)> {
        finds("endurance-missed", &changed(&mended("endurance-missed"), &[("endurance: {pumping: 2 h}", claim)]))
    }

    #[test]
    fn half_of_it_over_its_current_is_the_edge() {
        // 30 Ah over 15 A.
        assert_eq!(with("endurance: {pumping: 2 h}"), []);
        assert_eq!(with("endurance: {pumping: 121 min}"), one(Severity::Query, "pumping"));
    }

    #[test]
    fn a_state_that_empties_nothing_keeps_any_claim() {
        let driving = changed(VAN, &[("variants:", "endurance: {charging: 1000 h}\nvariants:")]);
        assert_eq!(finds("endurance-missed", &driving), []);
        let claimed = check_rule("endurance-missed", &driving).checks.into_iter().filter(|c| c.subject == "charging");
        assert_eq!(claimed.count(), 1);
    }

    #[test]
    fn the_hours_are_printed_claimed_or_not() {
        let rows = |text: &str| -> Vec<(String, String)> {
            let checks = check_rule("endurance-missed", text).checks;
            checks.into_iter().map(|c| (c.case, c.value.shown)).collect()
        };
        // 18 Ah at 45 A and 12 Ah at 6 A; 30 Ah at 12 A.
        let expected = [
            ("charging, from half charge to full, at least".to_string(), "2.4 h".to_string()),
            ("engine off, from full to half charge".to_string(), "2.5 h".to_string()),
        ];
        assert_eq!(rows(VAN), expected);
        let parked = changed(VAN, &[("engine-off: {panel: 12 A, for: 2 h}", "parked: {panel: 25 mA}")]);
        let third = ("parked, parked, from full until a start cannot be counted on".to_string(), "75 d".to_string());
        assert!(rows(&parked).contains(&third), "{:?}", rows(&parked));
    }
}
