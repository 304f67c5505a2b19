//! Limits that a club has tightened in `publisher.yaml`, by a rule's id.
//!
//! A limit can only be tightened: where the club's is the looser one, ours stands, and a finding says
//! so. It applies to every comparison of its rule that it tightens, in the unit it is written in.

use std::collections::BTreeMap;

use super::{ALL, Bound, Measured};
use crate::finding::{Check, Finding, Place, Severity};
use crate::guide::publisher::Publisher;
use crate::quantity::{Area, Current, Duration, Length, Ratio, ReadError, Readable, Resistance, Temperature, Voltage};

/// Faults that tightened limits can have, with a one-line gloss each.
pub const FAULTS: &[(&str, &str)] = &[
    ("limit-unknown", "a limit is tightened of a rule that there is not"),
    ("limit-unreadable", "a tightened limit is not a quantity"),
    ("limit-loosened", "a tightened limit is looser than the rule's own, which stands"),
];

/// One tightened limit: a number in SI with its unit.
#[derive(Clone, Debug, PartialEq)]
struct Tightened {
    si: f64,
    unit: &'static str,
    shown: String,
    place: Place,
}

/// A club's tightened limits.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Limits(BTreeMap<&'static str, Tightened>);

/// No limit tightened.
pub static NONE: Limits = Limits(BTreeMap::new());

impl Limits {
    /// Reads a publisher's limits.
    pub fn of(publisher: &Publisher) -> (Limits, Vec<Finding>) {
        let mut limits = Limits::default();
        let mut findings = Vec::new();
        for (id, limit) in &publisher.limits {
            let Some(rule) = ALL.iter().find(|r| r.id == id) else {
                let nearest = ALL.iter().map(|r| (strsim::damerau_levenshtein(r.id, id), r.id)).min();
                let advice = nearest.map(|(_, id)| format!("did you mean `{id}`?")).into_iter().collect();
                let message = format!("there is no rule `{id}` whose limit could be tightened");
                findings.push(finding("limit-unknown", Severity::Unreadable, &limit.place, id, message, advice));
                continue;
            };
            match read(&limit.value) {
                Ok((si, unit)) => {
                    let tightened =
                        Tightened { si, unit, shown: limit.value.clone(), place: limit.value_place.clone() };
                    limits.0.insert(rule.id, tightened);
                }
                Err(error) => {
                    let place = &limit.value_place;
                    findings.push(finding(
                        "limit-unreadable",
                        Severity::Unreadable,
                        place,
                        id,
                        error.message,
                        vec![error.remedy],
                    ));
                }
            }
        }
        (limits, findings)
    }

    /// The limit that stands: the club's where it is tighter and of the same kind, else the rule's own.
    pub fn standing<T: Measured>(&self, rule: &str, own: T, bound: Bound) -> T {
        let own_figure = own.figure();
        let Some(club) = self.0.get(rule).filter(|l| l.unit == own_figure.unit) else { return own };
        let tighter = match bound {
            Bound::AtMost => club.si < own_figure.si,
            Bound::AtLeast => own_figure.si < club.si,
        };
        if tighter { T::from_figure(club.si) } else { own }
    }

    /// Limits that tightened no comparison of their rule, though it made some: they would have loosened it.
    pub fn that_loosen(&self, checks: &[&Check]) -> Vec<Finding> {
        let mut findings = Vec::new();
        for (id, club) in &self.0 {
            let of_rule: Vec<&&Check> = checks.iter().filter(|c| c.rule == *id && !c.limit.shown.is_empty()).collect();
            let same = |c: &&&Check| {
                c.limit.unit == club.unit && (c.limit.si - club.si).abs() <= 1e-12 * club.si.abs().max(1.0)
            };
            if of_rule.is_empty() || of_rule.iter().any(same) {
                continue;
            }
            let own = of_rule.iter().find(|c| c.limit.unit == club.unit).map(|c| c.limit.shown.clone());
            let message = match own {
                Some(own) => {
                    format!("`{id}` is not tightened by {}: its own limit is {own}, and that stands", club.shown)
                }
                None => format!("`{id}` is not tightened by {}: it compares another kind of quantity", club.shown),
            };
            let advice = vec!["write a tighter limit, or take it out: limits are never loosened".to_string()];
            findings.push(finding("limit-loosened", Severity::Unreadable, &club.place, id, message, advice));
        }
        findings
    }
}

fn finding(
    rule: &'static str,
    severity: Severity,
    place: &Place,
    subject: &str,
    message: String,
    advice: Vec<String>,
) -> Finding {
    Finding {
        rule,
        severity,
        place: place.clone(),
        subject: subject.to_string(),
        message,
        value: None,
        limit: None,
        advice,
        sources: Vec::new(),
        answer: None,
    }
}

/// A quantity of any kind that limits come in, by its unit.
fn read(text: &str) -> Result<(f64, &'static str), ReadError> {
    macro_rules! kinds {
        ($($kind:ident),*) => { $( if let Ok(q) = $kind::read(text) { return Ok((q.si(), $kind::SYMBOL)); } )* };
    }
    kinds!(Voltage, Current, Resistance, Ratio, Temperature, Duration, Area);
    Length::read(text).map(|q| (q.si(), Length::SYMBOL))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::SourceFile;

    fn limits(text: &str) -> (Limits, Vec<Finding>) {
        let file = SourceFile::new(
            "publisher.yaml",
            format!("name: A club that does not exist\nlanguage: en\nlimits: {text}\n"),
        );
        let (publisher, found) = crate::guide::publisher::read(&file);
        Limits::of(&publisher.unwrap_or_else(|| panic!("{found:?}")))
    }

    #[test]
    fn a_tighter_limit_stands_and_a_looser_one_does_not() {
        let (tight, found) = limits("{return-drop: 0.5 V}");
        assert!(found.is_empty());
        assert_eq!(tight.standing("return-drop", Voltage::volts(0.7), Bound::AtMost), Voltage::volts(0.5));
        assert_eq!(tight.standing("return-drop", Voltage::volts(0.2), Bound::AtMost), Voltage::volts(0.2));
        assert_eq!(tight.standing("feed-drop", Voltage::volts(0.5), Bound::AtMost), Voltage::volts(0.5));
        assert_eq!(tight.standing("return-drop", Voltage::volts(0.4), Bound::AtLeast), Voltage::volts(0.5));
        assert_eq!(tight.standing("return-drop", Current::amps(9.0), Bound::AtMost), Current::amps(9.0));
    }

    #[test]
    fn an_unknown_rule_and_a_limit_without_a_unit_are_found() {
        let rules: Vec<&str> = limits("{return-dropp: 0.5 V, feed-drop: 0.5}").1.iter().map(|f| f.rule).collect();
        assert_eq!(rules, ["limit-unknown", "limit-unreadable"]);
    }

    #[test]
    fn a_looser_limit_is_told_to_be_so() {
        use crate::rules::testing::{VAN, studied};
        let van = studied(VAN);
        let (loose, _) = limits("{return-drop: 0.9 V}");
        let judgement = crate::rules::judge(&crate::rules::Bench { limits: &loose, ..van.bench() });
        let found = loose.that_loosen(&judgement.checks.iter().collect::<Vec<_>>());
        assert_eq!(found.iter().map(|f| f.rule).collect::<Vec<_>>(), ["limit-loosened"]);
        let (tight, _) = limits("{return-drop: 0.1 V}");
        let judgement = crate::rules::judge(&crate::rules::Bench { limits: &tight, ..van.bench() });
        assert!(tight.that_loosen(&judgement.checks.iter().collect::<Vec<_>>()).is_empty());
        assert!(judgement.findings.iter().any(|f| f.rule == "return-drop" && f.severity == Severity::Unsafe));
    }
}
