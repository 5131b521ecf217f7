//! Which visits are due and which were missed: the visits of the plan against what was entered.

use std::collections::HashMap;

use chrono::{Days, NaiveDate};

use super::outcome::Outcome;
use super::session::{Session, SessionNumber};
use crate::facts::hours;
use crate::record::course::EVENT_VISIT;
use crate::record::profile::{Profile, VisitFor};

/// A visit is missed when this many days have gone by without an outcome. Common practice, no source.
pub const GRACE_DAYS: u64 = 14;

/// So many days ahead a visit is listed.
pub const AHEAD_DAYS: u64 = 7;

/// A visit of which no outcome was entered.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Due {
    /// Number of the case.
    pub case: SessionNumber,
    /// Id of the visit.
    pub visit: String,
    /// The day it is booked for, else its day by the practice's rule, on an open day.
    pub on: NaiveDate,
    /// Whether it was missed.
    pub missed: bool,
}

/// The visits that are due or missed on a day, the oldest first. Who is lost is due no longer; a later visit that was entered
/// stands for an earlier one.
#[must_use]
pub fn due(
    sessions: &[Session],
    outcomes: &[(SessionNumber, Outcome)],
    profile: &Profile,
    today: NaiveDate,
) -> Vec<Due> {
    let seen = seen(outcomes);
    let latest = today.checked_add_days(Days::new(AHEAD_DAYS)).unwrap_or(today);
    let mut open_days = HashMap::new();
    let mut due = Vec::new();
    for session in sessions {
        let seen = seen.get(&session.case);
        for Planned { visit, day, booked } in planned(session, profile) {
            if day > latest || seen.is_some_and(|seen| seen.stands_for(visit, day)) {
                continue;
            }
            // Closed days move what is not booked.
            let open = || *open_days.entry(day).or_insert_with(|| hours::next_open_day(profile, day).ok());
            let Some(on) = Some(day).filter(|_| booked).or_else(open).filter(|on| *on <= latest) else { continue };
            let missed = on.checked_add_days(Days::new(GRACE_DAYS)).is_some_and(|over| over < today);
            due.push(Due { case: session.case, visit: visit.to_owned(), on, missed });
        }
    }
    due.sort_by(|one, other| (one.on, one.case, &one.visit).cmp(&(other.on, other.case, &other.visit)));
    due
}

/// What was entered of a session.
struct Seen<'a> {
    last: NaiveDate,
    lost: bool,
    visits: Vec<&'a str>,
}

impl Seen<'_> {
    /// Whether nobody waits for a visit of a day any longer.
    fn stands_for(&self, visit: &str, day: NaiveDate) -> bool {
        self.lost || self.last >= day || self.visits.contains(&visit)
    }
}

fn seen(outcomes: &[(SessionNumber, Outcome)]) -> HashMap<SessionNumber, Seen<'_>> {
    let mut seen: HashMap<SessionNumber, Seen> = HashMap::new();
    for (case, outcome) in outcomes {
        let on = outcome.on.0;
        let of_case = seen.entry(*case).or_insert(Seen { last: on, lost: false, visits: Vec::new() });
        of_case.last = of_case.last.max(on);
        of_case.lost |= outcome.lost;
        of_case.visits.push(&outcome.visit);
    }
    seen
}

/// A visit of the plan.
struct Planned<'a> {
    visit: &'a str,
    day: NaiveDate,
    booked: bool,
}

/// The visits after a session: those that everybody has and those that are booked, whatever for.
fn planned<'a>(session: &'a Session, profile: &'a Profile) -> impl Iterator<Item = Planned<'a>> {
    let booked = move |visit: &'a str| {
        let day = session.booked.iter().find(|(own, _)| own == visit).map(|(_, day)| *day);
        day.map(|day| Planned { visit, day, booked: true })
    };
    let by_rule = profile.visits.iter().filter_map(move |rule| {
        let day = session.on.checked_add_days(Days::new(rule.after_days.into()));
        let day = day.filter(|_| rule.applies == VisitFor::Everyone);
        booked(&rule.id).or(day.map(|day| Planned { visit: &rule.id, day, booked: false }))
    });
    by_rule.chain(booked(EVENT_VISIT))
}
