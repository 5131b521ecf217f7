//! Texts that hold nothing, or something nobody can see.

use serde_json::Value;

use super::Refusals;
use crate::diag::is_layout_control;
use crate::record::locate::{child, name};

/// Every text of a record or profile, wherever it stands.
pub(super) fn check(values: &Value, found: &mut Refusals<'_>) {
    walk("", values, found);
}

fn walk(pointer: &str, value: &Value, found: &mut Refusals<'_>) {
    match value {
        Value::Object(table) => table.iter().for_each(|(key, value)| walk(&child(pointer, key), value, found)),
        Value::Array(entries) => {
            entries
                .iter()
                .enumerate()
                .for_each(|(index, value)| walk(&child(pointer, &index.to_string()), value, found));
        }
        Value::String(text) => check_text(pointer, text, found),
        _ => {}
    }
}

fn check_text(pointer: &str, text: &str, found: &mut Refusals<'_>) {
    let place = [(pointer, "")];
    let name = name(pointer);
    if text.trim().is_empty() {
        found.refuse(
            "blank-text",
            format!("{name} is blank"),
            &place,
            "write the text, or leave the key out if it may be",
        );
    } else if let Some(hidden) = text.chars().find(|character| character.is_control()) {
        let message = format!("{name} holds a {}", control(hidden));
        found.refuse("control-character", message, &place, control_help(hidden));
    } else if let Some(hidden) = text.chars().find(|character| is_layout_control(*character)) {
        let message = format!("{name} holds a character that steers direction or lines, {}", code_point(hidden));
        found.refuse("direction-character", message, &place, RETYPE);
    }
}

const RETYPE: &str = "type the text again instead of pasting it";

fn control(character: char) -> String {
    match character {
        '\n' | '\r' => "line break".into(),
        '\t' => "tab".into(),
        other => format!("control character, {}", code_point(other)),
    }
}

fn control_help(character: char) -> &'static str {
    match character {
        '\n' | '\r' => "write it in one line; a further paragraph is a further entry of a list",
        '\t' => "write spaces",
        _ => RETYPE,
    }
}

fn code_point(character: char) -> String {
    format!("U+{:04X}", u32::from(character))
}
