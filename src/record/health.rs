//! Health, allergies and medicines that matter for the planned drops. Degrees, not booleans.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::known::{Answer, Known};
use super::profile::DayPart;

/// Health as far as the drops need it.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
#[schemars(extend("x-known-by" = "nurse"))]
pub struct Health {
    /// Asthma, now or ever.
    pub asthma: Answer,
    /// Chronic obstructive lung disease.
    pub copd: Severity,
    /// Slow heart beat (sinus bradycardia).
    pub bradycardia: Answer,
    /// Heart block; sick sinus syndrome and sino-atrial block count as grade 2 or 3.
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
    /// Allergy to apraclonidine.
    pub apraclonidine_allergy: Answer,
    /// Kidney stones, now or ever.
    pub kidney_stones: Answer,
    /// The flow of urine is obstructed.
    pub urinary_obstruction: Answer,
    /// Hyperchloraemic acidosis.
    pub hyperchloraemic_acidosis: Answer,
    /// Asthma, hives or a runny nose from aspirin or another anti-inflammatory drug without steroid.
    pub nsaid_allergy: Answer,
    /// Allergy to sulfite (a preservative; no sulfonamide).
    pub sulfite_allergy: Answer,
    /// Takes a monoamine oxidase inhibitor.
    pub maoi: Answer,
    /// High blood pressure.
    pub hypertension: Answer,
    /// Disease of heart or vessels: also stroke, aneurysm, disturbed rhythm; severe also means unstable or uncontrolled.
    pub cardiovascular_disease: Severity,
    /// Poor blood supply of the brain.
    pub cerebral_insufficiency: Answer,
    /// Raynaud's disease or thromboangiitis obliterans.
    pub raynaud: Answer,
    /// The blood pressure falls on standing up.
    pub orthostatic_hypotension: Answer,
    /// Has fainted from a procedure or a fright (vasovagal).
    pub vasovagal: Answer,
    /// Depression, now or ever.
    pub depression: Answer,
    /// Overactive thyroid.
    pub thyrotoxicosis: Answer,
    /// Diabetes, by treatment.
    pub diabetes: Diabetes,
    /// Myasthenia gravis.
    pub myasthenia: Answer,
    /// Liver disease; severe means cirrhosis or marked loss of function.
    pub liver_disease: Severity,
    /// Failure of the adrenal glands.
    pub adrenal_failure: Answer,
    /// Low sodium or low potassium.
    pub low_sodium_or_potassium: Answer,
    /// A bleeding tendency.
    pub bleeding_tendency: Answer,
    /// Rheumatoid arthritis.
    pub rheumatoid_arthritis: Answer,
    /// Pregnancy, by third; "no" also where it cannot be.
    pub pregnancy: Pregnancy,
    /// Breastfeeding; "no" also where it cannot be.
    pub breastfeeding: Answer,
    /// Allergies in words, as recorded; an empty list with `allergies_asked = "yes"` prints as "none known".
    #[schemars(length(max = 20), inner(length(min = 1, max = 80)))]
    pub allergies: Vec<String>,
    /// Whether somebody asked about allergies.
    pub allergies_asked: Answer,
    /// Medicines the patient takes, generic names; an empty list means none. Rules know those of
    /// `templates/medicines.toml` and of the formulary; the program asks about any other.
    #[schemars(length(max = 40), extend("items" = { "type": "string", "minLength": 1, "maxLength": 80 }))]
    pub medicines: Known<Vec<String>>,
    /// Eye drops the patient already uses in this eye, generic names or keys of the formulary; an empty list means
    /// none.
    #[schemars(length(max = 10), extend("items" = { "type": "string", "minLength": 1, "maxLength": 80 }))]
    pub eye_drops: Known<Vec<String>>,
    /// How often the patient uses which of these eye drops: each then has its own boxes in the calendar.
    #[schemars(length(max = 10))]
    pub eye_drop_times: Vec<DropTimes>,
    /// Wears contact lenses.
    pub contact_lenses: Answer,
}

/// How often an eye drop in use is used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DropTimes {
    /// The eye drop, written as in `eye_drops`.
    #[schemars(length(min = 1, max = 80))]
    pub drop: String,
    /// Doses a day.
    #[schemars(range(min = 1, max = 12))]
    pub per_day: u32,
    /// When a single dose a day is used; left out: in the morning.
    #[serde(default)]
    pub at: Option<DayPart>,
}

/// Diabetes by treatment.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Diabetes {
    /// None.
    None,
    /// Without medicine.
    Diet,
    /// With medicines other than insulin.
    Medicine,
    /// With insulin; for how long is not asked, so it counts as long.
    Insulin,
    /// Present, treatment not recorded: counts as insulin.
    TreatmentUnknown,
    /// Not recorded.
    #[default]
    Unknown,
}

/// Pregnancy by third.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Pregnancy {
    /// None, or not possible.
    No,
    /// First or second trimester.
    FirstOrSecondTrimester,
    /// Third trimester.
    ThirdTrimester,
    /// Pregnant, trimester not recorded: counts as the third.
    TrimesterUnknown,
    /// Not recorded.
    #[default]
    Unknown,
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
