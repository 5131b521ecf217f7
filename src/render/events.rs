//! Doses, the recheck and visits as events of a calendar file: neutral titles, nothing private on a locked screen.

use chrono::NaiveDateTime;

use super::ics::{Calendar, Entry, IcsError, Status, When};
use crate::content::ComposeError;
use crate::document::Page;
use crate::document::VISIT_MINUTES;
use crate::document::both_eyes::BothEyes;
use crate::document::sheet::{Built, Sheet};
use crate::plan::Dose;

/// A dose takes a moment; entered so that it shows.
const DOSE_MINUTES: u32 = 5;
/// Reminder before a visit, minutes.
const VISIT_ALARM: u32 = 120;

/// Why there is no calendar file.
#[derive(Debug, thiserror::Error)]
pub enum CalendarError {
    /// A text that cannot be composed.
    #[error(transparent)]
    Text(#[from] ComposeError),
    /// An event that no calendar takes.
    #[error(transparent)]
    File(#[from] IcsError),
}

/// The calendar file of an aftercare packet; without doses while the drop plan is withheld, or when they stand in the
/// calendar of both eyes.
///
/// # Errors
/// A text that is missing, or an event that cannot be written.
pub fn calendar(sheet: &Sheet, with_doses: bool, issued: NaiveDateTime) -> Result<String, CalendarError> {
    let mut entries = Vec::new();
    if with_doses && sheet.both_eyes.is_none() {
        entries.extend(doses(sheet, |_| true)?);
    }
    entries.extend(recheck(sheet)?);
    let visits = sheet.plan.visits.iter().map(|visit| visit_entry(sheet, visit));
    entries.extend(visits.collect::<Built<Vec<_>>>()?);
    write(sheet, entries, issued)
}

/// The calendar file of both eyes: the doses only. Each event keeps the identifier it has in its own case, so that it
/// replaces one that is in the patient's calendar already.
///
/// # Errors
/// As [`calendar`].
pub fn both_eyes(both: &BothEyes, issued: NaiveDateTime) -> Result<String, CalendarError> {
    let entries = both.sheets().map(|sheet| doses(sheet, |dose| both.holds(dose)));
    let entries = entries.into_iter().collect::<Built<Vec<_>>>()?.concat();
    write(&both.second, entries, issued)
}

fn write(sheet: &Sheet, entries: Vec<Entry>, issued: NaiveDateTime) -> Result<String, CalendarError> {
    let calendar = Calendar {
        prodid: format!("-//vitreoleaf//{}//EN", env!("CARGO_PKG_VERSION")),
        dtstamp: issued,
        zone: sheet.plan.zone,
        sequence: sheet.record.case.revision.saturating_sub(1),
        entries,
    };
    Ok(calendar.write()?)
}

/// Doses still to be taken.
fn doses(sheet: &Sheet, shown: impl Fn(&Dose) -> bool) -> Built<Vec<Entry>> {
    let in_use = sheet.plan.continued.iter().flat_map(|drop| &drop.doses);
    let doses = sheet.plan.doses.iter().chain(in_use);
    let at_home = doses.filter(|dose| !dose.given() && shown(dose));
    at_home.map(|dose| dose_entry(sheet, dose)).collect()
}

fn dose_entry(sheet: &Sheet, dose: &Dose) -> Built<Entry> {
    Ok(Entry {
        uid: sheet.uid(&dose.identity()),
        summary: sheet.text("calendar.dose", &[])?,
        description: description(sheet, "calendar.dose_description")?,
        location: String::new(),
        when: When::At { start: dose.at, minutes: DOSE_MINUTES },
        alarm_minutes_before: Some(0),
        status: Status::Confirmed,
        busy: false,
    })
}

fn recheck(sheet: &Sheet) -> Built<Option<Entry>> {
    let Some(at) = sheet.plan.recheck.and_then(crate::facts::recheck::Recheck::at) else {
        return Ok(None);
    };
    Ok(Some(Entry {
        uid: sheet.uid("recheck"),
        when: When::At { start: at, minutes: VISIT_MINUTES },
        status: Status::Confirmed,
        ..appointment(sheet)?
    }))
}

fn visit_entry(sheet: &Sheet, visit: &crate::plan::Visit) -> Built<Entry> {
    let booked = visit.at.is_some() && !visit.if_raised;
    Ok(Entry {
        uid: sheet.visit_uid(visit),
        when: match visit.at {
            Some(at) => When::At { start: visit.date.and_time(at), minutes: VISIT_MINUTES },
            None => When::On(visit.date),
        },
        status: if booked { Status::Confirmed } else { Status::Tentative },
        ..appointment(sheet)?
    })
}

fn appointment(sheet: &Sheet) -> Built<Entry> {
    Ok(Entry {
        uid: String::new(),
        summary: sheet.text("calendar.visit", &[])?,
        description: description(sheet, "calendar.visit_description")?,
        location: String::new(),
        when: When::On(sheet.plan.anchors.treatment),
        alarm_minutes_before: Some(VISIT_ALARM),
        status: Status::Confirmed,
        busy: true,
    })
}

/// What an entry says, with the note that it is a draft if it is.
fn description(sheet: &Sheet, key: &str) -> Built<String> {
    let mut lines: Vec<String> = sheet.draft_lines(Page::Aftercare)?.into_iter().map(|line| line.text).collect();
    lines.push(sheet.text(key, &[])?);
    Ok(lines.join(" "))
}
