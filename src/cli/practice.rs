//! `practice` and `confirm`: the practice folder.

use std::path::Path;

use super::args::{Format, PracticeArgs};
use super::report::{self, Failure};
use super::{Status, io};
use crate::practice::{self, Confirmed, Practice};
use crate::review::practice::{self as review, MissingName, MissingNotice, PracticeReview};

/// Opens the practice in a folder; the warnings of its profile are told.
pub(super) fn open(folder: &Path) -> Result<Practice, Failure> {
    let practice = practice::open(folder)?;
    report::remarks(practice.warnings());
    Ok(practice)
}

/// Says what stands behind a practice and whether it is confirmed.
pub(super) fn check(args: &PracticeArgs) -> Result<Status, Failure> {
    let review = review::practice(&open(&args.practice)?);
    let done = match args.format {
        Format::Json => io::json(&review)?,
        Format::Human => io::stdout(text(&review).as_bytes())?,
    };
    Ok(if review.confirmed == Confirmed::Current { done } else { Status::Withheld })
}

fn text(review: &PracticeReview) -> String {
    let missing = review.missing_notices.iter().map(|missing| {
        let MissingNotice { notice, language } = missing;
        format!("[notices.{notice}] has no text in {language}: no consent is printed in it\n")
    });
    let names = review.missing_names.iter().map(|missing| {
        let MissingName { name, key, language } = missing;
        format!("{name:?} has no words in {language}: add them to {key}\n")
    });
    format!(
        "{}: {} surgeons, {} regimens, {} visits, {} rules of the eye, {} rules of the drops; pages in {}\n\
         consent by the rules of: {}. {}\n{}{}{}\n",
        review.name,
        review.surgeons,
        review.regimens,
        review.visits,
        review.rules_of_the_eye,
        review.rules_of_the_drops,
        review.languages.join(", "),
        review.jurisdiction,
        review.notice,
        missing.collect::<String>(),
        names.collect::<String>(),
        confirmation(review),
    )
}

/// Whether the clinical values are confirmed, in words.
fn confirmation(review: &PracticeReview) -> String {
    match (review.confirmed, &review.confirmed_by) {
        (Confirmed::Current, Some(by)) => {
            format!("clinical values confirmed by {} on {}", by.clinician, by.on)
        }
        (Confirmed::Stale, Some(by)) => format!(
            "clinical values changed since {} confirmed them on {}: no patient page is printed",
            by.clinician, by.on
        ),
        _ => "clinical values not confirmed: no patient page is printed".into(),
    }
}

/// The files, those of a folder of statements as one line: they are a hundred in each language.
fn by_folder(paths: &[String]) -> Vec<String> {
    let together = |a: &String, b: &String| statements(a).is_some() && statements(a) == statements(b);
    let line = |paths: &[String]| match statements(&paths[0]) {
        Some(folder) => format!("{folder}/ ({} texts)", paths.len()),
        None => paths[0].clone(),
    };
    paths.chunk_by(together).map(line).collect()
}

/// The folder of statements that holds a file.
fn statements(path: &str) -> Option<&str> {
    path.rsplit_once('/').map(|(folder, _)| folder).filter(|folder| folder.ends_with("/statements"))
}

/// Prints the hash to confirm and lists what it covers.
pub(super) fn confirm(args: &PracticeArgs) -> Result<Status, Failure> {
    let wanted = review::to_confirm(&open(&args.practice)?);
    if args.format == Format::Json {
        return io::json(&wanted);
    }
    report::line(
        "A clinician reads the thresholds, regimens, visits and label choice of the profile, and these files:",
    );
    for line in by_folder(&wanted.files) {
        report::line(&format!("  {line}"));
    }
    report::line("and then writes into profile.toml:");
    let text = format!(
        "[confirmation]\nclinician = \"\"   # who confirms\non = \"\"          # when, like 2026-08-03\nhash = \"{}\"\n",
        wanted.hash
    );
    io::stdout(text.as_bytes())
}
