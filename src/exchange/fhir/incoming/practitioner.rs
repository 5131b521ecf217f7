//! Who treats a patient.

use serde_json::json;

use super::around::Around;
use super::brought::{Origin, Why};
use super::ledger::Ledger;
use super::patient;
use super::resources::Resource;
use crate::exchange::fhir::element::{list, text};

/// Reads a practitioner: perhaps a surgeon of the practice, perhaps the doctor who referred the patient.
pub(super) fn read(resource: &Resource, around: Around, ledger: &mut Ledger) {
    let Some(name) = patient::names(resource.body).into_iter().next() else {
        return ledger.leave(Why::NoValue, resource.origin("name"));
    };
    let origin = Origin { says: Some(name.clone()), ..resource.origin("name") };
    let surgeons = around.reader.practice.map(|practice| practice.profile.surgeons.as_slice()).unwrap_or_default();
    if let Some(surgeon) = surgeons.iter().find(|surgeon| surgeon.name == name) {
        return ledger.ask(Some("/plan/surgeon"), Why::Which, Some(json!(surgeon.id)), origin);
    }
    let patients = around.all.iter().filter(|other| other.kind == "Patient");
    let mut doctors = patients.flat_map(|patient| list(patient.body, "generalPractitioner"));
    if doctors.any(|doctor| text(doctor, "reference").is_some_and(|reference| resource.is(reference))) {
        return ledger.ask(Some("/letters/referred_by/name"), Why::Which, Some(json!(name)), origin);
    }
    ledger.leave(Why::NoPlace, origin);
}
