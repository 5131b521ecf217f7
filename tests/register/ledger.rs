//! The ledger of the embedded store: nothing in it can be changed through SQL, and what was changed beside it is found.

use std::fs;
use std::path::{Path, PathBuf};

use rusqlite::Connection;
use serde_json::json;
use vitreoleaf::record::form::KnownBy;
use vitreoleaf::register::{Broken, Fault, NewOutcome, Register, Why, sha256};
use vitreoleaf::results::{Change, Outcome};

use super::faults::insist;
use super::{at, file, issue, open, person};

/// What somebody was given.
const PAGE: &[u8] = b"the page that somebody was given";

/// A store with an issue of two files, the case as it was, and a signature: rows 1 to 5.
fn kept(folder: &Path) -> PathBuf {
    let path = folder.join("register.sqlite3");
    let mut store = open(&path).unwrap();
    let id = store.add(&file("A-1", "Rosa Beispiel", None)).unwrap();
    store.issue(&issue(id), &[("a.pdf", PAGE), ("b.pdf", b"another")]).unwrap();
    store.keep(id, Why::Signed, "Dr. Ada Sample", at("12:00")).unwrap();
    path
}

fn broken(path: &Path) -> Broken {
    open(path).unwrap().verify(None).unwrap().unwrap_err()
}

#[test]
fn no_statement_changes_what_was_kept() {
    let folder = tempfile::tempdir().unwrap();
    let path = kept(folder.path());
    let connection = Connection::open(&path).unwrap();
    for sql in [
        "UPDATE ledger SET at = '2026-01-01T00:00:00'",
        "UPDATE ledger SET number = 9 WHERE number = 5",
        "DELETE FROM ledger WHERE number = 5",
        "INSERT OR REPLACE INTO ledger SELECT number, kind, case_id, part_of, '2026', commitment, hash FROM ledger",
        "INSERT OR REPLACE INTO ledger SELECT 9, kind, case_id, part_of, at, commitment, hash FROM ledger WHERE number = 5",
        "INSERT OR REPLACE INTO ledger SELECT 7, kind, case_id, part_of, at, commitment, 'x' FROM ledger WHERE number = 5",
        "UPDATE payload SET body = x'00' WHERE number = 2",
        "UPDATE OR REPLACE payload SET number = 3 WHERE number = 2",
        "DELETE FROM payload WHERE number = 2",
        "INSERT OR REPLACE INTO payload VALUES (2, x'00', x'00')",
        "INSERT INTO payload VALUES (2, x'00', x'00') ON CONFLICT (number) DO UPDATE SET body = excluded.body",
        "INSERT INTO erased VALUES (2, 1)",
        "INSERT INTO erased VALUES (2, 99)",
    ] {
        assert!(connection.execute_batch(sql).is_err(), "{sql}");
    }
    assert_eq!(open(&path).unwrap().verify(None).unwrap().unwrap().head.number, 5);
}

#[test]
fn what_was_changed_beside_the_triggers_is_found_at_its_first_row() {
    let again = "UPDATE ledger SET hash = 'ab' WHERE number = 5";
    for (sql, number, what) in [
        ("UPDATE ledger SET at = '2026-08-07T11:41:00' WHERE number = 3", 3, Fault::Hash),
        ("UPDATE ledger SET case_id = NULL WHERE number = 1", 1, Fault::Hash),
        ("UPDATE ledger SET commitment = 'ab' WHERE number = 4", 4, Fault::Hash),
        (again, 5, Fault::Hash),
        ("DELETE FROM ledger WHERE number = 2", 2, Fault::Missing),
        ("UPDATE payload SET body = x'00' WHERE number = 2", 2, Fault::Content),
        ("UPDATE payload SET salt = x'00' WHERE number = 4", 4, Fault::Content),
        ("DELETE FROM payload WHERE number = 3", 3, Fault::Gone),
        ("INSERT INTO erased VALUES (3, 5); DELETE FROM payload WHERE number = 3", 3, Fault::Erased),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let path = kept(folder.path());
        beside_the_triggers(&path, sql);
        assert_eq!(broken(&path), Broken { number, what }, "{sql}");
    }
}

/// An outcome and a correction of it: rows 1 and 2.
fn seen(folder: &Path) -> PathBuf {
    let path = folder.join("register.sqlite3");
    let mut store = open(&path).unwrap();
    let case = store.add(&file("A-1", "Rosa Beispiel", None)).unwrap();
    let outcome = |change| Outcome { change, ..Outcome::at("week", at("12:00").date()) };
    let new = |change, replaces| NewOutcome {
        case,
        outcome: Some(outcome(change)),
        replaces,
        by: "Ada".into(),
        at: at("12:00"),
    };
    store.put_outcomes(&[new(Change::Same, None), new(Change::MuchBetter, Some(1))]).unwrap();
    path
}

/// Changes something where no trigger watches.
fn beside_the_triggers(path: &Path, sql: &str) {
    let connection = Connection::open(path).unwrap();
    connection.pragma_update(None, "foreign_keys", false).unwrap();
    let names = "SELECT 'DROP TRIGGER ' || name FROM sqlite_schema WHERE type = 'trigger'";
    let drops: Vec<String> =
        connection.prepare(names).unwrap().query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect();
    connection.execute_batch(&drops.join(";")).unwrap();
    connection.execute_batch(sql).unwrap();
}

#[test]
fn an_outcome_that_is_counted_otherwise_than_it_was_kept_is_found_at_its_row() {
    for (sql, number, what) in [
        ("UPDATE outcome SET change = 'gone' WHERE id = 1", 1, Fault::Outcome),
        ("UPDATE outcome SET by = 'Max' WHERE id = 2", 2, Fault::Outcome),
        ("UPDATE outcome SET withdrawn = 1 WHERE id = 2", 2, Fault::Outcome),
        ("UPDATE outcome SET replaces = NULL WHERE id = 2", 2, Fault::Outcome),
        (
            "INSERT INTO kept_case SELECT 2, version, file, NULL, starts, sought, asked, erased FROM kept_case; \
          UPDATE outcome SET case_id = 2 WHERE id = 1",
            1,
            Fault::Outcome,
        ),
        ("UPDATE outcome SET change = 'splendid' WHERE id = 2", 2, Fault::Unreadable),
        ("DELETE FROM outcome WHERE id = 1", 1, Fault::Outcome),
        ("UPDATE outcome SET id = 9, replaces = NULL WHERE id = 2", 2, Fault::Outcome),
        (
            "INSERT INTO outcome SELECT 9, case_id, visit, on_day, NULL, NULL, NULL, NULL, NULL, change, NULL, NULL, lost, NULL, \
          withdrawn, by, at, NULL FROM outcome WHERE id = 1",
            9,
            Fault::Missing,
        ),
        (
            "UPDATE payload SET body = CAST(replace(CAST(body AS TEXT), 'much_better', 'gone') AS BLOB) WHERE number = 2",
            2,
            Fault::Content,
        ),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let path = seen(folder.path());
        assert_eq!(open(&path).unwrap().verify(None).unwrap().unwrap().head.number, 2);
        beside_the_triggers(&path, sql);
        assert_eq!(broken(&path), Broken { number, what }, "{sql}");
    }
}

/// Ada, Max who became of the desk, and Kim who was taken out: rows 1 to 5.
fn people(folder: &Path) -> PathBuf {
    let path = folder.join("register.sqlite3");
    let mut store = open(&path).unwrap();
    for (name, role) in
        [("Ada", KnownBy::Surgeon), ("Max", KnownBy::Nurse), ("Max", KnownBy::Desk), ("Kim", KnownBy::Nurse)]
    {
        store.put_person(&person(name, role), "Ada", at("08:00")).unwrap();
    }
    store.take_out_person("Kim", "Ada", at("09:00")).unwrap();
    path
}

#[test]
fn no_statement_changes_a_person_without_a_row_of_the_ledger() {
    let folder = tempfile::tempdir().unwrap();
    let path = people(folder.path());
    let connection = Connection::open(&path).unwrap();
    for sql in [
        "UPDATE person SET role = 'surgeon' WHERE name = 'Max'",
        "UPDATE person SET passphrase = 'x', number = 2 WHERE name = 'Max'",
        "INSERT INTO person VALUES ('Eve', 'surgeon', 'x', 99)",
        "INSERT OR REPLACE INTO person VALUES ('Max', 'surgeon', 'x', 99)",
        "UPDATE person SET number = 99 WHERE name = 'Max'",
    ] {
        assert!(connection.execute_batch(sql).is_err(), "{sql}");
    }
    assert_eq!(open(&path).unwrap().verify(None).unwrap().unwrap().head.number, 5);
}

#[test]
fn a_person_who_may_otherwise_than_was_told_is_found_at_their_row() {
    for (sql, number, what) in [
        ("UPDATE person SET role = 'surgeon' WHERE name = 'Max'", 3, Fault::Person),
        ("UPDATE person SET passphrase = 'x' WHERE name = 'Ada'", 1, Fault::Person),
        ("UPDATE person SET role = 'nurse', number = 2 WHERE name = 'Max'", 3, Fault::Person),
        ("DELETE FROM person WHERE name = 'Max'", 3, Fault::Person),
        ("DELETE FROM person", 1, Fault::Person),
        ("INSERT INTO person SELECT 'Eve', role, passphrase, 5 FROM person WHERE name = 'Ada'", 5, Fault::Person),
        ("INSERT INTO person SELECT 'Kim', 'nurse', passphrase, 4 FROM person WHERE name = 'Ada'", 4, Fault::Person),
        (
            "UPDATE payload SET body = CAST(replace(CAST(body AS TEXT), 'nurse', 'surgeon') AS BLOB) WHERE number = 2",
            2,
            Fault::Content,
        ),
        ("DELETE FROM ledger WHERE number = 5", 4, Fault::Person),
    ] {
        let folder = tempfile::tempdir().unwrap();
        let path = people(folder.path());
        beside_the_triggers(&path, sql);
        assert_eq!(broken(&path), Broken { number, what }, "{sql}");
    }
}

#[test]
fn a_byte_that_flips_in_an_outcome_is_found() {
    let folder = tempfile::tempdir().unwrap();
    let path = seen(folder.path());
    let sound = fs::read(&path).unwrap();
    let places: Vec<usize> = (0..sound.len() - 11).filter(|at| &sound[*at..*at + 11] == b"much_better").collect();
    assert!(places.len() > 1, "in its columns and in what is kept");
    for place in places {
        let mut flipped = sound.clone();
        flipped[place] ^= 1;
        fs::write(&path, flipped).unwrap();
        assert_eq!(broken(&path).number, 2);
    }
}

#[test]
fn a_byte_that_flips_in_the_file_is_found() {
    let folder = tempfile::tempdir().unwrap();
    let path = kept(folder.path());
    let sound = fs::read(&path).unwrap();
    let place = sound.windows(PAGE.len()).position(|bytes| bytes == PAGE).unwrap();
    for at in [place, place + PAGE.len() - 1] {
        let mut flipped = sound.clone();
        flipped[at] ^= 1;
        fs::write(&path, flipped).unwrap();
        assert_eq!(broken(&path), Broken { number: 2, what: Fault::Content });
    }
}

#[test]
fn what_was_erased_stands_nowhere_in_the_files() {
    let folder = tempfile::tempdir().unwrap();
    let path = kept(folder.path());
    let mut store = open(&path).unwrap();
    store.put_person(&person("Ada", KnownBy::Surgeon), "Ada", at("12:30")).unwrap();
    let case = store.by_code("A-1").unwrap().unwrap();
    store.erase(case, "Ada", "asked for", at("13:00")).unwrap();
    for entry in fs::read_dir(folder.path()).unwrap() {
        let bytes = fs::read(entry.unwrap().path()).unwrap();
        for words in [PAGE, b"Rosa", b"rosa"] {
            assert!(!bytes.windows(words.len()).any(|part| part == words), "{}", String::from_utf8_lossy(words));
        }
    }
}

/// The statements of earlier forms, as they were released.
const BEFORE: [&str; 7] = [
    include_str!("../../src/register/migrations/sqlite/0001-cases.sql"),
    include_str!("../../src/register/migrations/sqlite/0002-asked.sql"),
    include_str!("../../src/register/migrations/sqlite/0003-outcomes.sql"),
    include_str!("../../src/register/migrations/sqlite/0004-own-words.sql"),
    include_str!("../../src/register/migrations/sqlite/0005-ledger.sql"),
    include_str!("../../src/register/migrations/sqlite/0006-namesakes.sql"),
    include_str!("../../src/register/migrations/sqlite/0007-sessions.sql"),
];

/// An empty store as the program left it after so many steps.
pub(super) fn earlier(path: &Path, steps: usize) -> Connection {
    let connection = Connection::open(path).unwrap();
    connection.pragma_update(None, "application_id", 0x564C_5247).unwrap();
    connection
        .execute_batch("CREATE TABLE migration (number INTEGER NOT NULL PRIMARY KEY, checksum TEXT NOT NULL)")
        .unwrap();
    for (sql, number) in BEFORE[..steps].iter().zip(1..) {
        connection.execute_batch(sql).unwrap();
        if number == 5 {
            connection.execute_batch("DROP TABLE issued_file; DROP TABLE issue; DROP TABLE revision").unwrap();
        }
        let row = (number, sha256(sql.replace("\r\n", "\n").as_bytes()));
        connection.execute("INSERT INTO migration VALUES (?1, ?2)", row).unwrap();
    }
    connection
}

/// Outcomes as they stood outside the ledger, of the one case there is: one, its correction, and one of who was lost.
pub(super) const OUTCOMES: &str = "INSERT INTO outcome (id, case_id, visit, on_day, pressure_mmhg, acuity, change, lost, events, withdrawn, by, at, replaces) VALUES \
     (4, 1, 'week', '2026-08-14', 17.5, '20/40-1', 'same', 0, NULL, 0, 'Kim', '2026-08-14T09:00:00', NULL), \
     (6, 1, 'week', '2026-08-14', 17.5, '20/40-1', 'gone', 0, '[{\"kind\":\"tear\",\"on\":\"2026-08-12\",\"severity\":\"mild\"}]', \
      0, 'Ada', '2026-08-15T09:00:00', 4), \
     (7, 1, 'month', '2026-09-07', NULL, NULL, NULL, 1, NULL, 0, 'Kim', '2026-09-07T09:00:00', NULL)";

/// The case they are of, its session, and who was there before the ledger told of people.
pub(super) fn treated() -> String {
    let record = json!({
        "patient": { "record_number": "1" }, "eye": { "side": "left" },
        "plan": { "surgeon": "sample", "visits": [{ "visit": "week", "at": "2026-08-14T09:00" }] },
        "treatment": { "last_pulse": "2026-08-07T10:25" },
    });
    format!(
        "INSERT INTO kept_case (id, version, file, code, starts, sought) VALUES (1, 1, '{}', 'A-1', NULL, 'one a1'); \
         INSERT INTO session VALUES (1, 'A-1', '1', 'left', 'sample', '2026-08-07', 'unknown', 'unknown', 'unknown', 'unknown', \
         'unknown', NULL, NULL, 0, 0, '[]'); \
         INSERT INTO person VALUES ('Ada', 'surgeon', 'kept');",
        json!({ "record": record })
    )
}

/// What must have become of them, however many programs brought the store to this form at once.
pub(super) fn brought_over(store: &Register) {
    let kept = store.outcomes(1).unwrap();
    let seen: Vec<_> = kept.iter().map(|kept| (kept.id, kept.by.as_str(), kept.outcome.change)).collect();
    assert_eq!(seen, [(2, "Ada", Change::Gone), (3, "Kim", Change::Unknown)]);
    assert_eq!((kept[0].outcome.events.len(), kept[0].at.to_string().as_str()), (1, "2026-08-15 09:00:00"));
    assert_eq!(store.session(1).unwrap().unwrap().booked.len(), 1);
    let found = store.verify(None).unwrap().unwrap();
    assert_eq!((found.head.number, found.set_back), (4, vec![]));
    let told = store.person_changes().unwrap().swap_remove(0);
    assert_eq!((told.name.as_str(), told.role, told.by), ("Ada", Some(KnownBy::Surgeon), None));
    assert_eq!((store.people().unwrap().len(), told.at), (1, store.outcomes(1).unwrap()[1].at), "nobody knows when");
}

#[test]
fn outcomes_and_people_of_an_earlier_form_are_bound_into_the_ledger_by_several_programs_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.sqlite3");
    earlier(&path, 7).execute_batch(&format!("{} {OUTCOMES}", treated())).unwrap();
    std::thread::scope(|scope| {
        let opened: Vec<_> = (0..4).map(|_| scope.spawn(|| drop(insist(|| open(&path))))).collect();
        opened.into_iter().for_each(|one| one.join().unwrap());
    });
    brought_over(&open(&path).unwrap());
}

#[test]
fn a_store_of_an_earlier_form_is_brought_to_this_one() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.sqlite3");
    let connection = earlier(&path, 2);
    let case = json!({ "record": { "case": { "code": "A-1" }, "patient": { "name": "one" } } }).to_string();
    let data = json!({ "clinical_hash": "77" }).to_string();
    connection.execute("INSERT INTO kept_case VALUES (1, 3, ?1, 'A-1', NULL, 'one a1', NULL)", [&case]).unwrap();
    for (version, why, time) in [(1, "answered", "09:00"), (2, "issued", "10:00"), (3, "signed", "11:00")] {
        let row = (version, why, &case, format!("2026-08-07T{time}:00"));
        connection.execute("INSERT INTO revision VALUES (1, ?1, ?2, ?3, 'Ada', ?4)", row).unwrap();
    }
    connection
        .execute_batch(
            "INSERT INTO issue VALUES (7, 1, 'after', 2, '00ff', '0.2.0', 'en-US', 'Max', '2026-08-07T10:00:00', 1); \
             INSERT INTO issued_file VALUES (7, 0, 'a.pdf', 'x', x'0102');",
        )
        .unwrap();
    connection.execute("INSERT INTO issued_file VALUES (7, 1, 'a.json', 'y', ?1)", [data.as_bytes()]).unwrap();
    drop(connection);

    let store: Register = open(&path).unwrap();
    let why: Vec<String> = store.revisions(1).unwrap().into_iter().map(|revision| revision.why).collect();
    assert_eq!(why, ["answered", "issued", "signed"]);
    let issued = store.issues(1).unwrap().swap_remove(0);
    assert_eq!((issued.issue.revision, issued.issue.by.as_str(), issued.issue.withheld), (2, "Max", true));
    assert_eq!((issued.issue.hashes.record.as_str(), issued.issue.hashes.clinical.as_str()), ("00ff", "77"));
    assert_eq!(store.issued_file(issued.id, 0).unwrap(), Some(("a.pdf".into(), vec![1, 2])));
    assert_eq!(store.issued_file(issued.id, 1).unwrap(), Some(("a.json".into(), data.into_bytes())));
    let found = store.verify(None).unwrap().unwrap();
    assert_eq!((found.head.number, found.set_back), (6, vec![]));
}
