//! `publisher.yaml`: who publishes the guides of a content folder, and how.
//!
//! Knows no theme and no rule: it hands on names, and the stages that have themes and limits look
//! them up.

use indexmap::IndexMap;

use super::check::{self, Names, is_name};
use super::fault::{BAD_NAME, Faults};
use super::keys::{KeyShape, Others, Table, Takes, may, must, table};
use super::read::Fill;
use super::tree;
use crate::finding::{Finding, Place};
use crate::source::{Placed, SourceFile, Span};

/// Who publishes the guides, and what their pages say of it.
#[derive(Clone, Debug, Default)]
pub struct Publisher {
    /// The club's or workshop's name.
    pub name: String,
    /// The site's address, for feeds and canonical links.
    pub address: Option<String>,
    /// The theme's name; unsaid is the one built in.
    pub theme: Option<String>,
    /// The tag of the language of the site's own words.
    pub language: String,
    /// What job sheets are printed on: one of [`PAPERS`].
    pub paper: String,
    /// Kinds of file in which pictures may be taken away, of [`DOWNLOADS`]. Empty: all.
    pub downloads: Vec<String>,
    /// Links on every page: the words shown, and where they lead.
    pub links: IndexMap<String, String>,
    /// Local rules and authorities to which every page gives way.
    pub local_rules: Option<String>,
    /// Said on every page, as that all figures are invented.
    pub notice: Option<String>,
    /// Limits that the club has tightened: by a rule's id, as written. The rules read them, and refuse those that loosen.
    pub limits: IndexMap<String, TightenedLimit>,
    /// Who may answer queries and sign guides off. Empty: anybody.
    pub reviewers: Vec<String>,
    /// Where the value of each key stands, for findings of the stages that look names up.
    pub places: IndexMap<String, Place>,
}

/// A limit as `publisher.yaml` has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TightenedLimit {
    /// Where its key stands.
    pub place: Place,
    /// Where the limit stands.
    pub value_place: Place,
    /// The new limit, as written: a quantity, or a number.
    pub value: String,
}

/// What job sheets are printed on: ISO 216 A4, or North American letter.
pub const PAPERS: &[&str] = &["A4", "Letter"];

/// Kinds of file in which pictures may be taken away. The SVG is always written, as pages show it.
pub const DOWNLOADS: &[&str] = &["svg", "png", "pdf"];

/// What the keys of `publisher.yaml` take.
pub const PUBLISHER: Table = table(
    "`publisher.yaml`",
    &[
        must("name", &Takes::Text, "The club's or workshop's name."),
        may("address", &Takes::Address, "Where the site will stand: feeds and some links must be whole."),
        may("theme", &Takes::Text, "The theme's name: a folder under `themes/`. Left out: the one built in."),
        may("language", &Takes::Language, "The language of the site's own words. Left out: `en`."),
        may("paper", &Takes::Word(PAPERS), "What job sheets are printed on. Left out: `A4`."),
        may(
            "downloads",
            &Takes::OneOrMore(&Takes::Word(DOWNLOADS)),
            "Kinds of file in which pictures may be taken away. Left out: all.",
        ),
        may(
            "links",
            &Takes::Map(&Table {
                what: "`links`",
                keys: &[],
                cases: None,
                others: Some(Others { key: KeyShape::Free, takes: &Takes::Address, some: true }),
            }),
            "Links on every page: the words to show, then where they lead.",
        ),
        may("local-rules", &Takes::Text, "Local rules and authorities to which every page defers."),
        may("notice", &Takes::Text, "A notice on every page, as that all figures are invented."),
        may(
            "limits",
            &Takes::Map(&Table {
                what: "`limits`",
                keys: &[],
                cases: None,
                others: Some(Others { key: KeyShape::Free, takes: &Takes::Free, some: true }),
            }),
            "Limits that the club tightens, by the rule's id. A limit cannot be loosened.",
        ),
        may(
            "reviewers",
            &Takes::OneOrMore(&Takes::Text),
            "Who may answer queries and sign guides off. Left out: anybody.",
        ),
    ],
);

/// Reads `publisher.yaml`. There is no publisher when anything in it does not fit.
pub fn read(file: &SourceFile) -> (Option<Publisher>, Vec<Finding>) {
    let mut faults = Faults::of(file);
    let start = if file.text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
    let root = tree::parse(file, Span::new(start, file.text.len()), &mut faults);
    let publisher = root.and_then(|root| {
        check::check(&root, &PUBLISHER, &Names::default(), &mut faults);
        let fill = Fill::of(&root)?;
        let theme = fill.text("theme");
        if let Some(theme) = &theme
            && !is_name(theme)
        {
            faults.add(
                BAD_NAME,
                theme.at,
                "",
                format!("`{}` cannot be a theme's name.", check::shorten(theme)),
                "Name a folder under `themes/`: small letters, digits and hyphens.",
            );
        }
        let place = |span: Span| Place { file: file.path.clone(), span };
        let plain = |key: &str| fill.text(key).map(|text| text.value);
        Some(Publisher {
            name: plain("name")?,
            address: plain("address"),
            theme: plain("theme"),
            language: plain("language").unwrap_or_else(|| "en".to_owned()),
            paper: plain("paper").filter(|p| PAPERS.contains(&p.as_str())).unwrap_or_else(|| PAPERS[0].to_owned()),
            downloads: fill.texts("downloads").into_iter().map(|text| text.value).collect(),
            links: named(fill.map("links")).map(|(_, key, address)| (key, address.value)).collect(),
            local_rules: plain("local-rules"),
            notice: plain("notice"),
            limits: named(fill.map("limits"))
                .map(|(at, key, value)| {
                    (key, TightenedLimit { place: place(at), value_place: place(value.at), value: value.value })
                })
                .collect(),
            reviewers: fill.texts("reviewers").into_iter().map(|text| text.value).collect(),
            places: fill.entries.iter().map(|(key, (_, node))| (key.clone(), place(node.at))).collect(),
        })
    });
    let mut found = faults.found;
    found.sort_by_key(|f| f.place.span.start);
    (publisher.filter(|_| found.is_empty()), found)
}

/// Every scalar of a mapping: its key's place, its key, its text.
fn named(fill: Option<Fill<'_>>) -> impl Iterator<Item = (Span, String, Placed<String>)> {
    let entries = fill.map(|f| f.entries);
    entries.into_iter().flat_map(|e| e.values()).filter_map(|(key, node)| {
        Some((key.at, key.value.clone(), Placed::new(node.text()?.trim().to_owned(), node.at)))
    })
}

impl Publisher {
    /// Whether pictures may be taken away as this kind of file, one of [`DOWNLOADS`].
    pub fn offers(&self, kind: &str) -> bool {
        self.downloads.is_empty() || self.downloads.iter().any(|one| one == kind)
    }

    /// A publisher with a name and nothing else, for tests.
    pub fn default_for_tests() -> Publisher {
        Publisher {
            name: "The Test Bench".to_owned(),
            language: "en".to_owned(),
            paper: PAPERS[0].to_owned(),
            ..Publisher::default()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn listed(text: &str) -> (Option<Publisher>, Vec<String>) {
        let file = SourceFile::new("publisher.yaml", text);
        let (publisher, found) = read(&file);
        let line = |f: &Finding| {
            let at = file.line_column(f.place.span.start);
            format!("{}:{} {} {} {}", at.line, at.column, f.rule, f.message, f.advice.join(" "))
        };
        (publisher, found.iter().map(line).collect())
    }

    #[test]
    fn everything_is_read() {
        let (publisher, found) = listed(
            "name: The Test Bench\naddress: https://bench.example/\ntheme: plain\nlanguage: de-AT\npaper: Letter\n\
             downloads: [png, svg]\n\
             links: {Our rules: https://bench.example/rules}\nlocal-rules: Ask.\nnotice: Invented.\n\
             limits: {return-drop: 0.5 V}\nreviewers: [A. Nobody, B. Nobody]\n",
        );
        assert_eq!(found, Vec::<String>::new());
        let publisher = publisher.unwrap();
        assert_eq!(publisher.paper, "Letter");
        assert_eq!(publisher.language, "de-AT");
        assert!(publisher.offers("png") && publisher.offers("svg") && !publisher.offers("pdf"));
        assert!(DOWNLOADS.iter().all(|kind| Publisher::default_for_tests().offers(kind)));
        assert_eq!(publisher.links["Our rules"], "https://bench.example/rules");
        assert_eq!(publisher.limits["return-drop"].value, "0.5 V");
        assert_eq!(publisher.reviewers.len(), 2);
    }

    #[test]
    fn what_does_not_fit_is_said_at_its_place() {
        let (publisher, found) =
            listed("name: x\npapper: A4\npaper: a4\naddress: javascript:alert(1)\nlanguage: German\ntheme: ../x\n");
        assert!(publisher.is_none());
        assert_eq!(
            found,
            [
                "2:1 unknown-key `papper` is not a key of `publisher.yaml`. Did you mean `paper`?",
                "3:8 bad-value `a4` is not a word that `paper` takes. Did you mean `A4`? It can be `A4` or `Letter`.",
                "4:10 bad-value `address`: `javascript:alert(1)` is not a web address. Write it in full: `https://example.org/`.",
                "5:11 bad-value `language`: `German` is not a language. Write its short code: `en`, `de`, `pt-BR`.",
                "6:8 bad-name `../x` cannot be a theme's name. Name a folder under `themes/`: small letters, digits and hyphens.",
            ]
        );
    }

    #[test]
    fn a_kind_of_download_that_is_not_made_is_said_at_its_place() {
        let (publisher, found) = listed("name: x\ndownloads: [png, pdff]\n");
        assert!(publisher.is_none());
        assert_eq!(
            found,
            [
                "2:18 bad-value `pdff` is not a word that `downloads` takes. Did you mean `pdf`? It can be `svg`, `png` or `pdf`."
            ]
        );
        assert_eq!(listed("name: x\ndownloads: svg\n").0.unwrap().downloads, ["svg"]);
    }

    #[test]
    fn a_value_that_two_yaml_readers_take_differently_is_not_guessed_at() {
        // With no line end at the end of the file, one of them folds the last line into the one above.
        let (publisher, found) = listed("name: x\nnotice: >\n  a\n   b\n  c");
        assert!(publisher.is_none());
        assert_eq!(
            found,
            [
                "3:3 yaml-syntax Two YAML readers do not take this value alike, so people might not either. Write it on one line, in quotes."
            ]
        );
    }

    #[test]
    fn without_a_name_there_is_no_publisher() {
        let (publisher, found) = listed("# nobody\nlanguage: en\n");
        assert!(publisher.is_none());
        assert_eq!(
            found,
            ["2:1 missing-key `publisher.yaml` has no `name`. Add `name: …`. The club's or workshop's name."]
        );
        assert!(listed("").0.is_none());
        assert!(listed("name: [").0.is_none());
    }
}
