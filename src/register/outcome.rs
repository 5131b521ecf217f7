//! What became of the eyes, as the register keeps it.

use chrono::{NaiveDate, NaiveDateTime};
use serde::Serialize;

use super::ledger::Number;
use super::{CaseId, Register, RegisterError};
use crate::record::profile::VisitRule;
use crate::results::{Outcome, Read, WrongLine, WrongOutcome};

/// Number of an outcome: that of its row in the ledger.
pub type OutcomeId = Number;

/// An outcome that is to be kept.
#[derive(Debug, Clone, PartialEq)]
pub struct NewOutcome {
    /// Of which case.
    pub case: CaseId,
    /// What was seen; nothing withdraws what it replaces.
    pub outcome: Option<Outcome>,
    /// Which outcome it corrects.
    pub replaces: Option<OutcomeId>,
    /// Who enters it.
    pub by: String,
    /// When, UTC.
    pub at: NaiveDateTime,
}

/// An outcome that holds.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptOutcome {
    /// Its number.
    pub id: OutcomeId,
    /// What was seen.
    pub outcome: Outcome,
    /// Who entered it.
    pub by: String,
    /// When, UTC.
    pub at: NaiveDateTime,
}

/// What a table has brought.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct TakenIn {
    /// Outcomes that were taken.
    pub taken: usize,
    /// Outcomes that were there already, word for word.
    pub there: usize,
    /// Lines that were not taken.
    pub wrong: Vec<WrongLine>,
}

/// Why an outcome of a table is not taken.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
enum NotTaken {
    #[error("the register has no case of this code")]
    NoCase,
    #[error("no treatment is recorded in this case: record it first")]
    NotTreated,
    #[error("the register has another outcome of this visit and day: correct that one at the desk")]
    Differs,
}

/// Takes a table of outcomes into a register: what is right is kept, what is there already is left as it is.
///
/// # Errors
/// A register that does not answer; then nothing was taken.
pub fn take_in(
    register: &mut Register,
    read: Read,
    visits: &[VisitRule],
    today: NaiveDate,
    (by, at): (&str, NaiveDateTime),
) -> Result<TakenIn, RegisterError> {
    let mut taken = TakenIn { wrong: read.wrong, ..TakenIn::default() };
    let mut new: Vec<NewOutcome> = Vec::new();
    for lines in read.outcomes {
        let mut wrong = |line: usize, column, why: String| {
            let line = lines.lines.get(line).or(lines.lines.first()).copied().unwrap_or_default();
            taken.wrong.push(WrongLine { line, column, why });
        };
        let Some(case) = register.by_code(&lines.case)? else {
            wrong(0, Some("case"), NotTaken::NoCase.to_string());
            continue;
        };
        let Some(session) = register.session(case)? else {
            wrong(0, Some("case"), NotTaken::NotTreated.to_string());
            continue;
        };
        let faults = lines.outcome.wrong(session.on, today, visits);
        if !faults.is_empty() {
            faults.iter().for_each(|fault| wrong(line_of(fault), column_of(fault), fault.why.to_string()));
            continue;
        }
        let same = |other: &Outcome| other.visit == lines.outcome.visit && other.on == lines.outcome.on;
        match register.outcomes(case)?.into_iter().find(|kept| same(&kept.outcome)) {
            Some(kept) if kept.outcome == lines.outcome => taken.there += 1,
            Some(_) => wrong(0, None, NotTaken::Differs.to_string()),
            None => new.push(NewOutcome { case, outcome: Some(lines.outcome), replaces: None, by: by.to_owned(), at }),
        }
    }
    taken.taken = register.put_outcomes(&new)?.len();
    taken.wrong.sort_by_key(|wrong| wrong.line);
    Ok(taken)
}

/// Which line of the outcome a fault stands in: each event has its own.
fn line_of(fault: &WrongOutcome) -> usize {
    let event = fault.pointer.strip_prefix("/events/").and_then(|rest| rest.split('/').next());
    event.and_then(|at| at.parse().ok()).unwrap_or_default()
}

fn column_of(fault: &WrongOutcome) -> Option<&'static str> {
    let columns = [
        ("/visit", "visit"),
        ("/on", "date"),
        ("/pressure_mmhg", "pressure_mmhg"),
        ("/bother_before", "bother_before_0_to_10"),
        ("/bother_after", "bother_after_0_to_10"),
        ("/questionnaire/name", "questionnaire"),
        ("/questionnaire/version", "questionnaire_version"),
        ("/questionnaire/score", "questionnaire_score"),
        ("/lost", "lost"),
    ];
    let own = columns.iter().find(|(pointer, _)| *pointer == fault.pointer).map(|(_, column)| *column);
    own.or_else(|| match fault.pointer.strip_prefix("/events/")?.rsplit('/').next()? {
        "on" => Some("event_date"),
        "done" => Some("event_done"),
        _ => None,
    })
}
