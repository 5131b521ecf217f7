//! From a case record to its case, for any command.

use std::path::Path;

use super::args::{self, MomentArg};
use super::report::{self, Failure};
use crate::batch::Refusal;
use crate::diag::SourceFile;
use crate::facts::Moment;
use crate::files::read::{self, ReadError};
use crate::packet::Case;
use crate::practice::{Checked, Practice};
use crate::record::Record;

/// The records of some cases, read one at a time and as often as asked.
pub(super) struct Sources<'a> {
    args: &'a args::Case,
    practice: &'a Practice,
    // Standard input can be read once only.
    input: Option<SourceFile>,
}

impl<'a> Sources<'a> {
    pub(super) fn new(args: &'a args::Case, practice: &'a Practice) -> Result<Self, Failure> {
        let input = args.cases.iter().find(|path| path.as_os_str() == "-").map(|path| read::source(path));
        Ok(Self { args, practice, input: input.transpose()? })
    }

    /// Reads and checks the record at a place; with the moment that is asked for.
    pub(super) fn read(&self, at: usize) -> Result<(Checked<Record>, Moment), Refusal> {
        let record = Checked::<Record>::read(&self.file(at)?, self.practice.clone()).map_err(ReadError::from)?;
        let moment = moment(self.args.moment, &record);
        Ok((record, moment))
    }

    /// What is written at a place.
    pub(super) fn file(&self, at: usize) -> Result<SourceFile, ReadError> {
        let path = &self.args.cases[at];
        match &self.input {
            Some(file) if path.as_os_str() == "-" => Ok(file.clone()),
            _ => read::source(path),
        }
    }
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
    of(&read::source(path)?, asked, practice, make).map_err(|failure| in_file(path, failure))
}

/// Makes something of the case in what was read.
pub(super) fn of<T>(
    file: &SourceFile,
    asked: Option<MomentArg>,
    practice: &Practice,
    make: impl FnOnce(&Case) -> Result<T, Failure>,
) -> Result<T, Failure> {
    let record = Checked::<Record>::read(file, practice.clone())?;
    report::remarks(record.warnings());
    make(&Case::new(&record, moment(asked, &record))?)
}

/// What goes wrong, with the file it goes wrong in.
pub(super) fn in_file(path: &Path, failure: Failure) -> Failure {
    match failure {
        Failure::Told(text) => Failure::Told(format!("{}: {text}", path.display())),
        other => other,
    }
}

fn moment(asked: Option<MomentArg>, record: &Record) -> Moment {
    Moment::chosen(asked.map(MomentArg::moment), record.treatment.is_some())
}
