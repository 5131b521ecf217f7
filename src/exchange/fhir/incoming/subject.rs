//! Whose a resource is.

use serde_json::Value;

use super::brought::{NotRead, Why};
use super::resources::Resource;
use crate::exchange::fhir::element::{list, text};

/// The one patient that the files are of.
pub(super) enum Person<'v, 'r> {
    /// Their resources, one a file perhaps.
    Known(Vec<&'r Resource<'v>>),
    /// No resource of a patient is there; everything is of whom this reference means.
    Referred(String),
    /// Nothing says who.
    Nobody,
}

/// Finds the one patient.
///
/// # Errors
/// [`NotRead::SeveralPatients`]: what belongs to whom is for the sender to say.
pub(super) fn find<'v, 'r>(all: &'r [Resource<'v>]) -> Result<Person<'v, 'r>, NotRead> {
    let patients: Vec<&Resource> = all.iter().filter(|resource| resource.kind == "Patient").collect();
    if let [first, rest @ ..] = &patients[..] {
        let one = rest.iter().all(|other| same_patient(first, other));
        return if one { Ok(Person::Known(patients)) } else { Err(NotRead::SeveralPatients) };
    }
    let mut references =
        all.iter().filter_map(|resource| reference(resource)).filter(|reference| is_patient(reference));
    match references.next() {
        None => Ok(Person::Nobody),
        Some(first) if references.all(|other| other == first) => Ok(Person::Referred(first)),
        Some(_) => Err(NotRead::SeveralPatients),
    }
}

/// Two resources are of one patient if they have one address or share an identifier.
fn same_patient(one: &Resource, other: &Resource) -> bool {
    let address = |resource: &Resource| resource.id().map(str::to_owned);
    (address(one).is_some() && address(one) == address(other))
        || identifiers(one.body).any(|own| identifiers(other.body).any(|theirs| own == theirs))
}

fn identifiers(patient: &Value) -> impl Iterator<Item = (&str, &str)> {
    list(patient, "identifier").filter_map(|identifier| Some((text(identifier, "system")?, text(identifier, "value")?)))
}

fn is_patient(reference: &str) -> bool {
    reference.contains("Patient/") || reference.starts_with("urn:")
}

/// The reference of a resource to whom it is about.
fn reference(resource: &Resource) -> Option<String> {
    let subjects = subjects(resource).filter_map(|subject| text(subject, "reference"));
    let mut subjects = subjects.map(|reference| reference.split("/_history/").next().unwrap_or(reference).to_owned());
    subjects.next()
}

fn subjects<'v>(resource: &Resource<'v>) -> Box<dyn Iterator<Item = &'v Value> + 'v> {
    match resource.kind {
        "AllergyIntolerance" => Box::new(list(resource.body, "patient")),
        "Appointment" => {
            let actors = list(resource.body, "participant").filter_map(|participant| participant.get("actor"));
            Box::new(actors.filter(|actor| text(actor, "reference").is_none_or(is_patient)))
        }
        _ => Box::new(list(resource.body, "subject")),
    }
}

/// Why a resource does not count for the patient; nothing if it does.
pub(super) fn not_theirs(resource: &Resource, person: &Person) -> Option<Why> {
    if list(resource.body, "focus").next().is_some() {
        return Some(Why::SomebodyElse);
    }
    let by_identifier = subjects(resource).any(|subject| match person {
        Person::Known(patients) => {
            let own = subject.get("identifier").map(|own| (text(own, "system"), text(own, "value")));
            let is_own = |(system, value)| own == Some((Some(system), Some(value)));
            patients.iter().any(|patient| identifiers(patient.body).any(is_own))
        }
        Person::Referred(_) | Person::Nobody => false,
    });
    match (reference(resource), person) {
        _ if by_identifier => None,
        (None, _) => Some(Why::NoSubject),
        (Some(reference), Person::Known(patients)) if patients.iter().any(|patient| patient.is(&reference)) => None,
        (Some(reference), Person::Referred(same)) if reference == *same => None,
        (Some(_), _) => Some(Why::SomebodyElse),
    }
}
