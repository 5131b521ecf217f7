//! Loading a case record for any command.

use std::path::Path;

use super::args::MomentArg;
use super::io;
use super::report::Failure;
use crate::facts::Moment;
use crate::practice::Practice;
use crate::record::{Record, check, load};

/// Reads and checks a record.
pub(super) fn open(path: &Path, practice: &Practice) -> Result<Record, Failure> {
    let file = io::source(path)?;
    let refused = |report| Failure::Refused(Box::new((report, file.clone())));
    let loaded = load::load::<Record>(&file).map_err(refused)?;
    let front = &practice.profile.thresholds.front_of_eye_mm;
    let mut report = check::record(&loaded.value, &loaded.spans, front);
    report.append(check::references(&loaded.value, &practice.profile, &practice.formulary, &loaded.spans));
    report.or_value(loaded.value).map_err(refused)
}

/// The moment asked for; else after if the record holds the treatment.
pub(super) fn moment(asked: Option<MomentArg>, record: &Record) -> Moment {
    match asked {
        Some(MomentArg::Before) => Moment::Before,
        Some(MomentArg::After) => Moment::After,
        None if record.treatment.is_some() => Moment::After,
        None => Moment::Before,
    }
}
