//! When a patient is to come.

use chrono::{DateTime, NaiveDateTime};
use serde_json::json;

use super::around::Around;
use super::brought::{Origin, Why};
use super::ledger::Ledger;
use super::resources::Resource;
use super::status::{self, Standing};
use crate::exchange::fhir::element::{says, text};

const START: &str = "/plan/start";

/// Reads an appointment. Nothing in it says for certain that it is the treatment: a person does.
pub(super) fn read(resource: &Resource, around: Around, ledger: &mut Ledger) {
    let body = resource.body;
    let said = ["serviceType", "appointmentType", "reasonCode"].iter().find_map(|path| says(body, path));
    let says = text(body, "description").map(str::to_owned).or(said);
    let on = text(body, "start");
    let origin = Origin { on: on.map(str::to_owned), says, ..resource.origin("start") };
    let local = on.and_then(|on| local(on, around));
    match status::of_appointment(body) {
        Standing::Leave(why) => ledger.leave(why, origin),
        _ if on.is_none() => ledger.leave(Why::NoValue, origin),
        _ if local.is_some_and(|at| at.date() < around.reader.today) => ledger.leave(Why::Ended, origin),
        Standing::Ask(why) => ledger.ask(Some(START), why, None, origin),
        Standing::Now | Standing::Past => {
            let value = local.map(|at| json!(at.format("%Y-%m-%dT%H:%M").to_string()));
            ledger.ask(Some(START), Why::WhichVisit, value, origin);
        }
    }
}

/// The instant on the wall clock of the practice; without a practice nobody knows its clock.
fn local(instant: &str, around: Around) -> Option<NaiveDateTime> {
    let instant = DateTime::parse_from_rfc3339(instant).ok()?;
    let zone = around.reader.practice?.profile.practice.time_zone.0;
    Some(instant.with_timezone(&zone).naive_local())
}
