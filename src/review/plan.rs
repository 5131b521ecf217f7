//! What happens on which date.

use schemars::JsonSchema;
use serde::Serialize;

use crate::content::ComposeError;
use crate::packet::Case;
use crate::packet::rows::{self, AsNeededRow, CaseHead, DoseRow, RecheckRow, VisitRow};
use crate::packet::version::Version;
use crate::record::profile::Zone;

/// The dated plan of a case, whether it may be printed or not.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct DatedPlan {
    /// Version of this format.
    pub version: Version<1>,
    /// Which case.
    #[serde(flatten)]
    pub head: CaseHead,
    /// Time zone of the local times.
    pub zone: Zone,
    /// Why the drops could not be dated, if they could not; there are no doses then, and the visits stand.
    pub undated: Option<String>,
    /// Every dose in order of time.
    pub doses: Vec<DoseRow>,
    /// Drugs that are used only when needed, in the order of the regimen.
    pub as_needed: Vec<AsNeededRow>,
    /// The visits in order of date.
    pub visits: Vec<VisitRow>,
    /// The recheck of the pressure on the day of the laser, if it is wanted.
    pub recheck: Option<RecheckRow>,
}

/// Lays the plan of a case open.
///
/// # Errors
/// A drug of the plan that the formulary does not have.
pub fn plan(case: &Case) -> Result<DatedPlan, ComposeError> {
    Ok(DatedPlan {
        version: Version,
        head: CaseHead::of(case),
        zone: case.practice().profile.practice.time_zone,
        undated: case.undated.as_ref().map(ToString::to_string),
        doses: rows::doses(case)?,
        as_needed: rows::as_needed(case)?,
        visits: rows::visits(case),
        recheck: rows::recheck(case),
    })
}
