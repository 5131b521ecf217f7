//! What the trait promises, in SQL.

use chrono::{NaiveDate, NaiveDateTime};
use rusqlite::{Connection, OptionalExtension, Params, Row, Transaction, TransactionBehavior, params};

use super::Sqlite;
use crate::facts::Moment;
use crate::record::form::KnownBy;
use crate::record::identity::folded_number;
use crate::register::{
    Act, CaseFile, CaseId, Filed, Issue, IssueId, Issued, IssuedFile, Passphrase, Person, Register, RegisterError,
    Revision, Version, Why, sha256,
};

const TIME: &str = "%Y-%m-%dT%H:%M:%S";

const CASE: &str = "SELECT id, version, file FROM kept_case";

impl Sqlite {
    fn change<T>(&mut self, make: impl FnOnce(&Transaction) -> Result<T, RegisterError>) -> Result<T, RegisterError> {
        let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let made = make(&transaction)?;
        transaction.commit()?;
        Ok(made)
    }

    fn cases(&self, rest: &str, with: impl Params) -> Result<Vec<Filed>, RegisterError> {
        rows(&self.connection, &format!("{CASE} {rest}"), with, filed)?.into_iter().collect()
    }
}

impl Register for Sqlite {
    fn people(&self) -> Result<Vec<Person>, RegisterError> {
        rows(&self.connection, "SELECT name, role, passphrase FROM person ORDER BY name", [], |row| {
            let role: String = row.get(1)?;
            Ok(Person { name: row.get(0)?, role: role_of(&role), passphrase: Passphrase(row.get(2)?) })
        })
    }

    fn put_person(&mut self, person: &Person) -> Result<(), RegisterError> {
        self.change(|store| {
            let row = (&person.name, role_word(person.role), &person.passphrase.0);
            store.execute("INSERT OR REPLACE INTO person VALUES (?1, ?2, ?3)", row)?;
            Ok(())
        })
    }

    fn add(&mut self, file: &CaseFile) -> Result<CaseId, RegisterError> {
        self.change(|store| {
            store
                .execute(
                    "INSERT INTO kept_case (version, file, code, starts, sought, asked) VALUES (1, ?1, ?2, ?3, ?4, ?5)",
                    (file.written()?, file.code(), file.starts().map(time), file.sought(), asked_at(file)),
                )
                .map_err(code_taken)?;
            Ok(store.last_insert_rowid())
        })
    }

    fn case(&self, id: CaseId) -> Result<Option<Filed>, RegisterError> {
        one_case(&self.connection, id)
    }

    fn by_code(&self, code: &str) -> Result<Option<CaseId>, RegisterError> {
        let sql = "SELECT id FROM kept_case WHERE code = ?1";
        Ok(self.connection.query_row(sql, [code], |row| row.get(0)).optional()?)
    }

    fn at_version(&self, id: CaseId, version: Version) -> Result<Option<CaseFile>, RegisterError> {
        if let Some(now) = self.case(id)?.filter(|now| now.version == version) {
            return Ok(Some(now.file));
        }
        let sql = "SELECT file FROM change WHERE case_id = ?1 AND version = ?2";
        let text: Option<String> = self.connection.query_row(sql, [id, version], |row| row.get(0)).optional()?;
        text.map(|text| CaseFile::read(&text)).transpose()
    }

    fn save(&mut self, seen: &Filed, file: &CaseFile, act: &Act) -> Result<Version, RegisterError> {
        self.change(|store| {
            let now = one_case(store, seen.id)?.ok_or(RegisterError::NoCase)?;
            if now.version != seen.version {
                return Err(RegisterError::Changed);
            }
            overwrite(store, &now, file, act, false)
        })
    }

    fn last_change(&self, id: CaseId) -> Result<Option<String>, RegisterError> {
        let sql = format!("SELECT what FROM change {TO_TAKE_BACK}");
        Ok(self.connection.query_row(&sql, [id], |row| row.get(0)).optional()?)
    }

    fn undo(&mut self, id: CaseId, act: &Act) -> Result<Option<String>, RegisterError> {
        self.change(|store| {
            let last: Option<(Version, String, String)> = store
                .query_row(&format!("SELECT version, file, what FROM change {TO_TAKE_BACK}"), [id], |row| {
                    Ok((row.get(0)?, row.get(1)?, row.get(2)?))
                })
                .optional()?;
            let Some((version, file, what)) = last else { return Ok(None) };
            let now = one_case(store, id)?.ok_or(RegisterError::NoCase)?;
            store.execute("UPDATE change SET taken_back = 1 WHERE case_id = ?1 AND version = ?2", [id, version])?;
            overwrite(store, &now, &CaseFile::read(&file)?, act, true)?;
            Ok(Some(what))
        })
    }

    fn forget_before(&mut self, at: NaiveDateTime) -> Result<(), RegisterError> {
        self.change(|store| {
            store.execute("DELETE FROM change WHERE at < ?1", [time(at)])?;
            Ok(())
        })
    }

    fn day(&self, day: NaiveDate) -> Result<Vec<Filed>, RegisterError> {
        let next = day.succ_opt().unwrap_or(day);
        let between = (day.format("%Y-%m-%d").to_string(), next.format("%Y-%m-%d").to_string());
        self.cases("WHERE starts >= ?1 AND starts < ?2 ORDER BY starts, id", between)
    }

    fn undated(&self, most: u32) -> Result<Vec<Filed>, RegisterError> {
        self.cases("WHERE starts IS NULL ORDER BY id DESC LIMIT ?1", [most])
    }

    fn asked(&self) -> Result<Vec<Filed>, RegisterError> {
        self.cases("WHERE asked IS NOT NULL ORDER BY asked, id", [])
    }

    fn find(&self, words: &str, most: u32) -> Result<Vec<Filed>, RegisterError> {
        let words: Vec<String> = words.split_whitespace().map(folded_number).filter(|word| !word.is_empty()).collect();
        if words.is_empty() {
            return Ok(Vec::new());
        }
        let holds: Vec<String> = (1..=words.len()).map(|at| format!("instr(sought, ?{at}) > 0")).collect();
        let rest = format!("WHERE {} ORDER BY id DESC LIMIT {most}", holds.join(" AND "));
        self.cases(&rest, rusqlite::params_from_iter(words))
    }

    fn of_patient(&self, name: &str, record_number: &str) -> Result<Vec<Filed>, RegisterError> {
        let texts = [name, record_number].map(folded_number);
        // A text that is sought stands between blanks and holds none; an empty one would be found everywhere.
        let is_there = |at: usize| format!("(?{at} <> '' AND instr(' ' || sought || ' ', ' ' || ?{at} || ' ') > 0)");
        self.cases(&format!("WHERE {} OR {} ORDER BY id", is_there(1), is_there(2)), texts)
    }

    fn all(&self) -> Result<Vec<CaseId>, RegisterError> {
        rows(&self.connection, "SELECT id FROM kept_case ORDER BY id", [], |row| row.get(0))
    }

    fn keep(&mut self, id: CaseId, why: Why, by: &str, at: NaiveDateTime) -> Result<(), RegisterError> {
        self.change(|store| keep(store, id, why, by, at))
    }

    fn revisions(&self, id: CaseId) -> Result<Vec<Revision>, RegisterError> {
        let sql = "SELECT version, why, file, by, at FROM revision WHERE case_id = ?1 ORDER BY rowid";
        let read = |row: &Row| {
            let (version, why, file, by, at) =
                (row.get(0)?, row.get(1)?, row.get::<_, String>(2)?, row.get(3)?, row.get::<_, String>(4)?);
            Ok(CaseFile::read(&file).and_then(|file| Ok(Revision { version, why, file, by, at: read_time(&at)? })))
        };
        rows(&self.connection, sql, [id], read)?.into_iter().collect()
    }

    fn issue(&mut self, issue: &Issue, files: &[(&str, &[u8])]) -> Result<IssueId, RegisterError> {
        self.change(|store| {
            keep(store, issue.case, Why::Issued, &issue.by, issue.at)?;
            store.execute(
                "INSERT INTO issue (case_id, moment, revision, record_hash, program, language, by, at, withheld) \
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
                params![
                    issue.case,
                    issue.moment.word(),
                    issue.revision,
                    issue.record_hash,
                    issue.program,
                    issue.language,
                    issue.by,
                    time(issue.at),
                    issue.withheld
                ],
            )?;
            let id = store.last_insert_rowid();
            for (place, (name, bytes)) in (0_i64..).zip(files) {
                let row = params![id, place, name, sha256(bytes), bytes];
                store.execute("INSERT INTO issued_file VALUES (?1, ?2, ?3, ?4, ?5)", row)?;
            }
            Ok(id)
        })
    }

    fn issues(&self, id: CaseId) -> Result<Vec<Issued>, RegisterError> {
        issues(&self.connection, "case_id = ?1 ORDER BY id DESC", id)
    }

    fn issued(&self, id: IssueId) -> Result<Option<Issued>, RegisterError> {
        Ok(issues(&self.connection, "id = ?1", id)?.pop())
    }

    fn issued_file(&self, issue: IssueId, place: usize) -> Result<Option<(String, Vec<u8>)>, RegisterError> {
        let place = i64::try_from(place).unwrap_or(i64::MAX);
        let sql = "SELECT name, bytes FROM issued_file WHERE issue_id = ?1 AND place = ?2";
        Ok(self.connection.query_row(sql, [issue, place], |row| Ok((row.get(0)?, row.get(1)?))).optional()?)
    }

    fn setting(&self, name: &str) -> Result<Option<String>, RegisterError> {
        let sql = "SELECT value FROM setting WHERE name = ?1";
        Ok(self.connection.query_row(sql, [name], |row| row.get(0)).optional()?)
    }

    fn set(&mut self, name: &str, value: &str) -> Result<(), RegisterError> {
        self.change(|store| {
            store.execute("INSERT OR REPLACE INTO setting VALUES (?1, ?2)", [name, value])?;
            Ok(())
        })
    }
}

/// The change that undo reaches next.
const TO_TAKE_BACK: &str = "WHERE case_id = ?1 AND taken_back = 0 ORDER BY version DESC LIMIT 1";

/// Overwrites a case and remembers what it was. An undo is itself a change that is not taken back.
fn overwrite(
    store: &Connection,
    now: &Filed,
    file: &CaseFile,
    act: &Act,
    is_undo: bool,
) -> Result<Version, RegisterError> {
    let before = now.file.written()?;
    store.execute(
        "INSERT INTO change VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
        params![now.id, now.version, before, act.what, act.by, time(act.at), is_undo],
    )?;
    let version = now.version + 1;
    store
        .execute(
            "UPDATE kept_case SET version = ?2, file = ?3, code = ?4, starts = ?5, sought = ?6, asked = ?7 WHERE id = ?1",
            params![
                now.id,
                version,
                file.written()?,
                file.code(),
                file.starts().map(time),
                file.sought(),
                asked_at(file)
            ],
        )
        .map_err(code_taken)?;
    Ok(version)
}

fn keep(store: &Connection, id: CaseId, why: Why, by: &str, at: NaiveDateTime) -> Result<(), RegisterError> {
    let now = one_case(store, id)?.ok_or(RegisterError::NoCase)?;
    let row = params![id, now.version, why.word(), now.file.written()?, by, time(at)];
    store.execute("INSERT INTO revision VALUES (?1, ?2, ?3, ?4, ?5, ?6)", row)?;
    Ok(())
}

fn one_case(store: &Connection, id: CaseId) -> Result<Option<Filed>, RegisterError> {
    store.query_row(&format!("{CASE} WHERE id = ?1"), [id], filed).optional()?.transpose()
}

fn rows<T>(
    store: &Connection,
    sql: &str,
    with: impl Params,
    read: impl FnMut(&Row) -> rusqlite::Result<T>,
) -> Result<Vec<T>, RegisterError> {
    let mut statement = store.prepare(sql)?;
    let rows = statement.query_map(with, read)?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// A row of [`CASE`].
fn filed(row: &Row) -> rusqlite::Result<Result<Filed, RegisterError>> {
    let (id, version, file) = (row.get(0)?, row.get(1)?, row.get::<_, String>(2)?);
    Ok(CaseFile::read(&file).map(|file| Filed { id, version, file }))
}

fn issues(store: &Connection, which: &str, id: i64) -> Result<Vec<Issued>, RegisterError> {
    let sql = format!(
        "SELECT id, case_id, moment, revision, record_hash, program, language, by, at, withheld FROM issue WHERE {which}"
    );
    let found = rows(store, &sql, [id], |row| Ok((row.get::<_, IssueId>(0)?, issue(row)?)))?;
    let files = "SELECT name, sha256 FROM issued_file WHERE issue_id = ?1 ORDER BY place";
    let with_files = |(id, issue): (IssueId, Result<Issue, RegisterError>)| {
        let file = |row: &Row| Ok(IssuedFile { name: row.get(0)?, sha256: row.get(1)? });
        Ok(Issued { id, issue: issue?, files: rows(store, files, [id], file)? })
    };
    found.into_iter().map(with_files).collect()
}

/// Since when a case waits for the surgeon.
fn asked_at(file: &CaseFile) -> Option<String> {
    file.asked.as_ref().map(|asked| time(asked.at))
}

fn issue(row: &Row) -> rusqlite::Result<Result<Issue, RegisterError>> {
    let (moment, at): (String, String) = (row.get(2)?, row.get(8)?);
    let issue = |at| -> rusqlite::Result<Issue> {
        Ok(Issue {
            case: row.get(1)?,
            moment: if moment == Moment::After.word() { Moment::After } else { Moment::Before },
            revision: row.get(3)?,
            record_hash: row.get(4)?,
            program: row.get(5)?,
            language: row.get(6)?,
            by: row.get(7)?,
            at,
            withheld: row.get(9)?,
        })
    };
    match read_time(&at) {
        Ok(at) => Ok(Ok(issue(at)?)),
        Err(error) => Ok(Err(error)),
    }
}

fn code_taken(error: rusqlite::Error) -> RegisterError {
    let taken =
        error.sqlite_error().is_some_and(|error| error.extended_code == rusqlite::ffi::SQLITE_CONSTRAINT_UNIQUE);
    if taken { RegisterError::CodeTaken } else { error.into() }
}

fn time(at: NaiveDateTime) -> String {
    at.format(TIME).to_string()
}

fn read_time(text: &str) -> Result<NaiveDateTime, RegisterError> {
    NaiveDateTime::parse_from_str(text, TIME).map_err(|_| RegisterError::Unreadable("a time".into()))
}

fn role_word(role: KnownBy) -> &'static str {
    match role {
        KnownBy::Desk => "desk",
        KnownBy::Nurse => "nurse",
        KnownBy::Surgeon => "surgeon",
    }
}

/// The table takes no other word.
fn role_of(word: &str) -> KnownBy {
    match word {
        "surgeon" => KnownBy::Surgeon,
        "nurse" => KnownBy::Nurse,
        _ => KnownBy::Desk,
    }
}
