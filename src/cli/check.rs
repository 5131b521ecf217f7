//! `check`: findings without pages, what is missing, and what is open for whom.

use std::fmt::Write;
use std::path::{Path, PathBuf};

use chrono::TimeZone;

use super::args::{Check as Args, Format, MomentArg};
use super::report::{self, Failure};
use super::{Status, case, clock, io, practice};
use crate::facts::Moment;
use crate::facts::beside::{Beside, Other};
use crate::files::read;
use crate::packet::Instead;
use crate::packet::version::Version;
use crate::practice::{Draft, Practice};
use crate::record::form::KnownBy;
use crate::record::identity::Same;
use crate::review::check::{Asked, Check, Checked, Found, check};

/// Checks every record and reports all of them, also when one is refused.
pub(super) fn run(args: &Args) -> Result<Status, Failure> {
    let practice = practice::open(&args.case.practice)?;
    let mut status = Status::Done;
    let mut values = Vec::new();
    for (path, draft) in args.case.cases.iter().zip(drafts(&args.case.cases, &practice)?) {
        let value = match draft.and_then(|draft| one(path, args, &draft)) {
            Ok(checked) => Checked::Read(Box::new(checked)),
            Err(failure) => failed(path, &failure, args.format),
        };
        status = status.max(state(&value));
        if let (Format::Human, Checked::Read(checked)) = (args.format, &value) {
            io::stdout(text(checked)?.as_bytes())?;
        }
        if let Checked::Read(checked) = &value
            && !checked.prints
        {
            report::line(&format!("error: {}: {}", path.display(), refusal(checked)));
        }
        values.push(value);
    }
    if args.format == Format::Json {
        let text = serde_json::to_string_pretty(&values)?;
        io::stdout((text + "\n").as_bytes())?;
    }
    Ok(status)
}

/// What is written in each file, beside what the others say and the day it is.
pub(super) fn drafts(paths: &[PathBuf], practice: &Practice) -> Result<Vec<Result<Draft, Failure>>, Failure> {
    let zone = practice.profile.practice.time_zone.0;
    let today = Beside { today: Some(zone.from_utc_datetime(&clock::now()?).date_naive()), ..Beside::default() };
    let read = |path: &PathBuf| -> Result<Draft, Failure> { Ok(Draft::read(&read::source(path)?, practice)?) };
    let drafts: Vec<Result<Draft, Failure>> = paths.iter().map(read).collect();
    let said: Vec<Option<Other>> = drafts.iter().map(|draft| draft.as_ref().ok().and_then(Draft::other)).collect();
    let beside = |place: usize| {
        let others = said.iter().enumerate().filter(|(other, _)| *other != place);
        let others = others
            .filter_map(|(_, other)| other.as_ref())
            .filter(|other| said[place].as_ref().is_some_and(|own| own.identity.same(&other.identity) != Same::Not));
        today.clone().and(others.cloned())
    };
    let with = |(place, draft): (usize, Result<Draft, Failure>)| draft.map(|draft| draft.beside(beside(place)));
    Ok(drafts.into_iter().enumerate().map(with).collect())
}

fn one(path: &Path, args: &Args, draft: &Draft) -> Result<Check, Failure> {
    report::remarks(draft.warnings());
    let moment = Moment::chosen(args.case.moment.map(MomentArg::moment), draft.is_treated());
    let asked = Asked { moment, pages: args.pages, private: report::values_shown() };
    check(draft, asked).map_err(|error| case::in_file(path, error.into()))
}

fn state(checked: &Checked) -> Status {
    match checked {
        Checked::Read(check)
            if !check.prints || check.refused_pages.iter().any(|page| page.instead == Instead::Nothing) =>
        {
            Status::Failed
        }
        Checked::Read(check) if check.withheld.is_some() => Status::Withheld,
        Checked::Read(_) => Status::Done,
        Checked::Refused { .. } | Checked::Failed { .. } => Status::Failed,
    }
}

/// What is told of a record that cannot be read at all.
fn failed(path: &Path, failure: &Failure, format: Format) -> Checked {
    match failure {
        Failure::Refused(refused) if format == Format::Json => {
            Checked::Refused { version: Version, refused: refused.items() }
        }
        Failure::Told(error) => {
            report::line(&format!("error: {error}"));
            Checked::Failed { version: Version, error: error.clone() }
        }
        failure => {
            report::failure(failure);
            Checked::Failed { version: Version, error: path.display().to_string() }
        }
    }
}

/// Why nothing of it can be printed, in one line.
fn refusal(checked: &Check) -> String {
    match &checked.refusal {
        Some(refusal) => refusal.says.clone(),
        None => "nothing can be printed while required keys are missing".into(),
    }
}

fn text(checked: &Check) -> Result<String, std::fmt::Error> {
    let mut text = String::new();
    writeln!(text, "{}, {} the treatment", checked.case.as_deref().unwrap_or("(no code yet)"), checked.moment.word())?;
    checked.findings.iter().try_for_each(|finding| found(&mut text, finding))?;
    for may_come in &checked.undecided {
        let keys: Vec<String> = may_come.keys.iter().map(|key| key.written()).collect();
        writeln!(text, "  {:8}{} [may yet come]: hangs on {}", may_come.level.word(), may_come.id, keys.join(", "))?;
    }
    for id in &checked.idle_answers {
        writeln!(text, "  answer to {id}: no such finding is raised")?;
    }
    if checked.findings.is_empty() {
        writeln!(text, "  no rule fired for what was recorded")?;
    }
    if let Some(withheld) = &checked.withheld {
        writeln!(text, "  {}", withheld.says)?;
    }
    for refused in &checked.refused_pages {
        writeln!(text, "  {}", refused.says())?;
    }
    for (who, tasks) in checked.open.by_person().filter(|(_, tasks)| !tasks.is_empty()) {
        writeln!(text, "  open for {}:", person(who))?;
        tasks.iter().try_for_each(|task| writeln!(text, "    {}", task.says))?;
    }
    answers(&mut text, checked)?;
    Ok(text)
}

fn found(text: &mut String, finding: &Found) -> std::fmt::Result {
    let state = match &finding.answered_by {
        Some(by) => format!(" [answered by {by}]"),
        None if finding.open => match &finding.unsettled {
            Some(why) => format!(" [open; its answer does not count: {why}]"),
            None => " [open]".into(),
        },
        None => String::new(),
    };
    let unrecorded = match &finding.unrecorded[..] {
        [] => String::new(),
        names => format!("not recorded: {}. If it holds: ", names.join(", ")),
    };
    write!(text, "  {:8}{}{state}: {unrecorded}{}", finding.level.word(), finding.id, finding.says)?;
    if !finding.alternatives.is_empty() {
        write!(text, " No rule objects, for what was recorded, to: {}.", finding.alternatives.join(", "))?;
    }
    writeln!(text)
}

/// The answers to paste into the record: who, when and why stay to be written.
fn answers(text: &mut String, checked: &Check) -> std::fmt::Result {
    let open: Vec<&Found> = checked.findings.iter().filter(|finding| finding.open && finding.answerable).collect();
    if !open.is_empty() {
        writeln!(text, "  to answer, fill in and put into the record (by: {}):", checked.clinicians.join(", "))?;
    }
    open.iter().try_for_each(|Found { id, fingerprint, values, .. }| {
        let values = toml::Value::from(values.clone());
        writeln!(
            text,
            "\n[[answers]]\nfinding = \"{id}\"\nby = \"\"\non = \"\"\nreason = \"\"\nfingerprint = \"{fingerprint}\"\nvalues = {values}"
        )
    })
}

fn person(who: KnownBy) -> &'static str {
    match who {
        KnownBy::Desk => "the front desk",
        KnownBy::Nurse => "the nurse",
        KnownBy::Surgeon => "the surgeon",
    }
}
