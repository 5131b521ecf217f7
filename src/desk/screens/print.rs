//! Issue and print: what may be issued now, what is withheld and why, and what was issued earlier. Only what was issued has
//! an address.

use serde::Serialize;
use serde_json::json;

use super::case::head_of;
use super::tally;
use crate::batch::issue::Untimely;
use crate::desk::answer::Answer;
use crate::desk::error::DeskError;
use crate::desk::form::save::Fields;
use crate::desk::gate::Who;
use crate::desk::issued::{self, BOTH_EYES};
use crate::desk::job;
use crate::desk::order::{self, Plan};
use crate::desk::press::{NotMade, Order};
use crate::desk::room::Room;
use crate::document::{Page, desk};
use crate::packet::{Case, Form, Output, Packet};
use crate::record::form::KnownBy;
use crate::register::{CaseId, IssueId, Issued};

/// A page set that is to be issued.
#[derive(Debug, Serialize)]
struct SetView {
    page: &'static str,
    second: bool,
    copies: u32,
}

/// What the field of a paper is called before its word.
const PAPER: &str = "paper-";

/// The papers that a form asks for.
pub(in crate::desk) fn papers_in(fields: &Fields) -> Vec<Page> {
    Page::PAPERS.into_iter().filter(|page| fields.contains_key(&format!("{PAPER}{}", page.word()))).collect()
}

/// Pages that were issued together.
#[derive(Debug, Serialize)]
struct IssuedView {
    id: IssueId,
    moment: &'static str,
    revision: u32,
    when: String,
    by: String,
    /// Whether it is to be taken back.
    taken_back: bool,
    files: Vec<FileView>,
}

#[derive(Debug, Serialize)]
struct FileView {
    issue: IssueId,
    place: usize,
    name: String,
    page: String,
    second: bool,
    /// Whether it must not go out now.
    withheld: bool,
}

/// The page.
pub(in crate::desk) fn show(room: &mut Room, cookie: &str, who: &Who, id: CaseId) -> Result<Answer, DeskError> {
    let frame = room.frame(cookie, Some(who), "case")?;
    let drafts = room.gate.browser(cookie).drafts.of(id);
    let case = room.case(id)?;
    let judged = room.judge(case.id, &case.file)?;
    let issued = room.register.issues(id)?;
    let plan = order::plan(room, id)?;
    let ready = judged.errors.is_empty() && case.file.typed.is_empty() && judged.check.prints;
    let shown = json!({
        "frame": frame,
        "head": head_of(room, who, &case, &judged)?,
        "step": "print",
        "ready": ready,
        "drafts": drafts,
        "moment": judged.moment.word(),
        "withheld": judged.withheld_by(),
        "reason": judged.check.withheld.as_ref().map(|withheld| withheld.reason),
        "refusal": judged.check.refusal.as_ref().map(|refusal| refusal.says.clone()),
        "sets": plan.as_ref().map(sets).transpose()?.unwrap_or_default(),
        "papers": plan.as_ref().map(papers).unwrap_or_default(),
        "along": tally::along(room, &case, judged.moment)?,
        "may_sign": who.role == KnownBy::Surgeon,
        "raised": plan.map(|plan| plan.raised).unwrap_or_default(),
        "issued": issued.into_iter().map(|issued| view(room, issued)).collect::<Result<Vec<_>, _>>()?,
    });
    room.page("print", shown)
}

/// The page sets that would be issued, with the copies that the desk sheet asks for.
fn sets(plan: &Plan) -> Result<Vec<SetView>, DeskError> {
    let Ok(case) = Case::new(&plan.wanted.record, plan.wanted.moment) else { return Ok(Vec::new()) };
    let set = |page: Page, second: bool| SetView { page: page.word(), second, copies: desk::copies(page, second) };
    let outputs = case.outputs(&[Form::Pdf])?.into_iter();
    let sets = outputs.filter_map(|output| match output {
        Output::Page(page, _) => Some(set(page, false)),
        Output::Second(page, _) => Some(set(page, true)),
        Output::Calendar | Output::Data => None,
    });
    Ok(sets.collect())
}

/// The papers that may be issued along.
fn papers(plan: &Plan) -> Vec<&'static str> {
    let case = Case::new(&plan.wanted.record, plan.wanted.moment);
    case.map(|case| case.papers().iter().map(|page| page.word()).collect()).unwrap_or_default()
}

fn view(room: &Room, issued: Issued) -> Result<IssuedView, DeskError> {
    let taken_back = issued::is_taken_back(room, &issued)?;
    let (id, issue) = (issued.id, issued.issue.clone());
    let mut files = Vec::new();
    for together in issued::together(room, issued)? {
        let names = together.files.iter().map(|file| file.name.as_str()).enumerate();
        let names = names.filter(|(_, name)| !name.ends_with(".json"));
        // Of the other eye only what is for both.
        let names = names.filter(|(_, name)| together.id == id || name.contains(BOTH_EYES));
        files.extend(names.map(|(place, name)| file_view(&together, place, name, taken_back)));
    }
    Ok(IssuedView {
        id,
        moment: issue.moment.word(),
        revision: issue.revision,
        when: room.words.moment(room.local(issue.at))?,
        by: issue.by,
        taken_back,
        files,
    })
}

fn file_view(issued: &Issued, place: usize, name: &str, taken_back: bool) -> FileView {
    let stem = name.rsplit_once('.').map_or(name, |(stem, _)| stem);
    let (stem, second) = stem.strip_suffix("-clinic").map_or((stem, false), |stem| (stem, true));
    let moment = format!("-{}-", issued.issue.moment.word());
    let page = match stem.split_once(&moment) {
        Some((_, page)) => page,
        None if stem.ends_with(BOTH_EYES) => BOTH_EYES,
        None => stem,
    };
    let withheld = taken_back && !Page::OF_STAFF.iter().any(|sheet| sheet.word() == page);
    FileView { issue: issued.id, place, name: name.to_owned(), page: page.to_owned(), second, withheld }
}

/// Keeps what was made and shows it.
pub(in crate::desk) fn issued(
    room: &mut Room,
    order: &Order,
    made: Result<Vec<(CaseId, Packet)>, NotMade>,
) -> Result<Answer, DeskError> {
    match made {
        Ok(packets) => _ = order::keep(room, order, &packets)?,
        Err(why) => {
            let says = format!("{}: {}", room.words.word("print.refused")?, not_made(room, &why)?);
            room.tell(&order.cookie, says);
        }
    }
    Ok(Answer::go(format!("/case/{}/print#issued", order.wanted.case)))
}

/// Why pages were not made, and what to do about it at a desk.
pub(super) fn not_made(room: &Room, why: &NotMade) -> Result<String, DeskError> {
    let NotMade::Untimely(why) = why else { return Ok(why.to_string()) };
    room.words.word(match why {
        Untimely::AfterStart => "print.untimely.after_start",
        Untimely::BeforeTreatment => "print.untimely.before_treatment",
        Untimely::BeforeLeaving => "print.untimely.before_leaving",
        Untimely::BeforeAnswer => "print.untimely.before_answer",
        Untimely::FarOff => "print.untimely.far_off",
    })
}

/// The print job of an issue, and of the other eye that was issued with it.
pub(in crate::desk) fn job(room: &Room, issue: IssueId) -> Result<Option<Answer>, DeskError> {
    let Some(issued) = room.register.issued(issue)? else { return Ok(None) };
    let name = issued.files.first().and_then(|file| file.name.rsplit_once('-')).map(|(stem, _)| stem.to_owned());
    let all: Vec<IssueId> = issued::together(room, issued)?.iter().map(|issued| issued.id).collect();
    job_of(room, &all, &name.unwrap_or_default()).map(Some)
}

/// One file of these issues for the printer.
pub(super) fn job_of(room: &Room, issues: &[IssueId], name: &str) -> Result<Answer, DeskError> {
    let Some(sets) = issued::page_sets(room, issues)? else { return Ok(room.refused(403, "enter.withheld")) };
    let bytes = job::join(&sets).map_err(|why| DeskError::Text(why.to_string()))?;
    Ok(Answer { file: Some(format!("{name}-print.pdf")), ..Answer::bytes(200, "application/pdf", bytes) })
}
