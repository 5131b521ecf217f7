//! The form of a record is described whole, and its rules are those that refuse.

use std::collections::BTreeSet;

use schemars::JsonSchema;
use serde_json::{Value, json};
use vitreoleaf::diag::{Diagnostic, SourceFile};
use vitreoleaf::record::form::{self, Description, Key, Kind, RULES, Rule};
use vitreoleaf::record::locate::Spans;
use vitreoleaf::record::profile::{FrontOfEye, Profile};
use vitreoleaf::record::{Record, check, load};

const FRONT: FrontOfEye = FrontOfEye { none: 3.0, implant: 4.5, natural: 7.0 };

/// The pointers of all keys and entries in a JSON Schema, read without the program's own reader.
fn pointers(schema: &Value, node: &Value, at: &str, found: &mut BTreeSet<String>) {
    if let Some(name) = node["$ref"].as_str() {
        pointers(schema, &schema["$defs"][name.trim_start_matches("#/$defs/")], at, found);
    }
    for branch in ["anyOf", "oneOf"].iter().flat_map(|of| node[*of].as_array().into_iter().flatten()) {
        pointers(schema, branch, at, found);
    }
    for (key, below) in node["properties"].as_object().into_iter().flatten() {
        found.insert(format!("{at}/{key}"));
        pointers(schema, below, &format!("{at}/{key}"), found);
    }
    if node["items"].is_object() {
        found.insert(format!("{at}/*"));
        pointers(schema, &node["items"], &format!("{at}/*"), found);
    }
}

fn is_described<T: JsonSchema>() {
    let schema = Value::from(schemars::schema_for!(T));
    let mut expected = BTreeSet::new();
    pointers(&schema, &schema, "", &mut expected);
    let form = form::describe::<T>();
    let described: BTreeSet<String> = form.keys.iter().map(|key| key.pointer.clone()).collect();
    assert_eq!(described, expected);
    assert_eq!(form.keys.len(), described.len(), "a key is described twice");
    for key in &form.keys {
        assert!(!key.help.is_empty(), "{} does not say what it is for", key.pointer);
        assert!(key.words.iter().all(|word| !word.means.is_empty()), "{}: a word without a meaning", key.pointer);
        assert_eq!(key.kind == Kind::Word, !key.words.is_empty(), "{}", key.pointer);
    }
}

#[test]
fn every_key_of_the_schema_is_described() {
    is_described::<Record>();
    is_described::<Profile>();
}

#[test]
fn of_every_key_of_a_record_somebody_knows_it() {
    let form = form::describe::<Record>();
    let unknown: Vec<&Key> = form.keys.iter().filter(|key| key.known_by.is_none()).collect();
    assert!(unknown.is_empty(), "{unknown:?}");
}

/// Names, birth date, record number and free text are private; words of closed lists and numbers are not.
#[test]
fn what_tells_who_the_patient_is_is_private() {
    let form = form::describe::<Record>();
    let is_private = |pointer: &str| key(&form, pointer).private;
    for pointer in ["/patient/name", "/patient/latin_name", "/patient/birth_date", "/patient/record_number"] {
        assert!(is_private(pointer), "{pointer}");
    }
    for pointer in ["/complaint/reason", "/health/allergies/*", "/surgeon_words/*/words", "/treatment/events/*/words"] {
        assert!(is_private(pointer), "{pointer}");
    }
    for pointer in ["/eye/side", "/eye/axial_length_mm", "/plan/surgeon", "/plan/dilating/*", "/patient/language"] {
        assert!(!is_private(pointer), "{pointer}");
    }
    let words = form.keys.iter().filter(|key| key.private && key.kind != Kind::Text);
    assert_eq!(words.count(), 0, "only texts are private");
    assert!(form::describe::<Profile>().keys.iter().all(|key| !key.private), "a profile holds no patient");
}

fn key<'a>(form: &'a Description, pointer: &str) -> &'a Key {
    form.keys.iter().find(|key| key.pointer == pointer).unwrap_or_else(|| panic!("no key {pointer}"))
}

/// A record with an implant of several foci behind an open capsule: it breaks no rule.
fn record() -> Value {
    let text = include_str!("invalid/valid_record.toml").into();
    let record = load::load::<Record>(&SourceFile { name: "valid_record.toml".into(), text }).unwrap().value;
    serde_json::to_value(record).unwrap()
}

/// A value that says something.
fn saying(key: &Key, quiet: &[&str]) -> Value {
    match key.kind {
        Kind::Word => {
            let loud = key.words.iter().find(|word| word.word != "unknown" && !quiet.contains(&word.word.as_str()));
            json!(loud.unwrap().word)
        }
        Kind::Number => json!(key.lowest),
        Kind::List if key.pointer.ends_with("_d") => json!([1.5]),
        Kind::List => json!(["a"]),
        Kind::Table => json!({}),
        _ => json!("2020"),
    }
}

/// Sets a value, with the tables it lies in.
fn set(record: &mut Value, pointer: &str, value: Value) {
    let (table, key) = pointer.rsplit_once('/').unwrap();
    if record.pointer(table).is_none_or(Value::is_null) {
        set(record, table, json!({}));
    }
    record.pointer_mut(table).unwrap()[key] = value;
}

/// Whether the check of records refuses a record for this rule, at the key it is about.
fn refuses(record: Value, rule: &Rule) -> bool {
    let record: Record = serde_json::from_value(record).unwrap();
    let report = check::record(&record, &Spans::default(), &FRONT);
    let is_this =
        |wrong: &&Diagnostic| wrong.message == rule.refusal.message && wrong.pointer.as_deref() == Some(rule.key);
    report.sorted().iter().any(is_this)
}

/// Every word of the key that decides, with the other key saying something, and saying nothing.
#[test]
fn a_record_is_refused_exactly_where_a_rule_says_that_a_key_does_not_apply() {
    let form = form::describe::<Record>();
    for rule in RULES {
        let (decides, about) = (key(&form, rule.when.pointer), key(&form, rule.key));
        assert!(about.applies.contains(&rule.when), "{}", rule.key);
        for word in &decides.words {
            let applies = rule.when.words.contains(&word.word.as_str());
            let mut record = record();
            set(&mut record, rule.when.pointer, json!(word.word));
            set(&mut record, rule.key, saying(about, rule.quiet));
            assert_eq!(refuses(record.clone(), rule), !applies, "{} with {}", rule.key, word.word);
            for quiet in rule.quiet {
                set(&mut record, rule.key, json!(quiet));
                assert!(!refuses(record.clone(), rule), "{} says {quiet}", rule.key);
            }
        }
        let known: BTreeSet<&str> = decides.words.iter().map(|word| word.word.as_str()).collect();
        assert!(rule.when.words.iter().all(|word| known.contains(word)), "{}: no such word", rule.key);
    }
}
