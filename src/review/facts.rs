//! The vocabulary that conditions and texts may use, and its values for a case.

use schemars::JsonSchema;
use serde::Serialize;

use crate::facts::{Definition, Kind, definitions};
use crate::packet::Case;
use crate::packet::rows::{self, CaseHead, FactValues};
use crate::packet::version::Version;

/// Every fact there is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Vocabulary {
    /// Version of this format.
    pub version: Version<1>,
    /// The facts in reading order.
    pub facts: Vec<FactRow>,
}

/// One fact.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct FactRow {
    /// Name in conditions and texts.
    pub name: &'static str,
    /// Type and unit in words.
    #[serde(rename = "type")]
    pub kind: String,
    /// What it means.
    pub meaning: &'static str,
}

/// The facts of a case.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CaseFacts {
    /// Version of this format.
    pub version: Version<1>,
    /// Which case.
    #[serde(flatten)]
    pub head: CaseHead,
    /// Value of each fact by its name; null when it is not recorded or does not apply.
    pub facts: FactValues,
}

/// Lists the vocabulary.
#[must_use]
pub fn vocabulary() -> Vocabulary {
    Vocabulary { version: Version, facts: definitions().map(row).collect() }
}

/// Derives the facts of a case.
#[must_use]
pub fn facts(case: &Case) -> CaseFacts {
    CaseFacts { version: Version, head: CaseHead::of(case), facts: rows::facts(case) }
}

fn row(fact: &Definition) -> FactRow {
    FactRow { name: fact.name, kind: kind(fact.kind), meaning: fact.meaning }
}

fn kind(kind: Kind) -> String {
    match kind {
        Kind::Choice(words) => format!("one of {}", words.join(", ")),
        Kind::Number(unit, _) => format!("a number, {unit}"),
        Kind::Minutes => "a length of time, printed in words".into(),
        Kind::Text => "text".into(),
        Kind::List => "a list".into(),
        Kind::Date => "a date, printed with its weekday".into(),
        Kind::Time => "a time of day".into(),
    }
}
