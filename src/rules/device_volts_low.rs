#![doc = include_str!("device_volts_low.md")]

use super::{Bench, Bound, Comparison, Family, Judgement, Measured, Rule, words};
use crate::circuit::Kind;
use crate::finding::{Check, Outcome, Severity};
use crate::quantity::{Show, Voltage};

/// The rule.
pub const RULE: Rule = Rule {
    id: "device-volts-low",
    family: Family::Protection,
    title: "the voltage that each fuse, breaker and switch may break against the system's",
    worst: Severity::Unsafe,
    sources: &["cfr33-183-455", "alternator-regulation", "makers-sheet"],
    page: include_str!("device_volts_low.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let nominal = bench.circuit.nominal;
    // The most that anything in the circuit regulates to.
    let highest = bench
        .circuit
        .parts
        .iter()
        .filter_map(|p| match &p.kind {
            Kind::Alternator(a) => Some((a.set_point, &p.name)),
            Kind::Charger(c) => Some((c.set_point, &p.name)),
            _ => None,
        })
        .fold(None, |most: Option<(Voltage, &String)>, next| match most {
            Some(most) if next.0 <= most.0 => Some(most),
            _ => Some(next),
        });
    for (i, part) in bench.circuit.parts.iter().enumerate() {
        let (volts, must_say) = match &part.kind {
            Kind::Protector(d) => (d.volts, true),
            Kind::Switch(s) => (s.volts, false),
            _ => continue,
        };
        let id = crate::circuit::PartId(i);
        let name = &part.name;
        let Some(volts) = volts else {
            let severity = if must_say { Severity::Query } else { Severity::Note };
            judgement.say(
                bench,
                Check {
                    rule: RULE.id,
                    subject: name.clone(),
                    case: "voltage that it may break".into(),
                    value: words("not given"),
                    limit: nominal.figure(),
                    margin: String::new(),
                    outcome: Outcome::Found(severity),
                    sources: vec!["cfr33-183-455"],
                },
                bench.part_span(id),
                || format!("the guide does not say what voltage `{name}` may break"),
                || vec![format!("copy it from the device: `volts: {}` or more", nominal.show())],
            );
            continue;
        };
        let comparison = |limit, case: String, severity, source| Comparison {
            rule: RULE.id,
            subject: name.clone(),
            at: bench.part_span(id),
            case,
            value: volts,
            limit,
            bound: Bound::AtLeast,
            severity,
            sources: vec![source],
        };
        let above_nominal = judgement.compare(
            bench,
            comparison(nominal, "the system's voltage".into(), Severity::Unsafe, "cfr33-183-455"),
            || {
                format!(
                    "`{name}` may break {}, and the system has {}: an arc would burn on inside it",
                    volts.show(),
                    nominal.show()
                )
            },
            || vec![format!("use a device for at least {}", highest.map_or(nominal, |(v, _)| v).show())],
        );
        if let (true, Some((set_point, by))) = (above_nominal, highest) {
            judgement.compare(
                bench,
                comparison(set_point, format!("what `{by}` regulates to"), Severity::Query, "alternator-regulation"),
                || format!("`{name}` may break {}, and `{by}` charges at {}", volts.show(), set_point.show()),
                || vec![format!("use a device for at least {}", set_point.show())],
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::{Query, Unsafe};
    use crate::rules::testing::{VAN, changed, finds};

    const ID: &str = "device-volts-low";

    fn with(volts: &str) -> Vec<(crate::finding::Severity, String)> {
        finds(ID, &changed(VAN, &[("    volts: 32 V\n    breaks: 5 kA", &format!("{volts}    breaks: 5 kA"))]))
    }

    #[test]
    fn under_the_systems_voltage_is_unsafe_and_under_the_set_point_a_query() {
        assert_eq!(finds(ID, VAN), []);
        assert_eq!(with("    volts: 14.4 V\n"), []);
        assert_eq!(with("    volts: 14.3 V\n"), [(Query, "breaker".into())]);
        assert_eq!(with("    volts: 12 V\n"), [(Query, "breaker".into())]);
        assert_eq!(with("    volts: 11.9 V\n"), [(Unsafe, "breaker".into())]);
        assert_eq!(with(""), [(Query, "breaker".into())]);
    }

    /// A 225 A thermal breaker on 24 V: refused, since such breakers above 200 A are for 14 V. Source: a published series,
    /// 48 / 30 / 14 V as the rating rises.
    #[test]
    fn a_large_thermal_breaker_on_24_volts_is_refused() {
        let text = "---\ntitle: A lorry\nsummary: Its figures are invented.\nwritten: 2026-11-25\n\
            vehicle: {kind: lorry, body: steel, drive: diesel}\nsystem: 24 V\nzones:\n  box: {label: Box}\nparts:\n  \
            battery: {is: battery, in: box, chemistry: agm, capacity: 90 Ah}\n  breaker: {is: breaker, in: box, rating: 225 A, volts: 14 V}\n  \
            lift: {is: load, in: box, rating: 150 A}\nruns:\n  lead: {from: battery+, to: breaker, size: 70 mm², length: 0.1 m}\n  \
            feed: {from: breaker, to: lift+, size: 70 mm², length: 2 m}\n  back: {from: lift-, to: battery-, size: 70 mm², length: 2 m}\n\
            states:\n  lifting: {lift: 150 A, for: 60 s}\n---\n";
        assert_eq!(finds(ID, text), [(Unsafe, "breaker".into())]);
    }
}
