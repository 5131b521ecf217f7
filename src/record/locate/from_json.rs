//! JSON as a tree. What is no JSON is told; the rest is read where it can be told what was meant.

use jsonc_parser::ast;
use serde_json::Value;

use super::{Tree, Walk, child, is_too_deep, json_mistakes, syntax};
use crate::diag::{Diagnostic, Report, Span};

/// `serde_json` judges the text; the second reading tells where its values stand. It is lenient, so that a comment or a comma
/// too much hides none of the other mistakes. No parser of JSON goes on behind a text without its quotes or its end: there
/// the signs alone are looked at.
pub(super) fn read(text: &str) -> (Tree, Report) {
    let mut walk = Walk::of(text);
    let strict = serde_json::from_str::<Value>(text);
    if strict.is_err() {
        walk.report = json_mistakes::of(text);
    }
    let lenient = jsonc_parser::parse_to_ast(text, &Default::default(), &Default::default());
    let value =
        lenient.as_ref().ok().map(|read| read.value.as_ref().map_or(Value::Null, |root| walk.json_value("", root)));
    match (strict, lenient) {
        // A mistake that has no name of ours.
        (Err(error), _) if walk.report.is_empty() => walk.report.add(syntax::json(text, &error).pointer("")),
        (Ok(_), Err(error)) => walk.report.add(syntax::json_place(&error).pointer("")),
        _ => {}
    }
    match value {
        Some(value) => walk.finish(value),
        None => (Tree::unread(text), walk.report),
    }
}

impl Walk {
    fn json_value(&mut self, pointer: &str, value: &ast::Value<'_>) -> Value {
        match value {
            ast::Value::Object(_) | ast::Value::Array(_) if is_too_deep(pointer) => {
                self.unread(pointer, syntax::too_deep(value_span(value)))
            }
            ast::Value::Object(object) => {
                let properties = object.properties.iter();
                Value::Object(properties.filter_map(|property| self.json_property(pointer, property)).collect())
            }
            ast::Value::Array(array) => {
                let entries = array.elements.iter().enumerate().map(|(index, entry)| {
                    let below = child(pointer, &index.to_string());
                    self.spans.put(&below, None, value_span(entry));
                    self.json_value(&below, entry)
                });
                Value::Array(entries.collect())
            }
            ast::Value::StringLit(text) => Value::String(text.value.to_string()),
            ast::Value::BooleanLit(flag) => Value::Bool(flag.value),
            ast::Value::NumberLit(number) => match number.value.parse() {
                Ok(number) => Value::Number(number),
                Err(_) => self.unread(pointer, syntax::not_a_number(value_span(value))),
            },
            ast::Value::NullKeyword(_) => Value::Null,
        }
    }

    fn json_property(&mut self, pointer: &str, property: &ast::ObjectProp<'_>) -> Option<(String, Value)> {
        let below = child(pointer, property.name.as_str());
        let key = match &property.name {
            ast::ObjectPropName::String(name) => span_of(name.range),
            ast::ObjectPropName::Word(name) => span_of(name.range),
        };
        if self.spans.has(&below) {
            let first = self.spans.key(&below);
            self.report.add(twice(key).at(first, "first written here").pointer(below));
            return None;
        }
        self.spans.put(&below, Some(key), value_span(&property.value));
        let value = self.json_value(&below, &property.value);
        Some((property.name.as_str().to_owned(), value))
    }
}

fn twice(span: Span) -> Diagnostic {
    Diagnostic::error("duplicate-key", "a key stands twice in the same table")
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
