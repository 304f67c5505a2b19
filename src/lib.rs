//! Goodground publishes safety-checked install guides for 12 V and 24 V equipment.
//!
//! Data flows one way; each stage is a pure function of the ones before it.

pub mod cautions;
pub mod checked;
pub mod circuit;
pub mod cli;
pub mod drawing;
pub mod finding;
pub mod guide;
pub mod handbook;
pub mod press;
pub mod prints;
pub mod quantity;
pub mod readings;
pub mod report;
pub mod rules;
pub mod site;
pub mod source;
pub mod study;
pub mod trials;
