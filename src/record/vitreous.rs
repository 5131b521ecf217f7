//! The floater, the vitreous detachment and the examination of the retina.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::date::PartialDate;
use super::known::{Answer, Known};

/// Why the patient comes.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(extend("x-known-by" = "nurse"))]
pub struct Complaint {
    /// The reason in plain words for the patient's page, for example "a ring-shaped floater".
    #[schemars(length(min = 1, max = 200))]
    pub reason: String,
    /// What it hinders, in plain words that follow "It gets in the way of".
    #[serde(default)]
    #[schemars(length(max = 8), inner(length(min = 1, max = 60)))]
    pub hinders: Vec<String>,
    /// It came suddenly, as a cloud or many dots.
    #[serde(default)]
    pub sudden: Answer,
}

/// The floater to be treated.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
#[schemars(extend("x-known-by" = "surgeon"))]
pub struct Floater {
    /// Kind.
    pub kind: FloaterKind,
    /// Since when it disturbs.
    pub since: PartialDate,
    /// From the back of the natural lens or implant to the floater, mm. Without a lens: from the pupil plane.
    #[schemars(range(min = 0, max = 30))]
    pub lens_distance_mm: Known<f64>,
    /// From the floater to the retina, mm.
    #[schemars(range(min = 0, max = 30))]
    pub retina_distance_mm: Known<f64>,
    /// How the distances were measured.
    pub measured: Measured,
    /// What is seen explains the complaint: its shape, how it moves, and in which eye.
    pub explains: Answer,
}

/// Kinds of floater.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum FloaterKind {
    /// A Weiss ring, whole or in part.
    Ring,
    /// Strands or threads.
    Strand,
    /// A clump or membrane.
    Clump,
    /// A diffuse cloud.
    Cloud,
    /// Asteroid bodies.
    Asteroid,
    /// Not recorded.
    #[default]
    Unknown,
}

/// How a distance in the eye was measured.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Measured {
    /// B-scan ultrasound.
    Ultrasound,
    /// Optical coherence tomography.
    Oct,
    /// By eye at the slit lamp.
    SlitLamp,
    /// Not recorded.
    #[default]
    Unknown,
}

/// Posterior vitreous detachment.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
#[schemars(extend("x-known-by" = "surgeon"))]
pub struct Detachment {
    /// How far it has gone.
    pub state: DetachmentState,
    /// When it began.
    pub onset: PartialDate,
}

/// How far the vitreous has detached.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum DetachmentState {
    /// Attached.
    None,
    /// Partly detached.
    Partial,
    /// Completely detached.
    Complete,
    /// Not recorded.
    #[default]
    Unknown,
}

/// The last dilated examination of the retina.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
#[schemars(extend("x-known-by" = "surgeon"))]
pub struct Examination {
    /// When. A month or a year is not enough to be called recent.
    pub date: PartialDate,
    /// With indentation of the sclera.
    pub indentation: Answer,
    /// What was seen, for the surgeon's sheet.
    #[schemars(length(max = 200))]
    pub result: Known<String>,
    /// Breaks in the retina.
    pub breaks: Breaks,
    /// When breaks were treated.
    pub breaks_treated: PartialDate,
    /// New signs since that examination.
    pub since: NewSigns,
}

/// Breaks in the retina at the last examination.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Breaks {
    /// None seen.
    None,
    /// Seen and treated.
    Treated,
    /// Seen and not treated.
    Untreated,
    /// Not recorded.
    #[default]
    Unknown,
}

/// What is new since the retina was last examined.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
#[schemars(extend("x-known-by" = "nurse"))]
pub struct NewSigns {
    /// New flashes.
    pub flashes: Answer,
    /// New floaters.
    pub floaters: Answer,
    /// A shadow or curtain.
    pub shadow: Answer,
    /// New blur.
    pub blur: Answer,
}
