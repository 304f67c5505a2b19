//! A fresh folder with a club in it, and the program run there as an author would.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A guide that nothing stands in the way of: the design's own example.
pub const GOOD: &str = include_str!("../guides/design-example/guide.md");

/// The same guide with one wrong number: a return far too thin for its starter.
pub fn bad() -> String {
    let thin = GOOD.replace(
        "main-return:  {from: battery-, to: engine, size: 70 mm²",
        "main-return:  {from: battery-, to: engine, size: 4 mm²",
    );
    assert_ne!(thin, GOOD, "the example's main return is not written as it was");
    thin
}

/// The guide under another title, so that several can stand side by side.
pub fn titled(guide: &str, title: &str) -> String {
    let line = guide.lines().find(|l| l.starts_with("title:")).unwrap();
    guide.replacen(line, &format!("title: {title}"), 1)
}

pub struct Place {
    folder: tempfile::TempDir,
}

impl Place {
    /// A content folder with a publisher and these guides.
    pub fn with(guides: &[(&str, &str)]) -> Place {
        let place = Place { folder: tempfile::tempdir().unwrap() };
        place.write("content/publisher.yaml", "name: A Club\n");
        for (slug, text) in guides {
            place.write(&format!("content/{slug}/guide.md"), text);
        }
        place
    }

    pub fn path(&self, path: &str) -> PathBuf {
        self.folder.path().join(path)
    }

    pub fn write(&self, path: &str, text: impl AsRef<[u8]>) {
        let path = self.path(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
    }

    /// The program, to be run in this place. Nothing of the tester's own surroundings reaches it.
    pub fn command(&self) -> Command {
        let mut command = Command::new(assert_cmd::cargo::cargo_bin!("goodground"));
        command.current_dir(self.folder.path());
        for variable in ["SOURCE_DATE_EPOCH", "NO_COLOR", "RAYON_NUM_THREADS"] {
            command.env_remove(variable);
        }
        command
    }

    pub fn run(&self, arguments: &[&str]) -> Ran {
        Ran::from(self.command().args(arguments).output().unwrap())
    }

    /// Every file below a folder with its bytes.
    pub fn tree(&self, path: &str) -> BTreeMap<PathBuf, Vec<u8>> {
        let root = self.path(path);
        let files = walkdir::WalkDir::new(&root).into_iter().map(|e| e.unwrap()).filter(|e| e.file_type().is_file());
        files.map(|e| (e.path().strip_prefix(&root).unwrap().to_owned(), fs::read(e.path()).unwrap())).collect()
    }

    /// The names right below the place.
    pub fn names(&self) -> Vec<String> {
        let mut names: Vec<String> =
            fs::read_dir(self.folder.path()).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    pub fn root(&self) -> &Path {
        self.folder.path()
    }
}

/// What a run came to.
#[derive(Debug)]
pub struct Ran {
    pub status: Option<i32>,
    pub out: String,
    pub err: String,
}

impl From<Output> for Ran {
    fn from(output: Output) -> Ran {
        let text = |bytes| String::from_utf8(bytes).unwrap();
        Ran { status: output.status.code(), out: text(output.stdout), err: text(output.stderr) }
    }
}

impl Ran {
    /// Holds the run to its exit status; shows everything when it is another.
    #[track_caller]
    pub fn ends(self, status: i32) -> Ran {
        assert_eq!(self.status, Some(status), "\n--- standard output\n{}\n--- standard error\n{}", self.out, self.err);
        self
    }

    #[track_caller]
    pub fn says(self, words: &str) -> Ran {
        assert!(self.out.contains(words), "no \"{words}\" in standard output:\n{}", self.out);
        self
    }

    #[track_caller]
    pub fn complains(self, words: &str) -> Ran {
        assert!(self.err.contains(words), "no \"{words}\" in standard error:\n{}", self.err);
        self
    }
}
