//! The folders that a language is read from, nearest first, and the file that says so (`translation.toml`).

use std::borrow::Cow;
use std::collections::BTreeMap;

use serde::Deserialize;

use crate::assets::Assets;
use crate::record::date::Date;
use crate::record::language;

/// The language that every text is first written in.
pub const SOURCE: &str = "en-US";

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct File {
    source: Option<String>,
    formats: Option<String>,
    #[serde(default)]
    pub(super) translated: Vec<Translated>,
    #[serde(default)]
    pub(super) reviewed: Vec<Reviewed>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Translated {
    pub(super) by: String,
    pub(super) on: Date,
    pub(super) texts: BTreeMap<String, String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Reviewed {
    pub(super) by: String,
    pub(super) qualification: String,
    pub(super) on: Date,
    pub(super) texts: BTreeMap<String, String>,
}

/// The file of a language: the built-in one, then the practice's own, whose entries are added.
pub(super) fn read(assets: &Assets, tag: &str) -> Result<File, String> {
    let mut whole = File::default();
    for (path, text) in assets.layers(&format!("locales/{tag}/translation.toml")) {
        let file: File = toml::from_str(&text).map_err(|error| format!("{path}: {error}"))?;
        whole.source = file.source.or(whole.source);
        whole.formats = file.formats.or(whole.formats);
        whole.translated.extend(file.translated);
        whole.reviewed.extend(file.reviewed);
    }
    Ok(whole)
}

/// The language a folder was made from; none for the source itself.
pub(super) fn source(assets: &Assets, tag: &str) -> Result<Option<String>, String> {
    let written = read(assets, tag)?.source;
    Ok((tag != SOURCE).then(|| written.unwrap_or_else(|| SOURCE.to_owned())))
}

/// The folders a language is read from: its own, then those of the same language that it was made from, nearest first.
///
/// # Errors
/// A file that cannot be read, or languages that were made from each other.
pub fn lineage(assets: &Assets, tag: &str) -> Result<Vec<String>, String> {
    let mut folders = vec![tag.to_owned()];
    while let Some(next) = folders.last().and_then(|last| source(assets, last).transpose()).transpose()? {
        if !language::same(tag, &next) {
            break;
        }
        if folders.contains(&next) {
            return Err(format!("locales/{tag}: {} are made from each other", folders.join(", ")));
        }
        folders.push(next);
    }
    Ok(folders)
}

/// A file of a language's rules or words, in every layer: a variant adds to the language it was made from.
///
/// # Errors
/// As [`lineage`].
pub fn layers<'a>(assets: &'a Assets, tag: &str, file: &str) -> Result<Vec<(String, Cow<'a, str>)>, String> {
    let folders = lineage(assets, tag)?;
    Ok(folders.iter().rev().flat_map(|folder| assets.layers(&format!("locales/{folder}/{file}"))).collect())
}

/// The CLDR locale of dates and numbers of a language, for example `ar-u-nu-latn`.
///
/// # Errors
/// A file that cannot be read.
pub fn formats(assets: &Assets, lineage: &[String]) -> Result<String, String> {
    let own = lineage.first().ok_or("a language has a folder")?;
    Ok(read(assets, own)?.formats.unwrap_or_else(|| own.clone()))
}

/// The text of a statement: from the language's own folder, else from one it was made from in the same language.
#[must_use]
pub fn statement(assets: &Assets, lineage: &[String], id: &str) -> Option<String> {
    let mut folders = lineage.iter();
    folders.find_map(|tag| assets.get(&format!("locales/{tag}/statements/{id}.md"))).map(|text| text.into_owned())
}
