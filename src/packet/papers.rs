//! The papers around a treatment: which of them a case calls for, and how they are made.

use chrono::NaiveDateTime;

use super::{Case, CaseError, Form, Output};
use crate::content::Content;
use crate::document::papers::note;
use crate::document::{Document, Page};
use crate::facts::Moment;
use crate::record::course::Treatment;

impl Case<'_> {
    /// The papers that this case calls for at this moment. None of them is part of the packet.
    #[must_use]
    pub fn papers(&self) -> Vec<Page> {
        self.done().map(|_| Page::Note).into_iter().collect()
    }

    /// The same in each of these forms.
    #[must_use]
    pub fn papers_as(&self, forms: &[Form]) -> Vec<Output> {
        self.papers().into_iter().flat_map(|page| forms.iter().map(move |form| Output::Page(page, *form))).collect()
    }

    /// The treatment as done, once its moment has come.
    fn done(&self) -> Option<&Treatment> {
        self.record.treatment.as_ref().filter(|_| self.moment == Moment::After)
    }

    /// The papers among some outputs.
    ///
    /// # Errors
    /// A text that is missing.
    pub(super) fn paper_documents(
        &self,
        outputs: &[Output],
        issued: NaiveDateTime,
    ) -> Result<Vec<Document>, CaseError> {
        let wanted = |page: &Page| outputs.iter().any(|output| matches!(output, Output::Page(one, _) if one == page));
        self.papers().into_iter().filter(wanted).filter_map(|page| self.paper(page, issued).transpose()).collect()
    }

    /// One of the papers that this case calls for; none for any other page.
    ///
    /// # Errors
    /// A text that is missing.
    pub fn paper(&self, page: Page, issued: NaiveDateTime) -> Result<Option<Document>, CaseError> {
        let content = Content::words(self.staff_library()?, &self.facts)?;
        let sheet = self.sheet(&content, self.local(issued))?;
        Ok(match (page, self.done()) {
            (Page::Note, Some(done)) => Some(note::build(&sheet, done)?),
            _ => None,
        })
    }
}
