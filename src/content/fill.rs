//! Filling placeholders: minijinja over the facts, strict. Values are escaped for CommonMark, so that a name or a
//! word of the record prints literally.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use minijinja::value::{Value as Filled, merge_maps};
use minijinja::{Environment, Error, ErrorKind};

use super::error::ComposeError;
use super::locale::Locale;
use super::markdown;
use super::numbers::{self, Ledger, Number};
use super::template::{LONGEST, Template};
use super::texts::{LEDGER, Texts};
use super::words::steers_nothing;
use crate::assets::{Kind as Fault, Problem};
use crate::facts::{Facts, Kind, Value, definitions};
use crate::record::profile::in_language;

/// Fills texts of one language with the facts of one case.
#[derive(Debug)]
pub struct Filler {
    texts: Arc<Texts>,
    values: Filled,
    ledger: Arc<Ledger>,
}

impl Filler {
    /// A filler over the facts.
    ///
    /// # Errors
    /// When the language lacks a word a fact needs.
    pub fn new(texts: &Arc<Texts>, facts: &Facts) -> Result<Self, ComposeError> {
        let (texts, ledger) = (Arc::clone(texts), Arc::new(Ledger::default()));
        let mut values = BTreeMap::from([(LEDGER, Filled::from_dyn_object(Arc::clone(&ledger)))]);
        let known: BTreeMap<&str, &Value> = facts.iter().collect();
        for definition in definitions() {
            let value = known.get(definition.name).copied();
            // A language that only patients read lacks the words of staff: a text that used one would stop.
            if let Some(value) = value.filter(|value| has_words(&texts.locale, value))
                && let Some(text) = written(&texts.locale, definition.kind, value)?
            {
                values.insert(definition.name, Filled::from(text));
            }
        }
        Ok(Self { texts, values: Filled::from_object(values), ledger })
    }

    /// The numbers printed since the last call.
    pub fn numbers(&self) -> Vec<Number> {
        self.ledger.take()
    }

    /// From now on counts all shares in so many; none: each in 100, in 1,000 or in 10,000, as its size needs.
    pub fn count_in(&self, of: Option<u32>) {
        self.ledger.count_in(of);
    }

    /// Fills a statement, by its file.
    ///
    /// # Errors
    /// What is wrong, without any value of the case: the kind of error and the name it is about.
    pub fn statement(&self, file: &str) -> Result<String, ComposeError> {
        filled(file, self.texts.fill(file, self.values.clone()))
    }

    /// Fills a word of the language, by its key, with further values in front of the facts.
    ///
    /// # Errors
    /// As [`Filler::statement`], and when the language has no such word.
    pub fn word(&self, key: &str, values: &[(&str, &str)]) -> Result<String, ComposeError> {
        self.texts.locale.word(key)?;
        let further: BTreeMap<&str, Filled> = values.iter().map(|(name, value)| (*name, (*value).into())).collect();
        // The engine looks at the last of two maps first.
        filled(key, self.texts.fill(key, merge_maps([self.values.clone(), further.into()])))
    }

    /// Fills any other text.
    ///
    /// # Errors
    /// As [`Filler::statement`], and a text that cannot be read.
    pub fn text(&self, name: &str, text: &str) -> Result<String, ComposeError> {
        Template::read(text).map_err(|problem| refused(name, &problem))?;
        filled(name, self.texts.fill_text(name, text, self.values.clone()))
    }
}

/// A text that was filled, or why it was not.
fn filled(name: &str, filled: Result<String, Error>) -> Result<String, ComposeError> {
    let too_much = |line| ComposeError::TooMuch { text: name.to_owned(), line, most: LONGEST };
    let filled = filled.map_err(|error| match error.kind() {
        ErrorKind::OutOfFuel => too_much(error.line().unwrap_or(1)),
        _ => unfilled(name, &error),
    })?;
    if filled.len() > LONGEST {
        return Err(too_much(1));
    }
    // A drug and its strength beside each other are one run, as on the bottle.
    Ok(filled.replace("\u{2069} \u{2066}", " "))
}

/// A text that cannot be read.
fn refused(name: &str, problem: &Problem) -> ComposeError {
    ComposeError::Template { text: name.to_owned(), line: problem.line.unwrap_or(1), what: problem.what.clone() }
}

/// What went wrong while a text was filled, without any value of the case.
fn unfilled(name: &str, error: &Error) -> ComposeError {
    let (text, line) = (name.to_owned(), error.line().unwrap_or(1));
    let source = std::error::Error::source(error).and_then(|source| source.downcast_ref::<ComposeError>());
    match source {
        Some(ComposeError::Evidence(source)) => return ComposeError::Number { text, line, source: source.clone() },
        Some(other) => return other.clone(),
        None => {}
    }
    let what = format!("{} {}", error.kind(), error.detail().unwrap_or_default()).trim_end().to_owned();
    match error.kind() {
        ErrorKind::UndefinedError => ComposeError::MissingFact { text, line, what },
        _ => ComposeError::Template { text, line, what },
    }
}

fn has_words(locale: &Locale, value: &Value) -> bool {
    match value {
        Value::Word(key) => locale.has(key),
        Value::Words(keys) => keys.iter().all(|key| locale.has(key)),
        _ => true,
    }
}

/// How a value is written; none when it is absent.
fn written(locale: &Locale, kind: Kind, value: &Value) -> Result<Option<String>, ComposeError> {
    Ok(match (kind, value) {
        (_, Value::Absent) => None,
        (_, Value::Choice(word) | Value::Text(word)) => Some(word.clone()),
        (_, Value::Named(name, others)) => Some(in_language(name, others, &locale.tag).clone()),
        (_, Value::Word(key)) => Some(locale.word(key)?.to_owned()),
        (_, Value::Number(number)) => Some(locale.number(*number, decimals(kind))),
        (_, Value::Numbers(numbers)) => {
            let written: Vec<String> = numbers.iter().map(|number| locale.number(*number, decimals(kind))).collect();
            Some(locale.list(written.iter().map(String::as_str)))
        }
        (_, Value::Minutes(minutes)) => Some(locale.duration(*minutes)?),
        (_, Value::Words(keys)) => {
            let words = keys.iter().map(|key| locale.word(key)).collect::<Result<Vec<_>, _>>()?;
            Some(locale.list(words))
        }
        (_, Value::List(items)) => Some(locale.list(items.iter().map(String::as_str))),
        (_, Value::Date(date)) => Some(locale.full_date(*date)),
        (_, Value::Time(time)) => Some(locale.time(time.time())?),
    })
}

/// Digits after the point, at most.
fn decimals(kind: Kind) -> u8 {
    match kind {
        Kind::Number(_, decimals) => decimals,
        _ => 3,
    }
}

/// Checks a text of a statement when it loads: it can be read and printed, and names facts and number functions only.
/// Gives the ids of the evidence it names.
///
/// # Errors
/// What is wrong, with its line where that is known.
pub fn check(text: &str) -> Result<Vec<String>, Problem> {
    steers_nothing(text)?;
    let read = Template::read(text)?;
    let environment = Environment::new();
    let compiled = environment.template_from_str(text).map_err(|error| {
        let problem = Problem::new(Fault::Syntax, error.to_string());
        error.line().into_iter().fold(problem, Problem::on_line)
    })?;
    let functions = numbers::functions().chain(["list"]);
    let known: BTreeSet<&str> = definitions().map(|fact| fact.name).chain(functions).collect();
    let used: BTreeSet<String> = compiled.undeclared_variables(false).into_iter().collect();
    if let Some(name) = used.iter().find(|name| !known.contains(name.as_str())) {
        let what = format!("there is no fact {name}; `vitreoleaf facts` lists them all");
        return Err(Problem::new(Fault::UnknownName, what).of(name));
    }
    markdown::parse(&read.prose(), &mut |_| 1)?;
    read.ids(&numbers::functions().collect::<Vec<_>>())
}

/// The facts whose values a text may print or look at.
#[must_use]
pub fn facts_of(text: &str) -> Vec<&'static str> {
    let environment = Environment::new();
    let used = environment.template_from_str(text).map(|template| template.undeclared_variables(false));
    let used = used.unwrap_or_default();
    definitions().map(|fact| fact.name).filter(|name| used.contains(*name)).collect()
}

/// The ids of evidence that the functions of a checked text name.
#[must_use]
pub fn evidence_of(text: &str) -> Vec<String> {
    let ids = Template::read(text).and_then(|text| text.ids(&numbers::functions().collect::<Vec<_>>()));
    ids.unwrap_or_default()
}
