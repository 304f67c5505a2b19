//! Who publishes: `content/publisher.yaml`.

/// Who publishes the guides, and what their pages say of it.
#[derive(Clone, Debug, Default)]
pub struct Publisher {
    /// The club's name.
    pub name: String,
    /// The site's address, for feeds and canonical links.
    pub address: Option<String>,
    /// The theme's name.
    pub theme: Option<String>,
    /// The language's tag.
    pub language: String,
    /// `A4` or `Letter`.
    pub paper: String,
    /// Links, by name.
    pub links: indexmap::IndexMap<String, String>,
    /// The rules to which its guides give way.
    pub local_rules: Option<String>,
    /// Said on every page.
    pub notice: Option<String>,
}
