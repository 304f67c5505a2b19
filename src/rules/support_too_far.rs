#![doc = include_str!("support_too_far.md")]

use super::{Bench, Bound, Comparison, Family, Judgement, Measured, Rule, words};
use crate::circuit::{Circuit, Kind, Run, RunId};
use crate::finding::{Check, Outcome, Severity};
use crate::guide::Covering;
use crate::handbook::ends;
use crate::handbook::limits::Limit;
use crate::quantity::{Length, Show};

/// The rule.
pub const RULE: Rule = Rule {
    id: "support-too-far",
    family: Family::Ends,
    title: "the distance between the supports of a cable that lies in no conduit",
    worst: Severity::Query,
    sources: &["iso-10133-7", "ac43-13-1b-11-96"],
    page: include_str!("support_too_far.md"),
    judge,
};

/// Whether a run is held more closely than others: a battery's own conductor, on either post or up to the first device,
/// or a sheathed one.
pub fn is_held_closely(circuit: &Circuit, run: &Run, before_a_device: bool) -> bool {
    let at_battery = |node| matches!(circuit.part(circuit.node(node).part).kind, Kind::Battery(_));
    before_a_device || run.covering == Covering::Sheath || at_battery(run.from) || at_battery(run.to)
}

/// How far apart the supports of such a run, or of another, may stand.
pub fn limit(close: bool) -> Limit<Length> {
    if close { ends::battery_supports() } else { ends::supports() }
}

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let before = bench.study.supply.before_a_device(bench.circuit);
    for (r, run) in bench.circuit.runs.iter().enumerate() {
        let id = RunId(r);
        let name = &run.name;
        if matches!(run.covering, Covering::Conduit | Covering::Trunking) {
            judgement.not_applicable(RULE.id, name, "conduit or trunking supports it all along");
            continue;
        }
        let close = is_held_closely(bench.circuit, run, before[r]);
        let limit = limit(close);
        match run.supports {
            Some(supports) => {
                let longest = ends::longest_supports();
                judgement.compare(
                    bench,
                    Comparison {
                        rule: RULE.id,
                        subject: name.clone(),
                        at: bench.run_span(id),
                        case: if close { "battery's or sheathed cable" } else { "cable" }.into(),
                        value: supports,
                        limit: limit.value,
                        bound: Bound::AtMost,
                        severity: Severity::Query,
                        sources: if supports > longest.value {
                            vec![limit.source, longest.source]
                        } else {
                            vec![limit.source]
                        },
                    },
                    || {
                        let further =
                            if supports > longest.value { ", further than any rule that was read allows" } else { "" };
                        format!(
                            "`{name}` is held every {}; {} is the limit{further}",
                            supports.show(),
                            limit.value.show()
                        )
                    },
                    || vec![format!("hold it every {} or closer, or lay it in conduit", limit.value.show())],
                );
            }
            // Between two terminals that near, its own ends hold it; a strap hangs by design.
            None if run.length <= limit.value || run.strap => {}
            None => {
                judgement.say(
                    bench,
                    Check {
                        rule: RULE.id,
                        subject: name.clone(),
                        case: "distance between supports".into(),
                        value: words("not given"),
                        limit: limit.value.figure(),
                        margin: String::new(),
                        outcome: Outcome::Found(Severity::Note),
                        sources: vec![limit.source],
                    },
                    bench.run_span(id),
                    || {
                        let why = if before[r] { ", and no device protects it" } else { "" };
                        format!("the guide does not say how `{name}` is held: it is {} long{why}", run.length.show())
                    },
                    || {
                        vec![format!(
                            "hold it every {} and say so: `supports: {}`",
                            limit.value.show(),
                            limit.value.show()
                        )]
                    },
                );
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::{Note, Query};
    use crate::rules::testing::{VAN, changed, finds};

    const ID: &str = "support-too-far";

    /// 460 mm fails ISO 10133 7.3 (450 mm); a battery's and a sheathed cable 300 mm (7.4).
    #[test]
    fn supports_stand_every_450_or_300_millimetres() {
        let charge = |supports: &str| {
            let found = finds(
                ID,
                &changed(
                    VAN,
                    &[(
                        "to: panel, size: 25 mm², length: 0.9 m}",
                        &format!("to: panel, size: 25 mm², length: 0.9 m, supports: {supports}}}"),
                    )],
                ),
            );
            found.into_iter().filter(|(_, name)| name == "charge-lead").collect::<Vec<_>>()
        };
        assert_eq!(charge("450 mm"), []);
        assert_eq!(charge("451 mm"), [(Query, "charge-lead".into())]);
        assert_eq!(charge("700 mm"), [(Query, "charge-lead".into())]);
        let battery = |supports: &str| {
            let found = finds(
                ID,
                &changed(
                    VAN,
                    &[(
                        "length: 0.35 m, covering: sheath}",
                        &format!("length: 0.35 m, covering: sheath, supports: {supports}}}"),
                    )],
                ),
            );
            found.into_iter().filter(|(_, name)| name == "battery-lead").collect::<Vec<_>>()
        };
        assert_eq!(battery("300 mm"), []);
        assert_eq!(battery("301 mm"), [(Query, "battery-lead".into())]);
    }

    #[test]
    fn unsaid_is_a_note_where_the_ends_alone_do_not_hold_it() {
        assert_eq!(finds(ID, VAN), [(Note, "battery-lead".into()), (Note, "charge-lead".into())]);
    }
}
