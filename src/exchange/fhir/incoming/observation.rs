//! What was measured or answered.

use serde_json::{Value, json};

use super::around::Around;
use super::brought::{Origin, Why};
use super::eyes;
use super::ledger::Ledger;
use super::quantity;
use super::resources::Resource;
use super::status::{self, Standing};
use super::tables::Row;
use crate::exchange::fhir::element::{at, codings, list, says, text};

/// Reads an observation and its components.
pub(super) fn read(resource: &Resource, around: Around, ledger: &mut Ledger) {
    let body = resource.body;
    part(resource, body, "", around, ledger);
    for (number, component) in list(body, "component").enumerate() {
        part(resource, component, &format!("component[{number}]."), around, ledger);
    }
}

/// One code with its value: the observation itself, or a component of it.
fn part(resource: &Resource, part: &Value, place: &str, around: Around, ledger: &mut Ledger) {
    let (body, tables) = (resource.body, around.reader.tables);
    let codes = codings(part, "code");
    let on = ["effectiveDateTime", "effectiveInstant", "effectivePeriod/end", "effectivePeriod/start"];
    let origin = Origin {
        code: codes.first().map(|coding| tables.named(coding)),
        on: on.iter().find_map(|path| text(body, path)).map(str::to_owned),
        says: says(part, "code"),
        ..resource.origin(&format!("{place}value"))
    };
    let Some((row, coding)) = tables.measure(&codes) else {
        // The head of a panel has a code and no value of its own.
        let is_head = place.is_empty() && value(part).is_none() && at(body, "component").is_some();
        if !is_head {
            ledger.leave(unknown(&codes), origin);
        }
        return;
    };
    let origin = Origin { code: Some(tables.named(&coding)), ..origin };
    let named = eyes::named(body, &["bodySite", "code"], tables).into_iter();
    let named = named.chain(eyes::named(part, &["code"], tables)).chain(row.eye);
    let eye = eyes::together(named);
    match (status::of_observation(body), measured(part, row, around)) {
        (Standing::Leave(why), _) | (_, Err(why)) => ledger.leave(why, origin),
        (Standing::Ask(why), Ok(value)) => ledger.ask(Some(row.key()), why, Some(value), origin),
        (_, Ok(value)) => eyes::claim(ledger, around.reader.side, row.key(), value, eye, origin),
    }
}

fn unknown(codes: &[crate::exchange::fhir::element::Coding]) -> Why {
    if codes.is_empty() { Why::NoCode } else { Why::UnknownCode }
}

fn value(part: &Value) -> Option<&Value> {
    part.as_object()?.iter().find(|(key, value)| key.starts_with("value") && !value.is_null()).map(|(_, value)| value)
}

/// The value as the record holds it.
fn measured(part: &Value, row: &Row, around: Around) -> Result<Value, Why> {
    if at(part, "dataAbsentReason").is_some() || value(part).is_none() {
        return Err(Why::NoValue);
    }
    match &row.unit {
        Some(unit) => quantity::read(at(part, "valueQuantity").ok_or(Why::Form)?, unit, around.reader.tables),
        None => in_words(part, row, around),
    }
}

/// An answer that a table knows, or text that stands as it is written.
fn in_words(part: &Value, row: &Row, around: Around) -> Result<Value, Why> {
    let answers = codings(part, "valueCodeableConcept");
    if !answers.is_empty() {
        let (answer, _) = around.reader.tables.code("Observation", &answers).ok_or(Why::UnknownCode)?;
        let set = answer.set.iter().find(|set| set.key == row.key()).ok_or(Why::UnknownCode)?;
        return Ok(json!(set.now));
    }
    let written = text(part, "valueString").or_else(|| text(part, "valueCodeableConcept/text"));
    written.map(|text| json!(text)).ok_or(Why::Form)
}
