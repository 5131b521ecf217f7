//! Opening hours, and the same-day recheck of the pressure.

use chrono::NaiveTime;
use vitreoleaf::facts::hours;
use vitreoleaf::facts::recheck::{Recheck, place};
use vitreoleaf::record::date::{Clock, Date};
use vitreoleaf::record::profile::{Hours, OutOfHours};

use std::collections::BTreeMap;

use super::*;

fn somewhere() -> Option<OutOfHours> {
    Some(OutOfHours {
        name: "Example Hospital".into(),
        name_in: BTreeMap::new(),
        address_in: BTreeMap::new(),
        address: vec!["2 Example Street".into()],
    })
}

/// 7 August 2026 is a Friday (calculated, Python's datetime).
#[test]
fn the_practice_is_open_until_the_last_time_a_patient_is_seen() {
    let profile = profile(Tz::America__New_York);
    for (at, open) in [
        ("2026-08-07 07:59", false),
        ("2026-08-07 08:00", true),
        ("2026-08-07 17:00", true),
        ("2026-08-07 17:01", false),
        ("2026-08-08 12:00", true),
        ("2026-08-08 12:01", false),
        ("2026-08-09 10:00", false),
        ("2026-12-24 10:00", false),
    ] {
        assert_eq!(hours::is_open(&profile, local(at)), open, "{at}");
    }
    assert_eq!(hours::closes(&profile, date("2026-08-08")), Some(local("2026-08-08 12:00")));
    assert_eq!(hours::closes(&profile, date("2026-08-09")), None);
}

#[test]
fn the_next_open_day_steps_over_closed_days_and_gives_up() {
    let mut profile = profile(Tz::Europe__Berlin);
    let next = |profile: &Profile, from| hours::next_open_day(profile, date(from));
    assert_eq!(next(&profile, "2026-08-08"), Ok(date("2026-08-08")));
    assert_eq!(next(&profile, "2026-08-09"), Ok(date("2026-08-10")));
    // Thursday 24 to Saturday 26 December are closed days, the 27th is a Sunday.
    assert_eq!(next(&profile, "2026-12-24"), Ok(date("2026-12-28")));
    profile.closed_days = date("2026-08-01").iter_days().take(61).map(Date).collect();
    assert!(next(&profile, "2026-08-01").is_err());
    assert_eq!(next(&profile, "2026-08-02"), Ok(date("2026-10-01")));
    profile.hours.clear();
    assert!(next(&profile, "2026-08-01").is_err());
}

/// Two hours, one at the earliest, never the next day (intervals: common practice, no source).
#[test]
fn the_recheck_is_at_the_practice_early_elsewhere_or_nowhere() {
    let mut profile = profile(Tz::America__New_York);
    let at = |profile: &Profile, last: &str| place(profile, local(last));
    assert_eq!(at(&profile, "2026-08-07 15:00"), Recheck::Clinic { at: local("2026-08-07 17:00") });
    assert_eq!(at(&profile, "2026-08-07 15:01"), Recheck::ClinicEarly { at: local("2026-08-07 17:00") });
    assert_eq!(at(&profile, "2026-08-07 16:00"), Recheck::ClinicEarly { at: local("2026-08-07 17:00") });
    assert_eq!(at(&profile, "2026-08-07 16:01"), Recheck::Nowhere);
    assert_eq!(at(&profile, "2026-08-09 10:00"), Recheck::Nowhere);
    profile.out_of_hours = somewhere();
    assert_eq!(at(&profile, "2026-08-07 16:01"), Recheck::OutOfHours { at: local("2026-08-07 18:01") });
    assert_eq!(at(&profile, "2026-08-09 10:00"), Recheck::OutOfHours { at: local("2026-08-09 12:00") });
    assert_eq!(at(&profile, "2026-08-07 05:00"), Recheck::OutOfHours { at: local("2026-08-07 07:00") });
    assert_eq!(at(&profile, "2026-08-07 22:30"), Recheck::Nowhere);
    assert_eq!(at(&profile, "2026-08-07 15:01").at(), Some(local("2026-08-07 17:00")));
    assert_eq!(at(&profile, "2026-08-07 22:30").at(), None);
}

/// The clocks of New York skip 02:00 to 03:00 on 8 March 2026 and repeat 01:00 to 02:00 on 1 November 2026 (IANA tz
/// through Python's zoneinfo; RFC 5545 reads a repeated time as the first).
#[test]
fn two_hours_are_two_hours_when_the_clocks_change() {
    let mut profile = profile(Tz::America__New_York);
    profile.out_of_hours = somewhere();
    assert_eq!(place(&profile, local("2026-03-08 01:00")), Recheck::OutOfHours { at: local("2026-03-08 04:00") });
    assert_eq!(place(&profile, local("2026-11-01 00:30")), Recheck::OutOfHours { at: local("2026-11-01 01:30") });
}

proptest! {
    #![proptest_config(quiet())]

    #[test]
    fn a_recheck_keeps_its_date_and_its_distance(
        (zone, day) in prop::sample::select(&ZONES[..]).prop_flat_map(|zone| (Just(zone), super::day(zone))),
        minute in 0..1440_i64,
        (opens, closes) in (0..1440_u32, 0..1440_u32),
        (earliest, after) in (15..180_u32, 30..480_u32),
        elsewhere: bool,
    ) {
        let mut profile = profile(zone);
        let time = |minute: u32| Clock(NaiveTime::from_hms_opt(minute / 60, minute % 60, 0).unwrap());
        let hours = Hours { opens: time(opens.min(closes)), closes: time(opens.max(closes)) };
        profile.hours.values_mut().for_each(|day| *day = hours);
        profile.out_of_hours = elsewhere.then(somewhere).flatten();
        let earliest = earliest.min(after);
        profile.thresholds.recheck_earliest_minutes = earliest;
        profile.thresholds.recheck_after_minutes = after;

        let last = read(zone, day.and_time(NaiveTime::MIN) + TimeDelta::minutes(minute));
        // The second of two equal wall times cannot be written in a record.
        prop_assume!(read(zone, last.naive_local()) == last);
        let elapsed = |minutes: u32| (last + TimeDelta::minutes(minutes.into())).naive_local();
        let found = place(&profile, last.naive_local());
        if let Some(at) = found.at() {
            prop_assert_eq!(at.date(), last.date_naive());
            prop_assert!(read(zone, at) >= last + TimeDelta::minutes(earliest.into()) || at == elapsed(after));
        }
        match found {
            Recheck::Clinic { at } => prop_assert!(at == elapsed(after) && hours::is_open(&profile, at)),
            Recheck::ClinicEarly { at } => prop_assert!(at < elapsed(after) && hours::is_open(&profile, at)),
            Recheck::OutOfHours { at } => prop_assert!(elsewhere && at == elapsed(after)),
            Recheck::Nowhere => prop_assert!(!elsewhere || elapsed(after).date() != last.date_naive()),
        }
        // Nobody is sent elsewhere while the practice could see them in time.
        if matches!(found, Recheck::OutOfHours { .. } | Recheck::Nowhere) {
            for minutes in earliest..=after {
                let at = elapsed(minutes);
                // A minute that comes twice is open twice, but can be written only once.
                let once = read(zone, at) == last + TimeDelta::minutes(minutes.into());
                prop_assert!(!(once && at.date() == last.date_naive() && at < elapsed(after) && hours::is_open(&profile, at)), "{at}");
            }
        }
    }
}
