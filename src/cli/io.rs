//! Standard output.

use std::fmt::Display;
use std::io::Write;

use serde::Serialize;

use super::Status;
use super::report::Failure;
use crate::packet::json;

/// Writes to standard output.
pub(super) fn stdout(bytes: &[u8]) -> Result<Status, Failure> {
    let mut out = std::io::stdout().lock();
    out.write_all(bytes)?;
    out.flush()?;
    Ok(Status::Done)
}

/// Writes an output for programs to standard output.
pub(super) fn json(output: &impl Serialize) -> Result<Status, Failure> {
    stdout(json::text(output)?.as_bytes())
}

/// Writes texts one after the other to standard output.
pub(super) fn text<E: Display>(texts: impl IntoIterator<Item = Result<String, E>>) -> Result<Status, Failure> {
    let texts: Result<String, E> = texts.into_iter().collect();
    stdout(texts.map_err(|error| error.to_string())?.as_bytes())
}
