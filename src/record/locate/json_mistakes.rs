//! What people write that is no JSON, known by its signs alone: each mistake at its place, also where no parser goes on.
//!
//! No value is quoted: it may be a patient's name.

use jsonc_parser::tokens::Token;
use jsonc_parser::{Scanner, ScannerOptions};

use super::mistake::CURLY;
use crate::diag::{Diagnostic, Report, Span};

/// Every mistake of a text that is known.
pub(super) fn of(text: &str) -> Report {
    let (mut report, mut before) = (Report::default(), None);
    for sign in Signs::of(text) {
        let mistake = alone(&sign, text).or_else(|| between(before.as_ref()?, &sign));
        mistake.into_iter().for_each(|mistake| report.add(mistake.pointer("")));
        if !sign.is_comment() {
            before = Some(sign);
        }
    }
    report
}

/// The signs of a text, read as any dialect of JSON has them.
struct Signs<'a> {
    text: &'a str,
    /// Where the scanner began.
    from: usize,
    scanner: Scanner<'a>,
}

/// A sign with its place; no token: the rest of a line that cannot be read.
struct Sign<'a> {
    token: Option<Token<'a>>,
    span: Span,
}

impl<'a> Signs<'a> {
    fn of(text: &'a str) -> Self {
        Self { text, from: 0, scanner: scanner(text) }
    }

    /// Goes on behind what the scanner does not read.
    fn unread(&mut self, start: usize, end: usize) -> Sign<'a> {
        // A word without quotes is read only in front of a colon.
        let word = Some(&self.text[start..end]).filter(|word| word.starts_with(char::is_alphabetic));
        let line = self.text[start..].find('\n').map_or(self.text.len(), |at| start + at);
        let end = if word.is_some() { end } else { line };
        (self.from, self.scanner) = (end, scanner(&self.text[end..]));
        Sign { token: word.map(Token::Word), span: start..end }
    }
}

impl<'a> Iterator for Signs<'a> {
    type Item = Sign<'a>;

    fn next(&mut self) -> Option<Sign<'a>> {
        let token = self.scanner.scan();
        let (start, end) = (self.from + self.scanner.token_start(), self.from + self.scanner.token_end());
        match token {
            Ok(None) => None,
            // A text without its second quote runs on to the first one of the next.
            Ok(Some(Token::String(_))) if self.text[start..end].contains('\n') => Some(self.unread(start, start)),
            Ok(token) => Some(Sign { token, span: start..end }),
            Err(_) => Some(self.unread(start, end)),
        }
    }
}

fn scanner(text: &str) -> Scanner<'_> {
    Scanner::new(text, &ScannerOptions::default())
}

impl Sign<'_> {
    fn is_comment(&self) -> bool {
        matches!(self.token, Some(Token::CommentLine(_) | Token::CommentBlock(_)))
    }

    fn begins_a_value(&self) -> bool {
        self.is_simple() || matches!(self.token, Some(Token::OpenBrace | Token::OpenBracket))
    }

    fn ends_a_value(&self) -> bool {
        self.is_simple() || matches!(self.token, Some(Token::CloseBrace | Token::CloseBracket))
    }

    fn is_simple(&self) -> bool {
        matches!(self.token, Some(Token::String(_) | Token::Number(_) | Token::Boolean(_) | Token::Null))
    }

    fn mistake(&self, says: &str, help: &str) -> Option<Diagnostic> {
        Some(Diagnostic::error("syntax", says).at(self.span.clone(), "").help(help))
    }
}

/// A mistake of one sign.
fn alone(sign: &Sign<'_>, text: &str) -> Option<Diagnostic> {
    let written = &text[sign.span.clone()];
    match sign.token {
        Some(Token::CommentLine(_) | Token::CommentBlock(_)) => {
            let help = "take it out, or write the record as TOML, where a comment begins with #";
            sign.mistake("a comment has no place in JSON", help)
        }
        Some(Token::String(_)) if written.starts_with('\'') => {
            sign.mistake("a text stands in single quotes", "type double quotes around it")
        }
        Some(Token::Word(_)) => sign.mistake("a text stands without quotes", "put keys and texts in double quotes"),
        None if written.starts_with(['"', '\'']) => {
            sign.mistake("a text does not end on its line", "end it with a double quote")
        }
        None if written.starts_with(CURLY) => {
            sign.mistake("the quotes around this text are curly", "type straight double quotes")
        }
        None => sign.mistake(
            "this cannot be read",
            "write plain JSON: keys and text in double quotes, a comma between entries",
        ),
        _ => None,
    }
}

/// A mistake that two signs make together. Words side by side are one text without its quotes, and told alone.
fn between(before: &Sign<'_>, sign: &Sign<'_>) -> Option<Diagnostic> {
    match (&before.token, &sign.token) {
        (Some(Token::Comma), Some(Token::CloseBrace | Token::CloseBracket)) => {
            let help = "take the comma before the closing bracket away";
            before.mistake("a comma stands before the closing bracket", help)
        }
        _ if before.ends_a_value() && sign.begins_a_value() => {
            before.mistake("a comma is missing behind this", "write a comma between two entries")
        }
        _ => None,
    }
}
