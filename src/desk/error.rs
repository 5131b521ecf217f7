//! Why the desk does not answer.

use std::io;

use crate::assets::{LoadError, Problem};
use crate::content::ComposeError;
use crate::files::create::CreateError;
use crate::files::write::WriteError;
use crate::packet::CaseError;
use crate::practice::{NotPrinted, PracticeError};
use crate::register::RegisterError;

/// Why the desk does not start, or a page of it is not made. Nothing of a patient stands in it.
#[derive(Debug, thiserror::Error)]
pub enum DeskError {
    /// The practice is not ready for use.
    #[error(transparent)]
    Practice(#[from] PracticeError),
    /// The register does not answer.
    #[error(transparent)]
    Register(#[from] RegisterError),
    /// A file of the desk's own cannot be used.
    #[error(transparent)]
    Load(#[from] LoadError),
    /// A case cannot be looked at.
    #[error(transparent)]
    Case(#[from] CaseError),
    /// The practice prints in no language of its staff.
    #[error(transparent)]
    Language(#[from] NotPrinted),
    /// A text of the practice is missing.
    #[error(transparent)]
    Compose(#[from] ComposeError),
    /// A file of the desk's own does not fit the program.
    #[error("{0}")]
    Text(String),
    /// The desk has no word for something.
    #[error("locales/{language}/desk.toml: {key} is missing")]
    Word {
        /// Language.
        language: String,
        /// Key.
        key: String,
    },
    /// A page of the desk cannot be made.
    #[error("{0}")]
    Page(#[from] minijinja::Error),
    /// The profile cannot be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// The redirect page cannot be written.
    #[error(transparent)]
    Create(#[from] CreateError),
    /// No port of this machine can be had.
    #[error("no address of this machine can be had: {0}")]
    Listen(#[source] io::Error),
    /// The machine gives no random numbers.
    #[error("this machine gives no random numbers")]
    NoRandom,
    /// The server stopped by itself.
    #[error("the desk stopped: {0}")]
    Stopped(#[source] io::Error),
}

impl DeskError {
    /// A file of the desk's own that cannot be read.
    pub(super) fn in_file(path: &str) -> impl Fn(Problem) -> Self + '_ {
        move |problem| problem.in_file(path).into()
    }
}
