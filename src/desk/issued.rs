//! What was issued: its page sets in the order of the desk sheet, what belongs together, and what must not go out any
//! longer.

use serde::Deserialize;

use super::answer::Answer;
use super::error::DeskError;
use super::job::PageSet;
use super::room::Room;
use crate::document::Page;
use crate::facts::Moment;
use crate::register::{CaseId, IssueId, Issued};

/// How the files of the calendar of two cases end; they are of no moment.
pub(super) const BOTH_EYES: &str = "both-eyes";

/// What the data of a packet say of its pages.
#[derive(Debug, Default, Deserialize)]
pub(super) struct Data {
    /// Id of the calendar for both eyes, if there is one: the codes of two cases.
    both_eyes: Option<String>,
    /// The page sets.
    documents: Vec<Sheet>,
}

#[derive(Debug, Deserialize)]
struct Sheet {
    page: Page,
    file: String,
    #[serde(default = "once")]
    copies: u32,
}

fn once() -> u32 {
    1
}

impl Data {
    /// What was issued, by its own data.
    pub(super) fn of(room: &Room, issued: &Issued) -> Result<Self, DeskError> {
        let place = issued.files.iter().position(|file| file.name.ends_with(".json"));
        let file = place.map(|place| room.register.issued_file(issued.id, place)).transpose()?.flatten();
        Ok(file.and_then(|(_, bytes)| serde_json::from_slice(&bytes).ok()).unwrap_or_default())
    }

    /// Codes of the cases that share a calendar.
    fn codes(&self) -> impl Iterator<Item = &str> {
        let codes = self.both_eyes.as_deref().and_then(|id| id.strip_suffix(BOTH_EYES)).unwrap_or_default();
        codes.trim_end_matches('-').split('_').filter(|code| !code.is_empty())
    }
}

/// What was issued together: this, and the other eye if both share a calendar.
pub(super) fn together(room: &Room, issued: Issued) -> Result<Vec<Issued>, DeskError> {
    let data = Data::of(room, &issued)?;
    let mut all = vec![issued];
    for case in cases(room, &data)? {
        let (own, at) = (all[0].issue.case, all[0].issue.at);
        let other = room.register.issues(case)?.into_iter().find(|other| case != own && other.issue.at == at);
        all.extend(other);
    }
    Ok(all)
}

fn cases(room: &Room, data: &Data) -> Result<Vec<CaseId>, DeskError> {
    let cases = data.codes().map(|code| room.register.by_code(code));
    Ok(cases.collect::<Result<Vec<_>, _>>()?.into_iter().flatten().collect())
}

/// Whether what was issued holds what must not go out now: it is to be taken back, and nobody can print it any longer.
pub(super) fn is_taken_back(room: &Room, issued: &Issued) -> Result<bool, DeskError> {
    if issued.issue.withheld {
        return Ok(false);
    }
    let mut all = vec![issued.issue.case];
    if issued.issue.moment == Moment::After {
        all.extend(cases(room, &Data::of(room, issued)?)?);
    }
    for case in all {
        let judged = room.judge(case, &room.case(case)?.file)?;
        if judged.moment == issued.issue.moment && judged.withholds() {
            return Ok(true);
        }
    }
    Ok(false)
}

/// The page sets of issues for one print job, each in the order of its desk sheet. Nothing if one of them is to be taken
/// back.
pub(super) fn page_sets(room: &Room, issues: &[IssueId]) -> Result<Option<Vec<PageSet>>, DeskError> {
    let mut sets = Vec::new();
    for id in issues {
        let Some(issued) = room.register.issued(*id)? else { return Ok(None) };
        if is_taken_back(room, &issued)? {
            return Ok(None);
        }
        let mut sheets = Data::of(room, &issued)?.documents;
        sheets.sort_by_key(|sheet| sheet.page);
        for sheet in sheets {
            let place = issued.files.iter().position(|file| file.name == sheet.file && file.name.ends_with(".pdf"));
            let file = place.map(|place| room.register.issued_file(*id, place)).transpose()?.flatten();
            sets.extend(file.map(|(_, bytes)| PageSet { bytes, copies: sheet.copies }));
        }
    }
    Ok(Some(sets))
}

/// A file that was issued, to the byte. What must not go out now has no address.
pub(super) fn file(room: &Room, issue: IssueId, place: usize) -> Result<Option<Answer>, DeskError> {
    let Some((issued, (name, bytes))) = room.register.issued(issue)?.zip(room.register.issued_file(issue, place)?)
    else {
        return Ok(None);
    };
    if !is_of_staff(&name) && is_taken_back(room, &issued)? {
        return Ok(Some(room.refused(403, "enter.withheld")));
    }
    let media = match name.rsplit_once('.') {
        Some((_, "pdf")) => "application/pdf",
        Some((_, "ics")) => "text/calendar; charset=utf-8",
        _ => "application/json",
    };
    Ok(Some(Answer { file: Some(name), ..Answer::bytes(200, media, bytes) }))
}

/// Whether a file is a sheet of the staff alone.
fn is_of_staff(name: &str) -> bool {
    Page::OF_STAFF.iter().any(|page| name.ends_with(&format!("-{}.pdf", page.word())))
}
