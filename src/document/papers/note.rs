//! The procedure note for the chart: who did what to which eye, how, with what result, and what the patient was told.

use super::parts::{self, fact, list, not_recorded, recorded};
use crate::document::sheet::{Built, Sheet, literal};
use crate::document::surgeon::{treatment, words};
use crate::document::{Block, Document, Inlines, Page, Pair, visits};
use crate::facts::energy::row_mj;
use crate::record::course::{Helper, PulseRow, Treatment};

/// Builds the procedure note of a treatment that is done.
///
/// # Errors
/// A text that is missing.
pub fn build(sheet: &Sheet, done: &Treatment) -> Built<Document> {
    let mut blocks: Vec<Block> = parts::open(sheet)?.into_iter().collect();
    blocks.push(Block::Pairs { items: who(sheet, done)? });
    blocks.push(sheet.heading("note.done")?);
    blocks.push(Block::Pairs { items: short(sheet)? });
    blocks.push(Block::Pairs { items: long(sheet, done)? });
    blocks.push(treatment::pressure_table(sheet, done)?);
    blocks.push(Block::Pairs { items: after(sheet, done)? });
    blocks.push(Block::Pairs { items: visits::for_clinicians(sheet)? });
    blocks.push(parts::signed(sheet, "paper.signature", Some("note.sentence"))?);
    sheet.document(Page::Note, sheet.text("note.title", &[])?, blocks)
}

/// When, where, by whom, and why.
fn who(sheet: &Sheet, done: &Treatment) -> Built<Vec<Pair>> {
    let locale = &sheet.content.locale;
    let date = locale.full_date(done.ended().0.date());
    let when = match done.last_pulse {
        Some(at) => sheet.text("note.when_value", &[("date", &date), ("time", &locale.time(at.0.time())?)])?,
        None => sheet.text("note.when_none", &[("date", &date)])?,
    };
    let place = &sheet.record.plan.place;
    Ok(vec![
        sheet.pair("note.when", literal(&format!("{when}, {}", locale.set_apart(place))))?,
        sheet.pair("desk.surgeon_name", by(sheet)?)?,
        sheet.pair("note.indication", sheet.inline("consent.why_value", &[])?)?,
    ])
}

/// The surgeon with the role, and who else did part of it.
fn by(sheet: &Sheet) -> Built<Inlines> {
    let helpers = sheet.record.plan.helpers.iter().map(|helper| match helper {
        Helper::Doctor => sheet.text("note.helper_doctor", &[]),
        Helper::Staff => sheet.text("note.helper_staff", &[]),
    });
    let helpers = helpers.collect::<Built<Vec<_>>>()?;
    match helpers.is_empty() {
        true => sheet.inline("note.by", &[]),
        false => sheet.inline("note.by_with", &[("helpers", &list(sheet, &helpers))]),
    }
}

/// What is said in a word or a number, in two columns.
fn short(sheet: &Sheet) -> Built<Vec<Pair>> {
    let mut items = Vec::new();
    for name in ["identity_checked", "consent_seen", "paused", "signs_told", "pages_given", "illumination"] {
        items.push(fact(sheet, &format!("fact.{name}"), name)?);
    }
    items.push(sheet.pair("fact.offset_mm", offset(sheet)?)?);
    items.push(fact(sheet, "fact.breakdown_mj", "breakdown_mj")?);
    let burst = sheet.record.procedure.pulses_a_burst.value();
    let burst = burst.map(|pulses| literal(&sheet.content.locale.number(f64::from(pulses), 0)));
    items.push(sheet.pair("fact.pulses_a_burst", burst.map_or_else(|| not_recorded(sheet), Ok)?)?);
    items.push(fact(sheet, "fact.floater_kind", "floater_kind")?);
    Ok(items)
}

/// How far the treatment beam met behind or in front of the aiming beam.
fn offset(sheet: &Sheet) -> Built<Inlines> {
    let Some(mm) = sheet.record.procedure.offset_mm.value() else { return not_recorded(sheet) };
    let key = match mm {
        mm if mm > 0.0 => "note.offset_behind",
        mm if mm < 0.0 => "note.offset_front",
        _ => "note.offset_none",
    };
    sheet.inline(key, &[("mm", &sheet.content.locale.number(mm.abs(), 3))])
}

/// What is said in words: energy, drops, contact lens, target, and how it ended.
fn long(sheet: &Sheet, done: &Treatment) -> Built<Vec<Pair>> {
    let procedure = &sheet.record.procedure;
    let ended = match &done.stopped {
        Some(why) => sheet.inline("note.stopped", &[("why", why)])?,
        None => recorded(sheet, procedure.end_point.as_ref())?,
    };
    Ok(vec![
        sheet.pair("letter.energy", energy(sheet, done)?)?,
        sheet.pair("surgeon.clinic_drops", prepared(sheet)?)?,
        sheet.pair("note.contact_lens", recorded(sheet, procedure.contact_lens.as_ref())?)?,
        sheet.pair("note.target", recorded(sheet, procedure.target.as_ref())?)?,
        sheet.pair("note.ended", ended)?,
    ])
}

/// The dilating and numbing drops as planned, and whether they were given so.
fn prepared(sheet: &Sheet) -> Built<Inlines> {
    let plan = &sheet.record.plan;
    let keys: Vec<String> = plan.dilating.iter().chain(&plan.numbing).cloned().collect();
    if keys.is_empty() {
        return sheet.inline("note.drops_unplanned", &[]);
    }
    let drops = list(sheet, &words::drugs(sheet, &keys)?);
    sheet.inline(&format!("note.drops_{}", sheet.facts.choice("drops_given")), &[("drops", &drops)])
}

/// All of the energy, and each of its rows.
fn energy(sheet: &Sheet, done: &Treatment) -> Built<Inlines> {
    if done.rows.is_empty() {
        return sheet.inline("letter.no_pulse", &[]);
    }
    let locale = &sheet.content.locale;
    let row = |pulses: &PulseRow| {
        let (count, mj) = (locale.number(f64::from(pulses.pulses), 0), locale.number(pulses.pulse_energy_mj, 2));
        let row = format!("{count} × {mj} mJ = {} mJ", locale.number(row_mj(pulses), 1));
        locale.set_apart(&row.replace(' ', "\u{a0}"))
    };
    let rows: Vec<String> = done.rows.iter().map(row).collect();
    Ok(literal(&format!("{} ({})", sheet.text("letter.energy_value", &[])?, rows.join("; "))))
}

/// What happened, and what was given.
fn after(sheet: &Sheet, done: &Treatment) -> Built<Vec<Pair>> {
    let none = || sheet.inline("note.none", &[]);
    let events: Vec<String> = done.events.iter().map(|event| event.what.clone()).collect();
    let events = if events.is_empty() { none()? } else { literal(&list(sheet, &events)) };
    let given = treatment::given(sheet, done)?;
    let given = if given.is_empty() { none()? } else { literal(&list(sheet, &given)) };
    Ok(vec![sheet.pair("note.events", events)?, sheet.pair("surgeon.given", given)?])
}
