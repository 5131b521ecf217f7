//! What the fields of a record are called in a language: from `locales/<tag>/desk.toml`, by which every form and sheet of the
//! staff names them.

use std::collections::BTreeSet;

use super::folders::SOURCE;
use super::words::{self, Words};
use crate::assets::{Assets, LoadError};

/// The forms of a plural, by their CLDR names.
const FORMS: [&str; 6] = ["zero", "one", "two", "few", "many", "other"];

/// The words of forms in a language; the source language stands in for a word that it lacks.
///
/// # Errors
/// A file that cannot be read.
pub fn load(assets: &Assets, tag: &str) -> Result<Words, LoadError> {
    let mut texts = Words::new();
    for tag in [SOURCE, tag] {
        for (path, text) in assets.layers(&format!("locales/{tag}/desk.toml")) {
            let own = words::read(&text).map_err(|problem| problem.in_file(&path))?;
            // A language counts in its own forms: none of the source stands among them.
            let counted: BTreeSet<&str> = own.keys().filter_map(|key| key.strip_suffix(".other")).collect();
            let counts = |(stem, form): (&str, &str)| FORMS.contains(&form) && counted.contains(stem);
            texts.retain(|key, _| !key.rsplit_once('.').is_some_and(counts));
            texts.extend(own);
        }
    }
    Ok(texts)
}

/// What a key is called: its label, or for a column of a table its head. An entry of a list is called as its list.
#[must_use]
pub fn name<'w>(texts: &'w Words, pointer: &str) -> Option<&'w str> {
    let last = pointer.rsplit('/').find(|token| token.parse::<usize>().is_err()).unwrap_or_default();
    let label = texts.get(&format!("label{}", pointer.replace('/', ".")));
    label.or_else(|| texts.get(&format!("column.{last}"))).map(String::as_str)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_key_has_its_label_and_a_column_its_head() {
        let texts = load(&Assets::default(), "de").unwrap();
        assert_eq!(name(&texts, "/patient/birth_date"), Some("Geboren"));
        assert_eq!(name(&texts, "/treatment/rows/0/pulses"), texts.get("column.pulses").map(String::as_str));
        assert_eq!(name(&texts, "/no/such"), None);
    }

    #[test]
    fn a_language_counts_in_its_own_forms() {
        let texts = load(&Assets::default(), "ar").unwrap();
        assert!(texts.contains_key("profile.after_days.other") && !texts.contains_key("profile.after_days.one"));
        assert!(load(&Assets::default(), "zz").unwrap().contains_key("profile.after_days.one"));
    }

    #[test]
    fn the_source_stands_in_for_what_a_language_lacks() {
        let texts = load(&Assets::default(), "zz").unwrap();
        assert_eq!(name(&texts, "/patient/birth_date"), Some("Born"));
    }
}
