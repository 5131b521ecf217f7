//! What is remembered from one day to the next: cases half filled in, people, and what was issued.
//!
//! One small synchronous trait, so that another store can stand behind it; whoever calls it from a server does so on a
//! thread of its own. `tests/register.rs` holds what every store must do.

mod case;
mod error;
mod issue;
mod migrations;
mod person;
mod sqlite;

use chrono::{NaiveDate, NaiveDateTime};

pub use case::{Act, Asked, CaseFile, CaseId, Filed, Revision, Version, Whole, Why};
pub use error::RegisterError;
pub use issue::{Issue, IssueId, Issued, IssuedFile, sha256};
pub use person::{Passphrase, Person, SHORTEST};
pub use sqlite::Sqlite;

/// A store of cases, people and issues. Every change is whole or not at all.
///
/// All functions fail with [`RegisterError`]: the store does not answer, or one of the reasons named beside them.
#[expect(clippy::missing_errors_doc, reason = "said once for all of them")]
pub trait Register: Send {
    /// Everybody, by name.
    fn people(&self) -> Result<Vec<Person>, RegisterError>;

    /// Adds somebody, or replaces who has the name.
    fn put_person(&mut self, person: &Person) -> Result<(), RegisterError>;

    /// Keeps a new case. [`RegisterError::CodeTaken`] if another has its code.
    fn add(&mut self, file: &CaseFile) -> Result<CaseId, RegisterError>;

    /// A case, if there is one of this number.
    fn case(&self, id: CaseId) -> Result<Option<Filed>, RegisterError>;

    /// The number of the case with a code.
    fn by_code(&self, code: &str) -> Result<Option<CaseId>, RegisterError>;

    /// A case as it was at one of its versions, as far as this sitting remembers.
    fn at_version(&self, id: CaseId, version: Version) -> Result<Option<CaseFile>, RegisterError>;

    /// Overwrites a case and remembers what it was. [`RegisterError::Changed`] if it is no longer what was seen.
    fn save(&mut self, seen: &Filed, file: &CaseFile, act: &Act) -> Result<Version, RegisterError>;

    /// What would be taken back next.
    fn last_change(&self, id: CaseId) -> Result<Option<String>, RegisterError>;

    /// Takes back the last change of the sitting that was not taken back; what it was, or nothing if there is none.
    fn undo(&mut self, id: CaseId, act: &Act) -> Result<Option<String>, RegisterError>;

    /// Forgets what was before changes made earlier than this.
    fn forget_before(&mut self, at: NaiveDateTime) -> Result<(), RegisterError>;

    /// The cases of a day, by time.
    fn day(&self, day: NaiveDate) -> Result<Vec<Filed>, RegisterError>;

    /// The cases without a day, newest first, at most so many.
    fn undated(&self, most: u32) -> Result<Vec<Filed>, RegisterError>;

    /// The cases in which the surgeon is asked something, the longest waiting first.
    fn asked(&self) -> Result<Vec<Filed>, RegisterError>;

    /// The cases that hold each of these words in name, record number or code, newest first, at most so many.
    fn find(&self, words: &str, most: u32) -> Result<Vec<Filed>, RegisterError>;

    /// The cases with this name or this record number, however they are written. Without either there are none.
    fn of_patient(&self, name: &str, record_number: &str) -> Result<Vec<Filed>, RegisterError>;

    /// The numbers of all cases.
    fn all(&self) -> Result<Vec<CaseId>, RegisterError>;

    /// Keeps a case as it is now as a revision.
    fn keep(&mut self, id: CaseId, why: Why, by: &str, at: NaiveDateTime) -> Result<(), RegisterError>;

    /// The revisions of a case, oldest first.
    fn revisions(&self, id: CaseId) -> Result<Vec<Revision>, RegisterError>;

    /// Keeps what was issued, with its files by name and bytes, and the case as it was.
    fn issue(&mut self, issue: &Issue, files: &[(&str, &[u8])]) -> Result<IssueId, RegisterError>;

    /// What was issued of a case, newest first.
    fn issues(&self, id: CaseId) -> Result<Vec<Issued>, RegisterError>;

    /// Pages that were issued together, by their number.
    fn issued(&self, id: IssueId) -> Result<Option<Issued>, RegisterError>;

    /// Name and bytes of a file that was issued.
    fn issued_file(&self, issue: IssueId, place: usize) -> Result<Option<(String, Vec<u8>)>, RegisterError>;

    /// What the desk remembers under a name.
    fn setting(&self, name: &str) -> Result<Option<String>, RegisterError>;

    /// Remembers something under a name.
    fn set(&mut self, name: &str, value: &str) -> Result<(), RegisterError>;
}
