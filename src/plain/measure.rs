//! What a language is measured by: `templates/readability.toml`, and the words of `locales/<tag>/plain.toml`.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::formulas::Formula;
use super::split::Stops;
use super::syllables::{Counter, Syllables};
use crate::assets::{Assets, Kind, LoadError, Problem, layers};
use crate::content::lineage::layers_of;

/// A formula with the scores wanted of it.
#[derive(Debug, Clone, Copy, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Wanted {
    /// The formula.
    pub formula: Formula,
    /// The score to aim at.
    #[serde(default)]
    pub goal: Option<f64>,
    /// The score that must be reached.
    #[serde(default)]
    pub gate: Option<f64>,
}

impl Wanted {
    /// Whether a score is as easy as a limit asks for; without a limit it is.
    #[must_use]
    pub fn reached(&self, score: f64, limit: Option<f64>) -> bool {
        limit.is_none_or(|limit| if self.formula.higher_is_easier() { score >= limit } else { score <= limit })
    }
}

/// The measure of one language.
#[derive(Debug)]
pub struct Measure {
    /// The formulas, the one with a gate first.
    pub scores: Vec<Wanted>,
    /// Most words of a sentence.
    pub longest_sentence: usize,
    /// Where its sentences end.
    pub stops: Stops,
    /// Its syllables.
    pub syllables: Syllables,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Limits {
    longest_sentence: usize,
    language: Vec<Language>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Language {
    tags: Vec<String>,
    syllables: Counter,
    #[serde(default)]
    ordinals: bool,
    score: Vec<Wanted>,
}

#[derive(Default, Deserialize)]
#[serde(deny_unknown_fields)]
struct Words {
    #[serde(default)]
    abbreviations: Vec<String>,
    #[serde(default)]
    syllables: BTreeMap<String, u32>,
}

impl Measure {
    /// Loads the measure of a language, given with those it was made from ([`crate::content::Library::lineage`]). One without a
    /// `plain.toml` has no words of its own.
    ///
    /// # Errors
    /// The file and what is wrong with it; a language that no row of the limits serves.
    pub fn load(assets: &Assets, lineage: &[String]) -> Result<Self, LoadError> {
        let tag = lineage.first().map_or("", String::as_str);
        const LIMITS: &str = "templates/readability.toml";
        let text = assets.get(LIMITS).ok_or_else(|| LoadError::no_file(LIMITS, ""))?;
        let limits: Limits = layers::table(&text).map_err(|problem| problem.in_file(LIMITS))?;
        let mut words = Words::default();
        for (path, text) in layers_of(assets, lineage, "plain.toml") {
            let layer: Words = layers::table(&text).map_err(|problem| problem.in_file(&path))?;
            words.abbreviations.extend(layer.abbreviations);
            words.syllables.extend(layer.syllables);
        }
        let language = limits.language.into_iter().filter_map(|language| Some((language.fits(tag)?, language)));
        let language = language.max_by_key(|(length, _)| *length).map(|(_, language)| language);
        let missing = || Problem::new(Kind::Missing, format!("no [[language]] serves {tag}")).in_file(LIMITS);
        let language = language.ok_or_else(missing)?;
        Ok(Self {
            scores: language.score,
            longest_sentence: limits.longest_sentence,
            stops: Stops { abbreviations: words.abbreviations, ordinals: language.ordinals },
            syllables: Syllables::new(language.syllables, words.syllables),
        })
    }
}

impl Language {
    /// How much of a tag it names, if it serves it.
    fn fits(&self, tag: &str) -> Option<usize> {
        let fits = |known: &&String| {
            *known == "*"
                || tag.strip_prefix(known.as_str()).is_some_and(|rest| rest.is_empty() || rest.starts_with('-'))
        };
        self.tags.iter().filter(fits).map(|known| if known == "*" { 0 } else { known.len() }).max()
    }
}
