//! What is counted, remembered and kept up: of many cases, to read all of it takes most of a second.

use std::sync::Arc;

use chrono::NaiveDate;

use super::database::row;
use super::outcomes::{Numbered, Row};
use super::sessions::CHANGES;
use super::{CaseId, OutcomeId, Register, RegisterError};
use crate::results::{Outcome, Session};

/// What is counted up to a day.
#[derive(Debug, Clone)]
pub struct Counted {
    /// The sessions, by day.
    pub sessions: Arc<Vec<Session>>,
    /// The outcomes that hold, by case and day.
    pub outcomes: Arc<Vec<(CaseId, Outcome)>>,
}

/// How far the store is: the newest outcome, how much was erased, and how often sessions changed.
#[derive(Debug, Clone, PartialEq, Eq)]
struct State {
    newest: OutcomeId,
    erased: i64,
    changes: Option<String>,
}

/// What was counted up to a day when the store was so far, with the numbers of the outcomes.
#[derive(Debug)]
pub(super) struct Remembered {
    up_to: NaiveDate,
    state: State,
    counted: Counted,
    numbers: Vec<OutcomeId>,
}

#[expect(clippy::missing_errors_doc, reason = "said once for all of them at the head of the register")]
impl Register {
    /// What is counted of all cases up to a day. Only what changed since it was asked the last time is read.
    pub fn counted(&self, up_to: NaiveDate) -> Result<Counted, RegisterError> {
        // What changes while it is read is read the next time.
        let now = self.state()?;
        let known = self.counted.borrow_mut().take();
        let mut known = match known.filter(|known| known.up_to == up_to && known.state.erased == now.erased) {
            Some(known) => known,
            None => self.all_counted(up_to, now.clone())?,
        };
        if known.state.changes != now.changes {
            known.counted.sessions = Arc::new(self.sessions(up_to)?);
        }
        for row in self.outcome_rows(known.state.newest, now.newest)? {
            known.take(row);
        }
        known.state = now;
        let counted = known.counted.clone();
        *self.counted.borrow_mut() = Some(known);
        Ok(counted)
    }

    fn all_counted(&self, up_to: NaiveDate, state: State) -> Result<Remembered, RegisterError> {
        let mut outcomes = self.numbered_outcomes(up_to)?;
        outcomes.retain(|Numbered { id, .. }| *id <= state.newest);
        let numbers = outcomes.iter().map(|Numbered { id, .. }| *id).collect();
        let outcomes = outcomes.into_iter().map(|Numbered { case, outcome, .. }| (case, outcome)).collect();
        let counted = Counted { sessions: Arc::new(self.sessions(up_to)?), outcomes: Arc::new(outcomes) };
        Ok(Remembered { up_to, state, counted, numbers })
    }

    fn state(&self) -> Result<State, RegisterError> {
        let sql = "SELECT coalesce(max(id), 0), (SELECT count(*) FROM erased) FROM outcome";
        let [newest, erased] = row(self.database(), sql, &[])?.ok_or(RegisterError::Damaged)?;
        Ok(State { newest: newest.number()?, erased: erased.number()?, changes: self.setting(CHANGES)? })
    }
}

impl Remembered {
    /// Takes a newer row of the outcomes in.
    fn take(&mut self, Row { replaces, withdrawn, of: Numbered { id, case, outcome } }: Row) {
        let outcomes = Arc::make_mut(&mut self.counted.outcomes);
        if let Some(at) = self.numbers.iter().position(|number| Some(*number) == replaces) {
            outcomes.remove(at);
            self.numbers.remove(at);
        }
        if !withdrawn && outcome.on.0 <= self.up_to {
            let at = outcomes.partition_point(|(other, before)| (*other, before.on) <= (case, outcome.on));
            outcomes.insert(at, (case, outcome));
            self.numbers.insert(at, id);
        }
    }
}
