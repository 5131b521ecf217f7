//! The papers around the treatment that somebody asks for: made from the same record as the packet, one page each.
//!
//! A paper of staff is never withheld: it says what is open.

pub mod drops_before;
pub mod letter;
pub mod next_session;
pub mod note;
pub mod outcome;
mod parts;
pub mod suitability;
pub mod withdrawal;
