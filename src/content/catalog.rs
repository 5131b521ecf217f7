//! The catalogue of statements: which there are, for which page, and when (`templates/statements.toml`).

use serde::Deserialize;
use toml::Spanned;

use crate::assets::{Assets, Kind as Fault, LoadError, Problem, layers};
use crate::facts::Moment;
use crate::facts::condition::Condition;

/// One statement of the catalogue, its condition checked.
#[derive(Debug, Clone)]
pub struct Statement {
    /// The row.
    pub row: Row,
    /// When it is said.
    pub when: Condition,
    /// Of which eyes it can be true: a surgeon may add it for these.
    pub possible: Condition,
}

/// A row as written.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// Stable id; its text is `locales/<language>/statements/<id>.md`.
    pub id: String,
    /// Page of the patient.
    pub page: PatientPage,
    /// Section of the page.
    pub section: String,
    /// Order within the section.
    pub order: i32,
    /// How it is laid out.
    pub kind: Kind,
    /// Condition over the facts; left out: always.
    #[serde(default)]
    pub when: Option<String>,
    /// Condition over the facts under which it can be true, for a surgeon who adds it by hand; left out: of every eye.
    #[serde(default)]
    pub possible: Option<String>,
    /// Evidence entries its text may use.
    #[serde(default)]
    pub evidence: Vec<String>,
    /// Evidence entries that are drawn, in this order.
    #[serde(default)]
    pub figures: Vec<String>,
    /// What a risk is about.
    #[serde(default)]
    pub topic: Topic,
    /// Can never be left out.
    #[serde(default)]
    pub core: bool,
}

/// What a risk is about: where all of them are more than one table can hold, those of one topic stay together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Topic {
    /// Relief, sight and retina.
    Sight,
    /// The pressure in the eye.
    Pressure,
    /// The natural lens, or the implant and what is behind it.
    Lens,
    /// What is none of these.
    #[default]
    Other,
}

/// A page made of statements: the patient's at each moment, and the letters about the patient.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PatientPage {
    /// Before the treatment.
    Consent,
    /// After the treatment.
    Aftercare,
    /// The letter to the doctor who referred the patient.
    Letter,
    /// The urgent letter to a retina specialist; it is called for when a statement says why.
    UrgentLetter,
    /// The plan of a further session.
    NextSession,
    /// The slip that takes a consent back.
    Withdrawal,
}

impl PatientPage {
    /// The patient's page of a moment.
    #[must_use]
    pub fn of(moment: Moment) -> Self {
        match moment {
            Moment::Before => Self::Consent,
            Moment::After => Self::Aftercare,
        }
    }

    /// Every page of statements that a moment has.
    #[must_use]
    pub fn all_of(moment: Moment) -> &'static [Self] {
        match moment {
            Moment::Before => &[Self::Consent, Self::UrgentLetter, Self::Withdrawal],
            Moment::After => &[Self::Aftercare, Self::Letter, Self::UrgentLetter, Self::NextSession],
        }
    }

    /// Its sections in reading order. A statement names one of them.
    #[must_use]
    pub fn sections(self) -> &'static [&'static str] {
        match self {
            Self::Consent => CONSENT,
            Self::Aftercare => AFTERCARE,
            Self::Letter => LETTER,
            Self::UrgentLetter => URGENT_LETTER,
            Self::NextSession => NEXT_SESSION,
            Self::Withdrawal => WITHDRAWAL,
        }
    }
}

const CONSENT: &[&str] = &[
    "decision",
    "benefit",
    "eye",
    "what",
    "before-you-come",
    "after",
    "options",
    "unknown",
    "risks",
    "deciding",
    "consent",
    "more",
];

/// The sections whose numbers are drawn: in each it is known whether a number is a benefit or a harm.
const DRAWN: [&str; 3] = ["benefit", "options", "risks"];

const AFTERCARE: &[&str] =
    &["first", "signs", "signs-action", "visits", "normal", "drops", "how-to", "missed", "living", "remain", "late"];

const LETTER: &[&str] = &["lead", "ask"];

const URGENT_LETTER: &[&str] = &["lead", "why", "ask"];

const NEXT_SESSION: &[&str] = &["before"];

const WITHDRAWAL: &[&str] = &["what", "care", "sign"];

/// How a statement is laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// The main message of the page.
    Lead,
    /// One of the key points of the first page.
    Point,
    /// The ways to choose from, a line each: one list.
    Choices,
    /// Paragraphs and lists.
    Text,
    /// One item of a list.
    Item,
    /// One step of numbered instructions.
    Step,
    /// A risk: its name, then a paragraph each for how often, what then, and why it is higher in this eye.
    Risk,
    /// One of the ways to choose from: a heading and the same subheadings for each.
    Option,
    /// One warning sign.
    Sign,
    /// The sentence that is signed.
    Consent,
}

/// The catalogue.
pub(super) const FILE: &str = "templates/statements.toml";

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(default)]
    statement: Vec<Spanned<Row>>,
}

/// Reads the catalogue; rows of the practice's own folder replace those with the same id or are added.
///
/// # Errors
/// The file, the statement and what is wrong with it: also a section its page does not have, figures of a section that is not
/// drawn, and a core statement that would be left out or moved.
pub fn load(assets: &Assets) -> Result<Vec<Statement>, LoadError> {
    layers::read(assets, FILE, |statement: &Statement| statement.row.id.clone(), parse, keep_core)
}

fn parse(text: &str) -> Result<Vec<Statement>, Problem> {
    let file: File = layers::table(text)?;
    let checked = |row: Spanned<Row>| {
        let span = row.span();
        check(row.into_inner()).map_err(|problem| problem.at(text, &span))
    };
    file.statement.into_iter().map(checked).collect()
}

fn check(row: Row) -> Result<Statement, Problem> {
    let condition = |text: &Option<String>| {
        let condition = text.as_deref().map_or(Ok(Condition::always()), Condition::parse);
        condition.map_err(|error| told(&row.id, error.kind(), &error.to_string()))
    };
    let (when, possible) = (condition(&row.when)?, condition(&row.possible)?);
    let sections = row.page.sections();
    if !sections.contains(&row.section.as_str()) {
        let what = format!("its page has no section {}; it has {}", row.section, sections.join(", "));
        return Err(told(&row.id, Fault::UnknownName, &what));
    }
    if !DRAWN.contains(&row.section.as_str()) && !row.figures.is_empty() {
        return Err(told(&row.id, Fault::Value, "only benefit, options and risks are drawn: leave figures out"));
    }
    Ok(Statement { row, when, possible })
}

/// A practice may reword a core statement, and may not leave it out.
fn keep_core(old: &Statement, new: &Statement) -> Result<(), Problem> {
    let (old, new) = (&old.row, &new.row);
    let same =
        (old.when == new.when) && (old.page == new.page) && (old.section == new.section) && (old.kind == new.kind);
    match old.core && !(same && new.core) {
        true => Err(told(&old.id, Fault::Fixed, "a core statement may be reworded, not left out or moved")),
        false => Ok(()),
    }
}

/// A problem of a statement.
pub(super) fn told(id: &str, kind: Fault, what: &str) -> Problem {
    Problem::new(kind, format!("statement {id}: {what}")).of(id)
}
