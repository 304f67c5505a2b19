//! `compare`: shows what changed in the numbers between two versions of a guide.

use std::path::{Path, PathBuf};

use clap::Args;

use super::{Content, Ending, Trouble, output};
use crate::checked::{self, Checked};
use crate::guide::publisher::{self, Publisher};
use crate::press;
use crate::report::change;

#[derive(Args)]
pub(super) struct Options {
    /// The earlier version: a guide's file
    #[arg(value_name = "OLD")]
    old: PathBuf,
    /// The later version: a guide's file
    #[arg(value_name = "NEW")]
    new: PathBuf,
    #[command(flatten)]
    from: Content,
}

pub(super) fn run(options: &Options) -> Result<Ending, Trouble> {
    // The club's own limits and reviewers, where there is a club.
    let path = options.from.folder.join(press::content::PUBLISHER);
    let publisher = press::content::read_text(&path).ok().and_then(|file| publisher::read(&file).0).unwrap_or_default();
    let old = check(&options.old, &publisher)?;
    let new = check(&options.new, &publisher)?;
    output::say(&change::render(&old, &new))?;
    Ok(if new.stops() { Ending::Stopped } else { Ending::Clear })
}

fn check(path: &Path, publisher: &Publisher) -> Result<Checked, Trouble> {
    let file = press::content::read_text(path)?;
    Ok(checked::check(file, "guide", publisher, press::today()?))
}
