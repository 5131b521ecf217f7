//! Filling placeholders: minijinja over the facts, strict. Values are escaped for CommonMark, so that a name or a
//! word of the record prints literally.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use minijinja::value::Value as Filled;
use minijinja::{AutoEscape, Environment, Error, ErrorKind, UndefinedBehavior};

use super::evidence::{Evidence, Share};
use super::locale::Locale;
use super::markdown;
use crate::facts::{Facts, Kind, Value, definitions};

/// Fills texts of one language with the facts of one case.
#[derive(Debug)]
pub struct Filler {
    environment: Environment<'static>,
    context: BTreeMap<String, Filled>,
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
    ) -> Result<Self, String> {
        let mut context = BTreeMap::new();
        for definition in definitions() {
            let value = facts.iter().find(|(name, _)| *name == definition.name);
            if let Some((name, value)) = value
                && let Some(text) = written(locale, definition.kind, value)?
            {
                context.insert(name.to_owned(), Filled::from(text));
            }
        }
        Ok(Self { environment: environment(locale, evidence), context })
    }

    /// Fills one text.
    ///
    /// # Errors
    /// What is wrong, without any value of the case: the kind of error and the name it is about.
    pub fn fill(&self, name: &str, text: &str) -> Result<String, String> {
        self.fill_with(name, text, &[])
    }

    /// Fills one text with further values in front of the facts.
    ///
    /// # Errors
    /// As [`Filler::fill`].
    pub fn fill_with(&self, name: &str, text: &str, values: &[(&str, &str)]) -> Result<String, String> {
        let mut context = self.context.clone();
        let extra = values.iter().map(|(key, value)| ((*key).to_owned(), Filled::from(*value)));
        context.extend(extra);
        let filled = self.environment.render_named_str(name, text, context);
        filled.map_err(|error| {
            let line = error.line().unwrap_or(1);
            let detail = error.detail().unwrap_or_default();
            format!("{name}, line {line}: {} {detail}", error.kind()).trim_end().to_owned()
        })
    }
}

/// How a value is written; none when it is absent.
fn written(locale: &Locale, kind: Kind, value: &Value) -> Result<Option<String>, String> {
    Ok(match (kind, value) {
        (_, Value::Absent) => None,
        (_, Value::Choice(word) | Value::Text(word)) => Some(word.clone()),
        (_, Value::Word(key)) => Some(locale.word(key)?.to_owned()),
        (Kind::Number(_, decimals), Value::Number(number)) => Some(locale.number(*number, decimals)),
        (Kind::Number(_, decimals), Value::Numbers(numbers)) => {
            let written: Vec<String> = numbers.iter().map(|number| locale.number(*number, decimals)).collect();
            Some(locale.list(written.iter().map(String::as_str)))
        }
        (_, Value::Numbers(_)) => return Err("a list of numbers needs a unit".into()),
        (_, Value::Number(number)) => Some(locale.number(*number, 3)),
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

fn environment(locale: &Arc<Locale>, evidence: &Arc<BTreeMap<String, Evidence>>) -> Environment<'static> {
    let mut environment = Environment::new();
    environment.set_undefined_behavior(UndefinedBehavior::Strict);
    environment.set_debug(false); // debug pages would print the values of a case
    environment.remove_filter("safe"); // a text must not switch the escaping off
    environment.set_auto_escape_callback(|_| AutoEscape::Custom("commonmark".into()));
    environment.set_formatter(|out, _, value| {
        if value.is_undefined() {
            return Err(Error::from(ErrorKind::UndefinedError));
        }
        let text = value.to_string();
        let text = if value.is_safe() { text } else { escape(&text) };
        out.write_str(&text).map_err(|_| Error::from(ErrorKind::WriteFailure))
    });
    for (name, of) in NUMBERS {
        let (locale, evidence) = (Arc::clone(locale), Arc::clone(evidence));
        environment.add_function(*name, move |id: String| -> Result<Filled, Error> {
            let entry = evidence.get(&id).ok_or_else(|| format!("there is no evidence {id}"));
            let text = entry.and_then(|entry| of(&locale, entry));
            text.map(Filled::from).map_err(|error| Error::new(ErrorKind::InvalidOperation, error))
        });
    }
    environment.add_function("source", |id: String| Filled::from_safe_string(format!("[{}](#source)", escape(&id))));
    environment
}

/// Checks a text of a statement when it loads: it compiles, and names facts and number functions only.
///
/// # Errors
/// The file and the name it does not know.
pub fn check(path: &str, text: &str) -> Result<(), String> {
    let environment = Environment::new();
    let template = environment.template_from_named_str(path, text).map_err(|error| format!("{path}: {error}"))?;
    let functions = NUMBERS.iter().map(|(name, _)| *name).chain(["source"]);
    let known: BTreeSet<&str> = definitions().map(|fact| fact.name).chain(functions).collect();
    let used: BTreeSet<String> = template.undeclared_variables(false).into_iter().collect();
    match used.iter().find(|name| !known.contains(name.as_str())) {
        Some(name) => Err(format!("{path}: there is no fact {name}; `vitreoleaf facts` lists them all")),
        None => {
            markdown::parse(&without_code(text), &mut |_| 1).map(|_| ()).map_err(|error| format!("{path}: {error}"))
        }
    }
}

/// The ids of evidence that the number functions of a text name.
#[must_use]
pub fn evidence_of(text: &str) -> Vec<String> {
    let calls = text.split("{{").skip(1).filter_map(|call| call.split("}}").next());
    calls.filter(|call| call.contains("(\"")).filter_map(|call| call.split('"').nth(1).map(str::to_owned)).collect()
}

/// The text as CommonMark sees it: a word for each value, nothing for each condition.
fn without_code(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    let mut rest = text;
    while let Some(at) = rest.find("{{").into_iter().chain(rest.find("{%")).min() {
        let (closing, word) = if rest[at..].starts_with("{{") { ("}}", "x") } else { ("%}", "") };
        plain.push_str(&rest[..at]);
        plain.push_str(word);
        rest = rest[at..].find(closing).map_or("", |end| &rest[at + end + closing.len()..]);
    }
    plain + rest
}

type Number = fn(&Locale, &Evidence) -> Result<String, String>;

/// The only ways a number of the evidence reaches a text.
const NUMBERS: &[(&str, Number)] = &[
    ("about", |locale, entry| share(locale, "number.about", entry.share()?)),
    ("others", |locale, entry| share(locale, "number.about", entry.share()?.others())),
    ("upper", |locale, entry| share(locale, "number.up_to", entry.upper()?)),
    ("size", |locale, entry| Ok(locale.number(f64::from(entry.size()?), 0))),
    ("count", |locale, entry| Ok(locale.number(f64::from(entry.count()?), 0))),
    ("span", |locale, entry| {
        let (amount, unit) = entry.span()?;
        locale.count(unit, amount)
    }),
];

fn share(locale: &Locale, key: &str, share: Share) -> Result<String, String> {
    let pattern = locale.word(key)?;
    let k = locale.number(f64::from(share.k), 0);
    let of = locale.number(f64::from(share.of), 0);
    Ok(pattern.replace("{k}", &k).replace("{of}", &of))
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
