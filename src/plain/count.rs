//! The counts that every formula rests on.

use std::iter::Sum;
use std::ops::Add;

use schemars::JsonSchema;
use serde::Serialize;

use super::split::{self, Stops};
use super::syllables::Syllables;

/// Whole numbers, exposed beside every score: W, S, Y, P3, P1 and L6 of the formulas.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Counts {
    /// Words.
    pub words: u32,
    /// Sentences.
    pub sentences: u32,
    /// Syllables of all words; 0 where the language has no counter.
    pub syllables: u32,
    /// Words of one syllable.
    pub one_syllable: u32,
    /// Words of three syllables or more.
    pub three_syllables: u32,
    /// Words of more than six letters; digits are no letters.
    pub over_six_letters: u32,
}

/// Counts a text that ends where a sentence ends.
#[must_use]
pub fn count(text: &str, stops: &Stops, syllables: &Syllables) -> Counts {
    split::sentences(text, stops).into_iter().map(|sentence| of_sentence(sentence, syllables)).sum()
}

fn of_sentence(sentence: &str, syllables: &Syllables) -> Counts {
    let words = split::words(sentence).into_iter().map(|word| of_word(word, syllables));
    Counts { sentences: 1, ..words.sum() }
}

fn of_word(word: &str, syllables: &Syllables) -> Counts {
    let spoken = syllables.of(word);
    Counts {
        words: 1,
        sentences: 0,
        syllables: spoken,
        one_syllable: u32::from(spoken == 1),
        three_syllables: u32::from(spoken >= 3),
        over_six_letters: u32::from(word.chars().filter(|c| c.is_alphabetic()).count() > 6),
    }
}

impl Add for Counts {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            words: self.words + other.words,
            sentences: self.sentences + other.sentences,
            syllables: self.syllables + other.syllables,
            one_syllable: self.one_syllable + other.one_syllable,
            three_syllables: self.three_syllables + other.three_syllables,
            over_six_letters: self.over_six_letters + other.over_six_letters,
        }
    }
}

impl Sum for Counts {
    fn sum<I: Iterator<Item = Self>>(counts: I) -> Self {
        counts.fold(Self::default(), Add::add)
    }
}
