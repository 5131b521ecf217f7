//! What came from another system and waits to be accepted.

use crate::exchange::fhir::incoming::Incoming;
use crate::register::CaseId;

/// What came in a browser, until another file comes or it is discarded.
#[derive(Debug)]
pub(super) struct Came {
    pub(super) found: Incoming,
    /// The case that was begun with it.
    pub(super) case: Option<CaseId>,
}
