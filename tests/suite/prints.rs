//! Prints of guides' pictures, judged by readers that are not ours: a PNG decoder, an XML reader, and the plain bytes.

use goodground::checked::Checked;
use goodground::drawing::Picture;
use goodground::guide::publisher::Publisher;
use goodground::prints::{Kinds, Order, Paper, Plate, pdf, raster, tree};
use goodground::site::{Theme, build};

use super::injection::hostile_guide;
use super::pages::{check, club, publisher};

fn order(publisher: &Publisher, checked: &[Checked], slug: &str) -> Order {
    let site = build(publisher, &Theme::built_in(), checked);
    site.prints.into_iter().find(|order| order.folder == slug).expect("the guide has prints")
}

/// The club's guide with the least in it: these tests run unoptimised.
fn boat() -> Order {
    let one: Vec<Checked> = club().iter().filter(|one| one.slug == "electric-motor-on-a-small-boat").cloned().collect();
    order(&publisher(), &one, "electric-motor-on-a-small-boat")
}

/// The kinds of the chunks of a PNG, by its own structure (ISO/IEC 15948, 5.3).
fn chunks(png: &[u8]) -> Vec<String> {
    assert_eq!(&png[..8], b"\x89PNG\r\n\x1a\n");
    let mut kinds = Vec::new();
    let mut at = 8;
    while at < png.len() {
        let length = u32::from_be_bytes(png[at..at + 4].try_into().unwrap()) as usize;
        kinds.push(String::from_utf8(png[at + 4..at + 8].to_vec()).unwrap());
        at += 12 + length;
    }
    kinds.dedup();
    kinds
}

fn holds(bytes: &[u8], words: &str) -> bool {
    bytes.windows(words.len()).any(|window| window == words.as_bytes())
}

fn count(bytes: &[u8], words: &str) -> usize {
    bytes.windows(words.len()).filter(|window| *window == words.as_bytes()).count()
}

#[test]
fn prints_are_what_they_say_and_the_same_on_any_number_of_threads() {
    let order = boat();
    let with_threads = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        pool.install(|| order.make()).unwrap()
    };
    let made = with_threads(1);
    assert!(made == with_threads(3), "prints differ with the number of threads");
    assert_eq!(made.iter().map(|(path, _)| path.clone()).collect::<Vec<_>>(), order.files());
    let kinds: Vec<&str> = made.iter().filter_map(|(path, _)| path.split_once('/').map(|(_, name)| name)).collect();
    for name in ["wiring.png", "wiring-a4.pdf", "wiring-letter.pdf", "volts.png", "all-pictures-a4.pdf"] {
        assert!(kinds.contains(&name), "no {name} among {kinds:?}");
    }
    for (path, bytes) in &made {
        if path.ends_with(".png") {
            let picture = image::load_from_memory(bytes).unwrap_or_else(|e| panic!("{path}: {e}"));
            assert_eq!(picture.width(), 2400, "{path}");
            assert!(bytes.len() < 150_000, "{path}: {} bytes", bytes.len());
            // An embedded clock, text or colour profile would be a chunk of its own.
            assert_eq!(chunks(bytes), ["IHDR", "PLTE", "IDAT", "IEND"], "{path}");
            // Bit depth and colour type: four bits, a palette.
            assert_eq!(bytes[24..26], [4, 3], "{path}");
        } else {
            let [width, height] = if path.ends_with("-a4.pdf") { ["841.88", "595.27"] } else { ["792", "612"] };
            let boxes = count(bytes, "/MediaBox[");
            let right = count(bytes, &format!("/MediaBox[0 0 {width}"));
            assert!(0 < boxes && boxes == right, "{path}: {right} of {boxes} pages are {width} wide");
            assert!(holds(bytes, &format!(" {height}")), "{path}");
            assert!(holds(bytes, "/Lang(en)") && holds(bytes, "/FontFile2") && holds(bytes, "/S/Figure"), "{path}");
            assert!(holds(bytes, "D:20261"), "{path}: the date of the revision");
        }
    }
    let all = &made.iter().find(|(path, _)| path.ends_with("all-pictures-a4.pdf")).unwrap().1;
    assert!(order.plates.len() <= count(all, "/MediaBox["), "a page at least for every picture");
}

#[test]
fn only_the_kinds_that_a_publisher_wants_are_made_and_linked() {
    let one: Vec<Checked> = club().iter().take(1).cloned().collect();
    let slug = one[0].slug.clone();
    let with = |downloads: &[&str]| {
        let downloads = downloads.iter().map(|kind| (*kind).to_owned()).collect();
        let site = build(&Publisher { downloads, ..publisher() }, &Theme::built_in(), &one);
        let page = String::from_utf8(site.files[&format!("{slug}/index.html")].clone()).unwrap();
        (site.prints[0].files(), page)
    };
    let (files, page) = with(&["png"]);
    assert!(files.iter().all(|file| file.ends_with(".png")) && !files.is_empty());
    assert!(
        page.contains("\"wiring.png\"")
            && !page.contains(".pdf\"")
            && !page.contains("aria-label=\"How it is wired, SVG\"")
    );
    let (files, page) = with(&["svg"]);
    assert!(files.is_empty());
    assert!(
        page.contains("aria-label=\"How it is wired, SVG\"") && !page.contains(".pdf\"") && !page.contains("og:image")
    );
}

#[test]
fn a_shared_link_shows_the_wiring() {
    let one: Vec<Checked> = club().iter().take(1).cloned().collect();
    let slug = &one[0].slug;
    let wiring = one[0].pictures.iter().find(|picture| picture.name == "wiring").unwrap();
    let height = raster::height(wiring.size);
    let page_of = |publisher: &Publisher| {
        let site = build(publisher, &Theme::built_in(), &one);
        String::from_utf8(site.files[&format!("{slug}/index.html")].clone()).unwrap()
    };
    let page = page_of(&publisher());
    for line in [
        format!("<meta property=\"og:image\" content=\"https://thursday-bench.example/{slug}/wiring.png\">"),
        "<meta property=\"og:image:width\" content=\"2400\">".to_owned(),
        format!("<meta property=\"og:image:height\" content=\"{height}\">"),
        "<meta property=\"og:image:alt\" content=\"How it is wired: ".to_owned(),
    ] {
        assert!(page.contains(&line), "no {line}");
    }
    assert!(!page_of(&Publisher { address: None, ..publisher() }).contains("og:image"));
    let drawn =
        image::load_from_memory(&raster::png(&tree::read(&wiring.svg).unwrap(), Plate::of(wiring).sheets[0]).unwrap())
            .unwrap();
    assert_eq!((drawn.width(), drawn.height()), (2400, height), "what the page promises is what is drawn");
}

/// No element but those that draw or name, nothing that is fetched, nothing that runs. What little of HTML is inside says
/// to a phone how large to show the picture, and nothing else.
fn is_plain(picture: &Picture) {
    let drawn = ["svg", "title", "desc", "g", "rect", "path", "circle", "text"];
    let tree = roxmltree::Document::parse(&picture.svg).unwrap_or_else(|e| panic!("{}: {e}", picture.name));
    for node in tree.descendants().filter(|node| node.is_element()) {
        let name = node.tag_name().name();
        assert!(drawn.contains(&name), "{}: <{name}>", picture.name);
        assert_eq!(node.tag_name().namespace(), Some("http://www.w3.org/2000/svg"));
        for attribute in node.attributes() {
            let (key, value) = (attribute.name(), attribute.value());
            assert!(!key.starts_with("on") && key != "href" && key != "style", "{}: {key}={value}", picture.name);
            assert!(!value.contains("url(") && !value.contains("//"), "{}: {key}={value}", picture.name);
        }
    }
}

#[test]
fn every_svg_is_plain() {
    let pictures: Vec<&Picture> = club().iter().flat_map(|one| &one.pictures).collect();
    assert!(3 * club().len() <= pictures.len());
    pictures.into_iter().for_each(is_plain);
}

#[test]
fn hostile_words_come_out_inert_in_prints() {
    let attack = "</title><script>x</script>) /JS (app.alert(1)) /URI (//evil.example) ]]>";
    let text = hostile_guide(attack);
    let checked = check("content/hostile/guide.md", "hostile", &text);
    assert!(!checked.pictures.is_empty(), "{:?}", checked.findings);
    checked.pictures.iter().for_each(is_plain);
    let wiring = &checked.pictures[0];
    assert!(wiring.svg.contains("&lt;script&gt;"), "the words are there, as words");
    let plates = vec![Plate::of(wiring)];
    // Marks that turn text around are refused in a guide; here they come in by another way.
    let attack = format!("{attack}\u{202E}A 001");
    let facts =
        pdf::Facts { title: attack.clone(), summary: attack.clone(), by: attack, language: "en".into(), dated: None };
    let order = Order { folder: "hostile".into(), plates, facts, kinds: Kinds { png: true, pdf: true } };
    for (path, bytes) in order.make().unwrap() {
        if path.ends_with(".png") {
            assert_eq!(chunks(&bytes), ["IHDR", "PLTE", "IDAT", "IEND"]);
            continue;
        }
        // Outside strings, where words are only words, a PDF of ours has no action, no script, no link and no file.
        let plain = outside_strings(&bytes);
        for key in ["/JS", "/JavaScript", "/URI", "/Launch", "/OpenAction", "/AA", "/EmbeddedFile", "/Annots"] {
            assert!(!holds(&plain, key), "{path} holds {key}");
        }
        let about = String::from_utf8_lossy(&bytes);
        let about = &about[about.find("<x:xmpmeta").unwrap()..about.find("<?xpacket end").unwrap()];
        let about = roxmltree::Document::parse(about).unwrap_or_else(|e| panic!("{path}: {e}"));
        assert!(about.descendants().any(|node| node.text().is_some_and(|text| text.contains("<script>"))), "as words");
        assert!(about.descendants().all(|node| node.tag_name().name() != "script"), "{path}: its metadata is XML");
        assert!(!holds(&bytes, "\u{202E}"), "{path} turns text around");
        assert!(holds(&plain, "/Title"), "{path}");
    }
}

/// A PDF without what stands in its literal and hexadecimal strings and its streams (ISO 32000-1, 7.3.4 and 7.3.8).
fn outside_strings(pdf: &[u8]) -> Vec<u8> {
    let mut plain = Vec::new();
    let mut at = 0;
    let starts = |at: usize, words: &str| pdf[at..].starts_with(words.as_bytes());
    while at < pdf.len() {
        if starts(at, "stream\n") || starts(at, "stream\r\n") {
            let end = pdf[at..].windows(9).position(|w| w == b"endstream").map_or(pdf.len(), |n| at + n);
            at = end;
        } else if pdf[at] == b'(' {
            let mut depth = 0;
            while at < pdf.len() {
                match pdf[at] {
                    b'\\' => at += 1,
                    b'(' => depth += 1,
                    b')' => depth -= 1,
                    _ => {}
                }
                at += 1;
                if depth == 0 {
                    break;
                }
            }
        } else {
            plain.push(pdf[at]);
            at += 1;
        }
    }
    plain
}

#[test]
fn letters_stay_letters_in_a_pdf_and_pages_have_the_papers_size() {
    assert_eq!(Paper::Letter.points(), (792.0, 612.0));
    let (width, height) = Paper::A4.points();
    assert!((width - 841.89).abs() < 0.01 && (height - 595.28).abs() < 0.01, "ISO 216: 297 mm by 210 mm");
    let order = boat();
    let made =
        Order { plates: order.plates[..1].to_vec(), kinds: Kinds { png: false, pdf: true }, ..order }.make().unwrap();
    for (path, bytes) in made {
        assert!(holds(&bytes, "/ToUnicode"), "{path}: text can be searched and read out");
        assert!(holds(&bytes, "+DejaVuSansCondensed/") && holds(&bytes, "+DejaVuSansCondensed-Bold/"), "{path}");
        assert!(!holds(&bytes, "/Subtype/Image"), "{path}: lines stay lines");
    }
}
