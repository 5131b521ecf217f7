//! The files a clinic may edit: `templates/` and `locales/`, built in, overridden or extended by the practice's own folder.
//!
//! Bytes only; nothing here knows what they mean.

mod error;
pub mod layers;

pub use error::{Kind, LoadError, Problem};

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use rust_embed::RustEmbed;

#[derive(RustEmbed)]
#[folder = "templates/"]
#[prefix = "templates/"]
struct Templates;

#[derive(RustEmbed)]
#[folder = "locales/"]
#[prefix = "locales/"]
struct Locales;

#[derive(RustEmbed)]
#[folder = "output-samples/"]
#[include = "*.toml"]
struct Samples;

/// How deep a condition, an expression or emphasis may nest in any of these files: deeper ones would exhaust the stack, and
/// nobody reads them.
pub const DEPTH: usize = 64;

/// Built-in files with the practice's own in front of them.
#[derive(Debug, Clone, Default)]
pub struct Assets {
    practice: BTreeMap<String, String>,
    fonts: BTreeMap<String, Vec<u8>>,
}

impl Assets {
    /// Built-in files, overridden by the practice's files (path such as `templates/findings.toml` -> text).
    #[must_use]
    pub fn new(practice: BTreeMap<String, String>) -> Self {
        Self { practice, fonts: BTreeMap::new() }
    }

    /// With the practice's own print fonts (path such as `fonts/script.ttf` -> bytes).
    #[must_use]
    pub fn with_fonts(self, fonts: BTreeMap<String, Vec<u8>>) -> Self {
        Self { fonts, ..self }
    }

    /// The practice's own print fonts.
    pub fn fonts(&self) -> impl Iterator<Item = (&str, &Vec<u8>)> {
        self.fonts.iter().map(|(path, data)| (path.as_str(), data))
    }

    /// The text of a file: the practice's if it has one, else the built-in.
    #[must_use]
    pub fn get(&self, path: &str) -> Option<Cow<'_, str>> {
        match self.practice.get(path) {
            Some(text) => Some(Cow::Borrowed(text)),
            None => built_in(path),
        }
    }

    /// Whether the practice has a file of its own under this path.
    #[must_use]
    pub fn has_own(&self, path: &str) -> bool {
        self.practice.contains_key(path)
    }

    /// Whether a file comes with the program.
    #[must_use]
    pub fn is_built_in(path: &str) -> bool {
        built_in(path).is_some()
    }

    /// The practice's own files.
    pub fn own(&self) -> impl Iterator<Item = &str> {
        self.practice.keys().map(String::as_str)
    }

    /// The built-in file and the practice's, in this order: rows of the second override or extend those of the first.
    #[must_use]
    pub fn layers(&self, path: &str) -> Vec<(String, Cow<'_, str>)> {
        let own = self.practice.get(path).map(|text| Cow::Borrowed(text.as_str()));
        let built_in = built_in(path).map(|text| (path.to_owned(), text));
        built_in.into_iter().chain(own.map(|text| (format!("practice/{path}"), text))).collect()
    }

    /// Paths under a folder, sorted.
    #[must_use]
    pub fn under(&self, folder: &str) -> BTreeSet<String> {
        let built_in = Templates::iter().chain(Locales::iter()).map(Cow::into_owned);
        built_in.chain(self.practice.keys().cloned()).filter(|path| path.starts_with(folder)).collect()
    }
}

fn built_in(path: &str) -> Option<Cow<'static, str>> {
    let file = Templates::get(path).or_else(|| Locales::get(path))?;
    Some(Cow::Owned(String::from_utf8_lossy(&file.data).into_owned()))
}

/// The invented cases and the invented practice of the demo: path under `output-samples/` -> text.
#[must_use]
pub fn samples() -> BTreeMap<String, String> {
    Samples::iter()
        .filter_map(|path| {
            let file = Samples::get(&path)?;
            Some((path.into_owned(), String::from_utf8_lossy(&file.data).into_owned()))
        })
        .collect()
}
