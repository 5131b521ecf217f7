//! Visits after the treatment, on days the practice is open.

use chrono::{Days, NaiveDate, NaiveTime};

use super::{PlanError, Request};
use crate::facts::hours;
use crate::record::course::{BookedVisit, EVENT_VISIT};
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
    /// True if the practice is closed then, and the patient is seen at its out-of-hours place.
    pub out_of_hours: bool,
}

impl Visit {
    /// Whether closed days moved it.
    #[must_use]
    pub fn delayed(&self) -> bool {
        self.date != self.wanted
    }
}

/// Dates the practice's visits, and one that an event makes.
pub(super) fn visits(request: &Request) -> Result<Vec<Visit>, PlanError> {
    let (profile, treatment) = (request.profile, request.anchors.treatment);
    let booked = |id: &str| request.booked.iter().find(|booked| booked.visit == id);
    // After an event no early visit hangs on a call.
    let at_risk = request.pressure_risk || request.event_visit_days.is_some();
    let dated = profile.visits.iter().map(|rule| visit(profile, rule, treatment, at_risk, booked(&rule.id)));
    let booked_event = booked(EVENT_VISIT).filter(|_| request.anchors.done);
    let wanted = request.event_visit_days.map(|days| treatment + Days::new(days.into()));
    // What is booked is kept, also after an event that asks for no visit.
    let wanted = wanted.or_else(|| booked_event.map(|booked| booked.at.0.date()));
    let event = wanted.map(|wanted| event(profile, wanted, booked_event));
    let mut dated = dated.chain(event).collect::<Result<Vec<_>, _>>()?;
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
        out_of_hours: false,
    })
}

/// A visit because of an event does not wait for the next open day where there is a place for out of hours.
fn event(profile: &Profile, wanted: NaiveDate, booked: Option<&BookedVisit>) -> Result<Visit, PlanError> {
    let out_of_hours = booked.is_none() && profile.out_of_hours.is_some() && hours::on(profile, wanted).is_none();
    let date = match booked {
        Some(booked) => booked.at.0.date(),
        None if out_of_hours => wanted,
        None => hours::next_open_day(profile, wanted)?,
    };
    Ok(Visit {
        ids: vec![EVENT_VISIT.into()],
        wanted,
        date,
        at: booked.map(|booked| booked.at.0.time()),
        booked: booked.is_some(),
        if_raised: false,
        out_of_hours,
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
    first.out_of_hours |= second.out_of_hours;
}
