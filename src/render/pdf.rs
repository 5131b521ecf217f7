//! How a page set becomes tagged PDF: PDF/UA-1 and PDF/A-3a, both enforced by the exporter.

use chrono::{Datelike, NaiveDateTime, Timelike};
use serde::{Deserialize, Serialize};
use typst::foundations::{Datetime, Smart};
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards, Timestamp};

/// The only date and identity a page may carry.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Stamp {
    /// Identity of the file: document id, version and language. Holds nothing personal.
    pub ident: String,
    /// When it was issued, UTC.
    pub issued: NaiveDateTime,
}

/// None for a date that a file cannot carry.
pub(super) fn options(stamp: &Stamp) -> Option<PdfOptions> {
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
