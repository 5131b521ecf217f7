//! What is to be issued of a case, and with it of the other eye if both share a calendar: each in the version that follows
//! what was issued before.

use serde::Serialize;
use serde_json::json;

use super::error::DeskError;
use super::form::save;
use super::gate::Who;
use super::press::{Order, Wanted, joined};
use super::room::Room;
use crate::document::Page;
use crate::facts::Moment;
use crate::packet::Case;
use crate::register::{CaseId, Filed, Hashes, Issue, IssueId};

/// What would be issued.
#[derive(Debug)]
pub(super) struct Plan {
    pub(super) wanted: Wanted,
    pub(super) others: Vec<Wanted>,
    /// The cases that become another version.
    pub(super) raised: Vec<Raised>,
}

/// A case that becomes another version.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Raised {
    case: CaseId,
    code: String,
    before: u32,
    now: u32,
}

/// What would be issued of a case now, if anything could be.
pub(super) fn plan(room: &Room, id: CaseId) -> Result<Option<Plan>, DeskError> {
    let case = room.case(id)?;
    let Some(mut wanted) = wanted(room, &case)? else { return Ok(None) };
    let mut others = others(room, &case)?;
    let other = match Case::new(&wanted.record, wanted.moment) {
        Ok(own) => joined(&own, &others),
        Err(_) => None,
    };
    let mut raised = Vec::new();
    raised.extend(raise(room, &mut wanted, other.is_some())?);
    for one in others.iter_mut().filter(|one| Some(one.case) == other) {
        raised.extend(raise(room, one, true)?);
    }
    Ok(Some(Plan { wanted, others, raised }))
}

/// Orders what can be issued of a case now. The versions it takes are written into the cases.
pub(super) fn order(
    room: &mut Room,
    cookie: &str,
    who: &Who,
    id: CaseId,
    papers: Vec<Page>,
) -> Result<Option<Order>, DeskError> {
    let Some(Plan { wanted, others, raised }) = plan(room, id)? else { return Ok(None) };
    for one in &raised {
        let case = room.case(one.case)?;
        let act = room.act(who, room.words.label("/case/revision")?);
        room.register.save(&case, &with_version(&case, one.now).file, &act)?;
    }
    Ok(Some(Order { wanted, others, papers, at: room.now(), by: who.name.clone(), cookie: cookie.to_owned() }))
}

fn wanted(room: &Room, case: &Filed) -> Result<Option<Wanted>, DeskError> {
    let record = room.complete(case.id, &case.file)?;
    Ok(record.map(|record| {
        let moment = Moment::chosen(None, record.treatment.is_some());
        Wanted { case: case.id, record, moment }
    }))
}

/// Other complete cases that may be of the same patient: two eyes may share a calendar, or contradict each other.
fn others(room: &Room, case: &Filed) -> Result<Vec<Wanted>, DeskError> {
    let others = room.others(case.id, &case.file)?;
    others.iter().filter_map(|case| wanted(room, case).transpose()).collect()
}

/// Raises the version if this one was issued with other words: of another record, or with drops that now stand elsewhere.
fn raise(room: &Room, wanted: &mut Wanted, joined: bool) -> Result<Option<Raised>, DeskError> {
    let issues = room.register.issues(wanted.case)?;
    let of_moment = issues.iter().filter(|issued| issued.issue.moment == wanted.moment);
    let Some(last) = of_moment.max_by_key(|issued| (issued.issue.revision, issued.id)) else { return Ok(None) };
    let (record, before) = (&wanted.record, last.issue.revision);
    let same_content = record.case.revision == before && Hashes::of(record).agree(&last.issue.hashes);
    let same = same_content && last.joined == joined;
    if same || record.case.revision > before {
        return Ok(None);
    }
    let case = with_version(&room.case(wanted.case)?, before + 1);
    let code = record.case.code.clone();
    if let Some(record) = room.complete(case.id, &case.file)? {
        wanted.record = record;
    }
    Ok(Some(Raised { case: wanted.case, code, before, now: before + 1 }))
}

fn with_version(case: &Filed, version: u32) -> Filed {
    let mut case = case.clone();
    save::put(&mut case.file.record, "/case/revision", json!(version));
    case
}

/// Keeps what was made: the numbers of the issues, that of the ordered case first.
pub(super) fn keep(
    room: &mut Room,
    order: &Order,
    packets: &[(CaseId, crate::packet::Packet)],
) -> Result<Vec<IssueId>, DeskError> {
    let made = packets.iter().filter_map(|(case, packet)| {
        let wanted = order.all().find(|wanted| wanted.case == *case)?;
        let withheld = packet.withheld.is_some();
        let issue = Issue::of(*case, &wanted.record, wanted.moment, withheld, &order.by, order.at);
        Some((issue, packet.files.iter().map(|file| (file.name.as_str(), file.bytes.as_slice())).collect()))
    });
    let mut made: Vec<(Issue, Vec<_>)> = made.collect();
    made.sort_by_key(|(issue, _)| issue.case != order.wanted.case);
    Ok(room.register.issue_all(&made, || Ok(()))?)
}
