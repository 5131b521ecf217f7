//! What another system is told of a case: one transaction Bundle of FHIR R4, with what it needs and no more. Pages go out as
//! references with their hash; findings, health and texts of the record stay here.

mod build;
mod id;
mod resource;
mod types;

pub use build::bundle;
pub use resource::{
    Activity, Actor, Agent, Appointment, Attachment, Bundle, BundleKind, CarePlan, Coding, Concept, Consent, Detail,
    Document, DocumentReference, Entity, Entry, Identifier, MedicationRequest, Method, Name, Participant, Patient,
    Period, Policy, Practitioner, Procedure, Provenance, Reference, Request, Resource, Source, Who,
};
pub use types::Types;
