//! The people of a practice: a role each, and a passphrase that only they know.

use argon2::Argon2;
use argon2::password_hash::phc::PasswordHash;
use argon2::password_hash::{PasswordHasher, PasswordVerifier};
use chrono::NaiveDateTime;

use super::RegisterError;
use crate::record::form::KnownBy;

/// Fewest characters of a passphrase. Common practice, no source.
pub const SHORTEST: usize = 12;

/// Somebody who works with the desk.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// Name; what is signed carries it.
    pub name: String,
    /// What they may do.
    pub role: KnownBy,
    /// Their passphrase, hashed.
    pub passphrase: Passphrase,
}

/// What was done with a person of the register.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PersonChange {
    /// Of whom.
    pub name: String,
    /// What they may do since, with a passphrase that was set then; nothing: they were taken out.
    pub role: Option<KnownBy>,
    /// Who did it; unknown of people from before the ledger told of them.
    pub by: Option<String>,
    /// When, UTC.
    pub at: NaiveDateTime,
}

/// A passphrase as it is kept: Argon2id (RFC 9106) in PHC form, salted.
#[derive(Clone, PartialEq, Eq)]
pub struct Passphrase(pub(super) String);

impl Passphrase {
    /// Hashes a passphrase.
    ///
    /// ```
    /// use vitreoleaf::register::Passphrase;
    ///
    /// let kept = Passphrase::new("correct horse battery").unwrap();
    /// assert!(kept.is("correct horse battery") && !kept.is("correct horse"));
    /// assert!(Passphrase::new("too short").is_err());
    /// ```
    ///
    /// # Errors
    /// A passphrase that is too short, or a machine without random numbers.
    pub fn new(passphrase: &str) -> Result<Self, RegisterError> {
        if passphrase.chars().count() < SHORTEST {
            return Err(RegisterError::ShortPassphrase(SHORTEST));
        }
        let mut salt = [0; 16];
        getrandom::fill(&mut salt).map_err(|_| RegisterError::NoRandom)?;
        let hash: PasswordHash = Argon2::default()
            .hash_password_with_salt(passphrase.as_bytes(), &salt)
            .map_err(|error| RegisterError::Store(error.to_string()))?;
        Ok(Self(hash.to_string()))
    }

    /// Whether this is the passphrase. Takes as long whichever it is.
    #[must_use]
    pub fn is(&self, passphrase: &str) -> bool {
        let kept = PasswordHash::new(&self.0);
        kept.is_ok_and(|kept| Argon2::default().verify_password(passphrase.as_bytes(), &kept).is_ok())
    }
}

/// Even the hash stays out of logs.
impl std::fmt::Debug for Passphrase {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Passphrase")
    }
}
