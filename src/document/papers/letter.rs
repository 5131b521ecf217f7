//! Letters to doctors: to the one who referred the patient, and, urgent, to a retina specialist.

use super::parts::{self, list, not_recorded};
use crate::document::sheet::{Built, Sheet, literal};
use crate::document::surgeon::words;
use crate::document::{Block, Check, Document, Inline, Inlines, Page, Pair, Weight, drops, visits};
use crate::plan::{DrugUse, Step};
use crate::record::course::Treatment;
use crate::record::letters::Correspondent;

/// Up to so many events stand above what is asked.
const FEW: usize = 3;

/// Builds the letter to the doctor who referred the patient: first what is asked of the reader, then the visits, then what was
/// done. The signs to send back for are those of the patient's card.
///
/// # Errors
/// A text that is missing.
pub fn build(sheet: &Sheet, done: &Treatment) -> Built<Document> {
    let mut blocks = head(sheet, sheet.record.letters.referred_by.as_ref(), "letter.no_referrer")?;
    let (first, later) = events(sheet, done)?;
    blocks.extend(first);
    blocks.extend(asked(sheet)?);
    blocks.push(Block::Notice {
        weight: Weight::Light,
        title: sheet.text("letter.signs", &[])?,
        text: sheet.inline("card.signs", &[])?,
    });
    blocks.push(Block::Pairs { items: sheet.phone_pairs()? });
    blocks.push(sheet.heading("letter.visits")?);
    blocks.push(Block::Pairs { items: visits::for_clinicians(sheet)? });
    blocks.push(sheet.heading("letter.done")?);
    blocks.extend(later);
    blocks.push(Block::Pairs { items: what(sheet, done)? });
    blocks.extend(own_words(sheet)?);
    blocks.push(parts::signed(sheet, "letter.closing", None)?);
    sheet.document(Page::Letter, sheet.text("letter.title", &[])?, blocks)
}

/// Builds the urgent letter to a retina specialist: why and what is asked, then what is known of the eye.
///
/// # Errors
/// A text that is missing.
pub fn urgent(sheet: &Sheet, done: Option<&Treatment>) -> Built<Document> {
    let mut blocks = head(sheet, sheet.record.letters.specialist.as_ref(), "letter.no_specialist")?;
    blocks.push(sheet.heading("letter.why")?);
    blocks.extend(sheet.body(&sheet.content.section("why").collect::<Vec<_>>())?);
    let (first, later) = done.map(|done| events(sheet, done)).transpose()?.unwrap_or_default();
    blocks.extend(first);
    blocks.extend(asked(sheet)?);
    blocks.push(Block::Pairs { items: sheet.phone_pairs()? });
    blocks.push(phoned(sheet)?);
    blocks.push(sheet.heading("letter.eye")?);
    blocks.extend(later);
    blocks.push(Block::Pairs { items: of_eye(sheet)? });
    if let Some(done) = done {
        blocks.push(Block::Pairs { items: what(sheet, done)? });
    }
    blocks.extend(own_words(sheet)?);
    blocks.push(parts::signed(sheet, "letter.closing", None)?);
    sheet.document(Page::UrgentLetter, sheet.text("letter.title_urgent", &[])?, blocks)
}

/// What the reader is asked to do.
fn asked(sheet: &Sheet) -> Built<Vec<Block>> {
    let mut blocks = vec![sheet.heading("letter.ask")?];
    blocks.extend(sheet.body(&sheet.content.section("ask").collect::<Vec<_>>())?);
    Ok(blocks)
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
    let from = sheet.inline("letter.from_value", &[("practice", &locale.set_apart(&from))])?;
    let mut blocks: Vec<Block> = parts::open_in_letter(sheet)?.into_iter().collect();
    blocks.push(Block::Pairs { items: vec![sheet.pair("letter.to", reader)?, sheet.pair("letter.from", from)?] });
    blocks.extend(sheet.body(&sheet.content.section("lead").collect::<Vec<_>>())?);
    Ok(blocks)
}

/// Energy, pressures, drops and medicines; the date stands in the message.
fn what(sheet: &Sheet, done: &Treatment) -> Built<Vec<Pair>> {
    let energy = if done.rows.is_empty() { "letter.no_pulse" } else { "letter.energy_value" };
    let mut items = vec![
        sheet.pair("letter.energy", sheet.inline(energy, &[])?)?,
        sheet.pair("letter.pressure", literal(&list(sheet, &pressures(sheet, done)?)))?,
    ];
    items.push(sheet.pair("letter.drops", at_home(sheet)?)?);
    items.push(sheet.pair("letter.medicines", medicines(sheet)?)?);
    Ok(items)
}

/// Each pressure of the day; the label has the unit.
fn pressures(sheet: &Sheet, done: &Treatment) -> Built<Vec<String>> {
    let locale = &sheet.content.locale;
    let unknown = || sheet.text("word.any.unknown", &[]);
    let mmhg = |mmhg: Option<f64>| match mmhg {
        Some(mmhg) => Ok(locale.number(mmhg, 1)),
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

/// What happened during the laser, seen before all numbers: at the top, or after what is asked where it takes much room.
fn events(sheet: &Sheet, done: &Treatment) -> Built<(Option<Block>, Option<Block>)> {
    let events: Vec<String> = done.events.iter().map(|event| event.what.clone()).collect();
    if events.is_empty() {
        return Ok((None, None));
    }
    let (title, text) = (sheet.text("letter.events", &[])?, literal(&list(sheet, &events)));
    let told = Some(Block::Notice { weight: Weight::Heavy, title, text });
    Ok(if events.len() <= FEW { (told, None) } else { (None, told) })
}

/// Each drop at home with how often and until when; that they are not settled while the plan is withheld.
fn at_home(sheet: &Sheet) -> Built<Inlines> {
    if sheet.withheld.is_some() {
        return sheet.inline("letter.drops_withheld", &[]);
    }
    let drops = sheet.plan.uses.iter().map(|planned| course(sheet, planned)).collect::<Built<Vec<_>>>()?;
    if drops.is_empty() { sheet.inline("letter.drops_none", &[]) } else { Ok(drops.join(&Inline::Text("; ".into()))) }
}

/// A drug with each step and its last day; of one that is stepped down the first step and the last day alone, since the calendar of the
/// patient has the others.
fn course(sheet: &Sheet, planned: &DrugUse) -> Built<Inlines> {
    let drug = drops::name(drops::drug(sheet, &planned.drug)?);
    if planned.as_needed.is_some() {
        return sheet.inline("letter.drop_as_needed", &[("drug", &drug)]);
    }
    if let ([first, .., last], false) = (planned.steps.as_slice(), planned.goes_on)
        && planned.steps.is_sorted_by(|one, next| a_day(one) > a_day(next))
    {
        let (often, until) = (drops::often(sheet, first)?, sheet.content.locale.date(last.last));
        return sheet.inline("letter.drop_falls", &[("drug", &drug), ("often", &often), ("until", &until)]);
    }
    let last = planned.steps.len().saturating_sub(1);
    let steps = planned.steps.iter().enumerate().map(|(at, step)| match at == last {
        true if planned.goes_on => sheet.text("letter.drop_goes_on", &[("often", &drops::often(sheet, step)?)]),
        true => until(sheet, step, &sheet.content.locale.date(step.last)),
        false => until(sheet, step, &sheet.content.locale.day(step.last)),
    });
    let steps = list(sheet, &steps.collect::<Built<Vec<_>>>()?);
    sheet.inline("letter.drop", &[("drug", &drug), ("steps", &steps)])
}

/// Drops a day in a step, on average.
fn a_day(step: &Step) -> f64 {
    f64::from(step.per_day) / f64::from(step.every_days)
}

/// How often in a step, and its last day.
fn until(sheet: &Sheet, step: &Step, last: &str) -> Built<String> {
    let key = if step.counted { "letter.drop_counted" } else { "letter.drop_step" };
    sheet.text(key, &[("often", &drops::often(sheet, step)?), ("until", last)])
}

/// What was changed beside the drops of the regimen.
fn medicines(sheet: &Sheet) -> Built<Inlines> {
    match sheet.record.letters.medicines_changed.as_ref() {
        None => not_recorded(sheet),
        Some(changed) if changed.is_empty() => sheet.inline("letter.medicines_none", &[]),
        Some(changed) => Ok(literal(&sheet.content.locale.set_apart(&list(sheet, changed)))),
    }
}

/// What a retina specialist asks first. How long the vitreous is detached stands beside that it is.
fn of_eye(sheet: &Sheet) -> Built<Vec<Pair>> {
    let mut items = words::pairs(sheet, &["acuity", "lens", "axial_length_mm"])?;
    let weeks =
        sheet.facts.number("detachment_weeks").map(|weeks| sheet.content.locale.count("week", weeks)).transpose()?;
    for mut detachment in words::pairs(sheet, &["detachment"])? {
        detachment.value.extend(weeks.iter().map(|weeks| Inline::Text(format!(" ({weeks})"))));
        items.push(detachment);
    }
    items.extend(words::pairs(sheet, &["examination_days", "breaks", "new_signs"])?);
    Ok(items)
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
