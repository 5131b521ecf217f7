//! The page sets of a case as data, before layout.

use chrono::NaiveDateTime;
use schemars::JsonSchema;
use serde::Serialize;

use crate::document::Document;
use crate::packet::rows::CaseHead;
use crate::packet::version::Version;
use crate::packet::{Case, CaseError};

/// The page sets of a case as blocks.
#[derive(Debug, Clone, Serialize, JsonSchema)]
pub struct PageSets {
    /// Version of this format.
    pub version: Version<1>,
    /// Which case.
    #[serde(flatten)]
    pub head: CaseHead,
    /// The page sets that are made at this moment, each as the layout reads it.
    pub documents: Vec<Document>,
}

/// Builds the page sets of a case. `issued`: when, UTC.
///
/// # Errors
/// As [`Case::documents`].
pub fn blocks(case: &Case, issued: NaiveDateTime) -> Result<PageSets, CaseError> {
    Ok(PageSets { version: Version, head: CaseHead::of(case), documents: case.documents(issued)? })
}
