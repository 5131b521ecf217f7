//! The record to fill in: whole, readable in every state, and accepted once what must be written is.

use std::collections::BTreeSet;
use std::process::Command;

use serde_json::json;
use toml::{Table, Value};
use vitreoleaf::assets::Assets;
use vitreoleaf::diag::{SourceFile, emit};
use vitreoleaf::record::form;
use vitreoleaf::record::formulary::Formulary;
use vitreoleaf::record::profile::Profile;
use vitreoleaf::record::{Record, load, new};

fn profile() -> Profile {
    let text = include_str!("invalid/valid_profile.toml").into();
    load::load::<Profile>(&SourceFile { name: "profile.toml".into(), text }).unwrap().value
}

fn text() -> String {
    let formulary = Formulary::load(&Assets::default()).unwrap();
    new::commented(Some(new::Practice { profile: &profile(), formulary: &formulary }))
}

/// A line of a key that is not known yet: `#acuity = "unknown"`. What is said about it stands behind `# `.
fn is_key(line: &str) -> bool {
    line.starts_with('#') && !line.starts_with("# ")
}

fn uncommented(text: &str, which: impl Fn(usize) -> bool) -> String {
    let line =
        |(at, line): (usize, &str)| if is_key(line) && which(at) { line[1..].to_owned() } else { line.to_owned() };
    text.lines().enumerate().map(line).collect::<Vec<_>>().join("\n")
}

#[test]
fn any_line_may_be_uncommented() {
    for text in [text(), new::commented(None)] {
        let keys: Vec<usize> = text.lines().enumerate().filter(|(_, line)| is_key(line)).map(|(at, _)| at).collect();
        assert!(keys.len() > 60, "{}", keys.len());
        for key in keys {
            let text = uncommented(&text, |at| at == key);
            assert!(text.parse::<Table>().is_ok(), "{}", text.lines().nth(key).unwrap());
        }
    }
}

fn patterns(value: &Value, at: &str, found: &mut BTreeSet<String>) {
    let below: Vec<(String, &Value)> = match value {
        Value::Table(table) => table.iter().map(|(key, value)| (format!("{at}/{key}"), value)).collect(),
        Value::Array(entries) => entries.iter().map(|value| (format!("{at}/*"), value)).collect(),
        _ => Vec::new(),
    };
    for (pointer, value) in below {
        patterns(value, &pointer, found);
        found.insert(pointer);
    }
}

/// TOML refuses a key that stands twice; so each stands once.
#[test]
fn every_key_of_the_form_stands_in_it_once() {
    let all: Value = Value::Table(uncommented(&text(), |_| true).parse().unwrap());
    let mut written = BTreeSet::new();
    patterns(&all, "", &mut written);
    let lists = ["/health/medicines/*", "/health/eye_drops/*", "/letters/medicines_changed/*"].map(str::to_owned); // said to be unknown
    let form: BTreeSet<String> = form::describe::<Record>().keys.into_iter().map(|key| key.pointer).collect();
    assert_eq!(written.union(&lists.into()).cloned().collect::<BTreeSet<_>>(), form);
}

/// Only what must be written, in the practice's own names; all else stays unknown.
#[test]
fn filled_in_it_is_a_record_of_which_all_else_is_unknown() {
    let mut text = text();
    for (key, value) in [
        ("code", "X-1"),
        ("name", "Ada Example"),
        ("birth_date", "1954-03-02"),
        ("record_number", "000417"),
        ("language", "en-US"),
        ("wakes", "07:00"),
        ("sleeps", "22:30"),
        ("reason", "a ring-shaped floater"),
        ("side", "right"),
        ("start", "2026-08-07T10:30"),
        ("surgeon", "jm"),
        ("place", "Room 2"),
        ("regimen", "usual"),
    ] {
        let open = format!("\n{key} = \"\"\n");
        assert_eq!(text.matches(&open).count(), 1, "{key}");
        text = text.replace(&open, &format!("\n{key} = \"{value}\"\n"));
    }
    let file = SourceFile { name: "new.toml".into(), text };
    let record =
        load::load::<Record>(&file).map_err(|report| emit::human(&report, &file, emit::Colour::Never)).unwrap();
    let value = serde_json::to_value(&record.value).unwrap();
    assert_eq!((&value["eye"]["lens"], &value["history"]["glaucoma"]), (&json!("unknown"), &json!("unknown")));
    assert_eq!(value["health"]["medicines"], "unknown");
    assert_eq!(value["treatment"], serde_json::Value::Null);
}

#[test]
fn the_practices_own_names_stand_beside_the_keys() {
    let (text, profile) = (text(), profile());
    let ids = profile.surgeons.iter().map(|it| &it.id).chain(profile.regimens.iter().map(|it| &it.id));
    for id in ids.chain(profile.visits.iter().map(|it| &it.id)).chain(&profile.practice.languages) {
        assert!(text.contains(&format!("\"{id}\"")), "{id}");
    }
    assert!(text.contains("\"tropicamide\"") && text.contains("\"proxymetacaine\""));
    assert!(text.lines().all(|line| line.chars().count() <= 120 || is_key(line)), "a line is too long to read");
}

#[test]
fn a_file_that_is_there_is_never_overwritten() {
    let folder = tempfile::tempdir().unwrap();
    let run = |args: &[&str]| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_vitreoleaf"));
        command.args(args).current_dir(folder.path()).env_remove("VITREOLEAF_PRACTICE").output().unwrap()
    };
    let practice = format!("{}/output-samples/practice", env!("CARGO_MANIFEST_DIR"));
    let streamed = run(&["new", "-p", &practice]);
    assert!(String::from_utf8_lossy(&streamed.stdout).contains("Dr. Ada Sample"));
    assert_eq!(run(&["new", "--out", "case.toml"]).status.code(), Some(0));
    std::fs::write(folder.path().join("case.toml"), "mine").unwrap();
    let refused = run(&["new", "--out", "case.toml"]);
    assert_eq!(refused.status.code(), Some(2), "{}", String::from_utf8_lossy(&refused.stderr));
    assert_eq!(std::fs::read_to_string(folder.path().join("case.toml")).unwrap(), "mine");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "nothing is left over");
}
