//! Reading a club's own theme: a folder in `themes/`, which stands beside the content folder.

use std::collections::BTreeMap;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use walkdir::WalkDir;

use super::error::PressError;
use crate::site::Theme;
use crate::site::theme::BUILT_IN;

/// The folder of themes that belongs to a content folder.
pub fn folder(content: &Path) -> PathBuf {
    let beside = fs::canonicalize(content).ok().and_then(|c| c.parent().map(Path::to_owned));
    let shown = content.parent().map(Path::to_owned).unwrap_or_default();
    // The path as the user would write it, where that leads to the same place.
    let shown = shown.join("themes");
    if shown.is_dir() { shown } else { beside.unwrap_or_default().join("themes") }
}

/// The theme with this name: its own files laid over the built-in one, which `None` asks for alone.
pub fn read(content: &Path, name: Option<&str>) -> Result<Theme, PressError> {
    let Some(name) = name else { return Ok(Theme::built_in()) };
    let folder = folder(content);
    let own = folder.join(name);
    let is_name = !name.is_empty() && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '_');
    if !is_name {
        return Err(PressError::refused(
            "read the theme",
            name,
            "a theme's name is that of its folder: letters, digits and hyphens",
        ));
    }
    if !own.is_dir() {
        if name == BUILT_IN {
            return Ok(Theme::built_in());
        }
        return Err(PressError::refused("read the theme", &own, "there is no such folder"));
    }
    let mut files = BTreeMap::new();
    for entry in WalkDir::new(&own).min_depth(1).sort_by_file_name() {
        let entry = entry.map_err(|e| {
            PressError::io("read the theme", &own, e.into_io_error().unwrap_or(io::ErrorKind::Other.into()))
        })?;
        if entry.file_type().is_dir() {
            continue;
        }
        let below = entry.path().strip_prefix(&own).unwrap_or(entry.path());
        let names: Option<Vec<&str>> = below.components().map(|c| c.as_os_str().to_str()).collect();
        let Some(names) = names else {
            return Err(PressError::refused(
                "read the theme's file",
                entry.path(),
                "its name holds bytes that are no letters",
            ));
        };
        if names.iter().any(|n| n.starts_with('.')) {
            continue;
        }
        if !entry.file_type().is_file() {
            return Err(PressError::refused("read the theme's file", entry.path(), "it is a link or no ordinary file"));
        }
        let bytes = fs::read(entry.path()).map_err(|e| PressError::io("read", entry.path(), e))?;
        files.insert(names.join("/"), bytes);
    }
    Ok(Theme::built_in().over(name, files))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_club_s_files_lie_over_the_built_in_ones() {
        let place = tempfile::tempdir().unwrap();
        let content = place.path().join("content");
        fs::create_dir_all(&content).unwrap();
        fs::create_dir_all(place.path().join("themes/club/look")).unwrap();
        fs::write(place.path().join("themes/club/look/look.css"), "body{}").unwrap();
        let theme = read(&content, Some("club")).unwrap();
        assert_eq!(theme.text("look/look.css"), Some("body{}"));
        assert_eq!(theme.files.len(), Theme::built_in().files.len());
        assert!(read(&content, Some("clubb")).unwrap_err().to_string().contains("no such folder"));
        assert!(read(&content, Some("../content")).is_err());
        assert_eq!(read(&content, None).unwrap(), Theme::built_in());
        assert_eq!(read(&content, Some(BUILT_IN)).unwrap(), Theme::built_in());
    }
}
