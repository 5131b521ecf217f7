//! Letters to doctors: to the one who referred the patient, and, urgent, to a retina specialist.

use super::parts::{self, list, not_recorded};
use crate::document::sheet::{Built, Sheet, literal};
use crate::document::surgeon::words;
use crate::document::{Block, Check, Document, Inlines, Page, Pair, Weight, drops, visits};
use crate::plan::DrugUse;
use crate::record::course::Treatment;
use crate::record::letters::Correspondent;

/// Builds the letter to the doctor who referred the patient. The signs to send back for are those of the patient's card.
///
/// # Errors
/// A text that is missing.
pub fn build(sheet: &Sheet, done: &Treatment) -> Built<Document> {
    let mut blocks = head(sheet, sheet.record.letters.referred_by.as_ref(), "letter.no_referrer")?;
    blocks.extend(events(sheet, done)?);
    blocks.push(Block::Pairs { items: what(sheet, done)? });
    blocks.push(sheet.heading("letter.visits")?);
    blocks.push(Block::Pairs { items: visits::for_clinicians(sheet)? });
    blocks.extend(sheet.body(&sheet.content.section("ask").collect::<Vec<_>>())?);
    blocks.push(Block::Notice {
        weight: Weight::Light,
        title: sheet.text("letter.signs", &[])?,
        text: sheet.inline("card.signs", &[])?,
    });
    blocks.push(Block::Pairs { items: sheet.phone_pairs()? });
    blocks.extend(own_words(sheet)?);
    blocks.push(parts::signed(sheet, "letter.closing", None)?);
    sheet.document(Page::Letter, sheet.text("letter.title", &[])?, blocks)
}

/// Builds the urgent letter to a retina specialist: why, then what is known of the eye.
///
/// # Errors
/// A text that is missing.
pub fn urgent(sheet: &Sheet, done: Option<&Treatment>) -> Built<Document> {
    let mut blocks = head(sheet, sheet.record.letters.specialist.as_ref(), "letter.no_specialist")?;
    blocks.push(sheet.heading("letter.why")?);
    blocks.extend(sheet.body(&sheet.content.section("why").collect::<Vec<_>>())?);
    blocks.extend(done.map(|done| events(sheet, done)).transpose()?.flatten());
    blocks.push(sheet.heading("letter.eye")?);
    let mut items = done.map(|done| what(sheet, done)).transpose()?.unwrap_or_default();
    items.extend(of_eye(sheet)?);
    blocks.push(Block::Pairs { items });
    blocks.extend(sheet.body(&sheet.content.section("ask").collect::<Vec<_>>())?);
    blocks.push(Block::Pairs { items: sheet.phone_pairs()? });
    blocks.extend(own_words(sheet)?);
    blocks.push(phoned(sheet)?);
    blocks.push(parts::signed(sheet, "letter.closing", None)?);
    sheet.document(Page::UrgentLetter, sheet.text("letter.title_urgent", &[])?, blocks)
}

/// What is open, to whom, from whom, and the message.
fn head(sheet: &Sheet, to: Option<&Correspondent>, nobody: &str) -> Built<Vec<Block>> {
    let locale = &sheet.content.locale;
    let reader = match to {
        Some(to) => literal(&locale.set_apart(&[&[to.name.clone()][..], &to.address].concat().join(", "))),
        None => sheet.inline(nobody, &[])?,
    };
    let practice = &sheet.profile.practice;
    let from = format!("{}, {}", practice.name(&locale.tag), practice.address(&locale.tag));
    let from = format!("{}; {}", sheet.text("paper.signs", &[])?, locale.set_apart(&from));
    let mut blocks: Vec<Block> = parts::open(sheet)?.into_iter().collect();
    blocks.push(Block::Pairs {
        items: vec![sheet.pair("letter.to", reader)?, sheet.pair("letter.from", literal(&from))?],
    });
    blocks.extend(sheet.body(&sheet.content.section("lead").collect::<Vec<_>>())?);
    Ok(blocks)
}

/// Date, energy, pressures, drops and medicines.
fn what(sheet: &Sheet, done: &Treatment) -> Built<Vec<Pair>> {
    let date = sheet.content.locale.full_date(done.ended().0.date());
    let energy = if done.rows.is_empty() { "letter.no_pulse" } else { "letter.energy_value" };
    let mut items = vec![
        sheet.pair("letter.when", literal(&date))?,
        sheet.pair("letter.energy", sheet.inline(energy, &[])?)?,
        sheet.pair("letter.pressure", literal(&list(sheet, &pressures(sheet, done)?)))?,
    ];
    items.push(sheet.pair("letter.drops", at_home(sheet)?)?);
    items.push(sheet.pair("letter.medicines", medicines(sheet)?)?);
    Ok(items)
}

/// Each pressure of the day.
fn pressures(sheet: &Sheet, done: &Treatment) -> Built<Vec<String>> {
    let locale = &sheet.content.locale;
    let unknown = || sheet.text("word.any.unknown", &[]);
    let mmhg = |mmhg: Option<f64>| match mmhg {
        Some(mmhg) => Ok(format!("{} mmHg", locale.number(mmhg, 1))),
        None => unknown(),
    };
    let mut said = vec![sheet.text("letter.pressure_before", &[("mmhg", &mmhg(done.pressure_before_mmhg.value())?)])?];
    said.push(sheet.text("letter.pressure_after", &[("mmhg", &mmhg(done.pressure_after_mmhg.value())?)])?);
    for recheck in &done.rechecks {
        let (time, mmhg) = (locale.time(recheck.at.0.time())?, mmhg(Some(recheck.pressure_mmhg))?);
        said.push(sheet.text("letter.pressure_recheck", &[("time", &time), ("mmhg", &mmhg)])?);
    }
    Ok(said)
}

/// What happened during the laser, seen before all numbers.
fn events(sheet: &Sheet, done: &Treatment) -> Built<Option<Block>> {
    let events: Vec<String> = done.events.iter().map(|event| event.what.clone()).collect();
    let (title, text) = (sheet.text("letter.events", &[])?, literal(&list(sheet, &events)));
    Ok((!events.is_empty()).then_some(Block::Notice { weight: Weight::Heavy, title, text }))
}

/// Each drop at home with how often and until when; that they are not settled while the plan is withheld.
fn at_home(sheet: &Sheet) -> Built<Inlines> {
    if sheet.withheld.is_some() {
        return sheet.inline("letter.drops_withheld", &[]);
    }
    let drops = sheet.plan.uses.iter().map(|planned| course(sheet, planned)).collect::<Built<Vec<_>>>()?;
    if drops.is_empty() { sheet.inline("letter.drops_none", &[]) } else { Ok(literal(&drops.join("; "))) }
}

fn course(sheet: &Sheet, planned: &DrugUse) -> Built<String> {
    let drug = drops::name(drops::drug(sheet, &planned.drug)?);
    if planned.as_needed.is_some() {
        return sheet.text("letter.drop_as_needed", &[("drug", &drug)]);
    }
    let often = planned.steps.iter().map(|step| drops::often(sheet, step)).collect::<Built<Vec<_>>>()?;
    let key = if planned.goes_on { "letter.drop_goes_on" } else { "letter.drop" };
    let until = sheet.content.locale.date(planned.last);
    sheet.text(key, &[("drug", &drug), ("often", &list(sheet, &often)), ("until", &until)])
}

/// What was changed beside the drops of the regimen.
fn medicines(sheet: &Sheet) -> Built<Inlines> {
    match sheet.record.letters.medicines_changed.as_ref() {
        None => not_recorded(sheet),
        Some(changed) if changed.is_empty() => sheet.inline("letter.medicines_none", &[]),
        Some(changed) => Ok(literal(&sheet.content.locale.set_apart(&list(sheet, changed)))),
    }
}

/// What a retina specialist asks first.
fn of_eye(sheet: &Sheet) -> Built<Vec<Pair>> {
    words::pairs(sheet, &["acuity", "lens", "axial_length_mm", "detachment", "detachment_weeks", "breaks", "new_signs"])
}

/// The surgeon's own words to the reader, if there are any.
fn own_words(sheet: &Sheet) -> Built<Vec<Block>> {
    let words = &sheet.record.letters.words;
    if words.is_empty() {
        return Ok(Vec::new());
    }
    let mut blocks = vec![sheet.heading("letter.words")?];
    blocks.extend(words.iter().map(|text| sheet.own_words(text)));
    Ok(blocks)
}

/// Room to note who was told by phone: an urgent letter alone may lie.
fn phoned(sheet: &Sheet) -> Built<Block> {
    let blanks = ["sign.name", "sign.date", "sign.time"].iter().map(|key| sheet.text(key, &[]));
    let (text, blanks) = (sheet.inline("letter.phoned", &[])?, blanks.collect::<Built<_>>()?);
    Ok(Block::Checklist { items: vec![Check { text, blanks }] })
}
