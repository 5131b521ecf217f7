//! The formulas as published, each a pure function of [`Counts`]. A text without words has no score.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::count::Counts;

/// A readability formula.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Formula {
    /// Flesch Reading Ease, English; 0 to 100 and beyond, higher is easier (Flesch R., J Appl Psychol 1948;32:221-233).
    FleschReadingEase,
    /// Flesch-Kincaid, English; US school grade (Kincaid J. et al., US Navy report 8-75, 1975).
    FleschKincaid,
    /// SMOG, English; US school grade, from 30 sentences on (McLaughlin G. H., J Reading 1969;12:639-646).
    Smog,
    /// Fernandez-Huerta, Spanish; higher is easier (Fernandez Huerta J., Consigna 1959;214:29-32).
    FernandezHuerta,
    /// Szigriszt-Pazos, Spanish, read on the INFLESZ scale; higher is easier (Szigriszt Pazos F., thesis, Madrid 1993;
    /// Barrio-Cantalejo I. et al., An Sist Sanit Navar 2008;31:135-152).
    SzigrisztPazos,
    /// Flesch after Amstad, German; higher is easier (Amstad T., thesis, Zurich 1978).
    Amstad,
    /// First Wiener Sachtextformel, German; school year 4 to 15 (Bamberger R., Vanecek E., 1984).
    Wiener1,
    /// Second Wiener Sachtextformel.
    Wiener2,
    /// Third Wiener Sachtextformel.
    Wiener3,
    /// Fourth Wiener Sachtextformel.
    Wiener4,
    /// LIX, any language; about 20 very easy to 60 very hard (Bjornsson C. H., Lasbarhet, 1968).
    Lix,
}

/// Fewest sentences for which SMOG is defined.
pub const SMOG_SENTENCES: u32 = 30;

impl Formula {
    /// The score; none for a text without words, and by SMOG for one of fewer than 30 sentences.
    #[must_use]
    pub fn score(self, counts: &Counts) -> Option<f64> {
        if counts.words == 0 || counts.sentences == 0 {
            return None;
        }
        if self == Self::Smog {
            return (counts.sentences >= SMOG_SENTENCES).then(|| smog(counts.three_syllables, counts.sentences));
        }
        let words = f64::from(counts.words);
        let per_sentence = words / f64::from(counts.sentences);
        let per_word = f64::from(counts.syllables) / words;
        let percent = |part: u32| 100.0 * f64::from(part) / words;
        let (three, six) = (percent(counts.three_syllables), percent(counts.over_six_letters));
        Some(match self {
            Self::FleschReadingEase => 206.835 - 1.015 * per_sentence - 84.6 * per_word,
            Self::FleschKincaid => 0.39 * per_sentence + 11.8 * per_word - 15.59,
            Self::FernandezHuerta => 206.84 - 60.0 * per_word - 1.02 * per_sentence,
            Self::SzigrisztPazos => 206.835 - 62.3 * per_word - per_sentence,
            Self::Amstad => 180.0 - per_sentence - 58.5 * per_word,
            Self::Wiener1 => {
                0.1935 * three + 0.1672 * per_sentence + 0.1297 * six - 0.0327 * percent(counts.one_syllable) - 0.875
            }
            Self::Wiener2 => 0.2007 * three + 0.1682 * per_sentence + 0.1373 * six - 2.779,
            Self::Wiener3 => 0.2963 * three + 0.1905 * per_sentence - 1.1144,
            Self::Wiener4 => 0.2744 * three + 0.2656 * per_sentence - 1.693,
            Self::Lix => per_sentence + six,
            Self::Smog => unreachable!("returned above"),
        })
    }

    /// Whether a higher score means an easier text.
    #[must_use]
    pub fn higher_is_easier(self) -> bool {
        matches!(self, Self::FleschReadingEase | Self::FernandezHuerta | Self::SzigrisztPazos | Self::Amstad)
    }

    /// Its name in print.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::FleschReadingEase => "Flesch Reading Ease",
            Self::FleschKincaid => "Flesch-Kincaid grade",
            Self::Smog => "SMOG grade",
            Self::FernandezHuerta => "Fernandez-Huerta",
            Self::SzigrisztPazos => "Szigriszt-Pazos",
            Self::Amstad => "Amstad",
            Self::Wiener1 => "Wiener Sachtextformel 1",
            Self::Wiener2 => "Wiener Sachtextformel 2",
            Self::Wiener3 => "Wiener Sachtextformel 3",
            Self::Wiener4 => "Wiener Sachtextformel 4",
            Self::Lix => "LIX",
        }
    }
}

/// SMOG as computed: from words of three syllables or more, extended from 30 sentences to any number of them.
#[must_use]
pub fn smog(three_syllables: u32, sentences: u32) -> f64 {
    3.1291 + 1.0430 * (f64::from(three_syllables) * 30.0 / f64::from(sentences)).sqrt()
}

/// SMOG as done by hand for 30 sentences: the root of the nearest perfect square, plus 3.
#[must_use]
pub fn smog_by_hand(three_syllables: u32) -> u32 {
    f64::from(three_syllables).sqrt().round() as u32 + 3
}

/// Band of the INFLESZ scale (Barrio-Cantalejo 2008): "very difficult" below 40, "somewhat difficult" below 55, "normal"
/// below 65, "fairly easy" below 80, else "very easy".
#[must_use]
pub fn inflesz_band(szigriszt_pazos: f64) -> &'static str {
    match szigriszt_pazos {
        score if score < 40.0 => "very difficult",
        score if score < 55.0 => "somewhat difficult",
        score if score < 65.0 => "normal",
        score if score < 80.0 => "fairly easy",
        _ => "very easy",
    }
}
