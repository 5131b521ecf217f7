//! Texts of the right form that still mean nothing: 30 February, 25 o'clock, a zone that does not exist, the drug "none".

use serde_json::Value;

use super::nothing;
use crate::diag::{Diagnostic, Report};
use crate::record::date::{Clock, Date, LocalTime, PartialDate};
use crate::record::form::schema::{Field, Form, Format, Kind};
use crate::record::locate::{Spans, Tree, child, list_of, name};
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
        let span = self.spans.value(pointer);
        if self.refused.marks(&span) {
            return;
        }
        match (field.format(), field.how_to_write()) {
            (Some(format), Some(how)) if !is_real(format, text) => {
                let diagnostic = Diagnostic::error("no-such-value", format!("this {} does not exist", what(format)));
                self.report.add(diagnostic.at(span, "").help(format!("write {how}")).pointer(pointer));
            }
            _ if field.is_free_text() && says_nothing(pointer, text) => {
                let message = format!("{} is a word for nothing", name(pointer));
                let diagnostic = Diagnostic::error("nothing-written", message);
                self.report.add(diagnostic.at(span, "").help(nothing::advice(pointer, text)).pointer(pointer));
            }
            _ => {}
        }
    }

    fn point(&mut self, pointer: &str, number: &serde_json::Number) {
        let whole = number.as_f64().unwrap_or_default();
        self.report.add(
            Diagnostic::error("wrong-type", "a count has no decimal point")
                .at(self.spans.value(pointer), "")
                .help(format!("write {whole}"))
                .pointer(pointer),
        );
    }
}

fn is_whole_with_point(number: &serde_json::Number) -> bool {
    number.is_f64() && number.as_f64().is_some_and(|number| number.fract() == 0.0)
}

/// Whether a text can stand in a field: any can unless the field has a form of its own.
pub(super) fn reads(field: Field<'_>, text: &str) -> bool {
    match field.format() {
        Some(format) => is_real(format, text),
        None => field.how_to_write().is_none(),
    }
}

/// Whether a text, or an entry of a list, stands for nothing: alone, a text may say that something is not known.
fn says_nothing(pointer: &str, text: &str) -> bool {
    nothing::is_nothing(text) || list_of(pointer).is_some() && nothing::is_unknown(text)
}

/// What a text of that form means.
fn what(format: Format) -> &'static str {
    match format {
        Format::Date | Format::PartialDate => "date",
        Format::LocalTime | Format::Clock => "time",
        Format::Zone => "time zone",
    }
}

/// Whether a date, a time or a zone of that form exists.
fn is_real(format: Format, text: &str) -> bool {
    match format {
        Format::Date => text.parse::<Date>().is_ok(),
        Format::LocalTime => text.parse::<LocalTime>().is_ok(),
        Format::Clock => text.parse::<Clock>().is_ok(),
        Format::PartialDate => text.parse::<PartialDate>().is_ok(),
        Format::Zone => text.parse::<Zone>().is_ok(),
    }
}
