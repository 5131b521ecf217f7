//! Which visits are due and which were missed: the visits of the plan against what was entered.

use std::collections::{HashMap, HashSet};

use chrono::{Days, NaiveDate};

use super::outcome::Outcome;
use super::session::{Session, SessionNumber};
use crate::facts::hours;
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
    /// Its day by the practice's rule, on an open day. A booked time may have moved it.
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
    let mut last: HashMap<SessionNumber, NaiveDate> = HashMap::new();
    let mut entered: HashSet<(SessionNumber, &str)> = HashSet::new();
    let mut lost = HashSet::new();
    for (case, outcome) in outcomes {
        let day = last.entry(*case).or_insert(outcome.on.0);
        *day = outcome.on.0.max(*day);
        entered.insert((*case, outcome.visit.as_str()));
        if outcome.lost {
            lost.insert(*case);
        }
    }
    let latest = today.checked_add_days(Days::new(AHEAD_DAYS)).unwrap_or(today);
    let mut due = Vec::new();
    for session in sessions.iter().filter(|session| !lost.contains(&session.case)) {
        for rule in profile.visits.iter().filter(|rule| rule.applies == VisitFor::Everyone) {
            let wanted = session.on.checked_add_days(Days::new(rule.after_days.into()));
            let seen_since = wanted.is_none_or(|on| last.get(&session.case).is_some_and(|last| *last >= on));
            if seen_since || wanted.is_none_or(|on| on > latest) || entered.contains(&(session.case, rule.id.as_str()))
            {
                continue;
            }
            // Closed days move it.
            let Some(on) = wanted.and_then(|on| hours::next_open_day(profile, on).ok()) else { continue };
            if on > latest {
                continue;
            }
            let missed = on.checked_add_days(Days::new(GRACE_DAYS)).is_some_and(|over| over < today);
            due.push(Due { case: session.case, visit: rule.id.clone(), on, missed });
        }
    }
    due.sort_by(|one, other| (one.on, one.case, &one.visit).cmp(&(other.on, other.case, &other.visit)));
    due
}
