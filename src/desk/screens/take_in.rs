//! What a file of another system brings: shown first, and a case only once somebody accepts it.

use serde::Serialize;
use serde_json::{Value, json};

use crate::desk::answer::{Answer, Ask};
use crate::desk::came::Came;
use crate::desk::error::DeskError;
use crate::desk::gate::Who;
use crate::desk::room::Room;
use crate::exchange::fhir::incoming::{Asked, JsonFile, NotRead, NotTaken, Origin, Reader, Tables, Taken, Why};
use crate::record::eye::Side;
use crate::record::form::Kind;
use crate::register::CaseId;

/// A line of the page.
#[derive(Debug, Serialize)]
struct Line {
    key: Option<String>,
    value: Option<String>,
    why: Option<String>,
    from: Vec<String>,
}

/// The page: a file to choose, and what came if one was chosen.
pub(in crate::desk) fn show(room: &mut Room, cookie: &str, who: &Who) -> Result<Answer, DeskError> {
    page(room, cookie, who, None)
}

/// Reads the file that was chosen.
pub(in crate::desk) fn read(room: &mut Room, cookie: &str, who: &Who, ask: &Ask) -> Result<Answer, DeskError> {
    room.gate.browser(cookie).came = None;
    let Some(bytes) = ask.file.as_deref().filter(|bytes| !bytes.is_empty()) else {
        return page(room, cookie, who, Some("take_in.none"));
    };
    let side = match ask.fields.get("side").map(String::as_str) {
        Some("right") => Some(Side::Right),
        Some("left") => Some(Side::Left),
        _ => None,
    };
    let tables = Tables::load(&room.practice.assets)?;
    let (practice, today) = (&room.practice, room.today());
    let reader = Reader { tables: &tables, formulary: &practice.formulary, practice: Some(practice), side, today };
    let name = room.words.word("take_in.file")?;
    match reader.read(&[JsonFile { name: &name, bytes }]) {
        Ok(found) => {
            room.gate.browser(cookie).came = Some(Came { found, case: None });
            page(room, cookie, who, None)
        }
        Err(NotRead::NotJson(_) | NotRead::CutOff(_) | NotRead::NotUtf8(_)) => {
            page(room, cookie, who, Some("take_in.not_json"))
        }
        Err(NotRead::NoResource(_)) => page(room, cookie, who, Some("take_in.no_resource")),
        Err(NotRead::SeveralPatients) => page(room, cookie, who, Some("take_in.several_patients")),
    }
}

/// What is accepted: the record to begin a case with, and how much of it is still to be asked.
pub(in crate::desk) fn accepted(room: &mut Room, cookie: &str) -> Option<(Value, usize, usize)> {
    let came = room.gate.browser(cookie).came.as_ref().filter(|came| came.case.is_none())?;
    Some((came.found.record.clone(), came.found.taken.len(), came.found.asked.len()))
}

/// Notes the case that was begun: what is to be asked stays to be looked at, and no second case is begun.
pub(in crate::desk) fn begun(room: &mut Room, cookie: &str, case: CaseId) {
    if let Some(came) = &mut room.gate.browser(cookie).came {
        came.case = Some(case);
    }
}

fn page(room: &mut Room, cookie: &str, who: &Who, wrong: Option<&str>) -> Result<Answer, DeskError> {
    let frame = room.frame(cookie, Some(who), "day")?;
    let wrong = wrong.map(|key| room.words.word(key)).transpose()?;
    let came = room.gate.browser(cookie).came.take();
    let shown = came.as_ref().map(|came| lines(room, came)).transpose();
    room.gate.browser(cookie).came = came;
    room.page("take_in", json!({ "frame": frame, "wrong": wrong, "came": shown? }))
}

fn lines(room: &Room, Came { found, case }: &Came) -> Result<Value, DeskError> {
    let taken = found.taken.iter().map(|taken| of_taken(room, taken)).collect::<Result<Vec<Line>, DeskError>>()?;
    let asked = found.asked.iter().map(|asked| of_asked(room, asked)).collect::<Result<Vec<Line>, DeskError>>()?;
    let left = found.not_taken.iter().map(|left| of_left(room, left)).collect::<Result<Vec<Line>, DeskError>>()?;
    Ok(json!({ "taken": taken, "asked": asked, "left": left, "case": case }))
}

fn of_taken(room: &Room, Taken { key, value, origins }: &Taken) -> Result<Line, DeskError> {
    let from = origins.iter().map(from).collect();
    Ok(Line { key: Some(label(room, key)?), value: Some(said(room, key, value)?), why: None, from })
}

fn of_asked(room: &Room, Asked { key, why, candidates }: &Asked) -> Result<Line, DeskError> {
    let named = match key {
        Some(key) => label(room, key)?,
        None => room.words.word("take_in.patient")?,
    };
    let mut values = Vec::new();
    for candidate in candidates {
        let value = candidate.value.as_ref().map(|value| said(room, key.as_deref().unwrap_or_default(), value));
        let value = value.transpose()?.map(|value| format!("{value}: ")).unwrap_or_default();
        values.push(format!("{value}{}", from(&candidate.origin)));
    }
    Ok(Line { key: Some(named), value: None, why: Some(because(room, *why)?), from: values })
}

fn of_left(room: &Room, NotTaken { why, origin }: &NotTaken) -> Result<Line, DeskError> {
    Ok(Line { key: None, value: None, why: Some(because(room, *why)?), from: vec![from(origin)] })
}

fn because(room: &Room, why: Why) -> Result<String, DeskError> {
    room.words.word(&format!("take_in.because.{}", why.word()))
}

/// Where something comes from, without the name of the one file.
fn from(origin: &Origin) -> String {
    let parts = [Some(&origin.resource), origin.says.as_ref(), origin.code.as_ref(), origin.on.as_ref()];
    parts.into_iter().flatten().map(String::as_str).collect::<Vec<_>>().join(", ")
}

/// What stands beside the field of a key; a key without a field of its own is named as it is written.
fn label(room: &Room, key: &str) -> Result<String, DeskError> {
    let known = room.words.has(&format!("label{}", key.replace('/', ".")));
    if known { room.words.label(key) } else { Ok(key.trim_start_matches('/').replace('/', " ")) }
}

/// A value in words, as far as the form has words for it.
fn said(room: &Room, key: &str, value: &Value) -> Result<String, DeskError> {
    let form = room.form.key(key);
    Ok(match value {
        Value::String(word) if form.is_some_and(|key| key.kind == Kind::Word) => room.words.choice(key, word)?,
        Value::String(text) => {
            let format = form.and_then(|key| key.format);
            let read = format.map(|format| room.words.read_back(format, text)).transpose()?.flatten();
            read.unwrap_or_else(|| text.clone())
        }
        Value::Array(entries) if entries.is_empty() => room.words.word("take_in.taken_none")?,
        Value::Array(entries) => {
            let entries = entries.iter().map(|entry| entry.as_str().map_or_else(|| entry.to_string(), str::to_owned));
            entries.collect::<Vec<_>>().join(", ")
        }
        other => {
            let unit = form.and_then(|key| key.unit).map(|unit| format!(" {unit}")).unwrap_or_default();
            format!("{other}{unit}")
        }
    })
}
