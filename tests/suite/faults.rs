//! Each way in which a guide can be unreadable: what is said of it, and at which line and column.

use goodground::finding::Severity;
use goodground::guide::{fault, read};
use goodground::source::SourceFile;

/// A small guide with something of everything that the cases below damage.
const GUIDE: &str = "---
title: A lamp
summary: Fits a lamp.
written: 2026-10-03
vehicle: {kind: van, body: steel, drive: petrol}
system: 12 V
zones:
  bay: {label: Engine bay, ambient: 60 °C, engine-space: true}
  cab: {label: Cab, occupied: true}
parts:
  battery:
    is: battery
    in: bay
    chemistry: agm
    capacity: 60 Ah
    housing: {box: sealed, vent: {kind: port-tube, to: outside}, covers: true}
  fuse: {is: fuse, in: bay, rating: 10 A, opens: {135 %: 1 s to 60 s, 200 %: 0.1 s to 5 s}}
  lamp: {is: load, in: cab, rating: 5 A}
every-run: {insulation: pvc, rated: 70 °C}
runs:
  feed: {from: battery+, to: fuse, size: 2.5 mm², length: 0.1 m}
  lead: {from: fuse, to: lamp+, size: 2.5 mm², laid: {bay: 1 m, cab: 2 m}}
  return: {from: lamp-, to: battery-, size: 2.5 mm², laid: {cab: 2 m, bay: 1 m}, bundled-with: lead}
states:
  lit: {lamp: 5 A, for: 2 h}
---
Look at the [lamp](part:lamp).

1. Lay the [lead](run:lead), <value:runs.lead.length> of it.
2. Fix the [fuse](part:fuse).
";

/// The guide with one stretch replaced, read: a line for each fault.
fn faults(old: &str, new: &str) -> Vec<String> {
    assert_eq!(GUIDE.matches(old).count(), 1, "`{old}` must stand in the guide once");
    listed(&GUIDE.replace(old, new))
}

fn listed(text: &str) -> Vec<String> {
    let file = SourceFile::new("lamp/guide.md", text);
    let (guide, findings) = read(file.clone(), "lamp");
    assert!(guide.is_some() || !findings.is_empty());
    findings
        .iter()
        .map(|f| {
            assert_eq!(f.severity, Severity::Unreadable);
            assert!(fault::ALL.iter().any(|(id, _)| *id == f.rule), "`{}` is not listed", f.rule);
            let at = file.line_column(f.place.span.start);
            format!("{}:{} {}: {} {}", at.line, at.column, f.rule, f.message, f.advice.join(" "))
        })
        .collect()
}

#[track_caller]
fn says(old: &str, new: &str, expected: &[&str]) {
    let found = faults(old, new);
    assert_eq!(found, expected, "\nafter `{old}` became `{new}`\n{found:#?}");
}

#[test]
fn the_guide_itself_has_none() {
    assert_eq!(listed(GUIDE), Vec::<String>::new());
}

#[test]
fn every_fault_has_an_id_of_its_own() {
    let mut ids: Vec<&str> = fault::ALL.iter().map(|(id, _)| *id).collect();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), fault::ALL.len());
}

#[test]
fn front_matter_needs_its_fences() {
    says(
        "---\ntitle",
        "title",
        &[
            "1:1 no-front-matter: The file does not start with front matter. Let the very first line be `---`, then the front matter, then another line `---`, then the text.",
        ],
    );
    says(
        "---\ntitle",
        "\n---\ntitle",
        &["1:1 no-front-matter: There are empty lines above the front matter. Let the very first line be `---`."],
    );
    says(
        "---\nLook",
        "Look",
        &[
            "1:1 no-front-matter: The front matter that starts here has no end. Put a line `---` between the front matter and the text, with nothing before it on that line.",
        ],
    );
}

#[test]
fn keys_are_known_and_needed_ones_are_there() {
    says(
        "title: A lamp",
        "titel: A lamp",
        &["2:1 unknown-key: `titel` is not a key of the front matter. Did you mean `title`?"],
    );
    says(
        "title: A lamp",
        "weather: fine\ntitle: A lamp",
        &[
            "2:1 unknown-key: `weather` is not a key of the front matter. Take it away, or use one of these: `title`, `summary`, `written`, `by`, `standing`, `vehicle`, `system`, `coldest`, `time-needed`, `tools`, `skill`, `subjects`, `zones`, `parts`, `every-run`, `runs`, `states`, `endurance`, `variants`, `answers`, `record` or `changes`.",
        ],
    );
    says(
        "summary: Fits a lamp.\n",
        "",
        &[
            "2:1 missing-key: The front matter has no `summary`. Add `summary: …`. What is done, in one or two sentences.",
        ],
    );
    says("label: Cab, ", "", &["9:3 missing-key: The zone `cab` has no `label`. Add `label: …`. Its name for people."]);
    says(
        "  fuse: {is: fuse, in: bay",
        "  fuse: {is: fuse, in: bay, capacity: 60 Ah",
        &[
            "17:29 unknown-key: The part `fuse` is a fuse, and has no `capacity`. Take it away, or put it at a part that is: `battery`.",
        ],
    );
    says(
        "  fuse: {is: fuse, in: bay",
        "  fuse: {is: fuse, in: bay, ratign: 10 A",
        &["17:29 unknown-key: `ratign` is not a key of the part `fuse`. Did you mean `rating`?"],
    );
    says(
        "rating: 10 A, ",
        "",
        &["17:3 missing-key: The part `fuse` has no `rating`. Add `rating: 150 A`. Its rated current."],
    );
    says("in: cab, ", "", &["18:3 missing-key: The part `lamp` has no `in`. Add `in:` and the zone where it is."]);
    says(
        ", length: 0.1 m",
        "",
        &[
            "21:3 missing-key: The run `feed` has no length. Add `length: 0.3 m` if it lies in one zone, or `laid: {load: 0.6 m, cab: 3.0 m}` if it passes through more.",
        ],
    );
    says(
        "lit: {lamp: 5 A, for: 2 h}",
        "lit: {lamp: 5 A, fro: 2 h}",
        &["25:20 unknown-key: `fro` is not a key of the state `lit`. Did you mean `for`?"],
    );
    says(
        "lit: {lamp: 5 A, for: 2 h}",
        "lit: {lamp: 5 A, every: 2 h}",
        &[
            "25:27 missing-key: The state `lit` says how often it comes, and not how long it lasts. Add `for:` with the time that it is on in each cycle.",
        ],
    );
    says(
        "from: battery+",
        "from:battery+",
        &["21:10 unknown-key: A space is missing after the colon in `from:battery+`. Write `from: battery+`."],
    );
    says(
        "zones:\n",
        "zones: {}\nzoness:\n",
        &[
            "7:8 missing-key: There is nothing in `zones`. Write them as in `{zone: {label: …}}`, or below each other, further to the right.",
            "8:1 unknown-key: `zoness` is not a key of the front matter. Did you mean `zones`?",
        ],
    );
}

#[test]
fn values_are_what_their_keys_take() {
    says(
        "summary: Fits a lamp.",
        "summary:",
        &["3:1 wrong-shape: Nothing stands after `summary`. Write `summary: …`, or take the key away."],
    );
    says(
        "summary: Fits a lamp.",
        "summary: \"\"",
        &["3:10 bad-value: `summary`: the text is empty. Write `summary: …`."],
    );
    says(
        "summary: Fits a lamp.",
        "summary: [a, b]",
        &["3:10 wrong-shape: `summary` takes a text, and a list stands here. Write `summary: …`."],
    );
    says(
        "2026-10-03",
        "3.10.2026",
        &["4:10 bad-value: `written`: `3.10.2026` is not a date. Write year, month and day: `2026-10-03`."],
    );
    says(
        "2026-10-03",
        "2026-02-30",
        &[
            "4:10 bad-value: `written`: there is no day `2026-02-30`. Write year, month and day, in this order: `2026-10-03`.",
        ],
    );
    says(
        "kind: van",
        "kind: vna",
        &[
            "5:17 bad-value: `vna` is not a word that `kind` of `vehicle` takes. Did you mean `van`? It can be `car`, `van`, `boat`, `tractor`, `lorry` or `trailer`.",
        ],
    );
    says(
        "kind: van",
        "kind: spaceship",
        &[
            "5:17 bad-value: `spaceship` is not a word that `kind` of `vehicle` takes. It can be `car`, `van`, `boat`, `tractor`, `lorry` or `trailer`.",
        ],
    );
    says(
        "12 V\n",
        "12\n",
        &["6:9 bad-value: `system`: `12` has no unit; a voltage is needed. Write `12 V` or `12 mV`."],
    );
    says(
        "12 V\n",
        "48 V\n",
        &["6:9 bad-value: A 48 V system is not one that can be checked. Write `12 V` or `24 V`, the nominal voltage."],
    );
    says(
        "12 V\n",
        "14.4 V\n",
        &[
            "6:9 bad-value: A 14.4 V system is not one that can be checked. Write `12 V` or `24 V`, the nominal voltage.",
        ],
    );
    says(
        "{kind: van, body: steel, drive: petrol}",
        "van",
        &[
            "5:10 wrong-shape: `van` stands where the keys of `vehicle` belong. Write them as in `{kind: car, body: steel, drive: petrol}`, or below each other, further to the right.",
        ],
    );
    says(
        "{kind: van, body: steel, drive: petrol}",
        "[van]",
        &[
            "5:10 wrong-shape: A list stands where the keys of `vehicle` belong. Write them as in `{kind: car, body: steel, drive: petrol}`, or below each other, further to the right.",
        ],
    );
    says(
        "60 °C",
        "60 C",
        &[
            "8:37 bad-value: `ambient` of the zone `bay`: `C` is not how a unit of temperature is written. Write `60 °C`.",
        ],
    );
    says(
        "60 °C",
        "60",
        &[
            "8:37 bad-value: `ambient` of the zone `bay`: `60` has no unit; a temperature is needed. Write `60 °C` or `60 °F`.",
        ],
    );
    says(
        "engine-space: true",
        "engine-space: yes",
        &["8:58 bad-value: `engine-space` of the zone `bay`: `yes` is neither true nor false. Write `true`."],
    );
    says(
        "occupied: true",
        "occupied: maybe",
        &["9:31 bad-value: `occupied` of the zone `cab`: `maybe` is neither true nor false. Write `true` or `false`."],
    );
    says(
        "  fuse: {is: fuse, in: bay",
        "  fuse: {is: fuze, in: bay",
        &[
            "17:14 bad-value: `fuze` is not a word that `is` of the part `fuse` takes. Did you mean `fuse`? It can be `battery`, `breaker`, `fuse`, `isolator`, `relay`, `post`, `busbar`, `connector`, `panel`, `load`, `winch`, `inverter`, `charger`, `starter`, `alternator`, `engine` or `body`.",
        ],
    );
    says(
        "rating: 10 A, ",
        "rating: 0 A, ",
        &[
            "17:37 bad-value: `rating` of the part `fuse`: a current of `0 A` is none. Write it as in `150 A`, or take the key away.",
        ],
    );
    says(
        "rating: 10 A, ",
        "rating: 10 V, ",
        &[
            "17:37 bad-value: `rating` of the part `fuse`: `10 V` is a voltage; a current is needed. Write a current, as `150 A`.",
        ],
    );
    says(
        "135 %: 1 s to 60 s",
        "135 %: 60 s",
        &[
            "17:58 bad-value: `135 %` of `opens` of the part `fuse`: `60 s` is not two times. Write the shortest and the longest time: `60 s to 1800 s`. If the maker gives only one of the two, leave this point out.",
        ],
    );
    says(
        "135 %: 1 s to 60 s",
        "135 %: 60 s to 1 s",
        &[
            "17:58 bad-value: `135 %` of `opens` of the part `fuse`: in `60 s to 1 s` the first time is the longer one. Write the shortest and the longest time: `60 s to 1800 s`. If the maker gives only one of the two, leave this point out.",
        ],
    );
    says(
        "135 %: 1 s to 60 s",
        "135: 1 s to 60 s",
        &["17:51 bad-value: `opens` of the part `fuse`: `135` has no unit; a percentage is needed. Write `135 %`."],
    );
    says(
        "135 %: 1 s to 60 s",
        "135 %: 0.01 s to 60 s",
        &[
            "17:74 disagreement: By `opens`, the part `fuse` takes longer to open at 200 % than at 135 %. Compare both points with the maker's sheet: more current opens it sooner.",
        ],
    );
    says(
        "from: battery+",
        "from: \"the battery\"",
        &[
            "21:16 bad-value: `from` of the run `feed`: `the battery` is not a terminal. Write a part's name, and which terminal: `battery+`, `breaker.line`, `body@bay`, or `post`.",
        ],
    );
    says(
        "from: battery+, to: fuse",
        "from: fuse, to: fuse",
        &[
            "21:26 bad-value: The run `feed` starts and ends at the same terminal, `fuse`. Name the terminal at its other end.",
        ],
    );
    says(
        "length: 0.1 m",
        "length: 0 m",
        &[
            "21:59 bad-value: `length` of the run `feed`: `0 m` is nothing at all. Write what it is, as `4.9 m`, or leave the key out.",
        ],
    );
    says(
        "laid: {bay: 1 m, cab: 2 m}",
        "length: 4 m, laid: {bay: 1 m, cab: 2 m}",
        &[
            "22:56 disagreement: The run `lead` is 4 m long by `length`, and 3 m by `laid`. Correct the wrong one, or take `length` away: `laid` is enough.",
        ],
    );
    says(
        "lit: {lamp: 5 A, for: 2 h}",
        "lit: {lamp: runing}",
        &[
            "25:15 bad-value: `lamp` of the state `lit`: `runing` is not something that a part does. Did you mean `running`? Write a current as in `15 A`, a power as in `350 W`, or `running`, `cranking`, `open` or `closed`.",
        ],
    );
    says(
        "lit: {lamp: 5 A, for: 2 h}",
        "lit: {lamp: 5 Ah}",
        &[
            "25:15 bad-value: `lamp` of the state `lit`: `5 Ah` is a capacity in ampere-hours; a current is needed. Write a current, as `150 A`.",
        ],
    );
    says(
        "lit: {lamp: 5 A, for: 2 h}",
        "lit: {lamp: 5}",
        &["25:15 bad-value: `lamp` of the state `lit`: `5` has no unit; a current is needed. Write `5 A` or `5 kA`."],
    );
    says(
        "lit: {lamp: 5 A, for: 2 h}",
        "lit: {lamp: 5 A, for: 3 h, every: 2 h}",
        &[
            "25:37 disagreement: The state `lit` lasts 3 h, which is longer than its whole cycle of 2 h. `every:` is the time from one start to the next: on and off together.",
        ],
    );
    says(
        "lit: {lamp: 5 A, for: 2 h}",
        "lit: [lamp]",
        &[
            "25:8 wrong-shape: A list stands where the keys of the state `lit` belong. Write them as in `{part: 15 A}`, or below each other, further to the right.",
        ],
    );
    says(
        "  lamp: {is: load",
        "  lamp: {is: load, bolted-to: lamp",
        &[
            "18:31 bad-value: The part `lamp` cannot be bolted to itself. Name the part, or the `body@ZONE`, that carries it.",
        ],
    );
}

#[test]
fn names_name_something() {
    says(
        "  cab: {label: Cab, occupied: true}\n",
        "  Cab: {label: Cab, occupied: true}\n",
        &[
            "9:3 bad-name: `Cab` cannot be the name of a zone. Write `cab`: names start with a letter and have only the small letters a to z, digits, and hyphens between them. `label:` may say it in any words.",
        ],
    );
    says(
        "  fuse: {is: fuse, in: bay",
        "  fuse: {is: fuse, in: bya",
        &["17:24 unknown-name: `in` of the part `fuse`: there is no zone `bya`. Did you mean `bay`?"],
    );
    says(
        "to: outside",
        "to: ouside",
        &[
            "16:56 unknown-name: `to` of `vent` of `housing` of the part `battery`: there is no zone `ouside`. Did you mean `outside`?",
        ],
    );
    says(
        "to: outside",
        "to: attic",
        &[
            "16:56 unknown-name: `to` of `vent` of `housing` of the part `battery`: there is no zone `attic`. Use one of these, or describe it under `zones:`: `bay` or `cab`.",
        ],
    );
    says(
        "from: battery+",
        "from: batery+",
        &["21:16 unknown-name: `from` of the run `feed`: there is no part `batery`. Did you mean `battery`?"],
    );
    says(
        "laid: {bay: 1 m, cab: 2 m}",
        "laid: {bay: 1 m, cba: 2 m}",
        &["22:65 unknown-name: `laid` of the run `lead`: there is no zone `cba`. Did you mean `cab`?"],
    );
    says(
        "bundled-with: lead",
        "bundled-with: [lead, laed, return]",
        &[
            "23:103 unknown-name: `bundled-with` of the run `return`: there is no run `laed`. Did you mean `lead`?",
            "23:109 bad-value: The run `return` cannot be in a bundle with itself. Name the other runs of the bundle.",
        ],
    );
    says(
        "lit: {lamp: 5 A, for: 2 h}",
        "lit: {lmap: 5 A, for: 2 h}",
        &["25:9 unknown-name: The state `lit`: there is no part `lmap`. Did you mean `lamp`?"],
    );
    says(
        "  lamp: {is",
        "  every: {is: post, in: cab}\n  none: {is: post, in: cab}\n  lamp: {is",
        &[
            "18:3 bad-name: No part can be called `every`: the word means something else in front matter. Give it another name.",
            "19:3 bad-name: No part can be called `none`: the word means something else in front matter. Give it another name.",
        ],
    );
    says(
        "  lamp: {is",
        "  fuse: {is: post, in: cab}\n  lamp: {is",
        &[
            "17:3 duplicate-key: `fuse` stands here and again on line 18. Keep one of the two, or give the other a name of its own.",
            "18:3 duplicate-key: `fuse` already stands on line 17. Keep one of the two, or give the other a name of its own.",
        ],
    );
    says(
        "  lamp: {is",
        "  the-body: {is: body, in: cab, between: {cab to bya: 5 mΩ, cab: 3 mΩ, cab to cab: 1 mΩ}}\n  lamp: {is",
        &[
            "18:28 unknown-key: The part `the-body` is the body, and that is in every zone. Take `in` away; say `body@ZONE` where something is bolted to it.",
            "18:43 unknown-name: `between` of the part `the-body`: there is no zone `bya`. Did you mean `bay`?",
            "18:61 bad-value: `cab` does not name two zones. Write them as in `load to bay: 5.5 mΩ`.",
            "18:72 bad-value: `cab to cab` names the same zone twice. Name the two zones between which it was measured.",
        ],
    );
}

#[test]
fn text_is_tied_to_what_is_there() {
    says("(part:lamp)", "(part:lmap)", &["27:13 unknown-name: There is no part `lmap`. Did you mean `lamp`?"]);
    says(
        "(part:lamp)",
        "(part:lead)",
        &["27:13 unknown-name: There is no part `lead`. `lead` is a run: write `(run:lead)`."],
    );
    says(
        "(run:lead)",
        "(run: lead)",
        &[
            "29:17 link-kind: `](run:` starts nothing that Markdown takes for a link. Write it as in `[the main return](run:main-return)`, without spaces inside the round or pointed brackets, and not within HTML.",
        ],
    );
    says(
        "(run:lead)",
        "(value:runs.lead.length)",
        &[
            "29:12 link-kind: A value is not linked to. Write `<value:runs.lead.length>` in pointed brackets: the value stands in its place.",
        ],
    );
    says(
        "<value:runs.lead.length>",
        "<value:runs.laed.lenght>",
        &["29:30 unknown-name: There is no value `runs.laed.lenght`. Did you mean `<value:runs.lead.length>`?"],
    );
    says(
        "<value:runs.lead.length>",
        "<value: runs.lead.length>",
        &[
            "29:30 link-kind: `<value:` starts nothing that Markdown takes for a link. Write it as in `<value:runs.main-return.length>`, without spaces inside the round or pointed brackets, and not within HTML.",
        ],
    );
    says(
        "<value:runs.lead.length>",
        "<run:lead>",
        &[
            "29:30 link-kind: `<run:lead>` has no words of its own. Write `[lead](run:lead)`, so that the reader sees words.",
        ],
    );
    says(
        "Look at the",
        "Look at ![the drawing](drawing:wiring) the",
        &[
            "27:9 drawing-place: A drawing must stand alone in its paragraph. Put it on a line of its own with an empty line before and after it.",
        ],
    );
    says(
        "Look at the",
        "![How](drawing:wirign)\n\nLook at the",
        &["27:1 unknown-name: There is no drawing `wirign`. Did you mean `wiring`?"],
    );
    says(
        "Look at the",
        "![](battery.jpg) Look at the",
        &[
            "27:1 photo-text: The photo `battery.jpg` has no words for those who cannot see it. Say in the square brackets what it shows: `![The battery in its frame](battery.jpg)`.",
        ],
    );
    says(
        "Look at the",
        "![Battery](../battery.jpg) Look at the",
        &[
            "27:1 outside-folder: `../battery.jpg` is not in the guide's own folder. Put the file beside the guide and name it without `/` or `..` in front.",
        ],
    );
    says(
        "Look at the",
        "![Battery](%2e%2e/battery.jpg) Look at the",
        &[
            "27:1 outside-folder: `../battery.jpg` is not in the guide's own folder. Put the file beside the guide and name it without `/` or `..` in front.",
        ],
    );
    says(
        "Look at the",
        "![Battery](https://example.org/battery.jpg) Look at the",
        &[
            "27:1 link-kind: A photo that lies elsewhere is not shown: pages fetch nothing from other places. Put the file beside the guide and name it: `![…](photo.jpg)`.",
        ],
    );
    says(
        "Look at the",
        "[x](javascript:alert) Look at the",
        &[
            "27:1 link-kind: A link of the kind `javascript:` is not one that a guide may have. Link to `https:`, `http:` or `mailto:`, to `run:` or `part:`, to a file of the guide, or to a heading with `#`.",
        ],
    );
    says(
        "Look at the",
        "[x](drawing:wiring) Look at the",
        &[
            "27:1 link-kind: A drawing is shown, not linked to. Write `![How it is wired](drawing:wiring)`, with a `!`, alone in its paragraph.",
        ],
    );
    says(
        "Look at the",
        "[x](../../etc) Look at the",
        &[
            "27:1 outside-folder: `../../etc` is not in the guide's own folder. Put the file beside the guide and name it without `/` or `..` in front.",
        ],
    );
}

#[test]
fn standing_answers_and_variants_are_whole() {
    says(
        "states:\n",
        "standing: withdrawn\nstates:\n",
        &[
            "24:11 bad-value: `standing: withdrawn` does not say enough. Write `standing: {withdrawn: {dated: 2026-10-03, reason: …, remedy: …}}`.",
        ],
    );
    says(
        "states:\n",
        "standing: {withdrawn: {dated: 2026-01-01}}\nstates:\n",
        &[
            "24:12 missing-key: `withdrawn` of `standing` has no `reason`. Add `reason: …`. What was wrong.",
            "24:12 missing-key: `withdrawn` of `standing` has no `remedy`. Add `remedy: …`. What a reader who followed the guide should do.",
        ],
    );
    says(
        "states:\n",
        "standing: hidden\nstates:\n",
        &["24:11 bad-value: `hidden` is not a word that `standing` takes. It can be `published` or `working`."],
    );
    says(
        "states:\n",
        "answers: {rule: x}\nstates:\n",
        &[
            "24:10 wrong-shape: `answers` takes a list, and this is none. Start every item on a line of its own with `- `, below `answers:`.",
        ],
    );
    says(
        "states:\n",
        "answers:\n  - {rule: x, reason: y, by: z}\n  - rule: x\nstates:\n",
        &[
            "25:5 missing-key: Item 1 of `answers` has no `until`. Add `until: 2026-10-03`. The last day on which the answer holds.",
            "26:5 missing-key: Item 2 of `answers` has no `reason`. Add `reason: …`. Why it is right here.",
            "26:5 missing-key: Item 2 of `answers` has no `by`. Add `by: …`. Who says so.",
            "26:5 missing-key: Item 2 of `answers` has no `until`. Add `until: 2026-10-03`. The last day on which the answer holds.",
        ],
    );
    says(
        "states:\n",
        "variants: {a: {title: x, change: none}}\nstates:\n",
        &[
            "24:34 wrong-shape: `change` of the variant `a` takes what is laid over the front matter. Write it as in `change: {runs: {main-return: none}}`.",
        ],
    );
    says(
        "states:\n",
        "endurance: {dark: 5 h}\nstates:\n",
        &[
            "24:13 unknown-name: `endurance`: there is no state `dark`. Use one of these, or describe it under `states:`: `lit`.",
        ],
    );
    says(
        "states:\n",
        "tools: [spanner: 13 mm]\nstates:\n",
        &[
            "24:9 wrong-shape: `tools` takes a text, and a mapping stands here. Write `tools: …`. If this is one text with `: ` in it, put all of it in quotes.",
        ],
    );
}

#[test]
fn yaml_slips_are_explained() {
    says(
        "135 %: 1 s to 60 s",
        "135 %: 1,5 s to 60 s",
        &[
            "17:58 yaml-syntax: `1,5 s to 60 s` has a decimal comma in it, and inside brackets a comma ends the value. Write `1.5 s to 60 s`, with a decimal point.",
        ],
    );
    says(
        "title: A lamp",
        "title: Lamp: bright",
        &[
            "2:12 yaml-syntax: A colon and a space stand inside the value of `title`, and YAML takes what is before them for a key. Put the value in quotes: `title: \"Lamp: bright\"`.",
        ],
    );
    says(
        "label: Cab,",
        "label: Cab: front,",
        &[
            "9:19 yaml-syntax: A colon and a space stand inside the value of `label`, and YAML takes what is before them for a key. Put the value in quotes: `label: \"Cab: front\"`. If `Cab` is a key of its own, put a comma before it.",
        ],
    );
    says(
        "title: A lamp",
        "title: Lamp #2 in the cab",
        &[
            "2:13 yaml-syntax: The `#` starts a comment here, so the value is only `Lamp`. Put the value in quotes: `\"Lamp #2 in the cab\"`. If a comment is meant, put it on a line of its own.",
        ],
    );
    says(
        "label: Cab,",
        "label: Cab #2,",
        &[
            "9:20 yaml-syntax: The `#` starts a comment here, so the value is only `Cab`. Put the value in quotes: `\"Cab #2\"`. If a comment is meant, put it on a line of its own.",
        ],
    );
    says("title: A lamp", "title: A lamp # comment", &[]);
    says(
        "label: Cab, occupied: true}",
        "label: Cab, occupied: true",
        &[
            "9:8 yaml-syntax: The bracket that opens here is not closed: `cab: {label: Cab, occupied: true`. Add `}` where its contents end.",
        ],
    );
    says(
        "label: Cab, occupied: true}",
        "label: Cab, occupied: true}}",
        &["9:36 yaml-syntax: This bracket closes nothing. Take it away, or add the one that opens."],
    );
    says(
        "label: Cab, occupied: true}",
        "label: Cab occupied: true}",
        &[
            "9:28 yaml-syntax: A colon and a space stand inside the value of `label`, and YAML takes what is before them for a key. Put the value in quotes: `label: \"Cab occupied: true\"`. If `occupied` is a key of its own, put a comma before it.",
        ],
    );
    says(
        "label: Cab, occupied: true}",
        "label: Cab, occupied: true]",
        &["9:35 yaml-syntax: This bracket does not fit the `{` that is open. Close `{` by `}`."],
    );
    says(
        "title: A lamp",
        "title: \"A lamp",
        &[
            "2:8 yaml-syntax: The quotes that open here are not closed. Put the same sign at the end of the text. Inside the text, write `''` for a single quote, or put the text in the other kind of quotes.",
        ],
    );
    says(
        "title: A lamp",
        "title: \"12\" lamp\"",
        &[
            "2:13 yaml-syntax: The text in quotes has ended, and more stands behind it. Put all of the text in quotes. If a quote belongs to the text, use the other kind around it: `'12\" long'`, `\"it's\"`.",
        ],
    );
    says(
        "title: A lamp",
        "title: 'it's a lamp'",
        &[
            "2:12 yaml-syntax: The text in quotes has ended, and more stands behind it. Put all of the text in quotes. If a quote belongs to the text, use the other kind around it: `'12\" long'`, `\"it's\"`.",
        ],
    );
    says(
        "title: A lamp",
        "title: \"a\\qb\"",
        &[
            "2:8 yaml-syntax: In double quotes a `\\` means something special, and this is nothing that it can mean. Use single quotes around the text.",
        ],
    );
    says(
        "title: A lamp",
        "title: [A](b)",
        &[
            "2:11 yaml-syntax: The bracket has closed, and more stands behind it. Put all of the text in quotes if the bracket belongs to it; else take away what is behind it.",
        ],
    );
    says("title: A lamp", "title: @home", &["2:8 yaml-syntax: A value cannot start with `@`. Put it in quotes."]);
    says(
        "title: A lamp",
        "title: - x",
        &[
            "2:8 yaml-syntax: A value cannot start with `- `. If it is a list, put its items below the key. If it is text, put it in quotes.",
        ],
    );
    says(
        "title: A lamp",
        "title: *star*",
        &[
            "2:8 yaml-syntax: `*star*` stands for something written elsewhere; guides are written out in full. Write the value here. If the star is part of a text, put the text in quotes.",
        ],
    );
    says(
        "title: A lamp",
        "title: &a A lamp",
        &[
            "2:8 yaml-syntax: `&a` gives a value a name, for use elsewhere; guides are written out in full. Take it away. If the sign is part of a text, put the text in quotes.",
        ],
    );
    says(
        "title: A lamp",
        "title: !!str A lamp",
        &[
            "2:8 yaml-syntax: `!!str` tells YAML how to take a value; guides do not use that. Take it away. If the sign is part of a text, put the text in quotes.",
        ],
    );
    says(
        "title: A lamp",
        "title:A lamp",
        &[
            "2:6 yaml-syntax: A space is missing after the colon in `title:A lamp`. A key is followed by a colon and a space.",
        ],
    );
    says(
        "title: A lamp",
        "title A lamp",
        &[
            "2:1 yaml-syntax: There is no colon in `title A lamp`, so it is no key with a value. Write a key, a colon, a space and the value. If the line goes on with the text above it, put the whole text in quotes.",
        ],
    );
    says(
        "title: A lamp",
        "title: A lamp\n by: me",
        &[
            "3:2 yaml-syntax: This line stands further to the right than `title: A lamp`, which has its value already. Start it below the first letter of the line that it belongs beside.",
        ],
    );
    says(
        "title: A lamp",
        "- title: A lamp",
        &["2:1 yaml-syntax: A list starts here, and front matter is made of keys. Take the `- ` away."],
    );
    says(
        "title: A lamp",
        "title: A\tlamp",
        &["2:9 yaml-syntax: A tab stands here, and YAML does not count tabs as spaces. Use spaces instead."],
    );
    says(
        "    chemistry: agm",
        "   chemistry: agm",
        &[
            "14:4 yaml-syntax: This line starts after 3 spaces, and no line that it could belong beside does. Start it exactly below the first letter of the lines that it belongs beside.",
        ],
    );
    says(
        "    chemistry: agm",
        "\tchemistry: agm",
        &["14:1 yaml-syntax: A tab stands here, and YAML does not count tabs as spaces. Use spaces instead."],
    );
    says(
        "    chemistry: agm",
        "    yes: agm",
        &[
            "11:3 missing-key: The part `battery` has no `chemistry`. Add `chemistry: flooded`. What it works by.",
            "14:5 yaml-syntax: `yes` cannot be a key: some programs read it as true or false. Use another word.",
        ],
    );
    says(
        "title: A lamp",
        "title: A lamp\n...\n",
        &[
            "5:1 yaml-syntax: A second YAML document starts here. Keep all of the front matter in one document: take this line away.",
        ],
    );
    says(
        "title: A lamp",
        "title: A\u{85}lamp",
        &[
            "2:9 yaml-syntax: An invisible line break (U+0085) stands here. Delete it, and press the return key if a new line is meant.",
        ],
    );
    says(
        "title: A lamp",
        "title:\u{a0}A lamp",
        &["2:7 yaml-syntax: A special space from a web page (U+00A0) stands here. Replace it by an ordinary space."],
    );
    says(
        "title: A lamp",
        "title: A\u{202e}lamp",
        &[
            "2:9 yaml-syntax: An invisible sign that turns the order of letters around (U+202E) stands here. Delete it: what people read and what is published would differ.",
        ],
    );
    says(
        "title: A lamp",
        "? [a, b]\n: x\ntitle: A lamp",
        &["2:3 yaml-syntax: A list or mapping stands where a key belongs. Write a word, then `:`."],
    );
    says(
        "rating: 10 A, ",
        "rating: 1,5 A, ",
        &[
            "17:37 yaml-syntax: `1,5 A` has a decimal comma in it, and inside brackets a comma ends the value. Write `1.5 A`, with a decimal point.",
        ],
    );
    says(
        "rating: 10 A, ",
        "rating: 10,000 A, ",
        &[
            "17:37 yaml-syntax: `10,000 A` has a comma in it, and inside brackets a comma ends the value. Write `10000 A` if the comma parts thousands, `10.000 A` if it is a decimal point.",
        ],
    );
    says("title: A lamp", "title: 012\nskill: 1e3\nby: 0.0\ntime-needed: 2026-10-03", &[]);
    says(
        "title: A lamp\nsummary: Fits a lamp.\nwritten: 2026-10-03",
        "title: A: lamp\nsummary: \"Fits a lamp.\nwritten: 3.10.2026",
        &[
            "2:9 yaml-syntax: A colon and a space stand inside the value of `title`, and YAML takes what is before them for a key. Put the value in quotes: `title: \"A: lamp\"`.",
            "3:10 yaml-syntax: The quotes that open here are not closed. Put the same sign at the end of the text. Inside the text, write `''` for a single quote, or put the text in the other kind of quotes.",
            "4:10 bad-value: `written`: `3.10.2026` is not a date. Write year, month and day: `2026-10-03`.",
        ],
    );
    says(
        "vehicle: {kind: van, body: steel, drive: petrol}\nsystem: 12 V",
        "vehicle: {kind: vna, body: steel, drive: petrol\nsystem: 12",
        &[
            "5:10 yaml-syntax: The bracket that opens here is not closed: `vehicle: {kind: vna, body: steel, drive: petrol`. Add `}` where its contents end.",
            "6:9 bad-value: `system`: `12` has no unit; a voltage is needed. Write `12 V` or `12 mV`.",
        ],
    );
}

#[test]
fn what_two_yaml_readers_take_differently_is_not_guessed_at() {
    says(
        "label: Cab, ",
        "label: ?Cab, ",
        &[
            "9:16 yaml-syntax: Two YAML readers do not take this line alike. Write it more plainly: one key a line, values in quotes where they hold special signs.",
        ],
    );
    says(
        "title: A lamp",
        "title: \"A \\u202e lamp\"",
        &["2:8 bad-value: `title`: an invisible sign (U+202E) is in the text. Leave it out."],
    );
}

#[test]
fn lists_and_mappings_that_lie_too_deep_are_refused() {
    let found = faults("title: A lamp", &format!("title: {}{}", "[".repeat(200), "]".repeat(200)));
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(found[0].starts_with("2:31 yaml-syntax: Mappings and lists lie too deep"), "{found:?}");
}

#[test]
fn what_looks_like_a_link_and_is_none_is_said() {
    says(
        "Look at the",
        "![The shelf](my shelf.jpg) Look at the",
        &[
            "27:12 link-kind: `](` starts nothing that Markdown takes for a link. Write it as in `![The shelf](shelf.jpg)`, without spaces inside the round or pointed brackets, and not within HTML.",
        ],
    );
    says("Look at the", "So `](run:x)` and <!-- [x](run: y) --> \\](run: z) Look at the", &[]);
    says(
        "Look at the",
        "<div>\n<value:runs.lead.length>\n</div>\n\nLook at the",
        &[
            "28:1 link-kind: `<value:` starts nothing that Markdown takes for a link. Write it as in `<value:runs.main-return.length>`, without spaces inside the round or pointed brackets, and not within HTML.",
        ],
    );
    says(
        "Look at the",
        "<!--\n[x](run: y)\n-->\n\n    ](run: code)\n\nLook \u{202e}at the",
        &[
            "33:6 bad-value: An invisible sign (U+202E) stands here. Delete it: people might read something else than what is written.",
        ],
    );
}
