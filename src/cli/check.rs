//! `check`: findings without pages, what is missing, and what is open for whom.

use std::fmt::Write;
use std::path::Path;

use super::args::{Check as Args, Format, MomentArg};
use super::report::{self, Failure};
use super::{Status, case, io, practice};
use crate::facts::Moment;
use crate::files::read;
use crate::packet::version::Version;
use crate::practice::{Draft, Practice};
use crate::record::form::KnownBy;
use crate::review::check::{Check, Checked, Found, check};

/// Checks every record and reports all of them, also when one is refused.
pub(super) fn run(args: &Args) -> Result<Status, Failure> {
    let practice = practice::open(&args.case.practice)?;
    let mut status = Status::Done;
    let mut values = Vec::new();
    for path in &args.case.cases {
        let value = match one(path, args, &practice) {
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

fn one(path: &Path, args: &Args, practice: &Practice) -> Result<Check, Failure> {
    let draft = Draft::read(&read::source(path)?, practice)?;
    report::remarks(draft.warnings());
    let moment = Moment::chosen(args.case.moment.map(MomentArg::moment), draft.is_treated());
    check(&draft, moment, args.pages).map_err(|error| case::in_file(path, error.into()))
}

fn state(checked: &Checked) -> Status {
    match checked {
        Checked::Read(check) if !check.prints || !check.refused_pages.is_empty() => Status::Failed,
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
        writeln!(text, "  no {} is printed: {}", refused.page.word(), refused.why)?;
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
    open.iter().try_for_each(|Found { id, fingerprint, .. }| {
        writeln!(
            text,
            "\n[[answers]]\nfinding = \"{id}\"\nby = \"\"\non = \"\"\nreason = \"\"\nfingerprint = \"{fingerprint}\""
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
