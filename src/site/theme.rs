//! A theme: templates, look and words, as files by path. Touches no disk.
//!
//! A theme's folder holds `sheets/` (templates, one a kind of page), `look/` (copied to the site as
//! it is: the style sheet, scripts, the font) and `words/` (every string, one file a language). A
//! club's own theme is laid over the built-in one file by file; its words, string by string. So a
//! club changes one file, or one sentence, without copying the rest.

use std::collections::BTreeMap;

use indexmap::IndexMap;

/// The name of the theme that is built into the program.
pub const BUILT_IN: &str = "oilcloth";

/// A theme's files by path within it, with forward slashes.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Theme {
    /// What `publisher.yaml` calls it.
    pub name: String,
    /// The files. A word file may stand here once for each layer; see [`Theme::over`].
    pub files: BTreeMap<String, Vec<u8>>,
    /// Word files of the theme this one was laid over, nearest first.
    below: Vec<BTreeMap<String, Vec<u8>>>,
}

macro_rules! built_in {
    ($($path:literal),* $(,)?) => {
        &[$(($path, include_bytes!(concat!("../../themes/oilcloth/", $path)))),*]
    };
}

const FILES: &[(&str, &[u8])] = built_in![
    "look/face-bold.woff2",
    "look/face-licence.txt",
    "look/face.woff2",
    "look/find.js",
    "look/hand.js",
    "look/keep.js",
    "look/look.css",
    "sheets/about.html",
    "sheets/checked.html",
    "sheets/find.html",
    "sheets/frame.html",
    "sheets/front.html",
    "sheets/guide.html",
    "sheets/labels.html",
    "sheets/mistake.html",
    "sheets/pieces.html",
    "sheets/recall.html",
    "sheets/rule.html",
    "sheets/rules.html",
    "sheets/sources.html",
    "sheets/subject.html",
    "sheets/subjects.html",
    "sheets/trade-words.html",
    "words/en.terms.yaml",
    "words/en.yaml",
];

impl Theme {
    /// The theme that is built into the program.
    pub fn built_in() -> Theme {
        Theme {
            name: BUILT_IN.into(),
            files: FILES.iter().map(|(path, bytes)| ((*path).to_string(), bytes.to_vec())).collect(),
            below: Vec::new(),
        }
    }

    /// This theme with a club's own files laid over it: each file replaces the one of its path,
    /// except that word files are laid over string by string.
    pub fn over(mut self, name: impl Into<String>, files: BTreeMap<String, Vec<u8>>) -> Theme {
        let is_words = |path: &String| path.starts_with("words/");
        let words = self.files.iter().filter(|(path, _)| is_words(path)).map(|(p, b)| (p.clone(), b.clone())).collect();
        self.below.insert(0, words);
        self.files.extend(files);
        self.name = name.into();
        self
    }

    /// A file as text. `None` when there is no such file or it is not UTF-8.
    pub fn text(&self, path: &str) -> Option<&str> {
        self.files.get(path).and_then(|bytes| std::str::from_utf8(bytes).ok())
    }

    /// The languages that have a word file.
    pub fn languages(&self) -> Vec<String> {
        let names = self.files.keys().filter_map(|path| path.strip_prefix("words/")?.strip_suffix(".yaml"));
        names.filter(|name| !name.contains('.')).map(String::from).collect()
    }

    /// The words of a language: the theme's own, over those of the theme below, over English. With
    /// what is wrong with the files, a sentence each.
    pub fn words(&self, language: &str) -> (Words, Vec<String>) {
        let (strings, faults) = self.strings(&["en".to_string(), language.to_string()]);
        (Words { language: language.into(), strings: strings.into_iter().collect() }, faults)
    }

    /// Trade words and their meanings in a language; English where the language has no file of them.
    pub fn terms(&self, language: &str) -> (IndexMap<String, String>, Vec<String>) {
        let own = format!("{language}.terms");
        let has_own = self.layers().any(|layer| layer.contains_key(&format!("words/{own}.yaml")));
        self.strings(&[if has_own { own } else { "en.terms".into() }])
    }

    /// Every layer of files, the lowest first.
    fn layers(&self) -> impl Iterator<Item = &BTreeMap<String, Vec<u8>>> {
        self.below.iter().rev().chain(std::iter::once(&self.files))
    }

    /// The strings of some word files, each later one over those before. An empty string is none.
    fn strings(&self, names: &[String]) -> (IndexMap<String, String>, Vec<String>) {
        let mut faults = Vec::new();
        let mut strings = IndexMap::new();
        for name in names {
            let path = format!("words/{name}.yaml");
            for bytes in self.layers().filter_map(|layer| layer.get(&path)) {
                match serde_yaml::from_slice::<IndexMap<String, String>>(bytes) {
                    Ok(words) => strings.extend(words.into_iter().filter(|(_, text)| !text.trim().is_empty())),
                    Err(error) => faults.push(format!("`{path}` of the theme cannot be read: {error}")),
                }
            }
        }
        faults.dedup();
        (strings, faults)
    }
}

/// Every string of the site in one language.
#[derive(Clone, Debug, Default)]
pub struct Words {
    /// The language's tag, as `en`.
    pub language: String,
    strings: BTreeMap<String, String>,
}

impl Words {
    /// The string with this key. A key that no word file has shows as itself: a theme's slip must
    /// be seen, and must not stop a page.
    pub fn get<'a>(&'a self, key: &'a str) -> &'a str {
        self.strings.get(key).map_or(key, String::as_str)
    }

    /// The string with this key, or else `otherwise`: for what the program itself can say.
    pub fn or<'a>(&'a self, key: &str, otherwise: &'a str) -> &'a str {
        self.strings.get(key).map_or(otherwise, String::as_str)
    }

    /// The string with this key, its `{name}`s filled in.
    pub fn fill(&self, key: &str, with: &[(&str, &str)]) -> String {
        let mut text = self.get(key).to_string();
        for (name, value) in with {
            text = text.replace(&format!("{{{name}}}"), value);
        }
        text
    }

    /// All strings by key.
    pub fn all(&self) -> &BTreeMap<String, String> {
        &self.strings
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_club_changes_one_string_and_one_file_and_keeps_the_rest() {
        let built_in = Theme::built_in();
        let (plain, _) = built_in.words("en");
        let own = BTreeMap::from([
            ("words/en.yaml".to_string(), b"cautions: Mind yourself\n".to_vec()),
            ("look/look.css".to_string(), b"body{}".to_vec()),
        ]);
        let theme = built_in.clone().over("club", own);
        let (words, faults) = theme.words("en");
        assert!(faults.is_empty());
        assert_eq!(words.get("cautions"), "Mind yourself");
        assert_eq!(words.get("parts_list"), plain.get("parts_list"));
        assert_eq!(theme.text("look/look.css"), Some("body{}"));
        assert_eq!(theme.files["sheets/guide.html"], built_in.files["sheets/guide.html"]);
    }

    #[test]
    fn a_broken_word_file_is_named() {
        let own = BTreeMap::from([("words/en.yaml".to_string(), b"cautions: [a\n".to_vec())]);
        let (words, faults) = Theme::built_in().over("club", own).words("en");
        assert!(faults[0].contains("words/en.yaml"));
        assert_ne!(words.get("cautions"), "cautions", "the built-in string still stands");
    }
}
