//! Why a patient reads what they read, statement by statement, and where it stands.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::Serialize;

use super::pages;
use crate::content::catalog::Statement;
use crate::content::fill;
use crate::content::numbers::Number;
use crate::content::tailor::{self, Chosen};
use crate::content::{Library, Said};
use crate::document::reading::{self, Passage};
use crate::packet::rows::{self, CaseHead, FactValues};
use crate::packet::version::Version;
use crate::packet::{Case, CaseError, Withholding};
use crate::record::course::{Change, OwnWords, Tailoring};
use crate::record::date::Date;

/// Every statement of the patient's page of a moment, said or not.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Explanation {
    /// Version of this format.
    pub version: Version<1>,
    /// Which case.
    #[serde(flatten)]
    pub head: CaseHead,
    /// Whether the consent (before the treatment) or the drop plan (after it) is withheld.
    pub withheld: bool,
    /// Why it is withheld.
    pub withheld_because: Option<Withholding>,
    /// The statements in the order of the catalogue.
    pub statements: Vec<StatementRow>,
    /// Page, from 1, of each part that is no statement, by its id.
    pub parts: BTreeMap<String, usize>,
    /// Who added the surgeon's own words, and why; the words themselves are private.
    pub own_words: Vec<OwnWordsRow>,
}

/// A paragraph in the surgeon's own words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct OwnWordsRow {
    /// Who wrote it.
    pub by: String,
    /// When.
    pub on: Date,
    /// Why this patient reads it.
    pub reason: String,
}

/// A statement with all that decides about it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct StatementRow {
    /// Id.
    pub id: String,
    /// Section of the page.
    pub section: String,
    /// Whether it can never be left out.
    pub core: bool,
    /// Whether the facts choose it.
    pub chosen: bool,
    /// Whether the patient reads it.
    pub said: bool,
    /// What was done by hand, if something was.
    pub by_hand: Option<ByHand>,
    /// Its condition over the facts; none: it is for every eye.
    pub when: Option<String>,
    /// The facts its condition looked at, with the words they had.
    pub saw: BTreeMap<String, String>,
    /// The evidence its text may use.
    pub evidence: Vec<EvidenceRow>,
    /// Where it stands, if it is said.
    pub stands: Option<Stands>,
    /// The numbers of the evidence that it prints.
    pub numbers: Vec<NumberRow>,
    /// The facts its text prints or looks at, if it is said.
    pub facts: FactValues,
}

/// A change by hand, on the record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct ByHand {
    /// What was done.
    pub change: Change,
    /// Who decided.
    pub by: String,
    /// When.
    pub on: Date,
    /// Why.
    pub reason: String,
}

/// A published result.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct EvidenceRow {
    /// Id of the entry.
    pub id: String,
    /// Outcome as measured.
    pub outcome: String,
    /// The group studied.
    pub population: String,
    /// Kind of study.
    pub grade: String,
    /// Whether it comes from another procedure.
    pub indirect: bool,
    /// Keys of its values that are from memory; such a value is never printed for a patient.
    pub from_memory: Vec<&'static str>,
}

/// Where a statement stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Stands {
    /// Page from 1.
    pub page: Option<usize>,
    /// The heading above it.
    pub under: String,
    /// Kind of its block.
    pub block: &'static str,
}

/// A number of the evidence as it is printed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct NumberRow {
    /// What was printed.
    pub text: String,
    /// How it was made from the entry: `about`, `rest`, `upper`, `size`, `count` or `span`.
    pub function: &'static str,
    /// Id of the entry.
    pub evidence: String,
}

/// A case with its page laid out, and what was chosen for it.
struct Explained<'a> {
    library: &'a Library,
    chosen: Chosen<'a>,
    said: Vec<Said>,
    passages: Vec<Passage>,
    pages: BTreeMap<String, usize>,
    facts: FactValues,
    case: &'a Case<'a>,
}

/// Explains every statement of the patient's page of a case, chosen or not, whether the page may be printed or not.
///
/// # Errors
/// A change by hand that cannot be done; a page that cannot be composed or laid out.
pub fn explain(case: &Case) -> Result<Explanation, CaseError> {
    let library = case.practice().library(&case.record().patient.language)?;
    let document = case.unissued()?;
    let explained = Explained {
        library,
        chosen: tailor::choose(library, &case.facts, case.page(), &case.record().tailoring)?,
        said: case.said()?,
        passages: reading::read(&document),
        pages: pages(case, &document)?,
        facts: rows::facts(case),
        case,
    };
    let statements = library.statements.iter().filter(|statement| statement.row.page == case.page());
    let withheld_because = case.withholding();
    Ok(Explanation {
        version: Version,
        head: CaseHead::of(case),
        withheld: withheld_because.is_some(),
        withheld_because,
        statements: statements.map(|statement| explained.row(statement)).collect(),
        parts: explained.parts(),
        own_words: case.record().surgeon_words.iter().map(own_words).collect(),
    })
}

fn own_words(own: &OwnWords) -> OwnWordsRow {
    OwnWordsRow { by: own.by.clone(), on: own.on, reason: own.reason.clone() }
}

impl Explained<'_> {
    fn row(&self, statement: &Statement) -> StatementRow {
        let row = &statement.row;
        let facts = &self.case.facts;
        let seen = statement.when.names().into_iter();
        let said = self.said.iter().find(|said| said.id == row.id);
        StatementRow {
            id: row.id.clone(),
            section: row.section.clone(),
            core: row.core,
            chosen: statement.when.holds(facts),
            said: said.is_some(),
            by_hand: self.by_hand(statement),
            when: row.when.clone(),
            saw: seen.map(|name| (name.to_owned(), facts.choice(name).to_owned())).collect(),
            evidence: self.evidence(statement),
            stands: said.and_then(|said| self.stands(&said.id)),
            numbers: said.map(|said| said.numbers.iter().map(number).collect()).unwrap_or_default(),
            facts: said.map(|said| self.facts_of(&said.id)).unwrap_or_default(),
        }
    }

    fn by_hand(&self, statement: &Statement) -> Option<ByHand> {
        let said = self.chosen.said.iter().filter_map(|choice| Some((choice.statement, choice.by_hand?)));
        let mut all = said.chain(self.chosen.left_out.iter().copied());
        let (_, entry) = all.find(|(changed, _)| changed.row.id == statement.row.id)?;
        let Tailoring { change, by, on, reason, .. } = entry.clone();
        Some(ByHand { change, by, on, reason })
    }

    fn evidence(&self, statement: &Statement) -> Vec<EvidenceRow> {
        let entries = statement.row.evidence.iter().filter_map(|id| self.library.evidence.get(id));
        let rows = entries.map(|entry| EvidenceRow {
            id: entry.id.clone(),
            outcome: entry.outcome.clone(),
            population: entry.population.clone(),
            grade: entry.grade.clone(),
            indirect: entry.indirect,
            from_memory: entry.from_memory(),
        });
        rows.collect()
    }

    /// Page, heading and block of a statement.
    fn stands(&self, id: &str) -> Option<Stands> {
        let passage = self.passages.iter().find(|passage| passage.id == id)?;
        Some(Stands { page: self.pages.get(id).copied(), under: passage.section.clone(), block: passage.block })
    }

    fn parts(&self) -> BTreeMap<String, usize> {
        self.pages.iter().filter(|(id, _)| id.starts_with("part/")).map(|(id, page)| (id.clone(), *page)).collect()
    }

    /// The facts a text prints or looks at.
    fn facts_of(&self, id: &str) -> FactValues {
        let used = self.library.text(id).map(fill::facts_of).unwrap_or_default();
        let of_text = self.facts.iter().filter(|(name, _)| used.contains(*name));
        of_text.map(|(name, value)| (*name, value.clone())).collect()
    }
}

fn number(number: &Number) -> NumberRow {
    NumberRow { text: number.text.clone(), function: number.function, evidence: number.evidence.clone() }
}
