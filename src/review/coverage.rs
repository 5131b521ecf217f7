//! What a consent must hold where the practice works, element by element, with the page where it stands.

use std::collections::BTreeMap;

use chrono::{Months, NaiveDate};
use schemars::JsonSchema;
use serde::Serialize;

use super::pages;
use crate::document::coverage::{self, Covered};
use crate::document::reading;
use crate::packet::rows::CaseHead;
use crate::packet::version::Version;
use crate::packet::{Case, CaseError};
use crate::record::date::Date;

/// The consent of a case against the rules of its place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Coverage {
    /// Version of this format.
    pub version: Version<1>,
    /// Which case.
    #[serde(flatten)]
    pub head: CaseHead,
    /// Name of the place whose rules these are.
    pub jurisdiction: String,
    /// That this is no legal advice, in words.
    pub notice: String,
    /// Whether only drafts are printed: there is no text yet in the language that the place asks for.
    pub draft: bool,
    /// The elements that this case needs.
    pub elements: Vec<ElementRow>,
    /// Ids of all that should stand on the pages and does not; the consent is withheld while there are any.
    pub lacking: Vec<String>,
}

/// One required element.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct ElementRow {
    /// Id.
    pub id: String,
    /// What is required, in our words.
    pub what: String,
    /// Law, guidance or standard.
    pub citation: String,
    /// Since when it holds, as far as known.
    pub effective: Option<Date>,
    /// When somebody last compared it with its source.
    pub reviewed_on: Date,
    /// Whether it is due to be compared again.
    pub review_due: bool,
    /// What meets it, in the order of the pages.
    pub stands: Vec<Place>,
    /// Ids of what should stand on the pages and does not.
    pub lacking: Vec<String>,
    /// What no program can tell and a person must see to.
    pub left_to_people: Option<String>,
}

/// Where a statement or a part stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Place {
    /// Id of the statement or part.
    pub id: String,
    /// Page from 1; none when it is on no page.
    pub page: Option<usize>,
}

impl Coverage {
    /// Whether the consent holds all that it must.
    #[must_use]
    pub fn is_complete(&self) -> bool {
        self.lacking.is_empty()
    }
}

/// Compares the consent of a case, whether it may be printed or not, with the elements required. `today` decides which of
/// them are due to be read again.
///
/// # Errors
/// A consent that cannot be composed or laid out.
pub fn coverage(case: &Case, today: NaiveDate) -> Result<Coverage, CaseError> {
    let jurisdiction = &case.practice().jurisdiction;
    let language = &case.record().patient.language;
    let document = case.unissued()?;
    let passages = reading::read(&document);
    let pages = pages(case, &document)?;
    let library = case.practice().library(language)?;
    let covered = coverage::coverage(jurisdiction, library, &case.facts, &passages);
    let mut lacking = coverage::always_lacking(&passages);
    lacking.extend(covered.iter().flat_map(|covered| &covered.lacking).map(|id| (*id).to_owned()));
    lacking.dedup();
    let is_due = |covered: &Covered| {
        let due = covered.element.row.reviewed_on.0.checked_add_months(Months::new(jurisdiction.review_months));
        due.is_some_and(|due| due < today)
    };
    Ok(Coverage {
        version: Version,
        head: CaseHead::of(case),
        jurisdiction: jurisdiction.name.clone(),
        notice: jurisdiction.notice.clone(),
        draft: jurisdiction.draft_in(language),
        elements: covered.iter().map(|covered| row(covered, &pages, is_due(covered))).collect(),
        lacking,
    })
}

fn row(covered: &Covered, pages: &BTreeMap<String, usize>, review_due: bool) -> ElementRow {
    let row = &covered.element.row;
    let stands = covered.by.iter().map(|id| Place { id: (*id).to_owned(), page: pages.get(*id).copied() });
    ElementRow {
        id: row.id.clone(),
        what: row.what.clone(),
        citation: row.citation.clone(),
        effective: row.effective,
        reviewed_on: row.reviewed_on,
        review_due,
        stands: stands.collect(),
        lacking: covered.lacking.iter().map(|id| (*id).to_owned()).collect(),
        left_to_people: row.left_to_people.clone(),
    }
}
