//! The practice profile: the clinic, its hours, its surgeons, and the clinical values it has confirmed.

mod limits;
mod place;
mod regimen;
mod results;

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use limits::{DropSpare, FrontOfEye, PressureAfter, Thresholds};
pub(crate) use place::in_language;
pub use place::{Hours, Labels, NoSuchZone, OutOfHours, Paper, PhoneHours, PhoneLine, Practice, Weekday, Zone};
pub use regimen::{DayPart, DropCourse, DropStep, Regimen, StepLength, VisitFor, VisitRule};
pub use results::{OwnCount, OwnNumbers, ResultsRule};

use super::date::Date;
use place::hours_by_day;

/// A practice profile.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Profile {
    /// Name, address, zone, paper.
    pub practice: Practice,
    /// Opening hours by day of the week. A day left out is closed.
    #[schemars(schema_with = "hours_by_day")]
    pub hours: BTreeMap<Weekday, Hours>,
    /// Dates the practice is closed.
    #[serde(default)]
    #[schemars(length(max = 400))]
    pub closed_days: Vec<Date>,
    /// Whom a patient phones, by hour.
    #[schemars(length(min = 1, max = 6))]
    pub phones: Vec<PhoneLine>,
    /// Where a patient is seen when the practice is closed.
    #[serde(default)]
    pub out_of_hours: Option<OutOfHours>,
    /// The surgeons.
    #[schemars(length(min = 1, max = 60))]
    pub surgeons: Vec<Surgeon>,
    /// Others who may answer findings; the surgeons always may.
    #[serde(default)]
    #[schemars(length(max = 60))]
    pub clinicians: Vec<Clinician>,
    /// Limits used by facts and findings.
    pub thresholds: Thresholds,
    /// Drop regimens.
    #[schemars(length(min = 1, max = 40))]
    pub regimens: Vec<Regimen>,
    /// Visits after treatment.
    #[schemars(length(min = 1, max = 12))]
    pub visits: Vec<VisitRule>,
    /// How the practice counts its own results; left out, only counts are shown.
    #[serde(default)]
    pub results: Option<ResultsRule>,
    /// What the practice itself has to say on every consent. Without `cost` and `regulation` no consent is made.
    #[serde(default)]
    pub notices: Notices,
    /// What the consent asks apart from the treatment, each with a yes and a no.
    #[serde(default)]
    #[schemars(length(max = 3))]
    pub permissions: Vec<Permission>,
    /// Address of the register of a group on a PostgreSQL server of its own, `postgres://user@host/database`; left out, it
    /// stands in a file beside the practice's folder.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 1, max = 400))]
    pub register: Option<String>,
    /// Who confirmed the clinical values, when, and for which state of them.
    #[serde(default)]
    pub confirmation: Option<Confirmation>,
}

/// A surgeon.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Surgeon {
    /// Id used in case records.
    #[schemars(length(min = 1, max = 40))]
    pub id: String,
    /// Name as printed.
    #[schemars(length(min = 1, max = 120))]
    pub name: String,
    /// Role, for example "Ophthalmologist".
    #[schemars(length(min = 1, max = 80))]
    pub role: String,
    /// True while the surgeon is beginning with this treatment.
    #[serde(default)]
    pub beginning: bool,
    /// True when patients are told that the surgeon is beginning; else only staff read it.
    #[serde(default)]
    pub beginning_told: bool,
}

/// A clinician who answers findings and is no surgeon here.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Clinician {
    /// Name, as it stands beside an answer.
    #[schemars(length(min = 1, max = 120))]
    pub name: String,
    /// Role, for example "Retina specialist".
    #[schemars(length(min = 1, max = 80))]
    pub role: String,
}

impl Profile {
    /// The names of those who may answer findings.
    #[must_use]
    pub fn who_may_answer(&self) -> Vec<&str> {
        let surgeons = self.surgeons.iter().map(|surgeon| surgeon.name.as_str());
        surgeons.chain(self.clinicians.iter().map(|clinician| clinician.name.as_str())).collect()
    }
}

/// Texts that only the practice can write, each set and dated by somebody.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct Notices {
    /// What the treatment costs and who pays.
    pub cost: Option<Notice>,
    /// How the treatment and the drops are regulated where the practice works (approved, cleared, off-label).
    pub regulation: Option<Notice>,
    /// Who keeps the patient's data, what for, how long, and where to read more.
    pub privacy: Option<Notice>,
    /// Who wrote these pages, who paid for that, and when they are looked through again.
    pub imprint: Option<Notice>,
}

/// A text of the practice.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Notice {
    /// The text by language, one paragraph; **bold** is emphasis.
    pub text: BTreeMap<String, String>,
    /// Who set it.
    #[schemars(length(min = 1, max = 120))]
    pub by: String,
    /// When.
    pub on: Date,
}

/// What is asked apart from the treatment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Permission {
    /// Pictures of the eye for teaching, without the name.
    Images,
    /// Somebody who learns examines the eye or looks on.
    Teaching,
    /// Facts of the case, without the name, for research.
    Research,
}

/// A confirmation of the clinical values.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Confirmation {
    /// Which clinician.
    #[schemars(length(min = 1, max = 120))]
    pub clinician: String,
    /// When.
    pub on: Date,
    /// Hash printed by `vitreoleaf confirm`.
    #[schemars(length(min = 8, max = 64))]
    pub hash: String,
}

impl Confirmation {
    /// Name of the version of the texts: enough of the hash to tell two versions apart by eye.
    #[must_use]
    pub fn version(&self) -> &str {
        self.hash.get(..8).unwrap_or(&self.hash)
    }
}
