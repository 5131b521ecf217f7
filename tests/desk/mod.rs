//! The desk over loopback: who comes in, what a page can send, that a case typed in is the case of its file, and what is
//! issued.

mod browser;
mod clock;
mod day;
mod deeds;
mod doors;
mod issue;
mod outcomes;
mod take_in;
mod typed;
mod verify;
