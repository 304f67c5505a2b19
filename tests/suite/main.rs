//! Tests of the whole program and of the repository itself. One binary: it links once.
#![allow(clippy::unwrap_used)] // a test that cannot go on must panic

mod command_line;
mod drawings;
mod faults;
mod guide_laws;
mod handbook;
mod injection;
mod keys;
mod laws;
mod looks;
mod mutated;
mod order_of_stages;
mod pages;
mod place;
mod prints;
mod reading;
mod rule_guides;
mod spice;
