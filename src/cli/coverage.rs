//! `coverage`: what a consent must hold where the practice works, element by element, with the page where it stands.

use std::fmt::{self, Write};
use std::path::PathBuf;

use super::args::{Coverage, Format, MomentArg};
use super::clock::now;
use super::report::Failure;
use super::{Status, case, io, practice};
use crate::review::coverage::{self, ElementRow, Place};

/// Compares the consent of each case with the required elements.
pub(super) fn run(args: &Coverage) -> Result<Status, Failure> {
    let practice = practice::open(&args.practice)?;
    let today = now()?.date();
    let one = |path: &PathBuf| {
        case::one(path, Some(MomentArg::Before), &practice, |case| Ok(coverage::coverage(case, today)?))
    };
    let cases = args.cases.iter().map(one).collect::<Result<Vec<_>, Failure>>()?;
    let done = match args.format {
        Format::Json => io::json(&cases)?,
        Format::Human => io::text(cases.iter().map(text))?,
    };
    Ok(if cases.iter().all(coverage::Coverage::is_complete) { done } else { Status::Withheld })
}

fn text(case: &coverage::Coverage) -> Result<String, fmt::Error> {
    let mut text = format!("{}, consent: {}\n  {}\n", case.head.case, case.jurisdiction, case.notice);
    if case.draft {
        writeln!(text, "  drafts only: there is no text yet in the language this jurisdiction asks for")?;
    }
    for row in &case.elements {
        element(&mut text, row)?;
    }
    match &case.lacking[..] {
        [] => writeln!(text, "  all of them stand on the pages")?,
        lacking => writeln!(text, "  the consent is withheld: it lacks {}", lacking.join(", "))?,
    }
    Ok(text)
}

fn element(text: &mut String, row: &ElementRow) -> fmt::Result {
    let state = if row.lacking.is_empty() { "stands" } else { "LACKING" };
    writeln!(text, "  {state:8}{}: {}", row.id, row.what)?;
    if !row.stands.is_empty() {
        writeln!(text, "          {}", row.stands.iter().map(place).collect::<Vec<_>>().join(", "))?;
    }
    if !row.lacking.is_empty() {
        writeln!(text, "          lacks {}", row.lacking.join(", "))?;
    }
    if let Some(left) = &row.left_to_people {
        writeln!(text, "          left to people: {left}")?;
    }
    let due = if row.review_due { "; due to be read again" } else { "" };
    let effective = row.effective.map(|date| format!("; in force {date}")).unwrap_or_default();
    writeln!(text, "          {}{effective}; reviewed {}{due}", row.citation, row.reviewed_on)
}

fn place(place: &Place) -> String {
    match place.page {
        Some(page) => format!("{} on page {page}", place.id),
        None => place.id.clone(),
    }
}
