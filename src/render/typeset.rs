//! The typesetter of a practice: its fonts and layout files, read once, for all pages it prints.

use std::collections::BTreeMap;
use std::fmt;

use typst::diag::Warned;
use typst::foundations::{Label, Selector};
use typst::introspection::{Introspector, MetadataElem};
use typst::utils::PicoStr;
use typst_layout::PagedDocument;

use super::fonts::Fonts;
use super::pdf::{self, Stamp};
use super::world::{PageWorld, Shared};
use super::{RenderError, geometry, glyphs};
use crate::assets::Assets;
use crate::document::Document;

/// Lays out and exports the pages of one practice.
///
/// The same document, stamp and program version give the same bytes, in any number of threads.
pub struct Typesetter {
    shared: Shared,
    fonts: Fonts,
}

impl Typesetter {
    /// Reads the layout files of a practice and its fonts.
    #[must_use]
    pub fn new(assets: &Assets, fonts: &Fonts) -> Self {
        Self { shared: Shared::new(assets, fonts), fonts: fonts.clone() }
    }

    /// A page set as tagged PDF.
    ///
    /// # Errors
    /// A character the print fonts lack; where the layout stops; text that cannot be read where it stands; what the
    /// exporter refuses; a date of issue that a file cannot carry.
    pub fn pdf(&self, document: &Document, stamp: &Stamp) -> Result<Vec<u8>, RenderError> {
        let (world, paged) = self.lay_out(document)?;
        let options = pdf::options(stamp).ok_or(RenderError::Date)?;
        typst_pdf::pdf(&paged, &options).map_err(|errors| RenderError::Export(world.stops(&errors)))
    }

    /// On which page each statement and part stands: the id of its mark, and the number of the page where it begins.
    ///
    /// # Errors
    /// As [`Typesetter::pdf`], before export.
    pub fn places(&self, document: &Document) -> Result<BTreeMap<String, usize>, RenderError> {
        let (_, paged) = self.lay_out(document)?;
        let introspector = paged.introspector();
        let label = Label::new(PicoStr::constant("mark")).expect("a label has a name");
        let mut places = BTreeMap::new();
        for mark in introspector.query(&Selector::Label(label)) {
            let id = mark.to_packed::<MetadataElem>().and_then(|mark| mark.value.clone().cast::<String>().ok());
            let page = mark.location().and_then(|location| introspector.page(location));
            if let (Some(id), Some(page)) = (id, page) {
                places.entry(id).or_insert(page.get());
            }
        }
        Ok(places)
    }

    fn lay_out(&self, document: &Document) -> Result<(PageWorld<'_>, PagedDocument), RenderError> {
        let data = glyphs::checked(document, &self.fonts)?;
        let world = PageWorld::new(&self.shared, &data);
        let Warned { output, warnings } = typst::compile::<PagedDocument>(&world);
        let paged = output.map_err(|errors| RenderError::Layout(world.stops(&errors)))?;
        if !warnings.is_empty() {
            return Err(RenderError::Layout(world.stops(&warnings))); // an unknown font is only a warning
        }
        geometry::check(&paged)?;
        Ok((world, paged))
    }
}

impl fmt::Debug for Typesetter {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        out.debug_struct("Typesetter").finish_non_exhaustive()
    }
}

/// Forgets what the layout remembers and has not used since the packet before. The memory is global: what another thread
/// has just used stays, and with it what the layout files are read into, which every packet uses; what was one patient's
/// goes. What is forgotten too early is only worked out again. Call it after each packet.
pub fn forget() {
    typst::comemo::evict(1);
}
