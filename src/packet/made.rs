//! The files of a case: chosen, laid out, named.

use chrono::NaiveDateTime;

use super::both_eyes::Joined;
use super::error::CaseError;
use super::json::{self, CalendarFile, PacketData, Printed};
use super::lined::Laid;
use super::output::{File, Form, Output};
use super::{Case, Instead, Packet, RefusedPage};
use crate::content::Content;
use crate::document::sheet::document_id;
use crate::document::{BannerLine, Document, Page};
use crate::facts::Moment;
use crate::practice::Practice;
use crate::render::{self, glyphs};

impl Case<'_> {
    /// All files of this moment for paper, complete, or none.
    ///
    /// # Errors
    /// As [`Case::packet_as`].
    #[cfg(feature = "typeset")]
    pub fn packet(&self, issued: NaiveDateTime) -> Result<Packet, CaseError> {
        self.packet_as(&[Form::Pdf], issued)
    }

    /// All files of this moment, complete, or none; the page sets in each of these forms.
    ///
    /// # Errors
    /// As [`Case::documents`], and what the layout or the calendar file refuses.
    pub fn packet_as(&self, forms: &[Form], issued: NaiveDateTime) -> Result<Packet, CaseError> {
        self.packet_of(forms, &self.outputs(forms)?, issued)
    }

    /// What the packet of this moment can hold, its page sets in each of these forms.
    ///
    /// # Errors
    /// A language the practice does not print in.
    pub fn outputs(&self, forms: &[Form]) -> Result<Vec<Output>, CaseError> {
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
    pub fn packet_of(&self, forms: &[Form], outputs: &[Output], issued: NaiveDateTime) -> Result<Packet, CaseError> {
        self.packet_with(forms, outputs, Joined::default(), issued)
    }

    /// The same with the calendar of both eyes, which the data lists too.
    ///
    /// # Errors
    /// As [`Case::packet_as`].
    pub fn packet_with(
        &self,
        forms: &[Form],
        outputs: &[Output],
        joined: Joined,
        issued: NaiveDateTime,
    ) -> Result<Packet, CaseError> {
        let every = self.outputs(forms)?;
        let laid_out = if outputs == [Output::Data] { &every } else { outputs };
        let (mut files, mut printed) = (Vec::new(), Vec::new());
        let mut refused_pages = [self.unsaid()?, &joined.refused_pages].concat();
        for (Laid { document, bytes, refused }, form) in self.pages(forms, laid_out, issued)? {
            let id = document_id(self.record, self.moment, document.page);
            let file = self.file(Output::of(&document, form), bytes);
            printed.push(Printed::new(&document, &file, &id, issued));
            files.push(file);
            refused_pages.extend(refused);
        }
        files.retain(|file| outputs.contains(&file.output));
        printed.extend(joined.printed);
        if outputs.contains(&Output::Calendar) {
            files.push(self.file(Output::Calendar, self.calendar(issued)?.into_bytes()));
        }
        if outputs.contains(&Output::Data) {
            let calendars = CalendarFile::among(files.iter().chain(&joined.files));
            let data = PacketData::new(self, issued, self.dosages(issued)?, printed, calendars)?;
            files.push(self.file(Output::Data, json::text(&data)?.into_bytes()));
        }
        files.extend(joined.files);
        Ok(Packet {
            not_made: self.not_made(forms)?,
            withheld: self.withholding(),
            refused_pages,
            findings: self.findings.clone(),
            files,
        })
    }

    /// The page sets among some outputs, made, form by form.
    fn pages(&self, forms: &[Form], outputs: &[Output], issued: NaiveDateTime) -> Result<Vec<(Laid, Form)>, CaseError> {
        let mut documents = self.documents(issued)?;
        documents.extend(self.paper_documents(outputs, issued)?);
        let mut pages = Vec::new();
        for form in forms {
            let mut documents = self.readable(documents.clone(), *form)?;
            documents.retain(|document| outputs.contains(&Output::of(document, *form)));
            let mut made = self.made_all(documents, *form, issued).into_iter().collect::<Result<Vec<_>, _>>()?;
            self.tell_the_surgeon(&mut made, *form, issued)?;
            pages.extend(made.into_iter().map(|laid| (laid, *form)));
        }
        Ok(pages)
    }

    /// Makes the surgeon's sheet over again where a page of the patient is told line after line, so that it says so.
    fn tell_the_surgeon(&self, made: &mut [Laid], form: Form, issued: NaiveDateTime) -> Result<(), CaseError> {
        if made.iter().any(|laid| laid.refused.is_some() && laid.document.page.for_the_patient()) {
            for sheet in made.iter_mut().filter(|laid| laid.document.page == Page::Surgeon) {
                let mut document = sheet.document.clone();
                self.tell(&mut document, "page.lines_elsewhere")?;
                let again = self.laid(document, &document_id(self.record, self.moment, Page::Surgeon), form, issued)?;
                *sheet = Laid { refused: again.refused.or(sheet.refused.take()), ..again };
            }
        }
        Ok(())
    }

    /// Names of the patient's files that are withheld.
    fn not_made(&self, forms: &[Form]) -> Result<Vec<String>, CaseError> {
        match self.patient_page() {
            true => Ok(Vec::new()),
            false => Ok(self.for_the_patient(forms)?.into_iter().map(|output| self.file_name(output)).collect()),
        }
    }

    /// The page sets of this moment that are not printed as they should be, why, and what is printed instead. Nobody issues them: they carry the planned
    /// date.
    ///
    /// # Errors
    /// As [`Case::documents`].
    #[cfg(feature = "typeset")]
    pub fn refused_pages(&self) -> Result<Vec<RefusedPage>, CaseError> {
        let documents = self.readable(self.documents(self.record.plan.start.0)?, Form::Pdf)?;
        let refused = documents.iter().filter_map(|document| {
            let why = self.practice.typesetter().places(document).err()?.to_string();
            Some(self.in_lines(document).map(|lined| {
                let printed = lined.is_some_and(|lined| self.practice.typesetter().places(&lined).is_ok());
                let instead = if printed { Instead::Lines } else { Instead::Nothing };
                RefusedPage { page: document.page, why, instead }
            }))
        });
        let refused = refused.collect::<Result<Vec<_>, _>>()?;
        Ok([refused.as_slice(), self.unsaid()?].concat())
    }

    /// What leaves with the patient at this moment.
    fn for_the_patient(&self, forms: &[Form]) -> Result<Vec<Output>, CaseError> {
        let (page, calendar) = match self.moment {
            Moment::Before => (Page::Consent, None),
            Moment::After => (Page::Aftercare, Some(Output::Calendar)),
        };
        let mut outputs = self.page_in_its_languages(page, forms)?;
        outputs.extend(calendar);
        Ok(outputs)
    }

    /// A page set of the patient, and over again in the clinic's language if that is another.
    pub(super) fn page_in_its_languages(&self, page: Page, forms: &[Form]) -> Result<Vec<Output>, CaseError> {
        let mut outputs: Vec<Output> = forms.iter().map(|form| Output::Page(page, *form)).collect();
        if self.patient_libraries()?.len() > 1 {
            outputs.extend(forms.iter().map(|form| Output::Second(page, *form)));
        }
        Ok(outputs)
    }

    /// Makes the page sets side by side: they share nothing, and the front desk waits for all of them.
    fn made_all(&self, documents: Vec<Document>, form: Form, issued: NaiveDateTime) -> Vec<Result<Laid, CaseError>> {
        let one = |document: Document| {
            let id = document_id(self.record, self.moment, document.page);
            self.laid(document, &id, form, issued)
        };
        #[cfg(feature = "typeset")]
        render::typeset::forget();
        std::thread::scope(|scope| {
            let running: Vec<_> = documents.into_iter().map(|document| scope.spawn(|| one(document))).collect();
            let join = |thread: std::thread::ScopedJoinHandle<_>| {
                thread.join().unwrap_or_else(|panic| std::panic::resume_unwind(panic))
            };
            running.into_iter().map(join).collect()
        })
    }

    /// One page set in one form; line after line where its layout is refused and the patient was treated. `id` is that of the
    /// document.
    pub(super) fn laid(
        &self,
        document: Document,
        id: &str,
        form: Form,
        issued: NaiveDateTime,
    ) -> Result<Laid, CaseError> {
        let why = match self.made(&document, id, form, issued) {
            Ok(bytes) => return Ok(Laid { document, bytes, refused: None }),
            Err(CaseError::Page { why, .. }) => why,
            Err(error) => return Err(error),
        };
        let Some(lined) = self.in_lines(&document)? else {
            return Err(CaseError::Page { id: id.to_owned(), why });
        };
        let bytes = self.made(&lined, id, form, issued)?;
        let refused = RefusedPage { page: document.page, why: why.to_string(), instead: Instead::Lines };
        Ok(Laid { document: lined, bytes, refused: Some(refused) })
    }

    fn made(&self, document: &Document, id: &str, form: Form, issued: NaiveDateTime) -> Result<Vec<u8>, CaseError> {
        let ident = format!("{id} {} {}", self.record.case.revision, document.language);
        in_form(self.practice, document, id, ident, form, issued)
    }

    /// A treated patient leaves with pages: on paper, letters that no print font has are shown as a mark, and both the page
    /// and the surgeon's sheet say so. Before the treatment such a page is refused.
    ///
    /// # Errors
    /// A text that is missing.
    pub fn readable(&self, mut documents: Vec<Document>, form: Form) -> Result<Vec<Document>, CaseError> {
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

    fn marked_line(&self, document: &Document) -> Result<BannerLine, CaseError> {
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
}

/// A page set in one form. `id` is that of the document, `ident` what the file is told apart by.
///
/// # Errors
/// What the layout refuses.
#[cfg_attr(not(feature = "typeset"), expect(unused_variables, reason = "only paper is stamped"))]
pub(super) fn in_form(
    practice: &Practice,
    document: &Document,
    id: &str,
    ident: String,
    form: Form,
    issued: NaiveDateTime,
) -> Result<Vec<u8>, CaseError> {
    match form {
        #[cfg(feature = "typeset")]
        Form::Pdf => {
            let made = practice.typesetter().pdf(document, &render::pdf::Stamp { ident, issued });
            made.map_err(|why| CaseError::Page { id: id.to_owned(), why })
        }
        Form::Html => Ok(render::html::html(document).into_bytes()),
        Form::Text => Ok(render::text::text(document).into_bytes()),
    }
}
