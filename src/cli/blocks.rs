//! `blocks`: the page sets as data, before layout.

use super::args::Blocks;
use super::report::Failure;
use super::{Status, case, clock, io, practice};
use crate::review::blocks;

/// Prints the page sets of each case as the layout reads them.
pub(super) fn run(args: &Blocks) -> Result<Status, Failure> {
    let practice = practice::open(&args.case.practice)?;
    let issued = args.issued.map_or_else(clock::now, Ok)?;
    io::json(&case::each(&args.case, &practice, |case| Ok(blocks::blocks(case, issued)?))?)
}
