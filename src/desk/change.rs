//! What a page of a case sends: its fields are saved first, whatever else is to be done.

use chrono::Timelike;
use serde_json::json;

use super::answer::Answer;
use super::error::DeskError;
use super::form::save::{self, Fields, Seen};
use super::form::view::{Viewer, id as field_id};
use super::form::{Form, Step, may_fill};
use super::gate::Who;
use super::room::Room;
use super::sign;
use crate::record::date::LocalTime;
use crate::record::form::KnownBy;
use crate::record::typed::Around;
use crate::register::{Asked, CaseFile, CaseId, RegisterError, Whole};

/// How often a save is tried again that another program came in front of.
const TRIES: usize = 5;

/// The doses given in the clinic.
const DOSES: &str = "/treatment/clinic_doses";

/// What a page of a case sent, and who sent it.
#[derive(Clone, Copy)]
pub(super) struct Sent<'a> {
    pub(super) cookie: &'a str,
    pub(super) who: &'a Who,
    pub(super) case: CaseId,
    pub(super) fields: &'a Fields,
}

impl Sent<'_> {
    /// A field; nothing if it did not come.
    pub(super) fn field(&self, name: &str) -> &str {
        self.fields.get(name).map_or("", String::as_str)
    }

    /// What the button says, and what about.
    fn done(&self) -> (&str, &str) {
        let done = self.field("do");
        done.split_once(' ').unwrap_or((done, ""))
    }

    /// Remembers what was written beside the form.
    fn keep_drafts(&self, room: &mut Room) {
        room.gate.browser(self.cookie).drafts.keep(self.case, self.fields);
    }

    /// Tells why something was not signed; what was signed waits no longer.
    fn signed(&self, room: &mut Room, refused: Option<String>, names: &[&str]) {
        match refused {
            Some(says) => room.tell(self.cookie, says),
            None => room.gate.browser(self.cookie).drafts.forget(self.case, names),
        }
    }

    /// Locks the desk; whoever signs in next goes on here.
    fn lock(&self, room: &mut Room, here: String) -> Answer {
        room.gate.browser(self.cookie).onward = Some(here);
        room.gate.lock(self.cookie);
        Answer::go("/sign-in")
    }
}

/// Saves the fields of a step, then does what the button says: `save SECTION`, `none SECTION`, `take POINTER`,
/// `is POINTER VALUE`, `now POINTER`, `given DRUG`, `sign FINDING`, `ask`, `asked`, `undo`, `lock`.
pub(super) fn change(room: &mut Room, sent: &Sent, step: Step) -> Result<Answer, DeskError> {
    let (what, about) = sent.done();
    let role = sent.who.role;
    let here = format!("/case/{}/{}", sent.case, step.word());
    let before = room.case(sent.case)?.file;
    sent.keep_drafts(room);
    save_fields(room, sent, step)?;
    let may = |room: &Room, pointer: &str| room.form.may_fill(role, step, pointer);
    match what {
        "lock" => return Ok(sent.lock(room, here)),
        "undo" => undo(room, sent)?,
        "none" if may_fill(role, step) => answer_whole(room, sent, step, about)?,
        "take" if may(room, about) => alter(room, sent, |_, file| save::take_out(file, about))?,
        "is" => {
            if let Some((pointer, value)) = about.split_once(' ').filter(|(pointer, _)| may(room, pointer)) {
                alter(room, sent, |form, file| save::choose(form, file, pointer, value))?;
                return Ok(Answer::go(format!("{here}#{}", field_id(pointer))));
            }
        }
        "now" if may(room, about) => {
            let now = this_minute(room);
            alter(room, sent, |form, file| save::set_time(form, file, about, now))?;
            return Ok(Answer::go(format!("{here}#{}", field_id(about))));
        }
        "given" if may(room, DOSES) => {
            let dose = json!({ "drug": about, "at": this_minute(room) });
            alter(room, sent, |_, file| save::append(&mut file.record, DOSES, dose.clone()))?;
            return Ok(Answer::go(format!("{here}#section-doses")));
        }
        "ask" => {
            ask(room, sent)?;
            return Ok(Answer::go(format!("{here}#asked")));
        }
        "asked" if role == KnownBy::Surgeon => {
            alter(room, sent, |_, file| file.asked = None)?;
            return Ok(Answer::go(if about == "day" { "/day".into() } else { format!("{here}#asked") }));
        }
        "sign" if role == KnownBy::Surgeon => {
            let field = |name: &str| sent.field(&format!("{name} {about}"));
            let (fingerprint, reason, passphrase) = (field("fingerprint"), field("reason"), field("passphrase"));
            let given = sign::Given { finding: about, fingerprint, reason, passphrase };
            let refused = sign::answer(room, sent.who, sent.case, given)?;
            sent.signed(room, refused, &[&format!("reason {about}")]);
            return Ok(Answer::go(format!("{here}#findings")));
        }
        _ => {}
    }
    Ok(Answer::go(format!("{here}{}", onward(room, sent.case, step, about, &before)?)))
}

/// Changes by hand what the patient reads, signed by a surgeon.
pub(super) fn tailor(room: &mut Room, sent: &Sent) -> Result<Answer, DeskError> {
    let here = format!("/case/{}/pages", sent.case);
    sent.keep_drafts(room);
    match sent.done() {
        ("tailor", statement) if sent.who.role == KnownBy::Surgeon => {
            let why = format!("why {statement}");
            let hand = sign::Hand { statement, change: sent.field("change"), reason: sent.field(&why) };
            let refused = sign::tailor(room, sent.who, sent.case, &hand, sent.field("passphrase"))?;
            sent.signed(room, refused, &[&why]);
            return Ok(Answer::go(format!("{here}?statement={statement}#why")));
        }
        (what @ ("own" | "own_out"), _) if sent.who.role == KnownBy::Surgeon => {
            let words = if what == "own" { sent.field("own") } else { "" };
            let (was, reason, passphrase) =
                (sent.field("own_was"), sent.field("own_reason"), sent.field("own_passphrase"));
            let refused = sign::own_words(room, sent.who, sent.case, &sign::Own { words, was, reason, passphrase })?;
            sent.signed(room, refused, &["own", "own_was", "own_reason"]);
            return Ok(Answer::go(format!("{here}#own-words")));
        }
        ("lock", _) => return Ok(sent.lock(room, here)),
        _ => {}
    }
    Ok(Answer::go(here))
}

/// The clock of the practice, to the minute.
fn this_minute(room: &Room) -> LocalTime {
    let now = room.local(room.now());
    LocalTime(now.with_second(0).unwrap_or(now))
}

/// Saves what may be filled in and was changed on the page.
fn save_fields(room: &mut Room, sent: &Sent, step: Step) -> Result<(), DeskError> {
    let mut mine = sent.fields.clone();
    let plain = |name: &str| name.trim_start_matches(['~', '=', ':']).to_owned();
    mine.retain(|name, _| room.form.may_fill(sent.who.role, step, &plain(name)));
    let shown = sent.field("version").parse().ok();
    let base = shown.map(|version| room.register.at_version(sent.case, version)).transpose()?.flatten();
    let tab = sent.field("tab");
    let sent_before = if tab.is_empty() { None } else { room.gate.browser(sent.cookie).sends(tab, &mine) };
    let (words, today) = (room.words.clone(), room.today());
    let around = Around { today, day: None, names: &words.names };
    alter(room, sent, |form, file| {
        let now = file.clone();
        let base = if shown.is_some() { base.as_ref() } else { Some(&now) };
        let seen = Seen { base, sent: sent_before.as_ref() };
        *file = save::apply(form, step, &mine, seen, &now, around);
    })
}

/// Answers a section as a whole, which is the act of who presses.
fn answer_whole(room: &mut Room, sent: &Sent, step: Step, section: &str) -> Result<(), DeskError> {
    let whole = Whole { by: sent.who.name.clone(), at: room.now() };
    alter(room, sent, |form, file| {
        if let Some(section) = form.sections_of(step).find(|shown| shown.id == section && shown.none) {
            save::answer_whole(form, section, file);
            file.whole.insert(section.id.clone(), whole.clone());
        }
    })
}

/// Puts the case on the surgeon's list, with a sentence.
fn ask(room: &mut Room, sent: &Sent) -> Result<(), DeskError> {
    let says = sent.field("question").trim();
    if says.is_empty() {
        let says = room.words.word("asked.lacks")?;
        room.tell(sent.cookie, says);
        return Ok(());
    }
    let asked = Asked { by: sent.who.name.clone(), at: room.now(), says: says.to_owned() };
    sent.signed(room, None, &["question"]);
    alter(room, sent, |_, file| file.asked = Some(asked.clone()))
}

/// Changes a case, once more if another program came in front.
fn alter(room: &mut Room, sent: &Sent, mut change: impl FnMut(&Form, &mut CaseFile)) -> Result<(), DeskError> {
    for _ in 0..TRIES {
        let now = room.case(sent.case)?;
        let mut file = now.file.clone();
        change(&room.form, &mut file);
        if file == now.file {
            return Ok(());
        }
        let act = room.act(sent.who, what_changed(room, &now.file, &file)?);
        match room.register.save(&now, &file, &act) {
            Ok(_) => return Ok(()),
            Err(RegisterError::Changed) => {}
            // Everything else of the page is kept; the code stays what it was.
            Err(RegisterError::CodeTaken) => {
                save::take_out(&mut file, "/case/code");
                if let Some(code) = now.file.code() {
                    save::put(&mut file.record, "/case/code", json!(code));
                }
                room.register.save(&now, &file, &act)?;
                let says = room.words.word("case.code_taken")?;
                room.tell(sent.cookie, says);
                return Ok(());
            }
            Err(error) => return Err(error.into()),
        }
    }
    Err(RegisterError::Busy.into())
}

fn undo(room: &mut Room, sent: &Sent) -> Result<(), DeskError> {
    let act = room.act(sent.who, "undo");
    if let Some(what) = room.register.undo(sent.case, &act)? {
        let says = room.words.say("case.undone", &[("what", &what)])?;
        room.tell(sent.cookie, says);
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
        None if before.asked != after.asked => room.words.word("asked.title"),
        None => room.words.word("case.title"),
    }
}

/// Where the page goes on: at what is wrong with it, at a field that came with what was saved, at the section after the one
/// that was saved, and once all is asked at the next step.
fn onward(room: &Room, id: CaseId, step: Step, section: &str, before: &CaseFile) -> Result<String, DeskError> {
    let case = room.case(id)?;
    let judged = room.judge(case.id, &case.file)?;
    let (form, words, practice) = (&room.form, &room.words, &room.practice);
    let viewer = Viewer { form, words, practice, file: &case.file, judged: &judged, around: room.around() };
    let of_step = |pointer: &str| form.section_of(pointer).is_some_and(|section| section.step == step);
    if viewer.errors()?.iter().any(|error| of_step(&error.pointer)) {
        return Ok("#errors".into());
    }
    let open: Vec<&str> =
        form.sections_of(step).flat_map(|section| form.not_asked(section, &case.file.record)).collect();
    if let Some(came) = open.iter().find(|pointer| !form.applies(pointer, &before.record)) {
        return Ok(format!("#{}", field_id(came)));
    }
    let mut rest = form.sections_of(step).skip_while(|shown| shown.id != section);
    Ok(match (rest.next(), rest.next()) {
        (Some(_), Some(next)) => format!("#section-{}", next.id),
        (None, _) if !open.is_empty() => "#form".into(),
        _ => "#next".into(),
    })
}
