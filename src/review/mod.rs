//! Questions about a case, a practice or a language, each answered by one value: typed, with the version of its format and
//! a schema ([`schema`]). A front end asks, and shows what it is told.

pub mod audit;
pub mod blocks;
pub mod check;
pub mod compare;
pub mod coverage;
pub mod due;
pub mod explain;
pub mod facts;
pub mod plain;
pub mod plan;
pub mod practice;
pub mod proofread;
pub mod schema;
pub mod translations;
pub mod verify;

use std::collections::BTreeMap;

use crate::document::Document;
#[cfg(feature = "typeset")]
use crate::document::sheet::document_id;
use crate::packet::{Case, CaseError};

/// On which page of a document each statement and part begins, by id, from 1.
#[cfg(feature = "typeset")]
fn pages(case: &Case, document: &Document) -> Result<BTreeMap<String, usize>, CaseError> {
    let id = || document_id(case.record(), case.moment(), document.page);
    case.practice().typesetter().places(document).map_err(|why| CaseError::Page { id: id(), why })
}

/// Nothing is laid out without the typesetter, so nothing stands on a page.
#[cfg(not(feature = "typeset"))]
fn pages(_: &Case, _: &Document) -> Result<BTreeMap<String, usize>, CaseError> {
    Ok(BTreeMap::new())
}
