#![doc = include_str!("return_through_hull.md")]

use super::{Bench, Bound, Comparison, Family, Judgement, Rule};
use crate::circuit::Kind;
use crate::finding::Severity;
use crate::guide::{BodyMaterial, VehicleKind};
use crate::quantity::{Current, Show};
use crate::study::{Charge, Solution};

/// The rule.
pub const RULE: Rule = Rule {
    id: "return-through-hull",
    family: Family::Running,
    title: "current that comes home through an aluminium hull",
    worst: Severity::Query,
    sources: &["judgement"],
    page: include_str!("return_through_hull.md"),
    judge,
};

/// Less than this is the solver's rounding, not a return.
const NOTHING_A: f64 = 1e-3;

fn judge(bench: &Bench<'_>, judgement: &mut Judgement) {
    let circuit = bench.circuit;
    let vehicle = &circuit.vehicle;
    let hull = circuit.parts.iter().position(|p| matches!(p.kind, Kind::Body(_)));
    if vehicle.kind.value != VehicleKind::Boat || vehicle.body.value != BodyMaterial::Aluminium {
        return;
    }
    let Some(hull) = hull else {
        judgement.not_applicable(RULE.id, "", "no part uses the hull as a conductor");
        return;
    };
    let Kind::Body(nodes) = &circuit.parts[hull].kind else { return };
    // What goes into the hull comes out of it: half of all that crosses its surface.
    let through = |solved: &Solution| {
        let runs = circuit.runs.iter().enumerate().filter(|(_, r)| nodes.contains(&r.from) != nodes.contains(&r.to));
        let bolts = circuit.bolts.iter().enumerate().filter(|(_, b)| nodes.contains(&b.to));
        let crossing = runs.map(|(i, _)| solved.run(crate::circuit::RunId(i)).abs());
        crossing.chain(bolts.map(|(i, _)| solved.bolt(i).abs())).sum::<Current>() / 2.0
    };
    let worst = bench
        .states()
        .flat_map(|(_, state, study)| study.cases.iter().map(move |c| (c, state)))
        .filter(|(c, _)| c.corner.charge != Charge::Tail)
        .filter_map(|(c, state)| Some((through(c.solution.as_ref().ok()?), &state.label)))
        .max_by(|a, b| a.0.si().total_cmp(&b.0.si()));
    let Some((current, state)) = worst else { return };
    let name = &circuit.parts[hull].name;
    judgement.compare(
        bench,
        Comparison {
            rule: RULE.id,
            subject: name.clone(),
            at: bench.part_span(crate::circuit::PartId(hull)),
            case: state.clone(),
            value: if current.in_amps() < NOTHING_A { Current::zero() } else { current },
            limit: Current::zero(),
            bound: Bound::AtMost,
            severity: Severity::Query,
            sources: RULE.sources.to_vec(),
        },
        || format!("{} comes home through the aluminium hull, which current eats away", current.show()),
        || {
            vec![
                "give every load a return cable to the battery, and join the hull to the battery's negative at one point only".into(),
            ]
        },
    );
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::rules::testing::{VAN, changed, check_rule, finds, mended, one, tripping};

    #[test]
    fn two_bonds_share_the_return_and_are_found() {
        let two = changed(
            &mended("return-through-hull"),
            &[("states:", "  second-bond: {from: pump-, to: hull@locker, size: 6 mm², length: 0.4 m}\nstates:")],
        );
        assert_eq!(finds("return-through-hull", &two), one(Severity::Query, "hull"));
    }

    #[test]
    fn other_vehicles_are_not_judged() {
        assert_eq!(check_rule("return-through-hull", VAN).checks, []);
        let trailer = changed(&tripping("return-through-hull"), &[("kind: boat", "kind: trailer")]);
        assert_eq!(check_rule("return-through-hull", &trailer).checks, []);
    }

    #[test]
    fn a_hull_that_nothing_uses_is_said_to_be_so() {
        let unused = changed(&mended("endurance-missed"), &[("body: composite", "body: aluminium")]);
        let judged = check_rule("return-through-hull", &unused);
        assert_eq!(judged.checks[0].outcome, crate::finding::Outcome::NotApplicable);
    }
}
