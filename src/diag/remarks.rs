//! What is said of a file that a person wrote: errors that refuse it, or warnings that hold nothing back.

use std::fmt;
use std::ops::Deref;

use super::emit::{self, Colour, Item};
use super::{Report, SourceFile};

/// A report, with the text to show it in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remarks {
    /// What is to be said.
    pub report: Report,
    /// The file as anybody may see it.
    pub file: SourceFile,
    /// The file as it was written, for who asks to see its values.
    pub written: Box<SourceFile>,
}

impl Remarks {
    /// The same as data, without private values. Where a key itself may be private, the pointer ends at its table.
    #[must_use]
    pub fn items(&self) -> Vec<Item> {
        let mut items = emit::items(&self.report, &self.file);
        for pointer in items.iter_mut().filter_map(|item| item.pointer.as_mut()) {
            let hidden = |key: &str| self.written.text.contains(key) && !self.file.text.contains(key);
            let shown = pointer.split('/').take_while(|key| !hidden(key)).collect::<Vec<_>>().join("/");
            *pointer = shown;
        }
        items
    }
}

/// A file that was refused: everything that is wrong with it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refused(pub Remarks);

impl Deref for Refused {
    type Target = Remarks;

    fn deref(&self) -> &Remarks {
        &self.0
    }
}

impl fmt::Display for Refused {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(emit::human(&self.report, &self.file, Colour::Never).trim_end())
    }
}

impl std::error::Error for Refused {}
