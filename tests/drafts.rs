//! A form half filled in: facts and findings as far as it goes, nothing unknown counted as "no", what is missing named.

use std::collections::{BTreeMap, BTreeSet};

use serde_json::{Value as Json, json};
use vitreoleaf::assets::samples;
use vitreoleaf::diag::SourceFile;
use vitreoleaf::facts::{Facts, Moment, definition};
use vitreoleaf::findings::Level;
use vitreoleaf::packet::{Assessment, Case};
use vitreoleaf::practice::{Draft, Practice};
use vitreoleaf::record::form::{self, Key, Kind, KnownBy};
use vitreoleaf::record::{Record, new};
use vitreoleaf::review;
use vitreoleaf::review::check::{Asked, Task, TaskKind};

use crate::packets::{checked, practice, record};

fn plain() -> Practice {
    practice(|text| text, BTreeMap::new())
}

/// A sample as JSON without some of its keys.
fn without(name: &str, pointers: &[&str]) -> SourceFile {
    let mut value = serde_json::to_value(record(name, |text| text)).unwrap();
    for pointer in pointers {
        let (table, key) = pointer.rsplit_once('/').unwrap();
        let table = value.pointer_mut(table).and_then(Json::as_object_mut).unwrap_or_else(|| panic!("no {pointer}"));
        table.remove(key).unwrap_or_else(|| panic!("no {pointer}"));
    }
    SourceFile { name: "case.json".into(), text: value.to_string() }
}

fn asked(moment: Moment) -> Asked {
    Asked { moment, pages: false, private: false }
}

fn draft(practice: &Practice, name: &str, pointers: &[&str]) -> Draft {
    Draft::read(&without(name, pointers), practice).unwrap_or_else(|refused| panic!("{refused}"))
}

/// Pointers of required keys of a record that a record of the demo may lack, none of them in a list.
fn required() -> Vec<Key> {
    let keys = form::describe::<Record>().keys.into_iter();
    let tables = ["/case", "/patient", "/complaint", "/eye", "/plan"];
    keys.filter(|key| key.required && key.kind != Kind::Table && tables.contains(&key.parent())).collect()
}

#[test]
fn a_record_that_lacks_nothing_is_no_draft() {
    let practice = plain();
    assert!(draft(&practice, "ring-implant", &[]).complete().is_ok());
    let lacking = draft(&practice, "ring-implant", &["/plan/start"]).complete().unwrap_err();
    assert_eq!(lacking.lacking().collect::<Vec<_>>(), ["/plan/start"]);
}

/// Each required key by itself: named, known by somebody, needed for a page; and what is written is judged all the same.
#[test]
fn each_missing_key_is_named_with_who_knows_it_and_hides_no_finding() {
    let practice = plain();
    let young = checked(&practice, &record("young-detachment", |text| text));
    let whole = Assessment::of(&young, Moment::Before);
    assert!(whole.is_complete() && whole.undecided.is_empty());
    let ids = |assessment: &Assessment| -> BTreeSet<String> {
        assessment.findings.0.iter().map(|finding| finding.id.clone()).collect()
    };
    assert!(required().len() > 12, "{:?}", required());
    for key in required() {
        let draft = draft(&practice, "young-detachment", &[&key.pointer]);
        let assessment = Assessment::of_draft(&draft, Moment::Before);
        let [gap] = &assessment.gaps[..] else { panic!("{}: {:?}", key.pointer, assessment.gaps) };
        assert_eq!(gap.pointer, key.pointer);
        assert!(!gap.help.is_empty() && !gap.needed_for.is_empty(), "{gap:?}");
        let undecided: BTreeSet<String> = assessment.undecided.iter().map(|finding| finding.id.clone()).collect();
        for id in ids(&whole).difference(&ids(&assessment)) {
            // A drug rule asks of itself, under an id that says so; without a regimen there is no drug to judge.
            let asks = ids(&assessment).contains(&format!("{id}-unrecorded"));
            let of_a_drug =
                key.pointer == "/plan/regimen" && whole.findings.0.iter().any(|one| one.id == *id && one.drops);
            assert!(
                undecided.contains(id) || asks || of_a_drug || key.pointer == "/eye/lens",
                "{}: {id} is hidden",
                key.pointer
            );
        }
        for id in ids(&assessment).difference(&ids(&whole)) {
            assert!(id.ends_with("-unrecorded") || key.may_be_unknown, "{}: {id} is made up", key.pointer);
        }
    }
}

#[test]
fn without_a_date_no_age_is_told_and_what_hangs_on_it_may_yet_come() {
    let practice = plain();
    let draft = draft(&practice, "young-detachment", &["/plan/start"]);
    let assessment = Assessment::of_draft(&draft, Moment::Before);
    for name in ["age_band", "detachment_age", "examination", "recheck_place"] {
        assert_eq!(assessment.facts.word(name), None, "{name}");
    }
    let young = assessment.undecided.iter().find(|finding| finding.id == "detachment-young").expect("may yet come");
    assert_eq!((young.level, &young.facts[..]), (Level::Stop, &["detachment_age".to_owned()][..]));
    assert!(assessment.findings.0.iter().any(|finding| finding.id == "new-signs-unknown"), "hangs on no date");
    assert_eq!(assessment.plan().unwrap_err().pointer(), "/plan/start");
    assert_eq!(assessment.gaps[0].known_by, KnownBy::Desk);
}

/// The record that `new` writes: what must be written and is not yet is a gap, not a mistake.
#[test]
fn a_record_just_begun_is_a_draft() {
    let practice = plain();
    let names = new::Practice { profile: &practice.profile, formulary: &practice.formulary };
    let file = SourceFile { name: "case.toml".into(), text: new::commented(Some(names)) };
    let draft = Draft::read(&file, &practice).unwrap_or_else(|refused| panic!("{refused}"));
    let (lacking, required): (Vec<&str>, _) = (draft.lacking().collect(), required());
    assert!(lacking.iter().all(|pointer| required.iter().any(|key| key.pointer == *pointer)), "{lacking:?}");
    assert!(lacking.len() > 10 && lacking.contains(&"/patient/name") && lacking.contains(&"/eye/side"), "{lacking:?}");
}

/// Nothing but what is written: no table at all is a draft in which everything is missing.
#[test]
fn an_empty_form_has_every_gap_and_no_page() {
    let practice = plain();
    let file = SourceFile { name: "case.json".into(), text: "{ \"eye\": {} }".into() };
    let draft = Draft::read(&file, &practice).unwrap();
    let assessment = Assessment::of_draft(&draft, Moment::Before);
    assert_eq!(assessment.gaps.len(), required().len());
    assert!(assessment.findings.0.iter().any(|finding| finding.id == "lens-unknown" && finding.open()));
    assert!(assessment.findings.0.iter().all(|finding| finding.answer.is_none()));
}

#[test]
fn what_is_wrong_is_refused_and_what_is_missing_told_beside_it() {
    let practice = plain();
    let mut file = without("ring-implant", &["/plan/surgeon"]);
    file.text = file.text.replace("\"side\":\"right\"", "\"side\":\"both\"");
    let refused = Draft::read(&file, &practice).unwrap_err();
    let codes: Vec<_> = refused.report.sorted().iter().map(|wrong| wrong.code).collect();
    assert!(codes.contains(&"wrong-word") && codes.contains(&"missing-key"), "{codes:?}");
}

#[test]
fn an_answer_without_its_reason_answers_nothing() {
    let practice = plain();
    let mut value = serde_json::to_value(record("young-detachment", |text| text)).unwrap();
    value["answers"] = json!([{ "finding": "detachment-young", "by": "Dr. Ada Sample", "on": "2026-08-12" }]);
    let file = SourceFile { name: "case.json".into(), text: value.to_string() };
    let draft = Draft::read(&file, &practice).unwrap();
    let assessment = Assessment::of_draft(&draft, Moment::Before);
    assert_eq!(assessment.gaps[0].pointer, "/answers/0/reason");
    let young = assessment.findings.0.iter().find(|finding| finding.id == "detachment-young").unwrap();
    assert!(young.open());
}

/// Of a treatment half written down nothing is told as "no": no event, no energy, no pressure level.
#[test]
fn a_treatment_half_written_down_is_not_judged() {
    let practice = plain();
    let draft = draft(&practice, "ring-implant", &["/treatment/last_pulse", "/treatment/rows"]);
    let after = Assessment::of_draft(&draft, Moment::After);
    assert_eq!(after.facts.number("session_energy_mj"), None);
    assert_eq!(after.facts.word("recheck_need"), None);
    assert_eq!(after.plan().unwrap_err().pointer(), "/treatment/last_pulse");
    // The page before it does not hang on it.
    let before = Assessment::of_draft(&draft, Moment::Before);
    assert!(before.is_complete() && before.plan().is_ok());
    let untreated = self::draft(&practice, "young-detachment", &[]);
    let after = Assessment::of_draft(&untreated, Moment::After);
    assert_eq!(after.gaps[0].pointer, "/treatment");
    assert_eq!(after.facts.word("events"), None, "nobody knows yet");
}

/// A plan that cannot be kept is told with its place, and the findings stand beside it.
#[test]
fn an_impossible_plan_hides_no_finding() {
    let practice = plain();
    let mut awake = record("young-detachment", |text| text);
    (awake.patient.wakes, awake.patient.sleeps) = ("07:00".parse().unwrap(), "06:50".parse().unwrap());
    let record = checked(&practice, &awake);
    let assessment = Assessment::of(&record, Moment::Before);
    assert!(assessment.findings.0.iter().any(|finding| finding.id == "detachment-young"));
    assert_eq!(assessment.plan().unwrap_err().pointer(), "/patient/sleeps");
    let refused = Case::new(&record, Moment::Before).map(|_| ()).unwrap_err();
    assert_eq!(refused.pointer(), Some("/patient/sleeps"));
}

/// Each thing to do stands under who must act, with table and key; a finding about something that was not recorded goes to who
/// knows it, any other open one to the surgeon.
#[test]
fn what_is_open_is_grouped_by_who_must_act() {
    let practice = plain();
    let draft = draft(&practice, "young-detachment", &["/plan/place", "/plan/regimen", "/patient/birth_date"]);
    let checked = review::check::check(&draft, asked(Moment::Before)).unwrap();
    assert!(!checked.prints && checked.case.as_deref() == Some("EX-04"));
    let keys = |tasks: &[Task], kind| -> Vec<String> {
        let tasks = tasks.iter().filter(|task| task.kind == kind);
        tasks.flat_map(|task| &task.keys).map(|key| key.written()).collect()
    };
    assert_eq!(keys(&checked.open.desk, TaskKind::Fill), ["patient.birth_date", "plan.place"]);
    assert_eq!(keys(&checked.open.nurse, TaskKind::Record), ["examination.since.floaters"]);
    assert_eq!(keys(&checked.open.surgeon, TaskKind::Fill), ["plan.regimen"]);
    let answers: Vec<_> = checked.open.surgeon.iter().filter(|task| task.kind == TaskKind::Answer).collect();
    assert!(answers.iter().any(|task| task.finding.as_deref() == Some("detachment-young")), "{answers:?}");
    let allergy = checked.undecided.iter().find(|finding| finding.id == "allergy-names-drug").expect("no drug yet");
    assert_eq!(allergy.keys[0].written(), "plan.regimen");
    // A rule of a drug asks for the age that nobody knows; the date of birth settles it and is asked for once.
    let age = checked.findings.iter().find(|finding| finding.id == "R76-proxymetacaine-unrecorded").expect("asks");
    assert_eq!((age.who, age.keys[0].written().as_str()), (KnownBy::Desk, "patient.birth_date"));
    assert!(checked.open.desk.iter().all(|task| task.finding.is_none()));
    let written = serde_json::to_value(&checked).unwrap();
    assert_eq!((&written["version"], &written["open"]["desk"][1]["keys"][0]["table"]), (&json!(1), &json!("plan")));
}

/// What a check prints to answer with settles its finding, also where text of the record is left out of it; another value opens
/// the finding again.
#[test]
fn the_block_of_a_check_settles_its_finding() {
    let practice = plain();
    for (moment, id, pointer, value, other) in [
        (Moment::Before, "retina-near", "/floater/retina_distance_mm", json!(2.9), json!(0.4)),
        (
            Moment::After,
            "event-retina",
            "/treatment/events",
            json!([{ "kind": "retina", "what": "Small bleeding", "words": "I look again tomorrow." }]),
            json!([{ "kind": "retina", "what": "A hole", "words": "I look again tomorrow." }]),
        ),
    ] {
        let mut record = serde_json::to_value(record("ring-implant", |text| text)).unwrap();
        let told = |record: &Json| {
            let file = SourceFile { name: "case.json".into(), text: record.to_string() };
            let draft = Draft::read(&file, &practice).unwrap_or_else(|refused| panic!("{refused}"));
            let told = review::check::check(&draft, asked(moment)).unwrap();
            told.findings.into_iter().find(|found| found.id == id).expect(id)
        };
        *record.pointer_mut(pointer).unwrap() = value;
        let open = told(&record);
        assert!(open.open && open.answerable, "{id}");
        record["answers"] = json!([{
            "finding": id, "by": "Dr. Ada Sample", "on": "2026-08-07", "reason": "Examined again, and it is right to go on.",
            "fingerprint": open.fingerprint, "values": open.values,
        }]);
        let settled = told(&record);
        assert_eq!((settled.open, settled.unsettled), (false, None), "{id}");
        *record.pointer_mut(pointer).unwrap() = other;
        let again = told(&record);
        assert!(again.open && again.unsettled.is_some_and(|why| why.starts_with("changed since")), "{id}");
    }
}

/// An id that nobody knows may be a person who was written into the wrong line: an answer or a change of the statements is then
/// named by its place. Ids of the rules are shown, and all of them where values are.
#[test]
fn what_was_typed_as_an_id_is_not_quoted() {
    let practice = plain();
    let answer = |finding: &str| json!({ "finding": finding, "by": "Dr. Ada Sample", "on": "2026-08-07", "reason": "It was looked at again." });
    let checked = |answers: &[&str], tailored: Option<&str>, private| {
        let mut value = serde_json::to_value(record("ring-implant", |text| text)).unwrap();
        value["answers"] = answers.iter().map(|finding| answer(finding)).collect();
        value["tailoring"] = tailored
            .iter()
            .map(|id| json!({ "statement": id, "change": "add", "by": "A", "on": "2026-08-07", "reason": "Asked." }))
            .collect();
        let file = SourceFile { name: "case.json".into(), text: value.to_string() };
        let draft = Draft::read(&file, &practice).unwrap_or_else(|refused| panic!("{refused}"));
        review::check::check(&draft, Asked { private, ..asked(Moment::Before) }).unwrap()
    };
    let typed = ["retina-near", "Rosa Beispiel", "R01-timolol", "R01-Rosa", "unread-rosa"];
    assert_eq!(
        checked(&typed, None, false).idle_answers,
        ["retina-near", "answers.1", "R01-timolol", "answers.3", "answers.4"]
    );
    assert_eq!(checked(&typed, None, true).idle_answers, typed);
    let refused = checked(&[], Some("Rosa Beispiel"), false).refusal.expect("no such statement").says;
    assert!(refused.contains("entry 1 of [[tailoring]]") && !refused.contains("Rosa"), "{refused}");
}

/// The place of a plan that cannot be kept is a thing to do, and the findings stand beside it.
#[test]
fn a_plan_that_cannot_be_kept_is_open_for_who_knows_its_key() {
    let practice = plain();
    let mut file = without("young-detachment", &[]);
    file.text = file.text.replace("\"sleeps\":\"22:30\"", "\"sleeps\":\"06:50\"");
    let checked = review::check::check(&Draft::read(&file, &practice).unwrap(), asked(Moment::Before)).unwrap();
    assert!(!checked.prints && checked.findings.iter().any(|finding| finding.id == "detachment-young"));
    let mend = checked.open.desk.iter().find(|task| task.kind == TaskKind::Mend).expect("somebody corrects it");
    assert_eq!(mend.keys[0].pointer, "/patient/sleeps");
}

/// A complete record is checked as it prints.
#[test]
fn a_complete_record_prints_as_its_check_says() {
    let practice = plain();
    for (name, moment, withheld) in [
        ("ring-implant", Moment::Before, false),
        ("ring-implant", Moment::After, false),
        ("young-detachment", Moment::Before, true),
        ("asthma-drops", Moment::After, true),
    ] {
        let checked = review::check::check(&draft(&practice, name, &[]), asked(moment)).unwrap();
        assert!(checked.prints && checked.undecided.is_empty() && checked.refusal.is_none(), "{name}");
        assert_eq!(checked.withheld.is_some(), withheld, "{name}");
        assert_eq!(
            checked.open.by_person().any(|(_, tasks)| !tasks.is_empty()),
            withheld,
            "{name}: {:?}",
            checked.open
        );
    }
}

/// The keys a fact is derived from are written beside it. Every word and number of the demo's records changed by itself: a
/// fact that changes has the key among its own.
#[test]
fn every_fact_names_the_keys_it_is_derived_from() {
    let practice = plain();
    let keys = form::describe::<Record>().keys;
    let mut changed = 0;
    for name in samples().keys().filter_map(|path| path.strip_suffix("/case.toml")) {
        let original = record(name, |text| text);
        let value = serde_json::to_value(&original).unwrap();
        let moments =
            if original.treatment.is_some() { &[Moment::Before, Moment::After][..] } else { &[Moment::Before] };
        let facts: Vec<_> = moments.iter().map(|moment| (*moment, facts_at(&practice, &original, *moment))).collect();
        for key in &keys {
            for pointer in places(&value, &key.pointer) {
                for other in others(key, value.pointer(&pointer).unwrap()) {
                    let mut value = value.clone();
                    *value.pointer_mut(&pointer).unwrap() = other;
                    let Ok(changed_record) = serde_json::from_value::<Record>(value) else { continue };
                    for (moment, facts) in &facts {
                        changed += assert_named(facts, &facts_at(&practice, &changed_record, *moment), &pointer);
                    }
                }
            }
        }
    }
    assert!(changed > 1000, "only {changed} facts changed");
}

fn facts_at(practice: &Practice, record: &Record, moment: Moment) -> Facts {
    Facts::derive(&practice.source(record, moment))
}

/// How many facts differ between two records that differ at a pointer; each must name it.
fn assert_named(one: &Facts, other: &Facts, pointer: &str) -> usize {
    let differ: Vec<_> = one.iter().zip(other.iter()).filter(|(one, other)| one != other).collect();
    for ((name, _), _) in &differ {
        let fact = definition(name).unwrap();
        assert!(fact.hangs_on(pointer), "{name} hangs on {pointer} and does not say so");
    }
    differ.len()
}

/// The pointers of a record that a pointer with `*` stands for.
fn places(value: &Json, pattern: &str) -> Vec<String> {
    let mut places = vec![String::new()];
    for token in pattern.split('/').skip(1) {
        let below = |place: &String| match (token, value.pointer(place)) {
            ("*", Some(Json::Array(entries))) => (0..entries.len()).map(|at| format!("{place}/{at}")).collect(),
            ("*", _) => Vec::new(),
            _ => vec![format!("{place}/{token}")],
        };
        places = places.iter().flat_map(below).collect();
    }
    places.retain(|place| value.pointer(place).is_some());
    places
}

/// What else could stand there.
fn others(key: &Key, value: &Json) -> Vec<Json> {
    let words = key.words.iter().map(|word| json!(word.word));
    let unknown = key.may_be_unknown.then(|| json!("unknown"));
    let other: Vec<Json> = match (key.kind, value) {
        (Kind::Number | Kind::Whole, _) => {
            [key.lowest, key.highest].into_iter().flatten().map(|number| json!(number)).collect()
        }
        (Kind::List, Json::Array(_)) => vec![json!([])],
        (Kind::Text, _) => {
            ["2001-01-01", "2026-08-01", "2001-01-01T00:00:00", "2026-08-10T10:00:00", "01:00", "other", "left"]
                .map(|text| json!(text))
                .to_vec()
        }
        (Kind::Table, _) => vec![Json::Null],
        _ => Vec::new(),
    };
    words.chain(unknown).chain(other).filter(|other| other != value).collect()
}
