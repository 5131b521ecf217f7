//! The invented practice and its invented cases, which come with the program.

use std::collections::BTreeMap;

use crate::assets::Assets;
use crate::diag::SourceFile;
use crate::facts::Moment;
use crate::practice::{Checked, Files, Practice, PracticeError};
use crate::record::Record;

/// The moments a case is shown at: before for every case; after where the record holds the treatment.
#[must_use]
pub fn moments(record: &Record) -> Vec<Moment> {
    match record.treatment {
        Some(_) => vec![Moment::Before, Moment::After],
        None => vec![Moment::Before],
    }
}

/// Consent pages are issued three days before the treatment, aftercare when the patient leaves; the zone is left aside.
#[must_use]
pub fn issued(record: &Record, moment: Moment) -> chrono::NaiveDateTime {
    let start = record.plan.start.0;
    match (moment, &record.treatment) {
        (Moment::After, Some(done)) => done.leaves.0,
        _ => start.checked_sub_days(chrono::Days::new(3)).unwrap_or(start),
    }
}

/// The invented practice, from the files of [`crate::assets::samples`].
///
/// # Errors
/// What is wrong with its profile.
pub fn practice(samples: &BTreeMap<String, String>) -> Result<Practice, PracticeError> {
    let file = file(samples, "practice/profile.toml")?;
    Practice::assemble(Checked::read(&file, Files::of(Assets::default())?)?)
}

/// The invented cases by folder, from the files of [`crate::assets::samples`].
///
/// # Errors
/// What is wrong with one of them.
pub fn records(samples: &BTreeMap<String, String>) -> Result<Vec<(String, Record)>, PracticeError> {
    let checked = checked(&practice(samples)?, samples)?;
    Ok(checked.into_iter().map(|(name, record)| (name, record.into_parts().0)).collect())
}

/// The invented cases by folder, checked for a practice.
///
/// # Errors
/// As [`records`].
pub fn checked(
    practice: &Practice,
    samples: &BTreeMap<String, String>,
) -> Result<Vec<(String, Checked<Record>)>, PracticeError> {
    let cases = samples.keys().filter_map(|path| path.strip_suffix("/case.toml"));
    let checked = |name: &str| {
        let file = file(samples, &format!("{name}/case.toml"))?;
        Ok((name.to_owned(), Checked::read(&file, practice.clone())?))
    };
    cases.map(checked).collect()
}

fn file(samples: &BTreeMap<String, String>, path: &str) -> Result<SourceFile, PracticeError> {
    let text = samples.get(path).ok_or_else(|| format!("the sample {path} is missing"))?;
    Ok(SourceFile { name: path.to_owned(), text: text.clone() })
}
