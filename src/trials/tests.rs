//! Trials against full studies, and against what they must find.

use super::change::Suspect;
use super::*;
use crate::circuit::RunId;
use crate::finding::Severity;
use crate::quantity::Voltage;
use crate::rules::testing::{VAN, changed, studied};

fn judged(text: &str) -> (crate::rules::testing::Studied, Judgement) {
    let studied = studied(text);
    let judgement = rules::judge(&studied.bench());
    (studied, judgement)
}

/// The van with a starter feed of another size.
fn with_starter_feed_of(size: &str) -> String {
    let feed = "starter-feed: {from: post, to: starter, size: ";
    changed(VAN, &[(&format!("{feed}70 mm²"), &format!("{feed}{size}"))])
}

#[test]
fn the_designs_variant_bears_its_claim_out_and_only_the_return_is_unsafe() {
    let (studied, _) = judged(VAN);
    let (variants, findings) = variant::variants(&studied.guide, &rules::limits::NONE);
    assert!(findings.is_empty(), "{findings:?}");
    let unsafe_rules: Vec<&str> =
        variants[0].judgement.findings.iter().filter(|f| f.severity == Severity::Unsafe).map(|f| f.rule).collect();
    assert_eq!(unsafe_rules, ["return-drop"]);
}

#[test]
fn a_claim_that_the_numbers_contradict_stops_the_build_at_its_own_line() {
    let text = changed(
        VAN,
        &[("claim: {trips: [return-drop]}", "claim: {trips: [return-drop, conductor-cold, not-selective]}")],
    );
    let (studied, _) = judged(&text);
    let (_, findings) = variant::variants(&studied.guide, &rules::limits::NONE);
    let said: Vec<(&str, Severity)> = findings.iter().map(|f| (f.rule, f.severity)).collect();
    assert_eq!(said, [("variant-claim-unknown", Severity::Unsafe), ("variant-claim-false", Severity::Unsafe)]);
    assert_eq!(studied.guide.file.at(findings[0].place.span), "conductor-cold");
    assert_eq!(studied.guide.file.at(findings[1].place.span), "not-selective");
}

#[test]
fn a_changed_circuit_is_the_circuit_of_the_changed_guide() {
    // A trial edits the circuit; an author edits the guide. Both must give the same numbers.
    let (van, _) = judged(VAN);
    let run = van.circuit.run_named("main-return").unwrap();
    let trial = study::study(&change::resized(&van.circuit, run, crate::quantity::CableSize::Metric(35.0)));
    let edited = studied(&changed(
        VAN,
        &[("to: engine, size: 70 mm², covering: conduit", "to: engine, size: 35 mm², covering: conduit")],
    ));
    assert_eq!(format!("{trial:?}"), format!("{:?}", edited.study));
    let trial = study::study(&change::stretched(&van.circuit, van.circuit.run_named("load-bond").unwrap(), 2.0));
    let edited = studied(&changed(
        VAN,
        &[("to: body@load, size: 25 mm², length: 0.3 m", "to: body@load, size: 25 mm², length: 0.6 m")],
    ));
    assert_eq!(format!("{trial:?}"), format!("{:?}", edited.study));
}

#[test]
fn headroom_ends_where_a_guide_written_that_long_is_stopped() {
    let (van, judgement) = judged(VAN);
    let standing = Verdict::of(&judgement.findings);
    let all = headroom::headroom(&van.bench(), &standing);
    let of = |name: &str| all.iter().find(|h| h.run == van.circuit.run_named(name).unwrap()).unwrap();
    let longest = &of("starter-feed").longest;
    assert!(longest.stopped_by.is_some(), "{longest:?}");
    let at = |factor: f64| {
        let (_, j) = judge_changed(
            &van.guide,
            &change::stretched(&van.circuit, of("starter-feed").run, factor),
            &rules::limits::NONE,
        );
        Verdict::of(&j.findings).no_worse_than(&standing)
    };
    let factor = longest.value / van.circuit.run(of("starter-feed").run).length;
    assert!(factor >= 1.0 && at(factor) && !at(factor * 1.021));
    let largest = of("panel-feed").largest.as_ref().expect("it feeds the panel");
    assert!(largest.value.in_amps() > 45.0);
    assert!(of("panel-feed").smaller.is_some() && of("panel-feed").larger.is_some());
}

#[test]
fn a_finding_is_told_the_size_that_mends_it_with_what_it_leaves_to_spare() {
    let thin = with_starter_feed_of("16 mm²");
    let (studied, mut judgement) = judged(&thin);
    headroom::advise(&studied.bench(), &mut judgement);
    let told = judgement
        .findings
        .iter()
        .filter(|f| f.severity >= Severity::Query)
        .any(|f| f.advice.iter().any(|a| a.contains("for `starter-feed` passes")));
    assert!(told, "{:#?}", judgement.findings);
}

#[test]
fn what_is_to_spare_is_that_of_the_case_nearest_to_its_limit() {
    let thin = with_starter_feed_of("16 mm²");
    let (studied, mut judgement) = judged(&thin);
    headroom::advise(&studied.bench(), &mut judgement);
    let mended = with_starter_feed_of("25 mm²");
    let (_, mended) = judged(&mended);
    let mut tried = 0;
    for finding in judgement.findings.iter().filter(|f| f.severity >= Severity::Query) {
        let Some(told) =
            finding.advice.iter().find(|a| a.contains("25 mm²") && a.contains("for `starter-feed` passes with"))
        else {
            continue;
        };
        let least = mended
            .checks
            .iter()
            .filter(|c| c.rule == finding.rule && c.subject == finding.subject && !c.margin.is_empty())
            .filter(|c| c.outcome == crate::finding::Outcome::Passes)
            .min_by(|a, b| (a.value.si - a.limit.si).abs().total_cmp(&(b.value.si - b.limit.si).abs()))
            .unwrap();
        assert!(told.contains(&least.margin), "{told}: {least:?}");
        tried += 1;
    }
    assert!(tried > 0, "{:#?}", judgement.findings);
}

#[test]
fn culprits_are_told_apart_by_their_readings() {
    let (van, _) = judged(VAN);
    let culprits = culprit::culprits(&van.circuit, &van.study);
    let starter = van.circuit.part_named("starter").unwrap();
    let fit = culprit::fitting(&culprits, culprit::Symptom::SlowCranking(starter));
    let names: Vec<&str> = fit
        .iter()
        .filter_map(|(c, ..)| match c.suspect {
            Suspect::Run(run) => Some(van.circuit.run(run).name.as_str()),
            Suspect::Device(part) => Some(van.circuit.part(part).name.as_str()),
            Suspect::Bolt(_) => None,
        })
        .collect();
    assert!(names.contains(&"starter-feed") && names.contains(&"battery-lead"), "{names:?}");
    assert!(!names.contains(&"charge-lead"), "{names:?}");
    // A fuse or breaker goes bad as a cable does; what lies on one way stands in the order of the current.
    let at = |name: &str| names.iter().position(|n| *n == name).unwrap_or_else(|| panic!("{name}: {names:?}"));
    assert!(at("battery-lead") < at("breaker") && at("breaker") < at("starter-feed"), "{names:?}");
    assert!(fit.iter().any(|(c, ..)| matches!(c.suspect, Suspect::Bolt(_))), "the starter's own bolts: {fit:?}");
    // 10 mΩ more at 140 A shows as 1.4 V across the feed that was 0.2 V.
    let feed =
        culprits.iter().find(|c| c.suspect == Suspect::Run(van.circuit.run_named("starter-feed").unwrap())).unwrap();
    let reading = feed.shows(&van.circuit, culprit::Symptom::SlowCranking(starter)).unwrap();
    assert!((reading.ill - reading.well).in_volts() > 1.3, "{reading:?}");
    // Between the highest good reading and the lowest bad one, and neither side reaches it.
    let from = reading.bad_from().unwrap();
    assert!(reading.well < reading.well_at_most && reading.well_at_most < from, "{reading:?}");
    assert!(from < reading.ill_at_least && reading.ill_at_least <= reading.ill, "{reading:?}");
    assert!((reading.current.in_amps() - 140.0).abs() < 1.0, "{reading:?}");
    assert_eq!(Suspect::Run(RunId(2)), feed.suspect);
}

#[test]
fn a_return_that_shares_with_the_body_is_judged_at_what_it_carries_when_good() {
    // The main return with the body beside it: gone bad, the body takes most of its current, and what a good one reads
    // would be called bad at what then is left of it.
    let (van, _) = judged(VAN);
    let starter = van.circuit.part_named("starter").unwrap();
    let culprits = culprit::culprits(&van.circuit, &van.study);
    let back =
        culprits.iter().find(|c| c.suspect == Suspect::Run(van.circuit.run_named("main-return").unwrap())).unwrap();
    let reading = back.shows(&van.circuit, culprit::Symptom::SlowCranking(starter)).unwrap();
    assert!(reading.is_passed_by() && reading.ill_current < reading.current * 0.8, "{reading:?}");
    let ohms = reading.well / reading.current;
    assert!(ohms * reading.ill_current < reading.well * 0.8 && reading.well < reading.well_at_most, "{reading:?}");
    assert!(reading.well_at_most < reading.bad_from().unwrap(), "{reading:?}");
    // The feed has its current to itself.
    let feed =
        culprits.iter().find(|c| c.suspect == Suspect::Run(van.circuit.run_named("starter-feed").unwrap())).unwrap();
    assert!(!feed.shows(&van.circuit, culprit::Symptom::SlowCranking(starter)).unwrap().is_passed_by());
}

#[test]
fn a_cable_is_bad_no_later_than_the_whole_way_it_is_part_of() {
    let (van, _) = judged(VAN);
    let starter = van.circuit.part_named("starter").unwrap();
    let culprits = culprit::culprits(&van.circuit, &van.study);
    let feed =
        culprits.iter().find(|c| c.suspect == Suspect::Run(van.circuit.run_named("starter-feed").unwrap())).unwrap();
    let reading = *feed.shows(&van.circuit, culprit::Symptom::SlowCranking(starter)).unwrap();
    let at = |volts: f64| culprit::Reading { well_at_most: Voltage::volts(volts), ..reading };
    assert_eq!(at(0.2).bad_from(), Some(Voltage::volts(0.2) * 1.5));
    // Half as much again would be 0.51 V, past the 0.5 V of the whole feed.
    assert_eq!(at(0.34).bad_from(), Some(Voltage::volts(0.5)));
    assert_eq!((at(0.34).good_to(), at(0.52).good_to()), (Voltage::volts(0.34), Voltage::volts(0.5)));
}

#[test]
fn a_weak_load_is_read_with_nothing_cranking_and_a_slow_starter_while_it_cranks() {
    let (van, _) = judged(VAN);
    let culprits = culprit::culprits(&van.circuit, &van.study);
    let mut read = 0;
    for symptom in culprit::symptoms(&culprits) {
        for (culprit, ..) in culprit::fitting(&culprits, symptom) {
            let Some(shows) = culprit.shows(&van.circuit, symptom) else { continue };
            let cranks = van.circuit.states[shows.state.0].cranks();
            let could =
                |wanted: bool| culprit.readings.iter().any(|r| van.circuit.states[r.state.0].cranks() == wanted);
            let wanted = matches!(symptom, culprit::Symptom::SlowCranking(_));
            assert!(cranks == wanted || !could(wanted), "{symptom:?} {culprit:?}");
            read += 1;
        }
    }
    assert!(read > 3);
}

#[test]
fn a_reading_that_cannot_tell_good_from_bad_names_no_figure() {
    let (van, _) = judged(VAN);
    let culprits = culprit::culprits(&van.circuit, &van.study);
    let reading = culprits.iter().flat_map(|c| &c.readings).next().unwrap();
    let near = culprit::Reading { well_at_most: reading.ill_at_least, ..*reading };
    assert_eq!(near.bad_from(), None);
}

/// Every run of a guide longer, thicker and thinner, and its loads taking more: reusing what cannot have changed gives
/// what studying everything anew gives.
fn reusing_equals_anew(text: &str) -> (usize, usize) {
    let (studied, _) = judged(text);
    let (circuit, before) = (&studied.circuit, &studied.study);
    let mut trials: Vec<(String, Option<RunId>, Circuit)> = Vec::new();
    for (r, run) in circuit.runs.iter().enumerate() {
        let id = RunId(r);
        trials.push((format!("{} longer", run.name), Some(id), change::stretched(circuit, id, 1.7)));
        let (smaller, larger) = headroom::neighbours(run.size);
        for size in smaller.into_iter().chain(larger) {
            trials.push((format!("{} of {size:?}", run.name), Some(id), change::resized(circuit, id, size)));
        }
    }
    let loads: Vec<_> = (0..circuit.parts.len()).map(crate::circuit::PartId).collect();
    trials.push(("all loads".into(), None, change::loaded(circuit, &loads, 1.3)));
    let (mut faults, mut kept) = (0, 0);
    for (name, run, changed) in trials {
        let anew = study::study(&changed);
        let mut reused = match run {
            Some(_) => study::study_states_after(&changed, before),
            None => study::study_states(&changed),
        };
        assert_eq!(format!("{:?}", anew.supply), format!("{:?}", reused.supply), "{name}");
        assert_eq!(anew.partings, reused.partings, "{name}");
        reused.add_faults_after(&changed, before, run);
        assert_eq!(anew.faults.sequences.len(), reused.faults.sequences.len(), "{name}");
        assert_eq!(anew.faults.breaking, reused.faults.breaking, "{name}");
        for (a, b) in [(&anew.faults.bolted, &reused.faults.bolted), (&anew.faults.chafe, &reused.faults.chafe)] {
            assert_eq!(a.len(), b.len(), "{name}");
            for (a, b) in a.iter().zip(b) {
                same(&name, a, b);
                faults += 1;
                kept += usize::from(before.faults.bolted.iter().chain(&before.faults.chafe).any(|f| f == b));
            }
        }
        for (a, b) in anew.open_returns.iter().zip(&reused.open_returns) {
            assert_eq!((a.run, &a.overheated, &a.stranded), (b.run, &b.overheated, &b.stranded), "{name}");
            assert_eq!(a.faults.len(), b.faults.len(), "{name}, {:?} loose", a.run);
            a.faults.iter().zip(&b.faults).for_each(|(a, b)| same(&name, a, b));
        }
    }
    (faults, kept)
}

fn same(name: &str, a: &study::faults::Fault, b: &study::faults::Fault) {
    let near = |a: f64, b: f64, to: f64| (a - b).abs() <= to * (1.0 + a.abs());
    let seconds = |d: Option<crate::quantity::Duration>| d.map_or(-1.0, |d| d.in_seconds());
    assert_eq!((a.to, a.corner, a.openings.len()), (b.to, b.corner, b.openings.len()), "{name}");
    assert!(near(a.current.in_amps(), b.current.in_amps(), 1e-9), "{name}: {a:?} {b:?}");
    assert!(near(seconds(a.cleared), seconds(b.cleared), 1e-9), "{name}: {a:?} {b:?}");
    // Temperatures are brought to agree to 0.001 K, and what a run stands follows from them.
    // Of two runs that are alike, either may be named.
    let stress = |f: &study::faults::Fault| f.stress.map_or(0.0, |s| s.share);
    assert!(near(stress(a), stress(b), 1e-4), "{name}: {a:?} {b:?}");
    assert_eq!(
        (a.lingering, a.within_board_limit, a.unknown_device),
        (b.lingering, b.within_board_limit, b.unknown_device)
    );
}

#[test]
fn a_trial_that_reuses_work_equals_a_full_study() {
    let (faults, kept) = reusing_equals_anew(VAN);
    assert!(kept * 10 > faults, "only {kept} of {faults} were taken over");
    let camper = concat!(env!("CARGO_MANIFEST_DIR"), "/content/second-battery-in-a-camper/guide.md");
    let text = std::fs::read_to_string(camper).unwrap();
    let (faults, kept) = reusing_equals_anew(&text);
    assert!(kept * 10 > faults, "only {kept} of {faults} were taken over");
}
