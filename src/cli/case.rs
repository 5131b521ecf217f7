//! From a case record to its case, for any command.

use std::path::{Path, PathBuf};

use super::args::{self, MomentArg};
use super::io;
use super::report::Failure;
use crate::facts::Moment;
use crate::packet::Case;
use crate::practice::Practice;
use crate::record::{Record, check, load};

/// Reads and checks the records of all cases.
pub(super) fn records(args: &args::Case, practice: &Practice) -> Result<Vec<Record>, Failure> {
    args.cases.iter().map(|path| open(path, practice)).collect()
}

/// Derives all cases of some records.
pub(super) fn all<'a>(
    args: &args::Case,
    practice: &'a Practice,
    records: &'a [Record],
) -> Result<Vec<Case<'a>>, Failure> {
    let case = |(path, record): (&PathBuf, &'a Record)| {
        Case::new(practice, record, moment(args.moment, record)).map_err(|text| in_file(path, Failure::Told(text)))
    };
    args.cases.iter().zip(records).map(case).collect()
}

/// Makes something of each case in turn. What goes wrong with one is told with its file.
pub(super) fn each<T>(
    args: &args::Case,
    practice: &Practice,
    mut make: impl FnMut(&Case) -> Result<T, Failure>,
) -> Result<Vec<T>, Failure> {
    args.cases.iter().map(|path| one(path, args.moment, practice, &mut make)).collect()
}

/// Makes something of the case in one file.
pub(super) fn one<T>(
    path: &Path,
    asked: Option<MomentArg>,
    practice: &Practice,
    make: impl FnOnce(&Case) -> Result<T, Failure>,
) -> Result<T, Failure> {
    let record = open(path, practice)?;
    let made = Case::new(practice, &record, moment(asked, &record)).map_err(Failure::Told);
    made.and_then(|case| make(&case)).map_err(|failure| in_file(path, failure))
}

/// What goes wrong, with the file it goes wrong in.
pub(super) fn in_file(path: &Path, failure: Failure) -> Failure {
    match failure {
        Failure::Told(text) => Failure::Told(format!("{}: {text}", path.display())),
        other => other,
    }
}

/// Reads and checks a record.
fn open(path: &Path, practice: &Practice) -> Result<Record, Failure> {
    let file = io::source(path)?;
    let refused = |report| Failure::Refused(Box::new((report, file.clone())));
    let loaded = load::load::<Record>(&file).map_err(refused)?;
    let front = &practice.profile.thresholds.front_of_eye_mm;
    let mut report = check::record(&loaded.value, &loaded.spans, front);
    report.append(check::references(&loaded.value, &practice.profile, &practice.formulary, &loaded.spans));
    report.or_value(loaded.value).map_err(refused)
}

/// The moment asked for; else after if the record holds the treatment.
fn moment(asked: Option<MomentArg>, record: &Record) -> Moment {
    match asked {
        Some(MomentArg::Before) => Moment::Before,
        Some(MomentArg::After) => Moment::After,
        None if record.treatment.is_some() => Moment::After,
        None => Moment::Before,
    }
}
