//! Prints: a guide's pictures as files to send, to print and to pin up, as PNG and as PDF.
//!
//! Knows no circuit and no site. A picture's SVG is read once, by [`tree`], and both kinds of print are made from that
//! one tree: [`raster`] makes the PNG, with the few colours that [`palette`] picks, and [`pdf`] the pages. Nothing is
//! read from disk, no clock is looked at, and no map is walked in an order of its own: same picture, same bytes.
//!
//! Prints take far longer than pages, so an [`Order`] says first which files there will be, and makes them when it is asked to.

pub mod lay;
pub mod palette;
pub mod pdf;
pub mod raster;
pub mod tree;

use std::panic::{AssertUnwindSafe, catch_unwind};

use jiff::civil::Date;
use rayon::prelude::*;
use resvg::usvg::Tree;

use crate::drawing::Picture;

/// Paper that PDFs are made for, lying on its long side.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// ISO 216 A4.
    A4,
    /// North American letter.
    Letter,
}

impl Paper {
    /// Both.
    pub const ALL: [Paper; 2] = [Paper::A4, Paper::Letter];

    /// As in a file's name.
    pub fn id(self) -> &'static str {
        match self {
            Paper::A4 => "a4",
            Paper::Letter => "letter",
        }
    }

    /// Width and height in points of 1/72 inch: A4 is 297 mm by 210 mm (ISO 216), letter 11 in by 8.5 in
    /// (ANSI/ASME Y14.1, size A).
    pub fn points(self) -> (f32, f32) {
        match self {
            Paper::A4 => (297.0 / 25.4 * 72.0, 210.0 / 25.4 * 72.0),
            Paper::Letter => (792.0, 612.0),
        }
    }
}

/// Which kinds of print are wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Kinds {
    /// PNG, for chats and forums.
    pub png: bool,
    /// PDF, for printers.
    pub pdf: bool,
}

/// What is printed of one picture.
#[derive(Clone, Debug)]
pub struct Plate {
    /// Its file's name without the ending: `wiring`.
    pub name: String,
    /// Its title, for people.
    pub title: String,
    /// In words, for those who cannot see it.
    pub description: String,
    /// The SVG.
    pub svg: String,
    /// Upper and lower edge of every sheet, in shares of the picture's height, from the top.
    pub sheets: Vec<(f32, f32)>,
}

impl Plate {
    /// A picture to print.
    pub fn of(picture: &Picture) -> Plate {
        Plate {
            name: picture.name.to_owned(),
            title: picture.title.clone(),
            description: picture.description.clone(),
            svg: picture.svg.clone(),
            sheets: {
                let high = picture.size.1;
                picture.sheets().iter().map(|(top, bottom)| ((top / high) as f32, (bottom / high) as f32)).collect()
            },
        }
    }
}

/// All the prints of one guide's pictures.
#[derive(Clone, Debug)]
pub struct Order {
    /// The folder they belong in, below the site's.
    pub folder: String,
    /// The pictures, in the order of the pages of the PDF that holds them all.
    pub plates: Vec<Plate>,
    /// What prints say of themselves.
    pub facts: pdf::Facts,
    /// Which are wanted.
    pub kinds: Kinds,
}

/// The name of the PDF that holds all pictures.
pub const ALL_PICTURES: &str = "all-pictures";

/// The file name of a sheet's PNG; sheets count from 0.
pub fn png_name(picture: &str, sheet: usize) -> String {
    if sheet == 0 { format!("{picture}.png") } else { format!("{picture}-{}.png", sheet + 1) }
}

/// A PDF's file name.
pub fn pdf_name(picture: &str, paper: Paper) -> String {
    format!("{picture}-{}.pdf", paper.id())
}

/// One file to make.
enum Job<'a> {
    Png(&'a pdf::Leaf<'a>, (f32, f32)),
    Pdf(&'a [pdf::Leaf<'a>], Paper),
}

impl Order {
    /// The addresses of the files that [`Order::make`] makes, in the same order.
    pub fn files(&self) -> Vec<String> {
        let mut names = Vec::new();
        for plate in &self.plates {
            if self.kinds.png {
                names.extend((0..plate.sheets.len()).map(|sheet| png_name(&plate.name, sheet)));
            }
            if self.kinds.pdf {
                names.extend(Paper::ALL.map(|paper| pdf_name(&plate.name, paper)));
            }
        }
        if self.kinds.pdf && !self.plates.is_empty() {
            names.extend(Paper::ALL.map(|paper| pdf_name(ALL_PICTURES, paper)));
        }
        names.into_iter().map(|name| format!("{}/{name}", self.folder)).collect()
    }

    /// Makes the prints: each file's address and bytes. An error is a sentence; it is our own fault, not an author's.
    pub fn make(&self) -> Result<Vec<(String, Vec<u8>)>, String> {
        // The libraries that draw panic on what they cannot draw; that must not take the whole publish down unexplained.
        let made = catch_unwind(AssertUnwindSafe(|| self.bytes()))
            .unwrap_or_else(|_| Err("a picture of this guide cannot be printed; the fault is the program's".into()))?;
        Ok(self.files().into_iter().zip(made).collect())
    }

    fn bytes(&self) -> Result<Vec<Vec<u8>>, String> {
        let trees: Vec<Tree> = self.plates.par_iter().map(|plate| tree::read(&plate.svg)).collect::<Result<_, _>>()?;
        let leaves: Vec<pdf::Leaf<'_>> =
            self.plates.iter().zip(&trees).map(|(plate, tree)| pdf::Leaf { plate, tree }).collect();
        let mut jobs = Vec::new();
        for leaf in &leaves {
            if self.kinds.png {
                jobs.extend(leaf.plate.sheets.iter().map(|sheet| Job::Png(leaf, *sheet)));
            }
            if self.kinds.pdf {
                jobs.extend(Paper::ALL.map(|paper| Job::Pdf(std::slice::from_ref(leaf), paper)));
            }
        }
        if self.kinds.pdf && !leaves.is_empty() {
            jobs.extend(Paper::ALL.map(|paper| Job::Pdf(&leaves, paper)));
        }
        let done = |job: &Job<'_>| match job {
            Job::Png(leaf, sheet) => raster::png(leaf.tree, *sheet),
            Job::Pdf(leaves, paper) => pdf::make(leaves, *paper, &self.facts),
        };
        jobs.par_iter().map(done).collect()
    }
}

/// The date of a guide's revision, for [`pdf::Facts`].
pub fn dated(date: Date) -> (u16, u8, u8) {
    (date.year().clamp(0, 9999) as u16, date.month().clamp(1, 12) as u8, date.day().clamp(1, 31) as u8)
}
