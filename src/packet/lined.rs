//! Nobody who was treated leaves without warning signs: a page set whose layout is refused is told line after line.

use schemars::JsonSchema;
use serde::Serialize;

use super::{Case, CaseError};
use crate::content::{ComposeError, Content};
use crate::document::{BannerLine, Document, Page};
use crate::facts::Moment;
use crate::render::lines;

/// A page set that cannot be printed as it should be.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct RefusedPage {
    /// Which.
    pub page: Page,
    /// Why, and what to change.
    pub why: String,
    /// What prints instead.
    pub instead: Instead,
}

/// What prints instead of a page set that is refused. A treated patient always gets something.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Instead {
    /// Nothing.
    Nothing,
    /// All of it line after line, without its drawings.
    Lines,
    /// It without the texts that cannot be said.
    Rest,
}

/// A page set as it was laid out.
pub(super) struct Laid {
    pub(super) document: Document,
    pub(super) bytes: Vec<u8>,
    /// Its usual form, if that was refused.
    pub(super) refused: Option<RefusedPage>,
}

impl RefusedPage {
    /// What becomes of it, and why.
    #[must_use]
    pub fn says(&self) -> String {
        let page = self.page.word();
        match self.instead {
            Instead::Nothing => format!("no {page} is printed: {}", self.why),
            Instead::Lines => format!("{page} is printed line after line, without calendar and drawings: {}", self.why),
            Instead::Rest => format!("{page} is printed without a text: {}", self.why),
        }
    }
}

impl Case<'_> {
    /// A page set line after line, whose usual layout is refused. None before the treatment, when such a page is not printed.
    ///
    /// # Errors
    /// A text that is missing.
    pub fn in_lines(&self, document: &Document) -> Result<Option<Document>, CaseError> {
        if self.moment == Moment::Before {
            return Ok(None);
        }
        let content = Content::words(self.practice.library(&document.language)?, &self.facts)?;
        let key = if document.page.for_the_patient() { "page.in_lines" } else { "page.in_lines_staff" };
        Ok(Some(lines::in_lines(document, content.inline(key, &[])?)))
    }

    /// The texts that the patient's page of a treated patient lacks, because they cannot be said.
    ///
    /// # Errors
    /// A language the practice does not print in, or a change by hand that cannot be done.
    pub fn unsaid(&self) -> Result<&[RefusedPage], CaseError> {
        if self.moment == Moment::After && self.unsaid.get().is_none() {
            self.unissued()?;
        }
        Ok(self.unsaid.get().map_or(&[], Vec::as_slice))
    }

    /// Keeps what a composed page lacks: that of the patient is composed before the clinic's copy.
    pub(super) fn notes_unsaid(&self, content: &Content) {
        let refused = |(_, why): &(String, ComposeError)| RefusedPage {
            page: Page::Aftercare,
            why: why.to_string(),
            instead: Instead::Rest,
        };
        self.unsaid.get_or_init(|| content.unsaid.iter().map(refused).collect());
    }

    /// Says something about the patient's page across the surgeon's sheet.
    pub(super) fn tell(&self, sheet: &mut Document, key: &str) -> Result<(), CaseError> {
        let content = Content::words(self.practice.library(&sheet.language)?, &self.facts)?;
        let text = content.text(key, &[])?;
        sheet.banner.push(BannerLine { language: sheet.language.clone(), text });
        Ok(())
    }
}
