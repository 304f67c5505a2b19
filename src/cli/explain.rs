//! `explain`: tells a rule, or lists them one a line.

use clap::Args;

use super::{Ending, Trouble, output};
use crate::guide::fault;
use crate::handbook::sources;
use crate::rules::{self, Rule};

#[derive(Args)]
pub(super) struct Options {
    /// The rule; all of them, one a line, when none is named
    #[arg(value_name = "ID")]
    id: Option<String>,
}

pub(super) fn run(options: &Options) -> Result<Ending, Trouble> {
    let text = match &options.id {
        None => list(rules::ALL),
        Some(id) => explain(id).ok_or_else(|| {
            let known = rules::ALL.iter().map(|r| r.id).chain(fault::ALL.iter().map(|(id, _)| *id));
            let hint = fault::nearest(id, known).map(|n| format!("; did you mean {n}?")).unwrap_or_default();
            Trouble::Asked(format!("there is no rule called {id}{hint} (explain alone lists them)"))
        })?,
    };
    output::say(&text)?;
    Ok(Ending::Clear)
}

/// A rule's page, or what a fault of reading means.
fn explain(id: &str) -> Option<String> {
    if let Some(rule) = rules::ALL.iter().find(|r| r.id == id) {
        return Some(tell(rule));
    }
    let (id, meaning) = fault::ALL.iter().find(|(known, _)| *known == id)?;
    Some(format!("{id}: {meaning}\nNo rule of the catalogue: the guide could not be read so far as to be judged.\n"))
}

fn list(rules: &[Rule]) -> String {
    let widest = rules.iter().map(|r| r.id.len()).max().unwrap_or(0);
    rules.iter().map(|r| format!("{:widest$}  {}\n", r.id, r.title)).collect()
}

/// A rule's page, then its sources as the handbook lists them.
fn tell(rule: &Rule) -> String {
    let mut text = rule.page.trim_end().to_owned();
    text.push_str("\n\nSources in the handbook:\n");
    for id in rule.sources {
        text.push_str("- ");
        match sources::find(id) {
            None => text.push_str(id),
            Some(source) => {
                text.push_str(&format!("{} [{}]", source.title, source.certainty.word()));
                if let Some(scope) = source.adopted_from {
                    text.push_str(&format!(", adopted: written for {scope}"));
                }
                if let Some(address) = source.address {
                    text.push_str(&format!(", {address}"));
                }
            }
        }
        text.push('\n');
    }
    text
}
