//! What is wrong with the catalogue of a practice.

use schemars::JsonSchema;
use serde::Serialize;

use crate::packet::version::Version;
use crate::plain::JudgeError;
use crate::practice::Practice;
use crate::proof::{self, Fault};

/// The catalogue of a practice, read in every language it prints in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Proofreading {
    /// Version of this format.
    pub version: Version<1>,
    /// The languages in the order of the profile.
    pub languages: Vec<LanguageFaults>,
}

/// The catalogue in one language.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct LanguageFaults {
    /// BCP 47 tag.
    pub language: String,
    /// How many statements were read.
    pub statements: usize,
    /// What is to be mended.
    pub faults: Vec<Fault>,
}

impl Proofreading {
    /// Whether there is nothing to mend.
    #[must_use]
    pub fn is_clean(&self) -> bool {
        self.languages.iter().all(|language| language.faults.is_empty())
    }
}

/// Proofreads every language a practice prints in.
///
/// # Errors
/// Rules of a language that cannot be read.
pub fn proofread(practice: &Practice) -> Result<Proofreading, JudgeError> {
    let languages = practice.profile.practice.languages.iter().map(|language| {
        Ok(LanguageFaults {
            language: language.clone(),
            statements: practice.library(language)?.statements.len(),
            faults: proof::proofread(practice, language)?,
        })
    });
    Ok(Proofreading { version: Version, languages: languages.collect::<Result<_, JudgeError>>()? })
}
