//! Facts of energy and of the treatment as done.

use super::{DONE, Definition, Kind, Source, Value, WHEN, choice, fact, number};
use crate::record::course::{PulseRow, Treatment};
use crate::record::known::Known;

const ROWS: &str = "/treatment/rows";

pub(super) const FACTS: &[Definition] = &[
    fact("pulse_lowest_mj", Kind::Number("mJ", 2), "Lowest planned energy of a pulse.", |s| {
        number(s.record.plan.pulse_energy_mj.value().map(|range| range.lowest))
    })
    .from(&["/plan/pulse_energy_mj"]),
    fact("pulse_highest_mj", Kind::Number("mJ", 2), "Highest planned energy of a pulse.", |s| {
        number(s.record.plan.pulse_energy_mj.value().map(|range| range.highest))
    })
    .from(&["/plan/pulse_energy_mj"]),
    fact(
        "pulse_energy",
        Kind::Choice(&["low", "usual", "high", "low_to_high", "unknown"]),
        "Planned energy of a pulse against the practice's two limits.",
        |s| {
            let limits = &s.profile.thresholds;
            let Known::Value(range) = s.record.plan.pulse_energy_mj else {
                return choice("unknown");
            };
            choice(match (range.lowest < limits.low_pulse_mj, range.highest > limits.high_pulse_mj) {
                (true, true) => "low_to_high",
                (true, false) => "low",
                (false, true) => "high",
                (false, false) => "usual",
            })
        },
    )
    .from(&["/plan/pulse_energy_mj"]),
    fact("treated_on", Kind::Date, "Date of the last pulse, once the treatment is done.", |s| {
        s.treatment().map_or(Value::Absent, |done| Value::Date(done.ended().0.date()))
    })
    .from(&[super::DONE]),
    fact(
        "stopped",
        Kind::Choice(&["no", "before_pulses", "after_pulses"]),
        "Whether the treatment was stopped before it was done, before its first pulse or after some.",
        |s| choice(stopped(s)),
    )
    .from(&["/treatment/stopped", ROWS]),
    fact("session_pulses", Kind::Number("pulses", 0), "Single pulses of this session.", |s| {
        number(s.treatment().map(|done| done.rows.iter().map(|row| f64::from(row.pulses)).sum()))
    })
    .from(&[ROWS]),
    fact("row_energies_mj", Kind::Number("mJ", 1), "Energy of each row of pulses, in the order of the record.", |s| {
        s.treatment().map_or(Value::Absent, |done| Value::Numbers(done.rows.iter().map(row_mj).collect()))
    })
    .from(&[ROWS]),
    fact("session_energy_mj", Kind::Number("mJ", 1), "Energy of this session in all.", |s| {
        number(s.treatment().map(session_mj))
    })
    .from(&[ROWS]),
    fact("earlier_sessions", Kind::Number("sessions", 0), "Earlier sessions on this eye.", |s| {
        Value::Number(s.record.earlier_sessions.len() as f64)
    })
    .from(&["/earlier_sessions"]),
    fact(
        "earlier_energy",
        Kind::Choice(&["known", "unknown", "none"]),
        "Whether the energy of every earlier session on this eye is recorded; none where there was no such session.",
        |s| {
            let sessions = &s.record.earlier_sessions;
            let known = sessions.iter().all(|session| session.energy_mj != Known::Unknown);
            choice(if sessions.is_empty() { "none" } else if known { "known" } else { "unknown" })
        },
    )
    .from(&["/earlier_sessions"]),
    fact("earlier_energy_mj", Kind::Number("mJ", 1), "Energy of the earlier sessions on this eye; absent while one is not recorded.", |s| {
        let energies = s.record.earlier_sessions.iter().map(|session| session.energy_mj.value());
        number(energies.sum::<Option<f64>>().filter(|_| !s.record.earlier_sessions.is_empty()))
    })
    .from(&["/earlier_sessions"]),
    fact("earlier_results", Kind::List, "What earlier sessions on this eye brought, in the words of the record.", |s| {
        let results = s.record.earlier_sessions.iter().filter_map(|session| session.result.as_ref());
        Value::List(results.cloned().collect())
    })
    .from(&["/earlier_sessions"])
    .private(),
    fact("last_session_on", Kind::Date, "Date of the last earlier session on this eye.", |s| {
        let last = s.record.earlier_sessions.iter().map(|session| session.date.0).max();
        last.map_or(Value::Absent, Value::Date)
    })
    .from(&["/earlier_sessions"]),
    fact(
        "eye_energy_mj",
        Kind::Number("mJ", 1),
        "Energy this eye has had in all sessions; absent while one is not recorded or this one not done.",
        |s| number(eye_mj(s)),
    )
    .from(&[ROWS, "/earlier_sessions"]),
    fact(
        "session_gap",
        Kind::Choice(&["short", "long_enough", "none"]),
        "Time from the last earlier session on this eye against the practice's limit.",
        |s| {
            let limit = i64::from(s.profile.thresholds.session_wait_weeks) * 7;
            choice(match days_since_session(s) {
                None => "none",
                Some(days) if days < limit => "short",
                Some(_) => "long_enough",
            })
        },
    )
    .from(&["/earlier_sessions", WHEN, DONE]),
    fact("session_gap_days", Kind::Number("days", 0), "From the last earlier session on this eye.", |s| {
        number(days_since_session(s).map(|days| days as f64))
    })
    .from(&["/earlier_sessions", WHEN, DONE]),
    fact(
        "session_energy",
        Kind::Choice(&["above_usual", "usual", "not_applicable"]),
        "Energy of this session against what is usual at the practice.",
        |s| {
            let usual = s.profile.thresholds.usual_session_mj;
            s.treatment().map_or(choice("not_applicable"), |done| {
                choice(if session_mj(done) > usual { "above_usual" } else { "usual" })
            })
        },
    )
    .from(&[ROWS]),
    fact(
        "eye_energy",
        Kind::Choice(&["above_usual", "usual", "unknown"]),
        "Energy of this eye so far in all sessions against what is usual at the practice; unknown if one is not recorded.",
        |s| choice(eye_energy(s)),
    )
    .from(&[ROWS, "/earlier_sessions"]),
    fact("known_energy_mj", Kind::Number("mJ", 1), "Energy of this eye so far in all sessions that are recorded.", |s| {
        number(Some(known_mj(s)))
    })
    .from(&[ROWS, "/earlier_sessions"]),
    fact(
        "pulse_delivered",
        Kind::Choice(&["above_plan", "within_plan", "unknown", "not_applicable"]),
        "The highest pulse of this session against the planned range.",
        |s| {
            choice(match (highest_mj(s), s.record.plan.pulse_energy_mj) {
                (None, _) => "not_applicable",
                (Some(_), Known::Unknown) => "unknown",
                (Some(mj), Known::Value(range)) if mj > range.highest => "above_plan",
                (Some(_), Known::Value(_)) => "within_plan",
            })
        },
    )
    .from(&[ROWS, "/plan/pulse_energy_mj"]),
    fact("pulse_delivered_mj", Kind::Number("mJ", 2), "Energy of the highest pulse of this session.", |s| {
        number(highest_mj(s))
    })
    .from(&[ROWS]),
];

/// Energy of one row, mJ.
#[must_use]
pub(crate) fn row_mj(row: &PulseRow) -> f64 {
    row.pulse_energy_mj * f64::from(row.pulses)
}

/// Energy of a session, mJ.
#[must_use]
pub(crate) fn session_mj(done: &Treatment) -> f64 {
    on_paper(done.rows.iter().map(row_mj).sum())
}

/// To the microjoule: a sum of decimals must reach a limit that it reaches on paper, and no more.
fn on_paper(mj: f64) -> f64 {
    (mj * 1000.0).round() / 1000.0
}

fn stopped(source: &Source) -> &'static str {
    match source.treatment().filter(|done| done.stopped.is_some()) {
        None => "no",
        Some(done) if done.rows.is_empty() => "before_pulses",
        Some(_) => "after_pulses",
    }
}

fn days_since_session(source: &Source) -> Option<i64> {
    let last = source.record.earlier_sessions.iter().map(|session| session.date.0).max()?;
    Some((source.treatment_date() - last).num_days())
}

fn highest_mj(source: &Source) -> Option<f64> {
    source.treatment()?.rows.iter().map(|row| row.pulse_energy_mj).reduce(f64::max)
}

/// What is recorded, in all sessions; before the treatment the earlier ones.
fn known_mj(source: &Source) -> f64 {
    let earlier: f64 = source.record.earlier_sessions.iter().filter_map(|session| session.energy_mj.value()).sum();
    on_paper(earlier + source.treatment().map_or(0.0, session_mj))
}

fn eye_energy(source: &Source) -> &'static str {
    let unknown = source.record.earlier_sessions.iter().any(|session| session.energy_mj == Known::Unknown);
    match known_mj(source) > source.profile.thresholds.usual_eye_mj {
        true => "above_usual",
        false if unknown => "unknown",
        false => "usual",
    }
}

fn eye_mj(source: &Source) -> Option<f64> {
    let earlier: Option<f64> = source.record.earlier_sessions.iter().map(|session| session.energy_mj.value()).sum();
    Some(on_paper(earlier? + session_mj(source.treatment()?)))
}
