//! The screens, each made from the room for who is signed in.

pub(super) mod batch;
pub(super) mod case;
pub(super) mod day;
mod eye;
pub(super) mod outcome;
pub(super) mod print;
pub(super) mod profile;
pub(super) mod proof;
pub(super) mod results;
mod results_page;
mod results_shown;
pub(super) mod sign_in;
pub(super) mod take_in;
pub(super) mod tally;
pub(super) mod verify;
pub(super) mod visits;
