//! `compare`: what a patient would now read differently, between two versions of a case or of a practice.

use std::fmt::Write;

use serde_json::{Value, json};

use super::args::{Compare, Format};
use super::report::Failure;
use super::{Status, case, io, practice};
use crate::document::changes::{self, Change, ChangeKind, Words};
use crate::document::reading::{self, Passage};
use crate::packet::Case;

/// Compares the patient's page of two case records, or of one case under two practices.
pub(super) fn run(args: &Compare) -> Result<Status, Failure> {
    let practice = practice::open(&args.practice)?;
    let before = args.old_practice.as_deref().map(practice::open).transpose()?;
    let old = case::one(&args.old, args.moment, before.as_ref().unwrap_or(&practice), page)?;
    let new = case::one(args.new.as_ref().unwrap_or(&args.old), args.moment, &practice, page)?;
    let changes = changes::between(&old, &new);
    let text = match args.format {
        Format::Json => format!("{:#}\n", changes.iter().map(value).collect::<Value>()),
        Format::Human => text(&changes).map_err(|error| error.to_string())?,
    };
    io::stdout(text.as_bytes())
}

fn page(case: &Case) -> Result<Vec<Passage>, Failure> {
    Ok(reading::read(&case.unissued()?))
}

fn kind(kind: ChangeKind) -> &'static str {
    match kind {
        ChangeKind::New => "new",
        ChangeKind::Gone => "gone",
        ChangeKind::Changed => "changed",
        ChangeKind::Moved => "moved",
    }
}

fn value(change: &Change) -> Value {
    let words = change.words.iter().map(|words| match words {
        Words::Same(text) => json!({ "same": text }),
        Words::Old(text) => json!({ "old": text }),
        Words::New(text) => json!({ "new": text }),
    });
    json!({ "id": change.id, "change": kind(change.kind), "words": words.collect::<Vec<_>>() })
}

fn text(changes: &[Change]) -> Result<String, std::fmt::Error> {
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
