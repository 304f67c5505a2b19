#![doc = include_str!("hold_down_weak.md")]

use super::battery_loose::hold_down;
use super::{Bench, Bound, Comparison, Family, Judgement, Rule, words};
use crate::circuit::PartId;
use crate::finding::{Check, Outcome, Severity};
use crate::guide::{HoldDown, HoldDownKind, VehicleKind};
use crate::handbook::restraint;
use crate::quantity::{Area, Force, Length, Mass, Show, Thread};

/// The rule.
pub const RULE: Rule = Rule {
    id: "hold-down-weak",
    family: Family::Battery,
    title: "what a battery's fixing stands, bolt, plate and panel, against the boat rule's pull and 20 g",
    worst: Severity::Query,
    sources: &["cfr33-183-420", "iso-10133-5", "iso-12991", "german-sporting-handbook", "iso-898-1", "judgement"],
    page: include_str!("hold_down_weak.md"),
    judge,
};

/// Thickness of the floor that a bolt passes through, where it is no chassis member; our judgement, a car's floor.
const PANEL_MM: f64 = 0.8;
/// What mild steel sheet stands in shear; our judgement.
const PANEL_SHEAR_MPA: f64 = 160.0;
/// Outside diameter of a plain washer, in bolt diameters; common practice.
const WASHER_DIAMETERS: f64 = 2.0;

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    for (id, _) in bench.circuit.batteries() {
        let Some(held) = hold_down(bench, id) else { continue };
        // Nothing, or a cord, is `battery-loose`'s.
        if matches!(held.kind.value, HoldDownKind::None | HoldDownKind::ElasticCord) {
            continue;
        }
        fixing(bench, judgement, id, held);
        plates(bench, judgement, id, held);
    }
}

/// Thick enough to hold a bolt by itself.
fn is_frame(held: &HoldDown) -> bool {
    held.into.as_ref().is_some_and(|into| {
        let into = into.value.to_lowercase();
        ["chassis", "frame", "bearer", "crossmember", "cross-member", "beam"].iter().any(|word| into.contains(word))
    })
}

/// Gives way under a bolt whatever its plate.
fn is_plastic(held: &HoldDown) -> bool {
    held.into.as_ref().is_some_and(|into| {
        let into = into.value.to_lowercase();
        ["plastic", "tray", "plywood"].iter().any(|word| into.contains(word))
    })
}

fn ask(bench: &Bench<'_>, judgement: &mut Judgement, id: PartId, held: &HoldDown, what: &str, advice: String) {
    let name = &bench.circuit.part(id).name;
    judgement.say(
        bench,
        Check {
            rule: RULE.id,
            subject: name.clone(),
            case: "what its fixing stands".into(),
            value: words(&format!("{what} not given")),
            limit: words("given"),
            margin: String::new(),
            outcome: Outcome::Found(Severity::Query),
            sources: vec!["cfr33-183-420"],
        },
        held.at,
        || format!("what holds `{name}` down could not be judged: the guide does not give {what}"),
        || vec![advice],
    );
}

fn fixing(bench: &Bench<'_>, judgement: &mut Judgement, id: PartId, held: &HoldDown) {
    let part = bench.circuit.part(id);
    let Some(mass) = part.mass else {
        return ask(
            bench,
            judgement,
            id,
            held,
            "the battery's mass",
            "weigh it or copy it from its maker's sheet: `mass: 18 kg`".into(),
        );
    };
    let (Some(bolts), Some(thread), Some(grade)) = (held.bolts, held.thread, held.grade) else {
        return ask(
            bench,
            judgement,
            id,
            held,
            "its bolts",
            "say how many, of which thread and grade: `bolts: 4, thread: M8, grade: 8.8`".into(),
        );
    };
    let Some(proof) = restraint::bolt_proof_load(thread.value, grade.value) else {
        return ask(
            bench,
            judgement,
            id,
            held,
            "a thread and grade that the tables hold",
            "use M5, M6, M8, M10 or M12 bolts of grade 4.6 to 12.9".into(),
        );
    };
    let count = f64::from(bolts.value);
    // A battery pulls sideways on the bolts that hold it down.
    let by_bolts = proof.value * (restraint::SHEAR_SHARE * count);
    pulls(
        bench,
        judgement,
        id,
        held,
        mass,
        by_bolts,
        &format!("{count} bolts {} of grade {}", thread.value, grade.value),
        "iso-898-1",
    );
    if !is_frame(held) {
        let by_panel = panel(thread.value, held.plate.map(|(area, _)| area.value)) * count;
        pulls(
            bench,
            judgement,
            id,
            held,
            mass,
            by_panel,
            &format!(
                "{} of sheet steel round {}",
                Length::millimetres(PANEL_MM).show(),
                if held.plate.is_some() { "each plate" } else { "each washer" }
            ),
            "judgement",
        );
    }
}

/// What thin sheet stands before a bolt tears out of it: shear all round the plate, or the washer where there is none.
fn panel(thread: Thread, plate: Option<Area>) -> Force {
    let round = match plate {
        Some(area) => 4.0 * area.in_mm2().sqrt(),
        None => std::f64::consts::PI * WASHER_DIAMETERS * thread.0,
    };
    Force::newtons(round * PANEL_MM * PANEL_SHEAR_MPA)
}

#[allow(clippy::too_many_arguments, reason = "one comparison, said for three pulls")]
fn pulls(
    bench: &Bench<'_>,
    judgement: &mut Judgement,
    id: PartId,
    held: &HoldDown,
    mass: Mass,
    stands: Force,
    by: &str,
    stands_source: &'static str,
) {
    let name = &bench.circuit.part(id).name;
    let (boat, small_craft, crash) =
        (restraint::boat_pull(mass), restraint::small_craft_pull(mass), restraint::crash_pull(mass));
    let on_the_road = bench.circuit.vehicle.kind.value != VehicleKind::Boat;
    let mut cases = vec![
        (boat, "the boat rule's pull", Severity::Query),
        (small_craft, "ISO's pull, twice its weight", Severity::Note),
    ];
    if on_the_road {
        cases.push((crash, "a stop of 20 g, adopted from fuel tanks", Severity::Query));
    }
    for (pull, case, severity) in cases {
        judgement.compare(
            bench,
            Comparison {
                rule: RULE.id,
                subject: name.clone(),
                at: held.at,
                case: format!("{case}, on {by}"),
                value: stands,
                limit: pull.value,
                bound: Bound::AtLeast,
                severity,
                sources: vec![pull.source, stands_source],
            },
            || {
                format!(
                    "{by} stand {}, and {case} on `{name}` ({}) is {}",
                    stands.show(),
                    mass.show(),
                    pull.value.show()
                )
            },
            || {
                vec![
                    "use more or larger bolts, with a steel plate under each, or bolt to a member of the chassis"
                        .into(),
                ]
            },
        );
    }
}

fn plates(bench: &Bench<'_>, judgement: &mut Judgement, id: PartId, held: &HoldDown) {
    let name = &bench.circuit.part(id).name;
    if is_plastic(held) {
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: name.clone(),
                case: "what its bolts pass through".into(),
                value: words(held.into.as_ref().map_or("", |i| i.value.as_str())),
                limit: words("steel"),
                margin: String::new(),
                outcome: Outcome::Found(Severity::Query),
                sources: vec!["judgement"],
            },
            held.at,
            || format!("`{name}` is bolted to something that tears before its bolts do"),
            || vec!["bolt through to the steel below, and say so: `into: panel` or `into: chassis`".into()],
        );
    }
    if is_frame(held) {
        judgement.not_applicable(
            RULE.id,
            name,
            "its bolts go into a member of the chassis, which needs no counter-plates",
        );
        return;
    }
    let (area, thickness) = (restraint::plate_area(), restraint::plate_thickness());
    let Some((plate, thick)) = held.plate else {
        judgement.say(
            bench,
            Check {
                rule: RULE.id,
                subject: name.clone(),
                case: "counter-plate under each bolt".into(),
                value: words("none"),
                limit: words("20 cm² and 3 mm"),
                margin: String::new(),
                outcome: Outcome::Found(Severity::Query),
                sources: vec![area.source],
            },
            held.at,
            || format!("the bolts of `{name}` have no counter-plates; thin floor tears before a bolt does"),
            || {
                vec![
                    "put a steel plate under each bolt, or bolt to a member of the chassis and say so: `plate: {area: 20 cm², thickness: 3 mm}` or `into: chassis`".into(),
                ]
            },
        );
        return;
    };
    judgement.compare(
        bench,
        Comparison {
            rule: RULE.id,
            subject: name.clone(),
            at: plate.at,
            case: "area of the counter-plate under each bolt".into(),
            value: plate.value,
            limit: area.value,
            bound: Bound::AtLeast,
            severity: Severity::Query,
            sources: vec![area.source],
        },
        || {
            format!(
                "the counter-plates under `{name}` are {} each; at least {} is wanted",
                plate.value.show(),
                area.value.show()
            )
        },
        || vec!["use plates of at least 45 × 45 mm, or round ones of 51 mm".into()],
    );
    judgement.compare(
        bench,
        Comparison {
            rule: RULE.id,
            subject: name.clone(),
            at: thick.at,
            case: "thickness of the counter-plate under each bolt".into(),
            value: thick.value,
            limit: thickness.value,
            bound: Bound::AtLeast,
            severity: Severity::Query,
            sources: vec![thickness.source],
        },
        || {
            format!(
                "the counter-plates under `{name}` are {} thick; at least {} is wanted",
                thick.value.show(),
                thickness.value.show()
            )
        },
        || vec!["use 3 mm steel plate".into()],
    );
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::Severity::Query;
    use crate::rules::testing::{VAN, changed, check_rule, finds};

    const ID: &str = "hold-down-weak";
    const HELD: &str = "{kind: clamp, bolts: 2, thread: M8, grade: 8.8, plate: {area: 20 cm², thickness: 3 mm}}";

    fn held(how: &str) -> Vec<(crate::finding::Severity, String)> {
        finds(ID, &changed(VAN, &[(HELD, how)]))
    }

    /// 40 × 40 × 3 mm is 16 cm²: fail; 45 × 45 × 3 is 20.25: pass. Source: German sporting handbook, Group F.
    #[test]
    fn counter_plates_are_20_square_centimetres_and_3_millimetres() {
        assert_eq!(held(HELD), []);
        let plate = |area: &str, thick: &str| {
            held(&format!(
                "{{kind: clamp, bolts: 2, thread: M8, grade: 8.8, plate: {{area: {area}, thickness: {thick}}}}}"
            ))
        };
        assert_eq!(plate("16 cm²", "3 mm"), [(Query, "battery".into())]);
        assert_eq!(plate("20.25 cm²", "3 mm"), []);
        assert_eq!(plate("20 cm²", "2.9 mm"), [(Query, "battery".into())]);
        assert_eq!(held("{kind: clamp, bolts: 2, thread: M8, grade: 8.8}"), [(Query, "battery".into())]);
        assert_eq!(held("{kind: clamp, bolts: 2, thread: M8, grade: 8.8, into: chassis}"), []);
        assert_eq!(
            held(
                "{kind: clamp, bolts: 2, thread: M8, grade: 8.8, into: plastic tray, plate: {area: 20 cm², thickness: 3 mm}}"
            ),
            [(Query, "battery".into())]
        );
    }

    /// 40 lb: 80 lbf; 45: 90; 60: 90 (33 CFR 183.420(a)). 20 kg: ISO 392 N, 20 g 3923 N (ISO 12991 table 1).
    #[test]
    fn pulls_by_the_printed_examples() {
        let boat = |pounds: f64| restraint::boat_pull(Mass::pounds(pounds)).value.in_pounds_force();
        assert!(
            (boat(40.0) - 80.0).abs() < 1e-6 && (boat(45.0) - 90.0).abs() < 1e-6 && (boat(60.0) - 90.0).abs() < 1e-6
        );
        let twenty = Mass::kilograms(20.0);
        assert!((restraint::small_craft_pull(twenty).value.in_newtons() - 392.0).abs() < 0.5);
        assert!((restraint::crash_pull(twenty).value.in_newtons() - 3923.0).abs() < 0.5);
        let van = check_rule(ID, VAN);
        let crash =
            van.checks.iter().find(|c| c.case.starts_with("a stop of 20 g") && c.case.contains("bolts")).unwrap();
        assert!((crash.limit.si - 18.0 * 20.0 * 9.80665).abs() < 1e-6);
        // Two M8 of 8.8: 36.6 mm² × 580 MPa × 0.6 × 2 (ISO 898-1, from memory).
        assert!((crash.value.si - 36.6 * 580.0 * 0.6 * 2.0).abs() < 1e-6);
    }

    #[test]
    fn the_bolts_must_stand_20_g() {
        // One M5 of grade 4.6: 14.2 mm² × 225 MPa × 0.6 = 1917 N; at 20 g that is 9.77 kg, and the boat's pull of
        // 400 N passes.
        let light = |mass: &str| {
            changed(
                VAN,
                &[
                    (HELD, "{kind: strap, bolts: 1, thread: M5, grade: 4.6, into: chassis}"),
                    ("mass: 18 kg", &format!("mass: {mass}")),
                ],
            )
        };
        assert_eq!(finds(ID, &light("9.7 kg")), []);
        assert_eq!(finds(ID, &light("9.8 kg")), [(Query, "battery".into())]);
        // No road, no 20 g.
        let boat = light("30 kg").replace("{kind: van,", "{kind: boat,");
        assert_eq!(finds(ID, &boat), []);
    }

    #[test]
    fn what_is_not_given_cannot_be_judged() {
        assert_eq!(held("{kind: strap, into: chassis}"), [(Query, "battery".into())]);
        assert_eq!(held("{kind: strap, bolts: 2, thread: M7, grade: 8.8, into: chassis}"), [(Query, "battery".into())]);
        assert_eq!(finds(ID, &changed(VAN, &[("    mass: 18 kg\n", "")])), [(Query, "battery".into())]);
    }

    #[test]
    fn thin_sheet_gives_way_before_a_bolt() {
        // Round a 16 mm washer 0.8 mm of sheet stands 6.4 kN, less than an M8 of 8.8 in shear, 12.7 kN.
        let sheet = panel(Thread(8.0), None);
        assert!(sheet < restraint::bolt_proof_load(Thread(8.0), 8.8).unwrap().value * restraint::SHEAR_SHARE);
        assert!(panel(Thread(8.0), Some(Area::cm2(20.0))) > sheet * 3.0);
    }
}
