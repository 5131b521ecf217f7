//! What was issued: the bytes that somebody was given, with what they were made from.

use chrono::NaiveDateTime;
use serde::{Deserialize, Serialize};

use super::CaseId;
use super::ledger::Number;
use crate::facts::Moment;

/// Number of an issue: that of its row in the ledger.
pub type IssueId = Number;

/// Pages that were issued together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Issue {
    /// Of which case.
    pub case: CaseId,
    /// Before or after the treatment.
    pub moment: Moment,
    /// Revision of the case that stands on the pages.
    pub revision: u32,
    /// What they were made from.
    pub hashes: Hashes,
    /// Version of the program that made them.
    pub program: String,
    /// Language of the patient's pages.
    pub language: String,
    /// Whether the consent (before the treatment) or the drop plan (after it) was withheld from them.
    pub withheld: bool,
    /// Who issued them.
    pub by: String,
    /// When, UTC.
    pub at: NaiveDateTime,
}

/// SHA-256 of what pages were made from, hexadecimal. A store of an earlier form left some empty.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hashes {
    /// Of the record.
    pub record: String,
    /// Of the clinical values and files behind it.
    pub clinical: String,
    /// Of the practice's profile: names, phones and hours stand on the pages too.
    pub profile: String,
}

impl Hashes {
    /// Whether pages of both say the same, as far as both know what they were made from.
    #[must_use]
    pub fn agree(&self, other: &Self) -> bool {
        let pairs = [(&self.record, &other.record), (&self.clinical, &other.clinical), (&self.profile, &other.profile)];
        pairs.iter().all(|(one, other)| one.is_empty() || other.is_empty() || one == other)
    }
}

/// An issue in its register, with its files by name and hash.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Issued {
    /// Its number.
    pub id: IssueId,
    /// What was issued.
    pub issue: Issue,
    /// Its files, in their order.
    pub files: Vec<IssuedFile>,
}

/// A file that was issued.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IssuedFile {
    /// Name: the id of the document with its version, which stands on its pages: case code, revision, moment and page.
    pub name: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
}
