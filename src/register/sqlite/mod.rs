//! The register in one file of this machine: SQLite, in the mode in which a reader never waits.

mod store;

use std::fs::OpenOptions;
use std::io;
use std::path::Path;
use std::time::Duration;

use rusqlite::{Connection, ErrorCode, OpenFlags, TransactionBehavior};

use super::RegisterError;
use super::migrations::{self, Migration};
use crate::files::create::{self, CreateError};

/// How long a change waits for another program. Common practice, no source.
const WAIT: Duration = Duration::from_secs(5);

/// Tells our files from other programs' (`application_id` of SQLite): "VLRG".
const OURS: i32 = 0x564C_5247;

/// The register in a SQLite file.
#[derive(Debug)]
pub struct Sqlite {
    connection: Connection,
}

impl Sqlite {
    /// Opens the register in a file, which is made, readable by its owner alone, if it is missing, and brought to the form
    /// this program knows.
    ///
    /// # Errors
    /// A file that cannot be made or written safely, is another program's or of a newer one.
    pub fn open(path: &Path) -> Result<Self, RegisterError> {
        match create::create(path, b"") {
            Ok(()) | Err(CreateError::Exists(_)) => {}
            Err(error) => return Err(error.into()),
        }
        may_write(path)?;
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(path, flags)?;
        connection.busy_timeout(WAIT)?;
        is_ours(&connection, path)?;
        write_ahead(&connection, path)?;
        let mut register = Self { connection };
        register.migrate(migrations::SQLITE)?;
        Ok(register)
    }

    /// Applies what is lacking, all of it or nothing.
    fn migrate(&mut self, known: &[Migration]) -> Result<(), RegisterError> {
        let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        transaction.execute_batch(
            "CREATE TABLE IF NOT EXISTS migration (number INTEGER NOT NULL PRIMARY KEY, checksum TEXT NOT NULL) STRICT",
        )?;
        let done: Vec<(u32, String)> = {
            let mut rows = transaction.prepare("SELECT number, checksum FROM migration ORDER BY number")?;
            let read = rows.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
            read.collect::<Result<_, _>>()?
        };
        for step in migrations::lacking(known, &done)? {
            transaction.execute_batch(step.sql)?;
            transaction.execute("INSERT INTO migration VALUES (?1, ?2)", (step.number, step.checksum()))?;
        }
        transaction.pragma_update(None, "application_id", OURS)?;
        Ok(transaction.commit()?)
    }
}

/// Seen to first: the files that SQLite makes beside one that may not be written could not be written either, also once
/// somebody has seen to the right.
fn may_write(path: &Path) -> Result<(), RegisterError> {
    match OpenOptions::new().write(true).open(path) {
        Err(error) if matches!(error.kind(), io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem) => {
            Err(RegisterError::ReadOnly)
        }
        _ => Ok(()),
    }
}

/// A file without tables is a new one.
fn is_ours(connection: &Connection, path: &Path) -> Result<(), RegisterError> {
    let not_ours = || RegisterError::NotOurs(path.to_owned());
    let look = || -> rusqlite::Result<(i32, i64)> {
        let id = connection.pragma_query_value(None, "application_id", |row| row.get(0))?;
        let tables = connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
        Ok((id, tables))
    };
    match look() {
        Ok((OURS, _) | (0, 0)) => Ok(()),
        Ok(_) => Err(not_ours()),
        Err(error) if error.sqlite_error_code() == Some(ErrorCode::NotADatabase) => Err(not_ours()),
        Err(error) => Err(error.into()),
    }
}

/// Every change goes down to the disk before it counts. The mode is read back: a network share cannot have it.
fn write_ahead(connection: &Connection, path: &Path) -> Result<(), RegisterError> {
    let mode: String = connection.pragma_update_and_check(None, "journal_mode", "wal", |row| row.get(0))?;
    if mode != "wal" {
        return Err(RegisterError::Journal { path: path.to_owned(), mode });
    }
    connection.pragma_update(None, "synchronous", "FULL")?;
    Ok(connection.pragma_update(None, "foreign_keys", true)?)
}

impl From<rusqlite::Error> for RegisterError {
    fn from(error: rusqlite::Error) -> Self {
        match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy,
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied | ErrorCode::CannotOpen) => Self::ReadOnly,
            Some(ErrorCode::DiskFull) => Self::Full,
            Some(ErrorCode::SystemIoFailure) => Self::Disk,
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => Self::Damaged,
            _ => Self::Store(error.to_string()),
        }
    }
}
