//! One page set laid out and exported.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::Value;
use typst::diag::Warned;
use typst::foundations::{Label, Selector};
use typst::introspection::{Introspector, MetadataElem};
use typst::utils::PicoStr;
use typst_layout::PagedDocument;
use typst_svg::SvgOptions;

use super::error::RenderError;
use super::geometry;
use super::pdf::{self, Stamp};
use super::world::{PageWorld, Shared};

/// What is asked of a layout.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) enum Wanted {
    /// A file for paper.
    Pdf(Stamp),
    /// A picture of each page.
    Svg,
    /// The page of each statement and part.
    Places,
}

/// What a layout gives: the one thing that was wanted.
#[derive(Debug, Default, Serialize, Deserialize)]
pub(super) struct Made {
    /// A tagged PDF.
    #[serde(skip)]
    pub(super) pdf: Vec<u8>,
    /// Each page as SVG.
    pub(super) svg: Vec<String>,
    /// Id of a mark, and the number of the page where it begins.
    pub(super) places: BTreeMap<String, usize>,
}

/// Lays out the data of a page set.
pub(super) fn make(shared: &Shared, document: &Value, wanted: &Wanted) -> Result<Made, RenderError> {
    let world = PageWorld::new(shared, document);
    let Warned { output, warnings } = typst::compile::<PagedDocument>(&world);
    let paged = output.map_err(|errors| RenderError::Layout(world.stops(&errors)))?;
    if !warnings.is_empty() {
        return Err(RenderError::Layout(world.stops(&warnings))); // an unknown font is only a warning
    }
    geometry::check(&paged)?;
    let mut made = Made::default();
    match wanted {
        Wanted::Pdf(stamp) => {
            let options = pdf::options(stamp).ok_or(RenderError::Date)?;
            made.pdf = typst_pdf::pdf(&paged, &options).map_err(|errors| RenderError::Export(world.stops(&errors)))?;
        }
        Wanted::Svg => {
            made.svg = paged.pages().iter().map(|page| typst_svg::svg(page, &SvgOptions::default())).collect()
        }
        Wanted::Places => made.places = places(&paged),
    }
    Ok(made)
}

fn places(paged: &PagedDocument) -> BTreeMap<String, usize> {
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
    places
}
