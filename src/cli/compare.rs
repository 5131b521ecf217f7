//! `compare`: what a patient would now read differently, between two versions of a case or of a practice.

use std::fmt::Write;

use super::args::{Compare, Format};
use super::report::Failure;
use super::{Status, case, io, practice};
use crate::document::changes::{Change, ChangeKind, Words};
use crate::review::compare;

/// Compares the patient's page of two case records, or of one case under two practices.
pub(super) fn run(args: &Compare) -> Result<Status, Failure> {
    let practice = practice::open(&args.practice)?;
    let before = args.old_practice.as_deref().map(practice::open).transpose()?;
    let read = |path, practice| case::one(path, args.moment, practice, |case| Ok(compare::read(case)?));
    let old = read(&args.old, before.as_ref().unwrap_or(&practice))?;
    let new = read(args.new.as_ref().unwrap_or(&args.old), &practice)?;
    let comparison = compare::compare(&old, &new);
    match args.format {
        Format::Json => io::json(&comparison),
        Format::Human => io::text([text(&comparison.changes)]),
    }
}

fn kind(kind: ChangeKind) -> &'static str {
    match kind {
        ChangeKind::New => "new",
        ChangeKind::Gone => "gone",
        ChangeKind::Changed => "changed",
        ChangeKind::Moved => "moved",
    }
}

/// The changes as lines.
pub(super) fn text(changes: &[Change]) -> Result<String, std::fmt::Error> {
    if changes.is_empty() {
        return Ok("the patient reads the same\n".into());
    }
    let mut text = String::new();
    for change in changes {
        let id = if change.id.is_empty() { "the page itself" } else { &change.id };
        writeln!(text, "{}: {id}", kind(change.kind))?;
        let words = change.words.iter().map(|words| match words {
            Words::Same(text) => text.clone(),
            Words::Old(text) => marked(text, "[-", "-]"),
            Words::New(text) => marked(text, "{+", "+}"),
        });
        for line in words.collect::<String>().lines().filter(|line| change.kind != ChangeKind::Changed || differs(line))
        {
            writeln!(text, "    {line}")?;
        }
    }
    Ok(text)
}

/// Each line of a run between its signs.
fn marked(text: &str, open: &str, close: &str) -> String {
    let lines = text.split_inclusive('\n').map(|line| match line.strip_suffix('\n') {
        Some(line) => format!("{open}{line}{close}\n"),
        None => format!("{open}{line}{close}"),
    });
    lines.collect()
}

/// Of a changed text only the lines that differ are shown.
fn differs(line: &str) -> bool {
    ["[-", "-]", "{+", "+}"].iter().any(|sign| line.contains(sign))
}
