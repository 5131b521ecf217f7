//! `new`: a record to fill in.

use super::args::New;
use super::report::{self, Failure};
use super::{Status, io, practice};
use crate::files::create::create;
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
            create(path, text.as_bytes()).map_err(|error| Failure::Told(error.to_string()))?;
            report::line(&format!("made {}", path.display()));
            Ok(Status::Done)
        }
    }
}
