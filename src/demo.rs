//! The invented practice and its invented cases, which come with the program.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::de::DeserializeOwned;

use crate::assets::Assets;
use crate::diag::SourceFile;
use crate::diag::emit::{self, Colour};
use crate::facts::Moment;
use crate::practice::Practice;
use crate::record::profile::Profile;
use crate::record::{Record, load};

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
pub fn practice(samples: &BTreeMap<String, String>) -> Result<Practice, String> {
    Practice::assemble(read::<Profile>(samples, "practice/profile.toml")?, Assets::default())
}

/// The invented cases by folder, from the files of [`crate::assets::samples`].
///
/// # Errors
/// What is wrong with one of them.
pub fn records(samples: &BTreeMap<String, String>) -> Result<Vec<(String, Record)>, String> {
    let cases = samples.keys().filter_map(|path| path.strip_suffix("/case.toml"));
    cases.map(|name| Ok((name.to_owned(), read(samples, &format!("{name}/case.toml"))?))).collect()
}

fn read<T: DeserializeOwned + JsonSchema>(samples: &BTreeMap<String, String>, path: &str) -> Result<T, String> {
    let text = samples.get(path).ok_or_else(|| format!("the sample {path} is missing"))?;
    let file = SourceFile { name: path.to_owned(), text: text.clone() };
    let loaded = load::load::<T>(&file).map_err(|report| emit::human(&report, &file, Colour::Never))?;
    Ok(loaded.value)
}
