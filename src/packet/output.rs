//! What a packet can hold, and under which names.

use sha2::{Digest, Sha256};

use crate::document::{Document, Page};
use crate::record::hash::hexadecimal;

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
    /// All of them.
    const ALL: &[Self] = &[
        #[cfg(feature = "typeset")]
        Self::Pdf,
        Self::Html,
        Self::Text,
    ];

    pub(super) fn is_paper(self) -> bool {
        !matches!(self, Self::Html | Self::Text)
    }

    pub(super) fn extension(self) -> &'static str {
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
    pub(super) fn name(self) -> String {
        match self {
            Self::Page(page, form) => format!("{}.{}", page.word(), form.extension()),
            Self::Second(page, form) => format!("{}-clinic.{}", page.word(), form.extension()),
            Self::Calendar => "calendar.ics".into(),
            Self::Data => "packet.json".into(),
        }
    }

    /// What a file holds, by its name; none for a name that no packet gives.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        let of_page =
            |page| Form::ALL.iter().flat_map(move |form| [Self::Page(page, *form), Self::Second(page, *form)]);
        let every = Page::ALL.into_iter().flat_map(of_page).chain([Self::Calendar, Self::Data]);
        // The longest: an urgent letter is no other letter.
        every.filter(|output| name.ends_with(&format!("-{}", output.name()))).max_by_key(|output| output.name().len())
    }

    /// Whether it is a paper that is made when somebody asks for it, and no part of the packet.
    #[must_use]
    pub fn is_paper(self) -> bool {
        matches!(self, Self::Page(page, _) | Self::Second(page, _) if page.is_paper())
    }

    pub(super) fn of(document: &Document, form: Form) -> Self {
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

impl File {
    /// SHA-256 of its bytes, hexadecimal.
    #[must_use]
    pub fn sha256(&self) -> String {
        hexadecimal(&Sha256::digest(&self.bytes))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_tells_what_a_file_holds() {
        for page in Page::ALL {
            for output in [Output::Page(page, Form::Html), Output::Second(page, Form::Text)] {
                assert_eq!(Output::named(&format!("EX-01-r1-after-{}", output.name())), Some(output));
            }
        }
        assert_eq!(Output::named("EX-01-r1-after-calendar.ics"), Some(Output::Calendar));
        assert_eq!(Output::named("EX-10_EX-11-both-eyes.html"), Some(Output::Page(Page::BothEyes, Form::Html)));
        assert_eq!(Output::named("notes.txt"), None);
    }
}
