//! Why a page cannot be judged.

use thiserror::Error;

use crate::assets::LoadError;

/// Why a page cannot be judged.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum JudgeError {
    /// The limits or words that it is judged by cannot be read.
    #[error(transparent)]
    Load(#[from] LoadError),
    /// The page cannot be made.
    #[error("{0}")]
    Page(String),
}

impl From<JudgeError> for String {
    fn from(error: JudgeError) -> Self {
        error.to_string()
    }
}

impl From<String> for JudgeError {
    fn from(error: String) -> Self {
        Self::Page(error)
    }
}
