//! Who publishes: `content/publisher.yaml`.

use indexmap::IndexMap;

use super::check::{self, Names};
use super::fault::Faults;
use super::keys;
use super::tree::{self, Node};
use crate::finding::Finding;
use crate::source::{SourceFile, Span};

/// Who publishes the guides, and what their pages say of it.
#[derive(Clone, Debug, Default)]
pub struct Publisher {
    /// The club's name.
    pub name: String,
    /// The site's address, for feeds and canonical links.
    pub address: Option<String>,
    /// The theme's name.
    pub theme: Option<String>,
    /// The language's tag.
    pub language: String,
    /// `A4` or `Letter`.
    pub paper: String,
    /// Links, by name.
    pub links: IndexMap<String, String>,
    /// The rules to which its guides give way.
    pub local_rules: Option<String>,
    /// Said on every page.
    pub notice: Option<String>,
}

/// Reads the publisher's file: YAML, by the table of its keys. There is none when anything in it does not fit.
pub fn read(file: &SourceFile) -> (Option<Publisher>, Vec<Finding>) {
    let mut faults = Faults::of(file);
    let start = if file.text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
    let root = tree::parse(file, Span::new(start, file.text.len()), &mut faults);
    if let Some(root) = &root {
        check::check(root, &keys::PUBLISHER, &Names::of(root), &mut faults);
    }
    let publisher = root.filter(|_| faults.found.is_empty()).map(|root| of(&root));
    (publisher, faults.found)
}

fn of(root: &Node) -> Publisher {
    let text = |key: &str| root.get(key).and_then(Node::text).map(|t| t.trim().to_owned()).filter(|t| !t.is_empty());
    let links = root.get("links").and_then(Node::entries).map(|entries| {
        entries.values().filter_map(|(name, to)| Some((name.value.clone(), to.text()?.to_owned()))).collect()
    });
    Publisher {
        name: text("name").unwrap_or_default(),
        address: text("address"),
        theme: text("theme"),
        language: text("language").unwrap_or_else(|| "en".into()),
        paper: text("paper").unwrap_or_else(|| keys::PAPERS[0].into()),
        links: links.unwrap_or_default(),
        local_rules: text("local-rules"),
        notice: text("notice"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read_text(text: &str) -> (Option<Publisher>, Vec<Finding>) {
        read(&SourceFile::new("publisher.yaml", text))
    }

    #[test]
    fn what_is_left_out_has_its_default() {
        let (publisher, found) = read_text("name: A Club\nlinks:\n  Forum: https://example.org/\n");
        assert!(found.is_empty(), "{found:#?}");
        let publisher = publisher.unwrap();
        assert_eq!((publisher.language.as_str(), publisher.paper.as_str()), ("en", "A4"));
        assert_eq!(publisher.links["Forum"], "https://example.org/");
    }

    #[test]
    fn what_does_not_fit_is_found_at_its_place() {
        let text = "name: A Club\npapr: A4\naddress: javascript:x\n";
        let (publisher, found) = read_text(text);
        assert!(publisher.is_none());
        assert_eq!(found.len(), 2, "{found:#?}");
        assert!(found.iter().any(|f| text[f.place.span.start..].starts_with("papr") && f.advice[0].contains("paper")));
        assert!(read_text("").0.is_none() && read_text(": [").0.is_none());
    }
}
