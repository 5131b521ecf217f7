//! The day: cases by time, what is open, who must act, and one next step each.

use chrono::{Days, NaiveDate, NaiveDateTime};
use serde::Serialize;
use serde_json::json;

use crate::desk::answer::{Answer, Ask};
use crate::desk::error::DeskError;
use crate::desk::form::Step;
use crate::desk::gate::Who;
use crate::desk::judge::Judged;
use crate::desk::next::{self, Next, Standing};
use crate::desk::room::{Room, role_word};
use crate::facts::{Moment, hours};
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
    /// The heaviest finding that waits, once all is filled in.
    first: Option<String>,
    errors: usize,
    not_asked: usize,
    treated: bool,
    who: Option<&'static str>,
    mine: bool,
    next: Next,
    recheck: Option<String>,
    /// The time until the recheck in words.
    left: Option<String>,
    /// When the surgeon was asked about it.
    asked: Option<String>,
    step: &'static str,
}

/// A case that waits for the surgeon.
#[derive(Debug, Serialize)]
struct AskedView {
    id: CaseId,
    name: Option<String>,
    side_word: Option<String>,
    by: String,
    at: String,
    says: String,
}

/// A recheck that somebody waits for.
#[derive(Debug, Serialize)]
pub(super) struct DueView {
    id: CaseId,
    step: &'static str,
    /// Nobody's name while the desk is locked.
    name: Option<String>,
    side_word: Option<String>,
    time: String,
    minutes: i64,
    left: String,
}

/// The day that is asked for, else today.
pub(in crate::desk) fn of(room: &Room, ask: &Ask) -> NaiveDate {
    ask.fields.get("date").and_then(|text| text.parse::<Date>().ok()).map_or_else(|| room.today(), |date| date.0)
}

/// The day that the address asks for, else today.
pub(in crate::desk) fn show(room: &mut Room, cookie: &str, who: &Who, ask: &Ask) -> Result<Answer, DeskError> {
    let (day, today) = (of(room, ask), room.today());
    let cases = room.register.day(day)?;
    let looked = looked(room, &cases)?;
    let due = if day == today { due_of(room, &looked, true)? } else { rechecks(room, true)? };
    let rows = rows(room, who, &looked)?;
    let prints = rows.iter().filter(|row| matches!(row.next, Next::PrintConsent | Next::PrintAftercare)).count();
    let backup = room.register.last_backup()?.map(|at| room.words.moment(room.local(at))).transpose()?;
    let acts = ask.fields.get("who").and_then(|word| KnownBy::ALL.into_iter().find(|who| role_word(*who) == word));
    let acts = acts.map(role_word);
    let shown = json!({
        "frame": room.frame(cookie, Some(who), "day")?,
        "backup": backup,
        "title": room.words.locale.full_date(day),
        "date": day.to_string(),
        "before": day.checked_sub_days(Days::new(1)).unwrap_or(day).to_string(),
        "after": day.checked_add_days(Days::new(1)).unwrap_or(day).to_string(),
        "is_today": day == today,
        "sought": null, "due": due, "all": rows.len(), "people": people(&rows), "acts": acts,
        "rows": rows.iter().filter(|row| acts.is_none() || row.who == acts).collect::<Vec<_>>(),
        "undated": rows_of_undated(room, who)?, "prints": prints,
        "asked": asked(room)?,
        "may_clear": who.role == KnownBy::Surgeon, "may_take_in": who.role != KnownBy::Desk,
    });
    room.page("day", shown)
}

/// The cases that hold what was searched for.
pub(in crate::desk) fn found(room: &mut Room, cookie: &str, who: &Who) -> Result<Answer, DeskError> {
    let sought = room.gate.browser(cookie).sought.clone().filter(|words| !words.trim().is_empty());
    let Some(sought) = sought else { return Ok(Answer::go("/day")) };
    let cases = room.register.find(&sought, MOST)?;
    let rows = rows(room, who, &looked(room, &cases)?)?;
    let today = room.today();
    let shown = json!({
        "frame": room.frame(cookie, Some(who), "day")?,
        "title": room.words.word("day.found")?,
        "before": today.pred_opt().unwrap_or(today).to_string(),
        "after": today.succ_opt().unwrap_or(today).to_string(),
        "sought": sought, "due": rechecks(room, true)?, "all": rows.len(), "rows": rows,
    });
    room.page("day", shown)
}

/// How many cases of the list wait for whom.
fn people(rows: &[Row]) -> Vec<(&'static str, usize)> {
    let waits = |who: KnownBy| rows.iter().filter(|row| row.who == Some(role_word(who))).count();
    KnownBy::ALL.map(|who| (role_word(who), waits(who))).into()
}

/// The rechecks of today, for a page that asks again by itself. It is no sign of life, and names nobody on a locked desk.
pub(in crate::desk) fn due(room: &mut Room, cookie: &str) -> Result<Answer, DeskError> {
    let named = room.gate.is_open(cookie);
    let shown = json!({ "due": rechecks(room, named)? });
    room.page("due", shown)
}

/// The rechecks of today that were not measured, the next one first.
pub(super) fn rechecks(room: &Room, named: bool) -> Result<Vec<DueView>, DeskError> {
    let cases = room.register.day(room.today())?;
    due_of(room, &looked(room, &cases)?, named)
}

fn due_of(room: &Room, cases: &[Looked], named: bool) -> Result<Vec<DueView>, DeskError> {
    let mut due = Vec::new();
    for Looked { case, standing, .. } in cases {
        let Some(at) = standing.recheck.filter(|_| standing.next == Next::Recheck) else { continue };
        due.push(DueView {
            id: case.id,
            step: step(standing),
            name: case.file.text("/patient/name").filter(|_| named).map(str::to_owned),
            side_word: room.words.side(&case.file),
            time: room.words.locale.time(at.time())?,
            minutes: minutes(room, at),
            left: left(room, at)?,
        });
    }
    due.sort_by_key(|due| due.minutes);
    Ok(due)
}

/// Minutes until a local time, also over a change of the clocks; none are left once it has come.
fn minutes(room: &Room, at: NaiveDateTime) -> i64 {
    let due = hours::instant(room.practice.profile.practice.time_zone.0, at).naive_utc();
    // A minute that has begun counts.
    (due - room.now()).num_seconds().div_euclid(60)
}

/// The time left in words.
pub(in crate::desk) fn left(room: &Room, at: NaiveDateTime) -> Result<String, DeskError> {
    let minutes = minutes(room, at);
    let (hours, rest) = ((minutes.abs() / 60).to_string(), (minutes.abs() % 60).to_string());
    let values = [("hours", hours.as_str()), ("minutes", rest.as_str())];
    let key = match (minutes > 0, minutes.abs() >= 60) {
        (true, true) => "due.in_hours",
        (true, false) => "due.in_minutes",
        (false, _) if minutes == 0 => "due.now",
        (false, true) => "due.since_hours",
        (false, false) => "due.since_minutes",
    };
    room.words.say(key, &values)
}

/// What the surgeon is asked, on whatever day.
fn asked(room: &Room) -> Result<Vec<AskedView>, DeskError> {
    let cases = room.register.asked()?.into_iter();
    let view = |case: Filed| -> Result<Option<AskedView>, DeskError> {
        let Some(asked) = &case.file.asked else { return Ok(None) };
        Ok(Some(AskedView {
            id: case.id,
            name: case.file.text("/patient/name").map(str::to_owned),
            side_word: room.words.side(&case.file),
            by: asked.by.clone(),
            at: said_at(room, asked.at)?,
            says: asked.says.clone(),
        }))
    };
    cases.filter_map(|case| view(case).transpose()).collect()
}

/// A time of the past, UTC: the clock alone if it was today.
pub(in crate::desk) fn said_at(room: &Room, at: NaiveDateTime) -> Result<String, DeskError> {
    let at = room.local(at);
    if at.date() == room.today() { Ok(room.words.locale.time(at.time())?) } else { room.words.moment(at) }
}

fn rows_of_undated(room: &Room, who: &Who) -> Result<Vec<Row>, DeskError> {
    rows(room, who, &looked(room, &room.register.undated(MOST)?)?)
}

/// A case with what the library says of it, and where it stands.
struct Looked<'c> {
    case: &'c Filed,
    judged: Judged,
    standing: Standing,
}

fn looked<'c>(room: &Room, cases: &'c [Filed]) -> Result<Vec<Looked<'c>>, DeskError> {
    let look = |(case, judged): (&'c Filed, Judged)| {
        let standing = next::standing(&room.form, &case.file, &judged, &room.register.issues(case.id)?);
        Ok(Looked { case, judged, standing })
    };
    cases.iter().zip(room.judge_all(cases)?).map(look).collect()
}

fn rows(room: &Room, who: &Who, cases: &[Looked]) -> Result<Vec<Row>, DeskError> {
    cases.iter().map(|looked| row(room, who, looked)).collect()
}

fn row(room: &Room, who: &Who, looked: &Looked) -> Result<Row, DeskError> {
    let Looked { case, judged, standing } = looked;
    let text = |pointer: &str| case.file.text(pointer).map(str::to_owned);
    let starts = case.file.starts();
    let side = case.file.text("/eye/side");
    let time = |at: NaiveDateTime| room.words.locale.time(at.time());
    Ok(Row {
        id: case.id,
        time: starts.map(time).transpose()?,
        day: starts.map(|at| room.words.locale.date(at.date())),
        name: text("/patient/name"),
        born: born(room, &case.file),
        number: text("/patient/record_number"),
        code: text("/case/code"),
        side: side.map(str::to_owned),
        side_word: room.words.side(&case.file),
        stops: next::count(judged, Level::Stop),
        asks: next::count(judged, Level::Ask),
        first: if standing.next == Next::Answer { judged.withheld_by().into_iter().next() } else { None },
        errors: standing.errors,
        not_asked: standing.not_asked,
        treated: judged.moment == Moment::After,
        who: standing.who.map(role_word),
        mine: standing.who == Some(who.role),
        next: standing.next,
        recheck: standing.recheck.map(time).transpose()?,
        left: standing.recheck.map(|at| left(room, at)).transpose()?,
        asked: case.file.asked.as_ref().map(|asked| said_at(room, asked.at)).transpose()?,
        step: step(standing),
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
        (Next::PrintConsent | Next::PrintAftercare | Next::Release | Next::Done, _) => "print",
        (_, Some(KnownBy::Nurse)) => Step::Nurse.word(),
        (_, Some(KnownBy::Surgeon)) => Step::Surgeon.word(),
        _ => Step::Desk.word(),
    }
}
