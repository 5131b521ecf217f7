//! The card for the wallet: which eye had which treatment when, its lens, the warning signs and the phones. Whoever examines
//! the eye years later reads it; no name is printed on it.

use super::sheet::{Built, Sheet, literal};
use super::{Block, Card};
use crate::record::eye::Lens;

/// The card of a treatment that is done.
///
/// # Errors
/// A text that is missing.
pub(super) fn card(sheet: &Sheet) -> Built<Block> {
    let date = sheet.content.locale.date(sheet.plan.anchors.treatment);
    let items = vec![
        sheet.pair("card.date", literal(&date))?,
        sheet.pair("card.done", literal(&done(sheet)?))?,
        sheet.pair("card.lens", sheet.inline(lens(sheet), &[])?)?,
        sheet.pair("card.by", literal(sheet.profile.practice.name(&sheet.content.locale.tag)))?,
    ];
    Ok(Block::Card(Card {
        how: sheet.inline("card.how", &[])?,
        title: sheet.text("card.title", &[])?,
        eye: sheet.text(sheet.side("eye.right_cap", "eye.left_cap"), &[])?,
        eyes: sheet.record.eye.side.into(),
        items,
        name: sheet.text("card.name", &[])?,
        signs_title: sheet.text("card.signs_title", &[])?,
        signs: sheet.inline("card.signs", &[])?,
        phones: sheet.phones()?,
    }))
}

/// The treatment with its single pulses.
fn done(sheet: &Sheet) -> Built<String> {
    let pulses = sheet.facts.number("session_pulses").unwrap_or_default();
    sheet.text("card.done_value", &[("pulses", &sheet.content.locale.number(pulses, 0))])
}

/// The text of the lens, in words for patients.
fn lens(sheet: &Sheet) -> &'static str {
    match (sheet.record.eye.lens, sheet.facts.choice("implant_focus")) {
        (Lens::Natural, _) => "card.lens_natural",
        (Lens::None, _) => "card.lens_none",
        (Lens::Unknown, _) => "card.lens_unknown",
        (Lens::Implant, "monofocal") => "card.lens_one_focus",
        (Lens::Implant, "unknown") => "card.lens_implant",
        (Lens::Implant, _) => "card.lens_foci",
    }
}
