//! The whole program, run as an author would: exit statuses, the site folder, one bad guide among good ones.

use std::fs;

use super::place::{GOOD, Place, bad, titled};

#[test]
fn fresh_content_becomes_a_site() {
    let place = Place::with(&[("van", GOOD)]);
    place.write("content/as-is/club/badge.svg", "<svg/>");
    place.run(&["publish"]).ends(0).says("Nothing found stands in the way").says("files to site.");
    let site = place.tree("site");
    for file in ["index.html", "van/index.html", "club/badge.svg", ".made-by-goodground"] {
        assert!(site.contains_key(std::path::Path::new(file)), "no {file} in {:?}", site.keys());
    }
    assert_eq!(place.names(), ["content", "site"]);
}

#[test]
fn one_wrong_number_fails_and_leaves_the_site_byte_for_byte() {
    let place = Place::with(&[("van", GOOD)]);
    place.run(&["publish"]).ends(0);
    let before = place.tree("site");
    place.write("content/van/guide.md", bad());
    let ran =
        place.run(&["publish"]).ends(1).says("unsafe[return-drop]").says("Nothing was written: site is as it was.");
    // The author's own line, with its number.
    let line = bad().lines().position(|l| l.trim_start().starts_with("starter:")).unwrap() + 1;
    assert!(ran.out.contains(&format!("content/van/guide.md:{line}:3")), "{}", ran.out);
    assert_eq!(place.tree("site"), before);
    assert_eq!(place.names(), ["content", "site"]);
}

#[test]
fn without_a_site_a_failed_publish_makes_none() {
    let place = Place::with(&[("van", &bad())]);
    place.run(&["publish", "--to", "out/site"]).ends(1);
    assert_eq!(place.names(), ["content"]);
}

#[test]
fn a_guide_that_cannot_be_read_hides_no_other() {
    let place =
        Place::with(&[("a", "no front matter here"), ("c", &titled(&bad(), "Bad")), ("d", &titled(GOOD, "Good"))]);
    place.write("content/b/guide.md", b"---\ntitle: \xff\n---\n");
    let ran = place.run(&["review", "--form", "line"]).ends(1);
    let found: Vec<(&str, &str)> = ran
        .out
        .lines()
        .map(|l| {
            let (file, rest) = l.split_once(':').unwrap();
            (file, rest.split(": ").nth(1).unwrap())
        })
        .collect();
    assert!(found.contains(&("content/a/guide.md", "unreadable no-front-matter")), "{found:?}");
    assert!(found.contains(&("content/b/guide.md", "unreadable not-text")), "{found:?}");
    assert!(found.contains(&("content/c/guide.md", "unsafe return-drop")), "{found:?}");
    assert!(!found.iter().any(|(file, _)| file.contains("/d/")), "{found:?}");
}

#[test]
fn only_the_guides_asked_about_are_reported() {
    let place = Place::with(&[("good", &titled(GOOD, "Good")), ("bad", &titled(&bad(), "Bad"))]);
    place.run(&["review", "good"]).ends(0).says("1 guide,");
    for name in ["bad", "content/bad", "./content/bad/", "content/bad/guide.md"] {
        place.run(&["review", name]).ends(1).says("1 guide,").says("return-drop");
    }
    place.run(&["review", "good", "bad", "good"]).ends(1).says("2 guides,");
    place.run(&["review", "goood"]).ends(2).complains("did you mean good?");
}

#[test]
fn a_working_guide_is_left_out_and_in_nobody_s_way() {
    let working = titled(&bad(), "Not yet").replacen("system:", "standing: working\nsystem:", 1);
    let place = Place::with(&[("good", GOOD), ("later", &working)]);
    place.run(&["publish"]).ends(0);
    assert!(!place.path("site/later").exists());
    place.run(&["review"]).ends(0).says("Working, and not fit for the site yet: later.");
    place.run(&["review", "later"]).ends(1);
}

#[test]
fn a_withdrawn_guide_stays_as_a_notice_whatever_its_numbers() {
    let standing =
        "standing:\n  withdrawn: {dated: 2026-11-25, reason: The return is too thin., remedy: Take it off.}\nsystem:";
    let place = Place::with(&[("van", &bad().replacen("system:", standing, 1))]);
    place.run(&["publish"]).ends(0);
    let page = fs::read_to_string(place.path("site/van/index.html")).unwrap();
    assert!(page.contains("The return is too thin.") && page.contains("Take it off."));
}

#[test]
fn wrong_usage_is_told_and_ends_with_2() {
    let place = Place::with(&[("van", GOOD)]);
    for wrong in
        [&["publsh"][..], &["publish", "--frm", "x"], &[], &["explain", "no-such-rule"], &["review", "--form", "xml"]]
    {
        let ran = place.run(wrong).ends(2);
        assert!(!ran.err.is_empty(), "{wrong:?} was not told why");
    }
    place.run(&["review", "--from", "nowhere"]).ends(2).complains("could not read nowhere");
    assert_eq!(place.names(), ["content"]);
}

#[test]
fn content_without_a_guide_publishes_nothing() {
    let place = Place::with(&[]);
    place.run(&["publish"]).ends(2).complains("there is no guide in content");
    assert_eq!(place.names(), ["content"]);
}

#[test]
fn folders_that_are_not_ours_are_refused_untouched() {
    let place = Place::with(&[("van", GOOD)]);
    place.write("mine/thesis.txt", "ten years");
    place.write("themes/club/look/look.css", "");
    let before = place.tree(".");
    for to in ["mine", ".", "/", "content", "content/site", "themes", "themes/site", "content/../content"] {
        place.run(&["publish", "--to", to]).ends(2).complains("could not publish to");
    }
    place.run(&["publish", "--to", place.root().parent().unwrap().to_str().unwrap()]).ends(2);
    let home = place.command().env("HOME", place.path("home")).args(["publish", "--to", "home"]).output().unwrap();
    assert_eq!(home.status.code(), Some(2), "{}", String::from_utf8_lossy(&home.stderr));
    assert_eq!(place.tree("."), before);
}

#[test]
fn a_draft_reviews_clear_and_is_not_written_over() {
    let place = Place::with(&[("van", GOOD)]);
    place.run(&["draft", "cool-box", "--title", "A coolbox: 12\" deep"]).ends(0).says("content/cool-box/guide.md");
    place.run(&["review", "cool-box"]).ends(0);
    place.run(&["draft", "cool-box"]).ends(2).complains("it is there already");
    place.run(&["draft", "Cool Box"]).ends(2).complains("try cool-box");
    place.run(&["draft", "../up"]).ends(2);
    assert_eq!(place.names(), ["content"]);
}

#[test]
fn explain_lists_rules_and_tells_each() {
    let place = Place::with(&[]);
    let list = place.run(&["explain"]).ends(0).out;
    assert!(list.lines().count() >= 1);
    for line in list.lines() {
        let id = line.split_whitespace().next().unwrap();
        place.run(&["explain", id]).ends(0).says("Sources");
    }
    place.run(&["explain", "return-dorp"]).ends(2).complains("did you mean return-drop?");
    place.run(&["explain", "missing-key"]).ends(0);
}

#[test]
fn compare_shows_what_changed() {
    let place = Place::with(&[("van", &bad())]);
    place.write("old.md", GOOD);
    place.run(&["compare", "old.md", "content/van/guide.md"]).ends(1).says("runs.main-return.size: 70 mm² → 4 mm²");
    place.run(&["compare", "content/van/guide.md", "old.md"]).ends(0).says("4 mm² → 70 mm²");
    place.run(&["compare", "old.md", "old.md"]).ends(0).says("No input changed");
    place.run(&["compare", "old.md", "nowhere.md"]).ends(2).complains("could not read nowhere.md");
    place.run(&["compare", "old.md", "content"]).ends(2);
}

#[test]
fn size_tries_cables() {
    let place = Place::with(&[]);
    place.run(&["size", "20 A", "12 m"]).ends(0).says("The smallest that passes is 10 mm².");
    place.run(&["size", "20 A", "39 ft", "--awg", "--system", "24 V", "--steady"]).ends(0).says(" AWG");
    place.run(&["size", "20", "12 m"]).ends(2).complains("CURRENT");
    place.run(&["size", "20 A", "12 A"]).ends(2).complains("DISTANCE");
    place.run(&["size", "20 A", "12 m", "--system", "48 V"]).ends(2).complains("12 V or 24 V");
    place.run(&["size", "900 A", "20 m"]).ends(1).says("No size passes");
}

#[test]
fn schema_prints_json() {
    let place = Place::with(&[]);
    for arguments in [&["schema"][..], &["schema", "--publisher"]] {
        let schema: serde_json::Value = serde_json::from_str(&place.run(arguments).ends(0).out).unwrap();
        assert_eq!(schema["$schema"], "https://json-schema.org/draft/2020-12/schema");
    }
}

#[test]
fn a_club_may_tighten_a_limit_and_not_loosen_it() {
    let place = Place::with(&[("van", GOOD)]);
    let limit =
        |value: &str| place.write("content/publisher.yaml", format!("name: A Club\nlimits:\n  return-drop: {value}\n"));
    limit("0.05 V");
    place.run(&["review"]).ends(1).says("unsafe[return-drop]");
    limit("3 V");
    place.run(&["review"]).ends(1).says("content/publisher.yaml:3:16");
}

#[test]
fn help_lists_only_commands_that_work() {
    let place = Place::with(&[]);
    let help = place.run(&["--help"]).ends(0).out;
    let commands: Vec<&str> = help
        .lines()
        .skip_while(|l| *l != "Commands:")
        .skip(1)
        .take_while(|l| !l.is_empty())
        .filter_map(|l| {
            l.strip_prefix("  ")?.split_whitespace().next().filter(|w| !l.starts_with("   ") || w.is_empty())
        })
        .collect();
    assert!(commands.contains(&"publish"), "{commands:?}");
    for command in commands {
        place.run(&[command, "--help"]).ends(0);
    }
}

#[test]
fn the_machine_form_is_json_a_line() {
    let place = Place::with(&[("van", &bad())]);
    let ran = place.run(&["review", "--form", "json"]).ends(1);
    let lines: Vec<serde_json::Value> = ran.out.lines().map(|l| serde_json::from_str(l).unwrap()).collect();
    let drop = lines.iter().find(|l| l["rule"] == "return-drop").unwrap();
    assert_eq!((drop["severity"].as_str(), drop["stops"].as_bool()), (Some("unsafe"), Some(true)));
    assert!(drop["value"]["si"].as_f64() > drop["limit"]["si"].as_f64());
    let last = lines.last().unwrap();
    assert_eq!((last["kind"].as_str(), last["stands-in-the-way"].as_bool()), (Some("tally"), Some(true)));
}

#[test]
fn nobody_reading_is_no_trouble() {
    let place = Place::with(&[("van", &bad())]);
    for (arguments, status) in [(&["explain"][..], 0), (&["review", "--all"], 1)] {
        let (reader, writer) = std::io::pipe().unwrap();
        drop(reader);
        let output = place.command().args(arguments).stdout(writer).output().unwrap();
        assert_eq!(output.status.code(), Some(status));
        assert_eq!(String::from_utf8_lossy(&output.stderr), "");
    }
}

#[test]
fn one_thread_and_many_make_the_same_bytes() {
    let guides: Vec<(String, String)> =
        (0..12).map(|i| (format!("g{i}"), titled(GOOD, &format!("Guide {i}")))).collect();
    let guides: Vec<(&str, &str)> = guides.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
    let place = Place::with(&guides);
    let mut outputs = Vec::new();
    for threads in ["1", "8"] {
        let ran =
            place.command().env("RAYON_NUM_THREADS", threads).args(["publish", "--to", threads]).output().unwrap();
        assert!(ran.status.success(), "{}", String::from_utf8_lossy(&ran.stdout));
        let review =
            place.command().env("RAYON_NUM_THREADS", threads).args(["review", "--form", "json"]).output().unwrap();
        outputs.push((place.tree(threads), review.stdout));
    }
    assert!(outputs[0] == outputs[1], "the sites or the reports differ");
}

#[test]
fn an_unusable_theme_is_a_finding_and_hides_no_guide() {
    let place = Place::with(&[("van", &bad())]);
    place.write("content/publisher.yaml", "name: A Club\ntheme: nosuch\n");
    place.run(&["review"]).ends(1).says("no-theme").says("content/publisher.yaml:2:8").says("return-drop");
}

/// Every file of the copied part of the site, when all of them tell the same edition.
#[cfg(unix)]
fn edition(place: &Place, files: usize) -> String {
    let mut texts: Vec<String> =
        (0..files).map(|i| fs::read_to_string(place.path(&format!("site/many/{i}.txt"))).unwrap()).collect();
    assert!(place.path("site/index.html").exists() && place.path("site/van/index.html").exists());
    texts.dedup();
    assert_eq!(texts.len(), 1, "two editions are mixed");
    texts.remove(0)
}

#[cfg(unix)]
#[test]
fn a_publish_killed_anywhere_leaves_one_whole_site() {
    const FILES: usize = 600;
    let place = Place::with(&[("van", GOOD)]);
    let edit = |text: &str| (0..FILES).for_each(|i| place.write(&format!("content/as-is/many/{i}.txt"), text));
    edit("first");
    place.run(&["publish"]).ends(0);
    edit("second");
    let leavings = || place.names().into_iter().filter(|n| n.starts_with(".site.goodground-new-")).count();
    let mut killed_midway = 0;
    for pause in 0..12 {
        let mut run = place.command().arg("publish").stdout(std::process::Stdio::null()).spawn().unwrap();
        // From the moment that the new site is being built, a little later each time.
        while leavings() == 0 && run.try_wait().unwrap().is_none() {
            std::thread::sleep(std::time::Duration::from_micros(200));
        }
        std::thread::sleep(std::time::Duration::from_millis(pause * 4));
        let _ = run.kill();
        run.wait().unwrap();
        killed_midway += leavings();
        let there = edition(&place, FILES);
        assert!(there == "first" || there == "second");
    }
    assert!(killed_midway > 0, "no run was caught at its work, so nothing was tried");
    place.run(&["publish"]).ends(0);
    assert_eq!(edition(&place, FILES), "second");
    assert_eq!(place.names(), ["content", "site"]);
}

#[test]
fn the_numbers_are_told_to_whoever_asks() {
    let place = Place::with(&[("van", GOOD)]);
    let told = place.command().args(["review", "--numbers"]).output().unwrap();
    let told = String::from_utf8(told.stdout).unwrap();
    for heading in [
        "What was checked",
        "How far each run may differ, one at a time",
        "What fits a symptom",
        "Variants, and what stands against each",
        "Readings that prove the job",
        "still cut in 5 s",
        "from full to half charge",
        "source: 33 CFR 183.425",
    ] {
        assert!(told.contains(heading), "{heading}: {told}");
    }
    let quiet = place.command().arg("review").output().unwrap();
    assert!(!String::from_utf8(quiet.stdout).unwrap().contains("What was checked"));
}

#[test]
fn publishes_at_once_wait_for_nobody_and_spoil_nothing() {
    let place = Place::with(&[("van", GOOD)]);
    let runs: Vec<_> = (0..4).map(|_| place.command().arg("publish").output()).map(Result::unwrap).collect();
    assert!(runs.iter().all(|r| r.status.success()));
    let at_once: Vec<_> = (0..6)
        .map(|_| {
            let mut command = place.command();
            command.arg("publish").stdout(std::process::Stdio::null()).stderr(std::process::Stdio::piped());
            command.spawn().unwrap()
        })
        .collect();
    let mut done = 0;
    for run in at_once {
        let output = run.wait_with_output().unwrap();
        match output.status.code() {
            Some(0) => done += 1,
            status => {
                assert_eq!(status, Some(2));
                assert!(String::from_utf8_lossy(&output.stderr).contains("another publish"));
            }
        }
    }
    assert!(done >= 1);
    assert!(place.path("site/van/index.html").exists());
    assert_eq!(place.names(), ["content", "site"]);
}
