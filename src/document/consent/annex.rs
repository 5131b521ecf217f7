//! What nobody needs to decide: further numbers, sources, who keeps the data and who answers for these pages.

use super::super::Block;
use super::super::part::Part;
use super::super::sheet::{Built, Sheet};

/// Further numbers, who keeps the patient's data and who answers for these pages, then sources by number.
pub(super) fn blocks(sheet: &Sheet) -> Built<Vec<Block>> {
    let notices = &sheet.profile.notices;
    let mut blocks = vec![Block::Annex];
    blocks.extend(sheet.section("consent", "more")?);
    let privacy = sheet.notice(Part::Privacy, "consent.privacy", notices.privacy.as_ref())?;
    let imprint = sheet.notice(Part::Imprint, "consent.imprint", notices.imprint.as_ref())?;
    let about: Vec<Block> = privacy.into_iter().chain(imprint).chain(texts(sheet)?).collect();
    if !about.is_empty() {
        blocks.push(sheet.heading("consent.about")?);
        blocks.extend(about);
    }
    blocks.extend([
        sheet.heading("page.references")?,
        Part::References.block(),
        Block::References { items: sheet.content.references()? },
    ]);
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
