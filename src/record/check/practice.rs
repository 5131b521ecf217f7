//! Contradictions inside a practice profile.

use super::Refusals;
use crate::record::profile::{PhoneHours, Profile, Thresholds, Weekday};

/// Fewest digits of a number somebody can dial: emergency numbers have three.
const FEWEST_DIGITS: usize = 3;

/// Hours, phones, limits, ids.
pub(super) fn check(profile: &Profile, found: &mut Refusals<'_>) {
    hours(profile, found);
    phones(profile, found);
    limits(&profile.thresholds, found);
    ids(profile, found);
    drops_once(profile, found);
    for (index, tag) in profile.practice.languages.iter().enumerate() {
        found.language(&format!("/practice/languages/{index}"), tag);
    }
}

fn hours(profile: &Profile, found: &mut Refusals<'_>) {
    if profile.hours.is_empty() {
        found.refuse(
            "hours",
            "the practice is never open",
            &[("/hours", "")],
            "write opening hours of at least one day",
        );
    }
    for (day, _) in profile.hours.iter().filter(|(_, hours)| hours.opens >= hours.closes) {
        let day = key(*day);
        let (opens, closes) = (format!("/hours/{day}/opens"), format!("/hours/{day}/closes"));
        let message = format!("the practice closes before it opens on {day}");
        found.refuse(
            "hours",
            message,
            &[(&closes, ""), (&opens, "")],
            "write an earlier time as `opens`, a later one as `closes`",
        );
    }
}

/// The key of a day as it is written in the file.
fn key(day: Weekday) -> String {
    serde_json::to_value(day).ok().and_then(|key| key.as_str().map(str::to_owned)).unwrap_or_default()
}

/// Day and night somebody answers, on a number that can be dialled.
fn phones(profile: &Profile, found: &mut Refusals<'_>) {
    let answered =
        |hours| profile.phones.iter().any(|phone| phone.answered == hours || phone.answered == PhoneHours::Always);
    for (hours, when, word) in [
        (PhoneHours::OpeningHours, "while the practice is open", "opening_hours"),
        (PhoneHours::OutOfHours, "when the practice is closed", "out_of_hours"),
    ] {
        if !answered(hours) {
            let help = format!("add a phone with `answered = \"{word}\"` or \"always\"");
            found.refuse("phones", format!("no phone is answered {when}"), &[("/phones", "")], help);
        }
    }
    for (index, phone) in profile.phones.iter().enumerate() {
        if phone.number.chars().filter(char::is_ascii_digit).count() < FEWEST_DIGITS {
            let pointer = format!("/phones/{index}/number");
            let message = "a phone number has fewer than three digits";
            found.refuse("phones", message, &[(&pointer, "")], "write the number as a patient dials it");
        }
    }
}

/// Pairs of limits of which the first must not be above the second.
fn limits(limits: &Thresholds, found: &mut Refusals<'_>) {
    let front = &limits.front_of_eye_mm;
    let pairs = [
        (
            "detachment_stop_months",
            limits.detachment_stop_months.into(),
            "detachment_caution_months",
            limits.detachment_caution_months.into(),
        ),
        ("opening_stop_mm", limits.opening_stop_mm, "opening_caution_mm", limits.opening_caution_mm),
        ("clearance_stop_mm", limits.clearance_stop_mm, "natural_lens_caution_mm", limits.natural_lens_caution_mm),
        ("clearance_stop_mm", limits.clearance_stop_mm, "lens_note_mm", limits.lens_note_mm),
        ("low_pulse_mj", limits.low_pulse_mj, "high_pulse_mj", limits.high_pulse_mj),
        (
            "recheck_earliest_minutes",
            limits.recheck_earliest_minutes.into(),
            "recheck_after_minutes",
            limits.recheck_after_minutes.into(),
        ),
        ("session_minutes", limits.session_minutes.into(), "visit_minutes", limits.visit_minutes.into()),
        ("front_of_eye_mm/none", front.none, "front_of_eye_mm/implant", front.implant),
        ("front_of_eye_mm/implant", front.implant, "front_of_eye_mm/natural", front.natural),
    ];
    for (lower, low, upper, high) in pairs {
        if low > high {
            let message = format!("`{}` is above `{}`", dotted(lower), dotted(upper));
            let (lower, upper) = (format!("/thresholds/{lower}"), format!("/thresholds/{upper}"));
            let help = format!("write at most {high} here, or raise the other");
            found.refuse("threshold-order", message, &[(&lower, ""), (&upper, "")], help);
        }
    }
}

/// A path within the thresholds as TOML writes it.
fn dotted(path: &str) -> String {
    path.replace('/', ".")
}

fn ids(profile: &Profile, found: &mut Refusals<'_>) {
    let surgeons = profile.surgeons.iter().enumerate();
    found.duplicates(
        "the surgeons",
        surgeons.map(|(index, surgeon)| (format!("/surgeons/{index}/id"), surgeon.id.as_str())),
    );
    let regimens = profile.regimens.iter().enumerate();
    found.duplicates(
        "the regimens",
        regimens.map(|(index, regimen)| (format!("/regimens/{index}/id"), regimen.id.as_str())),
    );
    let visits = profile.visits.iter().enumerate();
    found.duplicates("the visits", visits.map(|(index, visit)| (format!("/visits/{index}/id"), visit.id.as_str())));
}

/// All drops of a regimen begin on the treatment day: the same drug twice would be two courses at once.
fn drops_once(profile: &Profile, found: &mut Refusals<'_>) {
    for (index, regimen) in profile.regimens.iter().enumerate() {
        let drops = regimen.drops.iter().enumerate();
        let drugs = drops.map(|(drop, course)| (format!("/regimens/{index}/drops/{drop}/drug"), course.drug.as_str()));
        found.duplicates("the drops of a regimen", drugs);
    }
}
