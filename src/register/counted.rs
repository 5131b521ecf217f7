//! What is counted, remembered as long as nothing of it changes: of many cases, to read it takes most of a second.

use std::sync::Arc;

use chrono::NaiveDate;

use super::database::{Database, row, values};
use super::{CaseId, Register, RegisterError};
use crate::results::{Outcome, Session};

/// Under which name the store counts the changes of sessions.
const SESSIONS: &str = "sessions";

/// Sessions by day, and outcomes by case, up to a day.
#[derive(Debug)]
pub struct Counted {
    /// The sessions.
    pub sessions: Vec<Session>,
    /// The outcomes that hold.
    pub outcomes: Vec<(CaseId, Outcome)>,
}

/// Tells what can be counted from what could be before: the day, the newest outcome, how much was erased, and how often
/// sessions changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Stamp(NaiveDate, i64, i64, Option<String>);

#[expect(clippy::missing_errors_doc, reason = "said once for all of them at the head of the register")]
impl Register {
    /// What is counted of all cases up to a day.
    pub fn counted(&self, up_to: NaiveDate) -> Result<Arc<Counted>, RegisterError> {
        // What changes while it is read is read again the next time.
        let stamp = self.stamp(up_to)?;
        if let Some((_, known)) = self.counted.borrow().as_ref().filter(|(known, _)| *known == stamp) {
            return Ok(Arc::clone(known));
        }
        let read = Arc::new(Counted { sessions: self.sessions(up_to)?, outcomes: self.all_outcomes(up_to)? });
        *self.counted.borrow_mut() = Some((stamp, Arc::clone(&read)));
        Ok(read)
    }

    fn stamp(&self, up_to: NaiveDate) -> Result<Stamp, RegisterError> {
        let sql = "SELECT coalesce(max(id), 0), (SELECT count(*) FROM erased) FROM outcome";
        let [newest, erased] = row(self.database(), sql, &[])?.ok_or(RegisterError::Damaged)?;
        Ok(Stamp(up_to, newest.number()?, erased.number()?, self.setting(SESSIONS)?))
    }
}

/// Tells everybody that sessions changed.
pub(super) fn sessions_changed(database: &dyn Database) -> Result<(), RegisterError> {
    let sql = "INSERT INTO setting VALUES ($1, '1') \
               ON CONFLICT (name) DO UPDATE SET value = CAST(CAST(setting.value AS bigint) + 1 AS text)";
    database.rows(sql, &values![SESSIONS]).map(|_| ())
}
