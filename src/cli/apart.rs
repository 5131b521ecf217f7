//! The hidden command that lays out the files of a practice's own, in a process apart.

use super::Status;
use super::report::Failure;
use crate::render::{Exceeded, apart};

/// Answers the one request on standard input.
pub(super) fn run() -> Result<Status, Failure> {
    apart::answer(std::io::stdin().lock(), std::io::stdout().lock(), end)?;
    Ok(Status::Done)
}

#[expect(clippy::exit, reason = "nothing else ends a layout that goes on forever")]
fn end(exceeded: Exceeded) {
    std::process::exit(exceeded.code());
}
