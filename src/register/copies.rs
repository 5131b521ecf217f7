//! Copies of everything from one database into another, table by table: how a register on a server becomes a file, and a file
//! a register on a server.

use super::RegisterError;
use super::database::{Database, Value, change, row};
use super::migrations::{self, SQLITE};

/// Most rows that are held at once: files may be large.
const AT_ONCE: usize = 64;

/// A table: its name, how many columns at the beginning are its key, and its columns.
type Table = (&'static str, usize, &'static [&'static str]);

/// The tables, each after those it refers to; words in which a case is sought come with their case.
const TABLES: [Table; 9] = [
    ("setting", 1, &["name", "value"]),
    ("kept_case", 1, &["id", "version", "file", "code", "starts", "sought", "asked", "erased"]),
    ("change", 2, &["case_id", "version", "file", "what", "by", "at", "taken_back"]),
    (
        "session",
        1,
        &[
            "case_id",
            "code",
            "record_number",
            "side",
            "surgeon",
            "on_day",
            "lens",
            "focus",
            "optic",
            "floater",
            "acuity",
            "pressure_before_mmhg",
            "pressure_day_mmhg",
            "energy_mj",
            "pulses",
            "events",
            "booked",
        ],
    ),
    ("ledger", 1, &["number", "kind", "case_id", "part_of", "at", "commitment", "hash"]),
    ("payload", 1, &["number", "salt", "body"]),
    ("person", 1, &["name", "role", "passphrase", "number"]),
    (
        "outcome",
        1,
        &[
            "id",
            "case_id",
            "visit",
            "on_day",
            "pressure_mmhg",
            "acuity",
            "bother_before",
            "bother_after",
            "questionnaire",
            "change",
            "further_laser",
            "surgery",
            "lost",
            "events",
            "withdrawn",
            "by",
            "at",
            "replaces",
        ],
    ),
    ("erased", 1, &["number", "erasure"]),
];

/// Writes everything into an empty file of the embedded store.
pub(super) fn into_file(from: &dyn Database, file: &dyn Database) -> Result<(), RegisterError> {
    migrations::apply(file, SQLITE)?;
    change(file, || all(from, file))
}

/// Writes everything into a store that has its form and holds nothing.
pub(super) fn into_empty(from: &dyn Database, to: &dyn Database) -> Result<(), RegisterError> {
    change(to, || {
        for (table, ..) in TABLES {
            if row::<1>(to, &format!("SELECT 1 FROM {table} LIMIT 1"), &[])?.is_some() {
                return Err(RegisterError::NotEmpty);
            }
        }
        all(from, to)?;
        to.count_on()
    })
}

fn all(from: &dyn Database, to: &dyn Database) -> Result<(), RegisterError> {
    TABLES.iter().try_for_each(|table| one(from, to, table))
}

fn one(from: &dyn Database, to: &dyn Database, (table, key, columns): &Table) -> Result<(), RegisterError> {
    let names = columns.join(", ");
    let put = format!("INSERT INTO {table} ({names}) VALUES ({})", numbered(columns.len()));
    let keys = columns[..*key].join(", ");
    let end = format!("ORDER BY {keys} LIMIT {AT_ONCE}");
    let mut sql = format!("SELECT {names} FROM {table} {end}");
    let mut last: Vec<Value> = Vec::new();
    loop {
        let rows = from.rows(&sql, &last)?;
        for row in &rows {
            to.rows(&put, row)?;
        }
        match rows.into_iter().nth(AT_ONCE - 1) {
            Some(row) => last = row.into_iter().take(*key).collect(),
            None => return Ok(()),
        }
        sql = format!("SELECT {names} FROM {table} WHERE ({keys}) > ({}) {end}", numbered(*key));
    }
}

/// `$1, $2` and so on.
fn numbered(count: usize) -> String {
    (1..=count).map(|number| format!("${number}")).collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::path::Path;

    use super::super::sqlite::Sqlite;
    use super::*;

    #[test]
    fn no_table_and_no_column_is_left_out() {
        let store = Sqlite::copy(Path::new(":memory:")).unwrap();
        migrations::apply(&store, SQLITE).unwrap();
        let sql = "SELECT t.name, c.name FROM sqlite_schema t, pragma_table_info(t.name) c \
                   WHERE t.type = 'table' AND t.name NOT LIKE 'sqlite_%' AND t.name NOT IN ('migration', 'sought_word')";
        let there: BTreeSet<(String, String)> = store
            .rows(sql, &[])
            .unwrap()
            .into_iter()
            .map(|row| <[Value; 2]>::try_from(row).unwrap().map(|name| name.text().unwrap()).into())
            .collect();
        let copied = TABLES.iter().flat_map(|(table, _, columns)| columns.iter().map(|column| (*table, *column)));
        assert_eq!(copied.map(|(table, column)| (table.into(), column.into())).collect::<BTreeSet<_>>(), there);
    }
}
