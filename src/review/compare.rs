//! What a patient would now read differently, between two versions of a case or of a practice.

use schemars::JsonSchema;
use serde::Serialize;

use crate::document::changes::{self, Change};
use crate::document::reading::{self, Passage};
use crate::packet::rows::CaseHead;
use crate::packet::version::Version;
use crate::packet::{Case, CaseError};

/// What the patient of a case reads.
#[derive(Debug, Clone)]
pub struct Reading {
    head: CaseHead,
    passages: Vec<Passage>,
}

/// Two versions of a page.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Comparison {
    /// Version of this format.
    pub version: Version<1>,
    /// Which case was read first.
    pub old: CaseHead,
    /// Which case was read then.
    pub new: CaseHead,
    /// Every difference, in the order of the new page; what is gone comes last. None: the patient reads the same.
    pub changes: Vec<Change>,
}

/// Reads the patient's page of a case, whether it may be printed or not.
///
/// # Errors
/// A text, number or note that is missing.
pub fn read(case: &Case) -> Result<Reading, CaseError> {
    Ok(Reading { head: CaseHead::of(case), passages: reading::read(&case.unissued()?) })
}

/// Compares what was read with what is read now.
#[must_use]
pub fn compare(old: &Reading, new: &Reading) -> Comparison {
    let changes = changes::between(&old.passages, &new.passages);
    Comparison { version: Version, old: old.head.clone(), new: new.head.clone(), changes }
}
