//! TOML or JSON in, one tree of values out, with the place of every key and value by JSON pointer.
//!
//! The typed values of the record stay free of places; whoever has something to say about `/eye/lens` asks here where
//! that stands.

use std::collections::BTreeMap;

use jsonc_parser::ast;
use serde_json::{Map, Value};
use toml::de::{DeFloat, DeInteger, DeTable, DeValue};
use toml::value::{Datetime, Time};

use crate::diag::{Diagnostic, Report, SourceFile, Span, shown};

mod syntax;

/// Tables within tables: a record needs six.
const DEEPEST: usize = 16;

/// A source text as values and their places.
#[derive(Debug, Clone)]
pub struct Tree {
    /// All values. Native TOML dates and times are text here, as [`super::date`] reads it.
    pub value: Value,
    /// Where each stands.
    pub spans: Spans,
}

/// Where keys and values stand, by JSON pointer (`/eye/lens`, `/earlier_sessions/0/date`).
#[derive(Debug, Clone, Default)]
pub struct Spans {
    places: BTreeMap<String, Place>,
}

#[derive(Debug, Clone)]
struct Place {
    key: Option<Span>,
    value: Span,
}

impl Spans {
    /// Where a value stands. What is not written itself stands where the table does that it belongs to.
    #[must_use]
    pub fn value(&self, pointer: &str) -> Span {
        match self.places.get(pointer) {
            Some(place) => place.value.clone(),
            None => parent(pointer).map_or(0..0, |parent| self.head(parent)),
        }
    }

    /// Where a key stands, or the value when it has no key.
    #[must_use]
    pub fn key(&self, pointer: &str) -> Span {
        self.places.get(pointer).and_then(|place| place.key.clone()).unwrap_or_else(|| self.value(pointer))
    }

    /// Where a table begins: its key, else its first character.
    #[must_use]
    pub fn head(&self, pointer: &str) -> Span {
        match self.places.get(pointer) {
            Some(Place { key: Some(key), .. }) => key.clone(),
            Some(Place { value, .. }) => value.clone(),
            None => parent(pointer).map_or(0..0, |parent| self.head(parent)),
        }
    }

    /// Whether something is written at this pointer.
    #[must_use]
    pub fn has(&self, pointer: &str) -> bool {
        self.places.contains_key(pointer)
    }

    fn put(&mut self, pointer: &str, key: Option<Span>, value: Span) {
        self.places.insert(pointer.to_owned(), Place { key, value });
    }
}

/// The pointer one step up; none above the whole file.
#[must_use]
pub fn parent(pointer: &str) -> Option<&str> {
    pointer.rfind('/').map(|slash| &pointer[..slash])
}

/// The pointer of a key or an index within another.
#[must_use]
pub fn child(pointer: &str, token: &str) -> String {
    format!("{pointer}/{}", token.replace('~', "~0").replace('/', "~1"))
}

/// The key a pointer ends with; of an entry the key of its list.
fn last(pointer: &str) -> &str {
    let token = pointer.rsplit('/').next().unwrap_or_default();
    match parent(pointer) {
        Some(list) if token.parse::<usize>().is_ok() => last(list),
        _ => token,
    }
}

/// What stands at a pointer, in words: `` `lens` ``, `` entry 2 of `adds_d` ``, `the file`.
pub(crate) fn name(pointer: &str) -> String {
    let index = pointer.rsplit('/').next().and_then(|token| token.parse::<usize>().ok());
    match index {
        _ if pointer.is_empty() => "the file".into(),
        Some(index) => format!("entry {} of `{}`", index.saturating_add(1), last(pointer)),
        None => format!("`{}`", last(pointer)),
    }
}

/// Reads the tree.
///
/// # Errors
/// A report when the text is not valid TOML or JSON, a key stands twice, a number is none, or tables lie too deep.
pub fn read(file: &SourceFile) -> Result<Tree, Report> {
    if is_json(file) { json(&file.text) } else { toml(&file.text) }
}

/// JSON by its name, or by its first character.
fn is_json(file: &SourceFile) -> bool {
    let named = file.name.rsplit_once('.').is_some_and(|(_, ending)| ending.eq_ignore_ascii_case("json"));
    named || file.text.trim_start().starts_with('{')
}

/// Collects places and problems while a tree is walked.
#[derive(Default)]
struct Walk {
    spans: Spans,
    report: Report,
}

impl Walk {
    fn finish(self, value: Value) -> Result<Tree, Report> {
        self.report.or_value(Tree { value, spans: self.spans })
    }

    /// Refuses what lies too deep, so that nobody walks down endlessly.
    fn too_deep(&mut self, pointer: &str, span: &Span) -> bool {
        let deep = pointer.matches('/').count() > DEEPEST;
        if deep {
            self.report.add(syntax::too_deep(span.clone()));
        }
        deep
    }
}

fn toml(text: &str) -> Result<Tree, Report> {
    syntax::refuse_long_keys(text)?;
    let (table, errors) = DeTable::parse_recoverable(text);
    if !errors.is_empty() {
        return Err(errors.iter().map(|error| syntax::toml(text, error)).collect());
    }
    let mut walk = Walk::default();
    walk.spans.put("", None, first_character(text));
    let value = walk.toml_table("", table.get_ref());
    walk.finish(value)
}

/// The place of the whole file: its first character.
fn first_character(text: &str) -> Span {
    let start = text.len() - text.trim_start().len();
    start..start + text[start..].chars().next().map_or(0, char::len_utf8)
}

impl Walk {
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
            DeValue::Integer(number) => self.number(number.as_str(), toml_integer(number), span),
            DeValue::Float(number) => self.number(number.as_str(), toml_float(number), span),
            DeValue::Datetime(time) => Value::String(as_written(time)),
            DeValue::Array(_) | DeValue::Table(_) if self.too_deep(pointer, span) => Value::Null,
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

    fn number(&mut self, written: &str, number: Option<serde_json::Number>, span: &Span) -> Value {
        match number {
            Some(number) => Value::Number(number),
            None => {
                self.report.add(syntax::not_a_number(written, span.clone()));
                Value::Null
            }
        }
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

/// `serde_json` judges the text and gives the values; the second reading only tells where they stand.
fn json(text: &str) -> Result<Tree, Report> {
    let value: Value = serde_json::from_str(text).map_err(|error| syntax::json(text, &error))?;
    let read = jsonc_parser::parse_to_ast(text, &Default::default(), &Default::default())
        .map_err(|error| syntax::json_place(&error))?;
    let mut walk = Walk::default();
    walk.spans.put("", None, first_character(text));
    if let Some(root) = &read.value {
        walk.json_value("", root);
    }
    walk.finish(value)
}

impl Walk {
    fn json_value(&mut self, pointer: &str, value: &ast::Value<'_>) {
        match value {
            ast::Value::Object(object) if !self.too_deep(pointer, &span_of(object.range)) => {
                for property in &object.properties {
                    self.json_property(pointer, property);
                }
            }
            ast::Value::Array(array) if !self.too_deep(pointer, &span_of(array.range)) => {
                for (index, entry) in array.elements.iter().enumerate() {
                    let below = child(pointer, &index.to_string());
                    self.spans.put(&below, None, value_span(entry));
                    self.json_value(&below, entry);
                }
            }
            _ => {}
        }
    }

    fn json_property(&mut self, pointer: &str, property: &ast::ObjectProp<'_>) {
        let below = child(pointer, property.name.as_str());
        let key = match &property.name {
            ast::ObjectPropName::String(name) => span_of(name.range),
            ast::ObjectPropName::Word(name) => span_of(name.range),
        };
        if self.spans.has(&below) {
            let first = self.spans.key(&below);
            self.report.add(twice(property.name.as_str(), key).at(first, "first written here"));
            return;
        }
        self.spans.put(&below, Some(key), value_span(&property.value));
        self.json_value(&below, &property.value);
    }
}

fn twice(key: &str, span: Span) -> Diagnostic {
    Diagnostic::error("duplicate-key", format!("key {} stands twice in the same table", shown(key)))
        .at(span, "written again here")
        .help("keep one of the two")
}

fn span_of(range: jsonc_parser::common::Range) -> Span {
    range.start..range.end
}

/// The place of a value; of an object or a list only its opening bracket, as the rest may fill pages.
fn value_span(value: &ast::Value<'_>) -> Span {
    use jsonc_parser::common::Ranged;
    let range = value.range();
    match value {
        ast::Value::Object(_) | ast::Value::Array(_) => range.start..range.start + 1,
        _ => range.start..range.end,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read_as(name: &str, text: &str) -> (Tree, String) {
        let file = SourceFile { name: name.into(), text: text.into() };
        (read(&file).expect("valid text"), file.text)
    }

    #[test]
    fn both_notations_give_the_same_tree() {
        let (toml, _) =
            read_as("a.toml", "[eye]\nlens = 'none'\nadds = [1, 2.5]\n[[s]]\ndate = 2026-08-07\nat = 07:30\n");
        let (json, _) = read_as(
            "a",
            r#"{"eye": {"lens": "none", "adds": [1, 2.5]}, "s": [{"date": "2026-08-07", "at": "07:30"}]}"#,
        );
        assert_eq!(toml.value, json.value);
    }

    #[test]
    fn native_times_are_written_as_a_person_would() {
        let (tree, _) = read_as("a.toml", "a = 2026-08-07T10:30:00\nb = 2026-08-07 10:30:15\nc = 2026-08-07T10:30Z\n");
        assert_eq!(tree.value["a"], "2026-08-07T10:30");
        assert_eq!(tree.value["b"], "2026-08-07T10:30:15");
        assert_eq!(tree.value["c"], "2026-08-07T10:30Z");
    }

    #[test]
    fn every_key_and_value_is_found() {
        let (tree, text) = read_as("a.toml", "[eye]\nlens = 'none'\n\n[[s]]\nday = 1\n[[s]]\n'x/y' = 2\n");
        assert_eq!(&text[tree.spans.value("/eye/lens")], "'none'");
        assert_eq!(&text[tree.spans.key("/eye/lens")], "lens");
        assert_eq!(&text[tree.spans.key("/eye")], "eye");
        assert_eq!(&text[tree.spans.value("/s/1/x~1y")], "2");
        assert_eq!(&text[tree.spans.value("/s/1/missing")], "[[s]]");
        assert_eq!(&text[tree.spans.value("/eye/missing/below")], "eye");
        let (tree, text) = read_as("a.json", "{\"eye\": {\n\"lens\": \"none\"}}");
        assert_eq!(&text[tree.spans.value("/eye/lens")], "\"none\"");
        assert_eq!(&text[tree.spans.value("/eye")], "{");
    }
}
