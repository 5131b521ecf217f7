//! What is planned after this session, if this eye needs another.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::known::Known;

/// A further session on this eye, as far as it is planned.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
#[schemars(extend("x-known-by" = "surgeon"))]
pub struct NextSession {
    /// Weeks from this session to the next.
    #[schemars(range(min = 1, max = 104))]
    pub after_weeks: Known<u32>,
    /// What this session brought so far, in words.
    #[schemars(length(min = 1, max = 200))]
    pub result: Known<String>,
    /// What remains of the floater, in words.
    #[schemars(length(min = 1, max = 200))]
    pub remains: Known<String>,
    /// What is done differently next time, in words.
    #[schemars(length(min = 1, max = 200))]
    pub changes: Known<String>,
}
