//! `proofread`: what is wrong with the catalogue of a practice.

use std::fmt::Write;

use super::args::{Format, PracticeArgs};
use super::report::Failure;
use super::{Status, io, practice};
use crate::review::proofread::{self, LanguageFaults};

/// Proofreads every language the practice prints in.
pub(super) fn run(args: &PracticeArgs) -> Result<Status, Failure> {
    let read = proofread::proofread(&practice::open(&args.practice)?)?;
    let done = match args.format {
        Format::Json => io::json(&read)?,
        Format::Human => io::text(read.languages.iter().map(text))?,
    };
    Ok(if read.is_clean() { done } else { Status::Failed })
}

fn text(read: &LanguageFaults) -> Result<String, std::fmt::Error> {
    let mut text = format!("{}: {} statements, {} to mend\n", read.language, read.statements, read.faults.len());
    for fault in &read.faults {
        writeln!(text, "  {}: {}", fault.id, fault.what)?;
    }
    Ok(text)
}
