//! `draft`: starts a guide.

use std::path::Path;

use clap::Args;

use super::{Content, Ending, Trouble, output};
use crate::press;

/// A guide that reads, wires and passes, with a line of explanation at each part of it. A test holds that.
const START: &str = include_str!("draft.md");

#[derive(Args)]
pub(super) struct Options {
    /// The guide's folder, and its page's address: small letters, digits and hyphens
    #[arg(value_name = "NAME")]
    name: String,
    #[command(flatten)]
    from: Content,
    /// What the guide is called
    #[arg(long, value_name = "TEXT")]
    title: Option<String>,
}

pub(super) fn run(options: &Options) -> Result<Ending, Trouble> {
    let address = press::content::address_of(&options.name);
    if address != options.name {
        let why = format!("{} cannot be a page's address; try {address}", options.name);
        return Err(Trouble::Asked(why));
    }
    let path = options.from.folder.join(&address).join("guide.md");
    let title = options.title.clone().unwrap_or_else(|| title_of(&address));
    press::write_new(&path, &start(&title, &press::today()?.to_string()))?;
    let shown = shown(&path);
    output::say(&format!("Started {shown}.\nFill it in, then ask what is found: goodground review {address}\n"))?;
    Ok(Ending::Clear)
}

fn start(title: &str, today: &str) -> String {
    // A JSON string is a YAML string, whatever the title holds.
    let title = serde_json::Value::String(title.to_owned()).to_string();
    START.replace("TITLE", &title).replace("TODAY", today)
}

/// "winch-on-a-pickup" as a title to begin with.
fn title_of(address: &str) -> String {
    let words = address.replace('-', " ");
    let mut letters = words.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

fn shown(path: &Path) -> String {
    path.display().to_string().replace('\\', "/")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checked;
    use crate::guide::publisher::Publisher;
    use crate::source::SourceFile;

    #[test]
    fn a_title_cannot_break_the_front_matter() {
        let text = start("12\" sub: \\ #1\nparts: {}", "2026-11-25");
        let line = text.lines().find(|l| l.starts_with("title:")).unwrap();
        let read: std::collections::BTreeMap<String, String> = serde_yaml::from_str(line).unwrap();
        assert_eq!(read["title"], "12\" sub: \\ #1\nparts: {}");
    }

    #[test]
    fn the_start_reads_and_nothing_stands_in_its_way() {
        let today = jiff::civil::date(2026, 11, 25);
        let file = SourceFile::new("guide.md", start("A coolbox", &today.to_string()));
        let checked = checked::check(file, "coolbox", &Publisher::default(), today);
        let found: Vec<&str> = checked.findings.iter().filter(|f| f.stops()).map(|f| f.message.as_str()).collect();
        assert_eq!(found, [] as [&str; 0]);
        assert!(checked.circuit.is_some());
        assert!(!checked.is_on_the_site());
    }

    #[test]
    fn a_folder_name_makes_a_title() {
        assert_eq!(title_of("winch-on-a-pickup"), "Winch on a pickup");
    }
}
