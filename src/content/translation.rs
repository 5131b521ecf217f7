//! What a language was made from, and who translated and reviewed each of its texts: `locales/<tag>/translation.toml`.
//!
//! ```toml
//! source = "en-US"            # left out: en-US
//! formats = "ar-u-nu-latn"    # CLDR locale of dates and numbers; left out: the folder's own tag
//!
//! [[translated]]
//! by = "who translated"
//! on = "2026-11-25"
//! [translated.texts]          # each text with the hash of the source it was made from
//! "risk-lens" = "0123456789abcdef"
//!
//! [[reviewed]]
//! by = "who read it against the source"
//! qualification = "why they are qualified to"
//! on = "2026-12-01"
//! [reviewed.texts]            # each text with the hash of source and translation together, as they were read
//! "risk-lens" = "0123456789abcdef"
//! ```
//!
//! A folder of the same language as its source (`en-GB` from `en-US`) holds only what differs, and needs no reviewer: it
//! is no translation, and the clinician who confirms the practice reads it. That its source changed counts there too.
//! Rule: 45 CFR 92.201(c)(3), a machine translation of critical text is reviewed by a qualified human translator.

use std::collections::BTreeSet;

use schemars::JsonSchema;
use serde::Serialize;
use sha2::{Digest, Sha256};

use super::folders::{File, Folders};
use super::lineage::{self, lineage};
use super::words::Words;
use crate::assets::LoadError;
use crate::record::date::Date;
use crate::record::hash::hexadecimal;
use crate::record::language;

/// Sections of the words that only staff read.
const STAFF: [&str; 10] =
    ["surgeon", "desk", "first_eye", "fact", "word", "language", "paper", "note", "next_session", "suitability"];

/// How far the translation of one text has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum State {
    /// There is no text, or it lacks a word that its source has.
    Missing,
    /// There is a text, and nobody wrote down who translated it.
    Unrecorded,
    /// The source changed after it was translated.
    Stale,
    /// No qualified human has reviewed it as it stands.
    Unreviewed,
    /// Translated from the source as it stands, and reviewed if it had to be.
    Current,
}

/// One text of a language.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Text {
    /// Id of a statement, or `words/<section>`.
    pub id: String,
    /// How far it has come.
    pub state: State,
    /// Hash of its source as it stands.
    pub source: String,
    /// Hash of source and translation together as they stand.
    pub pair: String,
    /// Keys of the source's words that it lacks.
    pub lacks: Vec<String>,
    /// Whether there is any of it.
    pub written: bool,
    /// Who translated it, if that is recorded.
    pub translated: Option<Signed>,
    /// Who reviewed it as it stands, if somebody did.
    pub reviewed: Option<Signed>,
}

/// Who did something, and when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Signed {
    /// Who.
    pub by: String,
    /// Why they are qualified, for a reviewer.
    pub qualification: Option<String>,
    /// When.
    pub on: Date,
}

impl Text {
    /// Whether a page that holds it is a draft. What is not there stops the page by itself.
    #[must_use]
    pub fn is_draft(&self) -> bool {
        self.written && self.state != State::Current
    }

    /// Whether only staff read it.
    #[must_use]
    pub fn for_staff(&self) -> bool {
        self.id.strip_prefix("words/").is_some_and(|section| STAFF.contains(&section))
    }
}

/// Every text of a language with its state, statements first. The source has none, and a variant only what it changes.
///
/// # Errors
/// A file that cannot be read.
pub fn texts(folders: &Folders, tag: &str, statements: &[String]) -> Result<Vec<Text>, LoadError> {
    let assets = folders.assets;
    let Some(source) = lineage::source(folders, tag)? else {
        return Ok(Vec::new());
    };
    let origin = lineage(folders, &source)?;
    let file = folders.translation(tag)?;
    let variant = language::same(tag, &source);
    let mut texts = Vec::new();
    for id in statements {
        let own = assets.get(&format!("locales/{tag}/statements/{id}.md"));
        let from = lineage::statement(assets, &origin, id).unwrap_or_default().text;
        if own.is_some() || !variant {
            texts.push(judge(&file, variant, id.clone(), &from, own.as_deref(), Vec::new()));
        }
    }
    let (own, from) = (folders.own_words(tag)?, folders.words(&origin)?);
    for section in from.keys().map(|key| section(key)).collect::<BTreeSet<_>>() {
        let of = |key: &&String| self::section(key) == section;
        let told: Vec<&String> = own.keys().filter(of).collect();
        let lacks: Vec<String> = from
            .keys()
            .filter(of)
            .filter(|key| !variant && !own.contains_key(*key) && required(key))
            .cloned()
            .collect();
        if told.is_empty() && (variant || lacks.is_empty()) {
            continue;
        }
        let (mine, theirs) = (written(&told, &own), written(&told, &from));
        let mine = (!told.is_empty()).then_some(mine.as_str());
        texts.push(judge(&file, variant, format!("words/{section}"), &theirs, mine, lacks));
    }
    Ok(texts)
}

/// Languages name each other only where a practice prints in both, and plural forms differ by language.
fn required(key: &str) -> bool {
    !(key.starts_with("language.") || key.starts_with("unit.") && key.ends_with(".one"))
}

fn section(key: &str) -> &str {
    key.split('.').next().unwrap_or(key)
}

/// Some words as one text.
fn written(keys: &[&String], words: &Words) -> String {
    let known = keys.iter().filter_map(|key| Some((key, words.get(*key)?)));
    known.map(|(key, text)| format!("{key} = {text}\n")).collect()
}

fn judge(file: &File, variant: bool, id: String, from: &str, own: Option<&str>, lacks: Vec<String>) -> Text {
    let (source, pair) = (hash(&[from]), hash(&[from, own.unwrap_or_default()]));
    let translated = file.translated.iter().rev().find(|entry| entry.texts.contains_key(&id));
    let reviewed = file.reviewed.iter().rev().find(|entry| entry.texts.get(&id) == Some(&pair));
    let state = match (own, translated) {
        (None, _) => State::Missing,
        _ if !lacks.is_empty() => State::Missing,
        (_, None) => State::Unrecorded,
        (_, Some(entry)) if entry.texts.get(&id) != Some(&source) => State::Stale,
        _ if variant || reviewed.is_some() => State::Current,
        _ => State::Unreviewed,
    };
    let translated = translated.map(|entry| Signed { by: entry.by.clone(), qualification: None, on: entry.on });
    let reviewed = reviewed.map(|entry| Signed {
        by: entry.by.clone(),
        qualification: Some(entry.qualification.clone()),
        on: entry.on,
    });
    Text { id, state, source, pair, lacks, written: own.is_some(), translated, reviewed }
}

/// The first 16 hexadecimal digits of a SHA-256 over texts, each after its length; ends of lines and files do not count.
fn hash(texts: &[&str]) -> String {
    let mut hash = Sha256::new();
    for text in texts {
        let text = text.lines().map(str::trim_end).collect::<Vec<_>>().join("\n");
        let text = text.trim();
        hash.update(format!("{}\n{text}", text.len()));
    }
    hexadecimal(&hash.finalize()[..8])
}
