//! Which page sets there are.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// The page sets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Page {
    /// For the patient, before the treatment: the consent packet.
    Consent,
    /// For the patient, after the treatment: aftercare with the drop calendar.
    Aftercare,
    /// For a patient with two treated eyes: one drop calendar for both.
    BothEyes,
    /// For the surgeon.
    Surgeon,
    /// For the front desk.
    Desk,
    /// For the chart, after the treatment: the procedure note.
    Note,
    /// For the doctor who referred the patient, after the treatment.
    Letter,
    /// For a retina specialist, when it is urgent.
    UrgentLetter,
    /// For the patient to mark: how much the floater bothers, before the treatment and after it.
    Outcome,
    /// For the patient, before the treatment: the drops that begin before it.
    DropsBefore,
    /// For the patient, before the treatment: the slip that takes the consent back.
    Withdrawal,
    /// For the surgeon and the desk, after the treatment: the plan of a further session.
    NextSession,
    /// For the first visit: whether a date can be given, of a record that is half filled in.
    Suitability,
}

impl Page {
    /// Papers that are made when somebody asks for them, and no part of the packet.
    pub const PAPERS: [Self; 8] = [
        Self::Note,
        Self::Letter,
        Self::UrgentLetter,
        Self::Outcome,
        Self::DropsBefore,
        Self::Withdrawal,
        Self::NextSession,
        Self::Suitability,
    ];

    /// All page sets.
    pub const ALL: [Self; 13] = [
        Self::Consent,
        Self::Aftercare,
        Self::BothEyes,
        Self::Surgeon,
        Self::Desk,
        Self::Note,
        Self::Letter,
        Self::UrgentLetter,
        Self::Outcome,
        Self::DropsBefore,
        Self::Withdrawal,
        Self::NextSession,
        Self::Suitability,
    ];

    /// Sheets and papers of the staff alone: nothing withholds them.
    pub const OF_STAFF: [Self; 7] =
        [Self::Surgeon, Self::Desk, Self::Note, Self::Letter, Self::UrgentLetter, Self::NextSession, Self::Suitability];

    /// Whether it is made when somebody asks for it, and no part of the packet.
    #[must_use]
    pub fn is_paper(self) -> bool {
        Self::PAPERS.contains(&self)
    }

    /// Whether it is made for the patient, not for staff.
    #[must_use]
    pub fn for_the_patient(self) -> bool {
        matches!(
            self,
            Self::Consent | Self::Aftercare | Self::BothEyes | Self::Outcome | Self::DropsBefore | Self::Withdrawal
        )
    }

    /// The word used in file names and document ids.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Consent => "consent",
            Self::Aftercare => "aftercare",
            Self::BothEyes => "both-eyes",
            Self::Surgeon => "surgeon",
            Self::Desk => "desk",
            Self::Note => "note",
            Self::Letter => "letter",
            Self::UrgentLetter => "urgent-letter",
            Self::Outcome => "outcome",
            Self::DropsBefore => "drops-before",
            Self::Withdrawal => "withdrawal",
            Self::NextSession => "next-session",
            Self::Suitability => "suitability",
        }
    }
}
