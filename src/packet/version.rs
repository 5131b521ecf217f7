//! The number of the format of an output.

use std::borrow::Cow;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Serialize, Serializer};

/// Version `N` of the format of an output, written as that number. It is raised when a key goes away or means something else;
/// a key that is added leaves it as it is, so readers pass over keys they do not know.
///
/// ```
/// use vitreoleaf::packet::version::Version;
///
/// assert_eq!(serde_json::to_string(&Version::<3>).unwrap(), "3");
/// ```
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Version<const N: u32>;

impl<const N: u32> Serialize for Version<N> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_u32(N)
    }
}

impl<const N: u32> JsonSchema for Version<N> {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> Cow<'static, str> {
        format!("Version{N}").into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "integer", "const": N })
    }
}
