//! Why pages of a case are withheld, said in one place.

use schemars::JsonSchema;
use serde::Serialize;

use crate::document::sheet::Withheld;

/// Why the consent (before the treatment) or the drop plan (after it) is withheld.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Withholding {
    /// The reason.
    pub reason: Withheld,
    /// Ids of the findings that are open, or of the required elements that are lacking; or codes of the cases whose drops
    /// meet; empty for the other reasons.
    pub by: Vec<String>,
    /// The same as a sentence that says what to do.
    pub says: String,
}

impl Withholding {
    /// Puts the reason into words. `by`: ids of what withholds.
    #[must_use]
    pub fn new(reason: Withheld, by: Vec<String>) -> Self {
        let ids = by.join(", ");
        let says = match reason {
            Withheld::Findings => format!("withheld: a clinician must first answer {ids} in the record ([[answers]])"),
            Withheld::Incomplete => {
                format!("withheld: the consent lacks {ids} (vitreoleaf coverage says what that is)")
            }
            Withheld::Overlap => {
                format!("withheld: cases {ids} have drops at the same time, and no calendar holds both")
            }
            Withheld::Undated => "withheld: the drops cannot be dated; the surgeon sheet says why".into(),
            Withheld::Unconfirmed => {
                "withheld: no clinician has confirmed the clinical values of this practice (vitreoleaf confirm)".into()
            }
            Withheld::Stale => {
                "withheld: the clinical values changed since they were confirmed (vitreoleaf confirm)".into()
            }
        };
        Self { reason, by, says }
    }
}
