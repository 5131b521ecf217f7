//! The drops that begin before the laser, as a dated calendar of their own.

use crate::document::sheet::{Built, Sheet};
use crate::document::{Block, Document, Page, calendar, drops};

/// Builds the calendar of the drops before the laser.
///
/// # Errors
/// A text that is missing.
pub fn build(sheet: &Sheet) -> Built<Document> {
    let mut blocks = sheet.replaces()?;
    let when = sheet.when(sheet.plan.anchors.starts)?;
    blocks.push(Block::Lead { text: sheet.inline("drops_before.laser", &[("when", &when)])? });
    blocks.extend(calendar::boxes_before(sheet, "drops_before.how")?);
    blocks.extend(drops::when_needed(sheet, |drug| drug.began_before(&sheet.plan.anchors))?);
    blocks.push(sheet.paragraph("drops_before.call", &[])?);
    blocks.push(Block::Pairs { items: sheet.phone_pairs()? });
    sheet.document(Page::DropsBefore, sheet.text("drops_before.title", &[])?, blocks)
}
