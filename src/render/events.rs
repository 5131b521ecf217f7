//! Doses, the recheck and visits as events of a calendar file: neutral titles, nothing private on a locked screen.

use chrono::NaiveDateTime;

use super::ics::{Calendar, Entry, Status, When};
use crate::document::Page;
use crate::document::sheet::{Built, Sheet, document_id};
use crate::facts::Moment;

/// How long a visit is entered for, minutes. The desk knows better; a calendar needs a length.
const VISIT_MINUTES: u32 = 30;
/// A dose takes a moment; entered so that it shows.
const DOSE_MINUTES: u32 = 5;
/// Reminder before a visit, minutes.
const VISIT_ALARM: u32 = 120;

/// The calendar file of an aftercare packet; without doses while the drop plan is withheld.
///
/// # Errors
/// A text that is missing, or an event that cannot be written.
pub fn calendar(sheet: &Sheet, with_doses: bool, issued: NaiveDateTime) -> Built<String> {
    let mut entries = Vec::new();
    if with_doses {
        let at_home = sheet.plan.doses.iter().filter(|dose| !dose.given());
        entries.extend(at_home.map(|dose| dose_entry(sheet, dose)).collect::<Built<Vec<_>>>()?);
    }
    entries.extend(recheck(sheet)?);
    let visits = sheet.plan.visits.iter().map(|visit| visit_entry(sheet, visit));
    entries.extend(visits.collect::<Built<Vec<_>>>()?);
    let calendar = Calendar {
        prodid: format!("-//vitreoleaf//{}//EN", env!("CARGO_PKG_VERSION")),
        uid_domain: format!(
            "{}.vitreoleaf.invalid",
            document_id(sheet.record, Moment::After, Page::Aftercare).to_lowercase()
        ),
        dtstamp: issued,
        zone: sheet.plan.zone,
        sequence: sheet.record.case.revision.saturating_sub(1),
        entries,
    };
    calendar.write().map_err(|error| error.to_string())
}

fn dose_entry(sheet: &Sheet, dose: &crate::plan::Dose) -> Built<Entry> {
    Ok(Entry {
        uid_part: dose.identity(),
        summary: sheet.text("calendar.dose", &[])?,
        description: sheet.text("calendar.dose_description", &[])?,
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
        uid_part: "recheck".into(),
        when: When::At { start: at, minutes: VISIT_MINUTES },
        status: Status::Confirmed,
        ..appointment(sheet)?
    }))
}

fn visit_entry(sheet: &Sheet, visit: &crate::plan::Visit) -> Built<Entry> {
    let booked = visit.at.is_some() && !visit.if_raised;
    Ok(Entry {
        uid_part: format!("visit-{}", visit.ids.join("-")),
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
        uid_part: String::new(),
        summary: sheet.text("calendar.visit", &[])?,
        description: sheet.text("calendar.visit_description", &[])?,
        location: String::new(),
        when: When::On(sheet.plan.anchors.treatment),
        alarm_minutes_before: Some(VISIT_ALARM),
        status: Status::Confirmed,
        busy: true,
    })
}
