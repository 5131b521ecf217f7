//! Copies of the register, checked before they count, and a receipt beside each that carries the head.

use std::path::{Path, PathBuf};

use chrono::NaiveDateTime;
use serde::{Deserialize, Serialize};

use super::seal::{self, Keys, Recipient};
use super::sqlite::Sqlite;
use super::{Broken, Fault, Head, Place, Register, RegisterError, copies, time};
use crate::files::copy::{Digested, copy, digest};
use crate::files::create::{self, create};
use crate::files::read;

/// Under which name the register remembers its last backup.
const LAST: &str = "backup";

/// Name of an open copy in a folder for a while.
const OPEN: &str = "register.sqlite3";

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
    /// Whether the file is sealed.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub sealed: bool,
}

impl Register {
    /// Writes a copy into a file that is not there yet, walks its ledger, and puts the receipt beside it. A copy without a
    /// receipt is none. Sealed to somebody, it lies open only in a folder of this machine's own, and only meanwhile.
    ///
    /// # Errors
    /// A file that is there or cannot be written, or a register that is not as it was written.
    pub fn back_up(&mut self, to: &Path, whom: &[Recipient], at: NaiveDateTime) -> Result<Receipt, RegisterError> {
        let head = if whom.is_empty() { self.copied(to) } else { self.sealed(to, whom) }?;
        let receipt = receipt(to, &head, !whom.is_empty(), at).and_then(|receipt| {
            let text = serde_json::to_string_pretty(&receipt);
            let text = text.map_err(|error| RegisterError::Store(error.to_string()))?;
            create(&beside(to), text.as_bytes())?;
            Ok(receipt)
        });
        let receipt = receipt.inspect_err(|_| create::take_back(to))?;
        self.set(LAST, &time::text(at))?;
        Ok(receipt)
    }

    /// Writes a copy: the head of its ledger, which was walked.
    fn copied(&self, to: &Path) -> Result<Head, RegisterError> {
        create(to, b"")?;
        let copied = self.database().copy_into(to).and_then(|()| walked(to));
        copied.inspect_err(|_| create::take_back(to))
    }

    fn sealed(&self, to: &Path, whom: &[Recipient]) -> Result<Head, RegisterError> {
        let folder = create::temporary()?;
        let open = folder.path().join(OPEN);
        let head = self.copied(&open)?;
        seal::seal(&open, to, whom)?;
        Ok(head)
    }

    /// When the last backup was made, UTC.
    ///
    /// # Errors
    /// A store that does not answer.
    pub fn last_backup(&self) -> Result<Option<NaiveDateTime>, RegisterError> {
        self.setting(LAST)?.map(|at| time::read(&at)).transpose()
    }

    /// Puts a backup where no register stands yet, once its ledger was walked and it is what its receipt says: the head. A
    /// sealed one is opened with these keys.
    ///
    /// # Errors
    /// A backup without its receipt, another file than that of the receipt, one that is sealed to somebody else, a ledger that
    /// is not as it was written, or a place that is taken.
    pub fn restore(from: &Path, to: &Place, keys: &Keys) -> Result<Head, RegisterError> {
        let receipt = Receipt::beside(from)?;
        if digest(from)?.sha256 != receipt.sha256 {
            // What is wrong with it is told as far as it can be seen.
            return Err(match walked(from) {
                Err(broken @ RegisterError::Broken(_)) if !receipt.sealed => broken,
                _ => RegisterError::OtherBackup(from.to_owned()),
            });
        }
        let folder = create::temporary()?;
        let mut open = from.to_owned();
        if receipt.sealed {
            open = folder.path().join(OPEN);
            seal::unseal(from, &open, keys)?;
        }
        let head: Head = receipt.head.parse().map_err(|_| RegisterError::NoReceipt(beside(from)))?;
        let brought = brought(&open, folder.path())?;
        match brought.verify(Some(&head))? {
            Ok(_) => {}
            Err(Broken { what: Fault::Anchor, .. }) => return Err(RegisterError::OtherBackup(from.to_owned())),
            Err(broken) => return Err(RegisterError::Broken(broken.to_string())),
        }
        match to {
            Place::File(file) => _ = copy(&open, file)?,
            Place::Server(_) => to_server(&brought, to)?,
        }
        Ok(head)
    }
}

/// A copy of a backup, brought to the form of this program: an earlier one may have made it.
fn brought(from: &Path, folder: &Path) -> Result<Register, RegisterError> {
    let file = folder.join("brought.sqlite3");
    copy(from, &file)?;
    Register::in_file(&file)
}

fn to_server(brought: &Register, to: &Place) -> Result<(), RegisterError> {
    let register = Register::open(to)?;
    copies::into_empty(brought.database(), register.database())?;
    match register.verify(Some(&brought.head()?))? {
        Ok(_) => Ok(()),
        Err(broken) => Err(RegisterError::Broken(broken.to_string())),
    }
}

impl Receipt {
    /// The receipt beside a backup.
    fn beside(backup: &Path) -> Result<Self, RegisterError> {
        let none = || RegisterError::NoReceipt(beside(backup));
        let text = read::small(&beside(backup)).map_err(|_| none())?;
        serde_json::from_slice(&text).ok().filter(|receipt: &Self| receipt.version == RECEIPT).ok_or_else(none)
    }
}

fn receipt(file: &Path, head: &Head, sealed: bool, at: NaiveDateTime) -> Result<Receipt, RegisterError> {
    let Digested { bytes, sha256 } = digest(file)?;
    let program = env!("CARGO_PKG_VERSION").to_owned();
    Ok(Receipt { version: RECEIPT, head: head.to_string(), at, program, bytes, sha256, sealed })
}

/// Where the receipt of a backup lies.
fn beside(backup: &Path) -> PathBuf {
    let mut name = backup.file_name().unwrap_or_default().to_owned();
    name.push(".receipt.json");
    backup.with_file_name(name)
}

/// The head of a copy, its ledger walked. Nothing of it is changed.
fn walked(path: &Path) -> Result<Head, RegisterError> {
    let copy = Register::of(Box::new(Sqlite::look(path)?));
    match copy.verify(None)? {
        Ok(found) => Ok(found.head),
        Err(broken) => Err(RegisterError::Broken(broken.to_string())),
    }
}
