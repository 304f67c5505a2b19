//! The pages around the guides: subjects, sources, trade words, how to report a mistake, the search
//! page with its index, the feed, the sitemap and the service worker.

use std::collections::BTreeMap;

use serde::Serialize;
use sha2::{Digest as _, Sha256};

use super::feed::{self, Entry};
use super::find::{self, Spot};
use super::sheets::{Card, Typesetter, Way};
use super::{Site, Theme, address, machine};
use crate::checked::Checked;
use crate::finding::{Place, Severity};
use crate::guide::{Guide, Standing};
use crate::handbook::sources;
use crate::source::Span;

/// The service worker's file: at the root, because it can keep only what lies below it.
const KEEPER: &str = "keep.js";

/// One choice of a filter.
#[derive(Serialize, Clone, Debug, PartialEq, Eq)]
pub(super) struct Choice {
    pub(super) key: String,
    pub(super) name: String,
}

/// The filters of the front page: only what there is to choose between.
#[derive(Serialize)]
pub(super) struct Filters {
    pub(super) vehicles: Vec<Choice>,
    pub(super) voltages: Vec<Choice>,
    pub(super) subjects: Vec<Choice>,
    pub(super) zones: Vec<Choice>,
}

impl Typesetter<'_> {
    /// The filters for these guides.
    pub(super) fn filters(&self, shown: &[(&Checked, &Guide)]) -> Filters {
        let mut vehicles = BTreeMap::new();
        let mut voltages = BTreeMap::new();
        let mut subjects = BTreeMap::new();
        let mut zones = BTreeMap::new();
        for (_, guide) in shown {
            let vehicle = guide.vehicle.kind.value.word();
            vehicles.insert(vehicle.to_string(), self.words.get(&format!("vehicle_{vehicle}")).to_string());
            let volts = format!("{:.0}", guide.system.value.si());
            voltages.insert(volts.clone(), format!("{volts} V"));
            for subject in &guide.subjects {
                subjects.insert(address::slug(&subject.value), subject.value.clone());
            }
            for zone in guide.zones.values() {
                zones.insert(address::slug(&zone.label.value), zone.label.value.clone());
            }
        }
        let choices = |map: BTreeMap<String, String>| -> Vec<Choice> {
            let mut choices: Vec<Choice> = map.into_iter().map(|(key, name)| Choice { key, name }).collect();
            choices.sort_by_key(|choice| choice.name.to_lowercase());
            choices
        };
        Filters {
            vehicles: choices(vehicles),
            voltages: choices(voltages),
            subjects: choices(subjects),
            zones: choices(zones),
        }
    }

    /// A page a subject, and the list of subjects.
    pub(super) fn subjects(&self, shown: &[(&Checked, &Guide)], site: &mut Site) {
        #[derive(Serialize)]
        struct Subject {
            key: String,
            name: String,
            count: usize,
        }
        let mut by_subject: BTreeMap<String, (String, Vec<Card>)> = BTreeMap::new();
        for (one, guide) in shown {
            for subject in &guide.subjects {
                let entry = by_subject
                    .entry(address::slug(&subject.value))
                    .or_insert_with(|| (subject.value.clone(), Vec::new()));
                entry.1.push(self.card(one, guide));
            }
        }
        for (key, (name, cards)) in &by_subject {
            let title = self.words.fill("subject_of", &[("subject", name)]);
            self.page(
                "sheets/subject.html",
                &format!("subjects/{key}/index.html"),
                &title,
                &title,
                |context| {
                    context.insert("guides", cards);
                    context.insert("subject", name);
                },
                site,
            );
        }
        let mut list: Vec<Subject> =
            by_subject.into_iter().map(|(key, (name, cards))| Subject { key, name, count: cards.len() }).collect();
        list.sort_by_key(|subject| subject.name.to_lowercase());
        self.page(
            "sheets/subjects.html",
            "subjects/index.html",
            self.words.get("subjects"),
            self.words.get("subjects_lead"),
            |context| context.insert("subjects", &list),
            site,
        );
    }

    /// Every source of the handbook, with how sure it is.
    pub(super) fn sources(&self, site: &mut Site) {
        #[derive(Serialize)]
        struct Shown {
            id: &'static str,
            title: &'static str,
            mark: String,
            address: Option<&'static str>,
        }
        let all: Vec<Shown> = sources::ALL
            .iter()
            .map(|source| Shown {
                id: source.id,
                title: source.title,
                mark: self.source(source.id).mark,
                address: source.address.filter(|address| address.starts_with("http")),
            })
            .collect();
        self.page(
            "sheets/sources.html",
            "sources/index.html",
            self.words.get("sources"),
            self.words.get("sources_lead"),
            |context| context.insert("sources", &all),
            site,
        );
    }

    /// Trade words and what they mean.
    pub(super) fn trade_words(&self, theme: &Theme, site: &mut Site) {
        let (terms, faults) = theme.terms(&self.words.language);
        for fault in faults {
            self.theme_fault(theme, fault, site);
        }
        #[derive(Serialize)]
        struct Term {
            key: String,
            term: String,
            meaning: String,
        }
        let mut shown: Vec<Term> =
            terms.into_iter().map(|(term, meaning)| Term { key: address::slug(&term), term, meaning }).collect();
        shown.sort_by_key(|term| term.term.to_lowercase());
        let symbols = crate::drawing::symbol_sheet();
        site.put("trade-words/symbols.svg", &symbols.svg);
        #[derive(Serialize)]
        struct Symbols {
            file: &'static str,
            width: u32,
            height: u32,
            description: String,
        }
        let symbols = Symbols {
            file: "symbols.svg",
            // Whole pixels, as HTML asks for.
            width: symbols.size.0.round() as u32,
            height: symbols.size.1.round() as u32,
            description: symbols.description,
        };
        self.page(
            "sheets/trade-words.html",
            "trade-words/index.html",
            self.words.get("trade_words"),
            self.words.get("trade_words_lead"),
            |context| {
                context.insert("terms", &shown);
                context.insert("symbols", &symbols);
            },
            site,
        );
    }

    /// How to report a mistake.
    pub(super) fn mistake(&self, shown: &[(&Checked, &Guide)], site: &mut Site) {
        let guides: Vec<Way> = shown
            .iter()
            .map(|(one, guide)| Way {
                name: format!("{} ({})", guide.title.value, guide.written.value),
                href: format!("{}/index.html", address::href(&one.slug)),
            })
            .collect();
        self.page(
            "sheets/mistake.html",
            "mistake/index.html",
            self.words.get("mistake"),
            self.words.get("mistake_lead"),
            |context| context.insert("guides", &guides),
            site,
        );
    }

    /// The search page and its index. `spots` are those of the guides; this adds rules and trade words.
    pub(super) fn find(&self, theme: &Theme, mut spots: Vec<Spot>, shown: &[(&Checked, &Guide)], site: &mut Site) {
        let rules = self.words.get("rules");
        for rule in crate::rules::ALL {
            spots.push(Spot {
                href: format!("rules/{}/index.html", rule.id),
                page: rules.into(),
                heading: super::lists::sentence(rule.title),
                text: find::plain(&super::prose::page(rule.page)),
            });
        }
        for (term, meaning) in theme.terms(&self.words.language).0 {
            spots.push(Spot {
                href: format!("trade-words/index.html#word-{}", address::slug(&term)),
                page: self.words.get("trade_words").into(),
                heading: term,
                text: meaning,
            });
        }
        site.put("find/index-data.js", &find::script(&spots));
        let guides: Vec<Card> = shown.iter().map(|(one, guide)| self.card(one, guide)).collect();
        self.page(
            "sheets/find.html",
            "find/index.html",
            self.words.get("find"),
            self.words.get("find_lead"),
            |context| context.insert("guides", &guides),
            site,
        );
    }

    /// The feed and the sitemap, where the publisher has given the site's address.
    pub(super) fn feeds(&self, shown: &[(&Checked, &Guide)], site: &mut Site) {
        let Some(root) = self.publisher.address.as_deref().map(|address| address.trim_end_matches('/')) else {
            return;
        };
        let mut entries = Vec::new();
        let mut days = BTreeMap::new();
        for (one, guide) in shown {
            let path = format!("{}/index.html", one.slug);
            let href = format!("{root}/{}/", address::href(&one.slug));
            let subjects = guide.subjects.iter().map(|subject| subject.value.clone()).collect();
            days.insert(path, guide.written.value);
            entries.push(match &guide.standing {
                Standing::Withdrawn { on, reason, remedy } => Entry {
                    id: format!("{href}#withdrawn-{}", on.value),
                    href,
                    title: format!("{}: {}", self.words.get("withdrawn"), guide.title.value),
                    day: on.value,
                    summary: format!("{} {}", reason.value.trim(), remedy.value.trim()),
                    is_withdrawal: true,
                    subjects,
                },
                Standing::Published | Standing::Working => Entry {
                    id: href.clone(),
                    href,
                    title: guide.title.value.clone(),
                    day: guide.written.value,
                    summary: guide.summary.value.clone(),
                    is_withdrawal: false,
                    subjects,
                },
            });
        }
        site.put(feed::FEED, &feed::atom(&self.publisher.name, root, &self.words.language, &entries));
        let pages: Vec<(String, Option<jiff::civil::Date>)> = site
            .files
            .keys()
            .filter(|path| path.ends_with("index.html"))
            .filter_map(|path| Some((self.canonical(path)?, days.get(path).copied())))
            .collect();
        site.put("sitemap.xml", &feed::sitemap(&pages));
    }

    /// The schema of `guide.json`.
    pub(super) fn schema(&self, site: &mut Site) {
        site.put(machine::SCHEMA, &machine::schema());
    }

    /// The service worker, versioned by the bytes of everything else, with the files to keep from the first visit on.
    pub(super) fn keeper(&self, theme: &Theme, site: &mut Site) {
        let Some(script) = theme.text("look/keep.js") else { return };
        site.files.remove("look/keep.js");
        let mut hash = Sha256::new();
        for (path, bytes) in &site.files {
            hash.update(path.as_bytes());
            hash.update((bytes.len() as u64).to_be_bytes());
            hash.update(bytes);
        }
        let version: String = hash.finalize().iter().take(8).map(|byte| format!("{byte:02x}")).collect();
        let first: Vec<&String> = site
            .files
            .keys()
            .filter(|path| {
                path.starts_with("look/") && !path.ends_with(".txt")
                    || path.starts_with("find/")
                    || ["index.html", "trade-words/index.html", "mistake/index.html"].contains(&path.as_str())
            })
            .collect();
        let first = serde_json::to_string(&first).unwrap_or_else(|_| "[]".into());
        if !(script.contains("\"{version}\"") && script.contains("\"{first}\"")) {
            self.theme_fault(
                theme,
                "`look/keep.js` lacks `\"{version}\"` or `\"{first}\"`, so saved pages would never be renewed".into(),
                site,
            );
            return;
        }
        let filled = script.replace("\"{version}\"", &format!("\"{version}\"")).replace("\"{first}\"", &first);
        site.put(KEEPER, &filled);
    }

    fn theme_fault(&self, theme: &Theme, fault: String, site: &mut Site) {
        let place = Place { file: format!("themes/{}", theme.name).into(), span: Span::default() };
        site.find("theme", Severity::Unreadable, place, fault, "mend it in the theme's folder");
    }
}
