#![doc = include_str!("solder_alone.md")]

use super::{Bench, Family, Judgement, Rule, words};
use crate::finding::{Check, Outcome, Severity};
use crate::guide::LugFixing;

/// The rule.
pub const RULE: Rule = Rule {
    id: "solder-alone",
    family: Family::Ends,
    title: "whether solder is the only thing that holds a lug on its cable",
    worst: Severity::Unsafe,
    sources: &["abyc-e11-solder", "nasa-std-8739-4"],
    page: include_str!("solder_alone.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for run in &bench.circuit.runs {
        let Some(fixing) = bench.guide.runs.get(&run.name).and_then(|g| g.lugs.as_ref()?.fixing) else { continue };
        let (severity, source) = match fixing.value {
            LugFixing::Solder => (Some(Severity::Unsafe), "abyc-e11-solder"),
            LugFixing::CrimpAndSolder => (Some(Severity::Note), "nasa-std-8739-4"),
            LugFixing::Crimp | LugFixing::Screw => (None, "abyc-e11-solder"),
        };
        let name = &run.name;
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: name.clone(),
                case: "how its lugs are fixed".into(),
                value: words(fixing.value.word()),
                limit: words("not solder alone"),
                margin: String::new(),
                outcome: severity.map_or(Outcome::Passes, Outcome::Found),
                sources: vec![source],
            },
            fixing.at,
            || match severity {
                Some(Severity::Note) => format!("the lugs of `{name}` are crimped and then soldered: the strands break where the solder ends"),
                _ => format!("only solder holds the lugs of `{name}`: it melts when a joint runs hot, and then the cable falls out live"),
            },
            || vec!["crimp them with the tool and die made for the lug, and hold the cable within a hand's breadth of it".into()],
        );
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::{Note, Unsafe};
    use crate::rules::testing::{VAN, changed, finds};

    /// A solder-only ring fails (ABYC E-11); crimp and solder on a tinned end fails NASA-STD-8739.4.
    #[test]
    fn solder_is_never_the_only_means() {
        let with = |fixing: &str| {
            finds(
                "solder-alone",
                &changed(
                    VAN,
                    &[(
                        "size: 70 mm², length: 0.3 m}",
                        &format!("size: 70 mm², length: 0.3 m, lugs: {{fixing: {fixing}}}}}"),
                    )],
                ),
            )
        };
        assert_eq!(with("crimp"), []);
        assert_eq!(with("screw"), []);
        assert_eq!(with("solder"), [(Unsafe, "main-feed".into())]);
        assert_eq!(with("crimp-and-solder"), [(Note, "main-feed".into())]);
    }
}
