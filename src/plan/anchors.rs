//! The moments of the treatment that everything after it hangs on.

use chrono::{NaiveDate, NaiveDateTime};

use crate::facts::hours;
use crate::record::Record;
use crate::record::profile::Profile;

/// The treatment in time, local wall times.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Anchors {
    /// Date of the treatment, from which courses count their days.
    pub treatment: NaiveDate,
    /// Start of the session; drops that begin before the treatment are used until then.
    pub starts: NaiveDateTime,
    /// End of the last pulse; where there was none, when the patient left.
    pub last_pulse: NaiveDateTime,
    /// When the patient leaves the clinic.
    pub leaves: NaiveDateTime,
    /// True if they are recorded, false if they are planned.
    pub done: bool,
}

impl Anchors {
    /// The recorded moments if the treatment is done; else the planned ones, where the patient leaves at the last pulse.
    #[must_use]
    pub fn of(record: &Record, profile: &Profile) -> Self {
        match &record.treatment {
            Some(done) => Self {
                treatment: done.ended().0.date(),
                starts: record.plan.start.0.min(done.ended().0),
                last_pulse: done.ended().0,
                leaves: done.leaves.0,
                done: true,
            },
            None => Self::planned(record.plan.start.0, profile),
        }
    }

    /// The moments expected of a session that starts at a local time.
    #[must_use]
    pub fn planned(start: NaiveDateTime, profile: &Profile) -> Self {
        let last_pulse = hours::later(profile.practice.time_zone.0, start, profile.thresholds.session_minutes);
        Self { treatment: start.date(), starts: start, last_pulse, leaves: last_pulse, done: false }
    }
}
