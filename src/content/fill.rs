//! Filling placeholders: minijinja over the facts, strict. Values are escaped for CommonMark, so that a name or a
//! word of the record prints literally.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use minijinja::value::{Value as Filled, ValueKind};
use minijinja::{AutoEscape, Environment, Error, ErrorKind, State, UndefinedBehavior};

use super::error::{ComposeError, EvidenceError};
use super::evidence::{Evidence, Share};
use super::locale::Locale;
use super::markdown;
use super::template::{LONGEST, Template};
use super::words::steers_nothing;
use crate::assets::{DEPTH, Kind as Fault, Problem};
use crate::facts::{Facts, Kind, Value, definitions};

/// Fills texts of one language with the facts of one case.
#[derive(Debug)]
pub struct Filler {
    environment: Environment<'static>,
    context: BTreeMap<String, Filled>,
    ledger: Arc<Mutex<Ledger>>,
}

/// A number of the evidence as a text printed it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Number {
    /// Id of the evidence entry.
    pub evidence: String,
    /// The function of the text: `about`, `rest`, `upper`, `size`, `count` or `span`.
    pub function: &'static str,
    /// What was printed.
    pub text: String,
    /// What it was counted in: 100 or 1,000; none for a size, a count or a span.
    pub of: Option<u32>,
}

/// The numbers printed since it was last emptied, and what they are counted in where one table holds several.
#[derive(Debug, Default)]
struct Ledger {
    used: Vec<Number>,
    of: Option<u32>,
}

impl Filler {
    /// A filler over the facts.
    ///
    /// # Errors
    /// When the language lacks a word a fact needs.
    pub fn new(
        locale: &Arc<Locale>,
        evidence: &Arc<BTreeMap<String, Evidence>>,
        facts: &Facts,
    ) -> Result<Self, ComposeError> {
        let mut context = BTreeMap::new();
        for definition in definitions() {
            let value = facts.iter().find(|(name, _)| *name == definition.name);
            // A language that only patients read lacks the words of staff: a text that used one would stop.
            if let Some((name, value)) = value.filter(|(_, value)| has_words(locale, value))
                && let Some(text) = written(locale, definition.kind, value)?
            {
                context.insert(name.to_owned(), Filled::from(text));
            }
        }
        let ledger = Arc::new(Mutex::new(Ledger::default()));
        Ok(Self { environment: environment(locale, evidence, &ledger), context, ledger })
    }

    /// The numbers printed since the last call.
    pub fn numbers(&self) -> Vec<Number> {
        std::mem::take(&mut open(&self.ledger).used)
    }

    /// From now on counts all shares in so many; none: each in 100, or in 1,000 below one in a hundred.
    pub fn count_in(&self, of: Option<u32>) {
        open(&self.ledger).of = of;
    }

    /// Fills one text.
    ///
    /// # Errors
    /// What is wrong, without any value of the case: the kind of error and the name it is about.
    pub fn fill(&self, name: &str, text: &str) -> Result<String, ComposeError> {
        self.fill_with(name, text, &[])
    }

    /// Fills one text with further values in front of the facts.
    ///
    /// # Errors
    /// As [`Filler::fill`].
    pub fn fill_with(&self, name: &str, text: &str, values: &[(&str, &str)]) -> Result<String, ComposeError> {
        let too_much = |line| ComposeError::TooMuch { text: name.to_owned(), line, most: LONGEST };
        Template::read(text).map_err(|problem| refused(name, &problem))?;
        let mut context = self.context.clone();
        let extra = values.iter().map(|(key, value)| ((*key).to_owned(), Filled::from(*value)));
        context.extend(extra);
        let filled = self.environment.render_named_str(name, text, context);
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
}

/// Work that one text may ask for: an instruction each, and 64 bytes that it puts together. The longest of the catalogue
/// needs a few hundred.
const FUEL: u64 = 20_000;

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

/// A panic elsewhere leaves whole entries behind.
fn open(ledger: &Mutex<Ledger>) -> MutexGuard<'_, Ledger> {
    ledger.lock().unwrap_or_else(PoisonError::into_inner)
}

fn environment(
    locale: &Arc<Locale>,
    evidence: &Arc<BTreeMap<String, Evidence>>,
    ledger: &Arc<Mutex<Ledger>>,
) -> Environment<'static> {
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_fuel(Some(FUEL));
    environment.set_recursion_limit(DEPTH);
    environment.set_debug(false); // debug pages would print the values of a case
    environment.remove_filter("safe"); // a text must not switch the escaping off
    for function in ["range", "dict", "namespace", "debug"] {
        environment.remove_global(function); // values without end, or of the whole case
    }
    environment.set_auto_escape_callback(|_| AutoEscape::Custom("commonmark".into()));
    let of = Arc::clone(locale);
    environment.set_formatter(move |out, _, value| {
        match value.kind() {
            ValueKind::Undefined => return Err(Error::from(ErrorKind::UndefinedError)),
            // Written out here it could grow without end.
            ValueKind::Seq | ValueKind::Map | ValueKind::Iterable => {
                return Err(Error::new(ErrorKind::InvalidOperation, "several values at once: write list(...)"));
            }
            _ => {}
        }
        let text = value.to_string();
        let text = if value.is_safe() { text } else { of.set_apart(&escape(&text)) };
        out.write_str(&text).map_err(|_| Error::from(ErrorKind::WriteFailure))
    });
    for (name, print) in NUMBERS {
        let (locale, evidence, ledger) = (Arc::clone(locale), Arc::clone(evidence), Arc::clone(ledger));
        environment.add_function(*name, move |id: String| -> Result<Filled, Error> {
            let entry = evidence.get(&id).ok_or_else(|| EvidenceError::Unknown { id: id.clone() }.into());
            let mut ledger = open(&ledger);
            let printed = entry.and_then(|entry| print(&locale, entry, ledger.of));
            let (text, of) = printed
                .map_err(|error| Error::new(ErrorKind::InvalidOperation, error.to_string()).with_source(error))?;
            ledger.used.push(Number { evidence: id, function: name, text: text.clone(), of });
            Ok(Filled::from(text))
        });
    }
    let of = Arc::clone(locale);
    environment.add_function("list", move |state: &State, items: Filled| -> Result<String, Error> {
        let mut written = Vec::new();
        for item in items.try_iter()? {
            let item = item.to_string();
            state.consume_fuel(1 + item.len() as u64 / 64)?;
            written.push(item);
        }
        Ok(of.list(written.iter().map(String::as_str)))
    });
    environment.add_function("source", |id: String| Filled::from_safe_string(format!("[{}](#source)", escape(&id))));
    environment
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
    let functions = number_functions().chain(["list"]);
    let known: BTreeSet<&str> = definitions().map(|fact| fact.name).chain(functions).collect();
    let used: BTreeSet<String> = compiled.undeclared_variables(false).into_iter().collect();
    if let Some(name) = used.iter().find(|name| !known.contains(name.as_str())) {
        let what = format!("there is no fact {name}; `vitreoleaf facts` lists them all");
        return Err(Problem::new(Fault::UnknownName, what).of(name));
    }
    markdown::parse(&read.prose(), &mut |_| 1)?;
    read.ids(&number_functions().collect::<Vec<_>>())
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
    let ids = Template::read(text).and_then(|text| text.ids(&number_functions().collect::<Vec<_>>()));
    ids.unwrap_or_default()
}

/// The functions that name an evidence entry.
fn number_functions() -> impl Iterator<Item = &'static str> {
    NUMBERS.iter().map(|(name, _)| *name).chain(["source"])
}

/// The text of a number, and what it is counted in.
type Printed = Result<(String, Option<u32>), ComposeError>;

/// Prints a number of an entry, counted in so many where a table asks for it.
type Print = fn(&Locale, &Evidence, Option<u32>) -> Printed;

/// The only ways a number of the evidence reaches a text.
const NUMBERS: &[(&str, Print)] = &[
    ("about", |locale, entry, of| written_share(locale, "number.about", share(entry, of)?)),
    ("rest", |locale, entry, of| written_share(locale, "number.rest", share(entry, of)?.others())),
    ("upper", |locale, entry, of| written_share(locale, "number.up_to", entry.upper(of.unwrap_or(100))?)),
    ("size", |locale, entry, _| Ok((locale.number(f64::from(entry.size()?), 0), None))),
    ("count", |locale, entry, _| Ok((locale.number(f64::from(entry.count()?), 0), None))),
    ("span", |locale, entry, _| {
        let (amount, unit) = entry.span()?;
        Ok((locale.count(unit, amount)?, None))
    }),
];

fn share(entry: &Evidence, of: Option<u32>) -> Result<Share, EvidenceError> {
    let proportion = entry.proportion()?;
    Ok(of.map_or_else(|| Share::of(proportion), |of| Share::out_of(proportion, of)))
}

fn written_share(locale: &Locale, key: &str, share: Share) -> Printed {
    let pattern = locale.word(key)?;
    let k = locale.number(f64::from(share.k), 0);
    let of = locale.number(f64::from(share.of), 0);
    // The three stay on one line.
    let pattern = pattern.replace("{k} ", "{k}\u{a0}").replace(" {of}", "\u{a0}{of}");
    Ok((pattern.replace("{k}", &k).replace("{of}", &of), Some(share.of)))
}

/// Backslash-escapes what CommonMark would read as markup. White space of any kind becomes one space: line breaks and
/// indentation are markup too.
fn escape(text: &str) -> String {
    let words: Vec<&str> = text.split_whitespace().collect();
    let mut escaped = String::with_capacity(text.len());
    for character in words.join(" ").chars() {
        if character.is_ascii_punctuation() {
            escaped.push('\\');
        }
        escaped.push(character);
    }
    escaped
}
