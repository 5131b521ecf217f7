//! Erasing what is kept of a person, where the law asks for it. The chain stays whole and says who erased what, and why.

use chrono::NaiveDateTime;
use serde::{Deserialize, Serialize};

use super::case::CaseFile;
use super::database::{Database, all, row, values};
use super::ledger::{self, Entry, Number};
use super::sessions::sessions_changed;
use super::{CaseId, Register, RegisterError};

/// The kind of a row that tells of an erasure.
pub(super) const ERASURE: &str = "erasure";

/// Who erased something, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Erasure {
    by: String,
    reason: String,
    /// The rows of the ledger that lost what they kept.
    pub(super) rows: Vec<Number>,
}

impl Register {
    /// Erases everything that is kept of a case but its code, which is not given again. How many rows of the ledger lost what
    /// they kept. Backups keep it until they are erased too.
    ///
    /// # Errors
    /// [`RegisterError::NoCase`], [`RegisterError::NoPerson`] if nobody of the register has the name, or
    /// [`RegisterError::NoReason`].
    pub fn erase(&mut self, case: CaseId, by: &str, reason: &str, at: NaiveDateTime) -> Result<usize, RegisterError> {
        if reason.trim().is_empty() {
            return Err(RegisterError::NoReason);
        }
        if !self.people()?.iter().any(|person| person.name == by) {
            return Err(RegisterError::NoPerson);
        }
        let rows = self.change(|database| {
            if row::<1>(database, "SELECT id FROM kept_case WHERE id = $1 AND erased = 0", &values![case])?.is_none() {
                return Err(RegisterError::NoCase);
            }
            let of_case = "SELECT payload.number FROM payload JOIN ledger ON ledger.number = payload.number \
                           WHERE case_id = $1 AND kind <> 'erasure' ORDER BY payload.number";
            let rows = all(database, of_case, &values![case], |[number]| number.number())?;
            let body = ledger::json(&Erasure { by: by.into(), reason: reason.trim().into(), rows: rows.clone() })?;
            let entry = Entry { kind: ERASURE, case: Some(case), part_of: None, at, body: &body };
            let erasure = ledger::append(database, entry)?;
            for row in &rows {
                database.rows("INSERT INTO erased (number, erasure) VALUES ($1, $2)", &values![*row, erasure])?;
                database.rows("DELETE FROM payload WHERE number = $1", &values![*row])?;
            }
            forget(database, case)?;
            Ok(rows.len())
        })?;
        self.database().overwrite_deleted()?;
        Ok(rows)
    }
}

/// Takes a case itself away, and what it was.
fn forget(database: &dyn Database, case: CaseId) -> Result<(), RegisterError> {
    database.rows("DELETE FROM change WHERE case_id = $1", &values![case])?;
    let sql = "UPDATE kept_case SET version = version + 1, file = $1, starts = NULL, sought = '', asked = NULL, erased = 1 \
               WHERE id = $2";
    database.rows(sql, &values![CaseFile::default().written()?, case])?;
    database.rows("DELETE FROM session WHERE case_id = $1", &values![case])?;
    sessions_changed(database)?;
    database.rows("DELETE FROM outcome WHERE case_id = $1", &values![case])?;
    Ok(())
}
