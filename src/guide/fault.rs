//! Faults of reading: findings that say why something in a file could not be taken as written.
//!
//! Each has an id from [`ALL`]; every one of them is [`Severity::Unreadable`], since what cannot be
//! read cannot be judged.

use crate::finding::{Finding, Place, Severity};
use crate::source::{SourceFile, Span};

/// Every fault of reading: its id and what it means, in the order in which they are listed.
pub const ALL: &[(&str, &str)] = &[
    (NO_FRONT_MATTER, "The file has no front matter between two lines `---`, or the second line is missing."),
    (YAML_SYNTAX, "The front matter is not valid YAML, or uses a part of YAML that guides do without."),
    (DUPLICATE_KEY, "One key stands twice in the same mapping."),
    (UNKNOWN_KEY, "A key that nothing reads."),
    (MISSING_KEY, "A key that is needed is not there."),
    (WRONG_SHAPE, "A mapping, a list or a single value where another of the three was expected."),
    (BAD_VALUE, "A value that cannot be read as what its key takes."),
    (BAD_NAME, "A name that the author chose and that cannot be used as one."),
    (UNKNOWN_NAME, "The name of a part, run, zone, state, value or drawing that the guide does not have."),
    (DISAGREEMENT, "Two values of the guide that say the same thing differently."),
    (DRAWING_PLACE, "A drawing that does not stand alone in its paragraph."),
    (PHOTO_TEXT, "A photo without words for those who cannot see it."),
    (LINK_KIND, "A link of a kind that a guide may not have."),
    (OUTSIDE_FOLDER, "A reference to a file outside the guide's own folder."),
];

/// No front matter, or no end to it.
pub const NO_FRONT_MATTER: &str = "no-front-matter";
/// Not valid YAML, or YAML that guides do without.
pub const YAML_SYNTAX: &str = "yaml-syntax";
/// One key twice.
pub const DUPLICATE_KEY: &str = "duplicate-key";
/// A key that nothing reads.
pub const UNKNOWN_KEY: &str = "unknown-key";
/// A needed key that is not there.
pub const MISSING_KEY: &str = "missing-key";
/// A mapping for a value, and the like.
pub const WRONG_SHAPE: &str = "wrong-shape";
/// A value that cannot be read.
pub const BAD_VALUE: &str = "bad-value";
/// A name that cannot be used.
pub const BAD_NAME: &str = "bad-name";
/// A name of nothing.
pub const UNKNOWN_NAME: &str = "unknown-name";
/// Two values that should agree.
pub const DISAGREEMENT: &str = "disagreement";
/// A drawing inside a sentence.
pub const DRAWING_PLACE: &str = "drawing-place";
/// A photo without alternative text.
pub const PHOTO_TEXT: &str = "photo-text";
/// A link that may not be.
pub const LINK_KIND: &str = "link-kind";
/// A file that is not the guide's.
pub const OUTSIDE_FOLDER: &str = "outside-folder";

/// Collects the faults of one file.
#[derive(Debug)]
pub struct Faults<'a> {
    file: &'a SourceFile,
    /// What was found so far.
    pub found: Vec<Finding>,
    /// Top-level keys that are there and could not be read, so that nobody reports them as missing.
    pub lost: Vec<String>,
}

impl<'a> Faults<'a> {
    /// None found yet in `file`.
    pub fn of(file: &'a SourceFile) -> Faults<'a> {
        Faults { file, found: Vec::new(), lost: Vec::new() }
    }

    /// The file.
    pub fn file(&self) -> &'a SourceFile {
        self.file
    }

    /// Adds one: what is wrong, and what to change.
    pub fn add(
        &mut self,
        rule: &'static str,
        at: Span,
        subject: &str,
        message: impl Into<String>,
        advice: impl Into<String>,
    ) {
        let advice: String = advice.into();
        self.found.push(Finding {
            rule,
            severity: Severity::Unreadable,
            place: Place { file: self.file.path.clone(), span: at },
            subject: subject.to_owned(),
            message: message.into(),
            value: None,
            limit: None,
            advice: if advice.is_empty() { Vec::new() } else { vec![advice] },
            sources: Vec::new(),
            answer: None,
        });
    }
}

/// The known name nearest to `name`, when it is near enough to be what was meant.
pub fn nearest<'n>(name: &str, known: impl IntoIterator<Item = &'n str>) -> Option<&'n str> {
    // Nobody misspells a page; comparing one with another would take for ever.
    const LONGEST: usize = 64;
    if name.chars().take(LONGEST + 1).count() > LONGEST {
        return None;
    }
    let written = name.to_lowercase().replace(['_', ' '], "-");
    // A third of the letters may be wrong: `brekaer` is a breaker, `pump` is no `post`.
    let reach = (written.chars().count().max(3) / 3).min(4);
    known
        .into_iter()
        .filter(|known| known.len() <= 4 * LONGEST)
        .map(|known| (strsim::damerau_levenshtein(&written, &known.to_lowercase()), known))
        .filter(|(distance, _)| *distance <= reach)
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, known)| known)
}

/// "`a`, `b` or `c`".
pub fn one_of<'n>(words: impl IntoIterator<Item = &'n str>) -> String {
    let words: Vec<String> = words.into_iter().map(|w| format!("`{w}`")).collect();
    match words.split_last() {
        None => String::new(),
        Some((last, [])) => last.clone(),
        Some((last, rest)) => format!("{} or {last}", rest.join(", ")),
    }
}
