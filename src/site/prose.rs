//! A guide's text made into HTML: values and drawings put in, links to the circuit made links to
//! the lists, and whatever an author's HTML could do to a reader taken out.
//!
//! Replacements happen in the stream of Markdown events, before HTML is made. Each leaves a token
//! of two private-use characters; the HTML is then cleaned, and only then are the tokens exchanged
//! for our own HTML. So our HTML needs no gap in the cleaner that an author's could slip through.
//!
//! What the guide's own reading has found already (an unknown value, a link of a forbidden kind, a
//! photo without words) is left out here without another word; only what the site alone can know
//! (no such photo, no such guide, no such heading) is a finding of its own.

use std::collections::{BTreeSet, HashSet};

use pulldown_cmark::{CowStr, Event, HeadingLevel, LinkType, Parser, Tag, TagEnd, html};

use super::address;
use crate::finding::{Finding, Place, Severity};
use crate::guide::Guide;
use crate::guide::text::options;
use crate::source::Span;

/// A stretch of a guide's text as HTML.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Piece {
    /// What stands before, between or after steps.
    Prose(String),
    /// A step.
    Step {
        /// Its number through the guide.
        number: usize,
        /// Its HTML.
        html: String,
    },
}

/// What the text may refer to.
pub trait References {
    /// A value of the circuit, as shown to people.
    fn value(&self, path: &str) -> Option<String>;
    /// One of the guide's drawings, as a figure of our own HTML; `None` when there is none of that name.
    fn drawing(&self, name: &str, words: &str) -> Option<String>;
    /// A photo beside the guide, as our own HTML; `None` when there is no such file.
    fn photo(&self, path: &str, words: &str, caption: &str) -> Option<String>;
    /// A file or page at a path relative to the guide's folder, as an address relative to its page.
    fn page(&self, reference: &str) -> Option<String>;
}

const TOKEN_OPEN: char = '\u{E000}';
const TOKEN_CLOSE: char = '\u{E001}';

/// Elements that may stand in a guide's text. No `img`: pictures come in by Markdown, so that they
/// have a size and words; nothing that loads, runs, or takes input.
const ELEMENTS: &[&str] = &[
    "a",
    "abbr",
    "blockquote",
    "br",
    "code",
    "dd",
    "del",
    "dl",
    "dt",
    "em",
    "h3",
    "h4",
    "h5",
    "h6",
    "hr",
    "kbd",
    "li",
    "ol",
    "p",
    "pre",
    "s",
    "strong",
    "sub",
    "sup",
    "table",
    "tbody",
    "td",
    "th",
    "thead",
    "tr",
    "ul",
];

/// Makes a guide's text into HTML, piece by piece, with what is wrong with it.
pub fn render(guide: &Guide, references: &dyn References) -> (Vec<Piece>, Vec<Finding>) {
    let text = guide.file.at(guide.text.at);
    let base = guide.text.at.start;
    let mut pieces = Vec::new();
    let mut findings = Vec::new();
    let mut buffer: Vec<(Event<'_>, Span)> = Vec::new();
    let mut depth = 0usize;
    let mut in_steps = false;
    let mut number = 0;
    let (shift, headings) = outline(text);
    let mut taken = BTreeSet::new();

    let mut finish = |events: &mut Vec<(Event<'_>, Span)>, step: Option<usize>| {
        let events = std::mem::take(events);
        if events.is_empty() {
            return;
        }
        let mut bench = Bench {
            guide,
            references,
            findings: &mut findings,
            kept: Vec::new(),
            shift,
            headings: &headings,
            taken: &mut taken,
        };
        let html = bench.html(events);
        pieces.push(match step {
            Some(number) => Piece::Step { number, html },
            None => Piece::Prose(html),
        });
    };

    for (event, range) in Parser::new_ext(text, options()).into_offset_iter() {
        let span = Span::new(base + range.start, base + range.end);
        match &event {
            Event::Start(Tag::List(Some(_))) if depth == 0 => {
                finish(&mut buffer, None);
                in_steps = true;
                depth += 1;
                continue;
            }
            Event::End(TagEnd::List(true)) if in_steps && depth == 1 => {
                in_steps = false;
                depth -= 1;
                continue;
            }
            Event::Start(Tag::Item) if in_steps && depth == 1 => {
                depth += 1;
                continue;
            }
            Event::End(TagEnd::Item) if in_steps && depth == 2 => {
                depth -= 1;
                number += 1;
                finish(&mut buffer, Some(number));
                continue;
            }
            Event::Start(Tag::Heading { .. }) if depth == 0 => {
                finish(&mut buffer, None);
                depth += 1;
            }
            Event::Start(_) => depth += 1,
            Event::End(_) => depth -= 1,
            _ => {}
        }
        buffer.push((event, span));
    }
    finish(&mut buffer, None);
    (pieces, findings)
}

/// How far an author's headings move so that their highest is an `h3` (a page has its own above),
/// and the headings' names in links.
fn outline(text: &str) -> (i32, Vec<String>) {
    let events: Vec<(Event<'_>, Span)> =
        Parser::new_ext(text, options()).map(|event| (event, Span::default())).collect();
    let mut highest = None;
    let mut names = Vec::new();
    for (i, (event, _)) in events.iter().enumerate() {
        if let Event::Start(Tag::Heading { level, .. }) = event {
            highest = highest.into_iter().chain([*level as i32]).min();
            names.push(address::slug(&words_of(&events[i..skip(&events, i)])));
        }
    }
    (3 - highest.unwrap_or(3), names)
}

/// The work on one piece.
struct Bench<'a> {
    guide: &'a Guide,
    references: &'a dyn References,
    findings: &'a mut Vec<Finding>,
    /// What the tokens stand for: our own HTML, and the same in plain words.
    kept: Vec<(String, String)>,
    shift: i32,
    /// Every heading's name in links.
    headings: &'a [String],
    /// Names of headings that have been given out.
    taken: &'a mut BTreeSet<String>,
}

impl Bench<'_> {
    fn html(&mut self, events: Vec<(Event<'_>, Span)>) -> String {
        let mut out: Vec<Event<'_>> = Vec::with_capacity(events.len());
        let mut open_links: Vec<bool> = Vec::new(); // whether each open link's tags are kept
        let whole = Span::new(
            events.iter().map(|(_, span)| span.start).min().unwrap_or(0),
            events.iter().map(|(_, span)| span.end).max().unwrap_or(0),
        );
        let mut i = 0;
        while i < events.len() {
            let (event, span) = &events[i];
            match event {
                Event::Start(Tag::Paragraph) if self.is_lone_image(&events, i) => {
                    let (block, next) = self.image(&events, i + 1, true);
                    out.push(block);
                    i = next + 1; // past the paragraph's end
                    continue;
                }
                Event::Start(Tag::Image { .. }) => {
                    let (inline, next) = self.image(&events, i, false);
                    out.push(inline);
                    i = next;
                    continue;
                }
                Event::Start(Tag::Link { link_type: LinkType::Autolink, dest_url, .. })
                    if dest_url.starts_with("value:") =>
                {
                    out.push(self.value(&dest_url["value:".len()..], *span));
                    i = skip(&events, i);
                    continue;
                }
                Event::Start(Tag::Link { link_type, dest_url, title, id }) => match self.link(dest_url, *span) {
                    Some(address) => {
                        open_links.push(true);
                        out.push(Event::Start(Tag::Link {
                            link_type: *link_type,
                            dest_url: address.into(),
                            title: title.clone(),
                            id: id.clone(),
                        }));
                    }
                    None => open_links.push(false),
                },
                Event::End(TagEnd::Link) => {
                    if open_links.pop().unwrap_or(true) {
                        out.push(event.clone());
                    }
                }
                Event::Start(Tag::Heading { level, .. }) => {
                    let slug = address::slug(&words_of(&events[i..skip(&events, i)]));
                    let level = self.level(*level);
                    // The first heading of a name takes it; another of the same name cannot be linked to.
                    let id =
                        if self.taken.insert(slug.clone()) { format!(" id=\"text-{slug}\"") } else { String::new() };
                    out.push(self.keep(format!("<{level}{id}>"), String::new()));
                }
                Event::End(TagEnd::Heading(level)) => {
                    let level = self.level(*level);
                    out.push(self.keep(format!("</{level}>\n"), String::new()));
                }
                Event::Text(text) => out.push(Event::Text(without_tokens(text))),
                Event::Code(text) => out.push(Event::Code(without_tokens(text))),
                Event::Html(text) => {
                    self.note_dropped(text, *span);
                    out.push(Event::Html(without_tokens(text)));
                }
                Event::InlineHtml(text) => {
                    self.note_dropped(text, *span);
                    out.push(Event::InlineHtml(without_tokens(text)));
                }
                _ => out.push(event.clone()),
            }
            i += 1;
        }
        let mut made = String::new();
        html::push_html(&mut made, out.into_iter());
        let clean = without_needless_rel(&cleaner().clean(&made).to_string());
        self.check_left_over(&clean, whole);
        self.put_back(&clean)
    }

    /// Whether the paragraph that starts at `i` holds one image and nothing else.
    fn is_lone_image(&self, events: &[(Event<'_>, Span)], i: usize) -> bool {
        matches!(events.get(i + 1), Some((Event::Start(Tag::Image { .. }), _)))
            && matches!(events.get(skip(events, i + 1)), Some((Event::End(TagEnd::Paragraph), _)))
    }

    /// A picture, from its start at `i`; gives what stands for it and where the events go on.
    fn image(&mut self, events: &[(Event<'_>, Span)], i: usize, alone: bool) -> (Event<'static>, usize) {
        let next = skip(events, i);
        let Some((Event::Start(Tag::Image { dest_url, title, .. }), span)) = events.get(i) else {
            return (Event::Text("".into()), next);
        };
        let words = words_of(&events[i..next]);
        if let Some(name) = dest_url.strip_prefix("drawing:") {
            if !alone {
                return (Event::Text(words.into()), next);
            }
            let Some(figure) = self.references.drawing(name, &words) else {
                self.find(
                    "text-drawing",
                    Severity::Unreadable,
                    *span,
                    format!("there is no drawing called `{name}` for this guide"),
                    "take it out, or show `drawing:wiring`, which every guide has".into(),
                );
                return (Event::Text(words.into()), next);
            };
            return (self.keep(figure, words), next);
        }
        if has_scheme(dest_url) || dest_url.starts_with("//") {
            return (Event::Text(words.into()), next);
        }
        let made = address::within_folder(&decoded(dest_url))
            .and_then(|path| self.references.photo(&path, &words, if alone { title } else { "" }));
        match made {
            Some(photo) => (self.keep(photo, words), next),
            None => {
                self.find(
                    "text-photo",
                    Severity::Unreadable,
                    *span,
                    format!("there is no photo `{dest_url}` in the guide's folder"),
                    "put the file beside the guide, as .jpg, .png or .webp, and write its name as it is".into(),
                );
                (Event::Text(words.into()), next)
            }
        }
    }

    fn value(&mut self, path: &str, span: Span) -> Event<'static> {
        match self.references.value(path) {
            Some(shown) => {
                let html = format!("<span class=\"figure\">{}</span>", escape(&shown));
                self.keep(html, shown)
            }
            None => {
                self.find(
                    "text-value",
                    Severity::Unsafe,
                    span,
                    format!("there is no value `{path}` in this guide, so its text would lack a figure"),
                    "name it as front matter does, as `<value:runs.main-return.length>`".into(),
                );
                Event::Text("".into())
            }
        }
    }

    /// Where a link leads, or `None` (and a finding) when it may not stand.
    fn link(&mut self, dest: &str, span: Span) -> Option<String> {
        let row = |kind: &str, name: &str| Some(format!("#{kind}-{}", address::href(name)));
        if let Some(name) = dest.strip_prefix("run:") {
            return row("run", name);
        }
        if let Some(name) = dest.strip_prefix("part:") {
            return row("part", name);
        }
        let lower = dest.to_ascii_lowercase();
        if ["https://", "http://", "mailto:"].iter().any(|scheme| lower.starts_with(scheme)) {
            return Some(dest.to_string());
        }
        if has_scheme(dest) || dest.starts_with("//") {
            return None;
        }
        if let Some(anchor) = dest.strip_prefix('#') {
            let anchor = address::slug(&decoded(anchor));
            if !self.headings.contains(&anchor) {
                self.find(
                    "text-link",
                    Severity::Unreadable,
                    span,
                    format!("the link `{dest}` leads to no heading of this guide"),
                    if self.headings.is_empty() {
                        "it has no headings".into()
                    } else {
                        format!("its headings are `#{}`", self.headings.join("`, `#"))
                    },
                );
                return None;
            }
            return Some(format!("#text-{anchor}"));
        }
        let found = self.references.page(&decoded(dest));
        if found.is_none() {
            self.find(
                "text-link",
                Severity::Unreadable,
                span,
                format!("the link `{dest}` leads to no guide and no file beside this one"),
                "link to another guide by its folder, as `../second-battery/`".into(),
            );
        }
        found
    }

    fn level(&self, level: HeadingLevel) -> HeadingLevel {
        let level = (level as i32 + self.shift).clamp(3, 6);
        HeadingLevel::try_from(level as usize).unwrap_or(HeadingLevel::H6)
    }

    /// Keeps our own HTML for later, and gives the token that stands for it.
    fn keep(&mut self, html: String, words: String) -> Event<'static> {
        let token = format!("{TOKEN_OPEN}{}{TOKEN_CLOSE}", self.kept.len());
        self.kept.push((html, words));
        Event::InlineHtml(token.into())
    }

    /// Exchanges tokens for what they stand for: HTML in the text, plain words within a tag.
    fn put_back(&self, clean: &str) -> String {
        let mut out = String::with_capacity(clean.len());
        let mut rest = clean;
        let mut quote: Option<char> = None;
        let mut in_tag = false;
        while let Some(c) = rest.chars().next() {
            if c == TOKEN_OPEN
                && let Some((digits, after)) = rest[c.len_utf8()..].split_once(TOKEN_CLOSE)
                && let Some((html, words)) = digits.parse().ok().and_then(|i: usize| self.kept.get(i))
            {
                out.push_str(&if in_tag { escape(words) } else { html.clone() });
                rest = after;
                continue;
            }
            match c {
                '<' if !in_tag => in_tag = true,
                '>' if in_tag && quote.is_none() => in_tag = false,
                '"' if in_tag => quote = if quote.is_some() { None } else { Some(c) },
                _ => {}
            }
            out.push(c);
            rest = &rest[c.len_utf8()..];
        }
        out
    }

    /// A value or drawing that is still there as its name would leave a reader without a figure.
    fn check_left_over(&mut self, clean: &str, span: Span) {
        for scheme in ["value:", "drawing:"] {
            let left = clean.match_indices(scheme).any(|(at, _)| {
                let after = clean[at + scheme.len()..].chars().next();
                let before = clean[..at].chars().next_back();
                after.is_some_and(|c| c.is_ascii_lowercase()) && !before.is_some_and(char::is_alphanumeric)
            });
            if left {
                self.find(
                    "text-value",
                    Severity::Unsafe,
                    span,
                    format!("a `{scheme}` is left over in the text: the reader would see its name, not the figure"),
                    "write a value as `<value:runs.main-return.length>`, outside code and HTML".into(),
                );
            }
        }
    }

    /// Tells the author which HTML is left out.
    fn note_dropped(&mut self, html: &str, span: Span) {
        let mut rest = html;
        while let Some(at) = rest.find('<') {
            rest = &rest[at + 1..];
            let name: String = rest
                .trim_start_matches('/')
                .chars()
                .take_while(char::is_ascii_alphanumeric)
                .collect::<String>()
                .to_ascii_lowercase();
            if !name.is_empty() && !rest.starts_with('/') && !ELEMENTS.contains(&name.as_str()) {
                self.find(
                    "text-html",
                    Severity::Note,
                    span,
                    format!("HTML `<{name}>` is left out of the page"),
                    "write it in Markdown".into(),
                );
            }
        }
    }

    fn find(&mut self, rule: &'static str, severity: Severity, span: Span, message: String, advice: String) {
        self.findings.push(Finding {
            rule,
            severity,
            place: Place { file: self.guide.file.path.clone(), span },
            subject: String::new(),
            message,
            value: None,
            limit: None,
            advice: vec![advice],
            sources: Vec::new(),
            answer: None,
        });
    }
}

/// Links within the page without what only links to other sites need: a guide has hundreds of them.
fn without_needless_rel(html: &str) -> String {
    const REL: &str = " rel=\"noopener noreferrer\"";
    let mut parts = html.split("<a href=\"#");
    let mut out = parts.next().unwrap_or("").to_string();
    for part in parts {
        out.push_str("<a href=\"#");
        // The cleaner has escaped every `>` within a value, so that the first one ends the tag.
        match part.split_once('>') {
            Some((tag, rest)) => {
                out.push_str(&tag.replacen(REL, "", 1));
                out.push('>');
                out.push_str(rest);
            }
            None => out.push_str(part),
        }
    }
    out
}

/// The index after the end that belongs to the start at `i`.
fn skip(events: &[(Event<'_>, Span)], i: usize) -> usize {
    let mut depth = 0usize;
    for (offset, (event, _)) in events[i..].iter().enumerate() {
        match event {
            Event::Start(_) => depth += 1,
            Event::End(_) => depth -= 1,
            _ => {}
        }
        if depth == 0 {
            return i + offset + 1;
        }
    }
    events.len()
}

/// The words of some events, without markup.
fn words_of(events: &[(Event<'_>, Span)]) -> String {
    let mut words = String::new();
    for (event, _) in events {
        match event {
            Event::Text(text) | Event::Code(text) => words.push_str(text),
            Event::SoftBreak | Event::HardBreak => words.push(' '),
            _ => {}
        }
    }
    words.trim().to_string()
}

/// Percent-escapes undone, once; what is not UTF-8 then stays as it was.
fn decoded(reference: &str) -> String {
    let bytes = reference.as_bytes();
    let mut out = Vec::with_capacity(bytes.len());
    let mut i = 0;
    while i < bytes.len() {
        let escape = (bytes[i] == b'%').then(|| reference.get(i + 1..i + 3)).flatten();
        match escape.and_then(|hex| u8::from_str_radix(hex, 16).ok()) {
            Some(byte) => {
                out.push(byte);
                i += 3;
            }
            None => {
                out.push(bytes[i]);
                i += 1;
            }
        }
    }
    String::from_utf8(out).unwrap_or_else(|_| reference.to_string())
}

/// Whether a reference starts with a scheme (RFC 3986, 3.1), however it is spelt.
fn has_scheme(reference: &str) -> bool {
    let plain: String = reference.chars().filter(|c| !c.is_control() && !c.is_whitespace()).collect();
    plain.split_once(':').is_some_and(|(scheme, _)| {
        scheme.starts_with(|c: char| c.is_ascii_alphabetic())
            && scheme.chars().all(|c| c.is_ascii_alphanumeric() || "+-.".contains(c))
    })
}

/// Text that cannot be taken for a token.
fn without_tokens<'a>(text: &CowStr<'a>) -> CowStr<'a> {
    if text.contains([TOKEN_OPEN, TOKEN_CLOSE]) {
        text.replace([TOKEN_OPEN, TOKEN_CLOSE], "").into()
    } else {
        text.clone()
    }
}

/// Text made fit for HTML, in an element or a quoted attribute.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

fn cleaner() -> ammonia::Builder<'static> {
    let mut cleaner = ammonia::Builder::empty();
    cleaner
        .tags(ELEMENTS.iter().copied().collect())
        .clean_content_tags(
            ["script", "style", "svg", "math", "template", "title", "iframe", "noscript", "object"].into(),
        )
        .generic_attributes(HashSet::new())
        .add_tag_attributes("a", ["href", "title"])
        .add_tag_attributes("abbr", ["title"])
        .add_tag_attributes("ol", ["start"])
        .add_tag_attributes("td", ["colspan", "rowspan"])
        .add_tag_attributes("th", ["colspan", "rowspan", "scope"])
        .url_schemes(["http", "https", "mailto"].into())
        .url_relative(ammonia::UrlRelative::PassThrough)
        .link_rel(Some("noopener noreferrer"))
        .strip_comments(true);
    cleaner
}

/// A page of the program's own (a rule's) as HTML: its first heading is left out, for the page has
/// its title already, and so is its list of sources, which the page makes from the catalogue.
pub fn page(markdown: &str) -> String {
    let mut events = Vec::new();
    let mut skip_heading = false;
    let mut in_sources = false;
    let mut after_heading = false;
    for event in Parser::new_ext(markdown, options()) {
        match &event {
            Event::Start(Tag::Heading { level: HeadingLevel::H1, .. }) => skip_heading = true,
            Event::End(TagEnd::Heading(HeadingLevel::H1)) => {
                skip_heading = false;
                continue;
            }
            Event::Start(Tag::Heading { .. }) => {
                in_sources = false;
                after_heading = true;
            }
            Event::Text(text) if after_heading => {
                after_heading = false;
                if text.as_ref() == "Sources" {
                    in_sources = true;
                    events.pop();
                }
            }
            _ => {}
        }
        if !skip_heading && !in_sources {
            events.push(event);
        }
    }
    let mut made = String::new();
    html::push_html(&mut made, events.into_iter());
    let mut cleaner = cleaner();
    cleaner.add_tags(["h2"]);
    cleaner.clean(&made).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rule_page_loses_its_title_and_sources_and_keeps_the_rest() {
        let html = page("# Title\n\n## What it checks\n\nA *drop*.\n\n## Sources\n\nA book.\n");
        assert_eq!(html, "<h2>What it checks</h2>\n<p>A <em>drop</em>.</p>\n");
    }

    #[test]
    fn schemes_are_seen_however_they_are_spelt() {
        for bad in
            ["javascript:x", "JaVaScRiPt:x", " java\tscript:x", "\u{1}javascript:x", "data:text/html,x", "vbscript:x"]
        {
            assert!(has_scheme(bad), "{bad:?}");
        }
        assert!(!has_scheme("photo.jpg") && !has_scheme("../a/b") && !has_scheme("#a:b"));
    }
}
