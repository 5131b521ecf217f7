//! What the program says on standard error.

use std::io::{IsTerminal, Write};
use std::sync::atomic::{AtomicBool, Ordering};

use crate::assets::LoadError;
use crate::content::ComposeError;
#[cfg(feature = "desk")]
use crate::desk::DeskError;
use crate::diag::emit::{self, Colour};
use crate::diag::{Refused, Remarks};
use crate::exchange::fhir::incoming::NotRead;
use crate::files::create::CreateError;
use crate::files::read::ReadError;
use crate::files::write::WriteError;
use crate::packet::CaseError;
use crate::plain::JudgeError;
use crate::practice::PracticeError;
#[cfg(feature = "desk")]
use crate::register::RegisterError;
use crate::render::RenderError;
use crate::results::NotTable;
#[cfg(feature = "desk")]
use crate::verify::{Refused as RefusedFile, VerifyError};

/// Why a command did nothing.
#[derive(Debug)]
pub enum Failure {
    /// The reader of our output has gone; nobody needs to be told.
    Closed,
    /// A sentence that says what is wrong and what to do.
    Told(String),
    /// Everything that is wrong with a file a person wrote.
    Refused(Box<Refused>),
}

impl From<String> for Failure {
    fn from(text: String) -> Self {
        Self::Told(text)
    }
}

impl From<&str> for Failure {
    fn from(text: &str) -> Self {
        Self::Told(text.to_owned())
    }
}

impl From<Refused> for Failure {
    fn from(refused: Refused) -> Self {
        Self::Refused(Box::new(refused))
    }
}

impl From<ReadError> for Failure {
    fn from(error: ReadError) -> Self {
        match error {
            ReadError::Refused(refused) => refused.into(),
            other => Self::Told(other.to_string()),
        }
    }
}

/// Errors that are one sentence.
macro_rules! told {
    ($($error:ty),+) => {
        $(impl From<$error> for Failure {
            fn from(error: $error) -> Self {
                Self::Told(error.to_string())
            }
        })+
    };
}

told!(
    CaseError,
    ComposeError,
    CreateError,
    JudgeError,
    LoadError,
    NotRead,
    NotTable,
    RenderError,
    WriteError,
    toml::ser::Error,
    serde_json::Error,
    std::fmt::Error
);

impl From<PracticeError> for Failure {
    fn from(error: PracticeError) -> Self {
        match error {
            PracticeError::Read(error) => error.into(),
            PracticeError::Refused(refused) => refused.into(),
            other => Self::Told(other.to_string()),
        }
    }
}

#[cfg(feature = "desk")]
impl From<DeskError> for Failure {
    fn from(error: DeskError) -> Self {
        match error {
            DeskError::Practice(error) => error.into(),
            other => Self::Told(other.to_string()),
        }
    }
}

#[cfg(feature = "desk")]
impl From<RegisterError> for Failure {
    fn from(error: RegisterError) -> Self {
        Self::Told(error.to_string())
    }
}

#[cfg(feature = "desk")]
impl From<VerifyError> for Failure {
    fn from(error: VerifyError) -> Self {
        Self::Told(error.to_string())
    }
}

#[cfg(feature = "desk")]
impl From<RefusedFile> for Failure {
    fn from(error: RefusedFile) -> Self {
        Self::Told(error.to_string())
    }
}

impl From<std::io::Error> for Failure {
    fn from(error: std::io::Error) -> Self {
        match error.kind() {
            std::io::ErrorKind::BrokenPipe => Self::Closed,
            _ => Self::Told(error.to_string()),
        }
    }
}

/// Whether whoever runs the program asked to see the values of a record of which something is said.
static VALUES_SHOWN: AtomicBool = AtomicBool::new(false);

/// Shows from now on the lines of a record as they are written.
pub(super) fn show_values() {
    VALUES_SHOWN.store(true, Ordering::Relaxed);
}

/// Whether they are shown.
pub(super) fn values_shown() -> bool {
    VALUES_SHOWN.load(Ordering::Relaxed)
}

/// Writes a failure to standard error.
pub fn failure(failure: &Failure) {
    match failure {
        Failure::Closed => {}
        Failure::Told(text) => line(&format!("error: {text}")),
        Failure::Refused(refused) => remarks(refused),
    }
}

/// Writes what is said of a file, if there is anything.
pub(super) fn remarks(remarks: &Remarks) {
    if !remarks.report.is_empty() {
        line(&emit::human(&remarks.report, if values_shown() { &remarks.written } else { &remarks.file }, colour()));
    }
}

/// One line on standard error. Nobody can be told when that fails.
pub fn line(text: &str) {
    let _ = writeln!(std::io::stderr(), "{text}");
}

fn colour() -> Colour {
    let wanted = std::io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
    if wanted { Colour::Always } else { Colour::Never }
}
