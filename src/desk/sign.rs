//! What a surgeon signs, by name, date and reason, with the passphrase: answers to findings, for the values that were seen
//! (their fingerprint tells when one of them changes), changes of statements, and own words.

use serde_json::{Value, json};

use super::error::DeskError;
use super::form::save::{append, put};
use super::gate::Who;
use super::room::Room;
use crate::packet::Case;
use crate::record::course::{FindingAnswer, OwnWords};
use crate::record::date::Date;
use crate::register::{CaseFile, CaseId, Why};

/// The surgeon's own words.
const OWN_WORDS: &str = "/surgeon_words";

/// An answer as it was sent.
#[derive(Debug, Clone, Copy)]
pub(super) struct Given<'a> {
    pub(super) finding: &'a str,
    /// Of the values that stood on the page.
    pub(super) fingerprint: &'a str,
    pub(super) reason: &'a str,
    pub(super) passphrase: &'a str,
}

/// Signs an answer. A sentence if it is not signed.
pub(super) fn answer(room: &mut Room, who: &Who, id: CaseId, given: Given) -> Result<Option<String>, DeskError> {
    let (finding, reason) = (given.finding, given.reason.trim());
    if reason.is_empty() {
        return Ok(Some(room.words.word("case.reason_lacks")?));
    }
    if let Some(says) = not_their_passphrase(room, who, given.passphrase)? {
        return Ok(Some(says));
    }
    let case = room.case(id)?;
    let judged = room.judge(case.id, &case.file)?;
    let Some(found) = judged.check.findings.iter().find(|found| found.id == finding) else { return Ok(None) };
    if found.fingerprint != given.fingerprint {
        return Ok(Some(room.words.word("case.changed_since")?));
    }
    let mut file = case.file.clone();
    let answer = FindingAnswer {
        finding: finding.to_owned(),
        by: who.name.clone(),
        on: Date(room.today()),
        reason: reason.to_owned(),
        fingerprint: Some(found.fingerprint.clone()),
        values: found.values.clone(),
    };
    take_back(&mut file, "answers", "finding", finding);
    file.unsigned_answers.retain(|unsigned| unsigned.finding != finding);
    let at = file.record.pointer("/answers").and_then(Value::as_array).map_or(0, Vec::len);
    put(&mut file.record, &format!("/answers/{at}"), json!(answer));
    if let Some(says) = wrong_at(room, id, &file, "/answers")? {
        return Ok(Some(says));
    }
    let act = room.act(who, room.words.word("case.sign")?);
    room.register.save(&case, &file, &act)?;
    room.register.keep(id, Why::Answered, &act.by, act.at)?;
    Ok(None)
}

/// A sentence unless this is the passphrase of who signs; after too many wrong ones they wait.
pub(super) fn not_their_passphrase(room: &mut Room, who: &Who, passphrase: &str) -> Result<Option<String>, DeskError> {
    if let Some(pause) = room.gate.pause(&who.name) {
        let seconds = (pause.as_secs() + 1).to_string();
        return Ok(Some(room.words.say("sign_in.wait", &[("name", &who.name), ("seconds", &seconds)])?));
    }
    let people = room.register.people()?;
    if people.iter().any(|person| person.name == who.name && person.passphrase.is(passphrase)) {
        return Ok(None);
    }
    room.gate.wrong(&who.name);
    Ok(Some(room.words.word("case.wrong_passphrase")?))
}

/// What a surgeon does by hand with a statement.
#[derive(Debug)]
pub(super) struct Hand<'a> {
    pub(super) statement: &'a str,
    /// A word of a change, or `as_it_is`.
    pub(super) change: &'a str,
    pub(super) reason: &'a str,
}

/// Signs a change of what the patient reads. A sentence if it is not signed, or cannot be done.
pub(super) fn tailor(
    room: &mut Room,
    who: &Who,
    id: CaseId,
    hand: &Hand,
    passphrase: &str,
) -> Result<Option<String>, DeskError> {
    let reason = hand.reason.trim();
    if hand.change.is_empty() {
        return Ok(Some(room.words.word("proof.choose_change")?));
    }
    if reason.is_empty() && hand.change != "as_it_is" {
        return Ok(Some(room.words.word("case.reason_lacks")?));
    }
    if let Some(says) = not_their_passphrase(room, who, passphrase)? {
        return Ok(Some(says));
    }
    let case = room.case(id)?;
    let mut file = case.file.clone();
    file.unsigned_tailoring.retain(|unsigned| unsigned.statement != hand.statement);
    take_back(&mut file, "tailoring", "statement", hand.statement);
    if hand.change != "as_it_is" {
        let (by, on) = (&who.name, Date(room.today()));
        let entry = json!({ "statement": hand.statement, "change": hand.change, "by": by, "on": on, "reason": reason });
        let at = file.record.pointer("/tailoring").and_then(Value::as_array).map_or(0, Vec::len);
        put(&mut file.record, &format!("/tailoring/{at}"), entry);
    }
    if let Some(says) = wrong_at(room, id, &file, "/tailoring")? {
        return Ok(Some(says));
    }
    let judged = room.judge(id, &file)?;
    if let Some(refusal) = judged.check.refusal {
        return Ok(Some(refusal.says));
    }
    // A page that is withheld is composed for nobody: whether this can be said is seen to now.
    if let Some(record) = room.complete(id, &file)?
        && let Err(why) = Case::new(&record, judged.moment).and_then(|case| case.unissued())
    {
        return Ok(Some(why.to_string()));
    }
    let act = room.act(who, hand.statement);
    room.register.save(&case, &file, &act)?;
    room.register.keep(id, Why::Signed, &act.by, act.at)?;
    Ok(None)
}

/// A paragraph in the surgeon's own words, as it was sent.
#[derive(Debug)]
pub(super) struct Own<'a> {
    /// Empty: what it takes the place of is taken out.
    pub(super) words: &'a str,
    /// The paragraph it takes the place of; empty: none.
    pub(super) was: &'a str,
    pub(super) reason: &'a str,
    pub(super) passphrase: &'a str,
}

/// Signs a paragraph in the surgeon's own words, with its reason, or takes one out. A sentence if it is not signed.
pub(super) fn own_words(room: &mut Room, who: &Who, id: CaseId, own: &Own) -> Result<Option<String>, DeskError> {
    let (words, reason) = (own.words.trim(), own.reason.trim());
    let lacks = if words.is_empty() { own.was.is_empty() } else { reason.is_empty() };
    if lacks {
        return Ok(Some(room.words.word("proof.own_lacks")?));
    }
    if let Some(says) = not_their_passphrase(room, who, own.passphrase)? {
        return Ok(Some(says));
    }
    let case = room.case(id)?;
    let mut file = case.file.clone();
    let (by, on) = (who.name.clone(), Date(room.today()));
    let signed = OwnWords { words: words.to_owned(), by, on, reason: reason.to_owned() };
    set_own_words(&mut file, own.was, Some(signed).filter(|signed| !signed.words.is_empty()));
    if let Some(says) = wrong_at(room, id, &file, OWN_WORDS)? {
        return Ok(Some(says));
    }
    let act = room.act(who, room.words.word("section.words")?);
    room.register.save(&case, &file, &act)?;
    room.register.keep(id, Why::Signed, &act.by, act.at)?;
    Ok(None)
}

/// Puts a paragraph in the place of another one, or behind all others; nothing in its place takes it out.
fn set_own_words(file: &mut CaseFile, was: &str, signed: Option<OwnWords>) {
    let entries = file.record.pointer(OWN_WORDS).and_then(Value::as_array);
    let at = entries.and_then(|entries| entries.iter().position(|entry| entry["words"] == was));
    let is_old = |own: &OwnWords| own.words == was || signed.as_ref().is_some_and(|new| new.words == own.words);
    file.unsigned_words.retain(|own| !is_old(own));
    match (signed, at) {
        (Some(signed), Some(at)) => put(&mut file.record, &format!("{OWN_WORDS}/{at}"), json!(signed)),
        (Some(signed), None) => append(&mut file.record, OWN_WORDS, json!(signed)),
        (None, _) => take_back(file, "surgeon_words", "words", was),
    }
}

/// What is wrong with a case within a list, if something is.
fn wrong_at(room: &Room, id: CaseId, file: &CaseFile, list: &str) -> Result<Option<String>, DeskError> {
    let judged = room.judge(id, file)?;
    let within = |at: &Option<String>| at.as_deref().is_some_and(|at| at.starts_with(list));
    Ok(judged.errors.iter().find(|wrong| within(&wrong.pointer)).map(|wrong| wrong.message.clone()))
}

/// Takes the entries of a list out that are about something.
fn take_back(file: &mut CaseFile, list: &str, key: &str, about: &str) {
    let Some(record) = file.record.as_object_mut() else { return };
    if let Some(Value::Array(entries)) = record.get_mut(list) {
        entries.retain(|entry| entry[key] != about);
        if entries.is_empty() {
            record.remove(list);
        }
    }
}
