//! Facts of the complaint: since when, and whether the retina was seen since.

use super::{ANSWER, DONE, Definition, Kind, Source, WHEN, choice, fact, number, recorded, word};
use crate::facts::detachment::days_since;
use crate::record::date::whole_months;
use crate::record::known::Answer;

const SINCE: &[&str] = &["/floater/since", WHEN, DONE];

pub(super) const FACTS: &[Definition] = &[
    fact(
        "complaint_age",
        Kind::Choice(&["new", "recent", "old", "unknown"]),
        "From the latest day the complaint can have begun to the treatment, against the practice's two limits.",
        |s| choice(age(s)),
    )
    .from(SINCE),
    fact(
        "complaint_weeks",
        Kind::Number("weeks", 0),
        "Completed weeks from the latest day the complaint can have begun to the treatment.",
        |s| number(days_since(s, s.record.floater.since).map(|days| f64::from(days / 7))),
    )
    .from(SINCE),
    fact(
        "complaint_months",
        Kind::Number("months", 0),
        "Completed months from the latest day the complaint can have begun to the treatment.",
        |s| number(months(s).map(f64::from)),
    )
    .from(SINCE),
    fact(
        "examined_since_complaint",
        ANSWER,
        "The retina was examined after the complaint began, or on that day.",
        |s| word(&examined_since(s)),
    )
    .from(&["/floater/since", "/examination/date"]),
    fact("floater_explains", ANSWER, "The floater that is seen explains the complaint.", |s| {
        word(&s.record.floater.explains)
    })
    .from(&["/floater/explains"]),
    recorded!(complaint.sudden, ANSWER, "It came suddenly, as a cloud or many dots."),
];

fn age(source: &Source) -> &'static str {
    let limits = &source.profile.thresholds;
    match (days_since(source, source.record.floater.since), months(source)) {
        (Some(days), _) if days < 7 * limits.floater_stop_weeks => "new",
        (_, Some(months)) if months < limits.floater_wait_months => "recent",
        (_, Some(_)) => "old",
        (_, None) => "unknown",
    }
}

fn months(source: &Source) -> Option<u32> {
    Some(whole_months(source.record.floater.since.latest()?, source.treatment_date()))
}

/// Only what is sure on every day that both can mean is a yes or a no.
fn examined_since(source: &Source) -> Answer {
    let (since, examined) = (source.record.floater.since, source.record.examination.date);
    match (since.earliest(), since.latest(), examined.earliest(), examined.latest()) {
        (_, Some(began), Some(seen), _) if seen >= began => Answer::Yes,
        (Some(began), _, _, Some(seen)) if seen < began => Answer::No,
        _ => Answer::Unknown,
    }
}
