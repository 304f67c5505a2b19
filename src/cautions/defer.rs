//! Whose word stands above a guide's, and what no check can see.

use crate::circuit::{Circuit, Kind};
use crate::guide::{Chemistry, Drive, Guide, VehicleKind};

/// The statement that a guide gives way, with what in this job may need inspection or a licensed person.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Deferral {
    /// To whom the guide gives way.
    pub statement: &'static str,
    /// What in this job may need inspection, a certificate or a licensed person: id for themes, and words.
    pub triggers: Vec<(&'static str, &'static str)>,
    /// Ids of its sources in the handbook.
    pub sources: &'static [&'static str],
}

/// Names the maker, the device maker, local rules and a person to ask (`reference/installation.md` P-4).
pub const STATEMENT: &str = "This guide does not replace the instructions of the vehicle or boat maker, the instructions that come \
with each fitted device, or the rules where you live. Where they differ, follow the stricter, and ask the maker, the \
registration or inspection authority, or a qualified auto-electrician or marine electrician.";

/// Says what in this job may need inspection or a licensed person.
pub fn defer(guide: &Guide, circuit: &Circuit) -> Deferral {
    let mut triggers = Vec::new();
    let road = matches!(guide.vehicle.kind.value, VehicleKind::Car | VehicleKind::Van | VehicleKind::Lorry);
    if circuit.batteries().next().is_some() {
        triggers.push((
            "defer-battery",
            "Moving or adding a battery: some places ask for inspection or a certificate before the vehicle or boat is used.",
        ));
    }
    if road {
        triggers.push((
            "defer-airbags",
            "Work near airbags, belt tensioners and their wiring: only as the vehicle's maker says, or by a workshop trained for it.",
        ));
    }
    if guide.vehicle.drive.value == Drive::Electric {
        triggers.push((
            "defer-high-voltage",
            "The hybrid or electric drive's high-voltage system: only by people trained and licensed for it.",
        ));
    }
    if circuit.batteries().any(|(_, b)| b.chemistry == Chemistry::Lfp) {
        triggers.push((
            "defer-lithium",
            "A lithium battery: insurers, boat surveyors and inspectors may ask for a certificate.",
        ));
    }
    if makes_or_takes_mains(circuit) {
        triggers.push((
            "defer-mains",
            "Anything tied to mains power, shore power or an inverter's output: by a licensed electrician where the law says so.",
        ));
    }
    Deferral { statement: STATEMENT, triggers, sources: &["common-practice"] }
}

/// Whether mains voltage is made or taken anywhere in the circuit.
pub(super) fn makes_or_takes_mains(circuit: &Circuit) -> bool {
    circuit.parts.iter().any(|part| match &part.kind {
        Kind::Load(load) => load.mains || load.kind == crate::circuit::LoadKind::Inverter,
        Kind::Charger(charger) => charger.kind == crate::guide::ChargerKind::Mains,
        _ => false,
    })
}

/// One thing that no check can see.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Unseen {
    /// Kebab-case, for themes.
    pub id: &'static str,
    /// In words.
    pub words: &'static str,
}

/// What no one can see from here. Said on every guide's page.
pub const UNSEEN: &[Unseen] = &[
    Unseen { id: "unseen-crimps", words: "How well each crimp was made and each bolt tightened." },
    Unseen { id: "unseen-counterfeit", words: "Whether a cable, fuse or breaker is what its print says it is." },
    Unseen { id: "unseen-corrosion", words: "Corrosion and loosening to come." },
    Unseen { id: "unseen-cranking", words: "Cranking again and again on a starter or engine that is failing." },
    Unseen {
        id: "unseen-transients",
        words: "The alternator's surges, and what the cables' inductance makes of a sudden break.",
    },
    Unseen {
        id: "unseen-vehicle",
        words: "Your own vehicle or boat: what was changed before, and where its own cables and pipes run.",
    },
];
