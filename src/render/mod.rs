//! Step 7: bytes. Pages as tagged PDF, doses and visits as a calendar file.

pub mod dosage;
pub mod events;
pub mod ics;
pub mod pdf;
mod world;
