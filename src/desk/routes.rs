//! Which address does what. Every page needs a browser that was let in, every change its token, and all but the door
//! somebody who has signed in.

use std::sync::Arc;

use chrono::NaiveDateTime;
use serde_json::{Map, Value, json};

use super::answer::{Answer, Ask};
use super::batch::Became;
use super::change::{Sent, change, tailor};
use super::confirm::confirm;
use super::error::DeskError;
use super::form::Step;
use super::form::save::Fields;
use super::gate::{Who, same, token};
use super::issued;
use super::order::order;
use super::pages;
use super::press::{Look, NotMade, Order, Proof, Which};
use super::room::Room;
use super::screens::proof::Chosen;
use super::screens::{batch, case, day, outcome, print, profile, proof, results, sign_in, take_in, verify, visits};
use crate::packet::Packet;
use crate::practice::Draft;
use crate::record::form::KnownBy;
use crate::register::{CaseFile, CaseId, RegisterError};
use crate::verify::{Received, Refused};

/// What an address leads to.
#[derive(Debug)]
pub(super) enum Reply {
    /// A page.
    Done(Answer),
    /// Pages that are to be issued.
    Issue(Box<Order>),
    /// A page, and a day that is to be issued case by case.
    Batch(Answer),
    /// Pages that are to be looked at; nothing if the case cannot be laid out.
    Proof(Visit, Option<Box<Look>>),
    /// A file that is to be verified.
    Verify(Visitor, Vec<u8>),
    /// One of them as a picture.
    Page(Box<Look>, Which),
    /// The suitability sheet of a case as far as it goes, at this time, UTC.
    Suitability(Box<Draft>, NaiveDateTime),
}

/// Who waits for an answer.
#[derive(Debug)]
pub(super) struct Visitor {
    cookie: String,
    who: Who,
}

/// Who looks at which pages.
#[derive(Debug)]
pub(super) struct Visit {
    cookie: String,
    who: Who,
    case: CaseId,
    /// What of them is looked at on their own page; beside a form it is what the last change altered.
    chosen: Option<Chosen>,
}

impl From<Answer> for Reply {
    fn from(answer: Answer) -> Self {
        Self::Done(answer)
    }
}

/// Answers; what goes wrong is a page too.
pub(super) fn answer(room: &mut Room, ask: Ask) -> Reply {
    match route(room, ask) {
        Ok(reply) => reply,
        Err(DeskError::Register(RegisterError::NoCase)) => room.refused(404, "enter.not_found").into(),
        Err(error @ DeskError::Register(_)) => room.plain(503, &error.to_string()).into(),
        Err(error) => room.plain(500, &error.to_string()).into(),
    }
}

fn route(room: &mut Room, ask: Ask) -> Result<Reply, DeskError> {
    let path: Vec<&str> = ask.path.iter().map(String::as_str).collect();
    if let ["open", key] = path[..] {
        return Ok(enter(room, key, ask.is_post)?.into());
    }
    let Some(cookie) = ask.cookie.clone().filter(|cookie| room.gate.knows(Some(cookie))) else {
        return Ok(room.refused(403, "enter.no_key").into());
    };
    match (ask.is_post, &path[..]) {
        (false, ["style.css"]) => return Ok(asset(room, "style.css", "text/css; charset=utf-8")?.into()),
        (false, ["desk.js"]) => return Ok(asset(room, "desk.js", "text/javascript; charset=utf-8")?.into()),
        (false, ["due"]) => return Ok(day::due(room, &cookie)?.into()),
        (false, ["icon.svg"]) => return Ok(asset(room, "icon.svg", "image/svg+xml")?.into()),
        (true, _) if !ask.fields.get("token").is_some_and(|sent| same(sent, &token(&cookie))) => {
            return Ok(room.refused(403, "enter.expired").into());
        }
        _ => {}
    }
    match room.who(&cookie)? {
        Some(who) if ask.is_post => post(room, &cookie, &who, &ask),
        Some(who) => get(room, &cookie, &who, &ask),
        None => door(room, &cookie, ask),
    }
}

/// Before anybody has signed in: what was typed waits, and so does the page that was asked for.
fn door(room: &mut Room, cookie: &str, ask: Ask) -> Result<Reply, DeskError> {
    let at_door = ask.path == ["sign-in"];
    match (ask.is_post, at_door) {
        (false, true) => Ok(sign_in::show(room, cookie, None)?.into()),
        (false, false) => {
            // A browser also asks for what is no page, such as an icon.
            if matches!(
                ask.path.first().map(String::as_str),
                Some("day" | "practice" | "case" | "visits" | "results" | "take-in" | "verify")
            ) {
                room.gate.browser(cookie).onward = Some(format!("/{}", ask.path.join("/")));
            }
            Ok(Answer::go("/sign-in").into())
        }
        (true, false) => {
            room.gate.browser(cookie).waiting = Some(ask);
            Ok(Answer::go("/sign-in").into())
        }
        (true, true) => match sign_in::sign_in(room, cookie, &ask)? {
            Err(again) => Ok(again.into()),
            Ok(who) => {
                let browser = room.gate.browser(cookie);
                let (waiting, onward) = (browser.waiting.take(), browser.onward.take());
                match waiting {
                    Some(waiting) => post(room, cookie, &who, &waiting),
                    None => Ok(Answer::go(onward.unwrap_or_else(|| "/day".into())).into()),
                }
            }
        },
    }
}

/// The one-time key: a page that sets the cookie and goes on by itself. A redirect would be part of the visit from
/// elsewhere, and a strict cookie would not follow it.
fn enter(room: &mut Room, key: &str, is_post: bool) -> Result<Answer, DeskError> {
    let Some(cookie) = (!is_post).then(|| room.gate.enter(key)).transpose()?.flatten() else {
        return Ok(room.refused(403, "enter.used"));
    };
    let page = room.page("enter", serde_json::json!({ "language": room.words.locale.tag, "to": "/day" }))?;
    Ok(Answer { cookie: Some(cookie), ..page })
}

fn asset(room: &Room, name: &str, media: &'static str) -> Result<Answer, DeskError> {
    Ok(Answer::bytes(200, media, pages::file(&room.practice.assets, name)?))
}

fn get(room: &mut Room, cookie: &str, who: &Who, ask: &Ask) -> Result<Reply, DeskError> {
    let path: Vec<&str> = ask.path.iter().map(String::as_str).collect();
    let found = match path[..] {
        [] | ["sign-in"] => Some(Answer::go("/day")),
        ["day"] => Some(day::show(room, cookie, who, ask)?),
        ["day", "found"] => Some(day::found(room, cookie, who)?),
        ["day", "print"] => Some(batch::show(room, cookie, who, day::of(room, ask))?),
        ["day", "print", "job"] => batch::job(room)?,
        ["visits"] => Some(visits::show(room, cookie, who)?),
        ["results"] => Some(results::show(room, cookie, who, ask)?),
        ["results", "print"] => results::print(room, ask)?,
        ["take-in"] if who.role != KnownBy::Desk => Some(take_in::show(room, cookie, who)?),
        ["practice"] => Some(profile::show(room, cookie, who)?),
        ["verify"] => Some(verify::show(room, cookie, who)?),
        ["practice", "file"] => {
            let path = ask.fields.get("path").map_or("", String::as_str);
            profile::file(room, cookie, who, path)?
        }
        ["case", id, step] => return of_case(room, cookie, who, ask, number(id), step),
        ["case", id, "page", name] => return picture(room, number(id), name),
        ["issue", issue, "job"] => number(issue).map(|issue| print::job(room, issue)).transpose()?.flatten(),
        ["issue", issue, place] => match (number(issue), place.parse().ok()) {
            (Some(issue), Some(place)) => issued::file(room, issue, place)?,
            _ => None,
        },
        _ => None,
    };
    Ok(found.unwrap_or_else(|| room.refused(404, "enter.not_found")).into())
}

fn of_case(
    room: &mut Room,
    cookie: &str,
    who: &Who,
    ask: &Ask,
    id: Option<CaseId>,
    step: &str,
) -> Result<Reply, DeskError> {
    let Some(id) = id else { return Ok(room.refused(404, "enter.not_found").into()) };
    if step == "pages" || step == "preview" {
        let chosen = (step == "pages").then(|| Chosen::of(&ask.fields));
        let visit = Visit { cookie: cookie.to_owned(), who: who.clone(), case: id, chosen };
        return Ok(Reply::Proof(visit, proof::wanted(room, id)?.map(Box::new)));
    }
    if step == "suitability" {
        let draft = room.judge(id, &room.case(id)?.file)?.draft;
        return Ok(Reply::Suitability(Box::new(draft), room.now()));
    }
    let page = match Step::of(step) {
        Some(step) => case::show(room, cookie, who, id, step)?,
        None if step == "print" => print::show(room, cookie, who, id)?,
        None if step == "outcome" => match outcome::show(room, cookie, who, id, &ask.fields)? {
            Some(page) => page,
            None => room.refused(404, "enter.not_found"),
        },
        None => room.refused(404, "enter.not_found"),
    };
    Ok(page.into())
}

/// A picture `VERSION-PAGE.svg` or `VERSION-altered.svg` of the case as it stands; of an earlier version nobody asks any
/// longer.
fn picture(room: &mut Room, id: Option<CaseId>, name: &str) -> Result<Reply, DeskError> {
    let asked = name.strip_suffix(".svg").and_then(|name| name.split_once('-'));
    let which = |page: &str| match page {
        "altered" => Some(Which::Altered),
        number => number.parse().ok().map(Which::Number),
    };
    let asked = asked.and_then(|(version, page)| Some((number(version)?, which(page)?)));
    if let (Some(id), Some((version, which))) = (id, asked)
        && let Some(wanted) = proof::wanted(room, id)?.filter(|wanted| wanted.version == version)
    {
        return Ok(Reply::Page(Box::new(wanted), which));
    }
    Ok(room.refused(404, "enter.not_found").into())
}

fn post(room: &mut Room, cookie: &str, who: &Who, ask: &Ask) -> Result<Reply, DeskError> {
    let path: Vec<&str> = ask.path.iter().map(String::as_str).collect();
    match path[..] {
        ["lock"] => {
            room.gate.lock(cookie);
            Ok(Answer::go("/sign-in").into())
        }
        ["practice"] if who.role == KnownBy::Surgeon => {
            let passphrase = ask.fields.get("passphrase").map_or("", String::as_str);
            if let Some(says) = confirm(room, who, passphrase)? {
                room.tell(cookie, says);
            }
            Ok(Answer::go("/practice").into())
        }
        ["verify"] => Ok(match &ask.file {
            Some(bytes) => Reply::Verify(Visitor { cookie: cookie.to_owned(), who: who.clone() }, bytes.clone()),
            None => Answer::go("/verify").into(),
        }),
        ["day", "print"] => issue_day(room, cookie, who, ask),
        ["day", "found"] => {
            room.gate.browser(cookie).sought = ask.fields.get("find").cloned();
            Ok(Answer::go("/day/found").into())
        }
        ["case"] => Ok(Answer::go(format!("/case/{}/desk#form", begin(room, Value::Object(Map::new()))?)).into()),
        ["take-in"] if who.role != KnownBy::Desk => Ok(take_in::read(room, cookie, who, ask)?.into()),
        ["take-in", "accept"] if who.role != KnownBy::Desk => Ok(accept(room, cookie, &ask.fields)?.into()),
        ["case", id, step] => match number(id) {
            Some(case) => to_case(room, &Sent { cookie, who, case, fields: &ask.fields }, step),
            None => Ok(room.refused(404, "enter.not_found").into()),
        },
        _ => Ok(room.refused(404, "enter.not_found").into()),
    }
}

/// What is sent to a page of a case.
fn to_case(room: &mut Room, sent: &Sent, page: &str) -> Result<Reply, DeskError> {
    match (page, Step::of(page)) {
        ("print", _) => match order(room, sent.cookie, sent.who, sent.case, print::papers_in(sent.fields))? {
            Some(order) => Ok(Reply::Issue(Box::new(order))),
            None => Ok(Answer::go(format!("/case/{}/print", sent.case)).into()),
        },
        ("pages", _) => Ok(tailor(room, sent)?.into()),
        ("outcome", _) => match outcome::send(room, sent)? {
            Some(page) => Ok(page.into()),
            None => Ok(room.refused(404, "enter.not_found").into()),
        },
        (_, Some(step)) => Ok(change(room, sent, step)?.into()),
        _ => Ok(room.refused(404, "enter.not_found").into()),
    }
}

/// Issues a day as a batch, or ends the one that is on its way.
fn issue_day(room: &mut Room, cookie: &str, who: &Who, ask: &Ask) -> Result<Reply, DeskError> {
    let day = day::of(room, ask);
    let page = Answer::go(format!("/day/print?date={day}"));
    if ask.fields.get("do").is_some_and(|done| done == "stop") {
        if let Some(batch) = &mut room.batch {
            batch.stop();
        }
        return Ok(page.into());
    }
    Ok(if batch::begin(room, cookie, who, day)? { Reply::Batch(page) } else { page.into() })
}

/// What the batch makes next; nothing once it is done.
pub(super) fn next_of_batch(room: &mut Room) -> Option<Order> {
    loop {
        match batch::next(room) {
            Ok(order) => return order,
            Err(error) => batch::became(room, Became::Refused(error.to_string())),
        }
    }
}

/// Keeps what was made of the batch; a case that goes wrong costs none of the others.
pub(super) fn made_of_batch(room: &mut Room, order: &Order, made: Result<Vec<(CaseId, Packet)>, NotMade>) {
    if let Err(error) = batch::made(room, order, made) {
        batch::became(room, Became::Refused(error.to_string()));
    }
}

/// Notes that the program failed with the case that is on its way.
pub(super) fn failed_in_batch(room: &mut Room) {
    let says = room.words.word("enter.failed").unwrap_or_default();
    batch::became(room, Became::Refused(says));
}

fn number(text: &str) -> Option<CaseId> {
    text.parse().ok().filter(|number| *number > 0)
}

/// A new case with what its record holds already, and a code that says nothing about anybody.
fn begin(room: &mut Room, mut record: Value) -> Result<CaseId, DeskError> {
    let day = room.today().format("%y%m%d").to_string();
    for at in 1.. {
        record["case"] = json!({ "code": format!("{day}-{at}"), "revision": 1 });
        match room.register.add(&CaseFile::of(record.clone())) {
            Err(RegisterError::CodeTaken) => {}
            added => return Ok(added?),
        }
    }
    unreachable!("there is always a next number")
}

/// Begins a case with what came from another system, once; or discards it.
fn accept(room: &mut Room, cookie: &str, fields: &Fields) -> Result<Answer, DeskError> {
    if fields.get("do").is_some_and(|done| done == "discard") {
        room.gate.browser(cookie).came = None;
        return Ok(Answer::go("/take-in"));
    }
    let Some((record, taken, asked)) = take_in::accepted(room, cookie) else { return Ok(Answer::go("/take-in")) };
    let id = begin(room, record)?;
    take_in::begun(room, cookie, id);
    let says = room.words.say("take_in.made", &[("taken", &taken.to_string()), ("asked", &asked.to_string())])?;
    room.tell(cookie, says);
    Ok(Answer::go("/take-in"))
}

/// Keeps what was made; what goes wrong is a page too.
pub(super) fn issued(room: &mut Room, order: &Order, made: Result<Vec<(CaseId, Packet)>, NotMade>) -> Answer {
    print::issued(room, order, made).unwrap_or_else(|error| room.plain(500, &error.to_string()))
}

/// Shows what was found out about a file.
pub(super) fn verified(room: &mut Room, visitor: &Visitor, read: Result<Received, Refused>) -> Answer {
    verify::found(room, &visitor.cookie, &visitor.who, read).unwrap_or_else(|error| room.plain(500, &error.to_string()))
}

/// Shows what was made to be looked at.
pub(super) fn proof(room: &mut Room, visit: &Visit, made: Option<Result<Arc<Proof>, NotMade>>) -> Answer {
    let Visit { cookie, who, case, chosen } = visit;
    let page = match chosen {
        Some(chosen) => proof::show(room, cookie, who, *case, chosen, made),
        None => proof::beside(room, *case, made),
    };
    match page {
        Ok(page) => page,
        Err(error) => room.plain(500, &error.to_string()),
    }
}

/// A sheet that was made at once; nobody keeps it.
pub(super) fn sheet(room: &Room, made: Result<(String, Vec<u8>), NotMade>) -> Answer {
    match made {
        Ok((name, bytes)) => Answer { file: Some(name), ..Answer::bytes(200, "application/pdf", bytes) },
        Err(why) => room.plain(500, &why.to_string()),
    }
}
