//! How a practice counts its own results.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::record::date::Date;

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
    /// The practice's own numbers, which the consent says beside the published ones; left out, it says none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub in_consent: Option<OwnNumbers>,
}

/// The practice's own numbers as the consent says them. They stand here so that a clinician confirms them and a page says the
/// same whoever makes it; benefit and harm come together, so that nobody shows only the pretty one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OwnNumbers {
    /// The day up to which was counted.
    pub up_to: Date,
    /// Eyes treated.
    #[schemars(range(min = 1, max = 1_000_000))]
    pub treated: u32,
    /// Much better or gone at the end of the window.
    pub much_better: OwnCount,
    /// With a tear or detachment of the retina within the window.
    pub torn: OwnCount,
}

impl ResultsRule {
    /// The same rule, by which no number of eyes is enough for a share.
    #[must_use]
    pub fn without_shares(self) -> Self {
        Self { least_eyes: u32::MAX, ..self }
    }

    /// Whether enough eyes give a share.
    #[must_use]
    pub fn gives_shares(&self) -> bool {
        self.least_eyes != u32::MAX
    }

    /// An invented one, to proofread what no practice has said yet.
    pub(crate) fn invented() -> Self {
        Self {
            least_eyes: 20,
            window_months: 6,
            early_days: 30,
            expected_harm: 0.05,
            alarming_harm: 0.15,
            eyes_between_false_alarms: 500,
            in_consent: None,
        }
    }
}

impl OwnNumbers {
    /// Invented ones, to proofread what they are said with.
    pub(crate) fn invented() -> Self {
        let count = |eyes| OwnCount { eyes, followed: 118 };
        Self { up_to: Date(chrono::NaiveDate::default()), treated: 162, much_better: count(71), torn: count(3) }
    }
}

/// How many of those followed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct OwnCount {
    /// Affected.
    #[schemars(range(min = 0, max = 1_000_000))]
    pub eyes: u32,
    /// Followed.
    #[schemars(range(min = 1, max = 1_000_000))]
    pub followed: u32,
}
