//! The words of a language by key: `locales/<tag>/words.toml`.

use std::collections::BTreeMap;

use super::template::Template;
use crate::assets::{Kind, Problem, layers};
use crate::diag::is_layout_control;

/// Words by dotted key.
pub type Words = BTreeMap<String, String>;

/// Reads one file of words.
///
/// # Errors
/// What cannot be read, with its line or key.
pub fn read(text: &str) -> Result<Words, Problem> {
    steers_nothing(text)?;
    let mut words = Words::new();
    flatten("", &layers::table(text)?, &mut words)?;
    for (key, text) in &words {
        Template::read(text).map_err(|problem| in_key(key, problem))?;
    }
    Ok(words)
}

/// A problem of one text in a file of many: its line would be that of the text.
fn in_key(key: &str, problem: Problem) -> Problem {
    Problem { line: None, what: format!("{key}: {}", problem.what), ..problem }.of(key)
}

/// Nested tables become dotted keys.
fn flatten(prefix: &str, table: &toml::Table, words: &mut Words) -> Result<(), Problem> {
    for (key, value) in table {
        let key = if prefix.is_empty() { key.clone() } else { format!("{prefix}.{key}") };
        match value {
            toml::Value::Table(inner) => flatten(&key, inner, words)?,
            toml::Value::String(text) => {
                words.insert(key, text.clone());
            }
            _ => return Err(Problem::new(Kind::Value, format!("{key} is not a text")).of(&key)),
        }
    }
    Ok(())
}

/// A text holds no character that turns the text around it: what needs setting apart is set apart here. The marks that
/// Arabic and Hebrew writers use (U+200E, U+200F) turn nothing beyond their place.
///
/// # Errors
/// The line and the code point.
pub(super) fn steers_nothing(text: &str) -> Result<(), Problem> {
    let steers = |c: char| is_layout_control(c) && !matches!(c, '\u{200E}' | '\u{200F}');
    match text.char_indices().find(|(_, c)| steers(*c)) {
        Some((at, found)) => {
            let code = u32::from(found);
            let what = format!("it holds a character that steers direction, U+{code:04X}: take it out");
            Err(Problem::new(Kind::Value, what).at(text, &(at..at)))
        }
        None => Ok(()),
    }
}
