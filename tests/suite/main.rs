//! Tests of the whole program and of the repository itself. One binary: it links once.
#![allow(clippy::unwrap_used)] // a test that cannot go on must panic

mod handbook;
mod mutated;
mod order_of_stages;
mod pages;
mod reading;
mod rule_guides;
