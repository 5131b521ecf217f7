//! The pages of the desk, from `templates/desk/`: HTML in which every value is escaped, and one style for all.

use minijinja::value::{Kwargs, Serde, Value};
use minijinja::{AutoEscape, Environment, Error, ErrorKind, UndefinedBehavior};
use serde::Serialize;

use super::error::DeskError;
use super::words::Words;
use crate::assets::{Assets, LoadError};

const FOLDER: &str = "templates/desk/";

/// The pages of one desk in one language.
#[derive(Debug)]
pub(super) struct Pages(Environment<'static>);

impl Pages {
    /// Reads all templates; one that cannot be read is refused now.
    pub(super) fn load(assets: &Assets, words: &Words) -> Result<Self, DeskError> {
        let mut environment = Environment::new();
        environment.set_undefined_behavior(UndefinedBehavior::Strict);
        environment.set_auto_escape_callback(|_| AutoEscape::Html);
        for path in assets.under(FOLDER).into_iter().filter(|path| path.ends_with(".html")) {
            let text = assets.get(&path).unwrap_or_default().into_owned();
            environment.add_template_owned(path[FOLDER.len()..].to_owned(), text)?;
        }
        let said = words.clone();
        environment.add_function("t", move |key: String, values: Kwargs| say(&said, &key, &values));
        let counted = words.clone();
        environment.add_function("n", move |key: String, count: usize| counted.count(&key, count).map_err(told));
        Ok(Self(environment))
    }

    /// One page.
    pub(super) fn render(&self, name: &str, shown: impl Serialize) -> Result<String, DeskError> {
        Ok(self.0.get_template(&format!("{name}.html"))?.render(Serde(shown))?)
    }
}

/// The style or the script.
pub(super) fn file(assets: &Assets, name: &str) -> Result<Vec<u8>, DeskError> {
    let path = format!("{FOLDER}{name}");
    let text = assets.get(&path).ok_or_else(|| LoadError::no_file(&path, "the program brings it"))?;
    Ok(text.into_owned().into_bytes())
}

fn say(words: &Words, key: &str, values: &Kwargs) -> Result<String, Error> {
    let mut filled: Vec<(&str, String)> = Vec::new();
    for name in values.args() {
        filled.push((name, values.get::<Value>(name)?.to_string()));
    }
    let filled: Vec<(&str, &str)> = filled.iter().map(|(name, value)| (*name, value.as_str())).collect();
    words.say(key, &filled).map_err(told)
}

fn told(error: DeskError) -> Error {
    Error::new(ErrorKind::InvalidOperation, error.to_string())
}
