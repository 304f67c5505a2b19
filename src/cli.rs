//! The command line: one file a command. Only here is anything printed.

mod checking;
mod compare;
mod draft;
mod explain;
mod output;
mod publish;
mod review;
mod schema;
mod size;

use std::ffi::OsString;
use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};

use crate::press::PressError;

/// How a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ending {
    /// Nothing stands in the way.
    Clear,
    /// An unsafe, an unanswered query or something that cannot be read stands in the way.
    Stopped,
    /// The run could not be done.
    CouldNotRun,
}

impl Ending {
    /// The exit status: 0, 1 or 2.
    pub const fn status(self) -> u8 {
        match self {
            Ending::Clear => 0,
            Ending::Stopped => 1,
            Ending::CouldNotRun => 2,
        }
    }
}

/// Why a run could not be done.
#[derive(Debug)]
enum Trouble {
    /// A file or folder.
    Press(PressError),
    /// What was asked for; with what to ask for instead.
    Asked(String),
    /// Standard output is full, or gone for another reason than that nobody reads it.
    Output(std::io::Error),
}

impl From<PressError> for Trouble {
    fn from(error: PressError) -> Trouble {
        Trouble::Press(error)
    }
}

impl std::fmt::Display for Trouble {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Trouble::Press(error) => error.fmt(f),
            Trouble::Asked(what) => f.write_str(what),
            Trouble::Output(error) => write!(f, "could not write to standard output: {error}"),
        }
    }
}

/// Publishes install guides for 12 V and 24 V equipment, and refuses to publish unsafe ones.
#[derive(Parser)]
#[command(
    name = "goodground",
    version,
    disable_help_subcommand = true,
    after_help = "Exit status: 0 nothing stands in the way; 1 something unsafe, an unanswered query or a guide that cannot be read; 2 could not run."
)]
struct Line {
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Start a guide: a folder with a file to fill in
    Draft(draft::Options),
    /// Check guides and report what was found
    Review(review::Options),
    /// Check every guide and write the site, or fail and leave the old site as it was
    Publish(publish::Options),
    /// Show what changed in the numbers between two versions of a guide
    Compare(compare::Options),
    /// Tell a rule: what it checks, its formula and its sources
    Explain(explain::Options),
    /// Try cable sizes for a load and a distance
    Size(size::Options),
    /// Print the JSON Schema of front matter, for editors that check and complete
    Schema(schema::Options),
}

/// Where guides are read from.
#[derive(Args)]
struct Content {
    /// The content folder
    #[arg(long = "from", value_name = "FOLDER", default_value = "content")]
    folder: PathBuf,
}

/// Runs the program as if it had been called with these arguments.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> Ending {
    let line = match Line::try_parse_from(arguments) {
        Ok(line) => line,
        Err(error) => {
            // Asked-for help goes to standard output and is no failure; wrong usage goes to standard error.
            let _ = error.print();
            return if error.use_stderr() { Ending::CouldNotRun } else { Ending::Clear };
        }
    };
    let done = match line.command {
        Command::Draft(options) => draft::run(&options),
        Command::Review(options) => review::run(&options),
        Command::Publish(options) => publish::run(&options),
        Command::Compare(options) => compare::run(&options),
        Command::Explain(options) => explain::run(&options),
        Command::Size(options) => size::run(&options),
        Command::Schema(options) => schema::run(&options),
    };
    done.unwrap_or_else(|trouble| {
        output::complain(&format!("goodground: {trouble}\n"));
        Ending::CouldNotRun
    })
}
