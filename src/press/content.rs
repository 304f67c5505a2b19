//! Reading the content folder.
//!
//! Every guide is the single Markdown file in its own folder, with its photos; `publisher.yaml`
//! stands at the top; `as-is/` is copied unchanged. Anything that is not so is a [`Finding`], so
//! that one bad file never hides the others. Names that start with a dot are left alone, except
//! in `as-is/`.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::Read as _;
use std::path::{Path, PathBuf};

use walkdir::WalkDir;

use super::error::{PressError, plain_cause};
use crate::finding::{Finding, Place, Severity};
use crate::source::{SourceFile, Span};

/// The publisher's file, at the top of the content folder.
pub const PUBLISHER: &str = "publisher.yaml";
/// The folder whose files are copied to the site unchanged.
pub const AS_IS: &str = "as-is";
/// A text file longer than this is no guide. The longest real guide we can think of is a tenth of it.
const LONGEST_TEXT: u64 = 4 * 1024 * 1024;

/// What the content folder holds. Everything is ordered by path.
#[derive(Clone, Debug, Default)]
pub struct Content {
    /// `publisher.yaml`, if there is one.
    pub publisher: Option<SourceFile>,
    /// Guides, by slug.
    pub guides: Vec<GuideFolder>,
    /// Files to copy unchanged: address on the site, file on disk.
    pub as_is: BTreeMap<String, PathBuf>,
    /// What could not be read or has no place.
    pub findings: Vec<Finding>,
    /// Texts that could be read only in part: enough to show a finding's line.
    pub spoilt: Vec<SourceFile>,
}

/// One guide's folder.
#[derive(Clone, Debug)]
pub struct GuideFolder {
    /// The folder's name: the guide's address on the site.
    pub slug: String,
    /// The guide's file.
    pub file: SourceFile,
    /// Photos and other files, by their path within the guide's folder.
    pub others: BTreeMap<String, PathBuf>,
}

/// Reads a content folder.
///
/// Fails only when the folder itself cannot be opened; whatever is wrong inside it is a finding.
pub fn read(from: &Path) -> Result<Content, PressError> {
    let root = fs::canonicalize(from).map_err(|e| PressError::io("read", from, e))?;
    if !root.is_dir() {
        return Err(PressError::refused("read", from, "it is no folder"));
    }
    fs::read_dir(&root).map_err(|e| PressError::io("read", from, e))?;
    let mut reader = Reader { shown_root: shown(from), root, content: Content::default() };
    let files = reader.walk();
    reader.sort_out(files);
    let no_publisher = reader.content.publisher.is_none();
    if no_publisher && !reader.content.findings.iter().any(|f| f.place.file.ends_with(PUBLISHER)) {
        let path = reader.shown(&[PUBLISHER.to_owned()]);
        let message = format!("{path} is not there: nobody is named as the publisher of these guides");
        let advice = ["Make the file, with one line to begin with: `name: ` and the name of your club.".to_owned()];
        reader.find("no-publisher", Severity::Unreadable, path, message, &advice);
    }
    let content = &mut reader.content;
    content.guides.sort_by(|a, b| a.slug.cmp(&b.slug).then_with(|| a.file.path.cmp(&b.file.path)));
    content.findings.sort_by(|a, b| a.place.file.cmp(&b.place.file).then(a.place.span.cmp(&b.place.span)));
    Ok(reader.content)
}

/// A path with forward slashes, as it is shown to people.
fn shown(path: &Path) -> String {
    path.components().map(|c| c.as_os_str().to_string_lossy()).collect::<Vec<_>>().join("/").replace("//", "/")
}

/// A file below the content folder: its path's names, and where it is on disk.
struct Found {
    names: Vec<String>,
    path: PathBuf,
}

impl Found {
    fn name(&self) -> &str {
        self.names.last().map_or("", String::as_str)
    }
    fn folder(&self) -> &[String] {
        &self.names[..self.names.len().saturating_sub(1)]
    }
    fn is_markdown(&self) -> bool {
        Path::new(self.name()).extension().is_some_and(|e| e.eq_ignore_ascii_case("md"))
    }
}

struct Reader {
    shown_root: String,
    root: PathBuf,
    content: Content,
}

impl Reader {
    fn shown(&self, names: &[String]) -> String {
        std::iter::once(self.shown_root.as_str()).chain(names.iter().map(String::as_str)).collect::<Vec<_>>().join("/")
    }

    fn find(&mut self, rule: &'static str, severity: Severity, file: String, message: String, advice: &[String]) {
        self.find_at(rule, severity, Place { file: file.into(), span: Span::default() }, message, advice);
    }

    fn find_at(&mut self, rule: &'static str, severity: Severity, place: Place, message: String, advice: &[String]) {
        self.content.findings.push(Finding {
            rule,
            severity,
            place,
            subject: String::new(),
            message,
            value: None,
            limit: None,
            advice: advice.to_vec(),
            sources: Vec::new(),
            answer: None,
        });
    }

    /// Every regular file below the root that may be read, in order of path.
    fn walk(&mut self) -> Vec<Found> {
        let mut files = Vec::new();
        let mut entries = WalkDir::new(&self.root).min_depth(1).sort_by_file_name().into_iter();
        while let Some(entry) = entries.next() {
            let entry = match entry {
                Ok(entry) => entry,
                Err(error) => {
                    let path = error.path().unwrap_or(&self.root).to_owned();
                    let names = self.names(&path).0;
                    let file = self.shown(&names);
                    let cause = error.io_error().map_or_else(|| error.to_string(), plain_cause);
                    self.find(
                        "cannot-read",
                        Severity::Unreadable,
                        file.clone(),
                        format!("{file} could not be read: {cause}"),
                        &[],
                    );
                    continue;
                }
            };
            let (names, is_text) = self.names(entry.path());
            let file = self.shown(&names);
            let in_as_is = names.first().is_some_and(|n| n == AS_IS);
            if !in_as_is && names.last().is_some_and(|n| n.starts_with('.')) {
                if entry.file_type().is_dir() {
                    entries.skip_current_dir();
                }
                continue;
            }
            if !is_text {
                self.find(
                    "file-name",
                    Severity::Unreadable,
                    file.clone(),
                    format!("the name of {file} holds bytes that are no letters"),
                    &["Rename it with plain letters, digits and hyphens.".into()],
                );
                if entry.file_type().is_dir() {
                    entries.skip_current_dir();
                }
                continue;
            }
            if entry.file_type().is_dir() {
                continue;
            }
            if entry.file_type().is_symlink() && !self.link_stays_inside(entry.path(), &file) {
                continue;
            }
            // A pipe or a device would keep us waiting for ever.
            match fs::metadata(entry.path()) {
                Ok(meta) if meta.is_file() => files.push(Found { names, path: entry.path().to_owned() }),
                Ok(_) => self.find(
                    "cannot-read",
                    Severity::Unreadable,
                    file.clone(),
                    format!("{file} is no ordinary file"),
                    &["Put the file itself here.".into()],
                ),
                Err(error) => {
                    let message = format!("{file} could not be read: {}", plain_cause(&error));
                    self.find("cannot-read", Severity::Unreadable, file, message, &[]);
                }
            }
        }
        files
    }

    /// The names below the root, and whether all of them were text.
    fn names(&self, path: &Path) -> (Vec<String>, bool) {
        let below = path.strip_prefix(&self.root).unwrap_or(path);
        let is_text = below.to_str().is_some();
        (below.components().map(|c| c.as_os_str().to_string_lossy().into_owned()).collect(), is_text)
    }

    /// Whether a link may be followed: to a file that lies in the content folder itself.
    fn link_stays_inside(&mut self, link: &Path, file: &str) -> bool {
        let advice = ["Put a copy of the file here in place of the link.".to_owned()];
        let why = match fs::canonicalize(link) {
            Err(error) => format!("{file} is a link that leads nowhere: {}", plain_cause(&error)),
            Ok(target) if !target.starts_with(&self.root) => {
                format!("{file} is a link to {}, outside the content folder", target.display())
            }
            Ok(target) if target.is_dir() => format!("{file} is a link to a folder"),
            Ok(_) => return true,
        };
        self.find("link-leaves-folder", Severity::Unreadable, file.to_owned(), why, &advice);
        false
    }

    /// Gives every file its place: publisher, as-is, guide, a guide's photo, or a finding.
    fn sort_out(&mut self, files: Vec<Found>) {
        let (as_is, files): (Vec<_>, Vec<_>) =
            files.into_iter().partition(|f| f.names.len() > 1 && f.names[0] == AS_IS);
        self.content.as_is = as_is.into_iter().map(|f| (f.names[1..].join("/"), f.path)).collect();

        let mut texts: BTreeMap<Vec<String>, Vec<Found>> = BTreeMap::new();
        let mut rest = Vec::new();
        for file in files {
            if file.names.len() == 1 && file.names[0] == PUBLISHER {
                self.content.publisher = self.text(&file);
            } else if file.is_markdown() {
                texts.entry(file.folder().to_vec()).or_default().push(file);
            } else {
                rest.push(file);
            }
        }
        if let Some(loose) = texts.remove(&[] as &[String]) {
            for file in loose {
                let stem = file.name().rsplit_once('.').map_or(file.name(), |(stem, _)| stem);
                let home = self.shown(&[address_of(stem), file.name().to_owned()]);
                let path = self.shown(&file.names);
                let message = format!("{path} lies outside any guide's folder");
                let advice = [format!("Give the guide a folder of its own: move the file to {home}.")];
                self.find("guide-without-folder", Severity::Unreadable, path, message, &advice);
            }
        }
        let folders: BTreeSet<Vec<String>> = texts.keys().cloned().collect();
        let mut others = self.photos(&folders, rest);
        for (folder, mut found) in texts {
            if let Some(outer) = (1..folder.len()).map(|n| &folder[..n]).find(|outer| folders.contains(*outer)) {
                for file in &found {
                    let path = self.shown(&file.names);
                    let message = format!("{path} lies inside another guide's folder, {}", self.shown(outer));
                    let advice = ["Move it to a folder of its own beside that one.".to_owned()];
                    self.find("guide-inside-guide", Severity::Unreadable, path, message, &advice);
                }
                continue;
            }
            let folder_name = folder.last().cloned().unwrap_or_default();
            // The guide is the file named like its folder, or else the first: enough to report on.
            let named = found.iter().position(|f| f.name().strip_suffix(".md") == Some(folder_name.as_str()));
            let guide = found.remove(named.unwrap_or(0));
            for extra in &found {
                let path = self.shown(&extra.names);
                let message =
                    format!("{path} is a second guide in one folder; {} was taken for the guide", guide.name());
                let advice =
                    ["Give each guide a folder of its own, or end the name of a text that is no guide in .txt."
                        .to_owned()];
                self.find("two-guides-one-folder", Severity::Unreadable, path, message, &advice);
            }
            let address = address_of(&folder_name);
            if address != folder_name {
                let path = self.shown(&guide.names);
                let message =
                    format!("the folder's name, \"{folder_name}\", would be the page's address, and cannot be");
                let advice = [format!("Name the folder with small letters, digits and hyphens: {address}.")];
                self.find("folder-name", Severity::Unreadable, path, message, &advice);
            }
            if let Some(file) = self.text(&guide) {
                let others = others.remove(&folder).unwrap_or_default();
                self.content.guides.push(GuideFolder { slug: address, file, others });
            }
        }
    }

    /// Hands every file that is no text to the guide whose folder it lies in.
    fn photos(
        &mut self,
        folders: &BTreeSet<Vec<String>>,
        rest: Vec<Found>,
    ) -> BTreeMap<Vec<String>, BTreeMap<String, PathBuf>> {
        let mut photos: BTreeMap<Vec<String>, BTreeMap<String, PathBuf>> = BTreeMap::new();
        for file in rest {
            let home = (1..file.names.len()).map(|n| &file.names[..n]).find(|folder| folders.contains(*folder));
            if let Some(home) = home {
                let name = file.names[home.len()..].join("/");
                photos.entry(home.to_vec()).or_default().insert(name, file.path);
                continue;
            }
            let path = self.shown(&file.names);
            let message = format!("{path} belongs to no guide and is not published");
            let advice = if file.names.len() == 1 && matches!(file.name(), "publisher.yml" | "publisher.YAML") {
                format!("If this is the club's own file, name it {PUBLISHER}.")
            } else {
                format!(
                    "Move it to the folder of the guide that shows it, or to {}/{AS_IS} to copy it unchanged.",
                    self.shown_root
                )
            };
            self.find("stray-file", Severity::Note, path, message, &[advice]);
        }
        photos
    }

    /// A file's text. A byte order mark stays: taking it off is the reader's business, who counts positions.
    fn text(&mut self, found: &Found) -> Option<SourceFile> {
        let path = self.shown(&found.names);
        let bytes = match read_bounded(&found.path) {
            Ok(bytes) => bytes,
            Err(error) => {
                let message = format!("{path} could not be read: {}", plain_cause(&error));
                self.find("cannot-read", Severity::Unreadable, path, message, &[]);
                return None;
            }
        };
        if bytes.len() as u64 > LONGEST_TEXT {
            let message = format!("{path} is longer than {} MiB, too long for a guide", LONGEST_TEXT / (1024 * 1024));
            self.find("cannot-read", Severity::Unreadable, path, message, &[]);
            return None;
        }
        let error = match String::from_utf8(bytes) {
            Ok(text) => return Some(SourceFile::new(path, text)),
            Err(error) => error,
        };
        let from = error.utf8_error().valid_up_to();
        let bytes = error.as_bytes();
        let kind = match bytes {
            [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..] => "it was saved as UTF-16",
            _ => "it holds a byte that is no letter in UTF-8",
        };
        let spoilt = SourceFile::new(path.as_str(), String::from_utf8_lossy(bytes));
        // Up to the first bad byte the lossy text is the same, so its offset is good.
        let place = Place { file: spoilt.path.clone(), span: Span::new(from, from) };
        self.content.spoilt.push(spoilt);
        let message = format!("{path} could not be read as text: {kind}");
        let advice = ["In your editor, choose \"save as\" and the encoding UTF-8.".to_owned()];
        self.find_at("not-text", Severity::Unreadable, place, message, &advice);
        None
    }
}

/// Reads one text file outside a content folder's order, under the path by which it was asked for.
pub fn read_text(path: &Path) -> Result<SourceFile, PressError> {
    let failed = |e| PressError::io("read", path, e);
    if !fs::metadata(path).map_err(failed)?.is_file() {
        return Err(PressError::refused("read", path, "it is no file"));
    }
    let bytes = read_bounded(path).map_err(failed)?;
    if bytes.len() as u64 > LONGEST_TEXT {
        return Err(PressError::refused("read", path, "it is too long for a guide"));
    }
    let text = String::from_utf8(bytes).map_err(|_| PressError::refused("read", path, "it is no text in UTF-8"))?;
    Ok(SourceFile::new(shown(path), text))
}

/// Reads a file, but never much more than a guide can be.
fn read_bounded(path: &Path) -> std::io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    fs::File::open(path)?.take(LONGEST_TEXT + 1).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// A name as it can stand in a page's address: small letters a to z, digits and single hyphens.
pub fn address_of(name: &str) -> String {
    let mut address = String::new();
    for c in name.chars() {
        match c {
            'a'..='z' | '0'..='9' => address.push(c),
            'A'..='Z' => address.push(c.to_ascii_lowercase()),
            _ if !address.is_empty() && !address.ends_with('-') => address.push('-'),
            _ => {}
        }
    }
    let address = address.trim_end_matches('-');
    if address.is_empty() { "guide".into() } else { address.into() }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(files: &[(&str, &[u8])]) -> tempfile::TempDir {
        let root = tempfile::tempdir().unwrap();
        fs::write(root.path().join(PUBLISHER), "name: Club").unwrap();
        for (path, bytes) in files {
            let path = root.path().join(path);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, bytes).unwrap();
        }
        root
    }

    fn slugs(content: &Content) -> Vec<&str> {
        content.guides.iter().map(|g| g.slug.as_str()).collect()
    }

    fn rules(content: &Content) -> Vec<&str> {
        content.findings.iter().map(|f| f.rule).collect()
    }

    #[test]
    fn finds_guides_photos_and_files_to_copy() {
        let root = folder(&[
            ("publisher.yaml", b"name: Club"),
            ("van/guide.md", b"van"),
            ("van/photos/post.jpg", b"jpg"),
            ("boats/skiff/skiff.md", b"skiff"),
            ("as-is/.nojekyll", b""),
            ("as-is/club/badge.svg", b"<svg/>"),
            (".hidden/x.md", b"left alone"),
            ("van/.DS_Store", b"left alone"),
        ]);
        let content = read(root.path()).unwrap();
        assert_eq!(rules(&content), [] as [&str; 0]);
        assert_eq!(slugs(&content), ["skiff", "van"]);
        assert_eq!(content.guides[1].others.keys().collect::<Vec<_>>(), ["photos/post.jpg"]);
        assert_eq!(content.as_is.keys().collect::<Vec<_>>(), [".nojekyll", "club/badge.svg"]);
        assert_eq!(&*content.publisher.unwrap().text, "name: Club");
    }

    #[test]
    fn one_bad_file_hides_no_other() {
        let root = folder(&[
            ("a/a.md", b"good"),
            ("b/b.md", b"line one\nbad \xff byte"),
            ("c/c.md", b"\xff\xfet\0e\0x\0t\0"),
            ("d/d.md", b"good"),
        ]);
        let content = read(root.path()).unwrap();
        assert_eq!(slugs(&content), ["a", "d"]);
        assert_eq!(rules(&content), ["not-text", "not-text"]);
        let bad = &content.findings[0];
        let at = content.spoilt[0].line_column(bad.place.span.start);
        assert_eq!((at.line, at.column), (2, 5));
        assert!(content.findings[1].message.contains("UTF-16"));
    }

    #[test]
    fn a_guide_has_a_folder_of_its_own() {
        let root = folder(&[
            ("loose.md", b"x"),
            ("two/one.md", b"x"),
            ("two/two.md", b"x"),
            ("two/inner/inner.md", b"x"),
            ("My Van/guide.md", b"x"),
            ("photo.jpg", b"x"),
        ]);
        let content = read(root.path()).unwrap();
        assert_eq!(slugs(&content), ["my-van", "two"]);
        assert!(content.guides[1].file.path.ends_with("two/two.md"));
        let mut found = rules(&content);
        found.sort_unstable();
        assert_eq!(
            found,
            ["folder-name", "guide-inside-guide", "guide-without-folder", "stray-file", "two-guides-one-folder"]
        );
        let moved = content.findings.iter().find(|f| f.rule == "guide-without-folder").unwrap();
        assert!(moved.advice[0].ends_with("/loose/loose.md."), "{}", moved.advice[0]);
    }

    #[cfg(unix)]
    #[test]
    fn links_may_not_leave_the_folder() {
        use std::os::unix::fs::symlink;
        let outside = folder(&[("secret.md", b"secret"), ("photos/p.jpg", b"x")]);
        let root = folder(&[("a/a.md", b"x"), ("a/p.jpg", b"x")]);
        let at = |name: &str| root.path().join(name);
        fs::create_dir(at("b")).unwrap();
        symlink(outside.path().join("secret.md"), at("b/b.md")).unwrap();
        symlink(outside.path().join("photos"), at("a/photos")).unwrap();
        symlink("nowhere", at("a/lost.jpg")).unwrap();
        symlink("p.jpg", at("a/same.jpg")).unwrap();
        symlink(".", at("a/round")).unwrap();
        let content = read(root.path()).unwrap();
        assert_eq!(slugs(&content), ["a"]);
        assert_eq!(content.guides[0].others.keys().collect::<Vec<_>>(), ["p.jpg", "same.jpg"]);
        assert_eq!(rules(&content), ["link-leaves-folder"; 4]);
    }

    #[cfg(unix)]
    #[test]
    fn a_pipe_is_refused_and_not_waited_for() {
        let root = folder(&[("a/a.md", b"x"), ("b/x.jpg", b"x")]);
        let pipe = root.path().join("b/b.md");
        let made = std::process::Command::new("mkfifo").arg(&pipe).status().unwrap();
        assert!(made.success());
        let content = read(root.path()).unwrap();
        assert_eq!(slugs(&content), ["a"]);
        assert!(rules(&content).contains(&"cannot-read"));
    }

    #[test]
    fn a_missing_folder_is_an_error_that_names_it() {
        let error = read(Path::new("no/such/content")).unwrap_err();
        assert_eq!(error.to_string(), "could not read no/such/content: there is no such file or folder");
    }

    #[test]
    fn a_text_too_long_for_a_guide_is_a_finding() {
        let root = folder(&[("a/a.md", &vec![b'x'; LONGEST_TEXT as usize + 1])]);
        assert_eq!(rules(&read(root.path()).unwrap()), ["cannot-read"]);
    }

    #[test]
    fn a_missing_publisher_is_a_finding() {
        let root = folder(&[("a/a.md", b"x"), ("publisher.yml", b"name: x")]);
        fs::remove_file(root.path().join(PUBLISHER)).unwrap();
        let content = read(root.path()).unwrap();
        assert_eq!(rules(&content), ["no-publisher", "stray-file"]);
        assert!(content.findings[1].advice[0].contains("publisher.yaml"));
    }

    #[test]
    fn addresses_are_plain() {
        assert_eq!(address_of("Käfer & Van 2"), "k-fer-van-2");
        assert_eq!(address_of("--x--"), "x");
        assert_eq!(address_of("電"), "guide");
    }
}
