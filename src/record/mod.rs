//! Step 1: what the clinic wrote. Values only; every number derived from them is a fact (step 2).

pub mod acuity;
pub mod check;
pub mod course;
pub mod date;
pub mod eye;
pub mod form;
pub mod formulary;
pub mod hash;
pub mod health;
pub mod identity;
pub mod known;
pub mod language;
pub mod letters;
pub mod load;
pub mod locate;
pub(crate) mod measure;
mod nearest;
pub mod new;
pub mod next_session;
pub mod person;
pub mod procedure;
pub mod profile;
pub mod sides;
pub mod typed;
pub mod vitreous;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use course::{EarlierSession, FindingAnswer, OwnWords, Plan, Tailoring, Treatment};
use eye::{Eye, EyeHistory};
use health::Health;
use letters::Letters;
use next_session::NextSession;
use person::Patient;
use procedure::Procedure;
use vitreous::{Complaint, Detachment, Examination, Floater};

/// A case record: what the clinic knows of one eye of one patient and its treatment.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(extend("x-of-a-patient" = true))]
pub struct Record {
    /// Code and revision.
    pub case: Case,
    /// The patient.
    pub patient: Patient,
    /// Why the patient comes.
    pub complaint: Complaint,
    /// The eye.
    pub eye: Eye,
    /// What this eye has been through.
    #[serde(default)]
    pub history: EyeHistory,
    /// The floater.
    #[serde(default)]
    pub floater: Floater,
    /// The vitreous detachment.
    #[serde(default)]
    pub detachment: Detachment,
    /// The last dilated examination of the retina.
    #[serde(default)]
    pub examination: Examination,
    /// Health, allergies, medicines.
    #[serde(default)]
    pub health: Health,
    /// The treatment as planned.
    pub plan: Plan,
    /// Earlier sessions on this eye.
    #[serde(default)]
    #[schemars(length(max = 20), extend("x-known-by" = "surgeon"))]
    pub earlier_sessions: Vec<EarlierSession>,
    /// The treatment as done.
    #[serde(default)]
    pub treatment: Option<Treatment>,
    /// How the treatment was done.
    #[serde(default)]
    pub procedure: Procedure,
    /// Letters about this treatment.
    #[serde(default)]
    pub letters: Letters,
    /// A further session on this eye, if one is planned.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub next_session: Option<NextSession>,
    /// Answers to findings.
    #[serde(default)]
    #[schemars(length(max = 60), extend("x-known-by" = "surgeon"))]
    pub answers: Vec<FindingAnswer>,
    /// Statements added, left out or moved up by hand.
    #[serde(default)]
    #[schemars(length(max = 40), extend("x-known-by" = "surgeon"))]
    pub tailoring: Vec<Tailoring>,
    /// Own words of the surgeon to this patient, one paragraph each, with their reason.
    #[serde(default)]
    #[schemars(length(max = 6), extend("x-known-by" = "surgeon"))]
    pub surgeon_words: Vec<OwnWords>,
}

/// Code and revision of a case.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(extend("x-known-by" = "desk"))]
pub struct Case {
    /// A code that says nothing about the patient: letters, digits and hyphens. It names files and documents.
    #[schemars(regex(pattern = r"^[A-Za-z0-9][A-Za-z0-9-]{0,23}$"), extend("x-private" = true))]
    pub code: String,
    /// 1 for the first issue; one more for each reissue, which then says what it replaces.
    #[schemars(range(min = 1, max = 999))]
    pub revision: u32,
}
