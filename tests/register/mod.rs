//! The register: what every store must do, and what the file of the embedded one and a server must withstand.

mod backup;
mod faults;
mod ledger;
#[cfg(unix)]
mod postgres;
mod printed;
#[cfg(unix)]
mod server;
#[cfg(unix)]
mod tls;

use std::fs;
use std::path::Path;

use chrono::{NaiveDate, NaiveDateTime};
use serde_json::{Value, json};
use vitreoleaf::facts::Moment;
use vitreoleaf::record::form::KnownBy;
use vitreoleaf::register::{
    Act, Asked, Broken, CaseFile, CaseId, Fault, Filed, Hashes, Head, Issue, Passphrase, Person, Register,
    RegisterError, Why, sha256,
};

fn at(time: &str) -> NaiveDateTime {
    NaiveDateTime::parse_from_str(&format!("2026-08-07T{time}:00"), "%Y-%m-%dT%H:%M:%S").unwrap()
}

fn act(what: &str) -> Act {
    Act { by: "Max Exemplar".into(), at: at("09:00"), what: what.into() }
}

fn file(code: &str, name: &str, start: Option<&str>) -> CaseFile {
    let mut record = json!({ "case": { "code": code }, "patient": { "name": name, "record_number": "000-101" } });
    if let Some(start) = start {
        record["plan"] = json!({ "start": start });
    }
    CaseFile::of(record)
}

fn with(file: &CaseFile, name: &str) -> CaseFile {
    let mut changed = file.clone();
    changed.record["patient"]["name"] = json!(name);
    changed
}

fn case(store: &Register, id: CaseId) -> Filed {
    store.case(id).unwrap().expect("a case")
}

fn name(store: &Register, id: CaseId) -> Value {
    case(store, id).file.record["patient"]["name"].clone()
}

fn save(store: &mut Register, id: CaseId, name: &str) {
    let seen = case(store, id);
    store.save(&seen, &with(&seen.file, name), &act(name)).unwrap();
}

/// An aftercare of a case, its first revision.
fn issue(case: CaseId) -> Issue {
    Issue {
        case,
        moment: Moment::After,
        revision: 1,
        hashes: Hashes { record: "00ff".into(), clinical: "11".into(), profile: "22".into() },
        program: "0.3.0".into(),
        language: "en-US".into(),
        withheld: true,
        by: "Max Exemplar".into(),
        at: at("11:40"),
    }
}

fn person(name: &str, role: KnownBy) -> Person {
    Person { name: name.into(), role, passphrase: Passphrase::new("correct horse battery").unwrap() }
}

/// Something a store must do, by name.
type Check = (&'static str, fn(&mut Register));

/// What every store must do.
const CONFORMANCE: &[Check] = &[
    ("a case comes back as it was kept", |store| {
        let mut kept = file("A-1", "Rosa Beispiel", None);
        kept.typed.insert("/patient/birth_date".into(), "feb 31".into());
        let id = store.add(&kept).unwrap();
        assert_eq!(case(store, id), Filed { id, version: 1, file: kept });
        assert_eq!(store.case(id + 1).unwrap(), None);
        assert_eq!((store.by_code("A-1").unwrap(), store.by_code("A-2").unwrap()), (Some(id), None));
        assert_eq!(store.all().unwrap(), [id]);
    }),
    ("a code is given once", |store| {
        let first = store.add(&file("A-1", "Rosa", None)).unwrap();
        assert!(matches!(store.add(&file("A-1", "Edith", None)), Err(RegisterError::CodeTaken)));
        let second = store.add(&file("A-2", "Edith", None)).unwrap();
        let (seen, taken) = (case(store, second), file("A-1", "Edith", None));
        assert!(matches!(store.save(&seen, &taken, &act("code")), Err(RegisterError::CodeTaken)));
        assert_eq!(case(store, second), seen, "a refused save changes nothing");
        assert_eq!(store.last_change(second).unwrap(), None);
        let nobody = CaseFile::default();
        store.add(&nobody).unwrap();
        store.add(&nobody).unwrap();
        assert_eq!(store.by_code("A-1").unwrap(), Some(first));
    }),
    ("a save needs what it has seen", |store| {
        let id = store.add(&file("A-1", "one", None)).unwrap();
        let seen = case(store, id);
        assert_eq!(store.save(&seen, &with(&seen.file, "two"), &act("name")).unwrap(), 2);
        let stale = store.save(&seen, &with(&seen.file, "three"), &act("name"));
        assert!(matches!(stale, Err(RegisterError::Changed)));
        assert_eq!(name(store, id), "two");
        assert_eq!(store.at_version(id, 1).unwrap(), Some(seen.file), "two tabs are told apart by what was");
        assert_eq!(store.at_version(id, 9).unwrap(), None);
    }),
    ("undo goes back through the sitting, and no further", |store| {
        let id = store.add(&file("A-1", "one", None)).unwrap();
        for name in ["two", "three", "four"] {
            save(store, id, name);
        }
        assert_eq!(store.last_change(id).unwrap().as_deref(), Some("four"));
        assert_eq!(store.undo(id, &act("undo")).unwrap().as_deref(), Some("four"));
        assert_eq!(name(store, id), "three");
        save(store, id, "five");
        for (undone, left) in [("five", "three"), ("three", "two"), ("two", "one")] {
            assert_eq!(store.undo(id, &act("undo")).unwrap().as_deref(), Some(undone));
            assert_eq!(name(store, id), left);
        }
        assert_eq!(store.undo(id, &act("undo")).unwrap(), None);
        assert_eq!(case(store, id).version, 9, "versions only rise");
    }),
    ("what is forgotten cannot be taken back", |store| {
        let id = store.add(&file("A-1", "one", None)).unwrap();
        save(store, id, "two");
        store.forget_before(at("09:00")).unwrap();
        assert!(store.last_change(id).unwrap().is_some(), "the moment itself is kept");
        store.forget_before(at("09:01")).unwrap();
        assert_eq!((store.last_change(id).unwrap(), name(store, id)), (None, json!("two")));
    }),
    ("a day lists its cases by time", |store| {
        let late = store.add(&file("A-1", "late", Some("2026-08-07T23:59"))).unwrap();
        let early = store.add(&file("A-2", "early", Some("2026-08-07T00:00:00"))).unwrap();
        store.add(&file("A-3", "next", Some("2026-08-08T00:00"))).unwrap();
        let undated = store.add(&file("A-4", "undated", None)).unwrap();
        let ids = |cases: Vec<Filed>| cases.iter().map(|case| case.id).collect::<Vec<_>>();
        assert_eq!(ids(store.day(NaiveDate::from_ymd_opt(2026, 8, 7).unwrap()).unwrap()), [early, late]);
        assert_eq!(ids(store.undated(9).unwrap()), [undated]);
        save(store, early, "still early");
        assert_eq!(store.day(NaiveDate::from_ymd_opt(2026, 8, 8).unwrap()).unwrap().len(), 1);
    }),
    ("a case is found however its number is written", |store| {
        let id = store.add(&file("A-1", "Edith Probe", None)).unwrap();
        for words in ["edith", "PROBE edith", "000 101", "OOO-lO1", "a1"] {
            assert_eq!(store.find(words, 5).unwrap().first().map(|found| found.id), Some(id), "{words}");
        }
        for words in ["", "  ", "-", "edith beispiel", "%", "'; DROP TABLE kept_case; --"] {
            assert_eq!(store.find(words, 5).unwrap(), [], "{words}");
        }
        store.add(&file("A-2", "Edith Vorlage", None)).unwrap();
        assert_eq!(store.find("edith", 1).unwrap().len(), 1);
    }),
    ("a name that is a statement is a name", |store| {
        for (code, name) in
            [("A-1", "Robert'); DROP TABLE kept_case; --"), ("A-2", "\" OR 1=1; --"), ("A-3", "$1 %s ? :name")]
        {
            let id = store.add(&file(code, "Rosa", None)).unwrap();
            save(store, id, name);
            let by = Issue { by: name.into(), ..issue(id) };
            store.issue(&by, &[(name, name.as_bytes())]).unwrap();
            store.keep(id, Why::Signed, name, at("12:00")).unwrap();
            assert_eq!(crate::register::name(store, id), json!(name));
            assert_eq!(store.last_change(id).unwrap().as_deref(), Some(name));
            assert_eq!(
                (store.issues(id).unwrap()[0].issue.by.as_str(), &store.revisions(id).unwrap()[1].by),
                (name, &name.to_owned())
            );
            assert!(store.find(name, 5).unwrap().iter().any(|found| found.id == id), "{name}");
            assert_eq!(store.of_patient(name, "").unwrap().len(), 1, "{name}");
            store.set(name, name).unwrap();
            assert_eq!(store.setting(name).unwrap().as_deref(), Some(name));
        }
        store
            .put_person(
                &person("'; DELETE FROM person; --", KnownBy::Surgeon),
                "'; DELETE FROM person; --",
                at("08:00"),
            )
            .unwrap();
        assert_eq!((store.people().unwrap().len(), store.all().unwrap().len()), (1, 3));
        assert!(store.verify(None).unwrap().is_ok());
    }),
    ("who waits for the surgeon is listed, the longest waiting first", |store| {
        let ask = |store: &mut Register, id: CaseId, asked: Option<&str>| {
            let seen = case(store, id);
            let asked = asked.map(|time| Asked { by: "Kim".into(), at: at(time), says: "Go on?".into() });
            store.save(&seen, &CaseFile { asked, ..seen.file.clone() }, &act("ask")).unwrap();
        };
        let first = store.add(&file("A-1", "one", None)).unwrap();
        let second = store.add(&file("A-2", "two", None)).unwrap();
        ask(store, first, Some("10:50"));
        ask(store, second, Some("10:40"));
        let asked = |store: &Register| store.asked().unwrap().iter().map(|case| case.id).collect::<Vec<_>>();
        assert_eq!(asked(store), [second, first]);
        ask(store, second, None);
        assert_eq!(asked(store), [first]);
    }),
    ("a case is found by the whole name or number of its patient, however they are written", |store| {
        let id = store.add(&file("A-1", "Edith Probe", None)).unwrap();
        let other = store.add(&file("A-2", "Edith Vorlage", None)).unwrap();
        let found = |name: &str, number: &str| -> Vec<CaseId> {
            store.of_patient(name, number).unwrap().iter().map(|case| case.id).collect()
        };
        for (name, number) in [("EDITH  probe", ""), ("Edith Probe", "777")] {
            assert_eq!(found(name, number), [id], "{name} {number}");
        }
        assert_eq!(found("", "OOO lO1"), [id, other], "both have this number");
        for (name, number) in [("", ""), ("Edith", "101"), ("Probe", "00010"), ("%", "'")] {
            assert_eq!(found(name, number), Vec::<CaseId>::new(), "{name} {number}");
        }
    }),
    ("a revision is the case as it was", |store| {
        let id = store.add(&file("A-1", "one", None)).unwrap();
        store.keep(id, Why::Answered, "Dr. Ada Sample", at("09:05")).unwrap();
        save(store, id, "two");
        store.keep(id, Why::Signed, "Dr. Ada Sample", at("09:06")).unwrap();
        let kept = store.revisions(id).unwrap();
        let seen: Vec<_> =
            kept.iter().map(|kept| (kept.version, kept.why.as_str(), &kept.file.record["patient"]["name"])).collect();
        assert_eq!(seen, [(1, "answered", &json!("one")), (2, "signed", &json!("two"))]);
        assert_eq!((kept[0].by.as_str(), kept[0].at), ("Dr. Ada Sample", at("09:05")));
        assert!(matches!(store.keep(99, Why::Issued, "x", at("09:00")), Err(RegisterError::NoCase)));
    }),
    ("what was issued is kept to the byte", |store| {
        let id = store.add(&file("A-1", "one", None)).unwrap();
        let issue = Issue { revision: 2, ..issue(id) };
        let files: [(&str, &[u8]); 2] = [("A-1-r2-after-aftercare.pdf", b"%PDF\0\xFF"), ("A-1-r2-after-desk.pdf", b"")];
        let number = store.issue(&issue, &files).unwrap();
        let issued = store.issues(id).unwrap();
        assert_eq!((issued.len(), issued[0].id, &issued[0].issue), (1, number, &issue));
        assert_eq!(issued[0].files[0].sha256, sha256(files[0].1));
        assert_eq!((store.issued(number).unwrap().as_ref(), store.issued(99).unwrap()), (issued.first(), None));
        assert_eq!(store.issued_file(number, 0).unwrap(), Some((files[0].0.into(), files[0].1.to_vec())));
        assert_eq!(store.issued_file(number, 2).unwrap(), None);
        assert_eq!(store.revisions(id).unwrap()[0].why, "issued");
        assert!(store.issue(&Issue { case: 99, ..issue }, &files).is_err());
        assert_eq!(store.issues(id).unwrap().len(), 1, "an issue of no case leaves nothing behind");
    }),
    ("the same code and revision with other content is impossible", |store| {
        let id = store.add(&file("A-1", "one", None)).unwrap();
        let first = issue(id);
        store.issue(&first, &[]).unwrap();
        store.issue(&Issue { at: at("12:00"), withheld: false, ..first.clone() }, &[]).unwrap();
        let hashes = |change: fn(&mut Hashes)| {
            let mut other = first.clone();
            change(&mut other.hashes);
            other
        };
        for other in [
            hashes(|hashes| hashes.record = "other".into()),
            hashes(|hashes| hashes.clinical = "other".into()),
            hashes(|hashes| hashes.profile = "other".into()),
        ] {
            assert!(matches!(store.issue(&other, &[]), Err(RegisterError::SameRevision(1))), "{other:?}");
        }
        let raised = Issue { revision: 2, ..hashes(|hashes| hashes.record = "other".into()) };
        store.issue(&raised, &[]).unwrap();
        store.issue(&Issue { moment: Moment::Before, revision: 1, ..raised }, &[]).unwrap();
        let second = store.add(&file("A-2", "two", None)).unwrap();
        let other = Issue { case: second, ..hashes(|hashes| hashes.record = "other".into()) };
        store.issue(&other, &[]).unwrap();
    }),
    ("the ledger counts every row and knows its head", |store| {
        let id = store.add(&file("A-1", "one", None)).unwrap();
        assert_eq!(store.head().unwrap(), Head::default());
        store.issue(&issue(id), &[("a.pdf", b"one"), ("b.pdf", b"two")]).unwrap();
        let early = store.head().unwrap();
        assert_eq!(early.number, 4, "the issue, two files, and the case as it was");
        store.keep(id, Why::Signed, "Dr. Ada Sample", at("08:00")).unwrap();
        let found = store.verify(Some(&early)).unwrap().unwrap();
        assert_eq!((found.head, found.erased, found.set_back), (store.head().unwrap(), 0, vec![5]));
        let other = Head { hash: "ab".repeat(32), ..early };
        assert_eq!(store.verify(Some(&other)).unwrap(), Err(Broken { number: 4, what: Fault::Anchor }));
        let later = Head { number: 9, hash: other.hash };
        assert_eq!(store.verify(Some(&later)).unwrap(), Err(Broken { number: 9, what: Fault::Missing }));
    }),
    ("what is erased is gone, the chain is whole, and it says who and why", |store| {
        let id = store.add(&file("A-1", "Rosa", Some("2026-08-07T10:00"))).unwrap();
        save(store, id, "Rosa Beispiel");
        let number = store.issue(&issue(id), &[("a.pdf", b"Rosa")]).unwrap();
        let other = store.add(&file("A-2", "Edith", None)).unwrap();
        store.issue(&issue(other), &[("b.pdf", b"Edith")]).unwrap();
        let ada = person("Dr. Ada Sample", KnownBy::Surgeon);
        let erase = |store: &mut Register, by: &str, why: &str| store.erase(id, by, why, at("13:00"));
        assert!(matches!(erase(store, "Dr. Ada Sample", "asked"), Err(RegisterError::NoPerson)));
        store.put_person(&ada, &ada.name, at("12:50")).unwrap();
        assert!(matches!(erase(store, "Dr. Ada Sample", " "), Err(RegisterError::NoReason)));
        assert!(store.issued_file(number, 0).unwrap().is_some(), "refused, nothing is erased");
        let before = store.head().unwrap();
        assert_eq!(erase(store, "Dr. Ada Sample", "asked for, article 17").unwrap(), 3);
        assert_eq!(store.case(id).unwrap(), None);
        assert_eq!((store.issues(id).unwrap(), store.issued_file(number, 0).unwrap()), (vec![], None));
        assert_eq!((store.revisions(id).unwrap(), store.find("rosa", 5).unwrap()), (vec![], vec![]));
        assert_eq!((store.undated(9).unwrap().len(), store.all().unwrap()), (1, vec![other]));
        assert!(matches!(store.add(&file("A-1", "Kim", None)), Err(RegisterError::CodeTaken)), "a code is given once");
        assert_eq!(store.verify(Some(&before)).unwrap().unwrap().erased, 3);
        assert_eq!(store.issues(other).unwrap().len(), 1);
        assert!(matches!(erase(store, "Dr. Ada Sample", "again"), Err(RegisterError::NoCase)));
    }),
    ("people have a role and a passphrase", |store| {
        store.put_person(&person("Max Exemplar", KnownBy::Desk), "Max Exemplar", at("08:00")).unwrap();
        store.put_person(&person("Dr. Ada Sample", KnownBy::Surgeon), "Max Exemplar", at("08:01")).unwrap();
        store.put_person(&person("Max Exemplar", KnownBy::Nurse), "Dr. Ada Sample", at("08:02")).unwrap();
        let people = store.people().unwrap();
        let roles: Vec<_> = people.iter().map(|person| (person.name.as_str(), person.role)).collect();
        assert_eq!(roles, [("Dr. Ada Sample", KnownBy::Surgeon), ("Max Exemplar", KnownBy::Nurse)]);
        assert!(people[0].passphrase.is("correct horse battery") && !people[0].passphrase.is("correct horse batterY"));
    }),
    ("who was added, changed and taken out, and by whom, stands in the ledger", |store| {
        let refused = |kept: Result<(), RegisterError>| assert!(matches!(kept, Err(RegisterError::NoPerson)));
        refused(store.put_person(&person("Max", KnownBy::Desk), "Ada", at("08:00")));
        store.put_person(&person("Ada", KnownBy::Surgeon), "Ada", at("08:00")).unwrap();
        refused(store.put_person(&person("Max", KnownBy::Surgeon), "Max", at("08:01")));
        store.put_person(&person("Max", KnownBy::Desk), "Ada", at("08:01")).unwrap();
        store.put_person(&person("Max", KnownBy::Nurse), "Ada", at("08:02")).unwrap();
        refused(store.take_out_person("Kim", "Ada", at("08:03")));
        refused(store.take_out_person("Max", "Kim", at("08:03")));
        store.take_out_person("Max", "Ada", at("08:03")).unwrap();
        assert_eq!(store.people().unwrap().len(), 1);
        let changes = store.person_changes().unwrap();
        let told: Vec<_> = changes.iter().map(|one| (one.name.as_str(), one.role, one.by.as_deref(), one.at)).collect();
        assert_eq!(
            told,
            [
                ("Ada", Some(KnownBy::Surgeon), Some("Ada"), at("08:00")),
                ("Max", Some(KnownBy::Desk), Some("Ada"), at("08:01")),
                ("Max", Some(KnownBy::Nurse), Some("Ada"), at("08:02")),
                ("Max", None, Some("Ada"), at("08:03")),
            ]
        );
        assert_eq!(store.verify(None).unwrap().unwrap().head.number, 4);
    }),
    ("a setting is the last one set", |store| {
        assert_eq!(store.setting("port").unwrap(), None);
        store.set("port", "1").unwrap();
        store.set("port", "2").unwrap();
        assert_eq!(store.setting("port").unwrap().as_deref(), Some("2"));
    }),
];

fn open(path: &Path) -> Result<Register, RegisterError> {
    Register::in_file(path)
}

/// Holds a new, empty store against everything that is asked of one, each time.
fn conforms(mut new: impl FnMut() -> Register) {
    for (what, check) in CONFORMANCE.iter().chain(crate::outcomes::CONFORMANCE) {
        let mut store = new();
        let kept = std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| check(&mut store)));
        assert!(kept.is_ok(), "{what}");
    }
}

#[test]
fn the_embedded_store_conforms() {
    let mut folders = Vec::new();
    conforms(|| {
        folders.push(tempfile::tempdir().unwrap());
        open(&folders.last().unwrap().path().join("register.sqlite3")).unwrap()
    });
}

#[test]
fn a_store_is_there_again_when_it_is_opened_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.sqlite3");
    let id = open(&path).unwrap().add(&file("A-1", "one", None)).unwrap();
    assert_eq!(name(&open(&path).unwrap(), id), "one");
}

#[test]
fn two_programs_share_a_store_and_lose_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.sqlite3");
    let id = open(&path).unwrap().add(&file("A-1", "0", None)).unwrap();
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                let mut store = open(&path).unwrap();
                for _ in 0..25 {
                    loop {
                        let seen = case(&store, id);
                        let count: u32 = name(&store, id).as_str().unwrap().parse().unwrap();
                        let counted = with(&seen.file, &(count + 1).to_string());
                        match store.save(&seen, &counted, &act("count")) {
                            Ok(_) => break,
                            Err(RegisterError::Changed) => {}
                            Err(error) => panic!("{error}"),
                        }
                    }
                }
            });
        }
    });
    let store = open(&path).unwrap();
    assert_eq!((name(&store, id), case(&store, id).version), (json!("50"), 51));
}

#[cfg(unix)]
#[test]
fn the_file_is_its_owners_alone() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.sqlite3");
    let mut store = open(&path).unwrap();
    store.add(&file("A-1", "one", None)).unwrap();
    for entry in fs::read_dir(folder.path()).unwrap() {
        let entry = entry.unwrap();
        assert_eq!(entry.metadata().unwrap().permissions().mode() & 0o777, 0o600, "{:?}", entry.file_name());
    }
}

#[test]
fn the_files_of_others_are_left_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("other");
    for bytes in [&b"a letter to somebody, longer than the head of a database, which is sixteen bytes"[..], b"{}"] {
        fs::write(&path, bytes).unwrap();
        assert!(matches!(open(&path), Err(RegisterError::NotOurs(_))));
        assert_eq!(fs::read(&path).unwrap(), bytes);
    }
    fs::remove_file(&path).unwrap();
    rusqlite::Connection::open(&path).unwrap().execute_batch("CREATE TABLE note (text)").unwrap();
    assert!(matches!(open(&path), Err(RegisterError::NotOurs(_))), "a database of another program");
}

/// What was issued of a file by the first program comes through every step since.
#[test]
fn a_store_of_the_first_form_is_brought_to_this_one() {
    const FIRST: &str = include_str!("../../src/register/migrations/sqlite/0001-cases.sql");
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.sqlite3");
    let connection = rusqlite::Connection::open(&path).unwrap();
    connection.execute_batch(FIRST).unwrap();
    connection
        .execute_batch(&format!(
            "CREATE TABLE migration (number INTEGER NOT NULL PRIMARY KEY, checksum TEXT NOT NULL) STRICT; \
             INSERT INTO migration VALUES (1, '{}'); PRAGMA application_id = 1447842375; \
             INSERT INTO kept_case VALUES (1, 1, '{{\"record\":{{\"patient\":{{\"name\":\"one\"}}}},\"seen\":{{}}}}', NULL, NULL, 'one')",
            sha256(FIRST.replace("\r\n", "\n").as_bytes())
        ))
        .unwrap();
    drop(connection);
    assert_eq!(name(&open(&path).unwrap(), 1), "one");
}

#[test]
fn an_older_program_refuses_a_newer_store() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.sqlite3");
    drop(open(&path).unwrap());
    let change = |sql: &str| rusqlite::Connection::open(&path).unwrap().execute_batch(sql).unwrap();
    change("UPDATE migration SET checksum = 'another' WHERE number = 1");
    assert!(matches!(open(&path), Err(RegisterError::Altered(1))));
    change("INSERT INTO migration VALUES (1000, 'newer')");
    let error = open(&path).err().unwrap();
    assert!(matches!(error, RegisterError::Newer { has: 1000, .. }), "{error}");
}

#[test]
fn a_case_from_elsewhere_comes_unsigned_and_goes_out_as_it_came() {
    let answer =
        json!({ "finding": "steroid", "by": "Dr. Ada Sample", "on": "2026-08-10", "reason": "Seven days only." });
    let own = json!({ "words": "We spoke.", "by": "Dr. Ada Sample", "on": "2026-08-10", "reason": "Asked." });
    let record = json!({ "case": { "code": "A-1" }, "answers": [answer], "surgeon_words": [own] });
    let imported = CaseFile::imported(record.clone()).unwrap();
    assert!(imported.record.get("answers").is_none() && imported.record.get("surgeon_words").is_none());
    assert_eq!(imported.unsigned_words[0].words, "We spoke.");
    assert_eq!(imported.unsigned_answers[0].finding, "steroid");
    assert_eq!(imported.exported(), record);
    assert_eq!(CaseFile::of(json!({})).exported(), json!({}));
    let error = CaseFile::imported(json!({ "answers": [{ "finding": "secret" }] })).unwrap_err();
    assert!(!error.to_string().contains("secret"));
}
