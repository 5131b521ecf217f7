//! Syllables of a word: by the list of the language's trade words, else by the counter of the language.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Mutex;

use serde::Deserialize;

use super::{english, german, numerals, spanish};

/// How a family of languages counts syllables.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Counter {
    /// Pronunciation dictionary; a word that it lacks by groups of vowels.
    English,
    /// Vowel groups with the rules of hiatus.
    Spanish,
    /// Vowel groups with the German diphthongs.
    German,
    /// None: formulas that need syllables are not used.
    None,
}

/// Counts syllables in one language, and remembers which words no list knew.
#[derive(Debug)]
pub struct Syllables {
    counter: Counter,
    /// Words of the trade: as written, else in lower case.
    listed: BTreeMap<String, u32>,
    unknown: Mutex<BTreeSet<String>>,
}

impl Syllables {
    /// A counter with its list of trade words.
    #[must_use]
    pub fn new(counter: Counter, listed: BTreeMap<String, u32>) -> Self {
        Self { counter, listed, unknown: Mutex::default() }
    }

    /// Syllables as spoken. A hyphenated word is the sum of its parts, a numeral is counted as it is read aloud.
    #[must_use]
    pub fn of(&self, word: &str) -> u32 {
        let lower = word.to_lowercase().replace('’', "'");
        if let Some(count) = self.listed.get(word).or_else(|| self.listed.get(&lower)) {
            return *count;
        }
        let numbers = match self.counter {
            Counter::English => numerals::ENGLISH,
            Counter::Spanish => numerals::SPANISH,
            Counter::German => numerals::GERMAN,
            Counter::None => return 0,
        };
        if let Some(count) = numerals::syllables(&lower, &numbers) {
            return count;
        }
        match self.counter {
            Counter::English => english::listed(&lower).unwrap_or_else(|| self.of_parts(&lower)),
            _ if lower.contains('-') => self.of_parts(&lower),
            Counter::Spanish => spanish::syllables(&lower),
            Counter::German => german::syllables(&lower),
            Counter::None => 0,
        }
    }

    fn of_parts(&self, word: &str) -> u32 {
        let parts: Vec<&str> = word.split('-').filter(|part| !part.is_empty()).collect();
        match parts.as_slice() {
            [one] => {
                let mut unknown = self.unknown.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
                unknown.insert((*one).to_owned());
                english::by_rule(one)
            }
            parts => parts.iter().map(|part| self.of(part)).sum(),
        }
    }

    /// Words since the last call that neither list nor dictionary knew: counted by rule, to be listed by a person.
    pub fn unknown(&self) -> BTreeSet<String> {
        std::mem::take(&mut *self.unknown.lock().unwrap_or_else(std::sync::PoisonError::into_inner))
    }
}
