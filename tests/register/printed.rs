//! `print --register`: what is printed from files is issued, with the other eye that the register knows.

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::Value;
use vitreoleaf::batch::folder::Folder;
use vitreoleaf::batch::issuing::{Issuer, Issuing};
use vitreoleaf::batch::{Outcome, Printer, Refusal, Watch};
use vitreoleaf::diag::SourceFile;
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::{Case, Form, Output};
use vitreoleaf::practice::{Checked, Practice};
use vitreoleaf::record::form::KnownBy;
use vitreoleaf::record::{Record, locate};
use vitreoleaf::register::{Passphrase, Person, Register, RegisterError};

use super::{at, open};
use crate::packets::practice;

const ADA: &str = "Dr. Ada Sample";

fn written(case: &str, change: impl Fn(String) -> String) -> Value {
    let samples = vitreoleaf::assets::samples();
    let text = change(samples[&format!("{case}/case.toml")].clone());
    locate::read(&SourceFile { name: "case.toml".into(), text }).0.value
}

fn checked(value: &Value, practice: &Practice) -> Checked<Record> {
    let file = SourceFile { name: "case.json".into(), text: value.to_string() };
    Checked::read(&file, practice.clone()).unwrap_or_else(|refused| panic!("{refused}"))
}

fn register(path: &Path) -> Register {
    let mut register = open(path).unwrap();
    if register.people().unwrap().is_empty() {
        let passphrase = Passphrase::new("correct horse battery").unwrap();
        let ada = Person { name: ADA.into(), role: KnownBy::Surgeon, passphrase };
        register.put_person(&ada, ADA, at("08:00")).unwrap();
    }
    register
}

fn issuer() -> Issuer {
    Issuer { by: ADA.into(), at: at("23:30") }
}

/// Prints records into a register and a folder: what became of each, and the files of other eyes.
fn print(path: &Path, out: &Path, practice: &Practice, cases: &[Value]) -> (Vec<Outcome>, Vec<String>) {
    let usual = |output: Output| !output.is_paper();
    let folder = Folder { path: out.to_owned(), wanted: &usual };
    let record = |case: &Value| Some((checked(case, practice), Moment::After, case.clone()));
    let issuing = Issuing::new(register(path), folder, practice, issuer(), cases.iter().map(record).collect()).unwrap();
    let (count, own) = issuing.counts();
    let issued = |_: &Record, _: Moment| at("23:30");
    let printer = Printer { forms: &[Form::Html], issued: &issued, issued_anyway: true };
    let read = |at: usize| {
        let wanted = issuing.wanted(at).expect("a case");
        Ok((wanted.record.clone(), wanted.moment))
    };
    let mut outcomes = printer.print(count, &read, &issuing, Watch::nobody());
    outcomes.truncate(own);
    (outcomes, issuing.along())
}

fn made(outcome: &Outcome) -> &[String] {
    match outcome {
        Outcome::Made(made) => &made.files,
        other => panic!("{other:?}"),
    }
}

fn same(text: String) -> String {
    text
}

#[test]
fn the_other_eye_is_found_in_the_register_and_issued_along_in_its_next_revision() {
    let folder = tempfile::tempdir().unwrap();
    let (path, out) = (folder.path().join("register.sqlite3"), folder.path().join("out"));
    let practice = practice(same, BTreeMap::new());
    let (right, left) = (written("both-eyes-right", same), written("both-eyes-left", same));
    let (outcomes, along) = print(&path, &out, &practice, &[right]);
    assert!(made(&outcomes[0]).contains(&"EX-10-r1-after-aftercare.html".into()) && along.is_empty());
    let (_, along) = print(&path, &out, &practice, &[left]);
    assert!(along.contains(&"EX-10-r2-after-aftercare.html".into()), "{along:?}");
    assert!(out.join("EX-10_EX-11-both-eyes.html").exists() && out.join("EX-11-r1-after-aftercare.html").exists());

    let store = open(&path).unwrap();
    let issues = |code: &str| store.issues(store.by_code(code).unwrap().unwrap()).unwrap();
    let revisions = |code: &str| issues(code).iter().map(|one| (one.issue.revision, one.joined)).collect::<Vec<_>>();
    assert_eq!((revisions("EX-10"), revisions("EX-11")), (vec![(2, true), (1, false)], vec![(1, true)]));
    for issued in issues("EX-10") {
        for (place, file) in issued.files.iter().enumerate() {
            let (name, bytes) = store.issued_file(issued.id, place).unwrap().unwrap();
            assert_eq!((&name, std::fs::read(out.join(&name)).unwrap()), (&file.name, bytes), "kept as written");
        }
    }
    assert!(store.verify(None).unwrap().is_ok());
}

#[test]
fn a_case_that_is_exported_and_printed_from_its_file_is_byte_for_byte_what_was_issued() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.sqlite3");
    let practice = practice(same, BTreeMap::new());
    print(&path, &folder.path().join("out"), &practice, &[written("ring-implant", same)]);
    let store = open(&path).unwrap();
    let id = store.by_code("EX-01").unwrap().unwrap();
    let exported = checked(&store.case(id).unwrap().unwrap().file.exported(), &practice);
    let again = Case::new(&exported, Moment::After).unwrap().packet_as(&[Form::Html], at("23:30")).unwrap();
    let issued = store.issues(id).unwrap().swap_remove(0);
    let kept = (0..issued.files.len()).map(|place| store.issued_file(issued.id, place).unwrap().unwrap());
    let kept: BTreeMap<String, Vec<u8>> = kept.filter(|(name, _)| !name.ends_with(".json")).collect();
    let again = again.files.into_iter().map(|file| (file.name, file.bytes));
    assert_eq!(kept, again.filter(|(name, _)| kept.contains_key(name)).collect());
    assert!(kept.keys().any(|name| name.ends_with("aftercare.html")));
}

#[test]
fn other_content_at_an_issued_revision_is_refused_and_leaves_nothing_behind() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("register.sqlite3");
    let practice = practice(same, BTreeMap::new());
    print(&path, &folder.path().join("out"), &practice, &[written("ring-implant", same)]);
    let head = open(&path).unwrap().head().unwrap();
    let changed = written("ring-implant", |text| text.replace("a ring-shaped floater", "a floater like a cobweb"));
    let elsewhere = folder.path().join("elsewhere");
    let (outcomes, _) = print(&path, &elsewhere, &practice, &[changed]);
    let refused = matches!(&outcomes[0], Outcome::Refused(_, Refusal::Register(RegisterError::SameRevision(1))));
    assert!(refused, "{outcomes:?}");
    assert!(!elsewhere.join("EX-01-r1-after-aftercare.html").exists());
    assert_eq!(open(&path).unwrap().head().unwrap(), head);
    let nobody = Issuer { by: "Nobody".into(), at: at("23:30") };
    let target = Folder { path: elsewhere, wanted: &|_| true };
    let unknown = Issuing::new(open(&path).unwrap(), target, &practice, nobody, Vec::new()).err();
    assert!(matches!(unknown, Some(RegisterError::NoPerson)));
}
