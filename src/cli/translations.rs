//! `translations`: what of a practice's languages is missing, stale or not reviewed, and how to write down that it was
//! done.

use std::fmt::Write;

use super::args::{Format, Translations, Wanted};
use super::report::{self, Failure};
use super::{Status, io};
use crate::content::translation::State;
use crate::practice;
use crate::review::translations::{self, Entry, LanguageTexts};

/// Lists the texts of each language that are not done, or writes the entries for those that now are.
pub(super) fn run(args: &Translations) -> Result<Status, Failure> {
    let profile = practice::profile(&args.practice)?;
    report::remarks(profile.warnings());
    let printed = &profile.practice.languages;
    let asked = if args.language.is_empty() { printed } else { &args.language };
    let found = translations::translations(&profile.with().assets, printed, asked)?;
    match (args.entries, args.format) {
        (Some(wanted), _) => {
            let entries = found.languages.iter().map(|language| language.entry(entry(wanted)));
            io::stdout(entries.collect::<String>().as_bytes())
        }
        (None, Format::Human) => io::text(found.languages.iter().map(told)),
        (None, Format::Json) => io::json(&found),
    }
}

fn entry(wanted: Wanted) -> Entry {
    match wanted {
        Wanted::Translated => Entry::Translated,
        Wanted::Reviewed => Entry::Reviewed,
    }
}

fn told(language: &LanguageTexts) -> Result<String, std::fmt::Error> {
    let done = language.of(State::Current).count();
    let mut told = format!("{}: {} texts, {done} done\n", language.language, language.texts.len());
    for (state, word) in [
        (State::Missing, "missing"),
        (State::Unrecorded, "no record of who translated it"),
        (State::Stale, "stale, its source changed"),
        (State::Unreviewed, "not reviewed"),
    ] {
        for text in language.of(state) {
            let lacks = if text.written { text.lacks.join(", ") } else { String::new() };
            let lacks = if lacks.is_empty() { lacks } else { format!(" ({lacks})") };
            writeln!(told, "  {}: {word}{lacks}", text.text)?;
        }
    }
    Ok(told)
}
