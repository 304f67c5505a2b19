//! Holds a tree against the table of keys, and says everything that does not fit.
//!
//! Knows no guide: whatever it lets pass, [`super::read()`] only has to pick up.

use std::collections::BTreeSet;

use super::fault::{BAD_NAME, BAD_VALUE, Faults, MISSING_KEY, UNKNOWN_KEY, UNKNOWN_NAME, WRONG_SHAPE, nearest, one_of};
use super::keys::{Cases, Key, KeyShape, Named, Quantity, Table, Takes};
use super::tree::{Node, TRUTH_WORDS, Value};
use crate::quantity::read::{kind_of, units::Kind};
use crate::quantity::{Current, Duration, Power, Ratio, ReadError, Readable};
use crate::source::{Placed, Span};

/// The names that a file gives to things.
#[derive(Clone, Debug, Default)]
pub struct Names {
    zones: Vec<String>,
    parts: Vec<String>,
    runs: Vec<String>,
    states: Vec<String>,
}

impl Names {
    /// The names in front matter.
    pub fn of(root: &Node) -> Names {
        let under = |named: Named| -> Vec<String> {
            let entries = root.get(named.key()).and_then(Node::entries);
            let mut names: Vec<String> = Vec::new();
            for name in entries.into_iter().flat_map(|e| e.keys()) {
                // A bad name is reported once, where it is given, and not wherever its good form is used.
                let good = if is_name(name) { String::new() } else { plain_name(name) };
                names.extend([name.clone(), good].into_iter().filter(|n| !n.is_empty()));
            }
            names
        };
        Names {
            zones: under(Named::Zone),
            parts: under(Named::Part),
            runs: under(Named::Run),
            states: under(Named::State),
        }
    }

    /// The names of one kind of thing, in the author's order.
    pub fn all(&self, named: Named) -> &[String] {
        match named {
            Named::Zone => &self.zones,
            Named::Part => &self.parts,
            Named::Run => &self.runs,
            Named::State => &self.states,
            Named::Variant => &[],
        }
    }

    /// Whether there is such a thing.
    pub fn has(&self, named: Named, name: &str) -> bool {
        self.all(named).iter().any(|n| n == name)
    }

    /// Whether there is such a thing, or nobody can tell: when no name of its kind could be read, that is what is reported.
    pub fn may_have(&self, named: Named, name: &str) -> bool {
        self.all(named).is_empty() || self.has(named, name)
    }
}

/// The part's name in a terminal, and what says which terminal: `battery+` is `battery` and `+`,
/// `body@bay` is `body` and `@bay`, `charger.in-` is `charger` and `.in-`.
pub fn split_terminal(text: &str) -> (&str, &str) {
    let end = text.find(['@', '.']).unwrap_or(text.len());
    let (name, rest) = text.split_at(end);
    if rest.is_empty() && name.ends_with(['+', '-', '−']) {
        let sign = name.char_indices().next_back().map_or(0, |(i, _)| i);
        return name.split_at(sign);
    }
    (name, rest)
}

/// Two zones in a key: `load to bay`.
pub fn zone_pair(text: &str) -> Option<(&str, &str)> {
    let mut words = text.split_whitespace();
    match (words.next(), words.next(), words.next(), words.next()) {
        (Some(from), Some("to"), Some(to), None) => Some((from, to)),
        _ => None,
    }
}

/// A shortest and a longest time: `60 s to 1800 s`.
pub fn time_range(text: &str) -> Result<(Duration, Duration), ReadError> {
    let how = || {
        "Write the shortest and the longest time: `60 s to 1800 s`. If the maker gives only one of the two, leave this point out.".to_owned()
    };
    let Some((least, most)) = text.split_once(" to ") else {
        return Err(ReadError { message: format!("`{text}` is not two times"), remedy: how() });
    };
    let (least, most) = (Duration::read(least)?, Duration::read(most)?);
    if least > most {
        return Err(ReadError { message: format!("in `{text}` the first time is the longer one"), remedy: how() });
    }
    if most.si() == 0.0 {
        return Err(ReadError { message: format!("`{text}` is no time at all"), remedy: how() });
    }
    Ok((least, most))
}

/// A date, as 2026-10-03.
pub fn date(text: &str) -> Result<jiff::civil::Date, ReadError> {
    let shape = text.len() == 10
        && text.bytes().enumerate().all(|(i, b)| if i == 4 || i == 7 { b == b'-' } else { b.is_ascii_digit() });
    if !shape {
        return Err(ReadError {
            message: format!("`{text}` is not a date"),
            remedy: "Write year, month and day: `2026-10-03`.".into(),
        });
    }
    text.parse().map_err(|_| ReadError {
        message: format!("there is no day `{text}`"),
        remedy: "Write year, month and day, in this order: `2026-10-03`.".into(),
    })
}

/// Holds `node` against `table`.
pub fn check(node: &Node, table: &'static Table, names: &Names, faults: &mut Faults<'_>) {
    let top = Span::new(node.at.start, node.at.start);
    let mut check = Check { names, faults };
    check.map(node, table, &Whose { text: table.what.to_owned(), subject: String::new(), at: top, top: true });
}

/// Whose keys are being looked at.
#[derive(Clone)]
struct Whose {
    /// "the run `main-feed`"
    text: String,
    /// `main-feed`
    subject: String,
    /// Where its key stands: that is where missing keys are reported.
    at: Span,
    /// The whole file: its keys need no "of …".
    top: bool,
}

impl Whose {
    /// "`size` of the run `main-feed`"; at the top only "`title`".
    fn key(&self, key: &str) -> String {
        if self.top { format!("`{key}`") } else { format!("`{key}` of {}", self.text) }
    }
}

struct Check<'n, 'f, 's> {
    names: &'n Names,
    faults: &'f mut Faults<'s>,
}

impl Check<'_, '_, '_> {
    fn map(&mut self, node: &Node, table: &'static Table, whose: &Whose) {
        let entries = match &node.value {
            Value::Map(entries) => entries,
            Value::Empty => {
                let first = table.keys.first().map_or(String::new(), |k| format!(" Start with `{}:`.", k.name));
                self.faults.add(
                    WRONG_SHAPE,
                    node.at,
                    &whose.subject,
                    format!("Nothing stands under {}.", whose.text),
                    format!("Write its keys below it, each on a line of its own and further to the right.{first}"),
                );
                return;
            }
            Value::Scalar(text) => {
                let text = shorten(text);
                self.faults.add(
                    WRONG_SHAPE,
                    node.at,
                    &whose.subject,
                    format!("`{text}` stands where the keys of {} belong.", whose.text),
                    map_example(table),
                );
                return;
            }
            Value::List(_) => {
                self.faults.add(
                    WRONG_SHAPE,
                    node.at,
                    &whose.subject,
                    format!("A list stands where the keys of {} belong.", whose.text),
                    map_example(table),
                );
                return;
            }
        };
        let case = table.cases.as_ref().and_then(|cases| {
            let word = node.get(cases.by)?.text()?;
            cases.of.iter().find(|(w, _)| *w == word)
        });
        let case_keys: &'static [Key] = case.map_or(&[], |(_, keys)| keys);
        let keys = || table.keys.iter().chain(case_keys);
        let mut others = 0;
        for (name, (at, value)) in entries {
            if let Some(key) = keys().find(|k| k.name == name) {
                self.value(value, key.takes, key.name, whose, at.at);
            } else if let Some(shape) = &table.others {
                others += 1;
                self.other(at, value, shape.key, shape.takes, table, whose);
            } else {
                self.unknown_key(at, keys(), table.cases.as_ref(), case.map(|c| c.0), whose);
            }
        }
        if let Some(shape) = &table.others
            && shape.some
            && others == 0
        {
            self.faults.add(
                MISSING_KEY,
                node.at,
                &whose.subject,
                format!("There is nothing in {}.", whose.text),
                map_example(table),
            );
        }
        for key in keys().filter(|k| k.needed && !entries.contains_key(k.name)) {
            // A key that is there in another spelling, or that YAML lost, was reported as that.
            let misspelt = entries.keys().any(|name| {
                let glued = name.split(':').next() == Some(key.name);
                let known = keys().any(|k| k.name == name);
                glued || !known && nearest(name, keys().map(|k| k.name)) == Some(key.name)
            });
            let lost = whose.top && self.faults.lost.iter().any(|l| l == key.name);
            if !misspelt && !lost {
                self.missing(key, whose);
            }
        }
    }

    fn missing(&mut self, key: &Key, whose: &Whose) {
        self.faults.add(
            MISSING_KEY,
            whose.at,
            &whose.subject,
            format!("{} has no `{}`.", capital(&whose.text), key.name),
            format!("Add {}. {}", written_key(key.name, key.takes), key.doc),
        );
    }

    fn unknown_key<'k>(
        &mut self,
        name: &Placed<String>,
        keys: impl Iterator<Item = &'k Key> + Clone,
        cases: Option<&Cases>,
        case: Option<&str>,
        whose: &Whose,
    ) {
        let known = keys.clone().map(|k| k.name);
        let elsewhere = || -> Vec<&str> {
            let of = cases.map_or(&[][..], |c| c.of);
            of.iter().filter(|(_, keys)| keys.iter().any(|k| k.name == name.value)).map(|(word, _)| *word).collect()
        };
        let message = format!("`{}` is not a key of {}.", name.value, whose.text);
        if TRUTH_WORDS.contains(&name.to_lowercase().as_str()) {
            return; // Reported where the YAML was read.
        }
        if let Some((word, value)) = name.split_once(':')
            && keys.clone().any(|k| k.name == word)
        {
            let message = format!("A space is missing after the colon in `{}`.", shorten(name));
            let advice = format!("Write `{word}: {}`.", shorten(value));
            return self.faults.add(UNKNOWN_KEY, name.at, &whose.subject, message, advice);
        }
        let (message, advice) = match (nearest(name, known.clone()), elsewhere()) {
            (Some(near), _) => (message, format!("Did you mean `{near}`?")),
            (None, kinds) if !kinds.is_empty() && case.is_some() => (
                format!("{} is a {}, and has no `{}`.", capital(&whose.text), case.unwrap_or(""), name.value),
                format!("Take it away, or put it at a part that is: {}.", one_of(kinds)),
            ),
            (None, kinds) if !kinds.is_empty() => return,
            _ => (message, format!("Take it away, or use one of these: {}.", one_of(known))),
        };
        self.faults.add(UNKNOWN_KEY, name.at, &whose.subject, message, advice);
    }

    /// A key that is not a word of ours.
    fn other(
        &mut self,
        name: &Placed<String>,
        value: &Node,
        shape: KeyShape,
        takes: &'static Takes,
        table: &'static Table,
        whose: &Whose,
    ) {
        let mut below = whose.clone();
        match shape {
            KeyShape::New(named) => {
                self.new_name(name, named);
                below = Whose {
                    text: format!("the {} `{}`", named.noun(), shorten(name)),
                    subject: name.value.clone(),
                    at: name.at,
                    top: false,
                };
            }
            KeyShape::Known(named) => {
                if !self.names.may_have(named, name) {
                    let ours = nearest(name, table.keys.iter().map(|k| k.name));
                    let theirs = nearest(name, self.names.all(named).iter().map(String::as_str));
                    match (theirs, ours) {
                        (None, Some(ours)) => {
                            let message = format!("`{}` is not a key of {}.", name.value, whose.text);
                            let advice = format!("Did you mean `{ours}`?");
                            return self.faults.add(UNKNOWN_KEY, name.at, &whose.subject, message, advice);
                        }
                        _ => self.unknown_name(name, name.at, named, &whose.text, &whose.subject),
                    }
                }
            }
            KeyShape::ZonePair => match zone_pair(name) {
                Some((from, to)) if from == to => self.faults.add(
                    BAD_VALUE,
                    name.at,
                    &whose.subject,
                    format!("`{}` names the same zone twice.", name.value),
                    "Name the two zones between which it was measured.",
                ),
                Some((from, to)) => {
                    for zone in [from, to] {
                        if !self.names.may_have(Named::Zone, zone) {
                            self.unknown_name(zone, name.at, Named::Zone, &whose.text, &whose.subject);
                        }
                    }
                }
                None => self.faults.add(
                    BAD_VALUE,
                    name.at,
                    &whose.subject,
                    format!("`{}` does not name two zones.", name.value),
                    "Write them as in `load to bay: 5.5 mΩ`.",
                ),
            },
            KeyShape::Percentage => match Ratio::read(name) {
                Ok(_) => {}
                Err(error) => self.unreadable(name.at, &whose.subject, error, &whose.text),
            },
            KeyShape::Free => {}
        }
        match (shape, takes) {
            // A thing with a name of its own is called by it.
            (KeyShape::New(_), Takes::Map(table)) => self.map(value, table, &below),
            _ => self.value(value, takes, name, &below, name.at),
        }
    }

    fn new_name(&mut self, name: &Placed<String>, named: Named) {
        const NEVER: &[&str] = &["none"];
        let taken: &[&str] = match named {
            Named::Part => &["for", "every", "label"],
            Named::Zone => &["outside"],
            _ => &[],
        };
        let noun = named.noun();
        if taken.iter().chain(NEVER).any(|t| *t == name.value) {
            self.faults.add(
                BAD_NAME,
                name.at,
                &name.value,
                format!("No {noun} can be called `{}`: the word means something else in front matter.", name.value),
                "Give it another name.",
            );
        } else if !is_name(name) {
            let better = plain_name(name);
            let example = if better.is_empty() { "`main-feed`".to_owned() } else { format!("`{better}`") };
            self.faults.add(
                BAD_NAME,
                name.at,
                &name.value,
                format!("`{}` cannot be the name of a {noun}.", shorten(name)),
                format!(
                    "Write {example}: names start with a letter and have only the small letters a to z, digits, and hyphens between them. `label:` may say it in any words."
                ),
            );
        }
    }

    /// `what` is the key, or the thing, that names it.
    fn unknown_name(&mut self, name: &str, at: Span, named: Named, what: &str, subject: &str) {
        let (message, advice) = unknown_name(name, named, self.names);
        self.faults.add(UNKNOWN_NAME, at, subject, format!("{}: {message}", capital(what)), advice);
    }

    fn unreadable(&mut self, at: Span, subject: &str, error: ReadError, key: &str) {
        let ReadError { message, remedy } = error;
        self.faults.add(
            BAD_VALUE,
            at,
            subject,
            format!("{key}: {}", full_stop(&message)),
            full_stop(&capital(&remedy)),
        );
    }

    /// Holds a value against what its key takes. `key_at` is where the key stands.
    fn value(&mut self, node: &Node, takes: &'static Takes, key: &str, whose: &Whose, key_at: Span) {
        let subject = whose.subject.as_str();
        match takes {
            Takes::Map(table) => {
                let below = Whose { text: whose.key(key), subject: subject.to_owned(), at: key_at, top: false };
                self.map(node, table, &below);
            }
            Takes::WordOrMap(words, table) => match &node.value {
                Value::Map(_) => {
                    let below = Whose { text: whose.key(key), subject: subject.to_owned(), at: key_at, top: false };
                    self.map(node, table, &below);
                }
                Value::Scalar(text) if table.keys.iter().any(|k| k.name == text) => {
                    self.faults.add(
                        BAD_VALUE,
                        node.at,
                        subject,
                        format!("`{key}: {text}` does not say enough."),
                        format!("Write {}.", map_in_brackets(key, table)),
                    );
                }
                _ => self.word(node, key, words, whose),
            },
            Takes::List(item) | Takes::OneOrMore(item) => match &node.value {
                Value::List(items) => {
                    for (i, item_node) in items.iter().enumerate() {
                        let below = match item {
                            Takes::Map(_) => Whose {
                                text: format!("item {} of `{key}`", i + 1),
                                subject: subject.to_owned(),
                                at: Span::new(item_node.at.start, item_node.at.start),
                                top: false,
                            },
                            _ => whose.clone(),
                        };
                        match item {
                            Takes::Map(table) => self.map(item_node, table, &below),
                            _ => self.value(item_node, item, key, &below, item_node.at),
                        }
                    }
                }
                _ if matches!(takes, Takes::OneOrMore(_)) => self.value(node, item, key, whose, key_at),
                _ => self.faults.add(
                    WRONG_SHAPE,
                    node.at,
                    subject,
                    format!("`{key}` takes a list, and this is none."),
                    format!("Start every item on a line of its own with `- `, below `{key}:`."),
                ),
            },
            Takes::Change => match &node.value {
                Value::Map(_) => {}
                _ => self.faults.add(
                    WRONG_SHAPE,
                    node.at,
                    subject,
                    format!("{} takes what is laid over the front matter.", whose.key(key)),
                    "Write it as in `change: {runs: {main-return: none}}`.",
                ),
            },
            _ => match &node.value {
                Value::Scalar(text) => self.scalar(text, node, takes, key, whose),
                Value::Empty => self.faults.add(
                    WRONG_SHAPE,
                    node.at,
                    subject,
                    format!("Nothing stands after {}.", whose.key(key)),
                    format!("Write {}, or take the key away.", written_key(key, takes)),
                ),
                Value::Map(_) | Value::List(_) => {
                    let shape = if matches!(node.value, Value::Map(_)) { "a mapping" } else { "a list" };
                    let colon = match &node.value {
                        Value::Map(entries) if matches!(takes, Takes::Text) && entries.len() == 1 => {
                            " If this is one text with `: ` in it, put all of it in quotes."
                        }
                        _ => "",
                    };
                    self.faults.add(
                        WRONG_SHAPE,
                        node.at,
                        subject,
                        format!("{} takes {}, and {shape} stands here.", whose.key(key), noun(takes)),
                        format!("Write {}.{colon}", written_key(key, takes)),
                    );
                }
            },
        }
    }

    fn word(&mut self, node: &Node, key: &str, words: &'static [&'static str], whose: &Whose) {
        let Value::Scalar(text) = &node.value else {
            self.faults.add(
                WRONG_SHAPE,
                node.at,
                &whose.subject,
                format!("{} takes one word.", whose.key(key)),
                format!("Write {}.", one_of(words.iter().copied())),
            );
            return;
        };
        if words.contains(&text.as_str()) {
            return;
        }
        let advice = match nearest(text, words.iter().copied()) {
            Some(near) => format!("Did you mean `{near}`? It can be {}.", one_of(words.iter().copied())),
            None => format!("It can be {}.", one_of(words.iter().copied())),
        };
        let message = format!("`{}` is not a word that {} takes.", shorten(text), whose.key(key));
        self.faults.add(BAD_VALUE, node.at, &whose.subject, message, advice);
    }

    fn scalar(&mut self, text: &str, node: &Node, takes: &'static Takes, key: &str, whose: &Whose) {
        let (at, subject) = (node.at, whose.subject.as_str());
        let quoted = whose.key(key);
        let refuse = |this: &mut Self, message: String, remedy: String| {
            this.unreadable(at, subject, ReadError { message, remedy }, &quoted);
        };
        // Escapes in double quotes can write what cannot stand in the file itself.
        if let Some(sign) = text.chars().find(|c| is_hidden(*c)) {
            let remedy = "Leave it out.".to_owned();
            return refuse(self, format!("an invisible sign (U+{:04X}) is in the text", sign as u32), remedy);
        }
        match takes {
            Takes::Text => {
                if text.trim().is_empty() {
                    refuse(self, "the text is empty".into(), format!("Write {}.", written_key(key, takes)));
                }
            }
            Takes::Date => {
                if let Err(error) = date(text) {
                    self.unreadable(at, subject, error, &quoted);
                }
            }
            Takes::Flag => {
                if text != "true" && text != "false" {
                    let meant = match text.to_lowercase().as_str() {
                        "yes" | "y" | "on" | "true" => Some("true"),
                        "no" | "n" | "off" | "false" => Some("false"),
                        _ => None,
                    };
                    let remedy = meant.map_or("Write `true` or `false`.".to_owned(), |m| format!("Write `{m}`."));
                    refuse(self, format!("`{}` is neither true nor false", shorten(text)), remedy);
                }
            }
            Takes::Count => {
                if !text.bytes().all(|b| b.is_ascii_digit())
                    || text.parse::<u32>().is_ok_and(|n| n > 100)
                    || text.len() > 3
                {
                    refuse(
                        self,
                        format!("`{}` is not a whole number up to 100", shorten(text)),
                        "Write it as in `2`.".into(),
                    );
                }
            }
            Takes::Number => {
                if number(text).is_none() {
                    refuse(self, format!("`{}` is not a number", shorten(text)), "Write it as in `8.8`.".into());
                }
            }
            Takes::Quantity(quantity) => self.quantity(text, at, quantity, &quoted, subject),
            Takes::TimeRange => {
                if let Err(error) = time_range(text) {
                    self.unreadable(at, subject, error, &quoted);
                }
            }
            Takes::Word(words) => self.word(node, key, words, whose),
            Takes::Name(named) => {
                if !self.names.may_have(*named, text) {
                    self.unknown_name(text, at, *named, &quoted, subject);
                }
            }
            Takes::OutsideOrZone => {
                if text != "outside" && !self.names.may_have(Named::Zone, text) {
                    let (message, advice) = unknown_name(text, Named::Zone, self.names);
                    let outside = nearest(text, ["outside"]).map(|_| "Did you mean `outside`?".to_owned());
                    let message = format!("{}: {message}", capital(&quoted));
                    self.faults.add(UNKNOWN_NAME, at, subject, message, outside.unwrap_or(advice));
                }
            }
            Takes::Terminal => self.terminal(text, at, &quoted, subject),
            Takes::Activity => {
                if let Err(error) = activity(text) {
                    self.unreadable(at, subject, error, &quoted);
                }
            }
            Takes::Address => {
                if !is_address(text) {
                    refuse(
                        self,
                        format!("`{}` is not a web address", shorten(text)),
                        "Write it in full: `https://example.org/`.".into(),
                    );
                }
            }
            Takes::Language => {
                if !is_language(text) {
                    refuse(
                        self,
                        format!("`{}` is not a language", shorten(text)),
                        "Write its short code: `en`, `de`, `pt-BR`.".into(),
                    );
                }
            }
            Takes::Map(_)
            | Takes::List(_)
            | Takes::OneOrMore(_)
            | Takes::WordOrMap(..)
            | Takes::Change
            | Takes::Free => {}
        }
    }

    fn quantity(&mut self, text: &str, at: Span, quantity: &Quantity, key: &str, subject: &str) {
        match (quantity.read)(text) {
            Ok(false) => {}
            Ok(true) => self.unreadable(
                at,
                subject,
                ReadError {
                    message: format!("a {} of `{text}` is none", quantity.noun),
                    remedy: format!("Write it as in `{}`, or take the key away.", quantity.example),
                },
                key,
            ),
            Err(error) => self.unreadable(at, subject, error, key),
        }
    }

    fn terminal(&mut self, text: &str, at: Span, key: &str, subject: &str) {
        let (name, _) = split_terminal(text);
        if name.is_empty() || text.contains(char::is_whitespace) {
            self.unreadable(
                at,
                subject,
                ReadError {
                    message: format!("`{}` is not a terminal", shorten(text)),
                    remedy:
                        "Write a part's name, and which terminal: `battery+`, `breaker.line`, `body@bay`, or `post`."
                            .into(),
                },
                key,
            );
        } else if !self.names.may_have(Named::Part, name) {
            self.unknown_name(name, at, Named::Part, key, subject);
        }
    }
}

/// What is wrong with a name that names nothing, and what may have been meant.
pub fn unknown_name(name: &str, named: Named, names: &Names) -> (String, String) {
    let noun = named.noun();
    let known = names.all(named);
    let advice = match nearest(name, known.iter().map(String::as_str)) {
        Some(near) => format!("Did you mean `{near}`?"),
        None if known.is_empty() => format!("Describe it under `{}:`.", named.key()),
        None if known.len() <= 12 => {
            format!(
                "Use one of these, or describe it under `{}:`: {}.",
                named.key(),
                one_of(known.iter().map(String::as_str))
            )
        }
        None => format!("Describe it under `{}:`, or correct the name.", named.key()),
    };
    (format!("there is no {noun} `{}`.", shorten(name)), advice)
}

/// What a part does in a state.
pub fn activity(text: &str) -> Result<super::Activity, ReadError> {
    use super::Activity;
    const WORDS: [(&str, Activity); 4] = [
        ("running", Activity::Running),
        ("cranking", Activity::Cranking),
        ("open", Activity::Open),
        ("closed", Activity::Closed),
    ];
    if let Some((_, activity)) = WORDS.iter().find(|(word, _)| *word == text) {
        return Ok(*activity);
    }
    if text.starts_with(|c: char| c.is_alphabetic()) {
        let words = || WORDS.iter().map(|(word, _)| *word);
        let mean = nearest(text, words()).map_or(String::new(), |near| format!("Did you mean `{near}`? "));
        return Err(ReadError {
            message: format!("`{}` is not something that a part does", shorten(text)),
            remedy: format!("{mean}Write a current as in `15 A`, a power as in `350 W`, or {}.", one_of(words())),
        });
    }
    match kind_of(text) {
        Some(Kind::Power) => Power::read(text).map(Activity::Power),
        _ => Current::read(text).map(Activity::Takes),
    }
}

/// A plain positive number.
pub fn number(text: &str) -> Option<f64> {
    let plain = text.bytes().all(|b| b.is_ascii_digit() || b == b'.') && text.starts_with(|c: char| c.is_ascii_digit());
    text.parse().ok().filter(|n: &f64| plain && n.is_finite() && *n > 0.0 && *n < 1e6)
}

/// `https://…` or `http://…`, without anything that could end an attribute.
pub fn is_address(text: &str) -> bool {
    let rest = text.strip_prefix("https://").or_else(|| text.strip_prefix("http://"));
    rest.is_some_and(|r| !r.is_empty() && !r.starts_with('/'))
        && !text.contains(|c: char| c.is_whitespace() || c.is_control() || matches!(c, '"' | '\'' | '<' | '>' | '\\'))
}

/// Signs that no reader sees and that change what is read: controls, and those that turn the order of letters around.
pub fn is_hidden(sign: char) -> bool {
    (sign.is_control() && !matches!(sign, '\n' | '\t'))
        || matches!(sign, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{feff}')
}

/// A language tag: letters, then parts of letters and digits, as BCP 47 writes them.
pub fn is_language(text: &str) -> bool {
    let mut parts = text.split('-');
    parts.next().is_some_and(|p| (2..=3).contains(&p.len()) && p.bytes().all(|b| b.is_ascii_lowercase()))
        && parts.all(|p| (1..=8).contains(&p.len()) && p.bytes().all(|b| b.is_ascii_alphanumeric()))
}

/// Whether a text can be a name: it lands in addresses, file names and drawings.
pub fn is_name(text: &str) -> bool {
    text.len() <= 60
        && text.starts_with(|c: char| c.is_ascii_lowercase())
        && !text.ends_with('-')
        && text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-')
}

/// The nearest text that can be a name; empty when nothing is left.
pub fn plain_name(text: &str) -> String {
    let mut plain = String::new();
    for c in text.chars().take(60) {
        if c.is_ascii_alphanumeric() {
            plain.push(c.to_ascii_lowercase());
        } else if !plain.is_empty() && !plain.ends_with('-') {
            plain.push('-');
        }
    }
    plain.trim_start_matches(|c: char| !c.is_ascii_lowercase()).trim_end_matches('-').to_owned()
}

/// A text short enough for a message.
pub fn shorten(text: &str) -> String {
    const LONGEST: usize = 60;
    let line = text.split(['\n', '\r']).next().unwrap_or("").trim();
    if line.chars().count() <= LONGEST && line.len() == text.trim().len() {
        return line.to_owned();
    }
    let short: String = line.chars().take(LONGEST).collect();
    format!("{short}…")
}

pub(super) fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or(String::new(), |c| c.to_uppercase().chain(chars).collect())
}

fn full_stop(text: &str) -> String {
    if text.is_empty() || text.ends_with(['.', '?', '!']) { text.to_owned() } else { format!("{text}.") }
}

/// "a length such as `4.9 m`"
fn noun(takes: &Takes) -> String {
    match takes {
        Takes::Text => "a text".into(),
        Takes::Date => "a date".into(),
        Takes::Flag => "`true` or `false`".into(),
        Takes::Count | Takes::Number => "a number".into(),
        Takes::Quantity(q) => format!("a {} such as `{}`", q.noun, q.example),
        Takes::TimeRange => "a shortest and a longest time".into(),
        Takes::Word(words) => one_of(words.iter().copied()),
        Takes::Name(named) => format!("a {}'s name", named.noun()),
        Takes::OutsideOrZone => "`outside` or a zone's name".into(),
        Takes::Terminal => "a terminal".into(),
        Takes::Activity => "what the part does".into(),
        Takes::Address => "a web address".into(),
        Takes::Language => "a language".into(),
        Takes::Map(_) | Takes::WordOrMap(..) => "keys of its own".into(),
        Takes::List(_) | Takes::OneOrMore(_) => "a list".into(),
        Takes::Change => "a change".into(),
        Takes::Free => "a value".into(),
    }
}

/// A right way to write a value.
pub fn example(takes: &Takes) -> String {
    match takes {
        Takes::Text => "…".into(),
        Takes::Date => "2026-10-03".into(),
        Takes::Flag => "true".into(),
        Takes::Count => "2".into(),
        Takes::Number => "8.8".into(),
        Takes::Quantity(q) => q.example.into(),
        Takes::TimeRange => "60 s to 1800 s".into(),
        Takes::Word(words) | Takes::WordOrMap(words, _) => words.first().copied().unwrap_or("").into(),
        Takes::Name(named) => named.noun().to_owned(),
        Takes::OutsideOrZone => "outside".into(),
        Takes::Terminal => "battery+".into(),
        Takes::Activity => "15 A".into(),
        Takes::Address => "https://example.org/".into(),
        Takes::Language => "en".into(),
        Takes::Map(table) => map_in_braces(table),
        Takes::List(item) | Takes::OneOrMore(item) => format!("[{}]", example(item)),
        Takes::Change => "{runs: {main-return: none}}".into(),
        Takes::Free => "…".into(),
    }
}

fn map_in_braces(table: &Table) -> String {
    if let Some(others) = &table.others {
        let key = match others.key {
            KeyShape::New(named) | KeyShape::Known(named) => named.noun(),
            KeyShape::ZonePair => "load to bay",
            KeyShape::Percentage => "135 %",
            KeyShape::Free => "name",
        };
        return format!("{{{key}: {}}}", example(others.takes));
    }
    let needed: Vec<&Key> = table.keys.iter().filter(|k| k.needed).collect();
    let shown = if needed.is_empty() { table.keys.iter().take(1).collect() } else { needed };
    // All of front matter would fill a screen.
    const MOST: usize = 4;
    let more = if shown.len() > MOST { ", …" } else { "" };
    let keys: Vec<String> = shown.iter().take(MOST).map(|k| format!("{}: {}", k.name, example(k.takes))).collect();
    format!("{{{}{more}}}", keys.join(", "))
}

fn map_in_brackets(key: &str, table: &Table) -> String {
    format!("`{key}: {}`", map_in_braces(table))
}

fn map_example(table: &Table) -> String {
    format!("Write them as in `{}`, or below each other, further to the right.", map_in_braces(table))
}

fn written_key(key: &str, takes: &Takes) -> String {
    format!("`{key}: {}`", example(takes))
}

/// Every key of the table and of those below it, each once: what a test may look through.
pub fn every_key(table: &'static Table) -> BTreeSet<(&'static str, &'static str)> {
    fn walk(table: &'static Table, all: &mut BTreeSet<(&'static str, &'static str)>) {
        let cases = table.cases.iter().flat_map(|c| c.of.iter().flat_map(|(_, keys)| keys.iter()));
        for key in table.keys.iter().chain(cases) {
            if all.insert((table.what, key.name)) {
                value(key.takes, all);
            }
        }
        if let Some(others) = &table.others {
            value(others.takes, all);
        }
    }
    fn value(takes: &'static Takes, all: &mut BTreeSet<(&'static str, &'static str)>) {
        match takes {
            Takes::Map(table) | Takes::WordOrMap(_, table) => walk(table, all),
            Takes::List(item) | Takes::OneOrMore(item) => value(item, all),
            _ => {}
        }
    }
    let mut all = BTreeSet::new();
    walk(table, &mut all);
    all
}
