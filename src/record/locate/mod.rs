//! TOML or JSON in, one tree of values out, with the place of every key and value by JSON pointer.
//!
//! The typed values of the record stay free of places; whoever has something to say about `/eye/lens` asks here where
//! that stands.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Map, Value};

use crate::diag::{Diagnostic, Report, SourceFile, Span};

mod from_json;
mod from_toml;
mod json_mistakes;
mod mistake;
mod syntax;
mod torn;

pub(in crate::record) use torn::Line;

/// Tables within tables: a record needs six.
const DEEPEST: usize = 16;

/// A source text as values and their places.
#[derive(Debug, Clone)]
pub struct Tree {
    /// All values. Native TOML dates and times are text here, as [`super::date`] reads it.
    pub value: Value,
    /// Where each stands.
    pub spans: Spans,
    /// Pointers of what is written but could not be read; one that ends in a slash stands for any key of its table.
    torn: BTreeSet<String>,
    /// The lines that could not be read.
    unread: Vec<Line>,
}

impl Tree {
    /// Nothing at all of a text that cannot be read.
    fn unread(text: &str) -> Self {
        let torn = BTreeSet::from([String::new(), child("", "")]);
        Self { value: Value::Object(Map::new()), spans: Spans::default(), torn, unread: torn::lines(text) }
    }

    /// The lines that could not be read.
    pub(in crate::record) fn unread_lines(&self) -> &[Line] {
        &self.unread
    }

    /// Whether all that is written could be read.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.torn.is_empty()
    }

    /// Whether what is not here may well be written in the file, on a line that could not be read.
    #[must_use]
    pub fn may_be_torn(&self, pointer: &str) -> bool {
        let any_key = parent(pointer).map(|table| child(table, ""));
        self.torn.contains(pointer) || any_key.is_some_and(|any| self.torn.contains(&any))
    }
}

/// Where keys and values stand, by JSON pointer (`/eye/lens`, `/earlier_sessions/0/date`).
#[derive(Debug, Clone, Default)]
pub struct Spans {
    places: BTreeMap<String, Place>,
    /// Required keys that are missing.
    lacking: BTreeSet<String>,
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

    /// Every place: its pointer, its key if it has one, and its value.
    pub(in crate::record) fn all(&self) -> impl Iterator<Item = (&str, Option<&Span>, &Span)> {
        self.places.iter().map(|(pointer, place)| (pointer.as_str(), place.key.as_ref(), &place.value))
    }

    /// Whether a required key is missing: what stands in its place means nothing.
    #[must_use]
    pub fn lacks(&self, pointer: &str) -> bool {
        self.lacking.contains(pointer)
    }

    /// The required keys that are missing, as JSON pointers.
    pub fn lacking(&self) -> impl Iterator<Item = &str> {
        self.lacking.iter().map(String::as_str)
    }

    pub(in crate::record) fn lack(&mut self, pointer: String) {
        self.lacking.insert(pointer);
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

/// Whether a pointer is this one or lies within it.
#[must_use]
pub fn holds(pointer: &str, within: &str) -> bool {
    within.strip_prefix(pointer).is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
}

/// The pointer of a key or an index within another.
#[must_use]
pub fn child(pointer: &str, token: &str) -> String {
    format!("{pointer}/{}", token.replace('~', "~0").replace('/', "~1"))
}

/// The list whose entry a pointer leads to.
pub(in crate::record) fn list_of(pointer: &str) -> Option<&str> {
    let (list, token) = pointer.rsplit_once('/')?;
    token.parse::<usize>().is_ok().then_some(list)
}

/// The key a pointer ends with; of an entry the key of its list.
pub(in crate::record) fn last(pointer: &str) -> &str {
    match list_of(pointer) {
        Some(list) => last(list),
        None => pointer.rsplit('/').next().unwrap_or_default(),
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

/// Reads as much of the tree as can be read, and says what cannot: text that is no TOML or JSON, a key that stands twice, a
/// number that is none, tables that lie too deep. An empty report means that all was read.
#[must_use]
pub fn read(file: &SourceFile) -> (Tree, Report) {
    if is_json(file) { from_json::read(&file.text) } else { from_toml::read(&file.text) }
}

/// JSON by its name, or by its first character.
fn is_json(file: &SourceFile) -> bool {
    let named = file.name.rsplit_once('.').is_some_and(|(_, ending)| ending.eq_ignore_ascii_case("json"));
    named || file.text.trim_start().starts_with('{')
}

/// Collects places and problems while a tree is walked.
struct Walk {
    spans: Spans,
    report: Report,
    torn: BTreeSet<String>,
}

impl Walk {
    fn of(text: &str) -> Self {
        let mut spans = Spans::default();
        spans.put("", None, first_character(text));
        Self { spans, report: Report::default(), torn: BTreeSet::new() }
    }

    fn finish(self, value: Value) -> (Tree, Report) {
        (Tree { value, spans: self.spans, torn: self.torn, unread: Vec::new() }, self.report)
    }

    /// Nothing, where something stands that cannot be read.
    fn unread(&mut self, pointer: &str, why: Diagnostic) -> Value {
        self.report.add(why.pointer(pointer));
        self.torn.insert(pointer.to_owned());
        Value::Null
    }
}

/// Whether a table or list lies too deep, so that nobody walks down endlessly.
fn is_too_deep(pointer: &str) -> bool {
    pointer.matches('/').count() > DEEPEST
}

/// The place of the whole file: its first character.
fn first_character(text: &str) -> Span {
    let start = text.len() - text.trim_start().len();
    start..start + text[start..].chars().next().map_or(0, char::len_utf8)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read_as(name: &str, text: &str) -> (Tree, String) {
        let file = SourceFile { name: name.into(), text: text.into() };
        let (tree, report) = read(&file);
        assert!(report.is_empty(), "{report:?}");
        (tree, file.text)
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
