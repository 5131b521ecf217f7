//! Copies of the register, checked before they count, and a receipt beside each that carries the head.

use std::path::{Path, PathBuf};

use chrono::NaiveDateTime;
use serde::{Deserialize, Serialize};

use super::sqlite::Sqlite;
use super::{Head, Place, Register, RegisterError, copies, time};
use crate::files::copy::{copy, digest};
use crate::files::create::{self, create};
use crate::files::read;

/// Under which name the register remembers its last backup.
const LAST: &str = "backup";

/// Version of the format of receipts.
const RECEIPT: u32 = 1;

/// What a backup is, and an anchor for what stands in it. It is kept beside the backup, better also elsewhere.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Receipt {
    /// Version of this format.
    pub version: u32,
    /// Head of the ledger in the backup ([`Head`]).
    pub head: String,
    /// When it was made, UTC.
    pub at: NaiveDateTime,
    /// Version of the program that made it.
    pub program: String,
    /// Length of the file, bytes.
    pub bytes: u64,
    /// SHA-256 of the file, hexadecimal.
    pub sha256: String,
}

impl Register {
    /// Writes a copy into a file that is not there yet, walks its ledger, and puts the receipt beside it. A copy without a
    /// receipt is none.
    ///
    /// # Errors
    /// A file that is there or cannot be written, or a register that is not as it was written.
    pub fn back_up(&mut self, to: &Path, at: NaiveDateTime) -> Result<Receipt, RegisterError> {
        create(to, b"")?;
        let receipt = self.copied(to, at).inspect_err(|_| create::take_back(to))?;
        let text = serde_json::to_string_pretty(&receipt).map_err(|error| RegisterError::Store(error.to_string()))?;
        create(&beside(to), text.as_bytes()).inspect_err(|_| create::take_back(to))?;
        self.set(LAST, &time::text(at))?;
        Ok(receipt)
    }

    fn copied(&self, to: &Path, at: NaiveDateTime) -> Result<Receipt, RegisterError> {
        self.database().copy_into(to)?;
        let head = walked(to)?;
        let file = digest(to)?;
        let program = env!("CARGO_PKG_VERSION").to_owned();
        Ok(Receipt { version: RECEIPT, head: head.to_string(), at, program, bytes: file.bytes, sha256: file.sha256 })
    }

    /// When the last backup was made, UTC.
    ///
    /// # Errors
    /// A store that does not answer.
    pub fn last_backup(&self) -> Result<Option<NaiveDateTime>, RegisterError> {
        self.setting(LAST)?.map(|at| time::read(&at)).transpose()
    }

    /// Puts a backup where no register stands yet, once its ledger was walked and it is what its receipt says: the head.
    ///
    /// # Errors
    /// A backup without its receipt, another file than that of the receipt, a ledger that is not as it was written, or a
    /// place that is taken.
    pub fn restore(from: &Path, to: &Place) -> Result<Head, RegisterError> {
        match to {
            Place::File(file) => Self::restore_file(from, file),
            Place::Server(_) => Self::restore_to_server(from, to),
        }
    }

    /// By way of a file, which is brought to the form of this program.
    fn restore_to_server(from: &Path, to: &Place) -> Result<Head, RegisterError> {
        let folder = create::temporary()?;
        let file = folder.path().join("register.sqlite3");
        let head = Self::restore_file(from, &file)?;
        let register = Self::open(to)?;
        copies::into_empty(Self::in_file(&file)?.database(), register.database())?;
        match register.verify(Some(&head))? {
            Ok(_) => Ok(head),
            Err(broken) => Err(RegisterError::Broken(broken.to_string())),
        }
    }

    fn restore_file(from: &Path, to: &Path) -> Result<Head, RegisterError> {
        let text = read::small(&beside(from)).map_err(|_| RegisterError::NoReceipt(beside(from)))?;
        let receipt: Receipt = serde_json::from_slice(&text).map_err(|_| RegisterError::NoReceipt(beside(from)))?;
        if receipt.version != RECEIPT {
            return Err(RegisterError::NoReceipt(beside(from)));
        }
        let head = walked(from)?;
        if head.to_string() != receipt.head || digest(from)?.sha256 != receipt.sha256 {
            return Err(RegisterError::OtherBackup(from.to_owned()));
        }
        if copy(from, to)?.sha256 != receipt.sha256 {
            create::take_back(to);
            return Err(RegisterError::OtherBackup(from.to_owned()));
        }
        Ok(head)
    }
}

/// Where the receipt of a backup lies.
fn beside(backup: &Path) -> PathBuf {
    let mut name = backup.file_name().unwrap_or_default().to_owned();
    name.push(".receipt.json");
    backup.with_file_name(name)
}

/// The head of a copy, its ledger walked. Nothing of it is changed.
fn walked(path: &Path) -> Result<Head, RegisterError> {
    let copy = Register(Box::new(Sqlite::look(path)?));
    match copy.verify(None)? {
        Ok(found) => Ok(found.head),
        Err(broken) => Err(RegisterError::Broken(broken.to_string())),
    }
}
