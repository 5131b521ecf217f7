//! How plain the language of a patient's page is, statement by statement and as a whole.

use schemars::JsonSchema;
use serde::Serialize;

use crate::facts::Moment;
use crate::packet::Case;
use crate::packet::version::Version;
use crate::plain::JudgeError;
use crate::plain::score::{self, PageScore, Scored};

/// The score of a patient's page.
#[derive(Debug, Clone, Serialize, JsonSchema)]
pub struct Plainness {
    /// Version of this format.
    pub version: Version<1>,
    /// Before or after the treatment.
    pub moment: Moment,
    /// Whether every gate is reached and no sentence is too long.
    pub passes: bool,
    /// The page and its statements.
    #[serde(flatten)]
    pub score: PageScore,
}

impl Plainness {
    /// The statements from the hardest to the easiest, by the first formula, the one with the gate.
    #[must_use]
    pub fn hardest_first(&self) -> Vec<(&str, &Scored)> {
        let mut statements: Vec<_> = self.score.statements.iter().map(|(id, scored)| (id.as_str(), scored)).collect();
        statements.sort_by(|(_, a), (_, b)| hardness(b).total_cmp(&hardness(a)));
        statements
    }
}

fn hardness(scored: &Scored) -> f64 {
    scored.scores.first().map_or(0.0, |score| {
        let value = score.value.unwrap_or_default();
        if score.formula.higher_is_easier() { -value } else { value }
    })
}

/// Scores the page that the patient of a case reads, whether it may be printed or not.
///
/// # Errors
/// A text, number or note that is missing; limits or words that cannot be read.
pub fn plain(case: &Case) -> Result<Plainness, JudgeError> {
    let score = score::page(case)?;
    Ok(Plainness { version: Version, moment: case.moment(), passes: score.passes(), score })
}
