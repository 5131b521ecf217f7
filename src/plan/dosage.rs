//! Doses as stretches of dates: the shape of Dosage and Timing of HL7 FHIR R4 (datatypes), for other programs.

use schemars::JsonSchema;
use serde::Serialize;

use crate::record::date::Date;

/// The doses of one drug.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct DrugDosages {
    /// Key of the drug in the formulary.
    pub drug: String,
    /// Name and strength of the drug.
    pub name: String,
    /// Last date; where the drug goes on, the last one that the calendar shows.
    pub last: Date,
    /// Whether the patient goes on with it after that date.
    pub goes_on: bool,
    /// One for each stretch of dates with the same clock times. Doses that were given are not among them.
    pub dosages: Vec<Dosage>,
}

/// A stretch of dates with the same clock times, or a limit without times.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "camelCase")]
pub struct Dosage {
    /// Place in the order of stretches, from 1.
    pub sequence: usize,
    /// The instruction in words.
    pub text: String,
    /// When.
    pub timing: Timing,
    /// True: only when it is needed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub as_needed_boolean: Option<bool>,
    /// Which eye, in words.
    pub site: Concept,
    /// `ophthalmic`.
    pub route: Concept,
    /// How much a dose is.
    pub dose_and_rate: Vec<DoseAndRate>,
    /// The most in one period, for a drug that is used as needed.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub max_dose_per_period: Option<Ratio>,
}

/// Something said in words, without a code.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Concept {
    /// The words.
    pub text: String,
}

/// When.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Timing {
    /// How it is repeated.
    pub repeat: Repeat,
}

/// How doses are repeated.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "camelCase")]
pub struct Repeat {
    /// First and last date.
    pub bounds_period: Bounds,
    /// Fewest doses in all, for a limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count: Option<u32>,
    /// Most doses in all.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count_max: Option<u32>,
    /// Doses in each period.
    pub frequency: usize,
    /// Most doses in each period, for a limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub frequency_max: Option<u32>,
    /// Length of a period, in its unit.
    pub period: i64,
    /// `d`: days.
    pub period_unit: PeriodUnit,
    /// Clock times of the doses, local, with seconds.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub time_of_day: Vec<String>,
}

/// Unit of a period.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub enum PeriodUnit {
    /// Days.
    #[serde(rename = "d")]
    Day,
}

/// First and last date.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Bounds {
    /// First date.
    pub start: Date,
    /// Last date; left out where the drug goes on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub end: Option<Date>,
}

/// How much a dose is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "camelCase")]
pub struct DoseAndRate {
    /// The amount.
    pub dose_quantity: Quantity,
}

/// An amount in one period.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Ratio {
    /// The amount.
    pub numerator: Quantity,
    /// The period.
    pub denominator: Quantity,
}

/// An amount with its unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Quantity {
    /// How many.
    pub value: u32,
    /// The unit in words.
    pub unit: &'static str,
    /// The name by which FHIR knows the code system of UCUM.
    pub system: &'static str,
    /// The unit's code.
    pub code: &'static str,
}

/// The name by which FHIR knows the code system of UCUM.
const UNITS: &str = "http://unitsofmeasure.org";

impl Quantity {
    /// Counted drops: UCUM `[drp]` would be a volume, a twentieth of a milliliter.
    #[must_use]
    pub fn drops(value: u32) -> Self {
        Self { value, unit: "drop", system: UNITS, code: "{drop}" }
    }

    /// Days.
    #[must_use]
    pub fn days(value: u32) -> Self {
        Self { value, unit: "day", system: UNITS, code: "d" }
    }
}
