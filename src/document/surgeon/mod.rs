//! The surgeon sheet. Page 1 alone is enough just before the laser: may I treat this eye, within which limits, what is special.
//! Behind it stands why, on what it rests, and what was chosen for the patient.

mod drawing;
mod eye;
mod origin;
pub(super) mod treatment;
mod verdict;
pub(super) mod words;

use super::sheet::{Built, Sheet};
use super::{Block, Document, Page};
use crate::content::Library;
use crate::content::catalog::PatientPage;
use crate::content::jurisdiction::Jurisdiction;
use crate::content::tailor;
use crate::facts::Moment;

/// Builds the surgeon sheet for the patient's `page` of this moment.
///
/// # Errors
/// A text that is missing.
pub fn build(sheet: &Sheet, library: &Library, page: PatientPage, jurisdiction: &Jurisdiction) -> Built<Document> {
    let mut blocks = front(sheet)?;
    blocks.push(Block::PageBreak);
    blocks.extend(behind(sheet)?);
    let chosen = tailor::choose(library, sheet.facts, page, &sheet.record.tailoring)?;
    blocks.extend(origin::statements(sheet, &chosen)?);
    if sheet.moment == Moment::Before {
        blocks.push(origin::elements(sheet, jurisdiction)?);
    }
    blocks.extend(origin::evidence(sheet, library, &chosen)?);
    blocks.push(origin::confirmation(sheet)?);
    blocks.push(sheet.paragraph("surgeon.caution", &[])?);
    sheet.document(Page::Surgeon, sheet.text("surgeon.title", &[])?, blocks)
}

/// Page 1. Once the treatment is done its energy and pressures take the place of the drawing.
fn front(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = vec![verdict::verdict(sheet)?];
    blocks.extend(verdict::released(sheet)?);
    blocks.extend(verdict::open(sheet)?);
    blocks.extend(match sheet.moment {
        Moment::Before => drawing::clearances(sheet)?,
        Moment::After => treatment::energy(sheet)?,
    });
    blocks.push(sheet.heading("surgeon.limits")?);
    blocks.push(treatment::limits(sheet)?);
    blocks.push(sheet.heading("surgeon.special")?);
    blocks.extend(verdict::cautions(sheet)?);
    blocks.push(eye::special(sheet)?);
    Ok(blocks)
}

/// What explains page 1.
fn behind(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = verdict::findings(sheet)?;
    blocks.extend(origin::answers(sheet)?);
    if sheet.moment == Moment::After {
        blocks.extend(drawing::clearances(sheet)?);
    }
    blocks.extend(drawing::second_focus(sheet)?);
    blocks.push(sheet.heading("surgeon.eye")?);
    blocks.push(eye::recorded(sheet)?);
    blocks.extend(treatment::sessions(sheet)?);
    Ok(blocks)
}
