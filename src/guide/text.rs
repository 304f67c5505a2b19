//! The Markdown below the front matter: steps, and what ties them to the circuit.
//!
//! Knows no pages: it finds steps, links, values, drawings and photos with their places, and leaves
//! making HTML to the site, which reads the same Markdown with the same [`options`].

use std::ops::Range;

use pulldown_cmark::{Event, LinkType, Options, Parser, Tag, TagEnd};

use super::check::{Names, capital, unknown_name};
use super::fault::{
    BAD_VALUE, DRAWING_PLACE, Faults, LINK_KIND, OUTSIDE_FOLDER, PHOTO_TEXT, UNKNOWN_NAME, nearest, one_of,
};
use super::keys::Named;
use super::{Block, DRAWINGS, DrawingPlace, Guide, Link, Photo, Step, Target, Text};
use crate::source::{Placed, SourceFile, Span};

/// Which Markdown guides are written in: CommonMark with tables. Smart punctuation stays off, since it spoils `12"`.
pub fn options() -> Options {
    Options::ENABLE_TABLES
}

/// Reads the text at `span`. Names are held against those of the front matter; values only when all of it could be read.
pub(super) fn read(
    file: &SourceFile,
    span: Span,
    slug: &str,
    names: &Names,
    guide: Option<&Guide>,
    faults: &mut Faults<'_>,
) -> Text {
    let markdown = file.at(span);
    let mut reading = Reading {
        markdown,
        base: span.start,
        slug,
        names,
        guide,
        faults,
        text: Text { at: span, ..Text::default() },
        step: None,
        depth: 0,
        step_list: false,
        prose_from: 0,
        open: Vec::new(),
        paragraph: None,
        taken: Vec::new(),
    };
    for (event, range) in Parser::new_ext(markdown, options()).into_offset_iter() {
        reading.event(event, range);
    }
    reading.prose(markdown.len());
    reading.left_over();
    reading.hidden();
    reading.text
}

/// A link or an image that is being read.
struct Open {
    range: Range<usize>,
    kind: LinkType,
    address: String,
    image: bool,
    /// The words between its brackets.
    words: String,
}

/// A paragraph that is being read.
struct Paragraph {
    /// How deep its own events lie.
    depth: usize,
    /// How many inline things it has.
    things: usize,
    /// Drawings in it.
    drawings: Vec<Span>,
}

struct Reading<'a, 'f, 's> {
    markdown: &'a str,
    base: usize,
    slug: &'a str,
    names: &'a Names,
    guide: Option<&'a Guide>,
    faults: &'f mut Faults<'s>,
    text: Text,
    step: Option<Step>,
    depth: usize,
    /// Whether the list at depth 1 is one of steps.
    step_list: bool,
    prose_from: usize,
    open: Vec<Open>,
    paragraph: Option<Paragraph>,
    /// Stretches that were understood, or that are code and mean nothing.
    taken: Vec<Range<usize>>,
}

impl Reading<'_, '_, '_> {
    fn span(&self, range: &Range<usize>) -> Span {
        Span::new(self.base + range.start, self.base + range.end)
    }

    fn event(&mut self, event: Event<'_>, range: Range<usize>) {
        if let Some(paragraph) = &mut self.paragraph
            && self.depth == paragraph.depth
            && !matches!(event, Event::End(_))
        {
            paragraph.things += 1;
        }
        match event {
            Event::Start(tag) => {
                self.start(tag, range);
                self.depth += 1;
            }
            Event::End(tag) => {
                self.depth -= 1;
                self.end(tag, range);
            }
            Event::Text(words) => self.words(&words, range),
            Event::Code(words) => {
                self.taken.push(range.clone());
                self.words(&words, range);
            }
            Event::SoftBreak => self.gap(" "),
            Event::HardBreak => self.gap("\n"),
            Event::InlineHtml(html) if html.starts_with("<!--") => self.taken.push(range),
            Event::Html(_)
            | Event::InlineHtml(_)
            | Event::InlineMath(_)
            | Event::DisplayMath(_)
            | Event::FootnoteReference(_)
            | Event::Rule
            | Event::TaskListMarker(_) => {}
        }
    }

    fn start(&mut self, tag: Tag<'_>, range: Range<usize>) {
        match tag {
            Tag::List(first) if self.depth == 0 => {
                self.step_list = first.is_some();
                if self.step_list {
                    self.prose(range.start);
                }
            }
            Tag::Item if self.depth == 1 && self.step_list => {
                let number = self.text.steps().count() + 1;
                let start = self.base + after_marker(self.markdown, &range);
                self.step = Some(Step {
                    number,
                    at: Span::new(start, start),
                    words: String::new(),
                    pieces: Vec::new(),
                    links: Vec::new(),
                });
            }
            Tag::Paragraph => {
                self.paragraph = Some(Paragraph { depth: self.depth + 1, things: 0, drawings: Vec::new() });
            }
            Tag::CodeBlock(_) => self.taken.push(range),
            // Nobody sees what is in a comment.
            Tag::HtmlBlock if self.markdown[range.clone()].starts_with("<!--") => self.taken.push(range),
            Tag::Link { link_type, dest_url, .. } => self.open.push(Open {
                range,
                kind: link_type,
                address: dest_url.into_string(),
                image: false,
                words: String::new(),
            }),
            Tag::Image { link_type, dest_url, .. } => self.open.push(Open {
                range,
                kind: link_type,
                address: dest_url.into_string(),
                image: true,
                words: String::new(),
            }),
            _ => {}
        }
    }

    fn end(&mut self, tag: TagEnd, range: Range<usize>) {
        match tag {
            TagEnd::List(_) if self.depth == 0 => {
                if self.step_list {
                    self.prose_from = range.end;
                }
                self.step_list = false;
            }
            TagEnd::Item if self.depth == 1 => {
                if let Some(mut step) = self.step.take() {
                    let end = self.base + range.start + self.markdown[range].trim_end().len();
                    step.at.end = end.max(step.at.start);
                    step.words = step.words.trim().to_owned();
                    self.text.blocks.push(Block::Step(step));
                }
            }
            TagEnd::Paragraph => {
                if let Some(paragraph) = self.paragraph.take()
                    && paragraph.things != 1
                {
                    for at in paragraph.drawings {
                        self.not_alone(at);
                    }
                }
                self.gap("\n");
            }
            TagEnd::Link | TagEnd::Image => {
                if let Some(open) = self.open.pop() {
                    // A link around a photo, or a photo's own emphasis: its words are the outer one's too.
                    if let Some(outer) = self.open.last_mut() {
                        outer.words.push_str(&open.words);
                    }
                    self.reference(open);
                }
            }
            TagEnd::Item | TagEnd::Heading(_) | TagEnd::CodeBlock | TagEnd::TableCell | TagEnd::TableRow => {
                self.gap("\n");
            }
            _ => {}
        }
    }

    /// Words of the text, in whatever is open.
    fn words(&mut self, words: &str, range: Range<usize>) {
        let inside_image = self.open.iter().any(|o| o.image);
        let replaced = self.open.last().is_some_and(|o| o.kind == LinkType::Autolink && is_value(&o.address));
        if let Some(open) = self.open.last_mut() {
            open.words.push_str(words);
        }
        if inside_image || replaced {
            return;
        }
        let at = self.span(&range);
        let Some(step) = &mut self.step else { return };
        step.words.push_str(words);
        match step.pieces.last_mut() {
            Some(last) if last.at.end == at.start => {
                last.value.push_str(words);
                last.at.end = at.end;
            }
            _ => step.pieces.push(Placed::new(words.to_owned(), at)),
        }
    }

    fn gap(&mut self, gap: &str) {
        if let Some(open) = self.open.last_mut() {
            open.words.push_str(gap);
        }
        if let Some(step) = &mut self.step {
            step.words.push_str(gap);
        }
    }

    /// What stands between steps up to byte `end`.
    fn prose(&mut self, end: usize) {
        let stretch = &self.markdown[self.prose_from.min(end)..end];
        if !stretch.trim().is_empty() {
            let from = self.prose_from + (stretch.len() - stretch.trim_start_matches(['\n', '\r']).len());
            let to = self.prose_from + stretch.trim_end().len();
            self.text.blocks.push(Block::Prose(self.span(&(from..to))));
        }
        self.prose_from = end;
    }

    /// A finished link or image.
    fn reference(&mut self, open: Open) {
        self.taken.push(open.range.clone());
        let at = self.span(&open.range);
        if open.kind == LinkType::Email {
            return;
        }
        let address = open.address.trim();
        let scheme = scheme(address);
        match (scheme.as_deref(), open.image) {
            (Some("drawing"), true) => self.drawing(&address["drawing:".len()..], at, &open.words),
            (Some("drawing"), false) => {
                let name = &address["drawing:".len()..];
                let advice = format!("Write `![How it is wired](drawing:{name})`, with a `!`, alone in its paragraph.");
                self.faults.add(LINK_KIND, at, "", "A drawing is shown, not linked to.", advice);
            }
            (Some("value"), _) if open.kind == LinkType::Autolink => self.value(&address["value:".len()..], at),
            (Some("value"), _) => {
                let advice = format!("Write `<{address}>` in pointed brackets: the value stands in its place.");
                self.faults.add(LINK_KIND, at, "", "A value is not linked to.", advice);
            }
            (Some(kind @ ("run" | "part")), false) => {
                let name = &address[kind.len() + 1..];
                if open.kind == LinkType::Autolink {
                    let advice = format!("Write `[{}]({address})`, so that the reader sees words.", name.replace('-', " "));
                    self.faults.add(LINK_KIND, at, name, format!("`<{address}>` has no words of its own."), advice);
                } else {
                    self.tie(kind, name, at);
                }
            }
            (Some("http" | "https" | "mailto"), false) => {}
            (Some(kind), true) => {
                let message = match kind {
                    "http" | "https" => "A photo that lies elsewhere is not shown: pages fetch nothing from other places.",
                    _ => "This is not a photo in the guide's folder.",
                };
                self.faults.add(LINK_KIND, at, "", message, "Put the file beside the guide and name it: `![…](photo.jpg)`.");
            }
            (Some(kind), false) => self.faults.add(
                LINK_KIND,
                at,
                "",
                format!("A link of the kind `{kind}:` is not one that a guide may have."),
                "Link to `https:`, `http:` or `mailto:`, to `run:` or `part:`, to a file of the guide, or to a heading with `#`.",
            ),
            (None, image) => self.file(address, at, image, &open.words),
        }
    }

    fn drawing(&mut self, name: &str, at: Span, caption: &str) {
        if !DRAWINGS.contains(&name) {
            let advice = match nearest(name, DRAWINGS.iter().copied()) {
                Some(near) => format!("Did you mean `{near}`?"),
                None => format!("There are {}.", one_of(DRAWINGS.iter().copied())),
            };
            self.faults.add(UNKNOWN_NAME, at, "", format!("There is no drawing `{name}`."), advice);
        }
        let direct = self.open.is_empty();
        match &mut self.paragraph {
            Some(paragraph) if direct && paragraph.depth == self.depth => paragraph.drawings.push(at),
            _ => self.not_alone(at),
        }
        let caption = caption.trim().to_owned();
        self.text.drawings.push(DrawingPlace { at, name: name.to_owned(), caption });
    }

    fn not_alone(&mut self, at: Span) {
        self.faults.add(
            DRAWING_PLACE,
            at,
            "",
            "A drawing must stand alone in its paragraph.",
            "Put it on a line of its own with an empty line before and after it.",
        );
    }

    fn value(&mut self, path: &str, at: Span) {
        if let Some(guide) = self.guide
            && guide.value(path).is_none()
        {
            let paths = guide.value_paths();
            let advice = match nearest_path(path, &paths) {
                Some(near) => format!("Did you mean `<value:{near}>`?"),
                None => {
                    "Write where it stands in the front matter, as in `<value:runs.main-return.length>`.".to_owned()
                }
            };
            self.faults.add(UNKNOWN_NAME, at, "", format!("There is no value `{path}`."), advice);
        }
        self.text.values.push(Placed::new(path.to_owned(), at));
    }

    /// A link to a run or a part.
    fn tie(&mut self, kind: &str, name: &str, at: Span) {
        let (named, other) = if kind == "run" { (Named::Run, Named::Part) } else { (Named::Part, Named::Run) };
        if !self.names.may_have(named, name) {
            let (message, advice) = unknown_name(name, named, self.names);
            let advice = if self.names.has(other, name) {
                format!("`{name}` is a {}: write `({}:{name})`.", other.noun(), other.noun())
            } else {
                advice
            };
            self.faults.add(UNKNOWN_NAME, at, name, capital(&message), advice);
            return;
        }
        let target = if kind == "run" { Target::Run(name.to_owned()) } else { Target::Part(name.to_owned()) };
        let link = Link { at, target };
        self.text.links.push(link.clone());
        if let Some(step) = &mut self.step {
            step.links.push(link);
        }
    }

    /// A photo, a file of the guide, another guide, or a heading.
    fn file(&mut self, address: &str, at: Span, image: bool, words: &str) {
        let words = words.trim();
        if image && words.is_empty() {
            self.faults.add(
                PHOTO_TEXT,
                at,
                "",
                format!("The photo `{address}` has no words for those who cannot see it."),
                format!("Say in the square brackets what it shows: `![The battery in its frame]({address})`."),
            );
        }
        if let (Some(heading), false) = (address.strip_prefix('#'), image) {
            self.text.anchors.push(Placed::new(decoded(heading), at));
            return;
        }
        let path = decoded(address.split(['#', '?']).next().unwrap_or(""));
        if path.is_empty() {
            let what = if image { "photo" } else { "link" };
            self.faults.add(LINK_KIND, at, "", format!("This {what} names no file."), "Name it in the round brackets.");
            return;
        }
        match place(&path) {
            Place::Inside if image => {
                self.text.photos.push(Photo { at, path, words: words.to_owned() });
            }
            Place::Inside => self.text.files.push(Placed::new(path, at)),
            // Another guide's page may be linked to; its files may not.
            Place::Above(up) if !image && is_page(&path) && up <= self.slug.split('/').count() => {
                self.text.files.push(Placed::new(path, at));
            }
            Place::Above(_) | Place::Nowhere => self.faults.add(
                OUTSIDE_FOLDER,
                at,
                "",
                format!("`{}` is not in the guide's own folder.", super::check::shorten(&path)),
                "Put the file beside the guide and name it without `/` or `..` in front.",
            ),
        }
    }

    /// What was meant to be a link, and is not: `(run: main-feed)` is none in Markdown.
    fn left_over(&mut self) {
        const SIGNS: [(&str, &str); 6] = [
            ("](run:", "[the main return](run:main-return)"),
            ("](part:", "[the battery](part:battery)"),
            ("](drawing:", "![How it is wired](drawing:wiring)"),
            ("](value:", "<value:runs.main-return.length>"),
            ("<value:", "<value:runs.main-return.length>"),
            // Any other; the ones above are gone by then.
            ("](", "![The shelf](shelf.jpg)"),
        ];
        for (sign, right) in SIGNS {
            let mut from = 0;
            while let Some(i) = self.markdown[from..].find(sign) {
                let start = from + i;
                from = start + sign.len();
                let escaped = self.markdown[..start].ends_with('\\');
                if escaped || self.taken.iter().any(|r| r.start <= start && start < r.end) {
                    continue;
                }
                self.taken.push(start..from);
                let at = self.span(&(start..from));
                self.faults.add(
                    LINK_KIND,
                    at,
                    "",
                    format!("`{sign}` starts nothing that Markdown takes for a link."),
                    format!("Write it as in `{right}`, without spaces inside the round or pointed brackets, and not within HTML."),
                );
            }
        }
    }

    /// Signs that nobody sees and that make people read something else than what is written.
    fn hidden(&mut self) {
        for (i, sign) in self.markdown.char_indices() {
            let control = sign.is_control() && !matches!(sign, '\n' | '\r' | '\t');
            if control || matches!(sign, '\u{202a}'..='\u{202e}') {
                let at = self.span(&(i..i + sign.len_utf8()));
                let message = format!("An invisible sign (U+{:04X}) stands here.", sign as u32);
                self.faults.add(
                    BAD_VALUE,
                    at,
                    "",
                    message,
                    "Delete it: people might read something else than what is written.",
                );
            }
        }
    }
}

fn is_value(address: &str) -> bool {
    scheme(address).as_deref() == Some("value")
}

/// Where an item's own Markdown starts: after its number, its full stop or bracket, and spaces.
fn after_marker(markdown: &str, range: &Range<usize>) -> usize {
    let item = &markdown[range.clone()];
    let digits = item.len() - item.trim_start_matches(|c: char| c.is_ascii_digit() || c == ' ').len();
    let rest = item[digits..].trim_start_matches(['.', ')']);
    let rest = rest.trim_start();
    range.start + (item.len() - rest.len())
}

/// The word before the first `:`, in small letters, when it is one that programs take for a kind of link.
fn scheme(address: &str) -> Option<String> {
    let (word, _) = address.split_once(':')?;
    let mut letters = word.chars();
    let first = letters.next()?.is_ascii_alphabetic();
    let rest = letters.all(|c| c.is_ascii_alphanumeric() || matches!(c, '+' | '.' | '-'));
    (first && rest).then(|| word.to_ascii_lowercase())
}

/// Where a relative reference leads.
enum Place {
    /// Into the guide's folder.
    Inside,
    /// So many folders above it.
    Above(usize),
    /// To no place that a guide may speak of.
    Nowhere,
}

fn place(path: &str) -> Place {
    let bad = |c: char| c == '\\' || c.is_control();
    if path.starts_with('/') || path.contains(bad) || path.split('/').any(|part| part.contains(':')) {
        return Place::Nowhere;
    }
    let (mut depth, mut lowest) = (0i64, 0i64);
    for part in path.split('/') {
        match part {
            "" | "." => {}
            ".." => depth -= 1,
            _ => depth += 1,
        }
        lowest = lowest.min(depth);
    }
    match usize::try_from(-lowest) {
        Ok(0) | Err(_) => Place::Inside,
        Ok(up) => Place::Above(up),
    }
}

/// Whether a reference is to a page rather than a file: its last part has no ending.
fn is_page(path: &str) -> bool {
    path.rsplit('/').next().is_some_and(|last| !last.contains('.') || last == "..") || path.ends_with(".html")
}

/// Percent signs undone; what is no UTF-8 then stays as it is.
fn decoded(text: &str) -> String {
    let mut bytes = Vec::with_capacity(text.len());
    let raw = text.as_bytes();
    let mut i = 0;
    while i < raw.len() {
        let digit = |at: usize| raw.get(at).and_then(|b| char::from(*b).to_digit(16));
        match (raw[i], digit(i + 1), digit(i + 2)) {
            (b'%', Some(high), Some(low)) => {
                bytes.push((high * 16 + low) as u8);
                i += 3;
            }
            (byte, ..) => {
                bytes.push(byte);
                i += 1;
            }
        }
    }
    String::from_utf8(bytes).unwrap_or_else(|_| text.to_owned())
}

/// The nearest path: part by part, so that one slip does not cost the whole path.
fn nearest_path<'p>(path: &str, paths: &'p [String]) -> Option<&'p str> {
    let parts: Vec<&str> = path.split('.').collect();
    let mut left: Vec<&'p str> =
        paths.iter().map(String::as_str).filter(|p| p.split('.').count() == parts.len()).collect();
    for (i, part) in parts.iter().enumerate() {
        let here = |p: &'p str| p.split('.').nth(i).unwrap_or("");
        let choice = if left.iter().any(|p| here(p) == *part) {
            (*part).to_owned()
        } else {
            nearest(part, left.iter().map(|p| here(p)))?.to_owned()
        };
        left.retain(|p| here(p) == choice);
    }
    left.first().copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_with_a_slip_in_each_part_is_still_offered() {
        let paths = ["runs.main-return.length", "runs.main-feed.length", "runs.main-return.size"].map(String::from);
        assert_eq!(nearest_path("run.main-retrun.lenght", &paths), Some("runs.main-return.length"));
        assert_eq!(nearest_path("runs.main-return.size", &paths), Some("runs.main-return.size"));
        assert_eq!(nearest_path("weather", &paths), None);
    }

    #[test]
    fn references_that_leave_the_folder_are_seen_through() {
        assert!(matches!(place("a/../b.jpg"), Place::Inside));
        assert!(matches!(place("a/../../b.jpg"), Place::Above(1)));
        assert!(matches!(place("../../etc/passwd"), Place::Above(2)));
        assert!(matches!(place("/etc/passwd"), Place::Nowhere));
        assert!(matches!(place("..\\b.jpg"), Place::Nowhere));
        assert_eq!(decoded("%2e%2e/b.jpg"), "../b.jpg");
        assert_eq!(decoded("100%"), "100%");
        assert_eq!(decoded("%ff"), "%ff");
    }

    #[test]
    fn a_list_marker_is_not_part_of_a_step() {
        for (item, from) in [("1. Cut", 3), ("12) Cut", 4), ("  3.  Cut", 6)] {
            assert_eq!(after_marker(item, &(0..item.len())), from, "{item}");
        }
    }
}
