//! The JSON Schema of front matter, made from the table of keys that the reader itself checks by.

use serde_json::{Map, Value, json};

use super::check::example;
use super::keys::{GUIDE, Key, KeyShape, Table, Takes};
use super::publisher::PUBLISHER;

/// JSON Schema (2020-12) of a guide's front matter, for editors that offer keys as one writes.
///
/// It says less than the reader does: whether a named part exists, and whether a quantity makes
/// sense, is known only to the reader.
pub fn schema() -> Value {
    whole("Front matter of a guide", &GUIDE)
}

/// JSON Schema of `publisher.yaml`.
pub fn publisher_schema() -> Value {
    whole("publisher.yaml", &PUBLISHER)
}

/// What a name looks like: small letters, digits, and hyphens between them.
const NAME: &str = "^[a-z]([a-z0-9-]*[a-z0-9])?$";

fn whole(title: &str, table: &'static Table) -> Value {
    let mut schema = Map::new();
    schema.insert("$schema".into(), json!("https://json-schema.org/draft/2020-12/schema"));
    schema.insert("title".into(), json!(title));
    schema.extend(mapping(table));
    Value::Object(schema)
}

fn mapping(table: &'static Table) -> Map<String, Value> {
    let mut schema = Map::new();
    schema.insert("type".into(), json!("object"));
    if !table.keys.is_empty() {
        schema.insert("properties".into(), properties(table.keys));
    }
    if let Some(needed) = needed(table.keys) {
        schema.insert("required".into(), needed);
    }
    if let Some(others) = &table.others {
        let name = match others.key {
            KeyShape::New(_) | KeyShape::Known(_) => Some(NAME),
            KeyShape::ZonePair => Some("^[a-z][a-z0-9-]* +to +[a-z][a-z0-9-]*$"),
            KeyShape::Percentage => Some("^[0-9.]+ ?%$"),
            KeyShape::Free => None,
        };
        if let Some(pattern) = name {
            schema.insert("propertyNames".into(), json!({"pattern": pattern}));
        }
        schema.insert("additionalProperties".into(), Value::Object(value(others.takes)));
        if others.some {
            schema.insert("minProperties".into(), json!(1));
        }
    } else if let Some(cases) = &table.cases {
        let of = cases.of.iter().map(|(word, keys)| {
            let mut then = Map::new();
            then.insert("properties".into(), properties(keys));
            if let Some(needed) = needed(keys) {
                then.insert("required".into(), needed);
            }
            json!({"if": {"properties": {cases.by: {"const": word}}, "required": [cases.by]}, "then": then})
        });
        schema.insert("allOf".into(), of.collect());
        schema.insert("unevaluatedProperties".into(), json!(false));
    } else {
        schema.insert("additionalProperties".into(), json!(false));
    }
    schema
}

fn properties(keys: &'static [Key]) -> Value {
    let all = keys.iter().map(|key| {
        let mut schema = value(key.takes);
        schema.insert("description".into(), json!(key.doc));
        (key.name.to_owned(), Value::Object(schema))
    });
    Value::Object(all.collect())
}

fn needed(keys: &'static [Key]) -> Option<Value> {
    let needed: Vec<&str> = keys.iter().filter(|k| k.needed).map(|k| k.name).collect();
    (!needed.is_empty()).then(|| json!(needed))
}

fn value(takes: &'static Takes) -> Map<String, Value> {
    let schema = match takes {
        // YAML makes numbers and truth values of some words; the reader takes them as written.
        Takes::Text | Takes::Free => json!({"type": ["string", "number", "boolean"]}),
        Takes::Date => json!({"type": "string", "format": "date", "pattern": "^[0-9]{4}-[0-9]{2}-[0-9]{2}$"}),
        Takes::Flag => json!({"type": "boolean"}),
        Takes::Count => json!({"type": "integer", "minimum": 0, "maximum": 100}),
        Takes::Number => json!({"type": "number", "exclusiveMinimum": 0}),
        Takes::Quantity(quantity) => json!({"type": "string", "examples": [quantity.example]}),
        Takes::TimeRange => json!({"type": "string", "pattern": " to ", "examples": [example(takes)]}),
        Takes::Word(words) => json!({"enum": words}),
        Takes::Name(_) | Takes::OutsideOrZone => json!({"type": "string", "pattern": NAME}),
        Takes::Terminal => json!({"type": "string", "examples": ["battery+", "breaker.line", "body@bay", "post"]}),
        Takes::Activity => {
            json!({"type": "string", "examples": ["15 A", "350 W", "running", "cranking", "open", "closed"]})
        }
        Takes::Address => json!({"type": "string", "format": "uri", "pattern": "^https?://"}),
        Takes::Language => json!({"type": "string", "pattern": "^[a-z]{2,3}(-[A-Za-z0-9]{1,8})*$"}),
        Takes::Map(table) => return mapping(table),
        Takes::List(item) => json!({"type": "array", "items": value(item)}),
        Takes::OneOrMore(item) => json!({"anyOf": [value(item), {"type": "array", "items": value(item)}]}),
        Takes::WordOrMap(words, table) => json!({"anyOf": [{"enum": words}, mapping(table)]}),
        Takes::Change => json!({"type": "object"}),
    };
    match schema {
        Value::Object(schema) => schema,
        _ => Map::new(),
    }
}

/// Every key in Markdown, for the documents: one table a mapping.
pub fn reference() -> String {
    let mut text = String::new();
    section("Front matter", &GUIDE, &mut text);
    text
}

fn section(title: &str, table: &'static Table, text: &mut String) {
    let mut below: Vec<(String, &'static Table)> = Vec::new();
    let mut rows = |keys: &'static [Key], text: &mut String| {
        text.push_str("| key | takes | means |\n| --- | --- | --- |\n");
        for key in keys {
            let need = if key.needed { " (needed)" } else { "" };
            text.push_str(&format!(
                "| `{}`{need} | {} | {} |\n",
                key.name,
                column(key.takes),
                key.doc.replace('|', "\\|")
            ));
            if let Some(table) = inner(key.takes) {
                below.push((format!("`{}`", key.name), table));
            }
        }
        text.push('\n');
    };
    if let (true, Some(table)) = (table.keys.is_empty(), inner_of_others(table)) {
        return section(&format!("Each of {title}"), table, text);
    }
    text.push_str(&format!("## {title}\n\n"));
    if !table.keys.is_empty() {
        rows(table.keys, text);
    }
    if let Some(cases) = &table.cases {
        for (word, keys) in cases.of.iter().filter(|(_, keys)| !keys.is_empty()) {
            text.push_str(&format!("### `{}: {word}`\n\n", cases.by));
            rows(keys, text);
        }
    }
    let mut seen: Vec<&str> = Vec::new();
    for (title, table) in below {
        if !seen.contains(&title.as_str()) && (!table.keys.is_empty() || inner_of_others(table).is_some()) {
            section(&title, table, text);
        }
        seen.push(table.what);
    }
}

fn inner(takes: &'static Takes) -> Option<&'static Table> {
    match takes {
        Takes::Map(table) | Takes::WordOrMap(_, table) => Some(table),
        Takes::List(item) | Takes::OneOrMore(item) => inner(item),
        _ => None,
    }
}

fn inner_of_others(table: &'static Table) -> Option<&'static Table> {
    table.others.as_ref().and_then(|o| inner(o.takes))
}

/// The middle column: a right way to write it.
fn column(takes: &'static Takes) -> String {
    let shown = match takes {
        Takes::Word(words) => words.iter().map(|w| format!("`{w}`")).collect::<Vec<_>>().join(", "),
        Takes::Text => "text".to_owned(),
        Takes::OneOrMore(Takes::Word(words)) => words.iter().map(|w| format!("`{w}`")).collect::<Vec<_>>().join(", "),
        Takes::OneOrMore(_) => "text, or a list".to_owned(),
        other => format!("`{}`", example(other)),
    };
    shown.replace('|', "\\|")
}
