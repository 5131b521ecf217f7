//! The register on a PostgreSQL server: the same behaviour, several desks at once, and nothing changed that was kept for good.

use std::fs;
use std::path::Path;

use serde_json::json;
use vitreoleaf::record::form::KnownBy;
use vitreoleaf::register::{Broken, Fault, Keys, NewOutcome, Place, Register, RegisterError, Why, sha256};
use vitreoleaf::results::{Change, Outcome};

#[cfg(target_os = "linux")]
use super::faults::{SmallDisk, full};
use super::faults::{insist, is_one_of, killed_while_it_writes, write_at_once};
use super::ledger::{OUTCOMES, brought_over, treated};
#[cfg(target_os = "linux")]
use super::server::give;
use super::server::{OWNER, Server, programs, shared};
use super::{act, at, case, conforms, file, issue, name, person, with};

#[test]
fn the_store_on_a_server_conforms() {
    let Some(server) = shared() else { return };
    conforms(|| server.register().1);
}

#[test]
fn four_desks_on_a_server_lose_no_issue_and_no_number_is_given_twice() {
    if is_one_of() {
        return;
    }
    let Some(server) = shared() else { return };
    let test = "register::postgres::four_desks_on_a_server_lose_no_issue_and_no_number_is_given_twice";
    write_at_once(&server.address(OWNER, &server.database()), &["A", "B", "C", "D"], test);
}

#[test]
fn a_desk_that_is_killed_while_it_writes_to_a_server_leaves_whole_issues() {
    let Some(server) = shared() else { return };
    killed_while_it_writes(&server.address(OWNER, &server.database()));
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_of_a_server_refuses_the_issue_and_loses_nothing() {
    let Some(programs) = programs() else { return };
    let Some(disk) = SmallDisk::new("16m") else { return };
    // A server of its own: one whose disk is full serves nobody.
    let server = Server::start(&programs, |_| Vec::new());
    give(disk.path());
    let mut client = server.client("postgres");
    let space = format!("CREATE TABLESPACE small LOCATION '{}'", disk.path().display());
    client.batch_execute(&space).unwrap();
    client.batch_execute("CREATE DATABASE small TABLESPACE small").unwrap();
    full(&server.place(OWNER, "small"), || disk.grow("64m"));
}

#[test]
fn several_programs_that_make_the_register_at_once_find_one_form() {
    let Some(server) = shared() else { return };
    let database = server.database();
    let place = server.place(OWNER, &database);
    assert!(Register::find_at(&place).unwrap().is_none(), "none is made by looking for it");
    std::thread::scope(|scope| {
        let opened: Vec<_> = (0..8).map(|_| scope.spawn(|| drop(insist(|| Register::open(&place))))).collect();
        opened.into_iter().for_each(|one| one.join().unwrap());
    });
    let steps =
        server.client(&database).query_one("SELECT count(*), count(DISTINCT number) FROM migration", &[]).unwrap();
    assert!(steps.get::<_, i64>(0) > 0 && steps.get::<_, i64>(0) == steps.get::<_, i64>(1));
    assert!(Register::find_at(&place).unwrap().is_some());
}

#[test]
fn an_older_program_refuses_a_newer_store() {
    let Some(server) = shared() else { return };
    let (database, _) = server.register();
    let place = server.place(OWNER, &database);
    let change = |sql: &str| server.client(&database).batch_execute(sql).unwrap();
    change("UPDATE migration SET checksum = 'another' WHERE number = 1");
    assert!(matches!(Register::open(&place), Err(RegisterError::Altered(1))));
    change("INSERT INTO migration VALUES (1000, 'newer')");
    assert!(matches!(Register::open(&place), Err(RegisterError::Newer { has: 1000, .. })));
}

#[test]
fn two_desks_share_a_case_and_lose_nothing() {
    let Some(server) = shared() else { return };
    let (database, mut register) = server.register();
    let place = server.place(OWNER, &database);
    let id = register.add(&file("A-1", "0", None)).unwrap();
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                let mut store = Register::open(&place).unwrap();
                for _ in 0..25 {
                    loop {
                        let seen = case(&store, id);
                        let count: u32 = seen.file.record["patient"]["name"].as_str().unwrap().parse().unwrap();
                        match store.save(&seen, &with(&seen.file, &(count + 1).to_string()), &act("count")) {
                            Ok(_) => break,
                            Err(RegisterError::Changed) => {}
                            Err(error) => panic!("{error}"),
                        }
                    }
                }
            });
        }
    });
    assert_eq!((name(&register, id), case(&register, id).version), (json!("50"), 51));
}

#[test]
fn outcomes_and_people_of_an_earlier_form_are_bound_into_the_ledger_by_several_programs_at_once() {
    const FIRST: &str = include_str!("../../src/register/migrations/postgres/0001-register.sql");
    let Some(server) = shared() else { return };
    let database = server.database();
    let mut client = server.client(&database);
    client
        .batch_execute("CREATE SCHEMA vitreoleaf; CREATE TABLE migration (number bigint NOT NULL PRIMARY KEY, checksum text NOT NULL)")
        .unwrap();
    client.batch_execute(FIRST).unwrap();
    let checksum = sha256(FIRST.replace("\r\n", "\n").as_bytes());
    client.execute("INSERT INTO migration VALUES (1, $1)", &[&checksum]).unwrap();
    client.batch_execute(&format!("{} {OUTCOMES}", treated())).unwrap();
    let place = server.place(OWNER, &database);
    std::thread::scope(|scope| {
        let opened: Vec<_> = (0..4).map(|_| scope.spawn(|| drop(insist(|| Register::open(&place))))).collect();
        opened.into_iter().for_each(|one| one.join().unwrap());
    });
    brought_over(&Register::open(&place).unwrap());
}

/// A register with an issue of two files, the case as it was, a signature, an outcome and a person: rows 1 to 7.
fn kept(server: &Server) -> (String, Register) {
    let (database, mut store) = server.register();
    let id = store.add(&file("A-1", "Rosa Beispiel", Some("2026-08-07T10:00"))).unwrap();
    store.issue(&issue(id), &[("a.pdf", b"the page"), ("b.pdf", b"")]).unwrap();
    store.keep(id, Why::Signed, "Dr. Ada Sample", at("12:00")).unwrap();
    let outcome = Outcome { change: Change::Same, ..Outcome::at("week", at("12:00").date()) };
    let seen = NewOutcome { case: id, outcome: Some(outcome), replaces: None, by: "Ada".into(), at: at("12:05") };
    store.put_outcomes(&[seen]).unwrap();
    store.put_person(&person("Ada", KnownBy::Surgeon), "Ada", at("12:10")).unwrap();
    (database, store)
}

#[test]
fn no_statement_changes_what_was_kept() {
    let Some(server) = shared() else { return };
    let (database, store) = kept(&server);
    let mut client = server.client(&database);
    for sql in [
        "UPDATE ledger SET at = '2026-01-01T00:00:00'",
        "UPDATE ledger SET number = 9 WHERE number = 5",
        "DELETE FROM ledger WHERE number = 5",
        "TRUNCATE ledger CASCADE",
        "INSERT INTO ledger SELECT 9, kind, case_id, part_of, at, commitment, 'x' FROM ledger WHERE number = 5",
        "INSERT INTO ledger SELECT * FROM ledger WHERE number = 5 ON CONFLICT (number) DO UPDATE SET at = 'x'",
        "UPDATE payload SET body = '' WHERE number = 2",
        "DELETE FROM payload WHERE number = 2",
        "TRUNCATE payload",
        "INSERT INTO payload VALUES (2, '', '') ON CONFLICT (number) DO UPDATE SET body = excluded.body",
        "INSERT INTO erased VALUES (2, 1)",
        "INSERT INTO erased VALUES (2, 99)",
        "UPDATE outcome SET change = 'gone'",
        "DELETE FROM outcome",
        "TRUNCATE outcome",
        "UPDATE person SET role = 'desk'",
        "INSERT INTO person VALUES ('Eve', 'surgeon', 'x', 6)",
        "INSERT INTO outcome (id, case_id, visit, on_day, lost, withdrawn, by, at) VALUES (5, 1, 'x', 'x', 0, 0, 'x', 'x')",
        "SET session_replication_role = replica; DELETE FROM ledger",
    ] {
        assert!(client.batch_execute(sql).is_err(), "{sql}");
    }
    assert_eq!(store.verify(None).unwrap().unwrap().head.number, 7);
}

#[test]
fn what_was_changed_beside_the_triggers_is_found_at_its_first_row() {
    let Some(server) = shared() else { return };
    for (table, sql, number, what) in [
        ("ledger", "UPDATE ledger SET at = '2026-08-07T11:41:00' WHERE number = 3", 3, Fault::Hash),
        ("payload", "UPDATE payload SET body = overlay(body PLACING 'T' FROM 1) WHERE number = 2", 2, Fault::Content),
        ("payload", "DELETE FROM payload WHERE number = 3", 3, Fault::Gone),
        ("outcome", "UPDATE outcome SET change = 'gone'", 6, Fault::Outcome),
        ("person", "UPDATE person SET role = 'desk'", 7, Fault::Person),
        ("person", "DELETE FROM person", 7, Fault::Person),
    ] {
        let (database, store) = kept(&server);
        let change = format!("ALTER TABLE {table} DISABLE TRIGGER ALL; {sql}");
        server.client(&database).batch_execute(&change).unwrap();
        assert_eq!(store.verify(None).unwrap(), Err(Broken { number, what }), "{sql}");
    }
}

#[test]
fn the_role_of_a_desk_adds_and_reads_and_changes_nothing_that_was_kept() {
    let Some(server) = shared() else { return };
    let (database, owned) = kept(&server);
    let owner = server.place(OWNER, &database);
    server.client(&database).batch_execute(&format!("CREATE ROLE \"desk of {database}\" LOGIN")).unwrap();
    let role = format!("desk of {database}");
    let desk = server.place(&role.replace(' ', "%20"), &database);
    assert!(matches!(Register::open(&desk), Err(RegisterError::ReadOnly)), "nobody has let it in");
    Register::let_in(&owner, &role).unwrap();

    let mut store = Register::open(&desk).unwrap();
    let id = store.add(&file("A-2", "Edith", None)).unwrap();
    let seen = case(&store, id);
    store.save(&seen, &with(&seen.file, "Edith Probe"), &act("name")).unwrap();
    store.undo(id, &act("undo")).unwrap();
    store.issue(&issue(id), &[("a.pdf", b"one")]).unwrap();
    store.put_person(&person("Max", KnownBy::Desk), "Ada", at("12:20")).unwrap();
    store.take_out_person("Max", "Ada", at("12:30")).unwrap();
    store.set("port", "1").unwrap();
    store.forget_before(at("23:00")).unwrap();
    let erased = store.erase(id, "Ada", "asked for", at("13:00"));
    assert!(matches!(erased, Err(RegisterError::ReadOnly)), "the role erases nothing");
    assert_eq!(store.verify(None).unwrap().unwrap(), owned.verify(None).unwrap().unwrap());
    let mut client = server.client(&database);
    client.batch_execute(&format!("SET ROLE \"{role}\"")).unwrap();
    for table in ["ledger", "payload", "erased", "outcome"] {
        for sql in [
            format!("DELETE FROM {table}"),
            format!("TRUNCATE {table}"),
            format!("ALTER TABLE {table} DISABLE TRIGGER ALL"),
        ] {
            let refused = client.batch_execute(&sql).unwrap_err();
            assert_eq!(refused.code().map(|code| code.code()), Some("42501"), "{sql}");
        }
    }
    assert!(matches!(Register::let_in(&Path::new("register.sqlite3").into(), "desk"), Err(RegisterError::NoServer)));
}

#[test]
fn a_backup_comes_back_as_a_file_and_on_another_server() {
    let Some(server) = shared() else { return };
    let (database, mut store) = kept(&server);
    // More rows than are copied at once, and rows that were erased.
    for at in 0..70 {
        store.add(&file(&format!("B-{at}"), "Rosa", None)).unwrap();
    }
    let gone = store.add(&file("A-3", "Kim", None)).unwrap();
    store.issue(&issue(gone), &[("a.pdf", b"gone")]).unwrap();
    store.erase(gone, "Ada", "asked for", at("13:00")).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let receipt = store.back_up(&path("backup"), &[], at("18:00")).unwrap();
    assert_eq!(receipt.head, store.head().unwrap().to_string());
    assert_eq!(store.last_backup().unwrap(), Some(at("18:00")));

    let other = server.place(OWNER, &server.database());
    let places: [Place; 2] = [path("restored").as_path().into(), other];
    for place in &places {
        Register::restore(&path("backup"), place, &Keys::default()).unwrap();
        let mut restored = Register::open(place).unwrap();
        assert_eq!(restored.verify(None).unwrap().unwrap(), store.verify(None).unwrap().unwrap());
        assert_eq!(restored.all().unwrap(), store.all().unwrap());
        assert_eq!(restored.people().unwrap(), store.people().unwrap());
        assert_eq!(restored.person_changes().unwrap(), store.person_changes().unwrap());
        for id in store.all().unwrap() {
            assert_eq!(case(&restored, id), case(&store, id));
            assert_eq!(restored.issues(id).unwrap(), store.issues(id).unwrap());
            assert_eq!(restored.revisions(id).unwrap(), store.revisions(id).unwrap());
            assert_eq!(restored.outcomes(id).unwrap(), store.outcomes(id).unwrap());
            assert_eq!(restored.session(id).unwrap(), store.session(id).unwrap());
        }
        assert_eq!(restored.issued_file(1, 0).unwrap(), Some(("a.pdf".into(), b"the page".to_vec())));
        assert_eq!(restored.add(&file("C-1", "new", None)).unwrap(), gone + 1, "numbers go on");
        assert!(
            Register::restore(&path("backup"), place, &Keys::default()).is_err(),
            "a register that stands there is not replaced"
        );
    }
    assert!(matches!(
        Register::restore(&path("backup"), &server.place(OWNER, &database), &Keys::default()),
        Err(RegisterError::NotEmpty)
    ));
}

/// What a person's file holds goes from the files of the tables.
#[test]
fn what_was_erased_stands_in_no_table_file() {
    let Some(server) = shared() else { return };
    let (database, mut store) = server.register();
    store.put_person(&person("Ada", KnownBy::Surgeon), "Ada", at("08:00")).unwrap();
    let id = store.add(&file("A-1", "Rosalinde Beispiel", None)).unwrap();
    store.issue(&issue(id), &[("a.pdf", b"Rosalinde reads this")]).unwrap();
    let mut client = server.client(&database);
    let number: String =
        client.query_one("SELECT oid::text FROM pg_database WHERE datname = current_database()", &[]).unwrap().get(0);
    let tables = server.folder().join("data/base").join(number);
    let mut held = || {
        client.batch_execute("CHECKPOINT").unwrap();
        let files = fs::read_dir(&tables).unwrap().map(|entry| fs::read(entry.unwrap().path()).unwrap());
        files.filter(|bytes| bytes.windows(9).any(|part| part.eq_ignore_ascii_case(b"rosalinde"))).count()
    };
    assert!(held() > 0);
    store.erase(id, "Ada", "asked for", at("13:00")).unwrap();
    assert_eq!(held(), 0);
}

#[test]
fn a_connection_that_is_lost_is_made_anew_and_a_change_it_broke_off_is_gone() {
    let Some(server) = shared() else { return };
    let (database, mut store) = kept(&server);
    let end = || {
        let others = "SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity \
                      WHERE datname = current_database() AND pid <> pg_backend_pid()";
        server.client(&database).execute(others, &[]).unwrap();
    };
    let id = store.by_code("A-1").unwrap().unwrap();
    end();
    assert_eq!(store.by_code("A-1").unwrap(), Some(id), "a question is asked again");
    end();
    store.keep(id, Why::Signed, "Dr. Ada Sample", at("12:10")).unwrap();
    let again = [(vitreoleaf::register::Issue { at: at("12:20"), ..issue(id) }, vec![("a.pdf", &b"again"[..])])];
    let broken_off = store.issue_all(&again, || {
        end();
        Ok(())
    });
    assert!(matches!(broken_off, Err(RegisterError::Unsure)), "it was lost while it saved");
    assert_eq!(store.issues(id).unwrap().len(), 1, "and is gone");
    let twice = [again[0].clone(), again[0].clone()];
    let mut count = 0;
    let broken_off = store.issue_all(&twice, || {
        count += 1;
        end();
        Err(RegisterError::NoCase)
    });
    assert!(matches!(broken_off, Err(RegisterError::NoCase)) && count == 1);
    assert_eq!(store.verify(None).unwrap().unwrap().head.number, 8);
    store.issue_all(&again, || Ok(())).unwrap();
}

#[test]
fn a_server_that_is_not_there_is_named_and_one_that_loses_what_it_saved_is_refused() {
    let nobody = Place::read("postgres://desk@127.0.0.1:1/eyes".as_ref()).unwrap();
    assert!(matches!(Register::open(&nobody), Err(RegisterError::NoAnswer(_))));
    let Some(server) = shared() else { return };
    let place = server.place(OWNER, "no_such_database");
    assert!(matches!(Register::open(&place), Err(RegisterError::NoAnswer(_))));
    let mut client = server.client("postgres");
    client
        .batch_execute("CREATE DATABASE ascii ENCODING 'SQL_ASCII' LOCALE_PROVIDER libc LOCALE 'C' TEMPLATE template0")
        .unwrap();
    assert!(matches!(Register::open(&server.place(OWNER, "ascii")), Err(RegisterError::Encoding(_))));
    let careless = Server::start(&programs().unwrap(), |_| vec!["fsync=off".into()]);
    assert!(matches!(Register::open(&careless.place(OWNER, "postgres")), Err(RegisterError::NotDurable)));
}
