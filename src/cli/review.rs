//! `review`: checks guides and reports what was found.

use clap::{Args, ValueEnum};

use super::checking::{Checking, Wants};
use super::{Content, Ending, Trouble, output};
use crate::report::{json, lines, numbers, terminal};

#[derive(Args)]
pub(super) struct Options {
    /// Guides to check, each by its folder's name or path; all of them when none is named
    #[arg(value_name = "GUIDE")]
    guides: Vec<String>,
    #[command(flatten)]
    from: Content,
    /// Show notes and answered queries too
    #[arg(long)]
    all: bool,
    /// Show the numbers too: every comparison, how far each run may differ, the fault finder, variants and readings
    #[arg(long)]
    numbers: bool,
    /// How to report
    #[arg(long, value_enum, default_value_t = Form::Full)]
    form: Form,
}

#[derive(Clone, Copy, ValueEnum)]
enum Form {
    /// Each finding with the author's own line, what to change and the source
    Full,
    /// One line a finding
    Line,
    /// One JSON object a line, for machines: every finding, every guide, then the tally
    Json,
}

pub(super) fn run(options: &Options) -> Result<Ending, Trouble> {
    let checking = Checking::of(&options.from.folder, &options.guides, Wants::Findings)?;
    let review = checking.review();
    let text = match options.form {
        Form::Full => {
            let look = terminal::Look { colour: output::takes_colour(), width: output::columns(), all: options.all };
            let numbers = if options.numbers { numbers::render(&review) } else { String::new() };
            numbers + &terminal::render(&review, look)
        }
        Form::Line => lines::render(&review, options.all),
        Form::Json => json::render(&review),
    };
    output::say(&text)?;
    // A working guide is in nobody's way, unless it is the one that was asked about.
    let asked_about = !options.guides.is_empty() && checking.checked.iter().any(|g| g.stops() && !g.is_withdrawn());
    Ok(if review.stands_in_the_way() || asked_about { Ending::Stopped } else { Ending::Clear })
}
