//! `publish`: checks every guide and writes the site, or fails and leaves the old one as it was.

use std::path::PathBuf;

use clap::Args;

use super::checking::{Checking, Wants};
use super::{Content, Ending, Trouble, output};
use crate::press::{self, SiteFolder};
use crate::report::terminal;

#[derive(Args)]
pub(super) struct Options {
    #[command(flatten)]
    from: Content,
    /// The site folder: empty, new, or made by an earlier publish
    #[arg(long, value_name = "FOLDER", default_value = "site")]
    to: PathBuf,
}

pub(super) fn run(options: &Options) -> Result<Ending, Trouble> {
    // First, so that a folder that cannot be replaced is told at once, and a stopped run is mended even
    // when the guides do not pass today.
    let themes = press::theme::folder(&options.from.folder);
    let mut folder = SiteFolder::open(&options.to, &[&options.from.folder, &themes])?;
    let checking = Checking::of(&options.from.folder, &[], Wants::Site)?;
    let review = checking.review();
    let look = terminal::Look { colour: output::takes_colour(), width: output::columns(), all: false };
    output::say(&terminal::render(&review, look))?;
    if review.stands_in_the_way() {
        output::say(&format!("Nothing was written: {} is as it was.\n", options.to.display()))?;
        return Ok(Ending::Stopped);
    }
    let replaced = folder.replace_with(&checking.site.files, &checking.content.as_is, &checking.site.prints)?;
    output::say(&format!("Published {} files to {}.\n", replaced.files, options.to.display()))?;
    Ok(Ending::Clear)
}
