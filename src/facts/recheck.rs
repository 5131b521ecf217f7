//! Where and when the eye pressure is rechecked on the day of the laser.

use chrono::{NaiveDateTime, TimeDelta};
use serde::Serialize;

use super::hours;
use crate::record::profile::Profile;

/// Place and local wall time of the same-day recheck.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(tag = "place", rename_all = "snake_case")]
pub enum Recheck {
    /// At the practice, at the time wanted.
    Clinic {
        /// When.
        at: NaiveDateTime,
    },
    /// At the practice, earlier than wanted: the last time a patient can still be seen.
    ClinicEarly {
        /// When.
        at: NaiveDateTime,
    },
    /// At the out-of-hours place, at the time wanted.
    OutOfHours {
        /// When.
        at: NaiveDateTime,
    },
    /// Nowhere on this date.
    Nowhere,
}

impl Recheck {
    /// When, if there is a place for it.
    #[must_use]
    pub fn at(self) -> Option<NaiveDateTime> {
        match self {
            Self::Clinic { at } | Self::ClinicEarly { at } | Self::OutOfHours { at } => Some(at),
            Self::Nowhere => None,
        }
    }
}

/// Places the recheck after the last pulse (local wall time), always on the date of the last pulse.
///
/// Wanted is `recheck_after_minutes` of elapsed time after the last pulse, whatever the clocks do in between. If the
/// practice cannot see the patient then but could until at least `recheck_earliest_minutes` after it, the recheck is
/// early; failing that, the out-of-hours place. The intervals are the practice's own (common practice, no source).
#[must_use]
pub fn place(profile: &Profile, last_pulse: NaiveDateTime) -> Recheck {
    let zone = profile.practice.time_zone.0;
    let wanted = hours::later(zone, last_pulse, profile.thresholds.recheck_after_minutes);
    let same_day = wanted.date() == last_pulse.date();
    if same_day && hours::is_open(profile, wanted) {
        return Recheck::Clinic { at: wanted };
    }
    let earliest =
        hours::instant(zone, last_pulse) + TimeDelta::minutes(profile.thresholds.recheck_earliest_minutes.into());
    match hours::closes(profile, last_pulse.date()) {
        Some(closes) if closes < wanted && hours::instant(zone, closes) >= earliest => {
            Recheck::ClinicEarly { at: closes }
        }
        _ if same_day && profile.out_of_hours.is_some() => Recheck::OutOfHours { at: wanted },
        _ => Recheck::Nowhere,
    }
}
