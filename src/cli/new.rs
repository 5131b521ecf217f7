//! `new`: a record to fill in.

use super::args::{Format, New};
use super::report::{self, Failure};
use super::{Status, io, practice};
use crate::files::create::create;
use crate::packet::json;
use crate::record::{Record, form, new};

/// Writes the record to a file that is not there yet, or to standard output.
pub(super) fn run(args: &New) -> Result<Status, Failure> {
    let text = match args.format {
        Format::Json => json::text(&form::describe::<Record>())?,
        Format::Human => commented(args)?,
    };
    match &args.out {
        None => io::stdout(text.as_bytes()),
        Some(path) => {
            create(path, text.as_bytes())?;
            report::line(&format!("made {}", path.display()));
            Ok(Status::Done)
        }
    }
}

fn commented(args: &New) -> Result<String, Failure> {
    let practice = args.practice.as_deref().map(practice::open).transpose()?;
    let names =
        practice.as_ref().map(|practice| new::Practice { profile: &practice.profile, formulary: &practice.formulary });
    Ok(new::commented(names))
}
