//! The one room that touches files: what is read, and what is written. Every front end goes through it.

pub mod copy;
pub mod create;
pub mod place;
pub mod read;
pub mod write;
