//! A page set as tagged PDF: PDF/UA-1 and PDF/A-3a, both enforced by the exporter.

use std::collections::BTreeMap;

use chrono::{Datelike, NaiveDateTime, Timelike};
use typst::diag::Warned;
use typst::foundations::{Datetime, Label, Selector, Smart};
use typst::introspection::{Introspector, MetadataElem};
use typst::utils::PicoStr;
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards, Timestamp};

use super::fonts::Fonts;
use super::geometry;
use super::world::PageWorld;
use crate::assets::Assets;
use crate::document::Document;

/// The only date and identity a page may carry.
#[derive(Debug, Clone)]
pub struct Stamp {
    /// Identity of the file: document id, version and language. Holds nothing personal.
    pub ident: String,
    /// When it was issued, UTC.
    pub issued: NaiveDateTime,
}

/// Lays a page set out.
///
/// The same document, stamp and program version give the same bytes.
///
/// # Errors
/// A character the print fonts lack, by its code; a message of the layout with its place; text that cannot be read where it
/// stands.
pub fn pdf(assets: &Assets, fonts: &Fonts, document: &Document, stamp: &Stamp) -> Result<Vec<u8>, String> {
    let (world, paged) = lay_out(assets, fonts, document)?;
    let options = options(stamp).ok_or("the page cannot carry this date of issue")?;
    typst_pdf::pdf(&paged, &options).map_err(|errors| world.describe(&errors))
}

fn lay_out<'a>(
    assets: &'a Assets,
    fonts: &Fonts,
    document: &Document,
) -> Result<(PageWorld<'a>, PagedDocument), String> {
    let value = serde_json::to_value(document).map_err(|error| error.to_string())?;
    if let Some(character) = missing(&document.header.name, fonts) {
        return Err(format!(
            "the patient's name holds {character}, which no print font has: write the name in Latin letters as \
             patient.latin_name in the record, or put a font with that script into fonts/ of the practice"
        ));
    }
    check_glyphs(&value, fonts)?;
    let world = PageWorld::new(assets, fonts, &value);
    let Warned { output, warnings } = typst::compile::<PagedDocument>(&world);
    let paged = output.map_err(|errors| world.describe(&errors))?;
    if !warnings.is_empty() {
        return Err(world.describe(&warnings)); // an unknown font is only a warning
    }
    geometry::check(&paged)?;
    Ok((world, paged))
}

/// On which page each statement and part stands: the id of its mark, and the number of the page where it begins.
///
/// # Errors
/// As [`pdf`].
pub fn places(assets: &Assets, fonts: &Fonts, document: &Document) -> Result<BTreeMap<String, usize>, String> {
    let (_, paged) = lay_out(assets, fonts, document)?;
    let introspector = paged.introspector();
    let label = Label::new(PicoStr::constant("mark")).ok_or("the layout names its marks")?;
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

/// Forgets what the layout remembered. The memory is global and grows with every page set; call it between packets.
pub fn forget() {
    typst::comemo::evict(0);
}

fn options(stamp: &Stamp) -> Option<PdfOptions> {
    let issued = stamp.issued;
    let issued = Datetime::from_ymd_hms(
        issued.year(),
        issued.month() as u8,
        issued.day() as u8,
        issued.hour() as u8,
        issued.minute() as u8,
        issued.second() as u8,
    )?;
    Some(PdfOptions {
        ident: Smart::Custom(stamp.ident.clone()),
        creator: Smart::Custom(Some(concat!(env!("CARGO_PKG_NAME"), " ", env!("CARGO_PKG_VERSION")).into())),
        timestamp: Some(Timestamp::new_utc(issued)),
        standards: PdfStandards::new(&[PdfStandard::Ua_1, PdfStandard::A_3a]).ok()?,
        tagged: true, // never an option: untagged files would still claim both standards
        ..PdfOptions::default()
    })
}

/// Refuses what the print fonts cannot show, by its code point: the text itself may be private.
fn check_glyphs(value: &serde_json::Value, fonts: &Fonts) -> Result<(), String> {
    match value {
        serde_json::Value::String(text) => match missing(text, fonts) {
            None => Ok(()),
            Some(character) => Err(format!(
                "the print font has no shape for the character {character}; write the text that holds it in Latin \
                 letters, or put a font with that script into fonts/ of the practice"
            )),
        },
        serde_json::Value::Array(items) => items.iter().try_for_each(|item| check_glyphs(item, fonts)),
        serde_json::Value::Object(fields) => fields.values().try_for_each(|field| check_glyphs(field, fonts)),
        _ => Ok(()),
    }
}

/// The code point of the first character that no print font has.
fn missing(text: &str, fonts: &Fonts) -> Option<String> {
    let missing = text.chars().find(|character| !fonts.printable(*character));
    missing.map(|character| format!("U+{:04X}", u32::from(character)))
}
