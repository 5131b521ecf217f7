//! To whom letters about this treatment go, and what they say beside the record.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::known::Known;

/// Letters about this treatment.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
#[schemars(extend("x-known-by" = "surgeon"))]
pub struct Letters {
    /// Who referred the patient.
    #[schemars(extend("x-known-by" = "desk"))]
    pub referred_by: Option<Correspondent>,
    /// The retina specialist who is asked to see the patient when it is urgent.
    #[schemars(extend("x-known-by" = "desk"))]
    pub specialist: Option<Correspondent>,
    /// What was changed in the patient's medicines and drops, beside the drops of the regimen; an empty list: nothing.
    #[schemars(length(max = 10), extend("items" = { "type": "string", "minLength": 1, "maxLength": 120 }))]
    pub medicines_changed: Known<Vec<String>>,
    /// The surgeon's own words to the reader, plain text, one paragraph each.
    #[schemars(length(max = 3), inner(length(min = 1, max = 400)))]
    pub words: Vec<String>,
}

/// Who reads a letter.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Correspondent {
    /// Name as it is to be printed.
    #[schemars(length(min = 1, max = 120))]
    pub name: String,
    /// Address, line by line.
    #[serde(default)]
    #[schemars(length(max = 4), inner(length(min = 1, max = 60)))]
    pub address: Vec<String>,
    /// Language of the letter, for example `en-US`; left out: the clinic's own.
    #[serde(default)]
    #[schemars(length(min = 2, max = 35), extend("x-names" = "language"))]
    pub language: Option<String>,
}
