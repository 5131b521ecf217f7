//! What became of the eyes, in the register: what every store must keep, and what a table may hold.

use std::path::Path;

use chrono::{NaiveDate, NaiveDateTime};
use serde_json::{Value, json};
use vitreoleaf::record::course::EventKind as OnTheDay;
use vitreoleaf::record::date::Date;
use vitreoleaf::record::eye::{ImplantFocus, Lens, Optic, Side};
use vitreoleaf::record::form::KnownBy;
use vitreoleaf::record::known::{Answer, Known};
use vitreoleaf::record::vitreous::FloaterKind;
use vitreoleaf::register::{
    Act, CaseFile, CaseId, NewOutcome, OutcomeId, Passphrase, Person, Register, RegisterError, TakenIn, take_in,
};
use vitreoleaf::results::{Change, Event, EventKind, Outcome, Questionnaire, Severity, read, write};

fn day(text: &str) -> NaiveDate {
    text.parse::<Date>().unwrap().0
}

fn at() -> NaiveDateTime {
    day("2026-09-07").and_hms_opt(9, 0, 0).unwrap()
}

/// A treated eye as its case holds it.
fn treated(code: &str) -> Value {
    json!({
        "case": { "code": code },
        "patient": { "name": "Rosa Beispiel", "record_number": "000-101" },
        "eye": { "side": "left", "lens": "implant", "acuity": "20/25", "pressure_mmhg": 15,
                 "implant": { "focus": "multifocal", "optic": "diffractive" } },
        "floater": { "kind": "ring" },
        "plan": { "start": "2026-08-07T10:00", "surgeon": "sample",
                  "visits": [{ "visit": "week", "at": "2026-08-17T09:00" }, { "visit": "month", "at": "soon" }] },
        "treatment": {
            "rows": [{ "pulse_energy_mj": 4.5, "pulses": 100 }, { "pulse_energy_mj": 5, "pulses": 20 }],
            "last_pulse": "2026-08-07T10:25", "leaves": "2026-08-07T12:00",
            "pressure_before_mmhg": "unknown", "pressure_after_mmhg": 19,
            "rechecks": [{ "at": "2026-08-07T11:25", "pressure_mmhg": 31.5 }],
            "events": [{ "kind": "implant_marked", "what": "x", "words": "y" }],
        },
    })
}

fn add(store: &mut Register, code: &str) -> CaseId {
    store.add(&CaseFile::of(treated(code))).unwrap()
}

fn seen(on: &str, change: Change) -> Outcome {
    Outcome { change, ..Outcome::at("week", day(on)) }
}

fn put(
    store: &mut Register,
    case: CaseId,
    outcome: Option<Outcome>,
    replaces: Option<OutcomeId>,
) -> Result<OutcomeId, RegisterError> {
    let new = NewOutcome { case, outcome, replaces, by: "Kim".into(), at: at() };
    Ok(store.put_outcomes(&[new])?[0])
}

fn changes(store: &Register, case: CaseId) -> Vec<Change> {
    store.outcomes(case).unwrap().into_iter().map(|kept| kept.outcome.change).collect()
}

/// Something a store must do, by name.
type Check = (&'static str, fn(&mut Register));

/// What every store must do with outcomes.
pub(crate) const CONFORMANCE: &[Check] = &[
    ("an outcome comes back as it was kept", |store| {
        let case = add(store, "A-1");
        let full = Outcome {
            pressure_mmhg: Known::Value(17.5),
            acuity: Known::Value("20/40-1".parse().unwrap()),
            bother_before: Known::Value(10),
            bother_after: Known::Value(0),
            questionnaire: Some(Questionnaire { name: "own".into(), version: "2".into(), score: 71.25 }),
            further_laser: Answer::No,
            surgery: Answer::Yes,
            events: vec![Event {
                kind: EventKind::Tear,
                on: Date(day("2026-08-10")),
                severity: Severity::Moderate,
                done: Some("laser; DROP TABLE outcome; --".into()),
            }],
            ..seen("2026-08-14", Change::MuchBetter)
        };
        let lost = Outcome { lost: true, ..Outcome::at("month", day("2026-09-07")) };
        put(store, case, Some(lost.clone()), None).unwrap();
        let id = put(store, case, Some(full.clone()), None).unwrap();
        let kept = store.outcomes(case).unwrap();
        assert_eq!((kept[0].id, kept[0].by.as_str(), kept[0].at), (id, "Kim", at()));
        assert_eq!(kept.into_iter().map(|kept| kept.outcome).collect::<Vec<_>>(), [full.clone(), lost.clone()]);
        assert_eq!(store.all_outcomes(day("2026-08-14")).unwrap(), [(case, full.clone())]);
        assert_eq!(store.all_outcomes(day("2026-08-13")).unwrap(), []);
        assert_eq!(store.all_outcomes(day("2026-09-07")).unwrap(), [(case, full), (case, lost)]);
    }),
    ("a correction stands for what it replaces, once", |store| {
        let case = add(store, "A-1");
        let first = put(store, case, Some(seen("2026-08-14", Change::Same)), None).unwrap();
        let there = put(store, case, Some(seen("2026-08-14", Change::Worse)), None);
        assert!(matches!(there, Err(RegisterError::OutcomeThere)), "one outcome a visit and day");
        let second = put(store, case, Some(seen("2026-08-15", Change::Gone)), Some(first)).unwrap();
        assert_eq!(changes(store, case), [Change::Gone]);
        let again = put(store, case, Some(seen("2026-08-15", Change::Worse)), Some(first));
        assert!(matches!(again, Err(RegisterError::Changed)), "somebody else corrected it");
        let other = add(store, "A-2");
        assert!(matches!(put(store, other, None, Some(second)), Err(RegisterError::Changed)), "of another case");
        put(store, case, None, Some(second)).unwrap();
        assert_eq!(changes(store, case), []);
        assert!(put(store, case, None, None).is_err(), "nothing to withdraw");
        put(store, case, Some(seen("2026-08-14", Change::Same)), None).unwrap();
    }),
    ("an outcome is a row of the ledger and goes by an erasure alone", |store| {
        let case = add(store, "A-1");
        let first = put(store, case, Some(seen("2026-08-14", Change::Same)), None).unwrap();
        let second = put(store, case, None, Some(first)).unwrap();
        assert_eq!((first, second, store.head().unwrap().number), (1, 2, 2));
        let other = add(store, "A-2");
        put(store, other, Some(seen("2026-08-14", Change::Gone)), None).unwrap();
        let before = store.head().unwrap();
        assert_eq!(store.verify(None).unwrap().unwrap().head, before);
        let passphrase = Passphrase::new("correct horse battery").unwrap();
        store.put_person(&Person { name: "Ada".into(), role: KnownBy::Surgeon, passphrase }, "Ada", at()).unwrap();
        assert_eq!(store.erase(case, "Ada", "asked for", at()).unwrap(), 2);
        assert_eq!((changes(store, case), changes(store, other)), (vec![], vec![Change::Gone]));
        let found = store.verify(Some(&before)).unwrap().unwrap();
        assert_eq!((found.head.number, found.erased), (5, 2), "the person and the erasure are rows too");
    }),
    ("outcomes are kept together or not at all", |store| {
        let case = add(store, "A-1");
        let new = |case, on| NewOutcome {
            case,
            outcome: Some(seen(on, Change::Same)),
            replaces: None,
            by: "Kim".into(),
            at: at(),
        };
        assert!(store.put_outcomes(&[new(case, "2026-08-14"), new(99, "2026-08-14")]).is_err());
        assert!(store.put_outcomes(&[new(case, "2026-08-14"), new(case, "2026-08-14")]).is_err());
        assert_eq!(changes(store, case), []);
        assert_eq!(store.put_outcomes(&[new(case, "2026-08-14"), new(case, "2026-08-15")]).unwrap().len(), 2);
    }),
    ("a session is read from its case, and again when the case changes", |store| {
        let case = add(store, "A-1");
        let session = store.session(case).unwrap().expect("it was treated");
        assert_eq!((session.code.as_deref(), session.on, session.side), (Some("A-1"), day("2026-08-07"), Side::Left));
        assert_eq!(
            (session.lens, session.focus, session.optic),
            (Lens::Implant, ImplantFocus::Multifocal, Optic::Diffractive)
        );
        assert_eq!((session.floater, session.surgeon.as_str()), (FloaterKind::Ring, "sample"));
        assert_eq!((session.pressure_before, session.pressure_day), (Some(15.0), Some(31.5)), "the highest of the day");
        assert_eq!((session.energy_mj, session.pulses), (550.0, 120));
        assert_eq!(session.events, [OnTheDay::ImplantMarked]);
        assert_eq!(session.booked, [("week".to_owned(), day("2026-08-17"))]);
        assert_eq!(store.sessions(day("2026-08-06")).unwrap(), []);
        assert_eq!(store.sessions(day("2026-08-07")).unwrap(), [session]);
        let filed = store.case(case).unwrap().unwrap();
        let mut file = filed.file.clone();
        file.record.as_object_mut().unwrap().remove("treatment");
        store.save(&filed, &file, &Act { by: "Ada".into(), at: at(), what: "x".into() }).unwrap();
        assert_eq!(store.session(case).unwrap(), None);
    }),
    ("what is counted is what there is now", |store| {
        let case = add(store, "A-1");
        let today = day("2026-09-07");
        let count = |store: &Register| {
            let counted = store.counted(today).unwrap();
            assert_eq!(
                (counted.sessions.to_vec(), counted.outcomes.to_vec()),
                (store.sessions(today).unwrap(), store.all_outcomes(today).unwrap())
            );
            (counted.sessions.len(), counted.outcomes.len())
        };
        assert_eq!((count(store), count(store)), ((1, 0), (1, 0)));
        let first = put(store, case, Some(seen("2026-08-14", Change::Same)), None).unwrap();
        assert_eq!(count(store), (1, 1));
        let second = put(store, case, Some(seen("2026-08-14", Change::Gone)), Some(first)).unwrap();
        assert_eq!(count(store), (1, 1));
        for on in ["2026-08-20", "2026-08-10", "2026-09-08"] {
            put(store, case, Some(seen(on, Change::Same)), None).unwrap();
        }
        assert_eq!(count(store), (1, 3), "one is of tomorrow");
        put(store, case, None, Some(second)).unwrap();
        assert_eq!(count(store), (1, 2));
        let filed = store.case(case).unwrap().unwrap();
        let mut file = filed.file.clone();
        file.record["eye"]["side"] = json!("right");
        store.save(&filed, &file, &Act { by: "Ada".into(), at: at(), what: "x".into() }).unwrap();
        assert_eq!(count(store), (1, 2));
        let other = add(store, "A-2");
        put(store, other, Some(seen("2026-08-14", Change::Same)), None).unwrap();
        assert_eq!(count(store), (2, 3));
        let passphrase = Passphrase::new("correct horse battery").unwrap();
        store.put_person(&Person { name: "Ada".into(), role: KnownBy::Surgeon, passphrase }, "Ada", at()).unwrap();
        store.erase(case, "Ada", "asked for", at()).unwrap();
        assert_eq!(count(store), (1, 1));
        assert!(store.counted(day("2026-08-06")).unwrap().sessions.is_empty());
    }),
    ("an eye of which hardly anything is recorded was treated all the same", |store| {
        let record = json!({
            "patient": { "record_number": "000-101" }, "eye": { "side": "right" }, "plan": { "surgeon": "sample" },
            "treatment": { "last_pulse": "2026-08-07T10:25" },
        });
        let case = store.add(&CaseFile::of(record)).unwrap();
        let session = store.session(case).unwrap().unwrap();
        assert_eq!((session.lens, session.acuity, session.pressure_day), (Lens::Unknown, None, None));
        assert_eq!((session.energy_mj, session.pulses, session.code), (0.0, 0, None));
    }),
    ("a table is taken in once", |store| {
        add(store, "A-1");
        let outcome = Outcome { visit: "other".into(), ..seen("2026-08-14", Change::Same) };
        let table = write([("A-1", &outcome)]);
        assert_eq!(take(store, &table), TakenIn { taken: 1, ..TakenIn::default() });
        assert_eq!(take(store, &table), TakenIn { there: 1, ..TakenIn::default() }, "nothing twice");
        let other = take(store, &table.replace("same", "gone"));
        assert_eq!((other.taken, other.there, other.wrong[0].line), (0, 0, 2), "another word is no correction");
    }),
    ("what cannot be is named by line and column and the rest is taken", |store| {
        add(store, "A-1");
        store.add(&CaseFile::of(json!({ "case": { "code": "A-2" } }))).unwrap();
        let table = "case,visit,date,pressure_mmhg,lost,event_kind,event_date\n\
                     A-1,other,2026-09-08,17,,,\n\
                     A-1,other,2026-08-06,17,,,\n\
                     A-1,other,2026-08-15,81,,,\n\
                     A-1,other,2026-08-16,,,,\n\
                     A-1,other,2026-08-17,17,yes,,\n\
                     A-1,late,2026-08-18,17,,,\n\
                     A-1,other,2026-08-19,17,,tear,2026-08-18\n\
                     A-1,other,2026-08-19,,,detachment,2026-08-20\n\
                     A-2,other,2026-08-14,17,,,\n\
                     '; DROP TABLE outcome; --,other,2026-08-14,17,,,\n\
                     A-1,other,2026-09-07,17,,,\n";
        let taken = take(store, table);
        let wrong: Vec<(u64, Option<&str>)> = taken.wrong.iter().map(|wrong| (wrong.line, wrong.column)).collect();
        let named = [
            (2, Some("date")),
            (3, Some("date")),
            (4, Some("pressure_mmhg")),
            (5, None),
            (6, Some("lost")),
            (7, Some("visit")),
            (9, Some("event_date")),
            (10, Some("case")),
            (11, Some("case")),
        ];
        assert_eq!((wrong.as_slice(), taken.taken), (&named[..], 1));
        assert!(taken.wrong.iter().all(|wrong| !wrong.why.contains("DROP")), "nothing private is quoted");
    }),
];

fn store(folder: &Path) -> Register {
    Register::in_file(&folder.join("register.sqlite3")).unwrap()
}

#[test]
fn an_outcome_is_never_changed_or_taken_out() {
    let folder = tempfile::tempdir().unwrap();
    let mut register = store(folder.path());
    let case = add(&mut register, "A-1");
    put(&mut register, case, Some(seen("2026-08-14", Change::Same)), None).unwrap();
    let outside = rusqlite::Connection::open(folder.path().join("register.sqlite3")).unwrap();
    for sql in [
        "UPDATE outcome SET change = 'gone'",
        "DELETE FROM outcome",
        "INSERT OR REPLACE INTO outcome SELECT * FROM outcome",
        "REPLACE INTO outcome (id, case_id, visit, on_day, lost, withdrawn, by, at) VALUES (1, 1, 'x', 'x', 0, 1, 'x', 'x')",
    ] {
        let error = outside.execute_batch(sql).unwrap_err();
        assert!(error.to_string().contains("an outcome is never"), "{sql}: {error}");
    }
    assert_eq!(changes(&register, case), [Change::Same]);
}

/// Takes a table in on 7 September 2026, a month after the treatment.
fn take(store: &mut Register, table: &str) -> TakenIn {
    take_in(store, read(table.as_bytes()).unwrap(), &[], day("2026-09-07"), ("Kim", at())).unwrap()
}
