//! Backups: checked when they are made and when they come back, and the same answers elsewhere.

use std::fs;

use vitreoleaf::record::form::KnownBy;
use vitreoleaf::register::{Head, Keys, NewOutcome, Recipient, Register, RegisterError, Why, sha256};
use vitreoleaf::results::{Change, Outcome};

use super::ledger::{OUTCOMES, brought_over, earlier, treated};
use super::{at, case, file, issue, open, person};

#[test]
fn a_backup_that_is_restored_elsewhere_gives_the_same_answers() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let mut store = open(&path("register.sqlite3")).unwrap();
    let id = store.add(&file("A-1", "Rosa", Some("2026-08-07T10:00"))).unwrap();
    let number = store.issue(&issue(id), &[("a.pdf", b"the page")]).unwrap();
    store.put_person(&person("Ada", KnownBy::Surgeon), "Ada", at("12:00")).unwrap();
    let seen = Outcome { change: Change::Same, ..Outcome::at("week", at("12:00").date()) };
    let new = NewOutcome { case: id, outcome: Some(seen), replaces: None, by: "Ada".into(), at: at("12:00") };
    store.put_outcomes(&[new]).unwrap();
    assert_eq!(store.last_backup().unwrap(), None);
    let receipt = store.back_up(&path("backup"), &[], at("18:00")).unwrap();
    assert_eq!((&receipt.head, store.last_backup().unwrap()), (&store.head().unwrap().to_string(), Some(at("18:00"))));
    store.keep(id, Why::Signed, "Dr. Ada Sample", at("19:00")).unwrap();

    fs::create_dir(path("elsewhere")).unwrap();
    let there = path("elsewhere").join("register.sqlite3");
    let head = Register::restore(&path("backup"), &there.as_path().into(), &Keys::default()).unwrap();
    let restored = open(&there).unwrap();
    assert_eq!(head.to_string(), receipt.head);
    assert_eq!(case(&restored, id), case(&store, id));
    assert_eq!(restored.issues(id).unwrap(), store.issues(id).unwrap());
    assert_eq!(restored.issued_file(number, 0).unwrap(), store.issued_file(number, 0).unwrap());
    assert_eq!(restored.outcomes(id).unwrap(), store.outcomes(id).unwrap());
    assert_eq!(restored.people().unwrap(), store.people().unwrap());
    assert_eq!(restored.revisions(id).unwrap().len() + 1, store.revisions(id).unwrap().len());
    assert!(store.verify(Some(&head)).unwrap().is_ok(), "the receipt is an anchor for what came later");
    let again = Register::restore(&path("backup"), &there.as_path().into(), &Keys::default());
    assert!(matches!(again, Err(RegisterError::Create(_))), "a register that stands there is not replaced");
    assert!(matches!(store.back_up(&path("backup"), &[], at("20:00")), Err(RegisterError::Create(_))));
}

#[test]
fn a_backup_of_an_earlier_form_comes_back_in_this_one() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    earlier(&path("backup"), 7).execute_batch(&format!("{} {OUTCOMES}", treated())).unwrap();
    let bytes = fs::read(path("backup")).unwrap();
    let receipt = serde_json::json!({
        "version": 1, "head": Head::default().to_string(), "at": "2026-08-07T18:00:00", "program": "0.5.0",
        "bytes": bytes.len(), "sha256": sha256(&bytes),
    });
    fs::write(path("backup.receipt.json"), receipt.to_string()).unwrap();
    Register::restore(&path("backup"), &path("restored").as_path().into(), &Keys::default()).unwrap();
    assert_eq!(fs::read(path("backup")).unwrap(), bytes, "the backup itself stays as it was");
    brought_over(&open(&path("restored")).unwrap());
}

#[test]
fn a_backup_that_was_changed_or_has_no_receipt_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let mut store = open(&path("register.sqlite3")).unwrap();
    let id = store.add(&file("A-1", "Rosa", None)).unwrap();
    store.issue(&issue(id), &[("a.pdf", b"the page that was given")]).unwrap();
    store.back_up(&path("backup"), &[], at("18:00")).unwrap();
    let restore = || Register::restore(&path("backup"), &path("restored").as_path().into(), &Keys::default());
    let sound = fs::read(path("backup")).unwrap();
    let place = |words: &[u8]| sound.windows(words.len()).position(|part| part == words).unwrap();
    for (words, broken) in [(&b"the page that was given"[..], true), (b"Rosa", false)] {
        let mut flipped = sound.clone();
        flipped[place(words)] ^= 1;
        fs::write(path("backup"), flipped).unwrap();
        let refused = restore().unwrap_err();
        assert!(
            if broken {
                matches!(refused, RegisterError::Broken(_))
            } else {
                matches!(refused, RegisterError::OtherBackup(_))
            },
            "{refused}"
        );
    }
    fs::write(path("backup"), &sound[..sound.len() / 2]).unwrap();
    assert!(restore().is_err(), "cut off");
    fs::write(path("backup"), &sound).unwrap();
    let receipt = fs::read(path("backup.receipt.json")).unwrap();
    fs::remove_file(path("backup.receipt.json")).unwrap();
    assert!(matches!(restore(), Err(RegisterError::NoReceipt(_))));
    assert!(!path("restored").exists());
    let newer = String::from_utf8(receipt.clone()).unwrap().replace("\"version\": 1", "\"version\": 2");
    fs::write(path("backup.receipt.json"), newer).unwrap();
    assert!(matches!(restore(), Err(RegisterError::NoReceipt(_))), "a receipt of another version");
    fs::write(path("backup.receipt.json"), receipt).unwrap();
    restore().unwrap();
}

#[test]
fn a_sealed_backup_shows_nothing_and_opens_with_its_key_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    let mut store = open(&path("register.sqlite3")).unwrap();
    let id = store.add(&file("A-1", "Rosa", None)).unwrap();
    store.issue(&issue(id), &[("a.pdf", b"the page that was given")]).unwrap();
    let whom: Vec<Recipient> =
        ["key", "key of the office"].iter().map(|name| Keys::make(&path(name)).unwrap()).collect();
    Keys::make(&path("key of others")).unwrap();
    assert!(matches!(Keys::make(&path("key")), Err(RegisterError::Create(_))), "no key is overwritten");
    assert_eq!(whom[0].to_string().parse(), Ok(whom[0].clone()));

    let receipt = store.back_up(&path("sealed"), &whom, at("18:00")).unwrap();
    let sealed = fs::read(path("sealed")).unwrap();
    for words in
        [&b"SQLite format"[..], b"the page that was given", b"Rosa", b"rosa", b"A-1", b"a.pdf", b"CREATE TABLE"]
    {
        assert!(!sealed.windows(words.len()).any(|part| part == words), "{}", String::from_utf8_lossy(words));
    }
    let told = fs::read_to_string(path("sealed.receipt.json")).unwrap();
    assert!(receipt.sealed && !told.contains("Rosa") && !told.contains("A-1"));

    let restore = |to: &str, keys: &Keys| Register::restore(&path("sealed"), &path(to).as_path().into(), keys);
    let others = Keys::read(&path("key of others")).unwrap();
    for wrong in [&Keys::default(), &others] {
        assert!(matches!(restore("restored", wrong), Err(RegisterError::Sealed(_))));
        assert!(!path("restored").exists());
    }
    for key in ["key", "key of the office"] {
        let head = restore(&format!("by {key}"), &Keys::read(&path(key)).unwrap()).unwrap();
        let restored = open(&path(&format!("by {key}"))).unwrap();
        assert_eq!((head.to_string(), head), (receipt.head.clone(), store.head().unwrap()));
        assert_eq!((case(&restored, id), restored.issues(id).unwrap()), (case(&store, id), store.issues(id).unwrap()));
    }
    let mut flipped = sealed.clone();
    *flipped.last_mut().unwrap() ^= 1;
    fs::write(path("sealed"), flipped).unwrap();
    let keys = Keys::read(&path("key")).unwrap();
    assert!(
        matches!(restore("restored", &keys), Err(RegisterError::OtherBackup(_))),
        "it is not what its receipt says"
    );
    fs::write(path("sealed"), &sealed[..sealed.len() - 20]).unwrap();
    assert!(restore("restored", &keys).is_err() && !path("restored").exists());
    assert!(matches!(Keys::read(&path("sealed.receipt.json")), Err(RegisterError::NoKey(_))));
    assert!("age1secret".parse::<Recipient>().is_err());
}
