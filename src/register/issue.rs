//! What was issued: the bytes that somebody was given, with what they were made from.

use chrono::NaiveDateTime;
use sha2::{Digest, Sha256};

use super::CaseId;
use crate::facts::Moment;

/// Number of an issue in its register.
pub type IssueId = i64;

/// Pages that were issued together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Issue {
    /// Of which case.
    pub case: CaseId,
    /// Before or after the treatment.
    pub moment: Moment,
    /// Revision of the case that stands on the pages.
    pub revision: u32,
    /// Hash of the record they were made from.
    pub record_hash: String,
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
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct IssuedFile {
    /// Name: case code, revision, moment and page.
    pub name: String,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
}

/// SHA-256 of some bytes, hexadecimal.
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}
