//! What was issued: the bytes that somebody was given, with what they were made from.

use chrono::NaiveDateTime;
use serde::{Deserialize, Serialize};

use super::CaseId;
use super::ledger::Number;
use crate::facts::Moment;
use crate::practice::Checked;
use crate::record::Record;

/// Number of an issue: that of its row in the ledger.
pub type IssueId = Number;

/// Files by name, with their bytes.
pub type Files<'f> = Vec<(&'f str, &'f [u8])>;

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

impl Issue {
    /// Pages that are issued of a record now.
    #[must_use]
    pub fn of(
        case: CaseId,
        record: &Checked<Record>,
        moment: Moment,
        withheld: bool,
        by: &str,
        at: NaiveDateTime,
    ) -> Self {
        Self {
            case,
            moment,
            revision: record.case.revision,
            hashes: Hashes::of(record),
            program: env!("CARGO_PKG_VERSION").into(),
            language: record.patient.language.clone(),
            withheld,
            by: by.to_owned(),
            at,
        }
    }
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
    /// Those of a record and the practice it was checked for.
    #[must_use]
    pub fn of(record: &Checked<Record>) -> Self {
        let practice = record.with();
        Self {
            record: record.hash().unwrap_or_default(),
            clinical: practice.clinical_hash().to_owned(),
            profile: practice.profile_hash().unwrap_or_default(),
        }
    }

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
    /// Whether its drops stand on a calendar for both eyes.
    pub joined: bool,
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
