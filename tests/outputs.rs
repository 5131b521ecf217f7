//! What the program writes for other programs: every output is what its schema says, and says what it should.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use chrono::NaiveDate;
use serde::Serialize;
use serde_json::{Value, json};
use vitreoleaf::assets::{Assets, samples};
use vitreoleaf::batch::report::BatchReport;
use vitreoleaf::batch::{Outcome, Refusal};
use vitreoleaf::document::changes::ChangeKind;
use vitreoleaf::document::sheet::Withheld;
use vitreoleaf::facts::Moment;
use vitreoleaf::packet::rows::FactValue;
use vitreoleaf::packet::{Case, Output, Withholding};
use vitreoleaf::practice::{Confirmed, Practice};
use vitreoleaf::proof::Fault;
use vitreoleaf::proof::audit::State;
use vitreoleaf::record::course::Change;
use vitreoleaf::record::{Record, form};
use vitreoleaf::review::due::{DueVisit, DueVisits};
use vitreoleaf::review::proofread::{LanguageFaults, Proofreading};
use vitreoleaf::review::translations::{self, Entry, LanguageTexts};
use vitreoleaf::review::{
    audit, blocks, compare, coverage, explain, facts, plain, plan, practice as of_practice, schema,
};

use crate::packets::{FORM, checked, made, practice, practice_of, record};

/// Without the typesetter nothing stands on a page.
const LAID_OUT: bool = cfg!(feature = "typeset");

fn same(text: String) -> String {
    text
}

fn demo() -> Practice {
    practice(same, BTreeMap::new())
}

/// Makes something of a case that was checked.
fn with<T>(practice: &Practice, record: &Record, moment: Moment, make: impl FnOnce(&Case) -> T) -> T {
    make(&Case::new(&checked(practice, record), moment).unwrap())
}

fn today() -> NaiveDate {
    NaiveDate::from_ymd_opt(2026, 8, 3).unwrap()
}

/// Closes a schema: a key that it does not name is a fault here, though readers pass over it.
fn closed(schema: &mut Value) {
    match schema {
        Value::Object(keys) => {
            if keys.contains_key("properties") && !keys.contains_key("additionalProperties") {
                keys.insert("additionalProperties".into(), json!(false));
            }
            keys.values_mut().for_each(closed);
        }
        Value::Array(items) => items.iter_mut().for_each(closed),
        _ => {}
    }
}

/// Puts the keys of a definition beside those that stand with a reference to it: closed, each would refuse the other's.
fn inlined(schema: &mut Value, definitions: &Value) {
    match schema {
        Value::Object(keys) => {
            let reference = keys.get("$ref").filter(|_| keys.contains_key("properties")).and_then(Value::as_str);
            if let Some(name) = reference.and_then(|reference| reference.strip_prefix("#/$defs/")) {
                let theirs = definitions[name]["properties"].as_object().unwrap().clone();
                keys.remove("$ref");
                keys["properties"].as_object_mut().unwrap().extend(theirs);
            }
            keys.values_mut().for_each(|below| inlined(below, definitions));
        }
        Value::Array(items) => items.iter_mut().for_each(|below| inlined(below, definitions)),
        _ => {}
    }
}

fn schema_of(name: &str) -> Value {
    let described = schema::of(name).unwrap_or_else(|| panic!("{name} has no schema"));
    serde_json::to_value((described.schema)()).unwrap()
}

/// The output is what its schema says and carries the version that the schema names.
pub(crate) fn holds(name: &str, output: &impl Serialize) {
    let output = described(name, output);
    let first = output.get(0).unwrap_or(&output);
    assert!(first["version"].is_u64(), "{name} carries no version");
}

/// The output is what its schema says; what a standard describes carries no version of ours.
pub(crate) fn described(name: &str, output: &impl Serialize) -> Value {
    let mut schema = schema_of(name);
    let definitions = schema["$defs"].clone();
    inlined(&mut schema, &definitions);
    closed(&mut schema);
    let validator = jsonschema::validator_for(&schema).unwrap_or_else(|error| panic!("{name}: {error}"));
    let output = serde_json::to_value(output).unwrap();
    let faults: Vec<String> = validator.iter_errors(&output).map(|error| error.to_string()).collect();
    assert_eq!(faults, Vec::<String>::new(), "{name}");
    output
}

/// Cases that differ in all that outputs speak of: implant and natural lens, by hand, withheld, drops as needed, dates unknown.
#[test]
fn every_output_of_a_case_is_what_its_schema_says() {
    let practice = demo();
    for (name, moment) in [
        ("ring-implant", Moment::After),
        ("small-opening-long-eye", Moment::Before),
        ("young-detachment", Moment::Before),
        ("asthma-drops", Moment::After),
        ("steroid-taper", Moment::After),
    ] {
        let record = record(name, same);
        let going_on = checked(&practice, &record);
        let case = Case::new(&going_on, moment).unwrap();
        holds("plan", &[plan::plan(&case).unwrap()]);
        holds("explain", &[explain::explain(&case).unwrap()]);
        holds("plain", &[plain::plain(&case).unwrap()]);
        holds("audit", &[audit::audit(&case).unwrap()]);
        holds("case-facts", &facts::facts(&case));
        holds("packet", &packet(&case));
        holds("blocks", &[blocks::blocks(&case, vitreoleaf::demo::issued(&record, moment)).unwrap()]);
        if moment == Moment::Before {
            holds("coverage", &[coverage::coverage(&case, today()).unwrap()]);
        }
    }
}

/// What `packet.json` of a case holds.
fn packet(case: &Case) -> Value {
    let files = case.packet_as(&[FORM], vitreoleaf::demo::issued(case.record(), case.moment())).unwrap().files;
    let data = files.into_iter().find(|file| file.output == Output::Data).unwrap();
    serde_json::from_slice(&data.bytes).unwrap()
}

/// A packet says when it was issued and from what: another program can tell whether anything behind it changed.
#[test]
fn a_packet_says_when_it_was_issued_and_from_what() {
    let (practice, plain) = (demo(), record("ring-implant", same));
    let of = |practice: &Practice, record: &Record| with(practice, record, Moment::Before, packet);
    let first = of(&practice, &plain);
    assert_eq!(first["issued"], "2026-08-04T10:00:00Z");
    assert_eq!(first["program_version"], env!("CARGO_PKG_VERSION"));
    assert_eq!(first["clinical_hash"], practice.clinical_hash());
    assert_eq!(first["record_hash"], plain.hash().unwrap());
    let own =
        BTreeMap::from([("locales/en-US/statements/what-laser.md".to_owned(), "The laser breaks it up.".to_owned())]);
    let other = of(&crate::packets::practice(same, own), &plain);
    assert_ne!(first["clinical_hash"], other["clinical_hash"]);
    assert_eq!(first["record_hash"], other["record_hash"]);
}

/// Comments, order, TOML or JSON and what is left out as unknown make no difference; any value does.
#[test]
fn the_hash_of_a_record_is_that_of_its_values() {
    let hash = |record: &Record| record.hash().unwrap();
    let plain = record("ring-implant", same);
    let commented = record("ring-implant", |text| format!("# a comment\n{}", text.replace(" = ", "   =  ")));
    let json: Record = serde_json::from_str(&serde_json::to_string(&plain).unwrap()).unwrap();
    for same in [&commented, &json] {
        assert_eq!(hash(same), hash(&plain));
    }
    let mut value = serde_json::to_value(&plain).unwrap();
    let mut seen = BTreeSet::from([hash(&plain)]);
    for change in [
        ("/patient/name", json!("Rosa Beispiel-Muster")),
        ("/eye/side", json!("left")),
        ("/case/revision", json!(2)),
        ("/eye/pressure_mmhg", json!(15.5)),
        ("/health/asthma", json!("unknown")),
        ("/treatment", Value::Null),
    ] {
        let place = value.pointer_mut(change.0).unwrap_or_else(|| panic!("no {}", change.0));
        *place = change.1;
        assert!(seen.insert(hash(&serde_json::from_value(value.clone()).unwrap())), "{}", change.0);
    }
}

/// The pointers of all keys of a value.
fn pointers(value: &Value, at: &str) -> Vec<String> {
    let below = |token: &str, value: &Value| pointers(value, &format!("{at}/{token}"));
    match value {
        Value::Object(table) => {
            let keys = table.keys().map(|key| format!("{at}/{key}"));
            table.iter().flat_map(|(key, value)| below(key, value)).chain(keys).collect()
        }
        Value::Array(entries) => {
            entries.iter().enumerate().flat_map(|(index, value)| below(&index.to_string(), value)).collect()
        }
        _ => Vec::new(),
    }
}

/// What is hashed holds all of the record and no key that could be left out: one that a later version of the program adds
/// stands in no record before, and changes no hash.
#[test]
fn what_is_hashed_holds_no_key_that_says_nothing() {
    for name in ["ring-implant", "natural-lens", "no-lens-late-day", "asthma-drops", "small-opening-long-eye"] {
        let record = record(name, same);
        let whole = serde_json::to_value(&record).unwrap();
        let hashed: Value = serde_json::from_slice(&record.canonical().unwrap()).unwrap();
        let read =
            |value: Value| serde_json::from_value::<Record>(value).map(|read| serde_json::to_value(read).unwrap());
        assert_eq!(read(hashed.clone()).unwrap(), whole, "{name}: nothing is lost");
        let keys = pointers(&hashed, "");
        assert!(keys.len() > 60, "{name}: {keys:?}");
        for pointer in keys {
            let (table, key) = pointer.rsplit_once('/').unwrap();
            let mut without = hashed.clone();
            without.pointer_mut(table).unwrap().as_object_mut().unwrap().remove(key);
            assert!(read(without).map_or(true, |read| read != whole), "{name}: {pointer} says nothing");
        }
    }
}

#[test]
fn every_other_output_is_what_its_schema_says() {
    let practice = demo();
    let (old, new) = (record("ring-implant", same), record("natural-lens", same));
    let read = |record| with(&practice, record, Moment::Before, |case| compare::read(case).unwrap());
    holds("compare", &compare::compare(&read(&old), &read(&new)));
    holds("facts", &facts::vocabulary());
    let outcomes = [Outcome::Refused(Some("EX-01".into()), Refusal::Changed), Outcome::Stopped];
    let records = ["a.toml", "b.toml"].map(PathBuf::from);
    holds("print", &BatchReport::new(Path::new("out"), &records, &outcomes));
    holds("form", &form::describe::<Record>());
    holds("practice", &of_practice::practice(&practice));
    holds("confirm", &of_practice::to_confirm(&practice));
    let languages = ["en-US", "ar", "el"].map(str::to_owned);
    holds("translations", &translations::translations(&practice.assets, &languages[..1], &languages).unwrap());
    let visit = DueVisit { case: None, visit: "early".into(), on: NaiveDate::default(), missed: true };
    holds("outcomes", &DueVisits { version: Default::default(), visits: vec![visit] });
    let fault = Fault { id: "risk-lens".into(), what: "a word".into() };
    let language = LanguageFaults { language: "en-US".into(), statements: 1, faults: vec![fault] };
    holds("proofread", &Proofreading { version: Default::default(), languages: vec![language] });
}

/// Every schema is one, and names the version that its output carries.
#[test]
fn every_name_has_a_schema_with_a_version() {
    for described in &schema::ALL {
        let schema = schema_of(described.name);
        jsonschema::meta::validate(&schema).unwrap_or_else(|error| panic!("{}: {error}", described.name));
        if ["record", "profile", "fhir-out"].contains(&described.name) {
            continue; // a clinic writes the first two, and what is written for one version is refused or read by the next
        }
        let text = schema.to_string();
        assert!(text.contains("\"version\":{\"const\":1"), "{}: {text}", described.name);
    }
}

#[test]
fn what_withholds_is_said_in_one_sentence() {
    let ids = || vec!["detachment-young".to_owned(), "retinal-tear".to_owned()];
    for (reason, by, words) in [
        (Withheld::Findings, ids(), "must first answer detachment-young, retinal-tear in the record"),
        (Withheld::Incomplete, ids(), "the consent lacks detachment-young, retinal-tear"),
        (Withheld::Undated, Vec::new(), "the drops cannot be dated"),
        (Withheld::Unconfirmed, Vec::new(), "no clinician has confirmed"),
        (Withheld::Stale, Vec::new(), "changed since they were confirmed"),
    ] {
        let says = Withholding::new(reason, by).says;
        assert!(says.starts_with("withheld: ") && says.contains(words), "{says}");
    }
    let (practice, record) = (demo(), record("young-detachment", same));
    let withheld = with(&practice, &record, Moment::Before, |case| case.withholding()).unwrap();
    assert_eq!(withheld.reason, Withheld::Findings);
    assert_eq!(withheld.by, ["detachment-young", "complaint-recent", "new-signs-unknown", "examination-old"]);
    assert_eq!(made(&practice, &record, Moment::Before).withheld, Some(withheld));
}

/// A surgeon moved one risk up and left one sentence out; both stand there with name, date and reason.
#[test]
fn an_explanation_says_what_was_done_by_hand_and_where_each_statement_stands() {
    let (practice, record) = (demo(), record("small-opening-long-eye", same));
    let explained = with(&practice, &record, Moment::Before, |case| explain::explain(case).unwrap());
    let row = |id: &str| explained.statements.iter().find(|row| row.id == id).unwrap();
    let moved = row("risk-enlarge").by_hand.as_ref().unwrap();
    assert_eq!((moved.change, moved.by.as_str()), (Change::MoveUp, "Dr. Ada Sample"));
    let gone = row("after-other-eye");
    assert_eq!(gone.by_hand.as_ref().unwrap().change, Change::LeaveOut);
    assert!(gone.chosen && !gone.said && gone.stands.is_none() && gone.numbers.is_empty() && gone.facts.is_empty());
    for row in explained.statements.iter().filter(|row| row.said) {
        let stands = row.stands.as_ref().unwrap_or_else(|| panic!("{} stands nowhere", row.id));
        assert_eq!(stands.page.is_some(), LAID_OUT, "{}", row.id);
        assert!(row.numbers.iter().all(|number| row.evidence.iter().any(|entry| entry.id == number.evidence)));
    }
    assert_eq!(explained.parts.get("part/sign-patient").is_some_and(|page| *page > 1), LAID_OUT);
}

/// A row is due once its months have passed, not on the day; what stands has a page.
#[test]
fn coverage_knows_pages_and_when_a_rule_is_to_be_read_again() {
    let (practice, record) = (demo(), record("ring-implant", same));
    let covered =
        |record, today| with(&practice, record, Moment::Before, |case| coverage::coverage(case, today).unwrap());
    let reviewed = practice.jurisdiction.elements[0].row.reviewed_on.0;
    let last = reviewed.checked_add_months(chrono::Months::new(practice.jurisdiction.review_months)).unwrap();
    let due = |today| covered(&record, today).elements[0].review_due;
    assert_eq!((due(last), due(last.succ_opt().unwrap())), (false, true));
    let complete = covered(&record, today());
    assert!(complete.is_complete() && !complete.draft);
    assert!(complete.elements.iter().flat_map(|row| &row.stands).all(|place| place.page.is_some() == LAID_OUT));
    let mut lacking = record.clone();
    lacking.tailoring = serde_json::from_value(json!([{
        "statement": "deciding-decline", "change": "leave_out", "by": "Dr. Ada Sample", "on": "2026-08-05", "reason": "Said."
    }]))
    .unwrap();
    assert_eq!(covered(&lacking, today()).lacking, ["deciding-decline"]);
}

#[test]
fn a_comparison_names_both_cases_and_what_differs() {
    let practice = demo();
    let (old, new) =
        (record("ring-implant", same), record("ring-implant", |text| text.replace("revision = 1", "revision = 2")));
    let read = |record| with(&practice, record, Moment::Before, |case| compare::read(case).unwrap());
    assert_eq!(compare::compare(&read(&old), &read(&old)).changes, []);
    let natural = record("natural-lens", same);
    let compared = compare::compare(&read(&new), &read(&natural));
    assert_eq!((compared.old.revision, compared.new.case.as_str()), (2, natural.case.code.as_str()));
    let lens = compared.changes.iter().find(|change| change.id == "risk-lens").unwrap();
    assert_eq!(lens.kind, ChangeKind::New);
    assert_eq!(serde_json::to_value(lens).unwrap()["change"], "new");
}

/// What the patient goes to sleep too early for has no dates; the visits stand all the same.
#[test]
fn a_plan_without_dates_says_why_and_keeps_the_visits() {
    let practice = demo();
    let dated = record("ring-implant", same);
    let early = record("ring-implant", |text| text.replace("sleeps = \"22:30\"", "sleeps = \"07:45\""));
    let planned = |record| with(&practice, record, Moment::After, |case| plan::plan(case).unwrap());
    let (dated, undated) = (planned(&dated), planned(&early));
    assert!(dated.undated.is_none() && !dated.doses.is_empty());
    assert!(undated.undated.is_some_and(|why| why.contains("waking day")) && undated.doses.is_empty());
    assert_eq!(dated.visits, undated.visits);
    assert!(
        dated.doses.iter().all(|dose| dose.utc.to_rfc3339_opts(chrono::SecondsFormat::AutoSi, true).ends_with('Z'))
    );
}

#[test]
fn a_fact_that_is_not_recorded_is_null() {
    let (practice, record) = (demo(), record("ring-implant", |text| text.replace("pressure_after_mmhg = 16\n", "")));
    let values = with(&practice, &record, Moment::After, facts::facts);
    assert_eq!(values.facts["pressure_after_mmhg"], FactValue::Absent);
    assert_eq!(serde_json::to_value(&values).unwrap()["facts"]["pressure_after_mmhg"], Value::Null);
    let names: Vec<&str> = facts::vocabulary().facts.iter().map(|fact| fact.name).collect();
    assert!(values.facts.keys().all(|name| names.contains(name)) && names.len() == values.facts.len());
}

/// A hard sentence fails `plain` and `audit`, and stands in front.
#[test]
fn a_statement_that_is_hard_fails_and_comes_first() {
    let hard = "The ophthalmological photodisruption necessitates considerable deliberation.";
    let own = BTreeMap::from([("locales/en-US/statements/what-laser.md".to_owned(), hard.to_owned())]);
    let record = record("ring-implant", same);
    let reviewed = |practice: &Practice| {
        with(practice, &record, Moment::Before, |case| (plain::plain(case).unwrap(), audit::audit(case).unwrap()))
    };
    let (score, items) = reviewed(&practice(same, own));
    assert!(!score.passes && score.hardest_first()[0].0 == "what-laser");
    assert!(!items.passes() && items.count(State::Failed) > 0);
    let (score, items) = reviewed(&demo());
    assert!(score.passes && items.passes());
    assert_eq!(items.count(State::Passed) + items.count(State::Human), items.items.len());
}

/// A profile without one of its tables.
fn without(profile: &str, table: &str) -> String {
    let (head, rest) = profile.split_once(&format!("[{table}]")).unwrap();
    head.to_owned() + rest.find("\n[").map_or("", |next| &rest[next..])
}

#[test]
fn a_practice_that_nobody_confirmed_or_without_a_notice_says_so() {
    let sound = of_practice::practice(&demo());
    assert_eq!((sound.confirmed, &sound.missing_notices[..]), (Confirmed::Current, &[][..]));
    let open = practice_of(
        &without(&without(&samples()["practice/profile.toml"], "notices.cost"), "confirmation"),
        Assets::default(),
    );
    let open = of_practice::practice(&open);
    assert_eq!((open.confirmed, open.confirmed_by), (Confirmed::Missing, None));
    let [missing] = &open.missing_notices[..] else { panic!("{:?}", open.missing_notices) };
    assert_eq!((missing.notice, missing.language.as_str()), ("cost", "en-US"));
    let wanted = of_practice::to_confirm(&demo());
    assert_eq!(wanted.hash, demo().clinical_hash());
    assert!(wanted.files.contains(&"templates/findings.toml".to_owned()));
}

/// A name or an address without words in a language stands in the staff's and is listed; another region's variant serves.
#[test]
fn a_name_that_a_language_lacks_is_listed() {
    let profile = samples()["practice/profile.toml"]
        .replace("languages = [\"en-US\"]", "languages = [\"en-US\", \"en-GB\", \"de\"]");
    let german = profile.replace("who = \"Front desk\"\n", "who = \"Front desk\"\nwho_in = { de = \"Empfang\" }\n");
    let review = of_practice::practice(&practice_of(&german, Assets::default()));
    let missing: Vec<_> = review.missing_names.iter().map(|one| (&one.name[..], one.key, &one.language[..])).collect();
    let place = "Example Hospital, emergency entrance";
    let own = samples()["practice/profile.toml"].parse::<toml::Table>().unwrap()["practice"]["name"].clone();
    let expected = [
        (own.as_str().unwrap(), "practice.name_in", "de"),
        ("100 Example Street, Suite 2, Sampletown, NY 00000", "practice.address_in", "de"),
        ("Eye doctor on call", "phones.who_in", "de"),
        (place, "out_of_hours.name_in", "de"),
        ("1 Sample Avenue, Sampletown, NY 00000", "out_of_hours.address_in", "de"),
    ];
    assert_eq!(missing, expected);
    assert_eq!(of_practice::practice(&demo()).missing_names, []);
}

/// Staff's words are missing only in the language that is the staff's own; what is signed is what is open.
#[test]
fn the_entry_to_sign_holds_what_is_open() {
    let practice = demo();
    let tags = |tags: &[&str]| -> Vec<String> { tags.iter().map(|tag| (*tag).to_owned()).collect() };
    let of = |printed: &[&str], tag| {
        translations::translations(&practice.assets, &tags(printed), &tags(&[tag])).unwrap().languages.remove(0)
    };
    let surgeon = |found: &LanguageTexts| found.texts.iter().any(|text| text.text == "words/surgeon");
    assert!(!surgeon(&of(&["en-US"], "el")) && surgeon(&of(&["el"], "el")));
    let arabic = of(&["en-US"], "ar");
    let entry = arabic.entry(Entry::Reviewed);
    assert!(entry.starts_with("[[reviewed]]\n") && entry.contains("\"step-wash\" = "), "{entry}");
    assert_eq!(arabic.entry(Entry::Translated), "", "all of it is translated");
}
