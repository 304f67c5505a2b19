//! The program: arguments to call, result to exit status, and nothing else.

use std::process::ExitCode;

fn main() -> ExitCode {
    ExitCode::from(goodground::cli::run(std::env::args_os()).status())
}
