//! The pages as they will print, before they are issued: what stands on them, why, and what a surgeon changes by hand.

use serde::Serialize;
use serde_json::json;

use super::case::head_of;
use crate::desk::answer::Answer;
use crate::desk::error::DeskError;
use crate::desk::gate::Who;
use crate::desk::judge;
use crate::desk::press::{Look, NotMade, Proof, Wanted};
use crate::desk::room::Room;
use crate::record::form::KnownBy;
use crate::register::CaseId;
use crate::review::explain::StatementRow;

/// One statement in the list beside the pages.
#[derive(Debug, Serialize)]
struct Row {
    id: String,
    words: String,
    page: Option<usize>,
    core: bool,
    said: bool,
    by_hand: Option<String>,
}

/// What the press is asked for, if the case can be laid out.
pub(in crate::desk) fn wanted(room: &Room, id: CaseId) -> Result<Option<Look>, DeskError> {
    let case = room.case(id)?;
    let judged = room.judge(&case.file)?;
    let record = if judged.check.refusal.is_some() { None } else { judge::complete(&case.file, &room.practice) };
    let today = room.today();
    let look =
        |record| Look { wanted: Wanted { case: id, record, moment: judged.moment }, version: case.version, today };
    Ok(record.map(look))
}

/// The page, with what the press made if it could.
pub(in crate::desk) fn show(
    room: &mut Room,
    cookie: &str,
    who: &Who,
    id: CaseId,
    chosen: Option<&str>,
    made: Option<Result<Proof, NotMade>>,
) -> Result<Answer, DeskError> {
    let frame = room.frame(cookie, Some(who), "case")?;
    let case = room.case(id)?;
    let judged = room.judge(&case.file)?;
    let (proof, refused) = match made {
        Some(Ok(proof)) => (Some(proof), None),
        Some(Err(why)) => (None, Some(why.to_string())),
        None => (None, judged.check.refusal.as_ref().map(|refusal| refusal.says.clone())),
    };
    let rows: Vec<Row> =
        proof.iter().flat_map(|proof| proof.explanation.statements.iter().map(|row| view(proof, row))).collect();
    let (said, others): (Vec<Row>, Vec<Row>) = rows.into_iter().partition(|row| row.said);
    let why = proof
        .as_ref()
        .and_then(|proof| proof.explanation.statements.iter().find(|row| Some(row.id.as_str()) == chosen));
    let shown = json!({
        "frame": frame,
        "head": head_of(room, who, &case, &judged)?,
        "step": "pages",
        "pages": proof.as_ref().map_or(0, |proof| proof.pages),
        "text": proof.as_ref().map(|proof| proof.text.clone()),
        "lacking": proof.as_ref().and_then(|proof| proof.coverage.as_ref()).map(|covered| covered.lacking.clone()),
        "elements": proof.as_ref().and_then(|proof| proof.coverage.as_ref()).map(|covered| covered.elements.len()),
        "notice": proof.as_ref().and_then(|proof| proof.coverage.as_ref()).map(|covered| covered.notice.clone()),
        "refused": refused,
        "said": said,
        "others": others,
        "why": why,
        "may_sign": who.role == KnownBy::Surgeon,
        "signs_on": room.words.locale.date(room.today()),
    });
    room.page("pages", shown)
}

fn view(proof: &Proof, row: &StatementRow) -> Row {
    Row {
        id: row.id.clone(),
        words: proof.words.get(&row.id).cloned().unwrap_or_else(|| row.id.clone()),
        page: row.stands.as_ref().and_then(|stands| stands.page),
        core: row.core,
        said: row.said,
        by_hand: row.by_hand.as_ref().map(|by| by.by.clone()),
    }
}
