//! Whether the print fonts can show a page, asked before it is laid out.

use serde_json::Value;

use super::RenderError;
use super::fonts::Fonts;
use crate::document::Document;

/// The page as the data that is laid out, once every character of it is known to have a shape.
///
/// # Errors
/// The first character that no print font has; those of the patient's name come first.
pub fn checked(document: &Document, fonts: &Fonts) -> Result<Value, RenderError> {
    if let Some(character) = fonts.missing(&document.header.name) {
        return Err(RenderError::Name(character));
    }
    let data = serde_json::to_value(document).expect("a document is plain data");
    match missing(&data, fonts) {
        Some(character) => Err(RenderError::Glyph(character)),
        None => Ok(data),
    }
}

fn missing(value: &Value, fonts: &Fonts) -> Option<char> {
    match value {
        Value::String(text) => fonts.missing(text),
        Value::Array(items) => items.iter().find_map(|item| missing(item, fonts)),
        Value::Object(fields) => fields.values().find_map(|field| missing(field, fonts)),
        _ => None,
    }
}
