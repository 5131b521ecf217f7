//! Who the patient is.

use serde_json::{Value, json};

use super::around::Around;
use super::brought::{Origin, Why};
use super::ledger::Ledger;
use super::resources::Resource;
use crate::exchange::fhir::element::{at, codings, list, text, word};
use crate::record::date::Date;

/// Code of a record number among the types of identifiers (HL7 v2, table 0203).
const RECORD_NUMBER: &str = "MR";

/// Reads a patient.
pub(super) fn read(resource: &Resource, _: Around, ledger: &mut Ledger) {
    let body = resource.body;
    if at(body, "active") == Some(&Value::Bool(false)) {
        return ledger.leave(Why::Ended, resource.origin("active"));
    }
    if let Some(dead) = dead(body) {
        let origin = Origin { on: text(body, dead).map(str::to_owned), ..resource.origin(dead) };
        ledger.ask(None, Why::Dead, None, origin);
    }
    if names(body).is_empty() {
        ledger.leave(Why::NoValue, resource.origin("name"));
    }
    one_of("/patient/name", names(body), resource.origin("name"), ledger);
    born(resource, ledger);
    number(resource, ledger);
    one_of("/patient/language", languages(body), resource.origin("communication"), ledger);
}

fn dead(body: &Value) -> Option<&'static str> {
    let yes = at(body, "deceasedBoolean") == Some(&Value::Bool(true));
    let on = at(body, "deceasedDateTime").is_some();
    yes.then_some("deceasedBoolean").or(on.then_some("deceasedDateTime"))
}

/// One value is taken; of several a person chooses.
fn one_of(key: &str, values: Vec<String>, origin: Origin, ledger: &mut Ledger) {
    match &values[..] {
        [] => {}
        [value] => ledger.claim(key, value.clone(), origin),
        _ => values.into_iter().for_each(|value| ledger.ask(Some(key), Why::Which, Some(json!(value)), origin.clone())),
    }
}

/// The names somebody bears now: the official one, else the usual one, else those without a use.
pub(super) fn names(body: &Value) -> Vec<String> {
    let of = |wanted: Option<&str>| -> Vec<String> {
        let current = list(body, "name").filter(|name| text(name, "use") == wanted && at(name, "period/end").is_none());
        let mut names: Vec<String> = current.filter_map(written).collect();
        names.dedup();
        names
    };
    let uses = [Some("official"), Some("usual"), None];
    uses.into_iter().map(of).find(|names| !names.is_empty()).unwrap_or_default()
}

fn written(name: &Value) -> Option<String> {
    if let Some(text) = text(name, "text") {
        return Some(tidy(text));
    }
    let given = list(name, "given").filter_map(Value::as_str);
    let parts = given.chain(text(name, "family")).collect::<Vec<_>>().join(" ");
    Some(tidy(&parts)).filter(|name| !name.is_empty())
}

/// A text in one line with single blanks.
pub(super) fn tidy(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Only a whole date is a date of birth.
fn born(resource: &Resource, ledger: &mut Ledger) {
    let Some(date) = text(resource.body, "birthDate") else { return };
    let origin = resource.origin("birthDate");
    match date.parse::<Date>() {
        Ok(_) => ledger.claim("/patient/birth_date", date, origin),
        Err(_) => ledger.ask(Some("/patient/birth_date"), Why::PartialDate, Some(json!(date)), origin),
    }
}

/// A number that calls itself a record number; of all others a person says whether it is one.
fn number(resource: &Resource, ledger: &mut Ledger) {
    let current = |identifier: &&Value| {
        text(identifier, "use") != Some("old")
            && at(identifier, "period/end").is_none()
            && text(identifier, "value").is_some()
    };
    let is_typed = |identifier: &&Value| codings(identifier, "type").iter().any(|coding| coding.code == RECORD_NUMBER);
    let all: Vec<&Value> = list(resource.body, "identifier").filter(current).collect();
    let typed: Vec<&Value> = all.iter().copied().filter(|identifier| is_typed(identifier)).collect();
    let key = "/patient/record_number";
    let origin = |identifier: &Value| Origin {
        code: text(identifier, "system").map(str::to_owned),
        says: word(identifier, "type"),
        ..resource.origin("identifier")
    };
    if let [one] = typed[..] {
        return ledger.claim(key, text(one, "value").unwrap_or_default(), origin(one));
    }
    let candidates = if typed.is_empty() { all } else { typed };
    for one in candidates {
        ledger.ask(Some(key), Why::Which, text(one, "value").map(|value| json!(value)), origin(one));
    }
}

/// The languages somebody prefers; if none is preferred, all they speak.
fn languages(body: &Value) -> Vec<String> {
    let spoken = |preferred: bool| -> Vec<String> {
        let spoken = list(body, "communication");
        let wanted = spoken.filter(|spoken| !preferred || at(spoken, "preferred") == Some(&Value::Bool(true)));
        wanted.filter_map(|spoken| word(spoken, "language")).collect()
    };
    let preferred = spoken(true);
    if preferred.is_empty() { spoken(false) } else { preferred }
}
