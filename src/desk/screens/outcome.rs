//! What became of one eye: all of it on one screen, and what was entered before.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::{Value, json};

use super::case::head_of;
use crate::desk::answer::Answer;
use crate::desk::change::Sent;
use crate::desk::error::DeskError;
use crate::desk::form::save::Fields;
use crate::desk::gate::Who;
use crate::desk::outcome::{self, EVENTS, Faults};
use crate::desk::room::Room;
use crate::record::course::EVENT_VISIT;
use crate::record::form::Format;
use crate::record::typed;
use crate::register::{CaseId, KeptOutcome, OutcomeId};
use crate::results::{OTHER_VISIT, Outcome, due};

/// The words of each closed list, in the order in which they are shown.
const CHANGES: [&str; 6] = ["gone", "much_better", "little_better", "same", "worse", "unknown"];
const ANSWERS: [&str; 3] = ["no", "yes", "unknown"];
const SEVERITIES: [&str; 4] = ["mild", "moderate", "severe", "unknown"];
const KINDS: [&str; 10] = [
    "tear",
    "detachment",
    "capsule_or_lens",
    "implant_marked",
    "lasting_pressure",
    "vitreous_bleeding",
    "retina",
    "cataract",
    "inflammation",
    "other",
];

/// An outcome that was entered.
#[derive(Debug, Serialize)]
struct KeptView {
    id: OutcomeId,
    visit: String,
    on: String,
    says: Vec<String>,
    by: String,
    at: String,
}

/// The page to enter one, or to correct one that the address names.
pub(in crate::desk) fn show(
    room: &mut Room,
    cookie: &str,
    who: &Who,
    id: CaseId,
    asked: &Fields,
) -> Result<Option<Answer>, DeskError> {
    let kept = room.register.outcomes(id)?;
    let corrects = asked.get("corrects").and_then(|number| number.parse::<OutcomeId>().ok());
    let corrected = kept.iter().find(|kept| Some(kept.id) == corrects);
    let mut values = corrected.map(|kept| values_of(&kept.outcome)).unwrap_or_default();
    if corrected.is_none() {
        values.insert("/visit".into(), asked.get("visit").cloned().map_or_else(|| next_visit(room, id), Ok)?);
        values.insert("/on".into(), room.today().to_string());
    }
    page(room, cookie, who, id, &values, &Faults::new(), corrected.map(|kept| kept.id), &kept)
}

/// Keeps what was sent, or shows what is wrong with it.
pub(in crate::desk) fn send(room: &mut Room, sent: &Sent) -> Result<Option<Answer>, DeskError> {
    if room.register.session(sent.case)?.is_none() {
        return Ok(None);
    }
    if let Some(faults) = outcome::keep(room, sent)? {
        let kept = room.register.outcomes(sent.case)?;
        let replaces = sent.field("replaces").parse().ok();
        return page(room, sent.cookie, sent.who, sent.case, sent.fields, &faults, replaces, &kept);
    }
    let told = if sent.field("do") == "withdraw" { "outcome.withdrawn" } else { "outcome.kept" };
    let told = room.words.word(told)?;
    room.tell(sent.cookie, told);
    Ok(Some(Answer::go(format!("/case/{}/outcome#kept", sent.case))))
}

#[expect(clippy::too_many_arguments, reason = "a page and all that stands on it")]
fn page(
    room: &mut Room,
    cookie: &str,
    who: &Who,
    id: CaseId,
    values: &Fields,
    faults: &Faults,
    corrects: Option<OutcomeId>,
    kept: &[KeptOutcome],
) -> Result<Option<Answer>, DeskError> {
    let Some(session) = room.register.session(id)? else { return Ok(None) };
    let frame = room.frame(cookie, Some(who), "case")?;
    let case = room.case(id)?;
    let judged = room.judge(case.id, &case.file)?;
    let day = |name: &str| {
        let text = values.get(name).map_or("", String::as_str);
        match typed::read(Format::Date, text, room.around()) {
            typed::Reading::One(day) => room.words.read_back(Format::Date, &day),
            _ => Ok(None),
        }
    };
    let shown = json!({
        "frame": frame,
        "head": head_of(room, who, &case, &judged)?,
        "step": "outcome",
        "treated": room.words.locale.full_date(session.on),
        "values": all_of(values), "faults": faults, "corrects": corrects,
        "reads": day("/on")?,
        "visits": visits(room)?,
        "changes": options(room, "outcome.change", &CHANGES)?,
        "answers": options(room, "word", &ANSWERS)?,
        "kinds": options(room, "outcome.kind", &KINDS)?,
        "severities": options(room, "outcome.severity", &SEVERITIES)?,
        "events": EVENTS,
        "steps_of_line": (0..=10).map(|step| step.to_string()).collect::<Vec<_>>(),
        "kept": kept.iter().map(|kept| view(room, kept)).collect::<Result<Vec<_>, _>>()?,
    });
    let page = room.page("outcome", shown)?;
    Ok(Some(if faults.is_empty() { page } else { Answer { status: 422, ..page } }))
}

/// Every field, also one in which nothing stands.
fn all_of(values: &Fields) -> Fields {
    const OWN: [&str; 12] = [
        "/visit",
        "/on",
        "/pressure_mmhg",
        "/acuity",
        "/bother_before",
        "/bother_after",
        "/questionnaire/name",
        "/questionnaire/version",
        "/questionnaire/score",
        "/change",
        "/further_laser",
        "/surgery",
    ];
    let event = |at: usize| ["kind", "on", "severity", "done"].map(|key| format!("/events/{at}/{key}"));
    let names = OWN.map(str::to_owned).into_iter().chain((0..EVENTS).flat_map(event)).chain(["/lost".to_owned()]);
    names.map(|name| (name.clone(), values.get(&name).cloned().unwrap_or_default())).collect()
}

fn options(room: &Room, group: &str, words: &[&str]) -> Result<Vec<(String, String)>, DeskError> {
    words.iter().map(|word| Ok(((*word).to_owned(), room.words.word(&format!("{group}.{word}"))?))).collect()
}

/// The visits of the practice, the one because of an event, and any other.
fn visits(room: &Room) -> Result<Vec<(String, String)>, DeskError> {
    let rules = room.practice.profile.visits.iter().map(|rule| {
        let after = room.words.count("profile.after_days", rule.after_days as usize)?;
        Ok((rule.id.clone(), format!("{}, {after}", visit_name(room, &rule.id))))
    });
    let own =
        [EVENT_VISIT, OTHER_VISIT].map(|id| Ok((id.to_owned(), room.words.word(&format!("outcome.visit_{id}"))?)));
    rules.chain(own).collect()
}

/// A visit as it is shown: as the pages call it, or by its id if the practice made it itself.
pub(super) fn visit_name(room: &Room, id: &str) -> String {
    let own = room.words.word(&format!("outcome.visit_{id}")).ok();
    let of_pages = || room.words.locale.word(&format!("visit.{id}")).ok().map(str::to_owned);
    own.or_else(of_pages).unwrap_or_else(|| id.to_owned())
}

/// The visit that is due first.
fn next_visit(room: &Room, id: CaseId) -> Result<String, DeskError> {
    let sessions: Vec<_> = room.register.session(id)?.into_iter().collect();
    let outcomes: Vec<_> = room.register.outcomes(id)?.into_iter().map(|kept| (id, kept.outcome)).collect();
    let due = due::due(&sessions, &outcomes, &room.practice.profile, room.today());
    Ok(due.first().map_or_else(|| OTHER_VISIT.to_owned(), |due| due.visit.clone()))
}

/// What stands in the fields for an outcome.
fn values_of(outcome: &Outcome) -> Fields {
    let mut values = BTreeMap::new();
    gather("", &serde_json::to_value(outcome).unwrap_or_default(), &mut values);
    if !outcome.lost {
        values.remove("/lost");
    }
    values
}

fn gather(pointer: &str, value: &Value, values: &mut Fields) {
    match value {
        Value::Object(table) => {
            table.iter().for_each(|(key, value)| gather(&format!("{pointer}/{key}"), value, values))
        }
        Value::Array(entries) => {
            entries.iter().enumerate().for_each(|(at, value)| gather(&format!("{pointer}/{at}"), value, values));
        }
        Value::String(text) if text == "unknown" && !matches!(pointer, "/change" | "/further_laser" | "/surgery") => {}
        Value::String(text) => _ = values.insert(pointer.to_owned(), text.clone()),
        Value::Number(number) => {
            let written = number.as_f64().map_or_else(|| number.to_string(), |number| number.to_string());
            values.insert(pointer.to_owned(), written);
        }
        other => _ = values.insert(pointer.to_owned(), other.to_string()),
    }
}

fn view(room: &Room, kept: &KeptOutcome) -> Result<KeptView, DeskError> {
    let mut says = Vec::new();
    for (name, value) in values_of(&kept.outcome) {
        let group = match name.as_str() {
            "/visit" | "/on" => continue,
            "/change" => Some("outcome.change"),
            "/further_laser" | "/surgery" => Some("word"),
            name if name.ends_with("/kind") => Some("outcome.kind"),
            name if name.ends_with("/severity") => Some("outcome.severity"),
            _ => None,
        };
        if value == "unknown" {
            continue;
        }
        let value = match group {
            Some(group) => room.words.word(&format!("{group}.{value}"))?,
            None if name == "/lost" => room.words.word("word.yes")?,
            None => value,
        };
        let label = name.rsplit('/').next().unwrap_or_default();
        let label =
            if name.starts_with("/questionnaire") { format!("questionnaire_{label}") } else { label.to_owned() };
        says.push(format!("{}: {value}", room.words.word(&format!("outcome.label.{label}"))?));
    }
    Ok(KeptView {
        id: kept.id,
        visit: visit_name(room, &kept.outcome.visit),
        on: room.words.locale.date(kept.outcome.on.0),
        says,
        by: kept.by.clone(),
        at: super::day::said_at(room, kept.at)?,
    })
}
