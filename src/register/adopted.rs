//! Stores of earlier forms had revisions and issues, and later outcomes and people, in tables of their own. They are brought into
//! the ledger in the order in which they were kept.

use std::collections::HashMap;

use chrono::NaiveDateTime;
use serde_json::Value as Json;

use super::cases::{Kept, append_revision};
use super::database::{Database, Value, all, row, values};
use super::issue::{Hashes, Issue, IssueId};
use super::issues::append_issue;
use super::people::{self, person};
use super::{CaseFile, CaseId, RegisterError, outcomes, sessions, time};
use crate::facts::Moment;

/// Something that was kept.
enum Old {
    Revision(CaseId, Kept, NaiveDateTime),
    Issue(IssueId, Issue),
}

impl Old {
    fn at(&self) -> NaiveDateTime {
        match self {
            Self::Revision(_, _, at) => *at,
            Self::Issue(_, issue) => issue.at,
        }
    }
}

/// Brings everything over and takes the old tables away.
pub(super) fn into_ledger(database: &dyn Database) -> Result<(), RegisterError> {
    let mut old = revisions(database)?;
    old.extend(issues(database)?);
    old.sort_by_key(Old::at);
    for old in old {
        match old {
            Old::Revision(case, kept, at) => append_revision(database, case, &kept, at)?,
            Old::Issue(id, issue) => bring(database, id, issue)?,
        }
    }
    database.script("DROP TABLE issued_file; DROP TABLE issue; DROP TABLE revision")
}

fn revisions(database: &dyn Database) -> Result<Vec<Old>, RegisterError> {
    let sql = "SELECT case_id, version, why, file, by, at FROM revision ORDER BY rowid";
    all(database, sql, &[], |[case, version, why, file, by, at]| {
        let file = CaseFile::read(&file.text()?)?;
        let kept = Kept { version: version.number()?, why: why.text()?, by: by.text()?, file };
        Ok(Old::Revision(case.number()?, kept, time::read(&at.text()?)?))
    })
}

fn issues(database: &dyn Database) -> Result<Vec<Old>, RegisterError> {
    let sql =
        "SELECT id, case_id, moment, revision, record_hash, program, language, by, at, withheld FROM issue ORDER BY id";
    all(database, sql, &[], |[id, case, moment, revision, record_hash, program, language, by, at, withheld]| {
        let issue = Issue {
            case: case.number()?,
            moment: if moment.text()? == Moment::After.word() { Moment::After } else { Moment::Before },
            revision: u32::try_from(revision.number()?).map_err(|_| RegisterError::Unreadable("a revision".into()))?,
            hashes: Hashes { record: record_hash.text()?, ..Hashes::default() },
            program: program.text()?,
            language: language.text()?,
            withheld: withheld.number()? != 0,
            by: by.text()?,
            at: time::read(&at.text()?)?,
        };
        Ok(Old::Issue(id.number()?, issue))
    })
}

fn bring(database: &dyn Database, id: IssueId, mut issue: Issue) -> Result<(), RegisterError> {
    let sql = "SELECT name, bytes FROM issued_file WHERE issue_id = $1 ORDER BY place";
    let file = |[name, bytes]: [Value; 2]| Ok((name.text()?, bytes.bytes()?));
    let files: Vec<(String, Vec<u8>)> = all(database, sql, &values![id], file)?;
    let data = files.iter().find(|(name, _)| name.ends_with(".json"));
    let data = data.and_then(|(_, bytes)| serde_json::from_slice::<Json>(bytes).ok());
    let hash = data.and_then(|data| data["clinical_hash"].as_str().map(str::to_owned));
    issue.hashes.clinical = hash.unwrap_or_default();
    let files: Vec<(&str, &[u8])> = files.iter().map(|(name, bytes)| (name.as_str(), bytes.as_slice())).collect();
    append_issue(database, &issue, &files).map(|_| ())
}

/// Brings outcomes over, each under the number of its row, and takes their old table away. A row is dated when its outcome
/// was entered, unless the ledger has gone on since: time does not run back in it. Sessions learn what is booked.
pub(super) fn outcomes_into_ledger(database: &dyn Database) -> Result<(), RegisterError> {
    let mut latest = last(database)?;
    let mut numbers = HashMap::new();
    let sql = format!("SELECT {} FROM outcome_before AS outcome ORDER BY outcome.id", outcomes::columns());
    for (before, case, mut entered) in all(database, &sql, &[], outcomes::entered)? {
        let number = |id| numbers.get(&id).copied().ok_or_else(|| RegisterError::Unreadable("an outcome".into()));
        entered.replaces = entered.replaces.map(number).transpose()?;
        latest = latest.max(entered.at);
        numbers.insert(before, outcomes::append(database, case, &entered, latest)?);
    }
    database.script("DROP TABLE outcome_before")?;
    sessions::with_bookings(database)
}

/// Tells the ledger of the people who were there before it did, and takes their old table away. Nobody knows when they were added
/// and by whom: their rows are dated as the last one before.
pub(super) fn people_into_ledger(database: &dyn Database) -> Result<(), RegisterError> {
    let at = last(database)?;
    for person in all(database, "SELECT name, role, passphrase FROM person_before ORDER BY name", &[], person)? {
        people::put(database, &person, None, at)?;
    }
    database.script("DROP TABLE person_before")
}

/// When the last row was written, UTC; of an empty ledger the beginning of 1970.
fn last(database: &dyn Database) -> Result<NaiveDateTime, RegisterError> {
    let last = row(database, "SELECT at FROM ledger ORDER BY number DESC LIMIT 1", &[])?;
    Ok(last.map(|[at]| time::read(&at.text()?)).transpose()?.unwrap_or_default())
}
