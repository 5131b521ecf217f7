//! What a file of another system brings: values for a case record, each with its origin, what a person must answer, and
//! what was not taken and why.
//!
//! The reader is lenient in form and strict in meaning. Absence is never *no*; what is refuted, entered in error or not
//! taken says nothing at all; an element that may turn a meaning round and is not known (`modifierExtension`) stops its
//! resource; what does not say whose it is, or in which eye, is asked about; two sources that disagree are both named and
//! none is taken.

mod allergy;
mod appointment;
mod around;
mod brought;
mod condition;
mod draft;
mod eyes;
mod ledger;
mod medicine;
mod observation;
mod patient;
mod practitioner;
mod procedure;
mod quantity;
mod reader;
mod resources;
mod status;
mod subject;
mod tables;

pub use around::Reader;
pub use brought::{Asked, Candidate, Incoming, NotRead, NotTaken, Origin, Taken, Why};
pub use draft::commented;
pub use reader::JsonFile;
pub use tables::Tables;
