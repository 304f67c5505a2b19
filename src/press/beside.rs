//! Reading what the guides show from their folders: photos, and files that they link to.

use std::fs;

use super::Content;
use super::error::PressError;
use crate::checked::Checked;
use crate::site::Beside;

/// A larger file is no photo for a page, and is refused before it is read.
const LARGEST: u64 = 64 * 1024 * 1024;

/// The files that published guides name, by the guide's slug and the path within its folder. One that
/// is not there is left out: the site finds that at its line.
pub fn read(content: &Content, checked: &[Checked]) -> Result<Beside, PressError> {
    let mut beside = Beside::new();
    for one in checked.iter().filter(|one| one.is_on_the_site()) {
        let Some(guide) = &one.guide else { continue };
        let Some(folder) = content.guides.iter().find(|folder| folder.file.path == one.file.path) else { continue };
        let photos = guide.text.photos.iter().map(|photo| &photo.path);
        for path in photos.chain(guide.text.files.iter().map(|file| &file.value)) {
            let Some(file) = folder.others.get(path) else { continue };
            let size = fs::metadata(file).map_err(|e| PressError::io("read", file, e))?.len();
            if LARGEST < size {
                return Err(PressError::refused("read", file, "it is larger than 64 MB"));
            }
            let bytes = fs::read(file).map_err(|e| PressError::io("read", file, e))?;
            beside.entry(one.slug.clone()).or_default().insert(path.clone(), bytes);
        }
    }
    Ok(beside)
}
