//! `coverage`: what a consent must hold where the practice works, element by element, with the page where it stands.

use std::fmt::Write;

use chrono::{Months, NaiveDate};
use serde_json::{Value, json};

use super::args::{Coverage, Format, MomentArg};
use super::print::now;
use super::report::Failure;
use super::{Status, case, io, practice};
use crate::content::jurisdiction::Jurisdiction;
use crate::document::coverage::{self, Covered};
use crate::document::reading;
use crate::packet::Case;

/// Compares the consent of each case with the required elements.
pub(super) fn run(args: &Coverage) -> Result<Status, Failure> {
    let practice = practice::open(&args.practice)?;
    let today = now()?.date();
    let made = args.cases.iter().map(|path| {
        case::one(path, Some(MomentArg::Before), &practice, |case| Ok(elements(case, &practice.jurisdiction, today)?))
    });
    let values = made.collect::<Result<Vec<Value>, Failure>>()?;
    let text = match args.format {
        Format::Json => format!("{:#}\n", Value::Array(values.clone())),
        Format::Human => values.iter().map(text).collect::<Result<String, _>>().map_err(|error| error.to_string())?,
    };
    let complete = values.iter().all(|case| case["lacking"].as_array().is_some_and(Vec::is_empty));
    let done = io::stdout(text.as_bytes())?;
    Ok(if complete { done } else { Status::Withheld })
}

fn elements(case: &Case, jurisdiction: &Jurisdiction, today: NaiveDate) -> Result<Value, String> {
    let document = case.unissued()?;
    let passages = reading::read(&document);
    let pages = case.practice().typesetter().places(&document).map_err(|error| error.to_string())?;
    let library = case.practice().library(&case.record().patient.language)?;
    let covered = coverage::coverage(jurisdiction, library, &case.facts, &passages);
    let mut lacking = coverage::always_lacking(&passages);
    lacking.extend(covered.iter().flat_map(|covered| &covered.lacking).map(|id| (*id).to_owned()));
    lacking.dedup();
    let row = |covered: &Covered| {
        let row = &covered.element.row;
        let stands = covered.by.iter().map(|id| json!({ "id": id, "page": pages.get(*id) }));
        let due = row.reviewed_on.0.checked_add_months(Months::new(jurisdiction.review_months));
        json!({
            "id": row.id,
            "what": row.what,
            "citation": row.citation,
            "effective": row.effective,
            "reviewed_on": row.reviewed_on,
            "review_due": due.is_some_and(|due| due < today),
            "stands": stands.collect::<Vec<_>>(),
            "lacking": covered.lacking,
            "left_to_people": row.left_to_people,
        })
    };
    Ok(json!({
        "case": case.record().case.code,
        "jurisdiction": jurisdiction.name,
        "notice": jurisdiction.notice,
        "draft": jurisdiction.draft_in(&case.record().patient.language),
        "elements": covered.iter().map(row).collect::<Vec<_>>(),
        "lacking": lacking,
    }))
}

fn text(case: &Value) -> Result<String, std::fmt::Error> {
    let word = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let rows = |value: &Value| value.as_array().cloned().unwrap_or_default();
    let mut text =
        format!("{}, consent: {}\n  {}\n", word(&case["case"]), word(&case["jurisdiction"]), word(&case["notice"]));
    if case["draft"] == true {
        writeln!(text, "  drafts only: there is no text yet in the language this jurisdiction asks for")?;
    }
    for row in rows(&case["elements"]) {
        let lacking: Vec<String> = rows(&row["lacking"]).iter().map(word).collect();
        let state = if lacking.is_empty() { "stands" } else { "LACKING" };
        writeln!(text, "  {state:8}{}: {}", word(&row["id"]), word(&row["what"]))?;
        let stands: Vec<String> = rows(&row["stands"])
            .iter()
            .map(|stands| match stands["page"].as_u64() {
                Some(page) => format!("{} on page {page}", word(&stands["id"])),
                None => word(&stands["id"]),
            })
            .collect();
        if !stands.is_empty() {
            writeln!(text, "          {}", stands.join(", "))?;
        }
        if !lacking.is_empty() {
            writeln!(text, "          lacks {}", lacking.join(", "))?;
        }
        if let Some(left) = row["left_to_people"].as_str() {
            writeln!(text, "          left to people: {left}")?;
        }
        let due = if row["review_due"] == true { "; due to be read again" } else { "" };
        let effective = row["effective"].as_str().map(|date| format!("; in force {date}")).unwrap_or_default();
        writeln!(text, "          {}{effective}; reviewed {}{due}", word(&row["citation"]), word(&row["reviewed_on"]))?;
    }
    match rows(&case["lacking"]).iter().map(word).collect::<Vec<_>>() {
        lacking if lacking.is_empty() => writeln!(text, "  all of them stand on the pages")?,
        lacking => writeln!(text, "  the consent is withheld: it lacks {}", lacking.join(", "))?,
    }
    Ok(text)
}
