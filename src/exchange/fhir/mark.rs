//! What every row of the tables in `templates/fhir/` says of itself.

use serde::Deserialize;

/// How far a row was compared with its source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Mark {
    /// Read in a copy of the source.
    Seen,
    /// From memory.
    Memory,
}
