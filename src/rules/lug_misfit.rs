#![doc = include_str!("lug_misfit.md")]

use super::{Bench, Family, Judgement, Rule, words};
use crate::circuit::{NodeId, RunId};
use crate::finding::{Check, Outcome, Severity};
use crate::guide;
use crate::handbook::ends;
use crate::quantity::{CableSize, Show, Thread};
use crate::source::Placed;

/// The rule.
pub const RULE: Rule = Rule {
    id: "lug-misfit",
    family: Family::Ends,
    title: "whether every lug fits its conductor and its stud",
    worst: Severity::Unsafe,
    sources: &["ac43-13-1b-11-174", "abyc-e11", "uk-inspection"],
    page: include_str!("lug_misfit.md"),
    judge,
};

/// Sections nearer than this share are one size under two names: 35 mm² and 2 AWG differ by 4 %.
const SAME_SIZE: f64 = 0.05;

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (r, run) in bench.circuit.runs.iter().enumerate() {
        let id = RunId(r);
        let Some(lugs) = bench.guide.runs.get(&run.name).and_then(|g| g.lugs.as_ref()) else { continue };
        if let Some(size) = lugs.size {
            conductor(bench, judgement, id, size);
        }
        stud(bench, judgement, id, lugs, run.from, true);
        stud(bench, judgement, id, lugs, run.to, false);
    }
}

fn row(subject: &str, case: String, value: String, limit: String, fits: bool, source: &'static str) -> Check {
    Check {
        rule: RULE.id,
        subject: subject.to_string(),
        case,
        value: words(&value),
        limit: words(&limit),
        margin: String::new(),
        outcome: if fits { Outcome::Passes } else { Outcome::Found(Severity::Unsafe) },
        sources: vec![source],
    }
}

fn conductor(bench: &Bench<'_>, judgement: &mut Judgement, id: RunId, lug: Placed<CableSize>) {
    let run = bench.circuit.run(id);
    let fits = (lug.value.section() / run.size.section() - 1.0).abs() <= SAME_SIZE;
    let name = &run.name;
    judgement.say(
        bench,
        row(name, "lug on its conductor".into(), lug.value.show(), run.size.show(), fits, "ac43-13-1b-11-174"),
        lug.at,
        || format!("the lugs of `{name}` are made for {}, and its cable is {}", lug.value.show(), run.size.show()),
        || vec![format!("use lugs for {}, and the crimping die that belongs to them", run.size.show())],
    );
}

fn stud(bench: &Bench<'_>, judgement: &mut Judgement, id: RunId, lugs: &guide::Lugs, node: NodeId, from: bool) {
    let run = bench.circuit.run(id);
    let part = bench.circuit.part(bench.circuit.node(node).part);
    let hole: Option<Placed<Thread>> = if from { lugs.from_hole } else { lugs.to_hole };
    let (Some(hole), Some(stud)) = (hole, part.stud) else { return };
    let fits = ends::lug_fits_stud(hole.value, stud);
    let (name, at) = (&run.name, &bench.circuit.node(node).name);
    judgement.say(
        bench,
        row(name, format!("lug on `{at}`"), format!("hole for {}", hole.value), format!("{stud} stud"), fits, "abyc-e11"),
        hole.at,
        || {
            if hole.value > stud {
                format!("the lug of `{name}` has a hole for {}, and the stud of `{}` is {stud}: it sits on its edge and works loose", hole.value, part.name)
            } else {
                format!("the lug of `{name}` has a hole for {}, and the stud of `{}` is {stud}: it does not go on", hole.value, part.name)
            }
        },
        || vec![format!("use a lug with a hole for {stud}")],
    );
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::Unsafe;
    use crate::rules::testing::{VAN, changed, finds};

    const ID: &str = "lug-misfit";
    const FEED: &str = "main-feed: {from: breaker, to: post, size: 70 mm², length: 0.3 m}";

    fn lugs(lugs: &str) -> Vec<(crate::finding::Severity, String)> {
        finds(
            ID,
            &changed(
                VAN,
                &[(
                    FEED,
                    &format!("main-feed: {{from: breaker, to: post, size: 70 mm², length: 0.3 m, lugs: {{{lugs}}}}}"),
                )],
            ),
        )
    }

    /// An M10 ring on an M8 stud fails (ABYC E-11: a ring matches its stud).
    #[test]
    fn a_ring_matches_its_stud() {
        assert_eq!(finds(ID, VAN), []);
        assert_eq!(lugs("to-hole: M10"), []);
        assert_eq!(lugs("to-hole: M8"), [(Unsafe, "main-feed".into())]);
        assert_eq!(lugs("to-hole: M12"), [(Unsafe, "main-feed".into())]);
        // Nothing is said of the breaker's stud.
        assert_eq!(lugs("from-hole: M6"), []);
    }

    #[test]
    fn a_lug_is_made_for_its_conductor() {
        assert_eq!(lugs("size: 70 mm²"), []);
        // 2/0 AWG is 67.4 mm², 4 % off: one size under another name. 50 mm² and 1/0 AWG (53.5 mm²) are not 70.
        assert_eq!(lugs("size: 2/0 AWG"), []);
        assert_eq!(lugs("size: 1/0 AWG"), [(Unsafe, "main-feed".into())]);
        assert_eq!(lugs("size: 95 mm²"), [(Unsafe, "main-feed".into())]);
    }
}
