//! Sealed copies: encrypted in the format age, version 1, to whoever holds a key. Nothing of them can be read, and nothing
//! changed unseen, without it.

use std::io::{self, BufReader, Read, Write};
use std::path::Path;
use std::str::FromStr;

use age::secrecy::ExposeSecret;
use age::x25519::Identity;
use age::{DecryptError, Decryptor, Encryptor};

use super::RegisterError;
use crate::files::copy::through;
use crate::files::create::{CreateError, create};
use crate::files::read;

/// To whom a copy is sealed: the public half of a key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recipient(age::x25519::Recipient);

/// A text that is no recipient.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("write to whom it is sealed as `register key` gave it: age1 and 58 letters and digits")]
pub struct NoRecipient;

impl FromStr for Recipient {
    type Err = NoRecipient;

    fn from_str(text: &str) -> Result<Self, NoRecipient> {
        text.trim().parse().map(Self).map_err(|_| NoRecipient)
    }
}

/// `age1...`: what may be told to everybody.
impl std::fmt::Display for Recipient {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

/// Keys that open sealed copies.
#[derive(Clone, Default)]
pub struct Keys(Vec<Identity>);

impl Keys {
    /// Reads the keys of a file, one a line beside remarks that begin with `#`.
    ///
    /// # Errors
    /// A file that is not there, that others can read, or that holds anything else.
    pub fn read(path: &Path) -> Result<Self, RegisterError> {
        let no_key = || RegisterError::NoKey(path.to_owned());
        let text = read::secret(path)?.ok_or_else(no_key)?;
        let lines = text.lines().map(str::trim).filter(|line| !line.is_empty() && !line.starts_with('#'));
        let keys = lines.map(|line| line.parse().map_err(|_| no_key())).collect::<Result<Vec<_>, _>>()?;
        if keys.is_empty() { Err(no_key()) } else { Ok(Self(keys)) }
    }

    /// Makes a key in a file that is not there yet, readable by its owner alone: to whom copies are sealed that it opens.
    ///
    /// # Errors
    /// A file that is there or cannot be written.
    pub fn make(path: &Path) -> Result<Recipient, RegisterError> {
        let key = Identity::generate();
        let whom = Recipient(key.to_public());
        let text = format!("# opens backups that are sealed to {whom}\n{}\n", key.to_string().expose_secret());
        create(path, text.as_bytes())?;
        Ok(whom)
    }
}

/// Nothing of a key is shown.
impl std::fmt::Debug for Keys {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Keys")
    }
}

/// Seals a file into another that is not there yet.
pub(super) fn seal(from: &Path, to: &Path, whom: &[Recipient]) -> Result<(), RegisterError> {
    let whom = whom.iter().map(|recipient| &recipient.0 as &dyn age::Recipient);
    let sealed = Encryptor::with_recipients(whom).map_err(|error| RegisterError::Store(error.to_string()))?;
    through(from, to, |read, write| {
        let pass = |read: &mut dyn Read, write: &mut dyn Write| {
            let mut sealed = sealed.wrap_output(write)?;
            io::copy(read, &mut sealed)?;
            sealed.finish().map(|_| ())
        };
        pass(read, write).map_err(|source| CreateError::Io { path: to.to_owned(), source }.into())
    })
}

/// Opens a sealed file into another that is not there yet.
pub(super) fn unseal(from: &Path, to: &Path, keys: &Keys) -> Result<(), RegisterError> {
    let changed = || RegisterError::OtherBackup(from.to_owned());
    through(from, to, |read, write| {
        let sealed = Decryptor::new(BufReader::new(read)).map_err(|_| changed())?;
        let keys = keys.0.iter().map(|key| key as &dyn age::Identity);
        let mut opened = sealed.decrypt(keys).map_err(|error| match error {
            DecryptError::NoMatchingKeys => RegisterError::Sealed(from.to_owned()),
            _ => changed(),
        })?;
        io::copy(&mut opened, write).map(|_| ()).map_err(|error| match error.kind() {
            io::ErrorKind::InvalidData | io::ErrorKind::UnexpectedEof => changed(),
            _ => CreateError::Io { path: to.to_owned(), source: error }.into(),
        })
    })
}
