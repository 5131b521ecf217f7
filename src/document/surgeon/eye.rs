//! The eye and the patient as recorded.

use super::treatment;
use super::words::{drugs, pairs};
use crate::document::sheet::{Built, Sheet, literal};
use crate::document::{Block, Pair};
use crate::facts::Moment;
use crate::record::known::{Answer, Known};
use crate::record::profile::Labels;

/// On page 1: when, the recheck, then allergies, medicines and drops in use.
pub(super) fn special(sheet: &Sheet) -> Built<Block> {
    Ok(Block::Pairs { items: [treatment::plan(sheet)?, health(sheet)?].concat() })
}

/// What else is recorded of the eye, each said or called not recorded.
pub(super) fn recorded(sheet: &Sheet) -> Built<Block> {
    const SHOWN: &[&str] = &[
        "implant_optic",
        "implant_toric",
        "capsule",
        "opening_mm",
        "axial_length_mm",
        "pupil",
        "cornea",
        "lens_clarity",
        "floater_kind",
        "complaint_months",
        "sudden",
        "measured",
        "detachment_months",
        "examination_days",
        "indentation",
        "breaks",
        "breaks_treated",
        "new_signs",
        "contact_lenses",
    ];
    let mut items = pairs(sheet, SHOWN)?;
    items.push(sheet.pair("surgeon.regimen", sheet.inline("surgeon.regimen_value", &[])?)?);
    items.push(sheet.pair("surgeon.labels", sheet.inline(labels(sheet.profile.practice.labels), &[])?)?);
    Ok(Block::Pairs { items })
}

/// Allergies, medicines, drops in use and in the clinic: each listed, said to be none, or said to be not recorded.
fn health(sheet: &Sheet) -> Built<Vec<Pair>> {
    let health = &sheet.record.health;
    let locale = &sheet.content.locale;
    let list = |items: &[String]| locale.list(items.iter().map(String::as_str));
    let unknown = || sheet.text("word.any.unknown", &[]);
    let none = || sheet.text("surgeon.none_listed", &[]);
    let allergies = match (health.allergies.is_empty(), health.allergies_asked) {
        (false, _) => list(&health.allergies),
        (true, Answer::Yes) => none()?,
        (true, _) => unknown()?,
    };
    let recorded = |entries: &Known<Vec<String>>| match entries.as_ref() {
        None => unknown(),
        Some(entries) if entries.is_empty() => none(),
        Some(entries) => Ok(list(entries)),
    };
    let eye_drops = recorded(&health.eye_drops)?;
    let medicines = recorded(&health.medicines)?;
    let clinic: Vec<String> =
        [&sheet.record.plan.dilating, &sheet.record.plan.numbing].into_iter().flatten().cloned().collect();
    let clinic = if clinic.is_empty() { none()? } else { list(&drugs(sheet, &clinic)?) };
    let mut items = vec![
        sheet.pair("surgeon.allergies", literal(&allergies))?,
        sheet.pair("surgeon.medicines", literal(&medicines))?,
        sheet.pair("surgeon.eye_drops", literal(&eye_drops))?,
        sheet.pair("surgeon.clinic_drops", literal(&clinic))?,
    ];
    if let Some(done) = sheet.record.treatment.as_ref().filter(|_| sheet.moment == Moment::After) {
        let doses = treatment::given(sheet, done)?;
        let doses = if doses.is_empty() { none()? } else { list(&doses) };
        items.push(sheet.pair("surgeon.given", literal(&doses))?);
    }
    Ok(items)
}

/// Which drug labels the levels of the drug rules follow.
fn labels(labels: Labels) -> &'static str {
    match labels {
        Labels::Us => "surgeon.labels_us",
        Labels::EuUk => "surgeon.labels_eu_uk",
        Labels::Stricter => "surgeon.labels_stricter",
    }
}
