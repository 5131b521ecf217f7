//! Whether the print fonts can show a page, asked before it is laid out.

use serde_json::Value;

use super::error::RenderError;
use super::fonts::Fonts;
use crate::document::Document;

/// What stands for a letter that no print font has, on a page that must print all the same.
pub const MARK: char = '\u{FFFD}';

/// The page as the data that is laid out, once every character of it is known to have a shape.
///
/// # Errors
/// The first character that no print font has; those of the patient's name come first. On a [marked](Document::marked)
/// page each is replaced by [`MARK`] instead.
pub fn checked(document: &Document, fonts: &Fonts) -> Result<Value, RenderError> {
    let mut data = serde_json::to_value(document).expect("a document is plain data");
    if document.marked {
        mark(&mut data, fonts);
    } else if let Some(character) = fonts.missing(&document.header.name) {
        return Err(RenderError::Name(character));
    }
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

fn mark(value: &mut Value, fonts: &Fonts) {
    match value {
        Value::String(text) if fonts.missing(text).is_some() => {
            *text = text.chars().map(|letter| if fonts.printable(letter) { letter } else { MARK }).collect();
        }
        Value::Array(items) => items.iter_mut().for_each(|item| mark(item, fonts)),
        Value::Object(fields) => fields.values_mut().for_each(|field| mark(field, fonts)),
        _ => {}
    }
}
