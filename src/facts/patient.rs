//! Facts of the person and of the visit.

use chrono::Datelike;

use super::{ANSWER, DONE, Definition, Kind, Source, Value, WHEN, YES_NO, choice, fact, number, word, yes_no};
use crate::record::eye::{Lens, Side};
use crate::record::known::Answer;

const BIRTH: &str = "/patient/birth_date";

pub(super) const FACTS: &[Definition] = &[
    fact("moment", Kind::Choice(&["before", "after"]), "Before or after the treatment.", |s| choice(s.moment.word())),
    fact("side", Kind::Choice(&["right", "left"]), "The eye of this case.", |s| word(&s.record.eye.side))
        .from(&["/eye/side"]),
    fact("eye", Kind::Text, "The eye of this case in words.", |s| match s.record.eye.side {
        Side::Right => Value::Word("eye.right"),
        Side::Left => Value::Word("eye.left"),
    })
    .from(&["/eye/side"]),
    fact("other_eye", Kind::Text, "The other eye in words.", |s| match s.record.eye.side {
        Side::Right => Value::Word("eye.left"),
        Side::Left => Value::Word("eye.right"),
    })
    .from(&["/eye/side"]),
    fact("patient", Kind::Text, "Name of the patient.", |s| Value::Text(s.record.patient.name.clone()))
        .from(&["/patient/name"])
        .private(),
    fact("record_number", Kind::Text, "Record number of the patient.", |s| {
        Value::Text(s.record.patient.record_number.clone())
    })
    .from(&["/patient/record_number"])
    .private(),
    fact("birth_date", Kind::Text, "Date of birth of the patient, as records write it.", |s| {
        Value::Text(s.record.patient.birth_date.0.to_string())
    })
    .from(&[BIRTH])
    .private(),
    fact(
        "age_band",
        Kind::Choice(&["under_60", "from_60"]),
        "Age at the treatment. Under 60 a delayed retinal tear is more likely (evidence nat-pvd-tear-others).",
        |s| choice(if age(s) < 60 { "under_60" } else { "from_60" }),
    )
    .from(&[BIRTH, WHEN, DONE]),
    fact("age", Kind::Number("years", 0), "Completed years at the treatment.", |s| number(Some(f64::from(age(s)))))
        .from(&[BIRTH, WHEN, DONE]),
    fact(
        "age_group",
        Kind::Choice(&["under_1", "1_year", "2_to_11", "12_to_17", "18_to_64", "65_or_older"]),
        "Completed years at the treatment, in the bands that drug labels use; 65 is our own limit, labels give none.",
        |s| {
            choice(match age(s) {
                0 => "under_1",
                1 => "1_year",
                2..=11 => "2_to_11",
                12..=17 => "12_to_17",
                18..=64 => "18_to_64",
                65.. => "65_or_older",
            })
        },
    )
    .from(&[BIRTH, WHEN, DONE]),
    fact("young_lens", YES_NO, "A natural lens in an eye younger than the practice's limit.", |s| {
        yes_no(s.record.eye.lens == Lens::Natural && age(s) < s.profile.thresholds.young_lens_years)
    })
    .from(&[BIRTH, WHEN, DONE, "/eye/lens"]),
    fact("representative", YES_NO, "Somebody decides for the patient.", |s| {
        yes_no(s.record.patient.representative.is_some())
    })
    .from(&["/patient/representative"]),
    fact("minor", YES_NO, "Younger than the place of the practice lets decide alone.", |s| {
        yes_no(age(s) < s.representative_below)
    })
    .from(&[BIRTH, WHEN, DONE]),
    fact("representative_below", Kind::Number("years", 0), "Younger patients need a representative.", |s| {
        Value::Number(f64::from(s.representative_below))
    }),
    fact(
        "interpreter",
        Kind::Choice(&["yes", "needed", "no"]),
        "An interpreter takes part: booked, or needed and not known to be booked.",
        |s| {
            choice(match s.record.patient.interpreter.as_ref().map(|interpreter| interpreter.booked) {
                None => "no",
                Some(Answer::Yes) => "yes",
                Some(_) => "needed",
            })
        },
    )
    .from(&["/patient/interpreter"]),
    fact("reason", Kind::Text, "Why the patient comes, in plain words.", |s| {
        Value::Text(s.record.complaint.reason.clone())
    })
    .from(&["/complaint/reason"])
    .private(),
    fact("hinders", Kind::List, "What the floater hinders, in plain words.", |s| {
        Value::List(s.record.complaint.hinders.clone())
    })
    .from(&["/complaint/hinders"])
    .private(),
    fact(
        "reason_eye",
        Kind::Choice(&["this", "other", "none"]),
        "The eye that the reason, or what the floater hinders, names in words.",
        |s| choice(reason_eye(s)),
    )
    .from(&["/complaint/reason", "/complaint/hinders", "/eye/side", "/patient/language"]),
    fact(
        "own_words_eye",
        Kind::Choice(&["this", "other", "none"]),
        "The eye that the surgeon's own words to the patient name, those on what happened included.",
        |s| {
            let events = s.treatment().into_iter().flat_map(|done| &done.events).map(|event| &event.words);
            choice(named_eye(s, s.record.surgeon_words.iter().map(|own| &own.words).chain(events)))
        },
    )
    .from(&["/surgeon_words", "/treatment/events", "/eye/side", "/patient/language"]),
    fact(
        "examined_eye",
        Kind::Choice(&["this", "other", "none"]),
        "The eye that the result of the examination names in words.",
        |s| choice(named_eye(s, s.record.examination.result.as_ref().into_iter())),
    )
    .from(&["/examination/result", "/eye/side", "/patient/language"]),
    fact("contact_lenses", ANSWER, "Wears contact lenses.", |s| word(&s.record.health.contact_lenses))
        .from(&["/health/contact_lenses"]),
];

fn reason_eye(source: &Source) -> &'static str {
    let complaint = &source.record.complaint;
    named_eye(source, complaint.hinders.iter().chain([&complaint.reason]))
}

/// A text that names both eyes names the other one too.
fn named_eye<'a>(source: &Source, texts: impl Iterator<Item = &'a String> + Clone) -> &'static str {
    let side = source.record.eye.side;
    let printed = source.profile.practice.languages.iter().chain([&source.record.patient.language]);
    let languages: Vec<&str> = printed.map(String::as_str).collect();
    let names = |side| texts.clone().any(|text| source.sides.names(side, text, languages.iter().copied()));
    let other = match side {
        Side::Right => Side::Left,
        Side::Left => Side::Right,
    };
    match (names(other), names(side)) {
        (true, _) => "other",
        (false, true) => "this",
        (false, false) => "none",
    }
}

fn age(source: &Source) -> u32 {
    let birth = source.record.patient.birth_date.0;
    let on = source.treatment_date();
    let before_birthday = (on.month(), on.day()) < (birth.month(), birth.day());
    u32::try_from(on.year() - birth.year() - i32::from(before_birthday)).unwrap_or(0)
}
