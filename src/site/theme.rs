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
    "look/mark.svg",
    "sheets/about.html",
    "sheets/checked.html",
    "sheets/find.html",
    "sheets/frame.html",
    "sheets/front.html",
    "sheets/guide.html",
    "sheets/labels.html",
    "sheets/picture.html",
    "sheets/mistake.html",
    "sheets/pieces.html",
    "sheets/recall.html",
    "sheets/rule.html",
    "sheets/rules.html",
    "sheets/sources.html",
    "sheets/subject.html",
    "sheets/subjects.html",
    "sheets/trade-words.html",
    "words/de.terms.yaml",
    "words/de.yaml",
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
        let (strings, mut faults) = self.strings(&["en".to_string(), language.to_string()]);
        if !self.layers().any(|layer| layer.contains_key(&format!("words/{language}.yaml"))) {
            let there = self.languages().join("`, `");
            faults.push(format!("the theme has no words in the language `{language}`: it has `{there}`"));
        }
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

    /// The keys of a built-in word file.
    fn keys(file: &str) -> std::collections::BTreeSet<String> {
        let theme = Theme::built_in();
        let words: IndexMap<String, String> = serde_yaml::from_str(theme.text(file).unwrap()).unwrap();
        words.into_keys().collect()
    }

    #[test]
    fn the_second_language_says_everything_that_the_first_says() {
        let (english, german) = (keys("words/en.yaml"), keys("words/de.yaml"));
        let missing: Vec<_> = english.difference(&german).collect();
        assert!(missing.is_empty(), "not in German: {missing:?}");
        for id in crate::cautions::IDS {
            for part in ["hazard", "consequence", "avoidance", "reminder", "short"] {
                assert!(german.contains(&format!("caution-{id}-{part}")), "{id} {part}");
            }
        }
        for thing in crate::cautions::UNSEEN {
            assert!(german.contains(thing.id), "{}", thing.id);
        }
        // Whatever is filled into a string must be filled in in both languages.
        let theme = Theme::built_in();
        let (english_words, german_words) = (theme.words("en").0, theme.words("de").0);
        let holes = |text: &str| -> std::collections::BTreeSet<String> {
            text.split('{').skip(1).filter_map(|rest| rest.split_once('}').map(|(hole, _)| hole.to_string())).collect()
        };
        for key in &english {
            assert_eq!(holes(english_words.get(key)), holes(german_words.get(key)), "{key}");
        }
    }

    #[test]
    fn every_string_that_a_sheet_asks_for_is_there_and_none_is_idle() {
        let theme = Theme::built_in();
        let mut asked = std::collections::BTreeSet::new();
        for path in theme.files.keys().filter(|path| path.starts_with("sheets/")) {
            let sheet = theme.text(path).unwrap();
            for (at, _) in sheet.match_indices("t.") {
                // `t` itself, not the end of another word.
                if sheet[..at].ends_with(|c: char| c.is_ascii_alphanumeric() || c == '_' || c == '.') {
                    continue;
                }
                let key: String =
                    sheet[at + 2..].chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '_').collect();
                asked.insert(key);
            }
        }
        let there = keys("words/en.yaml");
        let lacking: Vec<_> =
            asked.iter().filter(|key| !there.contains(*key) && key.contains('_') && !key.is_empty()).collect();
        assert!(lacking.is_empty(), "no words for {lacking:?}");
        // Keys that the program puts together from a word of front matter or of a rule.
        let made = [
            "kind_",
            "chemistry_",
            "vehicle_",
            "body_",
            "drive_",
            "certainty_",
            "outcome_",
            "signal_",
            "terminal_",
            "charger_",
            "family_",
            "before_",
            "power_",
            "later_",
        ];
        let code = [
            include_str!("around.rs"),
            include_str!("beside.rs"),
            include_str!("guide_sheet.rs"),
            include_str!("lists.rs"),
            include_str!("numbers.rs"),
            include_str!("prove.rs"),
            include_str!("sheets.rs"),
        ]
        .concat();
        let idle: Vec<_> = there
            .iter()
            .filter(|key| !asked.contains(*key) && !code.contains(&format!("\"{key}\"")))
            .filter(|key| !made.iter().any(|start| key.starts_with(start)))
            .collect();
        assert!(idle.is_empty(), "nobody asks for {idle:?}");
    }

    #[test]
    fn a_language_without_words_is_told_of() {
        let (words, faults) = Theme::built_in().words("fr");
        assert!(faults[0].contains("`fr`") && faults[0].contains("`de`"), "{faults:?}");
        assert_ne!(words.get("cautions"), "cautions", "English stands in");
    }

    #[test]
    fn a_broken_word_file_is_named() {
        let own = BTreeMap::from([("words/en.yaml".to_string(), b"cautions: [a\n".to_vec())]);
        let (words, faults) = Theme::built_in().over("club", own).words("en");
        assert!(faults[0].contains("words/en.yaml"));
        assert_ne!(words.get("cautions"), "cautions", "the built-in string still stands");
    }
}
