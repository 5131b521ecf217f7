//! What became of the eyes, in the register. Nothing of it is changed or taken out.

use chrono::{NaiveDate, NaiveDateTime};
use serde::Serialize;
use serde::de::value::{Error as NoWord, StrDeserializer};
use serde::de::{Deserialize, DeserializeOwned, IntoDeserializer};

use super::cases::add;
use super::database::{Database, Value, all, row, values};
use super::outcome::{KeptOutcome, NewOutcome, OutcomeId};
use super::{CaseFile, CaseId, Register, RegisterError, time};
use crate::record::course;
use crate::record::date::Date;
use crate::record::identity::folded_number;
use crate::record::known::{Answer, Known};
use crate::results::{Change, Event, Outcome, Questionnaire, Session};

const OUTCOME: &str = "SELECT id, case_id, by, at, visit, on_day, pressure_mmhg, acuity, bother_before, bother_after, \
                       questionnaire, change, further_laser, surgery, lost, events FROM outcome_now";

const SESSION: &str = "SELECT case_id, code, record_number, side, surgeon, on_day, lens, focus, optic, floater, acuity, \
                       pressure_before_mmhg, pressure_day_mmhg, energy_mj, pulses, events FROM session";

#[expect(clippy::missing_errors_doc, reason = "said once for all of them at the head of the register")]
impl Register {
    /// Keeps outcomes, all or none. [`RegisterError::OutcomeThere`] if one of the same visit and day holds that is not replaced,
    /// [`RegisterError::Changed`] if what one replaces holds no longer.
    pub fn put_outcomes(&mut self, new: &[NewOutcome]) -> Result<Vec<OutcomeId>, RegisterError> {
        self.change(|database| new.iter().map(|new| put(database, new)).collect())
    }

    /// Keeps cases with what became of them, all or none: a history that comes from elsewhere.
    pub fn add_history(
        &mut self,
        history: &[(CaseFile, Vec<Outcome>)],
        by: &str,
        at: NaiveDateTime,
    ) -> Result<(), RegisterError> {
        self.change(|database| {
            for (file, outcomes) in history {
                let case = add(database, file)?;
                for outcome in outcomes {
                    let (outcome, by) = (Some(outcome.clone()), by.to_owned());
                    put(database, &NewOutcome { case, outcome, replaces: None, by, at })?;
                }
            }
            Ok(())
        })
    }

    /// The outcomes of a case that hold, by day.
    pub fn outcomes(&self, case: CaseId) -> Result<Vec<KeptOutcome>, RegisterError> {
        let sql = format!("{OUTCOME} WHERE case_id = $1 ORDER BY on_day, id");
        all(self.database(), &sql, &values![case], |columns: [Value; 16]| kept(columns).map(|(_, kept)| kept))
    }

    /// The outcomes of all cases that hold, up to a day, by case.
    pub fn all_outcomes(&self, up_to: NaiveDate) -> Result<Vec<(CaseId, Outcome)>, RegisterError> {
        let sql = format!("{OUTCOME} WHERE on_day <= $1 ORDER BY case_id, on_day, id");
        all(self.database(), &sql, &values![up_to.to_string()], |columns: [Value; 16]| {
            kept(columns).map(|(case, kept)| (case, kept.outcome))
        })
    }

    /// The sessions up to a day, by day.
    pub fn sessions(&self, up_to: NaiveDate) -> Result<Vec<Session>, RegisterError> {
        let sql = format!("{SESSION} WHERE on_day <= $1 ORDER BY on_day, case_id");
        all(self.database(), &sql, &values![up_to.to_string()], session)
    }

    /// The session of a case; nothing if no pulse was given.
    pub fn session(&self, case: CaseId) -> Result<Option<Session>, RegisterError> {
        row(self.database(), &format!("{SESSION} WHERE case_id = $1"), &values![case])?.map(session).transpose()
    }
}

/// Keeps one outcome. What it replaces must hold, and no other of its visit and day may.
fn put(database: &dyn Database, new: &NewOutcome) -> Result<OutcomeId, RegisterError> {
    let replaced = new.replaces.map(|id| replaced(database, new.case, id)).transpose()?;
    let row_of = |outcome: &Outcome, withdrawn: bool| columns(new, outcome, withdrawn);
    let columns = match (&new.outcome, replaced) {
        (None, None) => return Err(RegisterError::Changed),
        (None, Some(replaced)) => row_of(&replaced, true)?,
        (Some(outcome), _) => {
            let same = "SELECT id FROM outcome_now WHERE case_id = $1 AND visit = $2 AND on_day = $3 AND id <> $4";
            let key = values![new.case, &outcome.visit, outcome.on.to_string(), new.replaces.unwrap_or_default()];
            if row::<1>(database, same, &key)?.is_some() {
                return Err(RegisterError::OutcomeThere);
            }
            row_of(outcome, false)?
        }
    };
    let sql = "INSERT INTO outcome (case_id, by, at, replaces, withdrawn, visit, on_day, pressure_mmhg, acuity, bother_before, \
               bother_after, questionnaire, change, further_laser, surgery, lost, events) \
               VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17) RETURNING id";
    let [id] = row(database, sql, &columns)?.ok_or(RegisterError::NoCase)?;
    id.number()
}

fn columns(new: &NewOutcome, outcome: &Outcome, withdrawn: bool) -> Result<[Value; 17], RegisterError> {
    Ok(values![
        new.case,
        &new.by,
        time::text(new.at),
        new.replaces,
        withdrawn,
        &outcome.visit,
        outcome.on.to_string(),
        outcome.pressure_mmhg.value(),
        outcome.acuity.as_ref().map(ToString::to_string),
        outcome.bother_before.value().map(u32::from),
        outcome.bother_after.value().map(u32::from),
        outcome.questionnaire.as_ref().map(written).transpose()?,
        said(&outcome.change),
        said(&outcome.further_laser),
        said(&outcome.surgery),
        outcome.lost,
        (!outcome.events.is_empty()).then(|| written(&outcome.events)).transpose()?,
    ])
}

/// The outcome of a case that is replaced.
fn replaced(database: &dyn Database, case: CaseId, id: OutcomeId) -> Result<Outcome, RegisterError> {
    let found = row(database, &format!("{OUTCOME} WHERE id = $1 AND case_id = $2"), &values![id, case])?;
    found.map(|columns: [Value; 16]| kept(columns).map(|(_, kept)| kept.outcome)).ok_or(RegisterError::Changed)?
}

/// A row of [`OUTCOME`], with the number of its case.
fn kept(row: [Value; 16]) -> Result<(CaseId, KeptOutcome), RegisterError> {
    let [id, case, by, at, visit, on, pressure, acuity, before, after, asked, change, again, surgery, lost, events] =
        row;
    let bother = |value: Value| {
        let step = value.maybe(Value::number)?.map(u8::try_from).transpose();
        step.map(known).map_err(|_| unreadable())
    };
    let outcome = Outcome {
        visit: visit.text()?,
        on: Date(day(&on.text()?)?),
        pressure_mmhg: known(pressure.maybe(Value::real)?),
        acuity: known(acuity.maybe(Value::text)?.map(|text| text.parse().map_err(|_| unreadable())).transpose()?),
        bother_before: bother(before)?,
        bother_after: bother(after)?,
        questionnaire: asked.maybe(Value::text)?.as_deref().map(json::<Questionnaire>).transpose()?,
        change: change.maybe(Value::text)?.as_deref().map_or(Ok(Change::Unknown), word)?,
        further_laser: again.maybe(Value::text)?.as_deref().map_or(Ok(Answer::Unknown), word)?,
        surgery: surgery.maybe(Value::text)?.as_deref().map_or(Ok(Answer::Unknown), word)?,
        lost: lost.number()? != 0,
        events: events.maybe(Value::text)?.as_deref().map(json::<Vec<Event>>).transpose()?.unwrap_or_default(),
    };
    Ok((case.number()?, KeptOutcome { id: id.number()?, outcome, by: by.text()?, at: time::read(&at.text()?)? }))
}

/// A row of [`SESSION`].
fn session(row: [Value; 16]) -> Result<Session, RegisterError> {
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
    ] = row;
    let events = events.text()?;
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
        events: if events == "[]" { Vec::new() } else { json::<Vec<course::EventKind>>(&events)? },
    })
}

fn known<T>(value: Option<T>) -> Known<T> {
    value.map_or(Known::Unknown, Known::Value)
}

fn day(text: &str) -> Result<NaiveDate, RegisterError> {
    text.parse::<Date>().map(|date| date.0).map_err(|_| unreadable())
}

fn word<'de, T: Deserialize<'de>>(text: &'de str) -> Result<T, RegisterError> {
    let word: StrDeserializer<NoWord> = text.into_deserializer();
    T::deserialize(word).map_err(|_| unreadable())
}

fn json<T: DeserializeOwned>(text: &str) -> Result<T, RegisterError> {
    serde_json::from_str(text).map_err(|_| unreadable())
}

fn unreadable() -> RegisterError {
    RegisterError::Unreadable("an outcome or a session".into())
}

/// Canonical JSON (RFC 8785).
fn written(value: &impl Serialize) -> Result<String, RegisterError> {
    serde_json_canonicalizer::to_string(value).map_err(|_| unreadable())
}

/// The word; nothing for what was not recorded.
fn said(word: &impl Serialize) -> Option<String> {
    let written = serde_json::to_value(word).ok()?;
    written.as_str().filter(|word| *word != "unknown").map(str::to_owned)
}
