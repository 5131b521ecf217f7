//! Facts of energy and of the treatment as done.

use super::{Definition, Kind, Source, Value, choice, fact, number};
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
        s.treatment().map_or(Value::Absent, |done| Value::Date(done.last_pulse.0.date()))
    })
    .from(&[super::DONE]),
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
        "eye_energy_mj",
        Kind::Number("mJ", 1),
        "Energy this eye has had in all sessions; absent while one is not recorded or this one not done.",
        |s| number(eye_mj(s)),
    )
    .from(&[ROWS, "/earlier_sessions"]),
];

/// Energy of one row, mJ.
#[must_use]
pub(crate) fn row_mj(row: &PulseRow) -> f64 {
    row.pulse_energy_mj * f64::from(row.pulses)
}

/// Energy of a session, mJ.
#[must_use]
pub(crate) fn session_mj(done: &Treatment) -> f64 {
    // To the microjoule: a sum of decimals must reach a limit that it reaches on paper.
    (done.rows.iter().map(row_mj).sum::<f64>() * 1000.0).round() / 1000.0
}

fn eye_mj(source: &Source) -> Option<f64> {
    let earlier: Option<f64> = source.record.earlier_sessions.iter().map(|session| session.energy_mj.value()).sum();
    Some(earlier? + session_mj(source.treatment()?))
}
