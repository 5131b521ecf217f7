//! Times as they are kept: UTC, as 2026-08-07T14:00:00, so that they sort as text.

use chrono::NaiveDateTime;

use super::RegisterError;

const FORM: &str = "%Y-%m-%dT%H:%M:%S";

pub(super) fn text(at: NaiveDateTime) -> String {
    at.format(FORM).to_string()
}

pub(super) fn read(text: &str) -> Result<NaiveDateTime, RegisterError> {
    NaiveDateTime::parse_from_str(text, FORM).map_err(|_| RegisterError::Unreadable("a time".into()))
}
