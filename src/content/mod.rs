//! Step 5: what is said to this patient, in their language: statements chosen by the facts and filled from them.

pub mod catalog;
pub mod evidence;
pub mod fill;
pub mod inline;
pub mod locale;
pub mod markdown;

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::sync::Arc;

use crate::assets::Assets;
use crate::facts::Facts;
use catalog::{Kind, PatientPage, Statement};
use evidence::Evidence;
use fill::Filler;
use inline::{Inline, Inlines};
use locale::Locale;
use markdown::Piece;

/// Everything texts are made from: the catalogue, the evidence and one language.
#[derive(Debug, Clone)]
pub struct Library {
    /// The catalogue of statements.
    pub statements: Vec<Statement>,
    /// The evidence by id.
    pub evidence: Arc<BTreeMap<String, Evidence>>,
    /// The language.
    pub locale: Arc<Locale>,
    /// Text of each statement by id.
    texts: BTreeMap<String, String>,
}

impl Library {
    /// Loads the catalogue, the evidence and the language.
    ///
    /// # Errors
    /// What cannot be read, a statement that lacks its text (another language never stands in), a text that uses a name
    /// or an evidence entry that does not exist.
    pub fn load(assets: &Assets, language: &str) -> Result<Self, String> {
        let statements = catalog::load(assets)?;
        let mut texts = BTreeMap::new();
        for Statement { row, .. } in &statements {
            let path = format!("locales/{language}/statements/{}.md", row.id);
            let text = assets.get(&path).ok_or_else(|| format!("{path} is missing"))?;
            texts.insert(row.id.clone(), text.into_owned());
        }
        let evidence = Arc::new(evidence::load(assets)?);
        for Statement { row, .. } in &statements {
            let path = format!("locales/{language}/statements/{}.md", row.id);
            fill::check(&path, &texts[&row.id])?;
            let named = fill::evidence_of(&texts[&row.id]);
            let mut named = named.iter().chain(&row.evidence).chain(&row.figure);
            if let Some(id) = named.find(|id| !evidence.contains_key(*id)) {
                return Err(format!("statement {}: there is no evidence {id}", row.id));
            }
        }
        Ok(Self { statements, evidence, locale: Arc::new(Locale::load(assets, language)?), texts })
    }
}

impl Library {
    /// Whether a file of the language's folder is the text of a statement, for example `statements/risk-lens.md`.
    #[must_use]
    pub fn has_text(&self, file: &str) -> bool {
        let id = file.strip_prefix("statements/").and_then(|file| file.strip_suffix(".md"));
        id.is_some_and(|id| self.texts.contains_key(id))
    }
}

/// A statement as it is said to this patient.
#[derive(Debug, Clone)]
pub struct Said {
    /// Its id in the catalogue.
    pub id: String,
    /// Its section.
    pub section: String,
    /// How it is laid out.
    pub kind: Kind,
    /// Its text.
    pub pieces: Vec<Piece>,
    /// Evidence entry drawn as 100 figures after it.
    pub figure: Option<String>,
}

/// The text of one page set.
#[derive(Debug)]
pub struct Content {
    /// The language.
    pub locale: Arc<Locale>,
    /// Statements in the order they are read.
    pub said: Vec<Said>,
    filler: Filler,
    evidence: Arc<BTreeMap<String, Evidence>>,
    cited: RefCell<Vec<String>>,
}

impl Content {
    /// Chooses the statements of a page by the facts, in the order of its sections, and fills them. Without a page: words
    /// only, for the staff's pages and the calendar file.
    ///
    /// # Errors
    /// A text that cannot be filled: a missing fact, number, word or note.
    pub fn compose(library: &Library, facts: &Facts, page: Option<PatientPage>) -> Result<Self, String> {
        let mut content = Self {
            locale: Arc::clone(&library.locale),
            said: Vec::new(),
            filler: Filler::new(&library.locale, &library.evidence, facts)?,
            evidence: Arc::clone(&library.evidence),
            cited: RefCell::default(),
        };
        for statement in page.map(|page| chosen(library, facts, page)).unwrap_or_default() {
            let row = &statement.row;
            let text = content.filler.fill(&row.id, &library.texts[&row.id])?;
            let pieces = content.pieces(&text).map_err(|error| format!("{}: {error}", row.id))?;
            content.said.push(Said {
                id: row.id.clone(),
                section: row.section.clone(),
                kind: row.kind,
                pieces,
                figure: row.figure.clone(),
            });
        }
        Ok(content)
    }

    /// Statements of a section.
    pub fn section<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a Said> + 'a {
        self.said.iter().filter(move |said| said.section == name)
    }

    /// A text of the language, filled; emphasis is dropped.
    ///
    /// # Errors
    /// When the language has no such text or it cannot be filled.
    pub fn text(&self, key: &str, values: &[(&str, &str)]) -> Result<String, String> {
        Ok(markdown::plain(&self.inline(key, values)?))
    }

    /// A text of the language, filled, with emphasis.
    ///
    /// # Errors
    /// As [`Content::text`].
    pub fn inline(&self, key: &str, values: &[(&str, &str)]) -> Result<Inlines, String> {
        self.template(key, self.locale.word(key)?, values)
    }

    /// A text of a file in `templates/`, filled.
    ///
    /// # Errors
    /// As [`Content::text`].
    pub fn template(&self, name: &str, text: &str, values: &[(&str, &str)]) -> Result<Inlines, String> {
        let filled = self.filler.fill_with(name, text, values)?;
        markdown::inline(&filled, &mut |id| self.cite(id)).map_err(|error| format!("{name}: {error}"))
    }

    /// References in the order of their numbers.
    ///
    /// # Errors
    /// An unknown id, or a citation that is from memory.
    pub fn references(&self) -> Result<Vec<Inlines>, String> {
        let cited = self.cited.borrow();
        cited
            .iter()
            .map(|id| {
                let entry = self.evidence.get(id).ok_or_else(|| format!("there is no evidence {id}"))?;
                let mut text = vec![Inline::Text(format!("{}. ", entry.reference()?.trim_end_matches('.')))];
                text.extend(self.counts(entry)?);
                Ok(text)
            })
            .collect()
    }

    /// The share an evidence entry may print.
    ///
    /// # Errors
    /// An unknown id, or a number that is from memory.
    pub fn share(&self, id: &str) -> Result<evidence::Share, String> {
        self.evidence.get(id).ok_or_else(|| format!("there is no evidence {id}"))?.share()
    }

    /// Counts and interval behind a number, where they may be printed; that it comes from another treatment is said.
    fn counts(&self, entry: &Evidence) -> Result<Inlines, String> {
        let mut text = match entry.counts() {
            None => Vec::new(),
            Some(counts) => {
                let number = |value: f64, decimals| self.locale.number(value, decimals);
                let in_100 = |per_1000: u32| number(f64::from(per_1000) / 10.0, 1);
                let (k, n) = (number(f64::from(counts.k), 0), number(f64::from(counts.n), 0));
                let (low, high) = (in_100(counts.interval.0), in_100(counts.interval.1));
                self.inline("page.counts", &[("k", &k), ("n", &n), ("low", &low), ("high", &high)])?
            }
        };
        if entry.indirect {
            text.push(Inline::Text(" ".into()));
            text.extend(self.inline("page.indirect", &[])?);
        }
        Ok(text)
    }

    fn pieces(&self, text: &str) -> Result<Vec<Piece>, String> {
        markdown::parse(text, &mut |id| self.cite(id))
    }

    /// The number of a reference, counted in order of first use.
    fn cite(&self, id: &str) -> u32 {
        let mut cited = self.cited.borrow_mut();
        let at = cited.iter().position(|known| known == id).unwrap_or_else(|| {
            cited.push(id.to_owned());
            cited.len() - 1
        });
        at as u32 + 1
    }
}

/// The statements of a page that the facts choose, in reading order.
#[must_use]
pub fn chosen<'a>(library: &'a Library, facts: &Facts, page: PatientPage) -> Vec<&'a Statement> {
    let sections = page.sections();
    let place = |statement: &&Statement| {
        let at = sections.iter().position(|section| *section == statement.row.section);
        (at, statement.row.order)
    };
    let of_page = library.statements.iter().filter(|statement| statement.row.page == page);
    let mut chosen: Vec<&Statement> = of_page.filter(|statement| statement.when.holds(facts)).collect();
    chosen.sort_by_key(place);
    chosen
}
