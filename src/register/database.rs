//! What a store asks of the database behind it: rows for a statement, and changes that are whole or not at all.
//!
//! Statements are the same for every database. Their values stand as `$1`, `$2` in the order in which they first appear.

use std::path::Path;

use super::RegisterError;

/// A database.
pub(super) trait Database: Send {
    /// Runs one statement: the rows it gives.
    fn rows(&self, sql: &str, with: &[Value]) -> Result<Vec<Row>, RegisterError>;

    /// Runs one statement and hands its rows on one by one: there may be many.
    fn each(
        &self,
        sql: &str,
        with: &[Value],
        take: &mut dyn FnMut(Row) -> Result<(), RegisterError>,
    ) -> Result<(), RegisterError> {
        self.rows(sql, with)?.into_iter().try_for_each(take)
    }

    /// Runs statements that need no values and give no rows.
    fn script(&self, sql: &str) -> Result<(), RegisterError>;

    /// Whether the files behind it are whole. [`RegisterError::Damaged`] if not.
    fn check(&self) -> Result<(), RegisterError>;

    /// Writes a copy of everything as it is at one moment into an empty file.
    fn copy_into(&self, path: &Path) -> Result<(), RegisterError>;

    /// Makes sure that what was deleted cannot be read from the files behind it.
    fn overwrite_deleted(&self) -> Result<(), RegisterError>;

    /// Begins a change. No other program changes anything until it ends.
    fn begin(&self) -> Result<(), RegisterError>;

    /// Ends a change: it is on the disk when this comes back.
    fn commit(&self) -> Result<(), RegisterError>;

    /// Takes a change back, if one is open. Some faults have already done so.
    fn roll_back(&self);

    /// Whether there is no store yet: not even a list of the steps that were applied.
    fn is_new(&self) -> Result<bool, RegisterError>;

    /// Makes the list of the steps that are applied, within a change.
    fn found(&self) -> Result<(), RegisterError>;

    /// Has numbers that are given from now on follow those that rows brought along.
    fn count_on(&self) -> Result<(), RegisterError>;
}

/// The values of a row.
pub(super) type Row = Vec<Value>;

/// A value of a statement or of a row.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Value {
    Nothing,
    Number(i64),
    Real(f64),
    Text(String),
    Bytes(Vec<u8>),
}

/// Makes a change, whole or not at all.
pub(super) fn change<T>(
    database: &dyn Database,
    make: impl FnOnce() -> Result<T, RegisterError>,
) -> Result<T, RegisterError> {
    database.begin()?;
    let open = Open(database);
    let made = make()?;
    std::mem::forget(open);
    database.commit().inspect_err(|_| database.roll_back())?;
    Ok(made)
}

/// A change that is taken back unless it is made, whatever goes wrong.
struct Open<'d>(&'d dyn Database);

impl Drop for Open<'_> {
    fn drop(&mut self) {
        self.0.roll_back();
    }
}

/// The one row of a statement, if it gives one.
pub(super) fn row<const N: usize>(
    database: &dyn Database,
    sql: &str,
    with: &[Value],
) -> Result<Option<[Value; N]>, RegisterError> {
    database.rows(sql, with)?.into_iter().next().map(columns).transpose()
}

/// All rows of a statement, each read.
pub(super) fn all<const N: usize, T>(
    database: &dyn Database,
    sql: &str,
    with: &[Value],
    read: impl Fn([Value; N]) -> Result<T, RegisterError>,
) -> Result<Vec<T>, RegisterError> {
    let mut found = Vec::new();
    database.each(sql, with, &mut |row| {
        found.push(read(columns(row)?)?);
        Ok(())
    })?;
    Ok(found)
}

fn columns<const N: usize>(row: Row) -> Result<[Value; N], RegisterError> {
    row.try_into().map_err(|_| unreadable())
}

fn unreadable() -> RegisterError {
    RegisterError::Unreadable("a value".into())
}

impl Value {
    pub(super) fn number(self) -> Result<i64, RegisterError> {
        match self {
            Self::Number(number) => Ok(number),
            _ => Err(unreadable()),
        }
    }

    pub(super) fn real(self) -> Result<f64, RegisterError> {
        match self {
            Self::Real(real) => Ok(real),
            _ => Err(unreadable()),
        }
    }

    /// What stands there, if anything does.
    pub(super) fn maybe<T>(self, read: impl Fn(Self) -> Result<T, RegisterError>) -> Result<Option<T>, RegisterError> {
        if self == Self::Nothing { Ok(None) } else { read(self).map(Some) }
    }

    pub(super) fn text(self) -> Result<String, RegisterError> {
        match self {
            Self::Text(text) => Ok(text),
            _ => Err(unreadable()),
        }
    }

    pub(super) fn bytes(self) -> Result<Vec<u8>, RegisterError> {
        match self {
            Self::Bytes(bytes) => Ok(bytes),
            _ => Err(unreadable()),
        }
    }
}

impl From<i64> for Value {
    fn from(number: i64) -> Self {
        Self::Number(number)
    }
}

impl From<f64> for Value {
    fn from(real: f64) -> Self {
        Self::Real(real)
    }
}

impl From<u32> for Value {
    fn from(number: u32) -> Self {
        Self::Number(number.into())
    }
}

impl From<bool> for Value {
    fn from(is: bool) -> Self {
        Self::Number(is.into())
    }
}

impl From<&str> for Value {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

impl From<&String> for Value {
    fn from(text: &String) -> Self {
        Self::Text(text.clone())
    }
}

impl From<String> for Value {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<&[u8]> for Value {
    fn from(bytes: &[u8]) -> Self {
        Self::Bytes(bytes.to_vec())
    }
}

impl<T: Into<Self>> From<Option<T>> for Value {
    fn from(value: Option<T>) -> Self {
        value.map_or(Self::Nothing, Into::into)
    }
}

/// The values of a statement.
macro_rules! values {
    ($($value:expr),* $(,)?) => { [$($crate::register::database::Value::from($value)),*] };
}
pub(super) use values;
