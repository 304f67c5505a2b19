//! Front matter as a tree with positions: what `serde_yaml` read, where `saphyr` found it.

use indexmap::IndexMap;

use crate::source::{Placed, Span};

/// A value in front matter and where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Node {
    /// Where.
    pub at: Span,
    /// What.
    pub value: Value,
}

/// A value in front matter.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// Nothing was written.
    Empty,
    /// A scalar, as written, without its quotes.
    Scalar(String),
    /// A sequence.
    List(Vec<Node>),
    /// A mapping, in the author's order. Keys hold their own places.
    Map(IndexMap<String, (Placed<String>, Node)>),
}
