//! Step 5: what is said to this patient, in their language: statements chosen by the facts and filled from them.

pub mod catalog;
pub mod error;
pub mod evidence;
pub mod fill;
pub mod folders;
pub mod inline;
pub mod jurisdiction;
pub mod labels;
pub mod lineage;
pub mod locale;
pub mod markdown;
pub mod numbers;
pub mod tailor;
pub mod template;
pub mod texts;
pub mod translation;
pub mod words;

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::sync::Arc;

use crate::assets::{Assets, Kind as Fault, LoadError, Problem};
use crate::facts::Facts;
use crate::record::course::Tailoring;
use catalog::{Kind, PatientPage, Statement, Topic};
pub use error::ComposeError;
use error::{EvidenceError, MarkdownError};
use evidence::{Evidence, Share};
use fill::Filler;
use folders::Folders;
use inline::{Inline, Inlines};
use lineage::Written;
use locale::Locale;
use markdown::Piece;
use numbers::Number;
use texts::Texts;

/// What the languages of a practice share, each file read once: statements, evidence, and folders that rest on each other.
#[derive(Debug)]
pub struct Catalogue<'a> {
    statements: Arc<Vec<Statement>>,
    evidence: Arc<BTreeMap<String, Evidence>>,
    folders: Folders<'a>,
}

impl<'a> Catalogue<'a> {
    /// Reads the catalogue and the evidence.
    ///
    /// # Errors
    /// A file that cannot be read, and a statement whose row names an evidence entry that does not exist.
    pub fn load(assets: &'a Assets) -> Result<Self, LoadError> {
        let (statements, evidence) = (catalog::load(assets)?, evidence::load(assets)?);
        for Statement { row, .. } in &statements {
            let mut named = row.evidence.iter().chain(&row.figures);
            if let Some(id) = named.find(|id| !evidence.contains_key(*id)) {
                return Err(no_evidence(&row.id, id).in_file(catalog::FILE));
            }
        }
        Ok(Self { statements: Arc::new(statements), evidence: Arc::new(evidence), folders: Folders::new(assets) })
    }
}

fn no_evidence(statement: &str, id: &str) -> Problem {
    catalog::told(statement, Fault::UnknownEvidence, &format!("there is no evidence {id}"))
}

/// Everything texts are made from: the catalogue, the evidence and one language.
#[derive(Debug, Clone)]
pub struct Library {
    /// The catalogue of statements.
    pub statements: Arc<Vec<Statement>>,
    /// The evidence by id.
    pub evidence: Arc<BTreeMap<String, Evidence>>,
    /// The language.
    pub locale: Arc<Locale>,
    /// Text of each statement by id.
    written: Arc<BTreeMap<String, Written>>,
    /// The same and the words, ready to be filled.
    texts: Arc<Texts>,
    /// The folders it is read from: its own, then those of the same language that it was made from.
    folders: Vec<String>,
    /// How far the translation of each text has come; empty for the source.
    translation: Vec<translation::Text>,
}

impl Library {
    /// Loads the catalogue, the evidence and the language.
    ///
    /// # Errors
    /// As [`Catalogue::load`] and [`Library::of`].
    pub fn load(assets: &Assets, language: &str) -> Result<Self, LoadError> {
        Self::of(&Catalogue::load(assets)?, language)
    }

    /// Loads a language for a catalogue.
    ///
    /// # Errors
    /// What cannot be read, a statement that lacks its text (another language never stands in), a text that uses a name
    /// or an evidence entry that does not exist.
    pub fn of(catalogue: &Catalogue, language: &str) -> Result<Self, LoadError> {
        let Catalogue { statements, evidence, folders } = catalogue;
        let lineage = lineage::lineage(folders, language)?;
        let mut written = BTreeMap::new();
        for Statement { row, .. } in statements.iter() {
            let missing = || LoadError::no_file(&format!("locales/{language}/statements/{}.md", row.id), "");
            let text = lineage::statement(folders.assets, &lineage, &row.id).ok_or_else(missing)?;
            let named = fill::check(&text.text).map_err(|problem| problem.in_file(&text.file))?;
            if let Some(id) = named.iter().find(|id| !evidence.contains_key(*id)) {
                return Err(no_evidence(&row.id, id).in_file(&text.file));
            }
            written.insert(row.id.clone(), text);
        }
        let ids: Vec<String> = written.keys().cloned().collect();
        let (locale, written) = (Arc::new(Locale::of(folders, language)?), Arc::new(written));
        Ok(Self {
            statements: Arc::clone(statements),
            evidence: Arc::clone(evidence),
            texts: Arc::new(Texts::of(&locale, evidence, &written)),
            locale,
            written,
            folders: lineage,
            translation: translation::texts(folders, language, &ids)?,
        })
    }
}

impl Library {
    /// The text of a statement as it stands in its file.
    #[must_use]
    pub fn text(&self, id: &str) -> Option<&str> {
        self.written.get(id).map(|written| written.text.as_str())
    }

    /// The languages whose folders it is read from: its own, then those of the same language that it was made from.
    #[must_use]
    pub fn lineage(&self) -> &[String] {
        &self.folders
    }

    /// The folders the language is read from, for example `locales/en-GB/` and `locales/en-US/`.
    pub fn folders(&self) -> impl Iterator<Item = String> + '_ {
        self.folders.iter().map(|tag| format!("locales/{tag}/"))
    }

    /// Whether the language reads a file, for example `locales/en-US/statements/risk-lens.md`.
    #[must_use]
    pub fn reads(&self, path: &str) -> bool {
        self.folders().filter_map(|folder| path.strip_prefix(&folder)).any(|file| {
            let id = file.strip_prefix("statements/").and_then(|file| file.strip_suffix(".md"));
            let of_language =
                ["words.toml", "desk.toml", "translation.toml", "plain.toml", "wording.toml", "glossary.toml"];
            of_language.contains(&file) || id.is_some_and(|id| self.written.contains_key(id))
        })
    }

    /// Whether a page with these statements, or a page of staff, is a draft translation: a text on it is not reviewed, or its
    /// source changed since.
    #[must_use]
    pub fn is_draft(&self, said: Option<&[Said]>) -> bool {
        self.translation.iter().filter(|text| text.is_draft()).any(|text| match said {
            None => text.id.starts_with("words/"),
            Some(_) if text.id.starts_with("words/") => !text.for_staff(),
            Some(said) => said.iter().any(|said| said.id == text.id),
        })
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
    /// What it is about, if it is a risk.
    pub topic: Topic,
    /// Its text.
    pub pieces: Vec<Piece>,
    /// Evidence entries drawn as people.
    pub figures: Vec<String>,
    /// The numbers of the evidence that its text prints.
    pub numbers: Vec<Number>,
}

/// A result as a picture shows it.
#[derive(Debug, Clone)]
pub struct Drawn {
    /// The number in words.
    pub number: String,
    /// How many were not affected, as the words count.
    pub rest: String,
    /// Affected in 100; none where it is counted in 1,000 or more.
    pub share: Option<u8>,
    /// Whether fewer than 100 were counted.
    pub small: bool,
    /// What the true share may be: both ends in 100, and in words; none where no count was published.
    pub range: Option<([u8; 2], String)>,
}

/// The section laid out as one table: its numbers share one denominator.
pub(crate) const TABLE: &str = "options";

/// The text of one page set.
#[derive(Debug)]
pub struct Content {
    /// The language.
    pub locale: Arc<Locale>,
    /// Statements in the order they are read.
    pub said: Vec<Said>,
    /// Statements of the aftercare that cannot be said, each with the reason: whoever was treated leaves with the others.
    pub unsaid: Vec<(String, ComposeError)>,
    /// Whether a text of it is a translation that is not reviewed, or whose source changed since.
    pub draft: bool,
    filler: Filler,
    evidence: Arc<BTreeMap<String, Evidence>>,
    /// Ids of the evidence that was cited, those of one source together.
    cited: RefCell<Vec<Vec<String>>>,
    /// What the numbers of the one table are counted in.
    table_of: Option<u32>,
}

impl Content {
    /// Words only, for the staff's pages and the calendar file.
    ///
    /// # Errors
    /// When the language lacks a word a fact needs.
    pub fn words(library: &Library, facts: &Facts) -> Result<Self, ComposeError> {
        Ok(Self {
            locale: Arc::clone(&library.locale),
            said: Vec::new(),
            unsaid: Vec::new(),
            draft: library.is_draft(None),
            filler: Filler::new(&library.texts, facts)?,
            evidence: Arc::clone(&library.evidence),
            cited: RefCell::default(),
            table_of: None,
        })
    }

    /// Chooses the statements of a page by the facts and by hand, in the order of its sections, and fills them.
    ///
    /// # Errors
    /// A text that cannot be filled: a missing fact, number, word or note; a change by hand that cannot be done. In the
    /// aftercare a statement that cannot be filled is left out and named ([`Content::unsaid`]).
    pub fn compose(
        library: &Library,
        facts: &Facts,
        page: PatientPage,
        tailoring: &[Tailoring],
    ) -> Result<Self, ComposeError> {
        let mut content = Self::words(library, facts)?;
        let chosen = tailor::choose(library, facts, page, tailoring)?.said;
        content.table_of = content.denominator(library, chosen.iter().map(|choice| choice.statement))?;
        for choice in chosen {
            let row = &choice.statement.row;
            content.filler.count_in(content.table_of.filter(|_| row.section == TABLE));
            match content.say(choice.statement, &library.written[&row.id]) {
                Ok(said) => content.said.push(said),
                Err(why) if page == PatientPage::Aftercare => content.unsaid.push((row.id.clone(), why)),
                Err(why) => return Err(why),
            }
        }
        content.filler.count_in(None);
        content.draft = library.is_draft(Some(&content.said));
        Ok(content)
    }

    fn say(&self, statement: &Statement, written: &Written) -> Result<Said, ComposeError> {
        let row = &statement.row;
        self.filler.numbers(); // what was printed before is not of this statement
        let text = self.filler.statement(&written.file)?;
        let numbers = self.filler.numbers();
        let mut pieces = self.pieces(&text).map_err(|source| in_text(&row.id, source))?;
        mark(&mut pieces, &row.id);
        Ok(Said {
            id: row.id.clone(),
            section: row.section.clone(),
            kind: row.kind,
            topic: row.topic,
            pieces,
            figures: row.figures.clone(),
            numbers,
        })
    }

    /// What the numbers of the one table are counted in: the largest that any of them needs.
    fn denominator<'l>(
        &self,
        library: &Library,
        chosen: impl Iterator<Item = &'l Statement>,
    ) -> Result<Option<u32>, ComposeError> {
        for Statement { row, .. } in chosen.filter(|statement| statement.row.section == TABLE) {
            self.filler.statement(&library.written[&row.id].file)?;
        }
        Ok(self.filler.numbers().iter().filter_map(|number| number.of).max())
    }

    /// Statements of a section.
    pub fn section<'a>(&'a self, name: &'a str) -> impl Iterator<Item = &'a Said> + 'a {
        self.said.iter().filter(move |said| said.section == name)
    }

    /// A text of the practice, with emphasis and nothing else: no placeholder, no note.
    ///
    /// # Errors
    /// What the text holds that cannot be printed.
    pub fn own(&self, name: &str, text: &str) -> Result<Inlines, ComposeError> {
        markdown::inline(text, &mut |_| 0).map_err(|source| in_text(name, source))
    }

    /// A text of the language, filled; emphasis is dropped.
    ///
    /// # Errors
    /// When the language has no such text or it cannot be filled.
    pub fn text(&self, key: &str, values: &[(&str, &str)]) -> Result<String, ComposeError> {
        Ok(markdown::plain(&self.inline(key, values)?))
    }

    /// A text of the language, filled, with emphasis.
    ///
    /// # Errors
    /// As [`Content::text`].
    pub fn inline(&self, key: &str, values: &[(&str, &str)]) -> Result<Inlines, ComposeError> {
        self.read(key, &self.filler.word(key, values)?)
    }

    /// A text of a file in `templates/`, filled.
    ///
    /// # Errors
    /// As [`Content::text`].
    pub fn template(&self, name: &str, text: &str) -> Result<Inlines, ComposeError> {
        self.read(name, &self.filler.text(name, text)?)
    }

    fn read(&self, name: &str, filled: &str) -> Result<Inlines, ComposeError> {
        markdown::inline(filled, &mut |id| self.cite(id)).map_err(|source| in_text(name, source))
    }

    /// References in the order of their numbers: each source once, with what was taken from it.
    ///
    /// # Errors
    /// An unknown id, or a citation that is from memory.
    pub fn references(&self) -> Result<Vec<Inlines>, ComposeError> {
        self.cited.borrow().iter().map(|ids| self.reference(ids)).collect()
    }

    fn reference(&self, ids: &[String]) -> Result<Inlines, ComposeError> {
        let entries = ids.iter().map(|id| self.entry(id)).collect::<Result<Vec<_>, _>>()?;
        let cited = entries.first().map(|entry| entry.reference()).transpose()?.unwrap_or_default();
        let mut sentences: Vec<Inlines> =
            vec![vec![Inline::Text(self.locale.set_apart(&format!("{}.", cited.trim_end_matches('.'))))]];
        for entry in entries {
            for sentence in self.counts(entry)? {
                if !sentences.contains(&sentence) {
                    sentences.push(sentence);
                }
            }
        }
        Ok(sentences.join(&Inline::Text(" ".into())))
    }

    /// A result as a picture shows it; in the one table counted as all of its numbers are.
    ///
    /// # Errors
    /// An unknown id, or a number that is from memory.
    pub fn drawn(&self, id: &str, in_table: bool) -> Result<Drawn, ComposeError> {
        let entry = self.entry(id)?;
        let (small, of) = (entry.is_small(), self.table_of.filter(|_| in_table));
        let share = match small {
            true => Share::out_of(f64::from(entry.count()?) / f64::from(entry.size()?), 100),
            false => {
                of.map_or_else(|| entry.proportion().map(Share::of), |of| Ok(Share::out_of(entry.proportion()?, of)))?
            }
        };
        let written = |function| numbers::written(function, &self.locale, entry, of);
        let ends = entry.range(100).ok().filter(|_| entry.counts().is_some());
        let ends = ends.and_then(|(low, high)| Some([u8::try_from(low.k).ok()?, u8::try_from(high.k).ok()?]));
        let range = ends.map(|ends| Ok::<_, ComposeError>((ends, written("range")?))).transpose()?;
        let share = u8::try_from(share.k).ok().filter(|_| share.of == 100);
        Ok(Drawn { number: written("about")?, rest: written("rest")?, share, small, range })
    }

    /// The evidence that a note points to; nothing for anything else.
    #[must_use]
    pub fn cited(&self, inline: &Inline) -> Vec<String> {
        let Inline::Note(number) = inline else { return Vec::new() };
        self.cited.borrow().get(*number as usize - 1).cloned().unwrap_or_default()
    }

    fn entry(&self, id: &str) -> Result<&Evidence, EvidenceError> {
        self.evidence.get(id).ok_or_else(|| EvidenceError::Unknown { id: id.to_owned() })
    }

    /// What a number rests on: the kind of study, that it comes from another treatment, counts and interval where they may
    /// be printed, and the time it covers.
    fn counts(&self, entry: &Evidence) -> Result<Vec<Inlines>, ComposeError> {
        let mut sentences = vec![self.inline(&format!("grade.{}", entry.grade), &[])?];
        if entry.indirect {
            sentences.push(self.inline("page.indirect", &[])?);
        }
        let counts = entry.counts();
        if let Some(counts) = &counts {
            let number = |value: f64, decimals| self.locale.number(value, decimals);
            let in_100 = |per_1000: u32| number(f64::from(per_1000) / 10.0, 1);
            let (k, n) = (number(f64::from(counts.k), 0), number(f64::from(counts.n), 0));
            let (low, high) = (in_100(counts.interval.0), in_100(counts.interval.1));
            sentences.push(self.inline("page.counts", &[("k", &k), ("n", &n), ("low", &low), ("high", &high)])?);
        }
        if counts.is_some() || entry.proportion().is_ok() {
            sentences.push(match entry.span() {
                Ok((amount, unit)) => self.inline("page.follow_up", &[("span", &self.locale.count(unit, amount)?)])?,
                Err(_) => self.inline("page.follow_up_unknown", &[])?,
            });
        }
        Ok(sentences)
    }

    fn pieces(&self, text: &str) -> Result<Vec<Piece>, MarkdownError> {
        markdown::parse(text, &mut |id| self.cite(id))
    }

    /// The number of a reference, counted in order of first use; what stands in one source has one number.
    fn cite(&self, id: &str) -> u32 {
        let source = |id: &str| self.evidence.get(id).and_then(|entry| entry.reference().ok());
        let same = |known: &String| known == id || source(id).is_some_and(|own| source(known) == Some(own));
        let mut cited = self.cited.borrow_mut();
        let at = match cited.iter().position(|ids| ids.iter().any(same)) {
            Some(at) => {
                if !cited[at].iter().any(|known| known == id) {
                    cited[at].push(id.to_owned());
                }
                at
            }
            None => {
                cited.push(vec![id.to_owned()]);
                cited.len() - 1
            }
        };
        at as u32 + 1
    }
}

fn in_text(name: &str, source: MarkdownError) -> ComposeError {
    ComposeError::Markdown { text: name.to_owned(), source }
}

/// Marks every paragraph and list of a statement as its own.
fn mark(pieces: &mut [Piece], id: &str) {
    for piece in pieces {
        let text = match piece {
            Piece::Heading(..) => None,
            Piece::Paragraph(text) => Some(text),
            Piece::List(_, items) => items.first_mut(),
        };
        if let Some(text) = text {
            text.insert(0, Inline::Mark(id.to_owned()));
        }
    }
}
