//! Filling the theme's templates: what every page has, and the pages that are about no one guide.

use serde::Serialize;
use tera::{Context, Tera};

use super::find::Spot;
use super::theme::{Theme, Words};
use super::{Site, address, machine, prose};
use crate::cautions;
use crate::checked::Checked;
use crate::finding::{Place, Severity};
use crate::guide::publisher::Publisher;
use crate::guide::{Guide, Standing};
use crate::handbook::sources::Certainty;
use crate::rules::{self, Family};
use crate::source::Span;

/// What a page may load, and from where: its own site and nothing else, no inline script or style.
const POLICY: &str = "default-src 'none'; img-src 'self'; style-src 'self'; script-src 'self'; font-src 'self'; \
connect-src 'self'; worker-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'";

/// The theme made ready to fill, with what every page has.
pub(super) struct Typesetter<'a> {
    pub(super) publisher: &'a Publisher,
    pub(super) words: Words,
    tera: Tera,
    site: SiteFacts,
}

/// What templates know as `site`.
#[derive(Serialize)]
struct SiteFacts {
    name: String,
    notice: String,
    local_rules: String,
    links: Vec<Way>,
    ways: Vec<Way>,
    paper: String,
    policy: &'static str,
    /// Whether the theme has a style sheet of the club's own, to load after the built-in one.
    own_look: bool,
    has_feed: bool,
}

/// A named address.
#[derive(Serialize, Clone)]
pub(super) struct Way {
    pub(super) name: String,
    pub(super) href: String,
}

/// What templates know as `page`.
#[derive(Serialize)]
struct PageFacts<'a> {
    path: &'a str,
    root: String,
    title: &'a str,
    description: &'a str,
    canonical: Option<String>,
    picture: Option<&'a PictureFacts>,
}

/// The picture that stands for a page where its link is shared.
#[derive(Serialize)]
pub(super) struct PictureFacts {
    /// In full: who shows it does so on a page of their own.
    pub(super) address: String,
    pub(super) width: u32,
    pub(super) height: u32,
    /// What it shows, in a few words.
    pub(super) alt: String,
}

/// A source as shown to people.
#[derive(Serialize, Clone, Debug)]
pub(super) struct SourceShown {
    pub(super) id: String,
    pub(super) title: String,
    /// How sure it is, and what it was written for.
    pub(super) mark: String,
    /// What it was written for alone, where that is another trade.
    pub(super) scope: String,
    /// Its number in the page's own list of sources, from 1; 0 on a page that has no such list.
    pub(super) number: usize,
}

impl<'a> Typesetter<'a> {
    /// Makes the theme ready. `None`, with a finding, when its templates cannot be read.
    pub(super) fn new(publisher: &'a Publisher, theme: &Theme, site: &mut Site) -> Option<Typesetter<'a>> {
        let (words, faults) = theme.words(&publisher.language);
        for fault in faults {
            site.find(
                "theme",
                Severity::Unreadable,
                theme_place(theme),
                fault,
                "write each line as `key: words`, in quotes when the words hold a colon",
            );
        }
        let mut tera = Tera::new();
        let sheets: Vec<(&str, &str)> = theme
            .files
            .keys()
            .filter(|path| path.starts_with("sheets/"))
            .filter_map(|path| theme.text(path).map(|text| (path.as_str(), text)))
            .collect();
        if let Err(error) = tera.add_raw_templates(sheets) {
            site.find(
                "theme",
                Severity::Unreadable,
                theme_place(theme),
                format!("a template of the theme `{}` cannot be read: {}", theme.name, plain_fault(&error)),
                "mend the template, or take it out of the theme's folder to use the built-in one",
            );
            return None;
        }
        let way = |key: &str, href: &str| Way { name: words.get(key).into(), href: href.into() };
        let facts = SiteFacts {
            name: publisher.name.clone(),
            notice: publisher.notice.clone().unwrap_or_default(),
            local_rules: publisher.local_rules.clone().unwrap_or_default(),
            links: publisher
                .links
                .iter()
                .filter(|(_, href)| {
                    let href = href.trim().to_ascii_lowercase();
                    ["https://", "http://", "mailto:"].iter().any(|scheme| href.starts_with(scheme))
                })
                .map(|(name, href)| Way { name: name.clone(), href: href.trim().into() })
                .collect(),
            ways: vec![
                way("way_guides", "index.html"),
                way("way_find", "find/index.html"),
                way("way_subjects", "subjects/index.html"),
                way("way_rules", "rules/index.html"),
                way("way_about", "about/index.html"),
            ],
            paper: publisher.paper.to_lowercase(),
            policy: POLICY,
            has_feed: publisher.address.is_some(),
            own_look: theme.files.contains_key("look/own.css"),
        };
        Some(Typesetter { publisher, words, tera, site: facts })
    }

    /// Fills a template and puts the page at its path.
    pub(super) fn page(
        &self,
        sheet: &str,
        path: &str,
        title: &str,
        description: &str,
        fill: impl FnOnce(&mut Context),
        site: &mut Site,
    ) {
        self.page_with(sheet, path, (title, description), None, fill, site);
    }

    /// As [`Typesetter::page`], with a picture that stands for it.
    pub(super) fn page_with(
        &self,
        sheet: &str,
        path: &str,
        (title, description): (&str, &str),
        picture: Option<&PictureFacts>,
        fill: impl FnOnce(&mut Context),
        site: &mut Site,
    ) {
        let mut context = Context::new();
        context.insert("site", &self.site);
        context.insert("t", self.words.all());
        context.insert(
            "page",
            &PageFacts {
                path,
                root: address::to_root(path),
                title,
                description,
                canonical: self.canonical(path),
                picture,
            },
        );
        fill(&mut context);
        match self.tera.render(sheet, &context) {
            Ok(html) => site.put(path, &without_end_tags(&without_indents(&html))),
            Err(error) => {
                let message = format!("the theme's `{sheet}` cannot be filled: {}", plain_fault(&error));
                site.find(
                    "theme",
                    Severity::Unreadable,
                    Place { file: sheet.into(), span: Span::default() },
                    message,
                    "mend the template, or take it out of the theme's folder to use the built-in one",
                );
            }
        }
    }

    /// The page's address in full, when the publisher has given the site's.
    pub(super) fn canonical(&self, path: &str) -> Option<String> {
        let address = self.publisher.address.as_ref()?;
        let path = path.strip_suffix("index.html").unwrap_or(path);
        Some(format!("{}/{}", address.trim_end_matches('/'), address::href(path)))
    }

    /// Copies the theme's look.
    pub(super) fn look(&self, theme: &Theme, site: &mut Site) {
        for (path, bytes) in theme.files.iter().filter(|(path, _)| path.starts_with("look/")) {
            site.files.insert(path.clone(), bytes.clone());
        }
    }

    /// The front page.
    pub(super) fn front(&self, shown: &[(&Checked, &Guide)], site: &mut Site) {
        let cards = |withdrawn: bool| -> Vec<Card> {
            let wanted = |guide: &Guide| matches!(guide.standing, Standing::Withdrawn { .. }) == withdrawn;
            shown.iter().filter(|(_, guide)| wanted(guide)).map(|(one, guide)| self.card(one, guide)).collect()
        };
        let (guides, withdrawn) = (cards(false), cards(true));
        self.page(
            "sheets/front.html",
            "index.html",
            &self.publisher.name,
            self.words.get("front_lead"),
            |context| {
                context.insert("guides", &guides);
                context.insert("withdrawn", &withdrawn);
                context.insert("filters", &self.filters(shown));
            },
            site,
        );
    }

    pub(super) fn card(&self, one: &Checked, guide: &Guide) -> Card {
        let vehicle = guide.vehicle.kind.value.word();
        Card {
            href: format!("{}/index.html", address::href(&one.slug)),
            title: guide.title.value.clone(),
            summary: guide.summary.value.clone(),
            is_withdrawn: matches!(guide.standing, Standing::Withdrawn { .. }),
            facts: format!(
                "{} · {} · {}",
                self.words.get(&format!("vehicle_{vehicle}")),
                crate::quantity::Show::show(guide.system.value),
                match &guide.standing {
                    Standing::Withdrawn { on, .. } => format!("{} {}", self.words.get("withdrawn"), on.value),
                    _ => guide.written.value.to_string(),
                }
            ),
            vehicle: vehicle.into(),
            voltage: format!("{:.0}", guide.system.value.si()),
            subject_keys: guide.subjects.iter().map(|s| address::slug(&s.value)).collect::<Vec<_>>().join(" "),
            zone_keys: guide.zones.values().map(|z| address::slug(&z.label.value)).collect::<Vec<_>>().join(" "),
        }
    }

    /// The page about the guides.
    pub(super) fn about(&self, site: &mut Site) {
        let unseen: Vec<&str> = cautions::UNSEEN.iter().map(|thing| self.words.or(thing.id, thing.words)).collect();
        let title = self.words.get("about");
        self.page(
            "sheets/about.html",
            "about/index.html",
            title,
            self.words.get("about_checked"),
            |context| {
                context.insert("unseen", &unseen);
                context.insert("defer", self.words.or("defer-statement", cautions::STATEMENT));
            },
            site,
        );
    }

    /// The notice in place of a withdrawn guide.
    pub(super) fn recall(&self, one: &Checked, guide: &Guide, site: &mut Site) -> Vec<Spot> {
        let Standing::Withdrawn { on, reason, remedy } = &guide.standing else { return Vec::new() };
        #[derive(Serialize)]
        struct Recall<'a> {
            since: String,
            reason: &'a str,
            remedy: &'a str,
        }
        let date = on.value.to_string();
        let since = self.words.fill("withdrawn_since", &[("date", &date)]);
        let path = format!("{}/index.html", one.slug);
        self.page(
            "sheets/recall.html",
            &path,
            &guide.title.value,
            &since,
            |context| {
                context.insert("guide", &self.card(one, guide));
                context.insert("recall", &Recall { since: since.clone(), reason, remedy });
            },
            site,
        );
        let record = machine::record(&machine::Facts {
            one,
            guide,
            language: &self.words.language,
            address: self.canonical(&path),
            root: address::to_root(&path),
            parts: &[],
            cuts: &[],
            with_numbers: false,
        });
        site.put(format!("{}/guide.json", one.slug), &record);
        let page = site.files.get(&path).and_then(|bytes| std::str::from_utf8(bytes).ok()).unwrap_or("");
        let stands = |text: &str| {
            let plain: String = prose::escape(text).chars().filter(|c| !super::is_hidden_control(*c)).collect();
            page.contains(&plain)
        };
        if !stands(reason) || !stands(remedy) {
            site.find(
                "theme",
                Severity::Unsafe,
                Place { file: guide.file.path.clone(), span: on.at },
                "the theme's `sheets/recall.html` leaves out why the guide was withdrawn or what to do".into(),
                "show `recall.reason` and `recall.remedy`",
            );
        }
        vec![Spot {
            href: path,
            page: format!("{}: {}", self.words.get("withdrawn"), guide.title.value),
            heading: self.words.get("what_was_wrong").into(),
            text: format!("{} {}", reason.value, remedy.value),
        }]
    }

    /// The rules, and a page for each.
    pub(super) fn rules(&self, site: &mut Site) {
        #[derive(Serialize)]
        struct FamilyShown {
            name: String,
            rules: Vec<RuleShown>,
        }
        let mut families: Vec<FamilyShown> = Vec::new();
        for family in [Family::Running, Family::Protection, Family::Battery, Family::Ends, Family::Words] {
            let of_it: Vec<RuleShown> =
                rules::ALL.iter().filter(|rule| rule.family == family).map(|rule| self.rule(rule)).collect();
            if !of_it.is_empty() {
                families.push(FamilyShown { name: self.family(family).into(), rules: of_it });
            }
        }
        for family in &families {
            for rule in &family.rules {
                self.page(
                    "sheets/rule.html",
                    &format!("rules/{}/index.html", rule.id),
                    &rule.title,
                    &rule.title,
                    |context| context.insert("rule", rule),
                    site,
                );
            }
        }
        self.page(
            "sheets/rules.html",
            "rules/index.html",
            self.words.get("rules"),
            self.words.get("rules_lead"),
            |context| context.insert("families", &families),
            site,
        );
    }

    fn rule(&self, rule: &rules::Rule) -> RuleShown {
        RuleShown {
            id: rule.id,
            title: super::lists::sentence(rule.title),
            family: self.family(rule.family).into(),
            html: prose::page(rule.page),
            sources: rule.sources.iter().map(|id| self.source(id)).collect(),
        }
    }

    fn family(&self, family: Family) -> &str {
        self.words.get(match family {
            Family::Running => "family_running",
            Family::Protection => "family_protection",
            Family::Battery => "family_battery",
            Family::Ends => "family_ends",
            Family::Words => "family_words",
        })
    }

    /// A source of the handbook as people read it.
    pub(super) fn source(&self, id: &str) -> SourceShown {
        let Some(source) = super::find_source(id) else {
            return SourceShown {
                id: id.into(),
                title: id.into(),
                mark: String::new(),
                scope: String::new(),
                number: 0,
            };
        };
        let mark = self.words.get(match source.certainty {
            Certainty::Verified => "certainty_verified",
            Certainty::Derived => "certainty_derived",
            Certainty::CommonPractice => "certainty_common-practice",
            Certainty::Judgement => "certainty_judgement",
            Certainty::Memory => "certainty_memory",
        });
        let scope =
            source.adopted_from.map(|scope| self.words.fill("adopted", &[("scope", scope)])).unwrap_or_default();
        let mark = if scope.is_empty() { mark.to_string() } else { format!("{mark}; {scope}") };
        SourceShown { id: id.into(), title: source.title.into(), mark, scope, number: 0 }
    }
}

/// A template's fault in one line: what, and where, without the list of everything that there is.
fn plain_fault(error: &tera::Error) -> String {
    let mut whole = error.to_string();
    let mut cause = std::error::Error::source(error);
    while let Some(next) = cause {
        whole.push_str(&format!(": {next}"));
        cause = next.source();
    }
    let what = whole.split(". Available fields").next().unwrap_or(&whole);
    let what = what.lines().next().unwrap_or(what);
    let place = whole.lines().find_map(|line| line.trim().strip_prefix("--> "));
    match place {
        Some(place) => format!("{what} (at {place})"),
        None => what.to_string(),
    }
}

fn theme_place(theme: &Theme) -> Place {
    Place { file: format!("themes/{}", theme.name).into(), span: Span::default() }
}

/// A guide on the front page.
#[derive(Serialize)]
pub(super) struct Card {
    href: String,
    title: String,
    summary: String,
    is_withdrawn: bool,
    facts: String,
    vehicle: String,
    voltage: String,
    subject_keys: String,
    zone_keys: String,
}

#[derive(Serialize)]
struct RuleShown {
    id: &'static str,
    title: String,
    family: String,
    html: String,
    sources: Vec<SourceShown>,
}

/// A page without the indents before its tags, a fortieth of its weight. Within an author's code no line begins with a
/// tag: its `<` are written `&lt;`.
fn without_indents(html: &str) -> String {
    let mut light = String::with_capacity(html.len());
    for line in html.split_inclusive('\n') {
        let bare = line.trim_start_matches([' ', '\t']);
        light.push_str(if bare.starts_with('<') { bare } else { line });
    }
    light
}

/// A page without the end tags that HTML lets one leave out, a thirtieth of its weight: of a cell right before the next cell
/// or its row's end (never with a space between, which would make an empty cell one with text), and of an item before the next
/// or the list's end.
fn without_end_tags(html: &str) -> String {
    let mut light = String::with_capacity(html.len());
    let mut rest = html;
    while let Some(at) = rest.find("</") {
        let (before, tag) = rest.split_at(at);
        light.push_str(before);
        let Some(end) = tag.find('>') else {
            rest = tag;
            break;
        };
        let (tag, after) = tag.split_at(end + 1);
        let bare = after.trim_start();
        let may_go = match tag {
            "</td>" | "</th>" => ["<td", "<th", "</tr>"].iter().any(|next| after.starts_with(next)),
            "</li>" => ["<li>", "<li ", "</ul>", "</ol>"].iter().any(|next| bare.starts_with(next)),
            _ => false,
        };
        if !may_go {
            light.push_str(tag);
        }
        rest = after;
    }
    light + rest
}

#[cfg(test)]
mod tests {
    use super::without_end_tags;

    /// HTML Living Standard, 13.1.2.4 "Optional tags".
    #[test]
    fn only_end_tags_that_may_be_left_out_are() {
        for (whole, light) in [
            ("<tr><th>a</th><td>b</td><td></td></tr>\n<tr>", "<tr><th>a<td>b<td></tr>\n<tr>"),
            ("<td></td>\n</tr>", "<td></td>\n</tr>"), // a space would fill the cell
            ("<ul>\n<li>a</li>\n<li>b</li>\n</ul>c", "<ul>\n<li>a\n<li>b\n</ul>c"),
            ("<li>a</li><p>b</p>", "<li>a</li><p>b</p>"),
            ("a </ b <td>c</td", "a </ b <td>c</td"),
        ] {
            assert_eq!(without_end_tags(whole), light);
        }
    }
}
