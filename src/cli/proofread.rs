//! `proofread`: what is wrong with the catalogue of a practice.

use super::args::PracticeArgs;
use super::report::Failure;
use super::{Status, io, practice};
use crate::proof;

/// Proofreads every language the practice prints in.
pub(super) fn run(args: &PracticeArgs) -> Result<Status, Failure> {
    let practice = practice::open(&args.practice)?;
    let mut text = String::new();
    for language in &practice.profile.practice.languages {
        let faults = proof::proofread(&practice, language)?;
        let count = practice.library(language)?.statements.len();
        text.push_str(&format!("{language}: {count} statements, {} to mend\n", faults.len()));
        for fault in &faults {
            text.push_str(&format!("  {}: {}\n", fault.id, fault.what));
        }
    }
    let clean = !text.contains("\n  ");
    let done = io::stdout(text.as_bytes())?;
    Ok(if clean { done } else { Status::Failed })
}
