//! Required keys that a file lacks, or leaves empty as a record to fill in does: something stands in their place, and the
//! places of the file say that they are missing.

use serde_json::{Map, Value, json};

use crate::record::form::Format;
use crate::record::form::schema::{Field, Form, Kind};
use crate::record::locate::{Spans, Tree, child};

/// Fills every required key that is missing. A key that may say `unknown` says so; what stands in the place of any other
/// means nothing, and nobody may look at it ([`Spans::lacks`]).
pub(super) fn fill(form: &Form, tree: &mut Tree) {
    let Tree { value, spans, .. } = tree;
    walk(form.root(), "", value, spans);
}

fn walk(field: Field<'_>, pointer: &str, value: &mut Value, spans: &mut Spans) {
    match value {
        Value::Object(table) => {
            for key in field.required().into_iter().chain(field.required_beside(table)) {
                if table.get(key).is_none_or(|value| value == "") {
                    add(field, pointer, key, table, spans);
                }
            }
            for (key, value) in
                table.iter_mut().filter(|(key, _)| !spans.lacks(&child(pointer, key))).collect::<Vec<_>>()
            {
                below(field, pointer, key, value, spans);
            }
        }
        Value::Array(entries) => {
            for (index, value) in entries.iter_mut().enumerate() {
                below(field, pointer, &index.to_string(), value, spans);
            }
        }
        _ => {}
    }
}

fn below(field: Field<'_>, pointer: &str, token: &str, value: &mut Value, spans: &mut Spans) {
    if let Some(field) = field.child(token) {
        walk(field, &child(pointer, token), value, spans);
    }
}

fn add(field: Field<'_>, pointer: &str, key: &str, table: &mut Map<String, Value>, spans: &mut Spans) {
    let Some(missing) = field.child(key) else { return };
    // Of a table that is missing, the keys are.
    let value = if missing.kind() == Kind::Table {
        json!({})
    } else {
        spans.lack(child(pointer, key));
        in_place_of(missing)
    };
    table.insert(key.to_owned(), value);
}

/// Something of the right form.
fn in_place_of(field: Field<'_>) -> Value {
    match (field.kind(), field.format()) {
        (Kind::Table | Kind::OneKey, _) => {
            let required = field.required().into_iter();
            required.filter_map(|key| Some((key.to_owned(), in_place_of(field.child(key)?)))).collect()
        }
        (Kind::List, _) => field.child("0").map(in_place_of).into_iter().collect(),
        (Kind::Flag, _) => json!(false),
        (Kind::Number | Kind::Whole, _) => field.range().0.cloned().unwrap_or_else(|| json!(1)),
        (Kind::Word, _) => {
            let words = field.words();
            json!(words.iter().find(|word| **word == "unknown").or(words.first()))
        }
        (Kind::Text, Some(Format::Date | Format::PartialDate)) => json!("2000-01-01"),
        (Kind::Text, Some(Format::LocalTime)) => json!("2000-01-01T00:00:00"),
        (Kind::Text, Some(Format::Clock)) => json!("00:00"),
        (Kind::Text, Some(Format::Zone)) => json!("UTC"),
        (Kind::Text, None) => {
            let least = field.keyword("minLength").and_then(Value::as_u64).unwrap_or_default();
            json!("X".repeat(least.max(2) as usize))
        }
    }
}
