//! `verify`: what a file proves of itself and what the register that issued it knows.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use chrono::NaiveDateTime;
use lopdf::{Document, IncrementalDocument, Object, dictionary};
use sha2::{Digest, Sha256};
use vitreoleaf::demo;
use vitreoleaf::document::changes::Words;
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::{Case, Packet};
use vitreoleaf::record::Record;
use vitreoleaf::register::{CaseFile, Issue, Register};
use vitreoleaf::review::verify::{Appended, Verdict, Verification};
use vitreoleaf::verify::{Carried, Received, Refused, VerifyError, verify};

use crate::packets::{checked, made, practice, record};

fn same(text: String) -> String {
    text
}

fn at(hour: u32) -> NaiveDateTime {
    chrono::NaiveDate::from_ymd_opt(2026, 8, 5).unwrap().and_hms_opt(hour, 0, 0).unwrap()
}

/// A consent in two versions: in the second the surgeon has own words.
struct Issued {
    first: (Record, Packet),
    second: (Record, Packet),
}

static ISSUED: LazyLock<Issued> = LazyLock::new(|| {
    let practice = practice(same, BTreeMap::new());
    let version = |change: fn(String) -> String| {
        let record = record("ring-implant", change);
        let packet = made(&practice, &record, Moment::Before);
        (record, packet)
    };
    Issued {
        first: version(same),
        second: version(|text| {
            let own = "[[surgeon_words]]\nwords = \"Bring your reading glasses.\"\nby = \"Dr. Ada Sample\"\non = 2026-08-01\n\
                       reason = \"The patient asked what to bring along.\"\n";
            format!("{}\n{own}", text.replace("revision = 1", "revision = 2"))
        }),
    }
});

fn page<'p>(packet: &'p Packet, ending: &str) -> &'p [u8] {
    &packet.files.iter().find(|file| file.name.ends_with(ending)).expect("a page").bytes
}

fn consent(packet: &Packet) -> &[u8] {
    page(packet, "consent.pdf")
}

/// A register that issued these versions.
fn register(folder: &tempfile::TempDir, versions: &[&(Record, Packet)]) -> Register {
    let practice = practice(same, BTreeMap::new());
    let mut register = Register::in_file(&folder.path().join("register.sqlite3")).unwrap();
    let case = serde_json::json!({ "case": { "code": "EX-01" } });
    let case = register.add(&CaseFile::of(case)).unwrap();
    for (hour, (record, packet)) in (9..).zip(versions) {
        let issue = Issue::of(case, &checked(&practice, record), Moment::Before, false, "Dr. Ada Sample", at(hour));
        let files: Vec<(&str, &[u8])> =
            packet.files.iter().map(|file| (file.name.as_str(), file.bytes.as_slice())).collect();
        register.issue(&issue, &files).unwrap();
    }
    register
}

fn found(bytes: &[u8], register: Option<&Register>) -> Verification {
    verify(&Received::read(bytes.to_vec()).unwrap(), register).unwrap_or_else(|why| panic!("{why}"))
}

/// What goes along in a page, as it stands there.
fn data(pdf: &Document) -> String {
    let streams = pdf.objects.values().filter_map(|object| object.as_stream().ok()?.get_plain_content().ok());
    let mut texts = streams.filter_map(|bytes| String::from_utf8(bytes).ok());
    texts.find(|text| text.starts_with("{\"document\":")).expect("data of a page")
}

/// A file with something appended by another program.
fn appended(bytes: &[u8], change: impl FnOnce(&mut IncrementalDocument)) -> Vec<u8> {
    let mut update = IncrementalDocument::create_from(bytes.to_vec(), Document::load_mem(bytes).unwrap());
    change(&mut update);
    let mut bytes = Vec::new();
    update.save_to(&mut bytes).unwrap();
    bytes
}

#[test]
fn a_page_carries_what_it_was_made_from_and_its_code_names_it() {
    let bytes = consent(&ISSUED.first.1);
    let carried = Carried::of(&Document::load_mem(bytes).unwrap()).unwrap();
    let document = &carried.source.document;
    assert_eq!((document.id.as_str(), document.revision), ("EX-01-before-consent", 1));
    let claims = found(bytes, None).claims.unwrap();
    let said = format!("EX-01-before-consent r1 {}", carried.fingerprint);
    assert_eq!((claims.code, claims.language.as_str()), (said, "en-US"));
}

/// What goes along is what the layout received, and nothing else; pages of the staff carry nothing.
#[test]
fn nothing_but_the_page_goes_along() {
    let practice = practice(same, BTreeMap::new());
    let (record, packet) = &ISSUED.first;
    let checked = checked(&practice, record);
    let case = Case::new(&checked, Moment::Before).unwrap();
    let documents = case.documents(demo::issued(record, Moment::Before)).unwrap();
    let carried = data(&Document::load_mem(consent(packet)).unwrap());
    let document = serde_json_canonicalizer::to_string(&documents[0]).unwrap();
    let version = env!("CARGO_PKG_VERSION");
    assert_eq!(carried, format!("{{\"document\":{document},\"program\":\"{version}\",\"version\":1}}"));
    for staff in ["surgeon.pdf", "desk.pdf"] {
        assert!(Carried::of(&Document::load_mem(page(packet, staff)).unwrap()).is_err(), "{staff}");
    }
}

#[test]
fn what_was_issued_is_whole_and_the_same_bytes_twice() {
    let folder = tempfile::tempdir().unwrap();
    let register = register(&folder, &[&ISSUED.first]);
    for file in &ISSUED.first.1.files {
        let found = found(&file.bytes, Some(&register));
        assert_eq!((found.verdict, found.holds()), (Verdict::Whole, true), "{}", file.name);
        assert_eq!(found.issued.unwrap().file, file.name);
        assert_eq!(found.sha256, hex(&file.bytes));
    }
    let again = made(&practice(same, BTreeMap::new()), &ISSUED.first.0, Moment::Before);
    assert_eq!(consent(&again), consent(&ISSUED.first.1));
}

fn hex(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

#[test]
fn a_newer_version_is_named_with_what_a_patient_reads_otherwise() {
    let folder = tempfile::tempdir().unwrap();
    let register = register(&folder, &[&ISSUED.first, &ISSUED.second]);
    let old = found(consent(&ISSUED.first.1), Some(&register));
    assert_eq!((old.verdict, old.holds()), (Verdict::Whole, false));
    let replaced = old.replaced.unwrap();
    assert_eq!((replaced.by.revision, replaced.by.at.naive_utc()), (2, at(10)));
    let changes = replaced.changes.unwrap();
    let own = changes.iter().find(|change| change.id == "part/own-words").expect("own words of the surgeon");
    let new = |words: &Words| matches!(words, Words::New(text) if text.trim_end() == "glasses.");
    assert!(own.words.iter().any(new), "{own:?}");
    assert_eq!(found(consent(&ISSUED.second.1), Some(&register)).replaced, None);
}

#[test]
fn a_signature_that_is_appended_is_no_change() {
    let folder = tempfile::tempdir().unwrap();
    let register = register(&folder, &[&ISSUED.first]);
    let bytes = consent(&ISSUED.first.1);
    let signed = appended(bytes, |update| {
        let field = dictionary! { "FT" => "Sig", "Subtype" => "Widget", "Rect" => vec![0.into(), 0.into(), 0.into(), 0.into()] };
        let field = update.new_document.add_object(field);
        let first = update.get_prev_documents().page_iter().next().unwrap();
        update.opt_clone_object_to_new_document(first).unwrap();
        let page = update.new_document.get_dictionary_mut(first).unwrap();
        page.set("Annots", vec![Object::Reference(field)]);
    });
    let found = found(&signed, Some(&register));
    let more = Appended { bytes: signed.len() - bytes.len(), redraws: false, over_pages: 0 };
    assert_eq!((found.verdict, found.holds(), found.appended), (Verdict::Appended, true, Some(more)));
}

#[test]
fn what_is_appended_to_show_something_else_is_told() {
    let folder = tempfile::tempdir().unwrap();
    let register = register(&folder, &[&ISSUED.first]);
    let bytes = consent(&ISSUED.first.1);
    let redrawn = appended(bytes, |update| {
        let first = update.get_prev_documents().page_iter().next().unwrap();
        let other = update.get_prev_documents().page_iter().nth(1).unwrap();
        let contents = update.get_prev_documents().get_dictionary(other).unwrap().get(b"Contents").unwrap().clone();
        update.opt_clone_object_to_new_document(first).unwrap();
        update.new_document.get_dictionary_mut(first).unwrap().set("Contents", contents);
    });
    let covered = appended(bytes, |update| {
        let note = dictionary! { "Subtype" => "Square", "Rect" => vec![0.into(), 0.into(), 90.into(), 90.into()] };
        let note = update.new_document.add_object(note);
        let first = update.get_prev_documents().page_iter().next().unwrap();
        update.opt_clone_object_to_new_document(first).unwrap();
        update.new_document.get_dictionary_mut(first).unwrap().set("Annots", vec![Object::Reference(note)]);
    });
    let told = |bytes: &[u8]| {
        let found = found(bytes, Some(&register));
        let appended = found.appended.unwrap();
        (found.verdict, found.holds(), appended.redraws, appended.over_pages)
    };
    assert_eq!(told(&redrawn), (Verdict::Appended, false, true, 0));
    assert_eq!(told(&covered), (Verdict::Appended, true, false, 1));
    assert_eq!(told(&[bytes, b"\nno part of a PDF"].concat()), (Verdict::Appended, true, false, 0));
}

#[test]
fn a_file_that_says_it_is_another_is_changed_or_unknown() {
    let folder = tempfile::tempdir().unwrap();
    let register = register(&folder, &[&ISSUED.first]);
    let mut bytes = consent(&ISSUED.first.1).to_vec();
    let place = bytes.windows(8).position(|window| window == b"/Creator").unwrap();
    bytes[place + 12] ^= 1;
    let changed = found(&bytes, Some(&register));
    assert_eq!((changed.verdict, changed.holds()), (Verdict::Changed, false));
    assert_eq!(changed.altered, Some(Vec::new()), "its data are those that were issued");
    let unknown = found(consent(&ISSUED.second.1), Some(&register));
    assert_eq!((unknown.verdict, unknown.issued), (Verdict::Unknown, None));
    assert_eq!(found(&bytes, None).verdict, Verdict::NotAsked);
    let staff = [page(&ISSUED.second.1, "surgeon.pdf"), b"\n"].concat();
    assert_eq!(found(&staff, Some(&register)).verdict, Verdict::NotOurs);
}

/// A file of ours into which other data were put: what a patient would read otherwise is told.
#[test]
fn data_that_were_altered_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let register = register(&folder, &[&ISSUED.first]);
    let mut other = Document::load_mem(consent(&ISSUED.second.1)).unwrap();
    for object in other.objects.values_mut() {
        let Ok(stream) = object.as_stream_mut() else { continue };
        let Ok(text) = stream.get_plain_content().map(|bytes| String::from_utf8(bytes).unwrap_or_default()) else {
            continue;
        };
        if text.starts_with("{\"document\":") {
            stream.dict.remove(b"Filter");
            stream.set_content(text.replace("\"revision\":2", "\"revision\":1").into_bytes());
        }
    }
    let mut bytes = Vec::new();
    other.save_to(&mut bytes).unwrap();
    let found = found(&bytes, Some(&register));
    assert_eq!(found.verdict, Verdict::Changed);
    assert!(!found.altered.unwrap().is_empty());
}

#[test]
fn what_is_no_pdf_is_refused() {
    for bytes in [&b""[..], b"%PDF-1.7", b"BEGIN:VCALENDAR", b"%PDF-1.7\ntrailer <</Root 1 0 R>>\n%%EOF"] {
        let file = Received::read(bytes.to_vec()).unwrap();
        assert!(matches!(verify(&file, None), Err(VerifyError::Refused(Refused::NotPdf))));
    }
}

/// A file that leads in a circle or unpacks without end is answered all the same.
#[test]
fn names_in_a_circle_and_bombs_are_answered() {
    let mut pdf = Document::load_mem(consent(&ISSUED.first.1)).unwrap();
    let circle = pdf.new_object_id();
    pdf.set_object(circle, dictionary! { "Kids" => vec![Object::Reference(circle); 4] });
    pdf.catalog_mut().unwrap().set("Names", dictionary! { "EmbeddedFiles" => circle });
    let mut bytes = Vec::new();
    pdf.save_to(&mut bytes).unwrap();
    assert_eq!(found(&bytes, None).verdict, Verdict::NotOurs);
}

/// Bytes are changed, cut off and doubled at places that a fixed row of numbers chooses: no panic, and never taken for whole.
#[test]
fn damaged_files_are_answered_without_a_panic() {
    let folder = tempfile::tempdir().unwrap();
    let register = register(&folder, &[&ISSUED.first]);
    let bytes = consent(&ISSUED.first.1);
    let mut state = 0x2545_f491_u32;
    let mut next = |below: usize| {
        state ^= state << 13;
        state ^= state >> 17;
        state ^= state << 5;
        state as usize % below
    };
    for turn in 0..90 {
        let mut damaged = bytes.to_vec();
        for _ in 0..=next(40) {
            let place = next(damaged.len());
            match turn % 3 {
                0 => damaged[place] ^= 1 << next(8),
                1 => damaged.truncate(place.max(100)),
                _ => drop(damaged.splice(place..place, b" 9999999999 0 R << [ ( ".iter().copied())),
            }
        }
        if damaged == bytes {
            continue;
        }
        let verified = verify(&Received::read(damaged).unwrap(), Some(&register));
        assert!(verified.is_err() || verified.is_ok_and(|found| found.verdict != Verdict::Whole), "turn {turn}");
    }
}
