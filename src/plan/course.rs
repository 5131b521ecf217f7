//! One drug: on which days and slots it is due.

use chrono::{DateTime, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta};
use chrono_tz::Tz;

use super::slots::{Period, Slot, at};
use super::{Anchors, DosePlace, PlanError};
use crate::facts::hours::instant;
use crate::record::profile::{DropStep, StepLength};

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
    /// Days from the treatment to the first date; below 0 before it.
    pub starts: i32,
    /// The steps, one after the other.
    pub steps: Vec<DropStep>,
    /// The first dose is given in the clinic after the laser.
    pub first_in_clinic: bool,
    /// Used only when needed: no time is planned.
    pub as_needed: bool,
    /// Doses are spread over day and night.
    pub at_night: bool,
    /// The patient used it before, and goes on with it: it is no part of the regimen.
    pub in_use: bool,
    /// Doses recorded as given in the clinic, local wall times.
    pub recorded: Vec<NaiveDateTime>,
}

/// A dose that is due, before drops due together are told apart.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Due {
    pub(super) course: usize,
    pub(super) step: usize,
    pub(super) day: NaiveDate,
    pub(super) slot: u32,
    pub(super) period: Period,
    pub(super) at: NaiveDateTime,
    /// From when on the patient can take it.
    pub(super) ready: DateTime<Tz>,
    /// Before the treatment.
    pub(super) before: bool,
}

impl Course {
    pub(super) fn check(&self) -> Result<(), PlanError> {
        let days = |step: &DropStep| match step.length {
            StepLength::Dates(dates) | StepLength::GoesOn(dates) => u64::from(dates),
            StepLength::Doses(doses) => u64::from(doses.div_ceil(step.per_day.max(1))) * u64::from(step.every_days),
        };
        let drug = || self.drug.clone();
        let empty = |step: &DropStep| step.per_day == 0 || step.every_days == 0 || days(step) == 0;
        let longest = self.steps.iter().map(days).sum::<u64>();
        if self.steps.is_empty() || self.steps.iter().any(empty) || longest >= u64::from(MAX_COURSE_DAYS) {
            return Err(PlanError::CourseLength { drug: drug() });
        }
        let endless = |step: &DropStep| matches!(step.length, StepLength::GoesOn(_));
        if self.steps[..self.steps.len() - 1].iter().any(endless) {
            return Err(PlanError::NotLast { drug: drug() });
        }
        Ok(())
    }

    /// Date of the first day.
    pub(super) fn first(&self, anchors: &Anchors) -> NaiveDate {
        anchors.treatment + TimeDelta::days(self.starts.into())
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

    /// The doses the patient takes, `slots` for each step. Once the treatment is done those before it are history.
    pub(super) fn due(&self, course: usize, slots: &[Vec<Slot>], anchors: &Anchors, zone: Tz) -> Vec<Due> {
        let mut all = Vec::new();
        let mut first = self.first(anchors);
        for (step, slots) in slots.iter().enumerate() {
            let mut due = self.of_step(course, step, first, slots, anchors, zone);
            let days = match self.steps[step].length {
                StepLength::Dates(dates) | StepLength::GoesOn(dates) => i64::from(dates),
                // A count that the clinic has used up takes no day.
                StepLength::Doses(_) => due.last().map_or(0, |last| (last.day - first).num_days() + 1),
            };
            first += TimeDelta::days(days);
            all.append(&mut due);
        }
        all.retain(|due| !(anchors.done && due.before));
        all
    }

    fn of_step(
        &self,
        course: usize,
        step: usize,
        first: NaiveDate,
        slots: &[Slot],
        anchors: &Anchors,
        zone: Tz,
    ) -> Vec<Due> {
        let DropStep { every_days, length, .. } = self.steps[step];
        let ready = self.ready(length, slots, anchors, zone);
        let (dates, doses) = match length {
            StepLength::Dates(dates) | StepLength::GoesOn(dates) => (dates, usize::MAX),
            StepLength::Doses(doses) => (every_days * MAX_COURSE_DAYS, doses as usize),
        };
        let before = |at: NaiveDateTime| self.starts < 0 && at < anchors.starts;
        let all = (0..dates).step_by(every_days as usize).flat_map(|days| {
            let day = first + TimeDelta::days(days.into());
            slots.iter().map(move |slot| {
                let at = at(day, slot.minutes);
                // Before the treatment nothing but the day itself holds a dose back.
                let ready = if before(at) { instant(zone, day.and_time(NaiveTime::MIN)) } else { ready };
                Due { course, step, day, slot: slot.number, period: slot.period, at, ready, before: before(at) }
            })
        });
        let mut left = doses;
        let mut clinic = if first <= anchors.treatment { self.in_clinic(anchors).len() } else { 0 };
        let mut taken = Vec::new();
        for due in all.filter(|due| instant(zone, due.at) >= due.ready) {
            if !due.before {
                left = left.saturating_sub(std::mem::take(&mut clinic));
            }
            if left == 0 {
                break;
            }
            left -= 1;
            taken.push(due);
        }
        taken
    }

    /// From when on the patient can take a dose after the treatment: out of the clinic, and long enough after a dose
    /// given there. In a daily course the day after the treatment is a full day all the same.
    fn ready(&self, length: StepLength, slots: &[Slot], anchors: &Anchors, zone: Tz) -> DateTime<Tz> {
        let leaves = instant(zone, anchors.leaves);
        let rest = TimeDelta::minutes(self.rest_minutes(length, slots));
        let rested = self.in_clinic(anchors).into_iter().map(|(given, _)| instant(zone, given) + rest).max();
        let tomorrow = anchors.treatment + TimeDelta::days(1);
        let next_day = slots.first().map(|first| instant(zone, at(tomorrow, first.minutes)));
        match length {
            StepLength::Doses(_) => leaves.max(rested.unwrap_or(leaves)),
            _ => leaves.max(rested.min(next_day).unwrap_or(leaves)),
        }
    }

    /// How long a clinic dose stands for the next one, minutes. In a daily course it stands for the slot nearest to it,
    /// so the course keeps its rhythm.
    fn rest_minutes(&self, length: StepLength, slots: &[Slot]) -> i64 {
        let least = i64::from(self.min_same_drug_minutes);
        let rhythm = slots.windows(2).map(|pair| pair[1].minutes - pair[0].minutes).min();
        match (length, rhythm) {
            (StepLength::Doses(_), _) | (_, None) => least,
            (_, Some(rhythm)) => least.min(rhythm / 2),
        }
    }
}
