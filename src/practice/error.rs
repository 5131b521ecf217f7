//! Why a practice is not ready for use, or does not print.

use crate::assets::LoadError;
use crate::content::ComposeError;
use crate::diag::Refused;
use crate::files::read::ReadError;
use crate::render::fonts::FontError;

/// Why a practice is not ready for use.
#[derive(Debug, thiserror::Error)]
pub enum PracticeError {
    /// A file of its folder was not read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// A file is not as it must be.
    #[error(transparent)]
    Refused(#[from] Refused),
    /// A font of its own cannot be used.
    #[error(transparent)]
    Font(#[from] FontError),
    /// A file that the clinic edits cannot be used.
    #[error(transparent)]
    Load(#[from] LoadError),
    /// A language lacks a word that the others of the practice need.
    #[error(transparent)]
    Word(#[from] ComposeError),
    /// A rule of the drops names no drug.
    #[error("rule {rule}: {selector} names no drug of the formulary")]
    NoDrug {
        /// Id of the rule.
        rule: String,
        /// What it names.
        selector: String,
    },
    /// A jurisdiction asks for what no page has.
    #[error("jurisdiction {jurisdiction}: {id} is no statement, part or section of a page")]
    NoSuchPart {
        /// Name of its file.
        jurisdiction: String,
        /// What it asks for.
        id: String,
    },
    /// Nothing reads a file of the practice's own.
    #[error(
        "nothing reads {0} in the practice's folder: give it the name of the file it replaces, or the id of a statement"
    )]
    Unread(String),
}

/// The practice does not print in a language.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the practice prints in {}, not in {language}", printed.join(", "))]
pub struct NotPrinted {
    /// The language asked for, a BCP 47 tag.
    pub language: String,
    /// Those it prints in.
    pub printed: Vec<String>,
}
