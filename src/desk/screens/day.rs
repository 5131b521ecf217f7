//! The day: cases by time, what is open, who must act, and one next step each.

use chrono::{Days, NaiveDate, NaiveDateTime};
use serde::Serialize;
use serde_json::json;

use crate::desk::answer::{Answer, Ask};
use crate::desk::error::DeskError;
use crate::desk::form::Step;
use crate::desk::gate::Who;
use crate::desk::next::{self, Next, Standing};
use crate::desk::room::{Room, role_word};
use crate::facts::Moment;
use crate::findings::Level;
use crate::record::date::Date;
use crate::record::form::KnownBy;
use crate::register::{CaseFile, CaseId, Filed};

/// Most cases a search lists, and most without a day.
const MOST: u32 = 50;

/// One case of the list.
#[derive(Debug, Serialize)]
struct Row {
    id: CaseId,
    time: Option<String>,
    day: Option<String>,
    name: Option<String>,
    born: Option<String>,
    number: Option<String>,
    code: Option<String>,
    side: Option<String>,
    side_word: Option<String>,
    stops: usize,
    asks: usize,
    errors: usize,
    not_asked: usize,
    treated: bool,
    who: Option<&'static str>,
    mine: bool,
    next: Next,
    recheck: Option<String>,
    /// Minutes until the recheck; less than none once it is due.
    minutes: Option<i64>,
    step: &'static str,
}

/// The day that the address asks for, else today.
pub(in crate::desk) fn show(room: &mut Room, cookie: &str, who: &Who, ask: &Ask) -> Result<Answer, DeskError> {
    let today = room.today();
    let day = ask.fields.get("date").and_then(|text| text.parse::<Date>().ok()).map_or(today, |date| date.0);
    let sought = ask.fields.get("find").map(|words| words.trim()).filter(|words| !words.is_empty());
    let cases = match sought {
        Some(words) => room.register.find(words, MOST)?,
        None => room.register.day(day)?,
    };
    let rows = rows(room, who, &cases)?;
    let undated = if sought.is_none() { rows_of_undated(room, who)? } else { Vec::new() };
    let due = rows.iter().filter(|row| row.recheck.is_some()).min_by_key(|row| row.minutes);
    let shown = json!({
        "frame": room.frame(cookie, Some(who), "day")?,
        "title": room.words.locale.full_date(day),
        "date": day.to_string(),
        "before": day.checked_sub_days(Days::new(1)).unwrap_or(day).to_string(),
        "after": day.checked_add_days(Days::new(1)).unwrap_or(day).to_string(),
        "is_today": day == today,
        "sought": sought, "due": due, "rows": rows, "undated": undated,
    });
    room.page("day", shown)
}

fn rows_of_undated(room: &Room, who: &Who) -> Result<Vec<Row>, DeskError> {
    rows(room, who, &room.register.undated(MOST)?)
}

fn rows(room: &Room, who: &Who, cases: &[Filed]) -> Result<Vec<Row>, DeskError> {
    cases.iter().map(|case| row(room, who, case)).collect()
}

fn row(room: &Room, who: &Who, case: &Filed) -> Result<Row, DeskError> {
    let judged = room.judge(&case.file)?;
    let standing = next::standing(&room.form, &case.file, &judged, &room.register.issues(case.id)?);
    let text = |pointer: &str| case.file.text(pointer).map(str::to_owned);
    let starts = case.file.starts();
    let side = case.file.text("/eye/side");
    let time = |at: NaiveDateTime| room.words.locale.time(at.time());
    let now = room.local(room.now());
    Ok(Row {
        id: case.id,
        time: starts.map(time).transpose()?,
        day: starts.map(|at| room.words.locale.date(at.date())),
        name: text("/patient/name"),
        born: born(room, &case.file),
        number: text("/patient/record_number"),
        code: text("/case/code"),
        side: side.map(str::to_owned),
        side_word: side.map(|side| room.words.choice("/eye/side", side)).transpose()?,
        stops: next::count(&judged, Level::Stop),
        asks: next::count(&judged, Level::Ask),
        errors: standing.errors,
        not_asked: standing.not_asked,
        treated: judged.moment == Moment::After,
        who: standing.who.map(role_word),
        mine: standing.who == Some(who.role),
        next: standing.next,
        recheck: standing.recheck.map(time).transpose()?,
        minutes: standing.recheck.map(|at| (at - now).num_minutes()),
        step: step(&standing),
    })
}

fn born(room: &Room, file: &CaseFile) -> Option<String> {
    let day: NaiveDate = file.text("/patient/birth_date")?.parse::<Date>().ok()?.0;
    Some(room.words.locale.date(day))
}

/// The page on which the next step is done.
pub(in crate::desk) fn step(standing: &Standing) -> &'static str {
    match (standing.next, standing.who) {
        (Next::Answer, _) => Step::Surgeon.word(),
        (Next::RecordTreatment | Next::Recheck, _) => Step::Treatment.word(),
        (Next::PrintConsent | Next::PrintAftercare | Next::Done, _) => "print",
        (_, Some(KnownBy::Nurse)) => Step::Nurse.word(),
        (_, Some(KnownBy::Surgeon)) => Step::Surgeon.word(),
        _ => Step::Desk.word(),
    }
}
