//! Trials against full studies, and against what they must find.

use super::*;
use crate::circuit::RunId;
use crate::finding::Severity;
use crate::rules::testing::{VAN, changed, studied};

fn judged(text: &str) -> (crate::rules::testing::Studied, Judgement) {
    let studied = studied(text);
    let judgement = rules::judge(&studied.bench());
    (studied, judgement)
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
    let standing = Verdict::of(&judgement);
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
        Verdict::of(&j).no_worse_than(&standing)
    };
    let factor = longest.value / van.circuit.run(of("starter-feed").run).length;
    assert!(factor >= 1.0 && at(factor) && !at(factor * 1.021));
    let largest = of("panel-feed").largest.as_ref().expect("it feeds the panel");
    assert!(largest.value.in_amps() > 45.0);
    assert!(of("panel-feed").smaller.is_some() && of("panel-feed").larger.is_some());
}

#[test]
fn a_finding_is_told_the_size_that_mends_it_with_what_it_leaves_to_spare() {
    let thin = changed(
        VAN,
        &[(
            "starter-feed: {from: post, to: starter, size: 70 mm²",
            "starter-feed: {from: post, to: starter, size: 16 mm²",
        )],
    );
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
fn culprits_are_told_apart_by_their_readings() {
    let (van, _) = judged(VAN);
    let culprits = culprit::culprits(&van.circuit, &van.study);
    let starter = van.circuit.part_named("starter").unwrap();
    let fit = culprit::fitting(&culprits, culprit::Symptom::SlowCranking(starter));
    let names: Vec<&str> = fit.iter().map(|(c, ..)| van.circuit.run(c.run).name.as_str()).collect();
    assert!(names.contains(&"starter-feed") && names.contains(&"battery-lead"), "{names:?}");
    assert!(!names.contains(&"charge-lead"), "{names:?}");
    // 10 mΩ more at 140 A shows as 1.4 V across the feed that was 0.2 V.
    let feed = culprits.iter().find(|c| c.run == van.circuit.run_named("starter-feed").unwrap()).unwrap();
    let reading = feed.shows.unwrap();
    assert!((reading.ill - reading.well).in_volts() > 1.3, "{reading:?}");
    assert_eq!(RunId(2), feed.run);
}
