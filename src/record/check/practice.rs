//! Contradictions inside a practice profile.

use super::Refusals;
use crate::record::profile::{DropCourse, PhoneHours, Profile, StepLength, Thresholds, Weekday};

/// Fewest digits of a number somebody can dial: emergency numbers have three.
const FEWEST_DIGITS: usize = 3;

/// Hours, phones, limits, ids.
pub(super) fn check(profile: &Profile, found: &mut Refusals<'_>) {
    hours(profile, found);
    phones(profile, found);
    limits(&profile.thresholds, found);
    results(profile, found);
    ids(profile, found);
    drops_once(profile, found);
    courses(profile, found);
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

/// Counts that can be, of enough eyes; an alarm above what is expected.
fn results(profile: &Profile, found: &mut Refusals<'_>) {
    let Some(rule) = &profile.results else { return };
    if rule.alarming_harm <= rule.expected_harm {
        let at = [("/results/alarming_harm", ""), ("/results/expected_harm", "")];
        found.refuse(
            "results",
            "the share that raises the alarm is not above the one expected",
            &at,
            "write a higher one",
        );
    }
    let Some(own) = &rule.in_consent else { return };
    for (key, count) in [("much_better", own.much_better), ("torn", own.torn)] {
        let pointer = format!("/results/in_consent/{key}");
        if count.eyes > count.followed || count.followed > own.treated {
            let help = "count anew: the results page of the desk shows the numbers";
            found.refuse("results", "more eyes are counted than there were", &[(&pointer, "")], help);
        }
        if count.followed < rule.least_eyes {
            let message = "fewer eyes were followed than the practice asks for";
            found.refuse("results", message, &[(&pointer, "")], "take `in_consent` out until there are enough");
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
        (
            "pressure_after/raised_rise_mmhg",
            limits.pressure_after.raised_rise_mmhg,
            "pressure_after/stay_rise_mmhg",
            limits.pressure_after.stay_rise_mmhg,
        ),
        ("pressure_low_mmhg", limits.pressure_low_mmhg, "pressure_limit_mmhg", limits.pressure_limit_mmhg),
        ("pressure_limit_mmhg", limits.pressure_limit_mmhg, "pressure_stop_mmhg", limits.pressure_stop_mmhg),
        (
            "pressure_limit_mmhg",
            limits.pressure_limit_mmhg,
            "pressure_after/stay_mmhg",
            limits.pressure_after.stay_mmhg,
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

/// The same drug twice would be two courses at once: a change is a step.
fn drops_once(profile: &Profile, found: &mut Refusals<'_>) {
    for (index, regimen) in profile.regimens.iter().enumerate() {
        let drops = regimen.drops.iter().enumerate();
        let drugs = drops.map(|(drop, course)| (format!("/regimens/{index}/drops/{drop}/drug"), course.drug.as_str()));
        found.duplicates("the drops of a regimen", drugs);
    }
}

/// Keys of a course that contradict each other.
fn courses(profile: &Profile, found: &mut Refusals<'_>) {
    for (index, regimen) in profile.regimens.iter().enumerate() {
        for (drop, course) in regimen.drops.iter().enumerate() {
            let at = format!("/regimens/{index}/drops/{drop}");
            steps(&at, course, found);
            as_needed(&at, course, found);
            if course.first_in_clinic && course.starts > 0 {
                let marks = [(format!("{at}/first_in_clinic"), ""), (format!("{at}/starts"), "")];
                let message = "a course that begins after the day of treatment has no dose in the clinic";
                refuse(found, message, &marks, "take one of the two out");
            }
        }
    }
}

/// What is without end is last, and a part of the day stands only where a date has a single dose.
fn steps(at: &str, course: &DropCourse, found: &mut Refusals<'_>) {
    for (index, step) in course.steps.iter().enumerate() {
        let pointer = format!("{at}/steps/{index}");
        if index + 1 < course.steps.len() && matches!(step.length, StepLength::GoesOn(_)) {
            let marks = [(format!("{pointer}/length"), "")];
            refuse(found, "a step without end is followed by another", &marks, "make it the last step");
        }
        if step.at.is_some() && (step.per_day > 1 || course.at_night) {
            let marks = [(format!("{pointer}/at"), ""), (format!("{pointer}/per_day"), "")];
            let help = "take `at` out: more than one dose a day has its parts of the day";
            refuse(found, "`at` stands beside more than one dose a day", &marks, help);
        }
    }
}

/// A drug that is used as needed has one limit, and no planned dose.
fn as_needed(at: &str, course: &DropCourse, found: &mut Refusals<'_>) {
    if !course.as_needed {
        return;
    }
    let timed = course.first_in_clinic || course.at_night || course.steps.iter().any(|step| step.at.is_some());
    let several = course.steps.len() > 1 || course.steps.iter().any(|step| step.every_days > 1);
    if timed || several {
        let marks = [(format!("{at}/as_needed"), ""), (format!("{at}/steps"), "")];
        let help = "write one step, and no `first_in_clinic`, `at_night`, `at` or `every_days`";
        refuse(found, "a drug that is used as needed has planned doses", &marks, help);
    }
}

fn refuse(found: &mut Refusals<'_>, message: &str, marks: &[(String, &str)], help: &str) {
    let marks: Vec<(&str, &str)> = marks.iter().map(|(pointer, label)| (pointer.as_str(), *label)).collect();
    found.refuse("regimen", message, &marks, help);
}
