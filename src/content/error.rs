//! Why a text cannot be composed for a patient or for staff.

use thiserror::Error;

use crate::assets::{Kind, Problem};

/// What stops a page: it names the text it stands in, and no value of the case.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum ComposeError {
    /// The language has no such text: another language never stands in.
    #[error("locales/{language}/words.toml has no text for {key}")]
    MissingText {
        /// BCP 47 tag.
        language: String,
        /// Dotted key of the words.
        key: String,
    },
    /// A text prints a fact that this case does not have.
    #[error("{text}, line {line}: {what}")]
    MissingFact {
        /// File of a statement, or key of a text.
        text: String,
        /// Line of the text, counted from 1.
        line: usize,
        /// What the template engine says, without values.
        what: String,
    },
    /// A text that cannot be filled for another reason.
    #[error("{text}, line {line}: {what}")]
    Template {
        /// File of a statement, or key of a text.
        text: String,
        /// Line of the text, counted from 1.
        line: usize,
        /// What the template engine says, without values.
        what: String,
    },
    /// A text that would work without end, or fill the memory.
    #[error("{text}, line {line}: this works on and on, or grows beyond {most} bytes: say it in fewer steps")]
    TooMuch {
        /// File of a statement, or key of a text.
        text: String,
        /// Line of the text, counted from 1.
        line: usize,
        /// Longest text that is printed, bytes.
        most: usize,
    },
    /// A number of the evidence that a text may not print.
    #[error("{text}, line {line}: {source}")]
    Number {
        /// File of a statement, or key of a text.
        text: String,
        /// Line of the text, counted from 1.
        line: usize,
        /// Which number, and why.
        source: EvidenceError,
    },
    /// A reference or a figure that may not be printed.
    #[error(transparent)]
    Evidence(#[from] EvidenceError),
    /// A filled text that cannot be laid out.
    #[error("{text}: {source}")]
    Markdown {
        /// Id of a statement, or key of a text.
        text: String,
        /// What cannot be laid out.
        source: MarkdownError,
    },
    /// A change by hand that cannot be done.
    #[error("tailoring: {0}")]
    Tailoring(#[from] TailoringError),
    /// A statement whose pieces do not fit the place where it is laid out.
    #[error("statement {id}: {what}")]
    Statement {
        /// Id of the statement.
        id: String,
        /// What the place asks for.
        what: &'static str,
    },
    /// A page that lacks what it cannot do without.
    #[error("{0}")]
    Page(&'static str),
    /// A drug of the plan that the formulary does not have.
    #[error("the formulary has no drug {key}")]
    UnknownDrug {
        /// Key of the drug.
        key: String,
    },
}

/// Why a number, a reference or a picture of the evidence is not printed.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum EvidenceError {
    /// There is no such entry.
    #[error("there is no evidence {id}")]
    Unknown {
        /// Id that was asked for.
        id: String,
    },
    /// The entry has no such field.
    #[error("evidence {id}: {field} is not recorded")]
    NotRecorded {
        /// Id of the entry.
        id: String,
        /// The field.
        field: &'static str,
    },
    /// The field is from memory.
    #[error(
        "evidence {id}: {field} is from memory; a named clinician must confirm it in the practice's templates/evidence.toml"
    )]
    FromMemory {
        /// Id of the entry.
        id: String,
        /// The field.
        field: &'static str,
    },
    /// Nobody signed for the field.
    #[error("evidence {id}: {field} is confirmed, but `by` does not say by whom")]
    NotSigned {
        /// Id of the entry.
        id: String,
        /// The field.
        field: &'static str,
    },
    /// The entry is of another kind than the text takes it for.
    #[error("evidence {id}: {what}")]
    OtherKind {
        /// Id of the entry.
        id: String,
        /// Of which kind it is, and what to do.
        what: &'static str,
    },
    /// A share too small for a picture of 100 people.
    #[error("evidence {id} is below 1 in 100 and cannot be drawn as people")]
    TooSmall {
        /// Id of the entry.
        id: String,
    },
}

/// Why a text cannot be laid out. It quotes nothing: the text may hold a name.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum MarkdownError {
    /// Something that is not laid out.
    #[error(
        "only paragraphs, bold, lists that begin with 1 and headings of level 3 and 4 can be printed; write the rest in words"
    )]
    Odd,
    /// A list item of several paragraphs.
    #[error("an item of a list is one paragraph")]
    LongItem,
    /// More than the one paragraph for which there is room.
    #[error("one paragraph is expected here")]
    NotOneParagraph,
    /// Bold within bold, deeper than anybody reads.
    #[error("bold is nested more than {depth} deep: write it plainly")]
    TooDeep {
        /// Line of the text, counted from 1.
        line: usize,
        /// Deepest nesting that is laid out.
        depth: usize,
    },
}

/// Why a change of the statements by hand cannot be done.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum TailoringError {
    /// No statement has the id of this entry, which is not quoted: it may hold a name that was written into the wrong line.
    #[error("entry {entry} of [[tailoring]] names no statement; `vitreoleaf explain` lists them")]
    Unknown {
        /// Which entry, counted from 1.
        entry: usize,
    },
    /// The message, an option, a warning sign, a step, or the sentence that is signed.
    #[error("{0} is a part of the page that is not chosen by hand")]
    NotByHand(String),
    /// A core statement is always said.
    #[error("{0} is a core statement: it can be reworded, not left out")]
    Core(String),
    /// It cannot be true of this eye.
    #[error("{0} cannot be true of this eye as recorded: correct the record, or say it in own words")]
    Impossible(String),
}

impl From<MarkdownError> for Problem {
    fn from(error: MarkdownError) -> Self {
        match error {
            MarkdownError::TooDeep { line, .. } => Self::new(Kind::Limit, error.to_string()).on_line(line),
            _ => Self::new(Kind::Syntax, error.to_string()),
        }
    }
}

impl ComposeError {
    /// A statement whose pieces do not fit their place.
    pub(crate) fn statement(id: &str, what: &'static str) -> Self {
        Self::Statement { id: id.to_owned(), what }
    }
}
