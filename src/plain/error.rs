//! Why a page cannot be judged.

use thiserror::Error;

use crate::assets::LoadError;
use crate::diag::Report;
use crate::packet::CaseError;
use crate::practice::NotPrinted;

/// Why a page cannot be judged.
#[derive(Debug, Error)]
pub enum JudgeError {
    /// The limits or words that it is judged by cannot be read.
    #[error(transparent)]
    Load(#[from] LoadError),
    /// The practice does not print in the language.
    #[error(transparent)]
    Language(#[from] NotPrinted),
    /// The page cannot be made.
    #[error(transparent)]
    Page(#[from] CaseError),
    /// The record it is of contradicts itself.
    #[error("{}", first(.0))]
    Record(Report),
}

/// The first thing that is wrong with a record.
fn first(report: &Report) -> String {
    report.sorted().first().map(|wrong| wrong.message.clone()).unwrap_or_default()
}
