//! `blocks`: the page sets as data, before layout.

use super::args::Blocks;
use super::report::Failure;
use super::{Status, case, io, practice, print};

/// Prints the page sets of a case as a JSON list, one entry per page set, as the layout reads them.
pub(super) fn run(args: &Blocks) -> Result<Status, Failure> {
    let practice = practice::open(&args.case.practice)?;
    let issued = args.issued.map_or_else(print::now, Ok)?;
    let documents = case::each(&args.case, &practice, |case| Ok(case.documents(issued)?))?.concat();
    let text = serde_json::to_string_pretty(&documents).map_err(|error| error.to_string())?;
    io::stdout((text + "\n").as_bytes())
}
