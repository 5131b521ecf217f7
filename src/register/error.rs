//! Why the register does not answer.

use std::path::PathBuf;

use super::place::NoPlace;
use crate::files::create::CreateError;
use crate::files::read::ReadError;

/// Why the register does not answer. Nothing of a patient stands in it.
#[derive(Debug, thiserror::Error)]
pub enum RegisterError {
    /// The file could not be made.
    #[error(transparent)]
    Create(#[from] CreateError),
    /// A file beside it, passfile or certificate, could not be read.
    #[error(transparent)]
    Read(#[from] ReadError),
    /// An address that is none.
    #[error(transparent)]
    Place(#[from] NoPlace),
    /// The server cannot be reached.
    #[error("the server of the register does not answer: {0}")]
    NoAnswer(String),
    /// The server does not let the role of the address in.
    #[error(
        "the server of the register does not let this role in: its password is that of the line in the passfile          (PGPASSFILE, else .pgpass of your home) that fits the address"
    )]
    NoEntry,
    /// The certificate file holds none, or this machine trusts nobody.
    #[error("no certificate to check the server by: name a file that holds one as sslrootcert in the address")]
    NoAuthority,
    /// The server calls things saved that a loss of power may take.
    #[error(
        "the server of the register may lose what it called saved (fsync is off): ask whoever keeps it to switch it on"
    )]
    NotDurable,
    /// The database keeps text in another form.
    #[error("the database of the register keeps text as {0}: make it anew with UTF8")]
    Encoding(String),
    /// The connection was lost.
    #[error("the connection to the register was lost: nothing was saved; try again")]
    Lost,
    /// The connection was lost while a change was confirmed.
    #[error("the connection to the register was lost while it saved: look whether it did, then go on")]
    Unsure,
    /// Only a server has roles.
    #[error("a register in a file has no roles: name one on a server")]
    NoServer,
    /// Something stands there.
    #[error("there is a register already: a backup is put where none stands")]
    NotEmpty,
    /// Another program's file.
    #[error("{} is not a register: choose another file", .0.display())]
    NotOurs(PathBuf),
    /// A newer program has changed the store.
    #[error("the register has form {has}, this program knows {knows}: use the newer program")]
    Newer {
        /// Number of the store's last migration.
        has: u32,
        /// Number of the last migration this program knows.
        knows: u32,
    },
    /// A migration of the store is another one than that of the program.
    #[error("migration {0} of the register is not that of this program: use the program that made it")]
    Altered(u32),
    /// The file lies on another machine.
    #[error("{} lies on a network share, where two machines would damage it: put it on a disk of this machine", .0.display())]
    Shared(PathBuf),
    /// The file lies where two programs cannot share it.
    #[error("{} cannot be written safely (journal mode {mode}): put it on a disk of this machine", path.display())]
    Journal {
        /// The file.
        path: PathBuf,
        /// The mode it has instead of `wal`.
        mode: String,
    },
    /// Another program holds the store.
    #[error("another program holds the register: wait, then try again")]
    Busy,
    /// The store may not be written.
    #[error("the register may not be written: ask whoever keeps this machine for the right to write it")]
    ReadOnly,
    /// The disk is full.
    #[error("the disk is full: nothing was saved; make room, then save again")]
    Full,
    /// The disk does not write or read.
    #[error("the disk refuses: nothing was saved; ask whoever keeps this machine, then save again")]
    Disk,
    /// The file is damaged.
    #[error("the register is damaged: restore the last backup")]
    Damaged,
    /// Somebody saved the case since it was read.
    #[error("somebody else saved this case since: look at it again")]
    Changed,
    /// Another case has this code.
    #[error("another case has this code: choose another one")]
    CodeTaken,
    /// An outcome of the same visit and day holds already.
    #[error("an outcome of this visit and day is there already: correct that one")]
    OutcomeThere,
    /// Pages of another content were issued under the same number.
    #[error(
        "other pages of this case were issued as revision {0}: raise case.revision, so that the pages say what they replace"
    )]
    SameRevision(u32),
    /// The ledger of a copy is not as it was written.
    #[error("{0}: it is no backup; take an earlier one")]
    Broken(String),
    /// A backup without its receipt.
    #[error("{} says what the backup is and is not there or cannot be read: put it beside the backup", .0.display())]
    NoReceipt(PathBuf),
    /// A backup that is not what its receipt says.
    #[error("{} is not the backup that its receipt was given for: take another one", .0.display())]
    OtherBackup(PathBuf),
    /// A sealed backup, without a key that opens it.
    #[error("{} is sealed, and none of the keys at hand opens it: name the file of its key with --key", .0.display())]
    Sealed(PathBuf),
    /// A file without a key.
    #[error("{} holds no key: name the file that `register key` made", .0.display())]
    NoKey(PathBuf),
    /// Nobody has this name.
    #[error("the register knows nobody of this name: `vitreoleaf people` lists who there is")]
    NoPerson,
    /// An erasure without a reason.
    #[error("say why it is erased")]
    NoReason,
    /// There is no such case.
    #[error("there is no such case")]
    NoCase,
    /// What was kept cannot be read.
    #[error("what the register kept cannot be read: {0}")]
    Unreadable(String),
    /// A passphrase that is too short.
    #[error("a passphrase has at least {0} characters: choose a longer one")]
    ShortPassphrase(usize),
    /// The machine gave no random numbers.
    #[error("this machine gives no random numbers")]
    NoRandom,
    /// The store refuses for another reason.
    #[error("the register refuses: {0}")]
    Store(String),
}
