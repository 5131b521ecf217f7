//! What the program says on standard error.

use std::io::{IsTerminal, Write};

use crate::diag::emit::{self, Colour};
use crate::diag::{Report, SourceFile};

/// Why a command did nothing.
#[derive(Debug)]
pub enum Failure {
    /// The reader of our output has gone; nobody needs to be told.
    Closed,
    /// A sentence that says what is wrong and what to do.
    Told(String),
    /// Everything that is wrong with a file a person wrote.
    Refused(Box<(Report, SourceFile)>),
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

impl From<std::io::Error> for Failure {
    fn from(error: std::io::Error) -> Self {
        match error.kind() {
            std::io::ErrorKind::BrokenPipe => Self::Closed,
            _ => Self::Told(error.to_string()),
        }
    }
}

/// Writes a failure to standard error.
pub fn failure(failure: &Failure) {
    match failure {
        Failure::Closed => {}
        Failure::Told(text) => line(&format!("error: {text}")),
        Failure::Refused(refused) => {
            let (report, file) = refused.as_ref();
            line(&emit::human(report, file, colour()));
        }
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
