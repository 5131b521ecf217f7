//! `new`: a record to fill in.

use super::args::New;
use super::report::{self, Failure};
use super::{Status, io, practice};
use crate::record::new;

/// Writes the record to a file that is not there yet, or to standard output.
pub(super) fn run(args: &New) -> Result<Status, Failure> {
    let practice = args.practice.as_deref().map(practice::open).transpose()?;
    let names =
        practice.as_ref().map(|practice| new::Practice { profile: &practice.profile, formulary: &practice.formulary });
    let text = new::commented(names);
    match &args.out {
        None => io::stdout(text.as_bytes()),
        Some(path) => {
            io::write_new(path, text.as_bytes())?;
            report::line(&format!("made {}", path.display()));
            Ok(Status::Done)
        }
    }
}
