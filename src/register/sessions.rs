//! Sessions in which pulses were given, read from their cases to be counted.

use chrono::NaiveDate;
use serde_json::{Value as Json, json};

use super::columns::{day, list, unreadable, word};
use super::database::{Database, Value, all, row, values};
use super::{CaseFile, CaseId, Register, RegisterError};
use crate::record::identity::folded_number;
use crate::results::Session;

/// Under which name the store counts the changes of sessions.
pub(super) const CHANGES: &str = "sessions";

const SESSION: &str = "SELECT case_id, code, record_number, side, surgeon, on_day, lens, focus, optic, floater, acuity, \
                       pressure_before_mmhg, pressure_day_mmhg, energy_mj, pulses, events, booked FROM session";

const INTO: &str = "INSERT INTO session (case_id, code, record_number, side, surgeon, on_day, lens, focus, optic, floater, \
                    acuity, pressure_before_mmhg, pressure_day_mmhg, energy_mj, pulses, events, \
                    booked) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17)";

#[expect(clippy::missing_errors_doc, reason = "said once for all of them at the head of the register")]
impl Register {
    /// The sessions up to a day, by day.
    pub fn sessions(&self, up_to: NaiveDate) -> Result<Vec<Session>, RegisterError> {
        let sql = format!("{SESSION} WHERE on_day <= $1");
        let mut found = all(self.database(), &sql, &values![up_to.to_string()], session)?;
        found.sort_unstable_by_key(|session| (session.on, session.case));
        Ok(found)
    }

    /// The session of a case; nothing if no pulse was given.
    pub fn session(&self, case: CaseId) -> Result<Option<Session>, RegisterError> {
        row(self.database(), &format!("{SESSION} WHERE case_id = $1"), &values![case])?.map(session).transpose()
    }
}

/// Reads what is booked for the sessions of a store of an earlier form, which did not have it.
pub(super) fn with_bookings(database: &dyn Database) -> Result<(), RegisterError> {
    let sql = "SELECT id, file FROM session JOIN kept_case ON id = case_id WHERE instr(file, '\"visits\"') > 0";
    let cases = all(database, sql, &[], |[id, file]| Ok((id.number()?, CaseFile::read(&file.text()?)?)))?;
    cases.iter().try_for_each(|(id, file)| read_anew(database, *id, file))
}

/// Reads the session of a case anew, within a change of the case.
pub(super) fn read_anew(database: &dyn Database, case: CaseId, file: &CaseFile) -> Result<(), RegisterError> {
    let before = database.rows("DELETE FROM session WHERE case_id = $1 RETURNING case_id", &values![case])?;
    let now = columns(case, file);
    if let Some(columns) = &now {
        database.rows(INTO, columns)?;
    }
    if before.is_empty() && now.is_none() { Ok(()) } else { sessions_changed(database) }
}

/// Tells everybody that sessions changed.
pub(super) fn sessions_changed(database: &dyn Database) -> Result<(), RegisterError> {
    let sql = "INSERT INTO setting VALUES ($1, '1') \
               ON CONFLICT (name) DO UPDATE SET value = CAST(CAST(setting.value AS bigint) + 1 AS text)";
    database.rows(sql, &values![CHANGES]).map(|_| ())
}

/// The columns of its table; nothing as long as no pulse was given or it is not known whose eye it is.
fn columns(case: CaseId, file: &CaseFile) -> Option<[Value; 17]> {
    let word = |pointer| file.text(pointer).unwrap_or("unknown");
    let number = |pointer| file.record.pointer(pointer).and_then(Json::as_f64);
    let last_pulse = file.text("/treatment/last_pulse")?;
    Some(values![
        case,
        file.code(),
        file.text("/patient/record_number")?,
        file.text("/eye/side")?,
        file.text("/plan/surgeon")?,
        last_pulse.chars().take("2026-08-07".len()).collect::<String>(),
        word("/eye/lens"),
        word("/eye/implant/focus"),
        word("/eye/implant/optic"),
        word("/floater/kind"),
        word("/eye/acuity"),
        number("/treatment/pressure_before_mmhg").or(number("/eye/pressure_mmhg")),
        highest(number("/treatment/pressure_after_mmhg"), rows(file, "rechecks")),
        rows(file, "rows").filter_map(energy_mj).fold(0.0, |sum, energy| sum + energy),
        rows(file, "rows").filter_map(|row| row["pulses"].as_i64()).sum::<i64>(),
        Json::from_iter(rows(file, "events").map(|event| event["kind"].as_str().unwrap_or("unknown"))).to_string(),
        booked(file).to_string(),
    ])
}

/// Pairs of visit and day.
fn booked(file: &CaseFile) -> Json {
    let visits = file.record.pointer("/plan/visits").and_then(Json::as_array);
    let pair = |visit: &Json| Some(json!([visit["visit"].as_str()?, visit["at"].as_str()?.get(.."2026-08-07".len())?]));
    visits.into_iter().flatten().filter_map(pair).collect()
}

/// A row of [`SESSION`].
fn session(row: [Value; 17]) -> Result<Session, RegisterError> {
    let [
        case,
        code,
        number,
        side,
        surgeon,
        on,
        lens,
        focus,
        optic,
        floater,
        acuity,
        before,
        day_of,
        energy,
        pulses,
        events,
        booked,
    ] = row;
    let booked = list::<(String, String)>(&booked.text()?)?;
    // A day that cannot be is mended in its case.
    let booked = booked.into_iter().filter_map(|(visit, on)| Some((visit, day(&on).ok()?)));
    Ok(Session {
        case: case.number()?,
        code: code.maybe(Value::text)?,
        patient: folded_number(&number.text()?),
        side: word(&side.text()?)?,
        surgeon: surgeon.text()?,
        on: day(&on.text()?)?,
        lens: word(&lens.text()?)?,
        focus: word(&focus.text()?)?,
        optic: word(&optic.text()?)?,
        floater: word(&floater.text()?)?,
        acuity: acuity.text()?.parse().ok(),
        pressure_before: before.maybe(Value::real)?,
        pressure_day: day_of.maybe(Value::real)?,
        energy_mj: energy.real()?,
        pulses: u32::try_from(pulses.number()?).map_err(|_| unreadable())?,
        events: list(&events.text()?)?,
        booked: booked.collect(),
    })
}

/// What is listed under a key of the treatment.
fn rows<'f>(file: &'f CaseFile, key: &str) -> impl Iterator<Item = &'f Json> {
    let list = file.record.pointer(&format!("/treatment/{key}")).and_then(Json::as_array);
    list.into_iter().flatten().filter(|row| row.is_object())
}

/// The highest pressure of the day, mmHg.
fn highest<'f>(after: Option<f64>, rechecks: impl Iterator<Item = &'f Json>) -> Option<f64> {
    rechecks.filter_map(|recheck| recheck["pressure_mmhg"].as_f64()).chain(after).reduce(f64::max)
}

/// Energy of a row of the treatment, millijoule.
fn energy_mj(row: &Json) -> Option<f64> {
    Some(row["pulse_energy_mj"].as_f64()? * row["pulses"].as_f64()?)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn treated(treatment: Json) -> Option<[Value; 17]> {
        let record = json!({
            "patient": { "record_number": "1" }, "eye": { "side": "left", "pressure_mmhg": 15 },
            "plan": { "surgeon": "sample", "visits": [{ "visit": "week", "at": "2026-08-14T09:00" }, { "visit": "x" }] },
            "treatment": treatment,
        });
        columns(7, &CaseFile::of(record))
    }

    #[test]
    fn what_was_not_recorded_counts_nothing() {
        assert_eq!(treated(json!({})), None);
        let session = treated(json!({
            "last_pulse": "2026-08-07T10:25", "pressure_before_mmhg": "unknown", "events": [{}, "x"],
            "rows": [{ "pulse_energy_mj": "unknown", "pulses": 10 }, { "pulse_energy_mj": 4.5, "pulses": 2 }],
        }))
        .unwrap();
        assert_eq!(session[5..7], values!["2026-08-07", "unknown"]);
        assert_eq!(
            session[11..],
            values![15.0, None::<f64>, 9.0, 12_i64, "[\"unknown\"]", "[[\"week\",\"2026-08-14\"]]"]
        );
    }

    #[test]
    fn the_pressure_of_the_day_is_the_highest() {
        let rechecks = json!([{ "pressure_mmhg": 20 }, { "pressure_mmhg": 31.5 }, { "pressure_mmhg": "unknown" }]);
        for (after, highest) in [(json!(19), 31.5), (json!(32), 32.0), (json!("unknown"), 31.5)] {
            let treatment = json!({ "last_pulse": "x", "pressure_after_mmhg": after, "rechecks": rechecks });
            assert_eq!(treated(treatment).unwrap()[12], Value::Real(highest));
        }
    }
}
