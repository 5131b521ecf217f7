//! From a case record to its case, for any command.

use std::path::{Path, PathBuf};

use super::args::{self, MomentArg};
use super::report::{self, Failure};
use crate::facts::Moment;
use crate::files::read;
use crate::packet::Case;
use crate::practice::{Checked, Practice};
use crate::record::Record;

/// Reads and checks the records of all cases.
pub(super) fn records(args: &args::Case, practice: &Practice) -> Result<Vec<Checked<Record>>, Failure> {
    args.cases.iter().map(|path| open(path, practice)).collect()
}

/// Derives all cases of some records.
pub(super) fn all<'a>(args: &args::Case, records: &'a [Checked<Record>]) -> Result<Vec<Case<'a>>, Failure> {
    let case = |(path, record): (&PathBuf, &'a Checked<Record>)| {
        Case::new(record, moment(args.moment, record)).map_err(|text| in_file(path, Failure::Told(text)))
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
    let made = Case::new(&record, moment(asked, &record)).map_err(Failure::Told);
    made.and_then(|case| make(&case)).map_err(|failure| in_file(path, failure))
}

/// What goes wrong, with the file it goes wrong in.
pub(super) fn in_file(path: &Path, failure: Failure) -> Failure {
    match failure {
        Failure::Told(text) => Failure::Told(format!("{}: {text}", path.display())),
        other => other,
    }
}

/// Reads and checks a record; its warnings are told.
fn open(path: &Path, practice: &Practice) -> Result<Checked<Record>, Failure> {
    let record = Checked::<Record>::read(&read::source(path)?, practice.clone())?;
    report::warnings(record.warnings());
    Ok(record)
}

fn moment(asked: Option<MomentArg>, record: &Record) -> Moment {
    Moment::chosen(asked.map(MomentArg::moment), record)
}
