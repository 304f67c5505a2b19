//! A guide with everything that was worked out of it: what the report and the site are made from.
//!
//! [`check`] runs one guide through every stage; [`check_all`] runs many, in parallel. Knows no limits of its own: it runs the stages, lays the reviewer's
//! answers beside the queries, and holds the sign-off to the numbers it was given for.

pub mod answers;
pub mod digest;

use std::panic::{AssertUnwindSafe, catch_unwind};

use jiff::civil::Date;
use rayon::prelude::*;

use crate::cautions::{self, Caution};
use crate::circuit::{self, Circuit};
use crate::drawing::{self, Picture, plots};
use crate::finding::{Check, Finding, Place, Severity};
use crate::guide::publisher::Publisher;
use crate::guide::{self, Guide, Standing};
use crate::readings::{self, MeterReading};
use crate::rules::limits::Limits;
use crate::rules::{self, Bench};
use crate::source::{SourceFile, Span};
use crate::study::{self, Study};
use crate::trials::{self, Trials};

/// One guide after all stages but the site. Stages after the first fault are left empty.
#[derive(Clone, Debug)]
pub struct Checked {
    /// The file.
    pub file: SourceFile,
    /// Its address on the site.
    pub slug: String,
    /// What could be read of it.
    pub guide: Option<Guide>,
    /// What could be wired of it.
    pub circuit: Option<Circuit>,
    /// The numbers.
    pub study: Option<Study>,
    /// What was tried with it: variants, headroom, culprits.
    pub trials: Option<Trials>,
    /// Meter readings that prove the job.
    pub readings: Vec<MeterReading>,
    /// Every comparison made.
    pub checks: Vec<Check>,
    /// Everything found, by place.
    pub findings: Vec<Finding>,
    /// Its cautions.
    pub cautions: Vec<Caution>,
    /// Its drawings.
    pub pictures: Vec<Picture>,
    /// The digest of its inputs, in hex: of its circuit in SI with defaults taken and the versions of catalogue and handbook.
    pub digest: String,
}

impl Checked {
    /// A file that nothing has been read of yet.
    fn unread(file: SourceFile, slug: &str) -> Checked {
        Checked {
            file,
            slug: slug.to_owned(),
            guide: None,
            circuit: None,
            study: None,
            trials: None,
            readings: Vec::new(),
            checks: Vec::new(),
            findings: Vec::new(),
            cautions: Vec::new(),
            pictures: Vec::new(),
            digest: String::new(),
        }
    }

    /// Whether anything found in it would stop it from being published.
    pub fn stops(&self) -> bool {
        self.findings.iter().any(Finding::stops)
    }

    /// Whether it stands in the way of publishing the site.
    ///
    /// A working guide is left out of the site, and of a withdrawn one only its notice is there, so
    /// their numbers stop nobody. One that cannot be read might say it is published, so it stops.
    pub fn stands_in_the_way(&self) -> bool {
        match self.guide.as_ref().map(|g| &g.standing) {
            None | Some(Standing::Published) => self.stops(),
            Some(Standing::Working) => false,
            Some(Standing::Withdrawn { .. }) => self.findings.iter().any(|f| f.severity == Severity::Unreadable),
        }
    }

    /// Whether it was withdrawn.
    pub fn is_withdrawn(&self) -> bool {
        self.guide.as_ref().is_some_and(|g| matches!(g.standing, Standing::Withdrawn { .. }))
    }

    /// Whether the site has a page of it: its guide, or the notice that it was withdrawn.
    pub fn is_on_the_site(&self) -> bool {
        self.guide.as_ref().is_some_and(|g| g.standing != Standing::Working)
    }
}

/// Runs one guide through every stage. `today` is the day on which answers must still hold; the publisher says who may answer.
pub fn check(file: SourceFile, slug: &str, publisher: &Publisher, today: Date) -> Checked {
    // What is wrong with the limits themselves is told once, by whoever checks them all.
    check_against(file, slug, publisher, &Limits::of(publisher).0, today)
}

fn check_against(file: SourceFile, slug: &str, publisher: &Publisher, limits: &Limits, today: Date) -> Checked {
    let spare = file.clone();
    // A fault of ours in one guide must not hide what is wrong with the others.
    let done = catch_unwind(AssertUnwindSafe(|| {
        let (guide, findings) = guide::read(file.clone(), slug);
        stages(file, slug, guide, findings, publisher, limits, today)
    }));
    done.unwrap_or_else(|_| {
        let mut checked = Checked::unread(spare, slug);
        checked.findings.push(Finding {
            rule: "program-fault",
            severity: Severity::Unreadable,
            place: Place { file: checked.file.path.clone(), span: Span::default() },
            subject: String::new(),
            message: "goodground itself failed on this guide; the fault is the program's, not yours".into(),
            value: None,
            limit: None,
            advice: vec!["Please report it, with the guide.".into()],
            sources: Vec::new(),
            answer: None,
        });
        checked
    })
}

/// Reads a guide and goes no further: enough to know that it is there and what it is called.
pub fn read_only(file: SourceFile, slug: &str) -> Checked {
    let mut checked = Checked::unread(file.clone(), slug);
    (checked.guide, checked.findings) = guide::read(file, slug);
    checked
}

/// The stages after reading.
fn stages(
    file: SourceFile,
    slug: &str,
    guide: Option<Guide>,
    read: Vec<Finding>,
    publisher: &Publisher,
    limits: &Limits,
    today: Date,
) -> Checked {
    let mut checked = Checked::unread(file, slug);
    checked.findings = read;
    if let Some(guide) = guide {
        let (circuit, wiring) = circuit::wire(&guide);
        checked.findings.extend(wiring);
        if let Some(circuit) = circuit {
            let study = study::study(&circuit);
            let bench = Bench { guide: &guide, circuit: &circuit, study: &study, limits };
            let mut judgement = rules::judge(&bench);
            let (trials, tried) = trials::trials(&bench, &mut judgement);
            checked.readings = readings::readings(&circuit, &study);
            checked.checks = judgement.checks;
            checked.findings.extend(judgement.findings);
            checked.findings.extend(tried);
            checked.cautions = cautions::choose(&guide, &circuit);
            checked.digest = digest::of(&guide, &circuit);
            let facts = drawing::Facts {
                digest: Some(checked.digest.clone()),
                owner: Some(publisher.name.clone()),
                address: publisher.address.as_ref().map(|site| format!("{}/{slug}/", site.trim_end_matches('/'))),
            };
            checked.pictures =
                vec![drawing::wiring_with(&guide, &circuit, &facts), drawing::plan_with(&guide, &circuit, &facts)];
            checked.pictures.extend(plots::volts(&guide, &circuit, &study, &trials.variants));
            checked.pictures.extend(plots::opening(&guide, &circuit, &study));
            checked.pictures.extend(plots::chafe(&guide, &circuit, &study));
            checked.trials = Some(trials);
            checked.findings.extend(digest::sign_off(&guide, &checked.digest, publisher));
            checked.study = Some(study);
            checked.circuit = Some(circuit);
        }
        answers::lay_beside(&guide, publisher, checked.circuit.is_some(), today, &mut checked.findings);
        checked.guide = Some(guide);
    }
    in_order(&mut checked.findings);
    checked
}

/// Checks guides in parallel. The answer is in the order of the guides, whatever the number of threads. `done` is called
/// as each is ready.
pub fn check_all(
    guides: &[(SourceFile, String)],
    publisher: &Publisher,
    today: Date,
    done: &(dyn Fn() + Sync),
) -> Vec<Checked> {
    let limits = Limits::of(publisher).0;
    let check_one = |(file, slug): &(SourceFile, String)| {
        let checked = check_against(file.clone(), slug, publisher, &limits, today);
        done();
        checked
    };
    guides.par_iter().map(check_one).collect()
}

/// What is wrong with the limits that a publisher has tightened, told once for all guides.
pub fn limits_that_do_not_hold(publisher: &Publisher, checked: &[Checked]) -> Vec<Finding> {
    let (limits, mut findings) = Limits::of(publisher);
    findings.extend(limits.that_loosen(&checked.iter().flat_map(|c| &c.checks).collect::<Vec<_>>()));
    findings
}

/// Sorts findings by file, place and rule; what is alike in all three keeps the order in which it was found.
pub fn in_order(findings: &mut [Finding]) {
    findings.sort_by(|a, b| (&a.place.file, a.place.span, a.rule).cmp(&(&b.place.file, b.place.span, b.rule)));
}
