//! The resources that go out, as far as they are used: each field as FHIR R4 names it.

use chrono::{DateTime, Utc};
use schemars::JsonSchema;
use serde::Serialize;

use crate::record::date::Date;
use crate::render::dosage::Dosage;

/// One transaction: a server takes all of it or nothing.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "camelCase")]
pub struct Bundle {
    /// `Bundle`.
    pub resource_type: BundleKind,
    /// `transaction`.
    #[serde(rename = "type")]
    pub kind: &'static str,
    /// Time of issue, UTC.
    pub timestamp: DateTime<Utc>,
    /// The resources.
    pub entry: Vec<Entry>,
}

/// The kind of resource that a bundle is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub enum BundleKind {
    /// A bundle.
    Bundle,
}

/// One resource, and where it is put.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "camelCase")]
pub struct Entry {
    /// Its address within the bundle: `urn:uuid:` and its id.
    pub full_url: String,
    /// The resource.
    pub resource: Resource,
    /// What the server is asked to do.
    pub request: Request,
}

/// What a server is asked to do with a resource.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Request {
    /// `PUT`: in the place of what has this id.
    pub method: Method,
    /// Kind and id.
    pub url: String,
}

/// How a resource is put.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "UPPERCASE")]
pub enum Method {
    /// In the place of what has this id, or as new.
    Put,
}

/// A resource.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "resourceType")]
pub enum Resource {
    /// Who the patient is: two identifiers and the date of birth.
    Patient(Patient),
    /// Who treats.
    Practitioner(Practitioner),
    /// A file that was issued.
    DocumentReference(DocumentReference),
    /// The consent.
    Consent(Consent),
    /// The treatment.
    Procedure(Procedure),
    /// The doses of one drug.
    MedicationRequest(MedicationRequest),
    /// A visit that is booked.
    Appointment(Appointment),
    /// The visits that are wanted.
    CarePlan(CarePlan),
    /// Who made all of it, from what.
    Provenance(Provenance),
}

impl Resource {
    /// Its kind, as FHIR names it.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        match self {
            Self::Patient(_) => "Patient",
            Self::Practitioner(_) => "Practitioner",
            Self::DocumentReference(_) => "DocumentReference",
            Self::Consent(_) => "Consent",
            Self::Procedure(_) => "Procedure",
            Self::MedicationRequest(_) => "MedicationRequest",
            Self::Appointment(_) => "Appointment",
            Self::CarePlan(_) => "CarePlan",
            Self::Provenance(_) => "Provenance",
        }
    }
}

/// A reference to a resource of the bundle.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Reference {
    /// `urn:uuid:` and its id.
    pub reference: String,
}

/// A code of a system.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Coding {
    /// The name by which FHIR knows the system.
    pub system: &'static str,
    /// The code.
    pub code: String,
}

/// Something said by codes, in words, or both.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Concept {
    /// The codes.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub coding: Vec<Coding>,
    /// The words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
}

/// What something is told apart by.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Identifier {
    /// What kind of identifier it is.
    #[serde(rename = "type", skip_serializing_if = "Option::is_none")]
    pub kind: Option<Concept>,
    /// The identifier.
    pub value: String,
}

/// A name in one text.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Name {
    /// As it is printed.
    pub text: String,
}

/// First and last date.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Period {
    /// First date.
    pub start: Date,
    /// Last date.
    pub end: Date,
}

/// The patient.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "camelCase")]
pub struct Patient {
    /// Id.
    pub id: String,
    /// The record number.
    pub identifier: Vec<Identifier>,
    /// The name.
    pub name: Vec<Name>,
    /// Date of birth.
    pub birth_date: Date,
}

/// Who treats.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Practitioner {
    /// Id.
    pub id: String,
    /// The name.
    pub name: Vec<Name>,
}

/// A file that was issued. The file itself is not in it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "camelCase")]
pub struct DocumentReference {
    /// Id.
    pub id: String,
    /// SHA-256 of the file, `sha256:` and hexadecimal digits.
    pub master_identifier: Identifier,
    /// `current`.
    pub status: &'static str,
    /// What kind of document it is, by LOINC, if a row says so.
    #[serde(rename = "type", skip_serializing_if = "Option::is_none")]
    pub kind: Option<Concept>,
    /// Whom it is about.
    pub subject: Reference,
    /// Time of issue, UTC.
    pub date: DateTime<Utc>,
    /// Who answers for it.
    pub author: Vec<Reference>,
    /// The file.
    pub content: Vec<Document>,
}

/// What a reference to a file holds.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Document {
    /// The file.
    pub attachment: Attachment,
}

/// A file by name and size.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "camelCase")]
pub struct Attachment {
    /// Its media type.
    pub content_type: &'static str,
    /// Its size, bytes.
    pub size: usize,
    /// Its name: case code, revision, moment and page.
    pub title: String,
    /// Time of issue, UTC.
    pub creation: DateTime<Utc>,
}

/// The consent to the treatment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "camelCase")]
pub struct Consent {
    /// Id.
    pub id: String,
    /// `active` once somebody saw it signed, else `proposed`.
    pub status: &'static str,
    /// `treatment`.
    pub scope: Concept,
    /// That it is a consent document.
    pub category: Vec<Concept>,
    /// Who consents.
    pub patient: Reference,
    /// Time of issue, UTC.
    pub date_time: DateTime<Utc>,
    /// The printed consent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub source_reference: Option<Reference>,
    /// The rules of the place by which it was made.
    pub policy: Vec<Policy>,
    /// The same in words.
    pub policy_rule: Concept,
}

/// Rules by which a consent was made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Policy {
    /// Name of the rules within this program.
    pub uri: String,
}

/// The treatment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "camelCase")]
pub struct Procedure {
    /// Id.
    pub id: String,
    /// `preparation`, `completed` or `stopped`.
    pub status: &'static str,
    /// Which treatment.
    pub code: Concept,
    /// Whose.
    pub subject: Reference,
    /// When it ended, with the offset of the practice.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub performed_date_time: Option<String>,
    /// Who treats.
    pub performer: Vec<Actor>,
    /// Which eye, in words.
    pub body_site: Vec<Concept>,
}

/// Somebody who takes part in a procedure.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Actor {
    /// Who.
    pub actor: Reference,
}

/// The doses of one drug.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "camelCase")]
pub struct MedicationRequest {
    /// Id.
    pub id: String,
    /// `active`.
    pub status: &'static str,
    /// `order`.
    pub intent: &'static str,
    /// Which drug: its ATC code, its generic name and strength.
    pub medication_codeable_concept: Concept,
    /// For whom.
    pub subject: Reference,
    /// Time of issue, UTC.
    pub authored_on: DateTime<Utc>,
    /// Who orders it.
    pub requester: Reference,
    /// The doses, one entry for each stretch of dates with the same clock times: the boxes on paper.
    pub dosage_instruction: Vec<Dosage>,
}

/// A time that is booked.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Appointment {
    /// Id.
    pub id: String,
    /// `booked`.
    pub status: &'static str,
    /// When it begins, with the offset of the practice.
    pub start: String,
    /// When it ends. How long a visit lasts is not in the record: it then ends when it begins.
    pub end: String,
    /// Who comes.
    pub participant: Vec<Participant>,
}

/// Who comes to an appointment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Participant {
    /// Who.
    pub actor: Reference,
    /// `accepted`.
    pub status: &'static str,
}

/// The visits after the treatment.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct CarePlan {
    /// Id.
    pub id: String,
    /// `active`.
    pub status: &'static str,
    /// `plan`.
    pub intent: &'static str,
    /// For whom.
    pub subject: Reference,
    /// From the first visit to the last.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub period: Option<Period>,
    /// The visits, by date.
    pub activity: Vec<Activity>,
}

/// A visit: one that is booked by its appointment, any other by its date.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Activity {
    /// The appointment.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reference: Option<Reference>,
    /// The date.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub detail: Option<Detail>,
}

/// A visit that is not booked yet.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "camelCase")]
pub struct Detail {
    /// `Appointment`.
    pub kind: &'static str,
    /// Ids of the practice's rules that ask for it.
    pub code: Concept,
    /// `scheduled`, or `on-hold` while it is only kept free in case the pressure is raised.
    pub status: &'static str,
    /// Its date.
    pub scheduled_period: Period,
}

/// Who made the other resources, from what.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Provenance {
    /// Id.
    pub id: String,
    /// What was made.
    pub target: Vec<Reference>,
    /// Time of issue, UTC.
    pub recorded: DateTime<Utc>,
    /// Who answers for it, and what put it together.
    pub agent: Vec<Agent>,
    /// What it was made from.
    pub entity: Vec<Entity>,
}

/// Somebody or something that took part in making.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Agent {
    /// `author` or `assembler`.
    #[serde(rename = "type")]
    pub kind: Concept,
    /// Who, as a resource or in words.
    pub who: Who,
}

/// Who took part.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(untagged)]
pub enum Who {
    /// Somebody of the bundle.
    Known(Reference),
    /// A program, by name and version.
    Named {
        /// Its name and version.
        display: String,
    },
}

/// What something was made from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Entity {
    /// `source`.
    pub role: &'static str,
    /// The case record, by the SHA-256 of its canonical form.
    pub what: Source,
}

/// Something known by an identifier alone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Source {
    /// `sha256:` and hexadecimal digits.
    pub identifier: Identifier,
}
