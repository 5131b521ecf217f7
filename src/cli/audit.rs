//! `audit`: the patient's page against published instruments for patient information.

use std::fmt::Write;

use super::args::{Audit, Format};
use super::report::Failure;
use super::{Status, case, io, practice};
use crate::proof::audit::State;
use crate::review::audit;

/// Audits the patient's page of each case. Fails when an item fails; what is for a human fails nothing.
pub(super) fn run(args: &Audit) -> Result<Status, Failure> {
    let practice = practice::open(&args.case.practice)?;
    let audits = case::each(&args.case, &practice, |case| Ok(audit::audit(case)?))?;
    let done = match args.format {
        Format::Json => io::json(&audits)?,
        Format::Human => io::text(audits.iter().map(text))?,
    };
    Ok(if audits.iter().all(audit::Audit::passes) { done } else { Status::Withheld })
}

fn text(audit: &audit::Audit) -> Result<String, std::fmt::Error> {
    let mut text = format!("{}, {}\n", audit.head.case, audit.head.moment.word());
    for item in &audit.items {
        let state = match item.state {
            State::Passed => "passed",
            State::Failed => "FAILED",
            State::Human => "human",
        };
        writeln!(text, "  {state:7} {:7} {}", item.id, item.what)?;
        if !item.lacking.is_empty() {
            writeln!(text, "                  lacks {}", item.lacking.join(", "))?;
        }
        if let Some(left) = &item.left_to_people {
            writeln!(text, "                  for a human: {left}")?;
        }
    }
    let [passed, failed, human] = [State::Passed, State::Failed, State::Human].map(|state| audit.count(state));
    writeln!(text, "  {passed} passed by the program, {failed} failed, {human} for a human alone")?;
    Ok(text)
}
