//! What a text must be before it can be a record: valid TOML or JSON of a sane depth.

use std::num::NonZeroUsize;

use super::mistake::{self, DATE};
use crate::diag::{Diagnostic, Report, Span};

/// Parts of one dotted key: a record needs none, and each part is one more table to walk.
const LONGEST_KEY: usize = 64;

/// Refuses lines with endless dotted keys before the parser builds a table for each part.
///
/// Dots inside quotes do not count; in a text over several lines, a line of more than 64 dots is refused with them.
pub(super) fn refuse_long_keys(text: &str) -> Result<(), Report> {
    let mut start = 0;
    for line in text.split_inclusive('\n') {
        if dots_outside_quotes(line) > LONGEST_KEY {
            return Err(too_deep(start..start + line.trim_end().len()).pointer("").into());
        }
        start += line.len();
    }
    Ok(())
}

fn dots_outside_quotes(line: &str) -> usize {
    let mut quote = None;
    line.chars()
        .filter(|&character| {
            match quote {
                Some(open) if open == character => quote = None,
                None if matches!(character, '"' | '\'') => quote = Some(character),
                _ => {}
            }
            quote.is_none() && character == '.'
        })
        .count()
}

/// Tables within tables without end.
pub(super) fn too_deep(span: Span) -> Diagnostic {
    Diagnostic::error("too-deep", "tables lie within tables too deeply")
        .at(span, "")
        .help("write only the tables and keys that a record or a profile has")
}

/// TOML can write numbers that measure nothing.
pub(super) fn not_a_number(span: Span) -> Diagnostic {
    Diagnostic::error("bad-number", "this is not a number that can be measured")
        .at(span, "")
        .help("write an ordinary number like 24.5")
}

/// A TOML syntax error, with advice for the mistakes people make. `line` is where the line begins that it stands on.
pub(super) fn toml(text: &str, error: &toml::de::Error, line: usize) -> Diagnostic {
    let written = text[line..].lines().next().unwrap_or_default();
    let is_twice = error.message().contains("duplicate key");
    if let Some(mistake) = mistake::on(written).filter(|_| !is_twice) {
        let span = line + mistake.span.start..line + mistake.span.end;
        return Diagnostic::error("syntax", mistake.says).at(span, "").help(mistake.help);
    }
    let span = error.span().unwrap_or(0..0);
    let token = text.get(span.clone()).unwrap_or_default();
    let help = advice(error.message(), token);
    Diagnostic::error("syntax", format!("invalid TOML: {}", error.message())).at(span, "").help(help)
}

fn advice(message: &str, token: &str) -> &'static str {
    let says = |words: &str| message.contains(words);
    if says("must be quoted") && token.trim().is_empty() {
        return "write a value after the `=`, or leave the key out";
    }
    if says("must be quoted") {
        "text stands in quotes, like \"unknown\""
    } else if says("invalid date") || says("invalid time") {
        DATE
    } else if says("duplicate key") {
        "keep one of the two; entries of a list of tables begin with double brackets, like [[earlier_sessions]]"
    } else if says("expected newline") {
        "write one `key = value` a line; text stands in quotes, a decimal number has a point, units are left out"
    } else if says("expected `=`") {
        "write `key = value`"
    } else if says("string") {
        "text begins and ends with the same quotes, on one line"
    } else if says("table") {
        "write the name of a table in brackets, like [eye]"
    } else if says("leading zero") {
        "write the number without the zero in front; a code with zeros is text and stands in quotes"
    } else {
        "write `key = value` lines below table names in brackets, like [eye]"
    }
}

/// A JSON syntax error. `serde_json` counts columns in bytes.
pub(super) fn json(text: &str, error: &serde_json::Error) -> Diagnostic {
    let line_start = NonZeroUsize::new(error.line().saturating_sub(1))
        .and_then(|newlines| text.match_indices('\n').nth(newlines.get() - 1))
        .map_or(0, |(newline, _)| newline + 1);
    let at = line_start + error.column().saturating_sub(1);
    let message = error.to_string();
    let message = message.split(" at line ").next().unwrap_or("unreadable");
    let help = match message {
        "trailing comma" => "take the comma before the closing bracket away",
        "number out of range" => "write an ordinary number like 24.5",
        "recursion limit exceeded" => "write only the tables and keys that a record or a profile has",
        _ => "write plain JSON: keys and text in double quotes, a comma between entries, no comments",
    };
    Diagnostic::error("syntax", format!("invalid JSON: {message}")).at(at..at + 1, "").help(help)
}

/// Valid JSON whose places could not be told.
pub(super) fn json_place(error: &jsonc_parser::errors::ParseError) -> Diagnostic {
    Diagnostic::error("syntax", "invalid JSON")
        .at(error.range().start..error.range().end, "")
        .help("write plain JSON: keys and text in double quotes, a comma between entries, no comments")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_dots_of_keys_count() {
        assert_eq!(dots_outside_quotes("a.b.c = \"one. two.\" # x"), 2);
        assert!(refuse_long_keys(&format!("{}a = 1", "a.".repeat(64))).is_ok());
        assert!(refuse_long_keys(&format!("x = 1\n{}a = 1", "a.".repeat(65))).is_err());
    }
}
