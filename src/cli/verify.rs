//! `verify`: whether a file is what a register issued.

use std::fmt::{self, Write};

use super::args::{Format, VerifyFile};
use super::report::Failure;
use super::{Status, compare, io, keeping};
use crate::files::read;
use crate::review::verify::{Appended, IssuedAs, Replaced, Verdict, Verification};
use crate::verify::{LARGEST, Received, verify};

pub(super) fn run(args: &VerifyFile) -> Result<Status, Failure> {
    let register = match (&args.register, &args.practice) {
        (None, None) => None,
        (register, practice) => Some(keeping::there(register.as_deref(), practice.as_deref())?),
    };
    let file = Received::read(read::finished(&args.file, LARGEST + 1)?)?;
    let found = verify(&file, register.as_ref())?;
    match args.format {
        Format::Json => io::json(&found)?,
        Format::Human => io::text([text(&found)])?,
    };
    Ok(if found.holds() { Status::Done } else { Status::Withheld })
}

fn text(found: &Verification) -> Result<String, fmt::Error> {
    let mut text = String::new();
    writeln!(text, "{}", says(found.verdict))?;
    if let Some(claims) = &found.claims {
        writeln!(text, "it says of itself: {}, version {}, {}", claims.id, claims.revision, claims.language)?;
        writeln!(text, "the code on its first page must read: {}", claims.code)?;
    }
    writeln!(text, "SHA-256 of the file: {}", found.sha256)?;
    if let Some(issued) = &found.issued {
        writeln!(text, "issued {}", issued_as(issued))?;
    }
    if let Some(appended) = &found.appended {
        write_appended(&mut text, appended)?;
    }
    if let Some(altered) = &found.altered {
        writeln!(text, "by the data that go along, against what was issued:\n{}", compare::text(altered)?.trim_end())?;
    }
    if let Some(replaced) = &found.replaced {
        write_replaced(&mut text, replaced)?;
    }
    writeln!(text, "{PROVES}")?;
    Ok(text)
}

fn says(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Whole => "whole: byte for byte what this register issued",
        Verdict::Appended => "whole, with something appended: it begins with every byte that this register issued",
        Verdict::Changed => {
            "changed: this register issued a document of this id and version, and these are not its bytes"
        }
        Verdict::Unknown => "unknown: this register issued no document of this id and version",
        Verdict::NotOurs => "not ours: nothing of this program goes along in it, and its bytes were not issued here",
        Verdict::NotAsked => "no register was asked (--register): this is only what the file says of itself",
    }
}

/// What a hash can tell and what it cannot.
const PROVES: &str = "\
A hash that agrees proves that no bit of what was hashed was changed since. It proves neither who handed the file over nor \
that anybody read, understood or signed it, nor that what it says is right. The hash in the code is of the data the pages \
were made from and cannot vouch for what the pages show; that of the whole file, which the register keeps, can.";

fn issued_as(issued: &IssuedAs) -> String {
    format!(
        "as {}, version {}, on {} by {}",
        issued.file,
        issued.revision,
        issued.at.format("%Y-%m-%d %H:%M UTC"),
        issued.by
    )
}

fn write_appended(text: &mut String, appended: &Appended) -> fmt::Result {
    writeln!(text, "{} bytes were appended, as by a signature, which is not checked here", appended.bytes)?;
    if appended.redraws {
        writeln!(
            text,
            "they put something else in the place of what the pages are drawn from: look at the pages as issued"
        )?;
    }
    if appended.over_pages > 0 {
        writeln!(text, "they lay {} fields or notes over the pages, which may cover something", appended.over_pages)?;
    }
    Ok(())
}

fn write_replaced(text: &mut String, replaced: &Replaced) -> fmt::Result {
    writeln!(text, "a newer version replaced it, issued {}", issued_as(&replaced.by))?;
    match &replaced.changes {
        Some(changes) => writeln!(text, "in the newer version:\n{}", compare::text(changes)?.trim_end()),
        None => writeln!(text, "what it says otherwise cannot be told: one of both holds no data of its pages"),
    }
}
