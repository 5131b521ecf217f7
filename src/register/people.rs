//! The people of a practice and what the desk remembers, in the register.

use super::database::{all, row, values};
use super::{Passphrase, Person, Register, RegisterError};
use crate::record::form::KnownBy;

#[expect(clippy::missing_errors_doc, reason = "said once for all of them at the head of the register")]
impl Register {
    /// Everybody, by name.
    pub fn people(&self) -> Result<Vec<Person>, RegisterError> {
        let sql = "SELECT name, role, passphrase FROM person ORDER BY name";
        all(self.database(), sql, &[], |[name, role, passphrase]| {
            let role = role_of(&role.text()?);
            Ok(Person { name: name.text()?, role, passphrase: Passphrase(passphrase.text()?) })
        })
    }

    /// Adds somebody, or replaces who has the name.
    pub fn put_person(&mut self, person: &Person) -> Result<(), RegisterError> {
        let sql = "INSERT INTO person VALUES ($1, $2, $3) \
                   ON CONFLICT (name) DO UPDATE SET role = excluded.role, passphrase = excluded.passphrase";
        self.change(|database| {
            database.rows(sql, &values![&person.name, role_word(person.role), &person.passphrase.0])?;
            Ok(())
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
