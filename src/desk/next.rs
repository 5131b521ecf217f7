//! Where a case stands: what is open, who must act, and the one next step.

use chrono::NaiveDateTime;
use serde::Serialize;

use super::form::view::left;
use super::form::{Form, Step};
use super::judge::Judged;
use crate::facts::Moment;
use crate::findings::Level;
use crate::packet::Assessment;
use crate::packet::assessment::known_by;
use crate::record::form::KnownBy;
use crate::register::{CaseFile, Issued};
use crate::review::check::TaskKind;

/// The one next step.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Next {
    /// Correct what cannot be.
    Mend,
    /// Fill in what is missing.
    Fill,
    /// Answer what is open.
    Answer,
    /// Look why pages are withheld although nothing is open in the case.
    Release,
    /// Print what comes before the treatment.
    PrintConsent,
    /// Write down what was done.
    RecordTreatment,
    /// Print what comes after it.
    PrintAftercare,
    /// Measure the pressure again.
    Recheck,
    /// Nothing.
    Done,
}

/// Where a case stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Standing {
    pub(super) next: Next,
    /// Who must act; nobody if nothing is left.
    pub(super) who: Option<KnownBy>,
    /// When the pressure is to be measured again, local time.
    pub(super) recheck: Option<NaiveDateTime>,
    pub(super) errors: usize,
    pub(super) not_asked: usize,
}

/// Where a case stands.
pub(super) fn standing(form: &Form, file: &CaseFile, judged: &Judged, issues: &[Issued]) -> Standing {
    let errors = judged.errors.len() + file.typed.keys().filter(|name| name.starts_with(['/', '!'])).count();
    let not_asked = left(form, Step::Nurse, &file.record);
    let recheck = if issued(issues, Moment::After) == Extent::Nothing { None } else { recheck(file, judged) };
    let (next, who) = if errors > 0 {
        (Next::Mend, Some(mender(file, judged)))
    } else if let Some(who) = filler(judged) {
        (Next::Fill, Some(who))
    } else {
        complete(judged, not_asked, issued(issues, judged.moment), recheck)
    };
    Standing { next, who, recheck, errors, not_asked }
}

/// How much was issued of a moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Extent {
    Nothing,
    /// Without the consent or the drop plan, which were withheld.
    Part,
    All,
}

fn issued(issues: &[Issued], moment: Moment) -> Extent {
    let of_moment = issues.iter().filter(|issued| issued.issue.moment == moment);
    let extent = of_moment.map(|issued| if issued.issue.withheld { Extent::Part } else { Extent::All });
    extent.max().unwrap_or(Extent::Nothing)
}

fn complete(
    judged: &Judged,
    not_asked: usize,
    issued: Extent,
    recheck: Option<NaiveDateTime>,
) -> (Next, Option<KnownBy>) {
    let open = judged.check.findings.iter().any(|finding| finding.open);
    match judged.moment {
        _ if judged.check.refusal.is_some() => (Next::Mend, Some(KnownBy::Desk)),
        Moment::Before if issued == Extent::All && !judged.withholds() => {
            (Next::RecordTreatment, Some(KnownBy::Surgeon))
        }
        Moment::Before if not_asked > 0 => (Next::Fill, Some(KnownBy::Nurse)),
        Moment::After if issued == Extent::Nothing => (Next::PrintAftercare, Some(KnownBy::Desk)),
        Moment::After if recheck.is_some() => (Next::Recheck, Some(KnownBy::Nurse)),
        _ if open => (Next::Answer, Some(KnownBy::Surgeon)),
        _ if judged.withholds() => (Next::Release, Some(KnownBy::Surgeon)),
        Moment::Before => (Next::PrintConsent, Some(KnownBy::Desk)),
        Moment::After if issued == Extent::Part => (Next::PrintAftercare, Some(KnownBy::Desk)),
        Moment::After => (Next::Done, None),
    }
}

/// Who can mend the first thing that is wrong.
fn mender(file: &CaseFile, judged: &Judged) -> KnownBy {
    let typed = file.typed.keys().next().map(|name| name.trim_start_matches(['~', '=', '!']));
    let wrong = judged.errors.iter().find_map(|item| item.pointer.as_deref());
    typed.or(wrong).map_or(KnownBy::Desk, known_by)
}

/// Who has a required key to write, in the order in which a case goes through a practice.
fn filler(judged: &Judged) -> Option<KnownBy> {
    let mut open = judged.check.open.by_person();
    open.find(|(_, tasks)| tasks.iter().any(|task| task.kind == TaskKind::Fill)).map(|(who, _)| who)
}

/// When the pressure is to be measured again on the day, if that was not done.
fn recheck(file: &CaseFile, judged: &Judged) -> Option<NaiveDateTime> {
    if file.record.pointer("/treatment/rechecks/0").is_some() {
        return None;
    }
    let plan = Assessment::of_draft(&judged.draft, Moment::After).plan_without_drops().ok()?;
    plan.recheck?.at()
}

/// How many findings of a level wait, or for the light ones stand.
pub(super) fn count(judged: &Judged, level: Level) -> usize {
    let counts = |found: &&crate::review::check::Found| found.level == level && (found.open || !level.withholds());
    judged.check.findings.iter().filter(counts).count()
}
