//! `schema`: prints the JSON Schema of what authors write.

use clap::Args;

use super::{Ending, Trouble, output};
use crate::guide::schema;

#[derive(Args)]
pub(super) struct Options {
    /// The schema of publisher.yaml in place of a guide's
    #[arg(long)]
    publisher: bool,
}

pub(super) fn run(options: &Options) -> Result<Ending, Trouble> {
    let schema = if options.publisher { schema::publisher_schema() } else { schema::schema() };
    // `{:#}` sets JSON in lines.
    output::say(&format!("{schema:#}\n"))?;
    Ok(Ending::Clear)
}
