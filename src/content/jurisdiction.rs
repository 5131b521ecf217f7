//! What a consent must hold where the practice works: required elements with their source, as data
//! (`templates/jurisdictions/<id>.toml`). No legal advice, and the files say so.

use serde::Deserialize;
use toml::Spanned;

use crate::assets::{Assets, Kind, LoadError, Problem, layers};
use crate::facts::condition::Condition;
use crate::record::date::Date;
use crate::record::language;

/// The rules of one place.
#[derive(Debug, Clone)]
pub struct Jurisdiction {
    /// Name for people.
    pub name: String,
    /// That this is no legal advice, in words.
    pub notice: String,
    /// Language the text must have; in any other only drafts are printed.
    pub language: Option<String>,
    /// After so many months since its review an element is due to be read again.
    pub review_months: u32,
    /// Younger patients need a representative, years; some laws judge instead whether this person can decide.
    pub representative_below: u32,
    /// What a consent must hold.
    pub elements: Vec<Element>,
}

/// One required element.
#[derive(Debug, Clone)]
pub struct Element {
    /// The row.
    pub row: Row,
    /// When it is required.
    pub when: Condition,
}

/// A row as written.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// Stable id.
    pub id: String,
    /// What is required, in our words.
    pub what: String,
    /// Law, guidance or standard.
    pub citation: String,
    /// Since when it holds, as far as known.
    #[serde(default)]
    pub effective: Option<Date>,
    /// When somebody last compared this row with its source.
    pub reviewed_on: Date,
    /// What must stand on the pages: statements by id, `part/<name>`, or `section/<name>` for any statement of a section.
    pub met_by: Vec<String>,
    /// Condition over the facts; left out: always.
    #[serde(default)]
    pub when: Option<String>,
    /// What no program can tell and a person must see to.
    #[serde(default)]
    pub left_to_people: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    name: String,
    notice: String,
    #[serde(default)]
    language: Option<String>,
    review_months: u32,
    representative_below: u32,
    element: Vec<Spanned<Row>>,
}

/// Folder of the files.
pub const FOLDER: &str = "templates/jurisdictions/";

impl Jurisdiction {
    /// Reads the rules of a place; a file of the practice's own takes the place of the built-in one.
    ///
    /// # Errors
    /// The file and what is wrong with it, or which files there are when this one is missing.
    pub fn load(assets: &Assets, id: &str) -> Result<Self, LoadError> {
        let path = format!("{FOLDER}{id}.toml");
        let Some(text) = assets.get(&path) else {
            let known: Vec<String> = assets.under(FOLDER).iter().map(|path| name(path).to_owned()).collect();
            let what = format!("there is no jurisdiction {id}; write one of {} in the profile", known.join(", "));
            return Err(LoadError::no_file(&path, &what));
        };
        Self::parse(&text).map_err(|problem| problem.in_file(&path))
    }

    fn parse(text: &str) -> Result<Self, Problem> {
        let file: File = layers::table(text)?;
        let checked = |row: Spanned<Row>| {
            let span = row.span();
            check(row.into_inner()).map_err(|problem| problem.at(text, &span))
        };
        let elements = file.element.into_iter().map(checked).collect::<Result<Vec<_>, _>>()?;
        let ids: Vec<&str> = elements.iter().map(|element| element.row.id.as_str()).collect();
        if let Some((_, id)) = ids.iter().enumerate().find(|(at, id)| ids[..*at].contains(id)) {
            return Err(layers::twice(id));
        }
        Ok(Self {
            name: file.name,
            notice: file.notice,
            language: file.language,
            review_months: file.review_months,
            representative_below: file.representative_below,
            elements,
        })
    }

    /// Whether pages in this language are drafts only here.
    #[must_use]
    pub fn draft_in(&self, tag: &str) -> bool {
        self.language.as_ref().is_some_and(|wanted| !language::same(wanted, tag))
    }
}

/// The id of a jurisdiction from the path of its file.
#[must_use]
pub fn name(path: &str) -> &str {
    path.trim_start_matches(FOLDER).trim_end_matches(".toml")
}

fn check(row: Row) -> Result<Element, Problem> {
    let told = |kind: Kind, what: &str| Problem::new(kind, format!("{}: {what}", row.id)).of(&row.id);
    if row.met_by.is_empty() && row.left_to_people.is_none() {
        return Err(told(Kind::Missing, "say what meets it, or what is left to people"));
    }
    let when = row.when.as_deref().map_or(Ok(Condition::always()), Condition::parse);
    let when = when.map_err(|error| told(error.kind(), &error.to_string()))?;
    Ok(Element { row, when })
}
