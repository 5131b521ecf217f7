//! Contradictions: a file of the right form that cannot be true.
//!
//! Refused is only what cannot be, however incomplete dates are read. What is true but unwise is a finding, not a
//! contradiction. Where no source is named the rule follows from the words themselves.

mod applies;
mod course;
mod dates;
mod eye;
mod identity;
mod letters;
mod practice;
mod procedure;
mod references;
mod texts;

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;

use super::Record;
use super::formulary::Formulary;
use super::locate::Spans;
use super::profile::{FrontOfEye, Profile};
use crate::diag::{Diagnostic, Report};

/// Everything in a record that contradicts itself, and warnings where somebody should look again.
///
/// `front` says how much of the eye lies in front of the zero of the lens distance. A record that came from no file
/// has no places: give `Spans::default()`.
#[must_use]
pub fn record(record: &Record, spans: &Spans, front: &FrontOfEye) -> Report {
    let mut found = Refusals { spans, report: Report::default() };
    let values = values(record);
    texts::check(&values, &mut found);
    applies::check(&values, &mut found);
    dates::check(record, &mut found);
    eye::check(record, front, &mut found);
    course::check(record, &mut found);
    procedure::check(record, &mut found);
    identity::check(record, &mut found);
    letters::check(record, &mut found);
    for (pointer, language) in references::languages(record) {
        found.language(pointer, language);
    }
    found.latin("/patient/latin_name", record.patient.latin_name.as_deref());
    found.report
}

/// Everything in a practice profile that contradicts itself.
#[must_use]
pub fn profile(profile: &Profile, spans: &Spans) -> Report {
    let mut found = Refusals { spans, report: Report::default() };
    texts::check(&values(profile), &mut found);
    practice::check(profile, &mut found);
    found.report
}

/// Everything in a record that points at something the practice does not have.
#[must_use]
pub fn references(record: &Record, profile: &Profile, formulary: &Formulary, spans: &Spans) -> Report {
    let mut found = Refusals { spans, report: Report::default() };
    references::of_record(record, profile, formulary, &mut found);
    found.report
}

/// Everything in a profile that points at a drug the formulary does not have.
#[must_use]
pub fn regimens(profile: &Profile, formulary: &Formulary, spans: &Spans) -> Report {
    let mut found = Refusals { spans, report: Report::default() };
    references::of_profile(profile, formulary, &mut found);
    found.report
}

/// Our own types always become values; one that did not would have nothing to look at.
fn values(of: &impl Serialize) -> Value {
    serde_json::to_value(of).unwrap_or_default()
}

/// A pointer into the file, and what is said beside it.
type Mark<'a> = (&'a str, &'a str);

/// The refusals found so far.
struct Refusals<'a> {
    spans: &'a Spans,
    report: Report,
}

impl Refusals<'_> {
    /// Refuses; the first mark is the main place. What is missing contradicts nothing.
    fn refuse(&mut self, code: &'static str, message: impl Into<String>, marks: &[Mark<'_>], help: impl Into<String>) {
        if marks.iter().any(|(pointer, _)| self.spans.lacks(pointer)) {
            return;
        }
        let mut wrong = Diagnostic::error(code, message).help(help);
        wrong.pointer = marks.first().map(|(pointer, _)| (*pointer).to_owned());
        let marked = marks.iter().fold(wrong, |wrong, (pointer, text)| wrong.at(self.spans.value(pointer), *text));
        self.report.add(marked);
    }

    /// Asks somebody to look; nothing is held back.
    fn warn(&mut self, code: &'static str, message: &str, pointer: &str, help: &str) {
        if self.spans.lacks(pointer) {
            return;
        }
        let warning = Diagnostic::warning(code, message).at(self.spans.value(pointer), "").help(help);
        self.report.add(warning.pointer(pointer));
    }

    /// Refuses every value that stands twice. `what` names the list in words.
    fn duplicates<T: Ord>(&mut self, what: &str, values: impl Iterator<Item = (String, T)>) {
        let mut seen: BTreeMap<T, String> = BTreeMap::new();
        for (pointer, value) in values {
            match seen.get(&value) {
                Some(first) => self.refuse(
                    "duplicate",
                    format!("the same stands twice among {what}"),
                    &[(&pointer, "again here"), (first, "first here")],
                    "keep one of the two, or correct one",
                ),
                None => {
                    seen.insert(value, pointer);
                }
            }
        }
    }

    /// Refuses a name in letters that not every page can show: Basic Latin to Latin Extended-B, and Latin Extended
    /// Additional, are those of the print fonts.
    fn latin(&mut self, pointer: &str, name: Option<&str>) {
        let latin = |letter: char| matches!(letter, '\0'..='\u{24F}' | '\u{300}'..='\u{36F}' | '\u{1E00}'..='\u{1EFF}');
        if name.is_some_and(|name| name.chars().any(|letter| letter.is_alphabetic() && !latin(letter))) {
            let help = "write the name as its letters are transcribed in a passport";
            self.refuse("latin-name", "the name in Latin letters holds other letters", &[(pointer, "")], help);
        }
    }

    /// Refuses a language that is no language tag (BCP 47, read by Unicode rules); a longer one is a language's name.
    fn language(&mut self, pointer: &str, tag: &str) {
        let is_tag = |id: unic_langid::LanguageIdentifier| id.language.as_str().len() <= 3;
        if !tag.parse().is_ok_and(is_tag) {
            self.refuse(
                "language-tag",
                "this is not a language tag",
                &[(pointer, "")],
                "write language and region like en-US",
            );
        }
    }
}

/// Millimetres and millijoules as they are said: to two decimals.
fn rounded(number: f64) -> f64 {
    (number * 100.0).round() / 100.0
}
