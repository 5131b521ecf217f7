//! A case typed into the form is the case of its file: the same record, and byte for byte the same packet.

use std::sync::LazyLock;

use serde_json::Value;
use vitreoleaf::assets::samples;
use vitreoleaf::demo;
use vitreoleaf::diag::SourceFile;
use vitreoleaf::packet::{Case, Form};
use vitreoleaf::practice::{Checked, Practice};
use vitreoleaf::record::form::{self, Key, Kind};
use vitreoleaf::record::typed::{self, Names};
use vitreoleaf::record::{Record, locate};
use vitreoleaf::register::{CaseFile, Register};

use super::browser::{Browser, FIRST_ISSUE, PASSPHRASE, SURGEON, Served};
use crate::packets::practice;

const STEPS: [&str; 4] = ["desk", "nurse", "surgeon", "treatment"];

/// What stands behind a time of the day.
static NAMES: LazyLock<Names> = LazyLock::new(|| {
    let mut names = Names::default();
    names.add([("morning", "am"), ("afternoon", "pm")]);
    names
});

/// A record as it is written in its sample.
fn whole(text: &str) -> Value {
    locate::read(&SourceFile { name: "case.toml".into(), text: text.into() }).0.value
}

/// The same without what is signed.
fn written(text: &str) -> Value {
    let mut value = whole(text);
    for signed in ["answers", "tailoring", "surgeon_words"] {
        value.as_object_mut().unwrap().remove(signed);
    }
    value
}

/// What somebody types for a record, field by field.
fn typing(value: &Value, pointer: &str, keys: &[Key], fields: &mut Vec<(String, String)>) {
    let any = pointer.split('/').map(|part| if part.parse::<usize>().is_ok() { "*" } else { part });
    let any = any.collect::<Vec<_>>().join("/");
    let key = keys.iter().find(|key| key.pointer == any);
    let mut field = |name: String, text: &str| fields.push((name, text.to_owned()));
    match value {
        Value::Object(table) => {
            table.iter().for_each(|(name, value)| typing(value, &format!("{pointer}/{name}"), keys, fields));
        }
        Value::Array(entries) if entries.is_empty() => {
            if key.is_some_and(|key| key.may_be_unknown) {
                field(format!("={pointer}"), "on");
            }
        }
        Value::Array(entries) => {
            entries.iter().enumerate().for_each(|(at, value)| typing(value, &format!("{pointer}/{at}"), keys, fields));
        }
        Value::String(word) if word == "unknown" && key.is_some_and(|key| key.kind != Kind::Word) => {
            field(format!("~{pointer}"), "on");
        }
        Value::String(text) => {
            let format = key.and_then(|key| key.format);
            field(
                pointer.to_owned(),
                &format.map_or_else(|| text.clone(), |format| typed::shown(format, text, &NAMES)),
            );
        }
        other => field(pointer.to_owned(), &other.to_string()),
    }
}

fn packets(record: &Checked<Record>, forms: &[Form]) -> Vec<(String, Vec<u8>)> {
    let made = demo::moments(record)
        .into_iter()
        .map(|moment| Case::new(record, moment).unwrap().packet_as(forms, demo::issued(record, moment)).unwrap());
    made.flat_map(|packet| packet.files).map(|file| (file.name, file.bytes)).collect()
}

fn checked(value: &Value, practice: &Practice) -> Checked<Record> {
    let file = SourceFile { name: "case.json".into(), text: value.to_string() };
    Checked::read(&file, practice.clone()).unwrap_or_else(|refused| panic!("{refused}"))
}

/// Signs what the file holds signed, each on its day with its reason, as soon as the pages of the case offer it.
fn sign(browser: &Browser, id: u32, sample: &Value) {
    let of_file = |list: &str| sample[list].as_array().cloned().unwrap_or_default();
    let text = |entry: &Value, key: &str| entry[key].as_str().unwrap().to_owned();
    let send = |entry: &Value, step: &str, fields: &[(String, String)]| {
        browser.served.set_clock(&format!("{}T15:00:00", text(entry, "on")));
        let mut all = vec![("token".to_owned(), browser.token())];
        all.extend_from_slice(fields);
        browser.post_as_it_is(&format!("/case/{id}/{step}"), &all);
    };
    for answer in of_file("answers") {
        let (finding, reason) = (text(&answer, "finding"), text(&answer, "reason"));
        let page = browser.get(&format!("/case/{id}/surgeon"));
        if page.text().contains(&format!("value=\"sign {finding}\"")) {
            let fingerprint = page.field(&format!("fingerprint {finding}"));
            let named = [("reason", reason), ("passphrase", PASSPHRASE.into()), ("fingerprint", fingerprint)];
            let mut fields = named.map(|(name, text)| (format!("{name} {finding}"), text)).to_vec();
            fields.push(("do".into(), format!("sign {finding}")));
            send(&answer, "surgeon", &fields);
        }
    }
    let is_new = |list: &str| browser.kept(id).record.get(list).is_none();
    if is_new("tailoring") {
        for change in of_file("tailoring") {
            let statement = text(&change, "statement");
            let named = [("change".into(), text(&change, "change")), ("passphrase".into(), PASSPHRASE.into())];
            let mut fields = named.to_vec();
            fields.push((format!("why {statement}"), text(&change, "reason")));
            fields.push(("do".into(), format!("tailor {statement}")));
            send(&change, "pages", &fields);
        }
    }
    if is_new("surgeon_words") {
        for own in of_file("surgeon_words") {
            let fields = [
                ("do", "own".to_owned()),
                ("own", text(&own, "words")),
                ("own_was", String::new()),
                ("own_reason", text(&own, "reason")),
                ("own_passphrase", PASSPHRASE.to_owned()),
            ];
            send(&own, "pages", &fields.map(|(name, text)| (name.to_owned(), text)));
        }
    }
}

/// A record with its answers in the order of their findings, without the values that the desk notes with each.
fn alike(mut record: Value) -> Value {
    if let Some(answers) = record.get_mut("answers").and_then(Value::as_array_mut) {
        for answer in &mut *answers {
            answer.as_object_mut().unwrap().remove("values");
        }
        answers.sort_by_key(|answer| answer["finding"].to_string());
    }
    record
}

/// Filled in step by step, and signed at each step by its surgeon.
#[test]
fn every_case_of_the_demo_typed_in_gives_the_packet_of_its_file() {
    let served = Served::start();
    let browser = served.signed_in(SURGEON);
    let keys = form::describe::<Record>().keys;
    let practice = practice(|text| text, Default::default());
    let cases = samples();
    let cases: Vec<_> = cases.iter().filter(|(path, _)| path.ends_with("/case.toml")).collect();
    assert_eq!(cases.len(), 11, "every case of the demo");
    for (path, text) in cases {
        let sample = whole(text);
        let mut fields = Vec::new();
        typing(&written(text), "", &keys, &mut fields);
        let fields: Vec<(&str, &str)> = fields.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
        let id = browser.begin();
        for step in STEPS {
            let page = browser.post(&format!("/case/{id}/{step}"), &fields);
            assert!(!page.text().contains("id=\"errors\""), "{path}: {}", page.text());
            sign(&browser, id, &sample);
        }
        let kept = browser.kept(id);
        assert!(kept.typed.is_empty(), "{path}: {:?}", kept.typed);
        let exported = kept.exported();
        let (of_form, of_file) =
            (checked(&alike(exported.clone()), &practice), checked(&alike(sample.clone()), &practice));
        assert_eq!(of_form.hash().unwrap(), of_file.hash().unwrap(), "{path}");
        let every = std::env::var_os("VITREOLEAF_EVERY").is_some() || path.starts_with("ring-implant");
        let forms = if every { &[Form::Pdf, Form::Html][..] } else { &[Form::Html] };
        assert!(packets(&of_form, forms) == packets(&of_file, forms), "{path}: other bytes");
        let again = CaseFile::imported(exported.clone()).unwrap().exported();
        let hash = |record: &Value| checked(record, &practice).hash().unwrap();
        assert_eq!(hash(&again), hash(&exported), "{path}: out and in again");
    }
}

#[test]
fn what_cannot_be_read_stands_in_its_field_with_the_way_out() {
    let served = Served::start();
    let browser = served.signed_in("Max");
    let id = browser.begin();
    let path = format!("/case/{id}/desk");
    let page = browser.post(&path, &[("/patient/birth_date", "feb 31 1971"), ("/patient/name", "<script>\"&")]).text();
    assert!(page.contains("value=\"feb 31 1971\"") && page.contains("There is no such day."), "{page}");
    assert!(!page.contains("<script>\"") && page.contains("&lt;script&gt;&quot;&amp;"), "a name is text");
    let page = browser.post(&path, &[("/patient/birth_date", "3/2/1955")]).text();
    assert!(
        page.contains("Wednesday, March\u{a0}2, 1955") && page.contains("Thursday, February\u{a0}3, 1955"),
        "{page}"
    );
    let page = browser.post(&path, &[("do", "is /patient/birth_date 1955-03-02")]).text();
    assert!(page.contains("value=\"1955-03-02\"") && !page.contains("id=\"errors\""));
    let page = browser.post(&path, &[("/patient/birth_date", "1955-03-02"), ("do", "undo")]).text();
    assert!(page.contains("value=\"3&#x2f;2&#x2f;1955\""), "undo goes back to what was typed");
}

#[test]
fn a_group_is_answered_as_a_whole_and_one_yes_stands() {
    let served = Served::start();
    let browser = served.signed_in("Kim");
    let id = browser.begin();
    let answered = [("/health/asthma", "yes"), ("do", "none lungs_heart")];
    browser.post(&format!("/case/{id}/nurse"), &answered);
    let kept = Register::in_file(&served.register).unwrap().case(id.into()).unwrap().unwrap().file.record;
    let whole = &browser.kept(id).whole["lungs_heart"];
    assert_eq!((whole.by.as_str(), whole.at.to_string().as_str()), ("Kim", "2026-08-12 12:00:00"));
    let health = &kept["health"];
    assert_eq!(
        (&health["asthma"], &health["copd"], &health["pacemaker"]),
        (&"yes".into(), &"none".into(), &"no".into())
    );
    assert!(health.get("diabetes").is_none());
}

#[test]
fn an_answer_is_signed_by_passphrase_and_falls_with_its_values() {
    let served = Served::start();
    let keys = form::describe::<Record>().keys;
    let browser = served.signed_in("Ada");
    let id = browser.begin();
    let mut fields = Vec::new();
    typing(&written(&samples()["multifocal-glaucoma/case.toml"]), "", &keys, &mut fields);
    fields.retain(|(name, _)| !name.contains("/treatment"));
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    for step in STEPS {
        browser.post(&format!("/case/{id}/{step}"), &fields);
    }
    let path = format!("/case/{id}/surgeon");
    let page = browser.get(&path).text();
    let (_, rest) = page.split_once("value=\"sign ").expect("an open finding");
    let finding = rest.split('"').next().unwrap().to_owned();
    let fingerprint = browser.get(&path).field(&format!("fingerprint {finding}"));
    let sign = |passphrase: &str, reason: &str, fingerprint: &str| {
        let fields = [("reason", reason), ("passphrase", passphrase), ("fingerprint", fingerprint)];
        let mut named: Vec<(String, &str)> =
            fields.map(|(name, text)| (format!("{name} {finding}"), text)).into_iter().collect();
        let done = format!("sign {finding}");
        named.push(("do".into(), &done));
        let named: Vec<(&str, &str)> = named.iter().map(|(name, text)| (name.as_str(), *text)).collect();
        browser.post(&path, &named).text().contains("Answered by Ada.")
    };
    assert!(!sign("wrong", "Seven days only.", &fingerprint));
    assert!(!sign(PASSPHRASE, " ", &fingerprint));
    assert!(!sign(PASSPHRASE, "Seven days only.", "0000"), "other values than the surgeon saw");
    assert!(sign(PASSPHRASE, "Seven days only.", &fingerprint));
    let kept = || Register::in_file(&served.register).unwrap();
    let answers = kept().case(id.into()).unwrap().unwrap().file.record["answers"].clone();
    assert_eq!(answers[0]["by"], Value::from("Ada"));
    assert_eq!(answers[0]["on"], Value::from("2026-08-12"));
    assert_eq!(kept().revisions(id.into()).unwrap()[0].why, "answered");
    let text = String::from_utf8_lossy(&std::fs::read(&served.register).unwrap()).into_owned();
    assert!(!text.contains(PASSPHRASE));
    // One of the values it was given for changes: the answer stands in the record and counts no longer.
    let row = page.split(&format!("id=\"finding-{finding}\"")).nth(1).unwrap().split("</details>").next().unwrap();
    let key = keys.iter().find(|key| {
        let id = format!("#f{}\"", key.pointer.replace('/', "-"));
        key.kind == Kind::Word && key.may_be_unknown && row.contains(&id)
    });
    let key = key.expect("a word that can be unknown").pointer.clone();
    for step in STEPS {
        browser.post(&format!("/case/{id}/{step}"), &[(&key, "unknown")]);
    }
    assert!(!browser.get(&path).text().contains("Answered by Ada."), "{key} changed");
    assert_eq!(browser.kept(id).record["answers"], answers, "what was signed stays on the record");
}

/// A case of the demo as it is planned, typed in: its number.
pub(super) fn planned(browser: &Browser, name: &str) -> u32 {
    let keys = form::describe::<Record>().keys;
    let mut fields = Vec::new();
    typing(&written(&samples()[&format!("{name}/case.toml")]), "", &keys, &mut fields);
    fields.retain(|(name, _)| !name.contains("/treatment") && !name.contains("/plan/visits"));
    for (name, text) in &mut fields {
        if name == "/plan/start" {
            *text = "2026-08-21 10:00".into();
        }
    }
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    let id = browser.begin();
    for step in STEPS {
        browser.post(&format!("/case/{id}/{step}"), &fields);
    }
    id
}

/// A case of the demo, treatment and all, typed in: its number.
pub(super) fn treated(browser: &Browser, name: &str) -> u32 {
    let keys = form::describe::<Record>().keys;
    let mut fields = Vec::new();
    typing(&written(&samples()[&format!("{name}/case.toml")]), "", &keys, &mut fields);
    let fields: Vec<(&str, &str)> = fields.iter().map(|(name, text)| (name.as_str(), text.as_str())).collect();
    let id = browser.begin();
    for step in STEPS {
        browser.post(&format!("/case/{id}/{step}"), &fields);
    }
    id
}

/// As in a batch, the desk finds the other eye: one calendar for both, issued with both.
#[test]
fn two_eyes_of_one_patient_get_one_calendar() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let right = treated(&browser, "both-eyes-right");
    let left = treated(&browser, "both-eyes-left");
    let page = browser.post(&format!("/case/{left}/print"), &[]).text();
    assert!(page.contains("EX-10_EX-11-both-eyes.pdf") && page.contains("after-aftercare.pdf"), "{page}");
    let other = browser.get(&format!("/case/{right}/print")).text();
    assert!(other.contains("after-aftercare.pdf"), "{other}");
    let alone = treated(&browser, "ring-implant");
    let page = browser.post(&format!("/case/{alone}/print"), &[]).text();
    assert!(page.contains("after-aftercare.pdf") && page.contains("after-calendar.ics") && !page.contains("both-eyes"));
}

#[test]
fn the_pages_are_looked_at_before_and_changed_by_hand_with_a_passphrase() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let id = planned(&browser, "ring-implant");
    let path = format!("/case/{id}/pages");
    let page = browser.get(&path).text();
    let (_, rest) = page.split_once("<img src=\"").unwrap_or_else(|| panic!("{page}"));
    let picture = rest.split('"').next().unwrap().replace("&#x2f;", "/");
    let svg = browser.get(&picture);
    assert!(svg.body.starts_with(b"<svg") && svg.header("content-type") == Some("image/svg+xml"));
    assert_eq!(browser.get(&format!("/case/{id}/page/1-1.svg")).status, 404, "an earlier version");
    let list = page.split("id=\"findings\"").nth(1).expect("what stands on the pages");
    let rows: Vec<&str> = list.split("?statement=").skip(1).collect();
    let row = |core: bool| {
        let stays = |row: &&&str| row.split("</li>").next().unwrap().contains("core, stays") == core;
        let one = rows.iter().filter(|row| row.starts_with("risk-")).find(stays);
        one.expect("a statement").split(['#', '&']).next().unwrap().to_owned()
    };
    let hand = |statement: &str, change: &str, passphrase: &str| {
        let done = format!("tailor {statement}");
        let why = format!("why {statement}");
        let fields = [("do", done.as_str()), ("change", change), (&why, "Asked twice."), ("passphrase", passphrase)];
        browser.post(&path, &fields);
        let kept = Register::in_file(&served.register).unwrap().case(id.into()).unwrap().unwrap().file.record;
        kept.get("tailoring").cloned()
    };
    assert_eq!(hand(&row(true), "leave_out", PASSPHRASE), None, "what is core stays");
    assert_eq!(hand(&row(false), "move_up", "wrong"), None);
    let signed = hand(&row(false), "move_up", PASSPHRASE).expect("signed");
    assert_eq!((&signed[0]["by"], &signed[0]["change"]), (&"Ada".into(), &"move_up".into()));
    let page = browser.get(&path).text();
    assert!(page.contains("The last change altered ") && page.contains("<span class=\"tag\">moved</span>"), "{page}");
    assert_eq!(hand(&row(false), "as_it_is", PASSPHRASE), None, "taken back");
    let second = browser.get(&format!("{path}?page=2&zoom=150")).text();
    assert!(second.contains("-2.svg"), "{second}");
    assert!(
        second.contains("zoom-150") && second.contains("rel=\"prev\"") && second.contains("class=\"area"),
        "{second}"
    );
}

#[test]
fn own_words_are_signed_with_a_reason_changed_and_taken_out_in_one_place() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let id = planned(&browser, "ring-implant");
    let path = format!("/case/{id}/pages");
    let send = |done: &str, own: &str, was: &str, reason: &str| {
        let fields =
            [("do", done), ("own", own), ("own_was", was), ("own_reason", reason), ("own_passphrase", PASSPHRASE)];
        browser.post(&path, &fields).text()
    };
    let kept = || browser.kept(id).record.get("surgeon_words").cloned();
    let (pilot, again) = ("We spoke about your work as a pilot.", "We spoke about your work in the tower.");
    assert!(send("own", pilot, "", " ").contains("role=\"alert\"") && kept().is_none(), "without a reason");
    let page = send("own", pilot, "", "She must pass a check of sight.");
    let signed = kept().expect("signed");
    assert_eq!(
        (&signed[0]["words"], &signed[0]["by"], &signed[0]["on"]),
        (&pilot.into(), &"Ada".into(), &"2026-08-12".into())
    );
    let twin = page.split("class=\"twin\"").nth(1).expect("the same as text");
    assert!(twin.contains(pilot) && page.contains("She must pass a check of sight."), "{page}");
    browser.post(&format!("/case/{id}/surgeon"), &[("/surgeon_words/0/words", "Typed into a form.")]);
    assert_eq!(kept(), Some(signed), "no form changes what is signed");
    let filled = browser.get(&format!("{path}?own=0")).text();
    assert!(filled.contains(&format!("name=\"own_was\" value=\"{pilot}\"")), "{filled}");
    send("own", again, pilot, "She is an air traffic controller.");
    let signed = kept().expect("signed again");
    assert_eq!((signed.as_array().unwrap().len(), &signed[0]["words"]), (1, &again.into()));
    send("own_out", again, again, "");
    assert_eq!(kept(), None);
}

#[test]
fn what_is_issued_is_kept_and_what_is_withheld_has_no_address() {
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let id = planned(&browser, "ring-implant");
    let page = browser.post(&format!("/case/{id}/print"), &[]).text();
    assert!(page.contains("EX-01-r1-before-consent.pdf"), "{page}");
    let pdf = browser.get(&format!("{FIRST_ISSUE}/0"));
    assert!(pdf.body.starts_with(b"%PDF-1.7") && pdf.header("content-type") == Some("application/pdf"));
    browser.post(&format!("/case/{id}/desk"), &[("/plan/place", "Another room")]);
    let page = browser.post(&format!("/case/{id}/print"), &[]).text();
    assert!(page.contains("EX-01-r2-before-consent.pdf"), "a changed case becomes the next version: {page}");
    let id = planned(&browser, "young-detachment");
    let page = browser.post(&format!("/case/{id}/print"), &[]).text();
    assert!(page.contains("before-surgeon.pdf") && !page.contains("EX-04-r1-before-consent.pdf"), "{page}");
    let kept = Register::in_file(&served.register).unwrap().issues(id.into()).unwrap();
    assert!(kept[0].files.iter().all(|file| !file.name.contains("consent")));
}

/// Nobody prints both in one command here: the register knows both.
#[test]
fn one_name_with_two_record_numbers_is_asked_about_in_both_cases() {
    const ASKED: &str = "One name and date of birth, two record numbers";
    let served = Served::start();
    let browser = served.signed_in("Ada");
    let (right, left) = (planned(&browser, "both-eyes-right"), planned(&browser, "both-eyes-left"));
    let page = |id: u32| browser.get(&format!("/case/{id}/surgeon")).text();
    assert!(!page(right).contains(ASKED) && !page(left).contains(ASKED));
    browser.post(&format!("/case/{left}/desk"), &[("/patient/record_number", "000-111")]);
    for (id, other) in [(right, "EX-11 (000-111)"), (left, "EX-10 (000-110)")] {
        let page = page(id);
        assert!(page.contains(ASKED) && page.contains(other), "{page}");
        let issued = browser.post(&format!("/case/{id}/print"), &[]).text();
        assert!(!issued.contains("before-consent.pdf") && issued.contains("before-surgeon.pdf"), "{issued}");
    }
}
