//! Plans whose every time is known beforehand.

use std::collections::BTreeMap;

use vitreoleaf::plan::{DosePlace, Period};
use vitreoleaf::record::profile::DayPart;
use vitreoleaf::record::profile::StepLength::{Dates, Doses, GoesOn};

use super::*;

const NEW_YORK: Tz = Tz::America__New_York;

fn times(plan: &Plan, drug: &str, day: &str) -> Vec<String> {
    let of_day = plan.doses.iter().filter(|dose| dose.drug == drug && dose.day == date(day));
    of_day.map(|dose| dose.at.format("%H:%M").to_string()).collect()
}

/// Golden vectors for RFC 5545 local times (calculated, Python's zoneinfo): 08:00 every day, in UTC.
#[test]
fn eight_in_the_morning_stays_eight_in_the_morning() {
    for (zone, start, utc) in [
        (
            NEW_YORK,
            "2026-02-01 07:00",
            [("2026-03-07", 13), ("2026-03-08", 12), ("2026-10-31", 12), ("2026-11-01", 13)],
        ),
        (
            Tz::Europe__Berlin,
            "2026-02-01 07:00",
            [("2026-03-28", 7), ("2026-03-29", 6), ("2026-10-24", 6), ("2026-10-25", 7)],
        ),
        (
            Tz::Europe__London,
            "2026-02-01 07:00",
            [("2026-03-28", 8), ("2026-03-29", 7), ("2026-10-24", 7), ("2026-10-25", 8)],
        ),
        (
            NEW_YORK,
            "2027-02-01 07:00",
            [("2027-03-13", 13), ("2027-03-14", 12), ("2027-11-06", 12), ("2027-11-07", 13)],
        ),
        (
            Tz::Europe__Berlin,
            "2027-02-01 07:00",
            [("2027-03-27", 7), ("2027-03-28", 6), ("2027-10-30", 6), ("2027-10-31", 7)],
        ),
    ] {
        let plan = plan(zone, done(start), waking("08:00", "23:00"), &[course("a", 1, Dates(300))]).unwrap();
        assert_eq!(plan.doses.len(), 300);
        let hours: BTreeMap<_, _> = plan.doses.iter().map(|dose| (dose.day, dose.instant.naive_utc())).collect();
        for (day, hour) in utc {
            assert_eq!(hours[&date(day)], date(day).and_hms_opt(hour, 0, 0).unwrap(), "{zone} {day}");
        }
        assert!(plan.doses.iter().all(|dose| dose.at.time() == clock("08:00")));
    }
}

/// Golden vectors (calculated, Python's zoneinfo): 02:30 does not exist on these days in spring.
#[test]
fn a_skipped_time_becomes_the_first_after_it() {
    for (zone, leaves, day) in
        [(NEW_YORK, "2026-03-07 12:00", "2026-03-08"), (Tz::Europe__Berlin, "2026-03-28 12:00", "2026-03-29")]
    {
        let courses = [course("a", 2, Dates(4)), course("b", 1, Dates(4))];
        let plan = plan(zone, done(leaves), waking("02:30", "19:00"), &courses).unwrap();
        assert_eq!(times(&plan, "a", day)[0], "03:00");
        // Two drops that both lay in the gap still keep their distance.
        assert_eq!(times(&plan, "b", day), ["03:05"]);
        let next = date(day).succ_opt().unwrap().to_string();
        assert_eq!((times(&plan, "a", &next)[0].as_str(), times(&plan, "b", &next)[0].as_str()), ("02:30", "02:35"));
    }
}

/// Golden vectors (calculated, Python's zoneinfo): these times happen twice in autumn; RFC 5545, 3.3.5: the first counts.
#[test]
fn a_repeated_time_is_the_first_of_the_two() {
    for (zone, leaves, wakes, utc) in [
        (NEW_YORK, "2026-10-31 12:00", "01:30", "2026-11-01 05:30"),
        (Tz::Europe__Berlin, "2026-10-24 12:00", "02:30", "2026-10-25 00:30"),
    ] {
        let plan = plan(zone, done(leaves), waking(wakes, "19:00"), &[course("a", 2, Dates(3))]).unwrap();
        let day = local(utc).date();
        let of_day: Vec<_> = plan.doses.iter().filter(|dose| dose.at.date() == day).collect();
        assert_eq!(of_day.len(), 2);
        assert_eq!(of_day[0].instant.naive_utc(), local(utc));
    }
}

/// Golden dates (calculated): 7 August 2026 is a Friday; day 7 is Thursday 13 August; 28 days end on Thursday 3 September.
#[test]
fn courses_end_on_the_right_day() {
    let plan_of = |leaves, dates| {
        plan(NEW_YORK, done(leaves), waking("07:00", "22:00"), &[course("a", 4, Dates(dates))]).unwrap()
    };
    for (leaves, dates, last, weekday) in [
        ("2026-08-07 06:00", 7, "2026-08-13", chrono::Weekday::Thu),
        ("2026-08-07 06:00", 8, "2026-08-14", chrono::Weekday::Fri),
        ("2026-08-07 06:00", 28, "2026-09-03", chrono::Weekday::Thu),
        ("2027-02-28 06:00", 2, "2027-03-01", chrono::Weekday::Mon),
        ("2028-02-28 06:00", 2, "2028-02-29", chrono::Weekday::Tue),
        ("2026-12-31 06:00", 2, "2027-01-01", chrono::Weekday::Fri),
    ] {
        let step = plan_of(leaves, dates).uses.remove(0);
        assert_eq!((step.first, step.last), (local(leaves).date(), date(last)));
        assert_eq!(chrono::Datelike::weekday(&step.last), weekday);
    }
}

/// 4 a day for 7 days are 28 drops (arithmetic), less the slots that had passed on the day of the treatment.
#[test]
fn passed_slots_of_a_daily_course_are_dropped() {
    let count = |leaves: &str| {
        plan(NEW_YORK, done(leaves), waking("07:00", "22:00"), &[course("a", 4, Dates(7))]).unwrap().doses.len()
    };
    // Slots: 07:00, 12:00, 17:00, 22:00.
    for (leaves, doses) in
        [("06:59", 28), ("07:00", 28), ("07:01", 27), ("12:00", 27), ("12:01", 26), ("22:00", 25), ("22:01", 24)]
    {
        assert_eq!(count(&format!("2026-08-07 {leaves}")), doses, "{leaves}");
    }
}

#[test]
fn six_a_day_for_someone_awake_from_seven_to_ten() {
    let plan =
        plan(NEW_YORK, done("2026-08-07 11:05"), waking("07:00", "22:00"), &[course("steroid", 6, Dates(7))]).unwrap();
    assert_eq!(times(&plan, "steroid", "2026-08-07"), ["13:00", "16:00", "19:00", "22:00"]);
    for day in date("2026-08-08").iter_days().take(6) {
        assert_eq!(times(&plan, "steroid", &day.to_string()), ["07:00", "10:00", "13:00", "16:00", "19:00", "22:00"]);
    }
    assert_eq!(plan.doses.len(), 40);
    let periods: Vec<_> = plan.doses[4..10].iter().map(|dose| dose.period).collect();
    let between = Period::Other;
    assert_eq!(periods, [Period::WakeUp, between, between, between, between, Period::Bedtime]);
    assert_eq!(plan.doses[4].identity(), "dose-1-20260808-1");
}

/// A solution before a suspension (convention, no label demands it), the greater of the label gaps between them.
#[test]
fn two_drugs_in_one_slot_keep_their_order_and_distance() {
    let suspension = Course { order: 1, ..course("a_suspension", 2, Dates(3)) };
    let solution = Course { gap_minutes: 10, ..course("b_solution", 2, Dates(3)) };
    let ointment = Course { order: 3, ..course("c_ointment", 1, Dates(3)) };
    let plan =
        plan(NEW_YORK, done("2026-08-06 23:00"), waking("07:00", "22:00"), &[suspension, ointment, solution]).unwrap();
    assert_eq!(times(&plan, "b_solution", "2026-08-07"), ["07:00", "21:30"]);
    assert_eq!(times(&plan, "a_suspension", "2026-08-07"), ["07:10", "21:40"]);
    assert_eq!(times(&plan, "c_ointment", "2026-08-07"), ["07:15"]);
}

/// The last drop of a day may fall on the next date and still belongs to its day.
#[test]
fn a_late_sleeper_has_late_drops() {
    let plan = plan(NEW_YORK, done("2026-08-07 08:00"), waking("09:00", "01:00"), &[course("a", 2, Dates(2))]).unwrap();
    let at: Vec<_> = plan.doses.iter().map(|dose| (dose.day, dose.at, dose.period)).collect();
    let expected = [
        ("2026-08-07", "2026-08-07 09:00", Period::GetUp),
        ("2026-08-07", "2026-08-08 01:00", Period::BeforeSleep),
        ("2026-08-08", "2026-08-08 09:00", Period::GetUp),
        ("2026-08-08", "2026-08-09 01:00", Period::BeforeSleep),
    ];
    assert_eq!(at, expected.map(|(day, at, period)| (date(day), local(at), period)));
    assert_eq!(plan.uses[0].last, date("2026-08-08"));
}

/// 4, 3, 2 and 1 a day for a week each are 70 drops (arithmetic). Parts of the day after the universal medication
/// schedule (Arch Intern Med 2011; 16 CCR 1707.5, from memory); steps follow without gap or overlap.
#[test]
fn a_taper_steps_down_by_parts_of_the_day() {
    let steps = [4, 3, 2, 1].map(|per_day| step(per_day, Dates(7)));
    let taper = Course { steps: steps.into(), ..course("steroid", 4, Dates(7)) };
    let plan = plan(NEW_YORK, done("2026-08-07 06:00"), waking("07:00", "22:00"), &[taper]).unwrap();
    assert_eq!(plan.doses.len(), 70);
    for (day, at) in [
        ("2026-08-07", &["07:00", "12:00", "17:00", "22:00"][..]),
        ("2026-08-13", &["07:00", "12:00", "17:00", "22:00"]),
        ("2026-08-14", &["07:00", "12:00", "17:00"]),
        ("2026-08-21", &["07:00", "22:00"]),
        ("2026-08-28", &["07:00"]),
        ("2026-09-03", &["07:00"]),
    ] {
        assert_eq!(times(&plan, "steroid", day), at, "{day}");
    }
    let steps: Vec<_> = plan.uses[0].steps.iter().map(|step| (step.first, step.last, step.doses)).collect();
    let expected = [
        ("2026-08-07", "2026-08-13", 28),
        ("2026-08-14", "2026-08-20", 21),
        ("2026-08-21", "2026-08-27", 14),
        ("2026-08-28", "2026-09-03", 7),
    ];
    assert_eq!(steps, expected.map(|(first, last, doses)| (date(first), date(last), doses)));
}

/// Every second date through a leap day: 14 dates from 20 February 2028 hold 7 doses; the last is on 3 March
/// (calculated).
#[test]
fn alternate_days_leave_dates_out() {
    let rule = DropStep { every_days: 2, ..step(1, Dates(14)) };
    let alternate = Course { steps: vec![rule, step(1, Dates(2))], ..course("a", 1, Dates(1)) };
    let plan = plan(NEW_YORK, done("2028-02-20 06:00"), waking("07:00", "22:00"), &[alternate]).unwrap();
    let days: Vec<_> = plan.doses.iter().map(|dose| dose.day.format("%m-%d").to_string()).collect();
    assert_eq!(days, ["02-20", "02-22", "02-24", "02-26", "02-28", "03-01", "03-03", "03-05", "03-06"]);
}

/// A course that begins two days before the treatment at 10:00 on Friday 7 August 2026: until the session it is used at
/// home, after it again; what lies between is dropped. Once the treatment is done the days before are history.
#[test]
fn a_course_can_begin_before_the_treatment() {
    let early = Course { starts: -2, ..course("drop", 4, Dates(4)) };
    let planned = Anchors::planned(local("2026-08-07 10:00"), &profile(NEW_YORK));
    let before = plan(NEW_YORK, planned, waking("07:00", "22:00"), std::slice::from_ref(&early)).unwrap();
    let first = before.doses[0].at;
    assert_eq!((first, before.doses.len()), (local("2026-08-05 07:00"), 16));
    assert_eq!(times(&before, "drop", "2026-08-07"), ["07:00", "12:00", "17:00", "22:00"]);
    let after = plan(NEW_YORK, done("2026-08-07 12:01"), waking("07:00", "22:00"), &[early]).unwrap();
    let at: Vec<_> = after.doses.iter().map(|dose| dose.at.format("%d %H:%M").to_string()).collect();
    assert_eq!(at, ["07 17:00", "07 22:00", "08 07:00", "08 12:00", "08 17:00", "08 22:00"]);
    let over = Course { starts: -5, ..course("over", 1, Dates(3)) };
    assert_eq!(plan(NEW_YORK, done("2026-08-07 12:01"), waking("07:00", "22:00"), &[over]).unwrap().uses, []);
}

/// The treatment begins at noon: the drop of noon is none before it, and passes with it.
#[test]
fn a_drop_due_when_the_treatment_begins_is_not_before_it() {
    let early = Course { starts: -1, ..course("drop", 4, Dates(2)) };
    let on_the_day = |starts: &str| {
        let planned = Anchors::planned(local(starts), &profile(NEW_YORK));
        let plan = plan(NEW_YORK, planned, waking("07:00", "22:00"), std::slice::from_ref(&early)).unwrap();
        times(&plan, "drop", "2026-08-07")
    };
    assert_eq!(on_the_day("2026-08-07 12:01"), ["07:00", "12:00", "17:00", "22:00"]);
    assert_eq!(on_the_day("2026-08-07 12:00"), ["07:00", "17:00", "22:00"]);
}

/// A count of doses rests after a clinic dose as long as its label says, past the morning too; a daily course does not.
#[test]
fn a_count_rests_past_the_next_morning() {
    let first_home = |length| {
        let rests =
            Course { min_same_drug_minutes: 900, recorded: vec![local("2026-08-07 18:00")], ..course("a", 2, length) };
        let plan = plan(NEW_YORK, done("2026-08-07 18:10"), waking("07:00", "22:00"), &[rests]).unwrap();
        plan.doses[1].at
    };
    assert_eq!(first_home(Doses(3)), local("2026-08-08 22:00"));
    assert_eq!(first_home(Dates(3)), local("2026-08-08 07:00"));
}

/// A course takes under 400 days (our own limit, no source), whatever its length is counted in.
#[test]
fn a_course_has_a_longest_length() {
    let fits = |steps: Vec<DropStep>| {
        let courses = [Course { steps, ..course("a", 1, Dates(1)) }];
        match plan(NEW_YORK, done("2026-08-07 06:00"), waking("07:00", "22:00"), &courses) {
            Ok(_) => true,
            Err(PlanError::CourseLength { .. }) => false,
            Err(other) => panic!("{other}"),
        }
    };
    let every = |every_days, step: DropStep| vec![DropStep { every_days, ..step }];
    for (steps, expected) in [
        (vec![step(1, Dates(399))], true),
        (vec![step(1, Dates(400))], false),
        (vec![step(1, Dates(200)), step(1, GoesOn(199))], true),
        (vec![step(1, Dates(200)), step(1, GoesOn(200))], false),
        (vec![step(2, Doses(798))], true),
        (vec![step(2, Doses(799))], false),
        (every(7, step(1, Doses(57))), true),
        (every(7, step(1, Doses(58))), false),
        (every(0, step(1, Dates(3))), false),
    ] {
        assert_eq!(fits(steps.clone()), expected, "{steps:?}");
    }
}

#[test]
fn a_course_can_begin_later_at_bedtime_and_go_on() {
    let rule = DropStep { at: Some(DayPart::Bedtime), ..step(1, GoesOn(10)) };
    let late = Course { starts: 3, steps: vec![rule], ..course("a", 1, Dates(1)) };
    let plan = plan(NEW_YORK, done("2026-08-07 12:00"), waking("07:00", "22:00"), &[late]).unwrap();
    assert_eq!((plan.doses.len(), plan.doses[0].at), (10, local("2026-08-10 22:00")));
    assert!(plan.uses[0].goes_on && plan.uses[0].last == date("2026-08-19"));
}

#[test]
fn a_drug_as_needed_has_a_limit_and_no_times() {
    let needed = Course { as_needed: true, ..course("tears", 4, Dates(14)) };
    let plan = plan(NEW_YORK, done("2026-08-07 12:00"), waking("07:00", "22:00"), &[needed]).unwrap();
    assert!(plan.doses.is_empty());
    let limit = plan.uses[0].as_needed.unwrap();
    assert_eq!((limit.per_day, limit.doses, plan.uses[0].last), (4, None, date("2026-08-20")));
}

/// Nobody is woken unless the regimen says so.
#[test]
fn doses_at_night_are_spread_over_day_and_night() {
    let night = Course { at_night: true, ..course("a", 6, Dates(2)) };
    let plan = plan(NEW_YORK, done("2026-08-07 06:00"), waking("07:00", "22:00"), &[night]).unwrap();
    let at: Vec<_> = plan.doses.iter().map(|dose| dose.at.format("%d %H:%M").to_string()).collect();
    let expected = ["07 07:00", "07 11:00", "07 15:00", "07 19:00", "07 23:00", "08 03:00"];
    assert_eq!(at[..6], expected);
    assert_eq!(plan.doses[5].period, Period::Night);
}

/// A fixed count that moves on and then a step by dates: the second begins the day after the last of the first.
#[test]
fn a_step_follows_a_count() {
    let both = Course { steps: vec![step(2, Doses(5)), step(1, Dates(2))], ..course("a", 1, Dates(1)) };
    let plan = plan(NEW_YORK, done("2026-08-07 12:00"), waking("07:00", "22:00"), &[both]).unwrap();
    let at: Vec<_> = plan.doses.iter().map(|dose| dose.at.format("%d %H:%M").to_string()).collect();
    let expected = ["07 22:00", "08 07:00", "08 22:00", "09 07:00", "09 22:00", "10 07:00", "11 07:00"];
    assert_eq!(at, expected);
}

fn two_doses(recorded: &[&str]) -> Course {
    Course {
        first_in_clinic: true,
        recorded: recorded.iter().map(|at| local(at)).collect(),
        ..course("pressure", 2, Doses(2))
    }
}

fn places(anchors: Anchors, course: Course) -> Vec<(NaiveDateTime, DosePlace)> {
    let plan = plan(NEW_YORK, anchors, waking("07:00", "22:00"), &[course]).unwrap();
    plan.doses.iter().map(|dose| (dose.at, dose.place)).collect()
}

#[test]
fn a_fixed_count_includes_the_clinic_and_moves_on() {
    let at = |text, place| (local(text), place);
    // Recorded: it counts and prints as given.
    assert_eq!(
        places(done("2026-08-07 11:00"), two_doses(&["2026-08-07 10:50"])),
        [at("2026-08-07 10:50", DosePlace::ClinicGiven), at("2026-08-07 22:00", DosePlace::Home)]
    );
    // Four hours after the clinic dose are after the last slot (common practice, no source).
    assert_eq!(
        places(done("2026-08-07 18:10"), two_doses(&["2026-08-07 18:01"])),
        [at("2026-08-07 18:01", DosePlace::ClinicGiven), at("2026-08-08 07:00", DosePlace::Home)]
    );
    // Not recorded: nothing is assumed.
    assert_eq!(
        places(done("2026-08-07 11:00"), two_doses(&[])),
        [at("2026-08-07 22:00", DosePlace::Home), at("2026-08-08 07:00", DosePlace::Home)]
    );
    // Planned: the first is expected at the last pulse, 30 minutes after the start.
    let planned = Anchors::planned(local("2026-08-07 10:00"), &profile(NEW_YORK));
    assert_eq!(
        places(planned, two_doses(&["2026-08-07 10:50"])),
        [at("2026-08-07 10:30", DosePlace::ClinicPlanned), at("2026-08-07 22:00", DosePlace::Home)]
    );
    // All given: none is left, and none is taken back.
    assert_eq!(
        places(done("2026-08-07 12:00"), two_doses(&["2026-08-07 10:50", "2026-08-07 11:00", "2026-08-07 11:10"]))
            .len(),
        3
    );
}

#[test]
fn a_clinic_dose_keeps_other_drugs_away_and_stands_for_the_nearest_slot() {
    let given = Course { gap_minutes: 10, ..two_doses(&["2026-08-07 12:57"]) };
    let plan_of =
        |courses: &[Course]| plan(NEW_YORK, done("2026-08-07 12:58"), waking("07:00", "22:00"), courses).unwrap();
    // 13:00 is 3 minutes after the clinic dose; 10 are needed; 13:07 rounds up.
    let plan = plan_of(&[given, course("steroid", 6, Dates(2))]);
    assert_eq!(times(&plan, "steroid", "2026-08-07")[0], "13:10");
    // A dose of the steroid itself at 12:57 stands for the one at 13:00.
    let steroid = Course { recorded: vec![local("2026-08-07 12:57")], ..course("steroid", 6, Dates(2)) };
    assert_eq!(times(&plan_of(&[steroid]), "steroid", "2026-08-07"), ["12:57", "16:00", "19:00", "22:00"]);
}

/// A clinic dose late on the day of the treatment takes no dose from the next day (found by the laws).
#[test]
fn the_day_after_the_treatment_is_a_full_day() {
    let late =
        Course { min_same_drug_minutes: 360, recorded: vec![local("2024-01-01 22:31")], ..course("a", 1, Dates(2)) };
    let plan = plan(NEW_YORK, done("2024-01-01 22:31"), waking("03:10", "16:11"), &[late]).unwrap();
    assert_eq!(times(&plan, "a", "2024-01-02"), ["03:30"]);
}

#[test]
fn what_cannot_be_kept_is_an_error() {
    let leaves = done("2026-08-07 12:00");
    let error = |waking, courses: &[Course]| plan(NEW_YORK, leaves, waking, courses).unwrap_err();
    let long = waking("07:00", "22:00");
    assert!(matches!(error(waking("07:00", "07:00"), &[]), PlanError::NoNight { .. }));
    assert!(matches!(error(waking("07:00", "08:00"), &[course("a", 6, Dates(2))]), PlanError::DayTooShort { .. }));
    let crowd: Vec<_> = ["a", "b", "c", "d"].map(|drug| course(drug, 1, Dates(2))).into();
    assert!(matches!(error(waking("07:00", "07:14"), &crowd), PlanError::DayTooFull { .. }));
    // Room only before the patient leaves: 4 drops, 15 minutes apart, from 11:41 to 12:20.
    let hour = ["a", "b"].map(|drug| Course { gap_minutes: 15, ..course(drug, 4, Dates(1)) });
    assert!(matches!(
        plan(NEW_YORK, done("2026-08-07 11:41"), waking("11:15", "12:20"), &hour),
        Err(PlanError::DayTooFull { .. })
    ));
    assert!(matches!(error(long, &[course("a", 1, Dates(1))]), PlanError::NothingLeft { .. }));
    assert!(matches!(error(long, &[course("a", 1, Dates(0))]), PlanError::CourseLength { .. }));
    assert!(matches!(error(long, &[course("a", 1, Doses(u32::MAX))]), PlanError::CourseLength { .. }));
    assert!(matches!(error(long, &[course("a", 0, Dates(3))]), PlanError::CourseLength { .. }));
    let endless = Course { steps: vec![step(1, GoesOn(3)), step(1, Dates(3))], ..course("a", 1, Dates(1)) };
    assert!(matches!(error(long, &[endless]), PlanError::NotLast { .. }));
    assert!(matches!(
        error(long, &[Course { steps: vec![], ..course("a", 1, Dates(1)) }]),
        PlanError::CourseLength { .. }
    ));
    assert!(matches!(error(long, &[course("a", 1, Dates(3)), course("a", 2, Dates(3))]), PlanError::DrugTwice { .. }));
}

/// Visits of the test practice after Wednesday 25 November 2026: the week is a Wednesday; 28 days later is 23 December.
#[test]
fn visits_move_to_open_days_and_merge() {
    let mut profile = profile(NEW_YORK);
    let visits = |profile: &Profile, leaves: &str, pressure_risk| {
        let waking = waking("07:00", "22:00");
        let request = Request {
            profile,
            anchors: done(leaves),
            waking,
            courses: &[],
            in_use: &[],
            pressure_risk,
            recheck: None,
            booked: &[],
            event_visit_days: None,
        };
        schedule(&request).unwrap().visits
    };
    let found = visits(&profile, "2026-11-25 11:00", false);
    let brief: Vec<_> =
        found.iter().map(|visit| (visit.ids.join("+"), visit.date, visit.at, visit.if_raised)).collect();
    assert_eq!(
        brief,
        [
            ("next_day".into(), date("2026-11-26"), Some(clock("09:00")), true),
            ("week".into(), date("2026-12-02"), None, false),
            // 06:30 is before opening.
            ("month".into(), date("2026-12-23"), Some(clock("08:00")), false),
        ]
    );
    assert!(!visits(&profile, "2026-11-25 11:00", true)[0].if_raised);
    // From Wednesday 23 December: the next day, closed until Monday 28; then 30 December.
    let found = visits(&profile, "2026-12-23 11:00", false);
    assert_eq!((found[0].wanted, found[0].date, found[0].delayed()), (date("2026-12-24"), date("2026-12-28"), true));
    // Closed through the week: one visit, definite because one of its rules is, at the time one of them names.
    profile.closed_days = date("2026-11-26").iter_days().take(7).map(vitreoleaf::record::date::Date).collect();
    let found = visits(&profile, "2026-11-25 11:00", false);
    assert_eq!(found[0].ids, ["next_day", "week"]);
    assert_eq!((found[0].date, found[0].at, found[0].if_raised), (date("2026-12-03"), Some(clock("09:00")), false));
    assert_eq!(found.len(), 2);
}
