//! The register on a PostgreSQL server of the practice, for several desks at once.
//!
//! One change follows the other, whoever makes it: each begins by taking a lock of the server, as a change of the SQLite file
//! takes the file. A connection that is lost is made anew; a change it broke off is gone.

use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::path::Path;
use std::thread;
use std::time::Duration;

use postgres::types::{ToSql, Type};
use postgres::{Client, Error, Statement};

use super::database::{Database, Row, Value, row};
use super::place::Server;
use super::sqlite::Sqlite;
use super::{RegisterError, connect, copies};

/// The lock that every change holds: "VLRG".
const BEGIN: &str = "BEGIN ISOLATION LEVEL READ COMMITTED; SELECT pg_advisory_xact_lock(1447842375)";

/// Makes schema and list of steps; whoever keeps the server may have made the schema.
const FOUND: &str = "DO $$ BEGIN IF NOT EXISTS (SELECT 1 FROM pg_namespace WHERE nspname = 'vitreoleaf') \
                     THEN CREATE SCHEMA vitreoleaf; END IF; END $$; \
                     CREATE TABLE migration (number bigint NOT NULL PRIMARY KEY, checksum text NOT NULL)";

/// Tables from which an erasure takes something away.
const ERASED_FROM: [&str; 6] = ["payload", "change", "kept_case", "sought_word", "session", "outcome"];

/// Longer than a connection takes to be made.
const CONNECTING: Duration = Duration::from_millis(300);

/// Tables whose numbers the server gives.
const COUNTED: [&str; 1] = ["kept_case"];

/// A database on a server.
pub(super) struct Postgres {
    server: Server,
    link: RefCell<Link>,
    change: Cell<Change>,
}

/// How a change stands.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Change {
    None,
    Open,
    /// The server will take it back, whatever is asked of it.
    Failed,
}

/// A connection, and the statements it knows already.
struct Link {
    client: Client,
    prepared: HashMap<String, Statement>,
}

impl Postgres {
    pub(super) fn open(server: &Server) -> Result<Self, RegisterError> {
        let link = RefCell::new(Link::open(server)?);
        Ok(Self { server: server.clone(), link, change: Cell::new(Change::None) })
    }

    /// Lets a role add to what is kept for good and read it, and neither change nor erase it.
    pub(super) fn grant(&self, role: &str) -> Result<(), RegisterError> {
        let role = format!("\"{}\"", role.replace('"', "\"\""));
        self.script(&include_str!("migrations/postgres/role.sql").replace("{role}", &role))
    }

    /// Asks the server. What was lost with a connection is asked again on a new one, unless it belongs to a change.
    fn ask<T>(&self, ask: impl Fn(&mut Link) -> Result<T, Error>) -> Result<T, RegisterError> {
        let mut link = self.link.borrow_mut();
        let answer = match ask(&mut link) {
            Err(error) if is_lost(&error) && self.change.get() == Change::None => {
                *link = Link::open(&self.server)?;
                ask(&mut link)
            }
            answer => answer,
        };
        answer.map_err(|error| {
            if self.change.get() == Change::Open {
                self.change.set(Change::Failed);
            }
            error.into()
        })
    }

    fn write_anew(&self) -> Result<(), RegisterError> {
        ERASED_FROM.iter().try_for_each(|table| self.script(&format!("VACUUM FULL {table}")))
    }
}

impl Link {
    fn open(server: &Server) -> Result<Self, RegisterError> {
        Ok(Self { client: connect::connect(server)?, prepared: HashMap::new() })
    }

    fn rows(&mut self, sql: &str, with: &[Value]) -> Result<Vec<Row>, Error> {
        let statement = match self.prepared.get(sql) {
            Some(known) => known.clone(),
            None => self.client.prepare(sql)?,
        };
        let with: Vec<_> = with.iter().zip(statement.params()).map(|(value, of)| parameter(value, of)).collect();
        let rows = self.client.query(&statement, &with)?;
        self.prepared.entry(sql.to_owned()).or_insert(statement);
        rows.iter().map(|row| (0..row.len()).map(|at| value(row, at)).collect::<Result<Row, _>>()).collect()
    }
}

impl Database for Postgres {
    fn rows(&self, sql: &str, with: &[Value]) -> Result<Vec<Row>, RegisterError> {
        self.ask(|link| link.rows(sql, with))
    }

    fn script(&self, sql: &str) -> Result<(), RegisterError> {
        self.ask(|link| link.client.batch_execute(sql))
    }

    fn check(&self) -> Result<(), RegisterError> {
        Ok(()) // whoever keeps the server sees to its files; all that is kept for good was read by who asks
    }

    /// Into a file of the embedded store: it can be restored anywhere.
    fn copy_into(&self, path: &Path) -> Result<(), RegisterError> {
        self.script("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")?;
        self.change.set(Change::Open);
        let copied = Sqlite::copy(path).and_then(|file| copies::into_file(self, &file));
        self.roll_back();
        copied
    }

    /// Writes the tables anew without what was deleted. The server's log and its own backups are with whoever keeps it.
    ///
    /// Twice, a moment apart: a connection that is being made anywhere on the server looks for an instant as if it could
    /// still ask for deleted rows, and the first writing then keeps them.
    fn overwrite_deleted(&self) -> Result<(), RegisterError> {
        self.script("SET lock_timeout = '60s'")?;
        let written = self.write_anew().and_then(|()| {
            thread::sleep(CONNECTING);
            self.write_anew()
        });
        self.script("SET lock_timeout = '5s'").and(written)
    }

    fn begin(&self) -> Result<(), RegisterError> {
        self.script(BEGIN).inspect_err(|_| self.roll_back())?;
        self.change.set(Change::Open);
        Ok(())
    }

    fn commit(&self) -> Result<(), RegisterError> {
        if self.change.get() == Change::Failed {
            return Err(RegisterError::Store("a part of the change failed".into()));
        }
        match self.script("COMMIT") {
            Err(RegisterError::Lost) => Err(RegisterError::Unsure),
            ended => {
                self.change.set(Change::None);
                ended
            }
        }
    }

    fn roll_back(&self) {
        // A connection that is lost has done so.
        let _ = self.link.borrow_mut().client.batch_execute("ROLLBACK");
        self.change.set(Change::None);
    }

    fn is_new(&self) -> Result<bool, RegisterError> {
        // A role that was not let in would be told that the tables are not there.
        let sql = "SELECT has_schema_privilege('vitreoleaf', 'USAGE')::int FROM pg_catalog.pg_tables \
                   WHERE schemaname = 'vitreoleaf' AND tablename = 'migration'";
        match row(self, sql, &[])? {
            None => Ok(true),
            Some([Value::Number(0)]) => Err(RegisterError::ReadOnly),
            Some([_]) => Ok(false),
        }
    }

    fn found(&self) -> Result<(), RegisterError> {
        self.script(FOUND)
    }

    fn count_on(&self) -> Result<(), RegisterError> {
        COUNTED.iter().try_for_each(|table| {
            let next = format!("(SELECT coalesce(max(id), 0) + 1 FROM {table})");
            self.rows(&format!("SELECT setval(pg_get_serial_sequence('{table}', 'id'), {next}, false)"), &[])
                .map(|_| ())
        })
    }
}

/// A value as the server wants it; nothing has the type that is wanted.
fn parameter<'v>(value: &'v Value, wanted: &Type) -> &'v (dyn ToSql + Sync) {
    match value {
        Value::Number(number) => number,
        Value::Real(real) => real,
        Value::Text(text) => text,
        Value::Bytes(bytes) => bytes,
        Value::Nothing if *wanted == Type::INT8 => &None::<i64>,
        Value::Nothing if *wanted == Type::FLOAT8 => &None::<f64>,
        Value::Nothing if *wanted == Type::BYTEA => &None::<&[u8]>,
        Value::Nothing => &None::<&str>,
    }
}

fn value(row: &postgres::Row, at: usize) -> Result<Value, Error> {
    Ok(match *row.columns()[at].type_() {
        Type::INT8 => row.try_get::<_, Option<i64>>(at)?.into(),
        Type::INT4 => row.try_get::<_, Option<i32>>(at)?.map(i64::from).into(),
        Type::FLOAT8 => row.try_get::<_, Option<f64>>(at)?.into(),
        Type::BYTEA => row.try_get::<_, Option<&[u8]>>(at)?.into(),
        _ => row.try_get::<_, Option<&str>>(at)?.into(),
    })
}

/// Whether the connection is gone: closed, broken, or ended by the server (SQLSTATE classes 08 and 57P, and 25P03).
fn is_lost(error: &Error) -> bool {
    let ended = |code: &str| code.starts_with("08") || code.starts_with("57P") || code == "25P03";
    let broken = std::error::Error::source(error).is_some_and(|source| source.is::<std::io::Error>());
    error.is_closed() || broken || error.code().is_some_and(|code| ended(code.code()))
}

/// By SQLSTATE (documentation of PostgreSQL 15, appendix A). A message of the server may quote what was kept; only those of our
/// own triggers are told (P0001).
impl From<Error> for RegisterError {
    fn from(error: Error) -> Self {
        if is_lost(&error) {
            return Self::Lost;
        }
        let Some(told) = error.as_db_error() else { return Self::Store(error.to_string()) };
        match told.code().code() {
            "23505" if told.constraint() == Some("kept_case_code") => Self::CodeTaken,
            "55P03" | "40001" | "40P01" => Self::Busy,
            "42501" | "25006" => Self::ReadOnly,
            "53100" => Self::Full,
            "58030" => Self::Disk,
            "XX001" | "XX002" => Self::Damaged,
            "P0001" => Self::Store(told.message().to_owned()),
            code => Self::Store(format!("SQLSTATE {code}")),
        }
    }
}
