//! All steps for one case at one moment: from record and practice to finished files.

pub mod assessment;
pub mod both_eyes;
mod error;
pub mod json;
pub mod rows;
pub mod version;
mod withholding;

pub use withholding::Withholding;

use chrono::{NaiveDate, NaiveDateTime, TimeZone};

use crate::content::catalog::PatientPage;
use crate::content::{Content, Library, Said};
use crate::document::sheet::{Sheet, Withheld, document_id};
use crate::document::{BannerLine, Document, Page, aftercare, consent, coverage, desk, reading, surgeon};
use crate::facts::{Facts, Moment};
use crate::findings::Findings;
use crate::plan::dosage::DrugDosages;
use crate::plan::{Plan, PlanError};
use crate::practice::{Checked, Confirmed, Practice};
use crate::record::{Record, language};
use crate::render::{self, glyphs};
use json::{PacketData, Printed};

pub use assessment::{Assessment, Gap};
pub use error::CaseError;

/// What a file of a packet holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Output {
    /// A page set.
    Page(Page, Form),
    /// A page set of the patient over again in the clinic's language.
    Second(Page, Form),
    /// The calendar file.
    Calendar,
    /// Everything as JSON.
    Data,
}

/// What a page set is made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Paper: tagged PDF.
    #[cfg(feature = "typeset")]
    Pdf,
    /// A browser, a screen reader: one HTML file.
    Html,
    /// A screen reader, an email: plain text.
    Text,
}

impl Form {
    fn is_paper(self) -> bool {
        !matches!(self, Self::Html | Self::Text)
    }

    fn extension(self) -> &'static str {
        match self {
            #[cfg(feature = "typeset")]
            Self::Pdf => "pdf",
            Self::Html => "html",
            Self::Text => "txt",
        }
    }
}

impl Output {
    /// Words and extension of the file name.
    fn name(self) -> String {
        match self {
            Self::Page(page, form) => format!("{}.{}", page.word(), form.extension()),
            Self::Second(page, form) => format!("{}-clinic.{}", page.word(), form.extension()),
            Self::Calendar => "calendar.ics".into(),
            Self::Data => "packet.json".into(),
        }
    }

    fn of(document: &Document, form: Form) -> Self {
        if document.second { Self::Second(document.page, form) } else { Self::Page(document.page, form) }
    }
}

/// One finished file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct File {
    /// What it holds.
    pub output: Output,
    /// Name: case code, revision, moment and page; nothing personal.
    pub name: String,
    /// Its bytes.
    pub bytes: Vec<u8>,
}

/// Everything made for one case at one moment.
#[derive(Debug, Clone)]
pub struct Packet {
    /// The files, complete.
    pub files: Vec<File>,
    /// Why the patient's pages (before) or the drop plan (after) were withheld, if they were.
    pub withheld: Option<Withholding>,
    /// Names of the patient's files that were not made because they are withheld.
    pub not_made: Vec<String>,
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
    /// The consent that may be printed, as it was read for what it must hold.
    consent: Option<Document>,
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
            consent: None,
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
    fn lacking_elements(&self, consent: &Document) -> Result<Vec<String>, String> {
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
    pub fn unissued(&self) -> Result<Document, String> {
        if let Some(consent) = &self.consent {
            return Ok(consent.clone());
        }
        let library = self.practice.library(&self.record.patient.language)?;
        self.patient_document(library, self.record.plan.start.0.date())
    }

    fn patient_document(&self, library: &Library, issued: NaiveDate) -> Result<Document, String> {
        let content = Content::compose(library, &self.facts, self.page(), &self.record.tailoring)?;
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
    pub fn said(&self) -> Result<Vec<Said>, String> {
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
            Withheld::Unconfirmed | Withheld::Stale | Withheld::Undated => Vec::new(),
        };
        self.withheld.map(|reason| Withholding::new(reason, by))
    }

    /// Whether the patient's page of this moment is made at all. Once the treatment is done nothing withholds the
    /// aftercare: what is open, unconfirmed or undated withholds only the drop plan within it.
    #[must_use]
    pub fn patient_page(&self) -> bool {
        self.moment == Moment::After || self.withheld.is_none()
    }

    /// What the patient's pages are printed in: the patient's language, then the clinic's if that is another.
    fn patient_libraries(&self) -> Result<Vec<&'a Library>, String> {
        let (patient, staff) = (self.practice.library(&self.record.patient.language)?, self.staff_library()?);
        let second = (!language::same(&patient.locale.tag, &staff.locale.tag)).then_some(staff);
        Ok(std::iter::once(patient).chain(second).collect())
    }

    /// Builds the page sets of this moment. Where the patient's language is not the clinic's, the patient's page comes in
    /// both.
    ///
    /// # Errors
    /// A text, number or note that is missing.
    pub fn documents(&self, issued: NaiveDateTime) -> Result<Vec<Document>, String> {
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
        documents.push(surgeon::build(&sheet, patient, self.page(), &self.practice.jurisdiction)?);
        documents.push(desk::build(&sheet)?);
        Ok(documents)
    }

    /// A page that was built before it was issued; the foot alone tells the date.
    fn issued(&self, document: &Document, library: &Library, issued: NaiveDate) -> Result<Document, String> {
        let content = Content::words(library, &self.facts)?;
        let footer = self.sheet(&content, issued)?.footer(document.page)?;
        Ok(Document { footer, ..document.clone() })
    }

    /// All files of this moment for paper, complete, or none.
    ///
    /// # Errors
    /// As [`Case::packet_as`].
    #[cfg(feature = "typeset")]
    pub fn packet(&self, issued: NaiveDateTime) -> Result<Packet, String> {
        self.packet_as(&[Form::Pdf], issued)
    }

    /// All files of this moment, complete, or none; the page sets in each of these forms.
    ///
    /// # Errors
    /// As [`Case::documents`], and what the layout or the calendar file refuses.
    pub fn packet_as(&self, forms: &[Form], issued: NaiveDateTime) -> Result<Packet, String> {
        self.packet_of(forms, &self.outputs(forms)?, issued)
    }

    /// What the packet of this moment can hold, its page sets in each of these forms.
    ///
    /// # Errors
    /// A language the practice does not print in.
    pub fn outputs(&self, forms: &[Form]) -> Result<Vec<Output>, String> {
        let mut outputs = if self.patient_page() { self.for_the_patient(forms)? } else { Vec::new() };
        outputs.extend(
            [Page::Surgeon, Page::Desk].iter().flat_map(|page| forms.iter().map(|form| Output::Page(*page, *form))),
        );
        outputs.push(Output::Data);
        Ok(outputs)
    }

    /// These files of this moment, all or none. No other page is laid out; the data name the pages that are made with them,
    /// and where they alone are wanted every page.
    ///
    /// # Errors
    /// As [`Case::packet_as`].
    pub fn packet_of(&self, forms: &[Form], outputs: &[Output], issued: NaiveDateTime) -> Result<Packet, String> {
        let every = self.outputs(forms)?;
        let laid_out = if outputs == [Output::Data] { &every } else { outputs };
        let (mut files, mut printed) = (Vec::new(), Vec::new());
        for (document, file) in self.pages(forms, laid_out, issued)? {
            let id = document_id(self.record, self.moment, document.page);
            printed.push(Printed::new(&document, &file.name, &id, &file.bytes));
            files.push(file);
        }
        files.retain(|file| outputs.contains(&file.output));
        if outputs.contains(&Output::Calendar) {
            files.push(self.file(Output::Calendar, self.calendar(issued)?.into_bytes()));
        }
        if outputs.contains(&Output::Data) {
            let data = PacketData::new(self, issued, self.dosages(issued)?, printed)?;
            files.push(self.file(Output::Data, json::text(&data)?.into_bytes()));
        }
        Ok(Packet {
            not_made: self.not_made(forms)?,
            withheld: self.withholding(),
            findings: self.findings.clone(),
            files,
        })
    }

    /// The page sets among some outputs, made, form by form.
    fn pages(
        &self,
        forms: &[Form],
        outputs: &[Output],
        issued: NaiveDateTime,
    ) -> Result<Vec<(Document, File)>, String> {
        let documents = self.documents(issued)?;
        let mut pages = Vec::new();
        for form in forms {
            let mut documents = self.readable(documents.clone(), *form)?;
            documents.retain(|document| outputs.contains(&Output::of(document, *form)));
            let made = self.made_all(&documents, *form, issued);
            for (document, made) in documents.into_iter().zip(made) {
                let file = self.file(Output::of(&document, *form), made?);
                pages.push((document, file));
            }
        }
        Ok(pages)
    }

    /// Names of the patient's files that are withheld.
    fn not_made(&self, forms: &[Form]) -> Result<Vec<String>, String> {
        match self.patient_page() {
            true => Ok(Vec::new()),
            false => Ok(self.for_the_patient(forms)?.into_iter().map(|output| self.file_name(output)).collect()),
        }
    }

    /// The page sets of this moment that cannot be printed on paper, and why. Nobody issues them: they carry the planned
    /// date.
    ///
    /// # Errors
    /// As [`Case::documents`].
    #[cfg(feature = "typeset")]
    pub fn refused_pages(&self) -> Result<Vec<(Page, render::RenderError)>, String> {
        let documents = self.readable(self.documents(self.record.plan.start.0)?, Form::Pdf)?;
        let refused = |document: &Document| Some((document.page, self.practice.typesetter().places(document).err()?));
        Ok(documents.iter().filter_map(refused).collect())
    }

    /// What leaves with the patient at this moment.
    fn for_the_patient(&self, forms: &[Form]) -> Result<Vec<Output>, String> {
        let (page, calendar) = match self.moment {
            Moment::Before => (Page::Consent, None),
            Moment::After => (Page::Aftercare, Some(Output::Calendar)),
        };
        let mut outputs: Vec<Output> = forms.iter().map(|form| Output::Page(page, *form)).collect();
        if self.patient_libraries()?.len() > 1 {
            outputs.extend(forms.iter().map(|form| Output::Second(page, *form)));
        }
        outputs.extend(calendar);
        Ok(outputs)
    }

    /// The date of issue where the practice is.
    fn local(&self, issued: NaiveDateTime) -> NaiveDate {
        self.practice.profile.practice.time_zone.0.from_utc_datetime(&issued).date_naive()
    }

    /// Makes the page sets side by side: they share nothing, and the front desk waits for all of them.
    fn made_all(&self, documents: &[Document], form: Form, issued: NaiveDateTime) -> Vec<Result<Vec<u8>, String>> {
        let one = |document: &Document| {
            self.made(document, &document_id(self.record, self.moment, document.page), form, issued)
        };
        #[cfg(feature = "typeset")]
        render::typeset::forget();
        std::thread::scope(|scope| {
            let running: Vec<_> = documents.iter().map(|document| scope.spawn(|| one(document))).collect();
            let join = |thread: std::thread::ScopedJoinHandle<_>| {
                thread.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
            };
            running.into_iter().map(join).collect()
        })
    }

    /// One page set in one form. `id` is that of the document.
    #[cfg_attr(not(feature = "typeset"), expect(unused_variables, reason = "only paper is stamped"))]
    fn made(&self, document: &Document, id: &str, form: Form, issued: NaiveDateTime) -> Result<Vec<u8>, String> {
        match form {
            #[cfg(feature = "typeset")]
            Form::Pdf => {
                let ident = format!("{id} {} {}", self.record.case.revision, document.language);
                let made = self.practice.typesetter().pdf(document, &render::pdf::Stamp { ident, issued });
                made.map_err(|error| format!("{id}: {error}"))
            }
            Form::Html => Ok(render::html::html(document).into_bytes()),
            Form::Text => Ok(render::text::text(document).into_bytes()),
        }
    }

    /// The calendar file of the aftercare; without doses while they are withheld.
    ///
    /// # Errors
    /// A text that is missing, or an event that cannot be written.
    pub fn calendar(&self, issued: NaiveDateTime) -> Result<String, String> {
        self.with_sheet(issued, |sheet| render::events::calendar(sheet, self.withheld().is_none(), issued))
    }

    /// The doses as data ([`render::dosage`]); none while they are withheld.
    ///
    /// # Errors
    /// A text that is missing.
    pub fn dosages(&self, issued: NaiveDateTime) -> Result<Vec<DrugDosages>, String> {
        match self.withheld() {
            None => self.with_sheet(issued, render::dosage::dosages),
            Some(_) => Ok(Vec::new()),
        }
    }

    /// What is made in the patient's language but is no page.
    fn with_sheet<T, E: Into<String>>(
        &self,
        issued: NaiveDateTime,
        make: impl FnOnce(&Sheet) -> Result<T, E>,
    ) -> Result<T, String> {
        let library = self.practice.library(&self.record.patient.language)?;
        let content = Content::words(library, &self.facts)?;
        make(&self.sheet(&content, self.local(issued))?).map_err(E::into)
    }

    fn sheet<'s>(&'s self, content: &'s Content, issued: NaiveDate) -> Result<Sheet<'s>, String> {
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

    /// A treated patient leaves with pages: on paper, letters that no print font has are shown as a mark, and both the page
    /// and the surgeon's sheet say so. Before the treatment such a page is refused.
    ///
    /// # Errors
    /// A text that is missing.
    pub fn readable(&self, mut documents: Vec<Document>, form: Form) -> Result<Vec<Document>, String> {
        if self.moment == Moment::Before || !form.is_paper() {
            return Ok(documents);
        }
        let fonts = &self.practice.fonts;
        let lacks = |document: &Document| self.printed_name().is_none() || glyphs::checked(document, fonts).is_err();
        let lacking: Vec<bool> = documents.iter().map(lacks).collect();
        let any = lacking.contains(&true);
        for (document, lacks) in documents.iter_mut().zip(lacking) {
            if lacks || any && document.page == Page::Surgeon {
                document.marked = true;
                document.banner.push(self.marked_line(document)?);
            }
        }
        Ok(documents)
    }

    fn marked_line(&self, document: &Document) -> Result<BannerLine, String> {
        let library = self.practice.library(&document.language)?;
        let content = Content::words(library, &self.facts)?;
        let text = content.text("page.marked", &[("mark", &glyphs::MARK.to_string())])?;
        let text = if document.right_to_left { format!("\u{2068}{text}\u{2069}") } else { text };
        Ok(BannerLine { language: document.language.clone(), text })
    }

    fn file(&self, output: Output, bytes: Vec<u8>) -> File {
        File { output, name: self.file_name(output), bytes }
    }

    fn file_name(&self, output: Output) -> String {
        let case = &self.record.case;
        format!("{}-r{}-{}-{}", case.code, case.revision, self.moment.word(), output.name())
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
    pub fn staff_library(&self) -> Result<&'a Library, String> {
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
