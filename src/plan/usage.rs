//! The use of each drug: from when to when, in what steps, how many doses.

use chrono::{NaiveDate, TimeDelta};

use super::{Anchors, Course, Dose, DosePlace, PlanError, Request};
use crate::record::profile::StepLength;

/// The use of one drug.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DrugUse {
    /// Which course of the request, from 0.
    pub course: usize,
    /// Key of the formulary.
    pub drug: String,
    /// First date. Once the treatment is done, the dates before it are left out.
    pub first: NaiveDate,
    /// First date of the course, also where it lies before a treatment that is done.
    pub began: NaiveDate,
    /// Last date: the waking day of the last dose, also for one after midnight. If it goes on, the last date that the
    /// calendar shows.
    pub last: NaiveDate,
    /// The patient goes on with it after `last`.
    pub goes_on: bool,
    /// Used only when needed: the most doses on one date, and in all if there is such a limit.
    pub as_needed: Option<Limit>,
    /// Doses given, or to be given, in the clinic.
    pub in_clinic: usize,
    /// Doses planned for the patient to take.
    pub at_home: usize,
    /// The steps that have doses, one after the other. None for a drug used as needed.
    pub steps: Vec<Step>,
}

/// The most doses of a drug that is used as needed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limit {
    /// On one date.
    pub per_day: u32,
    /// In all, if the regimen says so.
    pub doses: Option<u32>,
}

/// A stretch with the same doses.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// Which step of the course, from 0.
    pub step: usize,
    /// Doses on a full date of use.
    pub per_day: u32,
    /// Every date, every second one, and so on.
    pub every_days: u32,
    /// Waking day of the first dose.
    pub first: NaiveDate,
    /// Waking day of the last dose.
    pub last: NaiveDate,
    /// A fixed count of doses rather than of dates.
    pub counted: bool,
    /// Doses, those in the clinic among them.
    pub doses: usize,
}

impl DrugUse {
    /// Whether it began before the date of the treatment: its bottle is open already when the treatment is done.
    #[must_use]
    pub fn began_before(&self, anchors: &Anchors) -> bool {
        self.began < anchors.treatment
    }

    /// Whether a dose is one of this use.
    #[must_use]
    pub fn holds(&self, dose: &Dose) -> bool {
        dose.course == self.course
    }
}

/// The use of each drug of the request. A course that was over before the treatment leaves nothing.
pub(super) fn of(request: &Request<'_>, doses: &[Dose]) -> Result<Vec<DrugUse>, PlanError> {
    let regimen = request.courses.iter().enumerate().filter(|(_, course)| !course.in_use);
    let uses = regimen.map(|(index, course)| match course.as_needed {
        true => Ok(when_needed(request, index, course)),
        false => planned(request, index, course, doses),
    });
    Ok(uses.collect::<Result<Vec<_>, _>>()?.into_iter().flatten().collect())
}

fn planned(request: &Request<'_>, index: usize, course: &Course, doses: &[Dose]) -> Result<Option<DrugUse>, PlanError> {
    let of_course: Vec<&Dose> = doses.iter().filter(|dose| dose.course == index).collect();
    let (Some(first), Some(last)) = (of_course.first(), of_course.last()) else {
        let over = course.starts < 0 && request.anchors.done;
        return if over { Ok(None) } else { Err(PlanError::NothingLeft { drug: course.drug.clone() }) };
    };
    let at_home = of_course.iter().filter(|dose| dose.place == DosePlace::Home).count();
    let steps = (0..course.steps.len()).filter_map(|step| of_step(course, step, &of_course));
    Ok(Some(DrugUse {
        course: index,
        drug: course.drug.clone(),
        first: first.day,
        began: course.first(&request.anchors).min(first.day),
        last: last.day,
        goes_on: matches!(course.steps.last().map(|step| step.length), Some(StepLength::GoesOn(_))),
        as_needed: None,
        in_clinic: of_course.len() - at_home,
        at_home,
        steps: steps.collect(),
    }))
}

fn of_step(course: &Course, step: usize, doses: &[&Dose]) -> Option<Step> {
    let mut of_step = doses.iter().filter(|dose| dose.step == step);
    let first = of_step.next()?;
    let rule = course.steps[step];
    Some(Step {
        step,
        per_day: rule.per_day,
        every_days: rule.every_days,
        first: first.day,
        last: of_step.clone().next_back().unwrap_or(first).day,
        counted: matches!(rule.length, StepLength::Doses(_)),
        doses: 1 + of_step.count(),
    })
}

/// A drug used as needed has no planned dose. Its count of dates, if it has one, says until when.
fn when_needed(request: &Request<'_>, index: usize, course: &Course) -> Option<DrugUse> {
    let anchors = &request.anchors;
    let rule = course.steps.first()?;
    let first = course.first(anchors);
    let (last, doses) = match rule.length {
        StepLength::Dates(dates) | StepLength::GoesOn(dates) => (first + TimeDelta::days(i64::from(dates) - 1), None),
        StepLength::Doses(doses) => (first, Some(doses)),
    };
    let goes_on = !matches!(rule.length, StepLength::Dates(_));
    let over = anchors.done && !goes_on && last < anchors.treatment;
    (!over).then(|| DrugUse {
        course: index,
        drug: course.drug.clone(),
        first: if anchors.done { first.max(anchors.treatment) } else { first },
        began: first,
        last,
        goes_on,
        as_needed: Some(Limit { per_day: rule.per_day, doses }),
        in_clinic: 0,
        at_home: 0,
        steps: Vec::new(),
    })
}
