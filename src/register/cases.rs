//! Cases in the register: a draft that overwrites itself, what it was within a sitting, and its revisions.

use chrono::{NaiveDate, NaiveDateTime};
use serde::{Deserialize, Serialize};

use super::case::{Act, CaseFile, CaseId, Filed, Revision, Version, Why};
use super::database::{Database, Value, all, row, values};
use super::ledger::{self, Entry};
use super::{Register, RegisterError, sessions, time};
use crate::record::identity::folded_number;

const CASE: &str = "SELECT id, version, file FROM kept_case";

/// The change that undo reaches next.
const TO_TAKE_BACK: &str = "WHERE case_id = $1 AND taken_back = 0 ORDER BY version DESC LIMIT 1";

#[expect(clippy::missing_errors_doc, reason = "said once for all of them at the head of the register")]
impl Register {
    /// Keeps a new case. [`RegisterError::CodeTaken`] if another has its code.
    pub fn add(&mut self, file: &CaseFile) -> Result<CaseId, RegisterError> {
        self.change(|database| add(database, file))
    }

    /// A case, if there is one of this number.
    pub fn case(&self, id: CaseId) -> Result<Option<Filed>, RegisterError> {
        one(self.database(), id)
    }

    /// The number of the case with a code.
    pub fn by_code(&self, code: &str) -> Result<Option<CaseId>, RegisterError> {
        let id = row(self.database(), "SELECT id FROM kept_case WHERE code = $1 AND erased = 0", &values![code])?;
        id.map(|[id]| id.number()).transpose()
    }

    /// A case as it was at one of its versions, as far as this sitting remembers.
    pub fn at_version(&self, id: CaseId, version: Version) -> Result<Option<CaseFile>, RegisterError> {
        if let Some(now) = self.case(id)?.filter(|now| now.version == version) {
            return Ok(Some(now.file));
        }
        let sql = "SELECT file FROM change WHERE case_id = $1 AND version = $2";
        row(self.database(), sql, &values![id, version])?.map(|[file]| CaseFile::read(&file.text()?)).transpose()
    }

    /// Overwrites a case and remembers what it was. [`RegisterError::Changed`] if it is no longer what was seen.
    pub fn save(&mut self, seen: &Filed, file: &CaseFile, act: &Act) -> Result<Version, RegisterError> {
        self.change(|database| {
            let now = one(database, seen.id)?.ok_or(RegisterError::NoCase)?;
            if now.version != seen.version {
                return Err(RegisterError::Changed);
            }
            overwrite(database, &now, file, act, false)
        })
    }

    /// What would be taken back next.
    pub fn last_change(&self, id: CaseId) -> Result<Option<String>, RegisterError> {
        let what = row(self.database(), &format!("SELECT what FROM change {TO_TAKE_BACK}"), &values![id])?;
        what.map(|[what]| what.text()).transpose()
    }

    /// Takes back the last change of the sitting that was not taken back; what it was, or nothing if there is none.
    pub fn undo(&mut self, id: CaseId, act: &Act) -> Result<Option<String>, RegisterError> {
        self.change(|database| {
            let last = row(database, &format!("SELECT version, file, what FROM change {TO_TAKE_BACK}"), &values![id])?;
            let Some([version, file, what]) = last else { return Ok(None) };
            let now = one(database, id)?.ok_or(RegisterError::NoCase)?;
            let sql = "UPDATE change SET taken_back = 1 WHERE case_id = $1 AND version = $2";
            database.rows(sql, &values![id, version.number()?])?;
            overwrite(database, &now, &CaseFile::read(&file.text()?)?, act, true)?;
            Ok(Some(what.text()?))
        })
    }

    /// Forgets what was before changes made earlier than this.
    pub fn forget_before(&mut self, at: NaiveDateTime) -> Result<(), RegisterError> {
        self.change(|database| {
            database.rows("DELETE FROM change WHERE at < $1", &values![time::text(at)])?;
            Ok(())
        })
    }

    /// The cases of a day, by time.
    pub fn day(&self, day: NaiveDate) -> Result<Vec<Filed>, RegisterError> {
        let next = day.succ_opt().unwrap_or(day);
        let between = [day, next].map(|day| Value::from(day.format("%Y-%m-%d").to_string()));
        self.cases("WHERE starts >= $1 AND starts < $2 ORDER BY starts, id", &between)
    }

    /// The cases without a day, newest first, at most so many.
    pub fn undated(&self, most: u32) -> Result<Vec<Filed>, RegisterError> {
        self.cases("WHERE starts IS NULL AND erased = 0 ORDER BY id DESC LIMIT $1", &values![most])
    }

    /// The cases in which the surgeon is asked something, the longest waiting first.
    pub fn asked(&self) -> Result<Vec<Filed>, RegisterError> {
        self.cases("WHERE asked IS NOT NULL ORDER BY asked, id", &[])
    }

    /// The cases that hold each of these words in name, record number or code, newest first, at most so many.
    pub fn find(&self, words: &str, most: u32) -> Result<Vec<Filed>, RegisterError> {
        let words: Vec<String> = words.split_whitespace().map(folded_number).filter(|word| !word.is_empty()).collect();
        if words.is_empty() {
            return Ok(Vec::new());
        }
        let holds: Vec<String> = (1..=words.len()).map(|at| format!("instr(sought, ${at}) > 0")).collect();
        let rest = format!("WHERE {} ORDER BY id DESC", sought(&holds.join(" AND "), most));
        self.cases(&rest, &words.into_iter().map(Value::from).collect::<Vec<_>>())
    }

    /// The cases with this name or this record number, however they are written. Without either there are none.
    pub fn of_patient(&self, name: &str, record_number: &str) -> Result<Vec<Filed>, RegisterError> {
        let texts = [name, record_number].map(folded_number).map(Value::from);
        // A text that folds to nothing is no word.
        let either = "WHERE id IN (SELECT case_id FROM sought_word WHERE word IN ($1, $2)) ORDER BY id";
        self.cases(either, &texts)
    }

    /// The numbers of all cases.
    pub fn all(&self) -> Result<Vec<CaseId>, RegisterError> {
        all(self.database(), "SELECT id FROM kept_case WHERE erased = 0 ORDER BY id", &[], |[id]| id.number())
    }

    /// Keeps a case as it is now as a revision.
    pub fn keep(&mut self, id: CaseId, why: Why, by: &str, at: NaiveDateTime) -> Result<(), RegisterError> {
        self.change(|database| keep(database, id, why, by, at))
    }

    /// The revisions of a case, oldest first.
    pub fn revisions(&self, id: CaseId) -> Result<Vec<Revision>, RegisterError> {
        let sql = "SELECT at, body FROM ledger JOIN payload ON payload.number = ledger.number \
                   WHERE case_id = $1 AND kind = 'revision' ORDER BY ledger.number";
        all(self.database(), sql, &values![id], |[at, body]| {
            let Kept { version, why, by, file } = ledger::read(&body.bytes()?)?;
            Ok(Revision { version, why, file, by, at: time::read(&at.text()?)? })
        })
    }

    fn cases(&self, rest: &str, with: &[Value]) -> Result<Vec<Filed>, RegisterError> {
        all(self.database(), &format!("{CASE} {rest}"), with, filed)
    }
}

/// The newest cases of which what is sought fulfils a condition. Every case is looked at, but in the index alone (`+id` keeps the
/// database to it): the pages of a file are read of those that are listed.
fn sought(condition: &str, most: u32) -> String {
    format!("id IN (SELECT id FROM kept_case WHERE {condition} ORDER BY +id DESC LIMIT {most})")
}

/// Overwrites a case and remembers what it was. An undo is itself a change that is not taken back.
pub(super) fn add(database: &dyn Database, file: &CaseFile) -> Result<CaseId, RegisterError> {
    let sql = "INSERT INTO kept_case (version, file, code, starts, sought, asked) VALUES (1, $1, $2, $3, $4, $5) RETURNING id";
    let [id] = row(database, sql, &columns(file)?)?.ok_or(RegisterError::NoCase)?;
    let id = id.number()?;
    sessions::read_anew(database, id, file)?;
    Ok(id)
}

fn overwrite(
    database: &dyn Database,
    now: &Filed,
    file: &CaseFile,
    act: &Act,
    is_undo: bool,
) -> Result<Version, RegisterError> {
    let before = now.file.written()?;
    database.rows(
        "INSERT INTO change VALUES ($1, $2, $3, $4, $5, $6, $7)",
        &values![now.id, now.version, before, &act.what, &act.by, time::text(act.at), is_undo],
    )?;
    let version = now.version + 1;
    let sql =
        "UPDATE kept_case SET file = $1, code = $2, starts = $3, sought = $4, asked = $5, version = $6 WHERE id = $7";
    let [written, code, starts, sought, asked] = columns(file)?;
    database.rows(sql, &[written, code, starts, sought, asked, version.into(), now.id.into()])?;
    sessions::read_anew(database, now.id, file)?;
    Ok(version)
}

/// A case in the columns of its table, from `file` to `asked`.
fn columns(file: &CaseFile) -> Result<[Value; 5], RegisterError> {
    let asked = file.asked.as_ref().map(|asked| time::text(asked.at));
    Ok(values![file.written()?, file.code(), file.starts().map(time::text), file.sought(), asked])
}

/// A revision as the ledger keeps it.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Kept {
    pub(super) version: Version,
    pub(super) why: String,
    pub(super) by: String,
    pub(super) file: CaseFile,
}

/// Keeps a case as it is now as a revision.
pub(super) fn keep(
    database: &dyn Database,
    id: CaseId,
    why: Why,
    by: &str,
    at: NaiveDateTime,
) -> Result<(), RegisterError> {
    let now = one(database, id)?.ok_or(RegisterError::NoCase)?;
    let kept = Kept { version: now.version, why: why.word().into(), by: by.into(), file: now.file };
    append_revision(database, id, &kept, at)
}

pub(super) fn append_revision(
    database: &dyn Database,
    id: CaseId,
    kept: &Kept,
    at: NaiveDateTime,
) -> Result<(), RegisterError> {
    let body = ledger::json(kept)?;
    ledger::append(database, Entry { kind: "revision", case: Some(id), part_of: None, at, body: &body })?;
    Ok(())
}

fn one(database: &dyn Database, id: CaseId) -> Result<Option<Filed>, RegisterError> {
    row(database, &format!("{CASE} WHERE id = $1 AND erased = 0"), &values![id])?.map(filed).transpose()
}

/// A row of [`CASE`].
fn filed([id, version, file]: [Value; 3]) -> Result<Filed, RegisterError> {
    Ok(Filed { id: id.number()?, version: version.number()?, file: CaseFile::read(&file.text()?)? })
}
