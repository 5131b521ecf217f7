//! Which address does what. Every page needs a browser that was let in, every change its token, and all but the door
//! somebody who has signed in.

use super::answer::{Answer, Ask};
use super::change::{change, tailor};
use super::confirm::confirm;
use super::error::DeskError;
use super::form::Step;
use super::gate::{Who, same, token};
use super::pages;
use super::press::{Look, NotMade, Order, Proof};
use super::room::Room;
use super::screens::{case, day, print, profile, proof, sign_in};
use crate::packet::Packet;
use crate::record::form::KnownBy;
use crate::register::{CaseFile, CaseId, RegisterError};

/// What an address leads to.
#[derive(Debug)]
pub(super) enum Reply {
    /// A page.
    Done(Answer),
    /// Pages that are to be issued.
    Issue(Box<Order>),
    /// Pages that are to be looked at; nothing if the case cannot be laid out.
    Proof(Visit, Option<Box<Look>>),
    /// One of them as a picture.
    Page(Box<Look>, usize),
}

/// Who looks at which pages.
#[derive(Debug)]
pub(super) struct Visit {
    cookie: String,
    who: Who,
    case: CaseId,
    statement: Option<String>,
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
        Err(DeskError::Register(RegisterError::NoCase)) => refused(room, 404, "enter.not_found").into(),
        Err(error @ DeskError::Register(_)) => plain(room, 503, &error.to_string()).into(),
        Err(error) => plain(room, 500, &error.to_string()).into(),
    }
}

fn route(room: &mut Room, ask: Ask) -> Result<Reply, DeskError> {
    let path: Vec<&str> = ask.path.iter().map(String::as_str).collect();
    if let ["open", key] = path[..] {
        return Ok(enter(room, key, ask.is_post)?.into());
    }
    let Some(cookie) = ask.cookie.clone().filter(|cookie| room.gate.knows(Some(cookie))) else {
        return Ok(refused(room, 403, "enter.no_key").into());
    };
    match (ask.is_post, &path[..]) {
        (false, ["style.css"]) => return Ok(asset(room, "style.css", "text/css; charset=utf-8")?.into()),
        (false, ["desk.js"]) => return Ok(asset(room, "desk.js", "text/javascript; charset=utf-8")?.into()),
        (false, ["icon.svg"]) => return Ok(asset(room, "icon.svg", "image/svg+xml")?.into()),
        (true, _) if !ask.fields.get("token").is_some_and(|sent| same(sent, &token(&cookie))) => {
            return Ok(refused(room, 403, "enter.expired").into());
        }
        _ => {}
    }
    match room.gate.who(&cookie) {
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
            if matches!(ask.path.first().map(String::as_str), Some("day" | "practice" | "case")) {
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
    let Some(cookie) = (!is_post).then(|| room.gate.enter(key, room.register.as_mut())).transpose()?.flatten() else {
        return Ok(refused(room, 403, "enter.used"));
    };
    let page = room.page("enter", serde_json::json!({ "language": room.words.locale.tag }))?;
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
        ["practice"] => Some(profile::show(room, cookie, who)?),
        ["case", id, step] => return of_case(room, cookie, who, ask, number(id), step),
        ["case", id, "page", name] => return picture(room, number(id), name),
        ["issue", issue, place] => match (number(issue), place.parse().ok()) {
            (Some(issue), Some(place)) => print::file(room, issue, place)?,
            _ => None,
        },
        _ => None,
    };
    Ok(found.unwrap_or_else(|| refused(room, 404, "enter.not_found")).into())
}

fn of_case(
    room: &mut Room,
    cookie: &str,
    who: &Who,
    ask: &Ask,
    id: Option<CaseId>,
    step: &str,
) -> Result<Reply, DeskError> {
    let Some(id) = id else { return Ok(refused(room, 404, "enter.not_found").into()) };
    if step == "pages" {
        let statement = ask.fields.get("statement").cloned();
        let visit = Visit { cookie: cookie.to_owned(), who: who.clone(), case: id, statement };
        return Ok(Reply::Proof(visit, proof::wanted(room, id)?.map(Box::new)));
    }
    let page = match Step::of(step) {
        Some(step) => case::show(room, cookie, who, id, step)?,
        None if step == "print" => print::show(room, cookie, who, id)?,
        None => refused(room, 404, "enter.not_found"),
    };
    Ok(page.into())
}

/// A picture `VERSION-PAGE.svg` of the case as it stands; of an earlier version nobody asks any longer.
fn picture(room: &mut Room, id: Option<CaseId>, name: &str) -> Result<Reply, DeskError> {
    let asked = name.strip_suffix(".svg").and_then(|name| name.split_once('-'));
    let asked = asked.and_then(|(version, page)| Some((number(version)?, page.parse::<usize>().ok()?)));
    if let (Some(id), Some((version, page))) = (id, asked)
        && let Some(wanted) = proof::wanted(room, id)?.filter(|wanted| wanted.version == version)
    {
        return Ok(Reply::Page(Box::new(wanted), page));
    }
    Ok(refused(room, 404, "enter.not_found").into())
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
        ["case"] => Ok(begin(room)?.into()),
        ["case", id, "print"] => match number(id) {
            Some(id) => match print::order(room, cookie, who, id)? {
                Some(order) => Ok(Reply::Issue(Box::new(order))),
                None => Ok(Answer::go(format!("/case/{id}/print")).into()),
            },
            None => Ok(refused(room, 404, "enter.not_found").into()),
        },
        ["case", id, "pages"] => match number(id) {
            Some(id) => Ok(tailor(room, cookie, who, id, &ask.fields)?.into()),
            None => Ok(refused(room, 404, "enter.not_found").into()),
        },
        ["case", id, step] => match (number(id), Step::of(step)) {
            (Some(id), Some(step)) => Ok(change(room, cookie, who, id, step, &ask.fields)?.into()),
            _ => Ok(refused(room, 404, "enter.not_found").into()),
        },
        _ => Ok(refused(room, 404, "enter.not_found").into()),
    }
}

fn number(text: &str) -> Option<CaseId> {
    text.parse().ok().filter(|number| *number > 0)
}

/// A new case, with a code that says nothing about anybody.
fn begin(room: &mut Room) -> Result<Answer, DeskError> {
    let day = room.today().format("%y%m%d").to_string();
    for at in 1.. {
        let code = format!("{day}-{at}");
        let file = CaseFile::of(serde_json::json!({ "case": { "code": code, "revision": 1 } }));
        match room.register.add(&file) {
            Ok(id) => return Ok(Answer::go(format!("/case/{id}/desk"))),
            Err(RegisterError::CodeTaken) => {}
            Err(error) => return Err(error.into()),
        }
    }
    unreachable!("there is always a next number")
}

/// A page of nothing but a sentence, for whoever does not come in.
fn refused(room: &Room, status: u16, why: &str) -> Answer {
    match room.words.word(why) {
        Ok(says) => plain(room, status, &says),
        Err(error) => plain(room, 500, &error.to_string()),
    }
}

fn plain(room: &Room, status: u16, says: &str) -> Answer {
    let shown = serde_json::json!({ "language": room.words.locale.tag, "says": says });
    match room.pages.render("refused", shown) {
        Ok(page) => Answer::html(status, page),
        Err(_) => Answer::bytes(status, "text/plain; charset=utf-8", says.as_bytes().to_vec()),
    }
}

/// Keeps what was made; what goes wrong is a page too.
pub(super) fn issued(room: &mut Room, order: &Order, made: Result<Vec<(CaseId, Packet)>, NotMade>) -> Answer {
    print::issued(room, order, made).unwrap_or_else(|error| plain(room, 500, &error.to_string()))
}

/// Shows what was made to be looked at.
pub(super) fn proof(room: &mut Room, visit: &Visit, made: Option<Result<Proof, NotMade>>) -> Answer {
    let Visit { cookie, who, case, statement } = visit;
    match proof::show(room, cookie, who, *case, statement.as_deref(), made) {
        Ok(page) => page,
        Err(error) => plain(room, 500, &error.to_string()),
    }
}
