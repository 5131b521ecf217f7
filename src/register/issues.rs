//! What was issued, in the register.

use serde::{Deserialize, Serialize};

use super::cases::keep;
use super::database::{Database, Value, all, row, values};
use super::hash::sha256;
use super::issue::{Files, Hashes, Issue, IssueId, Issued, IssuedFile};
use super::ledger::{self, Entry};
use super::{CaseId, Register, RegisterError, Why, time};
use crate::facts::Moment;

/// The columns that [`issued`] reads.
const ISSUE: &str = "SELECT ledger.number, case_id, at, body FROM ledger \
                     JOIN payload ON payload.number = ledger.number WHERE kind = 'issue' AND";

#[expect(clippy::missing_errors_doc, reason = "said once for all of them at the head of the register")]
impl Register {
    /// Keeps what was issued, with its files by name and bytes, and the case as it was. [`RegisterError::SameRevision`] if
    /// pages of another content were issued of the same case, moment and revision.
    pub fn issue(&mut self, issue: &Issue, files: &[(&str, &[u8])]) -> Result<IssueId, RegisterError> {
        self.change(|database| put(database, issue, files))
    }

    /// Keeps pages that were issued together, and does something more: all of it or nothing.
    pub fn issue_all(
        &mut self,
        issues: &[(Issue, Files)],
        more: impl FnOnce() -> Result<(), RegisterError>,
    ) -> Result<Vec<IssueId>, RegisterError> {
        self.change(|database| {
            let numbers = issues.iter().map(|(issue, files)| put(database, issue, files)).collect::<Result<_, _>>()?;
            more()?;
            Ok(numbers)
        })
    }

    /// What was issued of a case, newest first.
    pub fn issues(&self, id: CaseId) -> Result<Vec<Issued>, RegisterError> {
        issues(self.database(), "case_id = $1 ORDER BY ledger.number DESC", id)
    }

    /// Pages that were issued together, by their number.
    pub fn issued(&self, id: IssueId) -> Result<Option<Issued>, RegisterError> {
        Ok(issues(self.database(), "ledger.number = $1", id)?.pop())
    }

    /// The newest issue with a file that is wanted, and the place of that file in it.
    pub fn issued_with(
        &self,
        wanted: impl Fn(&Issued, &IssuedFile) -> bool,
    ) -> Result<Option<(Issued, usize)>, RegisterError> {
        let all = issues(self.database(), "ledger.number > $1 ORDER BY ledger.number DESC", 0)?;
        let place = |issued: &Issued| issued.files.iter().position(|file| wanted(issued, file));
        Ok(all.into_iter().find_map(|issued| place(&issued).map(|place| (issued, place))))
    }

    /// Name and bytes of a file that was issued.
    pub fn issued_file(&self, issue: IssueId, place: usize) -> Result<Option<(String, Vec<u8>)>, RegisterError> {
        let Some(mut issued) = self.issued(issue)?.filter(|issued| place < issued.files.len()) else { return Ok(None) };
        let sql = "SELECT body FROM ledger JOIN payload ON payload.number = ledger.number \
                   WHERE part_of = $1 ORDER BY ledger.number LIMIT 1 OFFSET $2";
        let file = row(self.database(), sql, &values![issue, i64::try_from(place).unwrap_or(i64::MAX)])?;
        file.map(|[bytes]| Ok((issued.files.swap_remove(place).name, bytes.bytes()?))).transpose()
    }
}

fn put(database: &dyn Database, issue: &Issue, files: &[(&str, &[u8])]) -> Result<IssueId, RegisterError> {
    let joined = is_joined(files);
    let earlier = issues(database, "case_id = $1", issue.case)?;
    let same = |earlier: &&Issued| (earlier.issue.moment, earlier.issue.revision) == (issue.moment, issue.revision);
    let agrees = |earlier: &Issued| earlier.joined == joined && earlier.issue.hashes.agree(&issue.hashes);
    if earlier.iter().filter(same).any(|earlier| !agrees(earlier)) {
        return Err(RegisterError::SameRevision(issue.revision));
    }
    let number = append_issue(database, issue, files)?;
    keep(database, issue.case, Why::Issued, &issue.by, issue.at)?;
    Ok(number)
}

/// Whether the data among these files name a calendar for both eyes.
fn is_joined(files: &[(&str, &[u8])]) -> bool {
    let data = files.iter().find(|(name, _)| name.ends_with("-packet.json"));
    let data = data.and_then(|(_, bytes)| serde_json::from_slice::<serde_json::Value>(bytes).ok());
    data.is_some_and(|data| data["both_eyes"].is_string())
}

/// An issue as the ledger keeps it.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Kept {
    moment: String,
    revision: u32,
    hashes: Hashes,
    program: String,
    language: String,
    withheld: bool,
    joined: bool,
    by: String,
    files: Vec<IssuedFile>,
}

impl Kept {
    fn of(issue: &Issue, files: &[(&str, &[u8])]) -> Self {
        let issue = issue.clone();
        Self {
            moment: issue.moment.word().into(),
            revision: issue.revision,
            hashes: issue.hashes,
            program: issue.program,
            language: issue.language,
            withheld: issue.withheld,
            joined: is_joined(files),
            by: issue.by,
            files: files
                .iter()
                .map(|(name, bytes)| IssuedFile { name: (*name).into(), sha256: sha256(bytes) })
                .collect(),
        }
    }
}

/// Adds an issue and its files to the ledger.
pub(super) fn append_issue(
    database: &dyn Database,
    issue: &Issue,
    files: &[(&str, &[u8])],
) -> Result<IssueId, RegisterError> {
    let body = ledger::json(&Kept::of(issue, files))?;
    let entry = Entry { kind: "issue", case: Some(issue.case), part_of: None, at: issue.at, body: &body };
    let number = ledger::append(database, entry)?;
    for (_, bytes) in files {
        ledger::append(database, Entry { kind: "file", part_of: Some(number), body: bytes, ..entry })?;
    }
    Ok(number)
}

fn issues(database: &dyn Database, which: &str, id: i64) -> Result<Vec<Issued>, RegisterError> {
    all(database, &format!("{ISSUE} {which}"), &values![id], issued)
}

/// A row of [`ISSUE`].
fn issued([number, case, at, body]: [Value; 4]) -> Result<Issued, RegisterError> {
    let kept: Kept = ledger::read(&body.bytes()?)?;
    let issue = Issue {
        case: case.number()?,
        moment: if kept.moment == Moment::After.word() { Moment::After } else { Moment::Before },
        revision: kept.revision,
        hashes: kept.hashes,
        program: kept.program,
        language: kept.language,
        withheld: kept.withheld,
        by: kept.by,
        at: time::read(&at.text()?)?,
    };
    Ok(Issued { id: number.number()?, issue, joined: kept.joined, files: kept.files })
}
