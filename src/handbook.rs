//! Tables and their sources: the one module through which every published figure is looked up.
//!
//! Knows quantities, and nothing of guides. The tables are data files beside this module, each row
//! with its source and how sure it is.

pub mod sources;
