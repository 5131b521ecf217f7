//! The patient's page against published instruments for patient information.

use schemars::JsonSchema;
use serde::Serialize;

use crate::packet::Case;
use crate::packet::rows::CaseHead;
use crate::packet::version::Version;
use crate::plain::JudgeError;
use crate::proof::audit::{self, Outcome, State};

/// The page a patient reads, item by item.
#[derive(Debug, Clone, Serialize, JsonSchema)]
pub struct Audit {
    /// Version of this format.
    pub version: Version<1>,
    /// Which case.
    #[serde(flatten)]
    pub head: CaseHead,
    /// The items of the instruments that speak of this page.
    pub items: Vec<Outcome>,
}

impl Audit {
    /// How many items stand so.
    #[must_use]
    pub fn count(&self, state: State) -> usize {
        self.items.iter().filter(|item| item.state == state).count()
    }

    /// Whether no item fails; what is for a human fails nothing.
    #[must_use]
    pub fn passes(&self) -> bool {
        self.count(State::Failed) == 0
    }
}

/// Audits the patient's page of a case, whether it may be printed or not.
///
/// # Errors
/// A page that cannot be built, or a list of items that cannot be read.
pub fn audit(case: &Case) -> Result<Audit, JudgeError> {
    Ok(Audit { version: Version, head: CaseHead::of(case), items: audit::audit(case)? })
}
