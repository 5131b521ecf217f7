//! Health, allergies and medicines that matter for the planned drops. Degrees, not booleans.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::known::{Answer, Known};

/// Health as far as the drops need it.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Health {
    /// Asthma, now or ever.
    pub asthma: Answer,
    /// Chronic obstructive lung disease.
    pub copd: Severity,
    /// Slow heart beat (sinus bradycardia).
    pub bradycardia: Answer,
    /// Heart block.
    pub heart_block: HeartBlock,
    /// A pacemaker.
    pub pacemaker: Answer,
    /// Heart failure.
    pub heart_failure: HeartFailure,
    /// Poor blood supply of the heart (ischaemic heart disease).
    pub heart_ischaemia: Answer,
    /// Kidney disease; severe means a creatinine clearance below 30 mL/min.
    pub kidney_disease: Severity,
    /// Reaction to a sulfonamide drug. Sulfite and sulfate are not sulfonamides.
    pub sulfonamide_reaction: SulfonamideReaction,
    /// Allergy to benzalkonium chloride.
    pub benzalkonium_allergy: Answer,
    /// Allergy to clonidine.
    pub clonidine_allergy: Answer,
    /// Takes a monoamine oxidase inhibitor.
    pub maoi: Answer,
    /// Allergies in words, as recorded; an empty list with `allergies_asked = "yes"` prints as "none known".
    #[schemars(length(max = 20), inner(length(min = 1, max = 80)))]
    pub allergies: Vec<String>,
    /// Whether somebody asked about allergies.
    pub allergies_asked: Answer,
    /// Medicines the patient takes, generic names.
    #[schemars(length(max = 40), inner(length(min = 1, max = 80)))]
    pub medicines: Vec<String>,
    /// Eye drops the patient already uses in this eye, generic names.
    #[schemars(length(max = 10), extend("items" = { "type": "string", "minLength": 1, "maxLength": 80 }))]
    pub eye_drops: Known<Vec<String>>,
    /// Wears contact lenses.
    pub contact_lenses: Answer,
}

/// Heart block by grade.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum HeartBlock {
    /// None.
    None,
    /// Grade 1.
    #[serde(rename = "grade_1")]
    Grade1,
    /// Grade 2 or 3.
    #[serde(rename = "grade_2_or_3")]
    Grade2Or3,
    /// Present, grade not recorded: counts as grade 2 or 3.
    GradeUnknown,
    /// Not recorded.
    #[default]
    Unknown,
}

/// Heart failure by state.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum HeartFailure {
    /// None.
    None,
    /// Compensated.
    Compensated,
    /// Overt.
    Overt,
    /// Present, state not recorded: counts as overt.
    StateUnknown,
    /// Not recorded.
    #[default]
    Unknown,
}

/// Severity of a disease.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Severity {
    /// None.
    None,
    /// Mild or moderate.
    MildOrModerate,
    /// Severe.
    Severe,
    /// Present, degree not recorded: counts as severe.
    DegreeUnknown,
    /// Not recorded.
    #[default]
    Unknown,
}

/// Reaction to a sulfonamide drug.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SulfonamideReaction {
    /// None.
    None,
    /// A rash or another mild reaction to a sulfonamide antibiotic.
    Mild,
    /// Anaphylaxis, a severe skin reaction or a blood disorder.
    Severe,
    /// A reaction to a sulfonamide that is no antibiotic.
    NonAntibiotic,
    /// A reaction, kind not recorded: counts as severe.
    KindUnknown,
    /// Not recorded.
    #[default]
    Unknown,
}
