//! The plan, earlier sessions, the treatment as done, and what clinicians answered.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::date::{Date, LocalTime};
use super::known::{Answer, Known};

/// The treatment as planned.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(extend("x-known-by" = "surgeon"))]
pub struct Plan {
    /// Start, local time of the practice.
    #[schemars(extend("x-known-by" = "desk"))]
    pub start: LocalTime,
    /// Id of the surgeon in the practice profile.
    #[schemars(length(min = 1, max = 40), extend("x-names" = "surgeon"))]
    pub surgeon: String,
    /// Room or place within the practice.
    #[schemars(length(min = 1, max = 120), extend("x-known-by" = "desk"))]
    pub place: String,
    /// Planned energy of one pulse, mJ.
    #[serde(default)]
    pub pulse_energy_mj: Known<EnergyRange>,
    /// Through which focus of a multifocal implant the target will be aimed at.
    #[serde(default)]
    pub aiming: Aiming,
    /// Enlarge the opening of the capsule in the same session, or make one where it is closed.
    #[serde(default)]
    pub enlarge_opening: Answer,
    /// Others who do part of the treatment under the surgeon's eye.
    #[serde(default)]
    #[schemars(length(max = 2))]
    pub helpers: Vec<Helper>,
    /// Id of the regimen in the practice profile.
    #[schemars(length(min = 1, max = 40), extend("x-names" = "regimen"))]
    pub regimen: String,
    /// Visits that are booked already; the others fall on the days the practice's visit plan gives.
    #[serde(default)]
    #[schemars(length(max = 12), extend("x-known-by" = "desk"))]
    pub visits: Vec<BookedVisit>,
    /// Dilating drops to be used, keys of the formulary.
    #[serde(default)]
    #[schemars(length(max = 4), inner(length(min = 1, max = 60)), extend("x-names" = "drug"))]
    pub dilating: Vec<String>,
    /// Numbing drops to be used, keys of the formulary.
    #[serde(default)]
    #[schemars(length(max = 4), inner(length(min = 1, max = 60)), extend("x-names" = "drug"))]
    pub numbing: Vec<String>,
}

/// Who does part of the treatment besides the surgeon.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Helper {
    /// Another doctor, for example one in training.
    Doctor,
    /// Somebody who is no doctor.
    Staff,
}

/// Id of the visit because of what happened during the laser, beside those of the profile.
pub const EVENT_VISIT: &str = "event";

/// A visit with its booked time.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BookedVisit {
    /// Id of the visit in the practice profile, or "event" for the one because of what happened during the laser.
    #[schemars(length(min = 1, max = 40), extend("x-names" = "visit"))]
    pub visit: String,
    /// When, within opening hours and after the day of treatment.
    pub at: LocalTime,
}

/// A range of pulse energy, mJ.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EnergyRange {
    /// Lowest, mJ.
    #[schemars(range(min = 0.1, max = 50))]
    pub lowest: f64,
    /// Highest, mJ.
    #[schemars(range(min = 0.1, max = 50))]
    pub highest: f64,
}

/// Through which focus the target is aimed at.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Aiming {
    /// The far focus.
    Far,
    /// The near focus.
    Near,
    /// Not recorded.
    #[default]
    Unknown,
}

/// An earlier session on this eye.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EarlierSession {
    /// When.
    pub date: Date,
    /// Energy in all, mJ.
    #[serde(default)]
    #[schemars(range(min = 0.1, max = 20000))]
    pub energy_mj: Known<f64>,
    /// What it brought and what followed, in words for the surgeon's sheet.
    #[serde(default)]
    #[schemars(length(max = 200))]
    pub result: Known<String>,
}

/// The treatment as done.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(extend("x-known-by" = "surgeon"))]
pub struct Treatment {
    /// Pulses by energy; none where the treatment was stopped before the first.
    #[serde(default)]
    #[schemars(length(max = 40), extend("x-required-unless" = "stopped"))]
    pub rows: Vec<PulseRow>,
    /// End of the last pulse; left out where there was none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(extend("x-required-unless" = "stopped"))]
    pub last_pulse: Option<LocalTime>,
    /// Why the treatment was stopped before it was done, for the surgeon's sheet; left out if it was not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 2, max = 200))]
    pub stopped: Option<String>,
    /// When the patient leaves the clinic.
    #[schemars(extend("x-known-by" = "nurse"))]
    pub leaves: LocalTime,
    /// Pressure before the laser, mmHg.
    #[serde(default)]
    #[schemars(range(min = 1, max = 80), extend("x-known-by" = "nurse"))]
    pub pressure_before_mmhg: Known<f64>,
    /// Pressure after the laser, mmHg.
    #[serde(default)]
    #[schemars(range(min = 1, max = 80), extend("x-known-by" = "nurse"))]
    pub pressure_after_mmhg: Known<f64>,
    /// Rechecks of the pressure on the day of the laser, as done, in order of time.
    #[serde(default)]
    #[schemars(length(max = 8), extend("x-known-by" = "nurse"))]
    pub rechecks: Vec<PressureRecheck>,
    /// Doses of the regimen given in the clinic.
    #[serde(default)]
    #[schemars(length(max = 20), extend("x-known-by" = "nurse"))]
    pub clinic_doses: Vec<ClinicDose>,
    /// What happened that was not meant to.
    #[serde(default)]
    #[schemars(length(max = 10))]
    pub events: Vec<Event>,
}

impl Treatment {
    /// When it ended: with the last pulse, or where there was none when the patient left.
    #[must_use]
    pub fn ended(&self) -> LocalTime {
        self.last_pulse.unwrap_or(self.leaves)
    }

    /// The key that says so, as a JSON pointer.
    #[must_use]
    pub fn ended_at(&self) -> &'static str {
        if self.last_pulse.is_some() { "/treatment/last_pulse" } else { "/treatment/leaves" }
    }
}

/// A recheck of the pressure as done.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PressureRecheck {
    /// When it was measured.
    pub at: LocalTime,
    /// The pressure, mmHg.
    #[schemars(range(min = 1, max = 80))]
    pub pressure_mmhg: f64,
}

/// Pulses of one energy.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PulseRow {
    /// Energy of a single pulse, mJ.
    #[schemars(range(min = 0.1, max = 50))]
    pub pulse_energy_mj: f64,
    /// Count of single pulses: a burst of three counts three.
    #[schemars(range(min = 1, max = 5000))]
    pub pulses: u32,
}

/// A dose given in the clinic.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClinicDose {
    /// Key of the drug in the formulary.
    #[schemars(length(min = 1, max = 60), extend("x-names" = "drug"))]
    pub drug: String,
    /// When.
    pub at: LocalTime,
}

/// An event during or right after the laser.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Event {
    /// Of which kind. Left out it counts as the heaviest.
    #[serde(default)]
    pub kind: EventKind,
    /// What, for the surgeon's sheet.
    #[schemars(length(min = 1, max = 200))]
    pub what: String,
    /// The surgeon's own words to the patient about it; they print on the aftercare page.
    #[schemars(length(min = 1, max = 1000))]
    pub words: String,
}

/// Kinds of event.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum EventKind {
    /// The natural lens or its capsule was hit.
    CapsuleOrLens,
    /// The implant has a mark.
    ImplantMarked,
    /// Bleeding in the vitreous.
    VitreousBleeding,
    /// The retina was hit, or bleeds.
    Retina,
    /// A rise of pressure.
    Pressure,
    /// Anything else.
    Other,
    /// Not recorded.
    #[default]
    Unknown,
}

/// A change of what the patient reads, made by hand and on the record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tailoring {
    /// Id of the statement, as `vitreoleaf explain` lists it.
    #[schemars(length(min = 1, max = 80), extend("x-names" = "statement"))]
    pub statement: String,
    /// What is done with it.
    pub change: Change,
    /// Who decided.
    #[schemars(length(min = 1, max = 120))]
    pub by: String,
    /// When.
    pub on: Date,
    /// Why.
    #[schemars(length(min = 1, max = 500))]
    pub reason: String,
}

/// What is done with a statement by hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Change {
    /// Said although the conditions did not choose it.
    Add,
    /// Left out although the conditions chose it. Core statements cannot be.
    LeaveOut,
    /// Said first in its section.
    MoveUp,
}

/// A paragraph in the surgeon's own words to this patient, and why the patient reads it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OwnWords {
    /// The paragraph, plain text in the patient's language.
    #[schemars(length(min = 1, max = 1000))]
    pub words: String,
    /// Who wrote it.
    #[schemars(length(min = 1, max = 120))]
    pub by: String,
    /// When.
    pub on: Date,
    /// Why this patient reads it; it stands on the surgeon's sheet.
    #[schemars(length(min = 1, max = 500))]
    pub reason: String,
}

/// A clinician's answer to a `stop` or `ask`.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct FindingAnswer {
    /// Id of the finding, as printed on the surgeon's sheet.
    #[schemars(length(min = 1, max = 120), extend("x-names" = "finding"))]
    pub finding: String,
    /// Who answers: a surgeon or clinician of the practice profile.
    #[schemars(length(min = 1, max = 120))]
    pub by: String,
    /// When.
    pub on: Date,
    /// Why it is right to go on, in a sentence.
    #[schemars(length(min = 15, max = 500))]
    pub reason: String,
    /// The values it answers, as `vitreoleaf check` prints them beside the finding. Without it, or when one of them has changed,
    /// the finding stays open.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(min = 4, max = 200), regex(pattern = r"^(none|[0-9a-f]{4}(-[0-9a-f]{4})*)$"))]
    pub fingerprint: Option<String>,
    /// The same values in words, each with its name, as `vitreoleaf check` prints them: when one changes, both stand side by
    /// side. Nothing hangs on them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    #[schemars(length(max = 40), inner(length(min = 1, max = 400)))]
    pub values: Vec<String>,
}
