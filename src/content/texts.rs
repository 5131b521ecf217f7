//! The texts of one language, ready to be filled: each is parsed when it is first needed, then kept for every case and every
//! thread. What belongs to one case comes with its values.

use std::collections::BTreeMap;
use std::sync::Arc;

use minijinja::value::{Value as Filled, ValueKind};
use minijinja::{AutoEscape, Environment, Error, ErrorKind, State, UndefinedBehavior};

use super::error::EvidenceError;
use super::evidence::Evidence;
use super::lineage::Written;
use super::locale::Locale;
use super::numbers::{Ledger, NUMBERS};
use crate::assets::DEPTH;

/// Work that one text may ask for: an instruction each, and 64 bytes that it puts together. The longest of the catalogue
/// needs a few hundred.
const FUEL: u64 = 20_000;

/// The values of a case hold its ledger under this name. No text can name it: a name has no spaces.
pub(super) const LEDGER: &str = "numbers that were printed";

/// The words and statements of one language.
#[derive(Debug)]
pub struct Texts {
    /// The language.
    pub locale: Arc<Locale>,
    environment: Environment<'static>,
}

impl Texts {
    /// The words of a language, and statements by id.
    #[must_use]
    pub fn of(
        locale: &Arc<Locale>,
        evidence: &Arc<BTreeMap<String, Evidence>>,
        statements: &Arc<BTreeMap<String, Written>>,
    ) -> Self {
        let mut environment = environment();
        add_functions(&mut environment, locale, evidence);
        let (words, statements) = (Arc::clone(locale), Arc::clone(statements));
        environment.set_loader(move |name| {
            let statement = || statements.values().find(|written| written.file == name);
            Ok(words.word(name).ok().or_else(|| Some(&statement()?.text)).map(str::to_owned))
        });
        Self { locale: Arc::clone(locale), environment }
    }

    /// Fills a word by its key or a statement by its file.
    pub(super) fn fill(&self, name: &str, values: Filled) -> Result<String, Error> {
        self.environment.get_template(name)?.render(values)
    }

    /// Fills a text that is none of them; it is parsed again each time.
    pub(super) fn fill_text(&self, name: &str, text: &str, values: Filled) -> Result<String, Error> {
        self.environment.render_named_str(name, text, values)
    }
}

/// The template engine without what a text has no use for.
fn environment() -> Environment<'static> {
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
    environment
}

fn add_functions(environment: &mut Environment, locale: &Arc<Locale>, evidence: &Arc<BTreeMap<String, Evidence>>) {
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
    for &(name, print) in NUMBERS {
        let (locale, evidence) = (Arc::clone(locale), Arc::clone(evidence));
        environment.add_function(name, move |state: &State, id: String| -> Result<Filled, Error> {
            let ledger = state.lookup(LEDGER).unwrap_or_default();
            let ledger = ledger.downcast_object_ref::<Ledger>().ok_or(ErrorKind::UndefinedError)?;
            let entry = evidence.get(&id).ok_or_else(|| EvidenceError::Unknown { id: id.clone() }.into());
            let printed = entry.and_then(|entry| ledger.print((name, print), &locale, id, entry));
            let text = printed
                .map_err(|error| Error::new(ErrorKind::InvalidOperation, error.to_string()).with_source(error))?;
            Ok(Filled::from_safe_string(locale.set_apart(&on_one_line(&text))))
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
}

/// Escaped, and its spaces that do not break kept.
fn on_one_line(text: &str) -> String {
    let parts: Vec<String> = text.split('\u{a0}').map(escape).collect();
    parts.join("\u{a0}")
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
