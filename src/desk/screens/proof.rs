//! The pages as they will print, before they are issued: page by page, what stands on them and why, what the last change
//! altered, and what a surgeon changes by hand.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Serialize;
use serde_json::json;

use super::case::head_of;
use crate::desk::answer::Answer;
use crate::desk::error::DeskError;
use crate::desk::form::save::Fields;
use crate::desk::gate::Who;
use crate::desk::judge;
use crate::desk::press::{Look, NotMade, Proof, Wanted};
use crate::desk::room::Room;
use crate::document::changes::ChangeKind;
use crate::facts::Moment;
use crate::record::form::KnownBy;
use crate::register::CaseId;
use crate::render::typeset::{Picture, Spot};
use crate::review::explain::StatementRow;

/// Sizes in which a page can be looked at, hundredths of the width there is.
const ZOOMS: [u32; 5] = [50, 75, 100, 150, 200];

/// Spots no further apart than this stand in one row, points.
const ROW: f64 = 3.0;

/// What of the pages is looked at.
#[derive(Debug, Clone)]
pub(in crate::desk) struct Chosen {
    statement: Option<String>,
    page: Option<usize>,
    zoom: u32,
}

impl Chosen {
    /// What an address asks for.
    pub(in crate::desk) fn of(fields: &Fields) -> Self {
        let number = |name: &str| fields.get(name).and_then(|text| text.parse::<u32>().ok());
        Self {
            statement: fields.get("statement").filter(|id| !id.is_empty()).cloned(),
            page: number("page").and_then(|page| usize::try_from(page).ok()),
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

/// Where a statement stands on the page, points.
#[derive(Debug, PartialEq, Serialize)]
struct Area {
    id: String,
    x: f64,
    y: f64,
    width: f64,
    height: f64,
    changed: Option<ChangeKind>,
    chosen: bool,
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
    let before = before.and_then(|file| judge::complete(&file, &room.practice));
    let before = before.filter(|record| Moment::chosen(None, record.treatment.is_some()) == judged.moment);
    let wanted = Wanted { case: id, record, moment: judged.moment };
    Ok(Some(Look { wanted, version: case.version, before, today: room.today() }))
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
    let case = room.case(id)?;
    let judged = room.judge(case.id, &case.file)?;
    let (proof, refused) = match made {
        Some(Ok(proof)) => (Some(proof), None),
        Some(Err(why)) => (None, Some(why.to_string())),
        None => (None, judged.check.refusal.as_ref().map(|refusal| refusal.says.clone())),
    };
    let own_words = case.file.record.pointer("/surgeon_words").cloned();
    let shown = json!({
        "frame": frame,
        "head": head_of(room, who, &case, &judged)?,
        "step": "pages",
        "since": room.register.last_change(id)?,
        "proof": proof.map(|proof| view(&proof, chosen)),
        "refused": refused,
        "own_words": own_words,
        "may_sign": who.role == KnownBy::Surgeon,
        "signs_on": room.words.locale.date(room.today()),
    });
    room.page("pages", shown)
}

/// What is shown of the pages.
fn view(proof: &Proof, chosen: &Chosen) -> serde_json::Value {
    let kinds: BTreeMap<&str, ChangeKind> =
        proof.changes.iter().map(|change| (change.id.as_str(), change.kind)).collect();
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
    let marked: Vec<usize> = said.iter().filter(|row| row.changed.is_some()).filter_map(|row| row.page).collect();
    json!({
        "page": page, "of": of, "zoom": chosen.zoom,
        "smaller": at.checked_sub(1).map(|at| ZOOMS[at]), "larger": ZOOMS.get(at + 1),
        "marked": (1..=of).map(|page| marked.contains(&page)).collect::<Vec<_>>(),
        "size": picture.map(|picture| picture.size),
        "areas": picture.map(|picture| areas(picture, &ids, &kinds, chosen_id)).unwrap_or_default(),
        "twin": proof.twin, "language": proof.language, "right_to_left": proof.right_to_left,
        "changes": proof.changes, "words": proof.words,
        "coverage": proof.coverage,
        "here": here, "elsewhere": elsewhere, "others": others, "why": why,
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

/// Where statements stand on a page: from their mark to what begins beside or below it.
fn areas(picture: &Picture, ids: &[&str], kinds: &BTreeMap<&str, ChangeKind>, chosen: Option<&str>) -> Vec<Area> {
    let (width, height) = picture.size;
    let left = picture.spots.iter().map(|spot| spot.at.0).fold(width, f64::min);
    let area = |spot: &Spot| {
        let (x, y) = spot.at;
        let beside = picture.spots.iter().filter(|other| (other.at.1 - y).abs() < ROW && other.at.0 > x + ROW);
        let below = picture.spots.iter().filter(|other| other.at.1 > y + ROW);
        let right = beside.map(|other| other.at.0).fold(width - left, f64::min);
        let bottom = below.map(|other| other.at.1).fold(height - left, f64::min);
        Area {
            id: spot.id.clone(),
            x,
            y,
            width: (right - x).max(0.0),
            height: (bottom - y).max(0.0),
            changed: kinds.get(spot.id.as_str()).copied(),
            chosen: Some(spot.id.as_str()) == chosen,
        }
    };
    picture.spots.iter().filter(|spot| ids.contains(&spot.id.as_str())).map(area).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_statement_stands_from_its_mark_to_what_begins_beside_or_below_it() {
        let spot = |id: &str, x: f64, y: f64| Spot { id: id.into(), at: (x, y) };
        let spots =
            vec![spot("a", 50.0, 100.0), spot("b", 50.0, 150.0), spot("c", 300.0, 151.0), spot("part", 50.0, 400.0)];
        let picture = Picture { svg: String::new(), size: (600.0, 800.0), spots };
        let kinds = BTreeMap::from([("b", ChangeKind::New)]);
        let found = areas(&picture, &["a", "b", "c"], &kinds, Some("c"));
        let at = |x, y, width, height| (x, y, width, height);
        let boxes: Vec<_> = found.iter().map(|area| at(area.x, area.y, area.width, area.height)).collect();
        assert_eq!(
            boxes,
            [at(50.0, 100.0, 500.0, 50.0), at(50.0, 150.0, 250.0, 250.0), at(300.0, 151.0, 250.0, 249.0)]
        );
        assert_eq!((found[1].changed, found[2].chosen, found[0].chosen), (Some(ChangeKind::New), true, false));
    }
}
