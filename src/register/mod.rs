//! What is remembered from one day to the next: cases half filled in, people, what was issued, and what
//! became of the eyes.
//!
//! The same statements run on every database; one small synchronous trait (`database`) stands before each. Whoever calls
//! from a server does so on a thread of its own. `tests/register/` holds what every store must do.

mod adopted;
mod backup;
mod case;
mod cases;
mod columns;
mod connect;
mod copies;
mod counted;
mod database;
mod erasure;
mod error;
mod hash;
mod issue;
mod issues;
mod ledger;
mod migrations;
mod outcome;
mod outcomes;
mod own_words;
mod passfile;
mod people;
mod person;
mod place;
#[cfg(test)]
mod plans;
mod seal;
mod server;
mod sessions;
mod sqlite;
mod time;
mod verify;

use std::cell::RefCell;
use std::path::Path;

pub use backup::Receipt;
pub use case::{Act, Asked, CaseFile, CaseId, Filed, Reason, Revision, Version, Whole, Why};
pub use counted::Counted;
pub use error::RegisterError;
pub use hash::sha256;
pub use issue::{Files, Hashes, Issue, IssueId, Issued, IssuedFile};
pub use ledger::Number;
pub use outcome::{KeptOutcome, NewOutcome, OutcomeId, TakenIn, take_in};
pub use person::{Passphrase, Person, PersonChange, SHORTEST};
pub use place::{Host, NoPlace, Place, Server};
pub use seal::{Keys, NoRecipient, Recipient};
pub use verify::{Broken, Fault, Head, NoHead, Verified};

use database::Database;

/// Cases, people, issues and outcomes in a store. Every change is whole or not at all.
///
/// All functions fail with [`RegisterError`]: the store does not answer, or one of the reasons named beside them.
pub struct Register {
    database: Box<dyn Database>,
    counted: RefCell<Option<counted::Remembered>>,
}

impl Register {
    /// Opens the register at a place, in a file ([`Register::in_file`]) or on a server, where its tables are made if they are
    /// missing and brought to the form this program knows.
    ///
    /// # Errors
    /// As [`Register::in_file`]; a server that cannot be reached, does not let the role in, or keeps nothing safely.
    pub fn open(place: &Place) -> Result<Self, RegisterError> {
        match place {
            Place::File(path) => Self::in_file(path),
            Place::Server(server) => Self::migrated(Box::new(server::Postgres::open(server)?), migrations::POSTGRES),
        }
    }

    /// Opens the register at a place where there is one. None is made by looking for it.
    ///
    /// # Errors
    /// As [`Register::open`].
    pub fn find_at(place: &Place) -> Result<Option<Self>, RegisterError> {
        let is_there = match place {
            Place::File(path) => path.exists(),
            Place::Server(server) => !server::Postgres::open(server)?.is_new()?,
        };
        is_there.then(|| Self::open(place)).transpose()
    }

    /// Lets a role of a server use the register: it adds to what is kept for good and reads it, and neither changes nor
    /// erases it. Whoever made the register gives this right, again after a step of its form.
    ///
    /// # Errors
    /// [`RegisterError::NoServer`] of a file, a role that the server does not know, or one's own role without the right.
    pub fn let_in(place: &Place, role: &str) -> Result<(), RegisterError> {
        let Place::Server(server) = place else { return Err(RegisterError::NoServer) };
        Self::open(place)?;
        server::Postgres::open(server)?.grant(role)
    }

    /// Opens the register in a file, which is made, readable by its owner alone, if it is missing, and brought to the form
    /// this program knows.
    ///
    /// # Errors
    /// A file that cannot be made or written safely, is another program's or of a newer one.
    pub fn in_file(path: &Path) -> Result<Self, RegisterError> {
        Self::migrated(Box::new(sqlite::Sqlite::open(path)?), migrations::SQLITE)
    }

    fn migrated(database: Box<dyn Database>, known: &[migrations::Migration]) -> Result<Self, RegisterError> {
        migrations::apply(database.as_ref(), known)?;
        Ok(Self::of(database))
    }

    fn of(database: Box<dyn Database>) -> Self {
        Self { database, counted: RefCell::default() }
    }

    fn database(&self) -> &dyn Database {
        self.database.as_ref()
    }

    fn change<T>(&mut self, make: impl FnOnce(&dyn Database) -> Result<T, RegisterError>) -> Result<T, RegisterError> {
        let database = self.database();
        database::change(database, || make(database))
    }
}
