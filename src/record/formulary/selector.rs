//! How a rule names drugs.

use std::fmt;
use std::str::FromStr;

use serde::de::IntoDeserializer;
use serde::de::value::StrDeserializer;
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

impl FromStr for Selector {
    type Err = String;
    fn from_str(text: &str) -> Result<Self, String> {
        match text.split_once(':') {
            Some(("group", name)) => {
                let name: StrDeserializer<'_, serde::de::value::Error> = name.into_deserializer();
                Group::deserialize(name).map(Self::Group).map_err(|error| error.to_string())
            }
            Some(("drug", key)) if is_key(key) => Ok(Self::Drug(key.into())),
            _ => Err(format!("{text:?} names no drug: write \"group:steroid\" or \"drug:brinzolamide\"")),
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
