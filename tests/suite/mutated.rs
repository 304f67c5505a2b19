//! Ten thousand damaged guides: none of them may make the reader panic, nor anything behind it.

use goodground::checked::check;
use goodground::guide::{Publisher, publisher, read};
use goodground::site;
use goodground::source::SourceFile;

/// Numbers that look random and are the same every time (xorshift64, Marsaglia 2003).
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % n.max(1) as u64) as usize
    }
}

/// Texts that have hurt readers of YAML, Markdown or numbers before, or might.
const NASTY: &[&str] = &[
    "---\n",
    "\n...\n",
    "&a ",
    "*a ",
    "<<: *a\n",
    "!!int ",
    "!x ",
    "\t",
    "\u{feff}",
    "\u{85}",
    "\u{a0}",
    "\u{202e}",
    "\0",
    "{",
    "}",
    "[",
    "]",
    ": ",
    ":",
    ",",
    "#",
    " #",
    "'",
    "\"",
    "|\n",
    ">-\n",
    "? ",
    "- ",
    "%YAML 1.1\n",
    "@",
    "`",
    "\\",
    "1e400 A",
    "NaN V",
    "inf A",
    "-1 m",
    "999999999999999999999999999 m",
    "0",
    "0 A",
    "-",
    "−",
    "²",
    "°",
    "½",
    "🔋",
    "é",
    "none",
    "null",
    "~",
    "true",
    "on",
    "](run:",
    "<value:",
    "![](drawing:wiring)",
    "![x](../../y)",
    "1. ",
    "\n\n",
    "\r\n",
    "\r",
    "![a](b\n",
    "<a href='x'>",
    "</div>",
    "body@",
    "battery+",
    "@bay",
    ".in+",
    "load to bay",
    "135 %: 1 s to",
    "parts:\n",
    "label: ",
    "runs: {}\n",
    "every: 1 s\n",
    "9999-99-99",
    "0000-00-00",
    "M",
    "AWG",
    "/0 AWG",
    "-128 AWG",
    "a: b: c",
];

/// The small guides; what the club's long ones have, these have as well, and sooner read.
fn guides() -> Vec<String> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/guides");
    let inside = |path: &std::path::Path| {
        std::fs::read_dir(path).unwrap().map(|entry| entry.unwrap().path()).collect::<Vec<_>>()
    };
    let mut paths: Vec<_> =
        inside(folder.as_ref()).iter().filter(|path| path.is_dir()).flat_map(|path| inside(path)).collect();
    paths.retain(|path| path.extension().is_some_and(|ending| ending == "md"));
    paths.sort();
    assert!(paths.len() > 1, "there are guides to damage");
    paths.iter().map(|path| std::fs::read_to_string(path).unwrap()).collect()
}

/// Damages a text in one place.
fn damage(text: &mut String, dice: &mut Dice) {
    let at = |text: &str, dice: &mut Dice| {
        let mut at = dice.below(text.len() + 1);
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let (a, b) = (at(text, dice), at(text, dice));
    let (a, b) = (a.min(b), a.max(b));
    match dice.below(9) {
        // A byte becomes another one; what is no UTF-8 then never reaches the reader as such.
        0 => {
            let mut bytes = std::mem::take(text).into_bytes();
            if !bytes.is_empty() {
                let i = dice.below(bytes.len());
                bytes[i] ^= 1 << dice.below(8);
            }
            *text = String::from_utf8_lossy(&bytes).into_owned();
        }
        1 => {
            let end = at(&text[a..b], dice).min(40) + a;
            if text.is_char_boundary(end) {
                text.replace_range(a..end, "");
            }
        }
        2 => text.insert_str(a, NASTY[dice.below(NASTY.len())]),
        3 => {
            let lines: Vec<&str> = text.split_inclusive('\n').collect();
            let line = lines[dice.below(lines.len())].to_owned();
            text.insert_str(a, &line);
        }
        4 => {
            let mut lines: Vec<&str> = text.split_inclusive('\n').collect();
            let (i, j) = (dice.below(lines.len()), dice.below(lines.len()));
            lines.swap(i, j);
            *text = lines.concat();
        }
        5 => {
            let mut lines: Vec<&str> = text.split_inclusive('\n').collect();
            lines.remove(dice.below(lines.len()));
            *text = lines.concat();
        }
        6 => {
            let mut words: Vec<&str> = text.split_inclusive(' ').collect();
            let (i, j) = (dice.below(words.len()), dice.below(words.len()));
            words.swap(i, j);
            *text = words.concat();
        }
        // Mostly a little from the end; now and then half the guide.
        7 => text.truncate(b),
        _ => {
            let word = NASTY[dice.below(NASTY.len())];
            let words: Vec<&str> = text.split(' ').collect();
            let i = dice.below(words.len());
            let mut words: Vec<&str> = words;
            words[i] = word;
            *text = words.join(" ");
        }
    }
    if text.is_empty() {
        text.push('-');
    }
}

/// A quarter of them; four tests run beside each other.
const EACH: usize = 2_500;

#[test]
fn no_mutated_guide_makes_the_reader_panic_1() {
    mutate(0x5eed_600d_6205_0d01);
}

#[test]
fn no_mutated_guide_makes_the_reader_panic_2() {
    mutate(0x5eed_600d_6205_0d02);
}

#[test]
fn no_mutated_guide_makes_the_reader_panic_3() {
    mutate(0x5eed_600d_6205_0d03);
}

#[test]
fn no_mutated_guide_makes_the_reader_panic_4() {
    mutate(0x5eed_600d_6205_0d04);
}

/// The stages behind reading: none may panic, and no finding may point outside the file.
fn judge(guide: &goodground::guide::Guide) {
    let (circuit, mut findings) = goodground::circuit::wire(guide);
    if let Some(circuit) = circuit {
        let study = goodground::study::study(&circuit);
        let limits = goodground::rules::limits::Limits::default();
        let bench = goodground::rules::Bench { guide, circuit: &circuit, study: &study, limits: &limits };
        findings.extend(goodground::rules::judge(&bench).findings);
    }
    for finding in &findings {
        assert!(finding.place.span.start <= finding.place.span.end, "{finding:?}");
        assert!(finding.place.span.end <= guide.file.text.len(), "{finding:?}");
        assert!(guide.file.text.is_char_boundary(finding.place.span.start), "{finding:?}");
        assert!(guide.file.text.is_char_boundary(finding.place.span.end), "{finding:?}");
        assert!(!finding.message.is_empty(), "{finding:?}");
    }
}

fn mutate(seed: u64) {
    let guides = guides();
    let mut dice = Dice(seed);
    let mut read_whole = 0;
    for round in 0..EACH {
        let mut text = guides[round % guides.len()].clone();
        for _ in 0..=dice.below(4) {
            damage(&mut text, &mut dice);
        }
        let file = SourceFile::new("mutated/guide.md", text);
        let (guide, findings) = read(file.clone(), "mutated");
        for finding in &findings {
            assert!(finding.place.span.start <= finding.place.span.end, "{finding:?}");
            assert!(finding.place.span.end <= file.text.len(), "{finding:?}");
            assert!(file.text.is_char_boundary(finding.place.span.start), "{finding:?}");
            assert!(!finding.message.is_empty());
        }
        assert!(guide.is_some() || !findings.is_empty(), "no guide, and nobody says why:\n{}", file.text);
        if let Some(guide) = guide {
            read_whole += 1;
            judge(&guide);
            let variants: Vec<&String> = guide.variants.keys().collect();
            for name in variants.into_iter().take(usize::from(round % 4 == 0)) {
                let (changed, findings) = guide.variant(name);
                assert!(changed.is_some() || !findings.is_empty());
            }
        }
        if round % 50 == 0 {
            let _ = publisher::read(&file);
        }
    }
    // Damage that leaves nothing to read would try nothing behind the YAML.
    assert!(read_whole > EACH / 20, "only {read_whole} guides survived");
}

/// Changes a figure, or swaps two words of front matter: most guides can still be read then, and go on to the solver.
fn twist(text: &mut String, dice: &mut Dice) {
    const FIGURES: &[&str] = &["0", "1", "7", "99", "0.1", "0.001", "1000", "12", "250", "35"];
    let end = text[4..].find("\n---").map_or(text.len(), |i| i + 4);
    let bytes = text.as_bytes();
    let is_figure = |b: u8| b.is_ascii_digit() || b == b'.';
    let is_word = |b: u8| b.is_ascii_alphanumeric() || matches!(b, b'-' | b'@' | b'+');
    let stretches = |is: &dyn Fn(u8) -> bool| {
        let mut found = Vec::new();
        let mut from = None;
        for (i, b) in bytes[..end].iter().enumerate() {
            match (is(*b), from) {
                (true, None) => from = Some(i),
                (false, Some(start)) => {
                    found.push(start..i);
                    from = None;
                }
                _ => {}
            }
        }
        found
    };
    if dice.below(3) > 0 {
        let figures = stretches(&is_figure);
        let figure = figures[dice.below(figures.len())].clone();
        text.replace_range(figure, FIGURES[dice.below(FIGURES.len())]);
    } else {
        let words = stretches(&is_word);
        let (a, b) = (dice.below(words.len()), dice.below(words.len()));
        let (a, b) = (a.min(b), a.max(b));
        if a < b {
            let (first, second) = (text[words[a].clone()].to_owned(), text[words[b].clone()].to_owned());
            text.replace_range(words[b].clone(), &first);
            text.replace_range(words[a].clone(), &second);
        }
    }
}

/// Puts `rounds` twisted guides through every stage.
fn through_everything(seed: u64, rounds: usize) -> usize {
    let guides = guides();
    let publisher = Publisher::default_for_tests();
    let today = jiff::civil::date(2026, 11, 1);
    let mut dice = Dice(seed);
    let mut studied = 0;
    for round in 0..rounds {
        let mut text = guides[round % guides.len()].clone();
        for _ in 0..=dice.below(3) {
            twist(&mut text, &mut dice);
        }
        let checked = check(SourceFile::new("twisted/guide.md", text), "twisted", &publisher, today);
        studied += usize::from(checked.study.is_some());
        for finding in &checked.findings {
            assert_ne!(finding.rule, "program-fault", "{}", checked.file.text);
            assert!(finding.place.span.end <= checked.file.text.len(), "{finding:?}");
            assert!(!finding.message.contains("NaN") && !finding.message.contains("inf "), "{}", finding.message);
        }
        // Pages that no guide has a part in are the same each time: now and then is enough.
        if round % 100 == 0 {
            site::build(&publisher, &site::Theme::built_in(), &[checked]);
        } else {
            site::findings(&publisher, &site::Theme::built_in(), &[checked], &site::Beside::new());
        }
    }
    studied
}

#[test]
fn twisted_guides_go_through_everything_without_a_panic() {
    let studied = through_everything(0x5eed_600d_6205_0d05, 24);
    assert!(studied > 4, "only {studied} guides reached the solver");
}

#[test]
#[ignore = "minutes long; .ci/run runs it"]
fn ten_thousand_twisted_guides_go_through_everything_without_a_panic() {
    let studied: usize = std::thread::scope(|scope| {
        let quarters: Vec<_> =
            (0..4).map(|i| scope.spawn(move || through_everything(0x5eed_600d_6205_0e00 + i, 2_500))).collect();
        quarters.into_iter().map(|quarter| quarter.join().expect("no quarter panics")).sum()
    });
    assert!(studied > 2_000, "only {studied} guides reached the solver");
}
