//! Facts of the practice: who, when, how long, and its limits.

use super::{Definition, Kind, REGIMEN, Source, Value, WHEN, YES_NO, fact, yes_no};
use crate::record::course::Helper;
use crate::record::profile::Surgeon;

/// Limits as facts, so that a text can print the limit it speaks of.
macro_rules! limit {
    ($name:ident, $unit:literal, $decimals:literal, $meaning:literal) => {
        fact(stringify!($name), Kind::Number($unit, $decimals), $meaning, |s| {
            Value::Number(f64::from(s.profile.thresholds.$name))
        })
    };
}

pub(super) const FACTS: &[Definition] = &[
    fact("practice", Kind::Text, "Name of the practice.", |s| {
        Value::Named(s.profile.practice.name.clone(), s.profile.practice.name_in.clone())
    }),
    fact("surgeon", Kind::Text, "Name of the surgeon.", |s| {
        surgeon(s).map_or(Value::Absent, |surgeon| Value::Text(surgeon.name.clone()))
    })
    .from(&["/plan/surgeon"]),
    fact("surgeon_role", Kind::Text, "Role of the surgeon.", |s| {
        surgeon(s).map_or(Value::Absent, |surgeon| Value::Text(surgeon.role.clone()))
    })
    .from(&["/plan/surgeon"]),
    fact("surgeon_beginning", YES_NO, "The surgeon is beginning with this treatment.", |s| {
        yes_no(surgeon(s).is_some_and(|surgeon| surgeon.beginning))
    })
    .from(&["/plan/surgeon"]),
    fact("beginning_told", YES_NO, "The surgeon is beginning, and the practice tells patients so.", |s| {
        yes_no(surgeon(s).is_some_and(|surgeon| surgeon.beginning && surgeon.beginning_told))
    })
    .from(&["/plan/surgeon"]),
    fact("other_doctor", YES_NO, "Another doctor does part of the treatment.", |s| {
        yes_no(s.record.plan.helpers.contains(&Helper::Doctor))
    })
    .from(&["/plan/helpers"]),
    fact("other_staff", YES_NO, "Somebody who is no doctor does part of the treatment.", |s| {
        yes_no(s.record.plan.helpers.contains(&Helper::Staff))
    })
    .from(&["/plan/helpers"]),
    fact("place", Kind::Text, "Room or place of the treatment.", |s| Value::Text(s.record.plan.place.clone()))
        .from(&["/plan/place"])
        .private(),
    fact("start_date", Kind::Date, "Planned date.", |s| Value::Date(s.record.plan.start.0.date())).from(&[WHEN]),
    fact("start_time", Kind::Time, "Planned time.", |s| Value::Time(s.record.plan.start.0)).from(&[WHEN]),
    fact("visit_minutes_text", Kind::Minutes, "How long to plan for the visit.", |s| {
        Value::Minutes(s.profile.thresholds.visit_minutes)
    }),
    fact("gap_text", Kind::Minutes, "Distance between two different drops.", |s| {
        Value::Minutes(super::drops::gap_minutes(s))
    })
    .from(&[REGIMEN]),
    fact("closing_minutes_text", Kind::Minutes, "How long to keep the eye closed.", |s| {
        Value::Minutes(s.profile.thresholds.closing_minutes)
    }),
    fact("recheck_after_text", Kind::Minutes, "From last pulse to pressure recheck.", |s| {
        Value::Minutes(s.profile.thresholds.recheck_after_minutes)
    }),
    limit!(detachment_stop_months, "months", 0, "A younger detachment stops."),
    limit!(detachment_caution_months, "months", 0, "A younger detachment is a caution."),
    limit!(floater_stop_weeks, "weeks", 0, "A younger complaint stops."),
    limit!(floater_wait_months, "months", 0, "A younger complaint asks."),
    fact("acuity_limit", Kind::Text, "Worse acuity asks.", |s| {
        Value::Text(s.profile.thresholds.acuity_limit.to_string())
    }),
    limit!(examination_max_days, "days", 0, "The examination of the retina may be this old."),
    limit!(recent_surgery_months, "months", 0, "Lens surgery within this time is recent."),
    limit!(opening_stop_mm, "mm", 1, "A smaller opening of the capsule stops."),
    limit!(opening_caution_mm, "mm", 1, "A smaller opening of the capsule is a caution."),
    limit!(clearance_stop_mm, "mm", 1, "Less to retina or lens stops."),
    limit!(natural_lens_caution_mm, "mm", 1, "Less to a natural lens is a caution."),
    limit!(lens_note_mm, "mm", 1, "Less to the lens is a note."),
    limit!(long_eye_mm, "mm", 1, "From this axial length an eye is long."),
    limit!(pressure_limit_mmhg, "mmHg", 0, "From this pressure the eye is at the limit."),
    limit!(pressure_stop_mmhg, "mmHg", 0, "From this pressure before the treatment the practice does not treat."),
    limit!(pressure_low_mmhg, "mmHg", 0, "Down from this pressure before the treatment a clinician is asked."),
    fact("pressure_raised_rise_mmhg", Kind::Number("mmHg", 0), "From this rise after the laser it is raised.", |s| {
        Value::Number(s.profile.thresholds.pressure_after.raised_rise_mmhg)
    }),
    fact(
        "pressure_stay_mmhg",
        Kind::Number("mmHg", 0),
        "From this pressure after the laser nobody leaves unseen.",
        |s| Value::Number(s.profile.thresholds.pressure_after.stay_mmhg),
    ),
    fact(
        "pressure_stay_rise_mmhg",
        Kind::Number("mmHg", 0),
        "From this rise after the laser nobody leaves unseen.",
        |s| Value::Number(s.profile.thresholds.pressure_after.stay_rise_mmhg),
    ),
    limit!(low_pulse_mj, "mJ", 1, "Pulses below may not reach breakdown."),
    limit!(high_pulse_mj, "mJ", 1, "Pulses above are a caution."),
    limit!(tear_wait_weeks, "weeks", 0, "A tear treated less long ago stops."),
    limit!(session_wait_weeks, "weeks", 0, "A session closer to the one before asks."),
    limit!(usual_session_mj, "mJ", 0, "What one session usually stays below at this practice."),
    limit!(usual_eye_mj, "mJ", 0, "What one eye usually stays below in all sessions at this practice."),
    limit!(young_lens_years, "years", 0, "A natural lens below this age is a caution."),
    limit!(slit_lamp_error_mm, "mm", 1, "How far a distance not measured by ultrasound or OCT may be off."),
    limit!(waking_day_hours, "hours", 0, "A shorter waking day asks."),
    limit!(recheck_energy_mj, "mJ", 0, "From this energy the pressure is rechecked."),
    limit!(recheck_after_minutes, "minutes", 0, "From last pulse to recheck."),
    limit!(recheck_earliest_minutes, "minutes", 0, "Least from last pulse to recheck."),
];

/// The surgeon of the plan.
pub(super) fn surgeon<'a>(source: &Source<'a>) -> Option<&'a Surgeon> {
    let id = &source.record.plan.surgeon;
    source.profile.surgeons.iter().find(|surgeon| surgeon.id == *id)
}
