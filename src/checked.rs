//! A guide with everything that was worked out of it: what the report and the site are made from.

use crate::cautions::Caution;
use crate::circuit::Circuit;
use crate::drawing::Picture;
use crate::finding::{Check, Finding};
use crate::guide::Guide;
use crate::source::SourceFile;
use crate::study::Study;

/// One guide after all stages but the site. Stages after the first fault are left empty.
#[derive(Clone, Debug)]
pub struct Checked {
    /// The file.
    pub file: SourceFile,
    /// Its address on the site.
    pub slug: String,
    /// What could be read of it.
    pub guide: Option<Guide>,
    /// What could be wired of it.
    pub circuit: Option<Circuit>,
    /// The numbers.
    pub study: Option<Study>,
    /// Every comparison made.
    pub checks: Vec<Check>,
    /// Everything found, by place.
    pub findings: Vec<Finding>,
    /// Its cautions.
    pub cautions: Vec<Caution>,
    /// Its drawings.
    pub pictures: Vec<Picture>,
    /// The digest of its inputs, in hex: of its circuit in SI with defaults taken and the versions of catalogue and handbook.
    pub digest: String,
}

impl Checked {
    /// Whether anything stands in the way of publishing.
    pub fn stops(&self) -> bool {
        self.findings.iter().any(Finding::stops)
    }
}
