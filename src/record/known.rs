//! *Unknown* is a value of its own and never means *no*.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A value, or the word `unknown`. A key that is left out is unknown too.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub enum Known<T> {
    /// It was recorded.
    Value(T),
    /// It was not recorded.
    #[default]
    Unknown,
}

impl<T> Known<T> {
    /// The value, if it was recorded.
    pub fn value(self) -> Option<T> {
        match self {
            Self::Value(value) => Some(value),
            Self::Unknown => None,
        }
    }

    /// A view of the value, if it was recorded.
    pub fn as_ref(&self) -> Option<&T> {
        match self {
            Self::Value(value) => Some(value),
            Self::Unknown => None,
        }
    }
}

#[derive(Deserialize)]
enum Word {
    #[serde(rename = "unknown")]
    Unknown,
}

/// The word comes first: for a text the value would else be the text "unknown".
#[derive(Deserialize)]
#[serde(untagged)]
enum Written<T> {
    Word(Word),
    Value(T),
}

impl<T: Serialize> Serialize for Known<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        match self {
            Self::Value(value) => value.serialize(serializer),
            Self::Unknown => serializer.serialize_str("unknown"),
        }
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Known<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Ok(match Written::<T>::deserialize(deserializer)? {
            Written::Word(Word::Unknown) => Self::Unknown,
            Written::Value(value) => Self::Value(value),
        })
    }
}

impl<T: JsonSchema> JsonSchema for Known<T> {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        format!("KnownOr{}", T::schema_name()).into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let value = generator.subschema_for::<T>();
        // The derive places `range` and `length` only beside a type that can have them.
        let types = value
            .get("type")
            .map(|kind| if kind == "string" { kind.clone() } else { serde_json::json!([kind, "string"]) });
        let mut schema = schemars::json_schema!({ "anyOf": [{ "const": "unknown" }, value] });
        if let Some(types) = types {
            schema.insert("type".into(), types);
        }
        schema
    }
}

/// Yes, no, or not recorded.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Answer {
    /// Yes.
    Yes,
    /// No: somebody asked or looked.
    No,
    /// Nobody recorded it.
    #[default]
    Unknown,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unknown_is_no_text() {
        let read = |text| serde_json::from_str::<Known<String>>(text).unwrap();
        assert_eq!(read("\"unknown\""), Known::Unknown);
        assert_eq!(read("\"20/25\""), Known::Value("20/25".into()));
    }
}
