//! `blocks`: the page sets as data, before layout.

use serde_json::Value;

use super::args::Blocks;
use super::report::Failure;
use super::{Status, case, clock, io, practice};
use crate::packet::Case;
use crate::practice::Practice;
use crate::review::blocks::{self, PageSets};

/// Prints the page sets of each case as the layout reads them.
pub(super) fn run(args: &Blocks) -> Result<Status, Failure> {
    let practice = practice::open(&args.case.practice)?;
    let issued = args.issued.map_or_else(clock::now, Ok)?;
    let sets = |case: &Case| Ok(blocks::blocks(case, issued)?);
    if args.drawn {
        let drawn = |case: &Case| drawn(&practice, &sets(case)?);
        return io::json(&case::each(&args.case, &practice, drawn)?);
    }
    io::json(&case::each(&args.case, &practice, sets)?)
}

fn drawn(practice: &Practice, sets: &PageSets) -> Result<Vec<Value>, Failure> {
    sets.documents.iter().map(|document| Ok(practice.typesetter().data(document)?)).collect()
}
