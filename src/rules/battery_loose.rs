#![doc = include_str!("battery_loose.md")]

use super::{Bench, Family, Judgement, Rule, words};
use crate::circuit::PartId;
use crate::finding::{Check, Outcome, Severity};
use crate::guide::{self, HoldDownKind};

/// The rule.
pub const RULE: Rule = Rule {
    id: "battery-loose",
    family: Family::Battery,
    title: "whether every battery is held down, and not by something that stretches",
    worst: Severity::Unsafe,
    sources: &["uk-inspection", "cfr33-183-420"],
    page: include_str!("battery_loose.md"),
    judge,
};

/// A battery's hold-down as the guide gives it.
pub(super) fn hold_down<'a>(bench: &Bench<'a>, id: PartId) -> Option<&'a guide::HoldDown> {
    match &bench.guide.parts.get(&bench.circuit.part(id).name)?.kind {
        guide::PartKind::Battery(b) => b.hold_down.as_ref(),
        _ => None,
    }
}

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (id, _) in bench.circuit.batteries() {
        let name = &bench.circuit.part(id).name;
        let held = hold_down(bench, id);
        let severity = match held.map(|h| h.kind.value) {
            None => Some(Severity::Query),
            Some(HoldDownKind::None | HoldDownKind::ElasticCord) => Some(Severity::Unsafe),
            Some(HoldDownKind::Clamp | HoldDownKind::Frame | HoldDownKind::Strap) => None,
        };
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: name.clone(),
                case: "what holds it down".into(),
                value: words(held.map_or("not said", |h| h.kind.value.word())),
                limit: words("a clamp, frame or strap"),
                margin: String::new(),
                outcome: severity.map_or(Outcome::Passes, Outcome::Found),
                sources: vec!["uk-inspection", "cfr33-183-420"],
            },
            held.map_or_else(|| bench.part_span(id), |h| h.at),
            || match held.map(|h| h.kind.value) {
                None => format!("the guide does not say what holds `{name}` down"),
                Some(HoldDownKind::ElasticCord) => format!("`{name}` is held by an elastic cord, which lets it fly in a crash"),
                _ => format!("nothing holds `{name}` down"),
            },
            || vec!["bolt it down with a clamp on its foot or a frame over its top: `hold-down: {kind: frame, bolts: 4, thread: M8, grade: 8.8, …}`".into()],
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::{Query, Unsafe};
    use crate::rules::testing::{VAN, changed, finds};

    const ID: &str = "battery-loose";
    const HELD: &str =
        "    hold-down: {kind: clamp, bolts: 2, thread: M8, grade: 8.8, plate: {area: 20 cm², thickness: 3 mm}}\n";

    /// A battery insecure: fail (UK inspection manual, 1.9).
    #[test]
    fn none_and_elastic_cord_are_unsafe_and_unsaid_is_asked_about() {
        let with = |held: &str| finds(ID, &changed(VAN, &[(HELD, held)]));
        for good in ["clamp", "frame", "strap"] {
            assert_eq!(with(&format!("    hold-down: {{kind: {good}}}\n")), [], "{good}");
        }
        for bad in ["none", "elastic-cord"] {
            assert_eq!(with(&format!("    hold-down: {{kind: {bad}}}\n")), [(Unsafe, "battery".into())], "{bad}");
        }
        assert_eq!(with(""), [(Query, "battery".into())]);
    }
}
