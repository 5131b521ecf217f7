//! `practice` and `confirm`: the practice folder.

use std::path::Path;

use super::args::PracticeArgs;
use super::report::{self, Failure};
use super::{Status, io};
use crate::practice::{self, Confirmed, Practice};
use crate::record::profile::Profile;

/// Opens the practice in a folder; the warnings of its profile are told.
pub(super) fn open(folder: &Path) -> Result<Practice, Failure> {
    let practice = practice::open(folder)?;
    report::diagnostics(practice.warnings());
    Ok(practice)
}

/// Says what stands behind a practice and whether it is confirmed.
pub(super) fn check(args: &PracticeArgs) -> Result<Status, Failure> {
    let practice = open(&args.practice)?;
    let profile = &practice.profile;
    let languages = profile.practice.languages.join(", ");
    let text = format!(
        "{}: {} surgeons, {} regimens, {} visits, {} rules of the eye, {} rules of the drops; pages in {languages}\n\
         consent by the rules of: {}. {}\n{}{}\n",
        profile.practice.name,
        profile.surgeons.len(),
        profile.regimens.len(),
        profile.visits.len(),
        practice.rules.general.len(),
        practice.rules.drugs.len(),
        practice.jurisdiction.name,
        practice.jurisdiction.notice,
        notices(profile),
        confirmation(&practice),
    );
    let done = io::stdout(text.as_bytes())?;
    Ok(if practice.confirmed() == Confirmed::Current { done } else { Status::Withheld })
}

/// Texts that only the practice can write and has not, by language; without them no consent is made.
fn notices(profile: &Profile) -> String {
    let notices = &profile.notices;
    let wanted = [("cost", &notices.cost), ("regulation", &notices.regulation)];
    let missing = wanted.iter().flat_map(|(name, notice)| {
        let has = |language: &&String| notice.as_ref().is_some_and(|notice| notice.text.contains_key(*language));
        let without = profile.practice.languages.iter().filter(move |language| !has(language));
        without
            .map(move |language| format!("[notices.{name}] has no text in {language}: no consent is printed in it\n"))
    });
    missing.collect()
}

/// Whether the clinical values are confirmed, in words.
fn confirmation(practice: &Practice) -> String {
    match (practice.confirmed(), &practice.profile.confirmation) {
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
    let practice = open(&args.practice)?;
    report::line(
        "A clinician reads the thresholds, regimens, visits and label choice of the profile, and these files:",
    );
    for line in by_folder(&practice.confirmed_files()) {
        report::line(&format!("  {line}"));
    }
    report::line("and then writes into profile.toml:");
    let text = format!(
        "[confirmation]\nclinician = \"\"   # who confirms\non = \"\"          # when, like 2026-08-03\nhash = \"{}\"\n",
        practice.clinical_hash()
    );
    io::stdout(text.as_bytes())
}
