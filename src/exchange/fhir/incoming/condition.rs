//! What a patient has or had.

use serde_json::{Value, json};

use super::around::Around;
use super::brought::{Origin, Why};
use super::eyes;
use super::ledger::Ledger;
use super::resources::Resource;
use super::status::{self, Standing};
use super::tables::{Denies, Row};
use crate::exchange::fhir::element::{codings, says, text};

/// Reads a condition.
pub(super) fn read(resource: &Resource, around: Around, ledger: &mut Ledger) {
    let body = resource.body;
    let on = text(body, "onsetDateTime").or_else(|| text(body, "recordedDate"));
    let origin = coded(resource, around, on);
    let standing = status::of_condition(body);
    if let Standing::Leave(why) = standing {
        return ledger.leave(why, origin);
    }
    match around.reader.tables.code(resource.kind, &codings(body, "code")) {
        None => ledger.leave(unknown(body), origin),
        Some((Row { denies: Some(denied), .. }, _)) => ledger.leave(denies(*denied), origin),
        Some((row, _)) => set(row, standing, resource, around, ledger, &origin),
    }
}

/// Where the code of a resource stands, with what it says.
pub(super) fn coded(resource: &Resource, around: Around, on: Option<&str>) -> Origin {
    let codes = codings(resource.body, "code");
    let known = around.reader.tables.code(resource.kind, &codes).map(|(_, coding)| coding);
    let code = known.as_ref().or(codes.first()).map(|coding| around.reader.tables.named(coding));
    Origin { code, on: on.map(str::to_owned), says: says(resource.body, "code"), ..resource.origin("code") }
}

/// Why a code says nothing here.
pub(super) fn unknown(body: &Value) -> Why {
    if codings(body, "code").is_empty() { Why::NoCode } else { Why::UnknownCode }
}

/// What is said of a code that denies, where no list is meant.
pub(super) fn denies(denied: Denies) -> Why {
    match denied {
        Denies::Nothing => Why::NoInformation,
        Denies::All | Denies::Part => Why::Narrower,
    }
}

/// Gives each key of a row its value, as far as the resource stands.
pub(super) fn set(
    row: &Row,
    standing: Standing,
    resource: &Resource,
    around: Around,
    ledger: &mut Ledger,
    origin: &Origin,
) {
    let tables = around.reader.tables;
    let named = eyes::named(resource.body, &["bodySite", "code"], tables);
    let eye = eyes::together(row.eye.into_iter().chain(named));
    for set in &row.set {
        let past = set.past.as_ref().map(|past| json!(past));
        let (value, ask) = match (standing, past) {
            (Standing::Now, _) => (json!(set.now), None),
            (Standing::Past, Some(past)) => (past, None),
            (Standing::Past, None) => (json!(set.now), Some(Why::Past)),
            (Standing::Ask(why) | Standing::Leave(why), _) => (json!(set.now), Some(why)),
        };
        match ask {
            Some(why) => ledger.ask(Some(&set.key), why, Some(value), origin.clone()),
            None => eyes::claim(ledger, around.reader.side, &set.key, value, eye, origin.clone()),
        }
    }
}
