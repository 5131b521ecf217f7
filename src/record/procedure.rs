//! How the treatment was done, for the procedure note. All of it may stay unknown: the note then says so.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::known::{Answer, Known};

/// How the treatment was done.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
#[schemars(extend("x-known-by" = "surgeon"))]
pub struct Procedure {
    /// Name, date of birth and eye were checked with the patient against the record.
    #[schemars(extend("x-known-by" = "nurse"))]
    pub identity_checked: Answer,
    /// The signed consent was seen: this eye, this treatment.
    #[schemars(extend("x-known-by" = "nurse"))]
    pub consent_seen: Answer,
    /// Everybody paused before the first pulse and agreed on patient, eye and treatment.
    pub paused: Answer,
    /// The dilating and numbing drops were given as planned.
    #[schemars(extend("x-known-by" = "nurse"))]
    pub drops_given: Answer,
    /// The contact lens held on the eye, in words.
    #[schemars(length(min = 1, max = 80))]
    pub contact_lens: Known<String>,
    /// Focus of the treatment beam against that of the aiming beam, mm: above 0 behind it, towards the retina; below 0 in front.
    #[schemars(range(min = -1, max = 1))]
    pub offset_mm: Known<f64>,
    /// How the target was lit.
    pub illumination: Illumination,
    /// Lowest energy of a pulse at which breakdown was seen, mJ.
    #[schemars(range(min = 0.1, max = 50))]
    pub breakdown_mj: Known<f64>,
    /// Single pulses a burst: 1 is no burst.
    #[schemars(range(min = 1, max = 9))]
    pub pulses_a_burst: Known<u32>,
    /// What was aimed at, in words.
    #[schemars(length(min = 1, max = 120))]
    pub target: Known<String>,
    /// What was reached when the treatment ended, in words. A treatment that was stopped has its reason instead.
    #[schemars(length(min = 1, max = 120))]
    pub end_point: Known<String>,
    /// The warning signs and the phone were said aloud before the patient left.
    #[schemars(extend("x-known-by" = "nurse"))]
    pub signs_told: Answer,
    /// The aftercare pages were handed over.
    #[schemars(extend("x-known-by" = "nurse"))]
    pub pages_given: Answer,
}

/// How the slit lamp lit the target.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Illumination {
    /// Along the line of sight.
    Coaxial,
    /// From the side.
    Oblique,
    /// First one, then the other.
    Both,
    /// Not recorded.
    #[default]
    Unknown,
}
