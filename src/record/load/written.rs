//! Texts of the right form that still mean nothing: 30 February, 25 o'clock, a zone that does not exist.

use serde_json::Value;

use super::form::{Field, Form, Kind};
use crate::diag::{Diagnostic, Report, shown};
use crate::record::date::{Clock, Date, LocalTime, PartialDate};
use crate::record::locate::{Spans, Tree, child};
use crate::record::profile::Zone;

/// Every such text of a tree, and whole numbers written with a decimal point.
///
/// `refused` is what was said already: nothing is said twice about one place.
pub(super) fn check(form: &Form, tree: &Tree, refused: &Report) -> Report {
    let mut check = Check { spans: &tree.spans, refused, report: Report::default() };
    check.walk(form.root(), "", &tree.value);
    check.report
}

struct Check<'a> {
    spans: &'a Spans,
    refused: &'a Report,
    report: Report,
}

impl Check<'_> {
    fn walk(&mut self, field: Field<'_>, pointer: &str, value: &Value) {
        match value {
            Value::Object(table) => {
                for (key, value) in table {
                    self.below(field, pointer, key, value);
                }
            }
            Value::Array(entries) => {
                for (index, value) in entries.iter().enumerate() {
                    self.below(field, pointer, &index.to_string(), value);
                }
            }
            Value::String(text) => self.text(field, pointer, text),
            Value::Number(number) if field.kind() == Kind::Whole && is_whole_with_point(number) => {
                self.point(pointer, number);
            }
            _ => {}
        }
    }

    fn below(&mut self, field: Field<'_>, pointer: &str, token: &str, value: &Value) {
        if let Some(below) = field.child(token) {
            self.walk(below, &child(pointer, token), value);
        }
    }

    fn text(&mut self, field: Field<'_>, pointer: &str, text: &str) {
        let Some(how) = field.how_to_write().filter(|_| field.type_name().is_some()) else { return };
        let span = self.spans.value(pointer);
        if !reads(field, text) && !self.refused.marks(&span) {
            let diagnostic = Diagnostic::error("no-such-value", format!("{} does not exist", shown(text)));
            self.report.add(diagnostic.at(span, "").help(format!("write {how}")));
        }
    }

    fn point(&mut self, pointer: &str, number: &serde_json::Number) {
        let whole = number.as_f64().unwrap_or_default();
        self.report.add(
            Diagnostic::error("wrong-type", "a count has no decimal point")
                .at(self.spans.value(pointer), "")
                .help(format!("write {whole}")),
        );
    }
}

fn is_whole_with_point(number: &serde_json::Number) -> bool {
    number.is_f64() && number.as_f64().is_some_and(|number| number.fract() == 0.0)
}

/// Whether a text can stand in a field: any can unless the field has a form of its own.
pub(super) fn reads(field: Field<'_>, text: &str) -> bool {
    match field.type_name().and_then(reader) {
        Some(read) => read(text),
        None => field.how_to_write().is_none(),
    }
}

/// Whether a text can be read as the type of that name.
fn reader(type_name: &str) -> Option<fn(&str) -> bool> {
    Some(match type_name {
        "Date" => |text| text.parse::<Date>().is_ok(),
        "LocalTime" => |text| text.parse::<LocalTime>().is_ok(),
        "Clock" => |text| text.parse::<Clock>().is_ok(),
        "PartialDate" => |text| text.parse::<PartialDate>().is_ok(),
        "Zone" => |text| text.parse::<Zone>().is_ok(),
        _ => return None,
    })
}
