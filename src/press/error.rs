//! What went wrong with a file: the verb, the path and the cause.

use std::fmt;
use std::io;
use std::path::{Path, PathBuf};

/// Why the press could not do its work. Says what it was doing, to which path, and why that failed.
#[derive(Debug)]
pub struct PressError {
    verb: &'static str,
    path: PathBuf,
    cause: Cause,
}

#[derive(Debug)]
enum Cause {
    Io(io::Error),
    Refused(String),
}

impl PressError {
    /// The system said no.
    pub fn io(verb: &'static str, path: impl AsRef<Path>, cause: io::Error) -> PressError {
        PressError { verb, path: path.as_ref().to_owned(), cause: Cause::Io(cause) }
    }

    /// We said no.
    pub fn refused(verb: &'static str, path: impl AsRef<Path>, why: impl Into<String>) -> PressError {
        PressError { verb, path: path.as_ref().to_owned(), cause: Cause::Refused(why.into()) }
    }
}

impl fmt::Display for PressError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "could not {} {}: ", self.verb, self.path.display())?;
        match &self.cause {
            Cause::Io(cause) => f.write_str(&plain_cause(cause)),
            Cause::Refused(why) => f.write_str(why),
        }
    }
}

impl std::error::Error for PressError {
    fn source(&self) -> Option<&(dyn std::error::Error + 'static)> {
        match &self.cause {
            Cause::Io(cause) => Some(cause),
            Cause::Refused(_) => None,
        }
    }
}

/// The cause in words that need no manual; whatever is rarer stays in the system's own.
pub(super) fn plain_cause(cause: &io::Error) -> String {
    match cause.kind() {
        io::ErrorKind::NotFound => "there is no such file or folder".into(),
        io::ErrorKind::PermissionDenied => "this user is not allowed to".into(),
        io::ErrorKind::AlreadyExists => "it is there already".into(),
        io::ErrorKind::NotADirectory => "it is no folder".into(),
        io::ErrorKind::IsADirectory => "it is a folder, not a file".into(),
        io::ErrorKind::StorageFull => "the disk is full".into(),
        io::ErrorKind::ReadOnlyFilesystem => "the disk can only be read".into(),
        _ => cause.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn says_verb_path_and_cause() {
        let missing = PressError::io("read", "content/publisher.yaml", io::ErrorKind::NotFound.into());
        assert_eq!(missing.to_string(), "could not read content/publisher.yaml: there is no such file or folder");
        let refused = PressError::refused("replace", "/", "it is the root of the disk");
        assert_eq!(refused.to_string(), "could not replace /: it is the root of the disk");
    }
}
