//! The desk: the practice's cases in the browser people already have, on this machine only.
//!
//! It holds no rule: it asks the library and shows what it is told. The sockets stand in `server`; one thread owns the
//! `room` with practice and register, another lays pages out. A request is a plain value (`answer`), so that every
//! address (`routes`) and screen is a function of the room.

mod answer;
mod areas;
mod batch;
mod came;
mod change;
mod confirm;
mod drafts;
mod error;
mod example;
mod form;
mod gate;
mod issued;
mod job;
mod judge;
mod memory;
mod next;
mod open;
mod order;
mod outcome;
mod pages;
mod press;
mod room;
mod routes;
mod screens;
mod server;
mod sign;
mod thread;
mod words;

use std::net::TcpListener;
use std::path::Path;
use std::time::Duration;

use chrono::Days;

use crate::practice::Practice;
use crate::register::Register;

pub use error::DeskError;
pub use example::{Example, PASSPHRASE, TREATMENTS};
pub use memory::Memory;
pub use room::Clock;

/// A desk that is ready to answer.
pub struct Desk {
    room: room::Room,
    listener: TcpListener,
    address: String,
}

impl Desk {
    /// Makes a desk ready: a listener on this machine, and the one-time key for a browser.
    ///
    /// # Errors
    /// A register that does not answer, files of the desk that cannot be used, or no port.
    pub fn new(
        practice: Practice,
        mut register: Register,
        clock: Clock,
        port: Option<u16>,
        mut memory: Memory,
    ) -> Result<Self, DeskError> {
        let listener = server::bind(port, memory.port()).map_err(DeskError::Listen)?;
        let at = listener.local_addr().map_err(DeskError::Listen)?;
        memory.keep_port(at.port())?;
        // A sitting is a day at most.
        if let Some(yesterday) = clock().checked_sub_days(Days::new(1)) {
            register.forget_before(yesterday)?;
        }
        let idle_minutes = practice.profile.practice.lock_after_minutes;
        let idle = Duration::from_secs(u64::from(idle_minutes) * 60);
        let (gate, key) = gate::Gate::new(memory, idle)?;
        let words = words::Words::load(&practice)?;
        let room = room::Room {
            form: form::Form::load(&practice.assets)?,
            pages: pages::Pages::load(&practice.assets, &words)?,
            practice,
            folder: None,
            register,
            words,
            gate,
            clock,
            batch: None,
            example: None,
            idle_minutes,
        };
        Ok(Self { room, listener, address: format!("http://{at}/open/{key}") })
    }

    /// The desk of the invented practice, which says so on every page.
    #[must_use]
    pub fn of_the_example(mut self) -> Self {
        self.room.example = Some(PASSPHRASE);
        self
    }

    /// The desk of a practice that is kept in a folder: there it can be confirmed.
    #[must_use]
    pub fn kept_in(mut self, folder: &Path) -> Self {
        self.room.folder = Some(folder.to_owned());
        self
    }

    /// The address that lets one browser in, once.
    #[must_use]
    pub fn address(&self) -> &str {
        &self.address
    }

    /// Opens the browser at the address, through a page in this folder, so that no command line holds the key.
    ///
    /// # Errors
    /// When the page cannot be written. A browser that does not open is no error: the address is there.
    pub fn open_browser(&self, folder: &Path) -> Result<(), DeskError> {
        let shown = serde_json::json!({ "language": self.room.words.locale.tag, "to": self.address });
        open::browser(&self.room.pages.render("enter", shown)?, folder)
    }

    /// Answers until `stop` says so.
    ///
    /// # Errors
    /// When the listener fails.
    pub fn serve(self, stop: impl Fn() -> bool) -> Result<(), DeskError> {
        server::serve(self.listener, self.room, stop).map_err(DeskError::Stopped)
    }
}
