//! What a page of a case sends: its fields are saved first, whatever else is to be done.

use super::answer::Answer;
use super::error::DeskError;
use super::form::save::{self, Fields};
use super::form::view::{Viewer, id as field_id};
use super::form::{Form, Step, may_fill};
use super::gate::Who;
use super::room::Room;
use super::sign;
use crate::record::form::KnownBy;
use crate::register::{CaseFile, CaseId, RegisterError};

/// How often a save is tried again that another program came in front of.
const TRIES: usize = 5;

/// Saves the fields of a step, then does what the button says: `save SECTION`, `none SECTION`, `take POINTER`,
/// `is POINTER VALUE`, `sign FINDING`, `undo`, `lock`.
pub(super) fn change(
    room: &mut Room,
    cookie: &str,
    who: &Who,
    id: CaseId,
    step: Step,
    fields: &Fields,
) -> Result<Answer, DeskError> {
    let (what, about) = fields.get("do").map_or(("save", ""), |done| done.split_once(' ').unwrap_or((done, "")));
    let here = format!("/case/{id}/{}", step.word());
    save_fields(room, cookie, who, id, step, fields)?;
    let may = |room: &Room, pointer: &str| room.form.may_fill(who.role, step, pointer);
    match what {
        "lock" => {
            room.gate.browser(cookie).onward = Some(here);
            room.gate.lock(cookie);
            return Ok(Answer::go("/sign-in"));
        }
        "undo" => undo(room, cookie, who, id)?,
        "none" if may_fill(who.role, step) => {
            alter(room, cookie, who, id, |form, file| {
                if let Some(section) = form.sections_of(step).find(|section| section.id == about && section.none) {
                    save::answer_whole(form, section, file);
                }
            })?;
        }
        "take" if may(room, about) => alter(room, cookie, who, id, |_, file| save::take_out(file, about))?,
        "is" => {
            if let Some((pointer, value)) = about.split_once(' ').filter(|(pointer, _)| may(room, pointer)) {
                alter(room, cookie, who, id, |form, file| save::choose(form, file, pointer, value))?;
                return Ok(Answer::go(format!("{here}#{}", field_id(pointer))));
            }
        }
        "sign" if who.role == KnownBy::Surgeon => {
            let field = |name: &str| fields.get(name).map_or("", String::as_str);
            let (reason, passphrase) = (field(&format!("reason {about}")), field(&format!("passphrase {about}")));
            if let Some(says) = sign::answer(room, who, id, about, reason, passphrase)? {
                room.tell(cookie, says);
            }
            return Ok(Answer::go(format!("{here}#findings")));
        }
        _ => {}
    }
    Ok(Answer::go(format!("{here}{}", onward(room, id, step, about)?)))
}

/// Changes by hand what the patient reads, signed by a surgeon.
pub(super) fn tailor(
    room: &mut Room,
    cookie: &str,
    who: &Who,
    id: CaseId,
    fields: &Fields,
) -> Result<Answer, DeskError> {
    let field = |name: &str| fields.get(name).map_or("", String::as_str);
    let here = format!("/case/{id}/pages");
    match field("do").split_once(' ') {
        Some(("tailor", statement)) if who.role == KnownBy::Surgeon => {
            let hand = sign::Hand { statement, change: field("change"), reason: field("reason") };
            if let Some(says) = sign::tailor(room, who, id, &hand, field("passphrase"))? {
                room.tell(cookie, says);
            }
        }
        _ if field("do") == "lock" => {
            room.gate.browser(cookie).onward = Some(here);
            room.gate.lock(cookie);
            return Ok(Answer::go("/sign-in"));
        }
        _ => {}
    }
    Ok(Answer::go(here))
}

/// Saves what may be filled in and was changed on the page.
fn save_fields(
    room: &mut Room,
    cookie: &str,
    who: &Who,
    id: CaseId,
    step: Step,
    fields: &Fields,
) -> Result<(), DeskError> {
    let mut mine = fields.clone();
    let plain = |name: &str| name.trim_start_matches(['~', '=', ':']).to_owned();
    mine.retain(|name, _| room.form.may_fill(who.role, step, &plain(name)));
    let version = fields.get("version").and_then(|version| version.parse().ok());
    let base = match version {
        Some(version) => room.register.at_version(id, version)?,
        None => None,
    };
    let around = room.around();
    alter(room, cookie, who, id, |form, file| {
        let now = file.clone();
        *file = save::apply(form, step, &mine, base.as_ref().unwrap_or(&now), &now, around);
    })
}

/// Changes a case, once more if another program came in front. An answer falls whose values changed.
fn alter(
    room: &mut Room,
    cookie: &str,
    who: &Who,
    id: CaseId,
    mut change: impl FnMut(&Form, &mut CaseFile),
) -> Result<(), DeskError> {
    for _ in 0..TRIES {
        let now = room.case(id)?;
        let mut file = now.file.clone();
        change(&room.form, &mut file);
        sign::let_fall(&mut file);
        if file == now.file {
            return Ok(());
        }
        let act = room.act(who, what_changed(room, &now.file, &file)?);
        match room.register.save(&now, &file, &act) {
            Ok(_) => return Ok(()),
            Err(RegisterError::Changed) => {}
            // Everything else of the page is kept; the code stays what it was.
            Err(error @ RegisterError::CodeTaken) => {
                save::take_out(&mut file, "/case/code");
                if let Some(code) = now.file.code() {
                    save::put(&mut file.record, "/case/code", serde_json::json!(code));
                }
                room.register.save(&now, &file, &act)?;
                room.tell(cookie, error.to_string());
                return Ok(());
            }
            Err(error) => return Err(error.into()),
        }
    }
    Err(RegisterError::Busy.into())
}

fn undo(room: &mut Room, cookie: &str, who: &Who, id: CaseId) -> Result<(), DeskError> {
    let act = room.act(who, "undo");
    if let Some(what) = room.register.undo(id, &act)? {
        let says = room.words.say("case.undone", &[("what", &what)])?;
        room.tell(cookie, says);
    }
    Ok(())
}

/// The label of the first field that differs; it says nothing about the patient.
fn what_changed(room: &Room, before: &CaseFile, after: &CaseFile) -> Result<String, DeskError> {
    let keys = room.form.sections.iter().flat_map(|section| &section.keys);
    let typed = |file: &CaseFile, key: &str| {
        let here = file.typed.iter().filter(|(name, _)| name.trim_start_matches(['~', '=', '!']).starts_with(key));
        here.map(|(name, text)| (name.clone(), text.clone())).collect::<Vec<_>>()
    };
    let differs = |key: &&String| {
        before.record.pointer(key) != after.record.pointer(key) || typed(before, key) != typed(after, key)
    };
    match keys.into_iter().find(differs) {
        Some(key) => room.words.label(key),
        None => room.words.word("case.title"),
    }
}

/// Where the page goes on: at what is wrong with it, else at the section after the one that was saved.
fn onward(room: &Room, id: CaseId, step: Step, section: &str) -> Result<String, DeskError> {
    let case = room.case(id)?;
    let judged = room.judge(&case.file)?;
    let (form, words, practice) = (&room.form, &room.words, &room.practice);
    let viewer = Viewer { form, words, practice, file: &case.file, judged: &judged, around: room.around() };
    let of_step = |pointer: &str| form.section_of(pointer).is_some_and(|section| section.step == step);
    if viewer.errors()?.iter().any(|error| of_step(&error.pointer)) {
        return Ok("#errors".into());
    }
    let mut sections = form.sections_of(step).skip_while(|shown| shown.id != section);
    let next = sections.nth(1).map(|next| format!("#section-{}", next.id));
    Ok(next.unwrap_or_else(|| "#form".into()))
}
