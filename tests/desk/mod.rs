//! The desk over loopback: who comes in, what a page can send, and that a case typed in is the case of its file.

mod browser;
mod doors;
mod typed;
