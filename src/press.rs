//! The press: the only stage that touches files and the clock.
//!
//! It knows nothing of what a guide means. [`content::read`] brings the content folder in,
//! [`site_folder::SiteFolder`] puts a site in the old one's place in a single step, and [`today`]
//! is the one look at the clock. Everything between them is a pure function.

pub mod beside;
pub mod content;
mod error;
pub mod site_folder;
pub mod theme;

pub use content::{Content, GuideFolder};
pub use error::PressError;
pub use site_folder::SiteFolder;

use std::fs;
use std::io::Write as _;
use std::path::Path;

/// Today's date in UTC, so that answers run out on the same day everywhere.
///
/// `SOURCE_DATE_EPOCH` (seconds since 1970, as reproducible-builds.org specifies it) replaces the
/// clock when it is set, so that an old site can be made again as it was.
pub fn today() -> Result<jiff::civil::Date, PressError> {
    let now = match std::env::var("SOURCE_DATE_EPOCH") {
        Ok(seconds) => {
            seconds.trim().parse().ok().and_then(|s| jiff::Timestamp::from_second(s).ok()).ok_or_else(|| {
                PressError::refused(
                    "read the date from",
                    "SOURCE_DATE_EPOCH",
                    "it must be a whole number of seconds since 1970",
                )
            })?
        }
        Err(_) => jiff::Timestamp::now(),
    };
    Ok(jiff::tz::Offset::UTC.to_datetime(now).date())
}

/// Writes a file that must not exist yet, with the folders above it.
pub fn write_new(path: &Path, text: &str) -> Result<(), PressError> {
    if let Some(folder) = path.parent() {
        fs::create_dir_all(folder).map_err(|e| PressError::io("make the folder", folder, e))?;
    }
    let mut file = fs::File::create_new(path).map_err(|e| PressError::io("start", path, e))?;
    file.write_all(text.as_bytes()).map_err(|e| PressError::io("write", path, e))
}
