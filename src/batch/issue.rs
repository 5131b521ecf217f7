//! Dates of issue that cannot be right: a clock that is not set, a date written by mistake.

use chrono::{Days, NaiveDateTime, TimeZone};

use crate::facts::{Moment, hours};
use crate::practice::Checked;
use crate::record::Record;

/// Furthest from the treatment that a page is issued, days. Common practice, no source: it catches a wrong year.
const FURTHEST: u64 = 366;

const MEANT: &str = "correct the record or the time of issue, or say --issued-anyway if it is meant";

/// Why pages are not issued at this time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum Untimely {
    /// A consent after the session was to begin.
    #[error("the consent would be issued after the planned start (plan.start): {MEANT}")]
    AfterStart,
    /// An aftercare before the treatment was done.
    #[error("the aftercare would be issued before the last pulse (treatment.last_pulse): {MEANT}")]
    BeforeTreatment,
    /// An aftercare before the patient left.
    #[error("the aftercare would be issued before the patient leaves (treatment.leaves): {MEANT}")]
    BeforeLeaving,
    /// An answer that is not given yet.
    #[error("an answer of the record (answers) is dated after the time of issue: {MEANT}")]
    BeforeAnswer,
    /// Over a year from the treatment.
    #[error("the pages would be issued more than a year before or after the treatment: {MEANT}")]
    FarOff,
}

/// Refuses a time of issue, UTC, that does not fit the record; its times are those of the practice's zone.
///
/// # Errors
/// What does not fit.
pub fn timely(record: &Checked<Record>, moment: Moment, issued: NaiveDateTime) -> Result<(), Untimely> {
    let zone = record.with().profile.practice.time_zone.0;
    let utc = |local: NaiveDateTime| hours::instant(zone, local).naive_utc();
    let start = utc(record.plan.start.0);
    let at = match (moment, &record.treatment) {
        (Moment::Before, _) if issued > start => return Err(Untimely::AfterStart),
        (Moment::After, Some(done)) if issued < utc(done.ended().0) => return Err(Untimely::BeforeTreatment),
        (Moment::After, Some(done)) if issued < utc(done.leaves.0) => return Err(Untimely::BeforeLeaving),
        (Moment::After, Some(done)) => utc(done.leaves.0),
        _ => start,
    };
    if answers_come_later(record, moment, issued) {
        return Err(Untimely::BeforeAnswer);
    }
    let (earliest, latest) = (at.checked_sub_days(Days::new(FURTHEST)), at.checked_add_days(Days::new(FURTHEST)));
    let near = earliest.is_none_or(|earliest| earliest <= issued) && latest.is_none_or(|latest| issued <= latest);
    if near { Ok(()) } else { Err(Untimely::FarOff) }
}

/// Whether an answer is given on a later day than the pages are issued. Of a consent printed over again once the treatment
/// is done nothing is said: the record then holds answers to what happened after it.
fn answers_come_later(record: &Checked<Record>, moment: Moment, issued: NaiveDateTime) -> bool {
    let today = record.with().profile.practice.time_zone.0.from_utc_datetime(&issued).date_naive();
    let again = moment == Moment::Before && record.treatment.is_some();
    !again && record.answers.iter().any(|answer| answer.on.0 > today)
}
