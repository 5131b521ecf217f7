//! How a rule names drugs.

use std::fmt;
use std::str::FromStr;

use serde::de::IntoDeserializer;
use serde::de::value::{self, StrDeserializer};
use serde::{Deserialize, Serialize};
use serde_with::{DeserializeFromStr, SerializeDisplay};

use super::{Drug, Group};

/// What a drug rule applies to: `group:steroid` or `drug:brinzolamide`.
#[derive(Debug, Clone, PartialEq, Eq, SerializeDisplay, DeserializeFromStr)]
pub enum Selector {
    /// Every drug of a group.
    Group(Group),
    /// One drug by key.
    Drug(String),
}

impl Selector {
    /// Whether it means this drug.
    #[must_use]
    pub fn covers(&self, drug: &Drug) -> bool {
        match self {
            Self::Group(group) => drug.is_in(*group),
            Self::Drug(key) => drug.key == *key,
        }
    }
}

/// Why a text names no drugs.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SelectorError {
    /// There is no such group.
    #[error(transparent)]
    Group(#[from] value::Error),
    /// It names neither a group nor a drug.
    #[error("{0:?} names no drug: write \"group:steroid\" or \"drug:brinzolamide\"")]
    NoSelector(String),
}

impl FromStr for Selector {
    type Err = SelectorError;
    fn from_str(text: &str) -> Result<Self, SelectorError> {
        match text.split_once(':') {
            Some(("group", name)) => {
                let name: StrDeserializer<'_, value::Error> = name.into_deserializer();
                Ok(Self::Group(Group::deserialize(name)?))
            }
            Some(("drug", key)) if is_key(key) => Ok(Self::Drug(key.into())),
            _ => Err(SelectorError::NoSelector(text.to_owned())),
        }
    }
}

impl fmt::Display for Selector {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Group(group) => {
                f.write_str("group:")?;
                group.serialize(f)
            }
            Self::Drug(key) => write!(f, "drug:{key}"),
        }
    }
}

/// Whether a text can be the key of a drug.
pub(super) fn is_key(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_lowercase())
        && text.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_')
}
