//! The score of each statement and of the whole page that a patient reads.

use std::collections::{BTreeMap, BTreeSet};

use schemars::JsonSchema;
use serde::Serialize;

use super::count::{self, Counts};
use super::formulas::Formula;
use super::measure::Measure;
use super::{JudgeError, names, split};
use crate::document::part::Part;
use crate::document::reading::{self, Passage};
use crate::document::{Document, Page};
use crate::packet::Case;

/// A text with its counts and scores.
#[derive(Debug, Clone, Serialize, JsonSchema)]
pub struct Scored {
    /// The counts behind the scores.
    pub counts: Counts,
    /// What each formula makes of them.
    pub scores: Vec<Score>,
    /// Sentences with too many words.
    pub long_sentences: Vec<String>,
    /// Words no list knew: counted by rule.
    pub unknown_words: BTreeSet<String>,
}

/// The score by one formula.
#[derive(Debug, Clone, Copy, Serialize, JsonSchema)]
pub struct Score {
    /// The formula.
    pub formula: Formula,
    /// The score; none where the formula is not defined for so short a text.
    pub value: Option<f64>,
    /// False: the gate is not reached.
    pub passes: bool,
    /// False: the goal is not reached.
    pub meets_goal: bool,
}

impl Scored {
    /// Whether every gate is reached and no sentence is too long.
    #[must_use]
    pub fn passes(&self) -> bool {
        self.long_sentences.is_empty() && self.scores.iter().all(|score| score.passes)
    }
}

/// A page of a case with its statements.
#[derive(Debug, Clone, Serialize, JsonSchema)]
pub struct PageScore {
    /// Case code.
    pub case: String,
    /// Consent or aftercare.
    pub page: Page,
    /// The page as a whole, with what stands on it beside statements.
    pub whole: Scored,
    /// Each statement that is said, by id.
    pub statements: BTreeMap<String, Scored>,
}

impl PageScore {
    /// Whether the page and all its statements pass.
    #[must_use]
    pub fn passes(&self) -> bool {
        self.whole.passes() && self.statements.values().all(Scored::passes)
    }
}

/// Scores the page that the patient of a case reads, whether it may be printed or not.
///
/// # Errors
/// A text, number or note that is missing; limits or words that cannot be read.
pub fn page(case: &Case) -> Result<PageScore, JudgeError> {
    let record = case.record();
    let document = case.unissued()?;
    let measure = Measure::load(&case.practice().assets, case.practice().library(&record.patient.language)?.lineage())?;
    Ok(of_document(case, &document, &measure))
}

fn of_document(case: &Case, document: &Document, measure: &Measure) -> PageScore {
    let passages = reading::read(document);
    let names = names::of(case);
    let whole = passages.iter().flat_map(|passage| passage.running.clone()).collect();
    let without_names = |texts: Vec<String>| texts.iter().map(|text| names::left_out(text, &names)).collect::<Vec<_>>();
    let statements = statements(&passages).into_iter().map(|(id, texts)| (id, scored(&without_names(texts), measure)));
    PageScore {
        case: case.record().case.code.clone(),
        page: document.page,
        statements: statements.collect(),
        whole: scored(&without_names(whole), measure),
    }
}

/// The running texts of each statement of a page.
#[must_use]
pub fn statements(page: &[Passage]) -> BTreeMap<String, Vec<String>> {
    let mut statements: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for passage in page.iter().filter(|passage| !passage.id.is_empty() && !Part::is(&passage.id)) {
        statements.entry(passage.id.clone()).or_default().extend(passage.running.iter().cloned());
    }
    statements
}

/// Scores texts, each of which ends where a sentence ends.
#[must_use]
pub fn scored(texts: &[String], measure: &Measure) -> Scored {
    measure.syllables.unknown(); // what was asked before is not of this text
    let counts = texts.iter().map(|text| count::count(text, &measure.stops, &measure.syllables)).sum();
    let sentences = texts.iter().flat_map(|text| split::sentences(text, &measure.stops));
    let long = sentences.filter(|sentence| split::words(sentence).len() > measure.longest_sentence);
    let scores = measure.scores.iter().map(|wanted| {
        let value = wanted.formula.score(&counts);
        let reached = |limit| value.is_none_or(|value| wanted.reached(value, limit));
        Score { formula: wanted.formula, value, passes: reached(wanted.gate), meets_goal: reached(wanted.goal) }
    });
    Scored {
        counts,
        scores: scores.collect(),
        long_sentences: long.map(str::to_owned).collect(),
        unknown_words: measure.syllables.unknown(),
    }
}
