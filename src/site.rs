//! The site: pages, lists and indexes as bytes by path.
//!
//! Touches no disk and reads no clock: [`build`] is given everything and gives back a [`Site`].
//! Same input, same bytes.
//!
//! * [`theme`] is what pages look like and say: templates, look and words.
//! * [`prose`] makes a guide's text into HTML that can do a reader no harm.
//! * [`lists`] counts parts, cuts and what is used up.
//! * [`machine`] writes a guide for machines, with its schema; [`feed`] the feed and the sitemap.
//! * [`find`](mod@find) builds the index of the search page ahead of time.

pub mod address;
pub mod feed;
pub mod find;
pub mod lists;
pub mod machine;
pub mod netlist;
pub mod photo;
pub mod prose;
pub mod theme;

mod around;
mod beside;
mod guide_sheet;
mod numbers;
mod prove;
mod sheets;

use std::collections::BTreeMap;

use rayon::prelude::*;

use crate::checked::Checked;
use crate::finding::{Finding, Place, Severity};
use crate::guide::publisher::Publisher;
use crate::guide::{Guide, Standing};
use crate::prints::Order;
use crate::source::Span;
use find::Spot;
use sheets::Typesetter;
pub use theme::{Theme, Words};

/// The whole site.
#[derive(Clone, Debug, Default)]
pub struct Site {
    /// Every file's bytes by its path below the site folder, with forward slashes.
    pub files: BTreeMap<String, Vec<u8>>,
    /// Prints of the guides' pictures, still to be made: they take longer than all pages together, and only a site that
    /// is written needs them.
    pub prints: Vec<Order>,
    /// What stands in the way, or is worth knowing, beyond what the stages before found.
    pub findings: Vec<Finding>,
}

impl Site {
    /// Puts a text file, without characters that no page has a use for: controls, and those that
    /// turn the direction of text around and so can make a reader see another figure than is there.
    fn put(&mut self, path: impl Into<String>, text: &str) {
        let plain: String = text.chars().filter(|c| !is_hidden_control(*c)).collect();
        self.files.insert(path.into(), plain.into_bytes());
    }

    fn find(&mut self, rule: &'static str, severity: Severity, place: Place, message: String, advice: &str) {
        self.findings.push(Finding {
            rule,
            severity,
            place,
            subject: String::new(),
            message,
            value: None,
            limit: None,
            advice: vec![advice.to_string()],
            sources: Vec::new(),
            answer: None,
        });
    }
}

/// Whether a character is a control that nobody sees: C0 and C1 but for tab and line ends, and the
/// bidirectional embeddings, overrides and isolates (Unicode Standard Annex 9). The marks that
/// right-to-left scripts need in plain text stay.
pub fn is_hidden_control(c: char) -> bool {
    (c.is_control() && !matches!(c, '\n' | '\t'))
        || turns_text_around(c)
        || matches!(c, '\u{FEFF}' | '\u{FFF9}'..='\u{FFFB}')
}

fn turns_text_around(c: char) -> bool {
    matches!(c, '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}')
}

/// Files beside the guides: photos and what else an author has put into a guide's folder, by the guide's slug and the
/// file's path within the folder.
pub type Beside = BTreeMap<String, BTreeMap<String, Vec<u8>>>;

/// Lays out the whole site of guides without photos; see [`build_with`].
pub fn build(publisher: &Publisher, theme: &Theme, checked: &[Checked]) -> Site {
    build_with(publisher, theme, checked, &Beside::new())
}

/// What laying out the site finds, for those who do not want the site: pages that no guide has a part in are left out
/// where the theme is the built-in one, since nothing in them can be anyone's fault but ours.
pub fn findings(publisher: &Publisher, theme: &Theme, checked: &[Checked], files: &Beside) -> Vec<Finding> {
    lay_out(publisher, theme, checked, files, publisher.theme.is_some()).findings
}

/// Lays out the whole site.
pub fn build_with(publisher: &Publisher, theme: &Theme, checked: &[Checked], files: &Beside) -> Site {
    lay_out(publisher, theme, checked, files, true)
}

fn lay_out(publisher: &Publisher, theme: &Theme, checked: &[Checked], files: &Beside, whole: bool) -> Site {
    let mut site = Site::default();
    let mut shown: Vec<(&Checked, &Guide)> = checked
        .iter()
        .filter_map(|one| one.guide.as_ref().map(|guide| (one, guide)))
        .filter(|(_, guide)| guide.standing != Standing::Working)
        .collect();
    shown.sort_by(|(a, _), (b, _)| a.slug.cmp(&b.slug));
    check_addresses(&shown, &mut site);

    let setter = match Typesetter::new(publisher, theme, &mut site) {
        Some(setter) => setter,
        None => return site, // the theme cannot be used at all, as its finding says
    };
    let shared = || {
        let mut site = Site::default();
        if whole {
            setter.look(theme, &mut site);
            setter.front(&shown, &mut site);
            setter.about(&mut site);
            setter.rules(&mut site);
            setter.sources(&mut site);
            setter.subjects(&shown, &mut site);
            setter.trade_words(theme, &mut site);
            setter.mistake(&shown, &mut site);
            setter.schema(&mut site);
        }
        site
    };
    // Guides are laid out in parallel, each into a site of its own, and put together in order.
    let guides = || -> Vec<(Site, Vec<Spot>)> {
        let page = |(one, guide): &(&Checked, &Guide)| {
            let mut page = Site::default();
            let spots = if let Standing::Withdrawn { .. } = guide.standing {
                setter.recall(one, guide, &mut page)
            } else {
                guide_sheet::make(&setter, one, guide, &shown, files.get(&one.slug), &mut page)
            };
            (page, spots)
        };
        shown.par_iter().map(page).collect()
    };
    let (shared, pages) = rayon::join(shared, guides);
    site.files.extend(shared.files);
    site.findings.extend(shared.findings);
    let mut spots = Vec::new();
    for (page, of_page) in pages {
        site.files.extend(page.files);
        site.prints.extend(page.prints);
        site.findings.extend(page.findings);
        spots.extend(of_page);
    }
    if whole {
        setter.find(theme, spots, &shown, &mut site);
        setter.feeds(&shown, &mut site);
        setter.keeper(theme, &mut site);
    }
    site.findings.sort_by(|a, b| (&a.place.file, a.place.span, a.rule).cmp(&(&b.place.file, b.place.span, b.rule)));
    site
}

/// Finds guides whose folder cannot be an address, and titles that two guides share.
fn check_addresses(shown: &[(&Checked, &Guide)], site: &mut Site) {
    let mut titles: BTreeMap<String, &Guide> = BTreeMap::new();
    let mut slugs: BTreeMap<&str, &Guide> = BTreeMap::new();
    for (one, guide) in shown {
        let top = Place { file: guide.file.path.clone(), span: Span::new(0, 0) };
        let first = one.slug.split('/').next().unwrap_or("");
        if !address::is_address(&one.slug) {
            site.find(
                "guide-address",
                Severity::Unreadable,
                top.clone(),
                format!("the folder `{}` cannot be an address on the site", one.slug),
                &format!("call it `{}`: small letters, digits and hyphens", address::slug(&one.slug)),
            );
        } else if address::RESERVED.contains(&first) {
            site.find(
                "guide-address",
                Severity::Unreadable,
                top.clone(),
                format!("the site has a page of its own called `{first}`"),
                "give the guide's folder another name",
            );
        }
        if let Some(other) = slugs.insert(one.slug.as_str(), guide) {
            site.find(
                "guide-address",
                Severity::Unreadable,
                top,
                format!("`{}` has the same address on the site", other.file.path),
                "move one of the two into a folder of its own",
            );
        }
        let title = guide.title.value.trim().to_lowercase();
        if let Some(other) = titles.insert(title, guide) {
            site.find(
                "guide-title",
                Severity::Unreadable,
                Place { file: guide.file.path.clone(), span: guide.title.at },
                format!("`{}` has the same title", other.file.path),
                "say in the title what sets this guide apart",
            );
        }
    }
}

/// A source of the handbook.
fn find_source(id: &str) -> Option<&'static crate::handbook::sources::Source> {
    crate::handbook::sources::find(id)
}
