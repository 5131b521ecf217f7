//! When the practice is open, and how its wall clock relates to elapsed time.
//!
//! Opening hours are local wall times; `closes` is the last time a patient can still be seen, so it counts as open.

use chrono::{DateTime, Datelike, Days, LocalResult, NaiveDate, NaiveDateTime, TimeDelta, TimeZone};
use chrono_tz::{GapInfo, Tz};

use crate::record::profile::{Hours, Profile};

/// How far ahead an open day is looked for, days.
pub const LOOK_AHEAD_DAYS: u64 = 60;

/// No open day was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error(
    "the practice is closed on every day from {from} for {LOOK_AHEAD_DAYS} days: give opening hours or correct the closed days"
)]
pub struct NeverOpen {
    /// First day that was looked at.
    pub from: NaiveDate,
}

/// The opening hours of a date; `None` if the practice is closed all day.
#[must_use]
pub fn on(profile: &Profile, date: NaiveDate) -> Option<Hours> {
    if profile.closed_days.iter().any(|closed| closed.0 == date) {
        return None;
    }
    profile.hours.get(&date.weekday().into()).copied()
}

/// Whether a patient can be seen at a local time.
#[must_use]
pub fn is_open(profile: &Profile, at: NaiveDateTime) -> bool {
    on(profile, at.date()).is_some_and(|hours| hours.opens.0 <= at.time() && at.time() <= hours.closes.0)
}

/// The last time a patient can be seen on a date; `None` if the practice is closed all day.
#[must_use]
pub fn closes(profile: &Profile, date: NaiveDate) -> Option<NaiveDateTime> {
    on(profile, date).map(|hours| date.and_time(hours.closes.0))
}

/// The first open day on or after a date.
///
/// # Errors
/// [`NeverOpen`] if there is none within [`LOOK_AHEAD_DAYS`].
pub fn next_open_day(profile: &Profile, from: NaiveDate) -> Result<NaiveDate, NeverOpen> {
    (0..=LOOK_AHEAD_DAYS)
        .filter_map(|days| from.checked_add_days(Days::new(days)))
        .find(|date| on(profile, *date).is_some())
        .ok_or(NeverOpen { from })
}

/// The instant of a local wall time.
///
/// A time that happens twice is the earlier instant; a time that the clocks skip is the first instant after the gap.
/// So a later wall time is never an earlier instant.
#[must_use]
pub fn instant(zone: Tz, local: NaiveDateTime) -> DateTime<Tz> {
    match zone.from_local_datetime(&local) {
        LocalResult::Single(at) | LocalResult::Ambiguous(at, _) => at,
        LocalResult::None => GapInfo::new(&local, &zone)
            .and_then(|gap| gap.end)
            // Only beyond the ends of the zone's table; read as UTC, it still is a time and still in order.
            .unwrap_or_else(|| zone.from_utc_datetime(&local)),
    }
}

/// The local wall time that is `minutes` of elapsed time after another one.
#[must_use]
pub fn later(zone: Tz, local: NaiveDateTime, minutes: u32) -> NaiveDateTime {
    (instant(zone, local) + TimeDelta::minutes(minutes.into())).naive_local()
}
