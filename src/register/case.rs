//! What the register keeps of a case: a record half filled in, and what people typed that is no value yet.

use std::collections::BTreeMap;

use chrono::NaiveDateTime;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use super::RegisterError;
use super::ledger::{self, unreadable};
use crate::diag::SourceFile;
use crate::practice::{Checked, Practice};
use crate::record::Record;
use crate::record::course::{FindingAnswer, OwnWords, Tailoring};
use crate::record::date::LocalTime;
use crate::record::identity::folded_number;

/// Number of a case in its register; it says nothing about the patient.
pub type CaseId = i64;

/// Counts the saves of a case.
pub type Version = i64;

/// A case as it is kept. It is written as canonical JSON.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CaseFile {
    /// The record as far as it goes: a key that is left out was not asked yet, `unknown` was not recorded.
    pub record: Value,
    /// What was typed and could not be read, by field. It counts as left out until it is mended.
    #[serde(default)]
    pub typed: BTreeMap<String, String>,
    /// Answers that came with a file and that nobody here has signed.
    #[serde(default)]
    pub unsigned_answers: Vec<FindingAnswer>,
    /// Changes of statements that came with a file and that nobody here has signed.
    #[serde(default)]
    pub unsigned_tailoring: Vec<Tailoring>,
    /// Sections that somebody answered as a whole, by id.
    #[serde(default)]
    pub whole: BTreeMap<String, Whole>,
    /// What the surgeon is asked; nothing if nobody waits for them.
    #[serde(default)]
    pub asked: Option<Asked>,
    /// Own words of a surgeon that came with a file and that nobody here has signed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unsigned_words: Vec<OwnWords>,
    /// Why the patient reads own words, by paragraph, as revisions of an earlier form have it: now the record tells.
    #[serde(default, rename = "own_words", skip_serializing)]
    pub earlier_reasons: BTreeMap<String, Reason>,
}

/// Who answered a section as a whole, and when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Whole {
    /// Name of the person.
    pub by: String,
    /// When, UTC.
    pub at: NaiveDateTime,
}

/// A question to the surgeon.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Asked {
    /// Name of who asks.
    pub by: String,
    /// When, UTC.
    pub at: NaiveDateTime,
    /// What.
    pub says: String,
}

/// Why the patient reads own words of the surgeon, in the earlier form.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reason {
    /// Name of the person.
    pub by: String,
    /// When, UTC.
    pub at: NaiveDateTime,
    /// Why.
    pub says: String,
}

impl Default for CaseFile {
    fn default() -> Self {
        Self::of(Value::Object(Map::new()))
    }
}

impl CaseFile {
    /// A case whose record was written here.
    #[must_use]
    pub fn of(record: Value) -> Self {
        Self {
            record,
            typed: BTreeMap::new(),
            unsigned_answers: Vec::new(),
            unsigned_tailoring: Vec::new(),
            whole: BTreeMap::new(),
            asked: None,
            unsigned_words: Vec::new(),
            earlier_reasons: BTreeMap::new(),
        }
    }

    /// A case whose record was written elsewhere: its answers, tailoring and own words must be signed again.
    ///
    /// # Errors
    /// Answers, tailoring or own words that do not have their form.
    pub fn imported(mut record: Value) -> Result<Self, RegisterError> {
        let mut take = |key: &str| match record.as_object_mut().and_then(|record| record.remove(key)) {
            Some(taken) => taken,
            None => Value::Array(Vec::new()),
        };
        let (answers, tailoring, words) = (take("answers"), take("tailoring"), take("surgeon_words"));
        let unsigned_answers = serde_json::from_value(answers).map_err(|error| unreadable(&error))?;
        let unsigned_tailoring = serde_json::from_value(tailoring).map_err(|error| unreadable(&error))?;
        let unsigned_words = serde_json::from_value(words).map_err(|error| unreadable(&error))?;
        Ok(Self { unsigned_answers, unsigned_tailoring, unsigned_words, ..Self::of(record) })
    }

    /// The record as it leaves the register: with the answers, tailoring and own words that still wait for a signature, so that
    /// a case goes out as it came in.
    #[must_use]
    pub fn exported(&self) -> Value {
        let mut record = self.record.clone();
        let waiting = [
            ("answers", serde_json::to_value(&self.unsigned_answers)),
            ("tailoring", serde_json::to_value(&self.unsigned_tailoring)),
            ("surgeon_words", serde_json::to_value(&self.unsigned_words)),
        ];
        for (key, waiting) in waiting {
            let (Some(table), Ok(Value::Array(waiting))) = (record.as_object_mut(), waiting) else { continue };
            if let Value::Array(signed) = table.entry(key).or_insert_with(|| Value::Array(Vec::new())) {
                signed.extend(waiting);
            }
            if table[key].as_array().is_some_and(Vec::is_empty) {
                table.remove(key);
            }
        }
        record
    }

    /// The record that goes on, if nothing is missing and nothing wrong.
    #[must_use]
    pub fn complete(&self, practice: &Practice) -> Option<Checked<Record>> {
        let file = SourceFile { name: "record.json".into(), text: self.record.to_string() };
        if self.typed.is_empty() { Checked::read(&file, practice.clone()).ok() } else { None }
    }

    /// The text at a JSON pointer of the record.
    #[must_use]
    pub fn text(&self, pointer: &str) -> Option<&str> {
        self.record.pointer(pointer).and_then(Value::as_str)
    }

    /// The code of the case, once it has one that may name files.
    #[must_use]
    pub fn code(&self) -> Option<&str> {
        let fits = |c: char| c.is_ascii_alphanumeric() || c == '-';
        self.text("/case/code").filter(|code| !code.is_empty() && code.chars().all(fits))
    }

    /// When the session is to begin, once that is known.
    #[must_use]
    pub fn starts(&self) -> Option<NaiveDateTime> {
        self.text("/plan/start").and_then(|text| text.parse::<LocalTime>().ok()).map(|start| start.0)
    }

    /// Name, record number and code in the form in which they are sought.
    #[must_use]
    pub fn sought(&self) -> String {
        let texts = ["/patient/name", "/patient/latin_name", "/patient/record_number", "/case/code"];
        texts.iter().filter_map(|pointer| self.text(pointer)).map(folded_number).collect::<Vec<_>>().join(" ")
    }

    /// Its canonical JSON (RFC 8785).
    pub(super) fn written(&self) -> Result<String, RegisterError> {
        serde_json_canonicalizer::to_string(self).map_err(|error| unreadable(&error))
    }

    pub(super) fn read(text: &str) -> Result<Self, RegisterError> {
        ledger::read(text.as_bytes())
    }
}

/// A case in its register.
#[derive(Debug, Clone, PartialEq)]
pub struct Filed {
    /// Its number.
    pub id: CaseId,
    /// Counts its saves.
    pub version: Version,
    /// What is kept.
    pub file: CaseFile,
}

/// Who does something, when, and what.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Act {
    /// Name of the person.
    pub by: String,
    /// When, UTC.
    pub at: NaiveDateTime,
    /// What, in a few words that say nothing about the patient.
    pub what: String,
}

/// Why a revision of a case is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Why {
    /// Somebody answered a finding.
    Answered,
    /// Somebody signed a change of what the patient reads.
    Signed,
    /// Pages were issued.
    Issued,
}

impl Why {
    /// As it is kept.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Answered => "answered",
            Self::Signed => "signed",
            Self::Issued => "issued",
        }
    }
}

/// A revision that was kept.
#[derive(Debug, Clone, PartialEq)]
pub struct Revision {
    /// Which save it was.
    pub version: Version,
    /// Why it was kept ([`Why::word`]).
    pub why: String,
    /// The case as it was.
    pub file: CaseFile,
    /// Who.
    pub by: String,
    /// When, UTC.
    pub at: NaiveDateTime,
}
