//! What a patient does not bear.

use super::around::Around;
use super::brought::Why;
use super::condition::{coded, denies, set};
use super::ledger::Ledger;
use super::resources::Resource;
use super::status::{self, Standing};
use super::tables::Denies;
use crate::exchange::fhir::element::{codings, list, says, text};

const LIST: &str = "/health/allergies";

/// Reads an allergy or intolerance. An allergy that nobody has confirmed stands in the list all the same.
pub(super) fn read(resource: &Resource, around: Around, ledger: &mut Ledger) {
    let body = resource.body;
    let on = text(body, "onsetDateTime").or_else(|| text(body, "recordedDate"));
    let origin = coded(resource, around, on);
    let standing = status::of_condition(body);
    if let Standing::Leave(why) = standing {
        return ledger.leave(why, origin);
    }
    let known = around.reader.tables.code(resource.kind, &codings(body, "code"));
    if let Some(denied) = known.as_ref().and_then(|(row, _)| row.denies) {
        return match (denied, standing) {
            (Denies::All, Standing::Now) => ledger.none(LIST, origin),
            (Denies::All, _) => ledger.open(LIST, Why::Uncertain, None, origin),
            (denied, _) => ledger.leave(denies(denied), origin),
        };
    }
    if let Some((row, _)) = known {
        set(row, standing, resource, around, ledger, &origin);
    }
    let substance = || list(body, "reaction").find_map(|reaction| says(reaction, "substance"));
    let words = says(body, "code").or_else(substance).or_else(|| origin.code.clone());
    match (words, standing) {
        (None, _) => ledger.open(LIST, Why::NoCode, None, origin),
        (Some(words), Standing::Now | Standing::Ask(Why::Uncertain)) => ledger.entry(LIST, &words, origin),
        (Some(words), Standing::Past) => ledger.open(LIST, Why::Past, Some(words), origin),
        (Some(words), Standing::Ask(why) | Standing::Leave(why)) => ledger.open(LIST, why, Some(words), origin),
    }
}
