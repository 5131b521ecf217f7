//! The pages as they will print, before they are issued: page by page, what stands on them and why, what the last change
//! altered, and what a surgeon changes by hand.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Serialize;
use serde_json::json;

use super::case::head_of;
use crate::desk::answer::Answer;
use crate::desk::areas::{areas, first_altered, is_altered, kinds, margin};
use crate::desk::error::DeskError;
use crate::desk::form::save::Fields;
use crate::desk::gate::Who;
use crate::desk::press::{Look, NotMade, Proof, Wanted};
use crate::desk::room::Room;
use crate::document::changes::ChangeKind;
use crate::facts::Moment;
use crate::record::course::OwnWords;
use crate::record::form::KnownBy;
use crate::register::{CaseFile, CaseId};
use crate::review::explain::StatementRow;

/// Sizes in which a page can be looked at, hundredths of the width there is.
const ZOOMS: [u32; 5] = [50, 75, 100, 150, 200];

/// What of the pages is looked at.
#[derive(Debug, Clone)]
pub(in crate::desk) struct Chosen {
    statement: Option<String>,
    page: Option<usize>,
    /// A paragraph of own words, from 0.
    own: Option<usize>,
    zoom: u32,
}

impl Chosen {
    /// What an address asks for.
    pub(in crate::desk) fn of(fields: &Fields) -> Self {
        let number = |name: &str| fields.get(name).and_then(|text| text.parse::<u32>().ok());
        Self {
            statement: fields.get("statement").filter(|id| !id.is_empty()).cloned(),
            page: number("page").and_then(|page| usize::try_from(page).ok()),
            own: number("own").and_then(|at| usize::try_from(at).ok()),
            zoom: number("zoom").filter(|zoom| ZOOMS.contains(zoom)).unwrap_or(100),
        }
    }
}

/// One statement in the list beside the pages.
#[derive(Debug, Serialize)]
struct Row {
    id: String,
    words: String,
    page: Option<usize>,
    core: bool,
    said: bool,
    by_hand: Option<String>,
    changed: Option<ChangeKind>,
}

/// What the press is asked for, if the case can be laid out.
pub(in crate::desk) fn wanted(room: &Room, id: CaseId) -> Result<Option<Look>, DeskError> {
    let case = room.case(id)?;
    let judged = room.judge(case.id, &case.file)?;
    if judged.check.refusal.is_some() {
        return Ok(None);
    }
    let Some(record) = room.complete(id, &case.file)? else { return Ok(None) };
    let before = room.register.at_version(id, case.version - 1)?;
    let before = before.and_then(|file| file.complete(&room.practice));
    let before = before.filter(|record| Moment::chosen(None, record.treatment.is_some()) == judged.moment);
    let withheld = judged.moment == Moment::Before && judged.withholds();
    let stamp = withheld.then(|| room.words.word("print.withheld")).transpose()?;
    let wanted = Wanted { case: id, record, moment: judged.moment };
    Ok(Some(Look { wanted, version: case.version, before, today: room.today(), stamp }))
}

/// The page, with what the press made if it could.
pub(in crate::desk) fn show(
    room: &mut Room,
    cookie: &str,
    who: &Who,
    id: CaseId,
    chosen: &Chosen,
    made: Option<Result<Arc<Proof>, NotMade>>,
) -> Result<Answer, DeskError> {
    let frame = room.frame(cookie, Some(who), "case")?;
    let drafts = room.gate.browser(cookie).drafts.of(id);
    let case = room.case(id)?;
    let judged = room.judge(case.id, &case.file)?;
    let (proof, refused) = match made {
        Some(Ok(proof)) => (Some(proof), None),
        Some(Err(why)) => (None, Some(why.to_string())),
        None => (None, judged.check.refusal.as_ref().map(|refusal| refusal.says.clone())),
    };
    let (own, unsigned) = (own_words(room, &signed_words(&case.file))?, own_words(room, &case.file.unsigned_words)?);
    let shown = json!({
        "frame": frame,
        "head": head_of(room, who, &case, &judged)?,
        "step": "pages",
        "since": room.register.last_change(id)?,
        "proof": proof.map(|proof| view(room, &proof, chosen)),
        "refused": refused,
        "moment": judged.moment.word(),
        "reason": judged.check.withheld.as_ref().map(|withheld| withheld.reason),
        "withheld": judged.withheld_by(),
        "own_words": own,
        "own_at": chosen.own.filter(|at| *at < own.len()),
        "unsigned_words": unsigned,
        "drafts": drafts,
        "may_sign": who.role == KnownBy::Surgeon,
        "signs_on": room.words.locale.date(room.today()),
    });
    room.page("pages", shown)
}

/// A paragraph in the surgeon's own words, and why the patient reads it.
#[derive(Debug, Serialize)]
struct OwnView {
    words: String,
    /// By whom, when, why; nothing if nobody told.
    why: Option<String>,
    reason: String,
}

fn own_words(room: &Room, own: &[OwnWords]) -> Result<Vec<OwnView>, DeskError> {
    let view = |own: &OwnWords| {
        let on = room.words.locale.date(own.on.0);
        let told = [("by", own.by.as_str()), ("on", on.as_str()), ("reason", own.reason.as_str())];
        let why = (!own.by.is_empty()).then(|| room.words.say("case.unsigned_says", &told)).transpose()?;
        Ok(OwnView { words: own.words.clone(), why, reason: own.reason.clone() })
    };
    own.iter().map(view).collect()
}

/// The paragraphs that somebody signed here.
fn signed_words(file: &CaseFile) -> Vec<OwnWords> {
    let signed = file.record.get("surgeon_words").cloned().unwrap_or_default();
    serde_json::from_value(signed).unwrap_or_default()
}

/// What stands of the pages beside a form: the page that the last change altered.
pub(in crate::desk) fn beside(
    room: &Room,
    id: CaseId,
    made: Option<Result<Arc<Proof>, NotMade>>,
) -> Result<Answer, DeskError> {
    let case = room.case(id)?;
    let refused = made.as_ref().and_then(|made| made.as_ref().err()).map(ToString::to_string);
    let proof = made.and_then(Result::ok);
    let shown = json!({
        "head": { "id": id, "version": case.version },
        "may_be_seen": proof.is_some(),
        "refused": refused,
        "proof": proof.map(|proof| {
            let page = first_altered(&proof.pages, &proof.changes);
            view(room, &proof, &Chosen { statement: None, page: Some(page), own: None, zoom: 100 })
        }),
    });
    room.page("preview", shown)
}

/// The facts that a condition looked at, in the words of the staff.
fn in_words(room: &Room, why: &StatementRow) -> Vec<(String, String)> {
    let locale = &room.words.locale;
    let said = |keys: &[String], instead: &str| {
        let known = keys.iter().find_map(|key| locale.word(key).ok());
        known.map_or_else(|| instead.replace('_', " "), str::to_owned)
    };
    let saw = why.saw.iter().map(|(name, word)| {
        let keys = [format!("word.{name}.{word}"), format!("word.any.{word}")];
        (said(&[format!("fact.{name}")], name), said(&keys, word))
    });
    saw.collect()
}

/// What is shown of the pages.
fn view(room: &Room, proof: &Proof, chosen: &Chosen) -> serde_json::Value {
    let kinds = kinds(&proof.changes);
    let rows = proof.explanation.statements.iter().map(|row| row_of(proof, row, &kinds));
    let (said, others): (Vec<Row>, Vec<Row>) = rows.partition(|row| row.said);
    let of = proof.pages.len();
    let page_of = |id: &String| said.iter().find(|row| row.id == *id).and_then(|row| row.page);
    let page = chosen.page.or_else(|| chosen.statement.as_ref().and_then(page_of)).unwrap_or(1).clamp(1, of.max(1));
    let (here, elsewhere): (Vec<&Row>, Vec<&Row>) = said.iter().partition(|row| row.page == Some(page));
    let why = proof.explanation.statements.iter().find(|row| Some(&row.id) == chosen.statement.as_ref());
    let picture = proof.pages.get(page - 1);
    let chosen_id = chosen.statement.as_deref();
    let ids: Vec<&str> = said.iter().map(|row| row.id.as_str()).collect();
    let at = ZOOMS.iter().position(|zoom| *zoom == chosen.zoom).unwrap_or_default();
    json!({
        "page": page, "of": of, "zoom": chosen.zoom,
        "smaller": at.checked_sub(1).map(|at| ZOOMS[at]), "larger": ZOOMS.get(at + 1),
        "marked": proof.pages.iter().map(|page| is_altered(page, &kinds)).collect::<Vec<_>>(),
        "size": picture.map(|picture| picture.size),
        "areas": picture.map(|picture| areas(picture, margin(&proof.pages), &ids, &kinds, chosen_id)).unwrap_or_default(),
        "twin": proof.twin, "language": proof.language, "right_to_left": proof.right_to_left,
        "changes": proof.changes, "words": proof.words,
        "coverage": proof.coverage,
        "here": here, "elsewhere": elsewhere, "others": others, "why": why,
        "why_saw": why.map(|why| in_words(room, why)),
        "why_words": why.and_then(|why| proof.words.get(&why.id)),
    })
}

fn row_of(proof: &Proof, row: &StatementRow, kinds: &BTreeMap<&str, ChangeKind>) -> Row {
    Row {
        id: row.id.clone(),
        words: proof.words.get(&row.id).cloned().unwrap_or_else(|| row.id.replace('-', " ")),
        page: row.stands.as_ref().and_then(|stands| stands.page),
        core: row.core,
        said: row.said,
        by_hand: row.by_hand.as_ref().map(|by| by.by.clone()),
        changed: kinds.get(row.id.as_str()).copied(),
    }
}
