//! A case: its form in steps, what is wrong, what was found, and what is open for whom.

use chrono::Datelike;
use serde::Serialize;
use serde_json::Value;
use serde_json::json;

use super::{day, eye, tally};
use crate::desk::answer::Answer;
use crate::desk::error::DeskError;
use crate::desk::form::view::{FieldError, Viewer, id, left};
use crate::desk::form::{Step, may_fill};
use crate::desk::gate::Who;
use crate::desk::judge::Judged;
use crate::desk::next;
use crate::desk::room::{Room, role_word};
use crate::facts::Moment;
use crate::findings::Level;
use crate::record::date::Date;
use crate::record::form::KnownBy;
use crate::register::{Asked, CaseFile, CaseId, Filed};
use crate::review::check::{Found, Place, Task};

/// A step in the list beside the form.
#[derive(Debug, Serialize)]
struct StepView {
    word: &'static str,
    errors: usize,
    left: usize,
    not_begun: bool,
}

/// A link to a field.
#[derive(Debug, Serialize)]
struct Link {
    label: String,
    href: String,
    /// What stands there, in words.
    value: Option<String>,
}

/// A finding, with what answers it.
#[derive(Debug, Serialize)]
struct FindingView {
    id: String,
    level: Level,
    title: String,
    says: String,
    open: bool,
    answered_by: Option<String>,
    /// Why an answer that stands in the record does not count.
    unsettled: Option<String>,
    answerable: bool,
    fingerprint: String,
    links: Vec<Link>,
}

/// What the surgeon is asked about a case.
#[derive(Debug, Serialize)]
struct AskedHere {
    by: String,
    at: String,
    says: String,
}

/// Whose case it is, for the head of each of its pages.
#[derive(Debug, Serialize)]
pub(in crate::desk) struct Head {
    id: CaseId,
    version: i64,
    name: Option<String>,
    born: Option<String>,
    age: Option<i32>,
    number: Option<String>,
    code: Option<String>,
    side: Option<String>,
    side_word: Option<String>,
    starts: Option<String>,
    steps: Vec<StepView>,
    next: next::Next,
    next_who: Option<&'static str>,
    next_mine: bool,
    next_step: &'static str,
    /// When the pressure is measured again, and the time until then.
    recheck: Option<String>,
    left: Option<String>,
    asked: Option<AskedHere>,
    undo: Option<String>,
}

/// One step of a case.
pub(in crate::desk) fn show(
    room: &mut Room,
    cookie: &str,
    who: &Who,
    id: CaseId,
    step: Step,
) -> Result<Answer, DeskError> {
    let frame = room.frame(cookie, Some(who), "case")?;
    let drafts = room.gate.browser(cookie).drafts.of(id);
    let case = room.case(id)?;
    let judged = room.judge(case.id, &case.file)?;
    let viewer = viewer(room, &case.file, &judged);
    let errors = viewer.errors()?;
    let side = room.words.side(&case.file);
    let shown = json!({
        "frame": frame,
        "head": head(room, who, &case, &judged, &errors)?,
        "step": step.word(),
        "eye": if step == Step::Surgeon { Some(eye::eye(room, side.as_deref(), &judged)?) } else { None },
        "may_be_seen": judged.check.refusal.is_none() && room.complete(id, &case.file)?.is_some(),
        "may_fill": may_fill(who.role, step),
        "may_sign": who.role == KnownBy::Surgeon,
        "sections": viewer.sections(step)?,
        "names": room.practice.formulary.known_names(),
        "findings": findings(&viewer, id, &judged)?,
        "to_answer": to_answer(&judged.check.findings),
        "counts": Level::ALL.map(|level| (level.word(), next::count(&judged, level))),
        "open": open(&viewer, id, who.role, &judged)?,
        "unsigned": unsigned(&case.file),
        "suitability": judged.moment == Moment::Before,
        "tally": if step == Step::Treatment { tally::tally(room, &judged)? } else { None },
        "given": if step == Step::Treatment { tally::in_plan(room, &case.file) } else { Vec::new() },
        "along": if step == Step::Treatment { tally::along(room, &case, judged.moment)? } else { Vec::new() },
        "signs_on": room.words.locale.date(room.today()),
        "drafts": drafts,
        "errors": errors,
    });
    room.page("case", shown)
}

fn viewer<'a>(room: &'a Room, file: &'a CaseFile, judged: &'a Judged) -> Viewer<'a> {
    Viewer { form: &room.form, words: &room.words, practice: &room.practice, file, judged, around: room.around() }
}

/// The head of a case for pages without its form.
pub(in crate::desk) fn head_of(room: &Room, who: &Who, case: &Filed, judged: &Judged) -> Result<Head, DeskError> {
    let errors = viewer(room, &case.file, judged).errors()?;
    head(room, who, case, judged, &errors)
}

fn head(room: &Room, who: &Who, case: &Filed, judged: &Judged, errors: &[FieldError]) -> Result<Head, DeskError> {
    let text = |pointer: &str| case.file.text(pointer).map(str::to_owned);
    let birth = case.file.text("/patient/birth_date").and_then(|text| text.parse::<Date>().ok()).map(|date| date.0);
    let on = case.file.starts().map_or(room.today(), |start| start.date());
    let side = case.file.text("/eye/side");
    let standing = next::standing(&room.form, &case.file, judged, &room.register.issues(case.id)?);
    let step = |step: Step| {
        let of_step =
            |error: &&FieldError| room.form.section_of(&error.pointer).is_some_and(|section| section.step == step);
        StepView {
            word: step.word(),
            errors: errors.iter().filter(of_step).count(),
            left: left(&room.form, step, &case.file.record) + gaps(room, judged, step),
            not_begun: step == Step::Treatment && case.file.record.get("treatment").is_none(),
        }
    };
    Ok(Head {
        id: case.id,
        version: case.version,
        name: text("/patient/name"),
        born: birth.map(|day| room.words.locale.date(day)),
        age: birth.map(|day| on.year() - day.year() - i32::from((on.month(), on.day()) < (day.month(), day.day()))),
        number: text("/patient/record_number"),
        code: text("/case/code"),
        side: side.map(str::to_owned),
        side_word: room.words.side(&case.file),
        starts: case.file.starts().map(|at| room.words.moment(at)).transpose()?,
        steps: Step::ALL.map(step).into(),
        next: standing.next,
        next_who: standing.who.map(role_word),
        next_mine: standing.who == Some(who.role),
        next_step: day::step(&standing),
        recheck: standing.recheck.map(|at| room.words.locale.time(at.time())).transpose()?,
        left: standing.recheck.map(|at| day::left(room, at)).transpose()?,
        asked: case.file.asked.as_ref().map(|asked| asked_here(room, asked)).transpose()?,
        undo: room.register.last_change(case.id)?,
    })
}

fn asked_here(room: &Room, asked: &Asked) -> Result<AskedHere, DeskError> {
    Ok(AskedHere { by: asked.by.clone(), at: day::said_at(room, asked.at)?, says: asked.says.clone() })
}

/// Required keys that a step still lacks.
fn gaps(room: &Room, judged: &Judged, step: Step) -> usize {
    let tasks = judged.check.open.by_person().flat_map(|(_, tasks)| tasks).filter(|task| task.finding.is_none());
    let keys = tasks.flat_map(|task| &task.keys);
    keys.filter(|key| room.form.section_of(&key.pointer).is_some_and(|section| section.step == step)).count()
}

/// Most findings that are shown with all they say.
const FEW: usize = 3;

/// The finding that is opened for whoever answers it: the first, where they are few.
fn to_answer(findings: &[Found]) -> Option<&str> {
    let waits = findings.iter().find(|found| found.open && found.answerable);
    waits.filter(|_| findings.len() <= FEW).map(|found| found.id.as_str())
}

fn findings(viewer: &Viewer, case: CaseId, judged: &Judged) -> Result<Vec<FindingView>, DeskError> {
    let view = |found: &Found| {
        let links = viewer
            .fields_of_finding(found)
            .into_iter()
            .map(|field| link(viewer, case, field))
            .collect::<Result<_, DeskError>>()?;
        Ok(FindingView {
            id: found.id.clone(),
            level: found.level,
            title: found.title.clone(),
            says: found.says.clone(),
            open: found.open,
            answered_by: found.answered_by.clone(),
            unsettled: found.unsettled.clone(),
            answerable: found.answerable,
            fingerprint: found.fingerprint.clone(),
            links,
        })
    };
    judged.check.findings.iter().map(view).collect()
}

/// A link to the field of a key, with what stands in it.
fn link(viewer: &Viewer, case: CaseId, pointer: &str) -> Result<Link, DeskError> {
    let pointer = viewer.form.field_of(pointer).unwrap_or(pointer);
    let step = viewer.form.section_of(pointer).map_or(Step::Surgeon, |section| section.step);
    let known = viewer.form.key(pointer);
    let value = match viewer.file.record.pointer(pointer) {
        Some(Value::String(word)) if known.is_some_and(|key| key.words.iter().any(|known| known.word == *word)) => {
            Some(viewer.words.choice(pointer, word)?)
        }
        Some(Value::String(word)) if word == "unknown" => Some(viewer.words.word("field.unknown")?),
        Some(Value::String(text)) => {
            let format = known.and_then(|key| key.format);
            let said = format.map(|format| viewer.words.read_back(format, text)).transpose()?.flatten();
            said.or_else(|| Some(text.clone()))
        }
        Some(Value::Number(number)) => {
            let unit = known.and_then(|key| key.unit).unwrap_or_default();
            Some(format!("{} {unit}", viewer.words.locale.number(number.as_f64().unwrap_or_default(), 2)))
        }
        None => Some(viewer.words.word("case.not_asked")?),
        _ => None,
    };
    Ok(Link { label: viewer.name_of(pointer)?, href: format!("/case/{case}/{}#{}", step.word(), id(pointer)), value })
}

/// What is open for somebody: required keys first, then what nobody was asked about yet, section by section.
fn open(viewer: &Viewer, case: CaseId, role: KnownBy, judged: &Judged) -> Result<Vec<Link>, DeskError> {
    let tasks: Vec<&Task> =
        judged.check.open.by_person().filter(|(who, _)| *who == role).flat_map(|(_, tasks)| tasks).collect();
    let mut keys: Vec<&Place> =
        tasks.iter().filter(|task| task.finding.is_none()).flat_map(|task| &task.keys).collect();
    keys.sort_by_key(|key| viewer.form.place(viewer.form.field_of(&key.pointer).unwrap_or(&key.pointer)));
    keys.dedup();
    let required = keys.into_iter().map(|key| link(viewer, case, &key.pointer));
    let (form, record) = (viewer.form, &viewer.file.record);
    let sections = form.sections.iter().filter(|section| asks(section.step, role, record));
    let not_asked = sections.map(|section| (section, form.not_asked(section, record).count()));
    let not_asked = not_asked.filter(|(_, count)| *count > 0).map(|(section, count)| {
        Ok(Link {
            label: viewer.words.word(&format!("section.{}", section.id))?,
            href: format!("/case/{case}/{}#section-{}", section.step.word(), section.id),
            value: Some(viewer.words.count("day.not_asked", count)?),
        })
    });
    required.chain(not_asked).collect()
}

/// Whether somebody of a role asks what stands in a step; after the laser once there was one.
fn asks(step: Step, role: KnownBy, record: &Value) -> bool {
    match step {
        Step::Desk => role == KnownBy::Desk,
        Step::Nurse => role == KnownBy::Nurse,
        Step::Surgeon => role == KnownBy::Surgeon,
        Step::Treatment => role == KnownBy::Surgeon && record.get("treatment").is_some(),
    }
}

fn unsigned(file: &CaseFile) -> Vec<Value> {
    let answers = file.unsigned_answers.iter().map(|answer| {
        serde_json::json!({ "what": answer.finding, "by": answer.by, "on": answer.on, "reason": answer.reason })
    });
    let tailoring = file.unsigned_tailoring.iter().map(|change| {
        serde_json::json!({ "what": change.statement, "by": change.by, "on": change.on, "reason": change.reason })
    });
    let words = file
        .unsigned_words
        .iter()
        .map(|own| serde_json::json!({ "what": own.words, "by": own.by, "on": own.on, "reason": own.reason }));
    answers.chain(tailoring).chain(words).collect()
}
