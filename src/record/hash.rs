//! What tells one content of a record from another.

use serde_json::Value;
use sha2::{Digest, Sha256};

use super::Record;
use super::form::schema::{Field, Form};

impl Record {
    /// The record in its one canonical form: JSON by RFC 8785 without the keys that say no more than if they were left out.
    /// Order, comments, TOML or JSON make no difference, nor does a version of the program that knows further keys which this
    /// record does not use.
    ///
    /// # Errors
    /// A number that JSON cannot hold; a record that was loaded has none.
    pub fn canonical(&self) -> Result<Vec<u8>, serde_json::Error> {
        let mut value = serde_json::to_value(self)?;
        shorten(Form::of::<Self>().root(), &mut value);
        serde_json_canonicalizer::to_vec(&value)
    }

    /// SHA-256 of the canonical form, hexadecimal.
    ///
    /// # Errors
    /// As [`Record::canonical`].
    pub fn hash(&self) -> Result<String, serde_json::Error> {
        Ok(hexadecimal(&Sha256::digest(self.canonical()?)))
    }
}

/// Bytes of a hash or of chance as they are written: two small hexadecimal digits each.
#[must_use]
pub fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().map(|byte| format!("{byte:02x}")).collect()
}

/// Takes out every key that says what it says when it is left out.
fn shorten(field: Field<'_>, value: &mut Value) {
    match value {
        Value::Object(table) => {
            for (key, value) in table.iter_mut() {
                if let Some(below) = field.child(key) {
                    shorten(below, value);
                }
            }
            table.retain(|key, value| !field.child(key).is_some_and(|below| says_nothing(below, value)));
        }
        Value::Array(entries) => {
            let Some(entry) = field.child("0") else { return };
            entries.iter_mut().for_each(|value| shorten(entry, value));
        }
        _ => {}
    }
}

/// Whether leaving a key out says the same: it is unknown, absent, or as is usual. Of a table that may be left out whatever is
/// usual was taken out before.
fn says_nothing(field: Field<'_>, value: &Value) -> bool {
    let usual = field.keyword("default");
    let is_empty = value.as_object().is_some_and(serde_json::Map::is_empty);
    value.is_null() || usual == Some(value) || is_empty && usual.is_some_and(Value::is_object)
}
