//! Standard output and standard error.

use std::io::{self, ErrorKind, IsTerminal as _, Write as _};

use super::Trouble;

/// Prints to standard output. A reader that has gone away (`| head`) is no trouble.
pub(super) fn say(text: &str) -> Result<(), Trouble> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(error) if error.kind() != ErrorKind::BrokenPipe => Err(Trouble::Output(error)),
        _ => Ok(()),
    }
}

/// Prints to standard error. When even that fails there is nobody left to tell.
pub(super) fn complain(text: &str) {
    let _ = io::stderr().lock().write_all(text.as_bytes());
}

/// Whether standard output takes colour: a terminal does, unless `NO_COLOR` is set (no-color.org) or it is a dumb one.
pub(super) fn takes_colour() -> bool {
    let unwanted = std::env::var_os("NO_COLOR").is_some_and(|v| !v.is_empty());
    let dumb = std::env::var_os("TERM").is_some_and(|v| v == "dumb");
    io::stdout().is_terminal() && !unwanted && !dumb
}

/// How many columns standard output has; a file has enough for a long line.
pub(super) fn columns() -> usize {
    const IN_A_FILE: usize = 120;
    #[cfg(unix)]
    if let Ok(size) = rustix::termios::tcgetwinsize(io::stdout())
        && size.ws_col >= 40
    {
        return usize::from(size.ws_col);
    }
    IN_A_FILE
}
