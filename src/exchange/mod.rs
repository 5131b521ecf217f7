//! What goes between this program and the systems around it.

pub mod fhir;
