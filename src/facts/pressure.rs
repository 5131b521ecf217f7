//! Facts of the pressure: the eye at risk, and the recheck on the same day.

use super::hours;
use super::recheck::{self, Recheck};
use super::{Definition, Kind, Source, Value, choice, energy, fact, number, yes_no};
use crate::record::eye::Lens;
use crate::record::known::{Answer, Known};
use crate::record::profile::VisitFor;

pub(super) const FACTS: &[Definition] = &[
    fact("pressure_mmhg", Kind::Number("mmHg", 1), "Pressure before treatment.", |s| {
        number(s.record.eye.pressure_mmhg.value())
    }),
    fact(
        "pressure",
        Kind::Choice(&["at_limit", "below_limit", "unknown"]),
        "Pressure before treatment against the practice's limit.",
        |s| {
            choice(match s.record.eye.pressure_mmhg {
                Known::Value(mmhg) if mmhg >= s.profile.thresholds.pressure_limit_mmhg => "at_limit",
                Known::Value(_) => "below_limit",
                Known::Unknown => "unknown",
            })
        },
    ),
    fact(
        "pressure_risk",
        super::YES_NO,
        "Glaucoma, ocular hypertension, steroid response, no lens, an earlier spike, pressure at the limit, or any of them not recorded.",
        |s| yes_no(at_risk(s)),
    ),
    fact("pressure_before_mmhg", Kind::Number("mmHg", 1), "Pressure right before the laser.", |s| {
        number(s.treatment().and_then(|done| done.pressure_before_mmhg.value()))
    }),
    fact("pressure_after_mmhg", Kind::Number("mmHg", 1), "Pressure after the laser.", |s| {
        number(s.treatment().and_then(|done| done.pressure_after_mmhg.value()))
    }),
    fact(
        "pressure_today",
        Kind::Choice(&["at_limit", "below_limit", "unknown", "not_applicable"]),
        "Pressures measured on the day of the laser, before and after it, against the practice's limit.",
        |s| choice(today(s)),
    ),
    fact(
        "recheck_need",
        Kind::Choice(&["needed", "if_energy", "not_needed"]),
        "Same-day recheck of the pressure; before treatment of an eye not at risk it hangs on the energy.",
        |s| choice(need(s)),
    ),
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
    ),
    fact("recheck_at", Kind::Time, "Time of the recheck.", |s| match need(s) {
        "not_needed" => Value::Absent,
        _ => recheck::place(s.profile, s.last_pulse()).at().map_or(Value::Absent, Value::Time),
    }),
    fact(
        "next_day_visit",
        Kind::Choice(&["on_time", "delayed", "none"]),
        "The visit on the next day: a closed day delays it.",
        |s| choice(next_day_visit(s)),
    ),
];

/// Any sign that the pressure may rise, or any of them not recorded; on the day also what was measured.
fn at_risk(source: &Source) -> bool {
    let history = &source.record.history;
    let signs = [history.glaucoma, history.ocular_hypertension, history.steroid_response, history.pressure_spike];
    let limit = source.profile.thresholds.pressure_limit_mmhg;
    let at_limit = |mmhg: Option<f64>| mmhg.is_some_and(|mmhg| mmhg >= limit);
    let today = source
        .treatment()
        .is_some_and(|done| at_limit(done.pressure_before_mmhg.value()) || at_limit(done.pressure_after_mmhg.value()));
    today
        || signs.iter().any(|sign| *sign != Answer::No)
        || matches!(source.record.eye.lens, Lens::None | Lens::Unknown)
        || source.record.eye.pressure_mmhg.value().is_none_or(|mmhg| mmhg >= limit)
}

/// The higher of the pressures measured on the day against the limit.
fn today(source: &Source) -> &'static str {
    let Some(done) = source.treatment() else { return "not_applicable" };
    let limit = source.profile.thresholds.pressure_limit_mmhg;
    match (done.pressure_before_mmhg.value(), done.pressure_after_mmhg.value()) {
        (Some(before), _) if before >= limit => "at_limit",
        (_, Some(after)) if after >= limit => "at_limit",
        (_, None) => "unknown",
        (_, Some(_)) => "below_limit",
    }
}

fn need(source: &Source) -> &'static str {
    let threshold = source.profile.thresholds.recheck_energy_mj;
    match source.treatment() {
        _ if at_risk(source) => "needed",
        None => "if_energy",
        Some(done) if energy::session_mj(done) >= threshold => "needed",
        Some(_) => "not_needed",
    }
}

fn next_day_visit(source: &Source) -> &'static str {
    let next_day =
        |rule: &&crate::record::profile::VisitRule| rule.applies == VisitFor::PressureRisk && rule.after_days == 1;
    match source.profile.visits.iter().find(next_day) {
        Some(rule) if at_risk(source) => {
            let wanted = source.treatment_date().succ_opt();
            if let Some(booked) = source.record.plan.visits.iter().find(|booked| booked.visit == rule.id) {
                return if Some(booked.at.0.date()) == wanted { "on_time" } else { "delayed" };
            }
            let open = wanted.and_then(|day| hours::next_open_day(source.profile, day).ok());
            if open == wanted { "on_time" } else { "delayed" }
        }
        _ => "none",
    }
}
