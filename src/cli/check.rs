//! `check`: findings, and what would refuse the pages.

use serde_json::{Value, json};

use super::args::{Check, Format};
use super::report::{self, Failure};
use super::{Status, case, io, practice};
use crate::content::Content;
use crate::content::markdown::plain;
use crate::diag::emit;
use crate::findings::idle_answers;
use crate::packet::Case;
use crate::packet::rows;

/// Checks every record and reports all of them, also when one is refused.
pub(super) fn run(args: &Check) -> Result<Status, Failure> {
    let practice = practice::open(&args.case.practice)?;
    let mut status = Status::Done;
    let mut values = Vec::new();
    for path in &args.case.cases {
        let (one, text, value) = match case::one(path, args.case.moment, &practice, |case| checked(case, args.pages)) {
            Ok(made) => made,
            Err(Failure::Refused(refused)) if args.format == Format::Json => {
                let items = emit::items(&refused.report, &refused.file);
                (Status::Failed, String::new(), json!({ "refused": items }))
            }
            Err(Failure::Told(error)) => {
                report::line(&format!("error: {error}"));
                (Status::Failed, String::new(), json!({ "file": path, "error": error }))
            }
            Err(failure) => {
                report::failure(&failure);
                (Status::Failed, String::new(), json!({ "file": path }))
            }
        };
        status = status.max(one);
        values.push(value);
        if args.format == Format::Human {
            io::stdout(text.as_bytes())?;
        }
    }
    if args.format == Format::Json {
        io::stdout(format!("{:#}\n", Value::Array(values)).as_bytes())?;
    }
    Ok(status)
}

fn checked(case: &Case, pages: bool) -> Result<(Status, String, Value), Failure> {
    let refused = if pages { case.refused_pages()? } else { Vec::new() };
    let status = match case.withheld() {
        _ if !refused.is_empty() => Status::Failed,
        Some(_) => Status::Withheld,
        None => Status::Done,
    };
    let mut value = json!({
        "case": case.record().case.code,
        "moment": case.moment(),
        "withheld": case.withheld().is_some(),
        "findings": rows::findings(case),
    });
    if pages {
        let rows = refused.iter().map(|(page, why)| json!({ "page": page, "why": why.to_string() }));
        value["refused_pages"] = rows.collect();
    }
    let refused = refused.iter().map(|(page, why)| format!("  no {} is printed: {why}\n", page.word()));
    Ok((status, text(case)? + &refused.collect::<String>(), value))
}

fn text(case: &Case) -> Result<String, String> {
    let content = Content::words(case.staff_library()?, &case.facts)?;
    let code = &case.record().case.code;
    let mut text = format!("{code}, {} the treatment\n", case.moment().word());
    for finding in &case.findings.0 {
        let says = plain(&content.template(&finding.id, &finding.says, &[])?);
        let state = match (&finding.answer, finding.level.withholds()) {
            (Some(answer), _) => format!(" [answered by {}]", answer.by),
            (None, true) => " [open]".into(),
            (None, false) => String::new(),
        };
        let unrecorded = match &finding.unrecorded[..] {
            [] => String::new(),
            names => format!("not recorded: {}. If it holds: ", names.join(", ")),
        };
        text.push_str(&format!("  {:8}{}{state}: {unrecorded}{says}", finding.level.word(), finding.id));
        if !finding.alternatives.is_empty() {
            text.push_str(&format!(
                " No rule objects, for what was recorded, to: {}.",
                finding.alternatives.join(", ")
            ));
        }
        text.push('\n');
    }
    for id in idle_answers(&case.findings, &case.record().answers) {
        text.push_str(&format!("  answer to {id}: no such finding is raised\n"));
    }
    if case.findings.0.is_empty() {
        text.push_str("  no rule fired for what was recorded\n");
    }
    if let Some(withheld) = case.withholding() {
        text.push_str(&format!("  {}\n", withheld.says));
    }
    Ok(text)
}
