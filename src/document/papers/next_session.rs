//! The plan of a further session: when, what remains, what the sessions so far gave in energy and result, and what changes.

use chrono::{Days, NaiveDate};

use super::parts::{self, not_recorded, recorded};
use crate::document::sheet::{Built, Sheet, literal};
use crate::document::{Block, Document, Inlines, Page, Weight};
use crate::facts::energy::session_mj;
use crate::record::course::Treatment;
use crate::record::known::Known;
use crate::record::next_session::NextSession;

/// Builds the plan of the session that follows a treatment that is done.
///
/// # Errors
/// A text that is missing.
pub fn build(sheet: &Sheet, done: &Treatment, next: &NextSession) -> Built<Document> {
    let mut blocks: Vec<Block> = parts::open(sheet)?.into_iter().collect();
    blocks.extend(soon(sheet, next)?);
    blocks.push(Block::Pairs {
        items: vec![
            sheet.pair("next_session.interval", interval(sheet, done, next)?)?,
            sheet.pair("next_session.remains", recorded(sheet, next.remains.as_ref())?)?,
            sheet.pair("next_session.changes", recorded(sheet, next.changes.as_ref())?)?,
        ],
    });
    blocks.push(sessions(sheet, done, next)?);
    blocks.push(energy(sheet)?);
    blocks.extend(sheet.body(&sheet.content.section("before").collect::<Vec<_>>())?);
    blocks.push(parts::signed(sheet, "paper.signature", None)?);
    sheet.document(Page::NextSession, sheet.text("next_session.title", &[])?, blocks)
}

/// That the interval is shorter than the practice's own.
fn soon(sheet: &Sheet, next: &NextSession) -> Built<Option<Block>> {
    let least = sheet.profile.thresholds.session_wait_weeks;
    let notice = |weeks: u32| {
        let (weeks, least) = (in_weeks(sheet, weeks)?, in_weeks(sheet, least)?);
        Ok(Block::Notice {
            weight: Weight::Heavy,
            title: sheet.text("next_session.soon", &[])?,
            text: sheet.inline("next_session.soon_text", &[("weeks", &weeks), ("least", &least)])?,
        })
    };
    next.after_weeks.value().filter(|weeks| *weeks < least).map(notice).transpose()
}

/// The weeks with the date from which they are over.
fn interval(sheet: &Sheet, done: &Treatment, next: &NextSession) -> Built<Inlines> {
    let Known::Value(weeks) = next.after_weeks else { return not_recorded(sheet) };
    let from = done.ended().0.date().checked_add_days(Days::new(7 * u64::from(weeks)));
    let from = sheet.content.locale.full_date(from.unwrap_or(NaiveDate::MAX));
    sheet.inline("next_session.interval_value", &[("weeks", &in_weeks(sheet, weeks)?), ("from", &from)])
}

fn in_weeks(sheet: &Sheet, weeks: u32) -> Built<String> {
    sheet.content.locale.count("week", f64::from(weeks))
}

/// The earlier sessions and this one, each with its energy and result.
fn sessions(sheet: &Sheet, done: &Treatment, next: &NextSession) -> Built<Block> {
    let row = |date: NaiveDate, mj: Option<f64>, result: Option<&String>| {
        let mj = mj.map(|mj| literal(&sheet.content.locale.number(mj, 1)));
        Ok(vec![
            literal(&sheet.content.locale.date(date)),
            mj.map_or_else(|| not_recorded(sheet), Ok)?,
            recorded(sheet, result)?,
        ])
    };
    let earlier = sheet.record.earlier_sessions.iter();
    let earlier = earlier.map(|one| row(one.date.0, one.energy_mj.value(), one.result.as_ref()));
    let this = std::iter::once(row(done.ended().0.date(), Some(session_mj(done)), next.result.as_ref()));
    sheet.table(
        sheet.text("next_session.sessions", &[])?,
        &["surgeon.on", "surgeon.mj", "surgeon.session_result"],
        &[2, 1, 4],
        earlier.chain(this).collect::<Built<_>>()?,
    )
}

/// The energy of this eye in all sessions; not known while one is not recorded.
fn energy(sheet: &Sheet) -> Built<Block> {
    match sheet.facts.number("eye_energy_mj") {
        Some(mj) => {
            let (mj, earlier) = (sheet.content.locale.number(mj, 1), sheet.record.earlier_sessions.len());
            let earlier = sheet.content.locale.number(earlier as f64, 0);
            sheet.paragraph("surgeon.energy_eye", &[("mj", &mj), ("earlier", &earlier)])
        }
        None => sheet.paragraph("surgeon.energy_eye_unknown", &[]),
    }
}
