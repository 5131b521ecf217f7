//! The day as a batch: what is issued in the order of the day and how far that is, what is withheld and why, what is not
//! ready, and who must act.

use chrono::NaiveDate;
use serde::Serialize;
use serde_json::json;

use super::print::{job_of, not_made};
use crate::desk::answer::Answer;
use crate::desk::batch::{Batch, Became};
use crate::desk::error::DeskError;
use crate::desk::gate::Who;
use crate::desk::next::{self, Next, Standing};
use crate::desk::order;
use crate::desk::press::{NotMade, Order};
use crate::desk::room::{Room, role_word};
use crate::document::sheet::Withheld;
use crate::packet::Packet;
use crate::register::{CaseId, Filed, IssueId};

/// A case of the day.
#[derive(Debug, Serialize)]
struct Row {
    id: CaseId,
    time: Option<String>,
    name: Option<String>,
    next: Next,
    who: Option<&'static str>,
    mine: bool,
    step: &'static str,
    /// What became of it in the batch.
    state: Option<State>,
    /// Why pages are withheld, if they are, and by what.
    reason: Option<Withheld>,
    by: Vec<String>,
}

/// How far a case is in the batch.
#[derive(Debug, Serialize)]
#[serde(rename_all = "snake_case", tag = "kind")]
enum State {
    Waits,
    Now,
    Issued { issue: Option<IssueId> },
    Nothing,
    Refused { says: String },
}

/// The page of a day.
pub(in crate::desk) fn show(room: &mut Room, cookie: &str, who: &Who, day: NaiveDate) -> Result<Answer, DeskError> {
    let frame = room.frame(cookie, Some(who), "day")?;
    let rows = room.register.day(day)?.iter().map(|case| row(room, who, case)).collect::<Result<Vec<_>, _>>()?;
    let batch = room.batch.as_ref().filter(|batch| batch.day == day);
    let (done, of) = batch.map_or((0, 0), Batch::progress);
    let (issuable, others): (Vec<Row>, Vec<Row>) =
        rows.into_iter().partition(|row| row.state.is_some() || prints(row.next));
    let withheld = |row: &&Row| row.reason.is_some();
    let not_ready = |row: &&Row| row.reason.is_none() && matches!(row.next, Next::Mend | Next::Fill | Next::Answer);
    let shown = json!({
        "frame": frame,
        "title": room.words.locale.full_date(day),
        "date": day.to_string(),
        "begun": batch.is_some(),
        "running": batch.is_some_and(Batch::is_running),
        "elsewhere": room.batch.as_ref().is_some_and(|batch| batch.day != day && batch.is_running()),
        "done": done, "of": of,
        "issued": batch.map_or(0, |batch| batch.issues().len()),
        "open": issuable.iter().filter(|row| prints(row.next)).count(),
        "withheld": issuable.iter().chain(&others).filter(withheld).collect::<Vec<_>>(),
        "not_ready": others.iter().filter(not_ready).collect::<Vec<_>>(),
        "rows": issuable,
    });
    room.page("batch", shown)
}

/// Whether the next step is to issue pages.
fn prints(next: Next) -> bool {
    matches!(next, Next::PrintConsent | Next::PrintAftercare)
}

fn row(room: &Room, who: &Who, case: &Filed) -> Result<Row, DeskError> {
    let judged = room.judge(case.id, &case.file)?;
    let standing = next::standing(&room.form, &case.file, &judged, &room.register.issues(case.id)?);
    Ok(Row {
        id: case.id,
        time: case.file.starts().map(|at| room.words.locale.time(at.time())).transpose()?,
        name: case.file.text("/patient/name").map(str::to_owned),
        next: standing.next,
        who: standing.who.map(role_word),
        mine: standing.who == Some(who.role),
        step: super::day::step(&standing),
        state: state(room, case.id, &standing),
        reason: judged.check.withheld.as_ref().map(|withheld| withheld.reason),
        by: judged.withheld_by(),
    })
}

fn state(room: &Room, case: CaseId, standing: &Standing) -> Option<State> {
    let batch = room.batch.as_ref()?;
    Some(match batch.of(case) {
        _ if batch.now() == Some(case) => State::Now,
        Some(Became::Issued(issues)) => State::Issued { issue: issues.first().copied() },
        Some(Became::Nothing) => State::Nothing,
        Some(Became::Refused(says)) => State::Refused { says: says.clone() },
        None if batch.is_running() && prints(standing.next) => State::Waits,
        None => return None,
    })
}

/// Begins to issue what can be issued of a day, unless another batch is on its way. Whether it did.
pub(in crate::desk) fn begin(room: &mut Room, cookie: &str, who: &Who, day: NaiveDate) -> Result<bool, DeskError> {
    if room.batch.as_ref().is_some_and(Batch::is_running) {
        return Ok(false);
    }
    let mut cases = Vec::new();
    for case in room.register.day(day)? {
        if is_due(room, &case)? {
            cases.push(case.id);
        }
    }
    room.batch = Some(Batch::new(day, who.clone(), cookie, cases));
    Ok(true)
}

fn is_due(room: &Room, case: &Filed) -> Result<bool, DeskError> {
    let judged = room.judge(case.id, &case.file)?;
    Ok(prints(next::standing(&room.form, &case.file, &judged, &room.register.issues(case.id)?).next))
}

/// What is to be made next; nothing once the batch is done.
pub(in crate::desk) fn next(room: &mut Room) -> Result<Option<Order>, DeskError> {
    while let Some(case) = room.batch.as_mut().and_then(Batch::next) {
        let by = room.batch.as_ref().map(|batch| (batch.who.clone(), batch.cookie.clone()));
        let due = is_due(room, &room.case(case)?)?;
        if let Some((who, cookie)) = by.filter(|_| due)
            && let Some(order) = order::order(room, &cookie, &who, case, Vec::new())?
        {
            return Ok(Some(order));
        }
        became(room, Became::Nothing);
    }
    Ok(None)
}

/// Keeps what was made of the batch.
pub(in crate::desk) fn made(
    room: &mut Room,
    order: &Order,
    made: Result<Vec<(CaseId, Packet)>, NotMade>,
) -> Result<(), DeskError> {
    let what = match made {
        Ok(packets) => Became::Issued(order::keep(room, order, &packets)?),
        Err(why) => Became::Refused(not_made(room, &why)?),
    };
    became(room, what);
    Ok(())
}

/// Notes what became of the case that is on its way.
pub(in crate::desk) fn became(room: &mut Room, what: Became) {
    if let Some(batch) = &mut room.batch {
        batch.became(what);
    }
}

/// Everything that was issued by the batch, for the printer.
pub(in crate::desk) fn job(room: &Room) -> Result<Option<Answer>, DeskError> {
    let Some(batch) = room.batch.as_ref().filter(|batch| !batch.issues().is_empty()) else { return Ok(None) };
    job_of(room, batch.issues(), &batch.day.to_string()).map(Some)
}
