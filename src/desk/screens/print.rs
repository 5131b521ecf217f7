//! Issue and print: what may be issued now, what is withheld and why, and what was issued earlier. Only what was issued has
//! an address.

use serde::Serialize;
use serde_json::json;

use super::case::head_of;
use crate::desk::answer::Answer;
use crate::desk::error::DeskError;
use crate::desk::form::save;
use crate::desk::gate::Who;
use crate::desk::judge::{self, Judged};
use crate::desk::press::{NotMade, Order, Wanted};
use crate::desk::room::Room;
use crate::facts::Moment;
use crate::packet::Packet;
use crate::practice::Checked;
use crate::record::Record;
use crate::register::{CaseFile, CaseId, Issue, IssueId, Issued};

/// Most other cases that are looked at for the same patient.
const MOST: u32 = 20;

/// Pages that were issued together.
#[derive(Debug, Serialize)]
struct IssuedView {
    id: IssueId,
    moment: &'static str,
    revision: u32,
    when: String,
    by: String,
    files: Vec<FileView>,
}

#[derive(Debug, Serialize)]
struct FileView {
    place: usize,
    name: String,
    page: String,
    second: bool,
}

/// The page.
pub(in crate::desk) fn show(room: &mut Room, cookie: &str, who: &Who, id: CaseId) -> Result<Answer, DeskError> {
    let frame = room.frame(cookie, Some(who), "case")?;
    let case = room.case(id)?;
    let judged = room.judge(&case.file)?;
    let issued = room.register.issues(id)?;
    let ready = judged.errors.is_empty() && case.file.typed.is_empty() && judged.check.prints;
    let shown = json!({
        "frame": frame,
        "head": head_of(room, who, &case, &judged)?,
        "step": "print",
        "ready": ready,
        "moment": judged.moment.word(),
        "withheld": judged.check.withheld.as_ref().map(|withheld| withheld.by.clone()).map(|by| titles(&judged, &by)),
        "reason": judged.check.withheld.as_ref().map(|withheld| withheld.reason),
        "refusal": judged.check.refusal.as_ref().map(|refusal| refusal.says.clone()),
        "raises": raised(&case.file, &issued, &judged, room).map(|(before, now)| json!({ "before": before, "now": now })),
        "issued": issued.iter().map(|issued| view(room, issued)).collect::<Result<Vec<_>, _>>()?,
    });
    room.page("print", shown)
}

/// The titles of findings by id; an id that is none of them stands for itself.
fn titles(judged: &Judged, ids: &[String]) -> Vec<String> {
    let title =
        |id: &String| judged.check.findings.iter().find(|found| found.id == *id).map(|found| found.title.clone());
    ids.iter().map(|id| title(id).unwrap_or_else(|| id.clone())).collect()
}

/// How the files of the calendar of two cases end; they are of no moment.
const BOTH_EYES: &str = "both-eyes";

fn view(room: &Room, issued: &Issued) -> Result<IssuedView, DeskError> {
    let file = |(place, name): (usize, &str)| {
        let stem = name.rsplit_once('.').map_or(name, |(stem, _)| stem);
        let (stem, second) = stem.strip_suffix("-clinic").map_or((stem, false), |stem| (stem, true));
        let moment = format!("-{}-", issued.issue.moment.word());
        let page = match stem.split_once(&moment) {
            Some((_, page)) => page,
            None if stem.ends_with(BOTH_EYES) => BOTH_EYES,
            None => stem,
        };
        FileView { place, name: name.to_owned(), page: page.to_owned(), second }
    };
    let names = issued.files.iter().map(|file| file.name.as_str()).enumerate();
    Ok(IssuedView {
        id: issued.id,
        moment: issued.issue.moment.word(),
        revision: issued.issue.revision,
        when: room.words.moment(room.local(issued.issue.at))?,
        by: issued.issue.by.clone(),
        files: names.filter(|(_, name)| !name.ends_with(".json")).map(file).collect(),
    })
}

/// What is to be issued of a case now, if it can be. A case that changed since it was issued becomes the next version.
pub(in crate::desk) fn order(room: &mut Room, cookie: &str, who: &Who, id: CaseId) -> Result<Option<Order>, DeskError> {
    let case = room.case(id)?;
    let judged = room.judge(&case.file)?;
    let issued = room.register.issues(id)?;
    if let Some((_, now)) = raised(&case.file, &issued, &judged, room) {
        let mut file = case.file.clone();
        save::put(&mut file.record, "/case/revision", json!(now));
        let act = room.act(who, room.words.label("/case/revision")?);
        room.register.save(&case, &file, &act)?;
    }
    let file = room.case(id)?.file;
    let Some(record) = judge::complete(&file, &room.practice) else { return Ok(None) };
    let others = others(room, id, &record)?;
    let wanted = Wanted { case: id, record, moment: judged.moment };
    Ok(Some(Order { wanted, others, at: room.now(), by: who.name.clone(), cookie: cookie.to_owned() }))
}

/// Other complete cases that may be of the same patient: two eyes may share a calendar, or contradict each other.
fn others(room: &Room, id: CaseId, record: &Checked<Record>) -> Result<Vec<Wanted>, DeskError> {
    let mut found = room.register.find(&record.patient.record_number, MOST)?;
    found.extend(room.register.find(&record.patient.name, MOST)?);
    found.sort_by_key(|case| case.id);
    found.dedup_by_key(|case| case.id);
    let complete = found.into_iter().filter(|case| case.id != id).filter_map(|case| {
        let record = judge::complete(&case.file, &room.practice)?;
        let moment = Moment::chosen(None, record.treatment.is_some());
        Some(Wanted { case: case.id, record, moment })
    });
    Ok(complete.collect())
}

/// The version that was issued last and the one that comes, if the record changed since.
fn raised(file: &CaseFile, issued: &[Issued], judged: &Judged, room: &Room) -> Option<(u32, u32)> {
    let last = issued
        .iter()
        .filter(|issued| issued.issue.moment == judged.moment)
        .max_by_key(|issued| issued.issue.revision)?;
    let record = judge::complete(file, &room.practice)?;
    let same = record.case.revision == last.issue.revision && record.hash().ok()? == last.issue.record_hash;
    (!same && record.case.revision <= last.issue.revision).then_some((last.issue.revision, last.issue.revision + 1))
}

/// Keeps what was made and shows it.
pub(in crate::desk) fn issued(
    room: &mut Room,
    order: &Order,
    made: Result<Vec<(CaseId, Packet)>, NotMade>,
) -> Result<Answer, DeskError> {
    let back = Answer::go(format!("/case/{}/print#issued", order.wanted.case));
    let packets = match made {
        Ok(packets) => packets,
        Err(why) => {
            let says = format!("{}: {why}", room.words.word("print.refused")?);
            room.tell(&order.cookie, says);
            return Ok(back);
        }
    };
    for (case, packet) in &packets {
        let Some(wanted) = order.all().find(|wanted| wanted.case == *case) else { continue };
        let files = packet.files.iter().map(|file| (file.name.as_str(), file.bytes.as_slice()));
        room.register.issue(&issue(order, wanted), &files.collect::<Vec<_>>())?;
    }
    Ok(back)
}

fn issue(order: &Order, wanted: &Wanted) -> Issue {
    let record: &Checked<Record> = &wanted.record;
    Issue {
        case: wanted.case,
        moment: wanted.moment,
        revision: record.case.revision,
        record_hash: record.hash().unwrap_or_default(),
        program: env!("CARGO_PKG_VERSION").into(),
        language: record.patient.language.clone(),
        by: order.by.clone(),
        at: order.at,
    }
}

/// A file that was issued.
pub(in crate::desk) fn file(room: &Room, issue: IssueId, place: usize) -> Result<Option<Answer>, DeskError> {
    let file = room.register.issued_file(issue, place)?;
    Ok(file.map(|(name, bytes)| {
        let media = match name.rsplit_once('.') {
            Some((_, "pdf")) => "application/pdf",
            Some((_, "ics")) => "text/calendar; charset=utf-8",
            _ => "application/json",
        };
        Answer { file: Some(name), ..Answer::bytes(200, media, bytes) }
    }))
}
