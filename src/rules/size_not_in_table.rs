#![doc = include_str!("size_not_in_table.md")]

use super::{Bench, Family, Judgement, Rule, words};
use crate::circuit::RunId;
use crate::finding::{Check, Outcome, Severity};
use crate::handbook::conductors;
use crate::quantity::Show;

/// The rule.
pub const RULE: Rule = Rule {
    id: "size-not-in-table",
    family: Family::Running,
    title: "a cable whose size or insulation no published table has",
    worst: Severity::Query,
    sources: &["cfr33-183-425", "iec-60228"],
    page: include_str!("size_not_in_table.md"),
    judge,
};

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (r, run) in bench.circuit.runs.iter().enumerate() {
        let fault = if conductors::rating_column(run.rated).is_none() {
            Some((
                format!(
                    "`{}` has insulation for {}, and no table says what a cable under 60 °C may carry",
                    run.name,
                    run.rated.show_both()
                ),
                "take cable with insulation for at least 60 °C (140 °F), better 105 °C (221 °F), and give `rated:`"
                    .into(),
            ))
        } else if run.iz30.is_none() {
            Some((
                format!(
                    "no table says what {} may carry, so that the heat of `{}` cannot be judged",
                    run.size.show(),
                    run.name
                ),
                format!("take a size between {} and {}", smallest(run.size), largest(run.size)),
            ))
        } else if !conductors::in_series(run.size) && run.measured.is_none() {
            Some((
                format!(
                    "{} is no size of its standard's series: the resistance of `{}` is worked from its section",
                    run.size.show(),
                    run.name
                ),
                format!(
                    "give the size that is printed on the cable{}, or its measured `resistance:`",
                    neighbours(run.size)
                ),
            ))
        } else {
            None
        };
        let (message, advice) = fault.clone().unwrap_or_default();
        let outcome = if fault.is_some() { Outcome::Found(Severity::Query) } else { Outcome::Passes };
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: run.name.clone(),
                case: String::new(),
                value: words(&format!("{}, {}", run.size.show(), run.rated.show_both())),
                limit: words("a row and a column of the tables"),
                margin: String::new(),
                outcome,
                sources: RULE.sources.to_vec(),
            },
            bench.run_span(RunId(r)),
            || message,
            || vec![advice],
        );
    }
}

fn smallest(size: crate::quantity::CableSize) -> String {
    let gauge = conductors::awg_sizes().first().copied();
    let ladder = conductors::ladder(size).iter().find(|s| gauge.is_none_or(|g| s.section() >= g.section()));
    ladder.map(|s| s.show()).unwrap_or_default()
}

fn largest(size: crate::quantity::CableSize) -> String {
    conductors::ladder(size).last().map(|s| s.show()).unwrap_or_default()
}

/// ", such as 10 mm² or 16 mm²": the sizes on either side.
fn neighbours(size: crate::quantity::CableSize) -> String {
    let ladder = conductors::ladder(size);
    let above = ladder.iter().position(|s| s.section() > size.section());
    match above {
        Some(i) if i > 0 => format!(", such as {} or {}", ladder[i - 1].show(), ladder[i].show()),
        _ => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{changed, finds, mended, one};

    fn with(size: &str) -> Vec<(Severity, String)> {
        finds(
            "size-not-in-table",
            &changed(
                &mended("size-not-in-table"),
                &[("size: 6 mm², length: 2.5 m", &format!("size: {size}, length: 2.5 m"))],
            ),
        )
    }

    #[test]
    fn the_ends_of_the_tables_are_in_them_and_what_lies_beyond_is_not() {
        for size in ["18 AWG", "4/0 AWG", "1 mm²", "120 mm²"] {
            assert_eq!(with(size), [], "{size}");
        }
        // 0.75 mm² is thinner than 18 AWG (0.823 mm²): the first row of Table 5.
        for size in ["20 AWG", "0.75 mm²", "7 mm²"] {
            assert_eq!(with(size), one(Severity::Query, "feed"), "{size}");
        }
    }

    #[test]
    fn a_measured_run_needs_no_row_of_resistance() {
        assert_eq!(with("7 mm², resistance: 7 mΩ"), []);
    }

    #[test]
    fn insulation_below_the_first_column_is_asked_about() {
        assert_eq!(with("6 mm², rated: 60 °C"), []);
        assert_eq!(with("6 mm², rated: 59 °C"), one(Severity::Query, "feed"));
    }
}
