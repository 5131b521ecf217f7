//! Doses as data for other programs, shaped after Dosage of HL7 FHIR R4 (datatypes): what the plan says
//! ([`crate::plan::dosage`]), with its words in the patient's language beside it.
//!
//! Codes of the body site are left out: the eye stands in words.

use chrono::NaiveDate;
use schemars::JsonSchema;
use serde::Serialize;

use crate::document::drops;
use crate::document::sheet::{Built, Sheet};
use crate::plan::DrugUse;
use crate::plan::dosage::{self, DrugDoses, Quantity, Ratio, Stretch, Timing};
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

/// How much a dose is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "camelCase")]
pub struct DoseAndRate {
    /// The amount.
    pub dose_quantity: Quantity,
}

/// The dosages of each drug of the plan, in the order of the regimen.
///
/// # Errors
/// A drug the formulary does not have, or a text that is missing.
pub fn dosages(sheet: &Sheet) -> Built<Vec<DrugDosages>> {
    dosage::of(sheet.plan).into_iter().map(|doses| of_drug(sheet, doses)).collect()
}

fn of_drug(sheet: &Sheet, DrugDoses { planned, stretches }: DrugDoses) -> Built<DrugDosages> {
    let drug = drops::drug(sheet, &planned.drug)?;
    let dosages = stretches.into_iter().zip(1..).map(|(stretch, sequence)| {
        let (text, timing, most) = match stretch {
            Stretch::Timed { timing, doses } => (drops::instruction(sheet, &doses)?, timing, None),
            Stretch::AsNeeded { timing, most, limit } => (drops::limit(sheet, planned, limit)?, timing, Some(most)),
        };
        Ok(Dosage {
            sequence,
            text,
            timing,
            as_needed_boolean: most.as_ref().map(|_| true),
            site: Concept { text: sheet.text(sheet.side("eye.right", "eye.left"), &[])? },
            route: Concept { text: "ophthalmic".into() },
            dose_and_rate: vec![DoseAndRate { dose_quantity: Quantity::drops(1) }],
            max_dose_per_period: most,
        })
    });
    Ok(DrugDosages {
        drug: planned.drug.clone(),
        name: format!("{} {}", drug.name, drug.strength),
        last: Date(last_date(sheet, planned)),
        goes_on: planned.goes_on,
        dosages: dosages.collect::<Built<_>>()?,
    })
}

/// The date by the calendar of the last dose: one after midnight is on the next date.
fn last_date(sheet: &Sheet, planned: &DrugUse) -> NaiveDate {
    let mut doses = sheet.plan.doses.iter().filter(|dose| planned.holds(dose));
    doses.next_back().map_or(planned.last, |dose| dose.at.date())
}
