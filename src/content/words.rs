//! The words of a language by key: `locales/<tag>/words.toml`.

use std::collections::BTreeMap;

use toml::de::{DeTable, DeValue};

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
    flatten("", &layers::table(text)?, &mut words).map_err(|problem| on_its_line(text, problem))?;
    for (key, of_key) in &words {
        Template::read(of_key).map_err(|problem| on_its_line(text, in_key(key, problem)))?;
    }
    Ok(words)
}

/// A problem of one text in a file of many: its line would be that of the text.
fn in_key(key: &str, problem: Problem) -> Problem {
    Problem { line: None, what: format!("{key}: {}", problem.what), ..problem }.of(key)
}

/// A problem of a key on the line of the file on which that key stands.
fn on_its_line(file: &str, problem: Problem) -> Problem {
    let at = DeTable::parse(file).ok().and_then(|table| place(table.get_ref(), problem.id.as_deref()?));
    match at {
        Some(at) => problem.at(file, &(at..at)),
        None => problem,
    }
}

/// Where a dotted key stands, in bytes.
fn place(table: &DeTable<'_>, key: &str) -> Option<usize> {
    let (first, rest) = key.split_once('.').map_or((key, None), |(first, rest)| (first, Some(rest)));
    let (name, value) = table.iter().find(|(name, _)| name.get_ref() == first)?;
    match (rest, value.get_ref()) {
        (Some(rest), DeValue::Table(inner)) => place(inner, rest),
        _ => Some(name.span().start),
    }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_wrong_with_a_text_is_told_with_the_line_of_its_key() {
        let line = |text: &str| read(text).expect_err("it is wrong").line;
        let deep = format!("{{{{ {}1{} }}}}", "(".repeat(100), ")".repeat(100));
        assert_eq!(line(&format!("[a]\nx = \"\"\n[a.b]\ny = \"{deep}\"\n")), Some(4));
        assert_eq!(line(&format!("[a]\nx = {{ one = \"{deep}\" }}\n")), Some(2));
        assert_eq!(line("# head\n\n[a]\nb.c = 1\n"), Some(4));
    }
}
