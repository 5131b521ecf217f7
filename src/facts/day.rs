//! Facts of the day: whether the practice is open, and how long the patient is awake.

use super::hours;
use super::{DONE, Definition, Kind, Source, WHEN, YES_NO, choice, fact, number, yes_no};
use crate::record::date::Clock;

pub(super) const FACTS: &[Definition] = &[
    fact("start_open", YES_NO, "The practice is open at the planned start.", |s| {
        yes_no(hours::is_open(s.profile, s.record.plan.start.0))
    })
    .from(&[WHEN]),
    fact(
        "next_open_day",
        Kind::Choice(&["next_day", "later"]),
        "The next day on which the practice is open after the treatment.",
        |s| {
            let next = s.treatment_date().succ_opt();
            let open = next.and_then(|day| hours::next_open_day(s.profile, day).ok());
            choice(if open.is_some() && open == next { "next_day" } else { "later" })
        },
    )
    .from(&[WHEN, DONE]),
    fact(
        "waking_day",
        Kind::Choice(&["short", "usual"]),
        "Hours from getting up to sleep against the practice's limit.",
        |s| {
            let short = waking_minutes(s) < s.profile.thresholds.waking_day_hours * 60;
            choice(if short { "short" } else { "usual" })
        },
    )
    .from(&["/patient/wakes", "/patient/sleeps"]),
    fact("waking_hours", Kind::Number("hours", 1), "From getting up to sleep.", |s| {
        number(Some(f64::from(waking_minutes(s)) / 60.0))
    })
    .from(&["/patient/wakes", "/patient/sleeps"]),
];

const DAY_MINUTES: i64 = 24 * 60;

/// Sleeping earlier than waking means after midnight.
fn waking_minutes(source: &Source) -> u32 {
    let patient = &source.record.patient;
    let between = |from: Clock, to: Clock| (to.0 - from.0).num_minutes().rem_euclid(DAY_MINUTES);
    u32::try_from(between(patient.wakes, patient.sleeps)).unwrap_or(0)
}
