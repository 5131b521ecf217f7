//! Facts of the person and of the visit.

use chrono::Datelike;

use super::{ANSWER, DONE, Definition, Kind, Source, Value, WHEN, YES_NO, choice, fact, number, word, yes_no};
use crate::record::eye::Side;

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
        .from(&["/patient/name"]),
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
    fact("representative", YES_NO, "Somebody decides for the patient.", |s| {
        yes_no(s.record.patient.representative.is_some())
    })
    .from(&["/patient/representative"]),
    fact("interpreter", YES_NO, "An interpreter takes part.", |s| yes_no(s.record.patient.interpreter.is_some()))
        .from(&["/patient/interpreter"]),
    fact("reason", Kind::Text, "Why the patient comes, in plain words.", |s| {
        Value::Text(s.record.complaint.reason.clone())
    })
    .from(&["/complaint/reason"]),
    fact("hinders", Kind::List, "What the floater hinders, in plain words.", |s| {
        Value::List(s.record.complaint.hinders.clone())
    })
    .from(&["/complaint/hinders"]),
    fact("contact_lenses", ANSWER, "Wears contact lenses.", |s| word(&s.record.health.contact_lenses))
        .from(&["/health/contact_lenses"]),
];

fn age(source: &Source) -> u32 {
    let birth = source.record.patient.birth_date.0;
    let on = source.treatment_date();
    let before_birthday = (on.month(), on.day()) < (birth.month(), birth.day());
    u32::try_from(on.year() - birth.year() - i32::from(before_birthday)).unwrap_or(0)
}
