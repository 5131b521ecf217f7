//! One drug: on which days and slots it is due.

use chrono::{DateTime, Days, NaiveDate, NaiveDateTime, TimeDelta};
use chrono_tz::Tz;

use super::slots::at;
use super::{Anchors, Dose, DosePlace, PlanError, Step};
use crate::facts::hours;
use crate::record::profile::CourseLength;

/// The longest course, days.
pub const MAX_COURSE_DAYS: u32 = 400;

/// One drug of the regimen, with what the formulary and the record say of it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Course {
    /// Key of the formulary.
    pub drug: String,
    /// Place among drops due together: solution 0, suspension 1, gel 2, ointment 3 (convention, no label demands it).
    pub order: u8,
    /// Least distance to another drop by the label, minutes.
    pub gap_minutes: u32,
    /// Least time between a clinic dose of this drug and its next dose, minutes.
    pub min_same_drug_minutes: u32,
    /// Doses, or slots for a fixed count, a day.
    pub per_day: u32,
    /// How long.
    pub length: CourseLength,
    /// The first dose is given in the clinic after the laser.
    pub first_in_clinic: bool,
    /// Doses recorded as given in the clinic, local wall times.
    pub recorded: Vec<NaiveDateTime>,
}

/// A dose that is due, before drops due together are told apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Due {
    pub(super) course: usize,
    pub(super) day: NaiveDate,
    pub(super) slot: u32,
    pub(super) at: NaiveDateTime,
    /// From when on the patient can take it.
    pub(super) ready: DateTime<Tz>,
}

impl Course {
    pub(super) fn check(&self) -> Result<(), PlanError> {
        let longest = match self.length {
            CourseLength::Dates(dates) => dates,
            CourseLength::Doses(doses) => doses.div_ceil(self.per_day.max(1)),
        };
        if self.per_day == 0 || longest == 0 || longest >= MAX_COURSE_DAYS {
            return Err(PlanError::CourseLength { drug: self.drug.clone() });
        }
        Ok(())
    }

    /// Doses given in the clinic. Before the treatment the first one is expected at the last pulse; once it is done only
    /// what is recorded counts.
    pub(super) fn in_clinic(&self, anchors: &Anchors) -> Vec<(NaiveDateTime, DosePlace)> {
        if anchors.done {
            self.recorded.iter().map(|given| (*given, DosePlace::ClinicGiven)).collect()
        } else if self.first_in_clinic {
            vec![(anchors.last_pulse, DosePlace::ClinicPlanned)]
        } else {
            Vec::new()
        }
    }

    /// The doses the patient takes, at the slots of the day (minutes from its midnight).
    pub(super) fn due(&self, course: usize, slots: &[i64], anchors: &Anchors, zone: Tz) -> Vec<Due> {
        let ready = self.ready(slots, anchors, zone);
        let dates = match self.length {
            CourseLength::Dates(dates) => dates,
            CourseLength::Doses(_) => MAX_COURSE_DAYS,
        };
        let left = match self.length {
            CourseLength::Dates(_) => usize::MAX,
            CourseLength::Doses(doses) => (doses as usize).saturating_sub(self.in_clinic(anchors).len()),
        };
        (0..dates)
            .map(|days| anchors.treatment + Days::new(days.into()))
            .flat_map(|day| {
                let due = move |(slot, minutes): (u32, &i64)| Due { course, day, slot, at: at(day, *minutes), ready };
                (1..).zip(slots).map(due)
            })
            .filter(|due| hours::instant(zone, due.at) >= due.ready)
            .take(left)
            .collect()
    }

    /// From when on the patient can take a dose: out of the clinic, and long enough after a dose given there. In a daily
    /// course the day after the treatment is a full day all the same.
    fn ready(&self, slots: &[i64], anchors: &Anchors, zone: Tz) -> DateTime<Tz> {
        let leaves = hours::instant(zone, anchors.leaves);
        let rest = TimeDelta::minutes(self.rest_minutes(slots));
        let rested = self.in_clinic(anchors).into_iter().map(|(given, _)| hours::instant(zone, given) + rest).max();
        let next_day = slots.first().map(|first| hours::instant(zone, at(anchors.treatment + Days::new(1), *first)));
        match self.length {
            CourseLength::Doses(_) => leaves.max(rested.unwrap_or(leaves)),
            CourseLength::Dates(_) => leaves.max(rested.min(next_day).unwrap_or(leaves)),
        }
    }

    /// How long a clinic dose stands for the next one, minutes. In a daily course it stands for the slot nearest to it,
    /// so the course keeps its rhythm.
    fn rest_minutes(&self, slots: &[i64]) -> i64 {
        let least = i64::from(self.min_same_drug_minutes);
        let rhythm = slots.windows(2).map(|pair| pair[1] - pair[0]).min();
        match (self.length, rhythm) {
            (CourseLength::Dates(_), Some(rhythm)) => least.min(rhythm / 2),
            _ => least,
        }
    }
}

/// First day, last day and count of each course.
pub(super) fn steps(courses: &[Course], doses: &[Dose]) -> Result<Vec<Step>, PlanError> {
    courses.iter().enumerate().map(|(index, course)| step(index, course, doses)).collect()
}

fn step(index: usize, course: &Course, doses: &[Dose]) -> Result<Step, PlanError> {
    let of_course = || doses.iter().filter(|dose| dose.course == index);
    let days = || of_course().map(|dose| dose.day);
    let nothing = || PlanError::NothingLeft { drug: course.drug.clone() };
    let at_home = of_course().filter(|dose| dose.place == DosePlace::Home).count();
    Ok(Step {
        drug: course.drug.clone(),
        per_day: course.per_day,
        first: days().min().ok_or_else(nothing)?,
        last: days().max().ok_or_else(nothing)?,
        in_clinic: of_course().count() - at_home,
        at_home,
    })
}
