//! Answers to findings: by name, date and reason, with the passphrase, for the values that were seen: their fingerprint
//! tells when one of them changes.

use serde_json::{Value, json};

use super::error::DeskError;
use super::form::save::{append, put};
use super::gate::Who;
use super::room::Room;
use crate::packet::Case;
use crate::record::course::FindingAnswer;
use crate::record::date::Date;
use crate::register::{CaseFile, CaseId, Reason, Why};

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

/// Adds a paragraph in the surgeon's own words, signed with a reason. A sentence if it is not added.
pub(super) fn own_words(
    room: &mut Room,
    who: &Who,
    id: CaseId,
    words: &str,
    reason: &str,
    passphrase: &str,
) -> Result<Option<String>, DeskError> {
    let (words, reason) = (words.trim(), reason.trim());
    if words.is_empty() || reason.is_empty() {
        return Ok(Some(room.words.word("proof.own_lacks")?));
    }
    if let Some(says) = not_their_passphrase(room, who, passphrase)? {
        return Ok(Some(says));
    }
    let case = room.case(id)?;
    let mut file = case.file.clone();
    append(&mut file.record, OWN_WORDS, json!(words));
    let reason = Reason { by: who.name.clone(), at: room.now(), says: reason.to_owned() };
    file.own_words.insert(words.to_owned(), reason);
    if let Some(says) = wrong_at(room, id, &file, OWN_WORDS)? {
        return Ok(Some(says));
    }
    let act = room.act(who, room.words.label(OWN_WORDS)?);
    room.register.save(&case, &file, &act)?;
    room.register.keep(id, Why::Signed, &act.by, act.at)?;
    Ok(None)
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
