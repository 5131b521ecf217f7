//! The eye: lens or implant, capsule, measures, history.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::acuity::Acuity;
use super::date::PartialDate;
use super::known::{Answer, Known};

/// Which eye. There is no default and no "both": each eye is a case of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// The patient's right eye.
    Right,
    /// The patient's left eye.
    Left,
}

/// What focuses the light behind the pupil.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Lens {
    /// The natural lens (phakic).
    Natural,
    /// A lens implant (pseudophakic).
    Implant,
    /// No lens (aphakic).
    None,
    /// Not recorded.
    Unknown,
}

/// The eye to be treated.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(extend("x-known-by" = "surgeon"))]
pub struct Eye {
    /// Side.
    pub side: Side,
    /// Best corrected acuity.
    #[serde(default)]
    #[schemars(extend("x-known-by" = "nurse"))]
    pub acuity: Known<Acuity>,
    /// Natural lens, implant or none.
    pub lens: Lens,
    /// The implant; only with `lens = "implant"`.
    #[serde(default)]
    pub implant: Option<Implant>,
    /// The posterior capsule; only with `lens = "implant"`.
    #[serde(default)]
    pub capsule: Option<Capsule>,
    /// Last operation on the lens of this eye.
    #[serde(default)]
    #[schemars(extend("x-known-by" = "nurse"))]
    pub last_lens_surgery: PartialDate,
    /// Axial length, mm.
    #[serde(default)]
    #[schemars(range(min = 15, max = 40), extend("x-known-by" = "nurse"))]
    pub axial_length_mm: Known<f64>,
    /// Pressure at the last visit before treatment, mmHg.
    #[serde(default)]
    #[schemars(range(min = 1, max = 80), extend("x-known-by" = "nurse"))]
    pub pressure_mmhg: Known<f64>,
    /// Pupil when dilated.
    #[serde(default)]
    pub pupil: Pupil,
    /// Clarity of the cornea.
    #[serde(default)]
    pub cornea: Clarity,
    /// Clarity of the implant or natural lens.
    #[serde(default)]
    pub lens_clarity: Clarity,
}

/// A lens implant.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Implant {
    /// How it focuses.
    #[serde(default)]
    pub focus: ImplantFocus,
    /// Toric or not.
    #[serde(default)]
    pub toric: Answer,
    /// How the further foci are made.
    #[serde(default)]
    pub optic: Optic,
    /// Adds in dioptres at the plane of the implant.
    #[serde(default)]
    #[schemars(length(max = 4), inner(range(min = 0.25, max = 6)))]
    pub adds_d: Vec<f64>,
    /// Wavelength the optic was designed for, nm.
    #[serde(default)]
    #[schemars(range(min = 380, max = 780))]
    pub design_wavelength_nm: Known<f64>,
}

/// How an implant focuses.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ImplantFocus {
    /// One focus.
    Monofocal,
    /// Two or more foci.
    Multifocal,
    /// Extended depth of focus.
    ExtendedDepth,
    /// Accommodating.
    Accommodating,
    /// Not recorded.
    #[default]
    Unknown,
}

/// How an implant makes its further foci.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Optic {
    /// By zones of different curvature.
    Refractive,
    /// By diffraction.
    Diffractive,
    /// Not recorded.
    #[default]
    Unknown,
}

/// The posterior capsule behind an implant.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Capsule {
    /// Its state.
    #[serde(default)]
    pub state: CapsuleState,
    /// Smallest diameter of the opening, mm; only with `state = "open"`.
    #[serde(default)]
    #[schemars(range(min = 0.1, max = 12))]
    pub opening_mm: Known<f64>,
}

/// State of the posterior capsule.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum CapsuleState {
    /// Closed and clear.
    ClosedClear,
    /// Closed and cloudy.
    ClosedCloudy,
    /// Opened.
    Open,
    /// Not recorded.
    #[default]
    Unknown,
}

/// The dilated pupil.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Pupil {
    /// Wide enough to see and aim.
    Good,
    /// Dilates poorly.
    Poor,
    /// Not recorded.
    #[default]
    Unknown,
}

/// Clarity of a medium.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Clarity {
    /// Clear.
    Clear,
    /// Cloudy.
    Cloudy,
    /// Not recorded.
    #[default]
    Unknown,
}

/// What this eye has been through.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
#[schemars(extend("x-known-by" = "surgeon"))]
pub struct EyeHistory {
    /// Glaucoma.
    pub glaucoma: Answer,
    /// Ocular hypertension.
    pub ocular_hypertension: Answer,
    /// Pressure rose on steroid drops before.
    pub steroid_response: Answer,
    /// Pressure spike after an earlier laser or operation.
    pub pressure_spike: Answer,
    /// Retinal tear.
    pub retinal_tear: Answer,
    /// Retinal detachment.
    pub retinal_detachment: Answer,
    /// Lattice degeneration.
    pub lattice: Answer,
    /// Strong nearsightedness (more than 6 dioptres), now or before lens surgery.
    pub high_myopia: Answer,
    /// Uveitis.
    pub uveitis: Activity,
    /// Infection of the eye other than herpes of the cornea.
    pub infection: Activity,
    /// Herpes of the cornea (herpetic keratitis).
    pub herpes_keratitis: Activity,
    /// That herpes came back while on a prostaglandin drop.
    pub herpes_from_prostaglandin: Answer,
    /// Narrow chamber angle.
    pub narrow_angle: NarrowAngle,
    /// Damage of cornea or sclera.
    pub corneal_damage: CornealDamage,
    /// Disease of the inner layer of the cornea, or few cells there.
    pub corneal_endothelium: Answer,
    /// Loss of feeling of the cornea.
    pub corneal_denervation: Answer,
    /// Dry eye or another disease of the surface of the eye.
    pub dry_eye: Answer,
    /// Complicated surgery of this eye, or several operations within a short time.
    pub repeated_surgery: Answer,
    /// Macular disease.
    pub macular_disease: Answer,
    /// The other eye sees poorly or not at all.
    pub only_seeing_eye: Answer,
}

/// The chamber angle.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum NarrowAngle {
    /// Not narrow.
    No,
    /// Narrow, with a laser iridotomy that is seen to be open.
    OpenIridotomy,
    /// Narrow without one.
    Narrow,
    /// Narrow, whether an iridotomy is open is not recorded: counts as without.
    IridotomyUnknown,
    /// Not recorded.
    #[default]
    Unknown,
}

/// Damage of cornea or sclera.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum CornealDamage {
    /// None.
    None,
    /// Thinning.
    Thinning,
    /// Ulcer, wound or perforation that has not healed.
    Ulcer,
    /// Damaged, kind not recorded: counts as an ulcer.
    KindUnknown,
    /// Not recorded.
    #[default]
    Unknown,
}

/// Never, in the past, or now.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Activity {
    /// Never.
    None,
    /// In the past, quiet now.
    Past,
    /// Now.
    Active,
    /// Not recorded.
    #[default]
    Unknown,
}
