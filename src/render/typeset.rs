//! The typesetter of a practice: its fonts and layout files, read once, for all pages it prints.

use std::collections::BTreeMap;
use std::fmt;
use std::path::PathBuf;
use std::sync::OnceLock;

use serde_json::Value;

use super::apart::{Apart, Limits};
use super::error::RenderError;
use super::fonts::Fonts;
use super::glyphs;
use super::layout::{self, Made, Wanted};
pub use super::layout::{Picture, Spot};
use super::pdf::Stamp;
use super::pictures;
use super::seal;
use super::turns;
use super::world::Shared;
use crate::assets::Assets;
use crate::document::Document;

/// Lays out and exports the pages of one practice.
///
/// The same document, stamp and program version give the same bytes, in any number of threads.
pub struct Typesetter {
    fonts: Fonts,
    place: Place,
    /// The built-in layout files, where the practice has its own: what is told line after line rests on no others.
    built_in: OnceLock<Box<Shared>>,
}

/// Where pages are laid out.
enum Place {
    Here(Box<Shared>),
    /// In a process apart, with limits: the practice has layout files of its own.
    Apart(Apart),
}

impl Typesetter {
    /// Reads the layout files of a practice and its fonts.
    #[must_use]
    pub fn new(assets: &Assets, fonts: &Fonts) -> Self {
        let here = || Place::Here(Box::new(Shared::new(assets, fonts)));
        let place = Apart::of(assets).map_or_else(here, Place::Apart);
        Self { fonts: fonts.clone(), place, built_in: OnceLock::new() }
    }

    /// Has layout files of the practice's own laid out by this program, within these limits. Left out, it is the program
    /// that runs, which must then know the command [`super::apart::COMMAND`].
    #[must_use]
    pub fn apart(mut self, program: PathBuf, limits: Limits) -> Self {
        if let Place::Apart(apart) = &mut self.place {
            (apart.program, apart.limits) = (Some(program), limits);
        }
        self
    }

    /// A page set as tagged PDF.
    ///
    /// # Errors
    /// A character the print fonts lack; where the layout stops; text that cannot be read where it stands; what the
    /// exporter refuses; a date of issue that a file cannot carry; layout files of the practice's own that exceed a limit.
    pub fn pdf(&self, document: &Document, stamp: &Stamp) -> Result<Vec<u8>, RenderError> {
        Ok(self.make(document, Wanted::Pdf(stamp.clone()))?.pdf)
    }

    /// Each page of a page set as a picture, from the layout that prints. What changed little since the last time is laid
    /// out quickly, unless [`forget`] came between.
    ///
    /// # Errors
    /// As [`Typesetter::pdf`].
    pub fn preview(&self, document: &Document) -> Result<Vec<Picture>, RenderError> {
        Ok(self.make(document, Wanted::Preview)?.preview)
    }

    /// On which page each statement and part stands: the id of its mark, and the number of the page where it begins.
    ///
    /// # Errors
    /// As [`Typesetter::pdf`].
    pub fn places(&self, document: &Document) -> Result<BTreeMap<String, usize>, RenderError> {
        Ok(self.make(document, Wanted::Places)?.places)
    }

    /// How far down the text of each page reaches, as a part of its height without the foot: a page under half is half empty.
    ///
    /// # Errors
    /// As [`Typesetter::pdf`].
    pub fn reach(&self, document: &Document) -> Result<Vec<f64>, RenderError> {
        Ok(self.make(document, Wanted::Places)?.reach)
    }

    /// What the layout files read of a page set: its document, with the pictures and the code of its seal as they are drawn.
    ///
    /// # Errors
    /// A character the print fonts lack.
    pub fn data(&self, document: &Document) -> Result<Value, RenderError> {
        let mut data = glyphs::checked(document, &self.fonts)?;
        seal::add(document, &mut data);
        pictures::add(document, &mut data);
        Ok(data)
    }

    fn make(&self, document: &Document, wanted: Wanted) -> Result<Made, RenderError> {
        let data = self.data(document)?;
        let _turn = turns::wait();
        match &self.place {
            Place::Here(shared) => layout::make(shared, &data, &wanted),
            Place::Apart(apart) if document.in_lines => {
                let shared = self.built_in.get_or_init(|| Box::new(apart.built_in(&self.fonts)));
                layout::make(shared, &data, &wanted)
            }
            Place::Apart(apart) => apart.make(data, wanted),
        }
    }
}

impl fmt::Debug for Typesetter {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        out.debug_struct("Typesetter").finish_non_exhaustive()
    }
}

/// Forgets what the layout remembers and has not used since the call before. Its memory is one for the whole process and
/// grows with every page set.
///
/// The one rule for everybody: call it before each packet and before each preview. What another thread has just used
/// stays, and with it what the layout files are read into, which every page uses; what was one patient's goes; what is
/// forgotten too early is only worked out again; and whoever prints a single packet pays nothing.
pub fn forget() {
    typst::comemo::evict(1);
}
