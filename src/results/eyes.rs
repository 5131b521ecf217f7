//! Sessions and outcomes put together by eye.

use std::collections::HashMap;

use chrono::{Days, Months, NaiveDate};

use super::outcome::{EventKind, Outcome};
use super::session::{Selection, Session, SessionNumber};

/// An eye with its sessions that are counted and all that was seen of it since the first of them.
#[derive(Debug, Clone)]
pub struct Eye<'a> {
    /// The first session that is counted. The eye's time begins there.
    pub first: &'a Session,
    /// All sessions that are counted, in order.
    pub sessions: Vec<&'a Session>,
    /// What was seen since, in order, whoever treated the eye again meanwhile.
    pub outcomes: Vec<&'a Outcome>,
}

/// How far an eye was followed for a window.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Followed {
    /// It was seen at the end of the window or later.
    Followed,
    /// The window is not over.
    NotYet,
    /// The window is over, or nobody could find the patient: what became of it is not known.
    Lost,
}

/// A window after the first session of an eye.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    /// Its last day.
    pub end: NaiveDate,
    /// From this day on a visit counts as one at its end.
    pub from: NaiveDate,
}

impl Window {
    /// The window of so many months after a day.
    #[must_use]
    pub fn after(day: NaiveDate, months: u32, early_days: u32) -> Self {
        let end = day.checked_add_months(Months::new(months)).unwrap_or(day);
        Self { end, from: end.checked_sub_days(Days::new(early_days.into())).unwrap_or(end) }
    }
}

impl<'a> Eye<'a> {
    /// The last day on which it was seen; nothing if it never was.
    #[must_use]
    pub fn last_seen(&self) -> Option<NaiveDate> {
        self.outcomes.iter().filter(|outcome| !outcome.lost).map(|outcome| outcome.on.0).max()
    }

    /// How far it was followed for a window, counted up to a day.
    #[must_use]
    pub fn followed(&self, window: Window, up_to: NaiveDate) -> Followed {
        let lost = self.outcomes.last().is_some_and(|last| last.lost);
        match self.last_seen() {
            Some(seen) if seen >= window.from => Followed::Followed,
            _ if lost || window.end <= up_to => Followed::Lost,
            _ => Followed::NotYet,
        }
    }

    /// What was seen at the end of a window: the first visit from there on that fits.
    pub fn at_end(&self, window: Window, fits: impl Fn(&Outcome) -> bool) -> Option<&'a Outcome> {
        self.outcomes.iter().find(|outcome| !outcome.lost && outcome.on.0 >= window.from && fits(outcome)).copied()
    }

    /// What was seen within a window, up to the first visit at its end.
    pub fn within(&self, window: Window) -> impl Iterator<Item = &'a Outcome> + '_ {
        let last = self.at_end(window, |_| true).map_or(window.end, |outcome| outcome.on.0);
        self.outcomes.iter().filter(move |outcome| outcome.on.0 <= last).copied()
    }

    /// Whether an event of these kinds came up to a day, at whatever visit it was told.
    #[must_use]
    pub fn had(&self, kinds: &[EventKind], up_to: NaiveDate) -> bool {
        let events = self.outcomes.iter().flat_map(|outcome| &outcome.events);
        events.into_iter().any(|event| kinds.contains(&event.kind) && event.on.0 <= up_to)
    }

    /// Years from the first session to the day on which it was last seen.
    #[must_use]
    pub fn years(&self) -> f64 {
        let days = self.last_seen().map_or(0, |seen| (seen - self.first.on).num_days());
        days as f64 / 365.25
    }
}

/// The eyes that are counted, in the order in which they were first treated.
#[derive(Debug, Clone)]
pub struct Eyes<'a> {
    /// The eyes.
    pub eyes: Vec<Eye<'a>>,
    /// The day up to which is counted.
    pub up_to: NaiveDate,
}

/// How many eyes were followed for a window.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, serde::Serialize)]
pub struct Standing {
    /// Treated.
    pub treated: u32,
    /// Followed.
    pub followed: u32,
    /// Whose window is not over.
    pub not_yet: u32,
    /// Lost.
    pub lost: u32,
}

impl<'a> Eyes<'a> {
    /// Puts sessions and outcomes of one register together. Whatever comes after the day up to which is counted is left out.
    #[must_use]
    pub fn of(
        sessions: &'a [Session],
        outcomes: &'a [(SessionNumber, Outcome)],
        selection: &Selection,
        up_to: NaiveDate,
    ) -> Self {
        let mut sessions: Vec<&Session> = sessions.iter().filter(|session| session.on <= up_to).collect();
        sessions.sort_by_key(|session| (session.on, session.case));
        let mut eyes: Vec<Eye> = Vec::new();
        let mut known = HashMap::new();
        let mut eye_of_case = HashMap::new();
        for session in sessions {
            let eye = known.entry(session.eye());
            if selection.holds(session) {
                let new = || {
                    eyes.push(Eye { first: session, sessions: Vec::new(), outcomes: Vec::new() });
                    eyes.len() - 1
                };
                let at = *eye.or_insert_with(new);
                eyes[at].sessions.push(session);
                eye_of_case.insert(session.case, at);
            } else if let std::collections::hash_map::Entry::Occupied(eye) = eye {
                eye_of_case.insert(session.case, *eye.get());
            }
        }
        for (case, outcome) in outcomes.iter().filter(|(_, outcome)| outcome.on.0 <= up_to) {
            if let Some(at) = eye_of_case.get(case) {
                eyes[*at].outcomes.push(outcome);
            }
        }
        eyes.iter_mut().for_each(|eye| eye.outcomes.sort_by_key(|outcome| outcome.on));
        Self { eyes, up_to }
    }

    /// How many were followed for a window of months.
    #[must_use]
    pub fn standing(&self, months: u32, early_days: u32) -> Standing {
        let mut standing = Standing::default();
        for eye in &self.eyes {
            standing.treated += 1;
            match eye.followed(Window::after(eye.first.on, months, early_days), self.up_to) {
                Followed::Followed => standing.followed += 1,
                Followed::NotYet => standing.not_yet += 1,
                Followed::Lost => standing.lost += 1,
            }
        }
        standing
    }
}
