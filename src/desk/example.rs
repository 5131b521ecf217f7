//! The invented practice at work, for a newcomer: its cases on an invented day, with people whose passphrase everybody knows.

use chrono::NaiveDateTime;
use serde_json::Value;

use super::error::DeskError;
use crate::assets::samples;
use crate::demo;
use crate::diag::SourceFile;
use crate::practice::Practice;
use crate::record::form::KnownBy;
use crate::record::locate;
use crate::register::{CaseFile, Passphrase, Person, Register};

/// The passphrase of everybody in the example.
pub const PASSPHRASE: &str = "example passphrase";

/// Treatments of its invented history.
pub const TREATMENTS: u32 = 300;

const PEOPLE: [(&str, KnownBy); 4] = [
    ("Dr. Ada Sample", KnownBy::Surgeon),
    ("Dr. Ben Novak-Example", KnownBy::Surgeon),
    ("Kim Placeholder", KnownBy::Nurse),
    ("Max Exemplar", KnownBy::Desk),
];

/// The invented practice and its day.
#[derive(Debug)]
pub struct Example {
    /// The practice.
    pub practice: Practice,
    records: Vec<Value>,
}

impl Example {
    /// Reads it.
    ///
    /// # Errors
    /// A sample that is refused.
    pub fn read() -> Result<Self, DeskError> {
        let samples = samples();
        let practice = demo::practice(&samples)?;
        let cases = samples.iter().filter(|(path, _)| path.ends_with("/case.toml"));
        let written = |(path, text): (&String, &String)| {
            locate::read(&SourceFile { name: path.clone(), text: text.clone() }).0.value
        };
        Ok(Self { practice, records: cases.map(written).collect() })
    }

    /// When it is in the example: the morning of 12 August 2026, UTC, on which one patient waits for a recheck.
    #[must_use]
    pub fn begins() -> NaiveDateTime {
        chrono::NaiveDate::from_ymd_opt(2026, 8, 12).and_then(|day| day.and_hms_opt(15, 12, 0)).unwrap_or_default()
    }

    /// Puts its people and cases into an empty register. What lies ahead of its day is not done yet.
    ///
    /// # Errors
    /// A register that does not answer.
    pub fn fill(&self, register: &mut Register) -> Result<(), DeskError> {
        if !register.people()?.is_empty() {
            return Ok(());
        }
        let passphrase = Passphrase::new(PASSPHRASE)?;
        for (name, role) in PEOPLE {
            let person = Person { name: name.into(), role, passphrase: passphrase.clone() };
            register.put_person(&person, PEOPLE[0].0, Self::begins())?;
        }
        for record in &self.records {
            let mut file = CaseFile::of(record.clone());
            if file.starts().is_some_and(|start| start.date() > Self::begins().date()) {
                let ahead = ["treatment", "answers", "tailoring"];
                file.record
                    .as_object_mut()
                    .into_iter()
                    .for_each(|record| record.retain(|key, _| !ahead.contains(&key.as_str())));
            }
            register.add(&file)?;
        }
        let history: Vec<_> = demo::history(Self::begins().date(), TREATMENTS)
            .into_iter()
            .map(|treated| (CaseFile::of(treated.record), treated.outcomes))
            .collect();
        register.add_history(&history, PEOPLE[2].0, Self::begins())?;
        Ok(())
    }
}
