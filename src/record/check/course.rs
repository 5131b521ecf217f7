//! What is planned, given and answered.

use std::collections::BTreeSet;

use super::Refusals;
use crate::record::Record;
use crate::record::course::EventKind;
use crate::record::eye::Lens;

/// Plan, doses, answers.
pub(super) fn check(record: &Record, found: &mut Refusals<'_>) {
    energy(record, found);
    repeats(record, found);
    reasons(record, found);
    drop_times(record, found);
    marked_implant(record, found);
}

/// What was marked where there is no implant was the lens or its capsule: a heavier event.
fn marked_implant(record: &Record, found: &mut Refusals<'_>) {
    let events = record.treatment.iter().flat_map(|done| &done.events).enumerate();
    for (index, _) in events.filter(|(_, event)| event.kind == EventKind::ImplantMarked) {
        if matches!(record.eye.lens, Lens::Natural | Lens::None) {
            let pointer = format!("/treatment/events/{index}/kind");
            let marks = [(pointer.as_str(), ""), ("/eye/lens", "has no implant")];
            let help = "write \"capsule_or_lens\" if that was hit, or correct `lens`";
            found.refuse("event-data", "an implant was marked in an eye without one", &marks, help);
        }
    }
}

/// A reason of digits and signs says nothing: as many letters as half its least length (common practice, no source).
const FEWEST_LETTERS: usize = 8;

/// Nor does one of a single letter or syllable said again and again (common practice, no source).
const FEWEST_DIFFERENT: usize = 5;

fn says_nothing(reason: &str) -> bool {
    let letters = || reason.chars().filter(|letter| letter.is_alphabetic()).flat_map(char::to_lowercase);
    letters().count() < FEWEST_LETTERS || letters().collect::<BTreeSet<_>>().len() < FEWEST_DIFFERENT
}

fn reasons(record: &Record, found: &mut Refusals<'_>) {
    for (index, answer) in record.answers.iter().enumerate() {
        if says_nothing(&answer.reason) {
            let pointer = format!("/answers/{index}/reason");
            let help = "write in a sentence why it is right to go on";
            found.refuse("reason", "the reason of an answer says nothing", &[(&pointer, "")], help);
        }
    }
}

/// Times of a drop that is not among those in use, or of more than one a day with a part of the day.
fn drop_times(record: &Record, found: &mut Refusals<'_>) {
    let health = &record.health;
    for (index, times) in health.eye_drop_times.iter().enumerate() {
        let pointer = format!("/health/eye_drop_times/{index}");
        if !health.eye_drops.as_ref().is_some_and(|drops| drops.contains(&times.drop)) {
            let pointer = format!("{pointer}/drop");
            let help = "write it in `eye_drops` too, in the same words, or take its times out";
            found.refuse("drop-times", "times of an eye drop that is not in use", &[(&pointer, "")], help);
        }
        if times.at.is_some() && times.per_day > 1 {
            let (at, per_day) = (format!("{pointer}/at"), format!("{pointer}/per_day"));
            let help = "take `at` out: more than one dose a day has its parts of the day";
            found.refuse(
                "drop-times",
                "`at` stands beside more than one dose a day",
                &[(&at, ""), (&per_day, "")],
                help,
            );
        }
    }
}

fn energy(record: &Record, found: &mut Refusals<'_>) {
    if let Some(range) = record.plan.pulse_energy_mj.as_ref()
        && range.lowest > range.highest
    {
        let marks = [("/plan/pulse_energy_mj/lowest", ""), ("/plan/pulse_energy_mj/highest", "")];
        let help = "write the lower energy as `lowest`";
        found.refuse("energy-range", "the lowest energy is above the highest", &marks, help);
    }
}

fn repeats(record: &Record, found: &mut Refusals<'_>) {
    let plan = &record.plan;
    found.duplicates("the dilating drops", named("/plan/dilating", &plan.dilating));
    found.duplicates("the numbing drops", named("/plan/numbing", &plan.numbing));
    let times = record.health.eye_drop_times.iter().enumerate();
    let times = times.map(|(index, times)| (format!("/health/eye_drop_times/{index}/drop"), times.drop.as_str()));
    found.duplicates("the times of eye drops", times);
    let visits = plan.visits.iter().enumerate();
    let visits = visits.map(|(index, booked)| (format!("/plan/visits/{index}/visit"), booked.visit.as_str()));
    found.duplicates("the booked visits", visits);
    let answers = record.answers.iter().enumerate();
    let answers = answers.map(|(index, answer)| (format!("/answers/{index}/finding"), answer.finding.as_str()));
    found.duplicates("the answers", answers);
    let tailored = record.tailoring.iter().enumerate();
    let tailored = tailored.map(|(index, one)| (format!("/tailoring/{index}/statement"), one.statement.as_str()));
    found.duplicates("the tailored statements", tailored);
}

/// The entries of a list of texts with their pointers.
fn named<'a>(list: &'a str, entries: &'a [String]) -> impl Iterator<Item = (String, &'a str)> {
    entries.iter().enumerate().map(move |(index, entry)| (format!("{list}/{index}"), entry.as_str()))
}
