//! Facts of the vitreous detachment and the examination of the retina.

use super::{ANSWER, DONE, Definition, Kind, Source, Value, WHEN, choice, fact, number, word, yes_no};
use crate::record::date::{PartialDate, whole_months};
use crate::record::known::Answer;
use crate::record::vitreous::{Breaks, DetachmentState};

pub(super) const FACTS: &[Definition] = &[
    fact(
        "detachment",
        Kind::Choice(&["none", "partial", "complete", "unknown"]),
        "How far the vitreous has detached.",
        |s| word(&s.record.detachment.state),
    )
    .from(&["/detachment/state"]),
    fact(
        "detachment_age",
        Kind::Choice(&["young", "middling", "settled", "unknown", "not_applicable"]),
        "Age of the detachment at the treatment against the practice's two limits.",
        |s| {
            let limits = &s.profile.thresholds;
            choice(match (s.record.detachment.state, months(s)) {
                (DetachmentState::None, _) => "not_applicable",
                (_, None) => "unknown",
                (_, Some(age)) if age < limits.detachment_stop_months => "young",
                (_, Some(age)) if age < limits.detachment_caution_months => "middling",
                (_, Some(_)) => "settled",
            })
        },
    )
    .from(&["/detachment", WHEN, DONE]),
    fact(
        "detachment_months",
        Kind::Number("months", 0),
        "Completed months from the detachment to the treatment.",
        |s| number(months(s).map(f64::from)),
    )
    .from(&["/detachment", WHEN, DONE]),
    fact("detachment_weeks", Kind::Number("weeks", 0), "Completed weeks from the detachment to the treatment.", |s| {
        number(days_since(s, s.record.detachment.onset).map(|days| f64::from(days / 7)))
    })
    .from(&["/detachment/onset", WHEN, DONE]),
    fact("new_signs", ANSWER, "Flashes, floaters, shadow or blur that are new since the retina was examined.", |s| {
        word(&new_signs(s))
    })
    .from(&["/examination/since"]),
    fact(
        "examination",
        Kind::Choice(&["recent", "old", "missing"]),
        "The dilated examination of the retina against the practice's limit.",
        |s| {
            let limit = s.profile.thresholds.examination_max_days;
            choice(match exam_days(s) {
                None => "missing",
                Some(days) if days > limit => "old",
                Some(_) => "recent",
            })
        },
    )
    .from(&["/examination/date", WHEN, DONE]),
    fact("examination_days", Kind::Number("days", 0), "From examination to treatment.", |s| {
        number(exam_days(s).map(f64::from))
    })
    .from(&["/examination/date", WHEN, DONE]),
    fact("examined_on", Kind::Date, "Earliest day of the last dilated examination of the retina.", |s| {
        s.record.examination.date.earliest().map_or(Value::Absent, Value::Date)
    })
    .from(&["/examination/date"]),
    fact("indentation", ANSWER, "The retina was examined with indentation.", |s| {
        word(&s.record.examination.indentation)
    })
    .from(&["/examination/indentation"]),
    fact(
        "breaks",
        Kind::Choice(&["none", "treated", "untreated", "unknown"]),
        "Breaks in the retina at the last examination.",
        |s| word(&s.record.examination.breaks),
    )
    .from(&["/examination/breaks"]),
    fact(
        "tear_treated",
        Kind::Choice(&["fresh", "healed", "unknown", "not_applicable"]),
        "How long ago breaks were treated at the treatment, against the practice's limit.",
        |s| {
            let limit = s.profile.thresholds.tear_wait_weeks * 7;
            choice(match (s.record.examination.breaks, days_since(s, s.record.examination.breaks_treated)) {
                (Breaks::Treated, Some(days)) if days < limit => "fresh",
                (Breaks::Treated, Some(_)) => "healed",
                (Breaks::Treated, None) => "unknown",
                _ => "not_applicable",
            })
        },
    )
    .from(&["/examination/breaks", "/examination/breaks_treated", WHEN, DONE]),
    fact("tear_treated_days", Kind::Number("days", 0), "Days from the treatment of breaks to the treatment.", |s| {
        number(days_since(s, s.record.examination.breaks_treated).map(f64::from))
    })
    .from(&["/examination/breaks_treated", WHEN, DONE]),
    fact("breaks_treated", Kind::Text, "When breaks were treated, as recorded.", |s| {
        match s.record.examination.breaks_treated {
            PartialDate::Unknown => Value::Absent,
            date => Value::Text(date.to_string()),
        }
    })
    .from(&["/examination/breaks_treated"]),
    fact("symptomatic_break", super::YES_NO, "An untreated break with new signs since the examination.", |s| {
        let untreated = s.record.examination.breaks == Breaks::Untreated;
        yes_no(untreated && new_signs(s) == Answer::Yes)
    })
    .from(&["/examination/breaks", "/examination/since"]),
];

/// A month or a year counts as its last day; a start after the treatment date is 0 days old.
pub(super) fn days_since(source: &Source, date: PartialDate) -> Option<u32> {
    let days = (source.treatment_date() - date.latest()?).num_days();
    Some(u32::try_from(days).unwrap_or(0))
}

pub(super) fn months(source: &Source) -> Option<u32> {
    match source.record.detachment.state {
        DetachmentState::None => None,
        _ => Some(whole_months(source.record.detachment.onset.latest()?, source.treatment_date())),
    }
}

/// An examination known only to the month counts as its first day: it is not called newer than it may be.
fn exam_days(source: &Source) -> Option<u32> {
    let date = source.record.examination.date.earliest()?;
    Some(u32::try_from((source.treatment_date() - date).num_days()).unwrap_or(0))
}

/// One *yes* settles it; otherwise one *unknown* leaves it open.
fn new_signs(source: &Source) -> Answer {
    let since = &source.record.examination.since;
    let signs = [since.flashes, since.floaters, since.shadow, since.blur];
    if signs.contains(&Answer::Yes) {
        Answer::Yes
    } else if signs.contains(&Answer::Unknown) {
        Answer::Unknown
    } else {
        Answer::No
    }
}
