//! `audit`: the patient's page against published instruments for patient information.

use std::fmt::Write;

use serde_json::{Value, json};

use super::args::{Audit, Format};
use super::report::Failure;
use super::{Status, case, io, practice};
use crate::proof::audit::{self, Outcome, State};

/// Audits the patient's page of each case. Fails when an item fails; what is for a human fails nothing.
pub(super) fn run(args: &Audit) -> Result<Status, Failure> {
    let practice = practice::open(&args.case.practice)?;
    let pages = case::each(&args.case, &practice, |case| {
        let title = format!("{}, {}", case.record().case.code, case.moment().word());
        Ok((title, audit::audit(case)?))
    })?;
    let text = match args.format {
        Format::Json => format!("{:#}\n", Value::Array(pages.iter().map(page).collect())),
        Format::Human => pages.iter().map(text).collect::<Result<String, _>>().map_err(|error| error.to_string())?,
    };
    let failed = pages.iter().flat_map(|(_, items)| items).any(|item| item.state == State::Failed);
    let done = io::stdout(text.as_bytes())?;
    Ok(if failed { Status::Withheld } else { done })
}

fn page((title, items): &(String, Vec<Outcome>)) -> Value {
    json!({ "page": title, "items": items })
}

fn text((title, items): &(String, Vec<Outcome>)) -> Result<String, std::fmt::Error> {
    let mut text = format!("{title}\n");
    for item in items {
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
    let count = |state| items.iter().filter(|item| item.state == state).count();
    let (passed, failed, human) = (count(State::Passed), count(State::Failed), count(State::Human));
    writeln!(text, "  {passed} passed by the program, {failed} failed, {human} for a human alone")?;
    Ok(text)
}
