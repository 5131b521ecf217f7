//! Visits after the treatment, on days the practice is open.

use chrono::{Days, NaiveDate, NaiveTime};

use super::PlanError;
use crate::facts::hours;
use crate::record::course::BookedVisit;
use crate::record::profile::{Profile, VisitFor, VisitRule};

/// A visit on a date.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Visit {
    /// Ids of the practice's rules that fall on this date, the earlier first.
    pub ids: Vec<String>,
    /// Date by the first of these rules, before it was moved to an open day.
    pub wanted: NaiveDate,
    /// Date: open, and after the treatment.
    pub date: NaiveDate,
    /// Time of day within opening hours; `None`: the desk books it.
    pub at: Option<NaiveTime>,
    /// True if the record holds its booked time.
    pub booked: bool,
    /// True if it is only kept free in case the pressure is raised.
    pub if_raised: bool,
}

impl Visit {
    /// Whether closed days moved it.
    #[must_use]
    pub fn delayed(&self) -> bool {
        self.date != self.wanted
    }
}

/// Dates the practice's visits. `at_risk`: this eye is at risk of a pressure rise; `booked`: those booked already.
pub(super) fn visits(
    profile: &Profile,
    treatment: NaiveDate,
    at_risk: bool,
    booked: &[BookedVisit],
) -> Result<Vec<Visit>, PlanError> {
    let dated = profile.visits.iter().map(|rule| {
        let booked = booked.iter().find(|booked| booked.visit == rule.id);
        visit(profile, rule, treatment, at_risk, booked)
    });
    let mut dated = dated.collect::<Result<Vec<_>, _>>()?;
    dated.sort_by_key(|visit| (visit.date, visit.wanted));
    let mut visits = Vec::<Visit>::new();
    for visit in dated {
        match visits.last_mut() {
            Some(last) if last.date == visit.date => merge(last, visit),
            _ => visits.push(visit),
        }
    }
    Ok(visits)
}

fn visit(
    profile: &Profile,
    rule: &VisitRule,
    treatment: NaiveDate,
    at_risk: bool,
    booked: Option<&BookedVisit>,
) -> Result<Visit, PlanError> {
    if rule.after_days == 0 {
        return Err(PlanError::VisitTooEarly { id: rule.id.clone() });
    }
    let wanted = treatment + Days::new(rule.after_days.into());
    let (date, at) = match &booked {
        // Refused with the record unless it is after the treatment and within opening hours.
        Some(booked) => (booked.at.0.date(), Some(booked.at.0.time())),
        None => {
            let date = hours::next_open_day(profile, wanted)?;
            (date, rule.at.and_then(|at| within_hours(profile, date, at.0)))
        }
    };
    Ok(Visit {
        ids: vec![rule.id.clone()],
        wanted,
        date,
        at,
        booked: booked.is_some(),
        if_raised: rule.applies == VisitFor::PressureRisk && !at_risk,
    })
}

/// The time itself if a patient can be seen then, else when the practice opens.
fn within_hours(profile: &Profile, date: NaiveDate, at: NaiveTime) -> Option<NaiveTime> {
    if hours::is_open(profile, date.and_time(at)) {
        return Some(at);
    }
    hours::on(profile, date).map(|hours| hours.opens.0)
}

/// Two rules on one date are one visit; it is definite if one of them is.
fn merge(first: &mut Visit, second: Visit) {
    first.ids.extend(second.ids);
    first.at = first.at.or(second.at);
    first.booked |= second.booked;
    first.if_raised &= second.if_raised;
}
