//! Who are you? Nothing of a patient stands here.

use serde_json::json;

use crate::desk::answer::{Answer, Ask};
use crate::desk::error::DeskError;
use crate::desk::gate::Who;
use crate::desk::room::{Room, role_word};

/// The page, with what was wrong if something was.
pub(in crate::desk) fn show(room: &mut Room, cookie: &str, wrong: Option<String>) -> Result<Answer, DeskError> {
    let people = room.register.people()?;
    let people: Vec<_> =
        people.iter().map(|person| json!({ "name": person.name, "role": role_word(person.role) })).collect();
    let idle = room.gate.browser(cookie).locked_by_idleness;
    let frame = room.frame(cookie, None, "sign_in")?;
    let waits = room.gate.browser(cookie).waiting.is_some();
    let shown = json!({
        "frame": frame, "people": people, "wrong": wrong, "idle": idle, "waits": waits,
        "minutes": room.idle_minutes,
        "due": super::day::rechecks(room, false)?,
        "passphrase": room.example,
    });
    room.page("sign_in", shown)
}

/// Looks at a passphrase. Who it is of, or the page again.
pub(in crate::desk) fn sign_in(room: &mut Room, cookie: &str, ask: &Ask) -> Result<Result<Who, Answer>, DeskError> {
    let field = |name: &str| ask.fields.get(name).map_or("", String::as_str);
    let people = room.register.people()?;
    let Some(person) = people.into_iter().find(|person| person.name == field("name")) else {
        let says = room.words.word("sign_in.choose")?;
        return show(room, cookie, Some(says)).map(Err);
    };
    if let Some(pause) = room.gate.pause(&person.name) {
        let seconds = (pause.as_secs() + 1).to_string();
        let says = room.words.say("sign_in.wait", &[("name", &person.name), ("seconds", &seconds)])?;
        return show(room, cookie, Some(says)).map(Err);
    }
    if !person.passphrase.is(field("passphrase")) {
        room.gate.wrong(&person.name);
        let says = room.words.say("sign_in.wrong", &[("name", &person.name)])?;
        return show(room, cookie, Some(says)).map(Err);
    }
    let who = Who { name: person.name, role: person.role };
    room.gate.sign_in(cookie, who.clone());
    Ok(Ok(who))
}
