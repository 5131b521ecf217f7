//! Facts of the pressure: the eye at risk, and the recheck on the same day.

use chrono::NaiveDateTime;

use super::hours;
use super::recheck::{self, Recheck};
use super::{DONE, Definition, Kind, Source, Value, WHEN, YES_NO, choice, energy, fact, number, yes_no};
use crate::record::course::Treatment;
use crate::record::eye::Lens;
use crate::record::known::{Answer, Known};
use crate::record::profile::{Profile, Thresholds};

/// What was measured on the day of the laser.
const MEASURED: &[&str] = &["/treatment/pressure_before_mmhg", "/treatment/pressure_after_mmhg", "/treatment/rechecks"];

/// What [`at_risk`] looks at.
const RISK: &[&str] = &[
    "/history/glaucoma",
    "/history/ocular_hypertension",
    "/history/steroid_response",
    "/history/pressure_spike",
    "/eye/lens",
    "/eye/pressure_mmhg",
    "/treatment/pressure_before_mmhg",
    "/treatment/pressure_after_mmhg",
    "/treatment/rechecks",
];

pub(super) const FACTS: &[Definition] = &[
    fact("pressure_mmhg", Kind::Number("mmHg", 1), "Pressure before treatment.", |s| {
        number(s.record.eye.pressure_mmhg.value())
    }).from(&["/eye/pressure_mmhg"]),
    fact(
        "pressure",
        Kind::Choice(&["too_high", "at_limit", "below_limit", "too_low", "unknown"]),
        "Pressure before treatment against the practice's three limits.",
        |s| {
            let limits = &s.profile.thresholds;
            choice(match s.record.eye.pressure_mmhg {
                Known::Value(mmhg) if mmhg >= limits.pressure_stop_mmhg => "too_high",
                Known::Value(mmhg) if mmhg >= limits.pressure_limit_mmhg => "at_limit",
                Known::Value(mmhg) if mmhg <= limits.pressure_low_mmhg => "too_low",
                Known::Value(_) => "below_limit",
                Known::Unknown => "unknown",
            })
        },
    ).from(&["/eye/pressure_mmhg"]),
    fact(
        "pressure_risk",
        YES_NO,
        "Glaucoma, ocular hypertension, steroid response, no lens, an earlier spike, pressure at the limit, or any of them not recorded.",
        |s| yes_no(at_risk(s)),
    ).from(RISK),
    fact("pressure_before_mmhg", Kind::Number("mmHg", 1), "Pressure right before the laser.", |s| {
        number(s.treatment().and_then(|done| done.pressure_before_mmhg.value()))
    }).from(&["/treatment/pressure_before_mmhg"]),
    fact("pressure_after_mmhg", Kind::Number("mmHg", 1), "Pressure after the laser.", |s| {
        number(s.treatment().and_then(|done| done.pressure_after_mmhg.value()))
    }).from(&["/treatment/pressure_after_mmhg"]),
    fact("pressure_recheck_mmhg", Kind::Number("mmHg", 1), "Pressure at the last recheck of the day.", |s| {
        number(s.treatment().and_then(|done| done.rechecks.last()).map(|recheck| recheck.pressure_mmhg))
    }).from(&["/treatment/rechecks"]),
    fact(
        "pressure_rise_mmhg",
        Kind::Number("mmHg", 1),
        "Largest rise of the day above the pressure right before the laser; below 0 it fell.",
        |s| number(readings(s.treatment(), s.profile).iter().filter_map(|reading| reading.rise_mmhg).reduce(f64::max)),
    ).from(MEASURED),
    fact("pressure_last_mmhg", Kind::Number("mmHg", 1), "Last pressure measured after the laser.", |s| {
        number(readings(s.treatment(), s.profile).last().map(|reading| reading.mmhg))
    }).from(MEASURED),
    fact("pressure_highest_mmhg", Kind::Number("mmHg", 1), "Highest pressure of the day, before the laser or after it.", |s| {
        number(of_the_day(s).into_iter().reduce(f64::max))
    }).from(MEASURED),
    fact("pressure_lowest_mmhg", Kind::Number("mmHg", 1), "Lowest pressure of the day, before the laser or after it.", |s| {
        number(of_the_day(s).into_iter().reduce(f64::min))
    }).from(MEASURED),
    fact("pressure_today_low", YES_NO, "A pressure of the day at which the practice asks what is wrong.", |s| {
        yes_no(of_the_day(s).into_iter().any(|mmhg| mmhg <= s.profile.thresholds.pressure_low_mmhg))
    }).from(MEASURED),
    fact(
        "pressure_measured",
        Kind::Choice(&["yes", "no", "not_applicable"]),
        "A pressure after the laser is recorded, right after it or at the recheck.",
        |s| choice(measured(s)),
    ).from(MEASURED).and(&["/treatment/rows"]),
    fact("pressure_stayed", YES_NO, "A pressure after the laser was one with which nobody leaves unseen.", |s| {
        yes_no(readings(s.treatment(), s.profile).iter().any(|reading| reading.level == Level::Stay))
    }).from(MEASURED),
    fact(
        "pressure_level",
        Kind::Choice(&["stay", "raised", "not_raised", "unknown", "not_applicable"]),
        "What the practice's limits make of the last pressure measured after the laser: nobody leaves unseen, raised or not; unknown without a pressure, or without one before the laser to tell a rise from.",
        |s| choice(level(s)),
    ).from(MEASURED),
    fact(
        "pressure_today",
        Kind::Choice(&["at_limit", "below_limit", "unknown", "not_applicable"]),
        "Pressures measured on the day of the laser, before it, after it and at the recheck, against the practice's limit.",
        |s| choice(today(s)),
    ).from(MEASURED).and(&["/treatment/rows"]),
    fact(
        "recheck_need",
        Kind::Choice(&["needed", "if_energy", "not_needed"]),
        "Same-day recheck of the pressure; before treatment of an eye not at risk it hangs on the energy.",
        |s| choice(need(s)),
    ).from(RISK).and(&["/treatment/rows"]),
    fact(
        "recheck_place",
        Kind::Choice(&["clinic", "clinic_early", "out_of_hours", "nowhere", "not_needed"]),
        "Where the recheck can be.",
        |s| {
            choice(match need(s) {
                "not_needed" => "not_needed",
                _ => match recheck::place(s.profile, s.last_pulse()) {
                    Recheck::Clinic { .. } => "clinic",
                    Recheck::ClinicEarly { .. } => "clinic_early",
                    Recheck::OutOfHours { .. } => "out_of_hours",
                    Recheck::Nowhere => "nowhere",
                },
            })
        },
    ).from(RISK).and(&["/treatment/rows", WHEN, DONE]),
    fact("recheck_at", Kind::Time, "Time of the recheck.", |s| match need(s) {
        "not_needed" => Value::Absent,
        _ => recheck::place(s.profile, s.last_pulse()).at().map_or(Value::Absent, Value::Time),
    }).from(RISK).and(&["/treatment/rows", WHEN, DONE]),
    fact(
        "next_day_visit",
        Kind::Choice(&["on_time", "delayed", "none"]),
        "The visit on the next day: a closed day delays it.",
        |s| choice(next_day_visit(s)),
    ).from(RISK).and(&["/plan/visits", WHEN, DONE]),
];

/// A pressure measured after the laser, and what the practice's limits make of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// When, if it was a recheck; right after the laser otherwise.
    pub recheck: Option<NaiveDateTime>,
    /// The pressure, mmHg.
    pub mmhg: f64,
    /// Above the pressure right before the laser, mmHg; none if that is not recorded.
    pub rise_mmhg: Option<f64>,
    /// What the limits make of it.
    pub level: Level,
}

/// What the practice's limits make of a pressure after the laser.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// Nobody leaves before the surgeon has seen them.
    Stay,
    /// Raised.
    Raised,
    /// Neither.
    NotRaised,
    /// Below the limits, but the rise is not known.
    Unknown,
}

impl Level {
    /// The word of the fact.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Stay => "stay",
            Self::Raised => "raised",
            Self::NotRaised => "not_raised",
            Self::Unknown => "unknown",
        }
    }
}

/// The pressures measured after the laser, in order of time.
#[must_use]
pub fn readings(done: Option<&Treatment>, profile: &Profile) -> Vec<Reading> {
    let before = done.and_then(|done| done.pressure_before_mmhg.value());
    let after = done.and_then(|done| done.pressure_after_mmhg.value()).map(|mmhg| (None, mmhg));
    let rechecks = done.into_iter().flat_map(|done| &done.rechecks);
    let rechecks = rechecks.map(|recheck| (Some(recheck.at.0), recheck.pressure_mmhg));
    let reading = |(recheck, mmhg): (Option<NaiveDateTime>, f64)| {
        let rise_mmhg = before.map(|before| rise(before, mmhg));
        Reading { recheck, mmhg, rise_mmhg, level: judge(mmhg, rise_mmhg, &profile.thresholds) }
    };
    after.into_iter().chain(rechecks).map(reading).collect()
}

/// To the thousandth: a difference of decimals must reach a limit that it reaches on paper.
fn rise(before: f64, mmhg: f64) -> f64 {
    ((mmhg - before) * 1000.0).round() / 1000.0
}

fn judge(mmhg: f64, rise_mmhg: Option<f64>, limits: &Thresholds) -> Level {
    let after = &limits.pressure_after;
    let rise = rise_mmhg.unwrap_or(0.0);
    if mmhg >= after.stay_mmhg || rise >= after.stay_rise_mmhg {
        Level::Stay
    } else if mmhg >= limits.pressure_limit_mmhg || rise >= after.raised_rise_mmhg {
        Level::Raised
    } else {
        rise_mmhg.map_or(Level::Unknown, |_| Level::NotRaised)
    }
}

fn level(source: &Source) -> &'static str {
    match (source.treatment(), readings(source.treatment(), source.profile).last()) {
        (None, _) => "not_applicable",
        (Some(_), None) => "unknown",
        (Some(_), Some(reading)) => reading.level.word(),
    }
}

/// Any sign that the pressure may rise, or any of them not recorded; on the day also what was measured.
fn at_risk(source: &Source) -> bool {
    let history = &source.record.history;
    let signs = [history.glaucoma, history.ocular_hypertension, history.steroid_response, history.pressure_spike];
    let limit = source.profile.thresholds.pressure_limit_mmhg;
    let raised = readings(source.treatment(), source.profile)
        .iter()
        .any(|reading| matches!(reading.level, Level::Stay | Level::Raised));
    raised
        || today(source) == "at_limit"
        || signs.iter().any(|sign| *sign != Answer::No)
        || matches!(source.record.eye.lens, Lens::None | Lens::Unknown)
        || source.record.eye.pressure_mmhg.value().is_none_or(|mmhg| mmhg >= limit)
}

/// What was measured on the day, before the laser, after it and at the recheck.
fn of_the_day(source: &Source) -> Vec<f64> {
    let before = source.treatment().and_then(|done| done.pressure_before_mmhg.value());
    let after = readings(source.treatment(), source.profile).into_iter().map(|reading| reading.mmhg);
    before.into_iter().chain(after).collect()
}

/// The highest of the pressures measured on the day against the limit.
fn today(source: &Source) -> &'static str {
    let limit = source.profile.thresholds.pressure_limit_mmhg;
    match measured(source) {
        // Also where the laser was stopped before its first pulse.
        _ if of_the_day(source).into_iter().any(|mmhg| mmhg >= limit) => "at_limit",
        "not_applicable" => "not_applicable",
        "no" => "unknown",
        _ => "below_limit",
    }
}

fn measured(source: &Source) -> &'static str {
    match source.treatment() {
        None => "not_applicable",
        // Without a pulse there is none after the laser.
        Some(done)
            if done.rows.is_empty() && done.rechecks.is_empty() && done.pressure_after_mmhg.value().is_none() =>
        {
            "not_applicable"
        }
        Some(done) if readings(Some(done), source.profile).is_empty() => "no",
        Some(_) => "yes",
    }
}

fn need(source: &Source) -> &'static str {
    let threshold = source.profile.thresholds.recheck_energy_mj;
    match source.treatment() {
        _ if at_risk(source) => "needed",
        None => "if_energy",
        // What was not measured is not fine.
        Some(_) if measured(source) == "no" => "needed",
        Some(done) if energy::session_mj(done) >= threshold => "needed",
        Some(_) => "not_needed",
    }
}

/// An eye at risk is seen with whoever is seen on the next day; of several visits of that day the earliest counts.
fn next_day_visit(source: &Source) -> &'static str {
    let wanted = source.treatment_date().succ_opt();
    let open = wanted.and_then(|day| hours::next_open_day(source.profile, day).ok());
    let bookings = &source.record.plan.visits;
    let booked = |id: &str| bookings.iter().find(|booked| booked.visit == id).map(|booked| booked.at.0.date());
    let rules = source.profile.visits.iter().filter(|rule| rule.after_days == 1);
    match rules.map(|rule| booked(&rule.id).or(open)).min() {
        Some(day) if at_risk(source) && day == wanted => "on_time",
        Some(_) if at_risk(source) => "delayed",
        _ => "none",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diag::SourceFile;
    use crate::record::load;
    use crate::record::profile::PressureAfter;

    /// Limits of the demo: raised from 21 mmHg or a rise of 5; nobody leaves from 30 mmHg or a rise of 10 (common
    /// practice, no source).
    #[test]
    fn a_pressure_is_judged_by_itself_and_by_its_rise() {
        let text = include_str!("../../tests/invalid/valid_profile.toml").to_owned();
        let file = SourceFile { name: "profile.toml".into(), text };
        let mut limits = load::load::<Profile>(&file).expect("a valid profile").value.thresholds;
        limits.pressure_limit_mmhg = 21.0;
        limits.pressure_after = PressureAfter { raised_rise_mmhg: 5.0, stay_mmhg: 30.0, stay_rise_mmhg: 10.0 };
        for (before, mmhg, level) in [
            (Some(15.0), 19.9, Level::NotRaised),
            (Some(15.0), 20.0, Level::Raised),
            (Some(20.0), 20.9, Level::NotRaised),
            (Some(20.0), 21.0, Level::Raised),
            (Some(12.0), 21.9, Level::Raised),
            (Some(12.0), 22.0, Level::Stay),
            (Some(28.0), 29.9, Level::Raised),
            (Some(28.0), 30.0, Level::Stay),
            (Some(15.0), 9.0, Level::NotRaised),
            (None, 20.9, Level::Unknown),
            (None, 21.0, Level::Raised),
            (None, 30.0, Level::Stay),
        ] {
            assert_eq!(judge(mmhg, before.map(|before| mmhg - before), &limits), level, "{before:?} {mmhg}");
        }
    }
}
