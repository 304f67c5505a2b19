//! Front matter as a tree with positions: what `serde_yaml` read, where `saphyr` found it.
//!
//! Knows nothing of guides: only mappings, lists and scalars. A scalar stays the text that was
//! written, so that `60 Ah`, `0.0`, `1e3`, `012` and dates reach their readers untouched.
//!
//! Two YAML readers look at the same text. Where they do not say the same, people would not either,
//! and there is a finding. What guides do without (anchors, aliases, tags, tabs, several documents)
//! is a finding as well, and so are the slips that YAML takes in silence: a decimal comma in a flow
//! mapping, a `#` that cuts a value short.

use std::borrow::Cow;
use std::cell::RefCell;

use indexmap::IndexMap;
use saphyr_parser::{Event, Parser, ScalarStyle};
use serde::de::{DeserializeSeed, Deserializer, MapAccess, SeqAccess, Visitor};

use super::fault::{DUPLICATE_KEY, Faults, NO_FRONT_MATTER, YAML_SYNTAX};
use crate::source::{Placed, SourceFile, Span};

/// A value in front matter and where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Node {
    /// Where.
    pub at: Span,
    /// What.
    pub value: Value,
}

/// The entries of a mapping, in the author's order. Keys hold their own places.
pub type Entries = IndexMap<String, (Placed<String>, Node)>;

/// A value in front matter.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// Nothing was written.
    Empty,
    /// A scalar, as written, without its quotes.
    Scalar(String),
    /// A sequence.
    List(Vec<Node>),
    /// A mapping, in the author's order. Keys hold their own places.
    Map(Entries),
}

impl Node {
    /// The entries of a mapping.
    pub fn entries(&self) -> Option<&Entries> {
        match &self.value {
            Value::Map(entries) => Some(entries),
            _ => None,
        }
    }

    /// The value under a key of a mapping.
    pub fn get(&self, key: &str) -> Option<&Node> {
        self.entries()?.get(key).map(|(_, node)| node)
    }

    /// A scalar's text.
    pub fn text(&self) -> Option<&str> {
        match &self.value {
            Value::Scalar(text) => Some(text),
            _ => None,
        }
    }
}

/// Words that YAML 1.1 reads as true or false and YAML 1.2 mostly as words: no keys.
pub const TRUTH_WORDS: [&str; 8] = ["on", "off", "yes", "no", "y", "n", "true", "false"];

/// How deep mappings and lists may lie in each other. A guide needs six.
const DEEPEST: usize = 24;

/// Where a guide's two halves stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Halves {
    /// The front matter, between its two lines `---`.
    pub front_matter: Span,
    /// The text below it.
    pub text: Span,
}

/// Splits front matter from text. Only the first line `---` after the opening one closes the front
/// matter: a later one is a thematic break of the text.
pub fn split(file: &SourceFile, faults: &mut Faults<'_>) -> Option<Halves> {
    let text = &*file.text;
    let mut at = if text.starts_with('\u{feff}') { '\u{feff}'.len_utf8() } else { 0 };
    let mut lines = text[at..].split_inclusive('\n');
    let is_fence = |line: &str| line.trim_end() == "---";
    let first = lines.next().unwrap_or("");
    if !is_fence(first) {
        let written = text.lines().position(is_fence);
        let (message, advice) = match written {
            Some(line) if text.lines().take(line).all(|l| l.trim_matches('\u{feff}').trim().is_empty()) => {
                ("There are empty lines above the front matter.".to_owned(), "Let the very first line be `---`.")
            }
            _ => (
                "The file does not start with front matter.".to_owned(),
                "Let the very first line be `---`, then the front matter, then another line `---`, then the text.",
            ),
        };
        let end = at + first.trim_end().len();
        faults.add(NO_FRONT_MATTER, Span::new(at, end), "", message, advice);
        return None;
    }
    let opening = Span::new(at, at + 3);
    at += first.len();
    let start = at;
    for line in lines {
        if is_fence(line) {
            return Some(Halves { front_matter: Span::new(start, at), text: Span::new(at + line.len(), text.len()) });
        }
        at += line.len();
    }
    faults.add(
        NO_FRONT_MATTER,
        opening,
        "",
        "The front matter that starts here has no end.",
        "Put a line `---` between the front matter and the text, with nothing before it on that line.",
    );
    None
}

/// How many faults of syntax are looked for. After each, what stands under its top-level key is left out.
const SYNTAX_FAULTS: usize = 12;

/// Reads the YAML at `span`. A fault of syntax costs only the top-level key under which it stands;
/// such keys are noted in [`Faults::lost`]. `None` when there is no making out what is left.
pub fn parse(file: &SourceFile, span: Span, faults: &mut Faults<'_>) -> Option<Node> {
    let yaml = file.at(span);
    let before = faults.found.len();
    if !characters(yaml, span.start, faults) {
        return None;
    }
    let mut left = Cow::Borrowed(yaml);
    for _ in 0..SYNTAX_FAULTS {
        let so_far = faults.found.len();
        let outcome = Build::new(&left, span.start, faults).run();
        // What stands above the fault was looked at before.
        let (old, new) = faults.found.split_at(so_far);
        let fresh: Vec<_> = new.iter().filter(|f| !old.contains(f)).cloned().collect();
        faults.found.truncate(so_far);
        faults.found.extend(fresh);
        let blamed = match outcome {
            Ok(node) => {
                if faults.found.len() == before {
                    compare(yaml, span.start, &node, faults);
                }
                return Some(node);
            }
            Err(Stop::Syntax) => faults.found.last().filter(|_| faults.found.len() > so_far)?.place.span.start,
            Err(Stop::ForGood) => return None,
        };
        let block = top_level_block(&left, blamed.saturating_sub(span.start))?;
        let key = left[block.start..block.end].trim_start_matches("- ");
        let key = key.split(|c: char| !(c.is_alphanumeric() || c == '-')).next().unwrap_or("").to_owned();
        faults.lost.push(key);
        // Every byte keeps its place.
        let blank: String = left[block.start..block.end].bytes().map(|b| if b == b'\n' { '\n' } else { ' ' }).collect();
        left.to_mut().replace_range(block.start..block.end, &blank);
    }
    None
}

/// The line at the left margin at or above byte `at`, with everything below it that is indented.
fn top_level_block(yaml: &str, at: usize) -> Option<Span> {
    let at = at.min(yaml.len());
    let margin = |line: &str| line.starts_with(|c: char| !c.is_whitespace() && !matches!(c, '#' | '}' | ']'));
    let mut block: Option<Span> = None;
    let mut offset = 0;
    for line in yaml.split_inclusive('\n') {
        let start = offset;
        offset += line.len();
        if margin(line) {
            if start > at {
                break;
            }
            block = Some(Span::new(start, offset));
        } else if let Some(block) = &mut block {
            block.end = offset;
        }
    }
    block
}

/// Why reading stopped.
enum Stop {
    /// At a fault of syntax, which was reported.
    Syntax,
    /// Where there is no sense in going on.
    ForGood,
}

/// Characters that YAML readers take differently, or that no editor shows.
fn characters(yaml: &str, base: usize, faults: &mut Faults<'_>) -> bool {
    let mut readable = true;
    let mut refuse = |at: usize, c: char, message: &str, advice: &str| {
        let at = Span::new(base + at, base + at + c.len_utf8());
        faults.add(YAML_SYNTAX, at, "", format!("{message} (U+{:04X}) stands here.", c as u32), advice);
        readable = false;
    };
    // Most front matter has none of them, and most of the time of reading would go into looking.
    if yaml.bytes().all(|b| b == b'\n' || (b' '..0x7f).contains(&b)) {
        return true;
    }
    let mut indent = true;
    let mut last = '\n';
    for (i, c) in yaml.char_indices() {
        match c {
            '\u{85}' | '\u{2028}' | '\u{2029}' => {
                refuse(i, c, "An invisible line break", "Delete it, and press the return key if a new line is meant.")
            }
            '\r' if !yaml[i + 1..].starts_with('\n') => {
                refuse(i, c, "A line end of very old programs", "Save the file with line ends LF or CRLF.");
            }
            '\n' | '\r' | '\t' => {}
            '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => refuse(
                i,
                c,
                "An invisible sign that turns the order of letters around",
                "Delete it: what people read and what is published would differ.",
            ),
            c if c.is_control() || matches!(c, '\u{feff}' | '\u{fffe}' | '\u{ffff}') => {
                refuse(i, c, "An invisible character", "Delete it.");
            }
            // A web page's space: it looks like one, and YAML takes it for a letter.
            '\u{a0}' | '\u{2000}'..='\u{200b}' | '\u{202f}' | '\u{205f}' | '\u{3000}' if indent || last == ':' => {
                refuse(i, c, "A special space from a web page", "Replace it by an ordinary space.");
            }
            _ => {}
        }
        indent = c == '\n' || (indent && c.is_whitespace());
        last = c;
    }
    readable
}

/// A mapping or list that is being read.
struct Open {
    start: usize,
    flow: bool,
    kind: OpenKind,
}

enum OpenKind {
    List(Vec<Node>),
    Map { entries: Entries, key: Option<Key> },
}

/// A key whose value is still to come.
struct Key {
    name: Placed<String>,
    /// Whether it is kept: a repeated key is read and dropped.
    keep: bool,
}

struct Build<'y, 'f, 's> {
    yaml: &'y str,
    base: usize,
    /// Byte offset of every character, and of the end.
    offsets: Vec<usize>,
    faults: &'f mut Faults<'s>,
    open: Vec<Open>,
    root: Option<Node>,
    /// Where scalars stand, within the YAML, in order.
    scalars: Vec<(Span, ScalarStyle)>,
    documents: usize,
}

impl<'y, 'f, 's> Build<'y, 'f, 's> {
    fn new(yaml: &'y str, base: usize, faults: &'f mut Faults<'s>) -> Self {
        let offsets = yaml.char_indices().map(|(i, _)| i).chain([yaml.len()]).collect();
        Build { yaml, base, offsets, faults, open: Vec::new(), root: None, scalars: Vec::new(), documents: 0 }
    }

    /// Saphyr counts characters; everybody else here counts bytes.
    fn byte(&self, mark: &saphyr_parser::Marker) -> usize {
        self.offsets.get(mark.index()).copied().unwrap_or(self.yaml.len())
    }

    fn fault(&mut self, at: Span, message: impl Into<String>, advice: impl Into<String>) {
        let at = Span::new(self.base + at.start, self.base + at.end);
        self.faults.add(YAML_SYNTAX, at, "", message, advice);
    }

    fn run(&mut self) -> Result<Node, Stop> {
        let mut parser = Parser::new_from_str(self.yaml);
        loop {
            match parser.next_event() {
                None => break,
                Some(Err(error)) => {
                    let at = self.byte(error.marker());
                    let info = error.info().to_owned();
                    self.comments_and_tabs(Some(at));
                    self.syntax(at, &info);
                    return Err(Stop::Syntax);
                }
                Some(Ok((event, span))) => {
                    let at = Span::new(self.byte(&span.start), self.byte(&span.end).max(self.byte(&span.start)));
                    if !self.event(event, at) {
                        return Err(Stop::ForGood);
                    }
                }
            }
        }
        self.comments_and_tabs(None);
        match self.root.take() {
            Some(root) if root.value != Value::Empty => Ok(root),
            _ => {
                if self.faults.lost.is_empty() {
                    self.fault(Span::new(0, 0), "The front matter is empty.", "Start with `title:`.");
                }
                Err(Stop::ForGood)
            }
        }
    }

    /// Takes one event; false when there is no sense in going on.
    fn event(&mut self, event: Event<'_>, at: Span) -> bool {
        match event {
            Event::DocumentStart(_) => {
                self.documents += 1;
                if self.documents > 1 {
                    self.fault(
                        at,
                        "A second YAML document starts here.",
                        "Keep all of the front matter in one document: take this line away.",
                    );
                    return false;
                }
            }
            Event::Alias(_) => {
                self.alias(at);
                // Something must stand in its place, so that keys and values stay in step.
                self.add(Node { at: self.placed(at), value: Value::Empty }, at);
            }
            Event::Scalar(text, style, anchor, tag) => {
                self.decorations(at, anchor, tag.is_some());
                self.scalar(text, style, at);
            }
            Event::SequenceStart(anchor, tag) => {
                self.decorations(at, anchor, tag.is_some());
                return self.push(at, "[", OpenKind::List(Vec::new()));
            }
            Event::MappingStart(anchor, tag) => {
                self.decorations(at, anchor, tag.is_some());
                return self.push(at, "{", OpenKind::Map { entries: Entries::new(), key: None });
            }
            Event::SequenceEnd | Event::MappingEnd => self.pop(at),
            Event::Nothing | Event::StreamStart | Event::StreamEnd | Event::DocumentEnd => {}
        }
        true
    }

    fn placed(&self, at: Span) -> Span {
        Span::new(self.base + at.start, self.base + at.end)
    }

    fn alias(&mut self, at: Span) {
        let word = self.yaml.get(at.start..at.end).unwrap_or("*").trim().to_owned();
        self.fault(
            at,
            format!("`{word}` stands for something written elsewhere; guides are written out in full."),
            "Write the value here. If the star is part of a text, put the text in quotes.",
        );
    }

    /// Anchors and tags.
    fn decorations(&mut self, at: Span, anchor: usize, tag: bool) {
        let find = |mark: char| {
            // Mostly the value's place includes it; else it stands before, on the same line or above.
            let i =
                if self.yaml[at.start..].starts_with(mark) { at.start } else { self.yaml[..at.start].rfind(mark)? };
            let end = self.yaml[i..].find([' ', '\t', '\r', '\n', ',', ']', '}']).map_or(self.yaml.len(), |n| i + n);
            Some(Span::new(i, end))
        };
        let (anchored, tagged) = (find('&').unwrap_or(at), find('!').unwrap_or(at));
        if anchor > 0 {
            let word = self.yaml[anchored.start..anchored.end].to_owned();
            self.fault(
                anchored,
                format!("`{word}` gives a value a name, for use elsewhere; guides are written out in full."),
                "Take it away. If the sign is part of a text, put the text in quotes.",
            );
        }
        if tag {
            let word = self.yaml[tagged.start..tagged.end].to_owned();
            self.fault(
                tagged,
                format!("`{word}` tells YAML how to take a value; guides do not use that."),
                "Take it away. If the sign is part of a text, put the text in quotes.",
            );
        }
    }

    fn push(&mut self, at: Span, bracket: &str, kind: OpenKind) -> bool {
        if self.open.len() >= DEEPEST {
            self.fault(at, "Mappings and lists lie too deep in each other here.", "Take some of the brackets away.");
            return false;
        }
        let flow = self.yaml[at.start..].starts_with(bracket);
        self.open.push(Open { start: at.start, flow, kind });
        true
    }

    fn pop(&mut self, at: Span) {
        let Some(open) = self.open.pop() else { return };
        let (value, last) = match open.kind {
            OpenKind::List(items) => {
                let last = items.last().map(|n| n.at.end);
                (Value::List(items), last)
            }
            OpenKind::Map { entries, .. } => {
                let last = entries.values().map(|(k, n)| n.at.end.max(k.at.end)).max();
                (Value::Map(entries), last)
            }
        };
        // A block ends where its last value does; the parser only notices it some lines further down.
        let end = if open.flow { self.base + at.end } else { last.unwrap_or(self.base + at.end) };
        let start = self.base + open.start;
        let node = Node { at: Span::new(start, end.max(start)), value };
        let within = Span::new(open.start, at.end.max(open.start));
        self.add(node, within);
    }

    fn scalar(&mut self, text: Cow<'_, str>, style: ScalarStyle, at: Span) {
        let at = if style == ScalarStyle::Plain {
            let written = self.yaml.get(at.start..at.end).unwrap_or("");
            Span::new(at.start, at.start + written.trim_end().len())
        } else {
            at
        };
        let empty = text.is_empty() && style == ScalarStyle::Plain;
        if !empty {
            self.scalars.push((at, style));
        }
        let value = if empty { Value::Empty } else { Value::Scalar(text.into_owned()) };
        self.add(Node { at: self.placed(at), value }, at);
    }

    /// Puts a finished node where it belongs.
    fn add(&mut self, mut node: Node, within: Span) {
        let Some(open) = self.open.last_mut() else {
            self.root = Some(node);
            return;
        };
        match &mut open.kind {
            OpenKind::List(items) => items.push(node),
            OpenKind::Map { entries, key: waiting } => match waiting.take() {
                Some(key) => {
                    let comma = open.flow && node.value == Value::Empty && key.keep;
                    if comma && self.decimal_comma(&key.name) {
                        return;
                    }
                    if node.value == Value::Empty {
                        node.at = key.name.at;
                    }
                    let Some(Open { kind: OpenKind::Map { entries, .. }, .. }) = self.open.last_mut() else { return };
                    if key.keep {
                        entries.insert(key.name.value.clone(), (key.name, node));
                    }
                }
                None => {
                    let (name, plain) = match node.value {
                        Value::Scalar(text) => (text, true),
                        Value::Empty => (String::new(), true),
                        _ => (String::new(), false),
                    };
                    let earlier = entries.get(&name).map(|(k, _)| k.at);
                    let keep = plain && earlier.is_none() && !name.is_empty();
                    let name = Placed::new(name, node.at);
                    *waiting = Some(Key { name: name.clone(), keep });
                    if !plain {
                        self.fault(within, "A list or mapping stands where a key belongs.", "Write a word, then `:`.");
                    } else if name.value.is_empty() {
                        self.fault(within, "A key is missing before this `:`.", "Write a word before it.");
                    } else if let Some(earlier) = earlier {
                        self.duplicate(&name, earlier);
                    } else {
                        self.truth_word(&name, within);
                    }
                }
            },
        }
    }

    fn duplicate(&mut self, name: &Placed<String>, earlier: Span) {
        let file = self.faults.file();
        let (first, second) = (file.line_column(earlier.start).line, file.line_column(name.at.start).line);
        let word = &name.value;
        let advice = "Keep one of the two, or give the other a name of its own.";
        self.faults.add(
            DUPLICATE_KEY,
            earlier,
            word,
            format!("`{word}` stands here and again on line {second}."),
            advice,
        );
        self.faults.add(DUPLICATE_KEY, name.at, word, format!("`{word}` already stands on line {first}."), advice);
    }

    /// A key that is one of [`TRUTH_WORDS`].
    fn truth_word(&mut self, name: &Placed<String>, at: Span) {
        if TRUTH_WORDS.contains(&name.to_lowercase().as_str()) {
            self.fault(
                at,
                format!("`{}` cannot be a key: some programs read it as true or false.", name.value),
                "Use another word.",
            );
        }
    }

    /// `{rating: 1,5 A}`: the comma ends the value, and `5 A` is left over as a key. Says so, and
    /// puts the number together again, so that nothing else is reported of it.
    fn decimal_comma(&mut self, leftover: &Placed<String>) -> bool {
        let base = self.base;
        let Some(Open { kind: OpenKind::Map { entries, .. }, .. }) = self.open.last_mut() else { return false };
        let Some((_, (_, before))) = entries.last_mut() else { return false };
        let Value::Scalar(text) = &before.value else { return false };
        let between = self.yaml.get(before.at.end - base..leftover.at.start - base).unwrap_or("");
        let digits = |c: char| c.is_ascii_digit();
        if between != "," || !text.ends_with(digits) || !leftover.value.starts_with(digits) {
            return false;
        }
        let written = format!("{text},{}", leftover.value);
        let mended = format!("{text}.{}", leftover.value);
        let three = leftover.value.chars().take_while(char::is_ascii_digit).count() == 3;
        let advice = if three {
            format!(
                "Write `{text}{}` if the comma parts thousands, `{mended}` if it is a decimal point.",
                leftover.value
            )
        } else {
            format!("Write `{mended}`, with a decimal point.")
        };
        let at = Span::new(before.at.start - base, leftover.at.end - base);
        before.at.end = leftover.at.end;
        before.value = Value::Scalar(mended);
        // A second comma in the same value takes the place of what was said of the first.
        if self.faults.found.last().is_some_and(|f| f.rule == YAML_SYNTAX && f.place.span.start == base + at.start) {
            self.faults.found.pop();
        }
        let written = self.yaml.get(at.start..at.end).unwrap_or(&written).to_owned();
        let kind = if three { "comma" } else { "decimal comma" };
        self.fault(at, format!("`{written}` has a {kind} in it, and inside brackets a comma ends the value."), advice);
        true
    }

    /// Looks at what no value covers: comments that look as if they were meant as part of a value, and tabs.
    /// After a syntax error only the part before it is known.
    fn comments_and_tabs(&mut self, until: Option<usize>) {
        let until = until.map_or(self.yaml.len(), |at| {
            // The error's own line is looked at by the one who explains the error.
            self.yaml[..at].rfind('\n').map_or(0, |i| i + 1)
        });
        let scalars = std::mem::take(&mut self.scalars);
        let mut known = scalars.iter().peekable();
        let mut offset = 0;
        for line in self.yaml.split_inclusive('\n') {
            let start = offset;
            offset += line.len();
            if start >= until {
                break;
            }
            if !line.contains(['#', '\t']) {
                continue;
            }
            let mut comment = None;
            let mut tab = None;
            for (i, c) in line.char_indices() {
                let at = start + i;
                while known.peek().is_some_and(|(s, _)| s.end <= at) {
                    known.next();
                }
                let within = known.peek().is_some_and(|(s, _)| s.start <= at);
                if c == '\t' && tab.is_none() {
                    tab = Some(at);
                }
                if c == '#' && !within && (i == 0 || line[..i].ends_with([' ', '\t'])) {
                    comment = Some(at);
                    break;
                }
            }
            if let Some(at) = tab {
                self.fault(
                    Span::new(at, at + 1),
                    "A tab stands here, and YAML does not count tabs as spaces.",
                    "Use spaces instead.",
                );
            }
            if let Some(at) = comment {
                let plain = scalars
                    .iter()
                    .rev()
                    .find(|(s, _)| s.end <= at)
                    .filter(|(s, style)| *style == ScalarStyle::Plain && s.start >= start);
                if let Some((value, _)) = plain {
                    self.swallowed(*value, at, line.trim_end().len() + start);
                }
            }
        }
        self.scalars = scalars;
    }

    /// ` #` after a plain value starts a comment. `Battery #2` was not meant as one.
    fn swallowed(&mut self, value: Span, hash: usize, end: usize) -> bool {
        let gap = self.yaml.get(value.end..hash).unwrap_or("");
        let rest = self.yaml.get(hash + 1..end).unwrap_or("");
        let joined = rest.starts_with(|c: char| c.is_alphanumeric());
        let numbered = rest.trim_start().starts_with(|c: char| c.is_ascii_digit());
        if gap != " " || !(joined || numbered) {
            return false;
        }
        let start = self.yaml[..hash].rfind('\n').map_or(0, |i| i + 1);
        let before = &self.yaml[start..hash];
        let brackets = before.matches(['{', '[']).count() > before.matches(['}', ']']).count();
        let value = self.yaml[value.start..value.end].to_owned();
        let rest = &self.yaml[hash..end];
        let rest = if brackets { rest.split([',', '}', ']']).next().unwrap_or(rest) } else { rest };
        let whole = format!("{value} {}", rest.trim_end());
        self.fault(
            Span::new(hash, end),
            format!("The `#` starts a comment here, so the value is only `{value}`."),
            format!("Put the value in quotes: `\"{whole}\"`. If a comment is meant, put it on a line of its own."),
        );
        true
    }

    /// Says in plain words what stopped the parser at byte `at`. `info` is its own word for it.
    fn syntax(&mut self, at: usize, info: &str) {
        let at = at.min(self.yaml.len());
        let here = self.line_at(at);
        let column = at - here.start;
        let text = self.yaml[here.start..here.end].to_owned();
        let one = self.yaml[at..here.end.max(at)].chars().next().map_or(0, char::len_utf8);
        let spot = Span::new(at, at + one);

        let tab = if info.contains("tab") { self.yaml[here.start..].find('\t') } else { text.find('\t') };
        if let Some(tab) = tab {
            let tab = here.start + tab;
            return self.fault(
                Span::new(tab, tab + 1),
                "A tab stands here, and YAML does not count tabs as spaces.",
                "Use spaces instead.",
            );
        }
        if info.contains("anchor") {
            let end = self.yaml[at..].find(char::is_whitespace).map_or(self.yaml.len(), |n| at + n);
            return self.alias(Span::new(at, end));
        }
        if let Some(open) = self.open.iter().rev().find(|o| o.flow).map(|o| o.start) {
            return self.in_brackets(open, spot, here);
        }
        if let Some(quote) = self.unfinished_quote(at, info) {
            return self.fault(
                Span::new(quote, quote + 1),
                "The quotes that open here are not closed.",
                "Put the same sign at the end of the text. Inside the text, write `''` for a single quote, or put the text in the other kind of quotes.",
            );
        }
        if info.contains("trailing content") {
            return self.fault(
                spot,
                "The text in quotes has ended, and more stands behind it.",
                "Put all of the text in quotes. If a quote belongs to the text, use the other kind around it: `'12\" long'`, `\"it's\"`.",
            );
        }
        if info.contains("comments must be separated") {
            return self.fault(
                spot,
                "A `#` stands right behind the quotes or bracket.",
                "Put a space before it if it starts a comment, and all of the text in quotes if it belongs to it.",
            );
        }
        if info.contains("escape") || info.contains("hexadecimal") {
            return self.fault(
                spot,
                "In double quotes a `\\` means something special, and this is nothing that it can mean.",
                "Use single quotes around the text.",
            );
        }
        if let Some(sign) = info.strip_prefix("unexpected character: `").and_then(|r| r.chars().next()) {
            return self.fault(spot, format!("A value cannot start with `{sign}`."), "Put it in quotes.");
        }
        if info.contains("bracket") {
            return self.fault(spot, "This bracket closes nothing.", "Take it away, or add the one that opens.");
        }
        if text[..column.min(text.len())].trim_start().starts_with("- ") || text.trim_start().starts_with("- ") {
            let list = self.open.last().is_some_and(|o| matches!(o.kind, OpenKind::List(_)));
            if !list && !info.contains("mapping values") {
                return self.fault(
                    here,
                    "An item of a list stands here among keys.",
                    "Put the items of a list below their key, each further to the right than the key.",
                );
            }
        }
        if let Some(list) = self.open.first().filter(|o| matches!(o.kind, OpenKind::List(_))).map(|o| o.start) {
            return self.fault(
                self.line_at(list),
                "A list starts here, and front matter is made of keys.",
                "Take the `- ` away.",
            );
        }
        if let Some(above) = self.line_above(here.start)
            && !self.yaml[above.start..above.end].contains([':', '#', '"', '\'', '-'])
            && self.indent(above) >= self.indent(here)
        {
            return self.no_colon(above);
        }
        if let Some(space) = self.glued_colon(at) {
            let line = self.line_at(space.start);
            let line = self.yaml[line.start..line.end].trim().to_owned();
            return self.fault(
                space,
                format!("A space is missing after the colon in `{line}`."),
                "A key is followed by a colon and a space.",
            );
        }
        if let Some(colon) = second_colon(&text) {
            return self.colon_in_value(here.start, &text, colon);
        }
        if self.yaml[here.start..at].trim_end().ends_with(['}', ']']) {
            return self.fault(
                spot,
                "The bracket has closed, and more stands behind it.",
                "Put all of the text in quotes if the bracket belongs to it; else take away what is behind it.",
            );
        }
        if info.contains("mapping values") || info.contains("expected key") || info.contains("indentation") {
            return self.indentation(here, &text);
        }
        if info.contains("block sequence entries") || info.contains("plain scalar cannot start with '-'") {
            return self.fault(
                spot,
                "A value cannot start with `- `.",
                "If it is a list, put its items below the key. If it is text, put it in quotes.",
            );
        }
        if info.contains("simple key") {
            return self.no_colon(self.line_without_colon(at));
        }
        let written = text.trim().to_owned();
        self.fault(
            spot,
            format!("The front matter cannot be read any further than here ({info})."),
            if written.is_empty() {
                "Look at the line above.".to_owned()
            } else {
                format!("Look at `{written}` and at the line above: indentation, quotes, brackets, and a space after each colon.")
            },
        );
    }

    /// The line, within the YAML, in which byte `at` lies, without its line end.
    fn line_at(&self, at: usize) -> Span {
        let start = self.yaml[..at].rfind('\n').map_or(0, |i| i + 1);
        let end = self.yaml[at..].find('\n').map_or(self.yaml.len(), |i| at + i);
        Span::new(start, start + self.yaml[start..end].trim_end().len())
    }

    /// The last line above byte `at` that is not empty.
    fn line_above(&self, at: usize) -> Option<Span> {
        let mut end = self.yaml[..at].rfind('\n')?;
        loop {
            let line = self.line_at(end);
            if !self.yaml[line.start..line.end].trim().is_empty() {
                return Some(line);
            }
            end = self.yaml[..line.start].rfind('\n')?;
        }
    }

    /// By how many bytes a line is indented.
    fn indent(&self, line: Span) -> usize {
        let text = &self.yaml[line.start..line.end];
        text.len() - text.trim_start().len()
    }

    /// A line that is no key with a value.
    fn no_colon(&mut self, line: Span) {
        let line = Span::new(line.start + self.indent(line), line.end);
        let written = self.yaml[line.start..line.end].to_owned();
        self.fault(
            line,
            format!("There is no colon in `{written}`, so it is no key with a value."),
            "Write a key, a colon, a space and the value. If the line goes on with the text above it, put the whole text in quotes.",
        );
    }

    /// Inside brackets.
    fn in_brackets(&mut self, open: usize, spot: Span, here: Span) {
        let before = self.line_at(open);
        // A `#` may have taken the rest of the line with it; that was reported.
        let hash = |f: &crate::finding::Finding| f.place.span.start >= self.base + open && f.message.contains('#');
        if self.faults.found.iter().any(hash) {
            return;
        }
        let bracket = &self.yaml[open..open + 1];
        let closing = if bracket == "{" { "}" } else { "]" };
        let line = self.yaml[before.start..before.end].to_owned();
        if before.start == here.start {
            if self.yaml[spot.start..].starts_with(':') {
                let from = self.yaml[..spot.start].rfind(['{', '[', ',']).map_or(open, |i| i + 1);
                let to = self.yaml[spot.start..here.end].find([',', '}', ']']).map_or(here.end, |i| spot.start + i);
                let entry = self.yaml[from..to].to_owned();
                if let Some(colon) = second_colon(&entry) {
                    let word = entry[..colon].rsplit([' ', ':']).next().unwrap_or("").to_owned();
                    self.colon_in_value(from, &entry, colon);
                    if let Some(fault) = self.faults.found.last_mut() {
                        fault.advice.push(format!("If `{word}` is a key of its own, put a comma before it."));
                    }
                    return;
                }
            }
            if self.yaml[spot.start..].starts_with(',') {
                return self.fault(spot, "There is a comma too many here.", "Take it away.");
            }
            if self.yaml[spot.start..].starts_with('-') {
                return self.fault(
                    spot,
                    "A value inside brackets cannot be or start with a lone `-`.",
                    "Put it in quotes.",
                );
            }
            if self.yaml[spot.start..].starts_with([']', '}']) {
                return self.fault(
                    spot,
                    format!("This bracket does not fit the `{bracket}` that is open."),
                    format!("Close `{bracket}` by `{closing}`."),
                );
            }
            if spot.start < here.end {
                return self.fault(
                    spot,
                    "Inside brackets, keys and values are parted by commas; one is missing before this.",
                    "Put a comma between them. If a bracket or comma belongs to a text, put the text in quotes.",
                );
            }
        }
        self.fault(
            Span::new(open, open + 1),
            format!("The bracket that opens here is not closed: `{}`.", line.trim()),
            format!("Add `{closing}` where its contents end."),
        );
    }

    /// Where quotes open that nothing closes.
    fn unfinished_quote(&self, at: usize, info: &str) -> Option<usize> {
        let about = info.contains("quoted scalar")
            && !info.contains("escape")
            && !info.contains("trailing")
            && !info.contains("hexadecimal")
            && !info.contains("Unicode");
        if !about {
            return None;
        }
        // The parser points at the quote, or somewhere behind it.
        if self.yaml[at..].starts_with(['"', '\'']) {
            return Some(at);
        }
        self.yaml[..at].rfind(['"', '\''])
    }

    /// On the line of byte `at`, or the one above: a colon with no space behind it, where a key should be.
    fn glued_colon(&self, at: usize) -> Option<Span> {
        for line in [Some(self.line_at(at)), self.line_above(at)].into_iter().flatten() {
            let text = &self.yaml[line.start..line.end];
            if text.contains(": ") || text.ends_with(':') || text.contains("://") {
                continue;
            }
            let indent = text.len() - text.trim_start().len();
            let word = text.trim_start().find(|c: char| !(c.is_alphanumeric() || c == '-'));
            if let Some(end) = word
                && text[indent + end..].starts_with(':')
            {
                let colon = line.start + indent + end;
                return Some(Span::new(colon, colon + 1));
            }
        }
        None
    }

    /// The line at byte `at`, or the one above, that has no colon.
    fn line_without_colon(&self, at: usize) -> Span {
        let here = self.line_at(at);
        let without = |line: &Span| {
            let text = self.yaml[line.start..line.end].trim();
            !text.is_empty() && !text.contains(':')
        };
        Some(here).filter(without).or_else(|| self.line_above(at).filter(without)).unwrap_or(here)
    }

    /// `title: Battery: moved to the back`
    fn colon_in_value(&mut self, start: usize, entry: &str, colon: usize) {
        let first = entry.find(": ").unwrap_or(0);
        let key = entry[..first].trim().trim_start_matches("- ");
        let value = entry[first + 1..].trim();
        let sign = if value.contains('"') { '\'' } else { '"' };
        let at = start + colon;
        self.fault(
            Span::new(at, at + 1),
            format!(
                "A colon and a space stand inside the value of `{key}`, and YAML takes what is before them for a key."
            ),
            format!("Put the value in quotes: `{key}: {sign}{value}{sign}`."),
        );
    }

    /// A line that starts at a column where none of the open mappings does.
    fn indentation(&mut self, here: Span, text: &str) {
        let indent = text.len() - text.trim_start().len();
        let above = self.line_above(here.start).map(|l| self.yaml[l.start..l.end].to_owned());
        let at = Span::new(here.start + indent, here.end);
        match above {
            Some(above) if !above.trim_end().ends_with(':') && indent > above.len() - above.trim_start().len() => self
                .fault(
                    at,
                    format!(
                        "This line stands further to the right than `{}`, which has its value already.",
                        above.trim()
                    ),
                    "Start it below the first letter of the line that it belongs beside.",
                ),
            _ => self.fault(
                at,
                format!("This line starts after {indent} spaces, and no line that it could belong beside does."),
                "Start it exactly below the first letter of the lines that it belongs beside.",
            ),
        }
    }
}

/// Where a second `: ` stands in a line or an entry, outside quotes and brackets.
fn second_colon(text: &str) -> Option<usize> {
    let mut colons = 0;
    let mut quote = None;
    let mut depth = 0;
    let mut last = ' ';
    for (i, c) in text.char_indices() {
        match (quote, c) {
            (Some(q), c) if c == q => quote = None,
            (Some(_), _) => {}
            (None, '"' | '\'') if !last.is_alphanumeric() => quote = Some(c),
            (None, '{' | '[') => depth += 1,
            (None, '}' | ']') => depth -= 1,
            (None, '#') if last == ' ' => return None,
            (None, ':') if depth == 0 && text[i + 1..].starts_with(' ') || i + 1 == text.len() && c == ':' => {
                colons += 1;
                if colons == 2 {
                    return Some(i);
                }
            }
            _ => {}
        }
        last = c;
    }
    None
}

/// Reads the same text with `serde_yaml`, guided by the tree, and reports where the two differ.
fn compare(yaml: &str, base: usize, node: &Node, faults: &mut Faults<'_>) {
    let differing = RefCell::new(Vec::new());
    let result = Agree { node, differing: &differing }.deserialize(serde_yaml::Deserializer::from_str(yaml));
    for at in differing.into_inner() {
        faults.add(
            YAML_SYNTAX,
            at,
            "",
            "Two YAML readers do not take this value alike, so people might not either.",
            "Write it on one line, in quotes.",
        );
    }
    if let Err(error) = result {
        let at = error.location().map_or(base, |l| base + l.index().min(yaml.len()));
        faults.add(
            YAML_SYNTAX,
            Span::new(at, at),
            "",
            "Two YAML readers do not take this line alike.",
            "Write it more plainly: one key a line, values in quotes where they hold special signs.",
        );
    }
}

/// Reads a value as the tree says it is, and notes where it is not.
#[derive(Clone, Copy)]
struct Agree<'a> {
    node: &'a Node,
    differing: &'a RefCell<Vec<Span>>,
}

impl<'de> DeserializeSeed<'de> for Agree<'_> {
    type Value = ();
    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        match &self.node.value {
            Value::Empty | Value::Scalar(_) => deserializer.deserialize_str(self),
            Value::List(_) => deserializer.deserialize_seq(self),
            Value::Map(_) => deserializer.deserialize_map(self),
        }
    }
}

impl<'de> Visitor<'de> for Agree<'_> {
    type Value = ();

    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("what the other YAML reader found")
    }

    fn visit_str<E: serde::de::Error>(self, theirs: &str) -> Result<(), E> {
        if theirs != self.node.text().unwrap_or("") {
            self.differing.borrow_mut().push(self.node.at);
        }
        Ok(())
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut access: A) -> Result<(), A::Error> {
        let Value::List(items) = &self.node.value else { return Ok(()) };
        for node in items {
            if access.next_element_seed(Agree { node, ..self })?.is_none() {
                return Err(serde::de::Error::custom("fewer items"));
            }
        }
        match access.next_element::<serde::de::IgnoredAny>()? {
            None => Ok(()),
            Some(_) => Err(serde::de::Error::custom("more items")),
        }
    }

    fn visit_map<A: MapAccess<'de>>(self, mut access: A) -> Result<(), A::Error> {
        let Value::Map(entries) = &self.node.value else { return Ok(()) };
        for (key, node) in entries.values() {
            let key = Node { at: key.at, value: Value::Scalar(key.value.clone()) };
            if access.next_key_seed(Agree { node: &key, ..self })?.is_none() {
                return Err(serde::de::Error::custom("fewer keys"));
            }
            access.next_value_seed(Agree { node, ..self })?;
        }
        match access.next_key::<serde::de::IgnoredAny>()? {
            None => Ok(()),
            Some(_) => Err(serde::de::Error::custom("more keys")),
        }
    }
}
