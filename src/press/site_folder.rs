//! Putting a new site in the old one's place in a single step.
//!
//! The new site is built in a folder beside the old one, on the same disk, and the two change
//! names in one system call where the system has one. Elsewhere there are two renames, and a run
//! that was stopped between them is mended at the next start. A run that is stopped anywhere
//! leaves the old site as it was, and its leavings are swept by the next run.
//!
//! This guards against a stopped program, not against power lost in the seconds after a publish:
//! the files are left to the system to write out. Publishing again makes the site whole.
//!
//! Only a folder that is empty or bears our marker is ever replaced, and only a folder that bears
//! our name and our marker is ever swept.

use std::collections::BTreeMap;
use std::ffi::{OsStr, OsString};
use std::fs;
use std::io;
use std::path::{Component, Path, PathBuf};

use rayon::prelude::*;

use super::error::PressError;
use crate::prints::Order;

/// The file by which we know a folder that we made.
pub const MARKER: &str = ".made-by-goodground";
const MARKER_TEXT: &str =
    "This folder is made by goodground and replaced whole at every publish. Keep nothing of your own in it.\n";
/// Between the site's name and what a folder or file beside it is for.
const BESIDE: &str = ".goodground-";

/// A site's folder, held for one run: no second run can hold it at the same time.
#[derive(Debug)]
pub struct SiteFolder {
    to: PathBuf,
    shown: PathBuf,
    parent: PathBuf,
    name: OsString,
    lock: Option<Lock>,
    exchange: bool,
}

/// What a replacement did.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Replaced {
    /// How many files the new site has, the marker left out.
    pub files: usize,
}

impl SiteFolder {
    /// Takes hold of a site's folder, mends what a stopped run left, and sweeps its leavings.
    ///
    /// Refuses a folder that is not ours to replace: one that overlaps any of `keep_off` (the
    /// content, the themes), holds the home folder or the current one, or bears no marker.
    pub fn open(to: &Path, keep_off: &[&Path]) -> Result<SiteFolder, PressError> {
        let refuse = |why: &str| PressError::refused("publish to", to, why);
        let full = absolute(to).map_err(|e| PressError::io("find", to, e))?;
        if full.components().any(|c| c == Component::ParentDir) {
            return Err(refuse("it leads up through a folder that is not there"));
        }
        let (Some(parent), Some(name)) = (full.parent(), full.file_name()) else {
            return Err(refuse("it is the root of the disk, and publishing replaces a folder whole"));
        };
        for kept in keep_off {
            let Ok(kept) = absolute(kept) else { continue };
            if overlap(&full, &kept) {
                return Err(refuse(&format!("it overlaps {}, which publishing only reads", kept.display())));
            }
        }
        if let Some(home) = std::env::home_dir().and_then(|h| absolute(&h).ok())
            && home.starts_with(&full)
        {
            return Err(refuse("it is or holds your home folder, and publishing replaces a folder whole"));
        }
        if let Ok(here) = std::env::current_dir()
            && absolute(&here).is_ok_and(|here| here.starts_with(&full))
        {
            return Err(refuse("it is or holds the folder you are in, and publishing replaces a folder whole"));
        }
        let mut folder = SiteFolder {
            to: full.clone(),
            shown: to.to_owned(),
            parent: parent.to_owned(),
            name: name.to_owned(),
            lock: None,
            exchange: true,
        };
        // Nothing is made before there is something to publish, not even the folder above.
        if folder.parent.is_dir() {
            folder.lock()?;
            folder.mend()?;
        }
        folder.check_ours()?;
        Ok(folder)
    }

    /// Puts a new site in the old one's place: `files` by address, and `as_is` copied from disk.
    pub fn replace(
        &mut self,
        files: &BTreeMap<String, Vec<u8>>,
        as_is: &BTreeMap<String, PathBuf>,
    ) -> Result<Replaced, PressError> {
        self.replace_with(files, as_is, &[])
    }

    /// As [`SiteFolder::replace`], with prints, which are made while the site is written.
    pub fn replace_with(
        &mut self,
        files: &BTreeMap<String, Vec<u8>>,
        as_is: &BTreeMap<String, PathBuf>,
        prints: &[Order],
    ) -> Result<Replaced, PressError> {
        let to_print: Vec<String> = prints.iter().flat_map(Order::files).collect();
        check_addresses(files.keys().chain(as_is.keys()).chain(&to_print), &self.shown)?;
        if self.lock.is_none() {
            fs::create_dir_all(&self.parent).map_err(|e| PressError::io("make the folder", &self.parent, e))?;
            self.lock()?;
        }
        let new = self.beside("new-")?;
        let built = self
            .build(&new, files, as_is)
            .and_then(|()| self.print(&new, prints))
            .and_then(|()| self.check_ours())
            .and_then(|()| self.swap(&new));
        if let Err(error) = built {
            // The failure that matters is the first; what is left here is swept at the next start.
            let _ = remove_marked(&new);
            return Err(error);
        }
        Ok(Replaced { files: files.len() + as_is.len() + to_print.len() })
    }

    /// Makes the prints, a guide's at a time on each thread, so that they never lie all in memory.
    fn print(&self, new: &Path, prints: &[Order]) -> Result<(), PressError> {
        prints.par_iter().try_for_each(|order| {
            let made = order.make().map_err(|why| PressError::refused("print", &order.folder, &why))?;
            made.into_iter().try_for_each(|(address, bytes)| {
                let path = new.join(address);
                if let Some(folder) = path.parent() {
                    fs::create_dir_all(folder).map_err(|e| PressError::io("make the folder", folder, e))?;
                }
                fs::write(&path, bytes).map_err(|e| PressError::io("write", &path, e))
            })
        })
    }

    fn build(
        &self,
        new: &Path,
        files: &BTreeMap<String, Vec<u8>>,
        as_is: &BTreeMap<String, PathBuf>,
    ) -> Result<(), PressError> {
        let mut folders: Vec<PathBuf> =
            files.keys().chain(as_is.keys()).filter_map(|a| new.join(a).parent().map(Path::to_owned)).collect();
        folders.sort();
        folders.dedup();
        for folder in folders {
            fs::create_dir_all(&folder).map_err(|e| PressError::io("make the folder", &folder, e))?;
        }
        files.par_iter().try_for_each(|(address, bytes)| {
            let path = new.join(address);
            fs::write(&path, bytes).map_err(|e| PressError::io("write", &path, e))
        })?;
        as_is.par_iter().try_for_each(|(address, from)| {
            let path = new.join(address);
            let mut source = fs::File::open(from).map_err(|e| PressError::io("read", from, e))?;
            let mut target = fs::File::create_new(&path).map_err(|e| PressError::io("write", &path, e))?;
            io::copy(&mut source, &mut target).map_err(|e| PressError::io("copy", from, e)).map(|_| ())
        })
    }

    /// The one moment at which the site changes.
    fn swap(&self, new: &Path) -> Result<(), PressError> {
        let failed = |e| PressError::io("put the new site at", &self.shown, e);
        if !is_there(&self.to) {
            return fs::rename(new, &self.to).map_err(failed);
        }
        if self.exchange {
            match exchange(new, &self.to) {
                Ok(true) => {
                    // `new` now holds the old site. If it cannot be swept now, the next run will.
                    let _ = remove_marked(new);
                    return Ok(());
                }
                Ok(false) => {}
                Err(error) => return Err(failed(error)),
            }
        }
        // An empty folder of the author's bears no marker yet; `mend` must know it again.
        fs::write(self.to.join(MARKER), MARKER_TEXT).map_err(failed)?;
        let old = self.beside_name("old-");
        fs::rename(&self.to, &old).map_err(failed)?;
        if let Err(error) = fs::rename(new, &self.to) {
            fs::rename(&old, &self.to).map_err(failed)?;
            return Err(failed(error));
        }
        self.discard(&old);
        Ok(())
    }

    /// Removes an old site, under a name that `mend` does not take for a site to bring back.
    fn discard(&self, old: &Path) {
        let gone = self.beside_name("gone-");
        if fs::rename(old, &gone).is_ok() {
            let _ = remove_marked(&gone);
        }
    }

    /// After a stopped run: brings the old site back if it was caught between two renames, and sweeps.
    fn mend(&self) -> Result<(), PressError> {
        let mut leavings = self.leavings("old-")?;
        if !is_there(&self.to)
            && let Some(old) = leavings.pop()
        {
            fs::rename(&old, &self.to).map_err(|e| PressError::io("bring back", &self.shown, e))?;
        }
        for old in leavings {
            self.discard(&old);
        }
        for leaving in self.leavings("new-")?.into_iter().chain(self.leavings("gone-")?) {
            remove_marked(&leaving).map_err(|e| PressError::io("sweep", &leaving, e))?;
        }
        Ok(())
    }

    /// Folders beside the site that bear our name for them and our marker, or were stopped before it was whole.
    fn leavings(&self, what: &str) -> Result<Vec<PathBuf>, PressError> {
        let mut prefix = self.prefix();
        prefix.push(what);
        let read = |e| PressError::io("read", &self.parent, e);
        let mut found = Vec::new();
        for entry in fs::read_dir(&self.parent).map_err(read)? {
            let entry = entry.map_err(read)?;
            let is_ours = entry.file_name().as_encoded_bytes().starts_with(prefix.as_encoded_bytes())
                && entry.file_type().is_ok_and(|t| t.is_dir())
                && (bears_marker(&entry.path()) || is_empty(&entry.path()) || was_being_marked(&entry.path()));
            if is_ours {
                found.push(entry.path());
            }
        }
        found.sort();
        Ok(found)
    }

    /// Whether the folder at our address is ours to replace.
    fn check_ours(&self) -> Result<(), PressError> {
        let refuse = |why: &str| Err(PressError::refused("publish to", &self.shown, why));
        let meta = match fs::symlink_metadata(&self.to) {
            Ok(meta) => meta,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
            Err(error) => return Err(PressError::io("look at", &self.shown, error)),
        };
        if meta.is_symlink() {
            return refuse("it is a link; name the folder that it leads to");
        }
        if !meta.is_dir() {
            return refuse("it is a file, not a folder");
        }
        if is_empty(&self.to) {
            return Ok(());
        }
        if !bears_marker(&self.to) {
            return refuse(&format!(
                "it holds files that goodground did not make (no {MARKER} in it); name an empty or a new folder"
            ));
        }
        if is_there(&self.to.join(".git")) {
            return refuse("it holds a git repository, which replacing the folder would lose");
        }
        Ok(())
    }

    fn prefix(&self) -> OsString {
        let mut prefix = OsString::from(".");
        prefix.push(&self.name);
        prefix.push(BESIDE);
        prefix
    }

    fn beside_name(&self, what: &str) -> PathBuf {
        let mut name = self.prefix();
        name.push(what);
        // Only one run holds the lock, and what stopped runs left is swept: the number is enough.
        name.push(std::process::id().to_string());
        self.parent.join(name)
    }

    /// A new folder beside the site that bears our marker.
    fn beside(&self, what: &str) -> Result<PathBuf, PressError> {
        let path = self.beside_name(what);
        let failed = |e| PressError::io("make the folder", &path, e);
        fs::create_dir(&path).map_err(failed)?;
        fs::write(path.join(MARKER), MARKER_TEXT).map_err(failed)?;
        Ok(path)
    }

    fn lock(&mut self) -> Result<(), PressError> {
        let mut name = self.prefix();
        name.push("lock");
        self.lock = Some(Lock::take(self.parent.join(name), &self.shown)?);
        Ok(())
    }
}

/// A lock that the system lets go of when the program ends, however it ends.
#[derive(Debug)]
struct Lock {
    path: PathBuf,
    file: fs::File,
}

impl Lock {
    fn take(path: PathBuf, shown: &Path) -> Result<Lock, PressError> {
        loop {
            let file = fs::OpenOptions::new()
                .create(true)
                .truncate(false)
                .write(true)
                .open(&path)
                .map_err(|e| PressError::io("lock", &path, e))?;
            match file.try_lock() {
                Ok(()) => {}
                Err(fs::TryLockError::WouldBlock) => {
                    let why = "another publish is writing it; wait until that one is done";
                    return Err(PressError::refused("publish to", shown, why));
                }
                Err(fs::TryLockError::Error(error)) => return Err(PressError::io("lock", &path, error)),
            }
            // The last holder may have removed the file between our opening and our locking it.
            if same_file(&file, &path) {
                return Ok(Lock { path, file });
            }
        }
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        // Removed while it is held, so that whoever opened it meanwhile sees that it is gone.
        if cfg!(unix) {
            let _ = fs::remove_file(&self.path);
        }
        let _ = self.file.unlock();
    }
}

#[cfg(unix)]
fn same_file(file: &fs::File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt as _;
    match (file.metadata(), fs::metadata(path)) {
        (Ok(held), Ok(there)) => held.dev() == there.dev() && held.ino() == there.ino(),
        _ => false,
    }
}

#[cfg(not(unix))]
fn same_file(_file: &fs::File, _path: &Path) -> bool {
    true // the lock file is never removed there
}

/// Exchanges two folders in one step; `false` where the system or the disk has no such step.
#[cfg(any(target_os = "linux", target_vendor = "apple"))]
fn exchange(one: &Path, other: &Path) -> io::Result<bool> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    use rustix::io::Errno;
    match renameat_with(CWD, one, CWD, other, RenameFlags::EXCHANGE) {
        Ok(()) => Ok(true),
        Err(Errno::NOSYS | Errno::INVAL | Errno::NOTSUP) => Ok(false),
        Err(error) => Err(error.into()),
    }
}

#[cfg(not(any(target_os = "linux", target_vendor = "apple")))]
fn exchange(_one: &Path, _other: &Path) -> io::Result<bool> {
    Ok(false)
}

/// The path from the root, with links in the part of it that exists followed.
fn absolute(path: &Path) -> io::Result<PathBuf> {
    let path = std::path::absolute(path)?;
    // The last name is not followed: a link at the site's own address is refused, not replaced.
    let (mut there, mut rest): (&Path, Vec<&OsStr>) = (&path, Vec::new());
    loop {
        let is_link_at_end = rest.is_empty() && fs::symlink_metadata(there).is_ok_and(|m| m.is_symlink());
        if !is_link_at_end && let Ok(real) = fs::canonicalize(there) {
            return Ok(rest.iter().rev().fold(real, |path, name| path.join(name)));
        }
        match (there.parent(), there.components().next_back()) {
            (Some(parent), Some(last)) => {
                rest.push(last.as_os_str());
                there = parent;
            }
            _ => return Ok(path.clone()),
        }
    }
}

fn overlap(one: &Path, other: &Path) -> bool {
    one.starts_with(other) || other.starts_with(one)
}

fn is_there(path: &Path) -> bool {
    fs::symlink_metadata(path).is_ok()
}

fn is_empty(folder: &Path) -> bool {
    fs::read_dir(folder).is_ok_and(|mut entries| entries.next().is_none())
}

fn bears_marker(folder: &Path) -> bool {
    let marker = folder.join(MARKER);
    fs::symlink_metadata(&marker).is_ok_and(|m| m.is_file())
        && fs::read(&marker).is_ok_and(|text| text.starts_with(MARKER_TEXT.as_bytes()))
}

/// Whether a folder holds the beginning of our marker and nothing else: its maker was stopped while writing it.
fn was_being_marked(folder: &Path) -> bool {
    let names: Option<Vec<OsString>> =
        fs::read_dir(folder).ok().and_then(|entries| entries.map(|e| e.map(|e| e.file_name()).ok()).collect());
    let begun = || fs::read(folder.join(MARKER)).is_ok_and(|text| MARKER_TEXT.as_bytes().starts_with(&text));
    names.is_some_and(|names| names == [MARKER]) && begun()
}

/// Removes a folder of ours, its marker last, so that a sweep that is stopped can be taken up again.
fn remove_marked(folder: &Path) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        if entry.file_name() == MARKER {
            continue;
        }
        if entry.file_type()?.is_dir() {
            fs::remove_dir_all(entry.path())?;
        } else {
            fs::remove_file(entry.path())?;
        }
    }
    match fs::remove_file(folder.join(MARKER)) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    fs::remove_dir(folder)
}

/// Holds every address inside the site, and no two apart by nothing but their case, which half of all disks cannot keep.
fn check_addresses<'a>(addresses: impl Iterator<Item = &'a String>, shown: &Path) -> Result<(), PressError> {
    let mut seen = BTreeMap::new();
    let refuse = |why: String| Err(PressError::refused("publish to", shown, why));
    for address in addresses {
        let is_plain = !address.is_empty()
            && !address.contains(['\\', '\0'])
            && address.split('/').all(|name| !matches!(name, "" | "." | ".."))
            && Path::new(address).components().all(|c| matches!(c, Component::Normal(_)));
        if !is_plain {
            return refuse(format!("\"{address}\" is no address inside the site"));
        }
        if address == MARKER {
            return refuse(format!("{MARKER} is the name of our own marker"));
        }
        if let Some(other) = seen.insert(address.to_lowercase(), address) {
            return refuse(format!("two files would stand at one address: {other} and {address}"));
        }
    }
    for address in seen.values() {
        for (i, _) in address.match_indices('/') {
            if let Some(other) = seen.get(&address[..i].to_lowercase()) {
                return refuse(format!("{other} would be a file and a folder at once: {address}"));
            }
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A workplace with a content folder; the site is to stand beside it.
    fn place() -> tempfile::TempDir {
        let place = tempfile::tempdir().unwrap();
        fs::create_dir(place.path().join("content")).unwrap();
        place
    }

    fn open(place: &tempfile::TempDir) -> Result<SiteFolder, PressError> {
        SiteFolder::open(&place.path().join("site"), &[&place.path().join("content")])
    }

    fn site(pages: &[(&str, &str)]) -> BTreeMap<String, Vec<u8>> {
        pages.iter().map(|(a, t)| ((*a).to_owned(), t.as_bytes().to_vec())).collect()
    }

    fn publish(place: &tempfile::TempDir, pages: &[(&str, &str)]) -> Result<Replaced, PressError> {
        open(place)?.replace(&site(pages), &BTreeMap::new())
    }

    fn text(place: &tempfile::TempDir, path: &str) -> Option<String> {
        fs::read_to_string(place.path().join(path)).ok()
    }

    /// What stands in the workplace beside the content.
    fn beside(place: &tempfile::TempDir) -> Vec<String> {
        let mut names: Vec<_> =
            fs::read_dir(place.path()).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        names.retain(|n| n != "content");
        names.sort();
        names
    }

    #[test]
    fn a_site_is_made_and_then_replaced_whole() {
        let place = place();
        publish(&place, &[("index.html", "one"), ("van/index.html", "van")]).unwrap();
        publish(&place, &[("index.html", "two")]).unwrap();
        assert_eq!(text(&place, "site/index.html").as_deref(), Some("two"));
        assert_eq!(text(&place, "site/van/index.html"), None);
        assert_eq!(beside(&place), ["site"]);
    }

    #[test]
    fn an_empty_folder_may_be_replaced() {
        let place = place();
        fs::create_dir(place.path().join("site")).unwrap();
        publish(&place, &[("index.html", "one")]).unwrap();
        assert_eq!(text(&place, "site/index.html").as_deref(), Some("one"));
    }

    #[test]
    fn files_are_copied_as_they_are() {
        let place = place();
        let photo = place.path().join("content/badge.png");
        fs::write(&photo, [0, 159, 146, 150]).unwrap();
        let as_is = BTreeMap::from([("club/badge.png".to_owned(), photo)]);
        let done = open(&place).unwrap().replace(&site(&[("index.html", "one")]), &as_is).unwrap();
        assert_eq!(done, Replaced { files: 2 });
        assert_eq!(fs::read(place.path().join("site/club/badge.png")).unwrap(), [0, 159, 146, 150]);
    }

    #[test]
    fn somebody_elses_folder_is_left_alone() {
        let place = place();
        fs::create_dir(place.path().join("site")).unwrap();
        fs::write(place.path().join("site/thesis.txt"), "ten years").unwrap();
        let error = publish(&place, &[("index.html", "one")]).unwrap_err();
        assert!(error.to_string().contains("did not make"), "{error}");
        assert_eq!(text(&place, "site/thesis.txt").as_deref(), Some("ten years"));
        assert_eq!(beside(&place), ["site"]);
    }

    #[test]
    fn a_marker_with_other_words_is_not_ours() {
        let place = place();
        fs::create_dir(place.path().join("site")).unwrap();
        fs::write(place.path().join("site").join(MARKER), "hello").unwrap();
        assert!(publish(&place, &[("index.html", "one")]).is_err());
    }

    #[test]
    fn a_site_that_holds_a_repository_is_refused() {
        let place = place();
        publish(&place, &[("index.html", "one")]).unwrap();
        fs::create_dir(place.path().join("site/.git")).unwrap();
        assert!(open(&place).unwrap_err().to_string().contains("git repository"));
    }

    #[test]
    fn the_places_that_must_not_be_replaced_are_refused() {
        let place = place();
        let content = place.path().join("content");
        let refused = |to: &Path| SiteFolder::open(to, &[&content]).unwrap_err().to_string();
        assert!(refused(Path::new("/")).contains("root of the disk"));
        assert!(refused(Path::new(".")).contains("the folder you are in"));
        // The folder above may be more than one of these at once, wherever the project happens to lie.
        let above = refused(&std::env::current_dir().unwrap().join(".."));
        let reasons = ["the folder you are in", "overlaps", "home folder", "root of the disk"];
        assert!(reasons.iter().any(|reason| above.contains(reason)), "{above}");
        assert!(refused(&content).contains("overlaps"));
        assert!(refused(&content.join("site")).contains("overlaps"));
        assert!(refused(place.path()).contains("overlaps"));
        assert!(refused(&place.path().join("content/../content/x")).contains("overlaps"));
        assert!(refused(&std::env::home_dir().unwrap()).contains("home folder"));
        assert_eq!(beside(&place), [] as [&str; 0]);
    }

    #[test]
    fn a_file_is_no_site_folder() {
        let place = place();
        fs::write(place.path().join("site"), "x").unwrap();
        assert!(open(&place).unwrap_err().to_string().contains("a file, not a folder"));
    }

    #[cfg(unix)]
    #[test]
    fn a_link_is_refused_and_a_link_above_is_followed() {
        let place = place();
        fs::create_dir(place.path().join("real")).unwrap();
        std::os::unix::fs::symlink("real", place.path().join("site")).unwrap();
        assert!(open(&place).unwrap_err().to_string().contains("it is a link"));
        std::os::unix::fs::symlink("content", place.path().join("alias")).unwrap();
        let through = SiteFolder::open(&place.path().join("alias/site"), &[&place.path().join("content")]);
        assert!(through.unwrap_err().to_string().contains("overlaps"));
    }

    #[test]
    fn folders_above_are_made_only_when_there_is_something_to_publish() {
        let place = place();
        let to = place.path().join("out/deep/site");
        let mut folder = SiteFolder::open(&to, &[]).unwrap();
        assert!(!place.path().join("out").exists());
        folder.replace(&site(&[("index.html", "one")]), &BTreeMap::new()).unwrap();
        assert_eq!(text(&place, "out/deep/site/index.html").as_deref(), Some("one"));
    }

    #[test]
    fn only_one_run_at_a_time() {
        let place = place();
        let mut held = open(&place).unwrap();
        assert!(open(&place).unwrap_err().to_string().contains("another publish"));
        held.replace(&site(&[("index.html", "one")]), &BTreeMap::new()).unwrap();
        drop(held);
        open(&place).unwrap();
        assert_eq!(beside(&place), ["site"]);
    }

    #[test]
    fn many_runs_at_once_leave_one_whole_site() {
        let place = place();
        let pages = |n: usize| (0..20).map(|i| (format!("{i}.html"), n.to_string().into_bytes())).collect();
        let done = (0..16usize)
            .into_par_iter()
            .filter(|n| open(&place).and_then(|mut f| f.replace(&pages(*n), &BTreeMap::new())).is_ok())
            .count();
        assert!(done >= 1);
        let first = text(&place, "site/0.html").unwrap();
        assert!((0..20).all(|i| text(&place, &format!("site/{i}.html")).as_ref() == Some(&first)));
        assert_eq!(beside(&place), ["site"]);
    }

    #[test]
    fn leavings_are_swept_and_strangers_are_not() {
        let place = place();
        publish(&place, &[("index.html", "one")]).unwrap();
        let at = |name: &str| place.path().join(name);
        fs::create_dir_all(at(".site.goodground-new-1/half")).unwrap();
        fs::write(at(".site.goodground-new-1").join(MARKER), MARKER_TEXT).unwrap();
        fs::create_dir(at(".site.goodground-new-2")).unwrap(); // stopped before its marker
        fs::create_dir(at(".site.goodground-new-3")).unwrap();
        fs::write(at(".site.goodground-new-3").join(MARKER), "").unwrap(); // stopped while it was written
        fs::create_dir(at(".site.goodground-new-mine")).unwrap();
        fs::write(at(".site.goodground-new-mine/x"), "no marker").unwrap();
        fs::write(at(".site.goodground-lock"), "").unwrap(); // its holder was killed
        publish(&place, &[("index.html", "two")]).unwrap();
        assert_eq!(beside(&place), [".site.goodground-new-mine", "site"]);
    }

    #[test]
    fn without_an_exchange_two_renames_do() {
        let place = place();
        publish(&place, &[("index.html", "one")]).unwrap();
        let mut folder = open(&place).unwrap();
        folder.exchange = false;
        folder.replace(&site(&[("index.html", "two")]), &BTreeMap::new()).unwrap();
        drop(folder);
        assert_eq!(text(&place, "site/index.html").as_deref(), Some("two"));
        assert_eq!(beside(&place), ["site"]);
    }

    #[test]
    fn a_run_stopped_between_two_renames_is_mended_at_the_next_start() {
        let place = place();
        publish(&place, &[("index.html", "one")]).unwrap();
        fs::rename(place.path().join("site"), place.path().join(".site.goodground-old-7")).unwrap();
        let folder = open(&place).unwrap();
        assert_eq!(text(&place, "site/index.html").as_deref(), Some("one"));
        drop(folder);
        assert_eq!(beside(&place), ["site"]);
    }

    #[test]
    fn a_failed_build_leaves_the_old_site() {
        let place = place();
        publish(&place, &[("index.html", "one")]).unwrap();
        let as_is = BTreeMap::from([("gone.png".to_owned(), place.path().join("content/gone.png"))]);
        let error = open(&place).unwrap().replace(&site(&[("index.html", "two")]), &as_is).unwrap_err();
        assert!(error.to_string().contains("gone.png"), "{error}");
        assert_eq!(text(&place, "site/index.html").as_deref(), Some("one"));
        assert_eq!(beside(&place), ["site"]);
    }

    #[test]
    fn addresses_stay_inside_and_apart() {
        let place = place();
        for bad in ["../x", "/x", "a//b", "", "a/./b", "a\\b", MARKER] {
            assert!(publish(&place, &[(bad, "x")]).is_err(), "{bad} was let through");
        }
        assert!(publish(&place, &[("Index.html", "x"), ("index.html", "x")]).is_err());
        assert!(publish(&place, &[("van", "x"), ("van/index.html", "x")]).is_err());
        assert_eq!(beside(&place), [] as [&str; 0]);
    }
}
