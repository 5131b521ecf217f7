//! Which visits after the laser are due, and which were missed.

use std::collections::HashMap;

use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

use crate::packet::version::Version;
use crate::record::profile::Profile;
use crate::results::{Outcome, Session, SessionNumber, due};

/// The visits of a practice of which no outcome was entered. Nothing in it says who a patient is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct DueVisits {
    /// Version of this format.
    pub version: Version<1>,
    /// The visits, the oldest first.
    pub visits: Vec<DueVisit>,
}

/// A visit of which no outcome was entered.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct DueVisit {
    /// Code of the case, if it has one.
    pub case: Option<String>,
    /// Id of the visit in the practice profile.
    pub visit: String,
    /// Its day.
    pub on: NaiveDate,
    /// Whether it was missed; else it is due.
    pub missed: bool,
}

/// The visits that are due or missed on a day, of sessions with their outcomes.
#[must_use]
pub fn visits(
    sessions: &[Session],
    outcomes: &[(SessionNumber, Outcome)],
    profile: &Profile,
    today: NaiveDate,
) -> DueVisits {
    let codes: HashMap<SessionNumber, Option<&String>> =
        sessions.iter().map(|session| (session.case, session.code.as_ref())).collect();
    let visit = |due: due::Due| DueVisit {
        case: codes.get(&due.case).copied().flatten().cloned(),
        visit: due.visit,
        on: due.on,
        missed: due.missed,
    };
    let visits = due::due(sessions, outcomes, profile, today).into_iter().map(visit).collect();
    DueVisits { version: Version, visits }
}
