//! The treatment as planned and as done: energy, pressures, events, earlier sessions.

use super::drawing::margin;
use super::words::pairs;
use crate::document::sheet::{Built, Sheet, literal};
use crate::document::{Block, Inline, Inlines, Pair, Weight, drops, visits};
use crate::facts::energy::{row_mj, session_mj};
use crate::facts::{Moment, pressure};
use crate::record::course::Treatment;

const LIMITS: &[&str] = &["lens_distance_mm", "retina_distance_mm", "enlarge_opening", "aiming"];
const BRIEF: &[&str] = &["lens", "implant_focus", "acuity", "pressure_mmhg", "detachment", "detachment_weeks"];

/// The limits of this session with the eye in brief: pulse, energy so far, margin, distances, opening.
pub(super) fn limits(sheet: &Sheet) -> Built<Block> {
    let locale = &sheet.content.locale;
    let energy = match sheet.record.plan.pulse_energy_mj.value() {
        None => sheet.inline("word.any.unknown", &[])?,
        Some(range) => {
            let (low, high) = (locale.number(range.lowest, 1), locale.number(range.highest, 1));
            sheet.inline("surgeon.energy_range", &[("low", &low), ("high", &high)])?
        }
    };
    let mut items = vec![
        sheet.pair("surgeon.energy", energy)?,
        sheet.pair("surgeon.energy_so_far", so_far(sheet)?)?,
        sheet.pair("surgeon.keep_free", literal(&format!("{} mm", locale.number(margin(sheet), 1))))?,
    ];
    items.extend(pairs(sheet, LIMITS)?);
    items.extend(pairs(sheet, BRIEF)?);
    Ok(Block::Pairs { items })
}

/// When the treatment is, the recheck, and why it was stopped if it was.
pub(super) fn plan(sheet: &Sheet) -> Built<Vec<Pair>> {
    let mut items = vec![
        sheet.pair("consent.when", literal(&sheet.when(sheet.record.plan.start.0)?))?,
        sheet.pair("surgeon.recheck", recheck(sheet)?)?,
    ];
    let why = sheet.record.treatment.as_ref().and_then(|done| done.stopped.as_deref()).unwrap_or_default();
    let key = match sheet.facts.choice("stopped") {
        "before_pulses" => "surgeon.stopped_none",
        "after_pulses" => "surgeon.stopped_part",
        _ => return Ok(items),
    };
    items.push(sheet.pair("surgeon.stopped", sheet.inline(key, &[("why", why)])?)?);
    Ok(items)
}

/// The energy of the earlier sessions on this eye; not known where one of them is not.
fn so_far(sheet: &Sheet) -> Built<Inlines> {
    let earlier = sheet.record.earlier_sessions.iter().map(|session| session.energy_mj.value());
    match earlier.sum::<Option<f64>>() {
        // A sum of nothing is a negative zero.
        Some(mj) => Ok(literal(&format!("{} mJ", sheet.content.locale.number(mj + 0.0, 1)))),
        None => sheet.inline("word.any.unknown", &[]),
    }
}

fn recheck(sheet: &Sheet) -> Built<Inlines> {
    let need = sheet.inline(&format!("surgeon.recheck_{}", sheet.facts.choice("recheck_need")), &[])?;
    let Some((at, place)) = visits::recheck_place(sheet)? else { return Ok(need) };
    let when = sheet.when(at)?;
    let mut text = need;
    text.push(Inline::Text(" ".into()));
    text.extend(sheet.inline("surgeon.recheck_at", &[("when", &when), ("place", &place)])?);
    Ok(text)
}

/// Earlier sessions on this eye: when, how much energy, and what they brought.
pub(super) fn sessions(sheet: &Sheet) -> Built<Option<Block>> {
    let locale = &sheet.content.locale;
    let rows = sheet.record.earlier_sessions.iter().map(|session| {
        let unknown = || sheet.inline("word.any.unknown", &[]);
        let energy = session.energy_mj.value().map(|mj| literal(&locale.number(mj, 1)));
        let result = session.result.as_ref().map(|result| literal(result));
        Ok(vec![
            literal(&locale.date(session.date.0)),
            energy.map_or_else(unknown, Ok)?,
            result.map_or_else(unknown, Ok)?,
        ])
    });
    let rows = rows.collect::<Built<Vec<_>>>()?;
    let caption = sheet.text("surgeon.sessions", &[])?;
    let table =
        || sheet.table(caption, &["surgeon.on", "surgeon.mj", "surgeon.session_result"], &[2, 1, 4], rows.clone());
    (!rows.is_empty()).then(table).transpose()
}

/// Energy as done, row by row, and added up.
pub(super) fn energy(sheet: &Sheet) -> Built<Vec<Block>> {
    let Some(done) = sheet.record.treatment.as_ref().filter(|_| sheet.moment == Moment::After) else {
        return Ok(Vec::new());
    };
    let locale = &sheet.content.locale;
    let total_pulses: u32 = done.rows.iter().map(|row| row.pulses).sum();
    let row = |head: String, pulses: u32, mj: f64| {
        vec![literal(&head), literal(&locale.number(f64::from(pulses), 0)), literal(&locale.number(mj, 1))]
    };
    let mut rows: Vec<Vec<Inlines>> = done
        .rows
        .iter()
        .map(|pulses| row(locale.number(pulses.pulse_energy_mj, 1), pulses.pulses, row_mj(pulses)))
        .collect();
    rows.push(row(sheet.text("surgeon.energy_session", &[])?, total_pulses, session_mj(done)));
    let mut blocks = vec![sheet.table(
        sheet.text("surgeon.energy_done", &[])?,
        &["surgeon.pulse_mj", "surgeon.pulses", "surgeon.mj"],
        &[2, 1, 1],
        rows,
    )?];
    let total = sheet.facts.number("eye_energy_mj").map(|mj| locale.number(mj, 1));
    blocks.push(match (&total, sheet.record.earlier_sessions.len()) {
        (Some(total), count) => {
            sheet.paragraph("surgeon.energy_eye", &[("mj", total), ("earlier", &locale.number(count as f64, 0))])?
        }
        (None, _) => sheet.paragraph("surgeon.energy_eye_unknown", &[])?,
    });
    blocks.extend(pressures(sheet, done)?);
    for event in &done.events {
        blocks.push(Block::Notice {
            weight: Weight::Heavy,
            title: sheet.text("surgeon.event", &[])?,
            text: literal(&event.what),
        });
    }
    Ok(blocks)
}

/// The next step by the last pressure of the day; then each with its rise and what the practice's limits make of it. What to give
/// is not said: that is the surgeon's.
fn pressures(sheet: &Sheet, done: &Treatment) -> Built<Vec<Block>> {
    let mut next = sheet.inline(&format!("surgeon.pressure_{}", sheet.facts.choice("pressure_level")), &[])?;
    next.push(Inline::Text(" ".into()));
    next.extend(sheet.inline("surgeon.pressure_limits", &[])?);
    Ok(vec![Block::Paragraph { text: next }, pressure_table(sheet, done)?])
}

/// Each pressure of the day with its rise and what the practice's limits make of it.
pub(in crate::document) fn pressure_table(sheet: &Sheet, done: &Treatment) -> Built<Block> {
    let locale = &sheet.content.locale;
    let unknown = || sheet.inline("word.any.unknown", &[]);
    let mmhg = |value: Option<f64>| match value {
        Some(mmhg) => Ok(literal(&format!("{} mmHg", locale.number(mmhg, 1)))),
        None => unknown(),
    };
    let before = done.pressure_before_mmhg.value();
    let mut rows =
        vec![vec![sheet.inline("fact.pressure_before_mmhg", &[])?, mmhg(before)?, literal("–"), literal("–")]];
    let readings = pressure::readings(Some(done), sheet.profile);
    if readings.iter().all(|reading| reading.recheck.is_some()) {
        rows.push(vec![sheet.inline("fact.pressure_after_mmhg", &[])?, unknown()?, literal("–"), literal("–")]);
    }
    for reading in &readings {
        let what = match reading.recheck {
            None => sheet.inline("fact.pressure_after_mmhg", &[])?,
            Some(at) => sheet.inline("surgeon.pressure_recheck", &[("time", &locale.time(at.time())?)])?,
        };
        let level = sheet.inline(&format!("word.pressure_level.{}", reading.level.word()), &[])?;
        rows.push(vec![what, mmhg(Some(reading.mmhg))?, mmhg(reading.rise_mmhg)?, level]);
    }
    sheet.table(
        sheet.text("surgeon.pressures", &[])?,
        &["surgeon.measured", "surgeon.pressure", "surgeon.rise", "surgeon.by_limits"],
        &[4, 2, 2, 4],
        rows,
    )
}

/// Each dose of the regimen that was given in the clinic, with its time.
pub(in crate::document) fn given(sheet: &Sheet, done: &Treatment) -> Built<Vec<String>> {
    let doses = done.clinic_doses.iter().map(|dose| {
        let (drug, time) = (drops::drug(sheet, &dose.drug)?.shown_name(), sheet.content.locale.time(dose.at.0.time())?);
        sheet.text("surgeon.given_dose", &[("drug", &drug), ("time", &time)])
    });
    doses.collect()
}
