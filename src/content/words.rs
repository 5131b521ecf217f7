//! The words of a language by key: `locales/<tag>/words.toml`.

use std::collections::BTreeMap;

use super::lineage;
use crate::assets::Assets;
use crate::diag::is_layout_control;

/// Words by dotted key.
pub type Words = BTreeMap<String, String>;

/// All words of a language: those it was made from in the same language, then its own.
///
/// # Errors
/// As [`own_words`].
pub fn words(assets: &Assets, lineage: &[String]) -> Result<Words, String> {
    let mut words = Words::new();
    for tag in lineage.iter().rev() {
        words.extend(own_words(assets, tag)?);
    }
    Ok(words)
}

/// The words in the folder of a language: the built-in ones with the practice's own in front.
///
/// # Errors
/// A file that cannot be read, or a text that nothing reads: what comes first has the words of the source language.
pub fn own_words(assets: &Assets, tag: &str) -> Result<Words, String> {
    let source = assets.layers(&format!("locales/{}/words.toml", lineage::SOURCE));
    let mut known = Words::new();
    if let Some((path, text)) = source.first() {
        read_words(path, text, &mut known)?;
    }
    // Names of languages, visits and figures, and plural forms, are the only texts a language or a practice may add.
    let may_add = |key: &String| ["language.", "visit.", "figure.", "unit."].iter().any(|start| key.starts_with(start));
    let mut words = Words::new();
    for (path, text) in assets.layers(&format!("locales/{tag}/words.toml")) {
        let mut of_layer = Words::new();
        read_words(&path, &text, &mut of_layer)?;
        if let Some(key) = of_layer.keys().find(|key| !known.contains_key(*key) && !may_add(key)) {
            return Err(format!("{path}: nothing reads {key}"));
        }
        words.extend(of_layer);
    }
    Ok(words)
}

fn read_words(path: &str, text: &str, words: &mut Words) -> Result<(), String> {
    steers_nothing(path, text)?;
    let table: toml::Table = toml::from_str(text).map_err(|error| format!("{path}: {error}"))?;
    flatten("", &table, words).map_err(|error| format!("{path}: {error}"))
}

/// Nested tables become dotted keys.
fn flatten(prefix: &str, table: &toml::Table, words: &mut Words) -> Result<(), String> {
    for (key, value) in table {
        let key = if prefix.is_empty() { key.clone() } else { format!("{prefix}.{key}") };
        match value {
            toml::Value::Table(inner) => flatten(&key, inner, words)?,
            toml::Value::String(text) => {
                words.insert(key, text.clone());
            }
            _ => return Err(format!("{key} is not a text")),
        }
    }
    Ok(())
}

/// A text holds no character that turns the text around it: what needs setting apart is set apart here. The marks that
/// Arabic and Hebrew writers use (U+200E, U+200F) turn nothing beyond their place.
///
/// # Errors
/// The file and the code point.
pub(super) fn steers_nothing(path: &str, text: &str) -> Result<(), String> {
    let steers = |c: char| is_layout_control(c) && !matches!(c, '\u{200E}' | '\u{200F}');
    match text.chars().find(|c| steers(*c)) {
        Some(found) => {
            Err(format!("{path} holds a character that steers direction, U+{:04X}: take it out", u32::from(found)))
        }
        None => Ok(()),
    }
}
