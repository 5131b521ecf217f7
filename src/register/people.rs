//! The people of a practice and what the desk remembers, in the register. Who was added, changed or taken out, and by whom, is a
//! row of the ledger; who may sign in stands in columns beside it.

use chrono::NaiveDateTime;
use serde::{Deserialize, Serialize};

use super::database::{Database, Value, all, row, values};
use super::hash::sha256;
use super::ledger::{self, Entry, Number};
use super::{Passphrase, Person, PersonChange, Register, RegisterError, time};
use crate::record::form::KnownBy;

/// The kind of a row that tells of a person.
pub(super) const PERSON: &str = "person";

/// What the ledger tells of a person.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Told {
    pub(super) name: String,
    /// What they may do from now on; nothing once they were taken out.
    pub(super) may: Option<May>,
    /// Who did it; of people from before the ledger told of them nobody knows.
    pub(super) by: Option<String>,
}

/// What somebody may do, and SHA-256 of their passphrase as it is kept. Both salted, it tells nothing of the passphrase and
/// shows that another one was put in its place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct May {
    pub(super) role: KnownBy,
    pub(super) passphrase_sha256: String,
}

#[expect(clippy::missing_errors_doc, reason = "said once for all of them at the head of the register")]
impl Register {
    /// Everybody, by name.
    pub fn people(&self) -> Result<Vec<Person>, RegisterError> {
        people(self.database())
    }

    /// Adds somebody, or replaces who has the name. [`RegisterError::NoPerson`] unless who does so is in the register, or is the
    /// first one there.
    pub fn put_person(&mut self, person: &Person, by: &str, at: NaiveDateTime) -> Result<(), RegisterError> {
        self.change(|database| {
            let people = people(database)?;
            if !(people.iter().any(|one| one.name == by) || people.is_empty() && person.name == by) {
                return Err(RegisterError::NoPerson);
            }
            put(database, person, Some(by), at)
        })
    }

    /// Takes somebody out: they can sign in no more, and what they signed stays. [`RegisterError::NoPerson`] if either of the two is
    /// not in the register.
    pub fn take_out_person(&mut self, name: &str, by: &str, at: NaiveDateTime) -> Result<(), RegisterError> {
        self.change(|database| {
            let people = people(database)?;
            if [name, by].iter().any(|name| people.iter().all(|one| one.name != *name)) {
                return Err(RegisterError::NoPerson);
            }
            tell(database, &Told { name: name.to_owned(), may: None, by: Some(by.to_owned()) }, at)?;
            database.rows("DELETE FROM person WHERE name = $1", &values![name])?;
            Ok(())
        })
    }

    /// What was done with people, oldest first.
    pub fn person_changes(&self) -> Result<Vec<PersonChange>, RegisterError> {
        let sql = "SELECT at, body FROM ledger JOIN payload ON payload.number = ledger.number \
                   WHERE kind = 'person' ORDER BY ledger.number";
        all(self.database(), sql, &[], |[at, body]| {
            let Told { name, may, by } = ledger::read(&body.bytes()?)?;
            Ok(PersonChange { name, role: may.map(|may| may.role), by, at: time::read(&at.text()?)? })
        })
    }

    /// What the desk remembers under a name.
    pub fn setting(&self, name: &str) -> Result<Option<String>, RegisterError> {
        let value = row(self.database(), "SELECT value FROM setting WHERE name = $1", &values![name])?;
        value.map(|[value]| value.text()).transpose()
    }

    /// Remembers something under a name.
    pub fn set(&mut self, name: &str, value: &str) -> Result<(), RegisterError> {
        let sql = "INSERT INTO setting VALUES ($1, $2) ON CONFLICT (name) DO UPDATE SET value = excluded.value";
        self.change(|database| {
            database.rows(sql, &values![name, value])?;
            Ok(())
        })
    }
}

fn people(database: &dyn Database) -> Result<Vec<Person>, RegisterError> {
    all(database, "SELECT name, role, passphrase FROM person ORDER BY name", &[], person)
}

/// Adds somebody or replaces who has the name, within a change.
pub(super) fn put(
    database: &dyn Database,
    person: &Person,
    by: Option<&str>,
    at: NaiveDateTime,
) -> Result<(), RegisterError> {
    let number =
        tell(database, &Told { name: person.name.clone(), may: Some(may(person)), by: by.map(Into::into) }, at)?;
    let sql = "INSERT INTO person (name, role, passphrase, number) VALUES ($1, $2, $3, $4) ON CONFLICT (name) DO UPDATE \
               SET role = excluded.role, passphrase = excluded.passphrase, number = excluded.number";
    database.rows(sql, &values![&person.name, role_word(person.role), &person.passphrase.0, number])?;
    Ok(())
}

fn tell(database: &dyn Database, told: &Told, at: NaiveDateTime) -> Result<Number, RegisterError> {
    let body = ledger::json(told)?;
    ledger::append(database, Entry { kind: PERSON, case: None, part_of: None, at, body: &body })
}

/// What the ledger tells of somebody who is in the register.
pub(super) fn may(person: &Person) -> May {
    May { role: person.role, passphrase_sha256: sha256(person.passphrase.0.as_bytes()) }
}

/// A person from name, role and passphrase.
pub(super) fn person([name, role, passphrase]: [Value; 3]) -> Result<Person, RegisterError> {
    let role = role_of(&role.text()?);
    Ok(Person { name: name.text()?, role, passphrase: Passphrase(passphrase.text()?) })
}

fn role_word(role: KnownBy) -> &'static str {
    match role {
        KnownBy::Desk => "desk",
        KnownBy::Nurse => "nurse",
        KnownBy::Surgeon => "surgeon",
    }
}

/// The table takes no other word.
fn role_of(word: &str) -> KnownBy {
    match word {
        "surgeon" => KnownBy::Surgeon,
        "nurse" => KnownBy::Nurse,
        _ => KnownBy::Desk,
    }
}
