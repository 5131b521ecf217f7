//! Who the patient is, and how their pages are made.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::date::{Clock, Date};
use super::known::Answer;

/// The patient.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(extend("x-known-by" = "desk"))]
pub struct Patient {
    /// Name as it is to be printed.
    #[schemars(length(min = 1, max = 120))]
    pub name: String,
    /// The name in Latin letters, printed with the record number where the print fonts lack the script of the name.
    #[serde(default)]
    #[schemars(length(min = 1, max = 120))]
    pub latin_name: Option<String>,
    /// Date of birth.
    #[schemars(extend("x-private" = true))]
    pub birth_date: Date,
    /// Record number of the practice. Printed as an identifier, never used in a file name.
    #[schemars(length(min = 1, max = 40))]
    pub record_number: String,
    /// Language of the patient's pages, for example `en-US`.
    #[schemars(length(min = 2, max = 35), extend("x-names" = "language"))]
    pub language: String,
    /// Size of print.
    #[serde(default)]
    pub print: Print,
    /// When the patient gets up.
    pub wakes: Clock,
    /// When the patient goes to sleep. Earlier than `wakes` means after midnight.
    pub sleeps: Clock,
    /// Who decides for the patient, if somebody does.
    #[serde(default)]
    pub representative: Option<Representative>,
    /// The interpreter's language, if one is needed.
    #[serde(default)]
    pub interpreter: Option<Interpreter>,
}

/// Who decides in the patient's place.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Representative {
    /// Name.
    #[schemars(length(min = 1, max = 120))]
    pub name: String,
    /// On what authority, for example "health care proxy".
    #[schemars(length(min = 1, max = 120))]
    pub authority: String,
}

/// That an interpreter is needed.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Interpreter {
    /// Language interpreted, in words of the practice.
    #[schemars(length(min = 1, max = 60))]
    pub language: String,
    /// Booked for the talk. Only then the pages speak of an interpreter who helps.
    #[serde(default)]
    pub booked: Answer,
}

/// Sizes of print.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Print {
    /// 14 pt body.
    #[default]
    Standard,
    /// 18 pt, nothing smaller.
    Large,
}
