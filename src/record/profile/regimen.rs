//! Regimens of drops, and the visits after the treatment.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::record::date::Clock;
use crate::record::known::Known;

/// A drop regimen.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Regimen {
    /// Id used in case records.
    #[schemars(length(min = 1, max = 40))]
    pub id: String,
    /// Name for the desk and the surgeon.
    #[schemars(length(min = 1, max = 120))]
    pub name: String,
    /// What it rests on.
    #[schemars(length(min = 1, max = 200))]
    pub basis: String,
    /// The drops, in any order; the program puts solutions before suspensions.
    #[schemars(length(min = 1, max = 5))]
    pub drops: Vec<DropCourse>,
}

/// One drug of a regimen.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DropCourse {
    /// Key of the formulary.
    #[schemars(length(min = 1, max = 60), extend("x-names" = "drug"))]
    pub drug: String,
    /// Steps, one after the other without a gap; a taper has several.
    #[schemars(length(min = 1, max = 12))]
    pub steps: Vec<DropStep>,
    /// Days from the treatment to the first date; below 0 the course begins before the treatment.
    #[serde(default)]
    #[schemars(range(min = -30, max = 60))]
    pub starts: i32,
    /// The first dose is given in the clinic after the laser.
    #[serde(default)]
    pub first_in_clinic: bool,
    /// Used only when it is needed: `per_day` is then the most on one date, and no time is planned.
    #[serde(default)]
    pub as_needed: bool,
    /// Doses are spread over day and night; else no dose is planned while the patient sleeps.
    #[serde(default)]
    pub at_night: bool,
    /// Size of the bottle that is handed out, mL; a unit of a single dose holds one drop and needs none.
    #[serde(default)]
    #[schemars(range(min = 0.1, max = 50))]
    pub bottle_ml: Known<f64>,
}

/// A stretch of a course with the same doses.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DropStep {
    /// Doses on a date of use (slots a day for a fixed count).
    #[schemars(range(min = 1, max = 12))]
    pub per_day: u32,
    /// Used on every date, on every second one, and so on.
    #[serde(default = "every_date")]
    #[schemars(range(min = 1, max = 7))]
    pub every_days: u32,
    /// When a single dose a day is used; left out: in the morning.
    #[serde(default)]
    pub at: Option<DayPart>,
    /// How long.
    pub length: StepLength,
}

fn every_date() -> u32 {
    1
}

/// Parts of the day with a name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum DayPart {
    /// When the patient gets up.
    Morning,
    /// A third of the waking day later.
    Noon,
    /// Another third later.
    Evening,
    /// Before sleep.
    Bedtime,
}

/// How long a step lasts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum StepLength {
    /// This many dates, whether used on each of them or not. A slot that has passed is dropped.
    Dates(#[schemars(range(min = 1, max = 366))] u32),
    /// This many doses in all. A slot that has passed moves to the next.
    Doses(#[schemars(range(min = 1, max = 366))] u32),
    /// Without end: the patient goes on with it. The calendar shows this many dates.
    GoesOn(#[schemars(range(min = 1, max = 366))] u32),
}

/// A visit after treatment.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct VisitRule {
    /// Id; the text of the visit is `visit.<id>` in the locale.
    #[schemars(length(min = 1, max = 40))]
    pub id: String,
    /// Calendar days after treatment; moved on to the next open day.
    #[schemars(range(min = 1, max = 400))]
    pub after_days: u32,
    /// For whom.
    pub applies: VisitFor,
    /// Time of day if known; the desk books it otherwise.
    #[serde(default)]
    pub at: Option<Clock>,
}

/// For whom a visit is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum VisitFor {
    /// Everyone.
    Everyone,
    /// Eyes at risk of a pressure rise keep it; for the others it is kept free in case the pressure is raised.
    PressureRisk,
}
