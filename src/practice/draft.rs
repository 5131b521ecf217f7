//! A record as far as it goes: a form half filled in.

use std::fmt;

use super::checked::remarks;
use super::{Checked, Gate, Practice};
use crate::diag::{Refused, Remarks, SourceFile};
use crate::facts::beside::{Beside, Other};
use crate::record::locate::Spans;
use crate::record::{Record, load};

/// A record that may still lack required keys. What is written was read and checked as strictly as in a [`Checked`] one;
/// what is missing is named, and nothing may be made of it that hangs on it.
#[derive(Clone)]
pub struct Draft {
    record: Record,
    practice: Practice,
    beside: Beside,
    spans: Spans,
    warnings: Remarks,
}

impl Draft {
    /// Reads and checks what is written.
    ///
    /// # Errors
    /// Everything that is wrong with the file, and then also what is missing.
    pub fn read(file: &SourceFile, practice: &Practice) -> Result<Self, Refused> {
        let missing = || load::load::<Record>(file).err().unwrap_or_default();
        let read = || {
            let loaded = load::incomplete::<Record>(file).map_err(|_| missing())?;
            let mut report = loaded.warnings;
            report.append(loaded.value.check(practice, &loaded.spans));
            if report.has_errors() {
                report.append(missing());
            }
            Ok((report.or_value(loaded.value)?, loaded.spans))
        };
        match read() {
            Ok(((record, report), spans)) => {
                let warnings = remarks::<Record>(report, file);
                Ok(Self { record, practice: practice.clone(), beside: Beside::default(), spans, warnings })
            }
            Err(report) => Err(Refused(remarks::<Record>(report, file))),
        }
    }

    /// The practice it was checked with.
    #[must_use]
    pub fn practice(&self) -> &Practice {
        &self.practice
    }

    /// What is known beside it; nothing unless [`Draft::beside`] said so.
    #[must_use]
    pub fn known_beside(&self) -> &Beside {
        &self.beside
    }

    /// The same with what is known beside it.
    #[must_use]
    pub fn beside(self, beside: Beside) -> Self {
        Self { beside, ..self }
    }

    /// What it says to other records beside it; nothing while it does not say whom it is of.
    #[must_use]
    pub fn other(&self) -> Option<Other> {
        let lacks = |pointers: &[&str]| pointers.iter().any(|pointer| self.lacks(pointer));
        let other = Other::of(&self.record);
        (!lacks(&["/patient/name", "/patient/birth_date", "/patient/record_number"])).then(|| Other {
            code: if lacks(&["/case/code"]) { String::new() } else { other.code },
            side: other.side.filter(|_| !lacks(&["/eye/side"])),
            day: other.day.filter(|_| !lacks(&["/plan/start", "/treatment/last_pulse"])),
            identity: other.identity,
        })
    }

    /// The required keys that are missing, as JSON pointers.
    pub fn lacking(&self) -> impl Iterator<Item = &str> {
        self.spans.lacking()
    }

    /// Whether it holds the treatment as done, complete or not.
    #[must_use]
    pub fn is_treated(&self) -> bool {
        self.record.treatment.is_some()
    }

    /// Whether a required key is missing.
    #[must_use]
    pub fn lacks(&self, pointer: &str) -> bool {
        self.spans.lacks(pointer)
    }

    /// What a person should look at, although it holds nothing back.
    #[must_use]
    pub fn warnings(&self) -> &Remarks {
        &self.warnings
    }

    /// The record that goes on, if nothing is missing.
    ///
    /// # Errors
    /// The draft itself, if something is.
    pub fn complete(self) -> Result<Checked<Record>, Box<Self>> {
        if self.lacking().next().is_some() {
            return Err(Box::new(self));
        }
        Ok(Checked { value: self.record, with: self.practice, beside: self.beside, warnings: self.warnings })
    }

    /// The record. Whoever looks at it must leave alone what [`Draft::lacking`] names.
    pub(crate) fn record(&self) -> &Record {
        &self.record
    }
}

/// Who it is about stays out of logs.
impl fmt::Debug for Draft {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Draft").field("lacking", &self.lacking().collect::<Vec<_>>()).finish_non_exhaustive()
    }
}
