//! The register in one file of this machine: SQLite, in the mode in which a reader never waits.

use std::path::Path;
use std::time::Duration;

use rusqlite::types::{ToSql, ToSqlOutput, ValueRef};
use rusqlite::{Connection, ErrorCode, OpenFlags, ffi};

use super::RegisterError;
use super::database::{Database, Row, Value};
use crate::files::create::{self, CreateError};
use crate::files::place;

/// How long a change waits for another program. Common practice, no source.
const WAIT: Duration = Duration::from_secs(5);

/// Tells our files from other programs' (`application_id` of SQLite): "VLRG".
const OURS: i32 = 0x564C_5247;

/// A SQLite file.
#[derive(Debug)]
pub(super) struct Sqlite(Connection);

impl Sqlite {
    /// Opens a file of ours, which is made, readable by its owner alone, if it is missing.
    pub(super) fn open(path: &Path) -> Result<Self, RegisterError> {
        match create::create(path, b"") {
            Ok(()) | Err(CreateError::Exists(_)) => {}
            Err(error) => return Err(error.into()),
        }
        // Seen to first: what SQLite makes beside a file that may not be written could not be written either, also once
        // somebody has seen to the right.
        if !create::may_write(path) {
            return Err(RegisterError::ReadOnly);
        }
        if place::is_shared(path) {
            return Err(RegisterError::Shared(path.to_owned()));
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(path, flags)?;
        connection.busy_timeout(WAIT)?;
        let is_new = is_new(&connection, path)?;
        write_ahead(&connection, path)?;
        if is_new {
            connection.pragma_update(None, "application_id", OURS)?;
        }
        Ok(Self(connection))
    }

    /// Opens an empty file that a copy is written into: one file, with nothing beside it once it is closed.
    pub(super) fn copy(path: &Path) -> Result<Self, RegisterError> {
        let connection = Connection::open_with_flags(path, OpenFlags::SQLITE_OPEN_READ_WRITE)?;
        connection.pragma_update(None, "application_id", OURS)?;
        connection.pragma_update(None, "synchronous", "FULL")?;
        connection.pragma_update(None, "foreign_keys", true)?;
        Ok(Self(connection))
    }

    /// Opens a file of ours to be looked at. Nothing of it or beside it is changed.
    pub(super) fn look(path: &Path) -> Result<Self, RegisterError> {
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = Connection::open_with_flags(path, flags)?;
        if is_new(&connection, path)? {
            return Err(RegisterError::NotOurs(path.to_owned()));
        }
        Ok(Self(connection))
    }
}

impl Database for Sqlite {
    fn rows(&self, sql: &str, with: &[Value]) -> Result<Vec<Row>, RegisterError> {
        let mut rows = Vec::new();
        self.each(sql, with, &mut |row| {
            rows.push(row);
            Ok(())
        })?;
        Ok(rows)
    }

    fn each(
        &self,
        sql: &str,
        with: &[Value],
        take: &mut dyn FnMut(Row) -> Result<(), RegisterError>,
    ) -> Result<(), RegisterError> {
        let mut statement = self.0.prepare(sql)?;
        for (at, value) in with.iter().enumerate() {
            statement.raw_bind_parameter(at + 1, value)?;
        }
        let count = statement.column_count();
        let mut rows = statement.raw_query();
        while let Some(row) = rows.next()? {
            take((0..count).map(|at| value(row.get_ref(at)?)).collect::<Result<Row, _>>()?)?;
        }
        Ok(())
    }

    fn script(&self, sql: &str) -> Result<(), RegisterError> {
        Ok(self.0.execute_batch(sql)?)
    }

    fn check(&self) -> Result<(), RegisterError> {
        match &self.rows("PRAGMA integrity_check(1)", &[])?[..] {
            [row] if row[..] == [Value::from("ok")] => Ok(()),
            _ => Err(RegisterError::Damaged),
        }
    }

    fn copy_into(&self, path: &Path) -> Result<(), RegisterError> {
        let path = path.to_str().ok_or_else(|| RegisterError::Store("a name that is no text".into()))?;
        self.rows("VACUUM INTO $1", &[Value::from(path)]).map(|_| ())
    }

    fn overwrite_deleted(&self) -> Result<(), RegisterError> {
        // Within the file `secure_delete` has written zeros over it; beside it stands the log.
        self.rows("PRAGMA wal_checkpoint(TRUNCATE)", &[]).map(|_| ())
    }

    fn begin(&self) -> Result<(), RegisterError> {
        self.script("BEGIN IMMEDIATE")
    }

    fn commit(&self) -> Result<(), RegisterError> {
        self.script("COMMIT")
    }

    fn roll_back(&self) {
        let _ = self.script("ROLLBACK");
    }

    fn is_new(&self) -> Result<bool, RegisterError> {
        Ok(self.rows("SELECT 1 FROM sqlite_schema WHERE name = 'migration'", &[])?.is_empty())
    }

    fn found(&self) -> Result<(), RegisterError> {
        self.script("CREATE TABLE migration (number INTEGER NOT NULL PRIMARY KEY, checksum TEXT NOT NULL)")
    }

    fn count_on(&self) -> Result<(), RegisterError> {
        Ok(()) // AUTOINCREMENT does
    }
}

fn value(value: ValueRef) -> Result<Value, RegisterError> {
    match value {
        ValueRef::Null => Ok(Value::Nothing),
        ValueRef::Integer(number) => Ok(Value::Number(number)),
        ValueRef::Text(text) => match std::str::from_utf8(text) {
            Ok(text) => Ok(Value::Text(text.to_owned())),
            Err(_) => Err(RegisterError::Damaged),
        },
        ValueRef::Blob(bytes) => Ok(Value::Bytes(bytes.to_vec())),
        ValueRef::Real(real) => Ok(Value::Real(real)),
    }
}

impl ToSql for Value {
    fn to_sql(&self) -> rusqlite::Result<ToSqlOutput<'_>> {
        Ok(ToSqlOutput::Borrowed(match self {
            Self::Nothing => ValueRef::Null,
            Self::Number(number) => ValueRef::Integer(*number),
            Self::Real(real) => ValueRef::Real(*real),
            Self::Text(text) => ValueRef::Text(text.as_bytes()),
            Self::Bytes(bytes) => ValueRef::Blob(bytes),
        }))
    }
}

/// Whether a file is a new one: without tables. Another program's is refused.
fn is_new(connection: &Connection, path: &Path) -> Result<bool, RegisterError> {
    let not_ours = || RegisterError::NotOurs(path.to_owned());
    let look = || -> rusqlite::Result<(i32, i64)> {
        let id = connection.pragma_query_value(None, "application_id", |row| row.get(0))?;
        let tables = connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
        Ok((id, tables))
    };
    match look() {
        Ok((OURS, _)) => Ok(false),
        Ok((0, 0)) => Ok(true),
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
    connection.pragma_update(None, "secure_delete", true)?;
    Ok(connection.pragma_update(None, "foreign_keys", true)?)
}

impl From<rusqlite::Error> for RegisterError {
    fn from(error: rusqlite::Error) -> Self {
        if is_code_taken(&error) {
            return Self::CodeTaken;
        }
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

fn is_code_taken(error: &rusqlite::Error) -> bool {
    let twice = |error: &ffi::Error| error.extended_code == ffi::SQLITE_CONSTRAINT_UNIQUE;
    error.sqlite_error().is_some_and(twice) && error.to_string().contains("kept_case.code")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_change_is_on_the_disk_before_it_counts() {
        let folder = create::temporary().unwrap();
        let store = Sqlite::open(&folder.path().join("register.sqlite3")).unwrap();
        let mode = |name: &str| store.rows(&format!("PRAGMA {name}"), &[]).unwrap()[0][0].clone();
        assert_eq!(mode("journal_mode"), Value::from("wal"));
        assert_eq!(mode("synchronous"), Value::Number(2), "FULL");
        assert_eq!((mode("foreign_keys"), mode("secure_delete")), (Value::Number(1), Value::Number(1)));
    }

    #[test]
    fn a_place_without_a_log_to_write_ahead_is_refused() {
        let refused = write_ahead(&Connection::open_in_memory().unwrap(), Path::new("register.sqlite3"));
        assert!(matches!(refused, Err(RegisterError::Journal { mode, .. }) if mode == "memory"));
    }
}
