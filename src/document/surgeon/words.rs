//! Facts, findings and drugs in words: a key of a file stands in no running text, and where one must be told it is an id.

use crate::content::ComposeError;
use crate::content::markdown::plain;
use crate::document::sheet::{Built, Sheet, literal};
use crate::document::{Inline, Inlines, Pair, drops};
use crate::facts::{Kind, Value, definition};

/// The label of a fact, else its name as words.
pub(super) fn label(sheet: &Sheet, name: &str) -> Built<String> {
    text_or(sheet, &format!("fact.{name}"), name)
}

/// "Label: value" of a fact; the label alone where the fact does not apply.
pub(super) fn said(sheet: &Sheet, name: &str) -> Built<String> {
    let label = label(sheet, name)?;
    Ok(match shown(sheet, name)? {
        Some(value) => format!("{label}{} {}", sheet.text("page.label_end", &[])?, plain(&value)),
        None => label,
    })
}

/// Facts with their labels, those that apply.
pub(in crate::document) fn pairs(sheet: &Sheet, names: &[&str]) -> Built<Vec<Pair>> {
    let mut items = Vec::new();
    for name in names {
        if let Some(value) = shown(sheet, name)? {
            items.push(sheet.pair(&format!("fact.{name}"), value)?);
        }
    }
    Ok(items)
}

/// Names and strengths of drugs, by their keys.
pub(in crate::document) fn drugs(sheet: &Sheet, keys: &[String]) -> Built<Vec<String>> {
    keys.iter().map(|key| Ok(drops::name(drops::drug(sheet, key)?))).collect()
}

/// Ids in a row.
pub(super) fn ids<'a>(names: impl IntoIterator<Item = &'a str>) -> Inlines {
    let mut inlines = Vec::new();
    for name in names {
        if !inlines.is_empty() {
            inlines.push(Inline::Text(", ".into()));
        }
        inlines.push(Inline::Id(name.to_owned()));
    }
    inlines
}

/// A fact in words; none when it does not apply to this eye.
pub(in crate::document) fn shown(sheet: &Sheet, name: &str) -> Built<Option<Inlines>> {
    let value = sheet.facts.iter().find(|(known, _)| *known == name).map(|(_, value)| value);
    let kind = definition(name).map(|fact| fact.kind);
    Ok(match (value, kind) {
        (Some(Value::Choice(word)), _) if word == "not_applicable" => None,
        (Some(Value::Choice(word)), _) => Some(literal(&choice(sheet, name, word)?)),
        (Some(Value::Number(number)), Some(Kind::Number(unit @ ("months" | "weeks" | "days"), _))) => {
            Some(literal(&sheet.content.locale.count(unit.trim_end_matches('s'), *number)?))
        }
        (Some(Value::Number(number)), Some(Kind::Number(unit, decimals))) => {
            Some(literal(&format!("{} {unit}", sheet.content.locale.number(*number, decimals))))
        }
        (Some(Value::Text(text)), _) => Some(literal(text)),
        (Some(Value::Absent), _) if name == "opening_mm" && sheet.facts.choice("capsule") != "open" => None,
        (Some(Value::Absent), _) if name == "breaks_treated" && sheet.facts.choice("breaks") != "treated" => None,
        (Some(Value::Absent), _) => Some(sheet.inline("word.any.unknown", &[])?),
        _ => None,
    })
}

/// The word of an enumerated fact: its own, that of any fact, or its key as words.
fn choice(sheet: &Sheet, name: &str, word: &str) -> Built<String> {
    match sheet.text(&format!("word.{name}.{word}"), &[]) {
        Err(ComposeError::MissingText { .. }) => text_or(sheet, &format!("word.any.{word}"), word),
        text => text,
    }
}

fn text_or(sheet: &Sheet, key: &str, name: &str) -> Built<String> {
    match sheet.text(key, &[]) {
        Err(ComposeError::MissingText { .. }) => Ok(name.replace('_', " ")),
        text => text,
    }
}
