//! The table of keys: what it lists is what the reader reads and what the schema says.

use goodground::guide::check::every_key;
use goodground::guide::tree::{Node, Value};
use goodground::guide::{Guide, keys, read, schema};
use goodground::source::SourceFile;

fn every_key_guide() -> String {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/guides/every-key/guide.md");
    std::fs::read_to_string(path).unwrap()
}

fn whole(text: &str) -> Guide {
    let (guide, findings) = read(SourceFile::new("every-key/guide.md", text), "every-key");
    assert!(findings.is_empty(), "{findings:#?}");
    guide.unwrap()
}

/// Every path of keys in a tree, `inner` ones too.
fn paths(node: &Node, above: &[String], all: &mut Vec<Vec<String>>) {
    match &node.value {
        Value::Map(entries) => {
            for (key, (_, below)) in entries {
                let path: Vec<String> = above.iter().cloned().chain([key.clone()]).collect();
                all.push(path.clone());
                paths(below, &path, all);
            }
        }
        Value::List(items) => items.iter().for_each(|item| paths(item, above, all)),
        Value::Empty | Value::Scalar(_) => {}
    }
}

#[test]
fn the_guide_of_every_key_has_every_key() {
    let guide = whole(&every_key_guide());
    let mut all = Vec::new();
    paths(&guide.front_matter, &[], &mut all);
    for (what, key) in every_key(&keys::GUIDE) {
        assert!(all.iter().any(|path| path.last().is_some_and(|k| k == key)), "`{key}` of {what} is in no guide");
    }
}

/// A guide's circuit and words without the places where they stand.
fn content(guide: &Guide) -> String {
    let all = format!(
        "{:?}",
        (
            (&guide.title, &guide.summary, &guide.written, &guide.by, &guide.standing, &guide.vehicle, &guide.system),
            (&guide.coldest, &guide.time_needed, &guide.tools, &guide.skill, &guide.subjects),
            (&guide.zones, &guide.parts, &guide.runs, &guide.states),
        )
    );
    let mut plain = String::new();
    let mut rest = all.as_str();
    while let Some(i) = rest.find("Span {") {
        plain.push_str(&rest[..i]);
        rest = rest[i..].split_once('}').map_or("", |(_, after)| after);
    }
    plain + rest
}

/// No key of the table is checked and then forgotten: taking any of them away is noticed.
#[test]
fn every_key_matters() {
    let text = every_key_guide();
    let guide = whole(&text);
    let before = content(&guide);
    let mut all = Vec::new();
    paths(&guide.front_matter, &[], &mut all);
    // Trials leave these out; what they hold is looked at below. The title is the variant's own.
    let not_tried = ["title", "endurance", "variants", "answers", "record", "changes"];
    all.retain(|path| !not_tried.contains(&path[0].as_str()));
    assert!(all.len() > 150, "only {} keys", all.len());
    let mut seen_in_the_guide = 0;
    for path in all {
        // `feed` has everything itself, so what `every-run` says is looked for at the others.
        let mut change = "none".to_owned();
        for key in path.iter().rev() {
            change = format!("{{{key}: {change}}}");
        }
        let variant = format!("  tried: {{title: Every key at once, change: {change}}}\nanswers:");
        let changed = text.replacen("answers:", &variant, 1);
        let (guide, findings) = read(SourceFile::new("every-key/guide.md", changed), "every-key");
        assert!(findings.is_empty(), "{path:?} {findings:#?}");
        match guide.unwrap().variant("tried") {
            (Some(changed), _) => {
                assert_ne!(content(&changed), before, "nobody reads {path:?}");
                seen_in_the_guide += 1;
            }
            (None, findings) => assert!(!findings.is_empty(), "{path:?} is missed in silence"),
        }
    }
    assert!(seen_in_the_guide > 100, "only {seen_in_the_guide} keys may be left out");
}

#[test]
fn what_stands_beside_the_circuit_is_read_too() {
    let guide = whole(&every_key_guide());
    assert_eq!(guide.claims[0].state.value, "sailing");
    assert_eq!(guide.claims[0].lasts.in_hours(), 5.0);
    let variant = &guide.variants["no-return"];
    assert_eq!((variant.title.value.as_str(), variant.trips[0].value.as_str()), ("Without a return", "return-drop"));
    assert_eq!(variant.why.as_ref().unwrap().value, "It stops.");
    let answer = &guide.answers[0];
    assert_eq!((answer.rule.value.as_str(), answer.by.value.as_str()), ("housed", "A. Reviewer"));
    assert_eq!(
        (answer.about.as_ref().unwrap().value.as_str(), answer.reason.value.as_str()),
        ("house", "It is a test.")
    );
    assert_eq!(answer.until.value.to_string(), "2027-01-01");
    let record = guide.record.as_ref().unwrap();
    assert_eq!((record.by.value.as_str(), record.digest.value.as_str()), ("A. Reviewer", "0123abcd"));
    assert_eq!(record.dated.value.to_string(), "2026-10-04");
    assert_eq!(
        (guide.changes[0].dated.value.to_string(), guide.changes[0].what.value.as_str()),
        ("2026-09-01".into(), "First written.")
    );
}

#[test]
fn the_schema_has_every_key_and_closes_every_mapping() {
    let schema = schema::schema();
    let mut seen = Vec::new();
    let mut open = Vec::new();
    fn walk(value: &serde_json::Value, seen: &mut Vec<String>, open: &mut Vec<String>) {
        match value {
            serde_json::Value::Object(map) => {
                if let Some(serde_json::Value::Object(properties)) = map.get("properties") {
                    seen.extend(properties.keys().cloned());
                    let closed = map.contains_key("additionalProperties") || map.contains_key("unevaluatedProperties");
                    if map.get("type").is_some_and(|t| t == "object") && !closed {
                        open.push(format!("{:?}", properties.keys().collect::<Vec<_>>()));
                    }
                }
                map.values().for_each(|v| walk(v, seen, open));
            }
            serde_json::Value::Array(items) => items.iter().for_each(|v| walk(v, seen, open)),
            _ => {}
        }
    }
    walk(&schema, &mut seen, &mut open);
    assert_eq!(open, Vec::<String>::new(), "mappings that would take any key");
    for (what, key) in every_key(&keys::GUIDE) {
        assert!(seen.iter().any(|k| k == key), "`{key}` of {what} is not in the schema");
    }
}

#[test]
fn the_reference_lists_every_key() {
    let reference = schema::reference();
    for (what, key) in every_key(&keys::GUIDE) {
        assert!(reference.contains(&format!("| `{key}`")), "`{key}` of {what} is not in the reference");
    }
}
