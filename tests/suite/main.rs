//! Every integration test, in one binary.

mod pages;
mod reading;
mod rule_guides;
