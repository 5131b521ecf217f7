//! What was done to a patient.

use serde_json::json;

use super::around::Around;
use super::brought::Why;
use super::condition::{coded, unknown};
use super::eyes;
use super::ledger::Ledger;
use super::resources::Resource;
use super::status::{self, Standing};
use crate::exchange::fhir::element::{codings, text};

/// What a row writes where the day of the procedure is meant.
const DATE: &str = "date";

/// Reads a procedure.
pub(super) fn read(resource: &Resource, around: Around, ledger: &mut Ledger) {
    let body = resource.body;
    let performed = ["performedDateTime", "performedPeriod/end", "performedPeriod/start"];
    let on = performed.iter().find_map(|path| text(body, path));
    let origin = coded(resource, around, on);
    let tables = around.reader.tables;
    let Some((row, _)) = tables.code(resource.kind, &codings(body, "code")) else {
        return ledger.leave(unknown(body), origin);
    };
    let eye = eyes::together(row.eye.into_iter().chain(eyes::named(body, &["bodySite", "code"], tables)));
    for set in &row.set {
        let value = if set.now == DATE { on.map(|on| json!(day(on))) } else { Some(json!(set.now)) };
        match (status::of_procedure(body), value) {
            (Standing::Leave(why), _) => return ledger.leave(why, origin),
            (Standing::Ask(why), value) => ledger.ask(Some(&set.key), why, value, origin.clone()),
            (_, None) => ledger.ask(Some(&set.key), Why::NoValue, None, origin.clone()),
            (_, Some(value)) => eyes::claim(ledger, around.reader.side, &set.key, value, eye, origin.clone()),
        }
    }
}

/// The day, month or year of a time as it is written there.
fn day(on: &str) -> &str {
    on.split('T').next().unwrap_or(on)
}
