//! What `review` and `publish` have in common: reading guides, running them through every stage and laying out the site.

use std::collections::BTreeSet;
use std::io::IsTerminal as _;
use std::path::Path;
use std::sync::Arc;

use indicatif::{ProgressBar, ProgressStyle};

use super::Trouble;
use crate::checked::{self, Checked};
use crate::finding::{Finding, Place, Severity};
use crate::guide::fault::nearest;
use crate::guide::publisher::{self, Publisher};
use crate::press::{self, Content};
use crate::report::Review;
use crate::site::{self, Site, Theme};
use crate::source::{SourceFile, Span};

/// Guides that were checked, the site they make, and whatever else was found on the way.
pub(super) struct Checking {
    pub content: Content,
    pub checked: Vec<Checked>,
    pub site: Site,
    /// Findings of the publisher's file and the theme.
    elsewhere: Vec<Finding>,
}

/// What a command needs of the site.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Wants {
    /// All of it.
    Site,
    /// Only what is found while laying it out.
    Findings,
}

impl Checking {
    /// Reads everything and checks every guide, or only those named by folder or file. What is then
    /// found in the others is left out, and the site is good for its findings only.
    pub(super) fn of(from: &Path, named: &[String], wants: Wants) -> Result<Checking, Trouble> {
        let today = press::today()?;
        let mut content = press::content::read(from)?;
        let nothing_found = content.findings.iter().all(|f| f.severity < Severity::Unreadable);
        if content.guides.is_empty() && named.is_empty() && nothing_found {
            let hint = "goodground draft NAME starts one";
            return Err(Trouble::Asked(format!("there is no guide in {}; {hint}", from.display())));
        }
        let wanted = wanted(&content, named)?;
        let is_wanted = |file: &SourceFile| wanted.as_ref().is_none_or(|w| w.contains(&file.path));

        let mut elsewhere = Vec::new();
        let (publisher, theme) = publisher_and_theme(&content, from, &mut elsewhere);
        let (to_check, to_read): (Vec<_>, Vec<_>) =
            content.guides.iter().map(|g| (g.file.clone(), g.slug.clone())).partition(|(file, _)| is_wanted(file));
        let progress = progress(to_check.len());
        let mut checked = checked::check_all(&to_check, &publisher, today, &|| progress.inc(1));
        progress.finish_and_clear();
        elsewhere.extend(checked::limits_that_do_not_hold(&publisher, &checked));
        checked.extend(to_read.into_iter().map(|(file, slug)| checked::read_only(file, &slug)));
        let beside = press::beside::read(&content, &checked)?;
        let mut site = match wants {
            Wants::Site => site::build_with(&publisher, &theme, &checked, &beside),
            Wants::Findings => {
                Site { findings: site::findings(&publisher, &theme, &checked, &beside), ..Site::default() }
            }
        };
        if let Some(wanted) = wanted {
            checked.retain(|c| wanted.contains(&c.file.path));
            site.findings.retain(|f| wanted.contains(&f.place.file));
            content.findings.retain(|f| wanted.contains(&f.place.file));
            elsewhere.clear();
        }
        Ok(Checking { content, checked, site, elsewhere })
    }

    /// All of it, to be reported.
    pub(super) fn review(&self) -> Review<'_> {
        let elsewhere = self.content.findings.iter().chain(&self.elsewhere).chain(&self.site.findings);
        Review::new(&self.checked, elsewhere, self.content.spoilt.iter().chain(&self.content.publisher))
    }
}

/// The publisher and the theme; where one cannot be read, a stand-in by which the guides' own faults are still found.
fn publisher_and_theme(content: &Content, from: &Path, findings: &mut Vec<Finding>) -> (Publisher, Theme) {
    let read = content.publisher.as_ref().map(publisher::read);
    let (publisher, found) = read.unwrap_or_default();
    findings.extend(found);
    let publisher = publisher.unwrap_or_else(|| Publisher { language: "en".into(), ..Publisher::default() });
    let theme = press::theme::read(from, publisher.theme.as_deref()).unwrap_or_else(|error| {
        let place = publisher.places.get("theme").cloned();
        let place = place.unwrap_or(Place { file: press::content::PUBLISHER.into(), span: Span::default() });
        let advice = "Name a folder of `themes/`, or leave the line out: the built-in theme is then used.";
        findings.push(unreadable("no-theme", place, error.to_string(), advice));
        Theme::built_in()
    });
    (publisher, theme)
}

fn unreadable(rule: &'static str, place: Place, message: String, advice: &str) -> Finding {
    Finding {
        rule,
        severity: Severity::Unreadable,
        place,
        subject: String::new(),
        message,
        value: None,
        limit: None,
        advice: vec![advice.to_owned()],
        sources: Vec::new(),
        answer: None,
    }
}

/// The files that are asked for: each named by its folder's name or by a path to its folder or file. `None` is all.
fn wanted(content: &Content, named: &[String]) -> Result<Option<BTreeSet<Arc<str>>>, Trouble> {
    if named.is_empty() {
        return Ok(None);
    }
    let guides = content.guides.iter().map(|g| (g.slug.as_str(), &g.file.path));
    // A guide that could not be read is known by its path alone.
    let unread = content.findings.iter().filter(|f| f.severity == Severity::Unreadable).map(|f| &f.place.file);
    let known: Vec<(&str, &Arc<str>)> =
        guides.chain(unread.map(|file| (file.rsplit('/').nth(1).unwrap_or_default(), file))).collect();
    let mut wanted = BTreeSet::new();
    for name in named {
        let path = name.trim_end_matches('/').trim_start_matches("./");
        let mut found = false;
        for (slug, file) in &known {
            let folder = file.rsplit_once('/').map(|(folder, _)| folder);
            if *slug == path || &***file == path || folder == Some(path) {
                wanted.insert(Arc::clone(file));
                found = true;
            }
        }
        if !found {
            let near = nearest(path, known.iter().map(|(slug, _)| *slug));
            let hint = near.map(|n| format!("; did you mean {n}?")).unwrap_or_default();
            return Err(Trouble::Asked(format!("there is no guide called {name}{hint}")));
        }
    }
    Ok(Some(wanted))
}

/// A bar on standard error while many guides are checked; nothing where nobody watches.
fn progress(guides: usize) -> ProgressBar {
    if guides < 2 || !std::io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = ProgressBar::new(guides as u64);
    if let Ok(style) = ProgressStyle::with_template("checked {pos} of {len} guides {wide_bar}") {
        bar.set_style(style);
    }
    bar
}
