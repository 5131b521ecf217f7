//! Time: opening hours, the recheck, the plan of doses and visits, the calendar file.

mod calendar_file;
mod golden;
mod laws;
mod recheck;

use chrono::{DateTime, LocalResult, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, TimeZone};
use chrono_tz::Tz;
use proptest::prelude::*;
use vitreoleaf::plan::{Anchors, Course, Plan, PlanError, Request, Waking, schedule};
use vitreoleaf::record::profile::{DropStep, Profile, StepLength, Zone};

/// A practice open Monday to Friday 08:00 to 17:00 and Saturday 09:00 to 12:00, closed from 24 to 26 December 2026.
fn profile(zone: Tz) -> Profile {
    let mut profile: Profile = toml::from_str(PROFILE).expect("the profile of the test");
    profile.practice.time_zone = Zone(zone);
    profile
}

const PROFILE: &str = r#"
closed_days = ["2026-12-24", "2026-12-25", "2026-12-26"]
surgeons = []
regimens = []
phones = []
visits = [
  { id = "week", after_days = 7, applies = "everyone" },
  { id = "next_day", after_days = 1, applies = "pressure_risk", at = "09:00" },
  { id = "month", after_days = 28, applies = "everyone", at = "06:30" },
]
[practice]
name = "Example Practice"
address = ["1 Example Street"]
time_zone = "Etc/UTC"
paper = "us-letter"
languages = ["en-US"]
labels = "stricter"
jurisdiction = "us-facility"
[hours]
monday = { opens = "08:00", closes = "17:00" }
tuesday = { opens = "08:00", closes = "17:00" }
wednesday = { opens = "08:00", closes = "17:00" }
thursday = { opens = "08:00", closes = "17:00" }
friday = { opens = "08:00", closes = "17:00" }
saturday = { opens = "09:00", closes = "12:00" }
[thresholds]
detachment_stop_months = 6
detachment_caution_months = 9
floater_stop_weeks = 4
floater_wait_months = 6
acuity_limit = "20/60"
examination_max_days = 90
recent_surgery_months = 3
opening_stop_mm = 3
opening_caution_mm = 4.5
clearance_stop_mm = 3
natural_lens_caution_mm = 4
lens_note_mm = 5
long_eye_mm = 26
pressure_limit_mmhg = 21
pressure_stop_mmhg = 30
pressure_low_mmhg = 5
low_pulse_mj = 4
high_pulse_mj = 8
tear_wait_weeks = 4
session_wait_weeks = 4
usual_session_mj = 1000
usual_eye_mj = 3000
young_lens_years = 50
slit_lamp_error_mm = 0.5
waking_day_hours = 10
recheck_energy_mj = 500
recheck_after_minutes = 120
recheck_earliest_minutes = 60
session_minutes = 30
visit_minutes = 180
drop_gap_minutes = 5
closing_minutes = 2
drop_spare_percent = { usual = 25, more_in_large_print = 25 }
pressure_after = { raised_rise_mmhg = 5, stay_mmhg = 30, stay_rise_mmhg = 10 }
front_of_eye_mm = { none = 3, implant = 4, natural = 7.5 }
"#;

/// A failing case is printed in full and kept as a test of its own, not in a file that fills up.
fn quiet() -> ProptestConfig {
    ProptestConfig { failure_persistence: None, ..ProptestConfig::default() }
}

fn local(text: &str) -> NaiveDateTime {
    NaiveDateTime::parse_from_str(text, "%Y-%m-%d %H:%M").expect("a local time")
}

fn date(text: &str) -> NaiveDate {
    text.parse().expect("a date")
}

fn clock(text: &str) -> NaiveTime {
    NaiveTime::parse_from_str(text, "%H:%M").expect("a time")
}

fn waking(wakes: &str, sleeps: &str) -> Waking {
    Waking { wakes: clock(wakes), sleeps: clock(sleeps) }
}

/// The treatment as done: the patient leaves at the last pulse.
fn done(leaves: &str) -> Anchors {
    let leaves = local(leaves);
    Anchors { treatment: leaves.date(), starts: leaves, last_pulse: leaves, leaves, done: true }
}

fn step(per_day: u32, length: StepLength) -> DropStep {
    DropStep { per_day, every_days: 1, at: None, length }
}

fn course(drug: &str, per_day: u32, length: StepLength) -> Course {
    Course {
        drug: drug.into(),
        order: 0,
        gap_minutes: 5,
        min_same_drug_minutes: 240,
        starts: 0,
        steps: vec![step(per_day, length)],
        first_in_clinic: false,
        as_needed: false,
        at_night: false,
        in_use: false,
        recorded: Vec::new(),
    }
}

fn plan(zone: Tz, anchors: Anchors, waking: Waking, courses: &[Course]) -> Result<Plan, PlanError> {
    let profile = profile(zone);
    schedule(&Request {
        profile: &profile,
        anchors,
        waking,
        courses,
        in_use: &[],
        pressure_risk: false,
        recheck: None,
        booked: &[],
        event_visit_days: None,
    })
}

/// Reads a wall time as the text of the design has it, without the program's own reading: the earlier of two, or the
/// first minute that exists.
fn read(zone: Tz, local: NaiveDateTime) -> DateTime<Tz> {
    (0..)
        .find_map(|minutes| zone.from_local_datetime(&(local + TimeDelta::minutes(minutes))).earliest())
        .expect("a time")
}

/// Zones with clock changes of an hour, half an hour and two hours, at night and at midnight, for Ramadan, in both
/// halves of the earth; offsets of 45 minutes; none at all.
const ZONES: [Tz; 16] = [
    Tz::America__New_York,
    Tz::Europe__Berlin,
    Tz::Europe__London,
    Tz::Europe__Dublin,
    Tz::Australia__Lord_Howe,
    Tz::Australia__Sydney,
    Tz::Africa__Casablanca,
    Tz::Africa__Cairo,
    Tz::Antarctica__Troll,
    Tz::America__Havana,
    Tz::America__St_Johns,
    Tz::America__Nuuk,
    Tz::America__Santiago,
    Tz::Asia__Beirut,
    Tz::Pacific__Chatham,
    Tz::Asia__Kathmandu,
];

/// Days from 2024 to 2031, half of them shortly before a change of the clocks, some before a leap day or new year.
fn day(zone: Tz) -> impl Strategy<Value = NaiveDate> {
    let any = (0..2900_i64).prop_map(|days| date("2024-01-01") + TimeDelta::days(days));
    let before_change =
        (any.clone(), 0..4_i64).prop_map(move |(from, days)| next_change(zone, from) - TimeDelta::days(days));
    let turns =
        prop::sample::select(vec![date("2027-02-26"), date("2028-02-27"), date("2026-12-29"), date("2027-12-31")]);
    prop_oneof![3 => any, 4 => before_change, 1 => turns]
}

/// The next date that is shorter or longer than 24 hours, within a year.
fn next_change(zone: Tz, from: NaiveDate) -> NaiveDate {
    let midnight = |day: NaiveDate| read(zone, day.and_time(NaiveTime::MIN));
    let changes = |day: &NaiveDate| midnight(*day + TimeDelta::days(1)) - midnight(*day) != TimeDelta::days(1);
    from.iter_days().take(366).find(changes).unwrap_or(from)
}

/// Whether the clocks skip a wall time.
fn skipped(zone: Tz, local: NaiveDateTime) -> bool {
    matches!(zone.from_local_datetime(&local), LocalResult::None)
}
