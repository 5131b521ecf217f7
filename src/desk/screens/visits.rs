//! Who is due: the visits of the plan of which no outcome is entered.

use serde::Serialize;
use serde_json::json;

use super::outcome::visit_name;
use crate::desk::answer::Answer;
use crate::desk::error::DeskError;
use crate::desk::gate::Who;
use crate::desk::room::Room;
use crate::register::CaseId;
use crate::results::due::{self, Due};

/// Most visits that are listed of each kind; the oldest come first.
const MOST: usize = 100;

#[derive(Debug, Serialize)]
struct Row {
    case: CaseId,
    visit: String,
    visit_name: String,
    on: String,
    name: Option<String>,
    number: Option<String>,
    code: Option<String>,
    side: Option<String>,
    side_word: Option<String>,
}

/// The page.
pub(in crate::desk) fn show(room: &mut Room, cookie: &str, who: &Who) -> Result<Answer, DeskError> {
    let frame = room.frame(cookie, Some(who), "visits")?;
    let today = room.today();
    let counted = room.register.counted(today)?;
    let due = due::due(&counted.sessions, &counted.outcomes, &room.practice.profile, today);
    let (missed, due): (Vec<Due>, Vec<Due>) = due.into_iter().partition(|due| due.missed);
    let rows = |due: &[Due]| due.iter().take(MOST).map(|due| row(room, due)).collect::<Result<Vec<_>, DeskError>>();
    let shown = json!({
        "frame": frame,
        "due": rows(&due)?, "due_count": due.len(),
        "missed": rows(&missed)?, "missed_count": missed.len(),
        "grace": due::GRACE_DAYS,
    });
    room.page("visits", shown)
}

fn row(room: &Room, due: &Due) -> Result<Row, DeskError> {
    let case = room.case(due.case)?;
    let text = |pointer: &str| case.file.text(pointer).map(str::to_owned);
    Ok(Row {
        case: due.case,
        visit: due.visit.clone(),
        visit_name: visit_name(room, &due.visit),
        on: room.words.locale.date(due.on),
        name: text("/patient/name"),
        number: text("/patient/record_number"),
        code: text("/case/code"),
        side_word: room.words.side(&case.file),
        side: text("/eye/side"),
    })
}
