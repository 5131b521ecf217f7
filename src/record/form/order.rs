//! The order in which the keys of a table are written: the JSON Schema has them by alphabet.

use serde::de::value::Error;
use serde::de::{DeserializeOwned, Deserializer, Error as _, Visitor};
use serde::forward_to_deserialize_any;

/// The keys of a type in the order of its declaration; none for a type that is no table.
pub(super) fn keys<T: DeserializeOwned>() -> &'static [&'static str] {
    let mut keys: &'static [&'static str] = &[];
    // It never gives a value: asked for one, it takes down which keys were asked for.
    let _ = T::deserialize(Asked(&mut keys));
    keys
}

struct Asked<'a>(&'a mut &'static [&'static str]);

impl<'de> Deserializer<'de> for Asked<'_> {
    type Error = Error;

    fn deserialize_any<V: Visitor<'de>>(self, _: V) -> Result<V::Value, Error> {
        Err(Error::custom("only the keys are asked for"))
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        keys: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        *self.0 = keys;
        self.deserialize_any(visitor)
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf option unit unit_struct
        newtype_struct seq tuple tuple_struct map enum identifier ignored_any
    }
}
