//! A guide's page: everything a reader needs, in the order in which they need it.

use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::find::Spot;
use super::lists::{self, Consumable, CutRow, PartRow};
use super::numbers::{self, RunLimit, StateReadings, SymptomShown, VariantShown};
use super::prose::{self, Piece, References};
use super::sheets::{PictureFacts, SourceShown, Typesetter, Way};
use super::{Site, address, beside as files_beside, find, machine, photo, prove};
use crate::cautions::{self, Caution, Stage, WorkOrder};
use crate::checked::Checked;
use crate::circuit::{Activity, Circuit, Kind, RunId, State};
use crate::finding::{AnswerGiven, Check, Outcome, Place, Severity};
use crate::guide::{BodyMaterial, Guide};
use crate::prints::{self, Kinds, Order, Paper, Plate, raster};
use crate::quantity::{Current, Power, Show};
use crate::rules;
use crate::source::Span;

/// What templates know as `guide`.
#[derive(Serialize)]
struct Sheet {
    slug: String,
    title: String,
    summary: String,
    revision: String,
    cells: Vec<Cell>,
    /// How many limits are passed with a note or a query, in words; empty for none.
    noted: String,
    /// What the author says of figures that nobody measured; empty for nothing.
    invented: String,
    tools: Vec<String>,
    contents: Vec<Heading>,
    cautions: Vec<CautionShown>,
    defer: String,
    defer_triggers: Vec<String>,
    unseen: Vec<String>,
    suits: Vec<Cell>,
    suits_runs: Vec<RunLimit>,
    suits_runs_lead: String,
    readings: Vec<StateReadings>,
    /// A battery is charged in some state.
    fills: bool,
    /// An engine cranks or runs in some state: nobody moves a probe beside it then.
    engine_runs: bool,
    readings_source: SourceShown,
    symptoms: Vec<SymptomShown>,
    symptoms_lead: Vec<String>,
    /// What they were worked out with.
    symptoms_worked: String,
    variants: Vec<VariantShown>,
    emergencies: Vec<EmergencyShown>,
    prove: Vec<CheckListShown>,
    downloads: Vec<Way>,
    /// All pictures in one file.
    all_pictures: Vec<Way>,
    intro: String,
    drawings: Vec<DrawingShown>,
    plots: Vec<DrawingShown>,
    parts: Vec<PartRow>,
    cuts: Vec<CutRow>,
    consumables: Vec<Consumable>,
    work: Vec<WorkPiece>,
    tightest: Vec<Tightest>,
    comparisons: String,
    remarks: Vec<Remark>,
    assumptions: Vec<AssumptionShown>,
    digest: String,
    changes: Vec<ChangeShown>,
    /// Every source that the page refers to by its number, in the order of the numbers.
    sources: Vec<SourceShown>,
}

impl Sheet {
    /// Numbers the sources in the order in which a reader meets them, and lists each once: their full names stand at the
    /// page's foot, so that a row holds a number and the page stays light.
    fn number_sources(&mut self) {
        let shown = (self.prove.iter_mut().flat_map(|list| &mut list.items).flat_map(|item| &mut item.sources))
            .chain(self.readings.iter_mut().flat_map(|state| &mut state.rows).flat_map(|row| &mut row.stop_sources))
            .chain(std::iter::once(&mut self.readings_source))
            .chain(self.tightest.iter_mut().flat_map(|one| &mut one.sources))
            .chain(self.assumptions.iter_mut().map(|assumption| &mut assumption.source));
        for source in shown {
            source.number = match self.sources.iter().position(|known| known.id == source.id) {
                Some(at) => at + 1,
                None => {
                    self.sources.push(SourceShown { number: self.sources.len() + 1, ..source.clone() });
                    self.sources.len()
                }
            };
        }
    }
}

#[derive(Serialize)]
struct Cell {
    name: String,
    text: String,
}

#[derive(Serialize)]
struct EmergencyShown {
    id: &'static str,
    sign: String,
    acts: Vec<String>,
    sources: Vec<SourceShown>,
}

#[derive(Serialize)]
struct CheckListShown {
    key: &'static str,
    title: String,
    lead: String,
    items: Vec<CheckItemShown>,
}

#[derive(Serialize)]
struct CheckItemShown {
    key: String,
    text: String,
    sources: Vec<SourceShown>,
}

#[derive(Serialize)]
struct Heading {
    id: &'static str,
    name: String,
}

#[derive(Serialize)]
struct CautionShown {
    id: &'static str,
    signal: &'static str,
    word: String,
    hazard: String,
    consequence: String,
    avoidance: String,
    steps: Vec<StepRange>,
    sources: Vec<SourceShown>,
}

/// Steps one after another: `3` or `3–5`.
#[derive(Serialize)]
struct StepRange {
    first: usize,
    shown: String,
}

/// The cautions of one signal word at a step.
#[derive(Serialize)]
struct Reminders {
    signal: &'static str,
    word: String,
    /// A sentence each; one that stood at an earlier step under the same heading, in a few words.
    lines: Vec<Reminder>,
}

/// The cautions of a step: the few that fit most in a sentence each, the others in a few words.
#[derive(Serialize)]
struct AtStep {
    panels: Vec<Reminders>,
    /// The others, each in a few words.
    more: Vec<Reminder>,
}

#[derive(Serialize)]
struct Reminder {
    id: &'static str,
    text: String,
}

#[derive(Serialize)]
struct DrawingShown {
    name: &'static str,
    title: String,
    file: String,
    width: u32,
    height: u32,
    description: String,
    /// Its files to take away.
    takes: Vec<Way>,
}

#[derive(Serialize)]
struct WorkPiece {
    number: Option<usize>,
    first: bool,
    last: bool,
    tick: String,
    reminders: AtStep,
    html: String,
}

#[derive(Serialize)]
struct CheckGroup {
    rule: &'static str,
    title: String,
    summary: String,
    rows: Vec<CheckRow>,
    sources: Vec<SourceShown>,
}

/// The comparison that came nearest to its limit, of one rule.
#[derive(Serialize)]
struct Tightest {
    rule: &'static str,
    title: String,
    count: String,
    row: CheckRow,
    sources: Vec<SourceShown>,
}

#[derive(Serialize)]
struct CheckRow {
    subject: String,
    case: String,
    value: String,
    limit: String,
    margin: String,
    outcome: String,
}

#[derive(Serialize)]
struct Remark {
    message: String,
    answer: Option<AnswerGiven>,
}

#[derive(Serialize)]
struct AssumptionShown {
    subject: String,
    what: String,
    value: String,
    source: SourceShown,
}

#[derive(Serialize)]
struct ChangeShown {
    dated: String,
    what: String,
}

/// What a guide's text may refer to.
struct Beside<'a> {
    setter: &'a Typesetter<'a>,
    one: &'a Checked,
    guide: &'a Guide,
    shown: &'a [(&'a Checked, &'a Guide)],
    files: Option<&'a BTreeMap<String, Vec<u8>>>,
    /// What the text asked for, to be written beside the page.
    wanted: RefCell<BTreeMap<String, Vec<u8>>>,
    /// Photos that could not be developed, and why.
    spoilt: RefCell<BTreeMap<String, String>>,
}

impl References for Beside<'_> {
    fn value(&self, path: &str) -> Option<String> {
        self.guide.value(path)
    }

    fn drawing(&self, name: &str, words: &str) -> Option<String> {
        let picture = self.one.pictures.iter().find(|picture| picture.name == name)?;
        let words = if words.is_empty() { picture.title.as_str() } else { words };
        Some(format!(
            "{MENTION}<a href=\"#drawing-{name}\">{}: {}</a></p>",
            prose::escape(self.setter.words.get("see_drawing")),
            prose::escape(words)
        ))
    }

    fn photo(&self, path: &str, words: &str, caption: &str) -> Option<String> {
        let bytes = self.files?.get(path)?;
        let prints = match photo::develop(bytes) {
            Ok(prints) => prints,
            Err(why) => {
                self.spoilt.borrow_mut().insert(path.to_string(), why);
                return Some(String::new());
            }
        };
        let stem = address::slug(path.rsplit_once('.').map_or(path, |(stem, _)| stem));
        let mut set = Vec::new();
        let mut last = None;
        for print in &prints {
            let file = format!("photo-{stem}-{}.{}", print.width, print.extension);
            set.push(format!("{file} {}w", print.width));
            self.wanted.borrow_mut().insert(file.clone(), print.bytes.clone());
            last = Some((file, print.width, print.height));
        }
        let (file, width, height) = last?;
        let set = if 1 < set.len() {
            format!(" srcset=\"{}\" sizes=\"(min-width: 48rem) 42rem, 100vw\"", set.join(", "))
        } else {
            String::new()
        };
        let caption = match caption {
            "" => String::new(),
            caption => format!("<figcaption>{}</figcaption>", prose::escape(caption)),
        };
        Some(format!(
            "<figure class=\"photo\"><img src=\"{file}\"{set} width=\"{width}\" height=\"{height}\" loading=\"lazy\" \
             alt=\"{}\">{caption}</figure>",
            prose::escape(words)
        ))
    }

    fn page(&self, reference: &str) -> Option<String> {
        let (path, anchor) = reference.split_once('#').unwrap_or((reference, ""));
        if !anchor.is_empty() {
            return None;
        }
        if let Some(own) = address::within_folder(path)
            && let Some(bytes) = self.files.and_then(|files| files.get(&own))
        {
            // Only what no browser would run.
            let (stem, extension) = own.rsplit_once('.')?;
            let extension = extension.to_ascii_lowercase();
            if !["pdf", "txt", "csv"].contains(&extension.as_str()) {
                return None;
            }
            let file = format!("file-{}.{extension}", address::slug(stem));
            self.wanted.borrow_mut().insert(file.clone(), bytes.clone());
            return Some(file);
        }
        let mut at: Vec<&str> = self.one.slug.split('/').collect();
        for part in path.split('/') {
            match part {
                "" | "." | "index.html" | "guide.md" => {}
                ".." => {
                    at.pop()?;
                }
                part => at.push(part),
            }
        }
        let slug = at.join("/");
        self.shown.iter().find(|(one, _)| one.slug == slug)?;
        let root = address::to_root(&format!("{}/index.html", self.one.slug));
        Some(format!("{root}{}/index.html", address::href(&slug)))
    }
}

/// Makes a guide's page and the files beside it.
pub(super) fn make(
    setter: &Typesetter<'_>,
    one: &Checked,
    guide: &Guide,
    shown: &[(&Checked, &Guide)],
    files: Option<&BTreeMap<String, Vec<u8>>>,
    site: &mut Site,
) -> Vec<Spot> {
    let Some(circuit) = &one.circuit else { return Vec::new() }; // unreadable, as its findings say
    let words = &setter.words;
    let beside = Beside { setter, one, guide, shown, files, wanted: RefCell::default(), spoilt: RefCell::default() };
    let (pieces, mut found) = prose::render(guide, &beside);
    site.findings.append(&mut found);
    for (file, bytes) in beside.wanted.into_inner() {
        site.files.insert(format!("{}/{file}", one.slug), bytes);
    }
    for (path, why) in beside.spoilt.into_inner() {
        let at = guide.text.photos.iter().find(|photo| photo.path == path).map_or(guide.text.at, |photo| photo.at);
        site.find(
            "text-photo",
            Severity::Unreadable,
            Place { file: guide.file.path.clone(), span: at },
            format!("the photo `{path}` cannot be shown: {why}"),
            "save it again as .jpg, .png or .webp",
        );
    }
    let (intro, work) = split_intro(pieces);
    let path = format!("{}/index.html", one.slug);
    let spots = spots(setter, one, guide, &path, &intro, &work);
    let steps: Vec<(usize, String)> = work
        .iter()
        .filter_map(|piece| match piece {
            Piece::Step { number, html } => {
                Some((*number, find::plain(html).split_whitespace().collect::<Vec<_>>().join(" ")))
            }
            Piece::Prose(_) => None,
        })
        .collect();

    let (mut drawings, mut plots) = (Vec::new(), Vec::new());
    for picture in &one.pictures {
        let file = format!("{}.svg", picture.name);
        site.put(format!("{}/{file}", one.slug), &picture.svg);
        // What goes where belongs to the wiring; what the numbers look like, to the reasons.
        let of_its_kind = if ["wiring", "plan"].contains(&picture.name) { &mut drawings } else { &mut plots };
        let drawing = DrawingShown {
            name: picture.name,
            title: picture.title.clone(),
            file,
            // Whole pixels, as HTML asks for; a drawing is never so large that this could cut it.
            width: picture.size.0.round().clamp(1.0, 100_000.0) as u32,
            height: picture.size.1.round().clamp(1.0, 100_000.0) as u32,
            description: picture.description.clone(),
            takes: takes(setter, picture),
        };
        // Alone in a window an SVG is shrunk to a phone's width; a page of its own shows it as large as on paper.
        setter.page(
            "sheets/picture.html",
            &format!("{}/{}.html", one.slug, picture.name),
            &format!("{}: {}", picture.title, guide.title.value),
            &picture.title,
            |context| {
                context.insert("drawing", &drawing);
                context.insert("guide_title", &guide.title.value);
            },
            site,
        );
        of_its_kind.push(drawing);
    }
    let order = order(setter, one, guide);
    let mut all_pictures = Vec::new();
    if order.kinds.pdf && !order.plates.is_empty() {
        let way = |paper| Way {
            name: words.fill("take_all", &[("kind", words.get(pdf_key(paper)))]),
            href: prints::pdf_name(prints::ALL_PICTURES, paper),
        };
        all_pictures.extend(Paper::ALL.map(way));
    }
    let picture = shared_picture(setter, one, &order);
    site.prints.push(order);

    let parts = lists::parts(circuit, guide, words);
    let cuts = lists::cuts(circuit, guide, words);
    let facts = machine::Facts {
        one,
        guide,
        language: &words.language,
        address: setter.canonical(&path),
        root: address::to_root(&path),
        parts: &parts,
        cuts: &cuts,
        with_numbers: true,
    };
    site.put(format!("{}/guide.json", one.slug), &machine::record(&facts));
    let how_to = machine::how_to(&facts, &steps, &setter.publisher.name);
    let mut downloads = files_beside::write(setter, one, guide, circuit, site);
    downloads.push(Way { name: words.get("dl_json").into(), href: "guide.json".into() });

    let groups = check_groups(setter, circuit, &one.checks);
    setter.page(
        "sheets/checked.html",
        &format!("{}/checked.html", one.slug),
        &format!("{}: {}", words.get("what_was_checked"), guide.title.value),
        words.get("checked_all_lead"),
        |context| {
            context.insert("groups", &groups);
            context.insert("guide_title", &guide.title.value);
        },
        site,
    );

    let deferral = cautions::defer(guide, circuit);
    let mut remarked = BTreeSet::new();
    let (symptoms_lead, symptoms_worked) = numbers::fault_finder_lead(setter, circuit);
    let mut sheet = Sheet {
        slug: one.slug.clone(),
        title: guide.title.value.clone(),
        summary: guide.summary.value.clone(),
        revision: guide.written.value.to_string(),
        cells: cells(setter, guide),
        noted: noted(setter, &one.checks),
        invented: invented(setter, &intro),
        tools: guide.tools.iter().map(|tool| tool.value.clone()).collect(),
        contents: contents(setter, one, guide, &intro, &drawings),
        cautions: one.cautions.iter().map(|caution| caution_shown(setter, caution)).collect(),
        defer: words.or("defer-statement", deferral.statement).to_string(),
        defer_triggers: deferral.triggers.iter().map(|(id, text)| words.or(id, text).to_string()).collect(),
        suits: suits(setter, guide, circuit),
        suits_runs: numbers::run_limits(setter, one, circuit),
        suits_runs_lead: numbers::run_limits_lead(setter),
        readings: numbers::readings(setter, one, circuit),
        engine_runs: circuit.states.iter().any(|state| state.turns_an_engine(circuit)),
        fills: one.readings.iter().any(|reading| reading.stop_over.is_some()),
        readings_source: setter.source("tm-5-3820-256-24-4"),
        symptoms: numbers::fault_finder(setter, one, circuit),
        symptoms_lead,
        symptoms_worked,
        variants: numbers::variants(setter, one, circuit),
        emergencies: emergencies(setter, guide, circuit),
        prove: prove::lists(circuit, guide, words)
            .into_iter()
            .map(|list| CheckListShown {
                key: list.key,
                title: list.title,
                lead: list.lead,
                items: list
                    .items
                    .into_iter()
                    .map(|item| CheckItemShown {
                        key: item.key,
                        text: item.text,
                        sources: item.sources.iter().map(|id| setter.source(id)).collect(),
                    })
                    .collect(),
            })
            .collect(),
        downloads,
        all_pictures,
        unseen: cautions::UNSEEN.iter().map(|thing| words.or(thing.id, thing.words).to_string()).collect(),
        intro,
        drawings,
        plots,
        parts,
        cuts,
        consumables: lists::consumables(circuit, guide, &lists::unprotected(one, circuit), words),
        work: work_pieces(setter, one, work),
        tightest: tightest(setter, circuit, &one.checks),
        comparisons: words.fill(
            "checked_lead",
            &[("count", &one.checks.iter().filter(|check| check.has_limit()).count().to_string())],
        ),
        remarks: one
            .findings
            .iter()
            .filter(|finding| matches!(finding.severity, Severity::Note | Severity::Query))
            .map(|finding| Remark {
                message: lists::sentence(&numbers::in_words(setter, circuit, &finding.message)),
                answer: finding.answer.clone(),
            })
            // What holds in several states is said once.
            .filter(|remark| remarked.insert(remark.message.clone()))
            .collect(),
        assumptions: circuit
            .assumptions
            .iter()
            .map(|a| AssumptionShown {
                subject: numbers::key_in_words(setter, circuit, &a.subject),
                what: a.what.clone(),
                value: a.value.clone(),
                source: setter.source(a.source),
            })
            .collect(),
        digest: one.digest.clone(),
        changes: guide
            .changes
            .iter()
            .map(|change| ChangeShown { dated: change.dated.value.to_string(), what: change.what.value.clone() })
            .collect(),
        sources: Vec::new(),
    };
    sheet.number_sources();
    setter.page_with(
        "sheets/guide.html",
        &path,
        (&guide.title.value, &guide.summary.value),
        picture.as_ref(),
        |context| {
            context.insert("guide", &sheet);
            context.insert("how_to", &how_to);
        },
        site,
    );
    check_cautions_stand(guide, &sheet, &path, site);
    spots
}

/// The word for a PDF on a paper.
fn pdf_key(paper: Paper) -> &'static str {
    match paper {
        Paper::A4 => "take_pdf_a4",
        Paper::Letter => "take_pdf_letter",
    }
}

/// The files in which a picture may be taken away.
fn takes(setter: &Typesetter<'_>, picture: &crate::drawing::Picture) -> Vec<Way> {
    let (sheets, picture) = (picture.geometry.sheets.len(), picture.name);
    let words = &setter.words;
    let mut ways = Vec::new();
    if setter.publisher.offers("svg") {
        ways.push(Way { name: words.get("take_svg").into(), href: format!("{picture}.svg") });
    }
    if setter.publisher.offers("png") {
        // A picture of several sheets has a file for each.
        ways.extend((0..sheets).map(|sheet| {
            let name = words.get("take_png");
            let name = if sheets > 1 { format!("{name} {}", sheet + 1) } else { name.into() };
            Way { name, href: prints::png_name(picture, sheet) }
        }));
    }
    if setter.publisher.offers("pdf") {
        let way = |paper| Way { name: words.get(pdf_key(paper)).into(), href: prints::pdf_name(picture, paper) };
        ways.extend(Paper::ALL.map(way));
    }
    ways
}

/// The prints of a guide's pictures.
fn order(setter: &Typesetter<'_>, one: &Checked, guide: &Guide) -> Order {
    let publisher = setter.publisher;
    Order {
        folder: one.slug.clone(),
        plates: one.pictures.iter().map(Plate::of).collect(),
        facts: prints::pdf::Facts {
            title: guide.title.value.clone(),
            summary: guide.summary.value.clone(),
            by: guide.by.as_ref().map_or_else(|| publisher.name.clone(), |by| by.value.clone()),
            language: setter.words.language.clone(),
            dated: Some(prints::dated(guide.written.value)),
        },
        kinds: Kinds { png: publisher.offers("png"), pdf: publisher.offers("pdf") },
    }
}

/// The picture that stands for a guide where its link is shared: how it is wired.
fn shared_picture(setter: &Typesetter<'_>, one: &Checked, order: &Order) -> Option<PictureFacts> {
    let wiring = one.pictures.iter().find(|picture| order.kinds.png && picture.name == "wiring")?;
    Some(PictureFacts {
        address: setter.canonical(&format!("{}/{}", one.slug, prints::png_name(wiring.name, 0)))?,
        width: raster::WIDTH,
        height: wiring.sheets().first().map(|(top, bottom)| raster::height((wiring.size.0, bottom - top)))?,
        alt: format!("{}: {}", wiring.title, order.facts.title),
    })
}

/// What of a guide can be found.
fn spots(setter: &Typesetter<'_>, one: &Checked, guide: &Guide, path: &str, intro: &str, work: &[Piece]) -> Vec<Spot> {
    let words = &setter.words;
    let spot = |anchor: &str, heading: &str, text: String| Spot {
        href: if anchor.is_empty() { path.to_string() } else { format!("{path}#{anchor}") },
        page: guide.title.value.clone(),
        heading: heading.to_string(),
        text,
    };
    let subjects: Vec<&str> = guide.subjects.iter().map(|subject| subject.value.as_str()).collect();
    let mut all = vec![spot("", &guide.title.value, format!("{} {}", guide.summary.value, subjects.join(" ")))];
    if !intro.is_empty() {
        all.push(spot("job", words.get("the_job"), find::plain(intro)));
    }
    for caution in &one.cautions {
        let shown = caution_shown(setter, caution);
        all.push(spot(
            &format!("caution-{}", caution.id),
            &format!("{} – {}", words.get("cautions"), shown.hazard),
            shown.consequence,
        ));
    }
    if let Some(circuit) = &one.circuit {
        for row in lists::parts(circuit, guide, words) {
            let heading = format!("{} – {} {}", words.get("parts_list"), row.mark, row.name);
            all.push(spot(&format!("part-{}", row.key), &heading, format!("{} {}", row.what, row.zone)));
        }
        for row in lists::cuts(circuit, guide, words) {
            let heading = format!("{} – {} {}", words.get("cut_list"), row.mark, row.name);
            let text = format!("{} {}: {}", row.size, row.colour, row.cut);
            all.push(spot(&format!("run-{}", row.key), &heading, text));
        }
        for one in emergencies(setter, guide, circuit) {
            let heading = format!("{} – {}", words.get("emergency"), one.sign);
            all.push(spot(one.id, &heading, one.acts.join(" ")));
        }
        for state in numbers::readings(setter, one, circuit) {
            let rows: Vec<String> = state.rows.iter().map(|row| format!("{}: {}", row.what, row.expected)).collect();
            let heading = format!("{} – {}", words.get("readings_heading"), state.title);
            all.push(spot(&format!("state-{}", state.key), &heading, format!("{}. {}", state.set_up, rows.join("; "))));
        }
        for symptom in numbers::fault_finder(setter, one, circuit) {
            let suspects: Vec<String> = symptom
                .groups
                .iter()
                .flat_map(|group| &group.rows)
                .map(|row| format!("{} {}", row.mark, row.name).trim().to_string())
                .collect();
            let heading = format!("{} – {}", words.get("misbehaves"), symptom.title);
            all.push(spot(&symptom.id, &heading, suspects.join(", ")));
        }
    }
    for piece in work {
        if let Piece::Step { number, html } = piece {
            let heading = words.fill("step_of", &[("number", &number.to_string())]);
            all.push(spot(&format!("step-{number}"), &heading, find::plain(html)));
        }
    }
    all
}

/// No author and no theme can remove a caution: a page without one does not go out.
fn check_cautions_stand(guide: &Guide, sheet: &Sheet, path: &str, site: &mut Site) {
    let Some(page) = site.files.get(path).and_then(|bytes| std::str::from_utf8(bytes).ok()) else { return };
    let first_step = page.find("id=\"step-").unwrap_or(page.len());
    let stands = |text: &str| {
        let plain: String = prose::escape(text).chars().filter(|c| !super::is_hidden_control(*c)).collect();
        page.find(&plain).is_some_and(|at| at < first_step)
    };
    let missing: Vec<&str> = sheet
        .cautions
        .iter()
        .filter(|c| !(stands(&c.word) && stands(&c.hazard) && stands(&c.consequence) && stands(&c.avoidance)))
        .map(|caution| caution.id)
        .collect();
    let mut faults = Vec::new();
    if !missing.is_empty() {
        faults
            .push(format!("leaves out, or puts after the first step, cautions of this guide: {}", missing.join(", ")));
    }
    if !stands(&sheet.defer) {
        faults.push("leaves out to whom the guide gives way (`guide.defer`)".into());
    }
    let unseen_stands = |text: &String| page.contains(&prose::escape(text));
    if !sheet.unseen.iter().all(unseen_stands) {
        faults.push("leaves out what no one can see from here (`guide.unseen`)".into());
    }
    for fault in faults {
        site.find(
            "theme",
            Severity::Unsafe,
            Place { file: guide.file.path.clone(), span: Span::new(0, 0) },
            format!("the theme's `sheets/guide.html` {fault}"),
            "show every caution in full before the steps, as the built-in theme does",
        );
    }
}

/// Parts the introduction from the work: a heading just before the first step belongs to the work.
fn split_intro(mut pieces: Vec<Piece>) -> (String, Vec<Piece>) {
    let first_step = pieces.iter().position(|piece| matches!(piece, Piece::Step { .. })).unwrap_or(pieces.len());
    let mut end = first_step;
    if first_step < pieces.len()
        && let Some(Piece::Prose(html)) = first_step.checked_sub(1).and_then(|i| pieces.get(i))
        && html.trim_start().starts_with("<h")
    {
        end -= 1;
    }
    let work = pieces.split_off(end);
    let intro = pieces.into_iter().map(|piece| match piece {
        Piece::Prose(html) | Piece::Step { html, .. } => html,
    });
    (without_mentions(&intro.collect::<String>()), work)
}

/// The introduction without its mentions of drawings, for those stand right after it.
fn without_mentions(intro: &str) -> String {
    let mut out = String::new();
    let mut rest = intro;
    while let Some((before, after)) = rest.split_once(MENTION) {
        out.push_str(before);
        rest = after.split_once("</p>").map_or("", |(_, after)| after);
    }
    out + rest
}

/// How a mention of a drawing starts. An author's own text cannot hold it: its classes are cleaned away.
const MENTION: &str = "<p class=\"see\">";

fn vehicle(setter: &Typesetter<'_>, guide: &Guide) -> String {
    let words = &setter.words;
    words.fill(
        "vehicle_of",
        &[
            ("kind", words.get(&format!("vehicle_{}", guide.vehicle.kind.value.word()))),
            ("body", words.get(&format!("body_{}", guide.vehicle.body.value.word()))),
            ("drive", words.get(&format!("drive_{}", guide.vehicle.drive.value.word()))),
        ],
    )
}

fn cells(setter: &Typesetter<'_>, guide: &Guide) -> Vec<Cell> {
    let words = &setter.words;
    let mut cells = Vec::new();
    let mut cell = |key: &str, text: String| cells.push(Cell { name: words.get(key).into(), text });
    cell("vehicle", vehicle(setter, guide));
    cell("system", guide.system.value.show());
    if let Some(time) = &guide.time_needed {
        cell("time_needed", time.value.clone());
    }
    if let Some(skill) = &guide.skill {
        cell("skill", skill.value.clone());
    }
    cell("written", guide.written.value.to_string());
    if let Some(by) = &guide.by {
        cell("by", by.value.clone());
    }
    let checked = match &guide.record {
        Some(record) => {
            words.fill("checked_on", &[("by", &record.by.value), ("date", &record.dated.value.to_string())])
        }
        None => words.get("checked_by_nobody").to_string(),
    };
    cell("checked_by", checked);
    cells
}

/// How many comparisons are past their limit and let stand, for the head of the page: a reader must not have to find them.
fn noted(setter: &Typesetter<'_>, checks: &[Check]) -> String {
    let is_over =
        |check: &&Check| check.has_limit() && matches!(check.outcome, Outcome::Found(Severity::Note | Severity::Query));
    match checks.iter().filter(is_over).count() {
        0 => String::new(),
        count => setter.words.fill("noted_of", &[("count", &count.to_string())]),
    }
}

/// The sentences of the introduction that say that figures are invented.
fn invented(setter: &Typesetter<'_>, intro: &str) -> String {
    let plain = find::plain(intro).split_whitespace().collect::<Vec<_>>().join(" ");
    let says = |sentence: &&str| {
        let own = |word: &str| word == setter.words.get("invented_word");
        sentence.split(|c: char| !c.is_alphanumeric()).any(own)
    };
    let sentences: Vec<&str> = plain.split_inclusive(". ").map(str::trim).filter(says).collect();
    sentences.join(" ")
}

/// What the reader's vehicle must be like for the numbers to hold.
fn suits(setter: &Typesetter<'_>, guide: &Guide, circuit: &Circuit) -> Vec<Cell> {
    let words = &setter.words;
    let mut cells = vec![
        Cell { name: words.get("suits_vehicle").into(), text: vehicle(setter, guide) },
        Cell { name: words.get("suits_system").into(), text: circuit.nominal.show() },
    ];
    if let Some(coldest) = circuit.coldest {
        cells.push(Cell { name: words.get("suits_coldest").into(), text: coldest.show_both() });
    }
    for zone in &circuit.zones {
        let mut facts = vec![words.fill("suits_zone_of", &[("ambient", &zone.ambient.show_both())])];
        for (is, key) in [
            (zone.engine_space, "suits_zone_engine"),
            (zone.occupied, "suits_zone_occupied"),
            (zone.holds_fuel, "suits_zone_fuel"),
            (zone.holds_gas, "suits_zone_gas"),
        ] {
            if is {
                facts.push(words.get(key).to_string());
            }
        }
        cells.push(Cell { name: zone.label.clone(), text: facts.join("; ") });
    }
    let rows = lists::parts(circuit, guide, words);
    for (part, row) in circuit.parts.iter().zip(rows) {
        let text = match &part.kind {
            Kind::Battery(_) => row.what,
            Kind::Starter(s) => words.fill("suits_starter_of", &[("current", &s.cranking.0.show())]),
            Kind::Alternator(a) => words.fill("suits_alternator_of", &[("current", &a.output.show())]),
            Kind::Load(_) => {
                let most = circuit
                    .states
                    .iter()
                    .filter_map(|state| part_takes(state, circuit, &part.name))
                    .fold(None, |most: Option<Takes>, takes| Some(most.map_or(takes, |most| most.larger(takes))));
                match most {
                    Some(Takes::Current(current)) => words.fill("suits_load_of", &[("current", &current.show())]),
                    Some(Takes::Power(power)) => words.fill("suits_load_power_of", &[("power", &power.show())]),
                    None => continue,
                }
            }
            _ => continue,
        };
        cells.push(Cell { name: row.name, text });
    }
    if guide.vehicle.body.value == BodyMaterial::Composite || circuit.body.is_empty() {
        cells.push(Cell { name: words.get("suits_body_path").into(), text: words.get("suits_body_none").into() });
    } else {
        let measured: Vec<String> = circuit
            .body
            .iter()
            .filter_map(|piece| {
                let zone = |node| circuit.zone(circuit.node(node).zone).label.as_str();
                piece.resistance.map(|r| format!("{} – {}: {}", zone(piece.from), zone(piece.to), r.show()))
            })
            .collect();
        let text = if measured.is_empty() {
            words.get("suits_body_unmeasured").to_string()
        } else {
            words.fill("suits_body_measured", &[("between", &measured.join("; "))])
        };
        cells.push(Cell { name: words.get("suits_body_path").into(), text });
    }
    cells
}

#[derive(Clone, Copy)]
enum Takes {
    Current(Current),
    Power(Power),
}

impl Takes {
    /// The larger; of a power and a current, the power stands.
    fn larger(self, other: Takes) -> Takes {
        match (self, other) {
            (Takes::Current(a), Takes::Current(b)) => Takes::Current(a.max(b)),
            (Takes::Power(a), Takes::Power(b)) => Takes::Power(a.max(b)),
            (Takes::Power(a), _) | (_, Takes::Power(a)) => Takes::Power(a),
        }
    }
}

fn part_takes(state: &State, circuit: &Circuit, part: &str) -> Option<Takes> {
    match state.parts[circuit.part_named(part)?.0] {
        Activity::Takes(current) => Some(Takes::Current(current)),
        Activity::Power(power) => Some(Takes::Power(power)),
        _ => None,
    }
}

fn emergencies(setter: &Typesetter<'_>, guide: &Guide, circuit: &Circuit) -> Vec<EmergencyShown> {
    let words = &setter.words;
    let fill = |act: &cautions::Act| {
        let live = act.live.iter().map(|run| run.0).collect::<Vec<_>>();
        words.or(&act.id, act.words).replace("{devices}", &act.devices).replace("{live}", &marks(&live))
    };
    let all = cautions::emergencies(guide, circuit).into_iter().map(|one| EmergencyShown {
        id: one.id,
        sign: words.or(one.id, one.sign).to_string(),
        acts: one.acts.iter().map(fill).collect(),
        sources: one.sources.iter().map(|id| setter.source(id)).collect(),
    });
    all.collect()
}

/// The marks of runs, those after one another as `W3–W5`.
fn marks(runs: &[usize]) -> String {
    let mark = |run: usize| lists::run_mark(RunId(run));
    let shown = ranges(runs).into_iter().map(|(first, last)| match last - first {
        0 => mark(first),
        _ => format!("{}–{}", mark(first), mark(last)),
    });
    shown.collect::<Vec<_>>().join(", ")
}

fn contents(
    setter: &Typesetter<'_>,
    one: &Checked,
    guide: &Guide,
    intro: &str,
    drawings: &[DrawingShown],
) -> Vec<Heading> {
    let all = [
        ("suits", "suits", true),
        ("cautions", "cautions", true),
        ("job", "the_job", !intro.is_empty()),
        ("wiring", "how_it_is_wired", !drawings.is_empty()),
        ("needs", "what_you_need", true),
        ("cuts-heading", "cut_list", true),
        ("work", "the_work", true),
        ("prove", "prove", true),
        ("readings", "readings_heading", !one.readings.is_empty()),
        ("emergency", "trouble", true),
        ("misbehaves", "misbehaves", one.trials.as_ref().is_some_and(|trials| !trials.culprits.is_empty())),
        ("why", "why", one.trials.is_some()),
        ("checked", "what_was_checked", true),
        ("changes", "changes", !guide.changes.is_empty()),
    ];
    let there = all.into_iter().filter(|(_, _, is_there)| *is_there);
    there.map(|(id, key, _)| Heading { id, name: setter.words.get(key).into() }).collect()
}

fn caution_shown(setter: &Typesetter<'_>, caution: &Caution) -> CautionShown {
    let words = &setter.words;
    let text = |what: &str, own: &str| words.or(&format!("caution-{}-{what}", caution.id), own).to_string();
    let usual = text("avoidance", &caution.avoidance);
    let mut avoidance = match caution.variant {
        "" => usual,
        // A theme that words the usual case only, in another language, still says it; English has its own words.
        case => words.or(&format!("caution-{}-avoidance-{case}", caution.id), &usual).to_string(),
    };
    for (name, figure) in &caution.figures {
        avoidance = avoidance.replace(&format!("{{{name}}}"), figure);
    }
    CautionShown {
        id: caution.id,
        signal: caution.signal.id(),
        word: words.get(&format!("signal_{}", caution.signal.id())).into(),
        hazard: text("hazard", &caution.hazard),
        consequence: text("consequence", &caution.consequence),
        avoidance,
        steps: step_ranges(&caution.steps),
        sources: caution.sources.iter().map(|id| setter.source(id)).collect(),
    }
}

/// Numbers put together where they follow each other.
fn ranges(numbers: &[usize]) -> Vec<(usize, usize)> {
    let mut ranges: Vec<(usize, usize)> = Vec::new();
    for number in numbers {
        match ranges.last_mut() {
            Some((_, last)) if *last + 1 == *number => *last = *number,
            _ => ranges.push((*number, *number)),
        }
    }
    ranges
}

/// Step numbers put together where they follow each other.
fn step_ranges(steps: &[usize]) -> Vec<StepRange> {
    let shown = |(first, last): (usize, usize)| match last - first {
        0 => first.to_string(),
        _ => format!("{first}–{last}"),
    };
    ranges(steps).into_iter().map(|range| StepRange { first: range.0, shown: shown(range) }).collect()
}

fn work_pieces(setter: &Typesetter<'_>, one: &Checked, pieces: Vec<Piece>) -> Vec<WorkPiece> {
    let words = &setter.words;
    let is_step: Vec<bool> = pieces.iter().map(|piece| matches!(piece, Piece::Step { .. })).collect();
    let order = one.guide.as_ref().zip(one.circuit.as_ref()).and_then(|(guide, circuit)| WorkOrder::of(guide, circuit));
    let stage = |step: usize| order.as_ref().map(|order| order.stage(step));
    let mut said: BTreeSet<&str> = BTreeSet::new();
    let mut made = Vec::new();
    for (i, piece) in pieces.into_iter().enumerate() {
        made.push(match piece {
            Piece::Prose(html) => {
                said.clear(); // under a new heading every caution is said in full again
                WorkPiece {
                    number: None,
                    first: false,
                    last: false,
                    tick: String::new(),
                    reminders: AtStep { panels: Vec::new(), more: Vec::new() },
                    html,
                }
            }
            Piece::Step { number, html } => WorkPiece {
                number: Some(number),
                first: !i.checked_sub(1).is_some_and(|before| is_step[before]),
                last: !is_step.get(i + 1).copied().unwrap_or(false),
                tick: words.fill("tick_step", &[("number", &number.to_string())]),
                reminders: reminders(setter, &one.cautions, (number, stage(number)), &mut said),
                html,
            },
        });
    }
    made
}

/// At most so many cautions stand at a step in words: a longer list is read by nobody.
const AT_A_STEP: usize = 3;

/// The cautions that a step is served by, one panel a signal word, the worst first. Those that fit the step most stand there in
/// words.
fn reminders<'a>(
    setter: &Typesetter<'_>,
    all: &'a [Caution],
    (step, stage): (usize, Option<Stage>),
    said: &mut BTreeSet<&'a str>,
) -> AtStep {
    let words = &setter.words;
    let text = |caution: &'a Caution, what: &str| {
        let (own, case) = match (caution.live.as_ref().filter(|live| live.steps.contains(&step)), what) {
            (Some(live), "short") => (live.short, "-live"),
            (Some(live), _) => (live.reminder, "-live"),
            (None, "short") => (caution.short.as_str(), ""),
            (None, _) => (caution.reminder.as_str(), ""),
        };
        words.or(&format!("caution-{}-{what}{case}", caution.id), own).to_string()
    };
    let mut of_step: Vec<&Caution> = all.iter().filter(|caution| caution.steps.contains(&step)).collect();
    of_step.sort_by_key(|caution| cautions::fit(caution.id, stage));
    let others = of_step.split_off(of_step.len().min(AT_A_STEP));
    of_step.sort_by_key(|caution| std::cmp::Reverse(caution.signal));
    let mut panels: Vec<Reminders> = Vec::new();
    for caution in of_step {
        let signal = caution.signal.id();
        if panels.last().is_none_or(|panel| panel.signal != signal) {
            let word = words.get(&format!("signal_{signal}")).to_string();
            panels.push(Reminders { signal, word, lines: Vec::new() });
        }
        let Some(panel) = panels.last_mut() else { continue };
        let line =
            if said.insert(caution.id) { text(caution, "reminder") } else { lists::sentence(&text(caution, "short")) };
        panel.lines.push(Reminder { id: caution.id, text: line });
    }
    let more = others.iter().map(|caution| Reminder { id: caution.id, text: text(caution, "short") });
    AtStep { panels, more: more.collect() }
}

/// Of each rule, in the order of the catalogue as the checks stand: the comparison nearest to its limit, what was found
/// before what passed, and how many there were.
fn tightest(setter: &Typesetter<'_>, circuit: &Circuit, checks: &[Check]) -> Vec<Tightest> {
    let words = &setter.words;
    let mut by_rule: Vec<(&'static str, Vec<&Check>)> = Vec::new();
    for check in checks.iter().filter(|check| check.has_limit()) {
        match by_rule.iter_mut().find(|(rule, _)| *rule == check.rule) {
            Some((_, of_rule)) => of_rule.push(check),
            None => by_rule.push((check.rule, vec![check])),
        }
    }
    let rank = |check: &Check| match check.outcome {
        Outcome::Found(severity) => (0, 3 - severity as i32),
        Outcome::Passes => (1, 0),
        Outcome::NotApplicable => (2, 0),
    };
    let distance = |check: &Check| match check.limit.si.abs() {
        0.0 => check.value.si.abs(),
        limit => (check.value.si - check.limit.si).abs() / limit,
    };
    let shown = by_rule.into_iter().filter_map(|(rule, of_rule)| {
        let nearest = of_rule.iter().min_by(|a, b| rank(a).cmp(&rank(b)).then(distance(a).total_cmp(&distance(b))))?;
        let judged: Vec<&&Check> = of_rule.iter().filter(|c| c.outcome != Outcome::NotApplicable).collect();
        let passed = judged.iter().filter(|c| c.outcome == Outcome::Passes).count();
        let count = if judged.is_empty() {
            words.get("outcome_not_applicable").to_string()
        } else {
            words.fill("checks_summary", &[("passed", &passed.to_string()), ("all", &judged.len().to_string())])
        };
        Some(Tightest {
            rule,
            title: lists::sentence(rules::find(rule).map_or(rule, |rule| rule.title)),
            count,
            row: check_row(setter, circuit, nearest),
            sources: nearest.sources.iter().map(|id| setter.source(id)).collect(),
        })
    });
    shown.collect()
}

fn check_row(setter: &Typesetter<'_>, circuit: &Circuit, check: &Check) -> CheckRow {
    CheckRow {
        subject: numbers::key_in_words(setter, circuit, &check.subject),
        case: zones_in_words(circuit, &numbers::in_words(setter, circuit, &check.case)),
        value: numbers::in_words(setter, circuit, &check.value.shown),
        limit: numbers::in_words(setter, circuit, &check.limit.shown),
        margin: plain_margin(&numbers::in_words(setter, circuit, &check.margin)),
        outcome: setter
            .words
            .get(match check.outcome {
                Outcome::Passes => "outcome_passes",
                Outcome::Found(Severity::Note) => "outcome_note",
                Outcome::Found(Severity::Query) => "outcome_query",
                Outcome::Found(Severity::Unreadable) => "outcome_unreadable",
                Outcome::Found(Severity::Unsafe) => "outcome_unsafe",
                Outcome::NotApplicable => "outcome_not_applicable",
            })
            .to_string(),
    }
}

/// A way through the vehicle, "bay to cab", by the names that its places have for people.
fn zones_in_words(circuit: &Circuit, case: &str) -> String {
    let label = |key: &str| circuit.zones.iter().find(|zone| zone.name == key).map(|zone| zone.label.as_str());
    let way: Option<Vec<&str>> = case.contains(" to ").then(|| case.split(" to ").map(label).collect()).flatten();
    way.map_or_else(|| case.to_string(), |way| way.join(" to "))
}

/// A margin as a workshop says it: degrees rather than kelvin, and "just at the limit" rather than nothing to spare.
fn plain_margin(margin: &str) -> String {
    if margin == "0 to spare" || margin.starts_with("0 ") && margin.ends_with(" to spare") {
        return "just at the limit".into();
    }
    margin.replace(" K to spare", " °C to spare").replace(" K over", " °C over")
}

fn check_groups(setter: &Typesetter<'_>, circuit: &Circuit, checks: &[Check]) -> Vec<CheckGroup> {
    let words = &setter.words;
    let mut groups: Vec<CheckGroup> = Vec::new();
    for check in checks {
        let at = match groups.iter().position(|group| group.rule == check.rule) {
            Some(at) => at,
            None => {
                let rule = rules::ALL.iter().find(|rule| rule.id == check.rule);
                groups.push(CheckGroup {
                    rule: check.rule,
                    title: lists::sentence(rule.map_or(check.rule, |rule| rule.title)),
                    summary: String::new(),
                    rows: Vec::new(),
                    sources: Vec::new(),
                });
                groups.len() - 1
            }
        };
        let group = &mut groups[at];
        for id in &check.sources {
            if !group.sources.iter().any(|source| source.id == *id) {
                group.sources.push(setter.source(id));
            }
        }
        group.rows.push(check_row(setter, circuit, check));
    }
    for group in &mut groups {
        let is_judged = |c: &&Check| c.rule == group.rule && c.outcome != Outcome::NotApplicable && c.has_limit();
        let judged: Vec<&Check> = checks.iter().filter(is_judged).collect();
        let passed = judged.iter().filter(|c| c.outcome == Outcome::Passes).count();
        group.summary =
            words.fill("checks_summary", &[("passed", &passed.to_string()), ("all", &judged.len().to_string())]);
    }
    groups
}
