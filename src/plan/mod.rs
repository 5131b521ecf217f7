//! Step 4: what happens on which date: doses, visits, the pressure recheck.
//!
//! Times are local wall times of the practice's zone. A dose keeps its wall time when the clocks change; a time that
//! the clocks skip becomes the first one after the gap, a time that happens twice is the first of the two.

mod anchors;
mod arrange;
mod continued;
mod course;
pub mod dosage;
mod request;
mod slots;
pub mod supply;
mod usage;
mod visits;

pub use anchors::Anchors;
pub use continued::{Continued, InUse};
pub use course::{Course, MAX_COURSE_DAYS};
pub use request::{HANGS_ON, of, without_drops};
pub use slots::{MIN_NIGHT_MINUTES, Period, Waking};
pub use usage::{DrugUse, Limit, Step};
pub use visits::Visit;

use chrono::{DateTime, NaiveDate, NaiveDateTime};
use chrono_tz::Tz;

use crate::facts::hours::NeverOpen;
use crate::facts::recheck::Recheck;
use crate::record::course::BookedVisit;
use crate::record::profile::Profile;

/// What the plan is made from.
#[derive(Debug, Clone)]
pub struct Request<'a> {
    /// The practice: zone, hours, closed days, visits, least distance between different drops.
    pub profile: &'a Profile,
    /// The treatment, as planned or as done.
    pub anchors: Anchors,
    /// When the patient is awake.
    pub waking: Waking,
    /// The drugs, in the order of the regimen; each key once. Drops in use follow them.
    pub courses: &'a [Course],
    /// Drops that the patient already uses.
    pub in_use: &'a [InUse],
    /// Whether this eye is at risk of a pressure rise.
    pub pressure_risk: bool,
    /// Visits that are booked already.
    pub booked: &'a [BookedVisit],
    /// A definite visit because of what happened during the laser, days after the treatment.
    pub event_visit_days: Option<u32>,
    /// The same-day recheck, if one is wanted ([`crate::facts::recheck::place`]).
    pub recheck: Option<Recheck>,
}

/// The dated plan.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    /// Zone of every local time in it.
    pub zone: Tz,
    /// The treatment it hangs on.
    pub anchors: Anchors,
    /// Every dose of the regimen, in order of time.
    pub doses: Vec<Dose>,
    /// The use of each drug, in the order of the regimen.
    pub uses: Vec<DrugUse>,
    /// Drops that the patient already uses, in the order of the record.
    pub continued: Vec<Continued>,
    /// Visits after the treatment, in order of date, one per date.
    pub visits: Vec<Visit>,
    /// The same-day pressure recheck, if one is wanted.
    pub recheck: Option<Recheck>,
}

/// One drop of one drug.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dose {
    /// Which course of the request, from 0.
    pub course: usize,
    /// Which step of the course, from 0.
    pub step: usize,
    /// Key of the formulary.
    pub drug: String,
    /// The day it belongs to. A dose after midnight belongs to the day on which the patient got up.
    pub day: NaiveDate,
    /// Local wall time.
    pub at: NaiveDateTime,
    /// The same as an instant.
    pub instant: DateTime<Tz>,
    /// Part of the day.
    pub period: Period,
    /// Which slot of the day, from 1; a clinic dose has 0.
    pub slot: u32,
    /// Who gives it, and whether it was given.
    pub place: DosePlace,
}

/// Who gives a dose.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DosePlace {
    /// The patient, at home.
    Home,
    /// The clinic, after the laser: planned, not given yet.
    ClinicPlanned,
    /// The clinic: recorded as given.
    ClinicGiven,
}

impl Dose {
    /// True if the record says that it was given.
    #[must_use]
    pub fn given(&self) -> bool {
        self.place == DosePlace::ClinicGiven
    }

    /// Names the dose by its place in the course, not by its time or drug: `dose-1-20260807-3` is the third slot of the
    /// first drug on that day. It stays the same when the plan is made anew with other waking hours.
    #[must_use]
    pub fn identity(&self) -> String {
        let clinic = if self.place == DosePlace::Home { String::new() } else { self.at.format("-%H%M").to_string() };
        format!("dose-{}-{}-{}{clinic}", self.course + 1, self.day.format("%Y%m%d"), self.slot)
    }
}

/// Why no plan can be made. Each says what to change.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PlanError {
    /// The record lacks a required key that the plan hangs on.
    #[error("nothing can be dated before `{}` is in the record", pointer.trim_start_matches('/').replace('/', "."))]
    Lacking {
        /// JSON pointer of the key.
        pointer: String,
    },
    /// The night is too short to tell one day from the next.
    #[error(
        "getting up at {wakes} and sleeping from {sleeps} leaves a night under {MIN_NIGHT_MINUTES} minutes: correct the two times"
    )]
    NoNight {
        /// When the patient gets up.
        wakes: chrono::NaiveTime,
        /// When the patient goes to sleep.
        sleeps: chrono::NaiveTime,
    },
    /// A waking day has no room for the doses of a drug.
    #[error(
        "the waking day is too short for {per_day} doses of {drug} a day: correct the times of getting up and sleep, or choose another regimen"
    )]
    DayTooShort {
        /// Key of the drug.
        drug: String,
        /// Doses a day.
        per_day: u32,
    },
    /// All drops of a day do not fit with the distance between them.
    #[error(
        "on {day} the drops do not all fit into the waking day with the time between them that they need: correct the times of getting up and sleep, or choose another regimen"
    )]
    DayTooFull {
        /// Which day.
        day: NaiveDate,
    },
    /// A course without a dose.
    #[error(
        "no dose of {drug} is left: every time for it had passed when the patient left; give its length as a number of doses, or as more dates"
    )]
    NothingLeft {
        /// Key of the drug.
        drug: String,
    },
    /// A course that is too long, has no steps, or no doses a day.
    #[error(
        "{drug} must have steps of at least 1 dose a day that take under {MAX_COURSE_DAYS} days in all: correct them in the regimen"
    )]
    CourseLength {
        /// Key of the drug.
        drug: String,
    },
    /// A step after one without end.
    #[error("a step of {drug} that goes on without end is followed by another: make it the last")]
    NotLast {
        /// Key of the drug.
        drug: String,
    },
    /// A drug that comes twice.
    #[error("{drug} comes twice in the regimen: give each drug once")]
    DrugTwice {
        /// Key of the drug.
        drug: String,
    },
    /// A visit on the day of the treatment.
    #[error("visit {id} must come at least 1 day after the treatment: correct after_days")]
    VisitTooEarly {
        /// Id of the visit.
        id: String,
    },
    /// No day is open for a visit.
    #[error(transparent)]
    NeverOpen(#[from] NeverOpen),
}

impl PlanError {
    /// Where in the record it can be mended, as a JSON pointer.
    #[must_use]
    pub fn pointer(&self) -> &str {
        match self {
            Self::Lacking { pointer } => pointer,
            Self::NoNight { .. } | Self::DayTooShort { .. } | Self::DayTooFull { .. } => "/patient/sleeps",
            Self::NothingLeft { .. } | Self::CourseLength { .. } | Self::NotLast { .. } | Self::DrugTwice { .. } => {
                "/plan/regimen"
            }
            Self::VisitTooEarly { .. } | Self::NeverOpen(_) => "/plan/start",
        }
    }
}

/// Makes the plan.
///
/// # Errors
/// [`PlanError`]: what the plan cannot keep, and what to change.
pub fn schedule(request: &Request<'_>) -> Result<Plan, PlanError> {
    check(request)?;
    let (doses, continued) = continued::part(request, arrange::doses(request)?);
    Ok(Plan {
        zone: request.profile.practice.time_zone.0,
        anchors: request.anchors,
        uses: usage::of(request, &doses)?,
        doses,
        continued,
        visits: visits::visits(request)?,
        recheck: request.recheck,
    })
}

/// Visits and recheck alone.
fn undosed(request: &Request<'_>) -> Plan {
    Plan {
        zone: request.profile.practice.time_zone.0,
        anchors: request.anchors,
        doses: Vec::new(),
        uses: Vec::new(),
        continued: Vec::new(),
        visits: visits::visits(request).unwrap_or_default(),
        recheck: request.recheck,
    }
}

fn check(request: &Request<'_>) -> Result<(), PlanError> {
    request.waking.check()?;
    for (index, course) in request.courses.iter().enumerate() {
        course.check()?;
        if request.courses[..index].iter().any(|other| other.drug == course.drug) {
            return Err(PlanError::DrugTwice { drug: course.drug.clone() });
        }
    }
    Ok(())
}
