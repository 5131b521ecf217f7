//! The clock of this machine.

use chrono::{DateTime, NaiveDateTime};

use super::report::Failure;

/// Now, in UTC, to the second. The one place where the clock is read.
#[expect(clippy::disallowed_methods, reason = "time enters here and nowhere else")]
pub(super) fn now() -> Result<NaiveDateTime, Failure> {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    let seconds = since.ok().and_then(|since| i64::try_from(since.as_secs()).ok());
    let now = seconds.and_then(|seconds| DateTime::from_timestamp(seconds, 0));
    now.map(|now| now.naive_utc()).ok_or_else(|| "the clock of this machine is not set".into())
}
