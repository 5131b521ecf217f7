//! Why a case is not made.

use crate::assets::LoadError;
use crate::content::ComposeError;
use crate::plan::PlanError;
use crate::practice::NotPrinted;
use crate::render::RenderError;
use crate::render::events::CalendarError;

/// Why a case is not made: which stage refuses, and what to change.
#[derive(Debug, thiserror::Error)]
pub enum CaseError {
    /// The moment has not come.
    #[error("the aftercare packet needs the treatment as done: add [treatment]")]
    NotTreated,
    /// The plan cannot be kept.
    #[error(transparent)]
    Plan(#[from] PlanError),
    /// A text cannot be composed.
    #[error(transparent)]
    Text(#[from] ComposeError),
    /// The calendar file cannot be written.
    #[error(transparent)]
    Calendar(#[from] CalendarError),
    /// The practice does not print in a language.
    #[error(transparent)]
    Language(#[from] NotPrinted),
    /// What the fields of a form are called cannot be read.
    #[error(transparent)]
    Labels(#[from] LoadError),
    /// What was made cannot be written as JSON.
    #[error(transparent)]
    Json(#[from] serde_json::Error),
    /// A page cannot be printed.
    #[error("{id}: {why}")]
    Page {
        /// Id of the document.
        id: String,
        /// Why.
        #[source]
        why: RenderError,
    },
}

impl CaseError {
    /// Where in the record it can be mended, as a JSON pointer, if it lies in one place.
    #[must_use]
    pub fn pointer(&self) -> Option<&str> {
        match self {
            Self::NotTreated => Some("/treatment"),
            Self::Plan(error) => Some(error.pointer()),
            Self::Language(_) => Some("/patient/language"),
            Self::Text(ComposeError::UnknownDrug { .. }) => Some("/plan/regimen"),
            Self::Text(_) | Self::Calendar(_) | Self::Labels(_) | Self::Json(_) | Self::Page { .. } => None,
        }
    }
}
