//! How a practice counts its own results.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How the practice counts its own results. A clinician confirms it with the limits; no value has a published source.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ResultsRule {
    /// Of fewer eyes followed only the counts are shown, without a share.
    #[schemars(range(min = 5, max = 1000))]
    pub least_eyes: u32,
    /// How long after the first session benefit and harm are counted, months.
    #[schemars(range(min = 1, max = 60))]
    pub window_months: u32,
    /// A visit so many days before the window ends counts as followed.
    #[schemars(range(min = 0, max = 90))]
    pub early_days: u32,
    /// The share of eyes with harm that is expected.
    #[schemars(range(min = 0.001, max = 0.4))]
    pub expected_harm: f64,
    /// The share of eyes with harm that must raise the alarm; above the one expected.
    #[schemars(range(min = 0.002, max = 0.9))]
    pub alarming_harm: f64,
    /// How many eyes go by, on average, between two alarms while harm is as expected.
    #[schemars(range(min = 20, max = 10_000))]
    pub eyes_between_false_alarms: u32,
    /// Whether the consent says the practice's own results, benefit and harm together.
    #[serde(default)]
    pub in_consent: bool,
}
