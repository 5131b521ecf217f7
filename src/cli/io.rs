//! Standard output.

use std::io::Write;

use super::Status;
use super::report::Failure;

/// Writes to standard output.
pub(super) fn stdout(bytes: &[u8]) -> Result<Status, Failure> {
    let mut out = std::io::stdout().lock();
    out.write_all(bytes)?;
    out.flush()?;
    Ok(Status::Done)
}
