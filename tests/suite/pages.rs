//! The site as bytes, made from whole guides.

use std::collections::{BTreeMap, BTreeSet};

use goodground::checked::Checked;
use goodground::guide::publisher::Publisher;
use goodground::site::{Beside, Site, Theme, build_with};
use goodground::source::SourceFile;

/// A guide taken through every stage.
pub fn check(path: &str, slug: &str, text: &str) -> Checked {
    goodground::checked::check(SourceFile::new(path, text), slug, &publisher(), day())
}

/// The club's own guides, in order of their folders; checked once for all tests.
pub fn club() -> &'static [Checked] {
    static CLUB: std::sync::OnceLock<Vec<Checked>> = std::sync::OnceLock::new();
    CLUB.get_or_init(read_club)
}

fn read_club() -> Vec<Checked> {
    let content = concat!(env!("CARGO_MANIFEST_DIR"), "/content");
    let mut guides = BTreeMap::new();
    for entry in std::fs::read_dir(content).expect("the content folder can be read") {
        let folder = entry.expect("an entry can be read").path();
        let Ok(text) = std::fs::read_to_string(folder.join("guide.md")) else { continue };
        let slug = folder.file_name().expect("a folder has a name").to_string_lossy().into_owned();
        guides.insert(slug.clone(), check(&format!("content/{slug}/guide.md"), &slug, &text));
    }
    guides.into_values().collect()
}

pub fn publisher() -> Publisher {
    Publisher {
        name: "The Thursday Bench".into(),
        address: Some("https://thursday-bench.example".into()),
        language: "en".into(),
        paper: "A4".into(),
        ..Publisher::default()
    }
}

/// The club's pictures, by guide.
fn pictures() -> &'static Beside {
    static PICTURES: std::sync::OnceLock<Beside> = std::sync::OnceLock::new();
    PICTURES.get_or_init(|| {
        let content = concat!(env!("CARGO_MANIFEST_DIR"), "/content");
        let mut pictures = Beside::new();
        for entry in walkdir::WalkDir::new(content) {
            let path = entry.expect("the content folder can be read").into_path();
            if path.extension().is_some_and(|extension| extension == "jpg") {
                let name = |path: &std::path::Path| path.file_name().map(|n| n.to_string_lossy().into_owned());
                let guide = path.parent().and_then(name).expect("a picture lies in a guide's folder");
                let bytes = std::fs::read(&path).expect("a picture can be read");
                pictures.entry(guide).or_default().insert(name(&path).expect("a file has a name"), bytes);
            }
        }
        pictures
    })
}

/// The site of these guides, with the club's pictures.
fn build(publisher: &Publisher, theme: &Theme, checked: &[Checked]) -> Site {
    build_with(publisher, theme, checked, pictures())
}

pub fn day() -> jiff::civil::Date {
    jiff::civil::date(2026, 11, 26)
}

/// Writes a site where a browser can look at it.
pub fn write_to(site: &Site, folder: &str) {
    for (path, bytes) in &site.files {
        let path = std::path::Path::new(folder).join(path);
        std::fs::create_dir_all(path.parent().expect("a file has a folder")).expect("the folder can be made");
        std::fs::write(path, bytes).expect("the file can be written");
    }
}

fn text<'a>(site: &'a Site, path: &str) -> &'a str {
    let bytes = site.files.get(path).unwrap_or_else(|| panic!("no {path} among {:?}", site.files.keys()));
    std::str::from_utf8(bytes).expect("a page is UTF-8")
}

#[test]
fn the_club_s_site_is_whole_and_every_link_within_it_leads_somewhere() {
    let checked = club();
    let site = build(&publisher(), &Theme::built_in(), checked);
    let wrong: Vec<String> = site.findings.iter().map(|f| format!("{}: {}", f.place.file, f.message)).collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
    if let Ok(folder) = std::env::var("GOODGROUND_TEST_SITE") {
        write_to(&site, &folder);
    }
    let printed: BTreeSet<String> = site.prints.iter().flat_map(|order| order.files()).collect();
    assert!(printed.contains("winch-on-a-small-4x4/wiring.png"));
    let mut followed = 0;
    for path in site.files.keys().filter(|path| path.ends_with(".html")) {
        let page = text(&site, path);
        for attribute in ["href=\"", "src=\""] {
            for link in page.split(attribute).skip(1).filter_map(|rest| rest.split('"').next()) {
                if link.contains("://") || link.starts_with("mailto:") {
                    continue;
                }
                let (target, anchor) = link.split_once('#').unwrap_or((link, ""));
                let mut at: Vec<&str> = path.split('/').collect();
                at.pop();
                for part in target.split('/') {
                    match part {
                        ".." => assert!(at.pop().is_some(), "{path}: {link} leaves the site"),
                        "" | "." => {}
                        part => at.push(part),
                    }
                }
                let file = if target.is_empty() { path.clone() } else { at.join("/") };
                assert!(site.files.contains_key(&file) || printed.contains(&file), "{path}: {link} leads to no file");
                if !anchor.is_empty() {
                    let there = text(&site, &file).contains(&format!("id=\"{anchor}\""));
                    assert!(there, "{path}: {link} leads to no place on {file}");
                }
                followed += 1;
            }
        }
    }
    assert!(100 < followed);
}

#[test]
fn the_same_guides_give_the_same_bytes() {
    let checked = club();
    let once = build(&publisher(), &Theme::built_in(), checked);
    let again = build(&publisher(), &Theme::built_in(), checked);
    assert!(once.files == again.files);
}

/// Every published netlist, run by ngspice where it is asked for (`GOODGROUND_NGSPICE=live`), gives the voltages that stand in
/// it. Without ngspice: every run stands in every netlist of its guide, with both its ends.
#[test]
fn the_published_netlists_say_what_was_solved() {
    let site = build(&publisher(), &Theme::built_in(), club());
    let live = std::env::var("GOODGROUND_NGSPICE").as_deref() == Ok("live");
    let mut compared = 0;
    for one in club() {
        if one.is_withdrawn() {
            let folder = format!("{}/", one.slug);
            let left: Vec<&String> = site.files.keys().filter(|path| path.starts_with(&folder)).collect();
            assert_eq!(left, [&format!("{folder}guide.json"), &format!("{folder}index.html")], "only its notice");
            continue;
        }
        let circuit = one.circuit.as_ref().expect("the club's guides can be wired");
        let folder = format!("{}/circuit-", one.slug);
        let netlists: Vec<&String> = site.files.keys().filter(|path| path.starts_with(&folder)).collect();
        assert_eq!(netlists.len(), circuit.states.len(), "{}", one.slug);
        for path in netlists {
            let netlist = text(&site, path);
            for (i, run) in circuit.runs.iter().enumerate() {
                let line = netlist.lines().find(|line| line.starts_with(&format!("R{} ", i + 1)));
                assert!(line.is_some_and(|line| line.ends_with(&format!("; {}", run.name))), "{path}: {}", run.name);
            }
            let told: BTreeMap<&str, f64> = netlist
                .lines()
                .filter_map(|line| line.strip_prefix("* v(")?.split_once(") = "))
                .map(|(node, volts)| (node, volts.parse().unwrap()))
                .collect();
            assert!(3 < told.len(), "{path}");
            if !live {
                continue;
            }
            let folder = tempfile::tempdir().unwrap();
            let asked: String = told.keys().map(|node| format!("print v({node})\n")).collect();
            let deck = netlist.replace(".end\n", &format!(".control\nset numdgt=10\nop\n{asked}quit\n.endc\n.end\n"));
            let file = folder.path().join("published.cir");
            std::fs::write(&file, deck).unwrap();
            let run = std::process::Command::new("ngspice").arg("-b").arg(&file).output().expect("ngspice runs");
            let said = String::from_utf8_lossy(&run.stdout);
            for (node, volts) in told {
                let line = said.lines().find_map(|line| line.strip_prefix(&format!("v({node}) = ")));
                let got: f64 = line.unwrap_or_else(|| panic!("{path}: no v({node}) in {said}")).trim().parse().unwrap();
                // rshunt of 1e12 ohm and six decimals in the file: ten microvolts.
                assert!((got - volts).abs() < 1e-5, "{path}: v({node}): ngspice {got}, we {volts}");
                compared += 1;
            }
        }
    }
    assert!(!live || 100 < compared);
}

/// A second language as proof that every string of the site is in one file: the same guides in German, with no English heading
/// left. What the rules themselves say stays English, as DEVELOPERS.md tells.
#[test]
fn the_site_speaks_another_language() {
    let german = Publisher { language: "de".into(), ..publisher() };
    let site = build(&german, &Theme::built_in(), club());
    assert!(site.findings.is_empty(), "{:?}", site.findings);
    let (english_words, _) = Theme::built_in().words("en");
    let (german_words, _) = Theme::built_in().words("de");
    for (path, bytes) in site.files.iter().filter(|(path, _)| path.ends_with(".html")) {
        let page = std::str::from_utf8(bytes).unwrap();
        assert!(page.starts_with("<!DOCTYPE html>\n<html lang=\"de\" dir=\"ltr\">"), "{path}");
        let headings = page.split("<h2").skip(1).filter_map(|rest| rest.split_once('>')?.1.split_once("</h2>"));
        for (heading, _) in headings {
            let english = english_words.all().iter().find(|(_, text)| text.as_str() == heading);
            if let Some((key, _)) = english {
                assert_eq!(german_words.get(key), heading, "{path}: `{heading}` is still English");
            }
        }
    }
    let van = text(&site, "start-battery-behind-the-bulkhead/index.html");
    for words in ["WARNUNG", "Minus zuerst ab, zuletzt dran", "Zuschnittliste", "ersetzt nicht die Anweisungen"] {
        assert!(van.contains(words), "{words}");
    }
    assert!(!van.contains("Return side off first"));
    // What stays English says so to a screen reader; the trade words are German.
    assert!(text(&site, "rules/return-drop/index.html").contains("<h1 lang=\"en\">"));
    assert!(van.contains("<tbody lang=\"en\">"));
    assert!(text(&site, "trade-words/index.html").contains("<dt>Sicherung</dt>"));
    let english = build(&publisher(), &Theme::built_in(), club());
    assert!(!text(&english, "rules/return-drop/index.html").contains("<h1 lang"));
}

/// What a phone has to fetch: the bars of the site, in bytes as they lie on the disk.
#[test]
fn pages_are_light_and_need_no_script_to_be_read() {
    let site = build(&publisher(), &Theme::built_in(), club());
    let size = |path: &str| site.files[path].len();
    for one in club() {
        let page = format!("{}/index.html", one.slug);
        assert!(size(&page) < 150_000, "{page} has {} bytes", size(&page));
    }
    let of_kind = |ending: &str| site.files.keys().filter(|path| path.ends_with(ending)).cloned().collect::<Vec<_>>();
    assert_eq!(of_kind(".css"), ["look/look.css"], "one style sheet");
    let fonts: usize = of_kind(".woff2").iter().map(|path| size(path)).sum();
    assert!(0 < fonts && fonts <= 40_000, "{fonts} bytes of fonts");
    assert_eq!(of_kind(".js"), ["find/index-data.js", "keep.js", "look/find.js", "look/hand.js"]);
    assert!(size("keep.js") + size("look/hand.js") <= 15_000);
    assert!(size("keep.js") + size("look/hand.js") + size("look/find.js") <= 60_000, "on the search page");
    for path in of_kind(".html") {
        let page = text(&site, &path);
        // Nothing waits for a script: each is put off until the page stands, and what only a script can work is hidden.
        for tag in page.split("<script").skip(1).filter_map(|rest| rest.split_once('>')).map(|(tag, _)| tag) {
            let put_off = tag.starts_with(" src=\"") && tag.ends_with(" defer") && !tag.contains("://");
            assert!(put_off || tag == " type=\"application/ld+json\"", "{path}: <script{tag}>");
        }
        for form in page.split("<form").skip(1).filter_map(|rest| rest.split_once('>')).map(|(tag, _)| tag) {
            assert!(form.contains(" hidden"), "{path}: <form{form}> stands there without a script");
        }
        assert!(!page.contains(" style=") && !page.contains("<style"), "{path} has style of its own");
        let policy =
            "default-src &#39;none&#39;; img-src &#39;self&#39;; style-src &#39;self&#39;; script-src &#39;self&#39;;";
        assert!(page.contains(&format!("http-equiv=\"Content-Security-Policy\" content=\"{policy}")), "{path}");
        // Each picture says how large it is, so that nothing jumps, and what it shows.
        for image in page.split("<img").skip(1).filter_map(|rest| rest.split_once('>')).map(|(tag, _)| tag) {
            for attribute in [" width=\"", " height=\"", " alt=\""] {
                assert!(image.contains(attribute), "{path}: <img{image}>");
            }
        }
    }
    for path in of_kind(".js") {
        let script = text(&site, &path);
        for word in ["document.cookie", "eval(", "new Function", "innerHTML", "XMLHttpRequest", "sendBeacon"] {
            assert!(!script.contains(word), "{path}: {word}");
        }
    }
}

/// A club's theme of one file, here its own notice for a withdrawn guide: everything else stays as it is built in.
#[test]
fn a_club_overrides_one_file_without_copying_the_rest() {
    let own =
        "{% extends \"sheets/frame.html\" %}{% block sheet %}<h1>{{ t.about }}</h1><p>Ask for Ida.</p>{% endblock %}";
    let club_theme = Theme::built_in().over(
        "bench",
        BTreeMap::from([
            ("sheets/about.html".to_string(), own.as_bytes().to_vec()),
            ("look/own.css".to_string(), b":root { --band: #402000; }\n".to_vec()),
        ]),
    );
    let plain = build(&publisher(), &Theme::built_in(), club());
    let own = build(&publisher(), &club_theme, club());
    assert!(own.findings.is_empty(), "{:?}", own.findings);
    assert!(text(&own, "about/index.html").contains("Ask for Ida."));
    let link = "<link rel=\"stylesheet\" href=\"look/own.css\">\n";
    assert!(text(&own, "index.html").contains(link));
    assert_eq!(text(&own, "index.html").replace(link, ""), text(&plain, "index.html"));
    assert_eq!(own.files["look/look.css"], plain.files["look/look.css"]);
    // The variables that the style sheet tells a club of are there, and are used.
    let look = text(&plain, "look/look.css");
    let told = look.split("*/").next().expect("the style sheet starts with a comment");
    let variables: Vec<&str> =
        told.split(|c: char| !(c.is_ascii_alphanumeric() || c == '-')).filter(|word| word.starts_with("--")).collect();
    assert!(8 < variables.len());
    for name in variables {
        assert!(look.contains(&format!("{name}: ")) && look.contains(&format!("var({name})")), "{name}");
    }
}

const EXAMPLE: &str = include_str!("../guides/design-example/guide.md");

/// A guide as far as its pages need it, without its numbers.
fn wired(slug: &str, text: &str) -> Checked {
    let file = SourceFile::new(format!("content/{slug}/guide.md"), text);
    let (guide, findings) = goodground::guide::read(file.clone(), slug);
    let guide = guide.unwrap_or_else(|| panic!("{slug} cannot be read: {findings:?}"));
    let (circuit, _) = goodground::circuit::wire(&guide);
    let circuit = circuit.unwrap_or_else(|| panic!("{slug} cannot be wired"));
    let cautions = goodground::cautions::choose(&guide, &circuit);
    let pictures = vec![goodground::drawing::wiring(&guide, &circuit)];
    Checked {
        guide: Some(guide),
        circuit: Some(circuit),
        findings,
        cautions,
        pictures,
        ..goodground::checked::read_only(file, slug)
    }
}

/// Every finding of the site as `file:line rule`, in order.
fn places(site: &Site, checked: &[Checked]) -> Vec<String> {
    let place = |finding: &goodground::finding::Finding| {
        let of = checked.iter().find(|one| one.file.path == finding.place.file).expect("the finding is of a guide");
        format!("{}:{} {}", of.slug, of.file.line_column(finding.place.span.start).line, finding.rule)
    };
    site.findings.iter().map(place).collect()
}

#[test]
fn links_and_photos_that_lead_nowhere_are_found_at_their_line() {
    let lines = EXAMPLE.lines().count();
    let hurt = format!(
        "{EXAMPLE}\n[gone](../no-such-guide/)\n\n[nothing](#no-such-heading)\n\n![A photo](missing.jpg)\n\n[a file](list.exe)\n\n\
         [the other](../other/) and [a list](list.pdf)\n"
    );
    let checked = [wired("here", &hurt), wired("other", &EXAMPLE.replace("title: Start", "title: Another start"))];
    let files =
        BTreeMap::from([("list.pdf".to_string(), b"%PDF-1.7".to_vec()), ("list.exe".to_string(), b"MZ".to_vec())]);
    let beside = BTreeMap::from([("here".to_string(), files)]);
    let site = build_with(&publisher(), &Theme::built_in(), &checked, &beside);
    let at = |offset: usize, rule: &str| format!("here:{} {rule}", lines + offset);
    let expected = [at(2, "text-link"), at(4, "text-link"), at(6, "text-photo"), at(8, "text-link")];
    assert_eq!(places(&site, &checked), expected);
    let page = text(&site, "here/index.html");
    assert!(page.contains("<a href=\"../other/index.html\""));
    assert!(page.contains("<a href=\"file-list.pdf\"") && site.files.contains_key("here/file-list.pdf"));
    assert!(!site.files.keys().any(|path| path.ends_with(".exe")));
}

#[test]
fn titles_and_addresses_that_two_guides_share_are_found() {
    let checked = [
        wired("first", EXAMPLE),
        wired("second", EXAMPLE),
        wired("rules", &EXAMPLE.replace("title: Start", "title: A start")),
        wired("Big Van", &EXAMPLE.replace("title: Start", "title: The start")),
    ];
    let site = build(&publisher(), &Theme::built_in(), &checked);
    let found = places(&site, &checked);
    // The title stands on line 2; an address is the whole guide's, so it is told of at the top.
    let expected = ["Big Van:1 guide-address", "rules:1 guide-address", "second:2 guide-title"];
    assert_eq!(found, expected);
    let twice = [wired("same", EXAMPLE), wired("same", &EXAMPLE.replace("title: Start", "title: A start"))];
    let site = build(&publisher(), &Theme::built_in(), &twice);
    assert!(site.findings.iter().any(|f| f.rule == "guide-address" && f.message.contains("same address")));
}

#[test]
fn what_is_on_the_vehicle_already_is_not_bought_cut_or_labelled() {
    let lead = "from: alternator, to: panel, size: 25 mm², length: 0.9 m";
    let there = EXAMPLE.replacen(lead, &format!("{lead}, existing: true"), 1);
    let of = |guide: &str| build(&publisher(), &Theme::built_in(), &[wired("here", guide)]);
    let (bought, kept) = (of(EXAMPLE), of(&there));
    let cut = |site: &Site| {
        let table = text(site, "here/cuts.csv").to_owned();
        table.lines().find(|line| line.contains("Charge lead")).expect("its row").to_owned()
    };
    // 0.9 m and 50 mm for its ends.
    assert!(cut(&bought).contains(",0.95,"), "{}", cut(&bought));
    assert!(cut(&kept).contains(",already there,,"), "{}", cut(&kept));
    let labels = |site: &Site| text(site, "here/labels.html").matches("Charge lead").count();
    assert_eq!((labels(&bought), labels(&kept)), (2, 0));
    assert!(text(&bought, "here/guide.json").contains("\"charge-lead\",\"mark\""));
    assert!(!text(&kept, "here/guide.json").contains("\"charge-lead\",\"mark\""), "it is not to be cut");
    assert!(text(&kept, "here/index.html").contains("id=\"run-charge-lead\""), "a step's link leads to it");
    // Its cable, its lugs and their sleeves.
    assert_ne!(text(&bought, "here/used.csv"), text(&kept, "here/used.csv"));
}

#[test]
fn a_photo_is_shown_at_two_sizes_with_its_words() {
    let mut bytes = std::io::Cursor::new(Vec::new());
    let field = image::RgbImage::from_fn(2000, 1000, |x, y| image::Rgb([x as u8, y as u8, 40]));
    field.write_to(&mut bytes, image::ImageFormat::Jpeg).expect("a photo can be written");
    let photos = BTreeMap::from([("the frame.jpg".to_string(), bytes.into_inner())]);
    let guide = format!("{EXAMPLE}\n![The battery in its \"frame\"](<the frame.jpg> \"Both bolts < tight\")\n");
    let checked = [wired("here", &guide)];
    let beside = BTreeMap::from([("here".to_string(), photos)]);
    let site = build_with(&publisher(), &Theme::built_in(), &checked, &beside);
    assert!(site.findings.is_empty(), "{:?}", site.findings);
    let figure = "<figure class=\"photo\"><img src=\"photo-the-frame-1440.jpg\" \
                  srcset=\"photo-the-frame-720.jpg 720w, photo-the-frame-1440.jpg 1440w\" \
                  sizes=\"(min-width: 48rem) 42rem, 100vw\" width=\"1440\" height=\"720\" loading=\"lazy\" \
                  alt=\"The battery in its &quot;frame&quot;\"><figcaption>Both bolts &lt; tight</figcaption></figure>";
    assert!(text(&site, "here/index.html").contains(figure));
    assert!(site.files.contains_key("here/photo-the-frame-720.jpg"));
    assert!(!site.files.contains_key("here/the frame.jpg"), "the camera's own file does not go out");
}

#[test]
fn a_withdrawn_guide_is_recalled_first_of_all_and_keeps_its_address() {
    let withdrawn = EXAMPLE.replace("title: Start", "title: A start").replacen(
        "---\n",
        "---\nstanding: {withdrawn: {dated: 2026-01-02, reason: The fuse was too large., remedy: Take the fuse out.}}\n",
        1,
    );
    let checked = [wired("newer", EXAMPLE), wired("older", &withdrawn)];
    let site = build(&publisher(), &Theme::built_in(), &checked);
    assert!(site.findings.is_empty(), "{:?}", site.findings);
    // The withdrawal is older than the other guide's revision and still comes first.
    let feed = roxmltree::Document::parse(text(&site, "news.atom")).expect("the feed is XML");
    let entries: Vec<(&str, &str)> = feed
        .descendants()
        .filter(|node| node.tag_name().name() == "entry")
        .map(|entry| {
            let of = |name: &str| entry.children().find(|c| c.tag_name().name() == name).and_then(|c| c.text());
            (of("title").unwrap_or(""), of("summary").unwrap_or(""))
        })
        .collect();
    assert_eq!(entries.len(), 2);
    assert!(entries[0].0.starts_with("Withdrawn: A start"), "{entries:?}");
    assert_eq!(entries[0].1, "The fuse was too large. Take the fuse out.");
    let notice = text(&site, "older/index.html");
    assert!(notice.contains("The fuse was too large.") && notice.contains("Take the fuse out."));
    assert!(!notice.contains("id=\"step-1\"") && !site.files.contains_key("older/wiring.svg"));
    let front = text(&site, "index.html");
    assert!(front.find("older/index.html") < front.find("newer/index.html"), "recalls stand above the guides");
    // Addresses in full, where they must be.
    let page = text(&site, "newer/index.html");
    let address = "https://thursday-bench.example/newer/";
    assert!(page.contains(&format!("<link rel=\"canonical\" href=\"{address}\">")));
    assert!(page.contains(&format!("<meta property=\"og:url\" content=\"{address}\">")));
    assert!(text(&site, "sitemap.xml").contains(&format!("<loc>{address}</loc><lastmod>2026-10-03</lastmod>")));
}
