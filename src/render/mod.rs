//! Step 7: bytes. Pages as tagged PDF, HTML or plain text, doses and visits as a calendar file.

pub mod dosage;
pub mod events;
pub mod fonts;
mod geometry;
pub mod html;
pub mod ics;
pub mod pdf;
pub mod text;
mod world;
