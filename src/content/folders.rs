//! The folders of languages (`locales/<tag>/`): each file is read once, however many languages rest on it.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

use serde::Deserialize;

use super::words::{self, Words};
use crate::assets::{Assets, Kind, LoadError, Problem, layers};
use crate::record::date::Date;

/// The language that every text is first written in.
pub const SOURCE: &str = "en-US";

/// `translation.toml` of a language.
#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct File {
    pub(super) source: Option<String>,
    pub(super) formats: Option<String>,
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

/// What was read, by name.
type Once<T> = RefCell<BTreeMap<String, Rc<T>>>;

/// The folders of all languages, with what was read of them.
#[derive(Debug)]
pub struct Folders<'a> {
    /// All files.
    pub assets: &'a Assets,
    /// By language.
    translations: Once<File>,
    /// By file.
    words: Once<Words>,
}

impl<'a> Folders<'a> {
    /// The folders among these files; nothing is read yet.
    #[must_use]
    pub fn new(assets: &'a Assets) -> Self {
        Self { assets, translations: Once::default(), words: Once::default() }
    }

    /// Who translated and reviewed a language: the built-in file, then the practice's own, whose entries are added.
    pub(super) fn translation(&self, tag: &str) -> Result<Rc<File>, LoadError> {
        once(&self.translations, tag, || {
            let mut whole = File::default();
            for (path, text) in self.assets.layers(&format!("locales/{tag}/translation.toml")) {
                let file: File = layers::table(&text).map_err(|problem| problem.in_file(&path))?;
                whole.source = file.source.or(whole.source);
                whole.formats = file.formats.or(whole.formats);
                whole.translated.extend(file.translated);
                whole.reviewed.extend(file.reviewed);
            }
            Ok(whole)
        })
    }

    /// All words of a language: those it was made from in the same language, then its own.
    ///
    /// # Errors
    /// As [`Folders::own_words`].
    pub fn words(&self, lineage: &[String]) -> Result<Words, LoadError> {
        let mut words = Words::new();
        for tag in lineage.iter().rev() {
            words.extend(self.own_words(tag)?);
        }
        Ok(words)
    }

    /// The words in the folder of a language: the built-in ones with the practice's own in front.
    ///
    /// # Errors
    /// A file that cannot be read, or a text that nothing reads: what comes first has the words of the source language.
    pub fn own_words(&self, tag: &str) -> Result<Words, LoadError> {
        let source = self.layers_of_words(SOURCE)?;
        let known = source.first().map(|(_, words)| words);
        // Names of languages, visits and figures, and plural forms, are the only texts a language or a practice may add.
        let may_add =
            |key: &str| ["language.", "visit.", "figure.", "unit."].iter().any(|start| key.starts_with(start));
        let mut words = Words::new();
        for (path, layer) in self.layers_of_words(tag)? {
            let unread = |key: &&String| !known.is_some_and(|known| known.contains_key(*key)) && !may_add(key);
            if let Some(key) = layer.keys().find(unread) {
                let problem = Problem::new(Kind::UnknownName, format!("nothing reads {key}")).of(key);
                return Err(problem.in_file(&path));
            }
            words.extend(layer.iter().map(|(key, text)| (key.clone(), text.clone())));
        }
        Ok(words)
    }

    fn layers_of_words(&self, tag: &str) -> Result<Vec<(String, Rc<Words>)>, LoadError> {
        let layers = self.assets.layers(&format!("locales/{tag}/words.toml"));
        let read = layers.into_iter().map(|(path, text)| {
            let words = once(&self.words, &path, || words::read(&text).map_err(|problem| problem.in_file(&path)))?;
            Ok((path, words))
        });
        read.collect()
    }
}

/// What was read under this name; read now if it was not.
fn once<T>(known: &Once<T>, name: &str, read: impl FnOnce() -> Result<T, LoadError>) -> Result<Rc<T>, LoadError> {
    if let Some(read) = known.borrow().get(name) {
        return Ok(Rc::clone(read));
    }
    let read = Rc::new(read()?);
    known.borrow_mut().insert(name.to_owned(), Rc::clone(&read));
    Ok(read)
}
