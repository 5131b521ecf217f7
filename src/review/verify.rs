//! What a file proves of itself, and what a register knows of it.

use chrono::{DateTime, Utc};
use schemars::JsonSchema;
use serde::Serialize;

use crate::document::changes::Change;
use crate::facts::Moment;
use crate::packet::version::Version;

/// What was found out about a file. Nothing in it says who the patient is but the words that differ.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Verification {
    /// Version of this format.
    pub version: Version<1>,
    /// What is to be thought of the file.
    pub verdict: Verdict,
    /// SHA-256 of its bytes, hexadecimal.
    pub sha256: String,
    /// What the file says of itself; none where nothing goes along in it that this program can read.
    pub claims: Option<Claims>,
    /// As what the register issued it, or issued what it claims to be.
    pub issued: Option<IssuedAs>,
    /// What was appended to the bytes that were issued.
    pub appended: Option<Appended>,
    /// What a patient would read otherwise in it than in what was issued; only of a changed file, and only by the data that go
    /// along in both. None: one of both has no such data.
    pub altered: Option<Vec<Change>>,
    /// The version that replaced it.
    pub replaced: Option<Replaced>,
}

/// What is to be thought of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Byte for byte as it was issued.
    Whole,
    /// It begins with all bytes as they were issued; something was appended.
    Appended,
    /// The register issued this document in this version, and these are not its bytes.
    Changed,
    /// The register issued no document of this id and version.
    Unknown,
    /// Nothing goes along in it, and the register does not know its bytes.
    NotOurs,
    /// No register was asked: the file says only what it is.
    NotAsked,
}

/// What a file says of itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Claims {
    /// Id of the document.
    pub id: String,
    /// Its version: the revision of the case.
    pub revision: u32,
    /// BCP 47 tag of its language.
    pub language: String,
    /// Version of the program that made it.
    pub program: String,
    /// What the code on its first page must say when it is read: id, version, and the first 160 bits of SHA-256 of the data
    /// that go along, hexadecimal.
    pub code: String,
}

/// What a register issued.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct IssuedAs {
    /// Name of the file.
    pub file: String,
    /// Before or after the treatment.
    pub moment: Moment,
    /// Its version.
    pub revision: u32,
    /// When, UTC.
    pub at: DateTime<Utc>,
    /// Who issued it.
    pub by: String,
}

/// What was appended to a file, as a signature is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Appended {
    /// How many bytes.
    pub bytes: usize,
    /// Whether it puts something else in the place of what the pages are drawn from: they may show something else than what was
    /// issued.
    pub redraws: bool,
    /// Fields and notes with an extent that it lays over the pages: they may cover something.
    pub over_pages: usize,
}

/// A newer version of a page set.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Replaced {
    /// What replaced it.
    pub by: IssuedAs,
    /// What a patient reads otherwise in the newer one; none where one of both has no data that go along.
    pub changes: Option<Vec<Change>>,
}

impl Verification {
    /// Whether it is as it was issued and nothing newer replaced it.
    #[must_use]
    pub fn holds(&self) -> bool {
        let whole = match self.verdict {
            Verdict::Whole => true,
            Verdict::Appended => self.appended.is_some_and(|appended| !appended.redraws),
            _ => false,
        };
        whole && self.replaced.is_none()
    }
}
