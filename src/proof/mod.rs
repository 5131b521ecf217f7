//! Proofreading of a catalogue, for the person who edits its texts: what the loader cannot refuse because each file alone
//! is sound. Unknown names, missing texts and missing evidence are refused when the catalogue loads.

pub mod audit;
pub mod pages;
pub mod records;
pub mod texts;
pub mod walk;
pub mod wording;

use schemars::JsonSchema;
use serde::Serialize;

use crate::plain::JudgeError;
use crate::practice::Practice;
use wording::Wording;

/// Something to mend.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
pub struct Fault {
    /// Id of the statement or of the evidence entry.
    pub id: String,
    /// What is wrong, and what to do.
    pub what: String,
}

impl Fault {
    fn new(id: &str, what: impl Into<String>) -> Self {
        Self { id: id.to_owned(), what: what.into() }
    }
}

/// Reads a practice's catalogue in one of its languages.
///
/// # Errors
/// When the practice does not print in the language.
pub fn proofread(practice: &Practice, language: &str) -> Result<Vec<Fault>, JudgeError> {
    let library = practice.library(language)?;
    let mut faults = texts::faults(library, &Wording::load(&practice.assets, library.lineage())?);
    faults.extend(walk::conditions(library));
    let practice = practice.as_if_confirmed();
    let (of_cases, worth_reading) = walk::cases(&practice, library);
    faults.extend(of_cases);
    faults.extend(pages::faults(&practice, language, &worth_reading)?);
    faults.sort();
    faults.dedup();
    Ok(faults)
}
