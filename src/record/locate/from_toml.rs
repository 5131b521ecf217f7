//! TOML as a tree. What cannot be read is told and left out; the rest is read.

use std::collections::BTreeSet;

use serde_json::{Map, Value};
use toml::de::{DeFloat, DeInteger, DeTable, DeValue};
use toml::value::{Datetime, Time};

use super::torn::{self, Line, Mended};
use super::{Tree, Walk, child, is_too_deep, syntax};
use crate::diag::{Report, Span};

/// Reads the tree, and says what is no TOML.
pub(super) fn read(text: &str) -> (Tree, Report) {
    if let Err(report) = syntax::refuse_long_keys(text) {
        return (Tree::unread(text), report);
    }
    let (table, errors) = DeTable::parse_recoverable(text);
    let mut walk = Walk::of(text);
    if errors.is_empty() {
        return walk.toml(table.get_ref());
    }
    let lines = torn::lines(text);
    let mut told = BTreeSet::new();
    for error in &errors {
        // What follows on the same line is mostly the same mistake.
        let line = torn::line_at(&lines, torn::start(error));
        let (start, pointer) = line.map_or((0, ""), |line| (line.span.start, line.field()));
        if told.insert(start) {
            walk.report.add(syntax::toml(text, error, start).pointer(pointer));
        }
    }
    let Some(mended) = Mended::of(text, &lines, &errors) else { return (Tree::unread(text), walk.report) };
    let (rest, _) = DeTable::parse_recoverable(&mended.text);
    let (mut tree, report) = walk.toml(rest.get_ref());
    tree.torn.extend(mended.torn.iter().map(Line::may_hold));
    tree.unread = mended.torn;
    (tree, report)
}

impl Walk {
    fn toml(mut self, table: &DeTable<'_>) -> (Tree, Report) {
        let value = self.toml_table("", table);
        self.finish(value)
    }

    fn toml_table(&mut self, pointer: &str, table: &DeTable<'_>) -> Value {
        let mut map = Map::new();
        for (key, value) in table {
            let below = child(pointer, key.get_ref());
            self.spans.put(&below, Some(key.span()), value.span());
            map.insert(key.get_ref().to_string(), self.toml_value(&below, value.get_ref(), &value.span()));
        }
        Value::Object(map)
    }

    fn toml_value(&mut self, pointer: &str, value: &DeValue<'_>, span: &Span) -> Value {
        match value {
            DeValue::String(text) => Value::String(text.to_string()),
            DeValue::Boolean(flag) => Value::Bool(*flag),
            DeValue::Integer(number) => self.number(pointer, toml_integer(number), span),
            DeValue::Float(number) => self.number(pointer, toml_float(number), span),
            DeValue::Datetime(time) => Value::String(as_written(time)),
            DeValue::Array(_) | DeValue::Table(_) if is_too_deep(pointer) => {
                self.unread(pointer, syntax::too_deep(span.clone()))
            }
            DeValue::Table(table) => self.toml_table(pointer, table),
            DeValue::Array(entries) => {
                let entries = entries.iter().enumerate().map(|(index, entry)| {
                    let below = child(pointer, &index.to_string());
                    self.spans.put(&below, None, entry.span());
                    self.toml_value(&below, entry.get_ref(), &entry.span())
                });
                Value::Array(entries.collect())
            }
        }
    }

    fn number(&mut self, pointer: &str, number: Option<serde_json::Number>, span: &Span) -> Value {
        let unread = || self.unread(pointer, syntax::not_a_number(span.clone()));
        number.map_or_else(unread, Value::Number)
    }
}

fn toml_integer(number: &DeInteger<'_>) -> Option<serde_json::Number> {
    i64::from_str_radix(number.as_str(), number.radix()).ok().map(Into::into)
}

fn toml_float(number: &DeFloat<'_>) -> Option<serde_json::Number> {
    number.as_str().parse().ok().and_then(serde_json::Number::from_f64)
}

/// A native TOML date or time as a person would write it as text: seconds only when there are some.
fn as_written(time: &Datetime) -> String {
    let date = time.date.map(|date| date.to_string());
    let clock = time.time.map(|time| clock(&time));
    let offset = time.offset.map(|offset| offset.to_string()).unwrap_or_default();
    [date, clock].into_iter().flatten().collect::<Vec<_>>().join("T") + &offset
}

fn clock(time: &Time) -> String {
    match (time.second.unwrap_or(0), time.nanosecond.unwrap_or(0)) {
        (0, 0) => format!("{:02}:{:02}", time.hour, time.minute),
        _ => time.to_string(),
    }
}
