//! The papers around a treatment: which of them a case calls for, and how they are made.

use chrono::NaiveDateTime;

use super::{Case, CaseError, Form, Output};
use crate::content::catalog::PatientPage;
use crate::content::{Content, Library, tailor};
use crate::document::papers::{drops_before, letter, next_session, note, outcome, withdrawal};
use crate::document::{Document, Page};
use crate::facts::Moment;
use crate::practice::NotPrinted;
use crate::record::course::Treatment;
use crate::record::letters::Correspondent;

/// The section of the urgent letter that says why it is written.
const WHY: &str = "why";

impl Case<'_> {
    /// The papers that this case calls for at this moment. None of them is part of the packet.
    #[must_use]
    pub fn papers(&self) -> Vec<Page> {
        let mut papers = Vec::new();
        if self.done().is_some() {
            papers.extend([Page::Note, Page::Letter]);
        }
        papers.extend(self.is_urgent().then_some(Page::UrgentLetter));
        papers.push(Page::Outcome);
        papers.extend(self.done().and(self.record.next_session.as_ref()).map(|_| Page::NextSession));
        papers.extend(self.has_drops_before().then_some(Page::DropsBefore));
        papers.extend((self.moment == Moment::Before).then_some(Page::Withdrawal));
        papers
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

    /// Whether a statement of the urgent letter says why it is written.
    fn is_urgent(&self) -> bool {
        let Ok(library) = self.staff_library() else { return false };
        let chosen = tailor::choose(library, &self.facts, PatientPage::UrgentLetter, &self.record.tailoring);
        chosen.is_ok_and(|chosen| chosen.said.iter().any(|choice| choice.statement.row.section == WHY))
    }

    /// Whether drops begin before the treatment, and may be told.
    fn has_drops_before(&self) -> bool {
        let began_before = self.plan.uses.iter().any(|used| used.began_before(&self.plan.anchors));
        self.moment == Moment::Before && self.withheld().is_none() && began_before
    }

    /// The papers among some outputs.
    ///
    /// # Errors
    /// As [`Case::paper`].
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
    /// A text that is missing, or a reader's language that the practice does not print in.
    pub fn paper(&self, page: Page, issued: NaiveDateTime) -> Result<Option<Document>, CaseError> {
        if !self.papers().contains(&page) {
            return Ok(None);
        }
        let letters = &self.record.letters;
        Ok(match (page, self.done()) {
            (Page::Note, Some(done)) => {
                let content = Content::words(self.staff_library()?, &self.facts)?;
                Some(note::build(&self.sheet(&content, self.local(issued))?, done)?)
            }
            (Page::Letter, Some(done)) => {
                let library = self.readers(letters.referred_by.as_ref())?;
                let content = self.stated(library, PatientPage::Letter)?;
                Some(letter::build(&self.sheet(&content, self.local(issued))?, done)?)
            }
            (Page::UrgentLetter, done) => {
                let content = self.stated(self.readers(letters.specialist.as_ref())?, PatientPage::UrgentLetter)?;
                Some(letter::urgent(&self.sheet(&content, self.local(issued))?, done)?)
            }
            (Page::NextSession, Some(done)) => {
                let content = self.stated(self.staff_library()?, PatientPage::NextSession)?;
                let sheet = self.sheet(&content, self.local(issued))?;
                let next = self.record.next_session.as_ref();
                next.map(|next| next_session::build(&sheet, done, next)).transpose()?
            }
            (Page::Outcome, _) => Some(self.with_sheet(issued, outcome::build)?),
            (Page::DropsBefore, _) => Some(self.with_sheet(issued, drops_before::build)?),
            (Page::Withdrawal, _) => {
                let library = self.practice.library(&self.record.patient.language)?;
                let content = self.stated(library, PatientPage::Withdrawal)?;
                Some(withdrawal::build(&self.sheet(&content, self.local(issued))?)?)
            }
            _ => None,
        })
    }

    /// The texts of the reader of a letter: in their language, else in the clinic's.
    fn readers(&self, reader: Option<&Correspondent>) -> Result<&Library, NotPrinted> {
        match reader.and_then(|reader| reader.language.as_deref()) {
            Some(language) => self.practice.library(language),
            None => self.staff_library(),
        }
    }

    /// The statements of a page in a language.
    fn stated(&self, library: &Library, page: PatientPage) -> Result<Content, CaseError> {
        Ok(Content::compose(library, &self.facts, page, &self.record.tailoring)?)
    }
}
