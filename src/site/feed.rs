//! The Atom feed (RFC 4287) and the sitemap (sitemaps.org 0.9): both need the site's own address.

use super::prose::escape;

/// One entry of the feed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The entry's own identity, an absolute address that never changes.
    pub id: String,
    /// Where it leads.
    pub href: String,
    /// Title.
    pub title: String,
    /// Day of the revision or withdrawal.
    pub day: jiff::civil::Date,
    /// In a sentence or two.
    pub summary: String,
    /// A withdrawal stands before everything else.
    pub is_withdrawal: bool,
    /// Words under which it is found.
    pub subjects: Vec<String>,
}

/// The feed, withdrawals first, then the newest first.
pub fn atom(name: &str, address: &str, language: &str, entries: &[Entry]) -> String {
    let root = address.trim_end_matches('/');
    let mut entries: Vec<&Entry> = entries.iter().collect();
    entries.sort_by(|a, b| (b.is_withdrawal, b.day).cmp(&(a.is_withdrawal, a.day)).then_with(|| a.id.cmp(&b.id)));
    let newest = entries.iter().map(|entry| entry.day).max().unwrap_or(jiff::civil::Date::constant(2000, 1, 1));
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"utf-8\"?>\n");
    out.push_str(&format!("<feed xmlns=\"http://www.w3.org/2005/Atom\" xml:lang=\"{}\">\n", escape(language)));
    out.push_str(&format!("  <id>{}/</id>\n", escape(root)));
    out.push_str(&format!("  <title>{}</title>\n", escape(name)));
    out.push_str(&format!("  <updated>{newest}T00:00:00Z</updated>\n"));
    out.push_str(&format!("  <author><name>{}</name></author>\n", escape(name)));
    out.push_str(&format!("  <link rel=\"self\" type=\"application/atom+xml\" href=\"{}/{FEED}\"/>\n", escape(root)));
    out.push_str(&format!("  <link rel=\"alternate\" type=\"text/html\" href=\"{}/\"/>\n", escape(root)));
    for entry in entries {
        out.push_str("  <entry>\n");
        out.push_str(&format!("    <id>{}</id>\n", escape(&entry.id)));
        out.push_str(&format!("    <title>{}</title>\n", escape(&entry.title)));
        out.push_str(&format!("    <updated>{}T00:00:00Z</updated>\n", entry.day));
        out.push_str(&format!("    <link rel=\"alternate\" type=\"text/html\" href=\"{}\"/>\n", escape(&entry.href)));
        for subject in &entry.subjects {
            out.push_str(&format!("    <category term=\"{}\"/>\n", escape(subject)));
        }
        out.push_str(&format!("    <summary>{}</summary>\n", escape(&entry.summary)));
        out.push_str("  </entry>\n");
    }
    out.push_str("</feed>\n");
    out
}

/// The feed's file.
pub const FEED: &str = "news.atom";

/// The sitemap: every page's address, with the day of its last change where it has one.
pub fn sitemap(pages: &[(String, Option<jiff::civil::Date>)]) -> String {
    let mut out = String::from("<?xml version=\"1.0\" encoding=\"utf-8\"?>\n");
    out.push_str("<urlset xmlns=\"http://www.sitemaps.org/schemas/sitemap/0.9\">\n");
    for (address, day) in pages {
        let day = day.map(|day| format!("<lastmod>{day}</lastmod>")).unwrap_or_default();
        out.push_str(&format!("  <url><loc>{}</loc>{day}</url>\n", escape(address)));
    }
    out.push_str("</urlset>\n");
    out
}
