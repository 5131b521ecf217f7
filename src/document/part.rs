//! Parts of a page that are no statement: a rule of a jurisdiction names them, and the layout says on which page they are.

use serde::{Deserialize, Serialize};

use super::{Block, Inline, Inlines};

/// A part of the consent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// Name of the practice or facility.
    Facility,
    /// The planned day and time.
    Planned,
    /// Who treats, with their role.
    Practitioner,
    /// Why the treatment is considered.
    Indication,
    /// Address and phones by hour.
    Contact,
    /// Allergies, also when there are none or nobody asked.
    Allergies,
    /// The options side by side.
    Comparison,
    /// The surgeon's own words to this patient, or that there are none.
    OwnWords,
    /// Room for what matters to this patient.
    Matters,
    /// Room for the patient's questions.
    Questions,
    /// Teach-back prompts.
    TeachBack,
    /// Room for the clinician's note on the talk.
    ClinicianNote,
    /// Pictures for teaching, asked apart.
    Images,
    /// People who learn, asked apart.
    Teaching,
    /// Research, asked apart.
    Research,
    /// Cost and payer, as the practice set it.
    Cost,
    /// How treatment and drops are regulated, as the practice set it.
    Regulation,
    /// Who keeps the patient's data, as the practice set it.
    Privacy,
    /// Who wrote and paid for these pages, as the practice set it.
    Imprint,
    /// Signature of the patient: signature, printed name, date and time.
    SignPatient,
    /// Signature of a representative, with authority.
    SignRepresentative,
    /// Signature against the treatment.
    SignDecline,
    /// Signature for more time.
    SignNotYet,
    /// Signature of a patient who is too young to decide alone, beside that of the representative.
    SignAssent,
    /// Signature of who explained it, with role and the time of the talk.
    SignExplained,
    /// Signature of the interpreter.
    SignInterpreter,
    /// Signature of a witness.
    SignWitness,
    /// The eye in the signer's own hand.
    EyeByHand,
    /// That a copy was handed over.
    Copy,
    /// Room to withdraw.
    Withdrawal,
    /// The numbered sources.
    References,
}

impl Part {
    /// The id of its mark. No statement has an id with a slash.
    #[must_use]
    pub fn id(self) -> String {
        let word = serde_json::to_value(self).ok().and_then(|word| word.as_str().map(str::to_owned));
        format!("part/{}", word.unwrap_or_default())
    }

    /// Whether an id is that of a part.
    #[must_use]
    pub fn is(id: &str) -> bool {
        let word = id.strip_prefix("part/").map(|word| serde_json::Value::String(word.to_owned()));
        word.is_some_and(|word| serde_json::from_value::<Self>(word).is_ok())
    }

    /// The mark as a block, in front of the block it names.
    #[must_use]
    pub fn block(self) -> Block {
        Block::Mark { id: self.id() }
    }

    /// A text with the mark in front of it.
    #[must_use]
    pub fn mark(self, mut text: Inlines) -> Inlines {
        text.insert(0, Inline::Mark(self.id()));
        text
    }
}
