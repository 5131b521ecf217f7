//! All steps for one case at one moment: from record and practice to finished files.

pub mod assessment;
pub mod both_eyes;
mod error;
pub mod json;
mod lined;
mod made;
mod output;
mod papers;
pub mod rows;
pub mod suitability;
pub mod version;
mod withholding;

pub use withholding::Withholding;

use std::sync::OnceLock;

use chrono::{NaiveDate, NaiveDateTime, TimeZone};

use crate::content::catalog::PatientPage;
use crate::content::{Content, Library, Said, markdown};
use crate::document::sheet::{Sheet, Withheld};
use crate::document::{Document, aftercare, consent, coverage, desk, reading, surgeon};
use crate::facts::{Facts, Moment};
use crate::findings::Findings;
use crate::plan::{Plan, PlanError};
use crate::practice::{Checked, Confirmed, NotPrinted, Practice};
use crate::record::{Record, language};
use crate::render::{self, dosage::DrugDosages};

pub use assessment::{Assessment, Gap};
pub use both_eyes::Stop;
pub use error::CaseError;
pub use lined::{Instead, RefusedPage};
pub use output::{File, Form, Output};

/// Everything made for one case at one moment.
#[derive(Debug, Clone)]
pub struct Packet {
    /// The files, complete.
    pub files: Vec<File>,
    /// Why the patient's pages (before) or the drop plan (after) were withheld, if they were.
    pub withheld: Option<Withholding>,
    /// Names of the patient's files that were not made because they are withheld.
    pub not_made: Vec<String>,
    /// The page sets that are not printed as they should be, and what is printed instead.
    pub refused_pages: Vec<RefusedPage>,
    /// The findings.
    pub findings: Findings,
}

/// One case on its way through the steps.
#[derive(Debug)]
pub struct Case<'a> {
    practice: &'a Practice,
    record: &'a Record,
    moment: Moment,
    /// The facts.
    pub facts: Facts,
    /// The findings.
    pub findings: Findings,
    /// The plan.
    pub plan: Plan,
    /// Why the drops could not be dated, if they could not: the visits still stand.
    pub undated: Option<PlanError>,
    withheld: Option<Withheld>,
    lacking: Vec<String>,
    /// Why its drops and those of another case cannot both go out, if they cannot.
    stop: Option<Stop>,
    /// The consent that may be printed, as it was read for what it must hold.
    consent: Option<Document>,
    /// What the aftercare lacks, known once it was composed.
    unsaid: OnceLock<Vec<RefusedPage>>,
    both_eyes: Option<String>,
}

impl<'a> Case<'a> {
    /// Derives facts, findings and plan of a complete record: the last stage, which can print.
    ///
    /// # Errors
    /// A moment that has not come, or a plan that cannot be kept; each says what to change. [`Assessment`] has the facts and
    /// findings all the same.
    pub fn new(checked: &'a Checked<Record>, moment: Moment) -> Result<Self, CaseError> {
        if moment == Moment::After && checked.treatment.is_none() {
            return Err(CaseError::NotTreated);
        }
        Self::of(Assessment::of(checked, moment))
    }

    fn of(assessment: Assessment<'a>) -> Result<Self, CaseError> {
        let (practice, record, moment) = (assessment.practice(), assessment.record(), assessment.moment());
        let (plan, undated) = match assessment.plan() {
            Ok(plan) => (plan, None),
            // A patient who has been treated leaves with warning signs and visits, whatever is wrong with the drops.
            Err(error) if moment == Moment::After => (assessment.plan_without_drops()?, Some(error)),
            Err(error) => return Err(error.into()),
        };
        let Assessment { facts, findings, .. } = assessment;
        let withheld = withheld(practice.confirmed(), &findings, moment, undated.is_some());
        let mut case = Self {
            practice,
            record,
            moment,
            facts,
            findings,
            plan,
            undated,
            withheld,
            lacking: Vec::new(),
            stop: None,
            consent: None,
            unsaid: OnceLock::new(),
            both_eyes: None,
        };
        if moment == Moment::Before && withheld.is_none() {
            let consent = case.unissued()?;
            case.lacking = case.lacking_elements(&consent)?;
            match case.lacking.is_empty() {
                true => case.consent = Some(consent),
                false => case.withheld = Some(Withheld::Incomplete),
            }
        }
        Ok(case)
    }

    /// Ids of what the consent must hold and does not.
    fn lacking_elements(&self, consent: &Document) -> Result<Vec<String>, CaseError> {
        let passages = reading::read(consent);
        let library = self.practice.library(&self.record.patient.language)?;
        let covered = coverage::coverage(&self.practice.jurisdiction, library, &self.facts, &passages);
        let lacking = covered.iter().filter(|covered| !covered.lacking.is_empty());
        let lacking = lacking.map(|covered| covered.element.row.id.clone());
        Ok(coverage::always_lacking(&passages).into_iter().chain(lacking).collect())
    }

    /// The page of the patient at this moment, whether it may be printed or not, for questions about it: nobody issues it,
    /// so it carries the planned date.
    ///
    /// # Errors
    /// A text, number or note that is missing.
    pub fn unissued(&self) -> Result<Document, CaseError> {
        if let Some(consent) = &self.consent {
            return Ok(consent.clone());
        }
        let library = self.practice.library(&self.record.patient.language)?;
        self.patient_document(library, self.record.plan.start.0.date())
    }

    fn patient_document(&self, library: &Library, issued: NaiveDate) -> Result<Document, CaseError> {
        let content = Content::compose(library, &self.facts, self.page(), &self.record.tailoring)?;
        self.notes_unsaid(&content);
        let sheet = self.sheet(&content, issued)?;
        Ok(match self.moment {
            Moment::Before => consent::build(&sheet)?,
            Moment::After => aftercare::build(&sheet, self.withheld().is_none())?,
        })
    }

    /// The page of the patient at this moment.
    #[must_use]
    pub fn page(&self) -> PatientPage {
        PatientPage::of(self.moment)
    }

    /// The statements of the patient's page with the numbers they print.
    ///
    /// # Errors
    /// If a text is missing or a number cannot be filled, as when the document is composed.
    pub fn said(&self) -> Result<Vec<Said>, CaseError> {
        let library = self.practice.library(&self.record.patient.language)?;
        Ok(Content::compose(library, &self.facts, self.page(), &self.record.tailoring)?.said)
    }

    /// Why the patient's pages (before) or the drop plan (after) are withheld, if they are.
    #[must_use]
    pub fn withheld(&self) -> Option<Withheld> {
        self.withheld
    }

    /// The same with the findings or required elements that withhold, and as a sentence.
    #[must_use]
    pub fn withholding(&self) -> Option<Withholding> {
        let by = match self.withheld? {
            Withheld::Findings => self.findings.withholding(self.moment).map(|finding| finding.id.clone()).collect(),
            Withheld::Incomplete => self.lacking.clone(),
            Withheld::Overlap => self.stop.iter().flat_map(|stop| stop.codes.clone()).collect(),
            Withheld::Unconfirmed | Withheld::Stale | Withheld::Undated => Vec::new(),
        };
        let withholding = self.withheld.map(|reason| Withholding::new(reason, by));
        match &self.stop {
            Some(stop) => {
                withholding.map(|withholding| Withholding { says: format!("withheld: {stop}"), ..withholding })
            }
            None => withholding,
        }
    }

    /// Withholds the drop plan, because the drops of another case cannot stand in one calendar with it. The aftercare itself
    /// is made: nobody leaves without warning signs.
    pub fn stop(&mut self, stop: &Stop) {
        self.withheld = Some(Withheld::Overlap);
        self.stop = Some(stop.clone());
    }

    /// Whether the patient's page of this moment is made at all. Once the treatment is done nothing withholds the
    /// aftercare: what is open, unconfirmed or undated withholds only the drop plan within it.
    #[must_use]
    pub fn patient_page(&self) -> bool {
        self.moment == Moment::After || self.withheld.is_none()
    }

    /// What the patient's pages are printed in: the patient's language, then the clinic's if that is another.
    fn patient_libraries(&self) -> Result<Vec<&'a Library>, CaseError> {
        let (patient, staff) = (self.practice.library(&self.record.patient.language)?, self.staff_library()?);
        let second = (!language::same(&patient.locale.tag, &staff.locale.tag)).then_some(staff);
        Ok(std::iter::once(patient).chain(second).collect())
    }

    /// Builds the page sets of this moment. Where the patient's language is not the clinic's, the patient's page comes in
    /// both.
    ///
    /// # Errors
    /// A text, number or note that is missing.
    pub fn documents(&self, issued: NaiveDateTime) -> Result<Vec<Document>, CaseError> {
        let issued = self.local(issued);
        let patient = self.practice.library(&self.record.patient.language)?;
        let staff = self.staff_library()?;
        let mut documents = Vec::new();
        if self.patient_page() {
            for library in self.patient_libraries()? {
                documents.push(match &self.consent {
                    Some(consent) if consent.language == library.locale.tag => self.issued(consent, library, issued)?,
                    _ => self.patient_document(library, issued)?,
                });
            }
        }
        let content = Content::words(staff, &self.facts)?;
        let patient_draft = documents.first().is_some_and(|document| document.draft);
        let sheet = Sheet { patient_draft, ..self.sheet(&content, issued)? };
        let mut surgeon = surgeon::build(&sheet, patient, self.page(), &self.practice.jurisdiction)?;
        if !self.unsaid()?.is_empty() {
            self.tell(&mut surgeon, "page.unsaid_elsewhere")?;
        }
        documents.push(surgeon);
        documents.push(desk::build(&sheet)?);
        Ok(documents)
    }

    /// A page that was built before it was issued; the foot alone tells the date.
    fn issued(&self, document: &Document, library: &Library, issued: NaiveDate) -> Result<Document, CaseError> {
        let content = Content::words(library, &self.facts)?;
        let footer = self.sheet(&content, issued)?.footer(document.page)?;
        Ok(Document { footer, ..document.clone() })
    }

    /// What leaves with the patient, in the words of the desk sheet.
    ///
    /// # Errors
    /// A text that is missing.
    pub fn goes_along(&self) -> Result<Vec<String>, CaseError> {
        let content = Content::words(self.staff_library()?, &self.facts)?;
        let sheet = self.sheet(&content, self.record.plan.start.0.date())?;
        Ok(desk::goes_along(&sheet)?.iter().map(|text| markdown::plain(text)).collect())
    }

    /// The calendar file of the aftercare; without doses while they are withheld.
    ///
    /// # Errors
    /// A text that is missing, or an event that cannot be written.
    pub fn calendar(&self, issued: NaiveDateTime) -> Result<String, CaseError> {
        self.with_sheet(issued, |sheet| render::events::calendar(sheet, self.withheld().is_none(), issued))
    }

    /// The doses as data ([`render::dosage`]); none while they are withheld.
    ///
    /// # Errors
    /// A text that is missing.
    pub fn dosages(&self, issued: NaiveDateTime) -> Result<Vec<DrugDosages>, CaseError> {
        match self.withheld() {
            None => self.with_sheet(issued, render::dosage::dosages),
            Some(_) => Ok(Vec::new()),
        }
    }

    /// The date of issue where the practice is.
    fn local(&self, issued: NaiveDateTime) -> NaiveDate {
        self.practice.profile.practice.time_zone.0.from_utc_datetime(&issued).date_naive()
    }

    /// What is made in the patient's language but is no page.
    fn with_sheet<T, E: Into<CaseError>>(
        &self,
        issued: NaiveDateTime,
        make: impl FnOnce(&Sheet) -> Result<T, E>,
    ) -> Result<T, CaseError> {
        let library = self.practice.library(&self.record.patient.language)?;
        let content = Content::words(library, &self.facts)?;
        make(&self.sheet(&content, self.local(issued))?).map_err(E::into)
    }

    fn sheet<'s>(&'s self, content: &'s Content, issued: NaiveDate) -> Result<Sheet<'s>, CaseError> {
        let patient = &self.record.patient;
        Ok(Sheet {
            record: self.record,
            profile: &self.practice.profile,
            formulary: &self.practice.formulary,
            facts: &self.facts,
            findings: &self.findings,
            plan: &self.plan,
            content,
            moment: self.moment,
            issued,
            withheld: self.withheld(),
            patient_page: self.patient_page(),
            lacking: &self.lacking,
            overlaps: self.stop.as_ref().map_or(&[][..], |stop| &stop.codes[..]),
            draft: self.practice.jurisdiction.draft_in(&content.locale.tag),
            both_eyes: self.both_eyes.as_deref(),
            patient: &self.practice.library(&patient.language)?.locale,
            clinic: &self.staff_library()?.locale,
            name: self.printed_name(),
            patient_draft: false,
        })
    }

    /// The patient's name, or that in Latin letters where the print fonts lack the script of the name. None after the
    /// treatment where they can show neither.
    fn printed_name(&self) -> Option<&str> {
        let patient = &self.record.patient;
        let printable = |name: &&str| self.practice.fonts.missing(name).is_none();
        let names = [Some(patient.name.as_str()), patient.latin_name.as_deref()];
        let refused = (self.moment == Moment::Before).then_some(names[1].or(names[0])).flatten();
        names.into_iter().flatten().find(printable).or(refused)
    }

    /// The record.
    #[must_use]
    pub fn record(&self) -> &'a Record {
        self.record
    }

    /// The practice.
    #[must_use]
    pub fn practice(&self) -> &'a Practice {
        self.practice
    }

    /// Before or after.
    #[must_use]
    pub fn moment(&self) -> Moment {
        self.moment
    }

    /// Id of the calendar for both eyes that holds the doses of this one, if [`both_eyes::join`] made one.
    #[must_use]
    pub fn both_eyes(&self) -> Option<&str> {
        self.both_eyes.as_deref()
    }

    /// The texts of the staff.
    ///
    /// # Errors
    /// When the practice names no language it has texts for.
    pub fn staff_library(&self) -> Result<&'a Library, NotPrinted> {
        self.practice.library(self.practice.staff_language())
    }
}

fn withheld(confirmed: Confirmed, findings: &Findings, moment: Moment, undated: bool) -> Option<Withheld> {
    match confirmed {
        Confirmed::Missing => Some(Withheld::Unconfirmed),
        Confirmed::Stale => Some(Withheld::Stale),
        Confirmed::Current if findings.withholding(moment).next().is_some() => Some(Withheld::Findings),
        Confirmed::Current => undated.then_some(Withheld::Undated),
    }
}
