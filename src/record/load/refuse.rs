//! Every way a file can differ from its form, said at its place and with what to write instead.

use std::collections::{BTreeMap, BTreeSet};

use jsonschema::ValidationError;
use jsonschema::error::ValidationErrorKind as Fault;
use serde_json::Value;

use super::{nothing, written};
use crate::diag::{Diagnostic, Report, shown};
use crate::record::form::schema::{Field, Form, Kind};
use crate::record::locate::{Tree, child, name};
use crate::record::{measure, nearest};

/// Everything in which the tree differs from its form, up to a number nobody reads through.
pub(super) fn form(form: &Form, tree: &Tree, most: usize) -> Report {
    let mut refusal = Refusal { form, tree, most, found: BTreeMap::new(), meant: BTreeSet::new() };
    let mut differs = false;
    for error in form.validator.iter_errors(&tree.value) {
        differs = true;
        refusal.explain(&error);
    }
    refusal.missing_beside("", form.root(), &tree.value);
    if differs && refusal.found.is_empty() && tree.is_whole() {
        refusal.add(String::new(), super::unreadable());
    }
    refusal.finish()
}

struct Refusal<'a> {
    form: &'a Form,
    tree: &'a Tree,
    most: usize,
    /// By pointer and code: the validator may say one thing in several ways.
    found: BTreeMap<(String, &'static str), Diagnostic>,
    /// Keys that a wrong key most likely stands for: they are not missing too.
    meant: BTreeSet<String>,
}

impl Refusal<'_> {
    fn finish(self) -> Report {
        let missing_but_meant =
            |(pointer, code): &(String, &'static str)| *code == "missing-key" && self.meant.contains(pointer);
        self.found.into_iter().filter(|(at, _)| !missing_but_meant(at)).map(|(_, diagnostic)| diagnostic).collect()
    }

    fn is_full(&self) -> bool {
        self.found.len() > self.most
    }

    fn add(&mut self, pointer: String, diagnostic: Diagnostic) {
        let diagnostic = diagnostic.pointer(pointer.as_str());
        self.found.entry((pointer, diagnostic.code)).or_insert(diagnostic);
    }

    fn explain(&mut self, error: &ValidationError<'_>) {
        if self.is_full() {
            return;
        }
        let pointer = error.instance_path().as_str();
        let Some(field) = self.form.field(pointer) else { return };
        if self.value(pointer).is_null() && self.tree.may_be_torn(pointer) {
            return;
        }
        match error.kind() {
            Fault::AdditionalProperties { unexpected } => {
                unexpected.iter().take(self.most).for_each(|key| self.unknown_key(pointer, key, field));
            }
            Fault::Required { property } => self.missing_key(pointer, property.as_str().unwrap_or_default(), field),
            Fault::AnyOf { context } | Fault::OneOfNotValid { context } => self.alternatives(pointer, context, field),
            Fault::Minimum { .. } | Fault::Maximum { .. } => self.out_of_range(pointer, field),
            Fault::MinLength { .. } | Fault::MaxLength { .. } => self.wrong_length(pointer, field, TEXT),
            Fault::MinItems { .. } | Fault::MaxItems { .. } => self.wrong_length(pointer, field, LIST),
            Fault::Pattern { .. } => self.wrong_form(pointer, field),
            _ => self.mismatch(pointer, field),
        }
    }

    /// Of several alternatives, explains the one that was meant: the only one of the right shape.
    fn alternatives(&mut self, pointer: &str, context: &[Vec<ValidationError<'static>>], field: Field<'_>) {
        let shaped = |errors: &&Vec<ValidationError<'static>>| {
            !errors.iter().any(|error| error.instance_path().as_str() == pointer && is_other_shape(error.kind()))
        };
        let mut meant: Vec<_> = context.iter().filter(shaped).collect();
        if field.kind() == Kind::OneKey {
            meant.retain(|errors| !errors.iter().any(|error| is_other_key(error, pointer)));
            if meant.is_empty() {
                return self.not_one_key(pointer, field);
            }
        }
        match meant[..] {
            [errors] => errors.iter().for_each(|error| self.explain(error)),
            _ => self.mismatch(pointer, field),
        }
    }

    fn value(&self, pointer: &str) -> &Value {
        self.tree.value.pointer(pointer).unwrap_or(&Value::Null)
    }

    fn unknown_key(&mut self, table: &str, key: &str, field: Field<'_>) {
        let pointer = child(table, key);
        let near = nearest::key(key, &field.keys()).or_else(|| self.by_words(key, field));
        let help = match near {
            Some(near) if self.tree.spans.has(&child(table, near)) => {
                format!("take it out; `{near}` is written already")
            }
            Some(near) => instead(key, near),
            None => self.elsewhere(key, field),
        };
        self.meant.extend(near.map(|near| child(table, near)));
        let may_be_shown =
            !self.form.is_of_a_patient() || nearest::is_like_a_key(key, &field.keys(), &self.form.names());
        let named = if may_be_shown { format!(" {}", shown(key)) } else { String::new() };
        let diagnostic = Diagnostic::error("unknown-key", format!("unknown key{named} in {}", name(table)))
            .at(self.tree.spans.key(&pointer), "")
            .help(help);
        self.add(pointer, diagnostic);
    }

    /// A key of the same words, unless another table has exactly what is written.
    fn by_words<'a>(&self, key: &str, field: Field<'a>) -> Option<&'a str> {
        nearest::by_words(key, &field.keys()).filter(|_| self.form.tables_with(key).is_empty())
    }

    /// Where a key belongs that is right in another table, or almost.
    fn elsewhere(&self, key: &str, field: Field<'_>) -> String {
        let tables = |tables: &[String]| tables.iter().map(|table| name(table)).collect::<Vec<_>>().join(" or ");
        let names = self.form.names();
        match (&self.form.tables_with(key)[..], nearest::by_words(key, &names)) {
            ([], Some(near)) => {
                format!("write `{near}` in the table {}", tables(&self.form.tables_with(near)))
            }
            ([], None) => {
                format!(
                    "write it under the key it is for, else leave it out; the keys here are {}",
                    joined(&field.keys())
                )
            }
            ([only], _) if only.is_empty() => "write it at the top of the file, above all tables".into(),
            (known, _) => format!("move it to the table {}", tables(known)),
        }
    }

    /// Keys that a table must have because of what it does not hold, in it and below it.
    fn missing_beside(&mut self, pointer: &str, field: Field<'_>, value: &Value) {
        let Value::Object(table) = value else { return };
        for key in field.required_beside(table).into_iter().filter(|key| !table.contains_key(*key)) {
            self.missing_key(pointer, key, field);
        }
        for (key, value) in table {
            if let Some(field) = field.child(key) {
                self.missing_beside(&child(pointer, key), field, value);
            }
        }
    }

    fn missing_key(&mut self, table: &str, key: &str, field: Field<'_>) {
        let Some(missing) = field.child(key).filter(|_| !self.tree.may_be_torn(&child(table, key))) else { return };
        let purpose = missing.purpose().map(first_sentence).filter(|purpose| purpose != key);
        let purpose = purpose.map(|purpose| format!(" ({purpose})")).unwrap_or_default();
        let diagnostic = Diagnostic::error("missing-key", format!("`{key}` is missing from {}", name(table)))
            .at(self.tree.spans.head(table), "")
            .help(format!("add `{key}`{purpose}: {}", expected(missing, &child(table, key))));
        self.add(child(table, key), diagnostic);
    }

    fn not_one_key(&mut self, pointer: &str, field: Field<'_>) {
        let message = format!("{} must hold exactly one of {}", name(pointer), joined(&field.either_key()));
        let diagnostic = Diagnostic::error("one-key", message)
            .at(self.tree.spans.value(pointer), "")
            .help(format!("write {}", expected(field, pointer)));
        self.add(pointer.into(), diagnostic);
    }

    /// A value of another kind, or a word that is not among the allowed ones.
    fn mismatch(&mut self, pointer: &str, field: Field<'_>) {
        let value = self.value(pointer);
        let diagnostic = match (field.kind(), value) {
            (Kind::Word, Value::String(word)) => {
                // What is near no allowed word may be a name that was written into the wrong line.
                let near = nearest::meant(word, &field.words()).is_some();
                let what = if near { shown(word) } else { "what stands here".into() };
                Diagnostic::error("wrong-word", format!("{} cannot be {what}", name(pointer)))
                    .at(self.tree.spans.value(pointer), "not an allowed word")
                    .help(format!("write {}", choice(nearest_first(word, field.words()))))
            }
            _ => Diagnostic::error("wrong-type", format!("{} must be {}", name(pointer), kind_name(field)))
                .at(self.tree.spans.value(pointer), format!("this is {}", type_name(value)))
                .help(advice(value, field, pointer)),
        };
        self.add(pointer.into(), diagnostic);
    }

    fn out_of_range(&mut self, pointer: &str, field: Field<'_>) {
        let value = self.value(pointer);
        let side = match field.range() {
            (Some(lowest), _) if value.as_f64() < lowest.as_f64() => format!("less than {lowest}"),
            (_, Some(highest)) => format!("more than {highest}"),
            _ => String::new(),
        };
        let diagnostic = Diagnostic::error("out-of-range", format!("{} is out of range", name(pointer)))
            .at(self.tree.spans.value(pointer), side)
            .help(format!("write {}", expected(field, pointer)));
        self.add(pointer.into(), diagnostic);
    }

    fn wrong_length(&mut self, pointer: &str, field: Field<'_>, measure: Measure) {
        let length = match self.value(pointer) {
            Value::String(text) => text.chars().count(),
            Value::Array(entries) => entries.len(),
            _ => return,
        };
        let (least, most) = (field.keyword(measure.least), field.keyword(measure.most));
        let allowed = match (least, most) {
            (Some(least), Some(most)) => format!("write {least} to {most} {}", measure.of),
            (Some(least), None) => format!("write at least {least} {}", measure.of),
            (None, Some(most)) => format!("write at most {most} {}", measure.of),
            (None, None) => return,
        };
        let verdict = match length {
            0 => "is empty",
            _ if least.and_then(Value::as_u64).is_some_and(|least| (length as u64) < least) => "is too short",
            _ => "is too long",
        };
        let diagnostic = Diagnostic::error("wrong-length", format!("{} {verdict}", name(pointer)))
            .at(self.tree.spans.value(pointer), format!("{length} {}", measure.of))
            .help(allowed);
        self.add(pointer.into(), diagnostic);
    }

    fn wrong_form(&mut self, pointer: &str, field: Field<'_>) {
        let diagnostic = Diagnostic::error("wrong-form", format!("{} is not written as it must be", name(pointer)))
            .at(self.tree.spans.value(pointer), "")
            .help(format!("write {}", expected(field, pointer)));
        self.add(pointer.into(), diagnostic);
    }
}

/// How a length is limited and counted.
#[derive(Clone, Copy)]
struct Measure {
    least: &'static str,
    most: &'static str,
    of: &'static str,
}

const TEXT: Measure = Measure { least: "minLength", most: "maxLength", of: "characters" };
const LIST: Measure = Measure { least: "minItems", most: "maxItems", of: "entries" };

fn is_other_shape(fault: &Fault) -> bool {
    matches!(fault, Fault::Type { .. } | Fault::Constant { .. } | Fault::Enum { .. })
}

fn is_other_key(error: &ValidationError<'_>, pointer: &str) -> bool {
    let here = error.instance_path().as_str() == pointer;
    here && matches!(error.kind(), Fault::AdditionalProperties { .. } | Fault::Required { .. })
}

fn instead(wrong: &str, right: &str) -> String {
    let has_it = |unit: &&str| wrong.to_lowercase().ends_with(&format!("_{}", unit.to_lowercase()));
    match measure::unit_at(right).filter(|unit| !has_it(unit)) {
        Some(unit) => format!("write `{right}` instead, with the value in {unit}"),
        None => format!("write `{right}` instead"),
    }
}

/// What may be written in a field, as the end of "write ...".
fn expected(field: Field<'_>, pointer: &str) -> String {
    let value = match field.kind() {
        Kind::Word => return choice(field.words()),
        Kind::OneKey => format!("a table with exactly one of {}", joined(&field.either_key())),
        Kind::Number => format!("a number{}", range(field, pointer)),
        Kind::Whole => format!("a whole number{}", range(field, pointer)),
        Kind::Text => field.how_to_write().map_or("text in quotes".into(), first_sentence),
        Kind::Flag => "true or false, without quotes".into(),
        Kind::List => "a list in square brackets".into(),
        Kind::Table => table(field),
    };
    if field.may_be_unknown() { format!("{value}, or \"unknown\"") } else { value }
}

fn table(field: Field<'_>) -> String {
    match field.required() {
        required if required.is_empty() => format!("a table; its keys are {}", joined(&field.keys())),
        required => format!("a table with {}", joined(&required)),
    }
}

fn range(field: Field<'_>, pointer: &str) -> String {
    let unit = measure::unit_at(pointer).map(|unit| format!(" {unit}")).unwrap_or_default();
    match field.range() {
        (Some(lowest), Some(highest)) => format!(" from {lowest} to {highest}{unit}"),
        (Some(lowest), None) => format!(" from {lowest}{unit}"),
        (None, Some(highest)) => format!(" up to {highest}{unit}"),
        (None, None) => unit,
    }
}

/// What to write instead of a value of the wrong kind.
fn advice(value: &Value, field: Field<'_>, pointer: &str) -> String {
    let general = || format!("write {}", expected(field, pointer));
    match (field.kind(), value) {
        (Kind::Number | Kind::Whole, Value::String(text)) => number_in_text(text, pointer).unwrap_or_else(general),
        (Kind::Word, Value::Bool(answer)) => {
            let word = if *answer { "yes" } else { "no" };
            if field.words().contains(&word) { format!("write \"{word}\"") } else { general() }
        }
        (Kind::Text, Value::Number(number)) if written::reads(field, &number.to_string()) => "put it in quotes".into(),
        (Kind::List, Value::String(text)) if nothing::is_nothing(text) => nothing::empty(pointer),
        (Kind::List, Value::String(text)) if nothing::is_unknown(text) => nothing::left_out(pointer),
        (Kind::List, Value::String(text)) if text.contains([',', ';']) => {
            "put each entry in quotes and all of them in square brackets: [\"...\", \"...\"]".into()
        }
        (Kind::Table, Value::String(_) | Value::Number(_)) if !field.required().is_empty() => inline(field),
        (Kind::List, Value::String(_)) => "put it in square brackets, also when it is the only entry".into(),
        (Kind::List, Value::Object(_)) if field.child("0").is_some_and(|entry| entry.kind() == Kind::Table) => {
            format!("write a list of tables; in TOML each begins with [[{}]]", dotted(pointer))
        }
        (Kind::Table, Value::Array(_)) if !pointer.is_empty() => {
            format!("write one table, not a list; in TOML it begins with [{}]", dotted(pointer))
        }
        _ => general(),
    }
}

/// A number written as text: `24 mm`, `24,5`, `24`.
fn number_in_text(text: &str, pointer: &str) -> Option<String> {
    let measure::Measure { number, unit } = measure::of(text)?;
    Some(match measure::unit_at(pointer) {
        Some(of_key) if unit.is_empty() || unit == of_key.to_lowercase() => {
            format!("write {number} alone, without quotes; the unit {of_key} is in the key")
        }
        Some(of_key) => format!("write the number of {of_key} alone, without quotes; the unit is in the key"),
        None => format!("write {number} alone, without quotes"),
    })
}

/// A small table in one line.
fn inline(field: Field<'_>) -> String {
    let keys: Vec<_> = field.required().iter().map(|key| format!("{key} = ...")).collect();
    let unknown = if field.may_be_unknown() { ", or \"unknown\"" } else { "" };
    format!("write {{ {} }}{unknown}", keys.join(", "))
}

fn kind_name(field: Field<'_>) -> &'static str {
    match field.kind() {
        Kind::Word => "one of the allowed words",
        Kind::Number => "a number",
        Kind::Whole => "a whole number",
        Kind::Text => "text in quotes",
        Kind::Flag => "true or false",
        Kind::List => "a list",
        Kind::Table | Kind::OneKey => "a table",
    }
}

fn type_name(value: &Value) -> &'static str {
    match value {
        Value::Null => "null",
        Value::Bool(_) => "true or false",
        Value::Number(_) => "a number",
        Value::String(_) => "text",
        Value::Array(_) => "a list",
        Value::Object(_) => "a table",
    }
}

fn nearest_first<'a>(wrong: &str, mut words: Vec<&'a str>) -> Vec<&'a str> {
    if let Some(near) = nearest::meant(wrong, &words) {
        words.sort_by_key(|word| *word != near);
    }
    words
}

fn choice(words: Vec<&str>) -> String {
    let quoted: Vec<_> = words.into_iter().map(|word| format!("\"{word}\"")).collect();
    match &quoted[..] {
        [first @ .., last] if !first.is_empty() => format!("{} or {last}", first.join(", ")),
        _ => quoted.concat(),
    }
}

fn joined(keys: &[&str]) -> String {
    keys.iter().map(|key| format!("`{key}`")).collect::<Vec<_>>().join(", ")
}

/// The first sentence, to be said within another one.
fn first_sentence(sentences: &str) -> String {
    lower_first(sentences.split(". ").next().unwrap_or_default().trim_end_matches('.'))
}

/// A word in capitals keeps them.
fn lower_first(sentence: &str) -> String {
    let mut characters = sentence.chars();
    match (characters.next(), characters.clone().next()) {
        (Some(first), Some(second)) if !second.is_uppercase() => first.to_lowercase().chain(characters).collect(),
        _ => sentence.into(),
    }
}

/// A pointer to a table as TOML writes it.
fn dotted(pointer: &str) -> String {
    pointer.trim_start_matches('/').replace('/', ".")
}
