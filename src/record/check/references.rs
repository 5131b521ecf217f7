//! Names in a record, or in the regimens of a profile, that point at something the practice has.

use chrono::{Datelike, NaiveDateTime};

use super::Refusals;
use crate::diag::shown;
use crate::record::Record;
use crate::record::course::EVENT_VISIT;
use crate::record::formulary::{Form, Formulary};
use crate::record::language;
use crate::record::nearest;
use crate::record::profile::Profile;

/// Surgeon, regimen, visits, language and drugs of a record.
pub(super) fn of_record(record: &Record, profile: &Profile, formulary: &Formulary, found: &mut Refusals<'_>) {
    let plan = &record.plan;
    let surgeons: Vec<&str> = profile.surgeons.iter().map(|surgeon| surgeon.id.as_str()).collect();
    let regimens: Vec<&str> = profile.regimens.iter().map(|regimen| regimen.id.as_str()).collect();
    let visits: Vec<&str> = profile.visits.iter().map(|visit| visit.id.as_str()).chain([EVENT_VISIT]).collect();
    known("surgeon", "/plan/surgeon", &plan.surgeon, &surgeons, found);
    known("regimen", "/plan/regimen", &plan.regimen, &regimens, found);
    for (pointer, language) in languages(record) {
        printed_in(pointer, language, profile, found);
    }
    answered_by_a_clinician(record, profile, found);
    for (index, booked) in plan.visits.iter().enumerate() {
        known("visit", &format!("/plan/visits/{index}/visit"), &booked.visit, &visits, found);
        bookable(&format!("/plan/visits/{index}/at"), booked.at.0, record, profile, found);
    }
    for (list, drugs) in [("dilating", &plan.dilating), ("numbing", &plan.numbing)] {
        for (index, drug) in drugs.iter().enumerate() {
            known_drug(&format!("/plan/{list}/{index}"), drug, formulary, found);
        }
    }
    let doses = record.treatment.iter().flat_map(|done| &done.clinic_doses).enumerate();
    for (index, dose) in doses {
        known_drug(&format!("/treatment/clinic_doses/{index}/drug"), &dose.drug, formulary, found);
    }
}

/// An answer is by a clinician of the practice.
fn answered_by_a_clinician(record: &Record, profile: &Profile, found: &mut Refusals<'_>) {
    let names = profile.who_may_answer();
    for (index, answer) in record.answers.iter().enumerate() {
        if !names.contains(&answer.by.trim()) {
            let pointer = format!("/answers/{index}/by");
            let help = format!("write one of {}, or add a [[clinicians]] to the profile", names.join(", "));
            found.refuse("unknown-clinician", "no clinician of the practice has this name", &[(&pointer, "")], help);
        }
    }
}

/// The languages of the patient's pages and of the letters, each with its pointer.
pub(super) fn languages(record: &Record) -> impl Iterator<Item = (&'static str, &str)> {
    let letters = [
        ("/letters/referred_by/language", &record.letters.referred_by),
        ("/letters/specialist/language", &record.letters.specialist),
    ];
    let letters =
        letters.into_iter().filter_map(|(pointer, reader)| Some((pointer, reader.as_ref()?.language.as_deref()?)));
    std::iter::once(("/patient/language", record.patient.language.as_str())).chain(letters)
}

/// Another region's variant of the language may stand in for it, another language never.
fn printed_in(pointer: &str, language: &str, profile: &Profile, found: &mut Refusals<'_>) {
    let languages: Vec<&str> = profile.practice.languages.iter().map(String::as_str).collect();
    if language::choose(language, languages.iter().copied()).is_none() {
        known("language", pointer, language, &languages, found);
    }
}

/// A visit is after the day of treatment, and at a time a patient can be seen.
fn bookable(pointer: &str, at: NaiveDateTime, record: &Record, profile: &Profile, found: &mut Refusals<'_>) {
    let (treated, when) = match &record.treatment {
        Some(done) => (done.ended().0.date(), done.ended_at()),
        None => (record.plan.start.0.date(), "/plan/start"),
    };
    let hours = profile.hours.get(&at.date().weekday().into());
    let closed = profile.closed_days.iter().any(|day| day.0 == at.date());
    let open = hours.is_some_and(|hours| hours.opens.0 <= at.time() && at.time() <= hours.closes.0) && !closed;
    if at.date() <= treated && !found.spans.lacks(when) {
        let help = "write a time after the day of treatment, or take the visit out";
        found.refuse("booked-visit", "this visit is not after the treatment", &[(pointer, "")], help);
    } else if !open {
        let help = "write a time within the opening hours of the profile, or take the visit out";
        found.refuse("booked-visit", "the practice is closed at this time", &[(pointer, "")], help);
    }
}

/// Drugs of the regimens.
pub(super) fn of_profile(profile: &Profile, formulary: &Formulary, found: &mut Refusals<'_>) {
    for (at, regimen) in profile.regimens.iter().enumerate() {
        for (index, course) in regimen.drops.iter().enumerate() {
            let pointer = format!("/regimens/{at}/drops/{index}/drug");
            known_drug(&pointer, &course.drug, formulary, found);
            if formulary.get(&course.drug).is_some_and(|drug| drug.clinic_only) {
                let message = format!("{} is for the clinic only", shown(&course.drug));
                let help = "take it out of the regimen: a patient never takes it home";
                found.refuse("clinic-only", message, &[(&pointer, "")], help);
            }
            if formulary.get(&course.drug).is_some_and(|drug| drug.form == Form::Tablet) {
                let help = "write a drop; every box of the calendar is 1 drop";
                found.refuse("regimen", "a regimen of drops holds a tablet", &[(&pointer, "")], help);
            }
        }
    }
}

fn known_drug(pointer: &str, key: &str, formulary: &Formulary, found: &mut Refusals<'_>) {
    let keys: Vec<&str> = formulary.drugs().map(|drug| drug.key.as_str()).collect();
    if !keys.contains(&key) {
        let (what, help) = match nearest::word(key, &keys) {
            Some(near) => (shown(key), format!("write `{near}`")),
            None => ("of this name".to_owned(), "write the key of a drug in templates/formulary.toml".to_owned()),
        };
        found.refuse("unknown-drug", format!("the formulary has no drug {what}"), &[(pointer, "")], help);
    }
}

fn known(what: &str, pointer: &str, id: &str, ids: &[&str], found: &mut Refusals<'_>) {
    if !ids.contains(&id) {
        // What is near no name of the practice may be a patient's, written into the wrong line.
        let named = if nearest::word(id, ids).is_some() { shown(id) } else { "of this name".to_owned() };
        let message = format!("the practice has no {what} {named}");
        found.refuse("unknown-name", message, &[(pointer, "")], format!("write one of {}", ids.join(", ")));
    }
}
