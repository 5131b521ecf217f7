//! The consent packet: what this patient must be told and asked, and where they decide. Five parts, then an annex: the
//! decision, the eye, the ways, the risks, the signatures.

mod annex;
mod decide;
mod eye;
mod first;
mod risks;
mod ways;

pub(super) use decide::{assents, signed};

use super::sheet::{Built, Sheet};
use super::{Block, Document, Page};

/// Builds the consent packet.
///
/// # Errors
/// A text, number or note that is missing.
pub fn build(sheet: &Sheet) -> Built<Document> {
    let parts = [first::blocks, eye::blocks, ways::blocks, risks::blocks, decide::blocks, annex::blocks];
    let blocks: Vec<Vec<Block>> = parts.iter().map(|part| part(sheet)).collect::<Built<_>>()?;
    sheet.document(Page::Consent, sheet.text("consent.title", &[])?, blocks.concat())
}
