//! What stands in columns, read as the words of the record.

use chrono::NaiveDate;
use serde::de::value::{Error as NoWord, StrDeserializer};
use serde::de::{Deserialize, DeserializeOwned, IntoDeserializer};

use super::RegisterError;
use crate::record::date::Date;
use crate::record::known::Known;

pub(super) fn known<T>(value: Option<T>) -> Known<T> {
    value.map_or(Known::Unknown, Known::Value)
}

pub(super) fn day(text: &str) -> Result<NaiveDate, RegisterError> {
    text.parse::<Date>().map(|date| date.0).map_err(|_| unreadable())
}

pub(super) fn word<'de, T: Deserialize<'de>>(text: &'de str) -> Result<T, RegisterError> {
    let word: StrDeserializer<NoWord> = text.into_deserializer();
    T::deserialize(word).map_err(|_| unreadable())
}

pub(super) fn json<T: DeserializeOwned>(text: &str) -> Result<T, RegisterError> {
    serde_json::from_str(text).map_err(|_| unreadable())
}

/// A list in JSON; most are empty.
pub(super) fn list<T: DeserializeOwned>(text: &str) -> Result<Vec<T>, RegisterError> {
    if text == "[]" { Ok(Vec::new()) } else { json(text) }
}

pub(super) fn unreadable() -> RegisterError {
    RegisterError::Unreadable("an outcome or a session".into())
}
