//! Hostile text in every field of a guide and of the publisher comes out inert.
//!
//! The corpus is our own, after the kinds that OWASP's cheat sheet on cross-site scripting names
//! (elements, event handlers, schemes, SVG, broken quoting) and its page on CSV injection.

use std::collections::{BTreeMap, BTreeSet};

use goodground::checked::Checked;
use goodground::guide::publisher::Publisher;
use goodground::site::{Beside, Site, Theme, build_with, findings};

use goodground::finding::Severity;
use goodground::guide::keys::{self, Takes};
use goodground::guide::read;
use goodground::source::SourceFile;

use super::pages::check;

const CORPUS: &[&str] = &[
    "<script>window.broken=1</script>",
    "</script><script>window.broken=1</script>",
    "<img src=x onerror=window.broken=1>",
    "\"><svg onload=window.broken=1>",
    "' onmouseover='window.broken=1",
    "\" autofocus onfocus=\"window.broken=1",
    "<svg><animate onbegin=window.broken=1 attributeName=x dur=1s>",
    "<a href=\"javascript:window.broken=1\">x</a>",
    "<iframe srcdoc=\"<script>window.broken=1</script>\"></iframe>",
    "<style>*{background:url(//evil.example/x)}</style>",
    "<base href=//evil.example/><link rel=stylesheet href=//evil.example/x>",
    "<meta http-equiv=refresh content='0;url=//evil.example'>",
    "<form action=//evil.example><input name=x></form>",
    "<math><mtext><table><mglyph><style><img src=x onerror=window.broken=1>",
    "{{ site.policy }}{% include \"sheets/frame.html\" %}",
    "]]><!--",
    "=HYPERLINK(\"http://evil.example\")",
    "+1+cmd|' /C calc'!A0",
    "@SUM(1)",
    "-2+3",
    "\u{202E}A 001\u{202C} fuse \u{2066}x\u{2069}",
    "&lt;script&gt;window.broken=1&lt;/script&gt;",
    "\\u003cscript\\u003e",
    "one\r\n.control\nshell touch broken\n.endc\n<script>window.broken=1</script>",
];

/// The design's own example with hostile text in every field that takes words.
pub fn hostile_guide(attack: &str) -> String {
    let quoted = serde_json::to_string(attack).expect("a string can be written");
    let example = include_str!("../guides/design-example/guide.md");
    let (front, text) = example.trim_start_matches("---\n").split_once("\n---\n").expect("front matter ends");
    let front: String = front
        .lines()
        .filter(|line| !line.starts_with("title:") && !line.starts_with("summary:"))
        .map(|line| match line.trim_start() {
            l if l.starts_with("bay:") && l.contains("label") => {
                line.replace("Engine bay", "X").replace("label: X", &format!("label: {quoted}"))
            }
            l if l.starts_with("post:") => {
                line.replace("is: post,", &format!("is: post, label: {quoted}, height: {quoted},"))
            }
            l if l.starts_with("main-return:") && l.contains("from") => {
                line.replace("from:", &format!("colour: {quoted}, height: {quoted}, from:"))
            }
            l if l.starts_with("hold-down:") => line.replace("kind:", &format!("into: {quoted}, kind:")),
            l if l.starts_with("starting:") => line.replace("{starter", &format!("{{label: {quoted}, starter")),
            l if l.starts_with("title: Negative") => format!("    title: {quoted}\n    why: {quoted}"),
            _ => line.to_string(),
        })
        .collect::<Vec<_>>()
        .join("\n");
    format!(
        "---\ntitle: {quoted}\nsummary: {quoted}\nby: {quoted}\ntime-needed: {quoted}\nskill: {quoted}\ntools: [{quoted}]\nsubjects: [{quoted}]\nchanges: [{{dated: 2026-01-01, what: {quoted}}}]\nanswers: [{{rule: {quoted}, about: {quoted}, reason: {quoted}, by: {quoted}, until: 2027-01-01}}]\nrecord: {{by: {quoted}, dated: 2026-10-04, digest: {quoted}}}\n{front}\n---\n{text}\n\n## {attack}\n\n{attack}\n\n| {attack} | b |\n| --- | --- |\n| {attack} | [x](javascript:window.broken=1) |\n\n[{attack}](https://example.org/ \"{}\")\n\n![{attack}](shot.png)\n\n```\n{attack}\n```\n",
        attack.replace('"', "&quot;")
    )
}

/// The same with hostile text where only words that the program knows may stand: no page comes of it, only messages.
fn refused_guide(attack: &str) -> String {
    let quoted = serde_json::to_string(attack).expect("a string can be written");
    hostile_guide(attack)
        .replace("rating: 100 A,", &format!("rating: 100 A, form: {quoted},"))
        .replace("    rating: 150 A\n", &format!("    rating: 150 A\n    form: {quoted}\n"))
        .replace("trips: [return-drop]", &format!("trips: [{quoted}]"))
}

/// The hostile guide as a notice of its withdrawal.
fn withdrawn_guide(reason: &str, remedy: &str) -> String {
    let [reason, remedy] = [reason, remedy].map(|text| serde_json::to_string(text).expect("a string can be written"));
    let standing = format!("---\nstanding: {{withdrawn: {{dated: 2026-02-01, reason: {reason}, remedy: {remedy}}}}}\n");
    hostile_guide(CORPUS[0]).replacen("---\n", &standing, 1)
}

/// A hostile guide with its own words and drawings. The numbers, which hold no words of the author's, are those of the
/// first, so that they are worked out once.
fn hostile_checked(slug: &str, attack: &str, numbers: &Checked) -> Checked {
    let file = SourceFile::new(format!("content/{slug}/guide.md"), hostile_guide(attack));
    let (guide, findings) = read(file.clone(), slug);
    let circuit = guide.as_ref().and_then(|guide| goodground::circuit::wire(guide).0);
    let (cautions, pictures) = match (&guide, &circuit) {
        (Some(guide), Some(circuit)) => {
            (goodground::cautions::choose(guide, circuit), vec![goodground::drawing::wiring(guide, circuit)])
        }
        _ => (Vec::new(), Vec::new()),
    };
    Checked { file, slug: slug.into(), guide, circuit, findings, cautions, pictures, ..numbers.clone() }
}

pub fn hostile() -> (Vec<Checked>, Beside, Publisher) {
    let mut checked = Vec::new();
    let mut beside = Beside::new();
    for (i, attack) in CORPUS.iter().enumerate() {
        let slug = format!("hostile-{i}");
        checked.push(match checked.first() {
            None => check(&format!("content/{slug}/guide.md"), &slug, &hostile_guide(attack)),
            Some(numbers) => hostile_checked(&slug, attack, numbers),
        });
        beside.insert(slug, BTreeMap::from([("shot.png".to_string(), b"not a photo <script>".to_vec())]));
    }
    let withdrawn = withdrawn_guide("<script>window.broken=1</script>", "' onclick='window.broken=1");
    checked.push(check("content/hostile-withdrawn/guide.md", "hostile-withdrawn", &withdrawn));
    let publisher = Publisher {
        name: CORPUS[1].into(),
        address: Some("https://example.org".into()),
        language: "en".into(),
        paper: "A4".into(),
        local_rules: Some(CORPUS[2].into()),
        notice: Some(CORPUS[3].into()),
        links: [
            (CORPUS[4].to_string(), "javascript:window.broken=1".to_string()),
            (CORPUS[5].to_string(), "https://example.org/\"onclick=\"window.broken=1".to_string()),
        ]
        .into_iter()
        .collect(),
        ..Publisher::default()
    };
    (checked, beside, publisher)
}

/// The tags of a page with their attributes, as a browser's tokenizer would see them in the well-formed HTML that we write.
fn tags(page: &str) -> Vec<(String, Vec<(String, String)>)> {
    let mut tags = Vec::new();
    let mut rest = page;
    while let Some(at) = rest.find('<') {
        rest = &rest[at + 1..];
        if let Some(after) = rest.strip_prefix("!--") {
            rest = after.split_once("-->").map_or("", |(_, after)| after);
            continue;
        }
        let name: String = rest.chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '/' || *c == '!').collect();
        assert!(!name.is_empty(), "a bare `<` in: {:.80}", rest);
        rest = &rest[name.len()..];
        let mut attributes = Vec::new();
        loop {
            rest = rest.trim_start();
            if let Some(after) = rest.strip_prefix('>').or_else(|| rest.strip_prefix("/>")) {
                rest = after;
                break;
            }
            assert!(!rest.is_empty(), "a tag `{name}` that does not end");
            let key: String = rest.chars().take_while(|c| !c.is_whitespace() && !"=>".contains(*c)).collect();
            rest = &rest[key.len()..];
            let mut value = String::new();
            if let Some(after) = rest.strip_prefix("=\"") {
                let (inside, after) = after.split_once('"').expect("a quoted value ends");
                value = inside.to_string();
                rest = after;
            }
            attributes.push((key.to_ascii_lowercase(), value));
        }
        let name = name.to_ascii_lowercase();
        if name == "script" {
            let (inside, after) = rest.split_once("</script>").expect("a script ends");
            assert!(!inside.contains('<'), "a script block holds no `<`: {inside:.80}");
            rest = after;
        }
        tags.push((name, attributes));
    }
    tags
}

/// What the built-in theme's pages are made of, and nothing else.
const ELEMENTS: &[&str] = &[
    "!doctype",
    "a",
    "article",
    "blockquote",
    "body",
    "br",
    "button",
    "caption",
    "code",
    "dd",
    "del",
    "details",
    "div",
    "dl",
    "dt",
    "em",
    "figcaption",
    "figure",
    "footer",
    "form",
    "h1",
    "h2",
    "h3",
    "h4",
    "h5",
    "h6",
    "head",
    "header",
    "hr",
    "html",
    "img",
    "input",
    "label",
    "li",
    "link",
    "main",
    "meta",
    "nav",
    "ol",
    "option",
    "p",
    "pre",
    "q",
    "script",
    "section",
    "select",
    "small",
    "span",
    "strong",
    "sub",
    "summary",
    "sup",
    "table",
    "tbody",
    "td",
    "th",
    "thead",
    "time",
    "title",
    "tr",
    "ul",
];

fn inert(site: &Site) {
    let mut pages = 0;
    for (path, bytes) in &site.files {
        let Ok(text) = std::str::from_utf8(bytes) else { continue };
        for c in text.chars() {
            assert!(!matches!(c, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}'), "{path} turns text around");
        }
        if path.ends_with(".html") {
            pages += 1;
            for (name, attributes) in tags(text) {
                let name = name.trim_start_matches('/');
                assert!(ELEMENTS.contains(&name), "{path}: <{name}>");
                for (key, value) in attributes {
                    assert!(!key.starts_with("on") && key != "style" && key != "srcdoc", "{path}: <{name} {key}>");
                    if ["href", "src", "action", "srcset"].contains(&key.as_str()) {
                        let value = value.replace("&amp;", "&").to_ascii_lowercase();
                        let scheme = value.split_once(':').map(|(scheme, _)| scheme.to_string());
                        assert!(
                            scheme.as_ref().is_none_or(|s| ["https", "http", "mailto"].contains(&s.as_str())),
                            "{path}: {key}={value}"
                        );
                        assert!(!value.starts_with("//"), "{path}: {key}={value}");
                        if name == "script" || name == "img" || (name == "link" && !value.contains("example.org")) {
                            assert!(scheme.is_none(), "{path}: <{name}> loads {value}");
                        }
                    }
                    if name == "script" && key == "type" {
                        assert_eq!(value, "application/ld+json", "{path}");
                    }
                    if name == "meta" && key == "http-equiv" {
                        assert_eq!(value, "Content-Security-Policy", "{path}");
                    }
                }
            }
            for block in text.split("<script type=\"application/ld+json\">").skip(1) {
                let json = block.split("</script>").next().unwrap_or("");
                serde_json::from_str::<serde_json::Value>(json).unwrap_or_else(|e| panic!("{path}: JSON-LD: {e}"));
            }
        } else if path.ends_with(".json") {
            serde_json::from_str::<serde_json::Value>(text).unwrap_or_else(|e| panic!("{path}: {e}"));
        } else if path.ends_with(".svg") || path.ends_with(".xml") || path.ends_with(".atom") {
            let tree = roxmltree::Document::parse(text).unwrap_or_else(|e| panic!("{path}: {e}"));
            for node in tree.descendants().filter(|node| node.is_element()) {
                assert!(
                    !["script", "foreignObject", "a", "image", "use", "animate", "set"]
                        .contains(&node.tag_name().name())
                        || node.tag_name().name() == "use"
                            && node.attributes().all(|a| a.value().starts_with('#') || a.name() != "href"),
                    "{path}: <{}>",
                    node.tag_name().name()
                );
                assert!(node.attributes().all(|a| !a.name().to_ascii_lowercase().starts_with("on")), "{path}");
            }
        } else if path.ends_with(".cir") {
            // A netlist may ask a simulator to run other programs: only what we write ourselves may start a line.
            for line in text.lines() {
                let ours = [".nodeset ", ".options ", ".op", ".end", "* "].iter().any(|start| line.starts_with(start));
                assert!(ours || line.starts_with(['R', 'V', 'I', 'B']), "{path}: {line}");
                assert!(!line.starts_with(".endc"), "{path}: {line}");
            }
        } else if path.ends_with(".csv") {
            for record in csv::ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes()).records() {
                for cell in &record.expect("a row can be read") {
                    let first = cell.trim_start().chars().next();
                    assert!(!first.is_some_and(|c| "=+-@|".contains(c)), "{path}: {cell}");
                }
            }
        }
    }
    assert!(60 < pages);
}

/// The path of every key that takes words, as `parts.*.label`: `*` is a name that the author chose, or a place in a list.
fn text_keys(takes: &Takes, path: &str, all: &mut BTreeSet<String>) {
    match takes {
        Takes::Text => {
            all.insert(path.to_string());
        }
        Takes::List(item) => text_keys(item, &format!("{path}.*"), all),
        Takes::OneOrMore(item) => text_keys(item, path, all),
        Takes::Map(table) | Takes::WordOrMap(_, table) => {
            let cases = table.cases.iter().flat_map(|cases| cases.of).flat_map(|(_, keys)| *keys);
            for key in table.keys.iter().chain(cases) {
                text_keys(key.takes, format!("{path}.{}", key.name).trim_start_matches('.'), all);
            }
            if let Some(others) = &table.others {
                text_keys(others.takes, &format!("{path}.*"), all);
            }
        }
        _ => {}
    }
}

/// Whether some value at the path holds the words.
fn holds(value: &serde_yaml::Value, path: &[&str], words: &str) -> bool {
    match (value, path) {
        (serde_yaml::Value::String(text), []) => text == words,
        (serde_yaml::Value::Sequence(items), []) => items.iter().any(|item| holds(item, path, words)),
        (serde_yaml::Value::Sequence(items), ["*", rest @ ..]) => items.iter().any(|item| holds(item, rest, words)),
        (serde_yaml::Value::Mapping(map), ["*", rest @ ..]) => map.values().any(|inner| holds(inner, rest, words)),
        (serde_yaml::Value::Mapping(map), [key, rest @ ..]) => {
            map.get(*key).is_some_and(|inner| holds(inner, rest, words))
        }
        _ => false,
    }
}

#[test]
fn the_corpus_reaches_every_key_that_takes_words() {
    let mut keys = BTreeSet::new();
    text_keys(&Takes::Map(&keys::GUIDE), "", &mut keys);
    assert!(20 < keys.len() && keys.contains("parts.*.hold-down.into"), "{keys:?}");
    let words = "somebody's words";
    let fronts = [hostile_guide(words), refused_guide(words), withdrawn_guide(words, words)].map(|text| {
        let front = text.trim_start_matches("---\n").split_once("\n---\n").expect("front matter ends").0.to_string();
        serde_yaml::from_str::<serde_yaml::Value>(&front).expect("the front matter is YAML")
    });
    let missed: Vec<&String> = keys
        .iter()
        .filter(|key| {
            let path: Vec<&str> = key.split('.').collect();
            !fronts.iter().any(|front| holds(front, &path, words))
        })
        .collect();
    assert!(missed.is_empty(), "put hostile words into these too, in hostile_guide: {missed:?}");
}

#[test]
fn hostile_words_for_known_words_are_refused_with_messages_and_no_page() {
    for attack in CORPUS {
        let file = SourceFile::new("content/refused/guide.md", refused_guide(attack));
        let (_, findings) = read(file, "refused");
        assert!(findings.iter().any(|f| f.severity == Severity::Unreadable), "{attack}");
    }
}

#[test]
fn hostile_text_comes_out_inert_everywhere() {
    let (checked, beside, publisher) = hostile();
    let laid_out = checked.iter().filter(|one| one.circuit.is_some()).count();
    assert!(18 <= laid_out, "only {laid_out} of {} hostile guides got as far as a page", checked.len());
    let site = build_with(&publisher, &Theme::built_in(), &checked, &beside);
    // A review, which wants no site, finds what laying out the whole of it finds.
    assert_eq!(findings(&publisher, &Theme::built_in(), &checked, &beside), site.findings);
    if let Ok(folder) = std::env::var("GOODGROUND_TEST_HOSTILE") {
        super::pages::write_to(&site, &folder);
    }
    inert(&site);
    let about_photo = site.findings.iter().filter(|f| f.rule == "text-photo").count();
    assert!(10 < about_photo, "a file that is no photo is found");
    let all = checked.iter().flat_map(|one| &one.findings);
    assert!(all.clone().any(|f| f.message.contains("U+202E")), "text that turns around is found");
    // The words themselves are still there to be read, as words.
    let page = std::str::from_utf8(&site.files["hostile-0/index.html"]).unwrap();
    assert!(page.contains("<h1>&lt;script&gt;window.broken=1&lt;/script&gt;</h1>"), "{page:.2000}");
}

#[test]
fn paths_that_lead_out_of_the_guide_s_folder_lead_nowhere() {
    let empty = goodground::checked::read_only(SourceFile::new("content/out/guide.md", ""), "out");
    for path in
        ["../../secret.jpg", "/etc/passwd.png", "..%2f..%2fsecret.png", "%2e%2e/secret.png", "a/../../secret.png"]
    {
        let text = hostile_guide("x").replace("](shot.png)", &format!("]({path})"));
        let file = SourceFile::new("content/out/guide.md", text);
        let (guide, findings) = read(file.clone(), "out");
        let circuit = guide.as_ref().and_then(|guide| goodground::circuit::wire(guide).0);
        let one = Checked { file, slug: "out".into(), guide, circuit, findings, ..empty.clone() };
        let mut beside = Beside::new();
        for key in ["secret.jpg", "../../secret.jpg", "etc/passwd.png", "../../secret.png", "../secret.png"] {
            beside.entry("out".into()).or_default().insert(key.into(), b"secret".to_vec());
        }
        let publisher = Publisher { language: "en".into(), ..Publisher::default() };
        let site = build_with(&publisher, &Theme::built_in(), std::slice::from_ref(&one), &beside);
        let told = one
            .findings
            .iter()
            .chain(&site.findings)
            .any(|f| f.message.contains("secret") || f.message.contains("passwd"));
        assert!(told, "{path} is not told of");
        assert!(!site.files.values().any(|bytes| bytes == b"secret"), "{path} was copied");
        assert!(site.files.keys().all(|path| !path.contains("..") && !path.starts_with('/')));
    }
}
