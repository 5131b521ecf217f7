//! JSON as a tree.

use jsonc_parser::ast;
use serde_json::Value;

use super::{Tree, Walk, child, is_too_deep, syntax};
use crate::diag::{Diagnostic, Report, Span, shown};

/// `serde_json` judges the text and gives the values; the second reading only tells where they stand.
pub(super) fn read(text: &str) -> (Tree, Report) {
    let refused = |diagnostic: Diagnostic| (Tree::unread(text), diagnostic.pointer("").into());
    let value: Value = match serde_json::from_str(text) {
        Ok(value) => value,
        Err(error) => return refused(syntax::json(text, &error)),
    };
    let read = match jsonc_parser::parse_to_ast(text, &Default::default(), &Default::default()) {
        Ok(read) => read,
        Err(error) => return refused(syntax::json_place(&error)),
    };
    let mut walk = Walk::of(text);
    if let Some(root) = &read.value {
        walk.json_value("", root);
    }
    walk.finish(value)
}

impl Walk {
    fn json_value(&mut self, pointer: &str, value: &ast::Value<'_>) {
        match value {
            ast::Value::Object(_) | ast::Value::Array(_) if is_too_deep(pointer) => {
                self.unread(pointer, syntax::too_deep(value_span(value)));
            }
            ast::Value::Object(object) => {
                for property in &object.properties {
                    self.json_property(pointer, property);
                }
            }
            ast::Value::Array(array) => {
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
            self.report.add(twice(property.name.as_str(), key).at(first, "first written here").pointer(below));
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
