//! What people write that is no TOML, known by its line: what it is, and what to type instead.
//!
//! No key and no value is quoted: it may be a patient's name. A word that any record may hold is.

use crate::diag::Span;
use crate::record::measure;

/// How dates and times are written.
pub(super) const DATE: &str =
    "write a date that exists like 2026-08-07, a time of day like 07:30, or both like 2026-08-07T10:30";

/// Quotes that word processors make.
pub(super) const CURLY: [char; 11] = ['“', '”', '„', '‟', '‘', '’', '‚', '‹', '›', '«', '»'];

/// Dashes that are no hyphen.
const DASHES: [char; 5] = ['–', '—', '−', '‑', '‐'];

/// Words of closed lists that are shown as an example: they tell nothing of a person.
const EXAMPLES: [&str; 6] = ["yes", "no", "none", "unknown", "right", "left"];

/// A mistake that is known.
pub(super) struct Mistake {
    /// Its bytes within the line.
    pub(super) span: Span,
    /// What it is.
    pub(super) says: &'static str,
    /// What to type instead.
    pub(super) help: String,
}

/// The mistake on a line, if it is a known one.
pub(super) fn on(line: &str) -> Option<Mistake> {
    match line.split_once('=') {
        Some((key, value)) => in_value(value, key.len() + 1),
        None => without_equals(line),
    }
}

fn in_value(written: &str, at: usize) -> Option<Mistake> {
    let is_text = written.trim_start().starts_with(['"', '\'']);
    let value = written.split('#').next().filter(|_| !is_text).unwrap_or(written).trim();
    let start = at + written.len() - written.trim_start().len();
    let mistake = |says, help| Some(Mistake { span: start..start + value.len(), says, help });
    let first = value.chars().next()?;
    if value.starts_with(CURLY) || value.ends_with(CURLY) {
        let help = "type straight quotes: key = \"...\"; word processors turn them into curly ones";
        return mistake("the quotes around this text are curly", help.into());
    }
    if is_text && !value.contains("\",") && value.matches('"').count() > 2 {
        return mistake("quotes stand within the quotes of a text", "put single quotes around it: key = '...'".into());
    }
    if is_text && value.contains("\",") {
        return mistake("several texts stand without brackets", "write key = [\"...\", \"...\"]".into());
    }
    if value.strip_prefix('[').is_some_and(|list| list.trim_start().starts_with(char::is_alphabetic)) {
        return mistake("texts of a list stand without quotes", "write key = [\"...\", \"...\"]".into());
    }
    if first.is_ascii_digit() && has_half_of_day(value) {
        return mistake("a time of day is written in 24 hours", DATE.into());
    }
    if first.is_ascii_digit() && value.contains(DASHES) {
        return mistake("the dashes are longer than a hyphen", format!("type the hyphen of the keyboard; {DATE}"));
    }
    if is_other_date(value) {
        return mistake("a date is written year-month-day", DATE.into());
    }
    if is_code(value) {
        return mistake("a number with hyphens is a text", "put it in quotes: key = \"...\"".into());
    }
    match measure::of(value) {
        Some(_) if value.contains(',') => {
            mistake("a number has a decimal point, no comma", "write the point, like 24.5".into())
        }
        Some(measure) if !measure.unit.is_empty() => {
            let help = "write the number alone if the unit is in the key; text stands in quotes";
            mistake("a unit stands behind the number", help.into())
        }
        None if first.is_alphabetic() && !["true", "false"].contains(&value) => {
            mistake("a text stands without quotes", quoted(value))
        }
        _ => None,
    }
}

/// The line as it should be, with the word that was written if anybody may read it.
fn quoted(value: &str) -> String {
    let word = value.to_lowercase();
    if ["true", "false"].contains(&word.as_str()) {
        return "an answer is \"yes\" or \"no\" in quotes; true and false are written in small letters".into();
    }
    let word = EXAMPLES.iter().find(|example| **example == word).unwrap_or(&"...");
    let of_a_list = if *word == "none" { "; where several may stand, write key = []" } else { "" };
    format!("put it in quotes: key = \"{word}\"{of_a_list}")
}

/// A time with AM or PM behind it.
fn has_half_of_day(value: &str) -> bool {
    let value = value.to_lowercase().replace('.', "");
    ["am", "pm"]
        .iter()
        .any(|half| value.strip_suffix(half).is_some_and(|time| time.trim_end().ends_with(char::is_numeric)))
}

/// Three numbers between points, slashes or hyphens, the year not in front.
fn is_other_date(value: &str) -> bool {
    let parts: Vec<&str> = value.split(['.', '/', '-']).map(str::trim).collect();
    let is_number = |part: &&str| matches!(part.len(), 1..=4) && part.bytes().all(|byte| byte.is_ascii_digit());
    let by_hyphens = parts[0].len() == 4 && value.contains('-');
    parts.len() == 3 && parts.iter().all(is_number) && !by_hyphens
}

/// Digits and hyphens that do not begin with a year.
fn is_code(value: &str) -> bool {
    let has_year = value.split('-').next().is_some_and(|part| part.len() == 4);
    let is_digits = value.starts_with(|first: char| first.is_ascii_digit());
    is_digits && value.contains('-') && !has_year && value.bytes().all(|byte| byte.is_ascii_digit() || byte == b'-')
}

fn without_equals(line: &str) -> Option<Mistake> {
    let start = line.len() - line.trim_start().len();
    let mistake =
        |says, help: &str| Some(Mistake { span: start..line.trim_end().len().max(start), says, help: help.into() });
    if line.trim().contains('\t') {
        return mistake("this is a row of a spreadsheet", "write key = value, one a line, text in quotes");
    }
    if is_name(line) {
        return mistake("a name stands alone", "a table begins with its name in brackets: [table]");
    }
    let (key, value) = line.split_once(':')?;
    if is_name(key) && !value.trim().is_empty() {
        return mistake("a colon stands where the equals sign belongs", "write key = value, text in quotes");
    }
    None
}

/// One word that could be the name of a key or a table.
pub(super) fn is_name(written: &str) -> bool {
    let word = written.trim();
    word.starts_with(|first: char| first.is_ascii_lowercase())
        && word.chars().all(|letter| letter.is_ascii_lowercase() || letter.is_ascii_digit() || letter == '_')
}
