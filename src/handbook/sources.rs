//! Published sources, listed once by id.

/// How sure a figure is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Certainty {
    /// Seen in a copy of the source.
    Verified,
    /// Our arithmetic on verified figures.
    Derived,
    /// Workshop habit; no source.
    CommonPractice,
    /// Our engineering judgement; no source.
    Judgement,
    /// Not seen: from memory. May query, never fail.
    Memory,
}

/// One published source, or the mark of having none.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
pub struct Source {
    /// Kebab-case id, by which rules name it.
    pub id: &'static str,
    /// Document, edition and clause or table, as printed for people.
    pub title: &'static str,
    /// How sure the figures we take from it are.
    pub certainty: Certainty,
    /// What it was written for, where that is not a road vehicle or small boat's wiring: printed as `adopted`.
    pub adopted_from: Option<&'static str>,
    /// Where it was seen, if it may be told.
    pub address: Option<&'static str>,
}
