//! Runs of text, the result of reading a statement.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A run of text.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case", tag = "t", content = "v")]
pub enum Inline {
    /// Plain text.
    Text(String),
    /// Bold: emphasis and nothing else.
    Strong(Vec<Inline>),
    /// A key of a file, for staff: small and never broken.
    Id(String),
    /// Number of a reference at the end of the page set.
    Note(u32),
    /// Takes no room: from here on the words belong to the statement or part with this id. The layout says on which page
    /// that is.
    Mark(String),
}

/// Inline content of a paragraph or a cell.
pub type Inlines = Vec<Inline>;
