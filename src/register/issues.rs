//! What was issued, in the register.

use super::cases::keep;
use super::database::{Database, Value, all, row, values};
use super::issue::{Issue, IssueId, Issued, IssuedFile, sha256};
use super::{CaseId, Register, RegisterError, Why, time};
use crate::facts::Moment;

#[expect(clippy::missing_errors_doc, reason = "said once for all of them at the head of the register")]
impl Register {
    /// Keeps what was issued, with its files by name and bytes, and the case as it was.
    pub fn issue(&mut self, issue: &Issue, files: &[(&str, &[u8])]) -> Result<IssueId, RegisterError> {
        self.change(|database| {
            keep(database, issue.case, Why::Issued, &issue.by, issue.at)?;
            let sql = "INSERT INTO issue (case_id, moment, revision, record_hash, program, language, by, at, withheld) \
                 VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9) RETURNING id";
            let [id] = row(database, sql, &columns(issue))?.ok_or(RegisterError::NoCase)?;
            let id = id.number()?;
            for (place, (name, bytes)) in (0_i64..).zip(files) {
                let row = values![id, place, *name, sha256(bytes), *bytes];
                database.rows("INSERT INTO issued_file VALUES ($1, $2, $3, $4, $5)", &row)?;
            }
            Ok(id)
        })
    }

    /// What was issued of a case, newest first.
    pub fn issues(&self, id: CaseId) -> Result<Vec<Issued>, RegisterError> {
        issues(self.database(), "case_id = $1 ORDER BY id DESC", id)
    }

    /// Pages that were issued together, by their number.
    pub fn issued(&self, id: IssueId) -> Result<Option<Issued>, RegisterError> {
        Ok(issues(self.database(), "id = $1", id)?.pop())
    }

    /// Name and bytes of a file that was issued.
    pub fn issued_file(&self, issue: IssueId, place: usize) -> Result<Option<(String, Vec<u8>)>, RegisterError> {
        let place = i64::try_from(place).unwrap_or(i64::MAX);
        let sql = "SELECT name, bytes FROM issued_file WHERE issue_id = $1 AND place = $2";
        let file = row(self.database(), sql, &values![issue, place])?;
        file.map(|[name, bytes]| Ok((name.text()?, bytes.bytes()?))).transpose()
    }
}

fn columns(issue: &Issue) -> [Value; 9] {
    values![
        issue.case,
        issue.moment.word(),
        issue.revision,
        &issue.record_hash,
        &issue.program,
        &issue.language,
        &issue.by,
        time::text(issue.at),
        issue.withheld,
    ]
}

fn issues(database: &dyn Database, which: &str, id: i64) -> Result<Vec<Issued>, RegisterError> {
    let sql = format!(
        "SELECT id, case_id, moment, revision, record_hash, program, language, by, at, withheld FROM issue WHERE {which}"
    );
    let files = "SELECT name, sha256 FROM issued_file WHERE issue_id = $1 ORDER BY place";
    all(
        database,
        &sql,
        &values![id],
        |[id, case, moment, revision, record_hash, program, language, by, at, withheld]| {
            let id = id.number()?;
            let file = |[name, sha256]: [Value; 2]| Ok(IssuedFile { name: name.text()?, sha256: sha256.text()? });
            let issue = Issue {
                case: case.number()?,
                moment: if moment.text()? == Moment::After.word() { Moment::After } else { Moment::Before },
                revision: u32::try_from(revision.number()?)
                    .map_err(|_| RegisterError::Unreadable("a revision".into()))?,
                record_hash: record_hash.text()?,
                program: program.text()?,
                language: language.text()?,
                by: by.text()?,
                at: time::read(&at.text()?)?,
                withheld: withheld.number()? != 0,
            };
            Ok(Issued { id, issue, files: all(database, files, &values![id], file)? })
        },
    )
}
