//! What a patient takes, by mouth or into the eye.

use serde_json::Value;

use super::around::Around;
use super::brought::{Origin, Why};
use super::eyes;
use super::ledger::Ledger;
use super::resources::{self, Resource};
use super::status::{self, Standing};
use super::tables::Denies;
use crate::exchange::fhir::element::{Coding, codings, list, says, text};

const MEDICINES: &str = "/health/medicines";
const EYE_DROPS: &str = "/health/eye_drops";

/// ATC codes of what is given into the eye begin so.
const OF_THE_EYE: &str = "S01";

/// ATC group within it that holds tablets too (carbonic anhydrase inhibitors): the route decides.
const TABLETS_TOO: &str = "S01EC";

/// A medicine as a resource names it.
struct Named {
    codes: Vec<Coding>,
    words: Option<String>,
}

/// Reads a statement that a medicine is taken, or a prescription.
pub(super) fn read(resource: &Resource, around: Around, ledger: &mut Ledger) {
    let standing = standing(resource, around);
    let medicine = match named(resource, around) {
        Ok(medicine) => medicine,
        Err(why) => return ledger.leave(why, resource.origin("medication")),
    };
    let origin = origin(resource, &medicine, around);
    if let Standing::Leave(why) = standing {
        return ledger.leave(why, origin);
    }
    if let Some(denied) = around.reader.tables.code("Medication", &medicine.codes).and_then(|(row, _)| row.denies) {
        return match denied {
            Denies::All => ledger.none(MEDICINES, origin),
            Denies::Part => ledger.leave(Why::Narrower, origin),
            Denies::Nothing => ledger.leave(Why::NoInformation, origin),
        };
    }
    let Some(entry) = entry(&medicine, around, ledger, &origin) else {
        return ledger.open(MEDICINES, Why::NoCode, None, origin);
    };
    place(resource, &medicine, &entry, standing, around, ledger, origin);
}

fn standing(resource: &Resource, around: Around) -> Standing {
    let body = resource.body;
    let said = if resource.kind == "MedicationRequest" { status::of_request(body) } else { status::of_statement(body) };
    let end = text(body, "effectivePeriod/end").or_else(|| {
        let last = dosages(body).last()?;
        text(last, "timing/repeat/boundsPeriod/end")
    });
    let today = around.reader.today.to_string();
    // As far as the end is known: a year or month that is not over says nothing yet.
    let is_over =
        end.is_some_and(|end| end.get(..end.len().min(today.len())) < today.get(..end.len().min(today.len())));
    if said == Standing::Now && is_over { Standing::Ask(Why::State) } else { said }
}

fn dosages(body: &Value) -> impl Iterator<Item = &Value> {
    list(body, "dosage").chain(list(body, "dosageInstruction"))
}

/// The medicine, wherever it is named: in the resource, in one that it contains, or in one beside it.
fn named(resource: &Resource, around: Around) -> Result<Named, Why> {
    let body = resource.body;
    let reference = text(body, "medicationReference/reference");
    let Some(medication) = reference.and_then(|reference| resource.referred(reference, around.all)) else {
        let words = says(body, "medicationCodeableConcept").or_else(|| shown(body));
        return Ok(Named { codes: codings(body, "medicationCodeableConcept"), words });
    };
    if resources::modifier(medication).is_some() {
        return Err(Why::Modifier);
    }
    if text(medication, "status") == Some("entered-in-error") {
        return Err(Why::EnteredInError);
    }
    let codes = codings(medication, "code");
    let words = says(medication, "code").or_else(|| ingredients(medication)).or_else(|| shown(body));
    Ok(Named { codes, words })
}

fn shown(body: &Value) -> Option<String> {
    text(body, "medicationReference/display").map(str::to_owned)
}

fn ingredients(medication: &Value) -> Option<String> {
    let names: Option<Vec<String>> =
        list(medication, "ingredient").map(|ingredient| says(ingredient, "itemCodeableConcept")).collect();
    names.filter(|names| !names.is_empty()).map(|names| names.join(" / "))
}

fn origin(resource: &Resource, medicine: &Named, around: Around) -> Origin {
    let on = ["effectiveDateTime", "effectivePeriod/start", "dateAsserted", "authoredOn"];
    Origin {
        code: medicine.codes.first().map(|coding| around.reader.tables.named(coding)),
        on: on.iter().find_map(|path| text(resource.body, path)).map(str::to_owned),
        says: medicine.words.clone(),
        ..resource.origin("medication")
    }
}

/// What stands in the list: the generic name of its code; else its own words, which the program asks about when it does not
/// know them; else the bare code, about which it asks too.
fn entry(medicine: &Named, around: Around, ledger: &mut Ledger, origin: &Origin) -> Option<String> {
    if let Some((name, _)) = around.reader.tables.medicine(&medicine.codes) {
        return Some(name.to_owned());
    }
    let known = medicine.words.as_ref().is_some_and(|words| !around.reader.formulary.read(words).unread);
    if !known && !medicine.codes.is_empty() {
        ledger.leave(Why::UnknownCode, origin.clone());
    }
    medicine.words.clone().or_else(|| origin.code.clone())
}

/// Puts it into the list it belongs to.
fn place(
    resource: &Resource,
    medicine: &Named,
    entry: &str,
    standing: Standing,
    around: Around,
    ledger: &mut Ledger,
    origin: Origin,
) {
    let eyes = dosages(resource.body).filter_map(|dosage| eyes::named(dosage, &["site"], around.reader.tables));
    let eye = eyes::together(eyes);
    let Some(into_eye) = into_eye(resource, medicine, entry, around).or(eye.map(|_| true)) else {
        ledger.open(EYE_DROPS, Why::Route, Some(entry.to_owned()), origin.clone());
        return ledger.open(MEDICINES, Why::Route, Some(entry.to_owned()), origin);
    };
    let key = if into_eye { EYE_DROPS } else { MEDICINES };
    match (standing, eyes::counts(around.reader.side, key, eye)) {
        (Standing::Ask(why) | Standing::Leave(why), _) => ledger.open(key, why, Some(entry.to_owned()), origin),
        (_, Err(Why::OtherEye)) => ledger.leave(Why::OtherEye, origin),
        (_, Err(why)) => ledger.open(key, why, Some(entry.to_owned()), origin),
        (_, Ok(())) => ledger.entry(key, entry, origin),
    }
}

/// Whether it goes into the eye: by its route, its ATC code, or since its name is that of a medicine. A name that is
/// known as a drop alone may still be taken by mouth, and a route that no table has may lead into the eye.
fn into_eye(resource: &Resource, medicine: &Named, entry: &str, around: Around) -> Option<bool> {
    let routes: Vec<Coding> = dosages(resource.body).flat_map(|dosage| codings(dosage, "route")).collect();
    if let Some(known) = around.reader.tables.leads_into_eye(&routes) {
        return Some(known);
    }
    let atc = around.reader.tables.of_system(&medicine.codes, "atc").map(|coding| coding.code.as_str());
    match atc {
        Some(code) if code.starts_with(TABLETS_TOO) => return None,
        Some(code) => return Some(code.starts_with(OF_THE_EYE)),
        None if !routes.is_empty() => return None,
        None => {}
    }
    let reading = around.reader.formulary.read(entry);
    (reading.groups.is_empty() || !reading.classes.is_empty()).then_some(false)
}
