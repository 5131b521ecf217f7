//! HL7 FHIR R4 (4.0.1), read and written as JSON values. Nothing here opens a connection.

mod element;
pub mod incoming;
mod mark;
pub mod outgoing;
