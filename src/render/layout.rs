//! One page set laid out and exported.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::Value;
use typst::diag::Warned;
use typst::foundations::{Content, Label, Selector};
use typst::introspection::{Introspector, MetadataElem, PagedPosition, Tag};
use typst::layout::{Abs, Frame, FrameItem, Point};
use typst::utils::PicoStr;
use typst_layout::{Page, PagedDocument};
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
    /// A picture of each page, and where each mark stands on it.
    Preview,
    /// The page of each statement and part.
    Places,
}

/// What a layout gives: the one thing that was wanted, and how full its pages are.
#[derive(Debug, Default, Serialize, Deserialize)]
pub(super) struct Made {
    /// A tagged PDF.
    #[serde(skip)]
    pub(super) pdf: Vec<u8>,
    /// Each page to be looked at.
    pub(super) preview: Vec<Picture>,
    /// Id of a mark, and the number of the page where it begins.
    pub(super) places: BTreeMap<String, usize>,
    /// Of each page, whatever was wanted: how far down its text reaches, as a part of its height without the foot. Of what is
    /// told line after line nothing.
    pub(super) reach: Vec<f64>,
}

/// One page to be looked at.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Picture {
    /// Its picture.
    pub svg: String,
    /// Its width and height, points.
    pub size: (f64, f64),
    /// The marks on it, in reading order.
    pub spots: Vec<Spot>,
}

/// Where a statement or part begins, or goes on, on a page.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Spot {
    /// Id of the statement or part.
    pub id: String,
    /// From the left and the top edge of the page, points.
    pub at: (f64, f64),
}

/// Lays out the data of a page set.
pub(super) fn make(shared: &Shared, document: &Value, wanted: &Wanted) -> Result<Made, RenderError> {
    let world = PageWorld::new(shared, document);
    let Warned { output, warnings } = typst::compile::<PagedDocument>(&world);
    let paged = output.map_err(|errors| RenderError::Layout(world.stops(&errors)))?;
    if !warnings.is_empty() {
        return Err(RenderError::Layout(world.stops(&warnings))); // an unknown font is only a warning
    }
    // Line after line nothing can stand on anything; and nobody who was treated leaves without pages.
    let in_lines = document["in_lines"] == Value::Bool(true);
    let reach = if in_lines { Vec::new() } else { geometry::check(&paged)? };
    let mut made = Made { reach, ..Made::default() };
    match wanted {
        Wanted::Pdf(stamp) => {
            let options = pdf::options(stamp).ok_or(RenderError::Date)?;
            made.pdf = typst_pdf::pdf(&paged, &options).map_err(|errors| RenderError::Export(world.stops(&errors)))?;
        }
        Wanted::Preview => made.preview = preview(&paged),
        Wanted::Places => {
            for (id, at) in marks(&paged) {
                made.places.entry(id).or_insert(at.page.get());
            }
        }
    }
    Ok(made)
}

fn preview(paged: &PagedDocument) -> Vec<Picture> {
    let picture = |page: &Page| {
        let size = page.frame.size();
        let svg = typst_svg::svg(page, &SvgOptions::default());
        let mut spots = Vec::new();
        gather(&page.frame, Point::zero(), &mut spots);
        Picture { svg, size: (size.x.to_pt(), size.y.to_pt()), spots }
    };
    paged.pages().iter().map(picture).collect()
}

/// Gathers the marks in a frame. One within a line lies on the line's baseline: it is taken to the top of the letters.
fn gather(frame: &Frame, corner: Point, spots: &mut Vec<Spot>) {
    let letters = |baseline: Abs| {
        let texts = frame.items().filter_map(|(place, item)| match item {
            FrameItem::Text(text) if place.y.approx_eq(baseline) => Some(text.font.metrics().cap_height.at(text.size)),
            _ => None,
        });
        texts.fold(Abs::zero(), Abs::max)
    };
    for (place, item) in frame.items() {
        let at = corner + *place;
        match item {
            FrameItem::Group(group) => {
                gather(&group.frame, at + Point::new(group.transform.tx, group.transform.ty), spots);
            }
            FrameItem::Tag(Tag::Start(element, _)) if element.label() == Some(mark_label()) => {
                let top = at.y - letters(place.y);
                spots.extend(mark_id(element).map(|id| Spot { id, at: (at.x.to_pt(), top.to_pt()) }));
            }
            _ => {}
        }
    }
}

fn mark_label() -> Label {
    Label::new(PicoStr::constant("mark")).expect("a label has a name")
}

fn mark_id(mark: &Content) -> Option<String> {
    mark.to_packed::<MetadataElem>().and_then(|mark| mark.value.clone().cast::<String>().ok())
}

/// The marks of statements and parts, in reading order.
fn marks(paged: &PagedDocument) -> Vec<(String, PagedPosition)> {
    let introspector = paged.introspector();
    let marks = introspector.query(&Selector::Label(mark_label()));
    let mark = |mark: &Content| Some((mark_id(mark)?, introspector.position(mark.location()?)?));
    marks.iter().filter_map(mark).collect()
}
