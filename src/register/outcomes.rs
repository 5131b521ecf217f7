//! What became of the eyes, in the register. Nothing of it is changed or taken out: each outcome is a row of the ledger, and
//! stands in columns beside it to be counted.

use chrono::{NaiveDate, NaiveDateTime};
use serde::{Deserialize, Serialize};

use super::cases::add;
use super::columns::{day, json, known, unreadable, word};
use super::database::{Database, Value, all, row, values};
use super::ledger::{self, Entry};
use super::outcome::{KeptOutcome, NewOutcome, OutcomeId};
use super::{CaseFile, CaseId, Register, RegisterError, time};
use crate::record::date::Date;
use crate::record::known::Answer;
use crate::results::{Change, Event, Outcome, Questionnaire};

/// The kind of a row that keeps an outcome.
pub(super) const OUTCOME: &str = "outcome";

/// What was seen, as [`seen`] reads it.
const SEEN: &str = "visit, on_day, pressure_mmhg, acuity, bother_before, bother_after, questionnaire, change, further_laser, \
                    surgery, lost, events";

/// An outcome as the ledger keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Entered {
    pub(super) outcome: Outcome,
    pub(super) withdrawn: bool,
    pub(super) replaces: Option<OutcomeId>,
    pub(super) by: String,
    /// When it was entered, UTC.
    pub(super) at: NaiveDateTime,
}

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
        let sql = format!("SELECT id, by, at, {SEEN} FROM outcome_now WHERE case_id = $1 ORDER BY on_day, id");
        all(self.database(), &sql, &values![case], |[id, by, at, rest @ ..]: [Value; 15]| {
            Ok(KeptOutcome { id: id.number()?, outcome: seen(rest)?, by: by.text()?, at: time::read(&at.text()?)? })
        })
    }

    /// The outcomes of all cases that hold, up to a day, by case.
    pub fn all_outcomes(&self, up_to: NaiveDate) -> Result<Vec<(CaseId, Outcome)>, RegisterError> {
        Ok(self.numbered_outcomes(up_to)?.into_iter().map(|Numbered { case, outcome, .. }| (case, outcome)).collect())
    }

    /// The same with their numbers, by case, day and number.
    pub(super) fn numbered_outcomes(&self, up_to: NaiveDate) -> Result<Vec<Numbered>, RegisterError> {
        let sql = format!("SELECT id, case_id, {SEEN} FROM outcome_now WHERE on_day <= $1");
        let mut found = all(self.database(), &sql, &values![up_to.to_string()], numbered)?;
        // Quicker than the database does it, which would carry every column along.
        found.sort_unstable_by_key(|Numbered { id, case, outcome }| (*case, outcome.on, *id));
        Ok(found)
    }

    /// The rows after one number up to another, oldest first.
    pub(super) fn outcome_rows(&self, after: OutcomeId, up_to: OutcomeId) -> Result<Vec<Row>, RegisterError> {
        let sql = format!(
            "SELECT replaces, withdrawn, id, case_id, {SEEN} FROM outcome WHERE id > $1 AND id <= $2 ORDER BY id"
        );
        all(self.database(), &sql, &values![after, up_to], |[replaces, withdrawn, rest @ ..]: [Value; 16]| {
            let replaces = replaces.maybe(Value::number)?;
            Ok(Row { replaces, withdrawn: withdrawn.number()? != 0, of: numbered(rest)? })
        })
    }
}

/// An outcome with its number and case.
pub(super) struct Numbered {
    pub(super) id: OutcomeId,
    pub(super) case: CaseId,
    pub(super) outcome: Outcome,
}

/// A row, whether it holds or not.
pub(super) struct Row {
    pub(super) replaces: Option<OutcomeId>,
    pub(super) withdrawn: bool,
    pub(super) of: Numbered,
}

fn numbered([id, case, rest @ ..]: [Value; 14]) -> Result<Numbered, RegisterError> {
    Ok(Numbered { id: id.number()?, case: case.number()?, outcome: seen(rest)? })
}

/// Keeps one outcome. What it replaces must hold, and no other of its visit and day may.
fn put(database: &dyn Database, new: &NewOutcome) -> Result<OutcomeId, RegisterError> {
    let replaced = new.replaces.map(|id| replaced(database, new.case, id)).transpose()?;
    let (outcome, withdrawn) = match (&new.outcome, replaced) {
        (None, None) => return Err(RegisterError::Changed),
        (None, Some(replaced)) => (replaced, true),
        (Some(outcome), _) => {
            let same = "SELECT id FROM outcome_now WHERE case_id = $1 AND visit = $2 AND on_day = $3 AND id <> $4";
            let key = values![new.case, &outcome.visit, outcome.on.to_string(), new.replaces.unwrap_or_default()];
            if row::<1>(database, same, &key)?.is_some() {
                return Err(RegisterError::OutcomeThere);
            }
            (outcome.clone(), false)
        }
    };
    let entered = Entered { outcome, withdrawn, replaces: new.replaces, by: new.by.clone(), at: new.at };
    append(database, new.case, &entered, new.at)
}

/// Adds an outcome to the ledger, and its columns.
pub(super) fn append(
    database: &dyn Database,
    case: CaseId,
    entered: &Entered,
    at: NaiveDateTime,
) -> Result<OutcomeId, RegisterError> {
    let body = ledger::json(entered)?;
    let number = ledger::append(database, Entry { kind: OUTCOME, case: Some(case), part_of: None, at, body: &body })?;
    let sql = "INSERT INTO outcome (id, case_id, by, at, replaces, withdrawn, visit, on_day, pressure_mmhg, acuity, \
               bother_before, bother_after, questionnaire, change, further_laser, surgery, lost, events) \
               VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18)";
    let Entered { outcome, withdrawn, replaces, by, at } = entered;
    let columns = values![
        number,
        case,
        by,
        time::text(*at),
        *replaces,
        *withdrawn,
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
    ];
    database.rows(sql, &columns)?;
    Ok(number)
}

/// The columns that [`entered`] reads.
pub(super) fn columns() -> String {
    format!("outcome.id, outcome.case_id, withdrawn, replaces, by, outcome.at, {SEEN}")
}

/// An outcome as its columns have it, with its number and case.
pub(super) fn entered(columns: [Value; 18]) -> Result<(OutcomeId, CaseId, Entered), RegisterError> {
    let [id, case, withdrawn, replaces, by, at, rest @ ..] = columns;
    let entered = Entered {
        outcome: seen(rest)?,
        withdrawn: withdrawn.number()? != 0,
        replaces: replaces.maybe(Value::number)?,
        by: by.text()?,
        at: time::read(&at.text()?)?,
    };
    Ok((id.number()?, case.number()?, entered))
}

/// The outcome of a case that is replaced.
fn replaced(database: &dyn Database, case: CaseId, id: OutcomeId) -> Result<Outcome, RegisterError> {
    let sql = format!("SELECT {SEEN} FROM outcome_now WHERE id = $1 AND case_id = $2");
    row(database, &sql, &values![id, case])?.map(seen).ok_or(RegisterError::Changed)?
}

/// The columns of [`SEEN`].
fn seen(columns: [Value; 12]) -> Result<Outcome, RegisterError> {
    let [visit, on, pressure, acuity, before, after, asked, change, again, surgery, lost, events] = columns;
    let bother = |value: Value| {
        let step = value.maybe(Value::number)?.map(u8::try_from).transpose();
        step.map(known).map_err(|_| unreadable())
    };
    Ok(Outcome {
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
    })
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
