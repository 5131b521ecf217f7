//! A file that was refused: everything that is wrong with it, and the text it stands in.

use std::fmt;

use super::emit::{self, Colour};
use super::{Report, SourceFile};

/// Everything that is wrong with a file a person wrote, with the text to show it in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused {
    /// What is wrong.
    pub report: Report,
    /// The file as anybody may see it.
    pub file: SourceFile,
    /// The file as it was written, for who asks to see its values.
    pub written: Box<SourceFile>,
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(emit::human(&self.report, &self.file, Colour::Never).trim_end())
    }
}

impl std::error::Error for Refused {}
