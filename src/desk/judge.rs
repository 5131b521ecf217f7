//! A case as far as it goes: what is wrong with it, and what the library says of the rest.

use std::collections::BTreeSet;
use std::num::NonZero;
use std::panic::resume_unwind;
use std::thread::{self, available_parallelism};

use serde_json::Value;

use super::error::DeskError;
use crate::diag::emit::{self, Item};
use crate::diag::{Refused, Severity, SourceFile};
use crate::facts::Moment;
use crate::facts::beside::{Beside, Other};
use crate::packet::Assessment;
use crate::practice::{Draft, Practice};
use crate::record::date::{Date, LocalTime};
use crate::record::identity::Identity;
use crate::register::CaseFile;
use crate::review::check::{self, Asked, Check};

/// What the library says of a case.
#[derive(Debug)]
pub(super) struct Judged {
    /// Before the treatment, or after it.
    pub(super) moment: Moment,
    /// What cannot be, by the key it is about.
    pub(super) errors: Vec<Item>,
    /// What was found in everything else.
    pub(super) check: Check,
    /// The record without what is wrong with it.
    pub(super) draft: Draft,
}

impl Judged {
    /// Whether the consent (before the treatment) or the drop plan (after it) may not go out now, also of a case that is
    /// half filled in.
    pub(super) fn withholds(&self) -> bool {
        let findings = || Assessment::of_draft(&self.draft, self.moment).findings;
        self.check.withheld.is_some() || findings().withholding(self.moment).next().is_some()
    }

    /// The titles of the findings that withhold something, each once; what is no finding stands for itself.
    pub(super) fn withheld_by(&self) -> Vec<String> {
        let title =
            |id: &String| self.check.findings.iter().find(|found| found.id == *id).map(|found| found.title.clone());
        let by = self.check.withheld.iter().flat_map(|withheld| &withheld.by);
        let mut titles: Vec<String> = by.map(|id| title(id).unwrap_or_else(|| id.clone())).collect();
        let mut told = BTreeSet::new();
        titles.retain(|title| told.insert(title.clone()));
        titles
    }
}

/// Most rounds in which what is wrong is set aside.
const ROUNDS: usize = 8;

/// Judges a case. What is wrong is named and set aside, so that one slip hides no finding.
pub(super) fn judge(file: &CaseFile, practice: &Practice, beside: &Beside) -> Result<Judged, DeskError> {
    let mut record = file.record.clone();
    let mut errors: Vec<Item> = Vec::new();
    for _ in 0..ROUNDS {
        match read(&record, practice) {
            Ok(draft) => return judged(errors, draft.beside(beside.clone())),
            Err(refused) => {
                let found = emit::items(&refused.report, &refused.file);
                let found = found.into_iter().filter(|item| item.severity == Severity::Error);
                // What is missing is no error here: it is named among what is open.
                let found: Vec<Item> = found.filter(|item| item.code != "missing-key").collect();
                let places: BTreeSet<String> = found.iter().filter_map(|item| item.pointer.clone()).collect();
                let before = record.clone();
                places.iter().for_each(|pointer| set_aside(&mut record, pointer));
                errors.extend(found);
                if record == before {
                    break;
                }
            }
        }
    }
    let draft = read(&Value::Object(serde_json::Map::new()), practice)
        .map_err(|_| DeskError::Text("an empty record is refused".into()))?;
    judged(errors, draft)
}

/// Judges cases beside what is known of each, shared among the cores of this machine.
pub(super) fn judge_all(cases: &[(&CaseFile, Beside)], practice: &Practice) -> Result<Vec<Judged>, DeskError> {
    let of_core = cases.len().div_ceil(available_parallelism().map_or(1, NonZero::get)).max(1);
    let share = |cases: &[(&CaseFile, Beside)]| -> Result<Vec<Judged>, DeskError> {
        cases.iter().map(|(file, beside)| judge(file, practice, beside)).collect()
    };
    let judged: Vec<Vec<Judged>> = thread::scope(|scope| {
        let cores: Vec<_> = cases.chunks(of_core).map(|cases| scope.spawn(move || share(cases))).collect();
        cores.into_iter().map(|core| core.join().unwrap_or_else(|panic| resume_unwind(panic))).collect::<Result<_, _>>()
    })?;
    Ok(judged.into_iter().flatten().collect())
}

fn judged(errors: Vec<Item>, draft: Draft) -> Result<Judged, DeskError> {
    let moment = if draft.is_treated() { Moment::After } else { Moment::Before };
    let check = check::check(&draft, Asked { moment, pages: false, private: true })?;
    Ok(Judged { moment, errors, check, draft })
}

/// Reads a record as far as it goes.
pub(super) fn read(record: &Value, practice: &Practice) -> Result<Draft, Refused> {
    Draft::read(&source(record), practice)
}

/// What a case says to others beside it, whatever else it lacks; nothing while it does not say whom it is of.
pub(super) fn other(file: &CaseFile) -> Option<Other> {
    let birth_date: Date = file.text("/patient/birth_date")?.parse().ok()?;
    let identity = Identity::new(file.text("/patient/record_number")?, file.text("/patient/name")?, birth_date.0);
    let treated = file.text("/treatment/last_pulse").and_then(|text| text.parse::<LocalTime>().ok());
    Some(Other {
        code: file.code().unwrap_or_default().to_owned(),
        identity,
        side: file.record.pointer("/eye/side").and_then(|side| serde_json::from_value(side.clone()).ok()),
        day: treated.map(|at| at.0).or_else(|| file.starts()).map(|at| at.date()),
    })
}

fn source(record: &Value) -> SourceFile {
    SourceFile { name: "record.json".into(), text: record.to_string() }
}

fn set_aside(record: &mut Value, pointer: &str) {
    let Some((parent, key)) = pointer.rsplit_once('/') else { return };
    match record.pointer_mut(parent) {
        Some(Value::Object(table)) => _ = table.remove(key),
        Some(Value::Array(entries)) => {
            if let Some(at) = key.parse::<usize>().ok().filter(|at| *at < entries.len()) {
                entries.remove(at);
            }
        }
        _ => {}
    }
}
