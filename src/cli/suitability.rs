//! `print --page suitability`: of records that may be half filled in.

use std::path::Path;

use super::args::Print;
use super::report::{self, Failure};
use super::{Status, case, check, clock, io};
use crate::files::write::Locked;
use crate::packet::suitability;
use crate::practice::{Draft, Practice};

/// Makes the sheet of each record; what goes wrong with one costs none of the others.
pub(super) fn run(args: &Print, practice: &Practice) -> Result<Status, Failure> {
    let mut status = Status::Done;
    for (path, draft) in args.case.cases.iter().zip(check::drafts(&args.case.cases, practice)?) {
        if let Err(failure) = draft.and_then(|draft| one(args, path, &draft)) {
            report::failure(&failure);
            status = Status::Failed;
        }
    }
    Ok(status)
}

fn one(args: &Print, path: &Path, draft: &Draft) -> Result<(), Failure> {
    let issued = args.issued.map_or_else(clock::now, Ok)?;
    for form in &args.forms {
        let made = suitability::file(draft, form.form(), issued);
        let (name, bytes) = made.map_err(|error| case::in_file(path, error.into()))?;
        put(args, &name, &bytes)?;
    }
    Ok(())
}

fn put(args: &Print, name: &str, bytes: &[u8]) -> Result<(), Failure> {
    if args.out.as_os_str() == "-" {
        return io::stdout(bytes).map(|_| ());
    }
    let told = |error: crate::files::write::WriteError| Failure::Told(error.to_string());
    Locked::wait(&args.out).map_err(told)?.swap_in(&[(name, bytes)]).map_err(told)?;
    report::line(&format!("made {}", args.out.join(name).display()));
    Ok(())
}
