//! What nobody needs to decide: further numbers, sources, who keeps the data and who answers for these pages.

use super::super::Block;
use super::super::part::Part;
use super::super::sheet::{Built, Sheet};
use super::decide::check;

/// Sources by number, then who keeps the patient's data and who answers for these pages: what nobody needs to decide.
pub(super) fn blocks(sheet: &Sheet) -> Built<Vec<Block>> {
    let notices = &sheet.profile.notices;
    let mut blocks = vec![Block::Annex];
    blocks.extend(sheet.section("consent", "more")?);
    blocks.extend([
        sheet.heading("page.references")?,
        sheet.paragraph("page.references_how", &[])?,
        Part::References.block(),
        Block::References { items: sheet.content.references()? },
    ]);
    let privacy = sheet.notice(Part::Privacy, "consent.privacy", notices.privacy.as_ref())?;
    let imprint = sheet.notice(Part::Imprint, "consent.imprint", notices.imprint.as_ref())?;
    let about: Vec<Block> = privacy.into_iter().chain(imprint).chain(texts(sheet)?).collect();
    if !about.is_empty() {
        blocks.push(sheet.heading("consent.about")?);
        blocks.extend(about);
    }
    let blanks = ["sign.signature", "sign.date", "sign.time"];
    blocks.push(Block::Checklist { items: vec![check(sheet, Part::Withdrawal, "consent.withdrawn", &blanks)?] });
    Ok(blocks)
}

/// Which version of the texts this is, and who confirmed it.
fn texts(sheet: &Sheet) -> Built<Option<Block>> {
    let Some(confirmation) = &sheet.profile.confirmation else { return Ok(None) };
    let date = sheet.content.locale.date(confirmation.on.0);
    let values = [("hash", confirmation.version()), ("by", &confirmation.clinician), ("date", &date)];
    let version = sheet.pair("consent.texts", sheet.inline("consent.texts_value", &values)?)?;
    Ok(Some(Block::Pairs { items: vec![version] }))
}
