//! The one gate: only a profile and a record that were read in full and checked go on.

use std::fmt;
use std::ops::Deref;

use schemars::JsonSchema;
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::{Files, Practice};
use crate::diag::{Refused, Remarks, Report, SourceFile};
use crate::facts::beside::Beside;
use crate::record::locate::Spans;
use crate::record::profile::Profile;
use crate::record::{Record, check, load};

/// A profile or a record that has the form it must have, contradicts nothing in itself and points at nothing that is not
/// there. A profile was checked with its files, a record with its practice, and each keeps what it was checked with: it
/// cannot be used with another.
#[derive(Clone)]
pub struct Checked<T: Gate> {
    pub(super) value: T,
    pub(super) with: T::With,
    pub(super) beside: T::Beside,
    pub(super) warnings: Remarks,
}

/// What has to be checked before it goes on.
pub trait Gate: Serialize + DeserializeOwned + JsonSchema + sealed::Sealed {
    /// What it is checked with.
    type With;

    /// What may be known beside it.
    type Beside: Clone + Default;

    /// Everything that contradicts itself, or what it is checked with.
    fn check(&self, with: &Self::With, spans: &Spans) -> Report;
}

mod sealed {
    pub trait Sealed {}
    impl Sealed for crate::record::Record {}
    impl Sealed for crate::record::profile::Profile {}
}

impl Gate for Profile {
    type With = Files;
    type Beside = ();

    fn check(&self, files: &Files, spans: &Spans) -> Report {
        let mut report = check::profile(self, spans);
        report.append(check::regimens(self, &files.formulary, spans));
        report
    }
}

impl Gate for Record {
    type With = Practice;
    type Beside = Beside;

    fn check(&self, practice: &Practice, spans: &Spans) -> Report {
        let profile = &practice.profile;
        let mut report = check::record(self, spans, &profile.thresholds.front_of_eye_mm);
        report.append(check::references(self, profile, &practice.formulary, spans));
        report
    }
}

impl<T: Gate> Checked<T> {
    /// Reads a file and checks it.
    ///
    /// # Errors
    /// Everything that is wrong with the file, and the file without its private values.
    pub fn read(file: &SourceFile, with: T::With) -> Result<Self, Refused> {
        let read = || {
            let loaded = load::load::<T>(file)?;
            let mut report = loaded.warnings;
            report.append(loaded.value.check(&with, &loaded.spans));
            report.or_value(loaded.value)
        };
        match read() {
            Ok((value, warnings)) => {
                Ok(Self { value, with, beside: T::Beside::default(), warnings: remarks::<T>(warnings, file) })
            }
            Err(report) => Err(Refused(remarks::<T>(report, file))),
        }
    }

    /// Checks a value that came from no file, for example from a form: it is written as JSON and read like one.
    ///
    /// # Errors
    /// Everything that is wrong with the value, in its text as JSON.
    pub fn of(value: &T, with: T::With) -> Result<Self, Refused> {
        // A value that could not be written is an empty text, which is refused.
        let text = serde_json::to_string_pretty(value).unwrap_or_default();
        Self::read(&SourceFile { name: "record.json".into(), text }, with)
    }

    /// Checks a value whose parts were put together from right ones: its form is not looked at again.
    pub(crate) fn of_right_form(value: T, with: T::With) -> Result<Self, Report> {
        let (value, report) = value.check(&with, &Spans::default()).or_value(value)?;
        let file = SourceFile { name: String::new(), text: String::new() };
        let warnings = Remarks { report, written: Box::new(file.clone()), file };
        Ok(Self { value, with, beside: T::Beside::default(), warnings })
    }

    /// What a person should look at, although it holds nothing back.
    #[must_use]
    pub fn warnings(&self) -> &Remarks {
        &self.warnings
    }

    /// What it was checked with.
    #[must_use]
    pub fn with(&self) -> &T::With {
        &self.with
    }

    /// What is known beside it; nothing unless [`Checked::beside`] said so.
    #[must_use]
    pub fn known_beside(&self) -> &T::Beside {
        &self.beside
    }

    /// The same with what is known beside it.
    #[must_use]
    pub fn beside(self, beside: T::Beside) -> Self {
        Self { beside, ..self }
    }

    /// The value and what it was checked with, apart.
    #[must_use]
    pub fn into_parts(self) -> (T, T::With) {
        (self.value, self.with)
    }
}

/// A report of a file. Nothing private is shown with it unless somebody asks for the file as it was written; where there is
/// nothing to say, nothing is shown.
pub(super) fn remarks<T: Gate>(report: Report, file: &SourceFile) -> Remarks {
    let nothing = || SourceFile { name: file.name.clone(), text: String::new() };
    let shown = if report.is_empty() { nothing() } else { load::masked::<T>(file) };
    Remarks { report, file: shown, written: Box::new(file.clone()) }
}

impl<T: Gate> Deref for Checked<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.value
    }
}

/// Who it is about stays out of logs.
impl<T: Gate> fmt::Debug for Checked<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Checked").finish_non_exhaustive()
    }
}
