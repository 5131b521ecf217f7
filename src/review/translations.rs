//! What of a practice's languages is missing, stale or not reviewed, and how to write down that it was done.

use schemars::JsonSchema;
use serde::Serialize;

use crate::assets::{Assets, LoadError};
use crate::content::catalog;
use crate::content::folders::Folders;
use crate::content::translation::{self, Signed, State, Text};
use crate::packet::version::Version;

/// The texts of some languages.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Translations {
    /// Version of this format.
    pub version: Version<1>,
    /// The languages in the order asked for.
    pub languages: Vec<LanguageTexts>,
}

/// The texts of one language that somebody reads.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct LanguageTexts {
    /// BCP 47 tag.
    pub language: String,
    /// The texts, statements first; none for the language that all others are made from.
    pub texts: Vec<TextRow>,
}

/// One text.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct TextRow {
    /// Id of a statement, or `words/<section>`.
    pub text: String,
    /// How far it has come.
    pub state: State,
    /// Whether there is any of it.
    pub written: bool,
    /// Keys of the source's words that it lacks.
    pub lacks: Vec<String>,
    /// Who translated it, if that is recorded.
    pub translated: Option<Signed>,
    /// Who reviewed it as it stands, if somebody did.
    pub reviewed: Option<Signed>,
    /// Hash of its source as it stands.
    pub source_hash: String,
    /// Hash of source and translation together as they stand.
    pub pair_hash: String,
}

/// What was done with texts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Entry {
    /// Translated from their source.
    Translated,
    /// Reviewed against it.
    Reviewed,
}

/// Lists the texts of languages. `printed`: those the practice prints in, its staff's own first; staff's words count as
/// missing only in that one.
///
/// # Errors
/// A catalogue or a language that cannot be read.
pub fn translations(assets: &Assets, printed: &[String], languages: &[String]) -> Result<Translations, LoadError> {
    let folders = Folders::new(assets);
    let ids: Vec<String> = catalog::load(assets)?.into_iter().map(|statement| statement.row.id).collect();
    let languages = languages.iter().map(|tag| {
        let staff = printed.first() == Some(tag);
        let read = |text: &Text| staff || text.written || !text.for_staff();
        let texts = translation::texts(&folders, tag, &ids)?.into_iter().filter(read).map(row).collect();
        Ok(LanguageTexts { language: tag.clone(), texts })
    });
    Ok(Translations { version: Version, languages: languages.collect::<Result<_, LoadError>>()? })
}

fn row(text: Text) -> TextRow {
    TextRow {
        text: text.id,
        state: text.state,
        written: text.written,
        lacks: text.lacks,
        translated: text.translated,
        reviewed: text.reviewed,
        source_hash: text.source,
        pair_hash: text.pair,
    }
}

impl LanguageTexts {
    /// The texts that stand so.
    pub fn of(&self, state: State) -> impl Iterator<Item = &TextRow> {
        self.texts.iter().filter(move |text| text.state == state)
    }

    /// An entry for `translation.toml` that holds what is written and not yet done, to be cut to what was done and signed;
    /// empty when there is nothing.
    #[must_use]
    pub fn entry(&self, entry: Entry) -> String {
        let (head, done) = match entry {
            Entry::Translated => ("[[translated]]\nby = \"\"\non = \"\"\n[translated.texts]\n", State::Unreviewed),
            Entry::Reviewed => {
                ("[[reviewed]]\nby = \"\"\nqualification = \"\"\non = \"\"\n[reviewed.texts]\n", State::Current)
            }
        };
        let open = self.texts.iter().filter(|text| text.written && text.state < done);
        let lines: String = open.map(|text| line(entry, text)).collect();
        if lines.is_empty() { lines } else { format!("{head}{lines}") }
    }
}

fn line(entry: Entry, text: &TextRow) -> String {
    let hash = match entry {
        Entry::Translated => &text.source_hash,
        Entry::Reviewed => &text.pair_hash,
    };
    format!("\"{}\" = \"{hash}\"\n", text.text)
}
