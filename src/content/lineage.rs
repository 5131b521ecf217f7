//! The folders that a language is read from, nearest first, as `translation.toml` says.

use std::borrow::Cow;

use super::folders::{Folders, SOURCE};
use crate::assets::{Assets, Kind, LoadError, Problem};
use crate::record::language;

/// The language a folder was made from; none for the source itself.
pub(super) fn source(folders: &Folders, tag: &str) -> Result<Option<String>, LoadError> {
    let written = folders.translation(tag)?.source.clone();
    Ok((tag != SOURCE).then(|| written.unwrap_or_else(|| SOURCE.to_owned())))
}

/// The folders a language is read from: its own, then those of the same language that it was made from, nearest first.
///
/// # Errors
/// A file that cannot be read, or languages that were made from each other.
pub fn lineage(folders: &Folders, tag: &str) -> Result<Vec<String>, LoadError> {
    let mut lineage = vec![tag.to_owned()];
    while let Some(next) = lineage.last().and_then(|last| source(folders, last).transpose()).transpose()? {
        if !language::same(tag, &next) {
            break;
        }
        if lineage.contains(&next) {
            let what = format!("{} are made from each other", lineage.join(", "));
            return Err(Problem::new(Kind::Value, what).in_file(&format!("locales/{tag}/translation.toml")));
        }
        lineage.push(next);
    }
    Ok(lineage)
}

/// A file of a language's rules or words, in every layer: a variant adds to the language it was made from.
pub fn layers_of<'a>(
    assets: &'a Assets,
    lineage: &'a [String],
    file: &'a str,
) -> impl Iterator<Item = (String, Cow<'a, str>)> {
    lineage.iter().rev().flat_map(move |folder| assets.layers(&format!("locales/{folder}/{file}")))
}

/// The CLDR locale of dates and numbers of a language, for example `ar-u-nu-latn`.
///
/// # Errors
/// A file that cannot be read.
pub fn formats(folders: &Folders, lineage: &[String]) -> Result<String, LoadError> {
    let own = lineage.first().map_or(SOURCE, String::as_str);
    Ok(folders.translation(own)?.formats.clone().unwrap_or_else(|| own.to_owned()))
}

/// The text of a statement: from the language's own folder, else from one it was made from in the same language.
#[must_use]
pub fn statement(assets: &Assets, lineage: &[String], id: &str) -> Option<Written> {
    lineage.iter().find_map(|tag| {
        let path = format!("locales/{tag}/statements/{id}.md");
        let (file, text) = assets.layers(&path).pop()?;
        Some(Written { file, text: text.into_owned() })
    })
}

/// A text with the file it stands in.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Written {
    /// The file; one of the practice's own begins with `practice/`.
    pub file: String,
    /// The text.
    pub text: String,
}
