//! What is known beside a record: the day on which somebody looks at it, and other records that are or may be of the same
//! patient. Two records are never merged here; a clinician is asked.

use chrono::{NaiveDate, NaiveDateTime};

use super::{DONE, Definition, Kind, Source, Value, WHEN, YES_NO, fact, yes_no};
use crate::record::Record;
use crate::record::eye::Side;
use crate::record::identity::{Differs, Identity, Same};

/// What is known beside a record.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Beside {
    /// The day on which it is looked at, where the practice is; none where nobody looks at a clock.
    pub today: Option<NaiveDate>,
    /// Other records at hand.
    pub others: Vec<Other>,
}

/// Nothing beside it.
pub(crate) static NOTHING: Beside = Beside { today: None, others: Vec::new() };

/// Another record, as far as it goes.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Other {
    /// Code of its case; empty while it has none.
    pub code: String,
    /// Whom it is of.
    pub identity: Identity,
    /// Its eye.
    pub side: Option<Side>,
    /// The day of its treatment, as done or as planned.
    pub day: Option<NaiveDate>,
}

impl Other {
    /// A complete record beside another.
    #[must_use]
    pub fn of(record: &Record) -> Self {
        Self {
            code: record.case.code.clone(),
            identity: Identity::of(&record.patient),
            side: Some(record.eye.side),
            day: Some(day(record).date()),
        }
    }
}

/// When a record says that the treatment takes place or took place.
fn day(record: &Record) -> NaiveDateTime {
    record.treatment.as_ref().map_or(record.plan.start.0, |done| done.ended().0)
}

impl Beside {
    /// Adds other records; one that is there already is not added again.
    #[must_use]
    pub fn and(mut self, others: impl IntoIterator<Item = Other>) -> Self {
        self.others.extend(others);
        self.others.sort();
        self.others.dedup();
        self
    }
}

const WHO: &[&str] = &["/patient/name", "/patient/record_number", "/patient/birth_date"];

pub(super) const FACTS: &[Definition] = &[
    fact(
        "both_eyes_one_day",
        YES_NO,
        "Another record at hand treats the other eye of this patient on this day.",
        |s| yes_no(both_eyes_one_day(s)),
    )
    .from(&[WHEN, DONE, "/eye/side"])
    .and(WHO),
    fact(
        "shared_number",
        YES_NO,
        "Another record at hand has this record number and another name or date of birth.",
        |s| yes_no(doubted(s, Differs::Person).next().is_some()),
    )
    .from(WHO),
    fact(
        "namesake",
        YES_NO,
        "Another record at hand has this name and date of birth and another record number.",
        |s| yes_no(doubted(s, Differs::Number).next().is_some()),
    )
    .from(WHO),
    fact("number_rewritten", YES_NO, "Another record at hand writes this record number in another way.", |s| {
        yes_no(doubted(s, Differs::Writing).next().is_some())
    })
    .from(WHO),
    fact("number_holders", Kind::List, "Codes of other cases with this record number, each with whom it is of.", |s| {
        listed(s, Differs::Person, |other| {
            let (name, birth_date) = other.as_written();
            format!("{name}, {birth_date}")
        })
    })
    .from(WHO)
    .private(),
    fact(
        "namesake_numbers",
        Kind::List,
        "Codes of other cases with this name and date of birth, each with its record number.",
        |s| listed(s, Differs::Number, |other| other.written_number().to_owned()),
    )
    .from(WHO)
    .private(),
    fact(
        "number_writings",
        Kind::List,
        "Codes of other cases that write this record number in another way, each with it.",
        |s| listed(s, Differs::Writing, |other| other.written_number().to_owned()),
    )
    .from(WHO)
    .private(),
    fact("doubtful_cases", Kind::List, "Codes of other cases at hand that may be of this patient.", |s| {
        let doubtful = [Differs::Person, Differs::Number, Differs::Writing];
        let mut codes: Vec<String> = doubtful.into_iter().flat_map(|differs| doubted(s, differs)).map(coded).collect();
        codes.sort();
        codes.dedup();
        Value::List(codes)
    })
    .from(WHO),
];

fn both_eyes_one_day(source: &Source) -> bool {
    let own = Identity::of(&source.record.patient);
    source.beside.others.iter().any(|other| {
        other.side.is_some_and(|side| side != source.record.eye.side)
            && other.day == Some(source.treatment_date())
            && own.same(&other.identity) != Same::Not
    })
}

/// Other records that may be of this patient, and in this differ.
fn doubted<'a>(source: &Source<'a>, differs: Differs) -> impl Iterator<Item = &'a Other> + use<'a> {
    let beside = source.beside;
    let own = (!beside.others.is_empty()).then(|| Identity::of(&source.record.patient));
    beside
        .others
        .iter()
        .filter(move |other| own.as_ref().is_some_and(|own| own.same(&other.identity) == Same::Unclear(differs)))
}

/// How another case is named; one that has no code yet has a mark in its place.
fn coded(other: &Other) -> String {
    if other.code.is_empty() { "?".into() } else { other.code.clone() }
}

fn listed(source: &Source, differs: Differs, says: fn(&Identity) -> String) -> Value {
    let line = |other: &Other| format!("{} ({})", coded(other), says(&other.identity));
    Value::List(doubted(source, differs).map(line).collect())
}
