#![doc = include_str!("stud_crowded.md")]

use super::{Bench, Family, Judgement, Rule, count};
use crate::circuit::{Kind, PartId};
use crate::finding::{Check, Outcome, Severity};
use crate::handbook::ends;

/// The rule.
pub const RULE: Rule = Rule {
    id: "stud-crowded",
    family: Family::Ends,
    title: "how many lugs sit on one stud",
    worst: Severity::Unsafe,
    sources: &["ac43-13-1b-11-174", "mil-dtl-917"],
    page: include_str!("stud_crowded.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let (most, careful) = (ends::MOST_LUGS, ends::CAREFUL_LUGS);
    for (i, part) in bench.circuit.parts.iter().enumerate() {
        // A bar, an engine and a body have more than one place to bolt to.
        match &part.kind {
            Kind::Engine(_) | Kind::Body(_) => continue,
            Kind::Stud(s) if s.is_busbar => continue,
            _ => {}
        }
        for node in part.terminals() {
            let ends = bench.circuit.runs.iter().map(|r| usize::from(r.from == node) + usize::from(r.to == node));
            let lugs: usize = ends.sum();
            if lugs < 2 {
                continue;
            }
            let name = &bench.circuit.node(node).name;
            let (limit, severity) =
                if lugs > most.value { (most, Severity::Unsafe) } else { (careful, Severity::Query) };
            let passes = lugs <= limit.value;
            judgement.say(
                bench,
                Check {
                    rule: RULE.id,
                    subject: part.name.clone(),
                    case: format!("lugs on `{name}`"),
                    value: count(lugs),
                    limit: count(limit.value),
                    margin: match passes {
                        true => format!("{} to spare", limit.value - lugs),
                        false => format!("{} over", lugs - limit.value),
                    },
                    outcome: if passes { Outcome::Passes } else { Outcome::Found(severity) },
                    sources: vec![limit.source],
                },
                bench.part_span(PartId(i)),
                || format!("{lugs} lugs sit on `{name}`; at most {} is the limit", limit.value),
                || vec![format!("add a busbar beside `{}` and move some of them there", part.name)],
            );
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity::{Query, Unsafe};
    use crate::rules::testing::finds;

    /// 5 lugs: fail; 4: pass, by AC 43.13-1B 11-174b, and a query by MIL-DTL-917F 3.12.2.8; 3: pass.
    #[test]
    fn three_lugs_pass_four_are_asked_about_five_are_unsafe() {
        let with = |loads: usize| {
            let (mut parts, mut runs) = (String::new(), String::new());
            for i in 0..loads {
                parts += &format!("  lamp{i}: {{is: load, in: box}}\n");
                runs += &format!(
                    "  feed{i}: {{from: post, to: lamp{i}+, size: 6 mm², length: 1 m}}\n  \
                       back{i}: {{from: lamp{i}-, to: bar, size: 6 mm², length: 1 m}}\n"
                );
            }
            finds(
                "stud-crowded",
                &format!(
                    "---\ntitle: A post\nsummary: Its figures are invented.\nwritten: 2026-11-25\n\
                     vehicle: {{kind: van, body: steel, drive: diesel}}\nsystem: 12 V\nzones:\n  box: {{label: Box}}\nparts:\n  \
                     battery: {{is: battery, in: box, chemistry: agm, capacity: 90 Ah}}\n  post: {{is: post, in: box}}\n  \
                     bar: {{is: busbar, in: box}}\n{parts}runs:\n  lead: {{from: battery+, to: post, size: 6 mm², length: 0.1 m}}\n{runs}  \
                     home: {{from: bar, to: battery-, size: 6 mm², length: 0.1 m}}\nstates:\n  rest: {{}}\n---\n"
                ),
            )
        };
        assert_eq!(with(2), []);
        assert_eq!(with(3), [(Query, "post".into())]);
        assert_eq!(with(4), [(Unsafe, "post".into())]);
    }
}
